"""Whether somebody is getting better: a robust trend whose limits allow for wind, drifting form and many items.

Model, per item of one pilot, one observation y per session (its median circuit)::

    y = a + b t + c d + form + scatter

with t in weeks and d the wind as a share of the airspeed. Circuits of one session share that evening's form and
wind, so they count as one observation. Form drifts: good weeks follow good weeks, and a form that walks away without
coming back looks like progress for weeks. A line fitted as if it did not takes such a wave for a trend, and a few
sessions cannot tell one kind of form from another. So the fit is made for each of several kinds (:data:`_FORMS`),
and the answers are mixed by how likely each kind is: by its restricted likelihood in these sessions, times how
common it is in this pilot's other items and among all pilots of the logbook (:func:`forms_met`).

For a given kind the fit is Huber's M-estimator on the decorrelated observations, so that one bad evening does not
turn the line; limits are Student's t. One pilot's own sessions often hold too little variety of wind to tell what it
costs, so c is drawn towards what the whole logbook says, and wind is never held to make an item easier.

Many items are looked at, and one of them always looks best: the limits of a slope are so wide that those of all
items of a pilot hold together in 95 of 100 cases (Bonferroni). What this costs in changes that stay unseen is
printed by ``python -m tests.club --power``.

References
----------
P. J. Huber, Robust Statistics, Wiley 1981, chapter 7 (the estimator, and the covariance H1 with its correction
factor K). H. D. Patterson, R. Thompson, Biometrika 58, 1971 (restricted likelihood). From memory; the tests check by
simulation how often unchanged pilots are told of a change.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from analyser.frozen import dataclass

FloatArray = NDArray[np.float64]

#: Huber's tuning constant: 95 % efficient where the noise is normal.
_TUNING = 1.345
#: The mean of z² for normal noise z, when beyond the tuning constant it is cut off there.
_CLIPPED = 0.7102
#: With fewer sessions no trend is spoken of.
FEWEST = 5
#: Points cannot be told apart more finely than this; it keeps a flawless pilot's sigma above nothing.
_FINEST_POINTS = 1.0
#: How often anything at all may be said of a pilot in whom nothing has changed: one in twenty is the bound, aimed
#: below it because the kind of form is guessed too.
_FALSE_WORDS = 0.02
#: What a pilot's other items say of the form, beside what all pilots say: as much as so many series of sessions.
_OWN_SERIES = 4.0
#: What is held before anybody flew weighs as much as so many series of sessions.
_PRIOR_SERIES = 20.0


@dataclass(frozen=True)
class _Form:
    """A kind of form from session to session, and how likely it is held before anybody flew.

    ``stays`` is the correlation of neighbouring sessions in a form that comes back to the pilot's level; ``walks`` is
    the variance of a step that never comes back, as a share of the ``scatter`` of single sessions.
    """

    held: float
    stays: float = 0.0
    walks: float = 0.0
    scatter: float = 1.0

    def covariance(self, steps: FloatArray) -> FloatArray:
        """Return the (n, n) covariance of sessions, in any unit; ``steps`` says how far along each of them is."""
        if self.walks:
            walked = self.walks * (1.0 + np.minimum(steps[:, None], steps[None, :]))
            return np.asarray(walked + self.scatter * np.eye(steps.size))
        apart = np.abs(steps[:, None] - steps[None, :])
        return np.asarray(self.stays**apart if self.stays else np.eye(steps.size))


_FORMS = (
    _Form(0.2),
    _Form(0.15, stays=0.3),
    _Form(0.15, stays=0.6),
    _Form(0.05, stays=0.8),
    _Form(0.1, walks=0.1),
    _Form(0.1, walks=0.5),
    _Form(0.25, walks=1.0, scatter=0.2),
)
_HELD_LIKELY = np.array([one.held for one in _FORMS])


@dataclass(frozen=True)
class Cost:
    """What wind costs: points for a wind as strong as the airspeed, never above 0, with one sigma."""

    per_share: float
    sd: float


#: What is assumed before anybody flew: no cost, known badly (a wind of a fifth of the airspeed costs
#: nothing, give or take 20 points).
UNKNOWN_COST = Cost(0.0, 100.0)


@dataclass(frozen=True)
class Series:
    """One item of one pilot, an observation per session: weeks since the first, points, wind as share of airspeed."""

    weeks: FloatArray
    points: FloatArray
    shares: FloatArray

    @property
    def enough(self) -> bool:
        """Whether a trend is spoken of: enough sessions, and not all on one day."""
        return self.points.size >= FEWEST and float(np.ptp(self.weeks)) >= 1.0 / 7.0


@dataclass(frozen=True)
class Trend:
    """How an item developed.

    Attributes
    ----------
    per_week : float
        Points a week.
    low, high : float
        Limits of ``per_week`` that hold together with those of the pilot's other items in 95 of 100 cases.
    cost : Cost
        Of the wind, as used.
    correlation : float
        Of neighbouring sessions, the mean of what was held likely.
    weeks : (n,) float array
        Since the first session.
    line, line_low, line_high : (n,) float array
        Fitted points in the reference wind with 95 % limits.
    """

    per_week: float
    low: float
    high: float
    cost: Cost
    correlation: float
    weeks: FloatArray
    line: FloatArray
    line_low: FloatArray
    line_high: FloatArray

    @property
    def verdict(self) -> str:
        """``"better"``, ``"worse"`` or ``"no trend"`` where the limits include none."""
        return "better" if self.low > 0 else "worse" if self.high < 0 else "no trend"


def fit_trend(
    series: Series,
    *,
    prior: Cost,
    reference_share: float,
    items: int = 1,
    likely: FloatArray | None = None,
) -> Trend | None:
    """Fit an item's trend.

    Parameters
    ----------
    series : Series
        An unknown wind stands as the reference share.
    prior : Cost
        What is known of the wind's cost beforehand.
    reference_share : float
        The wind in which the line is stated.
    items : int
        How many items of this pilot are looked at.
    likely : (7,) float array, optional
        How common each kind of form is, as :func:`forms_met` found; left out: what is held before anybody flew.

    Returns
    -------
    Trend or None
        None where there is too little to speak of one.
    """
    if not series.enough:
        return None
    fits = _fits(series, prior, reference_share)
    if float(np.dot(_mix(fits, likely), [fit.beta[2] for fit in fits])) > 0.0:
        # Wind never makes an item easier: without it, then.
        fits = _fits(series, Cost(0.0, 1e-6), reference_share)
    share = _mix(fits, likely)
    slopes = np.array([fit.beta[1] for fit in fits])
    sds = np.array([math.sqrt(fit.covariance[1, 1]) for fit in fits])
    freedoms = np.array([fit.freedom for fit in fits])
    tail = _FALSE_WORDS / (2.0 * max(1, items))
    cost = float(np.dot(share, [fit.beta[2] for fit in fits]))
    cost_sd = math.sqrt(float(np.dot(share, [fit.covariance[2, 2] for fit in fits])))
    line, half = _line(series.weeks, fits, share)
    return Trend(
        per_week=float(np.dot(share, slopes)),
        low=_quantile(tail, share, slopes, sds, freedoms),
        high=_quantile(1.0 - tail, share, slopes, sds, freedoms),
        cost=Cost(cost, cost_sd),
        correlation=float(np.dot(share, [fit.neighbours for fit in fits])),
        weeks=series.weeks,
        line=line,
        line_low=line - half,
        line_high=line + half,
    )


def likelihoods(series: Series, prior: Cost, *, reference_share: float) -> FloatArray:
    """Return how likely these sessions are with each kind of form, beside the likeliest: a (7,) array, largest 1."""
    told = np.array([fit.log_likelihood for fit in _fits(series, prior, reference_share)])
    return np.asarray(np.exp(told - told.max()))


def forms_met(
    tables: Sequence[FloatArray], held: FloatArray = _HELD_LIKELY, weight: float = _PRIOR_SERIES
) -> FloatArray:
    """Estimate how common each kind of form is among series of sessions; each comes with its :func:`likelihoods`.

    Pilots differ: some drift and some do not. So not one kind is chosen but how common each of them is (a mixture, by
    expectation and maximisation), drawn towards ``held`` as by ``weight`` series.
    """
    common = held
    seen = np.array(tables).reshape(-1, held.size)
    for _ in range(50 if tables else 0):
        counts = common * seen
        counts = weight * held + (counts / counts.sum(axis=1, keepdims=True)).sum(axis=0)
        common = counts / counts.sum()
    return common


def forms_of_pilot(tables: Sequence[FloatArray], common: FloatArray) -> FloatArray:
    """Estimate how common each kind of form is in one pilot's items, drawn towards what is ``common`` to all pilots."""
    return forms_met(tables, common, _OWN_SERIES)


@dataclass(frozen=True)
class _Fit:
    beta: FloatArray
    covariance: FloatArray
    freedom: float
    log_likelihood: float
    neighbours: float


def _fits(series: Series, prior: Cost, reference_share: float) -> list[_Fit]:
    """Fit for each kind of form."""
    design = np.column_stack([np.ones_like(series.weeks), series.weeks, series.shares - reference_share])
    gaps = np.diff(series.weeks)
    unit = float(np.median(gaps[gaps > 0]))
    # Form moves with flying and with time: half a step for every session, half for every usual pause.
    steps = np.concatenate([[0.0], np.cumsum(0.5 + 0.5 * gaps / unit)])
    found = []
    for form in _FORMS:
        covariance = form.covariance(steps)
        root = np.linalg.cholesky(covariance)
        white = np.asarray(np.linalg.solve(root, design), float)
        seen = np.asarray(np.linalg.solve(root, series.points), float)
        fitted = _huber(white, seen, prior)
        residuals = seen - white @ fitted.beta
        clipped = np.clip(residuals, -3.0 * fitted.sigma, 3.0 * fitted.sigma)
        told = 1.0 - min(1.0, fitted.covariance[2, 2] / prior.sd**2)
        freedom = max(1.0, series.points.size - 2.0 - told)
        variance = max(float(clipped @ clipped), _FINEST_POINTS**2) / freedom
        # The wind's cost counts as far as these sessions tell it, so that a covariance's unit does not matter.
        normal = white.T @ white
        normal[2, 2] += variance / prior.sd**2
        of_design = float(np.linalg.slogdet(normal)[1]) - math.log(variance / prior.sd**2)
        of_scatter = (series.points.size - 2.0) * math.log(variance) + 2.0 * np.log(np.diag(root)).sum()
        likelihood = -0.5 * (of_scatter + of_design)
        spread = np.sqrt(np.diag(covariance))
        neighbours = float(np.mean(np.diag(covariance, 1) / (spread[1:] * spread[:-1])))
        found.append(_Fit(fitted.beta, fitted.covariance, freedom, float(likelihood), neighbours))
    return found


def _mix(fits: Sequence[_Fit], likely: FloatArray | None) -> FloatArray:
    """Return how much each kind of form counts for this series."""
    told = np.array([fit.log_likelihood for fit in fits])
    weight = (_HELD_LIKELY if likely is None else likely) * np.exp(told - told.max())
    return np.asarray(weight / weight.sum())


def _line(weeks: FloatArray, fits: Sequence[_Fit], share: FloatArray) -> tuple[FloatArray, FloatArray]:
    rows = np.column_stack([np.ones_like(weeks), weeks, np.zeros_like(weeks)])
    lines = np.array([rows @ fit.beta for fit in fits])
    variances = np.array([np.einsum("ij,jk,ik->i", rows, fit.covariance, rows) for fit in fits])
    line = share @ lines
    spread = share @ (variances + (lines - line) ** 2)
    return line, student(0.975, min(fit.freedom for fit in fits)) * np.sqrt(spread)


def _quantile(
    level: float, share: FloatArray, middles: FloatArray, sds: FloatArray, freedoms: FloatArray
) -> float:
    """Return a quantile of a mixture of Student distributions, by halving."""
    from scipy.special import stdtr

    reach = max(abs(student(level, float(freedom))) for freedom in freedoms) * float(sds.max())
    low, high = float(middles.min()) - reach - 1e-9, float(middles.max()) + reach + 1e-9
    for _ in range(60):
        middle = (low + high) / 2.0
        below = float(share @ stdtr(freedoms, (middle - middles) / sds))
        low, high = (middle, high) if below < level else (low, middle)
    return (low + high) / 2.0


def wind_cost(groups: Sequence[Series]) -> Cost:
    """Estimate what wind costs in one item, from everybody's sessions.

    Each pilot has a level and a trend of the pilot's own; the cost is common. :data:`UNKNOWN_COST` where the logbook
    holds too little.
    """
    useful = [one for one in groups if one.enough]
    count = sum(one.weeks.size for one in useful)
    if count < 2 * len(useful) + 4:
        return UNKNOWN_COST
    # What is each pilot's own is taken out first: a column for each would make a class's matrix huge.
    wind = np.concatenate([_without_line(one.weeks, one.shares) for one in useful])
    seen = np.concatenate([_without_line(one.weeks, one.points) for one in useful])
    fitted = _huber(wind[:, None], seen, UNKNOWN_COST, spent=2 * len(useful))
    return Cost(min(0.0, float(fitted.beta[-1])), math.sqrt(fitted.covariance[-1, -1]))


def _without_line(weeks: FloatArray, values: FloatArray) -> FloatArray:
    design = np.column_stack([np.ones_like(weeks), weeks])
    return np.asarray(values - design @ np.linalg.lstsq(design, values, rcond=None)[0])


def student(level: float, freedom: float) -> float:
    """Return a quantile of Student's t; at least one degree of freedom is taken."""
    from scipy.special import stdtrit

    return float(stdtrit(max(1.0, freedom), level))


@dataclass(frozen=True)
class _Robust:
    beta: FloatArray
    covariance: FloatArray
    sigma: float


def _huber(design: FloatArray, observed: FloatArray, prior: Cost, *, spent: int = 0) -> _Robust:
    """Fit by iteratively reweighted least squares; the last column carries the prior.

    ``spent`` are degrees of freedom that went into the observations before.
    """
    count, unknowns = design.shape[0] - spent, design.shape[1]
    weights: FloatArray = np.ones(design.shape[0])
    sigma = max(_FINEST_POINTS, float(np.std(observed)))
    beta: FloatArray = np.zeros(unknowns)
    for _ in range(40):
        before = beta
        precision = np.zeros((unknowns, unknowns))
        precision[-1, -1] = (sigma / prior.sd) ** 2
        normal = design.T @ (weights[:, None] * design) + precision
        right = design.T @ (weights * observed)
        right[-1] += precision[-1, -1] * prior.per_share
        beta = np.asarray(np.linalg.solve(normal, right), float)
        residuals = observed - design @ beta
        # Huber's proposal 2: with few sessions a median of residuals is small by luck too often.
        for _ in range(3):
            inside = np.minimum(residuals**2, (_TUNING * sigma) ** 2)
            sigma = max(
                _FINEST_POINTS, math.sqrt(float(inside.sum()) / (_CLIPPED * max(1, count - unknowns)))
            )
        weights = np.minimum(1.0, _TUNING * sigma / np.maximum(np.abs(residuals), 1e-9))
        if np.allclose(beta, before, rtol=1e-5, atol=1e-4):
            break
    residuals = observed - design @ beta
    return _Robust(beta, _covariance(design, residuals, sigma, prior, spent), sigma)


def _covariance(
    design: FloatArray, residuals: FloatArray, sigma: float, prior: Cost, spent: int
) -> FloatArray:
    """Huber's covariance H1 of the estimate."""
    count, unknowns = design.shape[0] - spent, design.shape[1]
    standard = residuals / sigma
    inside = np.abs(standard) <= _TUNING
    influence = np.clip(standard, -_TUNING, _TUNING)
    share = max(0.3, float(np.mean(inside)))
    correction = 1.0 + unknowns / count * (1.0 - share) / share
    spread = float(np.sum(influence**2)) / max(1, count - unknowns)
    # With few sessions the residuals may be small by luck; the plain scale is a floor under the sandwich.
    variance = max(correction**2 * sigma**2 * spread / share**2, 0.8 * sigma**2)
    precision = np.zeros((unknowns, unknowns))
    precision[-1, -1] = variance / prior.sd**2
    return np.asarray(variance * np.linalg.pinv(design.T @ design + precision))
