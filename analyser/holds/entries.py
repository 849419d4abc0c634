"""How each entry is flown in a given wind: tracks, headings, times and turns, and the path that results."""

from __future__ import annotations

import cmath
import math

from analyser.earth.angles import wrap180, wrap360
from analyser.frozen import dataclass
from analyser.holds.definition import LegLimit, Turns
from analyser.holds.entry_sectors import EntryName
from analyser.holds.exact import ExactCircuit
from analyser.holds.kinematics import PathPoints, Trajectory
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
    """Take a direction as heading or as track: track, heading, and velocity along + i·to the hold's side."""
    flight, side, course = exact.flight, exact.side, exact.inbound_course_deg
    off_deg = side * (direction_deg - course)
    nose_deg = off_deg if headings else off_deg + flight.correction_deg(off_deg)
    velocity_kt = flight.velocity_kt(nose_deg)
    made_good_deg = math.degrees(cmath.phase(velocity_kt))
    return wrap360(course + side * made_good_deg), wrap360(course + side * nose_deg), velocity_kt


def _turn_onto(
    heading_deg: float, arrival_deg: float | None, must: Turns | None
) -> tuple[Turns | None, float | None]:
    if arrival_deg is None:
        return must, None
    change = wrap180(heading_deg - arrival_deg)
    way: Turns = must or ("right" if change >= 0.0 else "left")
    return way, wrap360(change if way == "right" else -change)


def entry_path(
    plan: EntryPlan, exact: ExactCircuit, arrival_heading_deg: float, step_s: float = 1.0
) -> PathPoints:
    """Lay an entry out as points, from the fix back to the fix.

    Parameters
    ----------
    plan : EntryPlan
    exact : ExactCircuit
        The same hold and air.
    arrival_heading_deg : float
        In the reference of the inbound course.
    step_s : float
        Seconds between points.

    Returns
    -------
    PathPoints
        ``phase`` counts turn over the fix, entry leg, turn in, intercept and inbound leg from 0. Ends over the fix,
        established inbound, wherever the inbound course can be met before it.
    """
    side, course = exact.side, exact.inbound_course_deg
    start_deg = side * wrap180(arrival_heading_deg - course)
    entry = Trajectory(exact.flight, exact.turn_rate_dps, start_deg, step_s=step_s)
    way = 1 if plan.first_turn == "right" else -1
    change = wrap360(way * (plan.heading_deg - arrival_heading_deg))
    # A turn that is all but nothing or all but a full circle is the rounding of none.
    entry.turn(0.0 if change > 359.9 else change, side * way, 0)
    entry.straight(_leg_s(plan, exact, entry), 1)
    entry.meet_course(side if plan.second_turn == "right" else -side, (2, 3, 4))
    return entry.points(course, side)


def _leg_s(plan: EntryPlan, exact: ExactCircuit, entry: Trajectory) -> float:
    if plan.entry != "direct" and plan.end_nm is None:
        return plan.time_s
    # A direct entry ends its outbound leg where the circuit does, a distance leg where its distance is reached.
    end_nm = exact.outbound_end_along_nm if plan.end_nm is None else -plan.end_nm
    along_kt = entry.flight.velocity_kt(entry.heading_deg).real
    return max(0.0, 3600.0 * (end_nm - entry.at_nm.real) / along_kt)
