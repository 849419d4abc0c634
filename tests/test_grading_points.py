"""Points: the published rule, its monotony, and what is not judged."""

import math
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyser.debrief import debrief_track
from analyser.errors import SettingsError
from analyser.grading.finding_items import item_findings
from analyser.grading.finding_limits import missed_fix
from analyser.grading.judge import judge_hold
from analyser.grading.judged import Part, points_of
from analyser.grading.score import Gauge, mean_points
from analyser.holds.definition import FixBy, LegLimit
from analyser.rules.load import load_regime, load_standard
from analyser.rules.scoring import ITEMS, load_scoring
from tests.flights.air import Air
from tests.grading_flights import Faults, Plan, fly
from tests.planted.fault import Fault, Scene
from tests.planted.fly import flown

SCORING = load_scoring()
ICAO, FAA = load_regime("icao"), load_regime("faa")
ACS, PART_FCL = load_standard("acs-instrument"), load_standard("part-fcl-instrument")
SIZES = st.floats(0.0, 1e4)


@given(a=SIZES, b=SIZES, tolerance=st.floats(0.01, 1e3))
def test_a_larger_error_never_scores_more(a, b, tolerance):
    small, large = sorted((a, b))
    assert SCORING.points.points(small, tolerance) >= SCORING.points.points(large, tolerance)


@given(error=SIZES, tolerance=st.floats(0.01, 1e3))
def test_points_lie_between_0_and_100_and_do_not_see_the_sign(error, tolerance):
    points = SCORING.points.points(error, tolerance)
    assert 0.0 <= points <= 100.0
    assert points == SCORING.points.points(-error, tolerance)


def test_the_published_knots_hold():
    # As printed in the documentation of the rule: 100 on target, 70 at the tolerance, 0 from three times on.
    points = [SCORING.points.points(error, 10.0) for error in (0, 2.5, 10, 20, 30, 300)]
    assert points == [100.0, 100.0, 70.0, 35.0, 0.0, 0.0]


def test_the_tolerance_itself_earns_the_grade_adequate():
    assert SCORING.grade.step(SCORING.points.points(10.0, 10.0)).word == "adequate"
    assert [SCORING.grade.step(points).grade for points in (100, 90, 89.9, 70, 50, 49.9, 0)] == [
        5,
        5,
        4,
        3,
        2,
        1,
        1,
    ]


def test_nothing_is_judged_that_is_less_sure_than_its_tolerance():
    def score(sd):
        return Gauge(SCORING, "s", 5.0).score(12.0, 10.0, sd)

    # Two sigma are what a number is said with, so they decide.
    assert score(2.5).points is not None
    unsure = score(2.51)
    assert (unsure.points, unsure.verdict, unsure.value) == (None, "not judged", 12.0)
    assert "known only to ±5.1 s" in unsure.note
    assert "known only to ±260 s" in score(130.0).note
    assert score(math.inf).note == "the log does not say"
    assert score(math.nan).verdict == "not judged"
    assert Gauge(SCORING, "s", 1.0).score(math.nan, 0.0, 0.0).points is None


@pytest.mark.parametrize(
    ("value", "verdict"), [(15.0, "within"), (15.1, "outside"), (5.0, "within"), (4.9, "outside")]
)
def test_the_verdict_turns_at_the_tolerance(value, verdict):
    assert Gauge(SCORING, "s", 5.0).score(value, 10.0, 0.0).verdict == verdict


def test_what_was_not_judged_is_neither_0_nor_100():
    assert mean_points([(80.0, 1.0), (None, 5.0), (60.0, 3.0)]) == pytest.approx(65.0)
    assert mean_points([(None, 1.0)]) is None
    assert mean_points([]) is None
    assert mean_points([(0.0, 1.0), (100.0, 0.0)]) == 0.0


def test_an_entry_alone_is_no_hold():
    entry, circuit = Part("entry", None, 100.0, 1.0), Part("circuit", 1, None, 0.2, 0.8)
    assert points_of([entry, circuit], SCORING) is None
    assert points_of([entry, replace(circuit, points=60.0, weight=0.6, unjudged=0.4)], SCORING) is not None
    assert points_of([entry, replace(circuit, points=60.0)], SCORING) is None, "four fifths nobody saw"
    assert points_of([entry], SCORING) == 100.0, "left before the first circuit: the entry is all there was"


def test_points_for_too_little_are_no_points():
    assert mean_points([(90.0, 1.0), (None, 3.0)], least_judged=0.34) is None
    assert mean_points([(90.0, 1.0), (None, 1.5)], least_judged=0.34) == 90.0


@pytest.mark.parametrize(
    ("was", "now", "key"),
    [
        ("[1.0, 70.0]", "[1.0, 101.0]", "points.knots"),
        ("[1.0, 70.0]", "[0.1, 70.0]", "points.knots"),
        ("[2.0, 35.0]", "[2.0, 75.0]", "points.knots"),
        ("[parts]", "[weights]\ntiming = -1.0\n[parts]", "weights.timing"),
        ("[parts]", '[weights]\ntiming = "much"\n[parts]', "weights.timing"),
        ("from_points = 80.0", "from_points = 95.0", "grade.steps"),
        ("tolerance_s = 10.0", "tolerance_s = 0.0", "leaving.tolerance_s"),
        ("[parts]", "[weights]\ntming = 1.0\n[parts]", "weights.tming"),
        ("entry = 1.0", "entry = -1.0", "parts.entry"),
    ],
)
def test_a_scoring_file_that_would_be_unfair_is_refused_with_its_key(tmp_path: Path, was, now, key):
    house = Path("analyser/rules/scoring.toml")
    text = (Path(__file__).parent.parent / house).read_text(encoding="utf-8")
    assert was in text
    own = tmp_path / "own.toml"
    own.write_text(text.replace(was, now), encoding="utf-8")
    with pytest.raises(SettingsError, match=key):
        load_scoring(own)


def test_a_clean_flight_scores_full_points_by_either_regime_and_standard():
    for regime, standard, still_air in ((ICAO, ACS, True), (ICAO, PART_FCL, True), (FAA, ACS, False)):
        judged = judge_hold(fly(Plan(still_air=still_air, faults=(Faults(), Faults()))), regime, standard)
        assert judged.points == pytest.approx(100.0, abs=0.5)
        assert judged.grade.grade == 5
        for circuit in judged.circuits:
            assert tuple(circuit.scores) == ITEMS
            assert all(score.verdict == "within" for score in circuit.scores.values())


@pytest.mark.parametrize(
    ("item", "faults"),
    [
        ("timing", [Faults(outbound_time_s=s) for s in (0, 6, 12, 24, 40)]),
        ("bank", [Faults(outbound_bank_deg=b, inbound_bank_deg=b) for b in (0, -2, -4, -6)]),
        ("wind_correction", [Faults(outbound_heading_deg=h) for h in (0, 6, 12, 20, 35)]),
        ("track", [Faults(inbound_bank_deg=b) for b in (0, -2, -4, -6)]),
    ],
)
def test_the_worse_it_is_flown_the_fewer_points(item, faults):
    points = [
        judge_hold(fly(Plan(faults=(one,))), ICAO, ACS).circuits[0].scores[item].points for one in faults
    ]
    assert points == sorted(points, reverse=True)
    assert points[0] == 100.0
    assert points[-1] < 70.0


def test_one_turn_too_steep_does_not_make_good_another_too_shallow():
    judged = judge_hold(fly(Plan(faults=(Faults(outbound_bank_deg=4.0, inbound_bank_deg=-4.0),))), ICAO, ACS)
    bank = judged.circuits[0].scores["bank"]
    assert bank.value == pytest.approx(bank.target, abs=0.3)
    assert bank.deviation == pytest.approx(4.0, abs=0.3)
    assert bank.points < 100.0


def test_regimes_judge_the_leg_that_their_clock_fixes():
    # With 20 kt on the tail inbound, an ICAO circuit and a one-minute inbound differ by far.
    plan = Plan(wind_from_deg=210.0, faults=(Faults(), Faults()))
    flown = fly(plan)
    icao = judge_hold(flown, ICAO, ACS).circuits[1].scores["timing"]
    faa = judge_hold(flown, FAA, ACS).circuits[1].scores["timing"]
    assert icao.points == 100.0
    assert (faa.target, faa.verdict) == (pytest.approx(60.0), "within")
    # Still-air minute at 110 kt over 130 kt of ground speed: 50.8 s; off by 9.2 s from the FAA's minute.
    assert faa.value == pytest.approx(60.0 * 110.0 / 130.0, abs=1.0)
    assert faa.points < 80.0


def test_the_faa_judges_the_first_outbound_by_the_standard_minute():
    # AIM 5-3-8 j.4: the first outbound leg is flown for the standard time.
    judged = judge_hold(fly(Plan(still_air=False, faults=(Faults(), Faults()))), FAA, ACS)
    first, second = (circuit.scores["timing"] for circuit in judged.circuits)
    assert first.target == 60.0
    assert first.value == pytest.approx(judged.circuits[0].measures.timed_s)
    assert second.value == pytest.approx(judged.circuits[1].measures.inbound_duration_s)


def test_a_first_inbound_leg_made_good_by_another_time_is_no_fault_by_the_faa():
    """AIM 5-3-8 j.4: the outbound time is adjusted to get the inbound one right; who knows the wind does so at once."""
    windy = Plan(wind_from_deg=195.0, wind_kt=28.0, still_air=False, faults=(Faults(), Faults()))
    first = judge_hold(fly(windy), FAA, ACS).circuits[0]
    assert first.measures.timed_s > 75.0
    assert (first.terms.timed, first.scores["timing"].verdict) == ("inbound", "within")
    longer = replace(windy, faults=(Faults(outbound_time_s=25.0), Faults()))
    first = judge_hold(fly(longer), FAA, ACS).circuits[0]
    assert (first.terms.timed, first.scores["timing"].verdict) == ("first outbound", "outside")


def test_tolerances_come_from_the_standard():
    flown = fly(Plan(faults=(Faults(outbound_heading_deg=8.0),)))
    acs, part_fcl = (judge_hold(flown, ICAO, one).circuits[0].scores for one in (ACS, PART_FCL))
    # FAA-S-ACS-8C, Task IR.III.B.S4: ±10° and ±10 kt; Part-FCL Appendix 7: ±5° and ±5 kt; both ±100 ft.
    assert (acs["wind_correction"].tolerance, part_fcl["wind_correction"].tolerance) == (10.0, 5.0)
    assert (acs["speed"].tolerance, part_fcl["speed"].tolerance) == (10.0, 5.0)
    assert (acs["altitude"].tolerance, part_fcl["altitude"].tolerance) == (100.0, 100.0)
    # ¾ of a VOR's 12° full scale, and ±5° on radio aids.
    assert (acs["track"].tolerance, part_fcl["track"].tolerance) == (9.0, 5.0)
    assert acs["wind_correction"].verdict == "within"
    assert part_fcl["wind_correction"].verdict == "outside"


def test_the_measuring_circuit_counts_less():
    flown = fly(Plan(faults=(Faults(outbound_heading_deg=30.0), Faults())))
    judged = judge_hold(flown, ICAO, ACS)
    first, second = (circuit.points for circuit in judged.circuits)
    assert judged.weighed_points == pytest.approx((0.5 * first + second + judged.entry.points) / 2.5, abs=0.1)
    alone = judge_hold(replace(flown, entry=None), ICAO, ACS)
    assert alone.points == pytest.approx((first + second) / 2.0, abs=0.1)


def test_a_circuit_with_little_judged_gets_no_points():
    flown = fly(Plan())
    circuit = replace(
        flown.circuits[0],
        outbound_turn=None,
        outbound_leg=None,
        inbound_turn=None,
        inbound_leg=None,
        complete=False,
    )
    motion = replace(flown.motion, altitude_ft=flown.motion.altitude_ft * math.nan)
    judged = judge_hold(replace(flown, circuits=(circuit,), motion=motion), ICAO, ACS)
    assert judged.circuits[0].points is None
    assert judged.circuits[0].scores["altitude"].verdict == "not judged"


def test_uncertain_wind_leaves_the_wind_correction_unjudged():
    flown = fly(Plan())
    circuit = replace(flown.circuits[0], wind_sd_kt=15.0)
    scores = judge_hold(replace(flown, circuits=(circuit,)), ICAO, ACS).circuits[0].scores
    assert scores["wind_correction"].verdict == "not judged"
    assert scores["timing"].verdict == "not judged"
    assert scores["bank"].verdict == "within"


def test_a_hole_in_the_log_is_not_judged():
    flown = fly(Plan())
    leg = flown.circuits[0].outbound_leg
    hole = flown.motion.in_hole.copy()
    hole[flown.motion.span(leg.start_s, leg.end_s)] = True
    scores = (
        judge_hold(replace(flown, motion=replace(flown.motion, in_hole=hole)), ICAO, ACS).circuits[0].scores
    )
    assert scores["wind_correction"].verdict == "not judged"
    assert "hole" in scores["wind_correction"].note
    assert scores["track"].verdict == "within"


@pytest.mark.parametrize("regime", [ICAO, FAA])
@pytest.mark.parametrize("wind_from_deg", [30.0, 210.0, 120.0])
def test_who_turns_at_the_charted_distance_is_right_whatever_inbound_leg_results(regime, wind_from_deg):
    # FAA AIM 5-3-8 j.5, j.7(a)(4); ICAO Doc 8168 Vol I 1.5.1: outbound until the limiting distance.
    plan = Plan(leg=LegLimit(distance_nm=5.0), tas_kt=120.0, wind_kt=30.0, wind_from_deg=wind_from_deg)
    judged = judge_hold(fly(plan), regime, ACS)
    timing = judged.circuits[0].scores["timing"]
    assert (timing.target, timing.points, timing.verdict) == (5.0, 100.0, "within")
    assert timing.value == pytest.approx(5.0, abs=0.03)
    assert judged.next_time is None


@pytest.mark.parametrize("wind_from_deg", [30.0, 210.0])
def test_nobody_is_advised_to_go_beyond_the_charted_distance(wind_from_deg):
    late = Plan(leg=LegLimit(distance_nm=5.0), tas_kt=120.0, wind_kt=30.0, wind_from_deg=wind_from_deg)
    early = replace(late, faults=(Faults(outbound_time_s=-40.0),))
    for plan in (early, replace(late, faults=(Faults(outbound_time_s=40.0),))):
        judged = judge_hold(fly(plan), ICAO, ACS)
        assert judged.circuits[0].scores["timing"].verdict == "outside"
        told = [one.advice.fly.value for one in judged.next_time.all if "outbound_time" in one.causes]
        assert told == [pytest.approx(5.0, abs=1e-4)]


def test_a_flight_director_is_excused_by_points_as_by_advice():
    # FAA AIM 5-3-8 j.8(b): 30° of bank, or 25° with a flight director, and no log says whether there was one.
    flat = Plan(tas_kt=240.0, altitude_ft=12000.0)
    bank = judge_hold(fly(flat), FAA, ACS).circuits[0].scores["bank"]
    assert bank.value == pytest.approx(25.0, abs=0.5)
    assert (bank.target, bank.points, bank.verdict) == (30.0, 100.0, "within")
    assert "flight director" in bank.note
    steered = judge_hold(fly(flat), FAA.under(flight_director=True), ACS).circuits[0].scores["bank"]
    assert (steered.target, steered.points, steered.note) == (25.0, 100.0, "")


@pytest.mark.parametrize("gust_kt", [2.0, 4.0])
def test_gusts_are_not_taken_for_the_pilots_speed(gust_kt):
    # So many knots of gusts (one sigma) on a speed held within 2 kt by the generator's own truth.
    one = flown(Scene(air=Air(200.0, 18.0, 4000.0, gust_kt=gust_kt)), Fault())
    (hold,) = debrief_track(one.track, hold=one.hold, rules="icao").holds
    assert not [found for found in hold.judged.findings if found.kind == "speed"]
    score = hold.judged.circuits[0].scores["speed"]
    assert score.verdict != "outside" and "gusts" in score.note


def test_a_speed_across_an_instant_where_time_was_taken_out_is_not_the_pilots():
    one = flown(Scene(), Fault())
    (whole,) = debrief_track(one.track, hold=one.hold, rules="icao").holds
    flight = whole.judged.flown
    middle_s = 0.5 * (flight.circuits[0].start_s + flight.circuits[0].end_s)
    motion = flight.motion
    spiked = np.where(np.abs(motion.time_s - middle_s) < 5.0, motion.ias_kt + 30.0, motion.ias_kt)
    for seams_s, verdict in (((), "outside"), ((middle_s,), "within")):
        seen = replace(flight, motion=replace(motion, ias_kt=spiked, seams_s=seams_s))
        assert judge_hold(seen, ICAO, ACS).circuits[0].scores["speed"].verdict == verdict


def test_the_first_outbound_by_the_faa_and_the_later_inbounds_are_two_findings():
    one = flown(Scene(rules="faa"), Fault(outbound_s=25.0))
    (hold,) = debrief_track(one.track, hold=one.hold, rules="faa").holds
    later, first = (found for found in hold.judged.findings if found.kind == "timing")
    assert later.severity == "below standard" and later.circuits == (2, 3) and "inbound leg" in later.brief
    assert first.severity == "improve" and first.circuits == (1,) and "outbound" in first.sentence


def test_a_lap_broken_off_is_not_counted_as_flown():
    one = flown(Scene(circuits=2, ending="outbound"), Fault())
    (hold,) = debrief_track(one.track, hold=one.hold, rules="icao").holds
    assert "One circuit, and one circuit broken off." in hold.judged.verdict


@pytest.mark.parametrize(
    ("item", "score", "said"),
    [
        (
            "steadiness",
            Gauge(SCORING, "°", 3.0).score(3.04, 0.0, 0.1),
            "just over 3°",
        ),
        ("steadiness", Gauge(SCORING, "°", 3.0).score(4.04, 0.0, 0.1), "by 4°"),
    ],
)
def test_what_is_outside_is_not_said_with_a_number_within(item, score, said):
    judged = judge_hold(fly(Plan()), ICAO, ACS)
    circuit = judged.circuits[0]
    circuit = replace(circuit, scores={**circuit.scores, item: score})
    (found,) = (one for one in item_findings(replace(judged, circuits=(circuit,))) if one.kind == item)
    assert said in found.sentence


@pytest.mark.parametrize(
    ("leg_s", "kind"), [(0.0, "no outbound leg"), (3.9, "no outbound leg"), (4.1, "timing")]
)
def test_a_leg_on_which_no_heading_settles_is_none(leg_s, kind):
    """A heading takes some seconds to settle after a roll-out (common practice); what shows none was no leg."""
    flown = fly(Plan())
    circuit = flown.circuits[0]
    leg, turn = circuit.outbound_leg, circuit.inbound_turn
    short = replace(
        circuit,
        outbound_leg=replace(leg, end_s=leg.start_s + leg_s),
        inbound_turn=replace(turn, start_s=leg.start_s + leg_s),
    )
    judged = judge_hold(replace(flown, circuits=(short,)), ICAO, ACS)
    kinds = {one.kind: one for one in judged.findings}
    assert kind in kinds and len({"timing", "no outbound leg"} & set(kinds)) == 1
    assert kinds[kind].severity == "below standard" and kinds[kind].advice
    assert judged.circuits[0].has_leg == (kind == "timing")


def test_between_coarse_samples_nobody_saw_how_near_the_fix_was_passed():
    # Half of what an arc of 25° of bank stands off its chord: 224 m every 28 s, so 0.51 NM may be 0.27.
    judged = judge_hold(fly(Plan(faults=(Faults(),))), ICAO, ACS)
    one = judged.circuits[0]
    aside = replace(one, measures=replace(one.measures, fix_miss_nm=0.6, fix_cross_track_nm=0.6))
    for sample_s, told in ((1.0, True), (10.0, True), (28.0, False)):
        flown = replace(judged.flown, motion=replace(judged.flown.motion, sample_s=sample_s))
        assert (missed_fix(replace(judged, flown=flown, circuits=(aside,))) is not None) == told


@pytest.mark.parametrize(
    ("misses_nm", "kind", "severity", "said"),
    [
        ((0.49, -0.2), None, None, None),
        ((0.51, -0.2), None, "improve", "0.5 NM right of the fix on circuit 1."),
        (
            (-1.1, -1.2),
            None,
            "below standard",
            "up to 1.2 NM left of the fix on circuits 1 and 2. All of them",
        ),
        # Lost is who comes back more than five miles beside it; it is where the leg met the fix abeam that counts.
        ((-5.2, -0.2), None, "unsafe", "5.2 NM left of the fix on circuit 1."),
        ((-4.9, -0.2), None, "below standard", "4.9 NM left of the fix on circuit 1."),
        ((-1.1, 1.2), None, "below standard", "up to 1.2 NM beside the fix on circuits 1 and 2."),
        ((1.4, 1.4), "vor", "improve", "up to 1.4 NM right of the fix"),
        ((0.99, 0.0), "gnss", "improve", "1.0 NM right of the fix on circuit 1."),
    ],
)
def test_who_comes_back_beside_the_fix_is_told_how_far_and_on_which_side(misses_nm, kind, severity, said):
    judged = judge_hold(fly(Plan(faults=(Faults(), Faults()))), ICAO, ACS)
    circuits = tuple(
        replace(one, measures=replace(one.measures, fix_miss_nm=abs(miss), fix_cross_track_nm=miss))
        for one, miss in zip(judged.circuits, misses_nm, strict=True)
    )
    fix_by = None if kind is None else FixBy(kind, height_ft=4000.0)
    judged = replace(judged, circuits=circuits, given=replace(judged.given, fix_by=fix_by))
    found = missed_fix(judged)
    assert (None if found is None else found.severity) == severity
    assert said is None or said in found.sentence
    # Of a fix that was inferred from where the circuits came back to, nothing of the kind is said.
    assert missed_fix(replace(judged, flown=replace(judged.flown, fix_sd_nm=0.1))) is None


@pytest.mark.parametrize("off_deg", [-29.6, -29.4, -18.5, -12.7, 11.5, 12.3])
def test_what_caps_the_points_says_the_same_degrees_as_the_finding(off_deg):
    judged = judge_hold(fly(Plan(course_deg=30.4, faults=(Faults(outbound_heading_deg=off_deg),))), ICAO, ACS)
    (found,) = (one for one in item_findings(judged) if one.kind == "wind_correction")
    said = re.search(r"(\d+)°", found.sentence)
    assert said is not None
    assert f"outbound heading {said[1]}° off" in found.brief
