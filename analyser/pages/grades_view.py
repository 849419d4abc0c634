"""Grades and remarks as rows of a table, for the progress, record and class pages."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from analyser.logbook.marks import title_of
from analyser.logbook.sessions import Grade, Session
from analyser.logbook.standard import Graded, ItemStandard, meets, title_of_level
from analyser.rules.scales import Scale

NOBODY = "somebody erased"


def graded_rows(standards: Sequence[ItemStandard], scale: Scale) -> list[dict[str, Any]]:
    """Return what instructors gave, latest first, with what others gave beside it and the pilot's own."""
    pairs = [(standard, one) for standard in standards for one in standard.graded]
    pairs.sort(key=lambda pair: (pair[1].session.when, pair[1].session.key), reverse=True)
    return [_row(one, standard.item, scale) for standard, one in pairs]


def _row(one: Graded, item: str, scale: Scale) -> dict[str, Any]:
    standing = one.standing
    return {
        **told(standing, scale),
        "when": f"{one.session.when:%Y-%m-%d}",
        "hold": standing.hold if len(one.session.holds) > 1 else None,
        "item": title_of(item),
        "own": told(one.own, scale) if one.own else None,
        "required": title_of_level(standing.required, standing.scale, scale) if standing.required else "",
        "met": meets(standing, scale),
        "beside": [told(each, scale) for each in one.beside],
        "differ": one.differ,
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
