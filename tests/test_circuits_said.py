"""What is odd about a stay is said, and nothing else: each notice just inside and just outside its limit."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from analyser.circuits.circuit_cutting import (
    _circles_over_the_fix,
    _entry_notices,
    _lap_notices,
    _legs,
    _lost_fix,
    _passage_near,
    _way_back_when_left,
)
from analyser.circuits.find import _is_of_one_fix, _of_one_fix
from analyser.circuits.fix_passages import Passage
from analyser.circuits.flown import Circuit, Turn
from analyser.circuits.frame import HoldFrame
from analyser.circuits.laps_and_entries import LapPhases
from analyser.circuits.racetrack import TurnRun
from tests.test_circuits_cutting import a_turn, straight_frame
from tests.test_circuits_given_borders import bare
from tests.test_circuits_rules import TWO, racetrack
from tests.test_motion_speeds import motion

NM = 1852.0
SECONDS = 600


def flight(hole: slice = slice(0, 0), **more: Any) -> Any:
    lost = np.zeros(SECONDS, dtype=bool)
    lost[hole] = True
    return motion(np.full(SECONDS, 110.0), in_hole=lost, **more)


def turned(start_s: float, end_s: float, degrees: float = 180.0) -> Turn:
    return replace(
        a_turn(), start_s=start_s, end_s=end_s, heading_change_deg=degrees, established_start_s=start_s + 4.0,
        established_end_s=end_s - 4.0,
    )  # fmt: skip


def circuit(
    outbound: Turn | None = None, inbound: Turn | None = None, *, complete: bool = True, end_s: float = 400.0
) -> Circuit:
    return Circuit(
        2, 160.0, end_s, complete, outbound or turned(160.0, 220.0), None, None, inbound or turned(280.0, 340.0), None,
        0.0, 0.0, 0.1, 110.0, 1.0,
    )  # fmt: skip


#: So far beside the fix all along.
def beside(nm: float) -> HoldFrame:
    time_s = np.arange(float(SECONDS))
    return HoldFrame(time_s, (time_s - 400.0) / 36.0, np.full(SECONDS, nm))


LAP = LapPhases(160, 400, TurnRun(160, 220, 180.0), TurnRun(280, 340, 180.0), ())


def said(
    one: Circuit, *, hole: slice = slice(0, 0), miss_nm: float = 0.0, side: int = 1, lap: LapPhases = LAP,
    chorded: bool = False,
) -> list[tuple[str, str]]:  # fmt: skip
    measured: Any = bare(motion=flight(hole), chorded=chorded)
    notices = _lap_notices(measured, beside(miss_nm), bare(side=side), one, lap)  # type: ignore[arg-type]
    return [(notice.code, notice.message) for notice in notices]


def test_of_a_lap_flown_well_nothing_is_said() -> None:
    assert said(circuit()) == []


@pytest.mark.parametrize(("seconds", "told"), [(2, None), (3, "a hole of 5 s"), (20, "a hole of 22 s")])
def test_a_hole_of_five_seconds_in_a_circuit_is_spoken_of(seconds: int, told: str | None) -> None:
    """The second beside a sample counts as seen: a hole is two seconds longer than what is lost of the grid."""
    found = said(circuit(), hole=slice(250, 250 + seconds))
    assert [code for code, _ in found] == (["hole-in-circuit"] if told else [])
    assert told is None or f"circuit 2: the log has {told}; what lies in it is not judged" in found[0][1]
    assert said(circuit(), hole=slice(500, 520)) == []


def test_several_holes_are_counted_and_the_longest_named() -> None:
    lost = np.zeros(SECONDS, dtype=bool)
    lost[230:240] = lost[250:254] = True
    measured: Any = bare(motion=motion(np.full(SECONDS, 110.0), in_hole=lost), chorded=False)
    (found,) = _lap_notices(measured, beside(0.0), bare(side=1), circuit(), LAP)  # type: ignore[arg-type]
    assert found.message == (
        "circuit 2: the log has 2 holes, 18 s in all, the longest 12 s; what lies in them is not judged"
    )


@pytest.mark.parametrize(("miss_nm", "lost"), [(1.45, False), (1.55, True)])
def test_who_passes_beyond_a_mile_and_a_half_lost_the_fix_unless_nobody_saw_where(
    miss_nm: float, lost: bool
) -> None:
    found = said(circuit(), miss_nm=miss_nm)
    assert [code for code, _ in found] == (["fix-lost"] if lost else [])
    assert not lost or found[0][1] == f"circuit 2: you lost the fix: you passed it {miss_nm:.1f} NM away"
    assert _lost_fix(flight(slice(399, 402)), beside(miss_nm), "entry", 400.0) == []
    # A lap that was broken off passed no fix.
    assert said(circuit(complete=False), miss_nm=miss_nm) == []


@pytest.mark.parametrize("side", [1, -1])
def test_a_turn_to_the_other_hand_is_said_for_each_unless_a_hole_hides_it(side: int) -> None:
    out, back = turned(160.0, 220.0, -180.0 * side), turned(280.0, 340.0, 180.0 * side)
    way = "left" if side > 0 else "right"
    assert said(circuit(out, back), side=side) == [
        ("turned-other-way", f"circuit 2: the outbound turn was made to the {way}")
    ]
    both = said(circuit(out, turned(280.0, 340.0, -180.0 * side)), side=side)
    assert [message for _, message in both][1] == f"circuit 2: the inbound turn was made to the {way}"
    # More than half of it unseen.
    for lost, told in ((29, True), (32, False)):
        found = said(circuit(out, back), side=side, hole=slice(165, 165 + lost))
        assert ("turned-other-way" in {code for code, _ in found}) == told


@pytest.mark.parametrize(
    ("between_s", "hole", "chorded", "told"),
    [
        (3.5, slice(0, 0), False, True),
        (4.5, slice(0, 0), False, False),
        (-2.0, slice(0, 0), False, True),
        (3.5, slice(221, 223), False, False),
        (3.5, slice(0, 0), True, False),
    ],
)
def test_less_than_four_seconds_between_the_turns_are_no_outbound_leg(
    between_s: float, hole: slice, chorded: bool, told: bool
) -> None:
    one = circuit(turned(160.0, 220.0), turned(220.0 + between_s, 280.0 + between_s))
    found = [message for code, message in said(one, hole=hole, chorded=chorded) if code == "no-outbound-leg"]
    seconds = f"{max(between_s, 0.0):.0f}"
    asked = f"circuit 2: there was no outbound leg, {seconds} s between the turns"
    assert found == ([asked] if told else [])


def test_circles_are_counted_within_a_lap_and_over_the_fix() -> None:
    one = said(circuit(), lap=replace(LAP, orbits=((230, 260),)))
    two = said(circuit(), lap=replace(LAP, orbits=((230, 260), (262, 275))))
    assert one == [("circle-in-circuit", "circuit 2: a full circle was flown within it")]
    assert two == [("circle-in-circuit", "circuit 2: 2 full circles were flown within it")]
    reading: Any = bare(
        passages=(Passage(0, 0.0), Passage(240, 0.0, 360), Passage(600, 0.0, 720)), begun=(LAP, LAP)
    )
    assert [notice.message for notice in _circles_over_the_fix(reading)] == [
        "before circuit 2 a full circle was flown over the fix: no part of a circuit",
        "at the end a full circle was flown over the fix: no part of a circuit",
    ]


def test_an_entry_that_nobody_saw_and_one_turned_back_the_wrong_way_are_said() -> None:
    (begins,), (hole,) = _entry_notices(None, hidden=False), _entry_notices(None, hidden=True)
    assert begins.code == hole.code == "entry-not-recorded"
    assert (
        "the log begins inside the hold" in begins.message
        and "a hole where the hold was joined" in hole.message
    )
    wrong: Any = bare(flown="other", turns=(a_turn(),))
    assert [notice.code for notice in _entry_notices(wrong, hidden=False)] == ["entry-turned-wrong-way"]
    right: Any = bare(flown="offset", turns=(a_turn(),))
    assert _entry_notices(right, hidden=False) == []


@pytest.mark.parametrize(
    ("degrees", "side", "told"), [(-95.0, 1, True), (-88.0, 1, False), (95.0, 1, False), (95.0, -1, True)]
)
def test_a_way_back_begun_to_the_other_hand_that_was_taken_for_leaving_is_said(
    degrees: float, side: int, told: bool
) -> None:
    lap = replace(LAP, outbound=TurnRun(160, 220, degrees))
    reading: Any = bare(leaving=(lap, Passage(400, 0.8), 3.0), side=side)
    found = _way_back_when_left(reading, [])
    assert [notice.code for notice in found] == (["left-other-way"] if told else [])
    assert not told or f"you turned {'left' if side > 0 else 'right'}" in found[0].message
    assert not told or "came back 0.8 NM beside the fix" in found[0].message
    assert _way_back_when_left(bare(leaving=None, side=side), []) == []  # type: ignore[arg-type]


def test_a_passage_is_looked_for_within_a_dozen_seconds_of_where_it_was_seen_roughly() -> None:
    frame = straight_frame()
    assert _passage_near(frame, 45.0) == _passage_near(frame, 36.0) == pytest.approx(40.25)
    assert _passage_near(frame, 52.0) == pytest.approx(40.25)
    # Farther off, where it came nearest within that.
    assert _passage_near(frame, 54.0) == pytest.approx(42.0, abs=1.0)
    assert _passage_near(frame, 400.0) == 400.0


def test_a_laps_legs_lie_between_its_turns_and_the_fix() -> None:
    track = motion(np.full(SECONDS, 110.0), ground_east_kt=np.zeros(SECONDS), ground_north_kt=np.where(
        np.arange(SECONDS) < 300, -110.0, 110.0))  # fmt: skip
    measured: Any = bare(
        motion=track, wind=bare(mean_wind=lambda a, b: (0.0, 0.0, 1.0)), mean_tas=lambda a, b: (110.0, 1.0)
    )
    out, back = turned(160.0, 220.0), turned(280.0, 340.0)

    def legs(inbound: Turn | None, end_s: float | None) -> tuple[Any, ...]:
        lap: Any = bare(outbound=out, inbound=inbound)
        first, second, last = _legs(measured, lap, end_s, (), 0.0)
        return (first.start_s, first.end_s), second and (second.start_s, second.end_s), last

    assert legs(back, 400.0) == ((220.0, 280.0), (340.0, 400.0), 400.0)
    # A turn that led past the fix leaves no leg to it.
    assert legs(back, 340.5) == ((220.0, 280.0), None, 340.0)
    assert legs(back, 341.5)[1] == (340.0, 341.5)
    # Broken off, it is followed while it was flown: outbound to where it turned, inbound for two and a half minutes.
    assert legs(None, None) == ((220.0, 300.0), None, 300.0)
    assert legs(back, None) == ((220.0, 280.0), (340.0, 490.0), 490.0)


@pytest.mark.parametrize(
    ("apart_nm", "turned_deg", "one"),
    [(0.95, 0.0, True), (1.05, 0.0, False), (0.0, 39.0, True), (0.0, -41.0, False)],
)
def test_racetracks_of_one_fix_lie_within_a_mile_and_forty_degrees(
    apart_nm: float, turned_deg: float, one: bool
) -> None:
    flown, made = racetrack(TWO)
    other = replace(
        made,
        fix_m=made.fix_m + np.array([0.0, apart_nm * NM]),
        course_deg=(made.course_deg + turned_deg) % 360.0,
    )
    assert _is_of_one_fix(flown, made, other) == one


@pytest.mark.parametrize(("later_s", "one"), [(0, True), (55, True), (65, False)])
def test_racetracks_of_one_fix_that_follow_within_a_minute_are_one_hold_by_that_of_most_laps(
    later_s: int, one: bool
) -> None:
    flown, made = racetrack(TWO)
    first, second = (replace(made, laps=(lap,)) for lap in made.laps)
    late = replace(second.laps[0], outbound=replace(made.laps[1].outbound, start=first.end + later_s))
    wrong = replace(second, side=-made.side, laps=(late,))
    found = _of_one_fix(flown, [wrong, first])
    assert [(reading.side, len(reading.laps)) for reading, _ in found] == (
        [(made.side, 1)] if one else [(made.side, 1), (-made.side, 1)]
    )
    assert found[0][1][0] == flown.time_s[first.start]
    assert found[-1][1][1] == flown.time_s[wrong.end]
