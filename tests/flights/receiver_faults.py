"""What real receivers, feeds and simulators do to a track on its way into a log."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.flights.wander import FloatArray


@dataclass(frozen=True)
class Faults:
    """Errors that are not white noise; all off by default."""

    jitter_s: float = 0.0
    """Sigma of the instants at which positions were truly taken about the times that are written for them."""
    lag_s: float = 0.0
    """Sigma of a feed's lag, drawn anew …"""
    lag_every_s: float = 12.0
    """… every so many seconds on average."""
    rows_s: float = 0.0
    """A row is written every so many seconds, by linear interpolation between the true samples; 0 writes those."""
    uneven: float = 0.0
    """True samples lie apart by up to this share more or less than the interval."""
    filter_s: float = 0.0
    """Memory of a receiver's position filter, seconds; it lags in turns …"""
    filter_reset_s: float = 0.0
    """… until it steps back onto the truth, every so many seconds."""
    smoothed_s: float = 0.0
    """A feed times its places so that the speed from one to the next is smooth: a mean over so many seconds."""
    repeated: float = 0.0
    """Share of the rows that carry the position of the row before."""
    pauses_s: tuple[tuple[float, float], ...] = ()
    """Instants at which a simulator was paused, and for how long its recorder's clock ran on."""
    paused_rows: bool = True
    """Whether rows are written, at the same position, while it is paused."""
    accelerated: tuple[tuple[float, float, float], ...] = ()
    """Stretches (from, to) of true time in which time ran so many times as fast as the recorder's clock."""
    whole_seconds: bool = False
    """Times are written in whole seconds."""
    speed_noise_kt: float | None = None
    """Sigma of a ground speed and track that the log carries too, in whole knots and tenths of a degree."""


def true_times(rng: np.random.Generator, faults: Faults, interval_s: float, end_s: float) -> FloatArray:
    """Return when positions are truly taken, where they are not taken evenly."""
    count = int(end_s / interval_s) + 2
    steps = interval_s * (1.0 + faults.uneven * rng.uniform(-1.0, 1.0, count))
    times = np.cumsum(steps)
    return np.asarray(times[times < end_s])


def lags(rng: np.random.Generator, faults: Faults, time_s: FloatArray) -> FloatArray:
    """Return how long before the times that are written for them positions were taken: at once for some seconds."""
    steps = rng.exponential(faults.lag_every_s, int(2.0 * np.ptp(time_s) / faults.lag_every_s) + 50)
    drawn = np.abs(rng.normal(0.0, faults.lag_s, steps.size + 1))
    return np.asarray(drawn[np.searchsorted(time_s[0] + np.cumsum(steps), time_s)])


def filtered(faults: Faults, time_s: FloatArray, values: FloatArray) -> FloatArray:
    """Lag behind, as a filter of constant velocity does in a turn, and step back onto the truth now and then."""
    found = values.copy()
    rate = np.zeros(values.shape[1])
    since = 0.0
    for i in range(1, len(values)):
        step = time_s[i] - time_s[i - 1]
        ahead = found[i - 1] + rate * step
        gain = 1.0 - np.exp(-step / faults.filter_s)
        off = values[i] - ahead
        since += step
        if i == 1 or (faults.filter_reset_s and since >= faults.filter_reset_s):
            rate = (values[i] - values[i - 1]) / step
            found[i], since = values[i], 0.0
            continue
        found[i] = ahead + 2.0 * gain * off
        rate = rate + gain**2 * off / step
    return found


def retimed(faults: Faults, full_s: FloatArray, path_m: FloatArray, time_s: FloatArray) -> FloatArray:
    """Return the times that a feed writes which knows the places but smooths the speed from one to the next."""
    step_s = float(full_s[1] - full_s[0])
    way = np.hypot(*np.diff(path_m, axis=0).T)
    width = max(1, round(faults.smoothed_s / step_s))
    padded = np.pad(way, (width // 2, width - 1 - width // 2), mode="edge")
    smooth = np.convolve(padded, np.ones(width) / width, mode="valid")
    written = np.concatenate([[0.0], np.cumsum(way / np.maximum(smooth, 1e-6))]) * step_s
    return np.interp(time_s, full_s, full_s[0] + written * (full_s[-1] - full_s[0]) / written[-1])


def clock_of(faults: Faults, time_s: FloatArray) -> FloatArray:
    """Return what a recorder's clock showed at true instants: it runs on in pauses, and slowly in accelerated time."""
    clock = time_s.copy()
    for start, end, factor in faults.accelerated:
        clock -= np.clip(time_s - start, 0.0, end - start) * (1.0 - 1.0 / factor)
    for at, lasted in faults.pauses_s:
        clock += np.where(time_s > at, lasted, 0.0)
    return clock
