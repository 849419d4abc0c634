"""Entries: the right sector, and how well it was flown."""

from dataclasses import replace

import numpy as np
import pytest

from analyser.circuits.frame import hold_frame
from analyser.debrief import debrief_track
from analyser.grading.judge import judge_hold
from analyser.holds.definition import LegLimit
from analyser.rules.load import load_regime, load_standard
from analyser.rules.scoring import load_scoring
from tests.flights.air import Air
from tests.grading_flights import Plan, fly, fly_entry
from tests.planted.fault import Fault, Scene
from tests.planted.fly import flown as flown_by_plan

ICAO, FAA = load_regime("icao"), load_regime("faa")
ACS = load_standard("acs-instrument")
CALM = Plan(wind_kt=0.0)


def entry_of(flown, regime=ICAO):
    return judge_hold(flown, regime, ACS).entry


def with_arrival(heading_deg, flown_kind, sd_deg=1.0):
    """An inbound course of 010, right hand, met on a heading."""
    flown = fly(replace(CALM, course_deg=10.0))
    entry = replace(
        flown.entry, arrival_heading_deg=heading_deg, arrival_heading_sd_deg=sd_deg, flown=flown_kind
    )
    return replace(flown, entry=entry)


# Sector bands for an inbound course of 010°, right hand: question bank for the ATPL air law paper (quoted).
@pytest.mark.parametrize(
    ("heading", "kind", "verdict"),
    [
        (150.0, "offset", "correct"),
        (150.0, "direct", "incorrect"),
        (245.0, "parallel", "correct"),
        (245.0, "offset", "incorrect"),
        (20.0, "direct", "correct"),
        (20.0, "parallel", "incorrect"),
        (187.0, "parallel", "correct"),
        (187.0, "offset", "correct"),
        (302.0, "parallel", "correct"),
        (20.0, "other", "incorrect"),
    ],
)
def test_the_sector_decides_with_five_degrees_of_choice(heading, kind, verdict):
    judged = entry_of(with_arrival(heading, kind))
    assert judged.verdict == verdict
    assert judged.points == (100.0 if verdict == "correct" else 0.0)


def test_a_heading_too_uncertain_for_its_boundary_is_not_judged():
    assert entry_of(with_arrival(127.5, "direct", sd_deg=0.5)).verdict == "incorrect"
    unsure = entry_of(with_arrival(127.5, "direct", sd_deg=3.0))
    assert (unsure.verdict, unsure.points) == ("not judged", None)
    assert "known to ±6°" in unsure.note


@pytest.mark.parametrize("side", [1, -1])
def test_an_offset_entry_well_flown(side):
    # Towards the holding side the outbound course less 30 degrees, for a minute from the fix.
    flown = fly_entry(replace(CALM, side=side), "offset", arrival_deg=140.0, track_deg=150.0, seconds=60.0)
    judged = entry_of(flown)
    assert judged.verdict == "correct"
    assert judged.angle.value == pytest.approx(30.0, abs=1.0)
    assert (judged.angle.target, judged.angle.points) == (30.0, 100.0)
    assert judged.time.value == pytest.approx(60.0, abs=0.2)
    assert (judged.time.target, judged.time.points) == (60.0, 100.0)
    assert judged.turn_back_right_way is True
    # Thirty degrees for a minute lead 0.9 NM aside and the turn back takes 1.2 NM: it swings through by a little.
    assert 0.1 < judged.off_side_nm < 0.3
    assert judged.points == pytest.approx(100.0)


def test_an_offset_entry_too_narrow_and_too_long():
    flown = fly_entry(CALM, "offset", arrival_deg=150.0, track_deg=168.0, seconds=85.0)
    judged = entry_of(flown)
    assert judged.angle.value == pytest.approx(12.0, abs=1.0)
    assert judged.angle.verdict == "outside"
    # From wings level, which is nearer the minute: 85 s less 18° at rate one and the rolling, some nine seconds.
    assert judged.time.value == pytest.approx(76.0, abs=1.0)
    assert judged.time.verdict == "outside"
    assert judged.interception.rollout_cross_track_nm < -0.3
    assert judged.points < 80.0


@pytest.mark.parametrize("side", [1, -1])
def test_a_parallel_entry_turns_back_onto_the_holding_side_through_more_than_half_a_circle(side):
    flown = fly_entry(replace(CALM, side=side), "parallel", arrival_deg=-130.0, track_deg=180.0, seconds=60.0)
    judged = entry_of(flown)
    assert judged.verdict == "correct"
    assert abs(judged.angle.value) < 1.0
    assert judged.angle.target == 0.0
    assert judged.time.value == pytest.approx(60.0, abs=0.2)
    assert judged.turn_back_right_way is True
    # FAA AIM 5-3-8 j.3(a): through more than 180 degrees, for a right-hand hold to the left.
    assert judged.turn_back_deg * side < -180.0
    assert judged.off_side_nm > 0.1
    # It met the course from the holding side, at thirty degrees.
    assert judged.interception.rollout_cross_track_nm * side > 0.5
    assert judged.interception.angle_deg * side == pytest.approx(-30.0, abs=1.0)


def test_where_the_inbound_course_was_met_is_measured():
    long = fly_entry(CALM, "parallel", arrival_deg=-130.0, track_deg=180.0, seconds=120.0)
    assert 0.5 < entry_of(long).interception.met_at_nm < 3.5
    # After a minute only, thirty degrees do not bring the aircraft onto the course before the fix.
    short = fly_entry(CALM, "parallel", arrival_deg=-130.0, track_deg=180.0, seconds=60.0)
    assert entry_of(short).interception.met_at_nm is None


def test_icao_times_an_entry_for_still_air_and_the_faa_by_the_clock():
    # Twenty knots on the tail outbound: the still-air minute is over sooner.
    plan = replace(CALM, wind_kt=20.0, wind_from_deg=30.0)
    flown = fly_entry(plan, "parallel", arrival_deg=-130.0, track_deg=180.0, seconds=60.0)
    # Outbound at 110 kt with 20 kt behind: a still-air minute at 130 kt takes 60 · 110/130 s.
    assert entry_of(flown).time.target == pytest.approx(60.0 * 110.0 / 130.0, abs=0.5)
    assert entry_of(flown, FAA).time.target == 60.0


def test_the_faa_judges_the_entrys_heading_and_icao_its_track():
    # AIM 5-3-8 j.3(b): a teardrop on the literal heading, 30° from the reciprocal, in 30 kt across the course.
    plan = replace(CALM, wind_kt=30.0, wind_from_deg=300.0)
    # Heading 150° at 110 kt, 30 kt to the holding side: along −95.3 kt, across 55 + 30 kt, so 138.3° over the ground.
    track = 138.3
    flown = fly_entry(plan, "offset", arrival_deg=140.0, track_deg=track, seconds=60.0)
    judged = entry_of(flown, FAA)
    assert judged.angle.value == pytest.approx(30.0, abs=1.5)
    assert judged.angle.verdict == "within"
    assert "heading" in judged.angle.note
    assert judged.angle.points > 90.0
    by_track = entry_of(flown)
    assert by_track.angle.value == pytest.approx(180.0 - track, abs=1.5)
    assert by_track.angle.verdict == "outside"


def test_the_faa_recommends_an_entry_and_prescribes_none():
    # AIM 5-3-8 j.3(d).
    for kind in ("parallel", "other"):
        judged = entry_of(with_arrival(20.0, kind), FAA)
        assert (judged.verdict, judged.recommended, judged.points) == ("correct", False, 70.0)
        assert "recommended" in judged.note
    assert entry_of(with_arrival(20.0, "direct"), FAA).recommended
    said = " ".join(judge_hold(with_arrival(20.0, "parallel"), FAA, ACS).verdict)
    assert "Your entry was right" not in said
    assert "a direct entry is recommended; you flew a parallel one" in said


@pytest.mark.parametrize("kind", ["offset", "parallel"])
def test_entries_of_a_distance_hold_are_judged_by_its_distance(kind):
    # Doc 8168 Vol I: to the limiting distance; FAA AIM 5-3-8 j.5: distances in place of times.
    plan = replace(CALM, leg=LegLimit(distance_nm=3.0))
    at, track = (140.0, 150.0) if kind == "offset" else (-130.0, 180.0)
    # 110 kt: 3 NM along the course take 98 s on the reciprocal.
    flown = fly_entry(plan, kind, arrival_deg=at, track_deg=track, seconds=98.0)
    judged = entry_of(flown)
    assert (judged.time.unit, judged.time.target) == ("NM", 3.0)
    along, _ = hold_frame(flown.motion, plan.course_deg).at(flown.entry.leg.end_s)
    assert judged.time.value == pytest.approx(-along, abs=1e-6)
    assert 2.0 < judged.time.value < 3.6


def test_slowing_down_three_minutes_before_the_fix_is_judged_by_the_faa():
    # AIM 5-3-8 j.8(a): at or below the maximum holding speed at least three minutes before, where notice allows.
    flown = fly(CALM)
    time_s, fix_s = flown.motion.time_s, flown.entry.fix_s
    late = np.interp(time_s, [fix_s - 100.0, fix_s - 60.0], [215.0, 103.4])
    judged = entry_of(replace(flown, motion=replace(flown.motion, ias_kt=late)), FAA).arrival.slow_down
    # 200 KIAS were passed (215 - 200) / 111.6 · 40 = 5 s into the slowing down, 95 s before the fix.
    assert judged.value == pytest.approx(95.0, abs=2.0)
    assert (judged.target, judged.verdict) == (180.0, "outside")
    early = entry_of(flown, FAA).arrival.slow_down
    assert (early.value, early.verdict) == (180.0, "within")
    assert entry_of(flown).arrival.slow_down is None


def test_a_late_slowing_down_is_said_and_counts_as_the_scoring_says():
    flown = fly(CALM)
    time_s, fix_s = flown.motion.time_s, flown.entry.fix_s
    late = np.interp(time_s, [fix_s - 100.0, fix_s - 60.0], [215.0, 103.4])
    flown = replace(flown, motion=replace(flown.motion, ias_kt=late))

    def found(regime=FAA, **how):
        judged = judge_hold(flown, regime, ACS, **how)
        return judged, next((one for one in judged.findings if one.kind == "slowing down"), None)

    judged, one = found()
    assert one.severity == "improve"
    assert "above the maximum holding speed of 200 kt until 95 s before the fix" in one.sentence
    assert "3 minutes before" in one.advice
    strict = load_scoring()
    strict = replace(strict, slow_down=replace(strict.slow_down, severity="below standard"))
    judged, one = found(scoring=strict)
    assert one.severity == "below standard" and judged.points <= 79.0
    assert found(ICAO)[1] is None


def test_too_fast_in_the_entry_alone_is_beyond_the_limit():
    flown = fly_entry(CALM, "offset", arrival_deg=140.0, track_deg=150.0, seconds=60.0)
    time_s, fix_s = flown.motion.time_s, flown.entry.fix_s
    fast = np.interp(time_s, [fix_s + 30.0, fix_s + 60.0], [260.0, 103.4])
    judged = judge_hold(replace(flown, motion=replace(flown.motion, ias_kt=fast)), ICAO, ACS)
    assert (judged.findings[0].kind, judged.findings[0].severity) == ("speed limit", "unsafe")
    assert "260 kt indicated in the entry; the maximum holding speed here is 230 kt" in judged.verdict[0]
    brief = np.interp(time_s, [fix_s + 0.5, fix_s + 4.0], [240.0, 103.4])
    judged = judge_hold(replace(flown, motion=replace(flown.motion, ias_kt=brief)), ICAO, ACS)
    kinds = {one.kind: one for one in judged.findings}
    assert "speed limit" not in kinds and "crossed the fix at" in kinds["arrival speed"].sentence


@pytest.mark.parametrize(
    ("track_deg", "seconds"), [(150.0, 60.0), (168.0, 60.0), (150.0, 75.0), (175.0, 85.0)]
)
def test_the_sector_counts_as_much_in_an_entry_as_its_angle_and_its_time_together(track_deg, seconds):
    judged = entry_of(fly_entry(CALM, "offset", arrival_deg=140.0, track_deg=track_deg, seconds=seconds))
    assert judged.verdict == "correct" and judged.angle.points is not None and judged.time.points is not None
    assert judged.points == pytest.approx((2.0 * 100.0 + judged.angle.points + judged.time.points) / 4.0)
    # Of what was not judged nothing is made: without a leg the sector is all there is.
    assert entry_of(with_arrival(20.0, "direct")).points == 100.0


@pytest.mark.parametrize("course_sd_deg", [None, 2.0])
@pytest.mark.parametrize("off_deg", [-10.5, -9.5, 0.0, 9.5, 10.5])
@pytest.mark.parametrize("side", [1, -1])
def test_an_offset_entry_leads_thirty_degrees_to_the_holding_side(off_deg, course_sd_deg, side):
    """Doc 8168 Vol I, I-6-1: a track 30° from the reciprocal on the holding side; ±10° by the ACS."""
    flown = fly_entry(replace(CALM, side=side), "offset", arrival_deg=140.0, track_deg=150.0, seconds=60.0)
    outbound_deg = flown.hold.inbound_course_true_deg + 180.0
    leg = replace(flown.entry.leg, track_deg=(outbound_deg - side * (30.0 + off_deg)) % 360.0)
    judged = entry_of(replace(flown, entry=replace(flown.entry, leg=leg), course_sd_deg=course_sd_deg))
    angle = judged.angle
    assert (angle.value, angle.target, angle.tolerance) == (pytest.approx(30.0 + off_deg), 30.0, 10.0)
    assert angle.verdict == ("within" if abs(off_deg) < 10.0 else "outside")
    # A track made good is known to a degree, and leans on the course.
    assert angle.sd == pytest.approx(np.hypot(1.0, course_sd_deg or 0.0))


@pytest.mark.parametrize(("over_kt", "verdict"), [(1.9, "within"), (2.1, "outside")])
def test_the_fix_is_crossed_too_fast_beyond_two_sigma_of_the_speed(over_kt, verdict):
    flown = fly(CALM)
    fast = np.full(flown.motion.ias_kt.size, 230.0 + over_kt)
    arrived = entry_of(replace(flown, motion=replace(flown.motion, ias_kt=fast))).arrival
    assert (arrived.verdict, arrived.limit_kias) == (verdict, 230.0)
    assert arrived.most_kias == pytest.approx(230.0 + over_kt)


def test_the_ideal_entry_is_drawn_from_the_fix_back_to_the_fix():
    flown = fly_entry(CALM, "offset", arrival_deg=140.0, track_deg=150.0, seconds=60.0)
    judged = entry_of(flown)
    distance = np.hypot(judged.ideal_east_nm, judged.ideal_north_nm)
    assert distance[0] == 0.0
    assert distance.max() > 1.5
    assert distance[-1] < 0.1


def test_speed_on_arrival_is_held_against_the_limit_and_the_slowing_down_is_timed():
    flown = fly(CALM)
    time_s, fix_s = flown.motion.time_s, flown.entry.fix_s
    speed = np.interp(time_s, [fix_s - 100.0, fix_s - 60.0], [160.0, 103.4])
    arrival = entry_of(replace(flown, motion=replace(flown.motion, ias_kt=speed))).arrival
    assert arrival.limit_kias == 230.0
    assert arrival.speed_at_fix_kias == pytest.approx(103.4, abs=0.1)
    assert arrival.speed_before_kias == pytest.approx(160.0, abs=0.1)
    # Ten knots above the holding speed were reached 67 s before the fix.
    assert arrival.slowed_before_fix_s == pytest.approx(67.0, abs=1.5)
    assert arrival.verdict == "within"


def test_arriving_above_the_limit_is_outside():
    flown = fly(CALM)
    fast = replace(flown.motion, ias_kt=flown.motion.ias_kt + 150.0)
    assert entry_of(replace(flown, motion=fast)).arrival.verdict == "outside"
    blind = replace(flown.motion, ias_kt=flown.motion.ias_kt * np.nan)
    assert entry_of(replace(flown, motion=blind)).arrival.verdict == "not judged"


@pytest.mark.parametrize(("flown_kind", "perhaps"), [("direct", "offset"), ("offset", "direct")])
@pytest.mark.parametrize(
    ("heading", "verdict"), [(150.0, "not judged"), (20.0, "not judged"), (245.0, "incorrect")]
)
def test_an_entry_that_may_have_been_a_first_circuit_is_neither_praised_nor_blamed(
    heading, verdict, flown_kind, perhaps
):
    flown = with_arrival(heading, flown_kind)
    judged = judge_hold(replace(flown, entry=replace(flown.entry, perhaps=perhaps)), ICAO, ACS)
    assert judged.entry.verdict == verdict
    assert judged.entry.angle is judged.entry.time is None
    said = next(one.sentence for one in judged.findings if one.kind == "entry")
    assert ("was not judged" in said) == (verdict == "not judged")
    # Wrong it was in either case, and neither is said to have been flown.
    if verdict == "incorrect":
        assert ("a direct or an offset one" in said) or ("an offset or a direct one" in said)


def test_an_offset_entry_hardly_led_off_is_held_against_nobody():
    air = Air(12.0, 27.0, 3500.0)
    scene = Scene(
        rules="faa", course_deg=216.0, entry="offset", level_ft=3500.0, tas_kt=136.0, air=air, circuits=2
    )
    one = flown_by_plan(scene, Fault(entry_track_off_deg=-24.0))
    for rules in ("faa", "icao"):
        (hold,) = debrief_track(one.track, hold=one.hold, rules=rules).holds
        judged = hold.judged
        assert judged.entry.verdict == "not judged"
        assert not {"entry", "entry track", "entry time"} & {
            found.kind for found in judged.findings if found.severity != "good"
        }
        assert [each.circuit.number for each in judged.circuits] == [1, 2]
        assert "Two circuits, and one more that may have been the entry." in judged.verdict
        # By the FAA a first outbound leg is timed otherwise than the next: nobody knows which this was.
        assert (judged.circuits[0].scores["timing"].points is not None) == (rules == "icao")


@pytest.mark.parametrize(
    ("entry", "fault"),
    [
        ("direct", Fault(outbound_heading_deg=20.0)),
        ("offset", Fault(entry_track_off_deg=-60.0)),
        ("offset", Fault()),
    ],
)
def test_a_leg_that_no_lap_along_the_reciprocal_has_leaves_no_doubt_about_the_entry(entry, fault):
    one = flown_by_plan(Scene(entry=entry, circuits=2), fault)
    (hold,) = debrief_track(one.track, hold=one.hold).holds
    assert hold.judged.entry.verdict == "correct"
    assert "Two circuits." in hold.judged.verdict


def test_without_an_entry_in_the_log_none_is_judged():
    judged = judge_hold(replace(fly(CALM), entry=None), ICAO, ACS)
    assert judged.entry is None
    assert judged.verdict[0] == "One circuit."
    assert not any("entry" in sentence for sentence in judged.verdict)


@pytest.mark.parametrize("side", [1, -1])
def test_a_parallel_entry_turned_back_to_the_wrong_side_is_no_circuit(side):
    one = flown_by_plan(Scene(entry="parallel", side=side), Fault(entry_wrong_way=True))
    (hold,) = debrief_track(one.track, hold=one.hold).holds
    assert len(hold.judged.circuits) == len(one.truth.circuits) == 3
    assert [one.circuit.number for one in hold.judged.circuits] == [1, 2, 3]
    assert hold.judged.entry.turned_away == "parallel"
    assert hold.judged.findings[0].kind == "entry way"


def test_an_entry_whose_turn_back_the_log_does_not_show_went_to_no_wrong_side():
    """Recorded in steps of half a minute it is all in holes: judged without a word of where it went."""
    one = flown_by_plan(Scene(entry="parallel"), Fault(entry_wrong_way=True))
    (hold,) = debrief_track(one.track, hold=one.hold).holds
    turn = hold.flown.entry.turns[-1]
    motion = hold.flown.motion
    unseen = motion.in_hole | ((motion.time_s >= turn.start_s) & (motion.time_s <= turn.end_s))
    judged = judge_hold(replace(hold.flown, motion=replace(motion, in_hole=unseen)), ICAO, ACS)
    assert judged.entry.turned_away is None
    assert judged.entry.turn_back_deg is judged.entry.turn_back_right_way is None
    assert judged.entry.verdict == "not judged"
    assert not {"entry way", "entry"} & {
        finding.kind for finding in judged.findings if finding.severity != "good"
    }
