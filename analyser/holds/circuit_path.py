"""The exact circuit as points over the ground, for drawing and for comparing with a flown one."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyser.earth.angles import wrap360
from analyser.holds.turn_path import TurnPath

FloatArray = NDArray[np.float64]

#: Steps of a path at most: an hour of seconds. Against a wind all but as fast as the aircraft a leg lasts for hours or
#: days, and a drawing shows no more for having every second of them.
MOST_STEPS = 3600

PHASES = ("outbound turn", "outbound leg", "inbound turn", "inbound leg")


@dataclass(frozen=True)
class CircuitPath:
    """Points of one circuit.

    Attributes
    ----------
    time_s : (n,) float array
        After leaving the fix.
    along_nm, cross_nm : (n,) float array
        From the fix: positive inbound beyond it, positive right of the inbound course.
    heading_deg : (n,) float array
        [0, 360), in the reference of the inbound course.
    phase : (n,) int array
        Index into :data:`PHASES`; a corner belongs to the phase that ends there.
    """

    time_s: FloatArray
    along_nm: FloatArray
    cross_nm: FloatArray
    heading_deg: FloatArray
    phase: NDArray[np.int64]


@dataclass(frozen=True)
class CircuitParts:
    """What a circuit is laid out from: two turns with a leg after each, in a steady wind.

    Attributes
    ----------
    inbound_course_deg : float
    side : int
        +1 right-hand, -1 left-hand.
    tas_kt : float
    wind_along_kt, wind_cross_kt : float
        Wind TOWARDS, along and right of the inbound course.
    inbound_correction_deg : float
        Heading over the fix minus the course, positive right.
    outbound_turn, inbound_turn : TurnPath
    outbound_time_s, inbound_time_s : float
        Of the legs, wings level to leaving level and wings level to the fix.
    """

    inbound_course_deg: float
    side: int
    tas_kt: float
    wind_along_kt: float
    wind_cross_kt: float
    inbound_correction_deg: float
    outbound_turn: TurnPath
    outbound_time_s: float
    inbound_turn: TurnPath
    inbound_time_s: float

    @property
    def spans_s(self) -> tuple[float, float, float, float]:
        """How long each phase takes, in the order of :data:`PHASES`."""
        first, second = self.outbound_turn.duration_s, self.inbound_turn.duration_s
        return first, self.outbound_time_s, second, self.inbound_time_s


def lay_path(parts: CircuitParts, step_s: float = 1.0) -> CircuitPath:
    """Lay a circuit out as points.

    Parameters
    ----------
    parts : CircuitParts
        Of a circuit that closes.
    step_s : float
        Seconds between points, more where there would be more than :data:`MOST_STEPS`; corners between phases are
        always among them.

    Returns
    -------
    CircuitPath
    """
    spans = parts.spans_s
    corners = np.concatenate([[0.0], np.cumsum(spans)])
    step_s = max(step_s, corners[-1] / MOST_STEPS)
    even = np.arange(0.0, corners[-1], step_s)
    # A grid point that all but coincides with a corner would make a step of no length.
    apart = np.min(np.abs(even[:, None] - corners), axis=1) > 0.01 * step_s
    time_s = np.union1d(even[apart], corners)
    phase = np.clip(np.searchsorted(corners, time_s, side="left") - 1, 0, 3)
    heading = np.empty_like(time_s)
    ahead, right = np.zeros_like(time_s), np.zeros_like(time_s)
    start, at = parts.inbound_correction_deg, np.zeros(2)
    for number, span in enumerate(spans):
        here = phase == number
        since = np.append(time_s[here] - corners[number], span)
        turned, moved = _phase(parts, number, start, since)
        heading[here] = turned[:-1]
        ahead[here], right[here] = at[0] + moved[0][:-1], at[1] + moved[1][:-1]
        start, at = float(turned[-1]), at + np.array([moved[0][-1], moved[1][-1]])
    drift_h = time_s / 3600.0
    return CircuitPath(
        time_s,
        ahead + parts.wind_along_kt * drift_h,
        right + parts.wind_cross_kt * drift_h,
        wrap360(heading + parts.inbound_course_deg),
        phase.astype(np.int64),
    )


def _phase(
    parts: CircuitParts, number: int, start_deg: float, since_s: FloatArray
) -> tuple[FloatArray, tuple[FloatArray, FloatArray]]:
    """Heading from the course, and movement through the air, within one phase."""
    direction = math.radians(start_deg)
    if number in (1, 3):
        moved = since_s * parts.tas_kt / 3600.0
        return np.full_like(since_s, start_deg), (moved * math.cos(direction), moved * math.sin(direction))
    turn = parts.outbound_turn if number == 0 else parts.inbound_turn
    turned = start_deg + parts.side * turn.turned_deg(since_s)
    forward, aside = (part * parts.tas_kt / 3600.0 for part in turn.moved_s(since_s))
    aside = parts.side * aside
    along = forward * math.cos(direction) - aside * math.sin(direction)
    return turned, (along, forward * math.sin(direction) + aside * math.cos(direction))


def to_east_north(
    along_nm: FloatArray, cross_nm: FloatArray, inbound_course_deg: float
) -> tuple[FloatArray, FloatArray]:
    """Turn along and cross into map coordinates round the fix.

    Parameters
    ----------
    along_nm, cross_nm : (n,) float array
        Positive inbound beyond the fix, positive right of the inbound course.
    inbound_course_deg : float
        On the map.

    Returns
    -------
    east_nm, north_nm : (n,) float array
    """
    sin, cos = math.sin(math.radians(inbound_course_deg)), math.cos(math.radians(inbound_course_deg))
    return along_nm * sin + cross_nm * cos, along_nm * cos - cross_nm * sin
