"""The receiver: when it samples, and how far off it is."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from tests.flights.receiver_faults import Faults, true_times
from tests.flights.wander import FloatArray, wander_at


@dataclass(frozen=True)
class Receiver:
    """Sampling and noise.

    The position's error on each axis is a Gauss–Markov process (a usual model of satellite navigation's slowly
    changing errors) with a small white part on top.
    """

    interval_s: float = 1.0
    irregular: float = 0.0
    """Share of the interval by which single samples stray from the even beat."""
    drifting_m: float = 3.0
    drift_memory_s: float = 90.0
    white_m: float = 0.3
    altitude_ft: float = 8.0
    holes_s: tuple[tuple[float, float], ...] = ()
    decimals: int = 7
    faults: Faults = field(default_factory=Faults)


def sample_times(rng: np.random.Generator, receiver: Receiver, start_s: float, end_s: float) -> FloatArray:
    """Return when the receiver writes a sample."""
    times = np.arange(start_s, end_s, receiver.interval_s)
    if receiver.faults.uneven:
        times = true_times(rng, receiver.faults, receiver.interval_s, end_s)
    if receiver.irregular > 0:
        times = times + rng.uniform(-0.5, 0.5, times.size) * receiver.irregular * receiver.interval_s
        times = np.round(np.clip(times, start_s, end_s), 2)
        times = np.unique(times)
    for first, last in receiver.holes_s:
        times = times[(times < first) | (times > last)]
    return times


def position_error_m(
    rng: np.random.Generator, receiver: Receiver, time_s: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the error of the position towards east and north."""
    east, north = (
        wander_at(rng, time_s, receiver.drifting_m, receiver.drift_memory_s)
        + rng.normal(0.0, receiver.white_m, time_s.size)
        for _ in range(2)
    )
    return east, north
