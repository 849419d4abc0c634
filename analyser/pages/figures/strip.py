"""What a time strip shows: a quantity, the bands it should have stayed in, and where it did not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Band:
    """Between which values a quantity should have stayed, and when.

    Attributes
    ----------
    start_s, end_s : float
    low, high, target : float
    narrows_to : float
        What part of the band's width is left at its end; 1 for an even band.
    """

    start_s: float
    end_s: float
    low: float
    high: float
    target: float
    narrows_to: float = 1.0

    def edges(self, time_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the lowest and the highest value allowed at each instant."""
        share = (time_s - self.start_s) / max(self.end_s - self.start_s, 1e-9)
        wide = 1.0 + share * (self.narrows_to - 1.0)
        return self.target + (self.low - self.target) * wide, self.target + (self.high - self.target) * wide


@dataclass(frozen=True)
class Outside:
    """One stretch of time out of tolerance."""

    start_s: float
    end_s: float
    worst_s: float
    worst: float
    beyond: float


@dataclass(frozen=True)
class Strip:
    """One quantity over time.

    Attributes
    ----------
    key : str
        Its name in the page's data: ``"altitude"``.
    title, unit : str
    decimals : int
        Of the numbers written beside the line.
    time_s, value : (n,) float array
    sd : (n,) float array or None
        One sigma; drawn as a wash two sigmas to either side.
    bands : sequence of Band
    metres : bool
        True for heights, which are also lettered in metres.
    judged : sequence of Outside or None
        The stretches out of tolerance as the debrief judged them; None: where the line leaves its bands.
    """

    key: str
    title: str
    unit: str
    decimals: int
    time_s: FloatArray
    value: FloatArray
    sd: FloatArray | None = None
    bands: Sequence[Band] = field(default_factory=tuple)
    metres: bool = False
    judged: Sequence[Outside] | None = None


def outside(strip: Strip) -> list[Outside]:
    """Find the stretches out of tolerance.

    Parameters
    ----------
    strip : Strip

    Returns
    -------
    list of Outside
        ``worst`` is the value farthest out and ``beyond`` its signed distance from the target.
    """
    if strip.judged is not None:
        return list(strip.judged)
    found = []
    for band in strip.bands:
        time, value = _within(strip, band)
        low, high = band.edges(time)
        bad = (value < low) | (value > high)
        edges = np.flatnonzero(np.diff(np.concatenate(([0], bad.astype(int), [0]))))
        for first, after in zip(edges[0::2], edges[1::2], strict=True):
            off = value[first:after] - band.target
            at = first + int(np.argmax(np.abs(off)))
            found.append(
                Outside(
                    float(time[first]),
                    float(time[after - 1]),
                    float(time[at]),
                    float(value[at]),
                    float(value[at] - band.target),
                )
            )
    return found


def _within(strip: Strip, band: Band) -> tuple[FloatArray, FloatArray]:
    """Cut a strip to a band, its edges interpolated: a roll-out lies between two samples."""
    known = ~np.isnan(strip.value)
    time, value = strip.time_s[known], strip.value[known]
    if not time.size:
        return time, value
    start, end = max(band.start_s, float(time[0])), min(band.end_s, float(time[-1]))
    if start > end:
        return time[:0], value[:0]
    inside = time[(time > start) & (time < end)]
    at = np.concatenate(([start], inside, [end]))
    return at, np.interp(at, time, value)
