"""The exact circuit for a steady wind: the one that closes on the fix and makes its target good.

One circuit closes when what the outbound leg moves over the ground undoes the inbound leg and the drift of
both turns::

    GS_out · T_out = −( GS_in · T_in + W · (time turning) )        (vectors over the ground)

The right-hand side is known once the inbound leg is given: its direction is the outbound track, the wind
triangle turns that into the heading, and its length over the ground speed is the time from wings level.
"""

from __future__ import annotations

import math
from dataclasses import fields, replace
from typing import Any

import numpy as np

from analyser.earth.angles import wrap180, wrap360
from analyser.earth.turning import turn_bank_deg
from analyser.holds.closing import Air, OutboundLeg, closing_leg
from analyser.holds.exact_figures import ExactCircuit
from analyser.holds.root import root_between
from analyser.holds.turn_path import TurnPath

__all__ = ["ExactCircuit", "exact_circuit"]

#: The search for the shortest circuit stops this near, nautical miles.
_FINE_NM = 1e-4
#: The search for a circuit by its outbound end begins with an inbound leg of this length, nautical miles.
_LEAST_INBOUND_NM = 0.05


def exact_circuit(
    *,
    inbound_course_deg: float,
    side: int,
    tas_kt: float,
    wind_east_kt: float,
    wind_north_kt: float,
    turn_rate_dps: float,
    roll_s: float = 0.0,
    inbound_time_s: float | None = None,
    inbound_distance_nm: float | None = None,
    outbound_along_nm: float | None = None,
) -> ExactCircuit:
    """Solve the circuit for a target: the length of the inbound leg, or how far out the inbound turn begins.

    Parameters
    ----------
    inbound_course_deg : float
        Degrees true if the wind is.
    side : int
        +1 right-hand, -1 left-hand.
    tas_kt : float
    wind_east_kt, wind_north_kt : float
        Wind TOWARDS.
    turn_rate_dps : float
        Of both turns when established, positive.
    roll_s : float
        Time to roll in, and again to roll out; 0 gives the closed form.
    inbound_time_s, inbound_distance_nm, outbound_along_nm : float, optional
        Exactly one: the inbound leg from wings level to the fix, by time or over the ground, or how far from the
        fix along the course the outbound leg ends, whatever inbound leg results.

    Returns
    -------
    ExactCircuit

    Raises
    ------
    ValueError
        None or both of the targets given, or a speed, rate or target that is not above zero.
    """
    targets = [one for one in (inbound_time_s, inbound_distance_nm, outbound_along_nm) if one is not None]
    if len(targets) != 1:
        raise ValueError("give inbound_time_s, inbound_distance_nm or outbound_along_nm, exactly one of them")
    if min(tas_kt, turn_rate_dps, *targets) <= 0.0 or roll_s < 0.0 or side not in (1, -1):
        raise ValueError("speed, turn rate and target must be above zero, and side +1 or -1")
    course = math.radians(inbound_course_deg)
    along_kt = wind_east_kt * math.sin(course) + wind_north_kt * math.cos(course)
    cross_kt = wind_east_kt * math.cos(course) - wind_north_kt * math.sin(course)
    air = Air(tas_kt, along_kt, cross_kt, side, turn_rate_dps, roll_s)
    speed_kt = air.ground_speed_kt(0.0)
    if not speed_kt > 0.0:
        return _nothing(air, inbound_course_deg)
    if outbound_along_nm is not None:
        return _ending_at(air, inbound_course_deg, outbound_along_nm)
    distance_nm = speed_kt * inbound_time_s / 3600.0 if inbound_time_s is not None else targets[0]
    return _inbound_of(air, inbound_course_deg, distance_nm)


def _inbound_of(air: Air, inbound_course_deg: float, distance_nm: float) -> ExactCircuit:
    """Return the circuit with an inbound leg of this length, or the shortest that closes."""
    leg = _outward(air, distance_nm)
    if leg is not None:
        return _circuit(air, inbound_course_deg, distance_nm, leg)
    return _shortest(air, inbound_course_deg, distance_nm)


def _ending_at(air: Air, course_deg: float, out_nm: float) -> ExactCircuit:
    """Return the circuit whose outbound leg ends so far from the fix, measured along the course."""
    low = _inbound_of(air, course_deg, _LEAST_INBOUND_NM)
    if not low.closes:
        return low
    beyond_nm = -low.outbound_end_along_nm - out_nm
    if beyond_nm > 0.0:
        why_not = (
            f"no circuit closes whose outbound leg ends {out_nm:.1f} NM out, because the wind drifts the aircraft "
            f"too far in the turns: the shortest that closes turns inbound {beyond_nm:.1f} NM beyond that"
        )
        return replace(low, exists=False, why_not=why_not)
    # The turns drift by far less than they are wide, so twice the charted length is always long enough.
    high_nm = low.inbound_distance_nm + 2.0 * (out_nm + air.turning_s * air.tas_kt / 3600.0)
    inbound_nm = root_between(
        lambda nm: -_inbound_of(air, course_deg, nm).outbound_end_along_nm - out_nm,
        low.inbound_distance_nm,
        high_nm,
        within=1e-7,
    )
    return replace(_inbound_of(air, course_deg, inbound_nm), exists=True, why_not="")


def _outward(air: Air, distance_nm: float) -> OutboundLeg | None:
    """Return the closing leg if both heading and track lead outbound: else it is no outbound leg."""
    leg = closing_leg(air, distance_nm, air.correction_deg(0.0))
    outward = leg is not None and leg.along_kt < 0.0 and abs(leg.heading_deg) <= 90.0
    return leg if outward else None


def _shortest(air: Air, inbound_course_deg: float, distance_nm: float) -> ExactCircuit:
    """Lengthen the inbound leg until a circuit closes: the turns alone drift too far for a shorter one."""
    low, high = distance_nm, distance_nm + 0.01
    while _outward(air, high) is None:
        low, high = high, distance_nm + 2.0 * (high - distance_nm)
        if high > 500.0:
            return _nothing(air, inbound_course_deg)
    while high - low > _FINE_NM:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if _outward(air, middle) is not None else (middle, high)
    leg = _outward(air, high)
    assert leg is not None
    found = _circuit(air, inbound_course_deg, high, leg)
    asked_s = 3600.0 * distance_nm / found.inbound_ground_speed_kt
    outbound = f"{found.outbound_time_s:.0f} s outbound" if leg.time_s >= 1.0 else "one continuous turn"
    why_not = (
        f"no circuit closes with {asked_s:.0f} s ({distance_nm:.1f} NM) inbound, because the wind drifts "
        f"the aircraft too far in the turns; the shortest that closes has {found.inbound_time_s:.0f} s "
        f"({high:.1f} NM) inbound and {outbound}"
    )
    return replace(found, exists=False, why_not=why_not)


def _circuit(air: Air, course_deg: float, distance_nm: float, leg: OutboundLeg) -> ExactCircuit:
    correction = air.correction_deg(0.0)
    speed_kt = air.ground_speed_kt(0.0)
    first_deg = 180.0 + air.side * (leg.heading_deg - correction)
    first = TurnPath(first_deg, air.rate_dps, air.roll_s)
    second = TurnPath(360.0 - first_deg, air.rate_dps, air.roll_s)
    inbound_s = 3600.0 * distance_nm / speed_kt
    start_along, start_cross = _after_turn(air, first, correction)
    end_along = start_along + leg.along_kt * leg.time_s / 3600.0
    end_cross = start_cross + leg.cross_kt * leg.time_s / 3600.0
    abeam_s = _abeam_s(air, first, correction, leg, start_along)
    start_s = abeam_s if abeam_s is not None else first.duration_s
    moved_along, moved_cross = _after_turn(air, second, 180.0 + leg.heading_deg)
    return ExactCircuit(
        exists=True,
        closes=True,
        why_not="",
        inbound_course_deg=wrap360(course_deg),
        side=air.side,
        tas_kt=air.tas_kt,
        wind_along_kt=air.along_kt,
        wind_cross_kt=air.cross_kt,
        turn_rate_dps=air.rate_dps,
        bank_deg=turn_bank_deg(air.rate_dps, air.tas_kt),
        roll_s=air.roll_s,
        inbound_heading_deg=wrap360(course_deg + correction),
        inbound_drift_correction_deg=correction,
        inbound_ground_speed_kt=speed_kt,
        inbound_time_s=inbound_s,
        inbound_distance_nm=distance_nm,
        outbound_heading_deg=wrap360(course_deg + 180.0 + leg.heading_deg),
        outbound_correction_deg=wrap180(leg.heading_deg),
        outbound_track_deg=wrap360(course_deg + math.degrees(math.atan2(leg.cross_kt, leg.along_kt))),
        outbound_ground_speed_kt=math.hypot(leg.along_kt, leg.cross_kt),
        outbound_time_s=leg.time_s,
        abeam_after_s=abeam_s,
        outbound_timed_s=first.duration_s + leg.time_s - start_s,
        # Below a hundredth of a degree of drift the ratio says nothing.
        drift_multiple=-leg.heading_deg / correction if abs(correction) > 0.01 else None,
        first_turn_deg=first.angle_deg,
        second_turn_deg=second.angle_deg,
        first_turn_s=first.duration_s,
        second_turn_s=second.duration_s,
        total_s=first.duration_s + leg.time_s + second.duration_s + inbound_s,
        outbound_end_along_nm=end_along,
        outbound_end_cross_nm=end_cross,
        gate_bearing_deg=math.degrees(math.atan2(air.side * end_cross, -end_along)),
        rollout_along_nm=end_along + moved_along,
        rollout_cross_nm=end_cross + moved_cross,
    )


def _after_turn(air: Air, turn: TurnPath, heading_deg: float) -> tuple[float, float]:
    """Displacement over the ground by a whole turn that starts on this heading (from the course)."""
    return _in_turn(air, turn, heading_deg, turn.duration_s)


def _in_turn(air: Air, turn: TurnPath, heading_deg: float, time_s: float) -> tuple[float, float]:
    ahead, right = (float(part) * air.tas_kt / 3600.0 for part in turn.moved_s(np.array(time_s)))
    direction, right = math.radians(heading_deg), air.side * right
    along = ahead * math.cos(direction) - right * math.sin(direction) + air.along_kt * time_s / 3600.0
    cross = ahead * math.sin(direction) + right * math.cos(direction) + air.cross_kt * time_s / 3600.0
    return along, cross


def _abeam_s(
    air: Air, first: TurnPath, correction_deg: float, leg: OutboundLeg, start_along_nm: float
) -> float | None:
    """Find when the aircraft passes abeam the fix, outbound: in the turn, on the leg, or never."""
    if start_along_nm > 1e-9:
        to_go_s = 3600.0 * start_along_nm / -leg.along_kt
        return first.duration_s + to_go_s if to_go_s <= leg.time_s else None
    # Along grows from the fix, as the inbound ground speed is positive, and falls again: one crossing.
    low, high = 1e-3 * first.duration_s, first.duration_s
    return root_between(lambda at: _in_turn(air, first, correction_deg, at)[0], low, high, within=1e-9)


def _nothing(air: Air, course_deg: float) -> ExactCircuit:
    """Report that the inbound course cannot be made good at all."""
    values: dict[str, Any] = {one.name: math.nan for one in fields(ExactCircuit)}
    values |= {
        "exists": False,
        "closes": False,
        "why_not": "the wind is too strong to make the inbound course good at this airspeed",
        "inbound_course_deg": wrap360(course_deg),
        "side": air.side,
        "tas_kt": air.tas_kt,
        "wind_along_kt": air.along_kt,
        "wind_cross_kt": air.cross_kt,
        "turn_rate_dps": air.rate_dps,
        "bank_deg": turn_bank_deg(air.rate_dps, air.tas_kt),
        "roll_s": air.roll_s,
        "abeam_after_s": None,
        "drift_multiple": None,
    }
    return ExactCircuit(**values)
