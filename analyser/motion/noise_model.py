"""The pilot's hand as a noise with a memory: Ornstein–Uhlenbeck processes, whitened exactly.

Airspeed does not scatter from sample to sample; it wanders off and is brought back over tens of seconds.
Neighbouring samples are nearly one observation. On top of that slow wander lie gusts, forgotten within some
hundred metres, and what the smoothing left of the receiver's noise, forgotten at once. Generalised least squares
(Aitken, "On least squares and linear combinations of observations", Proc. Roy. Soc. Edinburgh 55, 1935) weighs
each observation by what it adds to the others, if it knows the covariance; here the covariance is a mixture
of the three, and which mixture is for the flight's likelihood to say.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analyser.frozen import dataclass

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class CorrelatedNoise:
    """An Ornstein–Uhlenbeck process."""

    #: Standard deviation.
    sigma: float
    #: Correlation time, seconds: correlation exp(−Δt / memory).
    memory_s: float

    def mean_sd(self, span_s: float) -> float:
        """Return the sigma of the process's mean over a span of seconds."""
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


@dataclass(frozen=True)
class Mixture:
    """A noise up to its scale: a slow wander of unit variance, gusts, a receiver's errors, and a white remainder."""

    #: Memories, seconds.
    slow_s: float
    gust_s: float
    #: Variances relative to the slow wander's.
    gust: float
    white: float
    #: One over the slow wander's variance in kt², where an untidy log's own errors, known in knots, are added; 0 where
    #: the log is tidy.
    receiver: float = 0.0

    @property
    def variance(self) -> float:
        """Of all but the white part, relative to the slow wander's."""
        return 1.0 + self.gust

    @property
    def memory_s(self) -> float:
        """Memory of a single wander whose mean over a long span scatters alike."""
        return (self.slow_s + self.gust * self.gust_s) / self.variance


class Moments:
    """Times at which noise is seen, and how it hangs together between them.

    The same few memories belong to many mixtures, so each is worked out once.

    Parameters
    ----------
    time_s : (n,) float array
    receiver_kt2 : (n, n) float array, optional
        Covariance of the velocity's errors, where an untidy log makes them.
    """

    def __init__(self, time_s: FloatArray, receiver_kt2: FloatArray | None = None) -> None:
        self._apart_s = np.abs(time_s[:, None] - time_s[None, :])
        self.receiver_kt2 = receiver_kt2
        self._known: dict[float, FloatArray] = {}

    def correlation(self, memory_s: float) -> FloatArray:
        """Return the correlation exp(−Δt / memory) between all times: (n, n), not to be written into."""
        if memory_s not in self._known:
            self._known[memory_s] = np.exp(-self._apart_s / memory_s)
        return self._known[memory_s]

    def factor(self, mixture: Mixture) -> FloatArray:
        """Return the lower Cholesky factor of a mixture's covariance at the times: (n, n)."""
        covariance = self.correlation(mixture.slow_s).copy()
        if mixture.gust:
            covariance += mixture.gust * self.correlation(mixture.gust_s)
        if self.receiver_kt2 is not None:
            covariance += mixture.receiver * self.receiver_kt2
        covariance.flat[:: len(covariance) + 1] += mixture.white
        return np.asarray(np.linalg.cholesky(covariance), dtype=np.float64)
