"""Level turns: bank, rate and radius tie each other at a given true airspeed.

Rate = g·tan(bank)/V and radius = V²/(g·tan(bank)), V in metres per second.
"""

from __future__ import annotations

from typing import overload

import numpy as np
from numpy.typing import NDArray

from analyser.earth.constants import GRAVITY, MPS_PER_KT

FloatArray = NDArray[np.float64]
Number = float | FloatArray


@overload
def turn_rate_dps(bank_deg: float, tas_kt: float) -> float: ...
@overload
def turn_rate_dps(bank_deg: FloatArray, tas_kt: Number) -> FloatArray: ...
@overload
def turn_rate_dps(bank_deg: float, tas_kt: FloatArray) -> FloatArray: ...
def turn_rate_dps(bank_deg: Number, tas_kt: Number) -> Number:
    """Return the rate of a level, balanced turn.

    Parameters
    ----------
    bank_deg : float or float array
        Bank, degrees, positive right.
    tas_kt : float or float array
        True airspeed, knots, above zero.

    Returns
    -------
    float or float array
        Degrees per second, positive right.
    """
    rate = np.degrees(GRAVITY * np.tan(np.radians(bank_deg)) / (np.asarray(tas_kt, float) * MPS_PER_KT))
    return float(rate) if np.ndim(rate) == 0 else np.asarray(rate)


@overload
def turn_bank_deg(rate_dps: float, tas_kt: float) -> float: ...
@overload
def turn_bank_deg(rate_dps: FloatArray, tas_kt: Number) -> FloatArray: ...
@overload
def turn_bank_deg(rate_dps: float, tas_kt: FloatArray) -> FloatArray: ...
def turn_bank_deg(rate_dps: Number, tas_kt: Number) -> Number:
    """Return the bank that a level, balanced turn of this rate takes.

    Parameters
    ----------
    rate_dps : float or float array
        Degrees per second, positive right.
    tas_kt : float or float array
        True airspeed, knots.

    Returns
    -------
    float or float array
        Bank, degrees, positive right.
    """
    bank = np.degrees(np.arctan(np.radians(rate_dps) * np.asarray(tas_kt, float) * MPS_PER_KT / GRAVITY))
    return float(bank) if np.ndim(bank) == 0 else np.asarray(bank)


def turn_radius_nm(rate_dps: float, tas_kt: float) -> float:
    """Return the radius of a turn through the air.

    Parameters
    ----------
    rate_dps : float
        Degrees per second, not zero.
    tas_kt : float
        True airspeed, knots.

    Returns
    -------
    float
        Nautical miles, positive.
    """
    return float(tas_kt / 3600.0 / np.radians(abs(rate_dps)))
