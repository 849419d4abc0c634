"""What the pilot would do on the next circuit: the decisions of the latest one, from where and how it ended."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import replace

from analyser.earth.turning import turn_bank_deg, turn_rate_dps
from analyser.frozen import dataclass
from analyser.grading.budget import Budget
from analyser.grading.lap import Lap
from analyser.grading.replay import Axes, Decisions, FlownDecisions, as_right, spreads
from analyser.grading.terms import Clock
from analyser.holds.exact import ExactCircuit
from analyser.holds.ideal_circuit import ideal_circuit

#: The heading over the fix is read this long before passing it, seconds: a hand is quicker than a turn is seen.
_STEADY_S = 3.0


@dataclass(frozen=True)
class Habits:
    """The next circuit as the pilot would fly it, and as it should be flown."""

    #: The latest circuit that tells.
    lap: Lap
    #: What is right in its wind, at the speed to fly.
    exact: ExactCircuit
    #: Times by the first of the clocks.
    taken: Decisions
    right: Decisions
    #: The outbound time by each clock that the pilot may have used: nobody knows which it was.
    times: Mapping[Clock, tuple[float, float]]
    #: The air, at the speed that is flown.
    flown: FlownDecisions
    #: How far one sigma of each decision's measurement moves the roll-out, by each clock.
    sure_nm: Mapping[Clock, Mapping[str, float]]
    #: The same pilot at the speed asked for, where another was flown.
    at_speed: Habits | None = None

    def misses(self, righted: Collection[str]) -> list[complex]:
        """Fly the next circuit with some decisions taken rightly, ``"airspeed"`` too where another was flown.

        By each clock: where the inbound turn ends, along + i·across to the hold's side, from where it should.
        """
        if "airspeed" in righted and self.at_speed is not None:
            return self.at_speed.misses([one for one in righted if one != "airspeed"])
        changed = {one: getattr(self.right, one) for one in righted if one != "outbound_time"}
        found = []
        decided = replace(self.taken, **changed)
        for clock, (taken_s, right_s) in self.times.items():
            time = right_s if "outbound_time" in righted else taken_s
            flown = _timed_by(replace(self.flown, decisions=decided), clock, time)
            found.append(flown.rollout - self.exact.rollout_nm)
        return found

    def bank_deg(self, which: str) -> float:
        """Return the bank held in a turn, by its decision's name."""
        rate_dps: float = getattr(self.taken, which)
        return turn_bank_deg(rate_dps, self.flown.flight.tas_kt)


def _timed_by(flown: FlownDecisions, clock: Clock, time: float) -> FlownDecisions:
    return replace(flown, decisions=replace(flown.decisions, outbound_time=time), clock=clock)


def habits_of(lap: Lap, budget: Budget, *, asked_tas_kt: float | None) -> Habits | None:
    """Read the habits off a complete circuit with an exact circuit that closes; None where its end is not known.

    ``asked_tas_kt`` is there where another airspeed was surely asked for than flown.
    """
    exact, axes = lap.ideal.circuit, budget.axes
    taken = _from_the_end(lap, budget)
    flown = replace(budget.flown, decisions=taken)
    if not flown.is_finite():
        return None
    times = _times(lap, budget)
    found = Habits(
        lap,
        exact,
        taken,
        replace(budget.right.decisions, fix_crossing=0j),
        times,
        flown,
        {
            clock: spreads(lap, _timed_by(budget.flown, clock, taken_s))
            for clock, (taken_s, _) in times.items()
        },
    )
    if asked_tas_kt is None:
        return found
    return replace(found, at_speed=_at_speed(found, axes, asked_tas_kt))


def _from_the_end(lap: Lap, budget: Budget) -> Decisions:
    """Let the next circuit begin where this one ended; a roll-out on a cut towards the course is no habit."""
    axes, motion, end_s = budget.axes, lap.flown.motion, lap.circuit.end_s
    taken, right = budget.flown.decisions, budget.right.decisions
    before_s = end_s + min(taken.outbound_turn_start, 0.0) - _STEADY_S
    cuts = axes.at(budget.instants.rollout_s).imag * (taken.rollout_heading - right.rollout_heading) <= 0.0
    return replace(
        taken,
        fix_crossing=complex(0.0, axes.at(end_s).imag),
        arrival_heading=axes.heading(motion.at("heading_deg", before_s), 0.0),
        rollout_heading=right.rollout_heading if cuts else taken.rollout_heading,
    )


def _times(lap: Lap, budget: Budget) -> dict[Clock, tuple[float, float]]:
    at, circuit, exact = budget.instants, lap.circuit, lap.ideal.circuit
    if budget.flown.clock == "length":
        return {"length": (budget.flown.decisions.outbound_time, budget.right.decisions.outbound_time)}
    times: dict[Clock, tuple[float, float]] = {}
    if circuit.abeam_s is not None and exact.abeam_after_s is not None:
        times["abeam"] = (at.turn_in_s - max(circuit.abeam_s, at.fix_s), exact.outbound_timed_s)
    return times | {"wings level": (at.turn_in_s - at.level_s, exact.outbound_time_s)}


def _at_speed(habits: Habits, axes: Axes, tas_kt: float) -> Habits | None:
    """Put the pilot at another airspeed: the banks stay, so the rates change; what is right is solved anew."""
    lap = habits.lap
    exact = ideal_circuit(
        lap.flown.hold,
        lap.regime,
        tas_kt=tas_kt,
        altitude_ft=lap.terms.altitude_ft,
        wind_east_kt=lap.circuit.wind_east_kt,
        wind_north_kt=lap.circuit.wind_north_kt,
    )
    if not exact.closes:
        return None
    at_speed = replace(
        lap, ideal=replace(lap.ideal, circuit=exact), circuit=replace(lap.circuit, tas_kt=tas_kt)
    )
    right = as_right(at_speed, axes)
    rates = {
        name: turn_rate_dps(habits.bank_deg(name), tas_kt)
        for name in ("outbound_turn_bank", "inbound_turn_bank")
    }
    taken = replace(habits.taken, **rates)
    solved = {"abeam": exact.outbound_timed_s, "wings level": exact.outbound_time_s}
    times: dict[Clock, tuple[float, float]] = {
        clock: (flown, solved.get(clock, exact.outbound_end_along_nm))
        for clock, (flown, _) in habits.times.items()
        if clock != "abeam" or exact.abeam_after_s is not None
    }
    flight = replace(habits.flown.flight, tas_kt=tas_kt, roll_s=exact.roll_s)
    flown = replace(habits.flown, decisions=taken, flight=flight)
    return Habits(at_speed, exact, taken, right.decisions, times, flown, habits.sure_nm)


def largest(misses: Collection[complex]) -> float:
    """Return the largest of some misses, nautical miles."""
    return max((abs(one) for one in misses), default=math.nan)
