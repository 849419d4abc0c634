"""Which fault took a flight out of its area: the share of the error that points the way it went."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analyser.airspace.area import HoldingArea
from analyser.airspace.excursion import Edge
from analyser.airspace.phase import PHASES

#: Causes of the error budget as noun phrases, each with the part of the circuit from which on it acts.
_CAUSES: dict[str, tuple[str, str]] = {
    "fix_crossing": ("passing the fix off to one side", "outbound turn"),
    "arrival_heading": ("the heading over the fix", "outbound turn"),
    "outbound_turn_start": ("when the outbound turn was begun", "outbound turn"),
    "outbound_turn_bank": ("the bank in the outbound turn", "outbound turn"),
    "outbound_heading": ("the outbound heading", "outbound leg"),
    "outbound_time": ("the outbound time", "outbound leg"),
    "inbound_turn_bank": ("the bank in the inbound turn", "inbound turn"),
    "rollout_heading": ("the heading the inbound turn ended on", "inbound leg"),
    "unsteadiness": ("unsteady flying", "outbound turn"),
    "airspeed": ("the airspeed", "outbound turn"),
    "wind_change": ("a change of the wind", "outbound turn"),
    "inbound_leg": ("the inbound leg", "inbound leg"),
}

#: One share of a circuit's error at the roll-out: cause, along and cross, nautical miles.
CauseShift = tuple[str, float, float]


def leading_cause(area: HoldingArea, edge: Edge, shifts: Sequence[CauseShift]) -> str | None:
    """Name what took the flight furthest in the direction in which it left the area.

    Parameters
    ----------
    area : HoldingArea
        In the hold's frame.
    edge : Edge
        Outside.
    shifts : sequence of (cause, along_nm, cross_nm)
        The error budget of the circuit it happened on.

    Returns
    -------
    str or None
        A noun phrase; None where no cause that had acted by then points that way.
    """
    from shapely import Point, shortest_line

    outline = area.entry_area if edge.phase.circuit is None else area.area
    (from_along, from_cross), (to_along, to_cross) = shortest_line(
        outline, Point(edge.along_nm, edge.cross_nm)
    ).coords
    away = np.array([to_along - from_along, to_cross - from_cross])
    length = float(np.hypot(*away))
    if length == 0.0:
        return None
    reached = PHASES.index(edge.phase.name) if edge.phase.name in PHASES else len(PHASES)
    acted = [
        (float(np.dot((along, cross), away)) / length, _CAUSES[cause][0])
        for cause, along, cross in shifts
        if cause in _CAUSES and PHASES.index(_CAUSES[cause][1]) <= reached
    ]
    most, words = max(acted, default=(0.0, ""))
    return words if most > 0.0 else None
