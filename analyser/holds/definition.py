"""The definition of a hold: what a chart or a clearance gives."""

from __future__ import annotations

import math
from datetime import datetime
from typing import Literal

from analyser.earth.angles import wrap180, wrap360
from analyser.frozen import dataclass

Turns = Literal["right", "left"]
ArrivalWay = Literal["reciprocal", "arc"]


@dataclass(frozen=True)
class LegLimit:
    """What ends the outbound leg: minutes or distance, exactly one of them.

    Attributes
    ----------
    minutes : float or None
        Timed leg, minutes.
    distance_nm : float or None
        Distance leg, nautical miles: how far out from the fix the inbound turn begins, along the course.
    fix_dme_nm : float or None
        What a station on the line of the inbound course reads at the fix, where the chart gives the leg so.
    towards_station : bool
        Whether the inbound course leads to that station.
    """

    minutes: float | None = None
    distance_nm: float | None = None
    fix_dme_nm: float | None = None
    towards_station: bool = True

    def __post_init__(self) -> None:
        if (self.minutes is None) == (self.distance_nm is None):
            raise ValueError("a leg is limited by minutes or by distance_nm, exactly one of them")

    @property
    def end_dme_nm(self) -> float | None:
        """The reading that ends the outbound leg: FAA AIM figures 5-3-5 and 5-3-6; None without a station."""
        if self.fix_dme_nm is None or self.distance_nm is None:
            return None
        return self.fix_dme_nm + (self.distance_nm if self.towards_station else -self.distance_nm)

    def out_nm(self, along_nm: float, cross_nm: float) -> float:
        """Return how far along the leg a point is, as the pilot reads it: the inbound turn begins at ``distance_nm``.

        Parameters
        ----------
        along_nm, cross_nm : float
            From the fix: positive inbound beyond it, positive right of the course.

        Returns
        -------
        float
            By the station's reading (over the ground: the slant range adds what the height does), or along the
            course where there is none.
        """
        if self.fix_dme_nm is None:
            return -along_nm
        way = 1.0 if self.towards_station else -1.0
        return way * (math.hypot(self.fix_dme_nm - way * along_nm, cross_nm) - self.fix_dme_nm)


FixKind = Literal["vor", "ndb", "intersection", "dme", "gnss", "given"]


@dataclass(frozen=True)
class FixBy:
    """What tells that the aircraft is over the fix, which says how well it is known.

    Attributes
    ----------
    kind : "vor", "ndb", "intersection", "dme", "gnss" or "given"
        Overhead a VOR or an NDB, two bearings, a distance on a bearing, satellite navigation, or a known size.
    height_ft : float or None
        Above the aid, for an overhead fix.
    distance_nm : float or None
        To the aid that gives the inbound course, for an intersection, or to the DME.
    crossing_distance_nm, crossing_angle_deg : float or None
        To the aid that crosses the course, and its direction from the fix, clockwise from the inbound course.
    along_nm, cross_nm : float or None
        Known size, either way.
    """

    kind: FixKind
    height_ft: float | None = None
    distance_nm: float | None = None
    crossing_distance_nm: float | None = None
    crossing_angle_deg: float | None = None
    along_nm: float | None = None
    cross_nm: float | None = None


@dataclass(frozen=True)
class ClearedLevel:
    """A change of level that was cleared while holding: at a circuit's start or at an instant.

    Attributes
    ----------
    from_circuit : int or None
        Number of the circuit at whose start it was cleared.
    from_utc : aware datetime or None
    from_s : float or None
        The same on the log's clock, seconds from its first sample, once the log is known.
    """

    level_ft: float
    from_circuit: int | None = None
    from_utc: datetime | None = None
    from_s: float | None = None


@dataclass(frozen=True)
class Hold:
    """One hold.

    Attributes
    ----------
    fix_lat_deg, fix_lon_deg : float
        The fix, WGS84 degrees.
    inbound_course_true_deg : float
        Course TO the fix, degrees true [0, 360).
    turns : "right" or "left"
    leg : LegLimit or None
        None: by altitude, from the rules.
    name : str
        Empty where nobody named it. Untrusted text.
    altitude_ft, speed_kias : float or None
        Cleared level and intended speed.
    limiting_radial_true_deg : float or None
        Of the station that the leg is read from: the inbound turn begins before it, whatever the distance.
    arrival : "reciprocal", "arc" or None
        The published way to the fix, of that station: along the reciprocal of the inbound course, or on the
        distance arc of the fix. None: any, and the entry is by sector.
    max_kias : float or None
        A limit of speed that the chart prints for this hold.
    category : "A" … "E", "H" (helicopters), or None
    reported_wind : (from_true_deg, speed_kt) or None
    leave_fix_at : aware datetime or None
        When to leave the fix.
    variation_deg : float or None
        Magnetic variation used to read the file, east positive.
    fix_by : FixBy or None
        None where nobody said.
    levels : tuple of ClearedLevel
        Changes of level that were cleared, in order; ``altitude_ft`` is the level before them.
    fix_given : bool
        Whether the definition says where the fix is; otherwise it was inferred from the flight.
    file : str
        Name of the file that defines it; empty where none does. Untrusted text.
    """

    fix_lat_deg: float
    fix_lon_deg: float
    inbound_course_true_deg: float
    turns: Turns
    leg: LegLimit | None = None
    name: str = ""
    altitude_ft: float | None = None
    speed_kias: float | None = None
    max_kias: float | None = None
    limiting_radial_true_deg: float | None = None
    arrival: ArrivalWay | None = None
    category: str | None = None
    reported_wind: tuple[float, float] | None = None
    leave_fix_at: datetime | None = None
    variation_deg: float | None = None
    fix_by: FixBy | None = None
    levels: tuple[ClearedLevel, ...] = ()
    fix_given: bool = True
    file: str = ""

    @property
    def side(self) -> int:
        """+1 for right-hand turns, -1 for left-hand: multiplies every sideways quantity."""
        return 1 if self.turns == "right" else -1

    @property
    def other_turns(self) -> Turns:
        """The hand that this hold is not flown with."""
        return "left" if self.turns == "right" else "right"

    def beyond_radial_deg(self, along_nm: float, cross_nm: float) -> float | None:
        """Return by how much a point lies beyond the limiting radial; negative before it, None where there is none.

        Parameters
        ----------
        along_nm, cross_nm : float
            From the fix: positive inbound beyond it, positive right of the course.
        """
        leg, radial = self.leg, self.limiting_radial_true_deg
        if radial is None or leg is None or leg.fix_dme_nm is None:
            return None
        station_nm = leg.fix_dme_nm if leg.towards_station else -leg.fix_dme_nm
        # From the station the fix lies on the reciprocal of the inbound course, or on the course itself.
        fix_deg = 180.0 if leg.towards_station else 0.0
        off_deg = wrap180(math.degrees(math.atan2(cross_nm, along_nm - station_nm)) - fix_deg)
        limit_deg = wrap180(radial - self.inbound_course_true_deg - fix_deg)
        return math.copysign(1.0, limit_deg) * (off_deg - limit_deg)

    @property
    def outbound_course_true_deg(self) -> float:
        """The reciprocal of the inbound course, degrees true [0, 360)."""
        return wrap360(self.inbound_course_true_deg + 180.0)
