"""The ideal entry as points over the ground, from the fix back to the fix."""

from __future__ import annotations

from analyser.earth.angles import wrap180, wrap360
from analyser.holds.circuit_path import CircuitPath
from analyser.holds.entries import EntryPlan, air_of
from analyser.holds.exact_figures import ExactCircuit
from analyser.holds.meeting_course import meet_course
from analyser.holds.pen import Pen

ENTRY_PHASES = ("turn over the fix", "entry leg", "turn in", "intercept", "inbound leg")

#: Of them, those from the turn in.
MEETING_PHASES = (2, 3, 4)


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
    meet_course(pen, 1 if plan.second_turn == "right" else -1, MEETING_PHASES)
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
