"""Noises with a memory: what a hand, a gust and a receiver add."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import accumulate, islice

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def wandering(rng: np.random.Generator, sigma: float, memory_s: float, step_s: float) -> Iterator[float]:
    """Yield an Ornstein–Uhlenbeck process for ever, from its stationary state.

    Its covariance at lag t is sigma² exp(−t / memory); drawn exactly, in blocks.
    """
    if sigma <= 0.0:
        while True:
            yield 0.0
    value = float(rng.normal(0.0, sigma))
    while True:
        block = _block(rng, value, sigma, memory_s, step_s, 2048)
        yield from block.tolist()
        value = float(block[-1])


def wander_at(rng: np.random.Generator, time_s: FloatArray, sigma: float, memory_s: float) -> FloatArray:
    """Draw the same process at given, possibly uneven, times."""
    fresh = rng.normal(0.0, sigma, time_s.size)
    keep = np.exp(-np.diff(time_s, prepend=time_s[0]) / memory_s)
    found = np.empty(time_s.size)
    value = fresh[0]
    for i in range(time_s.size):
        value = fresh[i] if i == 0 else keep[i] * value + math.sqrt(1.0 - keep[i] ** 2) * fresh[i]
        found[i] = value
    return found


def _block(
    rng: np.random.Generator, before: float, sigma: float, memory_s: float, step_s: float, count: int
) -> FloatArray:
    keep = math.exp(-step_s / memory_s)
    fresh = rng.normal(0.0, sigma * math.sqrt(1.0 - keep * keep), count)
    values = accumulate(fresh.tolist(), lambda value, new: keep * value + new, initial=before)
    return np.fromiter(islice(values, 1, None), np.float64, count)
