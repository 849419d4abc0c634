"""What decides how a given hold cuts a flight: each limit, just inside it and just outside.

Flights are drawn by hand in still air, or only what is asked of them is laid down. What the limits are stands here in
words of the trade, not read from the table.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations_with_replacement, pairwise
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from analyser.circuits.fix_passages import Passage, _passage, inbound_passages
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
from analyser.circuits.laps_and_entries import (
    LapPhases,
    _best,
    _is_correction,
    _is_second_all,
    _orbits,
    explain_lap,
)
from analyser.circuits.racetrack import TurnRun
from analyser.logs.track import Track
from analyser.motion.survey import survey_flight
from tests.drawn_flights import FIX, drawn, laps, straight, turn
from tests.test_circuits_cutting import view_of
from tests.test_circuits_given import AWAY, GIVEN, WAY_IN, found, moved
from tests.test_motion_speeds import motion

NM = 1852.0


def bare(**known: Any) -> Any:
    """Lay down only what is asked of something."""
    return SimpleNamespace(**known)


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
    hold = bare(side=-1 if other_hand else 1)
    view = bare(met_deg=lambda _: off_deg, time_s=np.arange(2000.0), hold=hold)
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


def fit_of_seconds(rate: float, off_deg: float, arriving: int = 0) -> float:
    """Explain ten like seconds of a lap whose turns are to the right and to the left."""
    return _best(np.full(10, rate), np.full(10, off_deg), np.ones(10), (1, -1), arriving)[0]


def test_a_turn_that_has_passed_the_outbound_direction_by_more_than_35_degrees_is_hardly_the_outbound_one() -> (
    None
):
    assert fit_of_seconds(1.0, 180.0 - 34.0) == fit_of_seconds(1.0, 180.0 + 33.0) == 15.0
    assert fit_of_seconds(1.0, -180.0 + 37.0) == pytest.approx(10.0)
    # Nor is one to the left that has not come so near to it the inbound one.
    assert fit_of_seconds(-1.0, -180.0 + 33.0) == 15.0
    assert fit_of_seconds(-1.0, -180.0 + 37.0) == pytest.approx(10.0)


def test_a_second_of_a_leg_that_leads_more_than_80_degrees_aside_speaks_against_it() -> None:
    assert [fit_of_seconds(0.0, off) for off in (79.0, 101.0, -79.0, 0.0, 180.0)] == [0.0] * 5
    assert [fit_of_seconds(0.0, off) for off in (81.0, 99.0, -90.0)] == pytest.approx([-4.0] * 3)
    # Who arrives may come from anywhere, so long.
    assert fit_of_seconds(0.0, 90.0, 4) == pytest.approx(-2.4)


@pytest.mark.parametrize("hands", [(1, 1), (1, -1), (-1, 1), (-1, -1)])
def test_of_all_edges_of_two_turns_those_are_taken_that_explain_a_lap_best(hands: tuple[int, int]) -> None:
    random = np.random.default_rng(3)
    for seconds, arriving in ((9, 0), (9, 3), (7, 7)):
        rate, off = random.uniform(-1.3, 1.3, seconds), random.uniform(-180.0, 180.0, seconds)
        free = random.choice([0.5, 1.0], seconds)
        out = (off - 180.0 + 180.0) % 360.0 - 180.0
        turn_, back = (np.clip((hand * rate - 0.4) / 0.25, -1.5, 1.5) for hand in hands)
        first, last = hands[0] * out, hands[1] * out
        turn_ = turn_ - 0.5 * ((first > 35.0) & (first < 150.0))
        back = back - 0.5 * ((last < -35.0) & (last > -150.0))
        inbound, outbound = -0.4 * (np.abs(off) > 80.0), -0.4 * (np.abs(out) > 80.0)
        arrived = np.where(np.arange(seconds) < arriving, 0.0, inbound)
        phases = np.array([arrived, turn_, outbound, back, inbound]) * free

        def explained(edges: tuple[int, ...], phases: np.ndarray = phases) -> float:
            bounds = pairwise((0, *edges, phases.shape[1]))
            return float(sum(phase[a:b].sum() for phase, (a, b) in zip(phases, bounds, strict=True)))

        told, edges = _best(rate, off, free, hands, arriving)
        choices = combinations_with_replacement(range(seconds + 1), 4)
        assert told == pytest.approx(max(explained(one) for one in choices))
        assert explained(edges) == pytest.approx(told)


@pytest.mark.parametrize(("late_s", "begun"), [(57, 1), (66, 0)])
def test_a_lap_is_begun_within_a_minute_of_the_fix(late_s: int, begun: int) -> None:
    away = [*straight(late_s), *turn(180.0), *straight(40), *turn(-90.0), *straight(100)]
    assert len(stays_at(drawn(WAY_IN, away), GIVEN)) == begun


def test_an_entrys_leg_is_flown_from_its_own_turn_at_the_fix_to_its_turn_back() -> None:
    """Thirty degrees to the outbound course, a minute, 220° back the other way; then a course met at 40°."""
    way = [
        *straight(120),
        *turn(-30.0),
        *straight(60),
        *turn(-220.0),
        *straight(33),
        *turn(40.0),
        *straight(21),
    ]
    entry = found([*laps(2, 1), *AWAY], way).holds[0].entry
    assert entry is not None and entry.leg is not None
    assert (entry.flown, len(entry.turns)) == ("parallel", 2)
    assert (entry.leg.start_s, entry.leg.end_s) == pytest.approx((129.0, 189.0), abs=1.5)
    assert (entry.leg.heading_deg, entry.leg.track_deg) == pytest.approx((205.0, 205.0), abs=0.5)
    assert entry.arrival_heading_deg == pytest.approx(235.0, abs=1.0)
    assert entry.turns[0].heading_change_deg == pytest.approx(-30.0, abs=2.0)
    assert entry.end_s == pytest.approx(len(way) - 1.0, abs=1.0)


@pytest.mark.parametrize(
    ("east", "north", "bearing"), [(1.0, 0.0, "090"), (-1.0, 0.0, "270"), (0.0, -1.0, "180")]
)
def test_the_fix_that_laps_fit_is_told_by_its_bearing_from_the_files(
    east: float, north: float, bearing: str
) -> None:
    time_s = np.arange(0.0, 200.0)
    along = (time_s - 100.0) / 36.0
    # The arrival leads across the line between the two fixes, over the laps'.
    one = motion(
        np.full(200, 110.0),
        time_s=time_s,
        east_nm=2.0 * east + north * along,
        north_nm=2.0 * north + east * along,
    )
    shift = replace(
        GIVEN, fix_lat_deg=FIX[0] + 2.0 * north / 60.0,
        fix_lon_deg=FIX[1] + 2.0 * east / 60.0 / np.cos(np.radians(FIX[0])),
    )  # fmt: skip
    flown: Any = bare(
        inferred=shift, inferred_sd=(0.1, 1.0), entry=bare(fix_s=100.0), hold=GIVEN, motion=one,
        circuits=[bare(complete=True)] * 2,
    )  # fmt: skip
    assert f"fit a fix 2.0 NM (±0.2) away, bearing {bearing}° true" in _fix_in_doubt(flown)
