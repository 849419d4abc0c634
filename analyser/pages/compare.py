"""The class page: item by pilot, the same exercise side by side, and how the grading leans."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

import numpy as np

from analyser.logbook.classes import Comparison, FlownExercise, Leaning
from analyser.logbook.flatten import number_or_none
from analyser.logbook.items import title_of
from analyser.pages.progress import paper
from analyser.pages.progress_charts import map_sheet, thumbnail
from analyser.pages.template import environment
from analyser.pages.words import number

#: Of one exercise.
MOST_PICTURES = 60


def compare_page(
    found: Comparison, *, asked_points: float, since: date | None = None, until: date | None = None
) -> str:
    """Write the class page.

    Parameters
    ----------
    found : Comparison
    asked_points : float
        Below these a cell is marked.
    since, until : date, optional
        As asked for; by default the first and last session say.

    Returns
    -------
    str
        A complete HTML document without a script.
    """
    days = [one.when.date() for one in found.sessions]
    return (
        environment()
        .get_template("compare.html")
        .render(
            **paper(),
            found=found,
            first=since or min(days, default=None),
            last=until or max(days, default=None),
            rows=_rows(found, asked_points),
            asked=number(asked_points),
            exercises=[_exercise(title, flown) for title, flown in found.exercises],
            leanings=[_leaning(one) for one in found.leanings],
        )
    )


def _rows(found: Comparison, asked_points: float) -> list[dict[str, Any]]:
    rows = []
    for key in found.items:
        cells = [found.table.get((key, pilot)) for pilot in found.pilots]
        known = [cell.allowed for cell in cells if cell is not None]
        rows.append(
            {
                "title": title_of(key),
                "cells": [(cell, cell is not None and cell.allowed < asked_points) for cell in cells],
                "apart": number(max(known) - min(known)) if len(known) > 1 else None,
            }
        )
    return rows


def _exercise(title: str, flown: Sequence[FlownExercise]) -> dict[str, Any]:
    shown = _latest_of_each(flown)
    paths = [np.array(one.path, float) for one in shown if one.path and len(one.path) > 1]
    window = map_sheet(paths, 150.0, 120.0).window if paths else None
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
    points = "not judged" if one.points is None else f"{number(one.points)} points"
    wind = number_or_none((one.hold.get("wind") or {}).get("speed_kt"))
    said = "wind not known" if wind is None else f"wind {number(wind)} kt"
    finding = f"Flown by {one.session.pilot}, {points}, {said}."
    drawn = one.path is not None and len(one.path) > 1 and window is not None
    return {
        "pilot": one.session.pilot,
        "when": f"{one.session.when:%Y-%m-%d}",
        "points": points,
        "wind": said,
        "circuits": len(one.hold["circuits"]),
        "picture": thumbnail(one.path, window, finding) if drawn and one.path and window else None,
    }


def _leaning(one: Leaning) -> dict[str, Any]:
    unknown = one.low is None or one.high is None
    limits = (
        ""
        if unknown
        else f"{number(one.low or 0.0, 2, signed=True)} to {number(one.high or 0.0, 2, signed=True)}"
    )
    own = None if one.against_pilot is None else number(one.against_pilot, 2, signed=True)
    return {
        "about": one,
        "title": title_of(one.item),
        "mean": number(one.mean, 2, signed=True),
        "limits": limits,
        "apart": number(one.apart, 2),
        "own": own,
        "verdict": _lean_words(one),
    }


def _lean_words(one: Leaning) -> str:
    if one.low is None or one.high is None or one.low <= 0.0 <= one.high:
        return "no lean can be told"
    return "kinder than the points" if one.mean > 0 else "stricter than the points"
