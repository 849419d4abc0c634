"""Angles on the circle, in degrees."""

from __future__ import annotations

import math
from typing import overload

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@overload
def wrap180(angle_deg: float) -> float: ...
@overload
def wrap180(angle_deg: FloatArray) -> FloatArray: ...
def wrap180(angle_deg: float | FloatArray) -> float | FloatArray:
    """Fold an angle into [-180, 180): the short way round, with its sign.

    Parameters
    ----------
    angle_deg : float or float array
        Any angle, degrees.

    Returns
    -------
    float or float array
        The same direction in [-180, 180).
    """
    return (angle_deg + 180.0) % 360.0 - 180.0


@overload
def wrap360(angle_deg: float) -> float: ...
@overload
def wrap360(angle_deg: FloatArray) -> FloatArray: ...
def wrap360(angle_deg: float | FloatArray) -> float | FloatArray:
    """Fold a direction into [0, 360).

    Parameters
    ----------
    angle_deg : float or float array
        Any angle, degrees.

    Returns
    -------
    float or float array
        The same direction in [0, 360): a tiny negative angle must not come back as 360 itself.
    """
    folded = angle_deg % 360.0
    if isinstance(folded, np.ndarray):
        return np.where(folded >= 360.0, 0.0, folded)
    return 0.0 if folded >= 360.0 else folded


#: A half degree from which a hundredth was lost in a file is still a half.
_LOST_DEG = 0.02


def whole_direction(direction_deg: float) -> int:
    """Round a direction to whole degrees as it is spoken.

    Parameters
    ----------
    direction_deg : float
        Any angle, degrees.

    Returns
    -------
    int
        1 … 360, north is 360; halves go up, whichever way the sums before came out in their last digits.
    """
    return math.floor(wrap360(direction_deg) + 0.5 + _LOST_DEG) % 360 or 360
