"""The definition of a hold: what a chart or a clearance gives."""

from __future__ import annotations

import math
from datetime import datetime
from typing import Literal

from analyser.earth.angles import wrap180, wrap360
from analyser.frozen import dataclass

Turns = Literal["right", "left"]


def turns_of(side: int) -> Turns:
    """Return the hand of a hold by its side: +1 right, -1 left."""
    return "right" if side > 0 else "left"


ArrivalWay = Literal["reciprocal", "arc"]


@dataclass(frozen=True)
class LegLimit:
    """What ends the outbound leg: minutes or distance, exactly one of them."""

    #: Timed leg, minutes.
    minutes: float | None = None
    #: Distance leg, nautical miles: how far out from the fix the inbound turn begins, along the course.
    distance_nm: float | None = None
    #: What a station on the line of the inbound course reads at the fix, where the chart gives the leg so.
    fix_dme_nm: float | None = None
    #: Whether the inbound course leads to that station.
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

        The point is given from the fix: positive inbound beyond it, positive right of the course. Read is the station
        (over the ground: the slant range adds what the height does), or along the course where there is none.
        """
        if self.fix_dme_nm is None:
            return -along_nm
        way = 1.0 if self.towards_station else -1.0
        return way * (math.hypot(self.fix_dme_nm - way * along_nm, cross_nm) - self.fix_dme_nm)


FixKind = Literal["vor", "ndb", "intersection", "dme", "gnss", "given"]


@dataclass(frozen=True)
class FixBy:
    """What tells that the aircraft is over the fix, which says how well it is known."""

    #: Overhead a VOR or an NDB, two bearings, a distance on a bearing, satellite navigation, or a known size.
    kind: FixKind
    #: Above the aid, for an overhead fix.
    height_ft: float | None = None
    #: To the aid that gives the inbound course, for an intersection, or to the DME.
    distance_nm: float | None = None
    #: To the aid that crosses the course, and its direction from the fix, clockwise from the inbound course.
    crossing_distance_nm: float | None = None
    crossing_angle_deg: float | None = None
    #: Known size, either way.
    along_nm: float | None = None
    cross_nm: float | None = None


@dataclass(frozen=True)
class ClearedLevel:
    """A change of level that was cleared while holding: at a circuit's start or at an instant."""

    level_ft: float
    #: Number of the circuit at whose start it was cleared.
    from_circuit: int | None = None
    from_utc: datetime | None = None
    #: The same on the log's clock, seconds from its first sample, once the log is known.
    from_s: float | None = None


@dataclass(frozen=True)
class Hold:
    """One hold."""

    #: The fix, WGS84 degrees.
    fix_lat_deg: float
    fix_lon_deg: float
    #: Course TO the fix, degrees true [0, 360).
    inbound_course_true_deg: float
    turns: Turns
    #: None: by altitude, from the rules.
    leg: LegLimit | None = None
    #: Empty where nobody named it. Untrusted text.
    name: str = ""
    #: Cleared level and intended speed.
    altitude_ft: float | None = None
    speed_kias: float | None = None
    #: A limit of speed that the chart prints for this hold.
    max_kias: float | None = None
    #: Of the station that the leg is read from: the inbound turn begins before it, whatever the distance.
    limiting_radial_true_deg: float | None = None
    #: The published way to the fix, of that station: along the reciprocal of the inbound course, or on the distance
    #: arc of the fix. None: any, and the entry is by sector.
    arrival: ArrivalWay | None = None
    category: str | None = None
    #: (from_true_deg, speed_kt) or None
    reported_wind: tuple[float, float] | None = None
    #: When to leave the fix.
    leave_fix_at: datetime | None = None
    #: Magnetic variation used to read the file, east positive.
    variation_deg: float | None = None
    #: None where nobody said.
    fix_by: FixBy | None = None
    #: Changes of level that were cleared, in order; ``altitude_ft`` is the level before them.
    levels: tuple[ClearedLevel, ...] = ()
    #: Whether the definition says where the fix is; otherwise it was inferred from the flight.
    fix_given: bool = True
    #: Name of the file that defines it; empty where none does. Untrusted text.
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

        The point is given from the fix: positive inbound beyond it, positive right of the course.
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
