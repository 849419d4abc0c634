"""What is said of a hold: which fault is spoken of, how bad it is held to be, and to which side."""

from dataclasses import replace
from functools import cache
from types import SimpleNamespace

import numpy as np
import pytest

from analyser.circuits.flown import FlownHold, HoldFit
from analyser.document import written_leaving
from analyser.grading.budget import Cost, _arrival_heading, _fix_crossing, _shift_side
from analyser.grading.finding import Finding, said
from analyser.grading.finding_ways import both_hands, held_reversed
from analyser.grading.judge import judge_hold
from analyser.grading.keeping import level_plan
from analyser.grading.lap import ideal_for
from analyser.holds.definition import ClearedLevel
from analyser.motion.layout import has_impossible_corners
from analyser.rules.load import load_regime, load_standard
from analyser.rules.scoring import load_scoring
from tests.grading_flights import Faults, Plan, fly, fly_entry

ICAO, FAA = load_regime("icao"), load_regime("faa")
ACS, PART_FCL = load_standard("acs-instrument"), load_standard("part-fcl-instrument")
SCORING = load_scoring()


@cache
def three(*faults: Faults) -> FlownHold:
    """Three circuits, the faults on the first of them."""
    return fly(Plan(faults=(*faults, *[Faults()] * (3 - len(faults)))))


def found(hold: FlownHold, kind: str, **how):
    judged = judge_hold(hold, ICAO, PART_FCL, **how)
    return next((one for one in judged.findings if one.kind == kind), None)


def begun_late(delay_s: float, established_s: float, circuits: tuple[int, ...] = (1,)) -> FlownHold:
    """Move the begin of some outbound turns, and of their established part, to so long after the fix."""
    hold = three()
    moved = [
        replace(
            one,
            outbound_turn=replace(
                one.outbound_turn,
                start_s=one.start_s + delay_s,
                established_start_s=one.start_s + established_s,
            ),
        )
        if k in circuits
        else one
        for k, one in enumerate(hold.circuits)
    ]
    return replace(hold, circuits=tuple(moved))


def test_six_seconds_to_react_and_five_to_bank_are_allowed_for_together():
    """Doc 8168 Vol II, Table I-4-3: 6 s of reaction and 5 s to establish the bank."""
    assert found(begun_late(8.0, 10.0), "late turn") is None
    assert found(begun_late(8.0, 13.0), "late turn").value == pytest.approx(8.0)


def test_one_turn_begun_late_is_below_standard_only_where_it_is_very_late():
    """Twice the eleven seconds that the designers allow for (Doc 8168 Vol II, Table I-4-3)."""
    once, far = found(begun_late(15.0, 20.0), "late turn"), found(begun_late(25.0, 30.0), "late turn")
    assert (once.severity, far.severity) == ("improve", "below standard")
    assert once.sentence.endswith("That was put right afterwards.") and not once.advice
    assert found(begun_late(15.0, 20.0, (0, 1)), "late turn").severity == "below standard"


def test_a_turn_begun_before_the_fix_is_said_as_one_begun_after_it_is():
    """Within the ten seconds that the designers allow for timing (Doc 8168 Vol II, Table I-2-3-1) nothing is."""
    early = found(begun_late(-16.0, -11.0), "early turn")
    assert early.value == pytest.approx(16.0) and "16 s before the fix" in early.sentence
    assert found(begun_late(-8.0, -3.0), "early turn") is None


@pytest.mark.parametrize(("longer_s", "severity"), [(15.0, "improve"), (26.0, "below standard")])
def test_a_leg_timed_wrongly_once_is_below_standard_only_beyond_twice_its_tolerance(longer_s, severity):
    """Ten seconds are allowed for timing (Doc 8168 Vol II, Table I-2-3-1); the rule is our own."""
    hold = fly(Plan(faults=(Faults(), Faults(outbound_time_s=longer_s), Faults(), Faults())))
    one = found(hold, "timing")
    assert (one.circuits, one.severity) == ((2,), severity)
    assert one.sentence.endswith("That was put right afterwards.")
    # What was put right is advised as it was flown then, or not at all.
    assert one.advice == (
        "" if severity == "improve" else "Time every leg as on circuit 4, where it was right."
    )


def climbing(*altitudes_ft: float) -> FlownHold:
    """Cleared from 4,000 to 5,000 ft from the second circuit on; the altitudes are flown in even shares from there."""
    hold = three()
    time_s, begin_s = hold.motion.time_s, hold.circuits[1].start_s
    knots_s = begin_s + 60.0 * np.arange(len(altitudes_ft) + 1)
    flown_ft = np.interp(time_s, knots_s, (4000.0, *altitudes_ft))
    cleared = replace(hold.hold, altitude_ft=4000.0, levels=(ClearedLevel(5000.0, from_circuit=2),))
    return replace(hold, hold=cleared, motion=replace(hold.motion, altitude_ft=flown_ft))


def test_on_the_way_to_a_cleared_level_both_levels_are_its_bounds():
    """A level is left by 300 ft (ICAO Doc 4444, 8.5.5), also where another one was cleared."""
    assert found(climbing(4400.0, 5000.0), "level") is None
    below, beyond = found(climbing(3500.0, 4300.0, 5000.0), "level"), found(climbing(5000.0, 5450.0), "level")
    assert "below the 4,000 ft" in below.sentence and below.severity == "unsafe"
    assert "above the 5,000 ft" in beyond.sentence and beyond.severity == "unsafe"
    plan = level_plan(climbing(4400.0, 5000.0), SCORING.levels)
    span_s = (three().circuits[1].start_s + 5.0, three().circuits[1].start_s + 55.0)
    assert plan.level_ft(*span_s, three().motion.time_s) is None, "between two levels none is held"


def test_bank_beyond_an_upset_is_unsafe_however_short():
    """An upset begins at 45° of bank (ICAO Doc 10011, from memory); five seconds of more are enough."""
    hold = three()
    turn = hold.circuits[1].outbound_turn
    inside = np.abs(hold.motion.time_s - turn.start_s - 15.0) <= 4.0
    steep, steady = (
        replace(hold, motion=replace(hold.motion, bank_deg=np.where(inside, bank_deg, hold.motion.bank_deg)))
        for bank_deg in (60.0, 44.0)
    )
    one = found(steep, "steep bank")
    assert one.severity == "unsafe" and one.circuits == (2,) and "60°" in one.sentence
    assert found(steady, "steep bank") is None


@pytest.mark.parametrize(("late_s", "severity"), [(4.0, "good"), (15.0, "improve"), (60.0, "below standard")])
def test_how_far_from_the_time_given_the_fix_was_left(late_s, severity):
    hold = three()
    one = found(hold, "leaving", leave_at_s=hold.end_s - late_s)
    assert one.severity == severity and f"{late_s:.0f} s late" in one.sentence
    assert bool(one.advice) == (severity != "good")
    judged = judge_hold(hold, ICAO, PART_FCL, leave_at_s=hold.end_s - late_s)
    assert list(judged.verdict).count(one.sentence) == 1


def test_a_plan_to_leave_says_when_the_fix_is_passed_by_it_on_the_clock_of_the_log():
    hold = three()
    leave_at_s = hold.end_s - 40.0
    judged = judge_hold(hold, ICAO, PART_FCL, leave_at_s=leave_at_s)
    met = [plan.leaves_s for plan in written_leaving(judged.leaving).plans if plan.why_not is None]
    assert met and met == pytest.approx([leave_at_s] * len(met), abs=1.0)


@pytest.mark.parametrize(("cross_nm", "side"), [(0.2, "left"), (-0.2, "right")])
def test_right_of_the_inbound_course_is_left_of_it_as_seen_outbound(cross_nm, side):
    budget = SimpleNamespace(costs=[Cost("arrival_heading", cross_nm, 0.0, None, None, None, 0.0)])
    assert _shift_side(None, budget) == side


@pytest.mark.parametrize(("fix_sd_nm", "known"), [(0.029, True), (0.045, False)])
def test_a_time_from_abeam_is_said_as_flown_only_where_the_fix_tells_it_to_three_seconds(fix_sd_nm, known):
    """Two sigma have to be less than the three seconds a hand can fly.

    A fix known to 0.029 NM on each axis of the map is known to 0.041 along the course, at 110 kt 1.3 s.
    """
    hold = fly(Plan(faults=(Faults(outbound_time_s=25.0),) * 2, wind_kt=5.0, wind_from_deg=30.0))
    judged = judge_hold(replace(hold, fix_sd_nm=fix_sd_nm), ICAO, PART_FCL)
    time = next(one for one in judged.next_time.all if one.name == "time")
    assert ("not {flown}" in time.advice.words) == known


def test_a_heading_that_no_hand_flies_closer_is_not_advised():
    """Two and a half degrees are what a hand can fly (common practice)."""
    for off_deg, told in ((1.2, False), (6.0, True)):
        judged = judge_hold(fly(Plan(faults=(Faults(outbound_heading_deg=off_deg),) * 2)), FAA, ACS)
        names = [one.name for one in judged.next_time.all] if judged.next_time else []
        assert ("heading" in names) == told


def test_the_inbound_target_is_as_unsure_as_wind_and_airspeed_make_it():
    """A knot of wind along a course that is flown at 110 kt is a hundredth of the minute: about half a second."""
    hold = three()
    sure = replace(hold.circuits[0], wind_sd_kt=0.0, tas_sd_kt=0.0)
    asked = (hold.hold, ICAO)
    assert ideal_for(*asked, sure, 4000.0).inbound_time_sd_s == pytest.approx(0.0, abs=1e-9)
    unsure = replace(sure, wind_sd_kt=1.0)
    assert ideal_for(*asked, unsure, 4000.0).inbound_time_sd_s == pytest.approx(60.0 / 110.0, rel=0.15)


def test_what_began_in_the_entry_is_said_to_have_begun_there():
    hold = fly_entry(Plan(wind_kt=10.0), "parallel", arrival_deg=-130.0, track_deg=176.0, seconds=60.0)
    time_s, begin_s = hold.motion.time_s, hold.circuits[0].start_s
    low = np.abs(time_s - begin_s) <= 20.0
    again = np.abs(time_s - begin_s - 120.0) <= 10.0
    altitude_ft = np.where(low, 3840.0, np.where(again, 3880.0, 4000.0))
    given = replace(hold.hold, altitude_ft=4000.0)
    said = found(
        replace(hold, hold=given, motion=replace(hold.motion, altitude_ft=altitude_ft)), "level"
    ).sentence
    assert "in the entry and on circuit 1, and were outside ±100 ft twice: for " in said


def test_right_and_left_in_turn_round_one_fix_are_one_hold_flown_to_both_sides():
    """A hold has one side (ICAO Doc 8168 Vol I); which it is only a hold file tells."""
    right = replace(three(), course_sd_deg=0.0)
    after_s = right.end_s - right.start_s + 10.0
    left = replace(
        right,
        hold=replace(right.hold, turns="left"),
        start_s=right.start_s + after_s,
        end_s=right.end_s + after_s,
    )
    first, second = both_hands((right, left), 0)[0], both_hands((right, left), 1)[0]
    assert "right-hand round this fix, and left-hand right after" in first.sentence
    assert "left-hand round this fix, and right-hand just before" in second.sentence
    elsewhere = replace(left, hold=replace(left.hold, fix_lat_deg=left.hold.fix_lat_deg + 0.1))
    later = replace(left, start_s=left.start_s + 300.0, end_s=left.end_s + 300.0)
    another = replace(
        left, hold=replace(left.hold, inbound_course_true_deg=left.hold.inbound_course_true_deg + 40.0)
    )
    for other in (right, elsewhere, later, another, replace(left, course_sd_deg=None)):
        assert both_hands((right, other), 0) == ()
    assert both_hands((replace(right, course_sd_deg=None), left), 0) == ()


@pytest.mark.parametrize(
    ("entry", "arrival_deg", "track_deg", "words", "severity"),
    [
        ("parallel", -130.0, 192.0, "12° to the non-holding side of the outbound course; along it (±5°)", "improve"),
        ("parallel", -130.0, 212.0, "32° to the non-holding side of the outbound course; along it", "below standard"),
        ("parallel", -130.0, 168.0, "led 12° to the holding side of the outbound course; along it", "improve"),
        ("offset", 140.0, 160.0, "; 30° to the holding side (±5°) was right.", "improve"),
        ("parallel", -130.0, 174.7, "led just over 5° to the holding side of the outbound course; along", "improve"),
        ("offset", 140.0, 155.3, "led just under 25° to the holding side of the outbound course; 30°", "improve"),
    ],
)  # fmt: skip
def test_to_which_side_an_entry_led_and_how_far(entry, arrival_deg, track_deg, words, severity):
    """Along the outbound course, or 30° to the holding side (ICAO Doc 8168 Vol I); 5° are allowed (Part-FCL)."""
    hold = fly_entry(Plan(wind_kt=10.0), entry, arrival_deg=arrival_deg, track_deg=track_deg, seconds=60.0)
    one = found(hold, "entry track")
    assert words in one.sentence and one.severity == severity and one.advice


def test_an_entry_leg_of_twice_its_time_is_unsafe():
    """An outbound leg of twice its time leads out of what is protected for it: the rule is our own."""
    long = fly_entry(Plan(wind_kt=0.0), "parallel", arrival_deg=-130.0, track_deg=180.0, seconds=130.0)
    one = found(long, "long entry leg")
    assert one.severity == "unsafe" and "took 130 s; 60 s (±10) was right" in one.sentence
    assert judge_hold(long, ICAO, PART_FCL).grade.grade == 1
    shorter = fly_entry(Plan(wind_kt=0.0), "parallel", arrival_deg=-130.0, track_deg=180.0, seconds=110.0)
    assert found(shorter, "entry time").severity == "improve"
    barely = fly_entry(Plan(wind_kt=0.0), "parallel", arrival_deg=-130.0, track_deg=180.0, seconds=70.0)
    assert "took just over 70 s; 60 s (±10) was right" in found(barely, "entry time").sentence


@pytest.mark.parametrize(("off_kt", "severity"), [(-20.0, "below standard"), (-36.0, "unsafe")])
def test_far_too_slow_is_unsafe(off_kt, severity):
    """Least speeds are 1.3 times the stalling speed (CS-23): three quarters of one and less is below the stall."""
    hold = three()
    given = replace(hold.hold, speed_kias=104.0)
    motion = replace(hold.motion, ias_kt=np.full(hold.motion.time_s.size, 104.0 + off_kt))
    one = found(replace(hold, hold=given, motion=motion), "speed")
    assert one.severity == severity and ("stall" in one.sentence) == (severity == "unsafe")


def test_circles_over_the_fix_between_circuits_are_said():
    hold = three()
    later_s = 120.0
    heading = hold.motion.heading_deg.copy()
    begin_s = hold.circuits[1].end_s
    moved = replace(hold.circuits[2], start_s=hold.circuits[2].start_s + later_s)
    inside = (hold.motion.time_s >= begin_s) & (hold.motion.time_s <= begin_s + later_s)
    heading[inside] = np.linspace(0.0, 360.0, inside.sum()) % 360.0
    circled = replace(
        hold, circuits=(*hold.circuits[:2], moved), motion=replace(hold.motion, heading_deg=heading)
    )
    assert "between circuits 2 and 3 for 2 min:" in found(circled, "circle").sentence
    assert found(hold, "circle") is None


def test_the_one_given_hold_flown_on_the_reciprocal_is_said_first():
    """The holding area lies on one side of the fix (ICAO Doc 8168 Vol I): on the reciprocal it is not flown in."""
    judged = judge_hold(replace(three(), course_sd_deg=0.0), ICAO, PART_FCL)
    course = judged.given.inbound_course_true_deg
    filed = replace(judged.given, inbound_course_true_deg=(course + 180.0) % 360.0)
    (one,) = held_reversed(judged, [HoldFit(filed, "course-reversed", "")])
    assert one.severity == "unsafe" and one.circuits == (1, 2, 3)
    assert one.sentence.startswith(f"The file's inbound course is {course + 180.0:03.0f}°")
    far = replace(filed, fix_lat_deg=filed.fix_lat_deg + 0.1)
    fits = [HoldFit(filed, "course-reversed", "")]
    assert held_reversed(judged, [HoldFit(far, "course-reversed", "")]) == ()
    assert held_reversed(judged, [HoldFit(filed, "elsewhere", "")]) == held_reversed(judged, fits * 2) == ()


def test_a_steep_turn_that_is_held_is_no_corner_between_two_chords():
    """Half a circle at 55° of bank and 110 kt: tan φ = V ω / g gives 14° a second, so thirteen seconds of it."""
    time_s = np.arange(300.0)

    def flown(turning_s: float) -> SimpleNamespace:
        turning = time_s % 100.0 < turning_s
        bank_deg = np.where(turning, 55.0, 0.0)
        return SimpleNamespace(time_s=time_s, bank_deg=bank_deg, turn_rate_dps=np.where(turning, 14.0, 0.0))

    assert has_impossible_corners(flown(3.0))
    assert not has_impossible_corners(flown(13.0))


def test_bank_limited_by_a_flight_director_or_by_none_is_said_as_a_range():
    """AIM 5-3-8 j.8(b): 30°, or 25° with a flight director; at 230 kt rate one is beyond both."""
    flat = Faults(outbound_bank_deg=-6.0, inbound_bank_deg=-6.0)
    judged = judge_hold(fly(Plan(tas_kt=230.0, faults=(flat, flat))), FAA, PART_FCL)
    (bank,) = (one for one in judged.findings if one.kind == "bank")
    assert "25° to 30° (±5) was right" in bank.sentence


def test_an_item_that_is_to_be_mended_second_is_told_what_comes_first_and_then_itself():
    judged = judge_hold(
        fly(Plan(faults=(Faults(outbound_heading_deg=40.0, outbound_time_s=25.0),) * 2)), ICAO, PART_FCL
    )
    plan = judged.next_time
    assert plan is not None and plan.rest
    second = next(one for one in judged.findings if one.item == plan.rest[0].item)
    first = judged.work_on_first
    # The rule that carries over comes last: a page sets it apart from what is to be done.
    done = first.advice.partition(" Rule:")[0].partition(" This wind")[0] if first else None
    assert done is not None and second.advice.startswith(f"{done} Then ")


def test_a_finer_touch_is_no_news_beside_a_fault():
    fault = Finding("level", "unsafe", (1,), "You went 607 ft below.")
    touch = Finding(
        "outbound_time", "improve", (1,), "Turn inbound 71 s after abeam, not 75 s.", advice="Turn."
    )
    assert said((fault, touch), 1).first == ("You went 607 ft below.", "One circuit.")
    assert touch.sentence in said((touch,), 1).first


def test_who_passes_the_fix_in_a_turn_begun_early_passed_it_beside_for_no_other_reason():
    """Banked at 17° over the fix, nobody was anywhere before turning, nor on a heading: the turn began earlier."""
    motion = SimpleNamespace(at=lambda name, time_s: {"bank_deg": 17.0}[name])
    lap = SimpleNamespace(
        flown=SimpleNamespace(motion=motion), circuit=SimpleNamespace(start_s=441.0), turned_before=None
    )
    assert _fix_crossing(lap, None) is None
    assert _arrival_heading(lap, None) is None
