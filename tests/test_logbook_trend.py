"""Trends: right about what was planted, silent about noise and drifting form, and fair about the wind."""

from __future__ import annotations

import numpy as np
import pytest

from analyser.logbook.trend import (
    UNKNOWN_COST,
    Cost,
    Series,
    Trend,
    fit_trend,
    forms_met,
    forms_of_pilot,
    likelihoods,
    student,
    wind_cost,
)

PRIOR = Cost(-50.0, 40.0)


def drifting(chance: np.random.Generator, count: int, stays: float) -> np.ndarray:
    """Form of variance one: each session's is ``stays`` times the last one's, and the rest new; 1 walks away."""
    form = chance.normal(size=count)
    if stays == 1.0:
        return np.cumsum(form)
    for i in range(1, count):
        form[i] = stays * form[i - 1] + np.sqrt(1.0 - stays**2) * form[i]
    return form


def simulated(
    chance: np.random.Generator,
    count: int,
    *,
    per_week: float = 0.0,
    cost: float = -60.0,
    noise: float = 6.0,
    heavy: bool = False,
    form: np.ndarray | None = None,
) -> Series:
    weeks = np.sort(chance.uniform(0.0, 8.0, count))
    shares = chance.uniform(0.0, 0.3, count)
    scatter = chance.standard_t(3, count) if heavy else chance.normal(size=count)
    if form is not None:
        scatter = 0.8 * form + 0.6 * scatter
    return Series(weeks, 50.0 + per_week * weeks + cost * (shares - 0.1) + noise * scatter, shares)


@pytest.mark.parametrize("heavy", [False, True])
@pytest.mark.parametrize("count", [5, 8, 15, 40])
def test_the_limits_hold_the_truth_at_least_as_often_as_they_say(count: int, heavy: bool) -> None:
    """Coverage of the 95 % limits by simulation, 300 pilots each; 3 % of slack is two and a half sigma of that."""
    chance = np.random.default_rng(count + heavy)
    held = 0
    for _ in range(300):
        truth = float(chance.choice([0.0, 2.0, -1.0]))
        trend = fit_trend(
            simulated(chance, count, per_week=truth, heavy=heavy), prior=PRIOR, reference_share=0.1
        )
        assert trend is not None
        held += trend.low <= truth <= trend.high
    assert held / 300 >= 0.92


@pytest.mark.parametrize(
    ("stays", "size"),
    [(0.7, 20), *(pytest.param(stays, 60, marks=pytest.mark.slow) for stays in (0.0, 0.3, 0.6, 0.9, 1.0))],
)
def test_of_unchanged_pilots_at_most_one_in_twenty_is_told_anything_of_any_item(
    stays: float, size: int
) -> None:
    """Seven items and the whole, form shared by all or each item's own; two classes for each drift."""
    told = 0
    for seed in range(2):
        chance = np.random.default_rng(100 + seed)
        pilots = []
        for _ in range(size):
            count = int(chance.integers(7, 14))
            shared = drifting(chance, count, stays) if seed else None
            forms = [drifting(chance, count, stays) if shared is None else shared for _ in range(7)]
            items = [simulated(chance, count, noise=8.0, form=form) for form in forms]
            weeks, shares = items[0].weeks, items[0].shares
            items = [Series(weeks, one.points, shares) for one in items]
            pilots.append([*items, Series(weeks, np.mean([one.points for one in items], axis=0), shares)])
        prior = Cost(-60.0, 20.0)
        tables = [[likelihoods(one, prior, reference_share=0.1) for one in items] for items in pilots]
        common = forms_met([table for found in tables for table in found])
        for items, own in zip(pilots, tables, strict=True):
            likely = forms_of_pilot(own, common)
            found = [
                fit_trend(one, prior=prior, reference_share=0.1, items=len(items), likely=likely)
                for one in items
            ]
            told += any(one is not None and one.verdict != "no trend" for one in found)
    assert told / (2 * size) <= 0.05


def test_a_planted_trend_is_found_and_one_bad_evening_does_not_hide_it() -> None:
    chance = np.random.default_rng(6)
    made = simulated(chance, 15, per_week=3.0, cost=-50.0, noise=3.0)
    made.points[-2] -= 45.0
    trend = fit_trend(made, prior=PRIOR, reference_share=0.1)
    assert trend is not None and trend.verdict == "better"
    assert trend.per_week == pytest.approx(3.0, abs=1.0)
    plain = np.polyfit(made.weeks, made.points, 1)[0]
    assert abs(trend.per_week - 3.0) < abs(plain - 3.0)


def test_the_more_items_are_looked_at_the_more_it_takes() -> None:
    made = simulated(np.random.default_rng(6), 12, per_week=2.0, noise=4.0)
    one, many = (fit_trend(made, prior=PRIOR, reference_share=0.1, items=n) for n in (1, 8))
    assert one is not None and many is not None
    assert many.low < one.low < one.per_week < one.high < many.high and one.per_week == many.per_week


def test_what_kind_of_form_is_common_is_learnt_from_everybody_and_then_from_the_pilot() -> None:
    kinds = []
    for stays in (0.0, 0.6, 1.0):
        chance = np.random.default_rng(3)
        group = [simulated(chance, 14, form=2.0 * drifting(chance, 14, stays)) for _ in range(40)]
        tables = [likelihoods(one, PRIOR, reference_share=0.1) for one in group]
        likely = forms_met(tables)
        assert likely.sum() == pytest.approx(1.0)
        kinds.append(likely)
        # One pilot's own items move what is common to all a little, and to the same side.
        pilot = forms_of_pilot(tables[:7], forms_met([]))
        assert pilot.sum() == pytest.approx(1.0)
    memoryless, returns, walks = (slice(0, 2), slice(1, 4), slice(6, 7))
    assert kinds[0][memoryless].sum() > 0.5 > kinds[2][memoryless].sum()
    assert kinds[1][returns].sum() > kinds[0][returns].sum()
    assert kinds[2][walks].sum() > 0.3 and kinds[0][walks].sum() < 0.2
    nobody = forms_met([])
    assert nobody.sum() == pytest.approx(1.0) and (nobody >= 0.05).all()


def test_the_unit_of_the_points_does_not_decide_which_form_is_likely() -> None:
    made = simulated(np.random.default_rng(4), 14, noise=5.0)
    tenfold = Series(made.weeks, 10.0 * made.points, made.shares)
    one = likelihoods(made, PRIOR, reference_share=0.1)
    other = likelihoods(tenfold, Cost(10.0 * PRIOR.per_share, 10.0 * PRIOR.sd), reference_share=0.1)
    assert other == pytest.approx(one, rel=0.02)


def test_growing_wind_is_not_a_worse_pilot() -> None:
    """The same skill in ever more wind: a plain line falls, the trend with the wind allowed for does not."""
    chance = np.random.default_rng(7)
    weeks = np.linspace(0.0, 8.0, 16)
    blamed = 0
    for _ in range(150):
        shares = 0.05 + 0.02 * weeks + chance.uniform(-0.03, 0.03, 16)
        points = 80.0 - 120.0 * (shares - 0.1) + chance.normal(0.0, 3.0, 16)
        assert np.polyfit(weeks, points, 1)[0] < -1.0
        trend = fit_trend(Series(weeks, points, shares), prior=Cost(-120.0, 15.0), reference_share=0.1)
        assert trend is not None
        blamed += trend.verdict == "worse"
    assert blamed / 150 <= 0.05


def test_what_wind_costs_is_learnt_from_everybody() -> None:
    chance = np.random.default_rng(8)
    groups = [simulated(chance, 12, per_week=rate, cost=-90.0, noise=4.0) for rate in (0.0, 2.0, -1.0, 1.0)]
    cost = wind_cost(groups)
    assert abs(cost.per_share - -90.0) <= 3.0 * cost.sd and cost.sd < 15.0


def test_wind_never_makes_it_easier_and_nothing_known_is_said() -> None:
    chance = np.random.default_rng(9)
    kind = [simulated(chance, 12, cost=+90.0, noise=2.0) for _ in range(3)]
    assert wind_cost(kind).per_share == 0.0
    trend = fit_trend(kind[0], prior=UNKNOWN_COST, reference_share=0.1)
    assert trend is not None and trend.cost.per_share == pytest.approx(0.0, abs=1e-6)
    assert wind_cost([]) is UNKNOWN_COST
    assert wind_cost([simulated(chance, 3, cost=0.0, noise=1.0)]) is UNKNOWN_COST


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        (0.5, 1.5, "better"),
        (-1.5, -0.5, "worse"),
        (-1.5, 0.5, "no trend"),
        (0.0, 1.0, "no trend"),
        (-1.0, 0.0, "no trend"),
    ],
)
def test_a_change_is_told_only_where_the_limits_leave_out_nought(low: float, high: float, said: str) -> None:
    nothing = np.zeros(5)
    middle = (low + high) / 2.0
    trend = Trend(middle, low, high, UNKNOWN_COST, 0.0, nothing, nothing, nothing, nothing)
    assert trend.verdict == said


@pytest.mark.parametrize(("per_week", "said"), [(6.0, "better"), (-6.0, "worse")])
def test_a_change_is_told_the_way_it_goes(per_week: float, said: str) -> None:
    """From 30 to 90 points and back in forty sessions with little scatter: nothing but a change explains that."""
    chance = np.random.default_rng(12)
    weeks = np.linspace(0.0, 10.0, 40)
    points = 60.0 + per_week * (weeks - 5.0) + chance.normal(0.0, 4.0, 40)
    trend = fit_trend(Series(weeks, points, np.full(40, 0.1)), prior=PRIOR, reference_share=0.1, items=8)
    assert trend is not None and trend.verdict == said
    assert trend.per_week == pytest.approx(per_week, abs=0.6)
    assert trend.line[-1] - trend.line[0] == pytest.approx(10.0 * per_week, abs=6.0)
    assert (trend.line_low < trend.line).all() and (trend.line < trend.line_high).all()


def test_too_little_is_no_trend() -> None:
    few = np.arange(4.0)
    assert fit_trend(Series(few, few, few), prior=PRIOR, reference_share=0.1) is None
    one_day = np.zeros(9)
    assert fit_trend(Series(one_day, np.arange(9.0), one_day), prior=PRIOR, reference_share=0.1) is None


def test_a_flawless_pilot_and_two_sessions_a_day_break_nothing() -> None:
    for weeks in (np.arange(8.0), np.array([0.0, 0.0, 0.0, 1.0, 1.0, 1.0, 2.0, 2.0])):
        flawless = Series(weeks, np.full(8, 100.0), np.full(8, 0.1))
        trend = fit_trend(flawless, prior=UNKNOWN_COST, reference_share=0.1)
        assert trend is not None and trend.verdict == "no trend"
        assert trend.line == pytest.approx(np.full(8, 100.0))


def test_students_quantiles_are_the_tabulated_ones() -> None:
    """Two-sided 95 % points as in any printed table of Student's t."""
    for freedom, tabulated in ((1, 12.706), (5, 2.571), (10, 2.228), (30, 2.042)):
        assert student(0.975, freedom) == pytest.approx(tabulated, abs=5e-4)
