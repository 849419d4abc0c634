"""What decides how a given hold cuts a flight, and what is no hold: each limit, just inside it and just outside.

Flights are drawn by hand in still air, or only what is asked of them is laid down. What the limits are stands here in
words of the trade, not read from the table.
"""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from analyser.circuits.circuit_cutting import _doubted, _from_fix
from analyser.circuits.evidence import _arrival, _fits_parallel, fits_entry, reasons_for
from analyser.circuits.find import _dips, _free_span_s, log_ends_reason, lone_in_doubt
from analyser.circuits.fix_passages import Passage, _passage, inbound_passages
from analyser.circuits.flown import Turn
from analyser.circuits.frame import _usual_rate_dps, _wind, hold_view
from analyser.circuits.given_fit import (
    _beside_deg,
    _course_in_doubt,
    _fix_in_doubt,
    _goes_to_ground,
    _is_flown_to,
    _scale_s,
    best_stays,
    ground_ft_of,
    stays_at,
)
from analyser.circuits.given_hold import (
    GivenReading,
    _flew_across_s,
    _is_one_lap,
    _is_same_turn,
    _longest_leg_s,
    _swept_deg,
    may_begin_within,
)
from analyser.circuits.hold_inference import _arrival_way, fix_along, with_arrival
from analyser.circuits.laps_and_entries import LapPhases, _is_correction, _is_second_all, _orbits, explain_lap
from analyser.circuits.loops import Loop, loops, turns_back
from analyser.circuits.racetrack import RacetrackLap, TurnRun, circles_halved, is_whole_circle, turn_runs
from analyser.circuits.turn_detection import _crossing, _doubted_by_holes, _edge, _one_turn
from analyser.logs.track import Track
from analyser.motion.roll_response import RollResponse
from analyser.motion.survey import survey_flight
from tests.drawn_flights import FIX, drawn, laps, straight, turn
from tests.test_circuits_cutting import a_turn, view_of
from tests.test_circuits_given import AWAY, GIVEN, WAY_IN, moved
from tests.test_circuits_laps import survey
from tests.test_circuits_rules import ONE, TWO, codes, racetrack
from tests.test_circuits_rules import moved as marched
from tests.test_motion_speeds import motion

NM = 1852.0


def bare(**known: Any) -> Any:
    """Lay down only what is asked of something."""
    return SimpleNamespace(**known)


# The axes of a hold


@pytest.mark.parametrize(("aside_nm", "near"), [(2.9, True), (3.1, False)])
def test_a_hold_is_looked_for_whose_fix_was_met_within_three_miles(aside_nm: float, near: bool) -> None:
    # Across the course of 025°, on the side where no lap is.
    across = np.radians(25.0 - 90.0)
    given = moved(aside_nm * float(np.sin(across)), aside_nm * float(np.cos(across)))
    track = drawn(WAY_IN, [*straight(200)])
    (flown,) = survey_flight(track)
    assert (hold_view(track, flown, given, scale_s=3.0) is not None) == near


@pytest.mark.parametrize(("rate_dps", "usual_dps"), [(0.75, 0.75), (0.65, 3.0)])
def test_slower_turning_than_the_wander_of_a_leg_is_no_turn(rate_dps: float, usual_dps: float) -> None:
    assert _usual_rate_dps(np.full(40, rate_dps)) == usual_dps
    # Of a few seconds it is not read.
    assert _usual_rate_dps(np.full(20, 2.0)) == 3.0 and _usual_rate_dps(np.full(21, -2.0)) == 2.0


@pytest.mark.parametrize(("share", "known"), [(0.72, True), (0.78, False)])
def test_a_wind_of_more_than_three_quarters_of_the_airspeed_is_none(share: float, known: bool) -> None:
    way = np.radians(np.arange(0.0, 360.0, 5.0))
    flown = bare(
        east_mps=50.0 * np.sin(way) + share * 50.0, north_mps=50.0 * np.cos(way), ground_speed_kt=np.full(72, 90.0)
    )  # fmt: skip
    found = _wind(flown, np.ones(72, dtype=bool))
    assert found == pytest.approx(
        (share * 50.0, 0.0, 50.0) if known else (0.0, 0.0, 90.0 / 1.943844), abs=1e-3
    )


def test_a_direction_is_smoothed_over_three_seconds_or_four_fifths_of_the_interval() -> None:
    fine, coarse = bare(sample_s=1.0), bare(sample_s=20.0)
    assert _scale_s(fine, bare(interval_s=1.0)) == 3.0
    assert _scale_s(fine, bare(interval_s=10.0)) == pytest.approx(8.0)
    assert _scale_s(coarse, bare(interval_s=1.0)) == 10.0


# Passages


@pytest.mark.parametrize(
    ("short_nm", "log_ends", "passed"),
    [(0.95, False, True), (1.05, False, False), (0.55, True, True), (0.65, True, False)],
)
def test_who_turns_within_a_mile_before_the_fix_has_passed_it_and_who_leaves_within_six_tenths(
    short_nm: float, log_ends: bool, passed: bool
) -> None:
    along = np.concatenate([np.linspace(-4.0, -short_nm, 60), np.linspace(-short_nm, -4.0, 60)])
    view = bare(
        along_nm=along, away_nm=np.abs(along), cross_nm=np.zeros(120), time_s=np.arange(60.0 if log_ends else 120.0),
        turn_diameter_nm=1.2,
    )  # fmt: skip
    found = _passage(view, 0, 60)
    assert (found is not None) == passed
    assert found is None or found.miss_nm == pytest.approx(short_nm)


@pytest.mark.parametrize(("diameter_nm", "passed"), [(2.7, True), (2.4, False)])
def test_who_turns_widely_passes_the_fix_the_earlier(diameter_nm: float, passed: bool) -> None:
    along = np.concatenate([np.linspace(-4.0, -1.05, 60), np.linspace(-1.05, -4.0, 60)])
    view = bare(
        along_nm=along, away_nm=np.abs(along), cross_nm=np.zeros(120), time_s=np.arange(120.0),
        turn_diameter_nm=diameter_nm,
    )  # fmt: skip
    assert (_passage(view, 0, 60) is not None) == passed


@pytest.mark.parametrize(("beside_nm", "passed"), [(9.9, True), (10.1, False)])
def test_a_lap_is_ended_within_ten_miles_beside_the_fix(beside_nm: float, passed: bool) -> None:
    along = np.linspace(-2.0, 2.0, 100)
    view = bare(
        along_nm=along, cross_nm=np.full(100, beside_nm), away_nm=np.hypot(along, beside_nm), time_s=np.arange(100.0),
        turn_diameter_nm=1.2,
    )  # fmt: skip
    assert (_passage(view, 0, 99) is not None) == passed


def quick(by_deg: float) -> list[float]:
    """Turn twice as fast as at rate one."""
    seconds = round(by_deg / 6.0)
    return [by_deg / seconds] * seconds


@pytest.mark.parametrize(
    ("leg_s", "turned", "apart"),
    [
        # A circle is no lap where the laps' legs last forty seconds together …
        (18, turn, False),
        (23, turn, True),
        # … nor where it takes less than two thirds of a lap: two legs of half a minute make one half as long again.
        (12, quick, False),
        (18, quick, True),
    ],
)
def test_a_circle_over_the_fix_is_no_lap_where_laps_have_legs(leg_s: int, turned: Any, apart: bool) -> None:
    each = [*turned(180.0), *straight(leg_s), *turned(180.0), *straight(leg_s)]
    (first, *_) = inbound_passages(view_of(drawn(WAY_IN, [*turned(360.0), *each * 3, *AWAY])))
    assert (first.again is not None) == apart


# What is one lap


@pytest.mark.parametrize(
    ("lasted_s", "away_nm", "one"),
    [(1190.0, 21.0, True), (1210.0, 21.0, False), (1190.0, 23.0, False)],
)
def test_a_lap_lasts_twenty_minutes_and_leads_22_miles_away_at_most(
    lasted_s: float, away_nm: float, one: bool
) -> None:
    view = bare(time_s=np.array([0.0, 0.5 * lasted_s, lasted_s]), away_nm=np.array([0.0, away_nm, 0.0]))
    assert _is_one_lap(view, 0, 2) == one


@pytest.mark.parametrize(
    ("turning_s", "level_s", "turned_deg", "same"),
    [
        (59, 0, 195.0, True),  # back within a minute, not yet round
        (59, 0, 205.0, True),  # all one turn
        (40, 19, 205.0, False),
        (45, 19, 195.0, False),
        (40, 19, 195.0, True),
        (
            120,
            11,
            295.0,
            True,
        ),  # level for no longer than it takes to begin a turn late: six seconds, and five of roll
        (120, 12, 295.0, False),
        (120, 0, 305.0, False),
    ],
)
def test_the_turn_begun_over_the_fix_is_not_round_yet_where_it_meets_the_perpendicular(
    turning_s: int, level_s: int, turned_deg: float, same: bool
) -> None:
    rate = np.array([3.0] * turning_s + [0.0] * level_s)
    view = bare(rate_dps=rate, usual_rate_dps=3.0, turned_deg=lambda a, b: turned_deg)
    assert _is_same_turn(view, 0, rate.size) == same


@pytest.mark.parametrize(("leg_s", "longest_s"), [(50, 155.0), (60, 165.0), (100, 245.0)])
def test_an_entrys_leg_is_no_longer_than_twice_the_laps_and_three_quarters_of_a_minute(
    leg_s: int, longest_s: float
) -> None:
    one = LapPhases(0, 500, TurnRun(0, 60, 180.0), TurnRun(60 + leg_s, 120 + leg_s, 180.0), ())
    assert _longest_leg_s([one]) == longest_s
    assert _longest_leg_s([]) == 155.0


@pytest.mark.parametrize(
    ("off_deg", "level", "across_s"),
    [(52.0, True, 20), (48.0, True, 0), (123.0, True, 20), (127.0, True, 0), (90.0, False, 0)],
)
def test_a_way_back_leads_across_between_50_and_125_degrees_off_the_course(
    off_deg: float, level: bool, across_s: int
) -> None:
    off = np.concatenate([np.full(30, 180.0), np.full(20, off_deg), np.zeros(30)])
    rate = np.where((np.arange(80) >= 30) & (np.arange(80) < 50) & (not level), 2.0, 0.0)
    view = bare(off_deg=off, rate_dps=rate, usual_rate_dps=3.0)
    assert _flew_across_s(view, Passage(0, 0.0), Passage(80, 0.0)) == across_s
    # What was flown so before it led outbound once more says nothing.
    again = bare(
        off_deg=np.concatenate([off[30:50], off[:30], off[50:]]), rate_dps=np.zeros(80), usual_rate_dps=3.0
    )
    assert _flew_across_s(again, Passage(0, 0.0), Passage(80, 0.0)) == 0


@pytest.mark.parametrize(
    ("begins_before_s", "turned_deg", "within"),
    [(150, 0.0, "lap"), (160, 0.0, None), (290, 60.0, "lap"), (310, 60.0, None)],
)
def test_what_is_seen_before_the_first_passage_may_be_the_rest_of_a_lap(
    begins_before_s: int, turned_deg: float, within: str | None
) -> None:
    """A leg of two and a half minutes; of who begins in a turn that was not round again, five minutes."""
    off = np.concatenate([np.linspace(turned_deg, 0.0, 10), np.zeros(400)])
    view = bare(off_deg=off, away_nm=np.linspace(5.0, 0.0, 410), turned_deg=lambda a, b: -turned_deg)
    assert may_begin_within(view, begins_before_s) == within


def test_how_wide_a_direction_swept_is_told_across_its_jump() -> None:
    assert _swept_deg(np.array([170.0, 179.0, -175.0, -160.0])) == pytest.approx(30.0)


@pytest.mark.parametrize(("begins_s", "seen"), [(28, False), (33, True)])
def test_who_arrives_straight_in_is_seen_to_from_half_a_minute_before_the_fix(
    begins_s: int, seen: bool
) -> None:
    (stay,) = stays_at(drawn(straight(begins_s), [*laps(2, 1), *AWAY]), GIVEN)
    assert stay.arrived == seen


@pytest.mark.parametrize(("leg_s", "held"), [(13, 0), (18, 1), (130, 1), (150, 0)])
def test_a_lap_broken_off_alone_led_outbound_for_a_quarter_of_a_minute_and_no_longer_than_a_leg(
    leg_s: int, held: int
) -> None:
    # It leads outbound until it is 45° off: fifteen seconds into the turn away.
    track = drawn(WAY_IN, [*turn(180.0), *straight(leg_s), *turn(-90.0), *straight(200)])
    assert len(stays_at(track, GIVEN)) == held


@pytest.mark.parametrize(("turned_deg", "begun"), [(85.0, 0), (150.0, 1)])
def test_a_turn_outbound_of_more_than_ninety_degrees_begins_a_lap(turned_deg: float, begun: int) -> None:
    # Arriving so far off the course that the turn leads outbound.
    before = [*straight(150), *turn(-(180.0 - turned_deg)), *straight(40)]
    before = [*straight(150), *turn(180.0 - turned_deg), *straight(60)]
    over = drawn(before, [*turn(turned_deg), *straight(60), *turn(-90.0), *straight(100)])
    turned = replace(GIVEN, inbound_course_true_deg=GIVEN.inbound_course_true_deg + turned_deg - 180.0)
    assert len(stays_at(over, turned)) == begun


# Circles and turns of a lap


@pytest.mark.parametrize(("turn_deg", "orbits"), [(300.0, 0), (318.0, 1), (440.0, 1), (660.0, 1), (680.0, 2)])
def test_a_whole_circle_within_a_leg_turns_through_310_degrees_at_least(turn_deg: float, orbits: int) -> None:
    way = [*turn(180.0), *straight(40), *turn(-turn_deg), *straight(200)]
    view = view_of(drawn(WAY_IN, way))
    assert len(_orbits(view, 199, 199 + 60 + 40 + round(turn_deg / 3.0) + 60)) == orbits


@pytest.mark.parametrize(
    ("first_deg", "second_deg", "all_"), [(33.0, 275.0, True), (37.0, 275.0, False), (33.0, 265.0, False)]
)
def test_a_second_turn_of_more_than_270_degrees_is_both(
    first_deg: float, second_deg: float, all_: bool
) -> None:
    view = bare(turned_deg=lambda a, b: first_deg if a == 0 else second_deg)
    assert _is_second_all(view, (0, 10), (50, 150)) == all_


@pytest.mark.parametrize(
    ("off_deg", "late_s", "correction"), [(125.0, 32, True), (125.0, 28, False), (115.0, 32, False)]
)
def test_a_turn_half_a_minute_late_on_the_way_outbound_is_a_correction(
    off_deg: float, late_s: int, correction: bool
) -> None:
    view = bare(off_deg=np.full(200, off_deg))
    assert _is_correction(view, 100 + late_s, 100) == correction


@pytest.mark.parametrize(("turns_deg", "made"), [((180.0, 180.0), 2), ((180.0, 20.0), 1)])
def test_a_lap_with_half_its_second_turn_in_a_hole_is_explained_by_what_is_seen(
    turns_deg: tuple[float, float], made: int
) -> None:
    way = [*turn(turns_deg[0]), *straight(60), *turn(turns_deg[1]), *straight(60)]
    view = view_of(drawn(WAY_IN, [*way, *AWAY]))
    found = explain_lap(view, 199, 199 + len(way), side=1)
    assert sum(one.end > one.start for one in (found.outbound, found.inbound)) == made


# Files that may be wrong


@pytest.mark.parametrize(
    ("turned_deg", "ago_s", "to_it"), [(28.0, 5, True), (32.0, 5, False), (90.0, 16, True), (90.0, 14, False)]
)
def test_a_fix_was_flown_to_where_the_last_quarter_of_a_minute_was_straight(
    turned_deg: float, ago_s: int, to_it: bool
) -> None:
    rate = np.zeros(200)
    rate[100 - ago_s] = turned_deg
    assert _is_flown_to(bare(turned_deg=lambda a, b: float(rate[a:b].sum())), 100) == to_it


@pytest.mark.parametrize(
    ("low_ft", "dip_ft", "ground"), [(240.0, 510.0, True), (260.0, 510.0, False), (240.0, 490.0, False)]
)
def test_laps_that_go_down_near_the_ground_each_time_are_an_aerodromes(
    low_ft: float, dip_ft: float, ground: bool
) -> None:
    time_s = np.arange(0.0, 500.0)
    height = 100.0 + low_ft + dip_ft * np.abs(np.sin(np.pi * time_s / 240.0))
    lat = 47.0 + np.where(time_s < 20.0, 0.0, 0.0005 * (time_s - 20.0))
    on_ground = np.where(time_s < 12.0, 100.0, height)
    track = Track("t", "table", "", time_s, lat, np.full(500, 8.0), {"altitude_ft": on_ground})
    each = [bare(start=20, end=259), bare(start=260, end=499)]
    reading = bare(laps=each, view=bare(survey=bare(altitude_ft=height)))
    assert _goes_to_ground(track, reading) == ground


@pytest.mark.parametrize(("speed_kt", "stands"), [(33.0, True), (37.0, False)])
def test_the_ground_is_where_a_log_begins_at_taxiing_speed(speed_kt: float, stands: bool) -> None:
    time_s = np.arange(0.0, 60.0)
    speed = np.where(time_s < 25.0, speed_kt, 100.0)
    lat = 47.0 + np.cumsum(speed) / 3600.0 / 60.0
    track = Track("t", "table", "", time_s, lat, np.full(60, 8.0), {"altitude_ft": np.full(60, 310.0)})
    assert (ground_ft_of(track) == 310.0) == stands


def flown_beside(off_deg: float, line_deg: float, sd_deg: float, circuits: int) -> Any:
    """Lay down a hold whose laps fit a course so far right, on a line to the fix that lies so far right."""
    back_s = np.arange(100.0, 0.0, -1.0)
    toward = np.radians(25.0 + line_deg)
    one = motion(
        np.full(100, 110.0), time_s=np.arange(100.0), east_nm=-back_s / 36.0 * np.sin(toward),
        north_nm=-back_s / 36.0 * np.cos(toward),
    )  # fmt: skip
    lap_ = bare(complete=True, end_s=99.0, inbound_turn=bare(end_s=20.0))
    return bare(
        inferred=replace(GIVEN, inbound_course_true_deg=25.0 + off_deg), inferred_sd=(0.05, sd_deg),
        circuits=[lap_] * circuits, hold=GIVEN, motion=one,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("off_deg", "line_deg", "sd_deg", "circuits", "doubted"),
    [
        (9.0, 9.0, 1.0, 2, True),
        (-9.0, -9.0, 1.0, 2, True),
        # Five degrees are what a course may be missed by, and three sigmas.
        (7.5, 7.5, 1.0, 2, False),
        (9.0, 9.0, 1.5, 2, False),
        # One lap asks about no file, nor do laps that came to the fix on the file's own line.
        (9.0, 9.0, 1.0, 1, False),
        (9.0, 4.8, 1.0, 2, True),
        (9.0, 4.2, 1.0, 2, False),
        (-9.0, 9.0, 1.0, 2, False),
    ],
)
def test_laps_that_surely_fit_another_course_on_another_line_ask_whether_the_file_is_right(
    off_deg: float, line_deg: float, sd_deg: float, circuits: int, doubted: bool
) -> None:
    flown = flown_beside(off_deg, line_deg, sd_deg, circuits)
    assert _beside_deg(flown) == pytest.approx(np.full(circuits, line_deg), abs=0.05)
    said = _course_in_doubt(flown)
    assert bool(said) == doubted
    if doubted:
        assert f"{abs(off_deg):.0f}° further {'right' if off_deg > 0.0 else 'left'} (±2°)" in said


@pytest.mark.parametrize(
    ("apart_nm", "arrived_nm", "sd_nm", "circuits", "doubted"),
    [
        (0.8, 0.7, 0.1, 2, True),
        (0.7, 0.6, 0.1, 2, False),
        (0.8, 0.7, 0.28, 2, False),
        (0.8, 0.7, 0.1, 1, False),
        # It passed the file's fix nearer than twice as far as the laps'.
        (0.8, 0.56, 0.1, 2, True),
        (0.8, 0.50, 0.1, 2, False),
    ],
)
def test_laps_and_arrival_that_fit_another_fix_ask_whether_the_file_is_right(
    apart_nm: float, arrived_nm: float, sd_nm: float, circuits: int, doubted: bool
) -> None:
    # The file's fix lies south of the laps'; the arrival passes between them, or over the laps', from west to east.
    time_s = np.arange(0.0, 200.0)
    one = motion(
        np.full(200, 110.0), time_s=time_s, east_nm=(time_s - 100.0) / 36.0, north_nm=np.full(200, arrived_nm)
    )
    north = replace(GIVEN, fix_lat_deg=FIX[0] + apart_nm / 59.99)
    flown = bare(
        inferred=north, inferred_sd=(sd_nm, 1.0), entry=bare(fix_s=100.0), hold=GIVEN, motion=one,
        circuits=[bare(complete=True)] * circuits,
    )  # fmt: skip
    said = _fix_in_doubt(flown)
    assert bool(said) == doubted
    assert not doubted or f"(±{2.0 * sd_nm:.1f}) away, bearing 360° true" in said


def reading_at(miss_nm: tuple[float, ...], off_deg: float, *, other_hand: bool = False) -> GivenReading:
    """Lay down laps that met a fix so near, each on a way so far off the course."""
    passages = tuple(Passage(10 + 240 * k, miss) for k, miss in enumerate(miss_nm))
    one = LapPhases(0, 0, TurnRun(0, 1, 180.0), TurnRun(1, 2, 180.0), ())
    view = bare(
        off_deg=np.full(2000, off_deg), time_s=np.arange(2000.0), hold=bare(side=-1 if other_hand else 1)
    )
    return GivenReading(view, 1, passages[0], True, None, (one,) * (len(miss_nm) - 1), passages, None)


def test_what_speaks_for_a_given_hold_is_its_laps_how_near_they_met_it_its_course_and_its_hand() -> None:
    assert reading_at((0.0, 0.0, 0.0), 0.0).evidence == pytest.approx(2.0 + 3.0)
    # A passage four tenths of a mile beside the fix counts half, and twenty degrees off the course cost a point.
    assert reading_at((0.0, 0.4, 0.4), 0.0).evidence == pytest.approx(2.0 + 2.0)
    assert reading_at((0.0, 0.8, 0.0), 0.0).evidence == pytest.approx(2.0 + 2.2)
    assert reading_at((0.0, 0.0, 0.0), 20.0).evidence == pytest.approx(4.0)
    assert reading_at((0.0, 0.0, 0.0), 0.0, other_hand=True).evidence == pytest.approx(3.5)


@pytest.mark.parametrize(("behind", "alike"), [(0.35, True), (0.45, False)])
def test_a_hold_within_four_tenths_of_a_point_of_the_best_fits_as_well(behind: float, alike: bool) -> None:
    def stay(evidence: float) -> Any:
        return bare(evidence=evidence, start_s=0.0, end_s=900.0, view=bare(hold=GIVEN))

    kept, others = best_stays([stay(4.0 - behind), stay(4.0)])
    assert [one.evidence for one in kept] == [4.0]
    assert bool(others) == alike


# Turns found in a flight


@pytest.mark.parametrize(
    ("degrees", "whole"), [(305.0, False), (315.0, True), (-405.0, True), (415.0, False)]
)
def test_a_whole_circle_is_one_give_or_take_fifty_degrees(degrees: float, whole: bool) -> None:
    run = TurnRun(10, 10 + round(abs(degrees) / 3.0), degrees)
    assert is_whole_circle(run) == whole
    flown = survey([*straight(10), *turn(degrees), *straight(10)])
    halved = circles_halved(flown, [run])
    assert len(halved) == (2 if whole else 1)
    if whole:
        assert all(one.half and one.change_deg == 0.5 * degrees for one in halved)
        assert halved[0].end == halved[1].start == pytest.approx(10 + abs(degrees) / 6.0, abs=1.0)


@pytest.mark.parametrize(("degrees", "runs"), [(32.0, 0), (38.0, 1)])
def test_less_than_35_degrees_are_a_correction_and_no_turn(degrees: float, runs: int) -> None:
    found = turn_runs(survey([*straight(100), *turn(degrees), *straight(100)]), 3.0)
    assert len(found) == runs


@pytest.mark.parametrize(("rate_dps", "runs"), [(0.5, 0), (0.62, 1)])
def test_turning_by_half_a_degree_a_second_is_the_wander_of_a_leg(rate_dps: float, runs: int) -> None:
    slow = [rate_dps] * 150
    assert len(turn_runs(survey([*straight(150), *slow, *straight(150)]), 3.0)) == runs


@pytest.mark.parametrize(("level_s", "runs"), [(8, 1), (24, 2)])
def test_turning_with_a_short_pause_is_one_turn(level_s: int, runs: int) -> None:
    way = [*straight(100), *turn(90.0), *straight(level_s), *turn(90.0), *straight(100)]
    assert len(turn_runs(survey(way), 3.0)) == runs


# Loops, ways back, logs that end


@pytest.mark.parametrize(("leg_s", "found"), [(380, 1), (460, 0)])
def test_once_round_takes_a_quarter_of_an_hour_at_most(leg_s: int, found: int) -> None:
    way = [*straight(30), *turn(180.0), *straight(leg_s), *turn(180.0), *straight(leg_s + 60)]
    assert len(loops(survey(way), scale_s=3.0)) == found


@pytest.mark.parametrize(("beside_nm", "found"), [(0.1, 1), (0.25, 0)])
def test_a_way_that_one_turn_leads_back_over_a_place_is_one(beside_nm: float, found: int) -> None:
    # Two minutes out, aside, and back at an angle that leads over the way out, or past its beginning.
    width_nm = 2.0 * 0.03 / np.radians(3.0)
    back_deg = float(np.degrees(np.arctan2(width_nm - beside_nm, 0.03 * 179.0)))
    way = survey([*straight(190), *turn(180.0 + back_deg), *straight(178)])
    assert len(turns_back(way)) == found


@pytest.mark.parametrize(("drop_ft", "found"), [(880.0, 1), (920.0, 0)])
def test_a_way_back_is_flown_level(drop_ft: float, found: int) -> None:
    way = survey([*straight(190), *turn(200.0), *straight(178)])
    sinking = replace(way, altitude_ft=np.interp(way.time_s, [180.0, 210.0], [5000.0, 5000.0 - drop_ft]))
    assert len(turns_back(sinking)) == found


@pytest.mark.parametrize(
    ("dip_ft", "back_ft", "down"), [(920.0, 240.0, True), (880.0, 240.0, False), (920.0, 260.0, False)]
)
def test_laps_that_go_down_and_up_again_each_time_are_an_aerodromes_or_an_approachs(
    dip_ft: float, back_ft: float, down: bool
) -> None:
    half = np.linspace(0.0, dip_ft, 100)
    height = np.concatenate([4000.0 - half, 4000.0 - dip_ft + np.linspace(0.0, dip_ft - back_ft, 100)])
    loop = Loop(0, 199, 0.0, 1, 1, 0.1, 0.5, 3.0)
    assert _dips(bare(altitude_ft=height), loop) == down


@pytest.mark.parametrize(("others", "doubted"), [(2, 0), (3, 1)])
def test_a_lone_lap_among_three_other_places_is_doubted(others: int, doubted: int) -> None:
    turn_ = bare(heading_change_deg=180.0)
    lone = bare(
        given=False, circuits=[bare(outbound_turn=turn_, inbound_turn=turn_)], start_s=0.0, end_s=240.0,
        hold=bare(side=1, turns="right", fix_lat_deg=47.0, fix_lon_deg=8.0, inbound_course_true_deg=0.0),
    )  # fmt: skip
    holds, perhaps = lone_in_doubt((lone,), others)
    assert (len(holds), len(perhaps)) == (1 - doubted, doubted)


@pytest.mark.parametrize(("left_s", "said"), [(135, 1), (146, 0)])
def test_a_log_that_ends_within_a_leg_and_a_half_of_its_first_turn_is_said_to_end_too_soon(
    left_s: int, said: int
) -> None:
    assert len(log_ends_reason(drawn(straight(150), [*turn(180.0), *straight(left_s)]))) == said


def test_of_the_flight_around_a_racetrack_eight_minutes_are_looked_at_and_no_other_hold() -> None:
    assert _free_span_s((1000.0, 2000.0), []) == (520.0, 2480.0)
    assert _free_span_s((1000.0, 2000.0), [(100.0, 700.0), (2300.0, 3000.0)]) == (700.0, 2300.0)
    assert _free_span_s((1000.0, 2000.0), [(100.0, 400.0), (2600.0, 3000.0)]) == (520.0, 2480.0)


# How a racetrack is arrived at


def arriving(way_in: list[float], late: int = 0) -> tuple[Any, Any]:
    """Fly to the first turn of a lap by some way, which ends over its fix heading north."""
    start = len(way_in)
    flown = survey(
        [*way_in, *turn(180.0), *straight(60), *turn(180.0), *straight(60)], from_deg=-float(sum(way_in))
    )
    first = RacetrackLap(
        TurnRun(start, start + 60, 180.0), TurnRun(start + 120, start + 180, 180.0),
        np.array([flown.east_m[start], flown.north_m[start]]), 0.0, 0.05, start + 240,
    )  # fmt: skip
    _, made = racetrack(ONE)
    return flown, replace(made, laps=(first,), fix_m=first.fix_m, course_deg=0.0)


@pytest.mark.parametrize(
    ("off_deg", "fits"),
    [(0.0, True), (85.0, True), (-95.0, False), (125.0, True), (135.0, False), (180.0, False)],
)
def test_joined_directly_is_from_the_direct_sector_with_a_margin_for_drift(
    off_deg: float, fits: bool
) -> None:
    """So far to the right of the course it arrives, seen from a right-hand hold."""
    flown, one = arriving(straight(100))
    turned = replace(one, course_deg=-off_deg % 360.0)
    assert fits_entry(flown, turned) == fits
    assert _arrival(flown, turned) == (0.8 if fits else -0.4)


@pytest.mark.parametrize(("begun_s", "points"), [(18, 0.0), (22, 0.8)])
def test_nothing_is_said_of_an_arrival_that_the_log_has_less_than_a_third_of_a_minute_of(
    begun_s: int, points: float
) -> None:
    assert _arrival(*arriving(straight(begun_s))) == points


@pytest.mark.parametrize(
    ("lean_deg", "away_s", "fits"),
    [(0.0, 60, True), (55.0, 60, True), (65.0, 60, False), (0.0, 239, True), (0.0, 265, False)],
)
def test_a_parallel_entry_passed_the_fix_flew_out_and_turned_back_the_other_way(
    lean_deg: float, away_s: int, fits: bool
) -> None:
    # Over the fix on the reciprocal, or so far off it, a leg, half a circle to the left, and in again.
    flown, one = arriving([*straight(100), *straight(away_s), *turn(-180.0), *straight(away_s)])
    back = TurnRun(100 + away_s, 160 + away_s, -180.0)
    out = np.array([flown.east_m[100], flown.north_m[100]])
    turned = replace(one, fix_m=out, course_deg=(0.0 - lean_deg) % 360.0, turned_back=back)
    assert _fits_parallel(flown, turned) == fits
    assert not fits or _arrival(flown, turned) == 2.2
    beside = replace(turned, fix_m=out + np.array([0.65 * NM, 0.0]))
    near = replace(turned, fix_m=out + np.array([0.55 * NM, 0.0]))
    assert _fits_parallel(flown, near) == fits and not _fits_parallel(flown, beside)


def test_laps_speak_for_their_fix_the_more_the_nearer_they_come_back() -> None:
    """1.6 points each; three quarters of them go with how near, half of that at 0.3 of the tolerance of a mile."""
    flown, made = racetrack(TWO)

    def laps_points(miss_nm: float) -> float:
        return reasons_for(flown, marched(made, (0.0, 0.0), miss_nm)).laps

    assert laps_points(0.0) == pytest.approx(3.2)
    assert laps_points(0.3) == pytest.approx(3.2 * 0.625)
    assert laps_points(0.6) == pytest.approx(3.2 * (0.25 + 0.75 / 5.0))
    assert reasons_for(flown, marched(made, (0.0, 0.0), 0.25)).misses == pytest.approx(-0.75)
    assert reasons_for(flown, marched(made, (0.0, 0.0), 2.0)).misses == pytest.approx(-2.4)
    # Two fixes half a mile apart lie a quarter of a mile from their middle.
    assert reasons_for(flown, marched(made, (0.0, 0.5), 0.0)).scatter == pytest.approx(-0.5)


# Turns in a log with holes, rolls


def test_who_did_not_see_a_turns_end_knows_it_to_six_seconds_or_a_seventh_of_the_hole() -> None:
    def doubted(hole: slice, end_s: float = 160.0) -> Turn:
        lost = np.zeros(400, dtype=bool)
        lost[hole] = True
        return _doubted_by_holes(motion(np.full(400, 110.0), in_hole=lost), replace(a_turn(), end_s=end_s))

    assert doubted(slice(300, 320)) == a_turn()
    near = doubted(slice(155, 175))
    assert (near.start_sd_s, near.end_sd_s) == (0.5, 6.0)
    far = doubted(slice(155, 255))
    assert far.end_sd_s == pytest.approx(0.15 * 100.0)
    # So near beside it that it may as well lie in it.
    assert doubted(slice(166, 266)).end_sd_s == pytest.approx(15.0)
    assert doubted(slice(168, 268)) == a_turn()
    # A tenth of the turn was not seen: three tenths of that share of 18° of bank.
    assert near.bank_mean_sd_deg == pytest.approx(np.hypot(0.2, 0.3 * 18.0 * 6.0 / 61.0), rel=0.01)


@pytest.mark.parametrize(("seen_deg", "lacking_s"), [(155.0, 0.0), (120.0, 10.0)])
def test_between_chords_what_a_turn_lacks_of_half_a_circle_was_flown_unseen(
    seen_deg: float, lacking_s: float
) -> None:
    one = replace(a_turn(), heading_change_deg=seen_deg)
    assert _doubted(one).end_sd_s == pytest.approx(np.hypot(0.5, lacking_s))
    # At its own rate, but no slower than half a degree a second.
    slow = replace(one, rate_mean_dps=0.2)
    assert _doubted(slow).start_sd_s == pytest.approx(np.hypot(0.5, 6.0 * lacking_s))


@pytest.mark.parametrize(
    ("before_s", "off_deg", "degrees", "cut"),
    [
        (9.0, 25.0, 210.0, True),
        (7.0, 25.0, 210.0, False),
        (9.0, 18.0, 210.0, False),
        (9.0, 25.0, 200.0, False),
    ],
)
def test_a_turn_that_was_still_meeting_the_course_at_the_fix_begins_there(
    before_s: float, off_deg: float, degrees: float, cut: bool
) -> None:
    one = motion(
        np.full(300, 110.0), ground_east_kt=np.full(300, 110.0 * np.sin(np.radians(off_deg))),
        ground_north_kt=np.full(300, 110.0 * np.cos(np.radians(off_deg))),
    )  # fmt: skip
    turned = replace(a_turn(), heading_change_deg=degrees)
    found = _from_fix(one, turned, 100.0 + before_s, 0.0)
    assert found.start_s == (100.0 + before_s if cut else 100.0)


@pytest.mark.parametrize("roll_s", [2.0, 5.0, 8.0])
def test_a_turn_begins_where_its_bank_passes_two_degrees_however_it_is_rolled(roll_s: float) -> None:
    """From level at 20.0 s to 24° evenly: two degrees are a twelfth of the roll. Seen without any smoothing."""
    time_s = np.arange(0.0, 120.0)
    bank = 24.0 * np.clip((time_s - 20.0) / roll_s, 0.0, 1.0) * np.clip((90.0 - time_s) / roll_s, 0.0, 1.0)
    seen = RollResponse(np.array([0.0, 20.0]), np.array([0.0, 10.0]))
    on = np.flatnonzero(bank > 8.0)
    begun = _edge(time_s, bank, int(on[0]), int(on[-1]), seen, forward=True)
    ended = _edge(time_s, bank, int(on[0]), int(on[-1]), seen, forward=False)
    assert begun.instant_s == pytest.approx(20.0 + roll_s / 12.0, abs=0.3)
    assert ended.instant_s == pytest.approx(90.0 - roll_s / 12.0, abs=0.3)
    assert begun.roll_s == pytest.approx(roll_s, rel=0.12)
    assert begun.sd_s == 0.35
    # The bank's own crossing of half of it lies in the middle of the roll.
    assert _crossing(time_s, bank, int(on[0]), 1, 12.0) == pytest.approx(20.0 + 0.5 * roll_s, abs=0.1)


@pytest.mark.parametrize(
    ("first_deg", "pause_s", "toward_deg", "pieces"),
    [
        (120.0, 24, 200.0, 2),  # not round yet, and soon enough after it
        (120.0, 26, 200.0, 1),
        (130.0, 3, 200.0, 2),  # most of a half circle: level for a moment only
        (130.0, 6, 200.0, 1),
        (120.0, 10, 165.0, 1),  # within 50° of its leg it has ended
        (120.0, 10, 175.0, 2),
    ],
)
def test_pieces_are_one_turn_until_it_has_come_round_to_its_leg(
    first_deg: float, pause_s: int, toward_deg: float, pieces: int
) -> None:
    rates = [*turn(first_deg), *straight(pause_s), *turn(60.0), *straight(50)]
    heading = np.cumsum(rates)
    first, second = round(first_deg / 3.0), 20
    spans = [(0, first), (first + pause_s, first + pause_s + second)]
    assert len(_one_turn(spans, heading, toward_deg)) == pieces


# Where the fix lies


def test_an_arrival_over_the_laps_own_fix_agrees_with_it_and_one_far_beside_it_says_nothing() -> None:
    """Nine in ten arrive over the fix, to 0.02 NM; three in ten laps are set aside, by half a mile; else 1.5 NM."""
    square, known = np.array([0.0, 1.0]), np.diag([0.05**2, 0.03**2])

    def normal(off: float, variance: float) -> float:
        return float(np.exp(-0.5 * off**2 / variance) / np.sqrt(2.0 * np.pi * variance))

    for apart in (0.0, 0.05, 0.2, 0.6, 2.0):
        doubt, by, aside = 0.03**2, 0.02**2, 0.5**2
        chances = np.array([
            0.9 * 0.7 * normal(apart, doubt + by), 0.9 * 0.3 * normal(apart, doubt + aside + by),
            0.1 * normal(apart, 1.5**2),
        ])  # fmt: skip
        chances /= chances.sum()
        shift, _, chance = with_arrival(apart, square, known)
        assert chance == pytest.approx(chances[1])
        own = chances[0] * doubt / (doubt + by) + chances[1] * (1.0 - by / (doubt + aside + by))
        assert shift == pytest.approx([0.0, apart * own])


@pytest.mark.parametrize(("ago_s", "seen"), [(410.0, True), (430.0, False)])
def test_an_arrival_is_looked_for_over_seven_minutes(ago_s: float, seen: bool) -> None:
    time_s = np.arange(0.0, 600.0)
    # Over the fix once, and then away from it for good, half a mile in seven minutes.
    north = np.where(time_s < 550.0 - ago_s, 0.0, 3.0)
    east = np.where(time_s == 550.0 - ago_s - 1.0, 0.06, 4.0)
    one = motion(np.full(600, 110.0), time_s=time_s, east_nm=east, north_nm=north)
    met: Any = bare(course_deg=0.0)
    found = _arrival_way(one, 550.0, met, np.zeros(2))
    assert found is not None
    assert (found[0] == pytest.approx(0.06)) == seen


def late_turns(begun_s: tuple[float, ...]) -> tuple[float, float]:
    """Tell where the fix lies by summing over kinds of pilot, on a grid of its own (a closed form there is none)."""
    fix = np.arange(min(begun_s) - 30.0, max(begun_s) + 5.0, 0.25)
    late = np.arange(0.125, 30.0, 0.25)
    total = np.zeros(fix.size)
    for mean in (0.5, 1.0, 2.0, 4.0, 8.0, 16.0):
        for shape in (1.0, 3.0, 10.0):
            density = late ** (shape - 1.0) * np.exp(-late * shape / mean)
            density /= density.sum()
            each = np.full(fix.size, np.exp(-0.5 * (np.log(mean / 1.5) / np.log(2.7)) ** 2))
            for at in begun_s:
                off = at - fix
                seen = (
                    np.exp(-0.5 * ((off[:, None] - late) / 1.2) ** 2) / (1.2 * np.sqrt(2.0 * np.pi)) @ density
                )
                each = each * (seen + np.where(off > 0.0, 0.1, 0.02) / 60.0)
            total += each
    total /= total.sum()
    middle = float(np.interp(0.5, np.cumsum(total) - 0.5 * total, fix))
    order = np.argsort(np.abs(fix - middle))
    return middle, 0.5 * float(np.interp(0.954, np.cumsum(total[order]), np.abs(fix - middle)[order]))


@pytest.mark.parametrize("begun_s", [(0.0, 1.0, 3.0), (5.0, 5.5, 4.8), (0.0, 12.0, 1.0), (0.0, 25.0)])
def test_the_fix_lies_where_all_kinds_of_pilot_together_may_have_seen_it_pass(
    begun_s: tuple[float, ...],
) -> None:
    """Turns begin a second and a half late, give or take a factor of 2.7; one in ten for another reason, later."""
    found = fix_along(np.array(begun_s), np.full(len(begun_s), 1.2))
    assert found == pytest.approx(late_turns(begun_s), abs=0.25)


@pytest.mark.parametrize(("before_s", "seen"), [(40, True), (58, False)])
def test_heights_are_looked_at_for_three_quarters_of_a_minute_before_the_laps_and_after(
    before_s: int, seen: bool
) -> None:
    flown, made = racetrack(TWO)
    first, last = made.laps[0].outbound.start - before_s, made.laps[-1].passage + before_s
    height = np.interp(flown.time_s, [first, first + 8, last - 8, last], [2500.0, 4000.0, 4000.0, 2500.0])
    assert ("goes-down-and-up" in codes(replace(flown, altitude_ft=height), made)) == seen
