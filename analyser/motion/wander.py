"""The pilot's hand as a noise with a memory: an Ornstein–Uhlenbeck process, whitened exactly.

Airspeed does not scatter from sample to sample; it wanders off and is brought back over tens of seconds.
Neighbouring samples are nearly one observation. An Ornstein–Uhlenbeck process with sigma σ and memory τ has a
bidiagonal whitener at any sampling, so generalised least squares (Aitken, "On least squares and linear
combinations of observations", Proc. Roy. Soc. Edinburgh 55, 1935) costs no more than the ordinary kind.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Wander:
    """An Ornstein–Uhlenbeck process.

    Attributes
    ----------
    sigma : float
        Standard deviation.
    memory_s : float
        Correlation time, seconds: correlation exp(−Δt / memory).
    """

    sigma: float
    memory_s: float

    def mean_sd(self, span_s: float) -> float:
        """Return the sigma of the process's mean over a span.

        Parameters
        ----------
        span_s : float
            Seconds.

        Returns
        -------
        float
        """
        ratio = max(span_s, 1e-6) / self.memory_s
        return float(self.sigma * np.sqrt(2.0 / ratio * (1.0 - (1.0 - np.exp(-ratio)) / ratio)))


def whiten(time_s: FloatArray, rows: FloatArray, memory_s: float) -> tuple[FloatArray, float]:
    """Turn rows with Ornstein–Uhlenbeck noise of unit sigma into rows with independent unit noise.

    Parameters
    ----------
    time_s : (n,) float array
        Increasing.
    rows : (n, p) float array
        Design and observations side by side.
    memory_s : float

    Returns
    -------
    (n, p) float array
        The whitened rows.
    float
        log-determinant of the noise covariance at unit sigma.
    """
    kept = np.exp(-np.diff(time_s) / memory_s)
    fresh = np.sqrt(1.0 - kept**2)
    white = rows.copy()
    white[1:] = (rows[1:] - kept[:, None] * rows[:-1]) / fresh[:, None]
    return white, float(2.0 * np.log(fresh).sum())
