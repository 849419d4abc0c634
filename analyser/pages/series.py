"""The time series of one hold as its pictures and its replay use them: once a second, seen from the fix."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.flown import FlownHold
from analyser.frozen import dataclass

FloatArray = NDArray[np.float64]

#: More points than this in one hold are thinned to every second, third … one.
MOST_POINTS = 4000


@dataclass(frozen=True)
class HoldSeries:
    """What the replay shows at each instant.

    Attributes
    ----------
    time_s : (n,) float array
    east_nm, north_nm : (n,) float array
        From the fix.
    air_east_nm, air_north_nm : (n,) float array
        The same flight as the air saw it: where it would have been had the air stood still since the arrival.
    drift_east_nm, drift_north_nm : (n,) float array
        Where the fix is in that picture.
    along_nm, cross_nm : (n,) float array
        Along the inbound course (negative before the fix) and right of it, as flown inbound.
    altitude_ft, ias_kt, tas_kt, ground_speed_kt, heading_deg, track_deg, bank_deg : (n,) float array
    in_hole : (n,) bool array
    seams_s : tuple of float
        Where time was taken out of the log, or put in: what lies across one is not timed.
    """

    time_s: FloatArray
    east_nm: FloatArray
    north_nm: FloatArray
    air_east_nm: FloatArray
    air_north_nm: FloatArray
    drift_east_nm: FloatArray
    drift_north_nm: FloatArray
    along_nm: FloatArray
    cross_nm: FloatArray
    altitude_ft: FloatArray
    ias_kt: FloatArray
    tas_kt: FloatArray
    ground_speed_kt: FloatArray
    heading_deg: FloatArray
    track_deg: FloatArray
    bank_deg: FloatArray
    in_hole: NDArray[np.bool_]
    seams_s: tuple[float, ...] = ()

    def within(self, start_s: float, end_s: float) -> slice:
        """Return the slice from ``start_s`` to ``end_s``, one point beyond each end so that spans meet."""
        first, last = np.searchsorted(self.time_s, [start_s, end_s])
        return slice(max(int(first) - 1, 0) if start_s > self.time_s[0] else 0, int(last) + 1)


def hold_series(flown: FlownHold) -> HoldSeries:
    """Take from a flown hold the series that the page draws.

    Returns
    -------
    HoldSeries
        On every k-th point of the motion's grid, so that points are about a second apart.
    """
    motion = flown.motion
    step = float(np.median(np.diff(motion.time_s))) if motion.time_s.size > 1 else 1.0
    stride = max(1, round(1.0 / max(step, 1e-6)))
    stride = max(stride, math.ceil(motion.time_s.size / MOST_POINTS))
    pick = slice(None, None, stride)
    east, north = motion.east_nm, motion.north_nm
    drift_east, drift_north = _drift(flown)
    course = math.radians(flown.hold.inbound_course_true_deg)
    series: dict[str, Any] = {
        "time_s": motion.time_s,
        "east_nm": east,
        "north_nm": north,
        "air_east_nm": east - drift_east,
        "air_north_nm": north - drift_north,
        "drift_east_nm": -drift_east,
        "drift_north_nm": -drift_north,
        "along_nm": east * math.sin(course) + north * math.cos(course),
        "cross_nm": east * math.cos(course) - north * math.sin(course),
        "altitude_ft": motion.altitude_ft,
        "ias_kt": motion.ias_kt,
        "tas_kt": motion.tas_kt,
        "ground_speed_kt": motion.ground_speed_kt,
        "heading_deg": motion.heading_deg,
        "track_deg": motion.track_deg,
        "bank_deg": motion.bank_deg,
        "in_hole": motion.in_hole,
    }
    return HoldSeries(
        **{name: values[pick] for name, values in series.items()}, seams_s=tuple(motion.seams_s)
    )


def _drift(flown: FlownHold) -> tuple[FloatArray, FloatArray]:
    # The air's own movement, summed by trapezia from the arrival at the fix, so that both views agree there.
    motion = flown.motion
    seconds = np.diff(motion.time_s, prepend=motion.time_s[0]) / 3600.0
    moved = []
    for wind in (motion.wind_east_kt, motion.wind_north_kt):
        mean = 0.5 * (wind + np.concatenate((wind[:1], wind[:-1])))
        summed = np.cumsum(mean * seconds)
        moved.append(summed - np.interp(flown.start_s, motion.time_s, summed))
    return moved[0], moved[1]
