"""What was flown before a hold and is no entry: flights drawn by hand in still air, that passed the fix before."""

from __future__ import annotations

import numpy as np
import pytest

from analyser.circuits.find import find_holds
from analyser.circuits.flown import FlownHold
from analyser.earth.angles import wrap180
from tests.drawn_flights import COURSE_DEG, SPEED_NM_S, drawn, laps, straight, turn

#: Half a circle at rate one and 110 kt is so far across.
ACROSS_NM = 1.17


def held(before: list[float], side: int) -> FlownHold:
    (found,) = find_holds(drawn(before, [*laps(2, side), *straight(120)]))
    assert found.hold.side == side
    assert abs(wrap180(found.hold.inbound_course_true_deg - COURSE_DEG)) < 5.0
    assert sum(c.complete for c in found.circuits) == 2
    return found


def out_and_back(side: int, arriving_s: int, leg_s: int) -> list[float]:
    """Pass the fix, fly away on the holding side for so long, and turn back the hold's way over the fix."""
    lean = float(np.degrees(np.arctan2(ACROSS_NM, leg_s * SPEED_NM_S)))
    return [*straight(arriving_s + leg_s), *turn(side * (180.0 + lean)), *straight(leg_s)]


@pytest.mark.parametrize("side", [1, -1])
def test_a_minute_out_and_back_is_an_offset_entry(side: int) -> None:
    entry = held(out_and_back(side, 90, 60), side).entry
    assert entry is not None
    assert entry.flown == "offset"
    assert entry.fix_s == pytest.approx(90.0, abs=8.0)


@pytest.mark.parametrize("side", [1, -1])
def test_who_flew_away_for_minutes_had_left_the_fix(side: int) -> None:
    """Three minutes out where the laps have one: another hold's departure, say. The hold is joined coming back."""
    found = held(out_and_back(side, 90, 170), side)
    assert found.entry is not None
    assert found.entry.flown == "direct"
    assert found.entry.fix_s == pytest.approx(found.circuits[0].start_s)
    assert found.entry.arrival_heading_deg == pytest.approx(COURSE_DEG, abs=3.0)


@pytest.mark.parametrize("side", [1, -1])
def test_an_entry_that_the_log_begins_in_is_not_guessed(side: int) -> None:
    """The log begins 0.4 NM past the fix, on a leg as an offset entry has it; nobody saw how the fix was met."""
    found = held(out_and_back(side, 0, 75)[13:], side)
    assert found.entry is None
    assert any(notice.code == "entry-not-recorded" for notice in found.notices)
