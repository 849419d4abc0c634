"""Following advice to the letter: the numbers as they are said, to the whole degree and second."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from analyser.earth.angles import wrap180
from analyser.grading.next_time import Change
from tests.closed_loop.pilot import Habits, Practice


def follow(practice: Practice, changes: Iterable[Change], clock: str) -> Habits:
    """Change the habits as advised, and nothing else.

    ``clock`` is what a pilot who is told a time goes by: ``"abeam"``, or ``"wings level"`` where that is said too.
    """
    habits = practice.habits
    for change in changes:
        fly = change.advice.fly.value
        for cause in change.causes:
            habits = _changed(
                practice, habits, cause, fly, _level_s(change) if clock == "wings level" else None
            )
    return habits


def _changed(practice: Practice, habits: Habits, cause: str, fly: float, level_s: float | None) -> Habits:
    off = practice.plan.side * (round(fly) - practice.plan.course_deg)
    told: dict[str, dict[str, Any]] = {
        "airspeed": {"tas_kt": float(round(fly))},
        "fix_crossing": {"established": True},
        "arrival_heading": {"established": True},
        "outbound_turn_start": {"late_s": 0.0},
        "outbound_turn_bank": {"outbound_bank_deg": float(round(fly))},
        "inbound_turn_bank": {"inbound_bank_deg": float(round(fly))},
        "outbound_heading": {"outbound_heading_deg": 180.0 + wrap180(off - 180.0)},
        "outbound_time": {
            "outbound_s": float(round(fly if level_s is None else level_s)),
            "clock": "abeam" if level_s is None else "wings level",
        },
        "rollout_heading": {"rollout_off_deg": 0.0},
    }
    return replace(habits, **told[cause])


def _level_s(change: Change) -> float | None:
    """Read the time from wings level off the words, where they say one."""
    words = change.advice.words
    if "s from wings level)" in words:
        return float(words.split(" s from wings level)")[0].rsplit(" ", 1)[1])
    return change.advice.fly.value if "wings level" in words else None
