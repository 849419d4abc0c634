"""Whether somebody is getting better: a robust trend with its uncertainty, and the wind allowed for.

Model, per item of one pilot, one observation y per session (the session's median points)::

    y = a + b t + c d + noise

with t in weeks and d the wind as a share of the airspeed. The fit is Huber's M-estimator, so that one bad
evening does not turn the line; sigma is the scaled median absolute deviation of the residuals; the
covariance is Huber's, with his correction for small samples; limits are Student's t with n − p degrees of
freedom. Circuits of one session share that evening's form and wind, so they count as one observation: to
take each for one would make the limits far too narrow.

One pilot's own sessions often hold too little variety of wind to tell what it costs, so c is drawn towards
what the whole logbook says (a prior observation of c, weighted by its own uncertainty), and wind is never
held to make an item easier.

References
----------
P. J. Huber, Robust Statistics, Wiley 1981, chapter 7 (the estimator, and the covariance H1 with its
correction factor K). From memory; the tests check the coverage of the limits by simulation.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

#: Huber's tuning constant: 95 % efficient where the noise is normal.
_TUNING = 1.345
#: Scale of the median absolute deviation for normal noise, 1/Φ⁻¹(3/4).
_MAD = 1.4826
#: With fewer sessions no trend is spoken of.
FEWEST = 5
#: Points cannot be told apart more finely than this; it keeps a flawless pilot's sigma above nothing.
_FINEST_POINTS = 1.0


@dataclass(frozen=True)
class Cost:
    """What wind costs in points.

    Attributes
    ----------
    per_share : float
        Points for a wind as strong as the airspeed; never above 0.
    sd : float
        One sigma.
    """

    per_share: float
    sd: float


#: What is assumed before anybody flew: no cost, known badly (a wind of a fifth of the airspeed costs
#: nothing, give or take 20 points).
UNKNOWN_COST = Cost(0.0, 100.0)


@dataclass(frozen=True)
class Trend:
    """How an item developed.

    Attributes
    ----------
    per_week : float
        Points a week.
    low, high : float
        95 % limits of ``per_week``.
    level : float
        Points at the last session, in the reference wind, on the fitted line.
    level_sd : float
    cost : Cost
        Of the wind, as used.
    reference_share : float
        The wind share that the level is stated for.
    weeks : (n,) float array
        Since the first session.
    line, line_low, line_high : (n,) float array
        Fitted points in the reference wind with 95 % limits.
    """

    per_week: float
    low: float
    high: float
    level: float
    level_sd: float
    cost: Cost
    reference_share: float
    weeks: FloatArray
    line: FloatArray
    line_low: FloatArray
    line_high: FloatArray

    @property
    def verdict(self) -> str:
        """``"better"``, ``"worse"`` or ``"no trend"`` where the limits include none."""
        return "better" if self.low > 0 else "worse" if self.high < 0 else "no trend"


def fit_trend(
    weeks: FloatArray, points: FloatArray, shares: FloatArray, *, prior: Cost, reference_share: float
) -> Trend | None:
    """Fit an item's trend.

    Parameters
    ----------
    weeks, points, shares : (n,) float array
        One per session; an unknown share is the reference share.
    prior : Cost
        What is known of the wind's cost beforehand.
    reference_share : float
        The wind in which the level is stated.

    Returns
    -------
    Trend or None
        None with fewer than :data:`FEWEST` sessions, or all on one day.
    """
    if points.size < FEWEST or np.ptp(weeks) < 1.0 / 7.0:
        return None
    wind = shares - reference_share
    design = np.column_stack([np.ones_like(weeks), weeks, wind])
    fitted = _huber(design, points, prior)
    if fitted.coefficients[2] > 0.0:
        # Wind never makes an item easier: without it, then.
        fitted = _huber(design, points, Cost(0.0, 1e-6))
    beta, covariance = fitted.coefficients, fitted.covariance
    bound = student(0.975, points.size - 2)
    slope_sd = math.sqrt(covariance[1, 1])
    rows = np.column_stack([np.ones_like(weeks), weeks, np.zeros_like(weeks)])
    line = rows @ beta
    line_sd = np.sqrt(np.einsum("ij,jk,ik->i", rows, covariance, rows))
    return Trend(
        per_week=float(beta[1]),
        low=float(beta[1] - bound * slope_sd),
        high=float(beta[1] + bound * slope_sd),
        level=float(np.clip(line[-1], 0.0, 100.0)),
        level_sd=float(line_sd[-1]),
        cost=Cost(float(beta[2]), math.sqrt(covariance[2, 2])),
        reference_share=reference_share,
        weeks=weeks,
        line=line,
        line_low=line - bound * line_sd,
        line_high=line + bound * line_sd,
    )


def wind_cost(groups: list[tuple[FloatArray, FloatArray, FloatArray]]) -> Cost:
    """Estimate what wind costs in one item, from everybody's sessions.

    Parameters
    ----------
    groups : list of (weeks, points, shares)
        One per pilot. Each pilot has a level and a trend of the pilot's own; the cost is common.

    Returns
    -------
    Cost
        :data:`UNKNOWN_COST` where the logbook holds too little.
    """
    useful = [group for group in groups if group[0].size >= FEWEST and np.ptp(group[0]) > 0]
    count = sum(group[0].size for group in useful)
    if count < 2 * len(useful) + 4:
        return UNKNOWN_COST
    design = np.zeros((count, 2 * len(useful) + 1))
    start = 0
    for place, (weeks, _, shares) in enumerate(useful):
        rows = slice(start, start + weeks.size)
        design[rows, 2 * place] = 1.0
        design[rows, 2 * place + 1] = weeks - weeks.mean()
        design[rows, -1] = shares
        start += weeks.size
    fitted = _huber(design, np.concatenate([group[1] for group in useful]), UNKNOWN_COST)
    return Cost(min(0.0, float(fitted.coefficients[-1])), math.sqrt(fitted.covariance[-1, -1]))


def student(level: float, freedom: int) -> float:
    """Return a quantile of Student's t.

    Parameters
    ----------
    level : float
        Between 0 and 1.
    freedom : int
        Degrees of freedom, at least 1 is taken.

    Returns
    -------
    float
    """
    from scipy.special import stdtrit

    return float(stdtrit(max(1, freedom), level))


@dataclass(frozen=True)
class _Fitted:
    coefficients: FloatArray
    covariance: FloatArray


def _huber(design: FloatArray, observed: FloatArray, prior: Cost) -> _Fitted:
    """Fit by iteratively reweighted least squares; the last column carries the prior."""
    count, unknowns = design.shape
    weights: FloatArray = np.ones(count)
    sigma = 1.0
    beta: FloatArray = np.zeros(unknowns)
    for _ in range(60):
        before = beta
        precision = np.zeros((unknowns, unknowns))
        precision[-1, -1] = (sigma / prior.sd) ** 2
        normal = design.T @ (weights[:, None] * design) + precision
        right = design.T @ (weights * observed)
        right[-1] += precision[-1, -1] * prior.per_share
        beta = np.asarray(np.linalg.lstsq(normal, right, rcond=None)[0])
        residuals = observed - design @ beta
        # n/(n − p): the residuals of a fit are smaller than the noise that made them.
        sigma = max(_FINEST_POINTS, _MAD * float(np.median(np.abs(residuals))))
        sigma *= math.sqrt(count / max(1, count - unknowns))
        weights = np.minimum(1.0, _TUNING * sigma / np.maximum(np.abs(residuals), 1e-9))
        if np.allclose(beta, before, rtol=1e-9, atol=1e-9):
            break
    return _Fitted(beta, _covariance(design, observed - design @ beta, sigma, prior))


def _covariance(design: FloatArray, residuals: FloatArray, sigma: float, prior: Cost) -> FloatArray:
    """Huber's covariance H1 of the estimate."""
    count, unknowns = design.shape
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
