"""Leaving the fix at a given time: how far to cut the circuits, and when to turn in.

What may be changed is the length of the outbound leg, and with it the outbound heading so that the circuit
still closes. What may not: bank, speed, or a leg longer than the one the airspace is protected for.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from analyser.frozen import dataclass
from analyser.holds.exact import ExactCircuit, with_inbound
from analyser.holds.root_finding import root_between

#: A planned time of leaving is met this well, seconds.
_IN_TIME_S = 1e-3


@dataclass(frozen=True)
class LeavePlan:
    """How to be over the fix when a given time has passed since the last passage."""

    #: Time from the fix passage to the time of leaving.
    wanted_s: float
    feasible: bool
    #: Empty where feasible.
    why_not: str
    #: To fly at full length first.
    full_circuits: int
    #: To fly after them, in order (at most a few, all alike).
    shortened: tuple[ExactCircuit, ...]
    #: When the fix is passed by this plan: the wanted time where feasible, else the nearest possible.
    leaves_s: float

    @property
    def circuits(self) -> int:
        """How many circuits in all."""
        return self.full_circuits + len(self.shortened)


@lru_cache(maxsize=64)
def shortest_circuit(exact: ExactCircuit, least_inbound_s: float) -> ExactCircuit:
    """Return the shortest circuit in the same air as one that closes.

    ``least_inbound_s`` must be left on the inbound leg after the turn: Doc 8168 Vol II II-4-1-4. In strong wind it is
    what the drift of the turns leaves; never longer than the full one.
    """
    found = with_inbound(exact, least_inbound_s * exact.inbound_ground_speed_kt / 3600.0)
    # Where the turns drift too far, the solver itself answers with the shortest that closes.
    return found if found.total_s <= exact.total_s else exact


def plan_leaving(exact: ExactCircuit, wanted_s: float, *, least_inbound_s: float) -> LeavePlan:
    """Plan to pass the fix a given time, not below zero, after its last passage.

    Full circuits, as long as the airspace is protected for, come first and the last is shortened; where that one
    would be too short, the last two (or more) share what is left. Every one leaves ``least_inbound_s`` after the
    turn. Where the time cannot be met, the plan is the nearest that can, and why.
    """
    full_s, shortest = exact.total_s, shortest_circuit(exact, least_inbound_s)
    if wanted_s == 0.0:
        return LeavePlan(0.0, True, "", 0, (), 0.0)
    count = math.ceil(wanted_s / full_s - 1e-9)
    if wanted_s < count * shortest.total_s - 1e-6:
        return _nearest(exact, shortest, wanted_s, count)
    # The fewest short circuits at the end that are each long enough to be flown.
    for short in range(1, count + 1):
        each_s = (wanted_s - (count - short) * full_s) / short
        if each_s >= shortest.total_s - 1e-6:
            break
    if each_s >= full_s - 0.05:
        return LeavePlan(wanted_s, True, "", count, (), count * full_s)
    last = _lasting(exact, shortest, each_s)
    leaves_s = (count - short) * full_s + short * last.total_s
    return LeavePlan(wanted_s, True, "", count - short, (last,) * short, leaves_s)


def turn_in_table(
    exact: ExactCircuit, step_s: float = 10.0, *, least_inbound_s: float
) -> tuple[ExactCircuit, ...]:
    """List the circuits that lead back over the fix at times ``step_s`` apart: shortest first, the full one last.

    Every one leaves ``least_inbound_s`` after the turn.
    """
    shortest = shortest_circuit(exact, least_inbound_s)
    first_s = step_s * math.ceil(shortest.total_s / step_s)
    back_s = np.arange(first_s, exact.total_s - 1.0, step_s)
    found = [_lasting(exact, shortest, float(time_s)) for time_s in back_s]
    return (*found, exact)


def _nearest(exact: ExactCircuit, shortest: ExactCircuit, wanted_s: float, count: int) -> LeavePlan:
    """Leave early after full circuits, or late after the shortest ones, whichever is nearer."""
    early_s, late_s = (count - 1) * exact.total_s, count * shortest.total_s
    early = wanted_s - early_s <= late_s - wanted_s
    why_not = f"the shortest circuit takes {late_s:.0f} s: leave without another, or be that late"
    if count > 1:
        full = "1 full circuit takes" if count == 2 else f"{count - 1} full circuits take"
        why_not = (
            f"{full} {early_s:.0f} s and {count} of the shortest {late_s:.0f} s: nothing between can be flown "
            "without changing bank or speed"
        )
    if early:
        return LeavePlan(wanted_s, False, why_not, count - 1, (), early_s)
    return LeavePlan(wanted_s, False, why_not, 0, (shortest,) * count, late_s)


def _lasting(exact: ExactCircuit, shortest: ExactCircuit, total_s: float) -> ExactCircuit:
    """Find the circuit of a given whole time, which grows with the inbound leg."""
    if abs(total_s - shortest.total_s) < _IN_TIME_S:
        return shortest
    at_nm = root_between(
        lambda nm: with_inbound(exact, nm).total_s - total_s,
        shortest.inbound_distance_nm,
        exact.inbound_distance_nm,
        within=_IN_TIME_S,
    )
    return with_inbound(exact, at_nm)
