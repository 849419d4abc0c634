"""From a share of a circuit's error to what was flown and what was right, in plain words.

Nothing is advised here: with one cause put right and the others left, the next circuit may end worse. What to change is
chosen by flying it ahead (:mod:`analyser.grading.next_time`).
"""

from __future__ import annotations

from dataclasses import replace

from analyser.earth.angles import wrap180
from analyser.frozen import dataclass
from analyser.grading.budget import Budget, Cost
from analyser.grading.lap import Lap
from analyser.grading.next_time import turn_in_advice
from analyser.grading.turns_and_track import bank_off_deg
from analyser.grading.wording import Advice, Number, from_wings_level


@dataclass(frozen=True)
class Share:
    """One cause's share of a circuit's error, in words.

    Its advice is None where the share is too small to mention, is nobody's fault, or lies within what the log can
    tell; its rank is 1 for what is said first, and None beyond the most that is said.
    """

    cost: Cost
    advice: Advice | None
    rank: int | None = None


def with_advice(lap: Lap, budget: Budget) -> tuple[Share, ...]:
    """Put each share worth it into words, in the order of the budget, and rank the most costly."""
    limits, speed = lap.scoring.advice, lap.ideal.circuit.inbound_ground_speed_kt
    most_nm = max(weight_nm(cost, speed) for cost in budget.costs)
    shares = []
    for cost in budget.costs:
        worth = cost.size_nm >= limits.least_nm or abs(cost.time_s or 0.0) >= limits.least_s
        worth = worth and weight_nm(cost, speed) >= limits.least_share * most_nm
        # Words on what may as well be the log's uncertainty would be a guess.
        sure = cost.size_nm >= 2.0 * cost.sd_nm
        shares.append(Share(cost, _advice(lap, budget, cost) if worth and sure else None))
    order = sorted(
        (share for share in shares if share.advice), key=lambda share: -weight_nm(share.cost, speed)
    )
    ranks = {share.cost.cause: rank for rank, share in enumerate(order[: limits.at_most], start=1)}
    return tuple(replace(share, rank=ranks.get(share.cost.cause)) for share in shares)


def weight_nm(cost: Cost, ground_speed_kt: float) -> float:
    """Weigh a cost, nautical miles: the way at the roll-out, or what the lost time would have covered inbound."""
    return max(cost.size_nm, abs(cost.time_s or 0.0) * ground_speed_kt / 3600.0)


def _advice(lap: Lap, budget: Budget, cost: Cost) -> Advice | None:
    found = _ADVISERS[cost.cause](lap, budget) if cost.cause in _ADVISERS else None
    return found if found is not None and _is_flyable(lap, found) else None


def _is_flyable(lap: Lap, advice: Advice) -> bool:
    """Return whether a hand can fly the difference: nobody is helped by two seconds or one degree."""
    fly, flown, bands = advice.fly, advice.flown, lap.scoring.learning
    if fly.reference is not None:
        return abs(wrap180(fly.value - flown.value)) >= bands.heading_band_deg
    least = {"s": bands.time_band_s, "°": 0.5 * lap.scoring.bank.tolerance_deg}.get(fly.unit, 0.0)
    return abs(fly.value - flown.value) >= least and fly.said() != flown.said()


def _fix_crossing(lap: Lap, budget: Budget) -> Advice | None:
    there = budget.flown.decisions.fix_crossing
    side = "right" if there.imag * budget.axes.side > 0 else "left"
    words = f"You passed {{flown}} {side} of the fix before turning."
    return Advice(words, Number(0.0, "NM"), Number(abs(there), "NM"))


def _arrival_heading(lap: Lap, budget: Budget) -> Advice | None:
    axes = budget.axes
    flown = Number(axes.heading_on_map(budget.flown.decisions.arrival_heading), "°", "true")
    fly = Number(axes.heading_on_map(budget.right.decisions.arrival_heading), "°", "true")
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
    words = f"You turned inbound {{flown}} after {since}; {{fly}}{both} was right."
    return Advice(words, Number(fly, "s"), Number(flown, "s"))


def _rollout_heading(lap: Lap, budget: Budget) -> Advice | None:
    axes = budget.axes
    off_deg = budget.flown.decisions.rollout_heading - budget.right.decisions.rollout_heading
    if axes.at(budget.instants.rollout_s).imag * off_deg < 0.0:
        # Rolling out towards a course that was missed is how it is met again, not a fault.
        return None
    flown = Number(axes.heading_on_map(budget.flown.decisions.rollout_heading), "°", "true")
    fly = Number(axes.heading_on_map(budget.right.decisions.rollout_heading), "°", "true")
    return Advice("You finished the inbound turn on {flown}; {fly} was right.", fly, flown)


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
