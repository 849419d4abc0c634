"""The class page: pilot by item, the same exercise side by side, and how the grading leans."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

import numpy as np

from analyser.logbook.classes import Comparison, FlownExercise, PilotRow
from analyser.logbook.leaning import ALL_ITEMS, Leaning
from analyser.logbook.marks import ENTRY, title_of
from analyser.pages.grades_view import last_graded
from analyser.pages.progress_charts import map_canvas, thumbnail
from analyser.pages.progress_page import paper
from analyser.pages.words import number, points_words
from analyser.rules.graded_items import item_of
from analyser.rules.scales import Scale

#: Of one exercise.
MOST_PICTURES = 60


def compare_page(
    found: Comparison, *, scale: Scale, since: date | None = None, until: date | None = None
) -> str:
    """Write the class page: a complete HTML document without a script.

    A cell below the points of the scale's required level is marked; without ``since`` and ``until`` the first and last
    session say.
    """
    days = [one.when.date() for one in found.sessions]
    return paper(
        "compare.html",
        found=found,
        first=since or min(days, default=None),
        last=until or max(days, default=None),
        columns=[item_of(key).short for key in found.items],
        looked=any(row.looked_for_unsafe for row in found.rows),
        rows=[_row(row, found, scale) for row in found.rows],
        apart=[_apart(found, key) for key in found.items],
        asked=number(scale.asked_points),
        remarks=[one for row in found.rows for one in _remarks(row, scale)],
        exercises=[_exercise(title, flown) for title, flown in found.exercises],
        # Item by item only where there is something to say: a school has a hundred of these rows.
        leanings=[_leaning(one) for one in found.leanings if one.item == ALL_ITEMS or _leans(one)],
    )


def _row(row: PilotRow, found: Comparison, scale: Scale) -> dict[str, Any]:
    grades = {one.item: one for one in row.standards if one.graded}
    cells = []
    for key in found.items:
        cell, graded = row.cells.get(key), grades.get(key)
        cells.append(
            {
                "cell": cell,
                "title": item_of(key).short,
                "counted": key == ENTRY,
                "shown": points_words(cell.allowed, scale.asked_points) if cell else "",
                "low": cell is not None and cell.allowed < scale.asked_points,
                "grade": graded.graded[-1].standing.level if graded else "",
            }
        )
    return {"about": row, "cells": cells}


def _apart(found: Comparison, key: str) -> str:
    known = [cell.allowed for row in found.rows if (cell := row.cells.get(key))]
    return number(max(known) - min(known)) if len(known) > 1 else ""


def _remarks(row: PilotRow, scale: Scale) -> list[dict[str, Any]]:
    """Return the last grade of each item that is open, or on which instructors differ, with its remark."""
    told_of = [one for one in row.standards if one.graded and (one.open or one.graded[-1].differ)]
    return [{"pilot": row.pilot, **last_graded(one, scale)} for one in told_of]


def _exercise(title: str, flown: Sequence[FlownExercise]) -> dict[str, Any]:
    shown = _latest_of_each(flown)
    paths = [np.array(one.path, float) for one in shown if one.path and len(one.path) > 1]
    window = map_canvas(paths, 150.0, 120.0).window if paths else None
    return {
        "title": title,
        "flown": [_thumb(one, window) for one in shown],
        "left_out": len(flown) - len(shown),
    }


def _latest_of_each(flown: Sequence[FlownExercise]) -> list[FlownExercise]:
    """Keep the page readable: no more pictures than an eye can compare, shared fairly between pilots."""
    if len(flown) <= MOST_PICTURES:
        return list(flown)
    share = max(1, MOST_PICTURES // len({one.session.pilot for one in flown}))
    kept: set[int] = set()
    for pilot in {one.session.pilot for one in flown}:
        own = [one for one in flown if one.session.pilot == pilot]
        kept |= {id(one) for one in sorted(own, key=lambda one: one.session.when)[-share:]}
    return [one for one in flown if id(one) in kept]


def _thumb(one: FlownExercise, window: tuple[float, float, float, float] | None) -> dict[str, Any]:
    points = "not judged" if one.hold.points is None else f"{number(one.hold.points)} points"
    wind = one.hold.wind_speed_kt
    said = "wind not known" if wind is None else f"wind {number(wind)} kt"
    finding = f"Flown by {one.session.pilot}, {points}, {said}."
    drawn = one.path is not None and len(one.path) > 1 and window is not None
    return {
        "pilot": one.session.pilot,
        "when": f"{one.session.when:%Y-%m-%d}",
        "points": points,
        "wind": said,
        "circuits": len(one.hold.circuits),
        "picture": thumbnail(one.path, window, finding) if drawn and one.path and window else None,
    }


def _leaning(one: Leaning) -> dict[str, Any]:
    counts = f"{one.same} as proposed, {one.higher} above, {one.lower} below"
    return {"about": one, "title": title_of(one.item), "counts": counts, "verdict": _lean_words(one)}


def _leans(one: Leaning) -> bool:
    return one.verdict in ("kinder", "stricter")


def _lean_words(one: Leaning) -> str:
    if one.verdict == "too little":
        return "too few grades to tell, or on a scale that is not at hand"
    if one.verdict == "none" or one.lean is None:
        return "no lean can be told"
    return f"{one.verdict} than the points, by about {number(abs(one.lean), 1)} of a grade"
