"""What decides that a hold is found where none was given: each limit, just inside it and just outside.

Flights are drawn by hand in still air, or only what is asked of them is laid down. What the limits are stands here in
words of the trade, not read from the table.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from analyser.circuits.evidence import _arrival, _fits_parallel, fits_entry, reasons_for, turned_back
from analyser.circuits.find import (
    _dips,
    _free_span_s,
    _possible_loops,
    _possible_racetracks,
    _without_overlap,
    log_ends_reason,
    lone_in_doubt,
)
from analyser.circuits.flown import Objection
from analyser.circuits.loops import Loop, loops, turns_back
from analyser.circuits.racetrack import RacetrackLap, TurnRun, circles_halved, is_whole_circle, turn_runs
from analyser.motion.survey import survey_flight
from tests.drawn_flights import drawn, straight, turn
from tests.test_circuits_given_borders import bare
from tests.test_circuits_laps import survey
from tests.test_circuits_rules import ONE, TWO, codes, first_turned, missing, racetrack
from tests.test_circuits_rules import moved as marched

NM = 1852.0


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


@pytest.mark.parametrize(("off_deg", "found"), [(60.0, 1), (70.0, 0)])
def test_a_way_back_leads_back_within_sixty_five_degrees(off_deg: float, found: int) -> None:
    """An offset entry leads off by 30°, and as much again may be drift; what leads off by more only crosses the way."""
    assert len(turns_back(survey([*straight(190), *turn(180.0 + off_deg), *straight(100)]))) == found


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


@pytest.mark.parametrize(
    ("overlap_s", "given", "kept"), [(10.0, 0, "ab"), (14.0, 0, "a"), (14.0, 1, "b"), (10.0, 1, "ab")]
)
def test_holds_that_overlap_by_no_more_than_a_passage_are_two_and_of_others_a_given_one_is_kept(
    overlap_s: float, given: int, kept: str
) -> None:
    a = bare(name="a", given=False, start_s=0.0, end_s=1000.0)
    b = bare(name="b", given=bool(given), start_s=1000.0 - overlap_s, end_s=2000.0)
    for found in ([a, b], [b, a]):
        assert "".join(one.name for one in _without_overlap(found)) == kept


def possible(*found: Loop, taken_s: tuple[tuple[float, float], ...] = ()) -> tuple[list[float], list[str]]:
    """Say of loops in a level flight which may have been holds, by their beginnings, and what was dropped of them."""
    track = drawn(straight(3000), [])
    taken: list[Any] = [bare(start_s=a, end_s=b) for a, b in taken_s]
    flown = survey_flight(track)[0]
    may_be, dropped = _possible_loops(track, [(flown, one) for one in found], taken)
    return sorted(one.start_s for one in may_be), sorted(one.code for one in dropped)


def test_loops_are_spoken_of_where_nothing_else_is_and_circles_where_they_are_all_and_few() -> None:
    legged = Loop(100, 400, 0.0, 1, 1, 0.1, 0.5, 3.0)
    # A hundred seconds round, with no leg; a thermal where it turns by three times as much as once round.
    circles = [Loop(start, start + 100, 0.0, 1, 1, 0.1, 0.0, 3.5) for start in (600, 800, 1000)]
    assert possible(legged) == ([100.0], [])
    assert possible(legged, taken_s=((400.0, 500.0),)) == ([100.0], [])
    assert (
        possible(legged, taken_s=((399.0, 500.0),)) == possible(legged, taken_s=((0.0, 101.0),)) == ([], [])
    )
    assert possible(*circles[:2]) == ([600.0, 800.0], [])
    assert possible(*circles) == ([], ["circles"] * 3)
    assert possible(legged, *circles[:1]) == ([100.0], ["circles"])
    assert possible(*circles[:1], taken_s=((2000.0, 2400.0),)) == ([], ["circles"])
    thermal = replace(circles[0], end=640, rate_dps=12.0)
    assert thermal.is_thermal and possible(thermal) == ([], ["circles"])


@pytest.mark.parametrize(("share", "laps", "perhaps"), [(0.45, 1, 1), (0.55, 1, 0), (0.55, 2, 1)])
def test_a_lone_lap_of_which_more_than_half_is_known_to_be_something_else_is_that(
    share: float, laps: int, perhaps: int
) -> None:
    flown, made = racetrack(ONE if laps == 1 else TWO)
    track = drawn(straight(int(flown.time_s[-1]) + 10), [])
    lasts = made.end - made.start
    begun = made.end - round(share * lasts)
    other = replace(made, laps=(replace(made.laps[0], outbound=replace(made.laps[0].outbound, start=begun)),))
    known = replace(other, objection=Objection("survey-lines", "it is something else", certain=True))
    doubt = replace(made, objection=Objection("no-lap-cut", "it is doubtful"))
    assert len(_possible_racetracks(track, flown, [known, doubt])) == perhaps
    assert len(_possible_racetracks(track, flown, [doubt, doubt])) == 1


def test_of_the_flight_around_a_racetrack_eight_minutes_are_looked_at_and_no_other_hold() -> None:
    assert _free_span_s((1000.0, 2000.0), []) == (520.0, 2480.0)
    assert _free_span_s((1000.0, 2000.0), [(100.0, 700.0), (2300.0, 3000.0)]) == (700.0, 2300.0)
    assert _free_span_s((1000.0, 2000.0), [(100.0, 400.0), (2600.0, 3000.0)]) == (520.0, 2480.0)


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


@pytest.mark.parametrize(("before_s", "seen"), [(40, True), (58, False)])
def test_heights_are_looked_at_for_three_quarters_of_a_minute_before_the_laps_and_after(
    before_s: int, seen: bool
) -> None:
    flown, made = racetrack(TWO)
    first, last = made.laps[0].outbound.start - before_s, made.laps[-1].passage + before_s
    height = np.interp(flown.time_s, [first, first + 8, last - 8, last], [2500.0, 4000.0, 4000.0, 2500.0])
    assert ("goes-down-and-up" in codes(replace(flown, altitude_ft=height), made)) == seen


@pytest.mark.parametrize(("step_nm", "no_fix"), [(0.77, False), (0.83, True)])
def test_of_three_laps_the_one_step_that_is_known_has_to_be_longer(step_nm: float, no_fix: bool) -> None:
    flown, made = racetrack([(60, 60)] * 3)
    assert ("no-fix" in codes(flown, marched(made, (0.0, step_nm), 0.05))) == no_fix


@pytest.mark.parametrize(("unlike_nm", "no_fix"), [(0.27, True), (0.33, False)])
def test_fixes_that_march_on_do_so_by_like_steps(unlike_nm: float, no_fix: bool) -> None:
    flown, made = racetrack(TWO * 2)
    places = np.cumsum([0.0, 0.6, 0.6 + unlike_nm, 0.6 - unlike_nm])
    each = [
        replace(one, fix_m=np.array([0.0, at]) * NM, miss_nm=0.05)
        for one, at in zip(made.laps, places, strict=True)
    ]
    assert ("no-fix" in codes(flown, replace(made, laps=tuple(each)))) == no_fix


@pytest.mark.parametrize(
    ("miss_nm", "leg_s", "said"),
    [
        (0.19, 60, False),
        (0.21, 60, True),
        (0.19, 13, False),
        (0.19, 11, True),
        (0.19, 148, False),
        (0.19, 152, True),
    ],
)
def test_without_heights_a_lone_lap_that_began_with_less_than_half_a_circle_comes_back_all_the_nearer(
    miss_nm: float, leg_s: int, said: bool
) -> None:
    flown, made = racetrack([(leg_s, leg_s)])
    blind = replace(flown, altitude_ft=np.full(flown.time_s.size, np.nan))
    assert ("lone-lap-merged" in codes(blind, first_turned(missing(made, miss_nm), 95.0))) == said


@pytest.mark.parametrize(("climb_ft", "said"), [(340.0, False), (360.0, True)])
def test_a_lone_lap_that_began_with_less_than_half_a_circle_is_level(climb_ft: float, said: bool) -> None:
    flown, made = racetrack(ONE)
    inside = flown.time_s[made.start], flown.time_s[made.end]
    climbing = replace(flown, altitude_ft=np.interp(flown.time_s, inside, [4000.0, 4000.0 + climb_ft]))
    assert ("lone-lap-merged" in codes(climbing, first_turned(missing(made, 0.25), 95.0))) == said


@pytest.mark.parametrize(("ago_s", "back"), [(235, True), (245, False)])
def test_a_parallel_entrys_turn_back_ends_four_minutes_before_the_first_lap_at_most(
    ago_s: int, back: bool
) -> None:
    _, made = racetrack(ONE)
    one = replace(made, laps=(replace(made.laps[0], outbound=TurnRun(1000, 1060, 180.0)),))
    turned = TurnRun(1005 - ago_s - 60, 1005 - ago_s, -180.0)
    assert (turned_back(one, [turned]) is not None) == back
    # Of the other hand, and no lesser turn than half a circle, give or take drift.
    assert turned_back(one, [replace(turned, change_deg=180.0)]) is None
    assert turned_back(one, [replace(turned, change_deg=-95.0)]) is None


@pytest.mark.parametrize(("turn_deg", "came_round"), [(230.0, False), (241.0, True)])
def test_a_way_that_came_in_from_the_side_is_round_after_235_degrees(
    turn_deg: float, came_round: bool
) -> None:
    # A teardrop: straight out, a turn, and straight back over the beginning.
    way, radius_s = np.radians(turn_deg), 1.0 / np.radians(3.0)
    out_s = radius_s * (1.0 - np.cos(way)) / -np.sin(way)
    flown = survey([*straight(round(out_s)), *turn(turn_deg), *straight(round(out_s) + 2)])
    assert bool(loops(flown, scale_s=1.0)) == came_round
