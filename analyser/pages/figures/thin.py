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
    spans = [(0, x.size - 1)]
    while spans:
        first, last = spans.pop()
        if last - first < 2:
            continue
        inner = slice(first + 1, last)
        across, up = x[last] - x[first], y[last] - y[first]
        length = float(np.hypot(across, up))
        from_x, from_y = x[inner] - x[first], y[inner] - y[first]
        away = np.abs(across * from_y - up * from_x) / length if length > 0 else np.hypot(from_x, from_y)
        worst = int(np.argmax(away))
        if away[worst] > tolerance:
            middle = first + 1 + worst
            keep[middle] = True
            spans += [(first, middle), (middle, last)]
    return keep
