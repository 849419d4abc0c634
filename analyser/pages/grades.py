"""Grades: the sheet of a debrief page, and grades and remarks as rows of the progress, record and class pages."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Any

from analyser.logbook.marks import in_order, item_points, proposable, title_of
from analyser.logbook.sessions import Grade, Session
from analyser.logbook.sheet import KIND, SCHEMA
from analyser.logbook.standard import Graded, graded, meets, title_of_level
from analyser.rules.graded_items import item_of
from analyser.rules.scales import Scale, load_scales
from analyser.schema.debrief_file import WrittenHold, WrittenLog

NOBODY = "somebody erased"


def remark_rows(sessions: Sequence[Session], scale: Scale) -> list[dict[str, Any]]:
    """Return the grades that say more than a level, latest first.

    They have a remark, are below what was asked for, or several instructors gave one.
    """
    rows = [grade_row(one, scale) for hold in _holds(sessions) for one in hold]
    return [
        one
        for one in rows
        if one["remark"] or one["beside"] or not one["met"] or (one["own"] or {}).get("remark")
    ]


def grades_by_session(sessions: Sequence[Session], scale: Scale) -> dict[str, Any]:
    """Return all grades as a table: a row for each hold of each session, latest first, a column an item."""
    holds = list(_holds(sessions))
    keys = in_order(one.item for hold in holds for one in hold)
    rows = []
    for hold in holds:
        cells = {one.item: _cell(one, scale) for one in hold}
        rows.append(
            {
                **_place(hold[0]),
                "cells": [cells.get(key) for key in keys],
                "by": _graders(hold, scale),
            }
        )
    return {"columns": [item_of(key).short for key in keys], "rows": rows}


def _holds(sessions: Sequence[Session]) -> Iterator[list[Graded]]:
    """Go through the holds that were graded, latest first, items in their order."""
    for session in sorted(sessions, key=lambda one: (one.when, one.key), reverse=True):
        for _, found in groupby(graded(session), key=lambda one: one.hold):
            items = {one.item: one for one in found}
            yield [items[key] for key in in_order(items)]


def _place(one: Graded) -> dict[str, Any]:
    several = len(one.session.holds) > 1
    return {"when": f"{one.session.when:%Y-%m-%d}", "hold": one.hold if several else None}


def _cell(one: Graded, scale: Scale) -> dict[str, Any]:
    others = [each.level for each in one.given[1:] if each.level != one.standing.level]
    return {
        "level": one.standing.level if one.given else None,
        "met": not one.given or meets(one.standing, scale),
        "own": one.own.level if one.own else None,
        "beside": ", ".join(others),
    }


def _graders(hold: Sequence[Graded], scale: Scale) -> list[tuple[str, str]]:
    first = [told(grade, scale) for one in hold if (grade := one.standing if one.given else one.own)]
    return sorted({(one["grader"], one["graded"]) for one in first}, key=lambda pair: pair[::-1])


def grade_row(one: Graded, scale: Scale) -> dict[str, Any]:
    """Say one item's grade, with what others gave and the pilot's own."""
    standing = one.standing if one.given else None
    required = standing or one.own
    nothing = {"level": "", "grader": "", "graded": "", "remark": ""}
    return {
        **_place(one),
        **(told(standing, scale) if standing else nothing),
        "item": title_of(one.item),
        "own": told(one.own, scale) if one.own else None,
        "required": title_of_level(required.required, required.scale, scale)
        if required and required.required
        else "",
        "met": standing is None or meets(standing, scale),
        "beside": [told(each, scale) for each in one.given[1:]],
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


def sheet_view(
    hold: WrittenHold, number: int, log: WrittenLog, scales: Sequence[Scale] = ()
) -> dict[str, Any]:
    """Gather what the template ``grade_sheet.html`` shows for one hold of a debrief document, counted from 1.

    Of ``scales``, by default those that come with the program, the first is chosen; ``data`` is the JSON text that the
    page's script works from.
    """
    offered = tuple(scales) or load_scales(())
    items = [
        _sheet_item(key, points, proposable(key, points, hold.grade), offered)
        for key, points in item_points(hold).items()
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
    levels = {scale.key: scale.propose(worth) for scale in offered}
    first = levels[offered[0].key]
    return {
        "key": key,
        "title": title_of(key),
        "points": None if points is None else round(points, 1),
        "proposed": {key: level and level.key for key, level in levels.items()},
        "proposed_title": first and first.title,
    }


def _scale(scale: Scale) -> dict[str, Any]:
    levels = [{"key": level.key, "title": level.title, "wording": level.wording} for level in scale.levels]
    return {"key": scale.key, "name": scale.name, "required": scale.required, "levels": levels}
