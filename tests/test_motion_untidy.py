"""Measuring in untidy logs: the path by its error model, and what its derivatives are known to."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analyser.circuits.turn_detection import mean_direction, turn_in_span
from analyser.earth.plane import LocalPlane
from analyser.logs.track import Seam, Track
from analyser.logs.track_errors import true_samples
from analyser.motion.circle import circle_fit, wild_speeds
from analyser.motion.estimate import Measured, measure
from analyser.motion.noise_model import Mixture, Moments
from analyser.motion.path import tidy_path, untidy_path
from analyser.motion.speeds import reported_velocities
from analyser.motion.windfit import fit_wind
from tests.test_logs_track_errors import SPEED_MPS, places, racetrack

KT = 3600.0 / 1852.0
PLANE = LocalPlane(10.0, 20.0)


def track_of(time_s: np.ndarray, taken_s: np.ndarray, **channels: np.ndarray) -> Track:
    lat, lon = places(*racetrack(taken_s))
    altitude = np.full(time_s.size, 5000.0)
    return Track("drawn", "table", "0" * 64, time_s, lat, lon, {"altitude_ft": altitude, **channels})


def jittered(jitter_s: float, interval_s: float = 5.0, seed: int = 1) -> Track:
    rng = np.random.default_rng(seed)
    time_s = np.arange(0.0, 1200.0, interval_s)
    return track_of(time_s, time_s + rng.normal(0.0, jitter_s, time_s.size))


def measured(track: Track) -> Measured:
    return measure(track, PLANE, 100.0, 1100.0, (100.0, 1100.0))


def test_the_speeds_of_a_wandering_clock_lie_within_what_is_said_of_them() -> None:
    motion = measured(jittered(1.5)).motion
    off = (motion.ground_speed_kt - SPEED_MPS * KT)[100:-100]
    assert np.mean(np.abs(off) <= 2.0 * motion.tas_sd_kt[100:-100]) > 0.9
    # The rows themselves swing by 1.5 s in 5 s: forty-odd knots.
    assert np.std(off) < 10.0


def test_what_is_said_grows_with_the_jitter() -> None:
    said = [float(np.median(measured(jittered(jitter_s)).motion.ias_sd_kt)) for jitter_s in (0.5, 1.5)]
    assert said[1] > 1.15 * said[0]


def test_a_turn_is_not_drawn_too_tight_by_jitter() -> None:
    """Three seconds of jitter spread a turn's samples along the curve; the chords of that spread lie inside it."""
    speeds = [float(np.mean(measured(jittered(3.0, 10.0, seed)).motion.tas_kt)) for seed in range(6)]
    assert np.mean(speeds) == pytest.approx(SPEED_MPS * KT, rel=0.01)


def test_one_sample_of_another_time_is_seen_through_where_the_log_reports_its_speed() -> None:
    rng = np.random.default_rng(5)
    time_s = np.arange(0.0, 1200.0, 5.0)
    taken_s = time_s + rng.normal(0.0, 1.0, time_s.size)
    reported = np.full(time_s.size, SPEED_MPS * KT) + rng.normal(0.0, 1.0, time_s.size)
    sound = measured(track_of(time_s, taken_s, ground_speed_kt=reported)).motion
    # In the middle of a leg, eight seconds late.
    taken_s[102] += 8.0
    moved = measured(track_of(time_s, taken_s, ground_speed_kt=reported)).motion
    away_m = np.hypot(moved.north_nm - sound.north_nm, moved.east_nm - sound.east_nm) * 1852.0
    assert away_m.max() < 0.3 * 8.0 * SPEED_MPS
    assert np.abs(moved.ground_speed_kt - sound.ground_speed_kt).max() < 15.0


def test_a_stretch_of_wrong_times_is_left_out_of_the_wind_and_said() -> None:
    """A clock that runs up to half as fast again for a minute and falls back: no single sample stands off."""
    rng = np.random.default_rng(7)
    time_s = np.arange(0.0, 1200.0, 5.0)
    wrong_s = 12.0 * np.exp(-(((time_s - 545.0) / 20.0) ** 2))
    motion = measured(track_of(time_s, time_s + wrong_s + rng.normal(0.0, 0.5, time_s.size))).motion
    wind_kt = np.hypot(motion.wind_mean_east_kt, motion.wind_mean_north_kt)
    assert wind_kt < 2.5 * motion.wind_mean_sd_kt
    assert wind_kt < 4.0
    assert motion.tas_mean_kt == pytest.approx(SPEED_MPS * KT, rel=0.02)
    off = np.abs(motion.tas_kt - SPEED_MPS * KT)
    spoilt = (motion.time_s > 515.0) & (motion.time_s < 575.0)
    assert off[spoilt].max() > 30.0
    assert np.mean(off[spoilt] <= 2.0 * motion.tas_sd_kt[spoilt]) > 0.9
    assert [n.code for n in motion.notices].count("speeds-wild") == 1
    sound = [measured(jittered(*kind)).motion for kind in ((0.5, 5.0), (1.5, 5.0, 2), (3.0, 10.0, 1))]
    assert "speeds-wild" not in [n.code for motion in sound for n in motion.notices]


def test_speeds_that_were_flown_are_not_wild() -> None:
    """An aircraft that slows from 200 to 160 kt in a wind of 30 kt flew them all; 300 kt for seconds it did not."""
    time_s = np.arange(0.0, 600.0, 2.0)
    tas, turned = np.linspace(200.0, 160.0, time_s.size), np.radians(3.0 * time_s)
    east, north = tas * np.sin(turned) + 30.0, tas * np.cos(turned)
    sd = np.full(time_s.size, 5.0)
    assert not wild_speeds(time_s, east, north, sd, 10.0).any()
    east[100:103] += 120.0 * np.sin(turned[100:103])
    north[100:103] += 120.0 * np.cos(turned[100:103])
    off = wild_speeds(time_s, east, north, sd, 10.0)
    assert list(time_s[off > 0.0][[0, -1]]) == [time_s[100] - 10.0, time_s[102] + 10.0]
    assert off[101] == pytest.approx(120.0 + tas[101] - 180.0, abs=10.0)
    # A speed that is only known to forty knots is none to be surprised at.
    assert not wild_speeds(time_s, east, north, 8.0 * sd, 10.0).any()
    # Where half of it is wild there is no telling which half.
    east[:120] *= 2.0
    north[:120] *= 2.0
    assert not wild_speeds(time_s, east, north, sd, 10.0).any()


def test_a_reported_ground_speed_sharpens_what_the_positions_say() -> None:
    track = jittered(1.5)
    reported = np.full(track.samples, SPEED_MPS * KT) + np.random.default_rng(2).normal(
        0.0, 1.0, track.samples
    )
    own = replace(track, channels={**track.channels, "ground_speed_kt": reported})
    without, sharpened = measured(track).motion, measured(own).motion
    assert np.median(sharpened.ias_sd_kt) < 0.8 * np.median(without.ias_sd_kt)
    assert np.std(sharpened.ground_speed_kt[100:-100]) < np.std(without.ground_speed_kt[100:-100])


@pytest.mark.parametrize("factor", [0.6, 1.2])
def test_a_speed_that_does_not_add_up_to_the_way_is_no_ground_speed(factor: float) -> None:
    track = jittered(1.5)
    rng = np.random.default_rng(3)
    wrong = factor * SPEED_MPS * KT + rng.normal(0.0, 1.0, track.samples)
    own = replace(track, channels={**track.channels, "ground_speed_kt": wrong})
    time_s, lat, lon = true_samples(own.errors, own.time_s, own.lat_deg, own.lon_deg, 0.0, 1200.0)
    east, north, _ = PLANE.to_plane(lat, lon)
    path = untidy_path(time_s, np.stack([east, north], axis=1) * 1852.0, own.errors, np.arange(0.0, 1190.0))
    assert reported_velocities(own, path.spline) is None


def test_sigmas_of_a_tidy_path_are_those_of_the_steady_smoother() -> None:
    """Velocity √(√(RS)/6), with S = 0.2 m² s⁻⁵, R = σ²Δt and what sampling itself leaves, S (Δt/π)⁶ (derived)."""
    rng = np.random.default_rng(4)
    time_s = np.arange(0.0, 900.0, 2.0)
    fixes = np.stack(racetrack(time_s), axis=1) + rng.normal(0.0, 3.0, (time_s.size, 2))
    path = tidy_path(time_s, fixes, 2.0, np.arange(10.0, 890.0))
    density = path.spline.noise**2 * 2.0 + 0.2 * (2.0 / np.pi) ** 6
    assert path.along_sd_kt[0] == pytest.approx(KT * np.sqrt(np.sqrt(0.2 * density) / 6.0))
    speed = np.hypot(*path.spline.at(np.arange(20.0, 880.0), 1).T)
    assert np.mean(np.abs(speed - SPEED_MPS) * KT <= 2.0 * path.along_sd_kt[0]) > 0.9


def test_the_errors_of_mean_velocities_average_out() -> None:
    """Errors of places: over ten times the span the mean velocity is known ten times as well, not √10 times."""
    errors = measured(jittered(1.5)).velocity_errors
    assert errors is not None
    sd = []
    for span_s in (60.0, 600.0):
        time_s = np.arange(300.0, 300.0 + span_s)
        east = np.column_stack([np.ones(time_s.size), np.zeros(time_s.size)])
        sd.append(float(np.sqrt(errors.covariance(time_s, east, np.zeros(1, dtype=np.intp))[0, 0])))
    assert 5.0 < sd[0] / sd[1] < 20.0


def test_an_untidy_logs_own_errors_add_to_the_pilots_in_knots() -> None:
    time_s = np.arange(0.0, 60.0, 6.0)
    own = 9.0 * np.eye(time_s.size)
    moments, mixture = Moments(time_s, own), Mixture(30.0, 7.0, 0.0, 0.003, receiver=2.0**-2)
    factor = moments.factor(mixture)
    np.testing.assert_allclose(np.diag(factor @ factor.T), 1.0 + 0.003 + 9.0 / 4.0)


def test_corners_a_minute_apart_do_not_tell_an_airspeed_well() -> None:
    """The path through them is shorter than the way flown, by up to a tenth; whoever says so may be off as much."""
    true_s, rows_s = np.arange(0.0, 1400.0, 61.0), np.arange(2.0, 1300.0, 1.0)
    lat, lon = places(*(np.interp(rows_s, true_s, column) for column in racetrack(true_s)))
    channels = {"altitude_ft": np.full(rows_s.size, 5000.0)}
    found = measured(Track("chords", "table", "0" * 64, rows_s - 2.0, lat, lon, channels))
    mean_kt, sd = found.mean_tas(150.0, 1050.0)
    assert abs(mean_kt - SPEED_MPS * KT) < 3.0 * sd
    assert sd > 1.5


@pytest.mark.parametrize("digits", [2, 3])
def test_places_rounded_to_a_mile_tell_what_they_can(digits: int) -> None:
    time_s = np.arange(0.0, 1200.0, 4.0)
    lat, lon = places(*racetrack(time_s), digits=digits)
    channels = {"altitude_ft": np.full(time_s.size, 5000.0)}
    motion = measured(Track("rounded", "table", "0" * 64, time_s, lat, lon, channels)).motion
    wind_kt = np.hypot(motion.wind_mean_east_kt, motion.wind_mean_north_kt)
    assert wind_kt < 2.5 * motion.wind_mean_sd_kt


def test_chords_say_that_bank_is_unknown() -> None:
    true_s, rows_s = np.arange(0.0, 1400.0, 27.0), np.arange(2.0, 1300.0, 5.0)
    lat, lon = places(*(np.interp(rows_s, true_s, column) for column in racetrack(true_s)))
    channels = {"altitude_ft": np.full(rows_s.size, 5000.0)}
    found = measured(Track("chords", "table", "0" * 64, rows_s - 2.0, lat, lon, channels))
    assert found.chorded
    assert found.motion.bank_sd_deg.min() >= 30.0
    assert any(notice.code == "positions-chorded" for notice in found.motion.notices)
    assert found.motion.sample_s == pytest.approx(27.0, abs=1.0)


def test_a_mean_airspeed_is_of_what_was_seen_and_knows_less_with_a_hole() -> None:
    """A spline that hangs across a turn cuts it short: its speed there is no airspeed."""
    track = jittered(0.0, 1.0)
    keep = np.ones(track.samples, dtype=bool)
    for turn_s in (300.0, 590.0, 830.0):
        keep &= np.abs(track.time_s - turn_s) > 22.0
    holed = track.take(keep)
    whole, seen = measured(track), measured(holed)
    assert seen.motion.in_hole.sum() > 100
    (known_kt, known_sd), (mean_kt, sd) = (one.mean_tas(150.0, 1050.0) for one in (whole, seen))
    assert mean_kt == pytest.approx(known_kt, abs=0.05)
    assert np.abs(seen.motion.tas_kt - whole.motion.tas_kt).max() > 5.0
    assert sd > known_sd


def test_a_lone_sample_between_two_holes_tells_no_speed() -> None:
    """Every 30 s for a while in a log of seconds: beside such a sample nothing was measured either."""
    track = jittered(0.0, 1.0)
    sparse = (track.time_s > 400.0) & (track.time_s < 640.0)
    keep = ~sparse | (track.time_s % 30.0 == 0.0)
    holed = track.take(keep)
    motion = measured(holed).motion
    off_kt = np.abs(motion.ground_speed_kt - SPEED_MPS * KT)
    lone = (motion.time_s > 415.0) & (motion.time_s < 625.0)
    assert off_kt[lone].max() > 5.0
    assert motion.in_hole[lone].all()
    # Beside a hole that ends in samples a second apart the speed is known at once.
    assert not motion.in_hole[(motion.time_s <= 400.0) | (motion.time_s >= 640.0)].any()


@pytest.mark.parametrize(
    ("hole_s", "lost"), [((330.0, 395.0), 1), ((265.0, 325.0), 0), ((310.0, 350.0), None)]
)
def test_a_turn_that_began_or_ended_in_a_hole_says_how_little_is_known_of_it(
    hole_s: tuple[float, float], lost: int | None
) -> None:
    """It was flown from 300 to 360 s at rate one; where the roll was not seen, the hole's length is the doubt."""
    track = jittered(0.0, 1.0)
    keep = (track.time_s <= hole_s[0]) | (track.time_s >= hole_s[1])
    holed = track.take(keep)
    turn = turn_in_span(measured(holed), 300.0, 360.0, 1, 180.0)
    assert turn is not None
    ends = [(turn.start_s - 300.0, turn.start_sd_s), (turn.end_s - 360.0, turn.end_sd_s)]
    for end, (off_s, sd_s) in enumerate(ends):
        assert (sd_s >= 0.14 * (hole_s[1] - hole_s[0])) == (end == lost)
        assert abs(off_s) < max(3.0 * sd_s, 3.0)
    # V ω = g tan φ.
    true_deg = np.degrees(np.arctan(SPEED_MPS * np.radians(3.0) / 9.80665))
    assert abs(turn.bank_mean_deg - true_deg) < 2.0 * turn.bank_mean_sd_deg + 0.3
    assert lost is None or turn.bank_mean_sd_deg > 1.0


def test_a_seam_is_carried_into_the_motion_and_said() -> None:
    track = replace(jittered(0.0, 1.0), seams=(Seam(600.0, 34.0),))
    motion = measured(track).motion
    assert motion.has_seam(590.0, 610.0)
    assert not motion.has_seam(610.0, 700.0)
    assert any("stood still for 34 s" in notice.message for notice in motion.notices)


def test_a_feed_that_made_rows_up_is_doubted_by_what_parts_two_ways_of_fitting() -> None:
    """Six tenths of it, in quadrature, and only there: where the clock alone wanders, samples are what was flown."""
    rng = np.random.default_rng(11)
    time_s = np.arange(0.0, 600.0, 2.0)
    turned = np.radians(1.5 * time_s)
    tas = 150.0 + 6.0 * np.sin(time_s / 50.0) + rng.normal(0.0, 1.0, time_s.size)
    east, north = tas * np.sin(turned) + 20.0, tas * np.cos(turned)
    errors = measured(jittered(1.5)).velocity_errors
    sound, fed = (fit_wind(time_s + 200.0, east, north, errors=errors, fed=kind) for kind in (False, True))
    plain = circle_fit(east, north)
    mean = sound.mean_wind(200.0, 798.0)
    apart = float(np.hypot(mean[0] - plain[0], mean[1] - plain[1]))
    assert apart > 0.1
    assert sound.doubt_kt == 0.0
    assert fed.doubt_kt == pytest.approx(0.6 * apart)
    assert fed.mean_wind(200.0, 798.0)[:2] == mean[:2]
    assert fed.mean_wind(200.0, 798.0)[2] == pytest.approx(np.hypot(mean[2], 0.6 * apart))


def test_a_mean_of_directions_is_known_also_of_two_far_apart_and_of_some_unknown() -> None:
    assert mean_direction(np.array([355.0, 5.0, 100.0])) == pytest.approx(0.0, abs=1e-9)
    assert mean_direction(np.array([80.0, 140.0])) == pytest.approx(110.0)
    assert mean_direction(np.array([80.0, np.nan])) == pytest.approx(80.0)
    assert np.isnan(mean_direction(np.array([np.nan])))
    assert np.isnan(mean_direction(np.array([])))
