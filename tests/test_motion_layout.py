"""What is laid out of a path and its wind: each series and its sigma by its own formula (derived, written out here)."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from analyser.logs.track import Seam, Track
from analyser.motion.airdata import logged
from analyser.motion.estimate import _near_hole
from analyser.motion.layout import has_impossible_corners
from analyser.motion.motion import Motion
from analyser.motion.path import tidy_path
from analyser.motion.roll_response import UNSMOOTHED, roll_response
from tests.test_motion_untidy import KT, jittered, measured, track_of

G = 9.80665


@cache
def motion() -> Motion:
    """Racetracks at a steady speed in still air, a row a second, known to a metre."""
    return measured(jittered(0.0, 1.0)).motion


def test_airspeed_and_heading_are_the_ground_velocity_less_the_wind() -> None:
    m = motion()
    east, north = m.ground_east_kt - m.wind_east_kt, m.ground_north_kt - m.wind_north_kt
    assert m.tas_kt == pytest.approx(np.hypot(east, north))
    off = (m.heading_deg - np.degrees(np.arctan2(east, north)) + 180.0) % 360.0 - 180.0
    assert np.abs(off).max() < 1e-9
    # V ω = g tan φ.
    right = G * np.tan(np.radians(m.bank_deg)) / (m.tas_kt / KT)
    assert m.turn_rate_dps == pytest.approx(np.degrees(right))
    inner = slice(30, -30)
    turned = np.gradient(np.unwrap(m.heading_deg, period=360.0), m.time_s)
    assert np.median(np.abs(turned - m.turn_rate_dps)[inner]) < 0.05


def test_each_sigma_follows_from_those_it_is_made_of() -> None:
    m = motion()
    # At one airspeed and level the indicated one is a share of the true one, and so is its sigma.
    assert m.ias_sd_kt == pytest.approx(m.tas_sd_kt * m.ias_kt / m.tas_kt)
    # Standard air at 5,000 ft has 0.8617 of the density: the root of that, compressibility apart.
    assert np.median(m.ias_kt / m.tas_kt) == pytest.approx(np.sqrt(0.8617), abs=0.002)
    assert (m.tas_sd_kt >= m.wind_sd_kt).all()
    across_kt = np.sqrt(np.clip((np.radians(m.heading_sd_deg) * m.tas_kt) ** 2 - m.wind_sd_kt**2, 0.0, None))
    along_kt = np.sqrt(m.tas_sd_kt**2 - m.wind_sd_kt**2)
    assert across_kt == pytest.approx(along_kt, rel=1e-6)


@pytest.mark.parametrize(("noise_m", "interval_s"), [(3.0, 1.0), (8.0, 1.0), (3.0, 4.0)])
def test_a_smoothed_paths_errors_are_those_of_a_random_jerk(noise_m: float, interval_s: float) -> None:
    """R^½ S^½ / 6 of velocity and R^⅙ S^⅚ / 3 of acceleration, with S = 0.2 m² s⁻⁵ and R the noise's density."""
    rng = np.random.default_rng(8)
    time_s = np.arange(0.0, 2000.0, interval_s)
    fixes = rng.normal(0.0, noise_m, (time_s.size, 2))
    path = tidy_path(time_s, fixes, interval_s, time_s)
    # The noise is what the fixes leave over about the path: less than was put in, by the freedom that the path spends.
    assert 0.3 * noise_m < path.spline.noise < 1.05 * noise_m
    density = path.spline.noise**2 * interval_s + 0.2 * (interval_s / np.pi) ** 6
    assert np.median(path.along_sd_kt) == pytest.approx(KT * np.sqrt(np.sqrt(density * 0.2) / 6.0), rel=1e-6)
    assert np.median(path.acceleration_sd) == pytest.approx(
        np.sqrt(density ** (1 / 6) * 0.2 ** (5 / 6) / 3.0), rel=0.04
    )
    assert path.across_sd_kt == pytest.approx(path.along_sd_kt)
    if interval_s > 1.0:
        return
    # Where nothing moves the path errs by the noise alone, and by less than with a hand that moves.
    seen, pulled = (path.spline.at(time_s, order)[50:-50].std() for order in (1, 2))
    assert 0.3 < KT * seen / np.median(path.along_sd_kt) < 1.1
    assert 0.2 < pulled / np.median(path.acceleration_sd) < 1.1


def test_how_long_a_roll_looks_grows_with_the_roll_and_with_the_sampling() -> None:
    fine, coarse = roll_response(1.0, 1.0), roll_response(5.0, 3.0)
    for response in (fine, coarse):
        assert response.roll_s[0] == 0.0 and response.roll_s[-1] == 12.0
        assert (np.diff(response.spread_s) > -0.2).all()
        assert response.blur_s == response.spread_s[0]
    assert coarse.blur_s > 1.5 * fine.blur_s > 0.0
    # From a quarter to three quarters lies half of a long roll, however it is smoothed.
    assert fine.spread_s[-1] == pytest.approx(6.0, abs=0.4)
    for roll_s in (4.0, 6.5, 10.0):
        seen_s = float(np.interp(roll_s, fine.roll_s, fine.spread_s))
        assert fine.roll_of(seen_s) == pytest.approx(roll_s, abs=0.05)
    # A bank that was logged is not smoothed: half of its roll, at any length.
    assert UNSMOOTHED.roll_of(2.5) == pytest.approx(5.0) and UNSMOOTHED.blur_s == 0.0
    assert fine.roll_of(0.0) == 0.0 and fine.roll_of(50.0) == 12.0


@pytest.mark.parametrize(
    ("bank_deg", "seconds", "impossible"),
    [(55.0, 4, True), (55.0, 9, False), (46.0, 4, False)],
)
def test_corners_that_no_wing_flies_are_short_and_steep(
    bank_deg: float, seconds: int, impossible: bool
) -> None:
    """Half a circle at 60° of bank takes longer than six seconds at any speed that holds are flown at."""
    m = motion()
    bank, rate = np.zeros(m.time_s.size), np.zeros(m.time_s.size)
    for start in range(100, 900, 100):
        bank[start : start + seconds] = bank_deg
        rate[start : start + seconds] = 20.0
    assert has_impossible_corners(replace(m, bank_deg=bank, turn_rate_dps=rate)) == impossible


@pytest.mark.parametrize(("share", "impossible"), [(0.2, False), (0.3, True)])
def test_a_quarter_of_the_turning_in_such_corners_makes_the_log_one_of_chords(
    share: float, impossible: bool
) -> None:
    m = motion()
    bank, rate = np.zeros(m.time_s.size), np.zeros(m.time_s.size)
    bank[100:200], rate[100:200] = 20.0, 3.0
    bank[300:304], rate[300:304] = 60.0, 300.0 * share / (1.0 - share) / 4.0
    assert has_impossible_corners(replace(m, bank_deg=bank, turn_rate_dps=rate)) == impossible


def test_a_channel_is_laid_on_the_grid_where_most_of_it_is_there_and_it_moves() -> None:
    track = motion_track()
    grid = np.arange(100.0, 1100.0)
    swing = 10.0 * np.sin(track.time_s / 50.0)
    laid = logged(with_channel(swing), "bank_deg", grid)
    assert laid is not None and laid == pytest.approx(10.0 * np.sin(grid / 50.0), abs=0.05)
    assert logged(track, "bank_deg", grid) is None
    # Stuck, or there for less than eight tenths of the stretch.
    assert logged(with_channel(np.full(track.samples, 4.0)), "bank_deg", grid) is None
    for known, used in ((0.7, False), (0.9, True)):
        some = np.where((track.time_s - 100.0) < 1000.0 * known, swing, np.nan)
        assert (logged(with_channel(some), "bank_deg", grid) is not None) == used
    # What it says elsewhere does not count.
    elsewhere = np.where(track.time_s < 90.0, swing, 4.0)
    assert logged(with_channel(elsewhere), "bank_deg", grid) is None


def motion_track() -> Track:
    time_s = np.arange(0.0, 1200.0)
    return track_of(time_s, time_s)


def with_channel(values: np.ndarray) -> Track:
    track = motion_track()
    return replace(track, channels={**track.channels, "bank_deg": values})


def test_what_lies_near_a_hole_leans_into_it() -> None:
    hole = np.zeros(60, bool)
    hole[30:40] = True
    near = _near_hole(hole)
    assert near[30:40].all() and not near[[0, 59]].any()
    before, after = np.flatnonzero(near)[[0, -1]]
    assert 30 - before == after - 39 > 0
    assert not _near_hole(np.zeros(60, bool)).any()


@pytest.mark.parametrize(
    ("removed_s", "said"),
    [(45.0, "the recording stood still for 45 s"), (0.0, "time went uncounted or changed its rate")],
)
def test_a_seam_within_the_stretch_is_said_with_its_time(removed_s: float, said: str) -> None:
    track = motion_track()
    inside = replace(track, seams=(Seam(605.0, removed_s),))
    found = measured(inside).motion
    (notice,) = [one for one in found.notices if one.code == "time-seam"]
    assert notice.message.startswith("10 min 5 s into the flight ") and said in notice.message
    assert found.seams_s == (605.0,)
    outside = measured(replace(track, seams=(Seam(1150.0, removed_s),))).motion
    assert not [one for one in outside.notices if one.code == "time-seam"] and outside.seams_s == ()
