"""A day of holds costs what its holds cost: what is looked up near each of them is what all turning would give."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

from hypothesis import given
from hypothesis import strategies as st

from analyser.circuits.evidence import _without_overlap
from analyser.circuits.racetrack import TurnRun, ending_within

GAPS = st.lists(st.tuples(st.integers(0, 40), st.integers(1, 60)), max_size=12)


@given(GAPS, st.integers(-50, 700), st.integers(0, 300))
def test_turns_that_end_within_a_stretch(gaps: list[tuple[int, int]], first: int, length: int) -> None:
    runs, at = [], 0
    for gap, lasts in gaps:
        runs.append(TurnRun(at + gap, at + gap + lasts, 180.0))
        at += gap + lasts
    last = first + length
    assert list(ending_within(runs, first, last)) == [run for run in runs if first <= run.end <= last]


@given(st.lists(st.tuples(st.integers(0, 100), st.integers(1, 40)), max_size=25))
def test_the_best_reading_of_every_stretch_is_kept(spans: list[tuple[int, int]]) -> None:
    readings: list[Any] = [
        SimpleNamespace(start=start, end=start + lasts, objection=None) for start, lasts in spans
    ]
    kept: list[Any] = []
    for reading in readings:
        if all(reading.start >= other.end or reading.end <= other.start for other in kept):
            kept.append(reading)
    assert _without_overlap(cast("Any", readings)) == kept
