"""Entries: the sectors by heading at the fix, and how each entry is flown in a given wind."""

from __future__ import annotations

import cmath
import math
from typing import Literal

from analyser.earth.angles import wrap180, wrap360
from analyser.frozen import dataclass
from analyser.holds.definition import ArrivalWay, LegLimit, Turns, turns_of
from analyser.holds.exact import ExactCircuit
from analyser.holds.kinematics import PathPoints, Trajectory
from analyser.rules.load import load_regime
from analyser.rules.regime import EntryRule, Regime

EntryName = Literal["direct", "parallel", "offset"]


@dataclass(frozen=True)
class Sector:
    """One entry sector as a range of headings, clockwise from one to the other."""

    entry: EntryName
    #: In the reference of the inbound course given, [0, 360).
    from_heading_deg: float
    to_heading_deg: float


def sectors_allowed(
    arrival_heading_deg: float,
    inbound_course_deg: float,
    turns: Turns,
    tolerance_deg: float | None = None,
    rule: EntryRule | None = None,
    way: ArrivalWay | None = None,
) -> tuple[EntryName, ...]:
    """Name the entries that are right for a heading (not a track) on arrival over the fix.

    The sector the heading lies in comes first, then the neighbour within ``tolerance_deg`` of its boundary, the
    rule's zone (5°) where left out. Both regimes have the same sectors, so the rule is ICAO's where left out. Where
    the published way to the fix (``way``) was flown and the rule names entries for it, only those are right.

    References
    ----------
    ICAO Doc 8168 Vol I and FAA AIM 5-3-8 (sectors, ±5°); arithmetic as US Navy P-821, figure 3-8.
    """
    rule = rule or load_regime("icao").entry
    zone = rule.zone_deg if tolerance_deg is None else tolerance_deg
    off = _off_reciprocal_deg(arrival_heading_deg, inbound_course_deg, turns)
    own = _sector(off, rule)
    borders: tuple[tuple[float, tuple[EntryName, EntryName]], ...] = (
        (rule.offset_sector_deg, ("offset", "direct")),
        (0.0, ("offset", "parallel")),
        (-rule.parallel_sector_deg, ("parallel", "direct")),
    )
    allowed = [own]
    for border_deg, neighbours in borders:
        # A hair of slack, so that "exactly 5°" does not depend on the last bit of a subtraction.
        if abs(wrap180(off - border_deg)) <= zone + 1e-9:
            allowed += [one for one in neighbours if one not in allowed]
    named = entries_by_way(arrival_heading_deg, inbound_course_deg, turns, rule, way)
    return tuple(one for one in allowed if one in named) or named[:1] or tuple(allowed)


def entries_by_way(
    arrival_heading_deg: float,
    inbound_course_deg: float,
    turns: Turns,
    rule: EntryRule,
    way: ArrivalWay | None,
) -> tuple[EntryName, ...]:
    """Name the entries that a rule has for a published way to the fix; none where the heading is not that way's."""
    if way is None or rule.arrivals is None:
        return ()
    off = abs(_off_reciprocal_deg(arrival_heading_deg, inbound_course_deg, turns))
    off_way, named = (
        (off, rule.arrivals.reciprocal) if way == "reciprocal" else (off - 90.0, rule.arrivals.arc)
    )
    return named if abs(off_way) <= rule.arrivals.within_deg else ()


def sectors(
    inbound_course_deg: float, turns: Turns, rule: EntryRule | None = None
) -> tuple[Sector, Sector, Sector]:
    """Lay out the three sectors, offset, parallel and direct, as ranges of heading."""
    rule = rule or load_regime("icao").entry
    side = 1 if turns == "right" else -1
    reciprocal = inbound_course_deg + 180.0
    offset_edge = reciprocal - side * rule.offset_sector_deg
    parallel_edge = reciprocal + side * rule.parallel_sector_deg
    ranges: tuple[tuple[EntryName, float, float], ...] = (
        ("offset", offset_edge, reciprocal),
        ("parallel", reciprocal, parallel_edge),
        ("direct", parallel_edge, offset_edge),
    )
    made = [
        Sector(name, wrap360(start if side > 0 else end), wrap360(end if side > 0 else start))
        for name, start, end in ranges
    ]
    return made[0], made[1], made[2]


def _off_reciprocal_deg(heading_deg: float, inbound_course_deg: float, turns: Turns) -> float:
    """How far the heading falls short of the reciprocal, mirrored for a left-hand hold: P-821's d."""
    off = wrap180(inbound_course_deg + 180.0 - heading_deg)
    return off if turns == "right" else wrap180(-off)


def _sector(off_deg: float, rule: EntryRule) -> EntryName:
    if 0.0 <= off_deg <= rule.offset_sector_deg:
        return "offset"
    return "parallel" if -rule.parallel_sector_deg <= off_deg < 0.0 else "direct"


@dataclass(frozen=True)
class EntryPlan:
    """One entry, from the fix until the inbound course is met."""

    entry: EntryName
    #: To make good after the fix, and to fly for it, [0, 360), in the reference of the inbound course.
    track_deg: float
    heading_deg: float
    #: Over the fix onto the heading; None where the arrival heading is not known.
    first_turn: Turns | None
    #: Through how much.
    first_turn_deg: float | None
    #: What the rules give.
    rule_time_s: float
    #: To fly: under ICAO what makes the still-air distance good in this wind, under the FAA the time of the rule
    #: itself; for a direct entry the outbound time by the clock. Where ``end_nm`` ends the leg, about how long that
    #: takes.
    time_s: float
    #: Towards the inbound course.
    second_turn: Turns
    #: Of a parallel or offset entry on a hold limited by distance: how far out the leg ends, along the course.
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
    """Plan one entry in the air of an exact circuit; a direct entry flies its outbound leg.

    A leg of a distance ends that of a parallel or offset entry too. Directions are in the reference of the inbound
    course.

    References
    ----------
    ICAO Doc 8168 Vol I: tracks made good, for the time in still air or to the limiting distance. FAA AIM 5-3-8
    j.3: headings to turn to; j.5: distances in place of times.
    """
    rule_s, end_nm = 60.0 * regime.entry_minutes(altitude_ft), None
    hold_turn, other = turns_of(exact.side), turns_of(-exact.side)
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
    """Lay an entry out as points ``step_s`` apart, from the fix back to the fix; headings as the inbound course's.

    ``phase`` counts turn over the fix, entry leg, turn in, intercept and inbound leg from 0. It ends over the fix,
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
