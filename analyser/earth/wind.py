"""Wind: FROM in words, towards in arithmetic, converted here and nowhere else."""

from __future__ import annotations

import math

from analyser.earth.angles import wrap360


def wind_components(from_true_deg: float, speed_kt: float) -> tuple[float, float]:
    """Turn a wind as reported into the velocity of the air over the ground.

    Parameters
    ----------
    from_true_deg : float
        Direction the wind blows FROM, degrees true.
    speed_kt : float
        Wind speed, knots.

    Returns
    -------
    east_kt, north_kt : float
        Components of the air's movement TOWARDS east and north: a west wind (270) is +east.
    """
    toward = math.radians(from_true_deg + 180.0)
    return speed_kt * math.sin(toward), speed_kt * math.cos(toward)


def wind_from(east_kt: float, north_kt: float) -> tuple[float, float]:
    """Turn the air's velocity into a wind as reported.

    Parameters
    ----------
    east_kt, north_kt : float
        Components TOWARDS east and north, knots.

    Returns
    -------
    from_true_deg, speed_kt : float
        Direction FROM in [0, 360) and speed. Calm has no direction: it is given as 0/0, while a
        north wind also reads 0 but with its speed.
    """
    speed_kt = math.hypot(east_kt, north_kt)
    if speed_kt == 0.0:
        return 0.0, 0.0
    return wrap360(math.degrees(math.atan2(-east_kt, -north_kt))), speed_kt
