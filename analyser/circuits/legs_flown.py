"""What was flown inbound and outbound, laid out for inferring the course."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyser.circuits.thresholds import COURSE
from analyser.logs.track import FloatArray


@dataclass(frozen=True)
class LegEnd:
    """One inbound leg as it was flown.

    Attributes
    ----------
    east_nm, north_nm, track_deg : (n,) float array
        Every second, wings level to the beginning of the outbound turn; at least one point.
    straight_deg, straight_sd_deg : float
        Track of its straight end, and how well that tells the course.
    rollout_heading_deg : float
        As the wings came level.
    """

    east_nm: FloatArray
    north_nm: FloatArray
    track_deg: FloatArray
    straight_deg: float
    straight_sd_deg: float
    rollout_heading_deg: float


@dataclass(frozen=True)
class OutboundFlown:
    """The outbound legs, and the air they were flown in.

    Attributes
    ----------
    heading_deg : (n,) float array
        Of each leg; at least one.
    wind_east_kt, wind_north_kt : float
        TOWARDS.
    tas_kt : float
    """

    heading_deg: FloatArray
    wind_east_kt: float
    wind_north_kt: float
    tas_kt: float

    @property
    def greatest_drift_deg(self) -> float:
        """Drift where this wind blows straight across."""
        wind = float(np.hypot(self.wind_east_kt, self.wind_north_kt))
        return float(np.degrees(np.arcsin(min(wind / self.tas_kt, 1.0))))

    def track_deg(self, heading_deg: FloatArray) -> FloatArray:
        """Return the track that each heading makes good."""
        way = np.radians(heading_deg)
        east, north = (
            self.tas_kt * np.sin(way) + self.wind_east_kt,
            self.tas_kt * np.cos(way) + self.wind_north_kt,
        )
        return np.asarray(np.degrees(np.arctan2(east, north)))

    def drift_correction_deg(self, track_deg: FloatArray) -> FloatArray:
        """Return the correction that holds each track, positive right."""
        toward = np.radians(track_deg)
        across = self.wind_east_kt * np.cos(toward) - self.wind_north_kt * np.sin(toward)
        return np.asarray(-np.degrees(np.arcsin(np.clip(across / self.tas_kt, -1.0, 1.0))))


@dataclass(frozen=True)
class LegSteps:
    """A leg at every step, its place from the fix (miles) and its track unrolled; (n,) each."""

    east_nm: FloatArray
    north_nm: FloatArray
    track_deg: FloatArray

    @classmethod
    def of(cls, leg: LegEnd, fix: FloatArray) -> LegSteps:
        """Pick the steps, the last one at the leg's end; ``fix`` is east and north."""
        last = leg.track_deg.size - 1
        pick = np.arange(last, max(last - COURSE.last_s, -1), -COURSE.step_s)[::-1]
        track = np.unwrap(leg.track_deg, period=360.0)[pick]
        return cls(leg.east_nm[pick] - fix[0], leg.north_nm[pick] - fix[1], track)

    @property
    def bearing_deg(self) -> float:
        """From its beginning to the fix; of a leg of one step, its track."""
        if self.track_deg.size == 1:
            return float(self.track_deg[0])
        return float(np.degrees(np.arctan2(-self.east_nm[0], -self.north_nm[0])))

    def cross_nm(self, course_deg: FloatArray) -> FloatArray:
        """Return the distance right of lines through the fix, (courses, steps)."""
        toward = np.radians(course_deg)[:, None]
        return np.asarray(self.east_nm * np.cos(toward) - self.north_nm * np.sin(toward))
