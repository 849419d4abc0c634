"""The plain circle through ground velocities: centre wind, radius true airspeed."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analyser.earth.constants import SIGMA_PER_MEDIAN
from analyser.logs.track import FloatArray
from analyser.motion.motion_thresholds import CIRCLE

#: Gauss–Newton steps at most.
_ROUNDS = 30


def circle_fit(east_kt: FloatArray, north_kt: FloatArray) -> tuple[float, float, float]:
    """Fit a circle to ground velocities by least squares of the radial distance.

    Parameters
    ----------
    east_kt, north_kt : (n,) float array
        Ground velocities; they should cover a good part of the circle.

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
    for _ in range(_ROUNDS):
        air_east, air_north = east_kt - centre[0], north_kt - centre[1]
        speed = np.maximum(np.hypot(air_east, air_north), 1e-6)
        jacobian = np.column_stack([air_east / speed, air_north / speed, np.ones_like(speed)])
        step = np.linalg.lstsq(jacobian, speed - centre[2], rcond=None)[0]
        centre = centre + step
        if np.abs(step).max() < 1e-6:
            break
    return float(centre[0]), float(centre[1]), float(centre[2])


def wild_speeds(
    time_s: FloatArray,
    east_kt: FloatArray,
    north_kt: FloatArray,
    sd_kt: FloatArray,
    reach_s: float,
) -> FloatArray:
    """Tell how far off the circle those ground velocities lie that no aircraft flew.

    Wrong times that follow one another are smooth, so the path bends to them; only the airspeed shows them.

    Parameters
    ----------
    time_s, east_kt, north_kt : (n,) float array
        In time order.
    sd_kt : (n,) float array
        What the speeds are known to.
    reach_s : float
        Between true samples: so far on either side a wrong one spoils the path.

    Returns
    -------
    (n,) float array
        Knots off the airspeed of the rest where that is wild, or within reach of it; 0 elsewhere.
    """
    wild: NDArray[np.bool_] = np.zeros(time_s.size, dtype=bool)
    off: FloatArray = np.zeros(time_s.size)
    for _ in range(10):
        east, north, tas = circle_fit(east_kt[~wild], north_kt[~wild])
        off = np.hypot(east_kt - east, north_kt - north) - tas
        wander_kt = max(SIGMA_PER_MEDIAN * float(np.median(np.abs(off))), CIRCLE.least_wander_kt)
        worst = time_s[np.abs(off) > CIRCLE.wild_sd * np.hypot(wander_kt, sd_kt)]
        edges = np.searchsorted(worst, [time_s - reach_s, time_s + reach_s + 1e-9])
        before, wild = wild, np.asarray(edges[1] > edges[0])
        if wild.mean() > CIRCLE.most_wild_share:
            return np.zeros(time_s.size)
        if (wild == before).all():
            break
    reached: FloatArray = np.where(wild, np.abs(off), 0.0)
    return reached
