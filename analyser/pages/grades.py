"""Grades: the sheet of a debrief page, and grades and remarks as rows of the progress, record and class pages."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from typing import Any

from analyser.logbook.documents import entry_points
from analyser.logbook.marks import ENTRY, in_order, mean_points, proposable, title_of
from analyser.logbook.sessions import Grade, Session
from analyser.logbook.sheet import KIND, SCHEMA
from analyser.logbook.standard import ItemStandard, meets, title_of_level
from analyser.rules.graded_items import item_of
from analyser.rules.scales import Scale, load_scales
from analyser.schema.debrief_file import WrittenHold, WrittenLog

NOBODY = "somebody erased"


def last_graded(standard: ItemStandard, scale: Scale) -> dict[str, Any]:
    """Return the last grade of an item that an instructor has graded, with what others gave and the pilot's own."""
    one = standard.graded[-1]
    return _row(one.session, one.standing.hold, standard.item, (one.standing, *one.beside), one.own, scale)


def remark_rows(sessions: Sequence[Session], scale: Scale) -> list[dict[str, Any]]:
    """Return the grades that say more than a level, latest first.

    They have a remark, are below what was asked for, or several instructors gave one.
    """
    rows = [
        _row(one, hold, item, given, own, scale)
        for one, hold in _graded_holds(sessions)
        for item, (given, own) in _grades_of(one, hold).items()
    ]
    return [
        one
        for one in rows
        if one["remark"] or one["beside"] or not one["met"] or (one["own"] or {}).get("remark")
    ]


def grades_by_session(sessions: Sequence[Session], scale: Scale) -> dict[str, Any]:
    """Return all grades as a table: a row for each hold of each session, latest first, a column an item."""
    holds = [(one, hold, _grades_of(one, hold)) for one, hold in _graded_holds(sessions)]
    keys = in_order(key for _, _, given in holds for key in given)
    rows = [
        {
            **_place(one, hold),
            "cells": [_cell(*given[key], scale) if key in given else None for key in keys],
            "by": _graders(given.values(), scale),
        }
        for one, hold, given in holds
    ]
    return {"columns": [item_of(key).short for key in keys], "rows": rows}


_Given = tuple[Sequence[Grade], Grade | None]


def _graded_holds(sessions: Sequence[Session]) -> list[tuple[Session, int]]:
    latest_first = sorted(sessions, key=lambda one: (one.when, one.key), reverse=True)
    return [
        (one, hold) for one in latest_first for hold in sorted({at for at, _, _ in one.counting_grades()})
    ]


def _grades_of(one: Session, hold: int) -> dict[str, _Given]:
    """Return for each item instructors' grades, the one that stands first, and the pilot's own."""
    counting = one.counting_grades()
    items = in_order(key for at, key, _ in counting if at == hold)
    return {
        key: (
            counting.get((hold, key, "instructor"), ()),
            next(iter(counting.get((hold, key, "pilot"), ())), None),
        )
        for key in items
    }


def _place(one: Session, hold: int) -> dict[str, Any]:
    return {"when": f"{one.when:%Y-%m-%d}", "hold": hold if len(one.holds) > 1 else None}


def _cell(given: Sequence[Grade], own: Grade | None, scale: Scale) -> dict[str, Any]:
    others = [one.level for one in given[1:] if one.level != given[0].level]
    return {
        "level": given[0].level if given else None,
        "met": not given or meets(given[0], scale),
        "own": own.level if own else None,
        "beside": ", ".join(others),
    }


def _graders(given: Iterable[_Given], scale: Scale) -> list[tuple[str, str]]:
    first = [next(iter((*grades, own))) for grades, own in given]
    standing = [told(one, scale) for one in first if one]
    return sorted({(one["grader"], one["graded"]) for one in standing}, key=lambda pair: pair[::-1])


def _row(
    session: Session, hold: int, item: str, given: Sequence[Grade], own: Grade | None, scale: Scale
) -> dict[str, Any]:
    standing = given[0] if given else None
    required = standing or own
    nothing = {"level": "", "grader": "", "graded": "", "remark": ""}
    return {
        **_place(session, hold),
        **(told(standing, scale) if standing else nothing),
        "item": title_of(item),
        "own": told(own, scale) if own else None,
        "required": title_of_level(required.required, required.scale, scale)
        if required and required.required
        else "",
        "met": standing is None or meets(standing, scale),
        "beside": [told(each, scale) for each in given[1:]],
    }


def told(grade: Grade, scale: Scale) -> dict[str, Any]:
    """Say one grade: the level in words, by whom, when, with its remark."""
    return {
        "level": title_of_level(grade.level, grade.scale, scale),
        "grader": grade.grader or NOBODY,
        # A clock that runs ahead dates a grade in the future: it was given before it arrived.
        "graded": f"{min(grade.graded, grade.recorded):%Y-%m-%d}",
        "remark": grade.remark,
    }


def standard_rows(standards: Sequence[ItemStandard], scale: Scale) -> list[dict[str, Any]]:
    """Return each item with what was asked for, and since when it is met or what is still open."""
    rows = []
    for one in standards:
        last = one.graded[-1] if one.graded else None
        rows.append(
            {
                "item": title_of(one.item),
                "required": one.required,
                "met": None if one.met is None else f"{one.met:%Y-%m-%d}",
                "last": told(last.standing, scale) if last else None,
                "last_when": f"{last.session.when:%Y-%m-%d}" if last else None,
                "differ": bool(last and last.differ),
            }
        )
    return rows


def withdrawn_rows(sessions: Sequence[Session], scale: Scale) -> list[dict[str, Any]]:
    """Return the grades that were taken back, latest first."""
    found = [(one, grade) for one in sessions for grade in one.grades if grade.withdrawn]
    found.sort(key=lambda pair: pair[0].when, reverse=True)
    return [
        {
            **told(grade, scale),
            "when": f"{one.when:%Y-%m-%d}",
            "item": title_of(grade.item),
            "role": grade.given_as,
            "withdrawn": f"{grade.withdrawn:%Y-%m-%d}",
        }
        for one, grade in found
    ]


def sheet_view(
    hold: WrittenHold, number: int, log: WrittenLog, scales: Sequence[Scale] = ()
) -> dict[str, Any]:
    """Gather what the template ``grade_sheet.html`` shows for one hold of a debrief document, counted from 1.

    Of ``scales``, by default those that come with the program, the first is chosen; ``data`` is the JSON text that the
    page's script works from.
    """
    offered = tuple(scales) or load_scales(())
    entry = {} if hold.entry is None else {ENTRY: entry_points(hold.entry.points, hold.entry.verdict)}
    circuits = [{key: score.points for key, score in one.scores.items()} for one in hold.circuits]
    found = mean_points(entry, circuits, hold.points)
    items = [
        _sheet_item(key, points, proposable(key, points, hold.grade), offered)
        for key, points in found.items()
    ]
    told = {
        "kind": KIND,
        "schema": SCHEMA,
        "log_sha256": log.sha256,
        "log_name": log.name,
        "hold": number,
        "items": [{key: item[key] for key in item if key != "proposed_title"} for item in items],
        "scales": [_scale(scale) for scale in offered],
    }
    return {
        "lines": items,
        "scales": offered,
        "chosen": offered[0],
        "data": json.dumps(told, ensure_ascii=True),
    }


def _sheet_item(
    key: str, points: float | None, worth: float | None, offered: Sequence[Scale]
) -> dict[str, Any]:
    level = offered[0].propose(worth)
    return {
        "key": key,
        "title": title_of(key),
        "points": None if points is None else round(points, 1),
        "proposed": {scale.key: _proposed(scale, worth) for scale in offered},
        "proposed_title": None if level is None else level.title,
    }


def _proposed(scale: Scale, points: float | None) -> str | None:
    level = scale.propose(points)
    return None if level is None else level.key


def _scale(scale: Scale) -> dict[str, Any]:
    levels = [{"key": level.key, "title": level.title, "wording": level.wording} for level in scale.levels]
    return {"key": scale.key, "name": scale.name, "required": scale.required, "levels": levels}
