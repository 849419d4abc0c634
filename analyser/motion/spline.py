"""Smooth paths through noisy positions: cubic splines that spend as little jerk as they can.

A position log is a string of fixes; speed, acceleration and with it bank are its derivatives. We lay a
uniform cubic spline through the fixes and charge it for its third derivative, the jerk (Eilers & Marx,
"Flexible smoothing with B-splines and penalties", Statistical Science 11, 1996, with the difference order
3 that makes the penalty the jerk itself). That is the smoother of a random-jerk motion model: an aircraft in
a steady turn needs hardly any jerk, a roll needs some, receiver noise would need a great deal.
The normal equations have seven diagonals, so a day of flight is solved in the time of a glance.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analyser.earth.constants import SIGMA_PER_MEDIAN
from analyser.frozen import dataclass
from analyser.motion.linear_solvers import solve_banded
from analyser.motion.motion_thresholds import SPLINE

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Spline:
    """A path on a uniform grid."""

    #: First knot and knot spacing, seconds.
    start_s: float
    step_s: float
    #: (m, d) Cubic B-spline coefficients, one column per coordinate.
    coefficients: FloatArray
    #: rms residual of the fixes about the path, in the unit of the coordinates, per axis.
    noise: float

    def at(self, time_s: FloatArray, order: int = 0) -> FloatArray:
        """Evaluate the path (order 0), its velocity (1) or its acceleration (2) at instants within it: (n, d)."""
        first, weights = basis(time_s, self.start_s, self.step_s, len(self.coefficients), order)
        return sum(
            (weights[:, k, None] * self.coefficients[first + k] for k in range(1, 4)),
            start=weights[:, 0, None] * self.coefficients[first],
        )


def basis(
    time_s: FloatArray, start_s: float, step_s: float, count: int, order: int
) -> tuple[NDArray[np.int64], FloatArray]:
    """Return the first of four coefficients in force at each time, and their weights."""
    position = (np.asarray(time_s, float) - start_s) / step_s
    cell = np.clip(np.floor(position).astype(np.int64), 0, count - 4)
    u = position - cell
    if order == 0:
        weights = ((1 - u) ** 3, 3 * u**3 - 6 * u**2 + 4, -3 * u**3 + 3 * u**2 + 3 * u + 1, u**3)
    elif order == 1:
        weights = (-3 * (1 - u) ** 2, 9 * u**2 - 12 * u, -9 * u**2 + 6 * u + 3, 3 * u**2)
    else:
        weights = (6 * (1 - u), 18 * u - 12, -18 * u + 6, 6 * u)
    return cell, np.stack(weights, axis=1) / (6.0 * step_s**order)


def fit_spline(
    time_s: FloatArray, values: FloatArray, *, step_s: float = 1.0, noise: float | None = None
) -> Spline:
    """Fit the smoothest path that the noise of the fixes allows to (n, d) coordinates in metres, n at least 4.

    Knots are ``step_s`` apart. The noise, one sigma per axis, is estimated from the fixes themselves when left out.
    """
    if noise is not None:
        return _solve(time_s, values, step_s, noise)
    spline = _solve(time_s, values, step_s, 1.0)
    for _ in range(2):
        # The residuals of a smoother are smaller than the noise by the freedom it spends; the factor is
        # near one wherever there are several fixes per second of the filter's memory, and where there are
        # not, the noise does not matter. Two rounds settle it.
        spline = _solve(
            time_s, values, step_s, float(np.clip(spline.noise, SPLINE.noise_floor_m, SPLINE.noise_ceiling_m))
        )
    return spline


def _solve(time_s: FloatArray, values: FloatArray, step_s: float, noise: float) -> Spline:
    count = int(np.ceil((time_s[-1] - time_s[0]) / step_s)) + 4
    first, weights = basis(time_s, float(time_s[0]), step_s, count, 0)
    banded = np.zeros((4, count))
    right = np.zeros((count, values.shape[1]))
    for a in range(4):
        for column in range(values.shape[1]):
            right[:, column] += np.bincount(first + a, weights[:, a] * values[:, column], minlength=count)
        for b in range(a, 4):
            banded[b - a] += np.bincount(first + a, weights[:, a] * weights[:, b], minlength=count)
    add_penalty(banded, noise**2 / (SPLINE.jerk_density * step_s**5))
    coefficients = solve_banded(banded, right)
    fitted = Spline(float(time_s[0]), step_s, coefficients, 0.0)
    residual = values - fitted.at(time_s)
    # The median, not the mean square: a handful of wild fixes must not soften the whole path.
    rms = SIGMA_PER_MEDIAN * float(np.median(np.abs(residual - np.median(residual, axis=0))))
    return Spline(fitted.start_s, step_s, coefficients, rms)


def add_penalty(banded: FloatArray, strength: float) -> None:
    """Add strength × DᵀD to the diagonals, D taking third differences of the coefficients."""
    count = banded.shape[1]
    difference = np.array([-1.0, 3.0, -3.0, 1.0])
    for shift in range(4):
        for a in range(4 - shift):
            banded[shift, a : count - 3 + a] += strength * difference[a] * difference[a + shift]
