"""Loops: what a way round to the same place may have been, and which of its ends is the fix."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analyser.circuits.find import find_holds
from analyser.circuits.loops import Loop
from analyser.earth.angles import wrap180
from tests.accuracy_students import watch_student
from tests.flights.as_track import seen_track
from tests.flights.course_pilots import PilotKind, course_case

#: Twice round a racetrack at rate one with legs of a minute: half of it is straight.
HELD = Loop(100, 580, 90.0, 1, 2, 0.1, 0.5, 3.0)


@pytest.mark.parametrize(
    ("loop", "circling"),
    [
        pytest.param(HELD, False, id="a racetrack"),
        pytest.param(replace(HELD, straight_share=0.02), True, id="no leg at all"),
        pytest.param(replace(HELD, end=240, straight_share=0.3), True, id="quick, and mostly turning"),
        pytest.param(replace(HELD, end=240, straight_share=0.6), False, id="quick, but with legs"),
    ],
)
def test_what_is_nothing_but_turning_is_no_hold(loop: Loop, circling: bool) -> None:
    assert loop.is_circling is circling


def test_a_lap_lasts_its_share_of_the_way_round() -> None:
    assert HELD.lap_s == 240.0
    assert replace(HELD, laps=4).lap_s == 120.0


@pytest.mark.parametrize(
    ("loop", "steep", "thermal"),
    [
        pytest.param(replace(HELD, laps=1, end=220), False, False, id="once round at rate one"),
        pytest.param(replace(HELD, laps=1, end=150, rate_dps=8.0), True, False, id="once round, steeply"),
        pytest.param(replace(HELD, laps=1, end=170, rate_dps=12.0), True, True, id="round within round"),
        pytest.param(replace(HELD, end=200, rate_dps=8.0), False, False, id="twice, over one place"),
        pytest.param(replace(HELD, laps=1, end=500, rate_dps=8.0), False, False, id="steep turns, long legs"),
    ],
)
def test_a_steep_way_round_is_a_thermal_or_airwork(loop: Loop, steep: bool, thermal: bool) -> None:
    assert (loop.is_steep, loop.is_thermal) == (steep, thermal)


@pytest.mark.parametrize(
    ("kind", "index", "seed"),
    [
        pytest.param("homes on the fix", 28, 41, id="homing"),
        pytest.param("flies 20–35 s outbound", 34, 41, id="short legs"),
    ],
)
def test_laps_first_read_from_their_outbound_end_are_cut_anew_from_the_fix(
    kind: PilotKind, index: int, seed: int
) -> None:
    """The rough shape begins at the wrong end; the turns that it cuts say so, and the entry is then seen, too."""
    case = course_case(kind, index, seed)
    watched = watch_student(case)
    truth = watched.flown.hold
    (found,) = find_holds(seen_track(watched.seen, case.plan.name))
    assert abs(wrap180(found.hold.inbound_course_true_deg - truth.course_deg)) < 45.0
    assert found.entry is not None and found.entry.flown == truth.entry
    assert len(found.circuits) == len(truth.circuits)
