"""A circuit as the pilot decides it: eight decisions that, with wind and airspeed, give the roll-out point.

Plane numbers stand for points and velocities: the real part lies along the inbound course (positive
inbound), the imaginary part across it, positive to the side the hold turns to. So a left-hand hold is
computed as a right-hand one. Angles are measured from the inbound course, positive in the hold's direction
of turn; the outbound leg is near 180, the roll-out near 360.

The outbound clock is one of the decisions, by the rules from passing abeam the fix. That is why whatever
happened before abeam costs nothing along the course if the pilot timed rightly: the clock takes it out.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from analyser.grading.terms import Clock
from analyser.holds.turn_path import TurnPath, chord_s

#: The decisions, in the order in which they are taken; each is a cause in the error budget.
DECISIONS = (
    "fix_crossing",
    "arrival_heading",
    "outbound_turn_start",
    "outbound_turn_bank",
    "outbound_heading",
    "outbound_time",
    "inbound_turn_bank",
    "rollout_heading",
)


@dataclass(frozen=True)
class Air:
    """What the pilot does not decide within a circuit.

    Attributes
    ----------
    tas_kt : float
    wind : complex
        Mean wind TOWARDS, knots.
    roll_s : float
        Time to roll in, and again to roll out.
    clock : "abeam", "wings level" or "length"
    """

    tas_kt: float
    wind: complex
    roll_s: float
    clock: Clock

    def velocity_kt(self, heading_deg: float) -> complex:
        """Return the velocity over the ground on a heading."""
        return cmath.rect(self.tas_kt, math.radians(heading_deg)) + self.wind


@dataclass(frozen=True)
class Decisions:
    """What was flown, or should have been.

    Attributes
    ----------
    fix_crossing : complex
        Position on passing the fix, nautical miles.
    arrival_heading : float
        Heading at the start of the outbound turn.
    outbound_turn_start : float
        Seconds from passing the fix to leaving level.
    outbound_turn_bank, inbound_turn_bank : float
        The turn rate that the bank gives, degrees per second.
    outbound_heading : float
    outbound_time : float
        Seconds by the clock; along the course, nautical miles, where a length ends the leg.
    rollout_heading : float
        Heading at the end of the inbound turn.
    """

    fix_crossing: complex
    arrival_heading: float
    outbound_turn_start: float
    outbound_turn_bank: float
    outbound_heading: float
    outbound_time: float
    inbound_turn_bank: float
    rollout_heading: float


@dataclass(frozen=True)
class FlownDecisions:
    """A circuit that follows from decisions.

    Attributes
    ----------
    decisions : Decisions
    air : Air
    """

    decisions: Decisions
    air: Air

    def is_finite(self) -> bool:
        """Return whether every decision is known."""
        return all(cmath.isfinite(getattr(self.decisions, name)) for name in DECISIONS)

    @property
    def turn_start(self) -> complex:
        """Where the outbound turn begins."""
        one = self.decisions
        return one.fix_crossing + self.air.velocity_kt(one.arrival_heading) * one.outbound_turn_start / 3600.0

    @property
    def first_turn(self) -> TurnPath:
        """The outbound turn."""
        one = self.decisions
        angle = max(one.outbound_heading - one.arrival_heading, 0.0)
        return TurnPath(angle, one.outbound_turn_bank, self.air.roll_s)

    @property
    def second_turn(self) -> TurnPath:
        """The inbound turn."""
        one = self.decisions
        angle = max(one.rollout_heading - one.outbound_heading, 0.0)
        return TurnPath(angle, one.inbound_turn_bank, self.air.roll_s)

    @cached_property
    def level(self) -> complex:
        """Where the outbound turn ends."""
        return self.turn_start + turned(self.air, self.first_turn, self.decisions.arrival_heading)

    @cached_property
    def abeam_after_level_s(self) -> float:
        """When the fix is passed abeam, seconds after wings level; negative where still in the turn."""
        if self.level.real > 0.0:
            away = self.air.velocity_kt(self.decisions.outbound_heading).real
            return -self.level.real * 3600.0 / away if away < 0.0 else 0.0
        return _abeam_in_turn_s(self.air, self.first_turn, self.decisions.arrival_heading, self.turn_start)

    @cached_property
    def leg_s(self) -> float:
        """Outbound leg from wings level to the start of the inbound turn."""
        until = self.decisions.outbound_time
        if self.air.clock == "wings level":
            return until
        if self.air.clock == "abeam":
            return until + self.abeam_after_level_s
        away = self.air.velocity_kt(self.decisions.outbound_heading).real
        return (until - self.level.real) * 3600.0 / away

    @property
    def turn_in(self) -> complex:
        """Where the inbound turn begins."""
        return self.level + self.air.velocity_kt(self.decisions.outbound_heading) * self.leg_s / 3600.0

    @property
    def rollout(self) -> complex:
        """Where the inbound turn ends."""
        return self.turn_in + turned(self.air, self.second_turn, self.decisions.outbound_heading)


def turned(air: Air, turn: TurnPath, heading_deg: float) -> complex:
    """Return the displacement over the ground by a whole turn that starts on a heading.

    Parameters
    ----------
    air : Air
    turn : TurnPath
    heading_deg : float

    Returns
    -------
    complex
        Nautical miles.
    """
    # A turn that rolls out as it rolled in is symmetrical: it displaces along its middle heading.
    length = _chord_s(turn.angle_deg, turn.rate_dps, turn.roll_s) * air.tas_kt / 3600.0
    through_air = cmath.rect(length, math.radians(heading_deg + 0.5 * turn.angle_deg))
    return through_air + air.wind * turn.duration_s / 3600.0


@lru_cache(maxsize=1024)
def _chord_s(angle_deg: float, rate_dps: float, roll_s: float) -> float:
    return float(chord_s(np.array(angle_deg), rate_dps, roll_s))


@lru_cache(maxsize=1024)
def _abeam_in_turn_s(air: Air, turn: TurnPath, heading_deg: float, start: complex) -> float:
    """Find the last crossing of the abeam line within a turn, outbound; 0 (wings level) where none."""
    time_s = np.linspace(0.0, turn.duration_s, 181)
    ahead, right = turn.moved_s(time_s)
    path = (ahead + 1j * right) * air.tas_kt / 3600.0 * cmath.rect(1.0, math.radians(heading_deg))
    along = start.real + path.real + air.wind.real * time_s / 3600.0
    crossed = np.flatnonzero((along[:-1] > 0.0) & (along[1:] <= 0.0))
    if crossed.size == 0:
        return 0.0
    i = int(crossed[-1])
    share = along[i] / (along[i] - along[i + 1])
    return float(time_s[i] + share * (time_s[i + 1] - time_s[i]) - turn.duration_s)
