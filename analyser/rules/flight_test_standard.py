"""The tolerances of a test standard, and how far a track deviation deflects the needle."""

from __future__ import annotations

from analyser.rules.regime import Standing
from analyser.rules.toml_data import RuleTable


class OwnSourced(RuleTable):
    """A tolerance with its pedigree; a school's own file may leave the pedigree out."""

    source: str = "given in the file"
    standing: Standing = "common practice"


class AltitudeTolerance(OwnSourced):
    """Plus or minus, feet."""

    tolerance_ft: float


class SpeedTolerance(OwnSourced):
    """Plus or minus, knots indicated."""

    tolerance_kt: float


class HeadingTolerance(OwnSourced):
    """Plus or minus, degrees."""

    tolerance_deg: float


class TrackTolerance(OwnSourced):
    """How far off the inbound course is still within."""

    #: Of the full scale of the course deviation indicator.
    deflection_fraction: float
    #: Given in degrees on a radio aid; None: the fraction of its full scale.
    angular_deg: float | None = None
    #: Given in miles on a satellite fix, and what is allowed briefly; None: the fraction of full scale.
    linear_nm: float | None = None
    linear_brief_nm: float | None = None


class CdiScale(OwnSourced):
    """Full-scale deflection of the course deviation indicator, one side."""

    #: On a VOR, degrees.
    vor_full_scale_deg: float
    #: On a satellite navigator in terminal mode, nautical miles.
    gps_full_scale_nm: float


class TimingTolerance(OwnSourced):
    """Plus or minus, seconds: no authority's document that was read sets one, a school may."""

    tolerance_s: float


class Standard(RuleTable):
    """One test standard."""

    key: str
    name: str
    document: str = ""
    altitude: AltitudeTolerance
    speed: SpeedTolerance
    heading: HeadingTolerance
    track: TrackTolerance
    cdi: CdiScale
    #: None: the regime's allowances are the band.
    timing: TimingTolerance | None = None

    @property
    def track_angular_deg(self) -> float:
        """Track tolerance seen from a radio aid, degrees."""
        if self.track.angular_deg is not None:
            return self.track.angular_deg
        return self.track.deflection_fraction * self.cdi.vor_full_scale_deg

    @property
    def track_linear_nm(self) -> float:
        """Track tolerance on a satellite navigator, nautical miles."""
        if self.track.linear_nm is not None:
            return self.track.linear_nm
        return self.track.deflection_fraction * self.cdi.gps_full_scale_nm

    def vor_deflection(self, off_course_deg: float) -> float:
        """Return how far the needle stands out on a VOR: a fraction of full scale, at most 1 in size, sign kept."""
        return max(-1.0, min(1.0, off_course_deg / self.cdi.vor_full_scale_deg))

    def gps_deflection(self, cross_track_nm: float) -> float:
        """Return the same on a satellite navigator in terminal mode."""
        return max(-1.0, min(1.0, cross_track_nm / self.cdi.gps_full_scale_nm))
