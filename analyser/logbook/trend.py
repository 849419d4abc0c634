"""Whether somebody is getting better: robust trends whose limits allow for wind, drifting form and many items.

Model, per item of one pilot, one observation y per session (its median circuit)::

    y = a + b t + c d + form + noise

with t in weeks and d the wind as a share of the airspeed. Circuits of one session share that evening's form and wind,
so they count as one observation; how much they differ among each other says how large the noise is. What sessions
differ by beyond that is form. Form drifts: good weeks follow good weeks, and a form that walks away without coming back
looks like progress for weeks. A few sessions of one item cannot tell one kind of form from another. So the fit is made
for each of several kinds and sizes (:data:`_FORMS`), and the answers are mixed by how likely each is: by its restricted
likelihood in these sessions, times how common it is in this pilot's other items and among all pilots of the logbook
(:func:`forms_of`).

Each item is looked at twice. By itself; and *beside the others*: less the mean of the pilot's other items in the same
sessions, their highest and lowest left out. What a good or bad day, or a good or bad month, does to all items alike
drops out there, which is most of what hides a change of one item; what it does to each item for itself does not, and
is looked for in the same way. A change beside the others is told only where the item by itself went the same way, by
half as much at least: who stays while the others fall has not become better.

For a given kind of form the fit is Huber's M-estimator on the decorrelated observations, so that one bad evening does
not turn the line. One pilot's own sessions often hold too little variety of wind to tell what it costs, so c is drawn
towards what the whole logbook says, and wind is never held to make an item easier.

Many items are looked at, and one of them always looks best: the limits are so wide that those of all items of a pilot
hold together (Bonferroni). What this costs in changes that stay unseen, beside the best that any test could do, is
printed by ``python -m tests.club --power``.

References
----------
P. J. Huber, Robust Statistics, Wiley 1981, chapter 7. H. D. Patterson, R. Thompson, Biometrika 58, 1971 (restricted
likelihood). From memory; the tests check by simulation how often unchanged pilots are told of a change.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from analyser.frozen import dataclass
from analyser.logbook.logbook_thresholds import TREND

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class _Form:
    """A kind of form from session to session, and how likely it is held before anybody flew.

    ``size`` is its variance as a multiple of the noise; of a form that comes back to the pilot's level ``stays`` is the
    correlation of neighbouring sessions; of one that ``walks`` away the variance is that of each step.
    """

    held: float
    size: float = 0.0
    stays: float = 0.0
    walks: bool = False

    def correlation(self, steps: FloatArray) -> FloatArray:
        """Return what the size multiplies, (n, n); ``steps`` says how far along each session is."""
        if self.walks:
            return np.asarray(1.0 + np.minimum(steps[:, None], steps[None, :]))
        apart = np.abs(steps[:, None] - steps[None, :])
        return np.asarray(self.stays**apart if self.stays else np.eye(steps.size))


#: Up to where sessions differ by eleven times as much as their circuits say: an autopilot flies each circuit alike.
_FORMS = (
    _Form(0.1),
    *(_Form(0.03, size, stays) for stays in (0.0, 0.6, 0.85) for size in (0.5, 2.0, 8.0, 32.0, 128.0)),
    *(_Form(0.45 / 7.0, size, walks=True) for size in (0.03, 0.1, 0.3, 1.0, 3.0, 10.0, 30.0)),
)
_HELD_LIKELY = np.array([one.held for one in _FORMS])


@dataclass(frozen=True)
class WindCost:
    """What wind costs: points for a wind as strong as the airspeed, never above 0, with one sigma."""

    per_share: float
    sd: float


#: What is assumed before anybody flew: no cost, known badly.
UNKNOWN_COST = WindCost(0.0, TREND.unknown_cost_sd)


@dataclass(frozen=True)
class Series:
    """One item of one pilot, an observation per session.

    Weeks since some day, points, the wind as a share of the airspeed, and the points' variance by the circuits' noise.
    """

    weeks: FloatArray
    points: FloatArray
    shares: FloatArray
    noise: FloatArray

    @property
    def enough(self) -> bool:
        """Whether a trend is spoken of: enough sessions, and not all on one day."""
        return self.points.size >= TREND.fewest_sessions and float(np.ptp(self.weeks)) >= 1.0 / 7.0


@dataclass(frozen=True)
class Slope:
    """Points a week, with limits that hold together with those of the pilot's other items."""

    per_week: float
    low: float
    high: float


@dataclass(frozen=True)
class Trend:
    """How an item developed: its ``slope`` by itself, and ``beside`` the pilot's other items unless they are too few.

    ``cost`` is the wind's, as used; ``correlation`` that of neighbouring sessions, the mean of what was held likely.
    ``line``, ``line_low`` and ``line_high``, each (n,), are fitted points in the reference wind with 95 % limits at the
    sessions' ``weeks``.
    """

    slope: Slope
    beside: Slope | None
    cost: WindCost
    correlation: float
    weeks: FloatArray
    line: FloatArray
    line_low: FloatArray
    line_high: FloatArray

    @property
    def seen_beside(self) -> bool:
        """Whether a change is told that only shows beside the pilot's other items."""
        return self.verdict != "no trend" and self.slope.low <= 0.0 <= self.slope.high

    @property
    def verdict(self) -> str:
        """``"better"``, ``"worse"`` or ``"no trend"`` where the limits include none."""
        own, beside = self.slope, self.beside
        if own.low > 0.0 or own.high < 0.0:
            return "better" if own.low > 0.0 else "worse"
        if beside and beside.low > 0.0 and own.per_week >= TREND.own_share * beside.per_week:
            return "better"
        if beside and beside.high < 0.0 and own.per_week <= TREND.own_share * beside.per_week:
            return "worse"
        return "no trend"


@dataclass(frozen=True)
class Fits:
    """A line through one series for each of k kinds of form.

    ``beta`` (k, 3) are level, slope and the wind's cost, with their (k, 3, 3) covariances; ``likelihoods`` (k,) say how
    likely these sessions are with each kind, the largest 1; ``neighbours`` (k,) is the correlation of neighbouring
    sessions.
    """

    weeks: FloatArray
    beta: FloatArray
    covariance: FloatArray
    likelihoods: FloatArray
    neighbours: FloatArray

    def shares(self, common: FloatArray) -> FloatArray:
        """Return how much each kind counts, where they are so common."""
        share = common * self.likelihoods
        return np.asarray(share / share.sum())

    def slope(self, common: FloatArray, *, tail: float) -> Slope:
        """Return the slope with limits that leave out ``tail`` on each side."""
        share, slopes = self.shares(common), self.beta[:, 1]
        sds = np.sqrt(self.covariance[:, 1, 1])
        low, high = (_quantile(level, share, slopes, sds) for level in (tail, 1.0 - tail))
        return Slope(float(share @ slopes), low, high)


def forms_met(tables: Sequence[FloatArray]) -> FloatArray:
    """Estimate how common each kind of form is among series of sessions; each comes with its likelihoods.

    Pilots differ: some drift and some do not. So not one kind is chosen but how common each of them is (a mixture, by
    expectation and maximisation), drawn towards what is held beforehand.
    """
    common = _HELD_LIKELY
    seen = np.array(tables).reshape(-1, common.size)
    for _ in range(200 if tables else 0):
        counts = common * seen
        counts = TREND.prior_series * _HELD_LIKELY + (counts / counts.sum(axis=1, keepdims=True)).sum(axis=0)
        common = counts / counts.sum()
    return common


def forms_of(fits: Mapping[tuple[str, str], Fits], alike: float) -> dict[tuple[str, str], FloatArray]:
    """Tell how common each kind of form is for each (pilot, item), before that item's own sessions are looked at.

    All series of the logbook tell it, and the more this pilot's other items: what each of these says is raised to the
    power ``alike``, for items are neither the same in form nor independent of each other.
    """
    told: dict[str, dict[str, FloatArray]] = {}
    for (pilot, item), one in fits.items():
        told.setdefault(pilot, {})[item] = alike * np.log(np.maximum(one.likelihoods, 1e-30))
    common = np.log(forms_met([one.likelihoods for one in fits.values()]))
    found = {}
    for pilot, items in told.items():
        whole = common + np.sum(list(items.values()), axis=0)
        for item, own in items.items():
            likely = np.exp(whole - own - np.max(whole - own))
            found[pilot, item] = np.asarray(likely / likely.sum())
    return found


def fit_forms(series: Series, prior: WindCost, *, reference_share: float, either_way: bool = False) -> Fits:
    """Fit a line for each kind of form to a series that is ``enough``.

    The line is stated in the wind ``reference_share``, as which an unknown wind stands; ``prior`` is what is known of
    the wind's cost beforehand. With ``either_way`` wind may make it easier, as it may for one item beside others.
    """
    weeks = series.weeks
    design = np.column_stack([np.ones_like(weeks), weeks, series.shares - reference_share])
    gaps = np.diff(weeks)
    # Form moves with flying and with time: half a step for every session, half for every usual pause.
    steps = np.concatenate([[0.0], np.cumsum(0.5 + 0.5 * gaps / float(np.median(gaps[gaps > 0])))])
    usual = float(np.mean(series.noise))
    covariances = np.diag(series.noise) + np.array(
        [usual * form.size * form.correlation(steps) for form in _FORMS]
    )
    roots = np.linalg.cholesky(covariances)
    white = np.linalg.solve(roots, np.broadcast_to(design, (len(_FORMS), *design.shape)))
    seen = np.linalg.solve(roots, np.broadcast_to(series.points[:, None], (*white.shape[:2], 1)))[..., 0]
    beta, residuals = _huber(white, seen, prior)
    if not either_way and float(np.mean(beta[:, 2])) > 0.0:
        # Wind never makes an item easier: without it, then.
        prior = WindCost(0.0, 1e-6)
        beta, residuals = _huber(white, seen, prior)
    normal = np.einsum("kni,knj->kij", white, white)
    normal[:, 2, 2] += prior.sd**-2
    # What one wild session adds counts no more than three sigma.
    squares = (np.clip(residuals, -3.0, 3.0) ** 2).sum(axis=1)
    determinants = (
        2.0 * np.log(np.diagonal(roots, axis1=1, axis2=2)).sum(axis=1) + np.linalg.slogdet(normal)[1]
    )
    told = -0.5 * (squares + determinants)
    spread = np.diagonal(covariances, axis1=1, axis2=2)
    beside = np.diagonal(covariances, offset=1, axis1=1, axis2=2)
    return Fits(
        weeks=weeks,
        beta=beta,
        covariance=np.linalg.inv(normal) / TREND.efficiency,
        likelihoods=np.exp(told - told.max()),
        neighbours=np.mean(beside / np.sqrt(spread[:, 1:] * spread[:, :-1]), axis=1),
    )


def beside_others(
    item: str, series: Mapping[str, Series], costs: Mapping[str, WindCost], *, reference_share: float
) -> Fits | None:
    """Fit an item less the pilot's other items of the same sessions, wind allowed for; None with too few of them.

    ``series`` are the pilot's, by item, their weeks counted from one day; those count that were judged whenever this
    one was. The mean is taken without the highest and the lowest of them, so that another item's change does not look
    like this one's.
    """
    own = series[item]
    there = {key: np.isin(one.weeks, own.weeks) for key, one in series.items() if key != item}
    others = {key: which for key, which in there.items() if which.sum() == own.weeks.size}
    if len(others) < TREND.fewest_others or not own.enough:
        return None
    winds = own.shares - reference_share
    allowed = [series[key].points[which] - costs[key].per_share * winds for key, which in others.items()]
    noise = np.mean([series[key].noise[which] for key, which in others.items()], axis=0)
    points = own.points - costs[item].per_share * winds - np.sort(allowed, axis=0)[1:-1].mean(axis=0)
    left = Series(own.weeks, points, own.shares, own.noise + TREND.without_ends_ratio * noise / len(others))
    doubt = WindCost(0.0, math.sqrt(2.0) * costs[item].sd)
    return fit_forms(left, doubt, reference_share=reference_share, either_way=True)


def trend_of(fits: Fits, common: FloatArray, *, items: int, beside: Slope | None = None) -> Trend:
    """Put together how an item developed.

    ``common`` is how common each form is in this pilot's items, ``items`` how many of them are looked at by themselves.
    """
    share, weeks = fits.shares(common), fits.weeks
    rows = np.column_stack([np.ones_like(weeks), weeks, np.zeros_like(weeks)])
    lines = fits.beta @ rows.T
    line = np.asarray(share @ lines)
    spread = share @ (np.einsum("ij,kjl,il->ki", rows, fits.covariance, rows) + (lines - line) ** 2)
    half = TREND.limits_sigmas * np.sqrt(spread)
    return Trend(
        slope=fits.slope(common, tail=TREND.false_by_itself / (2.0 * items)),
        beside=beside,
        cost=WindCost(float(share @ fits.beta[:, 2]), math.sqrt(float(share @ fits.covariance[:, 2, 2]))),
        correlation=float(share @ fits.neighbours),
        weeks=weeks,
        line=line,
        line_low=line - half,
        line_high=line + half,
    )


def _quantile(level: float, share: FloatArray, middles: FloatArray, sds: FloatArray) -> float:
    """Return a quantile of a mixture of normal distributions."""
    from scipy.optimize import brentq
    from scipy.special import ndtr, ndtri

    reach = (abs(float(ndtri(level))) + 1.0) * float(sds.max())
    low, high = float(middles.min()) - reach, float(middles.max()) + reach
    return float(brentq(lambda at: float(share @ ndtr((at - middles) / sds)) - level, low, high))


def wind_cost(groups: Sequence[Series]) -> WindCost:
    """Estimate what wind costs in one item, from everybody's sessions.

    Each pilot has a level and a trend of the pilot's own; the cost is common. :data:`UNKNOWN_COST` where the logbook
    holds too little.
    """
    useful = [one for one in groups if one.enough]
    count = sum(one.weeks.size for one in useful) - 2 * len(useful)
    if count < TREND.fewest_for_wind:
        return UNKNOWN_COST
    # What is each pilot's own is taken out first: a column for each would make a class's matrix huge.
    wind = np.concatenate([_without_line(one.weeks, one.shares) for one in useful])
    seen = np.concatenate([_without_line(one.weeks, one.points) for one in useful])
    sigma, cost = max(1.0, math.sqrt(float(seen @ seen) / count)), 0.0
    for _ in range(3):
        beta, residuals = _huber(
            wind[None, :, None], seen[None] / sigma, WindCost(0.0, UNKNOWN_COST.sd / sigma)
        )
        cost = sigma * float(beta[0, 0])
        inside = np.minimum(residuals**2, TREND.tuning**2)
        sigma = max(1.0, sigma * math.sqrt(float(inside.sum()) / (TREND.clipped * count)))
    sd = 1.0 / math.sqrt(float(wind @ wind) * TREND.efficiency / sigma**2 + UNKNOWN_COST.sd**-2)
    return WindCost(min(0.0, cost), sd)


def _without_line(weeks: FloatArray, values: FloatArray) -> FloatArray:
    design = np.column_stack([np.ones_like(weeks), weeks])
    return np.asarray(values - design @ np.linalg.lstsq(design, values, rcond=None)[0])


def _huber(design: FloatArray, observed: FloatArray, prior: WindCost) -> tuple[FloatArray, FloatArray]:
    """Fit k designs (k, n, unknowns) at once by iteratively reweighted least squares; the last column has the prior.

    Observations (k, n) have a sigma of 1. Returns estimates (k, unknowns) and residuals (k, n).
    """
    weights = np.ones(observed.shape)
    beta = np.zeros((design.shape[0], design.shape[2]))
    for _ in range(40):
        before = beta
        normal = np.einsum("kni,kn,knj->kij", design, weights, design)
        normal[:, -1, -1] += prior.sd**-2
        right = np.einsum("kni,kn->ki", design, weights * observed)
        right[:, -1] += prior.per_share / prior.sd**2
        beta = np.asarray(np.linalg.solve(normal, right[..., None])[..., 0])
        residuals = np.asarray(observed - np.einsum("kni,ki->kn", design, beta))
        weights = np.minimum(1.0, TREND.tuning / np.maximum(np.abs(residuals), 1e-9))
        if np.allclose(beta, before, rtol=1e-5, atol=1e-4):
            break
    return beta, residuals
