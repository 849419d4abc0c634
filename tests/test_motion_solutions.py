"""The instrument's solutions against others' of the same problem, against symmetry, and its sigmas against scatter."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy.interpolate import BSpline
from scipy.linalg import block_diag

from analyser.earth.plane import LocalPlane
from analyser.logs.track import Track
from analyser.motion.estimate import Measured, _in_hole, _near_hole
from analyser.motion.noise_model import CorrelatedNoise
from analyser.motion.path import Velocities, VelocityErrors, _System
from analyser.motion.roll_response import RollResponse, roll_response
from analyser.motion.survey import Survey, survey_flight
from analyser.motion.windfit import WindFit, fit_wind, with_heading
from tests.drawn_flights import drawn, straight
from tests.test_motion_parts import correlations
from tests.test_motion_speeds import motion
from tests.test_motion_wind import wandering

KT = 3600.0 / 1852.0
RNG = np.random.default_rng(20261130)


# The path's normal equations, against a full matrix made of SciPy's own splines

STEP_S, TIMES = 2.0, np.sort(RNG.uniform(10.0, 40.0, 25))
TIMES[[0, -1]] = 10.0, 40.0
COUNT = 15 + 3 + 1
#: Uniform knots, from three before the first sample on.
KNOTS = 10.0 + STEP_S * np.arange(-3, COUNT + 1)


def weights(time_s: np.ndarray, order: int) -> np.ndarray:
    """Return what every coefficient adds to a derivative at some times: (n, count)."""
    each = [BSpline(KNOTS, row, 3, extrapolate=True).derivative(order) for row in np.eye(COUNT)]
    return np.column_stack([one(time_s) for one in each])


def planar(time_s: np.ndarray, order: int) -> np.ndarray:
    """Return the same for points east and north in turn: (2n, 2 count)."""
    return np.kron(weights(time_s, order), np.eye(2))


def test_the_path_is_the_least_of_what_its_samples_its_speeds_and_its_jerk_cost() -> None:
    spread = RNG.normal(size=(TIMES.size, 2, 2))
    precision = spread @ spread.transpose(0, 2, 1) + 0.1 * np.eye(2)
    places = RNG.normal(0.0, 50.0, (TIMES.size, 2))
    at_s = np.array([5.0, 12.0, 20.0, 33.0, 41.0])
    north = np.tile([0.6, 0.8], (5, 1))
    told = Velocities(at_s, 40.0 * north, north, np.full(5, 0.5), np.full(5, 2.0))
    system = _System(TIMES, STEP_S)
    assert system.count == COUNT
    system.observe(TIMES, places, precision, 0)
    system.observe_velocities(told)
    found = system.solve(1.0)
    # Along the direction to one sigma, across it to another; outside the span nothing is heard.
    along, across = np.array([0.6, 0.8]), np.array([0.8, -0.6])
    each = np.outer(along, along) / 0.25 + np.outer(across, across) / 4.0
    inside = at_s[1:4]
    rows = [planar(TIMES, 0), planar(inside, 1)]
    costs = [block_diag(*precision), block_diag(*[each] * 3)]
    wanted = [places.ravel(), np.tile(40.0 * along, 3)]
    third = np.kron(np.diff(np.eye(COUNT), n=3, axis=0), np.eye(2))
    # The jerk of 0.2 m² s⁻⁵, a third difference of coefficients over the spacing cubed, held for one spacing.
    normal = third.T @ third / (0.2 * STEP_S**5) + sum(r.T @ c @ r for r, c in zip(rows, costs, strict=True))
    right = sum(r.T @ c @ w for r, c, w in zip(rows, costs, wanted, strict=True))
    assert found.coefficients.ravel() == pytest.approx(np.linalg.solve(normal, right), rel=1e-5, abs=1e-4)
    # What the solution does not know of two mean velocities, and how they err together.
    mean_s = np.arange(12.0, 30.0, 1.5)
    bins = [slice(0, 5), slice(5, 12)]
    way = np.column_stack([np.sin(mean_s), np.cos(mean_s)])
    speed = (planar(mean_s, 1).reshape(mean_s.size, 2, -1) * way[:, :, None]).sum(axis=1)
    means = np.stack([speed[one].mean(axis=0) for one in bins])
    covariance = VelocityErrors(system).covariance(mean_s, way, np.array([0, 5]))
    assert covariance == pytest.approx(KT**2 * means @ np.linalg.inv(normal) @ means.T, rel=1e-5)
    # The sigmas of the path are those of velocity along and across the track, and of acceleration across it.
    path = system.with_sigmas(found, np.arange(12.0, 38.0, 4.0), 3.0)
    probe_s = np.linspace(12.0, 36.0, 6)
    velocity = found.at(probe_s, 1)
    ahead = velocity / np.hypot(*velocity.T)[:, None]
    beside = np.column_stack([ahead[:, 1], -ahead[:, 0]])
    for said, unit, order, scale in (
        (path.along_sd_kt, ahead, 1, KT),
        (path.across_sd_kt, beside, 1, KT),
        (path.acceleration_sd, beside, 2, 1.0),
    ):
        picked = (planar(probe_s, order).reshape(6, 2, -1) * unit[:, :, None]).sum(axis=1)
        sd = scale * np.sqrt(np.einsum("ij,jk,ik->i", picked, np.linalg.inv(normal), picked))
        assert said == pytest.approx(np.interp(np.arange(12.0, 38.0, 4.0), probe_s, sd), rel=1e-5)
    assert path.interval_s == 3.0


# Wind and airspeed


def flown(
    seed: int, *, sigma: float = 2.5, memory_s: float = 30.0, gusts_kt: float = 0.0, seconds: int = 960
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Fly circuits of four minutes at 110 kt in a wind of 18/-7 kt, the airspeed wandering."""
    rng = np.random.default_rng(seed)
    time_s = np.arange(0.0, float(seconds), 2.0)
    heading = np.radians(30.0 + np.cumsum(np.where(time_s % 120.0 < 60.0, 6.0, 0.0)))
    tas = 110.0 + wandering(rng, time_s, sigma, memory_s) + wandering(rng, time_s, gusts_kt, 9.0)
    return time_s, tas * np.sin(heading) + 18.0, tas * np.cos(heading) - 7.0


@pytest.mark.parametrize(
    ("kind", "quick", "least", "most"),
    [
        ({"sigma": 1.0}, False, 0.8, 1.12),
        ({"sigma": 5.0}, False, 0.8, 1.12),
        ({"sigma": 3.0, "memory_s": 60.0}, False, 0.8, 1.25),
        ({"sigma": 1.5, "gusts_kt": 3.0}, False, 0.8, 1.12),
        ({"sigma": 2.5, "seconds": 480}, False, 0.75, 1.2),
        # The usual noise is taken, not the flight's own.
        ({"sigma": 2.5}, True, 0.85, 1.35),
    ],
)
def test_the_winds_sigma_is_how_far_it_is_off(
    kind: dict[str, Any], quick: bool, least: float, most: float
) -> None:
    """Two dozen draws of two axes tell the ratio to a tenth, one sigma; to be a little too careful is allowed, too."""
    off = []
    for seed in range(24):
        time_s, *velocity = flown(100 + seed, **kind)
        east, north, sd = fit_wind(time_s, *velocity, quick=quick).mean_wind(0.0, float(time_s[-1]))
        off += [(east - 18.0) / sd, (north + 7.0) / sd]
    assert least < np.sqrt(np.mean(np.square(off))) < most


@pytest.mark.parametrize("sigma", [1.0, 4.0])
def test_how_much_and_how_long_an_airspeed_wanders_is_told(sigma: float) -> None:
    fits = [fit_wind(*flown(200 + seed, sigma=sigma)) for seed in range(16)]
    assert np.mean([fit.speed_noise.sigma for fit in fits]) == pytest.approx(sigma, rel=0.15)
    assert 18.0 < np.mean([fit.speed_noise.memory_s for fit in fits]) < 45.0
    assert np.mean([fit.parameters[-1] for fit in fits]) == pytest.approx(110.0, abs=0.35 * sigma)
    long_s = [flown(300 + seed, sigma=sigma, memory_s=70.0) for seed in range(8)]
    assert np.mean([fit_wind(*one).speed_noise.memory_s for one in long_s]) > 42.0


@pytest.mark.parametrize("slower_kt", [-30.0, -15.0, 20.0])
def test_a_change_of_the_speed_held_is_told_and_is_no_wind(slower_kt: float) -> None:
    found = []
    for seed in range(3):
        time_s, east, north = flown(400 + seed, sigma=1.0)
        through = np.array([east - 18.0, north + 7.0])
        changed = slower_kt * np.clip((time_s - 400.0) / 60.0, 0.0, 1.0)
        wind = np.array([[18.0], [-7.0]])
        east, north = through * (1.0 + changed / np.hypot(*through)) + wind
        fit = fit_wind(time_s, east, north)
        speeds = fit.parameters[2 * fit.knots_s.size + 2 :]
        found.append([*fit.mean_wind(0.0, 958.0)[:2], speeds[0], speeds[1:].sum()])
    assert np.mean(found, axis=0) == pytest.approx([18.0, -7.0, 110.0, slower_kt], abs=0.7)


def test_which_way_the_map_lies_and_which_way_time_runs_makes_no_other_wind() -> None:
    time_s, east, north = flown(1)
    fit = fit_wind(time_s, east, north)
    found = fit.mean_wind(0.0, 958.0)
    turned = fit_wind(time_s, north, -east).mean_wind(0.0, 958.0)
    assert turned == pytest.approx((found[1], -found[0], found[2]), rel=1e-3, abs=1e-3)
    mirrored = fit_wind(time_s, -east, north).mean_wind(0.0, 958.0)
    assert mirrored == pytest.approx((-found[0], found[1], found[2]), rel=1e-3, abs=1e-3)
    later = fit_wind(time_s + 5000.0, east, north).mean_wind(5000.0, 5958.0)
    assert later == pytest.approx(found, rel=1e-6)
    faster = fit_wind(time_s, 2.0 * east, 2.0 * north)
    assert faster.parameters[-1] == pytest.approx(2.0 * fit.parameters[-1], rel=0.01)


def test_a_wind_that_shears_with_height_is_told_at_every_height() -> None:
    """Six knots more from the west in a thousand feet: more than is usual, plainly seen."""
    time_s = np.arange(0.0, 960.0, 2.0)
    heading = np.radians(3.0 * time_s)
    height = 0.5 * np.sin(2.0 * np.pi * time_s / 300.0)
    tas = 110.0 + wandering(np.random.default_rng(3), time_s, 0.5, 30.0)
    east, north = tas * np.sin(heading) + 15.0 + 6.0 * height, tas * np.cos(heading) - 4.0 * height
    fit = fit_wind(time_s, east, north, height_kft=height)
    told = fit.wind(time_s)
    assert told[0] == pytest.approx(15.0 + 6.0 * height, abs=1.0)
    assert told[1] == pytest.approx(-4.0 * height, abs=1.0)
    blind = fit_wind(time_s, east, north).wind(time_s)
    assert np.abs(blind[0] - 15.0 - 6.0 * height).max() > 1.5


def test_a_constant_indicated_airspeed_is_a_true_one_that_grows_with_height() -> None:
    time_s = np.arange(0.0, 480.0, 2.0)
    factor = np.linspace(0.98, 1.02, time_s.size)
    heading = np.radians(1.5 * time_s)
    east, north = 110.0 * factor * np.sin(heading) + 12.0, 110.0 * factor * np.cos(heading)
    by_ias, by_tas = (fit_wind(time_s, east, north, factor=one) for one in (factor, None))
    assert by_ias.mean_wind(0.0, 478.0)[:2] == pytest.approx((12.0, 0.0), abs=0.1)
    assert by_ias.parameters[-1] == pytest.approx(110.0, abs=0.1)
    # To who takes it for the true one it seems to have changed.
    assert by_ias.parameters.size == 2 * by_ias.knots_s.size + 3 < by_tas.parameters.size


def test_of_a_logged_airspeed_the_bias_is_told_and_all_that_is_left_is_gusts() -> None:
    rng = np.random.default_rng(6)
    time_s, *_ = flown(1)
    heading = np.radians(30.0 + np.cumsum(np.where(time_s % 120.0 < 60.0, 6.0, 0.0)))
    tas = 110.0 + wandering(rng, time_s, 6.0, 40.0)
    gusty = tas + wandering(rng, time_s, 0.6, 8.0)
    east, north = gusty * np.sin(heading) + 18.0, gusty * np.cos(heading) - 7.0
    by_log = fit_wind(time_s, east, north, reference_kt=tas - 4.0)
    assert by_log.parameters[-1] == pytest.approx(4.0, abs=0.4)
    assert (by_log.gust_share, fit_wind(time_s, east, north).gust_share) == (1.0, 0.5)
    assert by_log.speed_noise.sigma < 1.2
    found = by_log.mean_wind(0.0, 958.0)
    assert found[:2] == pytest.approx((18.0, -7.0), abs=3.0 * found[2]) and found[2] < 0.4


def test_a_heading_is_heard_with_its_errors_and_never_makes_the_wind_less_sure() -> None:
    """A compass that is off by 9° and a nose that points 0.2° off the air for each degree of bank turn no wind."""
    rng = np.random.default_rng(12)
    offs, gains = [], []
    for _ in range(12):
        time_s = np.arange(0.0, 480.0, 2.0)
        turning = time_s % 120.0 < 60.0
        heading_deg = 20.0 + np.cumsum(np.where(turning, 6.0, 0.0))
        heading, bank_deg = np.radians(heading_deg), np.where(turning, 17.0, 0.0)
        tas = 110.0 + wandering(rng, time_s, 4.0, 30.0)
        aside = wandering(rng, time_s, 1.5, 12.0)
        east = tas * np.sin(heading) + aside * np.cos(heading) + 18.0
        north = tas * np.cos(heading) - aside * np.sin(heading) - 9.0
        fit = fit_wind(time_s, east, north)
        attack_deg = 4.0 * np.sin(np.radians(bank_deg))
        velocity = np.column_stack([east, north])
        sharper = with_heading(fit, time_s, velocity, heading_deg + 9.0 + attack_deg, bank_deg)
        assert sharper is not None
        own, better = (one.mean_wind(0.0, 478.0) for one in (fit, sharper))
        offs += [(better[0] - 18.0) / better[2], (better[1] + 9.0) / better[2]]
        gains.append(better[2] / own[2])
        # The airspeed and its sigma are the circle's.
        assert sharper.parameters[-1] == fit.parameters[-1]
        assert sharper.covariance[-1, -1] == fit.covariance[-1, -1]
        assert np.linalg.eigvalsh(sharper.covariance).min() > 0.0
    assert max(gains) < 0.75
    assert 0.6 < np.sqrt(np.mean(np.square(offs))) < 1.5


# Rolls, holes


def test_half_of_a_slow_roll_is_seen_between_the_quarters_and_a_quick_one_looks_as_the_smoothing_makes_it() -> (
    None
):
    fine, rough = roll_response(0.5, 0.2), roll_response(1.0, 3.0)
    assert fine.spread_s[-3:] == pytest.approx(0.5 * fine.roll_s[-3:], abs=0.2)
    assert fine.blur_s < 1.5 and rough.blur_s == pytest.approx(3.0, abs=0.3)
    for response in (fine, rough, roll_response(5.0, 0.2)):
        # Seen are both together; a smoother that rings shows a little less than their squares add up to.
        both = np.hypot(0.5 * response.roll_s, response.blur_s)
        assert (response.spread_s <= both + 0.11).all()
        assert (response.spread_s >= np.maximum(response.blur_s, 0.42 * response.roll_s) - 0.21).all()
    straight = RollResponse(np.array([0.0, 4.0, 8.0]), np.array([1.0, 2.0, 4.0]))
    assert [straight.roll_of(s) for s in (0.5, 1.5, 3.0, 9.0)] == [0.0, 2.0, 6.0, 8.0]


def test_between_neighbours_more_than_six_seconds_apart_lies_a_hole() -> None:
    grid = np.arange(0.0, 60.0)
    close = np.concatenate([np.arange(0.0, 21.0), np.arange(26.0, 60.0)])
    assert not _in_hole(grid, close).any()
    wide = np.concatenate([np.arange(0.0, 21.0), np.arange(27.0, 60.0)])
    # The second beside a sample counts as seen.
    assert np.flatnonzero(_in_hole(grid, wide)).tolist() == [22, 23, 24, 25]
    # A lone sample between two holes tells a place and no speed.
    lone = np.concatenate([np.arange(0.0, 21.0), [30.0], np.arange(40.0, 60.0)])
    assert np.flatnonzero(_in_hole(grid, lone)).tolist() == list(range(22, 39))
    # Of a log of ten seconds a hole is longer than 22.
    for hole_s, lost in ((20.0, 0), (30.0, 27)):
        sparse = np.concatenate([np.arange(0.0, 101.0, 10.0), np.arange(100.0 + hole_s, 300.0, 10.0)])
        assert abs(int(_in_hole(np.arange(0.0, 250.0), sparse).sum()) - lost) <= 2


def test_the_smoother_leans_into_a_hole_for_three_seconds_beside_it() -> None:
    hole = np.zeros(40, dtype=bool)
    hole[15:20] = True
    assert np.flatnonzero(_near_hole(hole)).tolist() == list(range(12, 23))
    assert _near_hole(hole[14:20]).tolist() == hole[14:20].tolist()


def turned_in_a_hole(turn_deg: float, rate_dps: float, hole_s: float, late_s: float = 0.0) -> list[Survey]:
    """Fly north at 108 kt, turn within a hole of the log in its middle, or so late, and fly on."""
    took_s = turn_deg / rate_dps
    time_s = np.arange(0.0, 900.0)
    heading = np.radians(np.clip((time_s - 400.0 - late_s + 0.5 * took_s) * rate_dps, 0.0, turn_deg))
    lat, lon = LocalPlane(47.0, -30.0).to_earth(
        np.cumsum(0.03 * np.sin(heading)), np.cumsum(0.03 * np.cos(heading))
    )
    seen = np.abs(time_s - 400.0) >= 0.5 * hole_s
    return survey_flight(Track("turned", "table", "", time_s[seen], lat[seen], lon[seen]))


@pytest.mark.parametrize(
    ("turn_deg", "rate_dps", "hole_s", "bridged"),
    [
        # Turns of a hold: a hundred degrees to 280, in holes with no room for a lap.
        (95.0, 3.0, 100.0, False),
        (105.0, 3.0, 100.0, True),
        (275.0, 3.0, 130.0, True),
        (285.0, 3.0, 130.0, False),
        (180.0, 3.0, 148.0, True),
        (180.0, 3.0, 154.0, False),
        # At a rate between 1.2 and 4.5 degrees a second.
        (120.0, 1.3, 120.0, True),
        (120.0, 1.1, 120.0, False),
        (180.0, 4.3, 100.0, True),
        (180.0, 4.7, 100.0, False),
    ],
)
def test_a_turn_of_a_hold_is_laid_across_a_hole_and_no_other(
    turn_deg: float, rate_dps: float, hole_s: float, bridged: bool
) -> None:
    first, *others = turned_in_a_hole(turn_deg, rate_dps, hole_s)
    assert (not others) == bridged
    if bridged:
        # Laid out as it was flown, at 108 kt; a turn that began or ended beside the hole is cut by less than 60 m.
        took_s = turn_deg / rate_dps
        heading = np.radians(np.clip((first.time_s - 400.0 + 0.5 * took_s) * rate_dps, 0.0, turn_deg))
        east_m, north_m = (np.cumsum(0.03 * 1852.0 * way) for way in (np.sin(heading), np.cos(heading)))
        off_m = np.hypot(first.east_m - east_m + east_m[0], first.north_m - north_m + north_m[0])
        assert off_m[300:500].max() < 60.0
        assert first.ground_speed_kt[300:500] == pytest.approx(np.full(200, 108.0), abs=8.0)


@pytest.mark.parametrize("late_s", [-28.0, 25.0, 33.0])
def test_a_turn_that_reaches_beyond_the_hole_leads_to_where_the_flight_is_seen_again(late_s: float) -> None:
    """It is laid out as whole within the hole, and moved evenly onto the place after it: no leap, no standstill."""
    (found,) = turned_in_a_hole(180.0, 3.0, 100.0, late_s)
    assert found.ground_speed_kt[300:500].min() > 100.0 and found.ground_speed_kt[300:500].max() < 126.0


def test_a_mean_airspeed_knows_what_its_parts_know() -> None:
    """Round a whole circle the wind's error cancels, along one leg it does not; a receiver's smoothing is 0.06 kt."""
    time_s = np.arange(0.0, 200.0)
    fit = WindFit(
        np.array([0.0]), time_s, np.zeros(200), np.array([10.0, 0.0, 0.0, 0.0, 110.0]),
        np.diag([0.3**2 - 0.05**2] * 2 + [0.0] * 3), CorrelatedNoise(2.0, 20.0), 1.0, gust_share=0.5,
    )  # fmt: skip
    rolls: Any = SimpleNamespace()

    def sd_of(heading_deg: np.ndarray, hole: np.ndarray | None = None) -> tuple[float, float]:
        flight = motion(
            np.full(200, 110.0), heading_deg=heading_deg,
            in_hole=np.zeros(200, dtype=bool) if hole is None else hole,
        )  # fmt: skip
        measured = Measured(replace(flight, time_s=np.arange(500.0, 700.0)), fit, rolls, chorded=False)
        return measured.mean_tas(500.0, 699.0)

    wander = 2.0 * np.sqrt(correlations((np.arange(400) + 0.5) * 199.0 / 400, 20.0).mean())
    gusts = 0.5 * wander
    mean_kt, along = sd_of(np.full(200, 40.0))
    assert mean_kt == 110.0
    assert along == pytest.approx(np.linalg.norm([0.3, gusts, 0.06]), rel=0.01)
    assert sd_of(1.8 * np.arange(200.0))[1] == pytest.approx(np.hypot(gusts, 0.06), rel=0.01)
    # What was flown in a hole, and three seconds on either side of it, is as far off as the airspeed wanders.
    hole = np.zeros(200, dtype=bool)
    hole[80:114] = True
    lost = 2.0 * np.sqrt(correlations((np.arange(400) + 0.5) * 40.0 / 400, 20.0).mean())
    assert sd_of(1.8 * np.arange(200.0), hole)[1] == pytest.approx(
        np.linalg.norm([gusts, 0.06, 0.2 * lost, 0.3 * np.hypot(*_missing(hole))]), rel=0.01
    )
    assert replace(fit, doubt_kt=0.4).mean_wind(0.0, 199.0)[2] == pytest.approx(0.5)


def _missing(hole: np.ndarray) -> tuple[float, float]:
    """Return what is left of a whole circle's unit vectors where a part of it is not seen."""
    seen = np.ones(200, dtype=bool)
    seen[77:117] = False
    way = np.radians(1.8 * np.arange(200.0))[seen]
    return float(np.sin(way).mean()), float(np.cos(way).mean())


@pytest.mark.parametrize(("step_s", "least_s"), [(1, 15), (5, 15), (10, 30)])
def test_a_hole_is_longer_than_a_quarter_of_a_minute_and_than_three_rows(step_s: int, least_s: int) -> None:
    track = drawn(straight(900), straight(900))
    for gap_s, found in ((least_s - 1, ()), (least_s + 1, ((600.0, 601.0 + least_s),))):
        second = np.arange(track.samples)
        kept = (second % step_s == 0) & ((second <= 600) | (second >= 600 + gap_s)) | (second == 600 + gap_s)
        (one,) = survey_flight(track.take(np.flatnonzero(kept)))
        assert one.holes_s == found
