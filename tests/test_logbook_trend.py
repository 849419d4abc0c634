"""Trends: right about what was planted, silent about noise, and fair about the wind."""

from __future__ import annotations

import numpy as np
import pytest

from analyser.logbook.trend import UNKNOWN_COST, Cost, fit_trend, student, wind_cost

PRIOR = Cost(-50.0, 40.0)


def simulated(
    chance: np.random.Generator,
    count: int,
    *,
    per_week: float,
    cost: float,
    noise: float,
    heavy: bool = False,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    weeks = np.sort(chance.uniform(0.0, 8.0, count))
    shares = chance.uniform(0.0, 0.3, count)
    scatter = chance.standard_t(3, count) if heavy else chance.normal(size=count)
    return weeks, 50.0 + per_week * weeks + cost * (shares - 0.1) + noise * scatter, shares


@pytest.mark.parametrize("heavy", [False, True])
@pytest.mark.parametrize("count", [5, 8, 15, 40])
def test_the_limits_hold_the_truth_as_often_as_they_say(count: int, heavy: bool) -> None:
    """Coverage of the 95 % limits by simulation, 500 pilots each; 3 % of slack is three sigma of that count."""
    chance = np.random.default_rng(count + heavy)
    held = 0
    for _ in range(500):
        truth = float(chance.choice([0.0, 2.0, -1.0]))
        made = simulated(chance, count, per_week=truth, cost=-60.0, noise=6.0, heavy=heavy)
        trend = fit_trend(*made, prior=PRIOR, reference_share=0.1)
        assert trend is not None
        held += trend.low <= truth <= trend.high
    assert 0.92 <= held / 500 <= 0.98


def test_noise_is_not_called_a_trend() -> None:
    chance = np.random.default_rng(5)
    called = 0
    for _ in range(400):
        made = simulated(chance, 12, per_week=0.0, cost=-40.0, noise=8.0)
        trend = fit_trend(*made, prior=PRIOR, reference_share=0.1)
        called += trend is not None and trend.verdict != "no trend"
    assert called / 400 <= 0.08


def test_a_planted_trend_is_found_and_one_bad_evening_does_not_hide_it() -> None:
    chance = np.random.default_rng(6)
    weeks, points, shares = simulated(chance, 15, per_week=3.0, cost=-50.0, noise=3.0)
    points[-2] -= 45.0
    trend = fit_trend(weeks, points, shares, prior=PRIOR, reference_share=0.1)
    assert trend is not None and trend.verdict == "better"
    assert trend.per_week == pytest.approx(3.0, abs=1.0)
    plain = np.polyfit(weeks, points, 1)[0]
    assert abs(trend.per_week - 3.0) < abs(plain - 3.0)


def test_growing_wind_is_not_a_worse_pilot() -> None:
    """The same skill in ever more wind: a plain line falls, the trend with the wind allowed for does not."""
    chance = np.random.default_rng(7)
    weeks = np.linspace(0.0, 8.0, 16)
    blamed = 0
    for _ in range(200):
        shares = 0.05 + 0.02 * weeks + chance.uniform(-0.03, 0.03, 16)
        points = 80.0 - 120.0 * (shares - 0.1) + chance.normal(0.0, 3.0, 16)
        assert np.polyfit(weeks, points, 1)[0] < -1.0
        trend = fit_trend(weeks, points, shares, prior=Cost(-120.0, 15.0), reference_share=0.1)
        assert trend is not None
        blamed += trend.verdict == "worse"
    assert blamed / 200 <= 0.06


def test_what_wind_costs_is_learnt_from_everybody() -> None:
    chance = np.random.default_rng(8)
    groups = [simulated(chance, 12, per_week=rate, cost=-90.0, noise=4.0) for rate in (0.0, 2.0, -1.0, 1.0)]
    cost = wind_cost(groups)
    assert abs(cost.per_share - -90.0) <= 3.0 * cost.sd and cost.sd < 15.0


def test_wind_never_makes_it_easier_and_nothing_known_is_said() -> None:
    chance = np.random.default_rng(9)
    kind = [simulated(chance, 12, per_week=0.0, cost=+90.0, noise=2.0) for _ in range(3)]
    assert wind_cost(kind).per_share == 0.0
    trend = fit_trend(*kind[0], prior=UNKNOWN_COST, reference_share=0.1)
    assert trend is not None and trend.cost.per_share == pytest.approx(0.0, abs=1e-6)
    assert wind_cost([]) is UNKNOWN_COST
    assert wind_cost([simulated(chance, 3, per_week=0.0, cost=0.0, noise=1.0)]) is UNKNOWN_COST


def test_too_little_is_no_trend() -> None:
    few = np.arange(4.0)
    assert fit_trend(few, few, few, prior=PRIOR, reference_share=0.1) is None
    one_day = np.zeros(9)
    assert fit_trend(one_day, np.arange(9.0), one_day, prior=PRIOR, reference_share=0.1) is None


def test_a_flawless_pilot_breaks_nothing() -> None:
    weeks = np.arange(8.0)
    trend = fit_trend(weeks, np.full(8, 100.0), np.full(8, 0.1), prior=UNKNOWN_COST, reference_share=0.1)
    assert trend is not None and trend.verdict == "no trend" and trend.level == pytest.approx(100.0)


def test_students_quantiles_are_the_tabulated_ones() -> None:
    """Two-sided 95 % points as in any printed table of Student's t."""
    for freedom, tabulated in ((1, 12.706), (5, 2.571), (10, 2.228), (30, 2.042)):
        assert student(0.975, freedom) == pytest.approx(tabulated, abs=5e-4)
