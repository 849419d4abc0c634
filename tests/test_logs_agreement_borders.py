"""From how many samples, turns and directions on channels are held against the track: a case on each side of each."""

from __future__ import annotations

import numpy as np
import pytest

from analyser.logs.agreement import (
    climb_ratio,
    drift_by_speed,
    fit_bank,
    fit_heading,
    mean_airspeed,
    off_track_deg,
    speed_ratio,
    unevenness,
)
from analyser.logs.movement import Movement, is_flying_speed, movement, usual_speed_kt
from tests.test_logs_clock_borders import DEGREE_M, flight


def moved(
    track_deg: np.ndarray, turn_dps: np.ndarray | float = 0.0, speed_kt: np.ndarray | float = 110.0
) -> Movement:
    """Move along so many tracks, a second each."""
    rows = track_deg.size
    return Movement(
        np.arange(rows),
        np.arange(float(rows)),
        np.zeros(rows) + speed_kt,
        track_deg % 360.0,
        np.zeros(rows) + turn_dps,
    )


def in_eighths(*counts: int) -> np.ndarray:
    """Return so many tracks in each eighth of the circle, clockwise from north."""
    return np.concatenate(
        [45.0 * eighth + np.linspace(5.0, 40.0, count) for eighth, count in enumerate(counts)]
    )


@pytest.mark.parametrize(("samples", "told"), [(24, False), (26, True)])
def test_from_fewer_than_25_samples_nothing_is_told(samples: int, told: bool) -> None:
    flown = moved(np.linspace(0.0, 350.0, samples), 3.0)
    assert (fit_heading(flown.track_deg, flown) is not None) == told
    assert (fit_bank(np.full(samples, 17.0), flown.time_s, flown) is not None) == told
    assert (speed_ratio(np.full(samples, 90.0), flown) is not None) == told
    assert np.isfinite(off_track_deg(flown.track_deg, flown)) == told
    # A climb is read over intervals of 20 s: these are minutes apart.
    at_s = 60.0 * np.arange(float(samples))
    climbs = np.where(np.arange(samples) % 8 < 4, 10.0, -10.0)
    height = np.concatenate([[0.0], np.cumsum(30.0 * (climbs[1:] + climbs[:-1]))])
    assert (climb_ratio(climbs, height, at_s) is not None) == told


@pytest.mark.parametrize(("lasts_s", "told"), [(138, False), (158, True)])
def test_a_climb_is_compared_over_eight_times_twenty_seconds(lasts_s: int, told: bool) -> None:
    at_s = np.arange(float(lasts_s))
    height, climb = 400.0 * np.sin(at_s / 15.0), 400.0 / 15.0 * np.cos(at_s / 15.0)
    assert (climb_ratio(climb, height, at_s) is not None) == told


@pytest.mark.parametrize(
    ("counts", "all_round"),
    [
        ((60, 60, 60, 60, 60, 60, 60, 0), True),
        ((60, 60, 60, 60, 60, 60, 0, 0), False),
        ((60, 60, 60, 60, 60, 60, 4, 0), True),
        ((60, 60, 60, 60, 60, 60, 3, 0), False),
        # Of three thousand samples six are a fiftieth of a tenth.
        ((500, 500, 500, 500, 500, 500, 7, 0), True),
        ((500, 500, 500, 500, 500, 500, 5, 0), False),
    ],
)
def test_a_track_goes_all_round_where_seven_eighths_of_the_circle_were_flown(
    counts: tuple[int, ...], all_round: bool
) -> None:
    flown = moved(in_eighths(*counts))
    found = fit_heading(flown.track_deg + 3.0, flown)
    assert found is not None and found.all_round == all_round


@pytest.mark.parametrize(
    ("on_legs", "leg_dps", "told"), [(4, 0.0, False), (6, 0.0, True), (50, 0.9, True), (50, 1.1, False)]
)
def test_a_lag_is_told_between_turns_and_legs(on_legs: int, leg_dps: float, told: bool) -> None:
    """A twentieth of the samples on legs at least; who turns by less than a degree a second is on one."""
    turn = np.full(1200, 3.0)
    turn[np.arange(1200) % 100 < on_legs] = leg_dps
    flown = moved(np.cumsum(turn), turn)
    found = fit_heading(flown.track_deg - 2.0 * turn, flown)
    assert found is not None and np.isfinite(found.lag_sd_s) == told


def test_one_wild_heading_in_ten_beyond_four_sigmas_is_passed_over_and_within_them_is_not() -> None:
    rng = np.random.default_rng(3)
    flown = moved(np.linspace(0.0, 3600.0, 1200))
    noise = np.clip(rng.normal(0.0, 2.0, 1200), -5.0, 5.0)
    scatter = []
    for wild_deg in (0.0, 6.5, 12.0):
        off = np.where(np.arange(1200) % 50 == 7, wild_deg, noise)
        found = fit_heading(flown.track_deg + off, flown)
        assert found is not None
        scatter.append(found.scatter_deg)
    assert scatter[1] > scatter[0] + 0.1 and scatter[2] == pytest.approx(scatter[0], abs=0.05)


def blown(counts: tuple[int, ...], wind_kt: float = 20.0, left_kt: float = 0.0) -> Movement:
    """Fly at 100 kt in a wind towards 60°, over the ground as fast as the direction makes it, and a rest."""
    track = in_eighths(*counts)
    rest = left_kt * np.sqrt(2.0) * np.sin(2.0 * np.pi * np.arange(track.size) / 3.7)
    return moved(track, speed_kt=100.0 + wind_kt * np.cos(np.radians(track - 60.0)) + rest)


@pytest.mark.parametrize(
    ("counts", "told"),
    [
        ((13,) * 8, True),
        ((12,) * 8, False),
        ((40, 40, 40, 40, 40, 40, 40, 4), True),
        ((40, 40, 40, 40, 40, 40, 40, 3), False),
    ],
)
def test_an_airspeed_is_told_by_a_hundred_samples_with_four_in_each_direction(
    counts: tuple[int, ...], told: bool
) -> None:
    found, drift = mean_airspeed(blown(counts)), drift_by_speed(blown(counts))
    assert (found is not None, drift is not None, bool(np.isfinite(unevenness(None, blown(counts))))) == (
        told,
    ) * 3
    if told:
        assert found == pytest.approx(100.0, abs=0.1) and drift == pytest.approx(np.degrees(0.2), rel=0.01)


def test_each_direction_counts_the_same_however_long_it_was_flown() -> None:
    """A long cruise one way: its error moves the airspeed by an eighth of the circle's share, not by its own."""
    track = in_eighths(2000, 50, 50, 50, 50, 50, 50, 50)
    cruise = np.where(track < 45.0, 4.0, 0.0)
    uneven = moved(track, speed_kt=100.0 + cruise)
    even = in_eighths(*(50,) * 8)
    same = moved(even, speed_kt=100.0 + np.where(even < 45.0, 4.0, 0.0))
    found, other = mean_airspeed(uneven), mean_airspeed(same)
    assert found == pytest.approx(other, abs=0.01) and found == pytest.approx(100.5, abs=0.2)
    assert unevenness(None, uneven) == pytest.approx(unevenness(None, same), rel=0.01)


@pytest.mark.parametrize(("left_kt", "told"), [(4.5, True), (5.5, False)])
def test_a_drift_is_told_where_half_of_the_wind_is_more_than_what_is_left(left_kt: float, told: bool) -> None:
    assert (drift_by_speed(blown((60,) * 8, 10.0, left_kt)) is not None) == told


@pytest.mark.parametrize(
    ("rows", "bank_deg", "turns"), [(11, 20.0, False), (13, 20.0, True), (60, 7.8, False), (60, 8.2, True)]
)
def test_a_bank_is_held_against_a_dozen_rows_of_more_than_eight_degrees(
    rows: int, bank_deg: float, turns: bool
) -> None:
    """Rate of turn from V ω = g tan φ at 110 kt, 56.6 m/s."""
    rate = np.degrees(9.80665 * np.tan(np.radians(bank_deg)) / (110.0 * 1852.0 / 3600.0))
    turn = np.zeros(300)
    turn[100 : 100 + rows] = rate
    flown = moved(np.cumsum(turn), turn)
    found = fit_bank(np.where(turn > 0.0, bank_deg, 0.0), flown.time_s, flown)
    assert found is not None and found.turns == turns


@pytest.mark.parametrize(("swing_dps", "alike"), [(1.35, True), (1.6, False)])
def test_who_turns_one_way_all_the_time_is_compared_by_the_turn_itself(swing_dps: float, alike: bool) -> None:
    """A mean of three deviations: a steady logged bank goes with that turn, and with none of its changes."""
    turn = 3.0 + swing_dps * np.sin(2.0 * np.pi * np.arange(600) / 40.0)
    flown = moved(np.cumsum(turn), turn)
    steady = 17.0 + 0.1 * np.sin(2.0 * np.pi * np.arange(600) / 57.0)
    found = fit_bank(steady, flown.time_s, flown)
    assert found is not None
    assert (found.correlation > 0.9) == alike and (abs(found.correlation) < 0.2) != alike


@pytest.mark.parametrize(("late_s", "told_s"), [(11.0, 11.0), (12.0, 12.0), (-12.0, -12.0), (15.0, 12.0)])
def test_a_lag_of_a_bank_is_looked_for_within_twelve_seconds(late_s: float, told_s: float) -> None:
    at_s = np.arange(600.0)
    turn = 3.0 * np.sin(2.0 * np.pi * at_s / 97.0)
    flown = moved(np.cumsum(turn), turn)
    logged = 17.0 * np.sin(2.0 * np.pi * (at_s - late_s) / 97.0)
    found = fit_bank(logged, at_s, flown)
    assert found is not None and found.lag_s == told_s


# How fast an aircraft moves


@pytest.mark.parametrize(("speed_kt", "flies"), [(29.0, False), (31.0, True), (890.0, True), (910.0, False)])
def test_what_flies_makes_thirty_to_nine_hundred_knots(speed_kt: float, flies: bool) -> None:
    assert is_flying_speed(speed_kt) == flies


@pytest.mark.parametrize(("speed_kt", "flies"), [(34.0, False), (36.0, True)])
def test_slower_than_35_knots_an_aircraft_taxies(speed_kt: float, flies: bool) -> None:
    assert moved(np.zeros(30), speed_kt=speed_kt).flying.all() == flies


@pytest.mark.parametrize(
    ("interval_s", "rows", "first_s"),
    [(0.25, 300, 2.0), (0.5, 300, 2.0), (1.0, 300, 2.0), (3.0, 100, 3.0), (8.0, 60, 8.0)],
)
def test_a_velocity_is_that_of_two_seconds_before_and_after_or_of_the_neighbours(
    interval_s: float, rows: int, first_s: float
) -> None:
    """Turning at 3°/s at 60 m/s: the chord of so long is shorter than its arc by the sine over the angle."""
    at_s = interval_s * np.arange(float(rows))
    way = np.radians(3.0 * at_s)
    radius = 60.0 / np.radians(3.0)
    lat = 1e-3 + radius * np.sin(way) / (DEGREE_M * (1.0 - 6.694379990141e-3))
    found = movement(at_s, lat, radius * (1.0 - np.cos(way)) / DEGREE_M)
    assert (found.time_s[0], found.time_s[-1]) == pytest.approx((first_s, at_s[-1] - first_s))
    half = np.radians(3.0 * first_s) / 2.0
    straight = 60.0 * np.sin(2.0 * half) / (2.0 * half)
    assert found.speed_kt * 1852.0 / 3600.0 == pytest.approx(np.full(found.index.size, straight), rel=1e-4)
    assert found.turn_dps == pytest.approx(np.full(found.index.size, 3.0), rel=1e-3)
    off = (found.track_deg - np.degrees(way[found.index]) + 180.0) % 360.0 - 180.0
    assert np.abs(off).max() < 0.02


@pytest.mark.parametrize(("hole_s", "read"), [(7.0, True), (10.0, False)])
def test_no_velocity_is_read_across_a_hole(hole_s: float, read: bool) -> None:
    """A line of four seconds may take twelve: with one step of nine in it."""
    took = np.ones(200)
    took[100] = hole_s
    raw = flight(np.concatenate([[0.0], np.cumsum(took)]), 60.0 * took)
    beside = {99, 100, 101, 102} & set(movement(raw.time_s, raw.lat_deg, raw.lon_deg).index.tolist())
    assert bool(beside) == read


def test_of_a_long_log_some_four_thousand_velocities_are_read() -> None:
    at_s = np.arange(13_000.0)
    assert movement(at_s, 1e-3 + 5e-4 * at_s, np.zeros(13_000)).index.size == pytest.approx(4332, abs=3)


def test_a_usual_speed_is_that_of_the_faster_quarter_in_any_order_of_rows() -> None:
    """Three fifths of the time at 20 m/s, two fifths at 60; a knot is 1852 m an hour."""
    raw = flight(np.arange(1001.0), np.where(np.arange(1000) < 600, 20.0, 60.0))
    shuffled = np.random.default_rng(1).permutation(1001)
    for rows in (np.arange(1001), shuffled):
        found = usual_speed_kt(raw.time_s[rows], raw.lat_deg[rows], raw.lon_deg[rows])
        assert found == pytest.approx(60.0 * 3600.0 / 1852.0, rel=1e-3)
    few = flight(np.array([0.0, 1.0]), np.array([60.0]))
    assert usual_speed_kt(few.time_s, few.lat_deg, few.lon_deg) == pytest.approx(116.6, rel=1e-3)
    one = flight(np.array([0.0]), np.empty(0))
    assert usual_speed_kt(one.time_s, one.lat_deg, one.lon_deg) == 0.0
