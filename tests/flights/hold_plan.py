"""What is to be flown, and how well."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from tests.flights.air import Air
from tests.flights.aircraft import Hand

Kind = Literal["direct", "parallel", "offset"]
Drift = Literal["none", "single", "triple", "exact"]
Ending = Literal["fix", "outbound", "inbound turn"]


@dataclass(frozen=True)
class Habits:
    """How well the pilot flies holds. Errors are one sigma, drawn anew each time."""

    drift: Drift = "exact"
    timing_error_s: float = 3.0
    bank_error_deg: float = 1.0
    late_at_fix_s: float = 1.0
    heading_error_deg: float = 1.5
    wind_error_kt: float = 2.0
    clock: Literal["outbound", "inbound"] = "outbound"
    bank_limit_deg: float = 25.0
    bank_deg: float | None = None


@dataclass(frozen=True)
class Incident:
    """Something out of the ordinary in one circuit."""

    circle_outbound: bool = False
    circle_inbound: bool = False
    outbound_s: float | None = None
    miss_right_nm: float = 0.0
    late_at_fix_s: float | None = None
    drift: Drift | None = None


@dataclass(frozen=True)
class HoldPlan:
    """One hold to fly. The fix is metres east and north of the flight's origin."""

    course_deg: float
    side: int = 1
    circuits: int = 3
    entry: Kind = "direct"
    arrival_heading_deg: float = 0.0
    arrival_nm: float = 6.0
    leg_s: float = 60.0
    leg_nm: float | None = None
    fix_m: tuple[float, float] = (0.0, 0.0)
    habits: Habits = field(default_factory=Habits)
    incidents: Mapping[int, Incident] = field(default_factory=dict)
    ending: Ending = "fix"
    descend_ft: float = 0.0
    departure_turn_deg: float = 40.0
    departure_s: float = 120.0


@dataclass(frozen=True)
class FlightPlan:
    """One flight: where, in what air, with what aircraft and hand, round which holds."""

    seed: int
    lat_deg: float = 47.0
    lon_deg: float = -32.0
    tas_kt: float = 110.0
    altitude_ft: float = 4000.0
    air: Air = field(default_factory=Air)
    hand: Hand = field(default_factory=Hand)
    holds: tuple[HoldPlan, ...] = ()
    name: str = ""
