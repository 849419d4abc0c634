"""Where the measuring instrument says "this I use" and "this I do not": each limit, just inside it and just outside."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from analyser.logs.track import Track
from analyser.motion.airdata import prove_bank
from analyser.motion.circle import wild_speeds
from analyser.motion.path import Velocities, tidy_path
from analyser.motion.speeds import held_airspeed, reported_velocities
from analyser.motion.spline import Spline, fit_spline
from analyser.motion.survey import survey_flight
from analyser.motion.windfit import WindFit, fit_wind
from tests.test_motion_parts import flown_with_heading
from tests.test_motion_untidy import PLANE, SPEED_MPS, jittered, measured, track_of

KT = 3600.0 / 1852.0


@cache
def racetrack(seconds: int) -> tuple[Track, Spline]:
    """Fly round for so long, seen without error every second, and lay the path."""
    time_s = np.arange(0.0, float(seconds))
    track = track_of(time_s, time_s)
    east, north, _ = PLANE.to_plane(track.lat_deg, track.lon_deg)
    return track, fit_spline(time_s, np.stack([east, north], axis=1) * 1852.0)


def reported(seconds: int, speed_kt: np.ndarray, track_deg: np.ndarray | None = None) -> Velocities | None:
    """Say what is made of a ground speed, and a track, that the log reports."""
    track, path = racetrack(seconds)
    channels = {"ground_speed_kt": speed_kt}
    if track_deg is not None:
        channels["track_true_deg"] = track_deg
    return reported_velocities(replace(track, channels=channels), path)


def about(share: float, seconds: int = 600, swing: float = 0.002, period_s: float = 240.0) -> np.ndarray:
    """Report so much of the true speed, swinging by a share with this period."""
    return np.asarray(
        share * SPEED_MPS * KT * (1.0 + swing * np.sin(2.0 * np.pi * np.arange(seconds) / period_s))
    )


@pytest.mark.parametrize(("seconds", "used"), [(115, False), (130, True)])
def test_a_reported_speed_proves_itself_over_two_minutes(seconds: int, used: bool) -> None:
    assert (reported(seconds, about(1.0, seconds)) is not None) == used


@pytest.mark.parametrize(("share", "used"), [(0.94, False), (0.96, True), (1.04, True), (1.06, False)])
def test_a_reported_speed_adds_up_to_the_way(share: float, used: bool) -> None:
    assert (reported(600, about(share)) is not None) == used


@pytest.mark.parametrize(("swing", "used"), [(0.07, True), (0.2, False)])
def test_a_reported_speed_that_swings_from_minute_to_minute_is_none(swing: float, used: bool) -> None:
    assert (reported(600, about(1.0, swing=swing)) is not None) == used


def test_a_reported_speed_is_believed_to_half_a_metre_a_second_and_no_better() -> None:
    sure, worse = reported(600, about(1.0)), reported(600, about(1.0, swing=0.05))
    assert sure is not None and worse is not None
    assert sure.along_sd_mps[0] == pytest.approx(0.5 * np.sqrt(10.0), rel=1e-6)
    assert worse.along_sd_mps.min() > 2.0 * sure.along_sd_mps[0]


@pytest.mark.parametrize(("off_deg", "used"), [(2.0, True), (15.0, True), (27.0, False)])
def test_a_reported_track_is_used_where_it_is_within_twenty_degrees_of_the_path(
    off_deg: float, used: bool
) -> None:
    way = racetrack(600)[1].at(np.arange(600.0), 1)
    true_deg = np.degrees(np.arctan2(way[:, 0], way[:, 1]))
    scatter = np.random.default_rng(5).normal(0.0, off_deg, 600)
    found = reported(600, about(1.0), (true_deg + scatter) % 360.0)
    assert found is not None
    assert bool(np.isfinite(found.across_sd_mps).all()) == used
    few = np.where(np.arange(600) < 250, true_deg, np.nan)
    half = reported(600, about(1.0), few)
    assert half is not None and not np.isfinite(half.across_sd_mps).any()


def still_air(tas_kt: np.ndarray) -> tuple[WindFit, Velocities, np.ndarray]:
    """Turn in still air at some airspeed, and say that it was held."""
    time_s = np.arange(0.0, tas_kt.size)
    way = np.radians(3.0 * time_s)
    velocity = tas_kt[:, None] / KT * np.column_stack([np.sin(way), np.cos(way)])
    path = tidy_path(time_s, np.cumsum(velocity, axis=0), 1.0, time_s)
    usual = fit_wind(time_s[::2], *(100.0 * np.column_stack([np.sin(way), np.cos(way)])[::2].T))
    return (
        usual,
        held_airspeed(usual, path, time_s, np.ones(time_s.size, bool), np.full(time_s.size, 5000.0)),
        time_s,
    )


@pytest.mark.parametrize(("other_kt", "counts"), [(106.0, True), (113.0, False)])
def test_where_another_speed_was_held_the_usual_one_is_not_put_in(other_kt: float, counts: bool) -> None:
    """Three knots of a pilot's own wander, three times over."""
    tas = np.full(600, 100.0)
    tas[400:500] = other_kt
    _, held, _ = still_air(tas)
    there = (held.time_s > 420.0) & (held.time_s < 480.0)
    assert bool(np.isfinite(held.along_sd_mps[there]).all()) == counts
    assert np.isfinite(held.along_sd_mps[held.time_s < 380.0]).all()
    # One reading every four seconds of an error that lasts twenty: each counts for a tenth.
    assert held.along_sd_mps[0] == pytest.approx(3.0 / KT * np.sqrt(10.0), rel=0.02)


@pytest.mark.parametrize(("off_kt", "wild"), [(17.0, False), (25.0, True)])
def test_an_airspeed_is_wild_that_stands_four_times_a_pilots_wander_off(off_kt: float, wild: bool) -> None:
    time_s = np.arange(0.0, 240.0, 2.0)
    heading, tas = np.radians(3.0 * time_s), np.full(120, 110.0)
    tas[60] += off_kt
    off = wild_speeds(time_s, tas * np.sin(heading), tas * np.cos(heading), np.zeros(120), 1.0)
    assert bool(off.any()) == wild


@pytest.mark.parametrize(("every", "told"), [(12, True), (9, False)])
def test_of_more_than_three_tenths_spoilt_speeds_nobody_can_tell_which_were_flown(
    every: int, told: bool
) -> None:
    """Each wild speed spoils its neighbours within reach: a quarter of all may be so, a third may not."""
    time_s = np.arange(0.0, 240.0, 2.0)
    heading, tas = np.radians(3.0 * time_s), np.full(120, 110.0)
    tas[4::every] += 60.0
    off = wild_speeds(time_s, tas * np.sin(heading), tas * np.cos(heading), np.zeros(120), 2.0)
    assert bool(off.any()) == told


@pytest.mark.parametrize(("wander_kt", "used"), [(9.0, True), (18.0, False)])
def test_a_heading_is_used_while_what_it_leaves_over_is_less_than_twelve_knots(
    wander_kt: float, used: bool
) -> None:
    assert (flown_with_heading(0.0, wander_kt)[1] is not None) == used


def test_a_quick_fit_takes_the_usual_noise_and_a_full_one_asks_the_flight() -> None:
    """Gusts forgotten within seconds: who asks the flight finds them, and states another sigma for it."""
    rng = np.random.default_rng(7)
    time_s = np.arange(0.0, 600.0, 2.0)
    heading = np.radians(3.0 * time_s)
    tas = 110.0 + rng.normal(0.0, 3.0, time_s.size)
    east, north = tas * np.sin(heading), tas * np.cos(heading)
    quick, full = fit_wind(time_s, east, north, quick=True), fit_wind(time_s, east, north)
    other = fit_wind(time_s, np.flip(east), np.flip(north), quick=True)
    assert quick.speed_noise.memory_s == pytest.approx(other.speed_noise.memory_s, rel=0.1)
    assert full.speed_noise.memory_s < 0.8 * quick.speed_noise.memory_s


@pytest.mark.parametrize(("warmer_c", "counts"), [(30.0, True), (38.0, True), (42.0, False)])
def test_air_that_no_weather_makes_is_another_unit_and_not_used(warmer_c: float, counts: bool) -> None:
    """At 5,000 ft standard air has 5 °C; at one airspeed warm air shows less on the indicator."""
    track = jittered(0.0, 1.0)
    outside = 5.1 + warmer_c + 0.1 * np.sin(track.time_s)
    warm = replace(track, channels={**track.channels, "outside_air_temperature_c": outside})
    plain_kt, warm_kt = (float(np.median(measured(one).motion.ias_kt)) for one in (track, warm))
    root_density = np.sqrt(278.2 / (278.2 + warmer_c))
    assert warm_kt / plain_kt == pytest.approx(root_density if counts else 1.0, abs=0.003)


@pytest.mark.parametrize(("lag_s", "told"), [(1.0, False), (2.0, True)])
@pytest.mark.parametrize("slope", [0.82, 1.22])
def test_a_lag_of_a_logged_bank_is_told_from_a_second_and_a_half(
    lag_s: float, told: bool, slope: float
) -> None:
    time_s = np.arange(0.0, 300.0)

    def flown(at_s: np.ndarray) -> np.ndarray:
        return np.where((at_s % 120.0) < 60.0, 20.0, 0.0) * np.clip((at_s % 60.0) / 5.0, 0.0, 1.0)

    proved, notice = prove_bank(slope * flown(time_s - lag_s), flown(time_s), flown(time_s) < 4.0)
    assert proved is not None and (notice is not None) == told


@pytest.mark.parametrize(("level_s", "taken_out"), [(18, False), (22, True)])
def test_the_bias_of_a_logged_bank_shows_in_a_third_of_a_minute_of_level_flight(
    level_s: int, taken_out: bool
) -> None:
    time_s = np.arange(0.0, 300.0)
    turning = np.where((time_s % 120.0) < 60.0, 20.0, 0.0) * np.clip((time_s % 60.0) / 5.0, 0.0, 1.0)
    level = np.flatnonzero(turning < 0.1)[-level_s:]
    proved, _ = prove_bank(turning + 3.0, turning, np.isin(np.arange(300), level))
    assert proved is not None
    assert np.median(proved.values - turning) == pytest.approx(0.0 if taken_out else 3.0, abs=0.01)


@pytest.mark.parametrize(("seconds", "stretches"), [(119, 0), (122, 1)])
def test_in_less_than_two_minutes_there_is_no_room_for_a_hold(seconds: int, stretches: int) -> None:
    time_s = np.arange(0.0, float(seconds))
    assert len(survey_flight(track_of(time_s, time_s))) == stretches


def slowed(surplus_kt: float) -> tuple[float, float]:
    """Fly racetracks at 110 kt in 20 kt of wind from the west, first too fast: the wind's error and its sigma."""
    rng = np.random.default_rng(3)
    time_s = np.arange(0.0, 1200.0)
    heading = np.radians(np.cumsum(np.where(time_s % 120.0 >= 60.0, 3.0, 0.0)))
    tas = 110.0 + surplus_kt * np.clip(1.0 - (time_s - 150.0) / 60.0, 0.0, 1.0) + np.sin(time_s / 25.0)
    east = np.cumsum(tas * np.sin(heading) + 20.0) / 3600.0 + rng.normal(0.0, 5e-4, time_s.size)
    north = np.cumsum(tas * np.cos(heading)) / 3600.0 + rng.normal(0.0, 5e-4, time_s.size)
    lat, lon = PLANE.to_earth(east, north)
    track = Track("slowed", "table", "0" * 64, time_s, lat, lon, {"altitude_ft": np.full(1200, 5000.0)})
    motion = measured(track).motion
    off = np.hypot(motion.wind_mean_east_kt - 20.0, motion.wind_mean_north_kt)
    return float(off), motion.wind_mean_sd_kt


def test_who_comes_too_fast_and_slows_down_in_the_first_turn_turns_no_wind() -> None:
    steady, slowing = slowed(0.0), slowed(50.0)
    assert slowing[0] < 3.0 * slowing[1] and slowing[0] < 1.0
    assert slowing[1] < 2.0 * steady[1]
