"""A flight seen from a given hold: along and across its course, how the way runs against it, how fast it turns."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.survey_turns import smooth
from analyser.circuits.thresholds import GIVEN
from analyser.earth.angles import wrap180
from analyser.earth.constants import KT_PER_MPS, METRES_PER_NM
from analyser.earth.plane import LocalPlane
from analyser.frozen import dataclass
from analyser.holds.definition import Hold
from analyser.logs.track import FloatArray, Track
from analyser.motion.circle import circle_fit
from analyser.motion.survey import Survey


@dataclass(frozen=True)
class HoldView:
    """A stretch of flight in the axes of a hold, on a grid of one second.

    Attributes
    ----------
    hold : Hold
    survey : Survey
    time_s : (n,) float array
    along_nm, cross_nm : (n,) float array
        Past the fix along the inbound course, and right of it.
    off_deg : (n,) float array
        Direction over the ground less the inbound course, [-180, 180).
    rate_dps : (n,) float array
        Turning over the ground, positive right.
    usual_rate_dps : float
        What a turn of this flight near the fix usually makes.
    air_off_deg : (n,) float array
        Direction through the air less the inbound course, by a plain circle through the velocities near the fix.
    drift_share : (float, float)
        Where the wind blows to, along and across the course, as shares of the airspeed, by the same circle.
    seen : (n,) bool array
        False within a hole of the log, where the way is a guess.
    course_sd_deg : float
        Sigma of the inbound course of an inferred hold; 0 for a given one.
    """

    hold: Hold
    survey: Survey
    time_s: FloatArray
    along_nm: FloatArray
    cross_nm: FloatArray
    off_deg: FloatArray
    rate_dps: FloatArray
    usual_rate_dps: float
    air_off_deg: FloatArray
    drift_share: tuple[float, float]
    seen: NDArray[np.bool_]
    course_sd_deg: float = 0.0

    @property
    def away_nm(self) -> FloatArray:
        """Distance from the fix."""
        return np.asarray(np.hypot(self.along_nm, self.cross_nm))

    def turned_deg(self, first: int, last: int) -> float:
        """Return through how much the way turned between two grid points, positive right."""
        return float(self.rate_dps[first:last].sum())

    def drift_deg(self, off_deg: float) -> float:
        """Return the drift on a track so far off the inbound course, degrees, positive to the right."""
        way = np.radians(off_deg)
        along, cross = self.drift_share
        return float(np.degrees(np.arcsin(np.clip(cross * np.cos(way) - along * np.sin(way), -0.9, 0.9))))

    @property
    def turn_diameter_nm(self) -> float:
        """How wide a usual turn is."""
        speed = float(np.median(self.survey.ground_speed_kt))
        return 2.0 * speed / 3600.0 / float(np.radians(max(self.usual_rate_dps, 0.8)))


def distance_from_fix_nm(track: Track, hold: Hold) -> FloatArray:
    """Return the distance of every sample from a hold's fix, near enough to tell what is near: (n,) NM."""
    north = track.lat_deg - hold.fix_lat_deg
    east = wrap180(track.lon_deg - hold.fix_lon_deg)
    squeeze = np.cos(np.radians(0.5 * (track.lat_deg + hold.fix_lat_deg)))
    return np.asarray(60.0 * np.hypot(north, east * squeeze))


def hold_view(track: Track, survey: Survey, hold: Hold, *, scale_s: float) -> HoldView | None:
    """Lay a stretch of flight out in the axes of a hold; None where it never came near the fix.

    Parameters
    ----------
    survey : Survey
        A stretch of it.
    scale_s : float
        Smoothing of the direction over the ground, seconds: what the log's sampling asks for.
    """
    first, last = np.searchsorted(track.time_s, [survey.time_s[0] - 1.5, survey.time_s[-1] + 1.5])
    away = distance_from_fix_nm(_cut(track, int(first), int(last)), hold)
    if not away.size or away.min() > GIVEN.near_nm:
        return None
    nearest = int(first) + int(np.argmin(away))
    east_m, north_m = _on_map(track, survey, hold, nearest)
    toward = np.radians(hold.inbound_course_true_deg)
    east, north = smooth(survey.east_mps, scale_s), smooth(survey.north_mps, scale_s)
    direction = np.degrees(np.arctan2(east, north))
    rate = smooth(np.gradient(np.unwrap(direction, period=360.0)), 1.0)
    along = east_m * np.sin(toward) + north_m * np.cos(toward)
    cross = east_m * np.cos(toward) - north_m * np.sin(toward)
    near = np.hypot(along, cross) < GIVEN.around_nm
    close = np.hypot(along, cross) < GIVEN.wind_nm
    turning = np.abs(rate[near])
    turning = turning[turning > GIVEN.least_rate_dps]
    usual = float(np.percentile(turning, 65)) if turning.size > 20 else 3.0
    wind_east, wind_north, speed = _wind(survey, close)
    through_air = np.degrees(np.arctan2(east - wind_east, north - wind_north))
    wind_along = wind_east * np.sin(toward) + wind_north * np.cos(toward)
    wind_cross = wind_east * np.cos(toward) - wind_north * np.sin(toward)
    return HoldView(
        hold,
        survey,
        survey.time_s,
        along,
        cross,
        np.asarray(wrap180(direction - hold.inbound_course_true_deg)),
        rate,
        usual,
        np.asarray(through_air - hold.inbound_course_true_deg),
        (float(wind_along / speed), float(wind_cross / speed)),
        _seen(track.time_s[first:last], survey.time_s, max(GIVEN.least_hole_s, 3.0 * track.interval_s)),
    )


def _seen(samples_s: FloatArray, time_s: FloatArray, hole_s: float) -> NDArray[np.bool_]:
    """Tell which instants lie in no hole of the log."""
    after = np.clip(np.searchsorted(samples_s, time_s), 1, samples_s.size - 1)
    return np.asarray(samples_s[after] - samples_s[after - 1] <= hole_s)


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
    east, north, _ = plane.to_plane(
        track.lat_deg[nearest : nearest + 1], track.lon_deg[nearest : nearest + 1]
    )
    when = track.time_s[nearest]
    east_m = survey.east_m - np.interp(when, survey.time_s, survey.east_m)
    north_m = survey.north_m - np.interp(when, survey.time_s, survey.north_m)
    return east_m / METRES_PER_NM + east[0], north_m / METRES_PER_NM + north[0]
