"""The parts of the instrument one by one, each against what mathematics says of it (derived, closed form)."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from analyser.earth.plane import LocalPlane
from analyser.logs.movement import unroll
from analyser.logs.track import Track
from analyser.logs.track_errors import TrackErrors
from analyser.motion.circle import circle_fit, wild_speeds
from analyser.motion.motion_thresholds import SPLINE
from analyser.motion.motion_thresholds import WIND as WIND_ROWS
from analyser.motion.noise_model import CorrelatedNoise, Mixture, Moments, whiten
from analyser.motion.path import Velocities, untidy_path, untidy_spline
from analyser.motion.spline import add_penalty, basis, fit_spline
from analyser.motion.survey import on_grid
from analyser.motion.windfit import WindFit, fit_wind, with_heading
from analyser.motion.windlikelihood import WindProblem, hats, most_likely

KT = 3600.0 / 1852.0
SPANS = np.array([0.0, 4.0, 5.0, 11.0, 12.5, 40.0])


def correlations(time_s: np.ndarray, memory_s: float) -> np.ndarray:
    return np.asarray(np.exp(-np.abs(time_s[:, None] - time_s[None, :]) / memory_s))


def errors_of(time_s: np.ndarray, *, jitter_s: float = 0.5, noise_m: float = 3.0) -> TrackErrors:
    """Say of a made-up track how it errs, as the one who made it knows."""
    track = Track("made", "table", "", time_s, 47.0 + 0.0005 * time_s, np.full(time_s.size, -30.0))
    return replace(track.errors, time_jitter_s=jitter_s, position_noise_m=noise_m)


@pytest.mark.parametrize("step_s", [0.5, 1.0, 2.0, 3.0])
def test_a_path_without_jerk_is_followed_exactly_at_any_spacing_of_knots(step_s: float) -> None:
    time_s = 7.0 + np.arange(0.0, 101.0, 2.0)
    path = np.column_stack([3.0 + 50.0 * time_s + 0.4 * time_s**2, 9.0 - 20.0 * time_s])
    spline = fit_spline(time_s, path, step_s=step_s, noise=5.0)
    # One cubic piece a step, and three coefficients more than pieces: enough to reach the end, and no more.
    assert len(spline.coefficients) == int(np.ceil(100.0 / step_s)) + 4
    assert spline.at(time_s) == pytest.approx(path, abs=1e-3)
    assert spline.at(time_s, 1)[:, 0] == pytest.approx(50.0 + 0.8 * time_s, abs=1e-3)
    assert spline.at(time_s, 2)[:, 0] == pytest.approx(np.full(time_s.size, 0.8), abs=1e-3)


@pytest.mark.parametrize("order", [0, 1, 2])
def test_the_four_weights_are_those_of_a_cubic_b_spline(order: int) -> None:
    """All weights add up to one, those of a derivative to nothing; each is the slope of the one before."""
    time_s = np.linspace(0.0, 20.0, 81)
    first, weights = basis(time_s, 0.0, 2.0, 14, order)
    assert weights.sum(axis=1) == pytest.approx(np.full(time_s.size, 1.0 if order == 0 else 0.0))
    assert first.min() == 0
    assert first.max() == 10
    if order:
        inside = time_s[np.abs(time_s / 2.0 - np.round(time_s / 2.0)) > 0.1]
        after, before = (basis(inside + h, 0.0, 2.0, 14, order - 1)[1] for h in (1e-5, -1e-5))
        assert basis(inside, 0.0, 2.0, 14, order)[1] == pytest.approx((after - before) / 2e-5, abs=1e-4)


def test_what_is_charged_is_the_third_difference() -> None:
    banded = np.zeros((4, 9))
    add_penalty(banded, 2.5)
    dense = sum((np.diag(banded[k, : 9 - k], -k) for k in range(4)), np.zeros((9, 9)))
    dense = dense + np.tril(dense, -1).T
    difference = np.diff(np.eye(9), n=3, axis=0)
    assert dense == pytest.approx(2.5 * difference.T @ difference)


def test_noise_is_weighed_against_jerk_by_its_density() -> None:
    """Half the power of a slow swing is lost where R (2πf)⁶ = S: the smoother's gain is 1 / (1 + R ω⁶ / S)."""
    noise_m, period_s = 4.0, 16.0
    time_s, omega = np.arange(0.0, 800.0), 2.0 * np.pi / period_s
    swing = np.sin(omega * time_s)
    spline = fit_spline(time_s, swing[:, None], noise=noise_m)
    middle = slice(200, 600)
    gain = float(spline.at(time_s)[middle, 0] @ swing[middle] / (swing[middle] @ swing[middle]))
    assert gain == pytest.approx(1.0 / (1.0 + noise_m**2 * omega**6 / SPLINE.jerk_density), abs=0.01)


def test_the_determinants_of_noise_with_a_memory_are_those_of_its_covariance() -> None:
    _, log_det = whiten(SPANS, np.ones((SPANS.size, 1)), 9.0)
    assert log_det == pytest.approx(np.linalg.slogdet(correlations(SPANS, 9.0))[1])
    mixture = Mixture(30.0, 5.0, 0.7, 0.2)
    covariance = correlations(SPANS, 30.0) + 0.7 * correlations(SPANS, 5.0) + 0.2 * np.eye(SPANS.size)
    factor = Moments(SPANS).factor(mixture)
    assert factor @ factor.T == pytest.approx(covariance, abs=1e-12)
    assert factor == pytest.approx(np.tril(factor))


def test_a_mixture_scatters_like_the_sum_of_its_wanders() -> None:
    """Over a long span a mean's variance is 2 Σ σ²τ / T."""
    mixture = Mixture(30.0, 6.0, 0.5, 0.1)
    one = CorrelatedNoise(np.sqrt(mixture.variance), mixture.memory_s)
    assert one.mean_sd(1e6) ** 2 == pytest.approx(2.0 * (30.0 + 0.5 * 6.0) / 1e6, rel=1e-3)


def test_the_mean_of_a_short_span_is_hardly_surer_than_one_reading() -> None:
    """Variance 2τ/T (1 − (1 − e^(−T/τ)) τ/T), by integrating the correlation over the span twice."""
    memory_s, span_s = 20.0, 20.0
    time_s = (np.arange(400) + 0.5) * span_s / 400
    assert CorrelatedNoise(3.0, memory_s).mean_sd(span_s) == pytest.approx(
        3.0 * np.sqrt(correlations(time_s, memory_s).mean()), rel=1e-3
    )


def problem_of(wind: np.ndarray, ias_off_kt: float, *, reference_kt: float) -> tuple[WindProblem, np.ndarray]:
    """Fly a circle at a known airspeed in a wind that grows, and give the parameters that are the truth."""
    time_s = np.arange(0.0, 240.0, 2.0)
    knots_s = np.linspace(0.0, 238.0, 3)
    rows = np.column_stack([hats(time_s, knots_s), np.linspace(-0.5, 0.5, time_s.size)])
    factor = np.linspace(0.97, 1.03, time_s.size)
    tas = reference_kt + factor * ias_off_kt
    heading = np.radians(1.5 * time_s)
    truth = np.array([*wind[0], *wind[1], 1.5, -0.8, ias_off_kt])
    east = tas * np.sin(heading) + rows @ np.array([*wind[0], 1.5])
    north = tas * np.cos(heading) + rows @ np.array([*wind[1], -0.8])
    base, steady = np.full(time_s.size, reference_kt), np.empty((time_s.size, 0))
    return WindProblem(time_s, east, north, factor, base, rows, 3, changes=steady), truth


WIND = np.array([[10.0, 12.0, 15.0], [-8.0, -6.0, -5.0]])


@pytest.mark.parametrize("reference_kt", [0.0, 108.0])
def test_the_truth_leaves_nothing_over(reference_kt: float) -> None:
    problem, truth = problem_of(WIND, 110.0 - reference_kt, reference_kt=reference_kt)
    design, observed = problem.linearised(truth)
    assert observed == pytest.approx(design @ truth, abs=1e-9)
    heading = np.radians(1.5 * problem.time_s)
    assert problem.air(truth)[1] == pytest.approx(np.column_stack([np.sin(heading), np.cos(heading)]))


def test_the_design_is_the_slope_of_what_is_left_over() -> None:
    problem, truth = problem_of(WIND, 110.0, reference_kt=0.0)
    problem, truth = problem.with_change(40.0, 60.0), np.append(truth, -7.0)

    def left(parameters: np.ndarray) -> np.ndarray:
        design, observed = problem.linearised(parameters)
        return np.asarray(observed - design @ parameters)

    design, _ = problem.linearised(truth)
    for k in range(truth.size):
        step = np.zeros(truth.size)
        step[k] = 1e-4
        slope = (left(truth + step) - left(truth - step)) / 2e-4
        assert slope == pytest.approx(-design[:, k], abs=1e-6)


def test_the_likeliest_wind_is_the_true_one_where_the_hand_is_steady() -> None:
    problem, truth = problem_of(WIND, 110.0, reference_kt=0.0)
    start = np.array([12.0, 12.0, 12.0, -6.0, -6.0, -6.0, 0.0, 0.0, 109.0])
    found = most_likely(problem, start, quick=False)
    # One circle cannot tell a wind that grows from one that stays; its mean it can.
    assert found.parameters[:3].mean() == pytest.approx(truth[:3].mean(), abs=0.3)
    assert found.parameters[3:6].mean() == pytest.approx(truth[3:6].mean(), abs=0.3)
    assert found.parameters[-1] == pytest.approx(110.0, abs=0.3)


@pytest.mark.parametrize("slowed_kt", [0.0, 30.0])
def test_who_slows_down_within_the_first_lap_turns_no_wind(slowed_kt: float) -> None:
    # Two laps of four minutes; the airspeed wanders by 1.5 kt with a memory of half a minute.
    rng = np.random.default_rng(5)
    time_s = np.arange(0.0, 480.0, 2.0)
    wander = np.zeros(time_s.size)
    for i in range(1, time_s.size):
        kept = np.exp(-2.0 / 30.0)
        wander[i] = kept * wander[i - 1] + 1.5 * np.sqrt(1.0 - kept**2) * rng.standard_normal()
    turning = (time_s % 120.0) < 60.0
    heading = np.radians(np.cumsum(np.where(turning, 6.0, 0.0)))
    tas = 210.0 + slowed_kt * np.clip((90.0 - time_s) / 60.0, 0.0, 1.0) + wander
    fit = fit_wind(time_s, tas * np.sin(heading) + 20.0, tas * np.cos(heading) - 12.0)
    assert fit.parameters.size == 2 * fit.knots_s.size + 3 + (slowed_kt > 0.0)
    for start_s in (0.0, 240.0):
        east, north, sd = fit.mean_wind(start_s, start_s + 240.0)
        assert np.hypot(east - 20.0, north + 12.0) < min(3.0 * sd, 2.5)


@pytest.mark.parametrize(("span_s", "knots"), [(100.0, 2), (119.0, 2), (121.0, 3), (480.0, 5), (9600.0, 61)])
def test_the_winds_pieces_are_two_minutes_long_and_no_more_than_sixty(span_s: float, knots: int) -> None:
    time_s = np.linspace(0.0, span_s, 240)
    heading = np.radians(3.0 * time_s)
    fit = fit_wind(time_s, 110.0 * np.sin(heading) + 9.0, 110.0 * np.cos(heading), quick=True)
    assert fit.knots_s.size == knots
    assert fit.wind(time_s)[0] == pytest.approx(np.full(time_s.size, 9.0), abs=0.2)


def test_a_mean_wind_is_the_mean_of_the_wind_and_knows_at_least_what_one_instant_does() -> None:
    time_s = np.arange(0.0, 480.0, 2.0)
    heading = np.radians(1.5 * time_s)
    rng = np.random.default_rng(5)
    tas = 110.0 + rng.normal(0.0, 1.0, time_s.size)
    fit = fit_wind(time_s, tas * np.sin(heading) + 9.0 + time_s / 100.0, tas * np.cos(heading))
    east, north, sd = fit.mean_wind(0.0, 478.0)
    along_east, along_north, along_sd = fit.wind(np.linspace(0.0, 478.0, 41))
    assert (east, north) == pytest.approx((along_east.mean(), along_north.mean()))
    assert WIND_ROWS.receiver_kt <= sd <= along_sd.max()
    # A doubt about two ways of fitting is added to what the fit knows of itself.
    doubtful = replace(fit, doubt_kt=3.0)
    assert doubtful.mean_wind(0.0, 478.0)[2] == pytest.approx(np.hypot(sd, 3.0))
    assert doubtful.wind(time_s)[2] == pytest.approx(np.hypot(fit.wind(time_s)[2], 3.0))


def smoothed_turns(smoothed_s: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Fly four laps in 20 kt from the west, the speeds (not the directions) smoothed as a feed does."""
    time_s = np.arange(0.0, 960.0, 2.0)
    heading = np.radians(np.cumsum(np.where(time_s % 120.0 < 60.0, 6.0, 0.0)))
    east, north = 110.0 * np.sin(heading) + 20.0, 110.0 * np.cos(heading)
    speed = np.hypot(east, north)
    # What is smoothed lags: the mean of the last readings.
    lagged = np.array([speed[max(0, k - smoothed_s // 2) : k + 1].mean() for k in range(speed.size)])
    return time_s, east * lagged / speed, north * lagged / speed


@pytest.mark.parametrize("smoothed_s", [20, 40])
def test_a_log_that_smoothed_its_speeds_is_doubted_by_what_parts_it_from_the_plain_circle(
    smoothed_s: int,
) -> None:
    assert fit_wind(*smoothed_turns(0)).mean_wind(0.0, 958.0) == pytest.approx((20.0, 0.0, 0.05), abs=0.1)
    east, north, sd = fit_wind(*smoothed_turns(smoothed_s)).mean_wind(0.0, 958.0)
    circle = circle_fit(*smoothed_turns(smoothed_s)[1:])
    assert sd == pytest.approx(np.hypot(east - circle[0], north - circle[1]), rel=0.1)
    assert abs(east - 20.0) < 2.0 * sd and abs(north) < 2.0 * sd


def test_a_wild_fix_moves_the_path_of_an_untidy_log_little() -> None:
    """Least squares would follow it by its share of the samples about it; Huber's weights by 2.5 sigmas' worth."""
    time_s = np.arange(0.0, 300.0, 2.0)
    clean = np.column_stack([np.zeros(time_s.size), 55.0 * time_s])
    wild = clean.copy()
    wild[75, 0] = 150.0
    errors, grid = errors_of(time_s), np.arange(0.0, 299.0)
    off = [
        np.abs(untidy_path(time_s, fixes, errors, grid).spline.at(grid)[:, 0]).max()
        for fixes in (clean, wild)
    ]
    assert off[0] < 0.01
    assert off[1] < 2.5 * 3.0


def test_the_path_of_an_untidy_log_knows_its_speed_less_along_than_across() -> None:
    """A clock's errors lie along the track."""
    time_s = np.arange(0.0, 600.0, 5.0)
    rng = np.random.default_rng(8)
    taken_s = time_s + rng.normal(0.0, 1.0, time_s.size)
    fixes = np.column_stack([np.zeros(time_s.size), 55.0 * taken_s])
    path = untidy_path(time_s, fixes, errors_of(time_s, jitter_s=1.0), np.arange(50.0, 550.0))
    assert np.median(path.along_sd_kt) > 2.0 * np.median(path.across_sd_kt)
    off = np.hypot(*path.spline.at(np.arange(50.0, 550.0), 1).T) * KT - 55.0 * KT
    assert np.mean(np.abs(off) <= 2.0 * path.along_sd_kt) > 0.9


def test_a_measured_speed_pulls_the_path_and_makes_it_surer() -> None:
    time_s, grid = np.arange(0.0, 300.0, 10.0), np.arange(0.0, 290.0)
    fixes = np.column_stack([np.zeros(time_s.size), 55.0 * time_s])
    north = np.tile([0.0, 1.0], (grid.size, 1))
    told = Velocities(grid, 55.0 * north, north, np.full(grid.size, 0.3), np.full(grid.size, np.inf))
    errors = errors_of(time_s, jitter_s=2.0)
    alone, helped = (untidy_path(time_s, fixes, errors, grid, one) for one in (None, told))
    assert np.median(helped.along_sd_kt) < 0.2 * np.median(alone.along_sd_kt)
    # What was not measured is known no better.
    assert np.median(helped.across_sd_kt) == pytest.approx(np.median(alone.across_sd_kt), rel=0.02)
    late = fixes + np.random.default_rng(3).normal(0.0, 2.0, time_s.size)[:, None] * np.array([0.0, 55.0])
    speed = untidy_spline(time_s, late, errors, told).at(grid, 1)[:, 1]
    assert speed == pytest.approx(np.full(grid.size, 55.0), abs=1.0)


def test_one_wild_speed_is_found_and_a_wandering_hand_is_not() -> None:
    time_s = np.arange(0.0, 240.0, 2.0)
    heading = np.radians(3.0 * time_s)
    tas = 110.0 + 6.0 * np.sin(time_s / 40.0)
    tas[60] += 45.0
    east, north = tas * np.sin(heading) + 12.0, tas * np.cos(heading)
    off = wild_speeds(time_s, east, north, np.full(time_s.size, 2.0), 4.0)
    assert np.flatnonzero(off).tolist() == [58, 59, 60, 61, 62]
    assert off[60] == pytest.approx(45.0, abs=8.0)
    # Where most are wild nobody can tell which.
    tas[::2] += 90.0
    east, north = tas * np.sin(heading), tas * np.cos(heading)
    assert not wild_speeds(time_s, east, north, np.full(time_s.size, 2.0), 4.0).any()


def test_the_circle_is_found_from_a_far_start_and_a_short_arc() -> None:
    angle = np.radians(np.linspace(10.0, 100.0, 30))
    found = circle_fit(90.0 * np.sin(angle) + 60.0, 90.0 * np.cos(angle) - 40.0)
    assert found == pytest.approx((60.0, -40.0, 90.0), abs=1e-3)


def flown_with_heading(error_deg: float, wander_kt: float) -> tuple[WindFit, WindFit | None]:
    """Turn once, half a circle only, with a heading that is off by a constant."""
    rng = np.random.default_rng(11)
    time_s = np.arange(0.0, 300.0, 2.0)
    heading_deg = 20.0 + np.clip(3.0 * (time_s - 120.0), 0.0, 180.0)
    heading = np.radians(heading_deg)
    tas = 110.0 + np.convolve(rng.normal(0.0, 8.0, time_s.size), np.ones(15) / 15, "same")
    aside = wander_kt * np.sin(time_s / 7.0)
    east = tas * np.sin(heading) + aside * np.cos(heading) + 18.0
    north = tas * np.cos(heading) - aside * np.sin(heading) - 9.0
    fit = fit_wind(time_s, east, north)
    bank_deg = np.where((heading_deg > 20.0) & (heading_deg < 200.0), 17.0, 0.0)
    velocity = np.column_stack([east, north])
    return fit, with_heading(fit, time_s, velocity, heading_deg + error_deg, bank_deg)


def test_a_heading_sharpens_the_wind_though_the_compass_is_off() -> None:
    fit, sharper = flown_with_heading(7.0, 0.3)
    assert sharper is not None
    off = [
        np.hypot(one.mean_wind(0.0, 298.0)[0] - 18.0, one.mean_wind(0.0, 298.0)[1] + 9.0)
        for one in (fit, sharper)
    ]
    sds = [one.mean_wind(0.0, 298.0)[2] for one in (fit, sharper)]
    assert sds[1] < 0.8 * sds[0]
    assert off[1] < 3.0 * sds[1]


def test_a_heading_that_swings_about_the_track_is_not_used() -> None:
    assert flown_with_heading(0.0, 40.0)[1] is None


@pytest.mark.parametrize("lat", [0.0, 50.0, -70.0])
def test_small_steps_add_up_as_on_the_map(lat: float) -> None:
    """Against the local plane, which is PROJ's, within half a mile."""
    bearing = np.radians(np.linspace(0.0, 300.0, 40))
    north, east = (
        1e-4 * np.cumsum(np.cos(bearing)),
        1e-4 * np.cumsum(np.sin(bearing)) / np.cos(np.radians(lat)),
    )
    lats, lons = lat + north, (179.999 + east + 180.0) % 360.0 - 180.0
    plane_east, plane_north, _ = LocalPlane(float(lats[0]), float(lons[0])).to_plane(lats, lons)
    walked: Any = unroll(lats, lons)
    assert walked[0] == pytest.approx(plane_east * 1852.0, abs=0.05)
    assert walked[1] == pytest.approx(plane_north * 1852.0, abs=0.05)


def test_a_channel_with_blanks_is_read_across_them_and_an_empty_one_is_unknown() -> None:
    time_s = np.arange(5.0)
    values = np.array([1.0, np.nan, 3.0, np.nan, np.nan])
    assert on_grid(time_s, values, np.array([1.0, 2.5, 4.0])).tolist() == [2.0, 3.0, 3.0]
    assert np.isnan(on_grid(time_s, np.full(5, np.nan), time_s)).all()
