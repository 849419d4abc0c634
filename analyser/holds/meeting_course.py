"""Meeting the inbound course: the turn towards it, an interception, and the way along it to the fix."""

from __future__ import annotations

import math

import numpy as np

from analyser.earth.angles import wrap180, wrap360
from analyser.holds.pen import Pen

#: Intercept angles tried, degrees: the usual one, then steeper where the fix is near, then flatter.
_INTERCEPTS = (30, 35, 40, 45, 50, 55, 60, 25, 20, 15, 10, 6, 3, 1)

#: Nearer than this the turn is taken to have ended on the course, nautical miles (a drawn line's width).
_ON_COURSE_NM = 0.01


def meet_course(pen: Pen, way: int | None, phases: tuple[int, int, int]) -> bool:
    """Turn towards the course, meet it at an angle, and fly it to the fix.

    Parameters
    ----------
    pen : Pen
        Where the aircraft is; it is flown on.
    way : int or None
        Of the turn towards the course: +1 right, -1 left; None for the shorter way.
    phases : (int, int, int)
        Labels of the turn, the interception and the leg along the course.

    Returns
    -------
    bool
        False where the course cannot be met before the fix: then the rest stays open.
    """
    turn, intercept, along = phases
    inbound_deg = pen.air.correction_deg(0.0)
    for angle_deg in _INTERCEPTS:
        found = _intercept(pen, way, inbound_deg, angle_deg)
        if found is not None:
            heading_deg, straight_s, last_way = found
            _turn_to(pen, heading_deg, way, turn)
            pen.straight(straight_s, intercept)
            _turn_to(pen, inbound_deg, last_way, intercept)
            break
    else:
        # The turn itself ends on the course, or nothing meets it before the fix.
        _turn_to(pen, inbound_deg, way, turn)
        if pen.along_nm >= 0.0 or abs(pen.cross_nm) >= _ON_COURSE_NM:
            return False
    pen.straight(-pen.along_nm / pen.air.ground_speed_kt(0.0) * 3600.0, along)
    return True


def _turn_to(pen: Pen, heading_deg: float, way: int | None, phase: int) -> None:
    change = wrap180(heading_deg - pen.heading_deg)
    if way is None:
        way = 1 if change >= 0.0 else -1
    pen.turn(wrap360(way * change), way, phase)


def _intercept(
    pen: Pen, way: int | None, inbound_deg: float, angle_deg: float
) -> tuple[float, float, int] | None:
    """Try one angle: heading, seconds straight and the way of the last turn; None where it does not work."""
    whole = _copy(pen)
    _turn_to(whole, inbound_deg, way, 0)
    if abs(whole.cross_nm) < _ON_COURSE_NM:
        return None
    # Right of the course the heading must lead left, and the other way round.
    lead = -1 if whole.cross_nm > 0.0 else 1
    heading_deg, air = inbound_deg + lead * angle_deg, pen.air
    trial = _copy(pen)
    _turn_to(trial, heading_deg, way, 0)
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
