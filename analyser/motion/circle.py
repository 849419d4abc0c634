"""The plain circle through ground velocities: centre wind, radius true airspeed."""

from __future__ import annotations

import numpy as np

from analyser.logs.track import FloatArray


def circle_fit(east_kt: FloatArray, north_kt: FloatArray, *, rounds: int = 30) -> tuple[float, float, float]:
    """Fit a circle to ground velocities by least squares of the radial distance.

    Parameters
    ----------
    east_kt, north_kt : (n,) float array
        Ground velocities; they should cover a good part of the circle.
    rounds : int
        Gauss–Newton steps at most.

    Returns
    -------
    wind_east_kt, wind_north_kt, tas_kt : float
        Centre (the wind TOWARDS) and radius.

    References
    ----------
    Al-Sharadqah & Chernov, "Error analysis for circle fitting algorithms", Electronic Journal of Statistics 3
    (2009) 886–911: geometric fits and the better algebraic ones share their leading covariance; Kåsa's fit,
    used here for the start only, is biased on short arcs.
    """
    design = np.column_stack([2 * east_kt, 2 * north_kt, np.ones_like(east_kt)])
    a, b, c = np.linalg.lstsq(design, east_kt**2 + north_kt**2, rcond=None)[0]
    centre = np.array([a, b, np.sqrt(max(c + a * a + b * b, 1.0))])
    for _ in range(rounds):
        air_east, air_north = east_kt - centre[0], north_kt - centre[1]
        speed = np.maximum(np.hypot(air_east, air_north), 1e-6)
        jacobian = np.column_stack([air_east / speed, air_north / speed, np.ones_like(speed)])
        step = np.linalg.lstsq(jacobian, speed - centre[2], rcond=None)[0]
        centre = centre + step
        if np.abs(step).max() < 1e-6:
            break
    return float(centre[0]), float(centre[1]), float(centre[2])
