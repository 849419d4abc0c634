"""Wind and airspeed from ground velocities, against published worked examples and known noise."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from analyser.earth.wind import wind_from
from analyser.motion.circle import circle_fit
from analyser.motion.noise_model import CorrelatedNoise, whiten
from analyser.motion.windfit import fit_wind


def velocities(legs: list[tuple[float, float]]) -> tuple[np.ndarray, np.ndarray]:
    """Turn ground speed and track, knots and degrees, into components."""
    speed, track = (np.array(part, float) for part in zip(*legs, strict=True))
    return speed * np.sin(np.radians(track)), speed * np.cos(np.radians(track))


def test_three_legs_of_gray() -> None:
    """D. Gray, 1998, three-leg method (quoted): TAS 130.0, wind 314.8° at 20.6 kt, headings 199.7, 287.8, 11.7."""
    legs = [(140.0, 192.0), (112.0, 283.0), (120.0, 20.0)]
    east, north = velocities(legs)
    wind_east, wind_north, tas = circle_fit(east, north)
    direction, speed = wind_from(wind_east, wind_north)
    assert tas == pytest.approx(130.0, abs=0.06)
    assert direction == pytest.approx(314.8, abs=0.1)
    assert speed == pytest.approx(20.6, abs=0.06)
    headings = np.degrees(np.arctan2(east - wind_east, north - wind_north)) % 360.0
    assert headings == pytest.approx([199.7, 287.8, 11.7], abs=0.1)


NTPS = [(178.0, 178.0), (185.0, 82.0), (188.0, 355.0), (184.0, 265.0)]


def test_three_legs_of_the_position_error_sheet() -> None:
    """NTPS GPS position-error sheet (quoted): TAS 183.05, wind 194.5° at 5.26 kt."""
    wind_east, wind_north, tas = circle_fit(*velocities(NTPS[:3]))
    direction, speed = wind_from(wind_east, wind_north)
    assert tas == pytest.approx(183.05, abs=0.01)
    assert direction == pytest.approx(194.5, abs=0.2)
    assert speed == pytest.approx(5.26, abs=0.02)


def test_four_triples_of_the_position_error_sheet() -> None:
    """The same sheet's four triples (quoted): mean TAS 183.727, standard deviation 0.827."""
    found = [circle_fit(*velocities(list(triple)))[2] for triple in combinations(NTPS, 3)]
    assert np.mean(found) == pytest.approx(183.727, abs=0.002)
    assert np.std(found, ddof=1) == pytest.approx(0.827, abs=0.002)


def test_example_with_known_wind() -> None:
    """Usenet example (quoted): TAS 100, wind 045/30, tracks 000/120/240 give 76.5, 87.9 and 128.7 kt."""
    wind_east, wind_north, tas = circle_fit(*velocities([(76.5, 0.0), (87.9, 120.0), (128.7, 240.0)]))
    direction, speed = wind_from(wind_east, wind_north)
    assert tas == pytest.approx(100.0, abs=0.05)
    assert direction == pytest.approx(45.0, abs=0.1)
    assert speed == pytest.approx(30.0, abs=0.05)


@pytest.mark.parametrize(
    ("arc_deg", "along", "across", "radius"),
    [
        (360, 1.414, 1.414, 1.000),
        (240, 2.105, 1.287, 1.326),
        (180, 3.249, 1.414, 2.297),
        (120, 6.618, 1.847, 5.563),
    ],
)
def test_scatter_meets_the_cramer_rao_bound(
    arc_deg: float, along: float, across: float, radius: float
) -> None:
    """Sigma of centre and radius over σ/√n, for arcs of a circle in white noise (derived, closed form).

    Eight hundred draws tell a sigma to 2.5 %; three of those are allowed.
    """
    rng = np.random.default_rng(20261125)
    count, noise = 120, 0.2
    angle = np.radians(np.linspace(-arc_deg / 2, arc_deg / 2, count, endpoint=arc_deg < 360))
    fits = np.array(
        [
            circle_fit(
                100.0 * np.cos(angle) + rng.normal(0, noise, count),
                100.0 * np.sin(angle) + rng.normal(0, noise, count),
            )
            for _ in range(800)
        ]
    )
    factor = fits.std(axis=0) / (noise / np.sqrt(count))
    assert factor == pytest.approx([along, across, radius], rel=0.075)


def wandering(rng: np.random.Generator, time_s: np.ndarray, sigma: float, memory_s: float) -> np.ndarray:
    kept = np.exp(-np.diff(time_s) / memory_s)
    values = [rng.normal(0, sigma)]
    for share in kept:
        values.append(share * values[-1] + sigma * np.sqrt(1 - share**2) * rng.normal())
    return np.array(values)


def flown(seed: int, *, sigma: float, veer_kt: float = 0.0) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Four circuits of 240 s at 110 kt in a wind of 18/−7 kt that may grow to the east along the hold."""
    rng = np.random.default_rng(seed)
    time_s = np.arange(0.0, 960.0, 2.0)
    lap = time_s % 240.0
    turned = np.where(
        lap < 60, 3 * lap, np.where(lap < 120, 180, np.where(lap < 180, 180 + 3 * (lap - 120), 360))
    )
    heading = np.radians(30.0 + turned)
    tas = 110.0 + wandering(rng, time_s, sigma, 30.0)
    return time_s, tas * np.sin(heading) + 18.0 + veer_kt * time_s / 960.0, tas * np.cos(heading) - 7.0


def test_wind_is_honest_about_a_wandering_airspeed() -> None:
    off = []
    for seed in range(60):
        fit = fit_wind(*flown(seed, sigma=2.5))
        east, north, sd = fit.mean_wind(0.0, 960.0)
        off += [(east - 18.0) / sd, (north + 7.0) / sd]
    within = np.mean(np.abs(off) < 2.0)
    assert 0.88 <= within <= 0.995
    assert abs(np.mean(off)) < 0.35


def test_wind_that_changes_along_the_hold_is_followed() -> None:
    errors = []
    for seed in range(12):
        fit = fit_wind(*flown(seed, sigma=1.0, veer_kt=12.0))
        errors += [fit.mean_wind(0.0, 240.0)[0] - 19.5, fit.mean_wind(720.0, 960.0)[0] - 28.5]
    assert np.median(np.abs(errors)) < 1.2


def test_whitening_leaves_independent_unit_noise_at_any_sampling() -> None:
    rng = np.random.default_rng(4)
    time_s = np.cumsum(rng.uniform(0.5, 9.0, 4000))
    white, _ = whiten(time_s, wandering(rng, time_s, 1.0, 25.0)[:, None], 25.0)
    assert white.std() == pytest.approx(1.0, abs=0.04)
    assert abs(np.corrcoef(white[1:, 0], white[:-1, 0])[0, 1]) < 0.05


def test_mean_of_a_wander_shrinks_with_the_root_of_the_span() -> None:
    """For spans far beyond the memory the variance of the mean is 2σ²τ/T (a textbook limit)."""
    assert CorrelatedNoise(2.0, 30.0).mean_sd(30_000.0) == pytest.approx(
        2.0 * np.sqrt(2 * 30.0 / 30_000.0), rel=0.01
    )
    assert CorrelatedNoise(2.0, 30.0).mean_sd(1e-3) == pytest.approx(2.0, rel=0.01)
