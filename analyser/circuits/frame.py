"""A flight in the hold's own axes, along the inbound course and across it: as measured, and as first surveyed."""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.racetrack import smooth
from analyser.circuits.thresholds import GIVEN
from analyser.earth.angles import wrap180
from analyser.earth.constants import KT_PER_MPS, METRES_PER_NM
from analyser.earth.plane import LocalPlane
from analyser.frozen import dataclass
from analyser.holds.definition import Hold
from analyser.logs.track import FloatArray, Track
from analyser.motion.circle import circle_fit
from analyser.motion.motion import Motion
from analyser.motion.survey import Survey


@dataclass(frozen=True)
class HoldFrame:
    """Motion seen along and across an inbound course."""

    #: (n,)
    time_s: FloatArray
    #: (n,) Zero at the fix, growing in the direction of the inbound course: negative before the fix.
    along_nm: FloatArray
    #: (n,) Positive right of the inbound course as flown inbound.
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


def hold_frame(motion: Motion, course_deg: float) -> HoldFrame:
    """Turn a motion, whose origin is the fix, into the axes of a hold: a course in degrees on the map."""
    return HoldFrame(motion.time_s, *along_cross(motion.east_nm, motion.north_nm, course_deg))


def along_cross(east: FloatArray, north: FloatArray, course_deg: float) -> tuple[FloatArray, FloatArray]:
    """Turn what points east and north into what points along a course and to the right of it."""
    toward = np.radians(course_deg)
    return east * np.sin(toward) + north * np.cos(toward), east * np.cos(toward) - north * np.sin(toward)


def nearest_passage(frame: HoldFrame, start_s: float, end_s: float) -> tuple[float, float]:
    """Find the closest approach to the fix between two instants, and between grid points.

    Returns the instant, seconds, and the distance, NM; NaN and infinity where the span holds nothing.
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
    """Find where the perpendicular through the fix is crossed between two instants: inbound, or else abeam, outbound.

    Returns the crossing nearest to the fix, seconds; None where there is none.
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


@dataclass(frozen=True)
class HoldView:
    """A stretch of flight in the axes of a hold, on a grid of one second."""

    hold: Hold
    survey: Survey
    #: (n,)
    time_s: FloatArray
    #: (n,) Past the fix along the inbound course, and right of it.
    along_nm: FloatArray
    cross_nm: FloatArray
    #: (n,) Direction over the ground less the inbound course, [-180, 180).
    off_deg: FloatArray
    #: (n,) Turning over the ground, positive right.
    rate_dps: FloatArray
    #: What a turn of this flight near the fix usually makes.
    usual_rate_dps: float
    #: (n,) Direction through the air less the inbound course, by a plain circle through the velocities near the fix.
    air_off_deg: FloatArray
    #: (n,) Turning through the air as a share of what a turn of this flight usually makes, positive right: over the
    #: ground the same bank turns the faster the more it leads against the wind.
    turning: FloatArray
    #: Where the wind blows to, along and across the course, as shares of the airspeed, by the same
    #: circle.
    drift_share: tuple[float, float]
    #: Sigma of the inbound course of an inferred hold; 0 for a given one.
    course_sd_deg: float = 0.0
    #: False for a hold that only the flight itself may show.
    given: bool = True

    @cached_property
    def seen(self) -> NDArray[np.bool_]:
        """False within a hole of the log, where the way is a guess: (n,) bool."""
        return np.asarray(self.survey.hole_s == 0.0)

    @cached_property
    def away_nm(self) -> FloatArray:
        """Distance from the fix."""
        return np.asarray(np.hypot(self.along_nm, self.cross_nm))

    def turned_deg(self, first: int, last: int) -> float:
        """Return through how much the way turned between two grid points, positive right."""
        return float(self.rate_dps[first:last].sum())

    def met_deg(self, passed: int) -> float:
        """Return how far off the inbound course the way led to a passage, degrees, 0 to 180."""
        return abs(float(self.off_deg[max(passed - GIVEN.met_before_s, 0)]))

    def drift_deg(self, off_deg: float) -> float:
        """Return the drift on a track so far off the inbound course, degrees, positive to the right."""
        way = np.radians(off_deg)
        along, cross = self.drift_share
        across, most = cross * np.cos(way) - along * np.sin(way), GIVEN.most_drift_sine
        return float(np.degrees(np.arcsin(np.clip(across, -most, most))))

    @property
    def turn_diameter_nm(self) -> float:
        """How wide a usual turn is."""
        speed = float(np.median(self.survey.ground_speed_kt))
        return 2.0 * speed / 3600.0 / float(np.radians(max(self.usual_rate_dps, GIVEN.widest_turn_dps)))


def distance_from_fix_nm(track: Track, hold: Hold) -> FloatArray:
    """Return the distance of every sample from a hold's fix, near enough to tell what is near: (n,) NM."""
    north = track.lat_deg - hold.fix_lat_deg
    east = wrap180(track.lon_deg - hold.fix_lon_deg)
    squeeze = np.cos(np.radians(0.5 * (track.lat_deg + hold.fix_lat_deg)))
    return np.asarray(60.0 * np.hypot(north, east * squeeze))


def plane_nm(hold: Hold, other: Hold) -> tuple[float, float]:
    """Return where another hold's fix lies, NM east and north of a hold's own."""
    plane = LocalPlane(hold.fix_lat_deg, hold.fix_lon_deg)
    east, north, _ = plane.to_plane(np.array([other.fix_lat_deg]), np.array([other.fix_lon_deg]))
    return float(east[0]), float(north[0])


def apart_nm(hold: Hold, other: Hold) -> float:
    """Return how far apart the fixes of two holds lie."""
    return float(np.hypot(*plane_nm(hold, other)))


def hold_view(track: Track, survey: Survey, hold: Hold, *, scale_s: float) -> HoldView | None:
    """Lay a stretch of flight out in the axes of a hold; None where it never came near the fix.

    The direction over the ground is smoothed over ``scale_s``: what the log's sampling asks for.
    """
    first, last = np.searchsorted(track.time_s, [survey.time_s[0] - 1.5, survey.time_s[-1] + 1.5])
    away = distance_from_fix_nm(_cut(track, int(first), int(last)), hold)
    if not away.size or away.min() > GIVEN.near_nm:
        return None
    nearest = int(first) + int(np.argmin(away))
    east_m, north_m = _on_map(track, survey, hold, nearest)
    course_deg = hold.inbound_course_true_deg
    east, north = smooth(survey.east_mps, scale_s), smooth(survey.north_mps, scale_s)
    direction = np.degrees(np.arctan2(east, north))
    rate = smooth(np.gradient(np.unwrap(direction, period=360.0)), 1.0)
    along, cross = along_cross(east_m, north_m, course_deg)
    near = np.hypot(along, cross) < GIVEN.around_nm
    close = np.hypot(along, cross) < GIVEN.wind_nm
    wind_east, wind_north, speed = _wind(survey, close)
    through_air = np.degrees(np.arctan2(east - wind_east, north - wind_north))
    air_rate = smooth(np.gradient(np.unwrap(through_air, period=360.0)), 1.0)
    wind_along, wind_cross = along_cross(np.array(wind_east), np.array(wind_north), course_deg)
    return HoldView(
        hold,
        survey,
        survey.time_s,
        along,
        cross,
        np.asarray(wrap180(direction - course_deg)),
        rate,
        _usual_rate_dps(rate[near]),
        np.asarray(through_air - course_deg),
        air_rate / _usual_rate_dps(air_rate[near]),
        (float(wind_along / speed), float(wind_cross / speed)),
    )


def _usual_rate_dps(rate_dps: FloatArray) -> float:
    turning = np.abs(rate_dps)
    turning = turning[turning > GIVEN.least_rate_dps]
    if turning.size <= GIVEN.usual_rate_s:
        return GIVEN.rate_one_dps
    return float(np.percentile(turning, GIVEN.usual_rate_percent))


def _wind(survey: Survey, near: NDArray[np.bool_]) -> tuple[float, float, float]:
    """Return the wind, to east and north, and the airspeed, m/s: a circle through the velocities near the fix."""
    wind_east, wind_north, speed = circle_fit(survey.east_mps[near], survey.north_mps[near])
    if not np.hypot(wind_east, wind_north) < GIVEN.strongest_wind_share * speed:
        return 0.0, 0.0, max(float(np.median(survey.ground_speed_kt)) / KT_PER_MPS, 1.0)
    return float(wind_east), float(wind_north), float(speed)


def _cut(track: Track, first: int, last: int) -> Track:
    cut = slice(first, last)
    return replace(
        track, time_s=track.time_s[cut], lat_deg=track.lat_deg[cut], lon_deg=track.lon_deg[cut], channels={}
    )


def _on_map(track: Track, survey: Survey, hold: Hold, nearest: int) -> tuple[FloatArray, FloatArray]:
    """Move the survey's unrolled path onto the hold's map where it passes nearest to the fix."""
    plane = LocalPlane(hold.fix_lat_deg, hold.fix_lon_deg)
    east, north, _ = plane.to_plane(track.lat_deg[[nearest]], track.lon_deg[[nearest]])
    when = track.time_s[nearest]
    east_m = survey.east_m - np.interp(when, survey.time_s, survey.east_m)
    north_m = survey.north_m - np.interp(when, survey.time_s, survey.north_m)
    return east_m / METRES_PER_NM + east[0], north_m / METRES_PER_NM + north[0]
