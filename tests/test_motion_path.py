"""The smoothed path: its derivatives on a known circle, its speed over the ground at any place."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest
from pyproj import Geod

from analyser.logs.movement import unroll
from analyser.logs.track import Track
from analyser.motion.linear_solvers import factor_banded, solve_banded, solve_factored, solve_triangular
from analyser.motion.path import _ellipse
from analyser.motion.roll_response import roll_response
from analyser.motion.spline import fit_spline
from analyser.motion.survey import survey_flight, thin


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


def test_systems_are_solved_as_numpy_solves_them() -> None:
    """A full matrix by numpy's own solver is the reference; one that is not positive definite is refused."""
    rng = np.random.default_rng(4)
    banded, right = np.vstack([np.full(9, 5.0), rng.normal(0.0, 0.6, (3, 9))]), rng.normal(size=(9, 2))
    full = sum(
        np.diag(row[: 9 - off], -off) + (np.diag(row[: 9 - off], off) if off else 0.0)
        for off, row in enumerate(banded)
    )
    assert solve_banded(banded, right) == pytest.approx(np.linalg.solve(full, right))
    assert solve_factored(factor_banded(banded), right) == pytest.approx(np.linalg.solve(full, right))
    lower = np.tril(full)
    assert solve_triangular(lower, right) == pytest.approx(np.linalg.solve(lower, right))
    with pytest.raises(np.linalg.LinAlgError):
        solve_banded(-banded, right)


def test_the_rest_of_scipys_linear_algebra_can_be_imported_afterwards() -> None:
    code = (
        "from analyser.motion import linear_solvers\n"
        "import scipy.linalg, scipy.optimize\n"
        "found = scipy.linalg.solveh_banded([[2.0] * 3] + 2 * [[0.0] * 3], [2.0, 4.0, 6.0], lower=True)\n"
        "assert round(found[1], 9) == 2.0\n"
        "assert scipy.linalg.lapack.dpbsv is linear_solvers._LAPACK.dpbsv\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


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


def _with_hole(length_s: float, *, bent_deg: float = 0.0, faster: float = 1.0) -> Track:
    """Fly north at 108 kt, and after the hole in another direction or as if the hole had been flown faster."""
    time_s = np.arange(0.0, 900.0)
    way = np.where(time_s > 300.0, 0.0005 * (time_s - 300.0), 0.0)
    gone = np.where(time_s >= 300.0 + length_s, (faster - 1.0) * 0.0005 * length_s, 0.0)
    north = 0.0005 * np.minimum(time_s, 300.0) + way * np.cos(np.radians(bent_deg)) + gone
    east = way * np.sin(np.radians(bent_deg)) / np.cos(np.radians(47.0))
    seen = (time_s <= 300.0) | (time_s >= 300.0 + length_s)
    return Track("straight", "table", "", time_s[seen], 47.0 + north[seen], -30.0 + east[seen])


def test_a_long_hole_parts_a_flight_and_a_short_one_does_not() -> None:
    assert len(survey_flight(_with_hole(20.0, bent_deg=40.0))) == 1
    assert len(survey_flight(_with_hole(120.0, bent_deg=40.0))) == 2


@pytest.mark.parametrize(
    ("hole", "parts"),
    [
        ({"length_s": 120.0}, 1),
        ({"length_s": 235.0, "bent_deg": 6.0}, 1),
        ({"length_s": 245.0}, 2),
        ({"length_s": 120.0, "bent_deg": 12.0}, 2),
        ({"length_s": 120.0, "faster": 1.08}, 1),
        ({"length_s": 120.0, "faster": 1.2}, 2),
        ({"length_s": 120.0, "faster": 0.8}, 2),
    ],
)
def test_a_long_hole_that_was_flown_straight_through_is_bridged(hole: dict[str, float], parts: int) -> None:
    assert len(survey_flight(_with_hole(**hole))) == parts


def _racetrack_with_hole(start_s: float, end_s: float, *, moved_deg: float = 0.0) -> tuple[Track, np.ndarray]:
    """Fly minutes north and south at 108 kt, half circles of a minute to the right between, and see none of a part."""
    time_s = np.arange(0.0, 720.0)
    heading = np.radians(np.cumsum(np.where(time_s % 120.0 >= 60.0, 3.0, 0.0)))
    north, east = np.cumsum(0.0005 * np.cos(heading)), np.cumsum(0.0005 * np.sin(heading))
    late = np.where(time_s >= end_s, moved_deg, 0.0)
    seen = (time_s <= start_s) | (time_s >= end_s)
    lon = -30.0 + (east + late) / np.cos(np.radians(47.0))
    return Track("racetrack", "table", "", time_s[seen], 47.0 + north[seen], lon[seen]), np.stack(
        [east, north], 1
    )


@pytest.mark.parametrize(
    ("start_s", "end_s"), [(165.0, 260.0), (150.0, 265.0), (135.0, 280.0), (160.0, 253.0)]
)
def test_a_turn_in_a_hole_is_laid_out_where_place_and_time_after_it_fit(start_s: float, end_s: float) -> None:
    """The way between is a straight, a half circle at rate one and a straight: no gentle bend that cuts the corner."""
    track, true_deg = _racetrack_with_hole(start_s, end_s)
    (survey,) = survey_flight(track)
    path_m = np.stack([survey.east_m, survey.north_m], 1)
    off_m = np.hypot(*(path_m - (true_deg - true_deg[0])[survey.time_s.astype(int)] * 111_195.0).T)
    assert off_m.max() < 60.0
    assert np.ptp(survey.ground_speed_kt[20:-20]) < 12.0


@pytest.mark.parametrize("moved_deg", [-0.05, 0.1])
def test_a_hole_after_which_the_flight_is_elsewhere_ends_a_stretch(moved_deg: float) -> None:
    assert len(survey_flight(_racetrack_with_hole(165.0, 260.0, moved_deg=moved_deg)[0])) == 2


def test_a_hole_with_room_for_a_lap_is_not_filled_with_one_turn() -> None:
    assert len(survey_flight(_racetrack_with_hole(165.0, 320.0)[0])) == 2


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


def test_a_place_is_weighted_by_its_error_along_and_across_its_own_direction() -> None:
    """By definition of a precision: one sigma along gives 1/σ² along, however the direction lies; by hand at 30°."""
    direction = np.array([[1.0, 0.0], [0.0, 1.0], [np.sin(np.pi / 6), np.cos(np.pi / 6)]])
    found = _ellipse(direction, np.array([2.0, 2.0, 2.0]), np.array([5.0, 5.0, 5.0]))
    assert found[0] == pytest.approx(np.diag([1 / 4, 1 / 25]))
    assert found[1] == pytest.approx(np.diag([1 / 25, 1 / 4]))
    beside = np.array([np.cos(np.pi / 6), -np.sin(np.pi / 6)])
    assert direction[2] @ found[2] @ direction[2] == pytest.approx(1 / 4)
    assert beside @ found[2] @ beside == pytest.approx(1 / 25)
    assert direction[2] @ found[2] @ beside == pytest.approx(0.0)
