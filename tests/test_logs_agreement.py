"""Channels held against the track, each fit against what it was made of (closed forms)."""

from __future__ import annotations

from dataclasses import replace

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
from analyser.logs.movement import Movement

ROWS = np.arange(1200)


def moving(turns: float = 3.0, *, speed_kt: np.ndarray | float = 110.0, rows: int = 1200) -> Movement:
    """Fly legs of a minute and turns of a minute at so many degrees a second, all at one speed."""
    at_s = np.arange(float(rows))
    turn = np.where(at_s % 120.0 < 60.0, 0.0, turns)
    track = np.cumsum(turn) % 360.0
    return Movement(np.arange(rows), at_s, np.zeros(rows) + speed_kt, track, turn)


#: A hundred and thirty degrees each time: all eighths of the circle come up.
ROUND = moving(130.0 / 60.0)


@pytest.mark.parametrize(
    ("offset_deg", "drift_deg", "from_deg", "lag_s"),
    [
        (0.0, 0.0, 0.0, 0.0),
        (7.0, 10.0, 40.0, 0.0),
        (-12.0, 6.0, 200.0, 3.0),
        (175.0, 4.0, 90.0, -2.0),
        (90.0, 20.0, 10.0, 0.0),
        (-100.0, 25.0, 10.0, 0.0),
    ],
)
def test_a_heading_is_the_track_an_offset_the_drift_and_a_lag(
    offset_deg: float, drift_deg: float, from_deg: float, lag_s: float
) -> None:
    """Drift goes with the sine of the direction off the wind; a channel L seconds late is L × rate behind in a turn."""
    noise = np.random.default_rng(2).normal(0.0, 1.0, ROWS.size)
    off = offset_deg + drift_deg * np.sin(np.radians(ROUND.track_deg - from_deg)) - lag_s * ROUND.turn_dps
    found = fit_heading((ROUND.track_deg + off + noise) % 360.0, ROUND)
    assert found is not None
    assert (found.offset_deg - offset_deg + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=0.3)
    assert found.lag_s == pytest.approx(lag_s, abs=0.15)
    assert found.drift_deg == pytest.approx(drift_deg, abs=0.3)
    assert found.scatter_deg == pytest.approx(1.0, abs=0.1)
    assert found.all_round
    # One row in ten is independent: √10 of the sigma that all would have.
    turn = ROUND.turn_dps - ROUND.turn_dps.mean()
    assert found.lag_sd_s == pytest.approx(np.sqrt(10.0) / np.sqrt((turn**2).sum()), rel=0.2)


def test_a_few_wild_headings_change_nothing_and_a_lag_needs_turns_and_legs() -> None:
    wild = ROUND.track_deg + 5.0
    wild[::40] += 90.0
    found = fit_heading(wild % 360.0, ROUND)
    assert found is not None and found.offset_deg == pytest.approx(5.0, abs=0.05)
    straight = moving(0.0)
    told = fit_heading(straight.track_deg + 5.0, straight)
    assert told is not None and not told.all_round and np.isinf(told.lag_sd_s)
    circling = Movement(
        ROUND.index, ROUND.time_s, ROUND.speed_kt, (3.0 * ROUND.time_s) % 360.0, np.full(1200, 3.0)
    )
    round_and_round = fit_heading(circling.track_deg, circling)
    assert round_and_round is not None and np.isinf(round_and_round.lag_sd_s)
    # Turning by more than twelve degrees a second is no turn, and standing no flight.
    assert fit_heading(ROUND.track_deg, moving(13.0).take(moving(13.0).turn_dps > 0.0)) is None
    assert fit_heading(ROUND.track_deg, moving(speed_kt=20.0)) is None


def blown(wind_kt: float, from_deg: float = 30.0) -> Movement:
    """Fly at 100 kt in a wind: over the ground V + W cos (track − downwind), to first order."""
    speed = 100.0 + wind_kt * np.cos(np.radians(ROUND.track_deg - from_deg - 180.0))
    return moving(130.0 / 60.0, speed_kt=speed)


@pytest.mark.parametrize("wind_kt", [10.0, 30.0])
def test_the_ground_speed_by_direction_tells_airspeed_and_drift(wind_kt: float) -> None:
    flown = blown(wind_kt)
    assert mean_airspeed(flown) == pytest.approx(100.0, abs=0.1)
    assert drift_by_speed(flown) == pytest.approx(np.degrees(wind_kt / 100.0), rel=0.01)
    assert unevenness(None, flown) == pytest.approx(0.0, abs=1e-3)
    # The ratio of a logged airspeed to the ground speed swings with the wind, that of a logged ground speed does not.
    assert unevenness(flown.speed_kt * 1.852, flown) == pytest.approx(0.0, abs=1e-9)
    eighths = np.array([np.median(100.0 / flown.speed_kt[flown.track_deg // 45.0 == k]) for k in range(8)])
    assert unevenness(np.full(1200, 100.0), flown) == pytest.approx(eighths.std() / eighths.mean())


def test_an_airspeed_that_changed_by_much_or_a_flight_not_all_round_tells_none() -> None:
    steady, wild = blown(20.0), blown(20.0)
    swings = 25.0 * np.sin(2.0 * np.pi * ROWS / 37.0)
    unsteady = Movement(wild.index, wild.time_s, wild.speed_kt + swings, wild.track_deg, wild.turn_dps)
    assert drift_by_speed(steady) is not None and drift_by_speed(unsteady) is None
    assert mean_airspeed(unsteady) is None
    # A mean is known of an airspeed that changes by up to 8 %, rms.
    for size_kt, known in ((10.0, True), (12.5, False)):
        share = size_kt * np.sin(2.0 * np.pi * ROWS / 37.0)
        assert (mean_airspeed(replace(wild, speed_kt=wild.speed_kt + share)) is not None) == known
    assert mean_airspeed(moving(0.0)) is None and drift_by_speed(moving(0.0)) is None
    assert np.isnan(unevenness(None, moving(0.0)))


@pytest.mark.parametrize(("scale", "lag_s"), [(1.0, 0.0), (0.5, 0.0), (-1.0, 0.0), (1.0, 4.0), (57.3, -3.0)])
def test_a_bank_is_so_many_times_what_the_turns_took_and_so_late(scale: float, lag_s: float) -> None:
    """tan φ = V ω / g."""
    flown = moving(3.0)
    expected = np.degrees(np.arctan(110.0 * 0.514444 * np.radians(flown.turn_dps) / 9.80665))
    assert flown.expected_bank_deg == pytest.approx(expected, abs=1e-3)
    logged = scale * np.interp(flown.time_s - lag_s, flown.time_s, expected)
    found = fit_bank(logged, flown.time_s, flown)
    assert found is not None and found.turns
    assert found.lag_s == pytest.approx(lag_s, abs=0.5)
    assert abs(found.best_correlation) > 0.98 and np.sign(found.best_correlation) == np.sign(scale)
    if lag_s == 0.0:
        assert (found.correlation, found.slope) == pytest.approx((np.sign(scale), scale))
    else:
        assert abs(found.correlation) < abs(found.best_correlation)
    straight = moving(0.0)
    calm = fit_bank(logged, straight.time_s, straight)
    assert calm is not None and not calm.turns


def test_a_speed_is_held_against_the_ground_speed_by_its_middle_and_its_scatter() -> None:
    flown = moving()
    speed = 0.5 * flown.speed_kt * (1.0 + np.random.default_rng(4).normal(0.0, 0.03, 1200))
    speed[:20] = 0.0
    found = speed_ratio(speed, flown)
    assert found == pytest.approx((0.5, 0.03), rel=0.1)
    assert speed_ratio(np.zeros(1200), flown) is None
    assert off_track_deg((flown.track_deg + 4.0) % 360.0, flown) == pytest.approx(4.0)
    assert np.isnan(off_track_deg(flown.track_deg, moving(speed_kt=30.0)))


@pytest.mark.parametrize("scale", [1.0, 60.0, -0.3048])
def test_a_climb_is_so_many_times_the_change_of_height_in_a_second(scale: float) -> None:
    at_s = np.arange(1200.0)
    height = 5000.0 + 800.0 * np.sin(at_s / 90.0)
    climb = scale * 800.0 / 90.0 * np.cos(at_s / 90.0)
    noisy = climb + abs(scale) * np.random.default_rng(6).normal(0.0, 3.0, 1200)
    found = climb_ratio(noisy, height, at_s)
    assert found == (pytest.approx(scale, rel=0.02) if scale > 0.0 else None)
    assert climb_ratio(np.roll(noisy, 141), height, at_s) is None
    assert climb_ratio(climb, np.full(1200, 5000.0), at_s) is None
    assert climb_ratio(climb[:100], height[:100], at_s[:100]) is None
