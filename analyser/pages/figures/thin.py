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
        The line in drawing units; NaN breaks it.
    tolerance : float
        How far a dropped point may lie from the thinned line, drawing units.

    Returns
    -------
    x, y : (m,) float array
        The first and last point of every unbroken piece are always among them, with a NaN between two pieces.

    References
    ----------
    Ramer (1972) and Douglas & Peucker (1973): split at the farthest point until none is too far.
    """
    if x.size <= 2:
        return x, y
    points = np.column_stack([x, y])
    missing = np.isnan(x) | np.isnan(y)
    if not missing.any():
        kept = _needed(points, tolerance)
    else:
        edges = np.flatnonzero(np.diff(np.concatenate(([1], missing.astype(int), [1]))))
        pieces = [np.full((1, 2), np.nan)]
        for first, after in zip(edges[0::2], edges[1::2], strict=True):
            pieces += [_needed(points[first:after], tolerance), pieces[0]]
        kept = np.concatenate(pieces[1:-1] or pieces)
    return kept[:, 0], kept[:, 1]


def _needed(points: FloatArray, tolerance: float) -> FloatArray:
    if len(points) <= 2:
        return points
    from shapely import get_coordinates, linestrings, simplify

    return np.asarray(get_coordinates(simplify(linestrings(points), tolerance, preserve_topology=False)))
