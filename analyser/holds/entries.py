"""How each entry is flown in a given wind: tracks, headings, times and turns."""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass

from analyser.earth.angles import wrap180, wrap360
from analyser.holds.closing import Air
from analyser.holds.definition import LegLimit, Turns
from analyser.holds.exact_figures import ExactCircuit
from analyser.holds.sectors import EntryName
from analyser.rules.regime import Regime


@dataclass(frozen=True)
class EntryPlan:
    """One entry, from the fix until the inbound course is met.

    Attributes
    ----------
    entry : "direct", "parallel" or "offset"
    track_deg, heading_deg : float
        To make good after the fix, and to fly for it, [0, 360), in the reference of the inbound course.
    first_turn : "right" or "left", or None
        Over the fix onto the heading; None where the arrival heading is not known.
    first_turn_deg : float or None
        Through how much.
    rule_time_s : float
        What the rules give.
    time_s : float
        To fly: under ICAO what makes the still-air distance good in this wind, under the FAA the time of the
        rule itself; for a direct entry the outbound time by the clock. Where ``end_nm`` ends the leg, about how
        long that takes.
    second_turn : "right" or "left"
        Towards the inbound course.
    end_nm : float or None
        Of a parallel or offset entry on a hold limited by distance: how far out the leg ends, along the course.
    """

    entry: EntryName
    track_deg: float
    heading_deg: float
    first_turn: Turns | None
    first_turn_deg: float | None
    rule_time_s: float
    time_s: float
    second_turn: Turns
    end_nm: float | None = None


def entry_plan(
    entry: EntryName,
    exact: ExactCircuit,
    regime: Regime,
    *,
    altitude_ft: float,
    leg: LegLimit | None = None,
    arrival_heading_deg: float | None = None,
) -> EntryPlan:
    """Plan one entry.

    Parameters
    ----------
    entry : "direct", "parallel" or "offset"
    exact : ExactCircuit
        Gives hold, air and turns; a direct entry flies its outbound leg.
    regime : Regime
    altitude_ft : float
    leg : LegLimit, optional
        The hold's: one of a distance ends the leg of a parallel or offset entry too.
    arrival_heading_deg : float, optional
        In the reference of the inbound course.

    Returns
    -------
    EntryPlan

    References
    ----------
    ICAO Doc 8168 Vol I: tracks made good, for the time in still air or to the limiting distance. FAA AIM 5-3-8
    j.3: headings to turn to; j.5: distances in place of times.
    """
    rule_s, end_nm = 60.0 * regime.entry_minutes(altitude_ft), None
    hold_turn: Turns = "right" if exact.side > 0 else "left"
    other: Turns = "left" if exact.side > 0 else "right"
    if entry == "direct":
        track, heading = exact.outbound_track_deg, exact.outbound_heading_deg
        rule_s, time_s = exact.outbound_timed_s, exact.outbound_timed_s
    else:
        # Outbound, the holding side lies to the left of a right-hand hold.
        off_deg = -exact.side * regime.entry.offset_angle_deg if entry == "offset" else 0.0
        direction = wrap360(exact.inbound_course_deg + 180.0 + off_deg)
        track, heading, velocity = _along(direction, exact, headings=regime.entry.angles_are == "headings")
        # Where the clock fixes the inbound leg, the entry is flown by the watch; else it is a still-air length.
        by_watch = regime.clock.fixes == "inbound"
        time_s = rule_s if by_watch else rule_s * exact.tas_kt / abs(velocity)
        if leg is not None and leg.distance_nm is not None:
            end_nm = leg.distance_nm
            time_s = 3600.0 * end_nm / max(-velocity.real, 1.0)
    first, through = _turn_onto(heading, arrival_heading_deg, hold_turn if entry == "direct" else None)
    # From the parallel leg, which lies on the other side, the turn goes onto the holding side.
    second = other if entry == "parallel" else hold_turn
    return EntryPlan(entry, track, heading, first, through, rule_s, time_s, second, end_nm)


def _along(direction_deg: float, exact: ExactCircuit, *, headings: bool) -> tuple[float, float, complex]:
    """Take a direction as heading or as track: track, heading, and velocity along + i·right of the course."""
    air, off_deg = air_of(exact), direction_deg - exact.inbound_course_deg
    nose_deg = off_deg if headings else off_deg + air.correction_deg(off_deg)
    velocity = cmath.rect(air.tas_kt, math.radians(nose_deg)) + complex(air.along_kt, air.cross_kt)
    made_good = math.degrees(cmath.phase(velocity))
    course = exact.inbound_course_deg
    return wrap360(course + made_good), wrap360(course + nose_deg), velocity


def air_of(exact: ExactCircuit) -> Air:
    """Return speed, wind and turning of an exact circuit.

    Parameters
    ----------
    exact : ExactCircuit

    Returns
    -------
    Air
    """
    return Air(
        exact.tas_kt,
        exact.wind_along_kt,
        exact.wind_cross_kt,
        exact.side,
        exact.turn_rate_dps,
        exact.roll_s,
    )


def _turn_onto(
    heading_deg: float, arrival_deg: float | None, must: Turns | None
) -> tuple[Turns | None, float | None]:
    if arrival_deg is None:
        return must, None
    change = wrap180(heading_deg - arrival_deg)
    way: Turns = must or ("right" if change >= 0.0 else "left")
    return way, wrap360(change if way == "right" else -change)
