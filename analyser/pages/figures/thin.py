"""Fewer points for the same line."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def thin(x: FloatArray, y: FloatArray, tolerance: float) -> tuple[FloatArray, FloatArray]:
    """Drop the points that a line does not need.

    Parameters
    ----------
    x, y : (n,) float array
        The line in drawing units; NaN breaks it and is kept.
    tolerance : float
        How far a dropped point may lie from the thinned line, drawing units.

    Returns
    -------
    x, y : (m,) float array
        The first and last point of every unbroken piece are always among them.

    References
    ----------
    Ramer (1972) and Douglas & Peucker (1973): split at the farthest point until none is too far.
    """
    if x.size <= 2:
        return x, y
    missing = np.isnan(x) | np.isnan(y)
    keep = missing.copy()
    edges = np.flatnonzero(np.diff(np.concatenate(([1], missing.astype(int), [1]))))
    for first, after in zip(edges[0::2], edges[1::2], strict=True):
        keep[first:after] |= _needed(x[first:after], y[first:after], tolerance)
    return x[keep], y[keep]


def _needed(x: FloatArray, y: FloatArray, tolerance: float) -> NDArray[np.bool_]:
    keep = np.zeros(x.size, bool)
    keep[[0, -1]] = True
    first, last = np.array([0]), np.array([x.size - 1])
    while first.size:
        # All spans of one depth at once, their inner points laid end to end.
        count = last - first - 1
        first, last, count = (part[count > 0] for part in (first, last, count))
        if not first.size:
            break
        begin = np.cumsum(count) - count
        inner = np.arange(int(count.sum())) + np.repeat(first + 1 - begin, count)
        away = _away(x, y, first, last, inner, count)
        farthest = np.maximum.reduceat(away, begin)
        split = farthest > tolerance
        # The first of equally far points, as one span alone would have it.
        where = np.flatnonzero(away == np.repeat(farthest, count))
        middle = inner[where[np.searchsorted(where, begin)]][split]
        keep[middle] = True
        first, last = np.concatenate([first[split], middle]), np.concatenate([middle, last[split]])
    return keep


def _away(
    x: FloatArray,
    y: FloatArray,
    first: NDArray[np.int64],
    last: NDArray[np.int64],
    inner: NDArray[np.int64],
    count: NDArray[np.int64],
) -> FloatArray:
    """Return how far each inner point lies from the chord of its span; from its end where the chord is none."""
    across, up = x[last] - x[first], y[last] - y[first]
    length = np.hypot(across, up)
    from_x, from_y = x[inner] - np.repeat(x[first], count), y[inner] - np.repeat(y[first], count)
    beside = np.abs(np.repeat(across, count) * from_y - np.repeat(up, count) * from_x)
    if length.all():
        return np.asarray(beside / np.repeat(length, count))
    chord = np.repeat(length, count)
    return np.where(chord > 0, beside / np.where(chord > 0, chord, 1.0), np.hypot(from_x, from_y))
