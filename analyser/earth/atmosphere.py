"""The International Standard Atmosphere, and airspeed through it.

Altitudes are pressure (geopotential) altitudes, which is what an altimeter set to 1013.25 hPa reads. A
temperature deviation shifts the temperature at every level and leaves the pressure alone, because the
pressure *is* the altitude.

References
----------
ICAO Doc 7488, Manual of the ICAO Standard Atmosphere (constants and layers; from memory, checked in the
tests against tabulated values). ICAO Doc 8168 Vol II for :func:`doc8168_tas_kt` (read quoted).
"""

from __future__ import annotations

from typing import overload

import numpy as np
from numpy.typing import NDArray

from analyser.earth.constants import GRAVITY, METRES_PER_FOOT, MPS_PER_KT

FloatArray = NDArray[np.float64]
Number = float | FloatArray

#: Sea-level pressure, hPa, and temperature, K.
PRESSURE_0_HPA = 1013.25
TEMPERATURE_0_K = 288.15
#: Gas constant of air, J/(kg K); ratio of specific heats.
GAS_CONSTANT = 287.05287
GAMMA = 1.4
#: Fall of temperature with height in the troposphere, K/m, and where that ends, m.
LAPSE_K_PER_M = 0.0065
TROPOPAUSE_M = 11_000.0

_EXPONENT = GRAVITY / (GAS_CONSTANT * LAPSE_K_PER_M)
_TROPOPAUSE_K = TEMPERATURE_0_K - LAPSE_K_PER_M * TROPOPAUSE_M
_SOUND_0_KT = float(np.sqrt(GAMMA * GAS_CONSTANT * TEMPERATURE_0_K)) / MPS_PER_KT


@overload
def isa_temperature_c(altitude_ft: float, isa_deviation_c: float = ...) -> float: ...
@overload
def isa_temperature_c(altitude_ft: FloatArray, isa_deviation_c: Number = ...) -> FloatArray: ...
def isa_temperature_c(altitude_ft: Number, isa_deviation_c: Number = 0.0) -> Number:
    """Return the static air temperature.

    Parameters
    ----------
    altitude_ft : float or float array
        Pressure altitude, feet, up to 65,616 ft.
    isa_deviation_c : float or float array
        Warmer (positive) or colder than standard, °C.

    Returns
    -------
    float or float array
        °C.
    """
    height_m = np.minimum(np.asarray(altitude_ft, float) * METRES_PER_FOOT, TROPOPAUSE_M)
    kelvin = TEMPERATURE_0_K - LAPSE_K_PER_M * height_m
    return _as_given(kelvin - 273.15 + isa_deviation_c)


@overload
def isa_pressure_hpa(altitude_ft: float) -> float: ...
@overload
def isa_pressure_hpa(altitude_ft: FloatArray) -> FloatArray: ...
def isa_pressure_hpa(altitude_ft: Number) -> Number:
    """Return the static pressure.

    Parameters
    ----------
    altitude_ft : float or float array
        Pressure altitude, feet, up to 65,616 ft.

    Returns
    -------
    float or float array
        hPa.
    """
    height_m = np.asarray(altitude_ft, float) * METRES_PER_FOOT
    below = np.minimum(height_m, TROPOPAUSE_M)
    pressure = PRESSURE_0_HPA * (1.0 - LAPSE_K_PER_M * below / TEMPERATURE_0_K) ** _EXPONENT
    above = np.maximum(height_m - TROPOPAUSE_M, 0.0)
    return _as_given(pressure * np.exp(-GRAVITY * above / (GAS_CONSTANT * _TROPOPAUSE_K)))


@overload
def sound_speed_kt(altitude_ft: float, isa_deviation_c: float = ...) -> float: ...
@overload
def sound_speed_kt(altitude_ft: FloatArray, isa_deviation_c: Number = ...) -> FloatArray: ...
def sound_speed_kt(altitude_ft: Number, isa_deviation_c: Number = 0.0) -> Number:
    """Return the speed of sound, which goes with the root of the absolute temperature.

    Parameters
    ----------
    altitude_ft : float or float array
        Pressure altitude, feet.
    isa_deviation_c : float or float array
        Warmer (positive) or colder than standard, °C.

    Returns
    -------
    float or float array
        Knots.
    """
    kelvin = isa_temperature_c(np.asarray(altitude_ft, float), isa_deviation_c) + 273.15
    return _as_given(_SOUND_0_KT * np.sqrt(kelvin / TEMPERATURE_0_K))


@overload
def cas_to_tas(cas_kt: float, altitude_ft: float, isa_deviation_c: float = ...) -> float: ...
@overload
def cas_to_tas(cas_kt: FloatArray, altitude_ft: Number, isa_deviation_c: Number = ...) -> FloatArray: ...
@overload
def cas_to_tas(cas_kt: float, altitude_ft: FloatArray, isa_deviation_c: Number = ...) -> FloatArray: ...
def cas_to_tas(cas_kt: Number, altitude_ft: Number, isa_deviation_c: Number = 0.0) -> Number:
    """Turn calibrated into true airspeed, compressibility included, below the speed of sound.

    Indicated airspeed may be put in where the instrument's error is not known.

    Parameters
    ----------
    cas_kt : float or float array
        Calibrated airspeed, knots.
    altitude_ft : float or float array
        Pressure altitude, feet.
    isa_deviation_c : float or float array
        Warmer (positive) or colder than standard, °C.

    Returns
    -------
    float or float array
        True airspeed, knots.
    """
    altitude = np.asarray(altitude_ft, float)
    impact = PRESSURE_0_HPA * ((1.0 + 0.2 * (np.asarray(cas_kt, float) / _SOUND_0_KT) ** 2) ** 3.5 - 1.0)
    mach = np.sqrt(5.0 * ((impact / isa_pressure_hpa(altitude) + 1.0) ** (2.0 / 7.0) - 1.0))
    return _as_given(mach * sound_speed_kt(altitude, isa_deviation_c))


@overload
def tas_to_cas(tas_kt: float, altitude_ft: float, isa_deviation_c: float = ...) -> float: ...
@overload
def tas_to_cas(tas_kt: FloatArray, altitude_ft: Number, isa_deviation_c: Number = ...) -> FloatArray: ...
@overload
def tas_to_cas(tas_kt: float, altitude_ft: FloatArray, isa_deviation_c: Number = ...) -> FloatArray: ...
def tas_to_cas(tas_kt: Number, altitude_ft: Number, isa_deviation_c: Number = 0.0) -> Number:
    """Turn true into calibrated airspeed: the inverse of :func:`cas_to_tas`.

    Parameters
    ----------
    tas_kt : float or float array
        True airspeed, knots.
    altitude_ft : float or float array
        Pressure altitude, feet.
    isa_deviation_c : float or float array
        Warmer (positive) or colder than standard, °C.

    Returns
    -------
    float or float array
        Calibrated airspeed, knots.
    """
    altitude = np.asarray(altitude_ft, float)
    mach = np.asarray(tas_kt, float) / sound_speed_kt(altitude, isa_deviation_c)
    impact = isa_pressure_hpa(altitude) * ((1.0 + 0.2 * mach**2) ** 3.5 - 1.0)
    ratio = (impact / PRESSURE_0_HPA + 1.0) ** (2.0 / 7.0)
    return _as_given(_SOUND_0_KT * np.sqrt(5.0 * (ratio - 1.0)))


def doc8168_tas_kt(ias_kt: float, altitude_ft: float, isa_deviation_c: float = 0.0) -> float:
    """Turn indicated into true airspeed the way procedure designers do (no compressibility).

    Parameters
    ----------
    ias_kt : float
        Indicated airspeed, knots.
    altitude_ft : float
        Altitude, feet.
    isa_deviation_c : float
        Temperature above standard, °C (the designers' VAR).

    Returns
    -------
    float
        True airspeed, knots.

    References
    ----------
    ICAO Doc 8168 Vol II: V = IAS · 171233 · √(288 + VAR − 0.00198 H) / (288 − 0.00198 H)^2.628 (quoted).
    """
    standard = 288.0 - 0.00198 * altitude_ft
    return float(ias_kt * 171233.0 * (standard + isa_deviation_c) ** 0.5 / standard**2.628)


def _as_given(value: Number) -> Number:
    """Give back a float where only floats came in, for callers who format or compare single values."""
    array = np.asarray(value, float)
    return float(array) if array.ndim == 0 else array
