"""The error budget: what each fault of a circuit cost at the roll-out and in inbound time.

How it is reckoned. Eight decisions of the pilot (:mod:`replay`) give the roll-out point in the mean wind at
the mean airspeed; the exact circuit is the same eight decisions taken rightly. What one decision cost is how
far the roll-out moves when it is put right, averaged over all orders in which the eight could be put right.
So the shares add up exactly, whichever faults go together, and two pilots with the same faults get the same
shares. What no decision explains is found by replaying the measured headings, airspeed and wind
(:mod:`replay`): unsteady flying, airspeed that wandered, wind that changed. Last comes the inbound leg: its
time is too long or short because the roll-out lay elsewhere along the course, because flying off the
cross-track error takes a detour (both belong to what moved the roll-out), and for the rest by itself.

From a share of the error to what was flown and what was right, in plain words: nothing is advised here. With one
cause put right and the others left, the next circuit may end worse; what to change is chosen by flying it ahead
(:mod:`analyser.grading.next_time`).

References
----------
L. S. Shapley, "A value for n-person games", Contributions to the Theory of Games II, 1953 (the averaging
over orders; from memory).
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Collection
from dataclasses import replace
from itertools import product

from analyser.earth.angles import wrap180
from analyser.frozen import dataclass
from analyser.grading.grading_thresholds import BUDGET, LAP
from analyser.grading.lap import Lap, course_doubt
from analyser.grading.legs_and_turns import bank_off_deg
from analyser.grading.replay import (
    DECISIONS,
    Axes,
    Decisions,
    FloatArray,
    FlownDecisions,
    Instants,
    as_right,
    as_taken,
    instants_of,
    reflown,
    replayed,
    spreads,
)
from analyser.grading.wording import Advice, Number, from_wings_level
from analyser.holds.exact import ExactCircuit

#: Causes that are no decision, in the order in which they are found.
FOUND = ("unsteadiness", "airspeed", "wind_change", "measurement")
CAUSES = (*DECISIONS, *FOUND, "inbound_leg")


@dataclass(frozen=True)
class Cost:
    """What one cause cost."""

    #: One of :data:`CAUSES`. ``"measurement"`` is by how much the log's positions and velocities disagree;
    #: ``"inbound_leg"`` is what happened after the roll-out.
    cause: str
    #: Share of the roll-out error: positive right of the inbound course, and positive too far inbound.
    cross_track_nm: float
    along_track_nm: float
    #: Share of the inbound time's error, positive too long; None where the fix was not reached.
    time_s: float | None
    #: Share of the error at the end of the circuit.
    end_cross_track_nm: float | None
    end_along_track_nm: float | None
    #: How sure the share is: how far the roll-out moves by one sigma of what the cause is measured by.
    sd_nm: float
    #: What was flown and what was right; None where the share is too small to mention, is nobody's fault, or lies
    #: within what the log can tell.
    advice: Advice | None = None
    #: 1 for what is said first; None beyond the most that is said.
    rank: int | None = None

    @property
    def size_nm(self) -> float:
        """How far the roll-out was moved."""
        return math.hypot(self.cross_track_nm, self.along_track_nm)

    def weight_nm(self, ground_speed_kt: float) -> float:
        """Weigh the cost: the way at the roll-out, or what the lost time would have covered inbound."""
        return max(self.size_nm, abs(self.time_s or 0.0) * ground_speed_kt / 3600.0)


@dataclass(frozen=True)
class Budget:
    """The budget of one circuit."""

    #: In the order of :data:`CAUSES`; their sums are the errors below.
    costs: tuple[Cost, ...]
    #: Measured error at the roll-out.
    cross_track_nm: float
    along_track_nm: float
    #: Measured error of the inbound time.
    time_s: float | None
    #: Measured error at the end of the circuit.
    end_cross_track_nm: float | None
    end_along_track_nm: float | None
    #: The decisions as taken, and as they should have been.
    flown: FlownDecisions
    right: FlownDecisions
    axes: Axes
    instants: Instants

    def righted(self, causes: Collection[str]) -> FlownDecisions:
        """Return the decisions with some of :data:`DECISIONS` taken rightly."""
        right = {cause: getattr(self.right.decisions, cause) for cause in causes if cause in DECISIONS}
        return replace(self.flown, decisions=replace(self.flown.decisions, **right))

    def reflown(self, causes: Collection[str]) -> tuple[FloatArray, FloatArray]:
        """Lay out the measured circuit as a path with some of :data:`DECISIONS` put right, (n,) east and north."""
        return reflown(self.axes, self.instants, self.flown, self.righted(causes))

    def rollout(self, causes: Collection[str]) -> tuple[float, float]:
        """Return where such a circuit rolls out: right of the inbound course and along it, nautical miles."""
        moved = self.righted(causes).rollout - self.flown.rollout
        there = self.axes.at(self.instants.rollout_s) + moved
        return self.axes.side * there.imag, there.real

    def faults(self, least_nm: float) -> tuple[str, ...]:
        """Name the decisions that moved the roll-out by so much, the most costly first."""
        costs = sorted(self.costs, key=lambda cost: -cost.size_nm)
        return tuple(cost.cause for cost in costs if cost.cause in DECISIONS and cost.size_nm >= least_nm)


def error_budget(lap: Lap) -> Budget | str:
    """Split the error of a circuit into its causes; or say in words why it cannot be."""
    # What a heading was to be leans on the course: an error as large as all that is allowed is no measurement.
    if doubt := course_doubt(lap.flown.course_sd_deg, lap.standard.heading.tolerance_deg):
        return doubt
    instants = instants_of(lap)
    if isinstance(instants, str):
        return instants
    if not lap.ideal.circuit.closes:
        return lap.ideal.circuit.why_not
    axes = Axes(lap.frame, lap.flown.hold.inbound_course_true_deg, lap.flown.hold.side)
    taken, right = as_taken(lap, axes, instants), as_right(lap, axes)
    if not (taken.is_finite() and cmath.isfinite(rollout := axes.at(instants.rollout_s))):
        return "headings, turns or positions are not known for this circuit"
    moved = dict(zip(DECISIONS, _averaged(taken, right), strict=True))
    moved |= _found(lap, axes, instants, taken, rollout)
    if not all(map(cmath.isfinite, moved.values())):
        return "airspeed or wind are not known all the way round"
    return _budget(lap, axes, instants, taken, right, moved, rollout)


def _averaged(taken: FlownDecisions, right: FlownDecisions) -> list[complex]:
    """Average over all orders what putting each decision right moves the roll-out by."""
    count = len(DECISIONS)
    values = [(getattr(right.decisions, name), getattr(taken.decisions, name)) for name in DECISIONS]
    rollout = {
        chosen: FlownDecisions(
            Decisions(*(pair[k] for pair, k in zip(values, chosen, strict=True))), taken.flight, taken.clock
        ).rollout
        for chosen in product((0, 1), repeat=count)
    }
    weights = [
        math.factorial(k) * math.factorial(count - 1 - k) / math.factorial(count) for k in range(count)
    ]
    shares = [0j] * count
    for chosen, there in rollout.items():
        for i in range(count):
            if chosen[i] == 0:
                with_it = (*chosen[:i], 1, *chosen[i + 1 :])
                shares[i] += weights[sum(chosen)] * (rollout[with_it] - there)
    return shares


def _found(
    lap: Lap, axes: Axes, at: Instants, taken: FlownDecisions, measured: complex
) -> dict[str, complex]:
    """Find what no decision explains, each by a replay of its own."""
    series: tuple[Collection[str], ...] = ((), ("airspeed",), ("airspeed", "wind"))
    replays = [replayed(lap.flown.motion, axes, at, taken, measured=one) for one in series]
    ends = [taken.rollout, *replays, measured]
    return {cause: after - before for cause, before, after in zip(FOUND, ends, ends[1:], strict=False)}


def _budget(
    lap: Lap,
    axes: Axes,
    instants: Instants,
    taken: FlownDecisions,
    right: FlownDecisions,
    moved: dict[str, complex],
    rollout: complex,
) -> Budget:
    exact, circuit, side = lap.ideal.circuit, lap.circuit, axes.side
    speed_kt, spread = exact.inbound_ground_speed_kt, spreads(lap, taken)
    # The exact circuit's own roll-out, not the model's, so that both must agree for the sums to hold.
    error = rollout - exact.rollout_nm
    # Closing |c| at an angle θ is longer than the same way along the course by |c|·tan(θ/2).
    detour = math.copysign(1.0, error.imag) * math.tan(math.radians(0.5 * BUDGET.intercept_deg))
    times = {cause: (-share.real + share.imag * detour) * 3600.0 / speed_kt for cause, share in moved.items()}
    done = circuit.complete
    time_error = circuit.end_s - instants.rollout_s - exact.inbound_time_s if done else None
    end = axes.at(circuit.end_s) if done else None
    costs = [
        Cost(
            cause,
            side * share.imag,
            share.real,
            times[cause] if done else None,
            side * share.imag if done else None,
            share.real if done else None,
            spread[cause],
        )
        for cause, share in moved.items()
    ]
    if time_error is not None and end is not None:
        rest, rest_s = end - error, time_error - sum(times.values())
        costs.append(
            Cost("inbound_leg", 0.0, 0.0, rest_s, side * rest.imag, rest.real, spread["inbound_leg"])
        )
    return Budget(
        tuple(costs),
        side * error.imag,
        error.real,
        time_error,
        None if end is None else side * end.imag,
        None if end is None else end.real,
        taken,
        right,
        axes,
        instants,
    )


#: What each decision is scored as: what of a circuit could not be judged is not put into words either.
_SCORED_AS = {
    "fix_crossing": "track",
    "arrival_heading": "wind_correction",
    "outbound_heading": "wind_correction",
    "outbound_time": "timing",
    "rollout_heading": "track",
}


def with_advice(lap: Lap, budget: Budget, unsure: Collection[str] = ()) -> Budget:
    """Put each cost worth it into words, and rank the most costly; items that the log is ``unsure`` of are left out."""
    limits, speed = lap.scoring.advice, lap.ideal.circuit.inbound_ground_speed_kt
    weights = {cost.cause: cost.weight_nm(speed) for cost in budget.costs}
    told: dict[str, Advice] = {}
    for cost in budget.costs:
        worth = cost.size_nm >= limits.least_nm or abs(cost.time_s or 0.0) >= limits.least_s
        worth = worth and weights[cost.cause] >= limits.least_share * max(weights.values())
        # Words on what may as well be the log's uncertainty would be a guess.
        sure = cost.size_nm >= 2.0 * cost.sd_nm and _SCORED_AS.get(cost.cause) not in unsure
        advice = _ADVISERS[cost.cause](lap, budget) if worth and sure and cost.cause in _ADVISERS else None
        if advice is not None and _is_flyable(lap, advice):
            told[cost.cause] = advice
    order = sorted(told, key=lambda cause: -weights[cause])[: limits.at_most]
    ranks = {cause: rank for rank, cause in enumerate(order, start=1)}
    costs = (replace(cost, advice=told.get(cost.cause), rank=ranks.get(cost.cause)) for cost in budget.costs)
    return replace(budget, costs=tuple(costs))


def _is_flyable(lap: Lap, advice: Advice) -> bool:
    """Return whether a hand can fly the difference: nobody is helped by two seconds or one degree."""
    fly, flown, bands = advice.fly, advice.flown, lap.scoring.learning
    if fly.reference is not None:
        return abs(wrap180(fly.value - flown.value)) >= bands.heading_band_deg
    least = {"s": bands.time_band_s, "°": 0.5 * lap.scoring.bank.tolerance_deg}.get(fly.unit, 0.0)
    return abs(fly.value - flown.value) >= least and fly.said() != flown.said()


def _was_turning(lap: Lap) -> bool:
    """Tell whether the fix was passed in a turn: where, and on what heading, then comes of when it began or ended."""
    return (
        abs(lap.flown.motion.at("bank_deg", lap.circuit.start_s)) > LAP.turning_deg and not lap.turned_before
    )


def _fix_crossing(lap: Lap, budget: Budget) -> Advice | None:
    if _was_turning(lap) or lap.turned_before:
        return None
    there = budget.flown.decisions.fix_crossing
    side = "right" if there.imag * budget.axes.side > 0 else "left"
    words = f"You passed {{flown}} {side} of the fix before turning."
    return Advice(words, Number(0.0, "NM"), Number(abs(there), "NM"))


def _headings(budget: Budget, decision: str) -> tuple[Number, Number]:
    """Return a heading that was right, and the one that was flown, on the map."""
    right, flown = (
        budget.axes.heading_on_map(getattr(one.decisions, decision)) for one in (budget.right, budget.flown)
    )
    return Number(right, "°", "true"), Number(flown, "°", "true")


def _arrival_heading(lap: Lap, budget: Budget) -> Advice | None:
    if _was_turning(lap):
        return None
    fly, flown = _headings(budget, "arrival_heading")
    if lap.first:
        entry = lap.flown.entry
        if entry is None or entry.flown not in ("parallel", "offset"):
            # A direct entry comes from where it comes from.
            return None
        return Advice(_JOINING.format(side=_shift_side(lap, budget)), fly, flown)
    return Advice("You turned outbound from {flown}; {fly} was right over the fix.", fly, flown)


#: Of the first circuit, whose heading over the fix the entry brought about.
_JOINING = (
    "You turned outbound from {{flown}} where a circuit begins on {{fly}}, and that moved the outbound leg to the "
    "{side}."
)


def _shift_side(lap: Lap, budget: Budget) -> str:
    """Say to which side the arrival heading moved the outbound leg, as seen flying outbound."""
    cost = next(cost for cost in budget.costs if cost.cause == "arrival_heading")
    # Right of the inbound course is left of it as seen outbound.
    return "left" if cost.cross_track_nm > 0.0 else "right"


def _outbound_turn_start(lap: Lap, budget: Budget) -> Advice | None:
    late_s = budget.flown.decisions.outbound_turn_start
    when = "late" if late_s > 0 else "early"
    words = f"You began the outbound turn {{flown}} {when}."
    return Advice(words, Number(0.0, "s"), Number(abs(late_s), "s"))


def _bank(lap: Lap, which: str) -> Advice | None:
    turn = lap.circuit.outbound_turn if which == "outbound" else lap.circuit.inbound_turn
    assert turn is not None
    fly, flown = lap.ideal.circuit.bank_deg, abs(turn.bank_mean_deg)
    if abs(bank_off_deg(lap, flown)) < 0.5 * lap.scoring.bank.tolerance_deg:
        return None
    words = f"You held {{flown}} of bank in the {which} turn; {{fly}} was right."
    return Advice(words, Number(fly, "°"), Number(flown, "°"))


def _outbound_heading(lap: Lap, budget: Budget) -> Advice | None:
    leg, exact = lap.circuit.outbound_leg, lap.ideal.circuit
    assert leg is not None
    fly = Number(exact.outbound_heading_deg, "°", "true")
    words = "You flew outbound on {flown}; {fly} was right."
    return Advice(words, fly, Number(leg.heading_deg, "°", "true"))


def _outbound_time(lap: Lap, budget: Budget) -> Advice | None:
    fly, flown = budget.right.decisions.outbound_time, budget.flown.decisions.outbound_time
    clock = budget.flown.clock
    if clock == "length":
        out = turn_in_advice(lap, lap.ideal.circuit, -flown)
        where = "from the station" if "station" in out.words else "out from the fix"
        return replace(out, words=f"You turned inbound {{flown}} {where}; {{fly}} was right.")
    both = from_wings_level(lap.ideal.circuit) if clock == "abeam" else ""
    since = "passing abeam the fix" if clock == "abeam" else "wings level"
    # The standard time is what was to be flown on the circuit that measures.
    right = "would have closed the circuit" if lap.terms.timed == "first outbound" else "was right"
    words = f"You turned inbound {{flown}} after {since}; {{fly}}{both} {right}."
    return Advice(words, Number(fly, "s"), Number(flown, "s"))


def turn_in_advice(lap: Lap, exact: ExactCircuit, flown_nm: float) -> Advice:
    """Advise on where a leg limited by distance ends, as the pilot reads it: out from the fix, or by the station."""
    leg, turn_in_nm = lap.flown.hold.leg, -exact.outbound_end_along_nm
    turn = lap.circuit.inbound_turn
    if leg is None or leg.fix_dme_nm is None or turn is None:
        words = "Turn inbound {fly} out from the fix, not {flown}."
        return Advice(words, Number(turn_in_nm, "NM"), Number(flown_nm, "NM"))
    way = 1.0 if leg.towards_station else -1.0
    fly_nm = leg.out_nm(exact.outbound_end_along_nm, exact.outbound_end_cross_nm)
    there_nm = leg.out_nm(*lap.frame.at(turn.start_s))
    words = "Turn inbound at {fly} from the station, not {flown}."
    return Advice(
        words, Number(leg.fix_dme_nm + way * fly_nm, "NM"), Number(leg.fix_dme_nm + way * there_nm, "NM")
    )


def _rollout_heading(lap: Lap, budget: Budget) -> Advice | None:
    off_deg = budget.flown.decisions.rollout_heading - budget.right.decisions.rollout_heading
    if budget.axes.at(budget.instants.rollout_s).imag * off_deg < 0.0:
        # Rolling out towards a course that was missed is how it is met again, not a fault.
        return None
    words = "You finished the inbound turn on {flown}; {fly} was right."
    return Advice(words, *_headings(budget, "rollout_heading"))


def _unsteadiness(lap: Lap, budget: Budget) -> Advice | None:
    leg, exact = lap.circuit.outbound_leg, lap.ideal.circuit
    assert leg is not None
    rolled_out = lap.flown.motion.at("heading_deg", budget.instants.level_s)
    if abs(wrap180(rolled_out - leg.heading_deg)) >= lap.standard.heading.tolerance_deg:
        words = "You rolled out of the outbound turn on {flown} and put it right on the leg; {fly} was right."
        fly = Number(exact.outbound_heading_deg, "°", "true")
        return Advice(words, fly, Number(rolled_out, "°", "true"))
    turns = [lap.circuit.outbound_turn, lap.circuit.inbound_turn]
    wander = max(turn.bank_wander_deg for turn in turns if turn is not None)
    words = "The bank wandered by {flown} in the turns."
    return Advice(words, Number(0.0, "°"), Number(wander, "°"))


def _airspeed(lap: Lap, budget: Budget) -> Advice | None:
    at = budget.instants
    speed = lap.series("tas_kt", at.turn_s, at.rollout_s)
    if speed.size == 0:
        return None
    words = "The airspeed ran up to {flown} off the mean of {fly} true."
    return Advice(
        words, Number(lap.circuit.tas_kt, "kt"), Number(float(max(abs(speed - lap.circuit.tas_kt))), "kt")
    )


def _inbound_leg(lap: Lap, budget: Budget) -> Advice | None:
    cost = next(cost for cost in budget.costs if cost.cause == "inbound_leg")
    # Quicker than reckoned is no fault: the wind, or a flatter interception than is taught.
    if cost.time_s is None or cost.time_s < lap.scoring.advice.least_s:
        return None
    fly = lap.ideal.circuit.inbound_ground_speed_kt
    covered = abs(budget.axes.at(budget.instants.rollout_s))
    flown = covered * 3600.0 / max(lap.circuit.end_s - budget.instants.rollout_s, 1.0)
    words = (
        "From the roll-out to the fix you made good {flown}; with the inbound course met sooner and held, {fly} "
        "was to be had."
    )
    return Advice(words, Number(fly, "kt"), Number(flown, "kt"))


_ADVISERS = {
    "fix_crossing": _fix_crossing,
    "arrival_heading": _arrival_heading,
    "outbound_turn_start": _outbound_turn_start,
    "outbound_turn_bank": lambda lap, budget: _bank(lap, "outbound"),
    "outbound_heading": _outbound_heading,
    "outbound_time": _outbound_time,
    "inbound_turn_bank": lambda lap, budget: _bank(lap, "inbound"),
    "rollout_heading": _rollout_heading,
    "unsteadiness": _unsteadiness,
    "airspeed": _airspeed,
    "inbound_leg": _inbound_leg,
}
