"""The hold's own axes: along the inbound course, and across it."""

from __future__ import annotations

from functools import cached_property

import numpy as np

from analyser.frozen import dataclass
from analyser.logs.track import FloatArray
from analyser.motion.motion import Motion


@dataclass(frozen=True)
class HoldFrame:
    """Motion seen along and across an inbound course.

    Attributes
    ----------
    time_s : (n,) float array
    along_nm : (n,) float array
        Zero at the fix, growing in the direction of the inbound course: negative before the fix.
    cross_nm : (n,) float array
        Positive right of the inbound course as flown inbound.
    """

    time_s: FloatArray
    along_nm: FloatArray
    cross_nm: FloatArray

    @cached_property
    def away_nm(self) -> FloatArray:
        """Distance from the fix."""
        away: FloatArray = np.hypot(self.along_nm, self.cross_nm)
        return away

    def at(self, time_s: float) -> tuple[float, float]:
        """Return along and across at an instant."""
        return (
            float(np.interp(time_s, self.time_s, self.along_nm)),
            float(np.interp(time_s, self.time_s, self.cross_nm)),
        )


def hold_frame(motion: Motion, course_deg: float, east_nm: float = 0.0, north_nm: float = 0.0) -> HoldFrame:
    """Turn a motion into the axes of a hold.

    Parameters
    ----------
    course_deg : float
        Inbound course, degrees on the map.
    east_nm, north_nm : float
        The fix on the map.
    """
    east, north = motion.east_nm - east_nm, motion.north_nm - north_nm
    toward = np.radians(course_deg)
    return HoldFrame(
        motion.time_s,
        east * np.sin(toward) + north * np.cos(toward),
        east * np.cos(toward) - north * np.sin(toward),
    )


def nearest_passage(frame: HoldFrame, start_s: float, end_s: float) -> tuple[float, float]:
    """Find the closest approach to the fix, between grid points.

    Parameters
    ----------
    start_s, end_s : float
        Where to look.

    Returns
    -------
    instant_s, distance_nm : float
        NaN and infinity where the span holds nothing.
    """
    first, last = np.searchsorted(frame.time_s, [start_s, end_s])
    last = min(max(int(last), int(first) + 1), frame.time_s.size)
    if first >= frame.time_s.size:
        return float("nan"), float("inf")
    square = frame.away_nm[first:last] ** 2
    i = int(first + np.argmin(square))
    if 0 < i < frame.time_s.size - 1:
        before, here, after = frame.away_nm[i - 1 : i + 2] ** 2
        bend = before - 2 * here + after
        shift = float(np.clip(0.5 * (before - after) / bend, -1.0, 1.0)) if bend > 0 else 0.0
        step = frame.time_s[i + 1] - frame.time_s[i]
        return float(frame.time_s[i] + shift * step), float(
            np.sqrt(max(here - 0.25 * (before - after) * shift, 0.0))
        )
    return float(frame.time_s[i]), float(frame.away_nm[i])


def crossing(frame: HoldFrame, start_s: float, end_s: float, *, inbound: bool) -> float | None:
    """Find where the perpendicular to the course through the fix is crossed.

    Parameters
    ----------
    start_s, end_s : float
        Where to look.
    inbound : bool
        True for a crossing in the direction of the inbound course (passing the fix), False for the other
        (abeam, outbound).

    Returns
    -------
    float or None
        The crossing nearest to the fix, seconds; None where there is none.
    """
    first, last = np.searchsorted(frame.time_s, [start_s, end_s])
    along = frame.along_nm[first:last] * (1.0 if inbound else -1.0)
    crossed = np.flatnonzero((along[:-1] < 0.0) & (along[1:] >= 0.0))
    if crossed.size == 0:
        return None
    i = int(crossed[np.argmin(frame.away_nm[first:last][crossed])])
    share = along[i] / (along[i] - along[i + 1])
    time_s = frame.time_s[first:last]
    return float(time_s[i] + share * (time_s[i + 1] - time_s[i]))
