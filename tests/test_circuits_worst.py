"""The worst pilots and logs, with the right hold given: nobody is refused, nothing is said that was not flown.

Flights are drawn by hand in still air, at rate one and 110 kt, or flown by weak students.
"""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from analyser.circuits.circuit_cutting import _lost_fix
from analyser.circuits.find import search
from analyser.circuits.flown import Circuit, Search
from analyser.circuits.frame import HoldFrame
from analyser.circuits.given_fit import is_part_of
from analyser.circuits.given_hold import _turned_on
from analyser.circuits.laps_and_entries import LapPhases
from analyser.circuits.racetrack import TurnRun
from analyser.debrief import debrief_track
from analyser.grading.judge import _wrong_turns
from analyser.holds.definition import Hold
from analyser.logs.track import Track
from analyser.motion.motion import Motion
from tests.accuracy_students import measure_student, watch_student
from tests.drawn_flights import COURSE_DEG, SPEED_NM_S, drawn, laps, straight, turn
from tests.flights.as_track import seen_track, to_hold
from tests.flights.students import lost_student_case, student_case
from tests.planted.fault import Fault, Scene
from tests.planted.fly import flown as flown_by_plan
from tests.test_circuits_cutting import view_of
from tests.test_circuits_given import AWAY, GIVEN, WAY_IN, codes, found, in_wind, lap, moved
from tests.test_circuits_way_to_hold import out_and_back


def given_at(off_deg: float, turns: str = "right") -> Hold:
    """Give the hold whose course is so far right of the way over the fix."""
    return replace(GIVEN, inbound_course_true_deg=(COURSE_DEG + off_deg) % 360.0, turns=turns)  # type: ignore[arg-type]


def moved_on_course(right_nm: float, along_nm: float) -> Hold:
    """Give the same hold with its fix so far right of the course and on along it."""
    course = np.radians(COURSE_DEG)
    east = right_nm * np.cos(course) + along_nm * np.sin(course)
    return moved(float(east), float(along_nm * np.cos(course) - right_nm * np.sin(course)))


def turned_s(circuit: Circuit) -> list[float]:
    """Return when both turns of a circuit began and ended."""
    assert circuit.outbound_turn and circuit.inbound_turn
    return [at for one in (circuit.outbound_turn, circuit.inbound_turn) for at in (one.start_s, one.end_s)]


def without(track: Track, first_s: float, last_s: float) -> Track:
    """Leave a hole in a log."""
    return track.take((track.time_s < first_s) | (track.time_s > last_s))


def complete(result: Search) -> list[list[bool]]:
    return [[circuit.complete for circuit in hold.circuits] for hold in result.holds]


def test_a_turn_that_leads_past_the_fix_ends_where_the_wings_come_level() -> None:
    # Over the fix 60° short of the course, in the turn; on its course, level for 15 seconds; then the turn outbound.
    before = [*straight(200), *turn(180.0), *straight(60), *turn(120.0)]
    lap = [*turn(60.0), *straight(15), *turn(180.0), *straight(60), *turn(120.0)]
    (hold,) = search(drawn(before, [*lap, *turn(60.0), *straight(100)]), [given_at(60.0)]).holds
    first, second = (turned_s(circuit) for circuit in hold.circuits)
    over_s = float(len(before))
    assert hold.circuits[1].start_s == pytest.approx(over_s, abs=3.0)
    assert (first[3], second[0]) == pytest.approx((over_s + 20.0, over_s + 35.0), abs=3.0)


def test_between_chords_no_turn_is_followed_past_the_fix() -> None:
    before = [*straight(200), *turn(180.0), *straight(60), *turn(120.0)]
    track = drawn(before, [*turn(60.0), *straight(15), *turn(180.0), *straight(160)])
    view = view_of(track, given_at(60.0))
    turned = LapPhases(120, 360, TurnRun(200, 260, 180.0), TurnRun(320, 360, 120.0), ())
    assert _turned_on(view, turned).inbound.end == pytest.approx(381, abs=4)
    corners = replace(view, survey=replace(view.survey, sample_s=28.0))
    assert _turned_on(corners, turned) == turned


def test_who_leads_outbound_over_the_fix_begins_the_leg_there() -> None:
    before, result = straight(200), [*straight(60), *turn(180.0), *straight(100)]
    (hold,) = search(drawn(before, result), [given_at(180.0)]).holds
    (circuit,) = hold.circuits
    assert circuit.outbound_leg is not None
    assert (
        circuit.outbound_leg.start_s
        == pytest.approx(circuit.start_s, abs=1.0)
        == pytest.approx(199.0, abs=2.0)
    )


def test_an_s_turn_of_the_other_hand_on_the_way_out_is_no_turn_outbound() -> None:
    swing = [*turn(-40.0), *straight(6), *turn(80.0), *straight(6), *turn(-40.0)]
    after = [*straight(32), *swing, *straight(40), *turn(180.0), *straight(140)]
    result = search(drawn(straight(200), after), [given_at(180.0)])
    assert complete(result) == [[True]]
    assert "turned-other-way" not in codes(result)


@pytest.mark.parametrize(
    ("circled_deg", "said"), [(360.0, "a full circle was"), (720.0, "2 full circles were")]
)
def test_circles_on_the_way_out_are_counted_and_make_no_lap(circled_deg: float, said: str) -> None:
    circled = [*turn(180.0), *straight(40), *turn(circled_deg), *straight(40), *turn(180.0), *straight(80)]
    (hold,) = found([*lap(), *circled, *lap(), *AWAY]).holds
    assert [circuit.complete for circuit in hold.circuits] == [True] * 3
    (notice,) = [one for one in hold.notices if one.code == "circle-in-circuit"]
    assert notice.message == f"circuit 2: {said} flown within it"
    assert sum(b - a for a, b in hold.circuits[1].circles_s) == pytest.approx(circled_deg / 3.0, abs=6.0)


@pytest.mark.parametrize("vector_s", [15, 30])
def test_a_lap_broken_off_on_its_leg_and_rejoined_is_none(vector_s: int) -> None:
    """Away from the leg to the side, round and in again; a turn with a pause no longer than fifteen seconds is one."""
    # Along, 0.92 NM out, then down by two radii; back across by the vector and two radii (0.58 NM each).
    back_s = round((2 * 0.5836 + vector_s * 110.0 / 3600.0) * 3600.0 / 110.0)
    left = [*turn(180.0), *straight(30), *turn(-90.0), *straight(vector_s), *turn(180.0), *straight(back_s)]
    result = found([*lap(), *left, *turn(90.0), *straight(68), *lap(), *AWAY])
    assert complete(result) == ([[True, False], [True]] if vector_s > 20 else [[True] * 3])


def test_a_hole_over_the_whole_entry_leaves_it_unjudged() -> None:
    track = drawn(out_and_back(1, 90, 60), [*laps(2, 1), *AWAY])
    (hold,) = search(without(track, 93.0, 222.0), [GIVEN]).holds
    assert hold.entry is None and len(hold.circuits) >= 2
    assert [n.message for n in hold.notices if n.code == "entry-not-recorded"] == [
        "the log has a hole where the hold was joined: the entry cannot be judged"
    ]


@pytest.mark.parametrize(("in_hole", "said"), [(False, 1), (True, 0)])
def test_a_fix_passed_in_a_hole_is_not_said_to_be_lost(in_hole: bool, said: int) -> None:
    time_s = np.arange(20.0)
    frame = HoldFrame(time_s, time_s - 10.0, np.full(20, 2.0))
    motion = SimpleNamespace(in_hole=np.full(20, in_hole), span=lambda a, b: slice(int(a), int(b) + 1))
    assert len(_lost_fix(cast("Motion", motion), frame, "circuit 1", 10.0)) == said


@pytest.mark.parametrize(
    ("off_deg", "whole", "code"),
    [(100.0, [True, True], "turned-other-way"), (120.0, [True], "turns-other-hand")],
)
def test_a_lap_flown_as_the_file_asks_makes_a_last_one_the_odd_one_unless_it_is_the_other_hands_entry(
    off_deg: float, whole: list[bool], code: str
) -> None:
    # From the side, to the left onto the way out, and a left-hand lap; then one to the right. At 80° from the way out
    # that is the direct entry of the file's hand; at 60° that hand has an offset one, and the other this parallel one.
    own = [*turn(off_deg - 180.0), *straight(60), *turn(-180.0), *straight(75)]
    result = search(drawn(WAY_IN, [*own, *lap(), *AWAY]), [given_at(off_deg, "left")])
    assert complete(result) == [whole]
    assert {one for one in codes(result) if one.startswith("turn")} == {code}
    (hold,) = result.holds
    assert hold.entry is not None and hold.entry.flown == ("direct" if len(whole) > 1 else "parallel")


@pytest.mark.parametrize(
    ("begins_s", "said"), [(65, "the log begins on the way out"), (None, "an overflight or")]
)
def test_a_log_that_begins_on_the_way_out_is_no_overflight(begins_s: int | None, said: str) -> None:
    track = drawn([0.0], [*lap(), *straight(200)])
    track = drawn(WAY_IN, straight(200)) if begins_s is None else track.take(slice(begins_s, None))
    result = search(track, [GIVEN])
    assert not [hold for hold in result.holds if hold.given]
    assert said in result.fits[0].sentence


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize(("begins_s", "outbound_s"), [(62, 40), (62, 60), (100, 90)])
def test_parts_of_two_laps_are_no_lap_at_the_other_end(begins_s: int, outbound_s: int, side: int) -> None:
    # From the leg out, round over the fix, and broken off on the next leg out.
    track = drawn([0.0], [*lap(side=side), *turn(180.0 * side), *straight(outbound_s)])
    result = search(track.take(slice(begins_s, None)), [given_at(0.0, "right" if side > 0 else "left")])
    assert complete(result) == [[False]] and not result.possible
    (hold,) = result.holds
    assert hold.given and hold.entry is None and {"entry-not-recorded", "part-of-circuit"} <= codes(result)


@pytest.mark.parametrize(("whole", "part"), [(1, True), (2, False)])
def test_two_whole_laps_are_more_than_parts_of_the_given_holds(whole: int, part: bool) -> None:
    # The hold at the other end of its racetrack: half a circle across, and a minute along.
    (other,) = found([*laps(whole, 1), *AWAY]).holds
    east, north = 2.0 * 60.0 / np.pi * SPEED_NM_S, 60.0 * SPEED_NM_S
    given = replace(moved_on_course(east, -north), inbound_course_true_deg=(COURSE_DEG + 180.0) % 360.0)
    track = drawn(WAY_IN, [*laps(whole, 1), *AWAY])
    assert is_part_of(track, given, replace(other, course_sd_deg=1.0)) is part
    assert not is_part_of(track, given, other)


@pytest.mark.parametrize(
    ("begins_s", "said"),
    [
        (20, "3:40 before it, perhaps within a lap"),
        (80, "on the way out before it"),
        (160, "1:20 before it, perhaps within a lap"),
        (200, "0:40 before it, perhaps within a lap"),
    ],
)
@pytest.mark.parametrize("on", [False, True])
def test_what_may_be_the_rest_of_a_lap_is_no_overflight(begins_s: int, said: str, on: bool) -> None:
    after = [*turn(180.0), *straight(60)] if on else AWAY
    result = search(drawn([0.0], [*lap(), *after]).take(slice(begins_s, None)), [GIVEN])
    if on:
        assert complete(result) == [[False]]
        # Forty seconds straight in may be an arrival from ahead.
        assert (result.holds[0].entry is None) == (begins_s < 200)
        return
    assert f"inbound once, but the log begins {said}" in result.fits[0].sentence
    assert result.fits[0].sentence.endswith("no lap is seen from its start.")


def test_who_passes_beside_the_fix_first_is_met_where_he_comes_over_it() -> None:
    # Two and a half miles to the left of the fix on its course, then to the right over it, and a lap.
    before = [*straight(100), *turn(100.0), *straight(60)]
    after = [*turn(80.0), *straight(60), *turn(180.0), *straight(70), *AWAY]
    (hold,) = search(drawn(before, after), [given_at(-100.0)]).holds
    assert hold.entry is not None and hold.entry.flown == "direct"
    assert hold.circuits[0].start_s == pytest.approx(len(before), abs=4.0)


def test_an_entry_whose_leg_was_forgotten_is_still_the_entry_asked_for() -> None:
    # Three minutes in place of one.
    one = flown_by_plan(Scene(entry="parallel", side=-1), Fault(entry_time_factor=3.0))
    (hold,) = search(one.track, [one.hold]).holds
    assert hold.entry is not None and hold.entry.flown == "parallel"
    assert len(hold.circuits) == len(one.truth.circuits)


@pytest.mark.parametrize(
    ("hands", "circuits", "wrong"), [((1, -1, 1), 3, {"circuit 2"}), ((-1, 1, 1, 1), 3, set())]
)
def test_laps_of_either_hand_round_one_fix_are_one_hold_without_a_file_too(
    hands: tuple[int, ...], circuits: int, wrong: set[str]
) -> None:
    # A first lap the wrong way round is a parallel entry to the eye.
    after = [rate for side in hands for rate in lap(side=side)]
    (hold,) = search(drawn(WAY_IN, [*after, *AWAY])).holds
    assert hold.hold.turns == "right" and [c.complete for c in hold.circuits] == [True] * circuits
    said = {n.message.split(":")[0] for n in hold.notices if n.code == "turned-other-way"}
    assert said == wrong


def test_a_homing_pilots_turn_begins_where_he_rolls_in() -> None:
    # In 33 kt of wind, where the way over the ground turns as fast as in a turn, with the wings nearly level.
    seconds = measure_student(student_case(20, 70)).seconds["turn boundaries"]
    assert float(np.abs(seconds).max()) <= 3.0


@pytest.mark.parametrize(("hole_s", "wrong"), [((), {"outbound", "inbound"}), ((435.0, 505.0), {"inbound"})])
def test_a_hand_that_lies_in_a_hole_is_not_called_wrong(hole_s: tuple[float, float], wrong: set[str]) -> None:
    track = drawn(WAY_IN, [*lap(), *lap(side=-1), *lap(), *AWAY])
    debrief = debrief_track(without(track, *hole_s) if hole_s else track, hold=GIVEN)
    (held,) = debrief.holds
    said = [n.message for n in held.judged.flown.notices if n.code == "turned-other-way"]
    assert said == [f"circuit 2: the {one} turn was made to the left" for one in sorted(wrong, reverse=True)]
    # Nobody saw it led out to the wrong side; that it came back so was seen.
    assert held.judged.findings[0].kind == ("wrong side" if "outbound" in wrong else "inbound way")


def test_no_hand_is_called_wrong_whose_turns_nobody_saw() -> None:
    track = drawn(WAY_IN, [*lap(), *lap(side=-1), *lap(), *AWAY])
    (held,) = debrief_track(track, hold=GIVEN).holds
    flown, motion = held.judged.flown, held.judged.flown.motion
    unseen = replace(flown, motion=replace(motion, in_hole=np.ones_like(motion.in_hole)))
    assert [_wrong_turns(one)[:2] for one in (flown, unseen)] == [((2,), ()), ((), ())]


@pytest.mark.parametrize(
    ("hands", "verdict", "said"),
    [
        ((-1, 1, 1), "not judged", "a parallel entry where a direct one was asked for, or a first circuit"),
        ((1, 1), "correct", "Your entry was right."),
    ],
)
def test_a_first_lap_to_the_wrong_hand_or_an_entry_not_asked_for(
    hands: tuple[int, ...], verdict: str, said: str
) -> None:
    # Straight in along the course: nothing asks for a parallel entry, and half a circle to the left is either.
    track = drawn(WAY_IN, [rate for side in hands for rate in lap(side=side)] + AWAY)
    (held,) = debrief_track(track, hold=GIVEN).holds
    assert held.judged.entry is not None and held.judged.entry.verdict == verdict
    finding = next(one for one in held.judged.findings if one.kind == "entry")
    assert said in finding.sentence and "you flew" not in finding.sentence
    # It led out to the wrong side either way.
    assert (finding.severity == "below standard") == (verdict == "not judged")


def test_a_parallel_entry_begun_by_less_than_half_a_circle_is_one() -> None:
    # From the side, 100° to the left onto the outbound course: asked for is a direct entry, on a heading 80° off it.
    entry = [*turn(-120.0), *straight(60), *turn(-210.0), *straight(20), *turn(30.0), *straight(45)]
    track = drawn(WAY_IN, [*entry, *laps(2, 1), *AWAY])
    (held,) = debrief_track(track, hold=given_at(60.0)).holds
    assert held.judged.entry is not None and held.judged.entry.entry.flown == "parallel"
    assert held.judged.entry.verdict == "incorrect"


def at_rate(by_deg: float, rate_dps: float) -> list[float]:
    """Turn by an angle at another rate than one."""
    seconds = round(abs(by_deg) / rate_dps)
    return [by_deg / seconds] * seconds


def test_holds_at_two_fixes_one_after_the_other_are_both_taken() -> None:
    # Four miles on along the course: every lap round the second fix leads inbound abeam the first.
    onward = round(4.0 / SPEED_NM_S)
    track = drawn(WAY_IN, [*lap(), *lap(), *straight(onward), *lap(), *lap(), *AWAY])
    first, second = search(track, [GIVEN, moved_on_course(0.0, onward * SPEED_NM_S)]).holds
    assert first.given and second.given and first.hold == GIVEN
    assert [len(hold.circuits) for hold in (first, second)] == [2, 2]


@pytest.mark.parametrize("outbound_s", [30, 45])
def test_a_circle_at_little_bank_within_a_leg_is_no_lap_in_a_strong_wind(outbound_s: int) -> None:
    # 30 kt along the course carry a circle of five minutes, begun outbound, over the fix and past it.
    circled = [
        *turn(180.0),
        *straight(outbound_s),
        *at_rate(360.0, 1.2),
        *straight(20),
        *turn(180.0),
        *straight(80),
    ]
    track = drawn(WAY_IN, [*lap(90, 30), *circled, *lap(120, 30), *AWAY])
    (hold,) = search(in_wind(track, 30.0, float(len(WAY_IN))), [GIVEN]).holds
    assert [len(circuit.circles_s) for circuit in hold.circuits] == [0, 1, 0]


def test_a_circle_over_the_fix_that_a_headwind_sets_back_is_no_circuit() -> None:
    # 20 kt against it for two minutes: 0.67 NM, which take 27 s to make up for.
    track = drawn(WAY_IN, [*turn(360.0), *straight(27), *lap(40, 110), *lap(40, 110), *AWAY])
    (hold,) = search(in_wind(track, -20.0, float(len(WAY_IN))), [GIVEN]).holds
    assert [n.code for n in hold.notices if n.code == "circle-over-fix"] == ["circle-over-fix"]
    assert len(hold.circuits) == 2


def test_what_a_hole_hides_is_no_lap_and_no_way_round() -> None:
    # The log sees the turn outbound, and then nothing until the flight is away on another course.
    watched = watch_student(student_case(1, 83))
    result = search(seen_track(watched.seen, "hole"), [to_hold(watched.flown.hold)])
    assert not result.holds and not result.possible
    assert "the log shows no way back to the fix: no lap is seen to its end" in result.fits[0].sentence


def test_a_fix_lost_behind_a_hole_is_told() -> None:
    # Laps without legs, all to the wrong hand, the second turn inbound in the hole.
    errors = measure_student(student_case(16, 47))
    assert errors.shares["told of the fix they lost, of those beyond 1.5 NM"] == [True], errors.remarks


def back_over(flown: list[float]) -> list[float]:
    """Turn right, from where a way from the fix led, until the fix lies ahead, and fly there."""
    heading = np.radians(np.cumsum(flown))
    place = SPEED_NM_S * np.array([np.sin(heading).sum(), np.cos(heading).sum()])
    ways = []
    for by_deg in range(90, 270, 3):
        turned = heading[-1] + np.radians(np.cumsum(turn(float(by_deg))))
        at = place + SPEED_NM_S * np.array([np.sin(turned).sum(), np.cos(turned).sum()])
        ahead = np.array([np.sin(turned[-1]), np.cos(turned[-1])])
        beside = abs(at[0] * ahead[1] - at[1] * ahead[0]) if at @ ahead < 0.0 else np.inf
        ways.append((beside, by_deg, round(-float(at @ ahead) / SPEED_NM_S)))
    _, by_deg, seconds = min(ways)
    return [*turn(float(by_deg)), *straight(seconds)]


@pytest.mark.parametrize("laps_before", [1, 2])
def test_a_lap_that_lost_the_fix_by_miles_is_a_lap_of_the_stay(laps_before: int) -> None:
    # Led off 60° from the outbound course for a minute and a half, back miles beside the fix, and out from there.
    astray = [*turn(120.0), *straight(100), *turn(240.0), *straight(40), *turn(180.0), *straight(60)]
    way = [*astray, *back_over(astray)]
    round_again = [*turn(-float(sum(way)) % 360.0 + 180.0), *straight(60), *turn(180.0), *straight(60)]
    (hold,) = search(drawn(WAY_IN, [*lap() * laps_before, *way, *round_again, *AWAY]), [GIVEN]).holds
    assert len(hold.circuits) == laps_before + 3 and hold.circuits[-1].complete
    assert "fix-lost" in {notice.code for notice in hold.notices}


@pytest.mark.parametrize(
    ("index", "seed"),
    [
        pytest.param(87, 131, id="in the wind, lap by lap"),
        pytest.param(64, 1102, id="by an entry that leads five miles off"),
        pytest.param(70, 812, id="by an offset entry turned back the wrong way"),
    ],
)
def test_who_met_the_fix_on_arrival_and_lost_it_on_every_lap_is_debriefed(index: int, seed: int) -> None:
    errors = measure_student(student_case(index, seed))
    assert errors.shares["debriefed, of all"] == [True]
    assert errors.shares["told of the fix they lost, of those beyond 1.5 NM"] == [True]


@pytest.mark.parametrize(("index", "entry"), [(15, "direct"), (17, "parallel"), (34, "parallel")])
def test_a_leg_led_off_by_the_drift_laid_off_to_the_wrong_side_makes_no_other_entry(
    index: int, entry: str
) -> None:
    # In 30 kt and more, one row in ten seconds; the laps' own legs show which way he lays it off.
    case = lost_student_case(index, 900)
    assert case.plan.entry == entry and case.plan.drift_multiple == -3.0
    errors = measure_student(case)
    assert errors.shares["entry recognised, of those debriefed"] == [True], errors.remarks


def test_a_last_lap_of_a_pilot_whose_turns_are_less_against_the_wind_is_one_broken_off() -> None:
    errors = measure_student(lost_student_case(36, 900))
    assert errors.shares["debriefed whole, of those within 1.5 NM of the fix"] == [True], errors.remarks


@pytest.mark.parametrize(("by_deg", "whole"), [(130.0, [True, True, False]), (150.0, [True, True, True])])
def test_a_last_lap_left_with_a_lesser_turn_of_the_other_hand_is_broken_off(
    by_deg: float, whole: list[bool]
) -> None:
    # Outbound, then to the left, past the fix on another way: as arrivals from a stack do; a turn back is one of a lap.
    left = [*turn(155.0), *straight(20), *turn(-by_deg), *straight(60)]
    track = drawn(WAY_IN, [*lap(), *lap(), *left, *AWAY])
    assert complete(search(track, [moved_on_course(0.5, 0.0)])) == [whole]


def test_a_departure_to_the_other_hand_is_no_lap_begun() -> None:
    # Two laps to the right; then to the left onto the outbound course, and away on it.
    after = [*lap(), *lap(), *turn(-175.0), *straight(110)]
    result = search(drawn(WAY_IN, after), [GIVEN])
    assert complete(result) == [[True, True]] and "turned-other-way" not in codes(result)
    (own,) = search(drawn(WAY_IN, [*lap(), *lap(), *turn(175.0), *straight(110)]), [GIVEN]).holds
    assert [circuit.complete for circuit in own.circuits] == [True, True, False]


def test_a_way_back_on_the_other_side_that_was_taken_for_leaving_is_said() -> None:
    # Whether it was a circuit to the wrong side or a departure nobody but the pilot knows.
    left = [*turn(-150.0), *straight(45), *turn(150.0), *straight(70)]
    track = drawn(WAY_IN, [*lap(), *lap(), *left])
    result = search(track, [GIVEN])
    assert complete(result) == [[True, True]] and codes(result) == {"left-other-way"}
    (judged,) = (one.judged for one in debrief_track(track, hold=GIVEN).holds)
    (said,) = (one.sentence for one in judged.findings if one.kind == "left to the other side")
    assert said.startswith(
        "After the last circuit you turned left, away from the holding side, and came back 2.9 NM"
    )
    to_the_right = search(drawn(WAY_IN, [*lap(), *lap(), *turn(60.0), *straight(110)]), [GIVEN])
    assert "left-other-way" not in codes(to_the_right)


@pytest.mark.parametrize(("by_deg", "begun"), [(110.0, False), (130.0, True)])
def test_a_departure_to_the_side_of_the_way_out_is_no_lap_begun(by_deg: float, begun: bool) -> None:
    # Where two laps show that this pilot turns through 180°.
    after = [*lap(), *lap(), *turn(by_deg), *straight(110)]
    (hold,) = search(drawn(WAY_IN, after), [given_at(-5.0)]).holds
    assert len(hold.circuits) == 2 + begun


@pytest.mark.parametrize(
    ("index", "seed"),
    [
        pytest.param(6, 47, id="an orbit before the fix that runs on from the turn inbound is no lap"),
        pytest.param(84, 47, id="a last lap is begun by less of a turn than the others"),
        pytest.param(89, 47, id="a last lap is begun late after a turn inbound that led past the fix"),
        pytest.param(119, 302, id="who turns outbound for another lap has not left"),
        pytest.param(26, 132, id="a circle on the outbound leg is no arrival over the fix"),
        pytest.param(48, 132, id="a leg flown level is no late beginning of the turn over the fix"),
        pytest.param(80, 302, id="a steady circle that passes beside the fix is not two turns"),
        pytest.param(113, 132, id="a first lap without a leg is no offset entry"),
        pytest.param(5, 40, id="an offset entry turned slowly is no first lap without a leg"),
        pytest.param(33, 201, id="a lone lap to the other hand is one where drift took some of its turn"),
        pytest.param(64, 610, id="a lap to the other hand between two of the hold's is the odd one"),
        pytest.param(35, 611, id="the seconds seen of a turn in a hole tell its hand"),
        pytest.param(17, 612, id="a lap of wide S-turns at little bank is no journey"),
        pytest.param(9, 801, id="a lap is as long as it is without the circles in it"),
    ],
)
def test_what_befalls_a_weak_student_leaves_his_hold_whole(index: int, seed: int) -> None:
    errors = measure_student(student_case(index, seed))
    assert errors.shares["debriefed whole, of those within 1.5 NM of the fix"] == [True], errors.remarks


@pytest.mark.parametrize(
    ("index", "seed"),
    [
        pytest.param(4, 611, id="an offset entry of whose leg a few seconds are seen"),
        pytest.param(32, 612, id="an offset entry turned back within the hole"),
        pytest.param(5, 720, id="a parallel entry turned back within the hole"),
        pytest.param(7, 612, id="a hole over the next turn outbound tells nothing of the turn inbound"),
        pytest.param(28, 47, id="nor does one that ends in a circle"),
    ],
)
def test_where_a_hole_ends_tells_which_way_was_turned_in_it(index: int, seed: int) -> None:
    errors = measure_student(student_case(index, seed))
    assert errors.shares["entry recognised, of those debriefed"] == [True], errors.remarks


@pytest.mark.parametrize("leg_s", [45, 15])
def test_a_steady_circle_from_fix_to_fix_is_no_circuit_of_who_flies_legs(leg_s: int) -> None:
    # All turns at half of rate one; with legs of fifteen seconds the circle may as well be two turns without any.
    slow = [*at_rate(180.0, 1.5), *straight(leg_s), *at_rate(180.0, 1.5), *straight(leg_s)]
    result = found([*slow, *slow, *at_rate(360.0, 1.5), *AWAY])
    assert complete(result) == [[True] * (2 if leg_s > 20 else 3)]
    assert ("circle-over-fix" in codes(result)) == (leg_s > 20)


def test_who_runs_turn_into_turn_on_every_lap_does_not_circle() -> None:
    # 40 kt along the course bring back in a whole turn what a minute outbound led away; beside the fix each time.
    run_on = [*straight(60), *turn(360.0)]
    several, once = (
        [*turn(180.0), *(number * run_on), *straight(60), *turn(180.0), *AWAY] for number in (3, 1)
    )
    for after, circuits in ((several, 4), (once, 1)):
        track = drawn(WAY_IN, after)
        (hold,) = search(in_wind(track, 40.0, float(len(WAY_IN))), [moved_on_course(0.2, 0.0)]).holds
        assert len(hold.circuits) == circuits


@pytest.mark.parametrize(("back_deg", "whole"), [(160.0, True), (150.0, False)])
def test_a_last_turn_back_that_leads_straight_past_the_fix_has_left_it(back_deg: float, whole: bool) -> None:
    # With legs of a minute the one passes 0.7 NM beside the fix, the other 1.2 NM.
    past = [*turn(180.0), *straight(60), *turn(back_deg), *straight(120)]
    (hold,) = search(drawn(WAY_IN, [*lap(), *lap(), *past]), [GIVEN]).holds
    assert [circuit.complete for circuit in hold.circuits] == [True, True, whole]


@pytest.mark.parametrize(("back_deg", "said"), [(140.0, True), (120.0, False)])
def test_who_may_have_lost_the_fix_is_told_what_was_taken_for_leaving(back_deg: float, said: bool) -> None:
    # They pass 1.7 and 1.9 NM beside the fix; turned back by 120°, across the course, nobody means the fix.
    past = [*turn(180.0), *straight(60), *turn(back_deg), *straight(120)]
    result = search(drawn(WAY_IN, [*lap(), *lap(), *past]), [GIVEN])
    assert complete(result) == [[True, True, False]]
    told = [notice.message for notice in result.holds[0].notices if notice.code == "fix-lost"]
    assert (
        told
        == [
            "circuit 3: you came back 1.7 NM beside the fix: that was taken for leaving the hold and not judged"
        ]
        * said
    )


@pytest.mark.parametrize(("beside_nm", "whole"), [(1.3, True), (1.2, False)])
def test_what_misses_the_fix_by_little_of_a_turn_has_not_left_the_hold(beside_nm: float, whole: bool) -> None:
    # Turns of 3.6 NM across; the last way in leads across the course, 0.48 and 0.58 NM beside a fix that the others
    # pass on its other side.
    wide = [*at_rate(180.0, 1.0), *straight(60), *at_rate(180.0, 1.0), *straight(60)]
    across = [*at_rate(180.0, 1.0), *at_rate(120.0, 1.0), *straight(150)]
    (hold,) = search(drawn(WAY_IN, [*wide, *wide, *across]), [moved_on_course(-beside_nm, 0.0)]).holds
    assert [circuit.complete for circuit in hold.circuits] == [True, True, whole]


@pytest.mark.parametrize(("across_s", "whole"), [(6, True), (8, False)])
def test_a_way_back_that_leads_straight_across_the_course_has_left_the_hold(
    across_s: int, whole: bool
) -> None:
    # Turned back 80° short of the course, and a second later or earlier on to 30° short of it; the others pass the fix
    # as far beside.
    across = [*turn(180.0), *straight(60), *turn(100.0), *straight(across_s), *turn(50.0), *straight(150)]
    (hold,) = search(drawn(WAY_IN, [*lap(), *lap(), *across]), [moved_on_course(-0.7, 0.0)]).holds
    assert [circuit.complete for circuit in hold.circuits] == [True, True, whole]


@pytest.mark.parametrize(("wider_nm", "whole"), [(1.0, True), (2.0, False)])
def test_a_last_lap_that_leads_straight_past_the_fix_far_beside_it_has_left(
    wider_nm: float, whole: bool
) -> None:
    # A whole turn back, so much wider than the others, which met the fix.
    width_nm = 2.0 * 110.0 / 3600.0 / np.radians(3.0)
    past = [
        *turn(180.0),
        *straight(60),
        *at_rate(180.0, 3.0 * width_nm / (width_nm + wider_nm)),
        *straight(180),
    ]
    (hold,) = search(drawn(WAY_IN, [*lap(), *lap(), *past]), [GIVEN]).holds
    assert [circuit.complete for circuit in hold.circuits] == [True, True, whole]


def test_a_correction_as_the_log_begins_is_no_end_of_a_turn_inbound() -> None:
    # The laps' way in is as long as that of the arrival.
    later = [*lap(), *lap(), *AWAY]
    (corrected,) = search(drawn([*turn(12.0), *straight(44)], later), [GIVEN]).holds
    (turned,) = search(drawn([*turn(45.0), *straight(44)], later), [GIVEN]).holds
    assert corrected.entry is not None and turned.entry is None


def test_a_correction_after_a_circle_over_the_fix_makes_no_leg_of_it() -> None:
    # 20 kt against it for two minutes; on the way back a swing of 30° to either side.
    swing = [*turn(30.0), *straight(4), *turn(-30.0)]
    track = drawn(WAY_IN, [*turn(360.0), *straight(3), *swing, *lap(40, 110), *lap(40, 110), *AWAY])
    (hold,) = search(in_wind(track, -20.0, float(len(WAY_IN))), [GIVEN]).holds
    assert "circle-over-fix" in {notice.code for notice in hold.notices} and len(hold.circuits) == 2
