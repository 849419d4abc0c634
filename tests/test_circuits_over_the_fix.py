"""Which end of a racetrack is the fix: flights drawn by hand in still air, left over the fix by one more turn.

The fix is where the pilot comes back every time. One more turn the hold's way on leaving, and what was flown
before arriving, may make the outbound end look like a fix as well; it is come back to less well.
"""

from __future__ import annotations

import numpy as np
import pytest

from analyser.circuits.find import find_holds
from analyser.earth.angles import wrap180
from analyser.earth.plane import LocalPlane
from tests.drawn_flights import COURSE_DEG, FIX, LEG_S, drawn, laps, straight, turn
from tests.planted.draw import drawn as drawn_fault
from tests.planted.fly import flown


def leaving(side: int, by_deg: float) -> list[float]:
    return [*turn(by_deg * side), *straight(150)]


def procedure_turn(side: int) -> list[float]:
    """Fly away from the fix, 45° off for a minute, half a circle back, and in again on the course."""
    back = [*straight(60), *turn(side * 180.0), *straight(40), *turn(side * 45.0), *straight(200)]
    return [*straight(90), *turn(-side * 45.0), *back]


def parallel_entry(side: int) -> list[float]:
    """Pass the fix, fly the course away for a minute, turn back the other way, and meet the course at 40°."""
    return [
        *straight(120),
        *turn(-side * 30.0),
        *straight(60),
        *turn(-side * 220.0),
        *straight(33),
        *turn(side * 40.0),
        *straight(21),
    ]


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize("leave_deg", [140.0, 200.0])
@pytest.mark.parametrize("arrival", [procedure_turn, parallel_entry])
def test_the_fix_is_where_every_lap_comes_back(arrival, leave_deg: float, side: int) -> None:
    (found,) = find_holds(drawn(arrival(side), [*laps(3, side), *leaving(side, leave_deg)]))
    assert found.hold.side == side
    assert abs(wrap180(found.hold.inbound_course_true_deg - COURSE_DEG)) < 5.0
    assert sum(c.complete for c in found.circuits) == 3
    assert found.entry is not None
    assert found.entry.flown == ("parallel" if arrival is parallel_entry else "direct")


@pytest.mark.parametrize("side", [1, -1])
def test_a_turn_of_the_same_hand_minutes_before_is_no_part_of_the_hold(side: int) -> None:
    """Left another hold, turned, flown seven minutes, then joined directly: that turn led somewhere else."""
    before = [*straight(120), *turn(175.0 * side), *straight(430), *turn(-side * 35.0), *straight(40)]
    track = drawn(before, [*laps(2, side), *leaving(-side, 60.0)])
    (found,) = find_holds(track)
    assert wrap180(found.hold.inbound_course_true_deg - COURSE_DEG) == pytest.approx(0.0, abs=6.0)
    assert [c.complete for c in found.circuits] == [True, True]
    assert found.entry is not None
    assert found.entry.flown == "direct"


@pytest.mark.parametrize(("rate_dps", "found"), [(3.0, 1), (9.0, 0)])
def test_one_lap_of_hasty_turns_is_airwork(rate_dps: float, found: int) -> None:
    """Turns at three times rate one: nobody turns so in a hold."""
    seconds = round(180.0 / rate_dps)
    hasty = [180.0 / seconds] * seconds
    lap = [*hasty, *straight(LEG_S), *hasty, *straight(LEG_S)]
    assert len(find_holds(drawn([*straight(150)], [*lap, *leaving(-1, 60.0)]))) == found


def test_who_begins_his_turns_unevenly_hides_the_fix_the_better() -> None:
    """The fix lies before the turns, by what no lap shows; who varies by seven seconds may be late by seven."""

    def late_laps(late_s: list[int]) -> list[float]:
        each = [
            [*straight(late), *turn(180.0), *straight(LEG_S + late), *turn(180.0), *straight(LEG_S)]
            for late in late_s
        ]
        return [change for lap in each for change in lap]

    (even,) = find_holds(drawn(straight(200), [*late_laps([2, 1, 2]), *leaving(1, 60.0)]))
    (uneven,) = find_holds(drawn(straight(200), [*late_laps([0, 14, 7]), *leaving(1, 60.0)]))
    assert even.fix_sd_nm is not None
    assert uneven.fix_sd_nm is not None
    assert uneven.fix_sd_nm > 2.0 * even.fix_sd_nm
    for found in (even, uneven):
        off = np.hypot(*LocalPlane(*FIX).to_plane(found.hold.fix_lat_deg, found.hold.fix_lon_deg)[:2])
        assert off < 2.0 * np.sqrt(2.0) * found.fix_sd_nm


def test_turns_forgotten_on_every_second_lap_do_not_draw_the_fix_towards_them() -> None:
    """Turned at the fix on laps 1 and 3, and 39 s after it on 2 and 4: nobody turns well before a fix."""
    one = flown(*drawn_fault(83))
    (found,) = find_holds(one.track)
    late_s = [circuit.outbound_turn.start_s - circuit.start_s for circuit in found.circuits]
    true_s = [circuit.outbound_turn.start_s - circuit.start_s for circuit in one.truth.circuits]
    assert late_s == pytest.approx(true_s, abs=3.0)
