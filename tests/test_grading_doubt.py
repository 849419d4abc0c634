"""What is said of speeds nobody gave, of holes in the log, of laps to the other hand, of what may be unsafe."""

import re
from dataclasses import replace
from functools import cache
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from analyser.airspace.excursion import AirspaceReport, Edge, HoldPhase, LevelsFlown, Speed
from analyser.circuits.flown import FlownHold
from analyser.circuits.given_fit import _miles, _often
from analyser.grading.finding import Finding, ranked, said, work_on_first
from analyser.grading.findings import _what_is_rough
from analyser.grading.judge import judge_hold
from analyser.grading.score import Gauge
from analyser.grading.wording import Number
from analyser.rules.load import load_regime, load_standard
from analyser.rules.scoring import load_scoring
from tests.grading_flights import Faults, Plan, fly, fly_entry

ICAO, PART_FCL = load_regime("icao"), load_standard("part-fcl-instrument")
SCORING = load_scoring()


@cache
def laps(*faults: Faults) -> FlownHold:
    return fly(Plan(faults=faults))


def found(hold: FlownHold, kind: str) -> Finding | None:
    judged = judge_hold(hold, ICAO, PART_FCL)
    return next((one for one in judged.findings if one.kind == kind), None)


def at_speeds(sd_kt: float, *speeds_kt: float) -> FlownHold:
    """Fly each of three laps at a speed of its own; none is given."""
    hold = laps(*[Faults()] * 3)
    time_s, motion = hold.motion.time_s, hold.motion
    lap = np.searchsorted([one.start_s for one in hold.circuits[1:]], time_s, side="right")
    ias_kt = np.array(speeds_kt)[lap]
    return replace(hold, motion=replace(motion, ias_kt=ias_kt, ias_sd_kt=np.full(time_s.size, sd_kt)))


@pytest.mark.parametrize("sd_kt", [1.0, 4.0])
def test_three_laps_at_three_speeds_are_no_speed_held_however_rough_the_log(sd_kt):
    """Speed to within 5 kt (Part-FCL, Appendix 7); nobody gave one, so what was flown is held against itself."""
    judged = judge_hold(at_speeds(sd_kt, 140.0, 100.0, 125.0), ICAO, PART_FCL)
    first = judged.findings[0]
    assert (first.kind, first.severity) == ("speed", "below standard")
    assert "between 100 kt and 140 kt and held no speed" in first.sentence
    assert "within" not in {one.kind for one in judged.findings}
    assert judged.points <= 79.0


def test_a_speed_held_for_most_of_the_hold_is_what_the_rest_is_held_against():
    one = found(at_speeds(1.0, 120.0, 120.0, 100.0), "speed")
    assert "20 kt slower than the 120 kt you held on circuit 3" in one.sentence


@pytest.mark.parametrize(("lasts_s", "said"), [(80.0, "20 kt or more faster"), (150.0, "up to 20 kt faster")])
def test_of_a_short_swing_a_derived_speed_shows_less_than_was_flown(lasts_s, said):
    hold = at_speeds(1.0, 104.0, 104.0, 104.0)
    time_s = hold.motion.time_s
    fast = (time_s > hold.start_s) & (time_s < hold.start_s + lasts_s)
    swung = replace(hold, motion=replace(hold.motion, ias_kt=np.where(fast, 124.0, 104.0)))
    assert said in found(swung, "speed").sentence


def test_where_no_level_was_held_all_that_was_flown_is_said_once_however_fast_the_last_of_it():
    hold = laps(*[Faults()] * 3)
    time_s = hold.motion.time_s
    # Sinking at 150 ft/min all along, and at 600 ft/min in the last minute: as fast as on the way to a cleared level.
    altitude_ft = (
        5000.0 - 2.5 * (time_s - hold.start_s) - 7.5 * np.clip(time_s - (hold.end_s - 60.0), 0.0, 60.0)
    )
    sunk = replace(
        hold, hold=replace(hold.hold, altitude_ft=None), motion=replace(hold.motion, altitude_ft=altitude_ft)
    )
    inside = (time_s >= hold.start_s) & (time_s <= hold.end_s)
    lowest_ft = float(altitude_ft[inside].min())
    said = re.search(r"between (-?[\d,]+) ft and 4,998 ft and held no level", found(sunk, "level").sentence)
    assert said is not None
    # As read over five seconds, the highest too: half of the first five were flown before.
    assert float(said[1].replace(",", "")) == pytest.approx(lowest_ft, abs=30.0)
    assert found(sunk, "level change") is None


def test_a_swing_that_a_rough_log_makes_by_itself_is_nobodys():
    assert found(at_speeds(4.0, 106.0, 100.0, 103.0), "speed") is None


def test_what_lies_outside_beyond_doubt_is_outside_where_the_sigma_can_be_relied_on():
    gauge = Gauge(SCORING, "kt", 5.0)
    assert gauge.score(20.0, 0.0, 4.0, beyond_doubt=True).verdict == "outside"
    assert gauge.score(20.0, 0.0, 4.0).verdict == "not judged"
    unsure = gauge.score(12.0, 0.0, 4.0, beyond_doubt=True)
    assert unsure.verdict == "not judged" and unsure.note == "known only to ±8.0 kt, where ±5 kt is allowed"


def test_what_may_have_been_unsafe_is_said_before_all_that_is_below_standard():
    """Terrain is cleared only inside the holding area (ICAO Doc 8168 Vol II): whether it was left comes first."""
    perhaps = Finding("holding area", "improve", (2,), "You may have left the holding area.")
    track = Finding("track", "below standard", (1,), "You were 9° off.", cost_points=20.0, advice="Hold it.")
    unsafe = Finding("level", "unsafe", (1,), "You were 400 ft low.", advice="Hold the level.")
    order = ranked([track, perhaps, unsafe])
    assert [one.kind for one in order] == ["level", "holding area", "track"]
    assert said(ranked([track, perhaps]), 2).first[0] == perhaps.sentence
    assert work_on_first(ranked([track, perhaps])) is track


def test_a_turn_begun_late_on_the_last_lap_was_not_put_right():
    """Six seconds to react and five to bank are allowed for (Doc 8168 Vol II, Table I-4-3)."""
    last = laps(Faults(), Faults(), Faults(late_turn_s=18.0))
    first = judge_hold(last, ICAO, PART_FCL).findings[0]
    assert (first.kind, first.severity, first.circuits) == ("late turn", "below standard", (3,))


def test_legs_now_long_now_short_are_not_called_long():
    swung = laps(Faults(outbound_time_s=25.0), Faults(outbound_time_s=-25.0), Faults(outbound_time_s=25.0))
    assert "leg up to 25 s off on circuits 1, 2 and 3" in found(swung, "timing").brief
    one_way = laps(Faults(outbound_time_s=25.0), Faults(outbound_time_s=20.0))
    assert "leg up to 25 s long on circuits 1 and 2" in found(one_way, "timing").brief


def test_banks_now_steep_now_flat_are_said_both():
    both = laps(Faults(outbound_bank_deg=15.0, inbound_bank_deg=15.0), Faults(outbound_bank_deg=-8.0))
    one = found(both, "bank")
    assert "between 9° and 32° in both turns" in one.sentence and "off" in one.brief


def test_a_lap_to_the_other_hand_is_not_timed_by_the_circuit_of_this_one():
    hold = laps(*[Faults(outbound_time_s=15.0)] * 3)
    second = hold.circuits[1]
    away = {
        name: replace(getattr(second, name), heading_change_deg=-getattr(second, name).heading_change_deg)
        for name in ("outbound_turn", "inbound_turn")
    }
    judged = judge_hold(
        replace(hold, circuits=(hold.circuits[0], replace(second, **away), hold.circuits[2])), ICAO, PART_FCL
    )
    unjudged = judged.circuits[1].scores
    assert {unjudged[item].note for item in ("timing", "wind_correction")} == {
        "it was flown to the other hand than the hold's"
    }
    assert judged.circuits[0].scores["timing"].verdict == "outside"
    assert next(one for one in judged.findings if one.kind == "timing").circuits == (1, 3)


def with_hole(hold: FlownHold, start_s: float, end_s: float) -> FlownHold:
    time_s = hold.motion.time_s
    hole = (time_s >= start_s) & (time_s <= end_s)
    return replace(hold, motion=replace(hold.motion, in_hole=hole))


def test_a_lap_that_nobody_saw_is_told():
    hold = laps(*[Faults()] * 3)
    second = hold.circuits[1]
    one = found(with_hole(hold, second.start_s + 10.0, second.end_s - 10.0), "hole")
    assert one.sentence == "Little could be judged on circuit 2: the recording has a hole."
    assert found(hold, "hole") is None


def test_an_item_that_no_lap_showed_is_told():
    hold = laps(*[Faults()] * 2)
    time_s = hold.motion.time_s
    inside = [(one.inbound_leg.start_s, one.inbound_leg.end_s) for one in hold.circuits]
    hole = np.any([(time_s > a) & (time_s < b) for a, b in inside], axis=0)
    one = found(replace(hold, motion=replace(hold.motion, in_hole=hole)), "hole")
    assert one.sentence == "Not judged on any circuit, for holes in the recording: inbound track."


def test_a_turn_back_in_a_hole_is_held_against_nobody():
    """A parallel entry turns back through more than 180° (FAA AIM 5-3-8 j.3(a)): but not what was not seen."""
    hold = fly_entry(Plan(wind_kt=0.0), "parallel", arrival_deg=-130.0, track_deg=180.0, seconds=60.0)
    back = hold.entry.turns[-1]
    short = replace(back, heading_change_deg=0.7 * back.heading_change_deg)
    cut = replace(hold, entry=replace(hold.entry, turns=(*hold.entry.turns[:-1], short)))
    assert found(cut, "turn back") is not None
    assert found(with_hole(cut, back.start_s, back.end_s), "turn back") is None
    leg = hold.entry.leg
    unseen = judge_hold(with_hole(hold, leg.start_s - 10.0, leg.end_s + 10.0), ICAO, PART_FCL).entry
    assert unseen.angle.verdict == unseen.time.verdict == "not judged"


def test_half_of_a_hold_is_no_headline():
    """What was seen of it may have been flown well; points would say that all of it was."""
    hold = laps(*[Faults()] * 3)
    doubtful = replace(hold, fix_sd_nm=0.6, course_sd_deg=12.0)
    judged = judge_hold(doubtful, ICAO, PART_FCL)
    assert judged.points is None and judged.grade is None
    assert "Too little of this hold could be judged for points" in judged.verdict[0]


def test_that_little_could_be_judged_stands_before_what_was_found_of_it():
    hold = laps(*[Faults(outbound_bank_deg=15.0, inbound_bank_deg=15.0)] * 3)
    doubtful = replace(hold, fix_sd_nm=0.6, course_sd_deg=12.0)
    judged = judge_hold(doubtful, ICAO, PART_FCL)
    assert [one.kind for one in judged.findings[:2]] == ["not judged", "bank"]
    assert judged.work_on_first.kind == "bank"


def test_what_was_surely_unsafe_is_graded_so_however_little_was_seen():
    hold = laps(*[Faults()] * 3)
    low = np.abs(hold.motion.time_s - hold.circuits[1].start_s - 60.0) <= 30.0
    motion = replace(hold.motion, altitude_ft=np.where(low, 3500.0, 4000.0))
    doubtful = replace(hold, fix_sd_nm=0.6, course_sd_deg=12.0, motion=motion)
    judged = judge_hold(doubtful, ICAO, PART_FCL)
    assert judged.points is None and judged.grade.grade == 1


@pytest.mark.parametrize(("course_sd_deg", "verdict"), [(1.0, "incorrect"), (9.0, "not judged")])
def test_an_entry_is_none_of_the_three_only_by_a_course_that_is_known(course_sd_deg, verdict):
    hold = laps(*[Faults()] * 3)
    odd = replace(hold.entry, flown="other")
    unknown = replace(hold, fix_sd_nm=0.05, course_sd_deg=course_sd_deg, entry=odd)
    assert judge_hold(unknown, ICAO, PART_FCL).entry.verdict == verdict


@pytest.mark.parametrize(("given", "verdict"), [(True, "correct"), (False, "not judged")])
def test_what_led_to_an_inferred_hold_for_minutes_may_be_no_entry(given, verdict):
    """Twice the entry's minute (ICAO Doc 8168 Vol I) is unsafe, where it was an entry: a file tells that it was."""
    hold = fly_entry(Plan(wind_kt=0.0), "parallel", arrival_deg=-130.0, track_deg=180.0, seconds=150.0)
    if not given:
        hold = replace(hold, fix_sd_nm=0.02, course_sd_deg=0.5)
    judged = judge_hold(hold, ICAO, PART_FCL)
    assert judged.entry.verdict == verdict
    assert ("long entry leg" in {one.kind for one in judged.findings}) == given


def test_the_way_to_an_inferred_hold_is_outside_no_area():
    edge = Edge(-6.0, 0.0, -9.0, 5.0, 48.0, 11.0, HoldPhase("entry", None), 0, 6.0)
    report = AirspaceReport(
        0.8, 0.1, 0.1, edge, edge, (), 0.1, Speed(170.0, None, None, 0.0), LevelsFlown(4000.0, None, None),
        0.1, 0.5, True, True,
    )  # fmt: skip
    assert report.sure_excursion is edge
    inferred = replace(report, fix_given=False)
    assert inferred.sure_excursion is None and inferred.likely_excursion is None


def test_no_number_is_advised_that_the_course_does_not_tell():
    steep = laps(*[Faults(outbound_bank_deg=15.0, inbound_bank_deg=15.0)] * 3)
    unknown = replace(steep, fix_sd_nm=0.3, course_sd_deg=20.0)
    one = found(unknown, "bank")
    assert one.advice and "roll out on" not in one.advice


@pytest.mark.parametrize(
    ("cross_nm", "severity"), [(0.7, "improve"), (1.6, "below standard"), (5.6, "unsafe")]
)
def test_who_comes_back_miles_beside_the_fix_is_lost(cross_nm, severity):
    """Half and full scale in terminal mode (FAA AIM 1-1-17), and the 5 NM of the buffer (Doc 8168 Vol II)."""
    hold = laps(*[Faults()] * 2)
    motion = hold.motion
    course = np.radians(hold.hold.inbound_course_true_deg)
    aside = replace(
        motion,
        east_nm=motion.east_nm + cross_nm * np.cos(course),
        north_nm=motion.north_nm - cross_nm * np.sin(course),
    )
    # Less than half scale beside it on every circuit, the fix may be another than the file's: that comes first.
    kind = "fix elsewhere" if severity == "improve" else "fix passage"
    assert found(replace(hold, motion=aside), kind).severity == severity
    if severity == "improve":
        assert judge_hold(replace(hold, motion=aside), ICAO, PART_FCL).findings[0].kind == kind


def test_who_passes_the_fix_while_turning_inbound_is_not_late_for_the_next_turn():
    hold = laps(Faults(), Faults(late_turn_s=18.0), Faults())
    first, second, third = hold.circuits
    assert found(hold, "late turn").circuits == (2,)
    turning = replace(first, inbound_turn=replace(first.inbound_turn, end_s=first.end_s + 5.0))
    assert found(replace(hold, circuits=(turning, second, third)), "late turn") is None


def test_a_first_turn_is_not_late_by_a_fix_that_the_others_were_begun_at():
    hold = laps(Faults(late_turn_s=18.0), Faults(), Faults())
    assert found(hold, "late turn").circuits == (1,)
    assert found(replace(hold, fix_sd_nm=0.03, course_sd_deg=0.5), "late turn") is None


def test_a_bank_that_was_not_held_is_said_as_a_mean():
    hold = laps(Faults(outbound_bank_deg=10.0), Faults())
    assert "banked 27° in the outbound turn" in found(hold, "bank").sentence
    first = hold.circuits[0]
    swung = replace(first, outbound_turn=replace(first.outbound_turn, bank_wander_deg=11.0))
    unsteady = replace(hold, circuits=(swung, hold.circuits[1]))
    assert "banked 27° on average in the outbound turn" in found(unsteady, "bank").sentence


def test_a_distance_is_said_as_it_is_read():
    assert Number(16.22, "NM").said() == "16.2 NM" and Number(0.21, "NM").said() == "0.21 NM"


@pytest.mark.parametrize(("away_nm", "said"), [(12.34, "12.3 NM"), (6880.4, "6,880 NM")])
def test_a_fix_on_another_continent_is_said_in_whole_miles(away_nm, said):
    assert _miles(away_nm) == said


@pytest.mark.parametrize(("times", "said"), [(1, "once"), (2, "twice"), (3, "3 times")])
def test_how_often_a_fix_was_passed_is_said_as_it_is_spoken(times, said):
    assert _often(times) == said


def test_with_a_course_nobody_knows_there_is_no_exact_circuit_and_the_first_sentence_asks_for_a_hold_file():
    """15° are half of what lies between an offset entry's track and the outbound course (ICAO Doc 8168 Vol I: 30°)."""
    flown = laps(*[Faults()] * 3)
    near, far = (judge_hold(replace(flown, course_sd_deg=sd_deg), ICAO, PART_FCL) for sd_deg in (7.4, 7.6))
    assert all(one.ideal.circuit.closes for one in near.circuits)
    assert not any(one.ideal.circuit.closes for one in far.circuits)
    assert "the course is inferred to ±15° only; a hold file settles it" in far.verdict[0]
    assert all(one.measures.rollout_cross_track_sd_nm > 0.1 for one in far.circuits)
    assert all(
        one.measures.rollout_cross_track_sd_nm == 0.0 for one in judge_hold(flown, ICAO, PART_FCL).circuits
    )


def test_what_a_hold_file_would_not_settle_is_said_beside_the_course():
    """A bank known to ±40° is none, whatever the file says."""
    flown = replace(laps(*[Faults()] * 3), course_sd_deg=9.0)
    rough = tuple(
        replace(
            one,
            outbound_turn=replace(one.outbound_turn, bank_mean_sd_deg=20.0),
            inbound_turn=replace(one.inbound_turn, bank_mean_sd_deg=20.0),
        )
        for one in flown.circuits
    )
    sharp, blurred = (
        judge_hold(one, ICAO, PART_FCL).verdict[0] for one in (flown, replace(flown, circuits=rough))
    )
    assert sharp.endswith("the course is inferred to ±18° only; a hold file settles it.")
    assert "a hold file settles it; the recording is too coarse for bank" in blurred
    assert "timing" not in blurred


@pytest.mark.parametrize(("course_sd_deg", "said"), [(2.4, True), (2.6, False)])
def test_with_a_course_inferred_beyond_the_heading_tolerance_no_cost_of_a_heading_is_said(
    course_sd_deg, said
):
    """Headings to within 5° (Part-FCL, Appendix 7): two sigma of the course beyond that say nothing of them."""
    flown = replace(laps(*[Faults(outbound_heading_deg=12.0)] * 3), course_sd_deg=course_sd_deg)
    judged = judge_hold(flown, ICAO, PART_FCL)
    assert all((one.budget is not None) == said for one in judged.circuits)
    assert all(
        (f"inferred to ±{2 * course_sd_deg:.0f}° only" in one.no_budget) != said for one in judged.circuits
    )


def test_what_could_not_be_scored_is_not_put_into_words_under_the_chart_either():
    """Known to 4.8° and read to 1°, the outbound heading is not known to the 5° allowed: only the time is spoken of."""
    flown = fly(Plan(wind_kt=0.0, faults=(Faults(outbound_heading_deg=25.0, outbound_time_s=40.0),) * 2))
    for course_sd_deg, spoken in ((2.2, {"outbound_heading", "outbound_time"}), (2.4, {"outbound_time"})):
        hold = replace(flown.hold, leg=None)
        inferred = replace(flown, hold=hold, course_sd_deg=course_sd_deg, fix_sd_nm=0.01)
        judged = judge_hold(inferred, ICAO, PART_FCL)
        assert {share.cause for share in judged.circuits[0].budget.costs if share.advice} == spoken


@pytest.mark.parametrize(
    ("sample_s", "start_sd_s", "said"),
    [(1.0, 0.5, "speed or wind changed too much"), (1.0, 8.0, "the recording is too coarse"),
     (10.0, 0.5, "the recording is too coarse")],
)  # fmt: skip
def test_where_turns_began_unseen_it_is_the_recording_that_is_coarse_and_not_the_air(
    sample_s: float, start_sd_s: float, said: str
) -> None:
    """A telephone that writes a place every second, and the same one for half a minute, samples finely by count."""
    turn = SimpleNamespace(start_sd_s=start_sd_s, end_sd_s=0.5)
    lap = SimpleNamespace(outbound_turn=turn, inbound_turn=None)
    flown: Any = SimpleNamespace(given=True, motion=SimpleNamespace(sample_s=sample_s), circuits=[lap])
    assert _what_is_rough(flown) == said
