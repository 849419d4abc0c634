"""Trends: right about what was planted, silent about noise and drifting form, and fair about the wind."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm

from analyser.logbook.logbook_thresholds import TREND
from analyser.logbook.progress import trends_of
from analyser.logbook.trend import (
    _FORMS,
    UNKNOWN_COST,
    Series,
    Slope,
    Trend,
    WindCost,
    beside_others,
    fit_forms,
    forms_met,
    forms_of,
    trend_of,
    wind_cost,
)

PRIOR = WindCost(-50.0, 40.0)


def fit_trend(series: Series, *, prior: WindCost = PRIOR, items: int = 1) -> Trend:
    """The trend of an item of which nobody else's sessions tell anything."""
    return trend_of(fit_forms(series, prior, reference_share=0.1), forms_met([]), items=items)


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
    points = 50.0 + per_week * weeks + cost * (shares - 0.1) + noise * scatter
    return Series(weeks, points, shares, np.full(count, noise**2))


@pytest.mark.slow
@pytest.mark.parametrize("heavy", [False, True])
@pytest.mark.parametrize("count", [5, 8, 15, 40])
def test_the_limits_hold_the_truth_at_least_as_often_as_they_say(count: int, heavy: bool) -> None:
    """Coverage of the 95 % limits by simulation, 300 pilots each; 3 % of slack is two and a half sigma of that."""
    chance = np.random.default_rng(count + heavy)
    held = 0
    for _ in range(300):
        truth = float(chance.choice([0.0, 2.0, -1.0]))
        slope = fit_trend(simulated(chance, count, per_week=truth, heavy=heavy)).slope
        held += slope.low <= truth <= slope.high
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
        pilots = {}
        for pilot in range(size):
            count = int(chance.integers(7, 14))
            shared = drifting(chance, count, stays) if seed else None
            forms = [drifting(chance, count, stays) if shared is None else shared for _ in range(7)]
            items = [simulated(chance, count, noise=8.0, form=form) for form in forms]
            weeks, shares = items[0].weeks, items[0].shares
            # What circuits tell of the noise is less than what sessions scatter by: form is the rest.
            noise = np.full(count, 0.36 * 64.0)
            found = {str(n): Series(weeks, one.points, shares, noise) for n, one in enumerate(items)}
            mean = np.mean([one.points for one in items], axis=0)
            pilots[str(pilot)] = found | {"overall": Series(weeks, mean, shares, noise / 7.0)}
        costs = dict.fromkeys(pilots["0"], WindCost(-60.0, 20.0))
        trends = trends_of(pilots, costs, 0.1)
        told += len({pilot for (pilot, _), one in trends.items() if one.verdict != "no trend"})
    assert told / (2 * size) <= 0.05


def test_a_planted_trend_is_found_and_one_bad_evening_does_not_hide_it() -> None:
    chance = np.random.default_rng(6)
    made = simulated(chance, 15, per_week=3.0, cost=-50.0, noise=3.0)
    made.points[-2] -= 45.0
    trend = fit_trend(made)
    assert trend.verdict == "better"
    assert trend.slope.per_week == pytest.approx(3.0, abs=1.0)
    plain = np.polyfit(made.weeks, made.points, 1)[0]
    assert abs(trend.slope.per_week - 3.0) < abs(plain - 3.0)


def test_the_more_items_are_looked_at_the_more_it_takes() -> None:
    made = simulated(np.random.default_rng(6), 12, per_week=2.0, noise=4.0)
    one, many = (fit_trend(made, items=n).slope for n in (1, 8))
    assert many.low < one.low < one.per_week < one.high < many.high and one.per_week == many.per_week


def test_what_kind_of_form_is_common_is_learnt_from_everybody_and_from_the_pilots_other_items() -> None:
    kinds = []
    for stays in (None, 0.6, 1.0):
        chance = np.random.default_rng(3)
        group = [
            simulated(chance, 14, form=None if stays is None else 2.0 * drifting(chance, 14, stays))
            for _ in range(40)
        ]
        fits = {(str(n), "bank"): fit_forms(one, PRIOR, reference_share=0.1) for n, one in enumerate(group)}
        kinds.append(forms_met([one.likelihoods for one in fits.values()]))
        assert kinds[-1].sum() == pytest.approx(1.0)
        # Before a pilot's only item is looked at, everybody's tell; with more items they tell more, the same way.
        alone = forms_of(fits, TREND.alike)["0", "bank"]
        many = {("0", str(n)): one for n, one in enumerate(fits.values())}
        assert alone.sum() == pytest.approx(1.0)
        assert forms_of(many, TREND.alike_beside)["0", "0"].max() > alone.max()
    steady = 0
    returns = np.array([one.size > 0.0 and not one.walks for one in _FORMS])
    walks = np.array([one.walks and one.size >= 0.3 for one in _FORMS])
    assert kinds[0][steady] > max(kinds[1][steady], kinds[2][steady])
    assert kinds[1][returns].sum() > max(kinds[0][returns].sum(), kinds[2][returns].sum())
    assert kinds[2][walks].sum() > 0.5 > kinds[0][walks].sum()
    nobody = forms_met([])
    assert nobody == pytest.approx(np.array([one.held for one in _FORMS])) and nobody.sum() == pytest.approx(
        1.0
    )


def a_pilot(
    chance: np.random.Generator, *, changes: dict[str, float], together: float = 0.0, walks: float = 5.0
) -> dict[str, Series]:
    """Six items in twelve sessions in which form walks, the same in all; some change, and all ``together``."""
    weeks, shares = np.arange(12.0), np.full(12, 0.1)
    common = 60.0 + walks * np.cumsum(chance.normal(size=12)) + together * weeks
    return {
        item: Series(
            weeks,
            common + changes.get(item, 0.0) * weeks + 4.0 * chance.normal(size=12),
            shares,
            np.full(12, 16.0),
        )
        for item in ("timing", "bank", "wind_correction", "track", "altitude", "speed")
    }


def told(pilots: dict[str, dict[str, Series]]) -> dict[tuple[str, str], str]:
    trends = trends_of(pilots, dict.fromkeys(pilots["0"], WindCost(0.0, 5.0)), 0.1)
    return {key: one.verdict for key, one in trends.items() if one.verdict != "no trend"}


def test_a_change_of_one_item_is_seen_beside_the_others_though_form_walks() -> None:
    chance = np.random.default_rng(21)
    unchanged = {str(n): a_pilot(chance, changes={}) for n in range(12)}
    for rate, said in ((4.0, "better"), (-4.0, "worse")):
        found = told({**unchanged, "learner": a_pilot(np.random.default_rng(22), changes={"bank": rate})})
        assert found == {("learner", "bank"): said}


def test_who_stays_while_the_others_change_has_not_changed() -> None:
    """Five items rise by 50 points and one stays: beside them it falls, and nobody says that it became worse."""
    chance = np.random.default_rng(23)
    pilots = {str(n): a_pilot(chance, changes={}) for n in range(12)}
    stays = {"speed": -4.5}
    for n in range(6):
        pilots[f"riser {n}"] = a_pilot(chance, changes=stays, together=4.5, walks=0.0)
        pilots[f"faller {n}"] = a_pilot(chance, changes={"speed": 4.5}, together=-4.5, walks=0.0)
    assert not [key for key in told(pilots) if key[1] == "speed"]


def test_an_item_is_held_against_those_that_were_judged_in_the_same_sessions() -> None:
    pilot = a_pilot(np.random.default_rng(24), changes={"bank": 3.0})
    costs = dict.fromkeys(pilot, WindCost(0.0, 5.0))
    whole = beside_others("bank", pilot, costs, reference_share=0.1)
    seldom = {key: Series(*(part[::2] for part in vars(one).values())) for key, one in pilot.items()}
    some = {**pilot, "speed": seldom["speed"], "track": seldom["track"]}
    fewer = beside_others("bank", some, costs, reference_share=0.1)
    assert whole is not None and fewer is not None and not np.allclose(whole.beta, fewer.beta)
    assert beside_others("speed", some, costs, reference_share=0.1) is not None
    least = {key: pilot[key] for key in ("bank", "timing", "speed", "track")}
    assert len(least) == 1 + 3 and beside_others("bank", least, costs, reference_share=0.1)
    del least["track"]
    assert beside_others("bank", least, costs, reference_share=0.1) is None
    few = {key: some[key] for key in ("bank", "timing", "speed", "track")}
    assert len(few) > 3 and beside_others("bank", few, costs, reference_share=0.1) is None


def test_what_each_item_loses_to_the_wind_is_given_back_before_items_are_held_against_one_another() -> None:
    """The same flying in calm air, and in winds that cost each item what is known of it, looks alike."""
    chance = np.random.default_rng(25)
    calm = a_pilot(chance, changes={"bank": 3.0})
    winds = chance.uniform(0.0, 0.3, calm["bank"].weeks.size)
    calm = {key: replace(one, shares=winds) for key, one in calm.items()}
    losses = {key: -20.0 * number for number, key in enumerate(calm, 1)}
    blown = {
        key: replace(one, points=one.points + losses[key] * (one.shares - 0.1)) for key, one in calm.items()
    }
    for item in ("bank", "speed"):
        left = beside_others(item, calm, dict.fromkeys(calm, WindCost(0.0, 5.0)), reference_share=0.1)
        same = beside_others(
            item, blown, {key: WindCost(loss, 5.0) for key, loss in losses.items()}, reference_share=0.1
        )
        assert left is not None and same is not None and same.beta == pytest.approx(left.beta)
        blind = beside_others(item, blown, dict.fromkeys(calm, WindCost(0.0, 5.0)), reference_share=0.1)
        assert blind is not None and not np.allclose(blind.beta, left.beta)


@pytest.mark.parametrize("stays", [0.0, 0.7])
def test_sessions_that_differ_by_far_more_than_their_circuits_are_no_change(stays: float) -> None:
    """An autopilot flies each circuit of an evening alike: ten points from day to day, two in the evening's middle."""
    chance = np.random.default_rng(31)
    pilots = {}
    for pilot in range(14):
        weeks = np.sort(chance.uniform(0.0, 10.0, 9))
        pilots[str(pilot)] = {
            item: Series(
                weeks, 60.0 + 10.0 * drifting(chance, 9, stays), np.full(9, 0.1), np.full(9, 100.0 / 30.0)
            )
            for item in ("timing", "bank", "wind_correction", "track", "altitude", "speed")
        }
    assert len({pilot for pilot, _ in told(pilots)}) <= 1


def test_growing_wind_is_not_a_worse_pilot() -> None:
    """The same skill in ever more wind: a plain line falls, the trend with the wind allowed for does not."""
    chance = np.random.default_rng(7)
    weeks = np.linspace(0.0, 8.0, 16)
    blamed = 0
    for _ in range(150):
        shares = 0.05 + 0.02 * weeks + chance.uniform(-0.03, 0.03, 16)
        points = 80.0 - 120.0 * (shares - 0.1) + chance.normal(0.0, 3.0, 16)
        assert np.polyfit(weeks, points, 1)[0] < -1.0
        trend = fit_trend(Series(weeks, points, shares, np.full(16, 9.0)), prior=WindCost(-120.0, 15.0))
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
    trend = fit_trend(kind[0], prior=UNKNOWN_COST)
    assert trend.cost.per_share == pytest.approx(0.0, abs=1e-6)
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
    rest = (UNKNOWN_COST, 0.0, nothing, nothing, nothing, nothing)
    wide = Slope(middle, middle - 9.0, middle + 9.0)
    assert Trend(Slope(middle, low, high), None, *rest).verdict == said
    beside = Trend(wide, Slope(middle, low, high), *rest)
    assert beside.verdict == said and beside.seen_beside == (said != "no trend")
    # Where the item by itself went less than half as far, or the other way, it says nothing; else it does.
    assert Trend(Slope(0.6 * middle, -9.0, 9.0), Slope(middle, low, high), *rest).verdict == said
    for own in (0.4 * middle, -middle):
        assert Trend(Slope(own, -9.0, 9.0), Slope(middle, low, high), *rest).verdict == "no trend"


@pytest.mark.parametrize(("per_week", "said"), [(6.0, "better"), (-6.0, "worse")])
def test_a_change_is_told_the_way_it_goes(per_week: float, said: str) -> None:
    """From 30 to 90 points and back in forty sessions with little scatter: nothing but a change explains that."""
    chance = np.random.default_rng(12)
    weeks = np.linspace(0.0, 10.0, 40)
    points = 60.0 + per_week * (weeks - 5.0) + chance.normal(0.0, 4.0, 40)
    trend = fit_trend(Series(weeks, points, np.full(40, 0.1), np.full(40, 16.0)), items=8)
    assert trend.verdict == said
    assert trend.slope.per_week == pytest.approx(per_week, abs=0.6)
    assert trend.line[-1] - trend.line[0] == pytest.approx(10.0 * per_week, abs=6.0)
    assert (trend.line_low < trend.line).all() and (trend.line < trend.line_high).all()


def test_too_little_is_no_trend() -> None:
    few, least = np.arange(4.0), np.arange(5.0)
    assert not Series(few, few, few, few + 1.0).enough and Series(least, least, least, least + 1.0).enough
    one_day = np.zeros(9)
    assert not Series(one_day, np.arange(9.0), one_day, one_day + 1.0).enough
    next_day = np.array([*one_day[1:], 1.0 / 7.0])
    assert Series(next_day, np.arange(9.0), one_day, one_day + 1.0).enough


def test_form_that_returns_forgets_with_time_and_form_that_walks_does_not() -> None:
    """What defines the two: a stationary Markov process, and a walk (Doob, Ann. Math. 43, 1942, from memory)."""
    steps = np.array([0.0, 0.4, 1.0, 1.0, 4.0])
    for form in _FORMS:
        alike = form.correlation(steps)
        assert alike == pytest.approx(alike.T) and np.linalg.eigvalsh(alike).min() > -1e-9
        if form.walks:
            # Later sessions have all that was gained until the earlier one, and their own steps beside it.
            assert (np.diff(np.diag(alike))[[0, 1, 3]] > 0.0).all()
            assert alike[1, 4] == pytest.approx(alike[1, 1]) and alike[2, 3] == pytest.approx(alike[2, 2])
        elif form.stays:
            assert np.diag(alike) == pytest.approx(1.0) and alike[2, 3] == pytest.approx(1.0)
            assert alike == pytest.approx(form.correlation(steps + 7.0)), (
                "what counts is how far apart they are"
            )
            assert alike[0, 2] == pytest.approx(alike[0, 1] * alike[1, 2]) and alike[0, 4] < alike[0, 1] < 1.0
        else:
            assert alike == pytest.approx(np.eye(5)), "no session knows of another, of the same day neither"


def test_one_good_week_of_many_sessions_is_one_good_week() -> None:
    """The same points a session: spread over the term they are a change, flown on two week ends they may be form."""
    noise, shares = np.full(12, 9.0), np.full(12, 0.1)
    points = np.where(np.arange(12) < 6, 60.0, 72.0) + np.tile([-3.0, 3.0], 6)
    weekends = np.concatenate([np.linspace(0.0, 0.2, 6), np.linspace(8.0, 8.2, 6)])
    spread, bunched = (
        fit_trend(Series(weeks, points, shares, noise)).slope
        for weeks in (np.linspace(0.0, 8.2, 12), weekends)
    )
    assert bunched.high - bunched.low > spread.high - spread.low and bunched.low < 0.0


def test_limits_leave_out_as_much_as_is_said() -> None:
    """Two-sided limits of a normal distribution: 1.960 sigma leave out 5 %, 2.576 leave out 1 % (tables)."""
    fits = fit_forms(simulated(np.random.default_rng(4), 12), PRIOR, reference_share=0.1)
    for kind in (0, 3, 14):
        alone = np.eye(len(_FORMS))[kind]
        for tail, sigmas in ((0.025, 1.960), (0.005, 2.576)):
            slope = fits.slope(alone, tail=tail)
            half = sigmas * np.sqrt(fits.covariance[kind, 1, 1])
            assert (slope.low, slope.high) == pytest.approx(
                (slope.per_week - half, slope.per_week + half), abs=1e-3 * half
            )


def test_one_wild_session_weighs_as_hubers_estimator_lets_it() -> None:
    """At 95 % of the efficiency with normal noise (Huber 1981, chapter 4): psi' over psi squared, by integration."""
    inside = norm.cdf(TREND.tuning) - norm.cdf(-TREND.tuning)
    squared = norm.expect(lambda z: np.minimum(z * z, TREND.tuning**2))
    assert squared == pytest.approx(TREND.clipped, abs=1e-4)
    assert inside**2 / squared == pytest.approx(TREND.efficiency, abs=1e-3)


def test_a_flawless_pilot_and_two_sessions_a_day_break_nothing() -> None:
    for weeks in (np.arange(8.0), np.array([0.0, 0.0, 0.0, 1.0, 1.0, 1.0, 2.0, 2.0])):
        flawless = Series(weeks, np.full(8, 100.0), np.full(8, 0.1), np.full(8, 4.0))
        trend = fit_trend(flawless, prior=UNKNOWN_COST)
        assert trend.verdict == "no trend"
        assert trend.line == pytest.approx(np.full(8, 100.0))
