"""A circuit as the pilot decides it: eight decisions that, with wind and airspeed, give the roll-out point.

Points, velocities and headings are in the axes of :mod:`analyser.holds.kinematics`; the outbound leg is near 180, the
roll-out near 360.

The outbound clock is one of the decisions, by the rules from passing abeam the fix. That is why whatever
happened before abeam costs nothing along the course if the pilot timed rightly: the clock takes it out.
"""

from __future__ import annotations

import cmath
from functools import cached_property, lru_cache

import numpy as np

from analyser.frozen import dataclass
from analyser.grading.terms import Clock
from analyser.holds.kinematics import SteadyFlight, TurnPath

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
    flight : SteadyFlight
    clock : "abeam", "wings level" or "length"
    """

    decisions: Decisions
    flight: SteadyFlight
    clock: Clock

    def is_finite(self) -> bool:
        """Return whether every decision is known."""
        return all(cmath.isfinite(getattr(self.decisions, name)) for name in DECISIONS)

    @property
    def turn_start(self) -> complex:
        """Where the outbound turn begins."""
        one = self.decisions
        return (
            one.fix_crossing + self.flight.velocity_kt(one.arrival_heading) * one.outbound_turn_start / 3600.0
        )

    @property
    def first_turn(self) -> TurnPath:
        """The outbound turn."""
        one = self.decisions
        angle = max(one.outbound_heading - one.arrival_heading, 0.0)
        return TurnPath(angle, one.outbound_turn_bank, self.flight.roll_s)

    @property
    def second_turn(self) -> TurnPath:
        """The inbound turn."""
        one = self.decisions
        angle = max(one.rollout_heading - one.outbound_heading, 0.0)
        return TurnPath(angle, one.inbound_turn_bank, self.flight.roll_s)

    @cached_property
    def level(self) -> complex:
        """Where the outbound turn ends."""
        return self.turn_start + self.flight.turned_nm(self.first_turn, self.decisions.arrival_heading)

    @cached_property
    def abeam_after_level_s(self) -> float:
        """When the fix is passed abeam, seconds after wings level; negative where still in the turn."""
        if self.level.real > 0.0:
            away = self.flight.velocity_kt(self.decisions.outbound_heading).real
            return -self.level.real * 3600.0 / away if away < 0.0 else 0.0
        return _abeam_in_turn_s(self.flight, self.first_turn, self.decisions.arrival_heading, self.turn_start)

    @cached_property
    def leg_s(self) -> float:
        """Outbound leg from wings level to the start of the inbound turn."""
        until = self.decisions.outbound_time
        if self.clock == "wings level":
            return until
        if self.clock == "abeam":
            return until + self.abeam_after_level_s
        away = self.flight.velocity_kt(self.decisions.outbound_heading).real
        return (until - self.level.real) * 3600.0 / away

    @property
    def turn_in(self) -> complex:
        """Where the inbound turn begins."""
        return self.level + self.flight.velocity_kt(self.decisions.outbound_heading) * self.leg_s / 3600.0

    @property
    def rollout(self) -> complex:
        """Where the inbound turn ends."""
        return self.turn_in + self.flight.turned_nm(self.second_turn, self.decisions.outbound_heading)


@lru_cache(maxsize=1024)
def _abeam_in_turn_s(flight: SteadyFlight, turn: TurnPath, heading_deg: float, start: complex) -> float:
    """Find the last crossing of the abeam line within a turn, outbound; 0 (wings level) where none."""
    time_s = np.linspace(0.0, turn.duration_s, 181)
    along = start.real + flight.in_turn_nm(turn, heading_deg, time_s).real
    crossed = np.flatnonzero((along[:-1] > 0.0) & (along[1:] <= 0.0))
    if crossed.size == 0:
        return 0.0
    i = int(crossed[-1])
    share = along[i] / (along[i] - along[i + 1])
    return float(time_s[i] + share * (time_s[i + 1] - time_s[i]) - turn.duration_s)
