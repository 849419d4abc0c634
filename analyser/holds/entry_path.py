"""The ideal entry as points over the ground, from the fix back to the fix."""

from __future__ import annotations

import math

import numpy as np

from analyser.earth.angles import wrap180, wrap360
from analyser.holds.circuit_path import CircuitPath
from analyser.holds.closing import Air
from analyser.holds.entries import EntryPlan, air_of
from analyser.holds.exact_figures import ExactCircuit
from analyser.holds.pen import Pen

ENTRY_PHASES = ("turn over the fix", "entry leg", "turn in", "intercept", "inbound leg")

#: Intercept angles tried, degrees: the usual one, then steeper where the fix is near, then flatter.
_INTERCEPTS = (30, 35, 40, 45, 50, 55, 60, 25, 20, 15, 10, 6, 3, 1)

#: Nearer than this the turn is taken to have ended on the course, nautical miles (a drawn line's width).
_ON_COURSE_NM = 0.01


def entry_path(
    plan: EntryPlan, exact: ExactCircuit, arrival_heading_deg: float, step_s: float = 1.0
) -> CircuitPath:
    """Lay an entry out as points.

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
    CircuitPath
        ``phase`` indexes :data:`ENTRY_PHASES`. Ends over the fix, established inbound, wherever the inbound
        course can be met before it.
    """
    air, course = air_of(exact), exact.inbound_course_deg
    pen = Pen(air, wrap180(arrival_heading_deg - course), step_s)
    way = 1 if plan.first_turn == "right" else -1
    change = wrap360(way * (plan.heading_deg - arrival_heading_deg))
    # A turn that is all but nothing or all but a full circle is the rounding of none.
    pen.turn(0.0 if change > 359.9 else change, way, 0)
    pen.straight(_leg_s(plan, exact, pen), 1)
    _come_back(pen, air, 1 if plan.second_turn == "right" else -1)
    time_s, along, cross, heading, phase = pen.trail()
    return CircuitPath(time_s, along, cross, wrap360(heading + course), phase)


def _leg_s(plan: EntryPlan, exact: ExactCircuit, pen: Pen) -> float:
    if plan.entry != "direct" and plan.end_nm is None:
        return plan.time_s
    # A direct entry ends its outbound leg where the circuit does, a distance leg where its distance is reached.
    end_nm = exact.outbound_end_along_nm if plan.end_nm is None else -plan.end_nm
    leg = Pen(pen.air, pen.heading_deg, 1e9)
    leg.straight(1.0, 0)
    return max(0.0, (end_nm - pen.along_nm) / leg.along_nm)


def _come_back(pen: Pen, air: Air, way: int) -> None:
    """Turn towards the course, meet it at an angle, and fly it to the fix."""
    inbound_deg = air.correction_deg(0.0)
    for angle_deg in _INTERCEPTS:
        found = _intercept(pen, air, way, inbound_deg, angle_deg)
        if found is not None:
            break
    else:
        # The turn itself ends on the course, or nothing meets it before the fix: then the rest stays open.
        pen.turn(wrap360(way * (inbound_deg - pen.heading_deg)), way, 2)
        if pen.along_nm < 0.0 and abs(pen.cross_nm) < _ON_COURSE_NM:
            pen.straight(-pen.along_nm / air.ground_speed_kt(0.0) * 3600.0, 4)
        return
    heading_deg, straight_s, last_way = found
    pen.turn(wrap360(way * (heading_deg - pen.heading_deg)), way, 2)
    pen.straight(straight_s, 3)
    pen.turn(wrap360(last_way * (inbound_deg - pen.heading_deg)), last_way, 3)
    pen.straight(-pen.along_nm / air.ground_speed_kt(0.0) * 3600.0, 4)


def _intercept(
    pen: Pen, air: Air, way: int, inbound_deg: float, angle_deg: float
) -> tuple[float, float, int] | None:
    """Try one angle: heading, seconds straight and the way of the last turn; None where it does not work."""
    whole = _copy(pen)
    whole.turn(wrap360(way * (inbound_deg - pen.heading_deg)), way, 0)
    if abs(whole.cross_nm) < _ON_COURSE_NM:
        return None
    # Right of the course the heading must lead left, and the other way round.
    lead = -1 if whole.cross_nm > 0.0 else 1
    heading_deg = inbound_deg + lead * angle_deg
    trial = _copy(pen)
    trial.turn(wrap360(way * (heading_deg - pen.heading_deg)), way, 0)
    after = _copy(trial)
    after.turn(angle_deg, -lead, 0)
    direction = math.radians(heading_deg)
    cross_kt = air.tas_kt * math.sin(direction) + air.cross_kt
    along_kt = air.tas_kt * math.cos(direction) + air.along_kt
    if abs(cross_kt) < 1e-9:
        return None
    straight_s = -3600.0 * after.cross_nm / cross_kt
    joins_nm = after.along_nm + along_kt * straight_s / 3600.0
    if straight_s < 0.0 or joins_nm >= 0.0:
        return None
    return heading_deg, straight_s, -lead


def _copy(pen: Pen) -> Pen:
    twin = Pen(pen.air, pen.heading_deg, np.inf)
    twin.along_nm, twin.cross_nm = pen.along_nm, pen.cross_nm
    return twin
