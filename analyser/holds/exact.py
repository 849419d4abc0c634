"""The exact circuit for a steady wind: the one that closes on the fix and makes its target good.

One circuit closes when what the outbound leg moves over the ground undoes the inbound leg and the drift of
both turns::

    GS_out · T_out = −( GS_in · T_in + W · (time turning) )        (vectors over the ground)

The right-hand side is known once the inbound leg is given: its direction is the outbound track, the wind
triangle turns that into the heading, and its length over the ground speed is the time from wings level.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cached_property

import numpy as np

from analyser.earth.angles import wrap180, wrap360
from analyser.earth.turning import turn_bank_deg
from analyser.frozen import dataclass
from analyser.holds.closing_leg import OutboundLeg, closing_leg
from analyser.holds.kinematics import MOST_STEPS, PathPoints, SteadyFlight, Trajectory, TurnPath
from analyser.holds.root_finding import root_between

#: The search for the shortest circuit stops this near, and gives up beyond this inbound leg, nautical miles.
_FINE_NM, _LONGEST_NM = 1e-4, 500.0
#: The search for a circuit by its outbound end begins with an inbound leg of this length, nautical miles.
_LEAST_INBOUND_NM = 0.05
_TOO_STRONG = "the wind is too strong to make the inbound course good at this airspeed"
#: With less drift than this the ratio of the two corrections says nothing, degrees.
_LEAST_DRIFT_DEG = 0.01


@dataclass(frozen=True)
class ExactCircuit:
    """One lap, fix to fix, in a steady wind.

    Where ``exists`` is False the target cannot be met; the figures are then those of the shortest circuit
    that closes at all, which is what can be flown, and ``why_not`` says so. Where ``closes`` is False too,
    nothing can be flown and every figure is NaN.

    Along is measured from the fix, positive in the inbound direction beyond it; cross is positive right of
    the inbound course as flown inbound. Headings are in the reference of the inbound course and wind given.
    """

    exists: bool
    closes: bool
    #: Empty where the circuit exists.
    why_not: str
    #: What it was computed from; wind TOWARDS, along and across the inbound course.
    inbound_course_deg: float
    side: int
    tas_kt: float
    wind_along_kt: float
    wind_cross_kt: float
    turn_rate_dps: float
    roll_s: float
    #: From wings level on the course to the fix.
    inbound_distance_nm: float = math.nan
    #: Outbound heading minus the reciprocal of the course, positive right.
    outbound_correction_deg: float = math.nan
    #: From wings level to the start of the inbound turn.
    outbound_time_s: float = math.nan
    #: After leaving the fix; None if the inbound turn comes first.
    abeam_after_s: float | None = None

    @cached_property
    def flight(self) -> SteadyFlight:
        """Airspeed, wind and rolling, in the axes of :mod:`kinematics`."""
        wind_kt = complex(self.wind_along_kt, self.side * self.wind_cross_kt)
        return SteadyFlight(self.tas_kt, wind_kt, self.roll_s)

    @property
    def bank_deg(self) -> float:
        """Bank of the turns when established."""
        return turn_bank_deg(self.turn_rate_dps, self.tas_kt)

    @cached_property
    def inbound_drift_correction_deg(self) -> float:
        """Inbound heading minus course, positive right."""
        return self.side * self.flight.correction_deg(0.0) if self.closes else math.nan

    @property
    def inbound_heading_deg(self) -> float:
        """[0, 360)."""
        return wrap360(self.inbound_course_deg + self.inbound_drift_correction_deg)

    @cached_property
    def inbound_ground_speed_kt(self) -> float:
        """Made good along the inbound course."""
        return self.flight.ground_speed_kt(0.0) if self.closes else math.nan

    @property
    def inbound_time_s(self) -> float:
        """From wings level on the course to the fix."""
        return 3600.0 * self.inbound_distance_nm / self.inbound_ground_speed_kt

    @property
    def outbound_heading_deg(self) -> float:
        """[0, 360)."""
        return wrap360(self.inbound_course_deg + 180.0 + self.outbound_correction_deg)

    @cached_property
    def _outbound_kt(self) -> complex:
        return self.flight.velocity_kt(180.0 + self.side * self.outbound_correction_deg)

    @property
    def outbound_track_deg(self) -> float:
        """[0, 360)."""
        off_deg = math.degrees(math.atan2(self.side * self._outbound_kt.imag, self._outbound_kt.real))
        return wrap360(self.inbound_course_deg + off_deg)

    @property
    def outbound_ground_speed_kt(self) -> float:
        """Speed over the ground on the outbound leg."""
        return abs(self._outbound_kt)

    @property
    def outbound_along_kt(self) -> float:
        """Speed made good along the inbound course on the outbound leg, negative: away from the fix."""
        return self._outbound_kt.real

    @property
    def outbound_timed_s(self) -> float:
        """By the rules' clock: from abeam the fix, or wings level where abeam is not met, to the inbound turn."""
        start_s = self.first_turn_s if self.abeam_after_s is None else self.abeam_after_s
        return self.first_turn_s + self.outbound_time_s - start_s

    @property
    def clock_from(self) -> str:
        """Where that clock starts: cut short in a strong wind, a circuit may never come abeam the fix."""
        return "wings level" if self.abeam_after_s is None else "abeam"

    @property
    def turn_in_after_s(self) -> float:
        """When the inbound turn starts, after leaving the fix."""
        return self.first_turn_s + self.outbound_time_s

    @property
    def level_time_s(self) -> float | None:
        """The outbound time from wings level, where it is another one than by the rules' clock, to the second."""
        same = self.abeam_after_s is None or round(self.outbound_timed_s) == round(self.outbound_time_s)
        return None if same or not self.closes else self.outbound_time_s

    @property
    def drift_multiple(self) -> float | None:
        """Outbound correction over inbound correction; None without a crosswind."""
        drift_deg = self.inbound_drift_correction_deg
        return -self.outbound_correction_deg / drift_deg if abs(drift_deg) > _LEAST_DRIFT_DEG else None

    @cached_property
    def first_turn(self) -> TurnPath:
        """The outbound turn."""
        drift_deg = self.inbound_drift_correction_deg
        angle_deg = 180.0 + self.side * (self.outbound_correction_deg - drift_deg)
        return TurnPath(angle_deg, self.turn_rate_dps, self.roll_s)

    @cached_property
    def second_turn(self) -> TurnPath:
        """The inbound turn."""
        return TurnPath(360.0 - self.first_turn.angle_deg, self.turn_rate_dps, self.roll_s)

    @property
    def first_turn_s(self) -> float:
        """How long the outbound turn takes."""
        return self.first_turn.duration_s

    @property
    def second_turn_s(self) -> float:
        """How long the inbound turn takes."""
        return self.second_turn.duration_s

    @property
    def total_s(self) -> float:
        """How long the whole circuit takes."""
        return self.first_turn_s + self.outbound_time_s + self.second_turn_s + self.inbound_time_s

    @cached_property
    def level_nm(self) -> complex:
        """Where the outbound turn ends, in the axes of :mod:`kinematics`."""
        return self.flight.turned_nm(self.first_turn, self.side * self.inbound_drift_correction_deg)

    @cached_property
    def _end_nm(self) -> complex:
        return self.level_nm + self._outbound_kt * self.outbound_time_s / 3600.0

    @property
    def outbound_end_along_nm(self) -> float:
        """Where the inbound turn starts."""
        return self._end_nm.real

    @property
    def outbound_end_cross_nm(self) -> float:
        """Where the inbound turn starts."""
        return self.side * self._end_nm.imag

    @property
    def gate_bearing_deg(self) -> float:
        """Angle between inbound course and bearing of the fix from the outbound end, positive on the usual side."""
        return math.degrees(math.atan2(self._end_nm.imag, -self._end_nm.real))

    @property
    def rollout_nm(self) -> complex:
        """Where the inbound turn ends, in the axes of :mod:`kinematics`."""
        heading_deg = 180.0 + self.side * self.outbound_correction_deg
        return self._end_nm + self.flight.turned_nm(self.second_turn, heading_deg)

    @property
    def rollout_along_nm(self) -> float:
        """Where the inbound turn ends."""
        return self.rollout_nm.real

    def path(self, step_s: float = 1.0) -> PathPoints:
        """Lay the circuit out as points.

        Parameters
        ----------
        step_s : float
            Seconds between points, more where there would be more than :data:`MOST_STEPS`; the corners between
            phases are always among them.

        Returns
        -------
        PathPoints
            ``phase`` counts outbound turn, outbound leg, inbound turn and inbound leg from 0; a corner belongs to
            the phase that ends there.
        """
        step_s = max(step_s, self.total_s / MOST_STEPS)
        start_deg = self.side * self.inbound_drift_correction_deg
        lap = Trajectory(self.flight, self.turn_rate_dps, start_deg, step_s=step_s)
        lap.turn(self.first_turn.angle_deg, 1, 0)
        lap.straight(self.outbound_time_s, 1)
        lap.turn(self.second_turn.angle_deg, 1, 2)
        lap.straight(self.inbound_time_s, 3)
        return lap.points(self.inbound_course_deg, self.side, corners_once=True)


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
    wind_east_kt, wind_north_kt : float
        Wind TOWARDS.
    turn_rate_dps : float
        Of both turns when established, positive.
    roll_s : float
        Time to roll in, and again to roll out; 0 gives the closed form.
    inbound_time_s, inbound_distance_nm, outbound_along_nm : float, optional
        Exactly one: the inbound leg from wings level to the fix, by time or over the ground, or how far from the
        fix along the course the outbound leg ends, whatever inbound leg results.

    Raises ValueError: none or both of the targets given, or a speed, rate or target that is not above zero.
    """
    targets = [one for one in (inbound_time_s, inbound_distance_nm, outbound_along_nm) if one is not None]
    if len(targets) != 1:
        raise ValueError("give inbound_time_s, inbound_distance_nm or outbound_along_nm, exactly one of them")
    if min(tas_kt, turn_rate_dps, *targets) <= 0.0 or roll_s < 0.0 or side not in (1, -1):
        raise ValueError("speed, turn rate and target must be above zero, and side +1 or -1")
    course = math.radians(inbound_course_deg)
    given = ExactCircuit(
        exists=False,
        closes=False,
        why_not=_TOO_STRONG,
        inbound_course_deg=wrap360(inbound_course_deg),
        side=side,
        tas_kt=tas_kt,
        wind_along_kt=wind_east_kt * math.sin(course) + wind_north_kt * math.cos(course),
        wind_cross_kt=wind_east_kt * math.cos(course) - wind_north_kt * math.sin(course),
        turn_rate_dps=turn_rate_dps,
        roll_s=roll_s,
    )
    speed_kt = given.flight.ground_speed_kt(0.0)
    if not speed_kt > 0.0:
        return given
    if outbound_along_nm is not None:
        return _ending_at(given, outbound_along_nm)
    distance_nm = speed_kt * inbound_time_s / 3600.0 if inbound_time_s is not None else targets[0]
    return with_inbound(given, distance_nm)


def with_inbound(given: ExactCircuit, distance_nm: float) -> ExactCircuit:
    """Return the circuit in the same air with an inbound leg of this length, or the shortest that closes.

    The inbound course can be made good; the distance is from wings level on it to the fix.
    """
    leg = _outward(given, distance_nm)
    return _shortest(given, distance_nm) if leg is None else _circuit(given, distance_nm, leg)


def _ending_at(given: ExactCircuit, out_nm: float) -> ExactCircuit:
    """Return the circuit whose outbound leg ends so far from the fix, measured along the course."""
    low = with_inbound(given, _LEAST_INBOUND_NM)
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
    turning_s = 360.0 / given.turn_rate_dps + 2.0 * given.roll_s
    high_nm = low.inbound_distance_nm + 2.0 * (out_nm + turning_s * given.tas_kt / 3600.0)
    inbound_nm = root_between(
        lambda nm: -with_inbound(given, nm).outbound_end_along_nm - out_nm,
        low.inbound_distance_nm,
        high_nm,
        within=1e-7,
    )
    return replace(with_inbound(given, inbound_nm), exists=True, why_not="")


def _outward(given: ExactCircuit, distance_nm: float) -> OutboundLeg | None:
    """Return the closing leg if both heading and track lead outbound: else it is no outbound leg."""
    leg = closing_leg(given.flight, given.turn_rate_dps, distance_nm)
    outward = leg is not None and leg.velocity_kt.real < 0.0 and abs(leg.heading_deg) <= 90.0
    return leg if outward else None


def _shortest(given: ExactCircuit, distance_nm: float) -> ExactCircuit:
    """Lengthen the inbound leg until a circuit closes: the turns alone drift too far for a shorter one."""
    low, high = distance_nm, distance_nm + 0.01
    while _outward(given, high) is None:
        low, high = high, distance_nm + 2.0 * (high - distance_nm)
        if high > _LONGEST_NM:
            return replace(
                given,
                exists=False,
                closes=False,
                why_not=_TOO_STRONG,
                inbound_distance_nm=math.nan,
                outbound_correction_deg=math.nan,
                outbound_time_s=math.nan,
                abeam_after_s=None,
            )
    while high - low > _FINE_NM:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if _outward(given, middle) is not None else (middle, high)
    leg = _outward(given, high)
    assert leg is not None
    found = _circuit(given, high, leg)
    asked_s = 3600.0 * distance_nm / found.inbound_ground_speed_kt
    outbound = f"{found.outbound_time_s:.0f} s outbound" if leg.time_s >= 1.0 else "one continuous turn"
    why_not = (
        f"no circuit closes with {asked_s:.0f} s ({distance_nm:.1f} NM) inbound, because the wind drifts "
        f"the aircraft too far in the turns; the shortest that closes has {found.inbound_time_s:.0f} s "
        f"({high:.1f} NM) inbound and {outbound}"
    )
    return replace(found, exists=False, why_not=why_not)


def _circuit(given: ExactCircuit, distance_nm: float, leg: OutboundLeg) -> ExactCircuit:
    found = replace(
        given,
        exists=True,
        closes=True,
        why_not="",
        inbound_distance_nm=distance_nm,
        outbound_correction_deg=wrap180(given.side * leg.heading_deg),
        outbound_time_s=leg.time_s,
        abeam_after_s=None,
    )
    return replace(found, abeam_after_s=_abeam_s(found))


def _abeam_s(found: ExactCircuit) -> float | None:
    """Find when the aircraft passes abeam the fix, outbound: in the turn, on the leg, or never."""
    first = found.first_turn
    if found.level_nm.real > 1e-9:
        to_go_s = 3600.0 * found.level_nm.real / -found.outbound_along_kt
        return first.duration_s + to_go_s if to_go_s <= found.outbound_time_s else None

    def along_nm(at_s: float) -> float:
        heading_deg = found.side * found.inbound_drift_correction_deg
        return float(found.flight.in_turn_nm(first, heading_deg, np.array(at_s)).real)

    # Along grows from the fix, as the inbound ground speed is positive, and falls again: one crossing.
    return root_between(along_nm, 1e-3 * first.duration_s, first.duration_s, within=1e-9)
