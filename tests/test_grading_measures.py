"""Measures against what the tests' own point mass did, and what they must not depend on."""

import math
from dataclasses import replace

import numpy as np
import pytest

from analyser.grading.judge import judge_hold
from analyser.grading.keeping import excursions, level_plan
from analyser.grading.score import Score
from analyser.holds.definition import ClearedLevel
from analyser.rules.load import load_regime, load_standard
from analyser.rules.scoring import load_scoring
from tests.grading_flights import Faults, Plan, fly, right_numbers

ICAO = load_regime("icao")
ACS = load_standard("acs-instrument")


def judged(plan):
    return judge_hold(fly(plan), ICAO, ACS)


def test_the_outbound_clock_runs_from_abeam_to_the_turn():
    plan = Plan(faults=(Faults(outbound_time_s=7.0),))
    _, timed = right_numbers(replace(plan, faults=()))
    circuit = judged(plan).circuits[0]
    measures = circuit.measures
    assert circuit.terms.clock == "abeam"
    assert measures.timed_wings_s == pytest.approx(
        circuit.circuit.inbound_turn.start_s - circuit.circuit.outbound_turn.end_s
    )
    assert measures.timed_s == pytest.approx(timed + 7.0, abs=0.1)


def test_without_abeam_the_clock_runs_from_wings_level():
    flown = fly(Plan())
    circuit = replace(flown.circuits[0], abeam_s=None)
    one = judge_hold(replace(flown, circuits=(circuit,)), ICAO, ACS).circuits[0]
    assert one.terms.clock == "wings level"
    assert one.measures.timed_s == pytest.approx(circuit.inbound_turn.start_s - circuit.outbound_turn.end_s)
    assert one.scores["timing"].target == pytest.approx(one.ideal.circuit.outbound_time_s)
    assert one.scores["timing"].points == 100.0


@pytest.mark.parametrize(("side", "bank", "sign"), [(1, -4.0, -1), (1, 4.0, 1), (-1, -4.0, 1), (-1, 4.0, -1)])
def test_cross_track_is_positive_right_of_the_course_as_flown_inbound(side, bank, sign):
    # A right-hand turn that is too shallow swings through the course to its left, a left-hand one to its right.
    measures = judged(Plan(side=side, faults=(Faults(inbound_bank_deg=bank),))).circuits[0].measures
    assert measures.rollout_cross_track_nm * sign > 0.15
    assert measures.cross_track_max_nm * sign > 0.15
    assert measures.off_course_max_deg * sign > 3.0


def test_degrees_off_are_seen_from_the_fix():
    measures = judged(Plan(faults=(Faults(inbound_bank_deg=-2.0),))).circuits[0].measures
    along, cross = measures.rollout_along_nm, measures.rollout_cross_track_nm
    assert abs(measures.off_course_max_deg) == pytest.approx(
        math.degrees(math.atan2(abs(cross), -along)), abs=1.5
    )
    assert measures.off_course_rms_deg < abs(measures.off_course_max_deg)
    # A VOR's full scale is 12 degrees (FAA Instrument Flying Handbook).
    assert measures.deflection_max == pytest.approx(measures.off_course_max_deg / 12.0, abs=0.01)


def test_passing_beside_the_fix_is_measured():
    flown = fly(Plan(faults=(Faults(), Faults())))
    east, north = 0.2 * math.cos(math.radians(30.0)), -0.2 * math.sin(math.radians(30.0))
    # The whole flight moved 0.2 NM to the right of the course.
    motion = replace(
        flown.motion, east_nm=flown.motion.east_nm + east, north_nm=flown.motion.north_nm + north
    )
    one = judge_hold(replace(flown, motion=motion), ICAO, ACS).circuits[0].measures
    assert one.fix_cross_track_nm == pytest.approx(0.2, abs=0.01)
    assert one.fix_miss_nm == pytest.approx(0.2, abs=0.01)


SAME = (
    "timed_s",
    "inbound_duration_s",
    "rollout_along_nm",
    "cross_track_rms_nm",
    "off_course_rms_deg",
    "fix_miss_nm",
)


@pytest.mark.slow
@pytest.mark.parametrize("turned", [40.0, 133.0, 270.0])
def test_nothing_depends_on_where_the_course_points(turned):
    faults = (Faults(outbound_heading_deg=10.0, inbound_bank_deg=2.0), Faults(outbound_time_s=8.0))
    here = judged(Plan(faults=faults))
    there = judged(
        Plan(course_deg=(30.0 + turned) % 360.0, wind_from_deg=(120.0 + turned) % 360.0, faults=faults)
    )
    for one, other in zip(here.circuits, there.circuits, strict=True):
        for name in SAME:
            assert getattr(one.measures, name) == pytest.approx(getattr(other.measures, name), abs=0.02), name
        assert one.points == pytest.approx(other.points, abs=0.2)
    assert here.points == pytest.approx(there.points, abs=0.2)


def test_nothing_depends_on_the_hand_of_the_hold():
    faults = (Faults(outbound_heading_deg=10.0, inbound_bank_deg=2.0), Faults(outbound_time_s=8.0))
    right = judged(Plan(faults=faults))
    left = judged(Plan(side=-1, wind_from_deg=2 * 30.0 - 120.0, faults=faults))
    for one, other in zip(right.circuits, left.circuits, strict=True):
        for name in SAME:
            assert getattr(one.measures, name) == pytest.approx(getattr(other.measures, name), abs=0.02), name
        assert one.measures.rollout_cross_track_nm == pytest.approx(
            -other.measures.rollout_cross_track_nm, abs=0.01
        )
        assert one.points == pytest.approx(other.points, abs=0.2)


def with_altitude(flown, altitude_ft):
    return replace(flown, motion=replace(flown.motion, altitude_ft=altitude_ft))


def without_a_level(flown):
    return replace(flown, hold=replace(flown.hold, altitude_ft=None))


def test_a_bump_in_altitude_is_the_pilots_and_a_step_is_a_cleared_descent_where_no_level_was_given():
    flown = fly(Plan(altitude_ft=7000.0, faults=(Faults(), Faults())))
    time_s = flown.motion.time_s
    middle = flown.circuits[0].end_s
    bump = 7000.0 - 450.0 * np.exp(-(((time_s - middle + 100.0) / 25.0) ** 2))
    error = judge_hold(with_altitude(flown, bump), ICAO, ACS).circuits[0].scores["altitude"]
    assert error.value == pytest.approx(-450.0, abs=10.0)
    assert error.points == 0.0
    # A thousand feet at 500 ft/min, begun in the first circuit.
    descent = with_altitude(flown, np.interp(time_s, [middle - 60.0, middle + 60.0], [7000.0, 6000.0]))
    circuits = judge_hold(without_a_level(descent), ICAO, ACS).circuits
    for circuit, level in zip(circuits, (7000.0, 6000.0), strict=True):
        assert abs(circuit.scores["altitude"].value) < 100.0
        assert circuit.scores["altitude"].reference == pytest.approx(level, abs=5.0)
        assert "moves between levels" in circuit.scores["altitude"].note
        assert "none was given" in circuit.scores["altitude"].note
    # The hold file gives 7,000 ft: that is the level, whatever is flown...
    bust = judge_hold(descent, ICAO, ACS)
    assert bust.circuits[1].scores["altitude"].value == pytest.approx(-1000.0, abs=5.0)
    assert bust.findings[0].kind == "level" and bust.findings[0].severity == "unsafe"
    # ... unless it also clears the next one, by circuit or by the clock.
    for change in (ClearedLevel(6000.0, from_circuit=2), ClearedLevel(6000.0, from_s=middle)):
        early = np.interp(time_s, [middle, middle + 120.0], [7000.0, 6000.0])
        cleared = replace(flown, hold=replace(flown.hold, levels=(change,)))
        found = judge_hold(with_altitude(cleared, early), ICAO, ACS)
        assert not [one for one in found.findings if one.kind == "level"], change
        assert found.circuits[1].scores["altitude"].reference == 6000.0


def test_a_level_that_was_cleared_and_not_flown_is_missed():
    flown = fly(Plan(altitude_ft=7000.0, faults=(Faults(),) * 3))
    stayed = replace(flown, hold=replace(flown.hold, levels=(ClearedLevel(6000.0, from_circuit=2),)))
    found = judge_hold(stayed, ICAO, ACS)
    first = found.findings[0]
    assert (first.kind, first.severity, first.circuits) == ("level", "unsafe", (3,))
    assert (first.value, first.target) == (pytest.approx(7000.0), 6000.0)
    # The way there may take as long as the slowest climb that counts as one: 1,000 ft at 200 ft/min.
    missed_s = found.altitude_kept.excursions[0].start_s
    assert missed_s == pytest.approx(flown.circuits[1].start_s + 300.0, abs=3.0)


def test_a_continuous_descent_is_not_judged():
    flown = fly(Plan(altitude_ft=9000.0))
    steady = 9000.0 - (flown.motion.time_s - flown.start_s) * 10.0
    descending = without_a_level(with_altitude(flown, steady))
    score = judge_hold(descending, ICAO, ACS).circuits[0].scores["altitude"]
    assert (score.points, score.verdict) == (None, "not judged")
    assert "another level" in score.note


def test_a_steady_offset_from_the_given_altitude_is_judged_but_the_logs_datum_is_mentioned():
    flown = fly(Plan())
    score = (
        judge_hold(with_altitude(flown, flown.motion.altitude_ft + 120.0), ICAO, ACS)
        .circuits[0]
        .scores["altitude"]
    )
    assert score.value == pytest.approx(120.0)
    assert score.verdict == "outside"
    assert "120 ft above it throughout" in score.note


def test_without_a_given_altitude_the_level_flown_is_the_reference():
    flown = fly(Plan())
    flown = replace(flown, hold=replace(flown.hold, altitude_ft=None))
    wave = 4050.0 + 60.0 * np.sin(flown.motion.time_s / 20.0)
    plan = level_plan(with_altitude(flown, wave), load_scoring().levels)
    assert plan.known and not plan.given and not plan.moved
    assert np.nanmedian(plan.reference_ft) == pytest.approx(4050.0, abs=10.0)
    score = judge_hold(with_altitude(flown, wave), ICAO, ACS).circuits[0].scores["altitude"]
    assert abs(score.value) == pytest.approx(60.0, abs=12.0)


def test_speed_above_the_limit_gets_no_points_however_steady():
    # ICAO: 230 kt to 14,000 ft; 170 kt where the hold is limited to categories A and B.
    fast = fly(Plan(tas_kt=205.0))
    assert judge_hold(fast, ICAO, ACS).circuits[0].scores["speed"].points == 100.0
    limited = replace(fast, hold=replace(fast.hold, category="B"))
    score = judge_hold(limited, ICAO, ACS).circuits[0].scores["speed"]
    assert (score.points, score.verdict) == (0.0, "outside")
    assert "maximum holding speed" in score.note


def test_speed_is_judged_against_the_one_given():
    flown = fly(Plan())
    given = replace(flown, hold=replace(flown.hold, speed_kias=0.94 * 110.0 + 12.0))
    score = judge_hold(given, ICAO, ACS).circuits[0].scores["speed"]
    assert score.value == pytest.approx(-12.0, abs=0.5)
    assert score.verdict == "outside"


def test_without_indicated_airspeed_the_true_one_stands_in():
    flown = fly(Plan(tas_change_kt=6.0))
    blind = replace(flown.motion, ias_kt=flown.motion.ias_kt * np.nan)
    score = judge_hold(replace(flown, motion=blind), ICAO, ACS).circuits[0].scores["speed"]
    assert score.points is not None
    assert "true airspeed" in score.note


def test_a_wind_too_strong_to_hold_the_course_is_said_and_nothing_is_invented():
    flown = fly(Plan())
    circuit = replace(flown.circuits[0], wind_east_kt=150.0, wind_north_kt=0.0)
    one = judge_hold(replace(flown, circuits=(circuit,)), ICAO, ACS).circuits[0]
    assert not one.ideal.circuit.closes
    assert one.scores["timing"].verdict == one.scores["wind_correction"].verdict == "not judged"
    assert "too strong" in one.no_budget
    assert one.scores["bank"].points is not None


def test_each_time_outside_is_found_with_its_worst() -> None:
    time = np.arange(0.0, 100.0)
    error = np.where((time >= 20) & (time <= 29), 130.0, 0.0)
    error[60:62] = np.nan
    found = excursions((), time, error, np.full(100, 4000.0), 100.0)
    assert [(one.start_s, one.end_s, one.worst, one.reference) for one in found] == [
        (20.0, 30.0, 130.0, 4000.0)
    ]
    # Where the tolerance narrows the same error is outside from then on.
    narrows = np.linspace(200.0, 20.0, 100)
    (later,) = excursions((), time, np.full(100, -90.0), np.zeros(100), narrows)
    assert later.start_s == np.flatnonzero(narrows < 90.0)[0] and not later.came_back and later.worst == -90.0


def test_bank_and_track_outside_what_was_judged_by_are_carried_with_the_circuit() -> None:
    circuit = judge_hold(fly(Plan(faults=(Faults(inbound_bank_deg=9.0),))), ICAO, ACS).circuits[0]
    turn = circuit.circuit.inbound_turn
    for one in circuit.left["bank"]:
        assert turn.established_start_s <= one.start_s <= one.end_s <= turn.established_end_s
        assert one.worst == pytest.approx(9.0, abs=1.5)
    assert len(circuit.left["bank"]) == 1
    # Banked too steeply it rolls out beside the course, where no tolerance of a hold reaches.
    assert circuit.left["track"] and circuit.scores["track"].value > 1.0


def test_between_coarse_samples_nobody_sees_how_far_off_the_course_a_leg_lay() -> None:
    """An arc of 25° of bank stands off its chord by g·tan 25°·t²/8: 57 m after 10 s, 448 m after 28 s."""
    flown = fly(Plan())

    def track(sample_s: float) -> Score:
        seen = replace(flown, motion=replace(flown.motion, sample_s=sample_s))
        return judge_hold(seen, ICAO, load_standard("part-fcl-instrument")).circuits[0].scores["track"]

    assert track(1.0).verdict == track(5.0).verdict == "within"
    assert track(5.0).sd < track(10.0).sd < 0.5 * track(28.0).sd
    assert track(28.0).verdict == "not judged"


def test_who_climbs_slowly_all_the_time_held_no_level_and_a_step_is_no_climb():
    flown = without_a_level(fly(Plan(altitude_ft=4000.0, faults=(Faults(),) * 3)))
    time_s = flown.motion.time_s
    share = (time_s - flown.start_s) / (flown.end_s - flown.start_s)
    found = judge_hold(with_altitude(flown, 4000.0 + 350.0 * share), ICAO, ACS).findings
    (level,) = (one for one in found if one.kind == "level")
    assert "and held no level; which was asked for, a hold file settles." in level.sentence.replace(
        "the hold file does not say", "a hold file settles"
    )
    step = judge_hold(with_altitude(flown, np.where(share > 0.6, 4180.0, 4000.0)), ICAO, ACS).findings
    assert not any("held no level" in one.sentence for one in step)
