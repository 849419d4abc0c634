"""The smoothed path: its derivatives on a known circle, its speed over the ground at any place."""

from __future__ import annotations

import numpy as np
import pytest
from pyproj import Geod

from analyser.logs.track import Track
from analyser.motion.roll_response import roll_response
from analyser.motion.spline import fit_spline
from analyser.motion.survey import survey_flight, thin, unroll


@pytest.mark.parametrize("interval_s", [0.5, 1.0, 2.0, 5.0])
def test_derivatives_on_a_rate_one_circle(interval_s: float) -> None:
    """Radius V/ω and acceleration Vω are geometry: 60 m/s at 3°/s."""
    speed, rate = 60.0, np.radians(3.0)
    time_s = np.arange(0.0, 240.0, interval_s)
    path = speed / rate * np.column_stack([1 - np.cos(rate * time_s), np.sin(rate * time_s)])
    spline = fit_spline(time_s, path)
    inner = np.arange(20.0, 210.0)
    assert np.hypot(*spline.at(inner, 1).T) == pytest.approx(np.full(inner.size, speed), rel=2e-3)
    assert np.hypot(*spline.at(inner, 2).T) == pytest.approx(np.full(inner.size, speed * rate), rel=2e-2)


def test_noise_is_read_off_the_fixes() -> None:
    rng = np.random.default_rng(1)
    time_s = np.arange(0.0, 600.0)
    path = np.column_stack([50.0 * time_s, np.zeros_like(time_s)]) + rng.normal(0, 4.0, (600, 2))
    assert fit_spline(time_s, path).noise == pytest.approx(4.0, rel=0.15)


def test_a_wild_fix_does_not_soften_the_path() -> None:
    time_s = np.arange(0.0, 300.0)
    path = np.column_stack([50.0 * time_s, np.zeros_like(time_s)])
    path[150, 1] = 900.0
    assert fit_spline(time_s, path).noise < 1.0


@pytest.mark.parametrize(("lat", "lon"), [(48.0, 11.0), (-33.0, 179.97), (83.0, -40.0), (0.0, 0.0)])
def test_unrolled_steps_keep_their_lengths(lat: float, lon: float) -> None:
    """Against the geodesics of the reference library (PROJ)."""
    geod = Geod(ellps="WGS84")
    bearings = np.linspace(0.0, 720.0, 200)
    lats, lons = [lat], [lon]
    for bearing in bearings:
        new_lon, new_lat, _ = geod.fwd(lons[-1], lats[-1], bearing, 100.0)
        lats.append(new_lat)
        lons.append((new_lon + 180.0) % 360.0 - 180.0)
    east, north = unroll(np.array(lats), np.array(lons))
    assert np.hypot(np.diff(east), np.diff(north)) == pytest.approx(np.full(200, 100.0), abs=0.01)


def _straight(time_s: np.ndarray) -> Track:
    return Track("straight", "table", "", time_s, 47.0 + time_s * 0.0005, np.full(time_s.size, -30.0))


def test_a_long_hole_parts_a_flight_and_a_short_one_does_not() -> None:
    whole = np.arange(0.0, 900.0)
    short = whole[(whole < 300) | (whole > 320)]
    long = whole[(whole < 300) | (whole > 420)]
    assert [len(survey_flight(_straight(t))) for t in (whole, short, long)] == [1, 1, 2]


def test_fast_sampling_is_averaged_and_slow_sampling_left_alone() -> None:
    fast = np.arange(0.0, 10.0, 0.05)
    time_s, values = thin(fast, np.column_stack([fast, 2 * fast]))
    assert time_s.size == 20
    assert values[:, 1] == pytest.approx(2 * time_s)
    slow = np.arange(0.0, 100.0, 5.0)
    assert thin(slow, slow[:, None])[0] is slow


def test_a_longer_roll_looks_longer() -> None:
    response = roll_response(1.0, 0.5)
    assert np.all(np.diff(response.spread_s[response.roll_s >= 2.0]) > 0)
    assert response.roll_of(response.spread_s[5]) == pytest.approx(response.roll_s[5])
    assert roll_response(5.0, 0.5).blur_s > response.blur_s
