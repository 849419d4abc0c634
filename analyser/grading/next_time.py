"""What to change on the next circuit, chosen by flying it ahead.

Faults make good for one another: who banks too little in both turns and lays off too little drift may roll out on the
course, and is worse off with either put right alone. So the next circuit is flown on paper, from the pilot's own other
habits, with every set of changes; the smallest one that takes most of the error away and makes nothing worse is the
thing to work on first, whichever clock the pilot goes by.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from functools import cached_property
from itertools import combinations

from analyser.earth.angles import wrap180
from analyser.earth.turning import turn_bank_deg, turn_rate_dps
from analyser.frozen import dataclass
from analyser.grading.budget import Budget, turn_in_advice
from analyser.grading.grading_thresholds import NEXT
from analyser.grading.lap import Lap, abeam_sd_s, passed_turning
from analyser.grading.legs_and_turns import bank_off_deg
from analyser.grading.replay import DECISIONS, Axes, Decisions, FlownDecisions, as_right, spreads
from analyser.grading.terms import Clock
from analyser.grading.wording import Advice, Number, from_wings_level
from analyser.holds.exact import ExactCircuit
from analyser.holds.ideal_circuit import ideal_circuit
from analyser.holds.rules_of_thumb import compared_with_thumb
from analyser.rules.load import load_thumb_rules
from analyser.rules.scoring import AdviceLimits

#: The decisions on bank.
_TURNS = ("outbound_turn_bank", "inbound_turn_bank")


@dataclass(frozen=True)
class Habits:
    """The next circuit as the pilot would fly it, and as it should be flown."""

    #: The latest circuit that tells; its exact circuit is what is right in its wind, at the speed to fly.
    lap: Lap
    #: In the air as it was, at the speed that is flown; times by the first of the clocks.
    flown: FlownDecisions
    right: Decisions
    #: The outbound time by each clock that the pilot may have used, and the right one: nobody knows which it was.
    times: Mapping[Clock, tuple[float, float]]
    #: How far one sigma of each decision's measurement moves the roll-out, by each clock.
    sure_nm: Mapping[Clock, Mapping[str, float]]
    #: The same pilot at the speed asked for, where another was flown.
    at_speed: Habits | None = None

    @property
    def taken(self) -> Decisions:
        """The decisions as the pilot would take them."""
        return self.flown.decisions

    @property
    def exact(self) -> ExactCircuit:
        """What is right in the wind, at the speed to fly."""
        return self.lap.ideal.circuit

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
    flown = replace(budget.flown, decisions=_from_the_end(lap, budget))
    if not flown.is_finite():
        return None
    times, right = _times(lap, budget), replace(budget.right.decisions, fix_crossing=0j)
    sure_nm = {
        clock: spreads(lap, _timed_by(budget.flown, clock, taken_s)) for clock, (taken_s, _) in times.items()
    }
    found = Habits(lap, flown, right, times, sure_nm)
    if asked_tas_kt is None:
        return found
    return replace(found, at_speed=_at_speed(found, budget.axes, asked_tas_kt))


def _from_the_end(lap: Lap, budget: Budget) -> Decisions:
    """Let the next circuit begin where this one ended; a roll-out on a cut towards the course is no habit."""
    axes, motion, end_s = budget.axes, lap.flown.motion, lap.circuit.end_s
    taken, right = budget.flown.decisions, budget.right.decisions
    before_s = end_s + min(taken.outbound_turn_start, 0.0) - NEXT.steady_s
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
    rates = {name: turn_rate_dps(habits.bank_deg(name), tas_kt) for name in _TURNS}
    solved = {"abeam": exact.outbound_timed_s, "wings level": exact.outbound_time_s}
    times: dict[Clock, tuple[float, float]] = {
        clock: (flown, solved.get(clock, exact.outbound_end_along_nm))
        for clock, (flown, _) in habits.times.items()
        if clock != "abeam" or exact.abeam_after_s is not None
    }
    flight = replace(habits.flown.flight, tas_kt=tas_kt, roll_s=exact.roll_s)
    flown = replace(habits.flown, decisions=replace(habits.taken, **rates), flight=flight)
    return Habits(at_speed, flown, as_right(at_speed, axes).decisions, times, habits.sure_nm)


@dataclass(frozen=True)
class Change:
    """One thing to do otherwise."""

    name: str
    #: The decisions it takes rightly; ``"airspeed"`` for the speed.
    causes: tuple[str, ...]
    #: The graded item that it belongs to, as in :data:`analyser.rules.scoring.ITEMS`.
    item: str
    #: A sentence.
    advice: Advice
    #: The same in few words, to stand among others, where those of the sentence would not do.
    clause: str = ""
    #: The rule that carries over to other winds, a sentence; empty where none is good in this one.
    rule: str = ""

    def in_few_words(self, variation_deg: float | None) -> str:
        """Say it among other changes: ``"roll out outbound on 105°M (not 097°M)"``."""
        words = self.advice.words
        clause = self.clause or f"{words[0].lower()}{words[1:-1].replace(', not ', ' (not ')})"
        return replace(self.advice, words=clause).said(variation_deg)


def changes_of(habits: Habits, limits: AdviceLimits) -> tuple[Change, ...]:
    """List what a hand could fly otherwise to some effect, speed first."""
    told = habits.at_speed or habits
    speed = () if habits.at_speed is None else (_speed(habits, habits.at_speed),)
    made = (make(habits, told, limits) for make in (_start, _course, _banks, _heading, _time, _rollout))
    return (*speed, *(one for one in made if one is not None and _counts(habits, told, one, limits)))


def _counts(habits: Habits, told: Habits, change: Change, limits: AdviceLimits) -> bool:
    """Return whether a change moves the roll-out by enough, and by more than what the log leaves open."""
    alone = [a - b for a, b in zip(told.misses(change.causes), told.misses(()), strict=True)]
    every = set(DECISIONS)
    without = [
        a - b for a, b in zip(told.misses(every - set(change.causes)), told.misses(every), strict=True)
    ]
    if change.name != "time" and change.advice.fly.said() == change.advice.flown.said():
        # Nobody can be told of less than is read.
        return False
    # By one clock a turn begun early moves the roll-out, by the other hardly: each effect by its own clock's sigma.
    sigmas_nm = [max(habits.sure_nm[clock][cause] for cause in change.causes) for clock in told.times]
    return any(
        max(abs(moved), abs(by_rest)) >= max(limits.counts_nm, 2.0 * sigma_nm)
        for moved, by_rest, sigma_nm in zip(alone, without, sigmas_nm, strict=True)
    )


def _speed(habits: Habits, told: Habits) -> Change:
    words = "Hold {fly} true airspeed, not {flown}: bank, headings and times are for that speed."
    advice = Advice(words, Number(told.exact.tas_kt, "kt"), Number(habits.flown.flight.tas_kt, "kt"))
    return Change("speed", ("airspeed",), "speed", advice, "hold {fly} true airspeed (not {flown})")


def _start(habits: Habits, told: Habits, limits: AdviceLimits) -> Change | None:
    late_s = habits.taken.outbound_turn_start
    if abs(late_s) < limits.flyable_start_s or passed_turning(habits.lap.flown, habits.lap.circuit):
        return None
    off_deg = wrap180(habits.taken.arrival_heading - told.right.arrival_heading)
    if late_s < 0.0 and abs(off_deg) >= limits.flyable_course_deg:
        # Turning onto the course ran on into the outbound turn: where one ended nobody can tell.
        return None
    words = (
        f"Start the outbound turn over the fix: you began it {{flown}} {'late' if late_s > 0 else 'early'}."
    )
    return Change(
        "start",
        ("outbound_turn_start",),
        "late turn",
        Advice(words, Number(0.0, "s"), Number(abs(late_s), "s")),
        f"turn outbound over the fix (not {{flown}} {'late' if late_s > 0 else 'early'})",
    )


def _course(habits: Habits, told: Habits, limits: AdviceLimits) -> Change | None:
    """Advise to be on the course before the fix: what was met late carries into the next circuit."""
    taken, right = habits.taken, told.right
    aside_nm, off_deg = taken.fix_crossing.imag, wrap180(taken.arrival_heading - right.arrival_heading)
    if abs(aside_nm) < limits.least_nm and abs(off_deg) < limits.flyable_course_deg:
        return None
    side = "right" if aside_nm * told.exact.side > 0 else "left"
    words = f"Be on the inbound course before the fix: you passed it {{flown}} to the {side} of it."
    if abs(aside_nm) < limits.least_nm:
        words = "Be steady on the inbound heading over the fix: you passed it {flown} off."
        advice = Advice(words, Number(0.0, "°"), Number(abs(off_deg), "°"))
    else:
        advice = Advice(words, Number(0.0, "NM"), Number(abs(aside_nm), "NM"))
    clause = "be on course, on the inbound heading, before the fix"
    return Change("course", ("fix_crossing", "arrival_heading"), "track", advice, clause)


def _banks(habits: Habits, told: Habits, limits: AdviceLimits) -> Change | None:
    """Advise on one turn's bank, or on both together where both are wrong."""
    fly = told.exact.bank_deg
    flown = {name: habits.bank_deg(name) for name in _TURNS}
    wrong = [
        name for name, bank in flown.items() if abs(bank_off_deg(told.lap, bank)) >= limits.flyable_bank_deg
    ]
    if not wrong:
        return None
    turn = "both turns" if len(wrong) == 2 else f"the {wrong[0].split('_')[0]} turn"
    banks = [round(flown[name]) for name in wrong]
    farthest = max((flown[name] for name in wrong), key=lambda bank: abs(bank - fly))
    held = "{flown}"
    if len(wrong) == 2 and banks[0] != banks[1]:
        held = f"{banks[0]}° outbound and {banks[1]}° inbound"
    advice = Advice(f"Hold {{fly}} of bank in {turn}, not {held}.", Number(fly, "°"), Number(farthest, "°"))
    return Change("bank", tuple(wrong), "bank", advice, rule=_rule(told, "bank"))


def _heading(habits: Habits, told: Habits, limits: AdviceLimits) -> Change | None:
    off_deg = wrap180(habits.taken.outbound_heading - told.right.outbound_heading)
    if abs(off_deg) < limits.flyable_heading_deg:
        return None
    exact, leg = told.exact, habits.lap.circuit.outbound_leg
    assert leg is not None
    fly = Number(exact.outbound_heading_deg, "°", "true")
    advice = Advice("Roll out outbound on {fly}, not {flown}.", fly, Number(leg.heading_deg, "°", "true"))
    return Change("heading", ("outbound_heading",), "wind_correction", advice, rule=_multiple(told))


def _time(habits: Habits, told: Habits, limits: AdviceLimits) -> Change | None:
    clock = next(iter(told.times))
    taken, right = told.times[clock]
    if clock == "length":
        if abs(taken - right) < limits.flyable_nm:
            return None
        return Change("time", ("outbound_time",), "timing", turn_in_advice(told.lap, told.exact, -taken))
    if max(abs(a - b) for a, b in told.times.values()) < limits.flyable_s:
        return None
    since = "passing abeam the fix" if clock == "abeam" else "wings level"
    both = from_wings_level(told.exact) if clock == "abeam" else ""
    # Who timed rightly from abeam may have gone by the other clock: then the other number is what is new. And where
    # the fix was inferred, the moment of passing it may be too uncertain to say what the time was.
    lap = habits.lap
    passed_s = lap.circuit.abeam_s if clock == "abeam" else None
    unsure = passed_s is not None and 2.0 * abeam_sd_s(lap, passed_s) >= limits.flyable_s
    # Where two clocks are named, what was flown says by which.
    unsaid = unsure or abs(taken - right) < limits.flyable_s
    flown = "" if unsaid else f", not {{flown}}{' after abeam' if both else ''}"
    words = f"Turn inbound {{fly}} after {since}{both}{flown}."
    clause = f"turn inbound {{fly}} after {clock}{both}{flown}"
    advice = Advice(words, Number(right, "s"), Number(taken, "s"))
    return Change("time", ("outbound_time",), "timing", advice, clause, _rule(told, "outbound time"))


def _rollout(habits: Habits, told: Habits, limits: AdviceLimits) -> Change | None:
    off_deg = habits.taken.rollout_heading - told.right.rollout_heading
    if abs(off_deg) < limits.flyable_course_deg:
        return None
    fly, flown = (
        Number((told.exact.inbound_course_deg + told.exact.side * one.rollout_heading) % 360.0, "°", "true")
        for one in (told.right, habits.taken)
    )
    advice = Advice("Finish the inbound turn on {fly}, not {flown}.", fly, flown)
    return Change("rollout", ("rollout_heading",), "track", advice)


def _rule(told: Habits, what: str) -> str:
    """Name a rule of thumb that comes near the exact figure in this wind, with what it gives."""
    lap, exact = told.lap, told.exact
    still_s = lap.terms.still_air_s
    by_inbound, feedback = lap.regime.clock.fixes == "inbound", load_thumb_rules().feedback
    beside = compared_with_thumb(
        exact, still_air_s=still_s or exact.outbound_timed_s, allowances=lap.regime.allowances
    )
    for one in beside:
        # To time the next outbound leg by the last inbound one is for who has to make the inbound one good.
        if one.what != what or (one.thumb.rule.name == feedback.name and not by_inbound):
            continue
        if abs(one.error) <= NEXT.near_bands * one.band:
            given, asked = (Number(value, one.thumb.unit).said() for value in (one.thumb.value, one.exact))
            wants = f"; {'this wind wants' if what != 'bank' else 'rate one takes'} {asked}"
            return f"Rule: {one.thumb.rule.name} gives {given} here{'' if given == asked else wants}."
    return ""


def _multiple(told: Habits) -> str:
    """Say the outbound correction as a multiple of the inbound one, with the multiple that is taught."""
    exact, drift = told.exact, told.lap.regime.drift
    inbound = exact.inbound_drift_correction_deg
    if (
        exact.drift_multiple is None
        or abs(inbound) < NEXT.least_correction_deg
        or exact.drift_multiple <= 0.0
    ):
        return ""
    taught = drift.multiple if drift is not None else 3.0
    wanted_deg, given_deg = abs(exact.outbound_correction_deg), taught * abs(inbound)
    if abs(given_deg - wanted_deg) > NEXT.near_bands * told.lap.regime.allowances.heading_deg:
        times = f"{exact.drift_multiple:.1f} times the inbound correction of {abs(inbound):.0f}°"
        return f"This wind wants {times}, to the other side: {wanted_deg:.0f}°."
    wants = "" if round(given_deg) == round(wanted_deg) else f"; this wind wants {wanted_deg:.0f}°"
    return f"Rule: {taught:g} times the inbound correction, to the other side, gives {given_deg:.0f}° here{wants}."


@dataclass(frozen=True)
class NextTime:
    """What to change on the next circuit."""

    #: To change together, and before all else.
    first: tuple[Change, ...]
    #: With which nothing is left that a hand can fly; may be empty.
    rest: tuple[Change, ...]
    #: Number of the one that it was learned from.
    circuit: int
    #: How far from where it should the inbound turn would end: changing nothing, and the first.
    miss_nm: float
    first_miss_nm: float
    #: Items outside their tolerance that do not show in where the circuit ends: putting them right harms nothing.
    moves_nothing: tuple[str, ...] = ()

    @property
    def all(self) -> tuple[Change, ...]:
        """Everything that is advised, the first first."""
        return (*self.first, *self.rest)

    def said(self, variation_deg: float | None = None, *, with_rest: bool = False) -> str:
        """Say what to work on first, with the rule that carries over to other winds; and the rest after it."""
        # One rule is remembered: that of the last change, for they come from speed and bank to heading and time.
        rule = next((change.rule for change in reversed(self.first) if change.rule), "")
        together, then = (
            "; ".join(change.in_few_words(variation_deg) for change in changes)
            for changes in (self.first, self.rest)
        )
        alone = self.first[0].advice.said(variation_deg)
        words = f"Change together: {together}." if len(self.first) > 1 else alone
        words += f" Then {then}." if with_rest and self.rest else ""
        return f"{words} {rule}".rstrip()


def next_time(
    habits: Habits, outside: Collection[str], limits: AdviceLimits, unsure: Collection[str] = ()
) -> NextTime | None:
    """Choose what to change on the next circuit, with the items outside their tolerance on the latest one.

    Nothing is advised on items that the log is ``unsure`` of. None where the next circuit would end well enough, or
    nothing that the log can tell would mend it.
    """
    trial = _Trial(habits, limits, frozenset(outside))
    changes: tuple[Change, ...] = ()
    first: tuple[Change, ...] | None = None
    # Where what any hand can fly does not do, smaller differences may.
    for hand in (limits, limits.finer()):
        changes = tuple(change for change in changes_of(habits, hand) if change.item not in unsure)
        # Faults that make good for one another are faults all the same.
        needed = any(change.name == "speed" or change.item in outside for change in changes)
        if not changes or (trial.small and not needed):
            return None
        first = trial.smallest(changes)
        if first is not None:
            break
    first = first or trial.best(changes)
    if first is None:
        return None
    circuit, miss_nm = habits.lap.circuit.number, trial.miss_nm(())
    # Both banks wrong by as much close the circuit all the same.
    free = () if any(change.item == "bank" for change in changes) or "bank" not in outside else ("bank",)
    return NextTime(first, trial.enough(changes, first), circuit, miss_nm, trial.miss_nm(first), free)


@dataclass(frozen=True)
class _Trial:
    habits: Habits
    limits: AdviceLimits
    outside: frozenset[str]

    @cached_property
    def small(self) -> bool:
        """Whether the circuit would end well enough as it is flown."""
        return self.miss_nm(()) < self.limits.least_nm

    def misses(self, changes: Collection[Change]) -> list[complex]:
        return self.habits.misses([cause for change in changes for cause in change.causes])

    def miss_nm(self, changes: Collection[Change]) -> float:
        return max((abs(one) for one in self.misses(changes)), default=math.nan)

    def _sets(self, changes: Sequence[Change]) -> list[tuple[Change, ...]]:
        """List the sets of changes, the smallest first; a speed that is wrong is put right in all of them."""
        needed = [change for change in changes if change.name == "speed"]
        return [
            chosen
            for size in range(1, len(changes) + 1)
            for chosen in combinations(changes, size)
            if all(one in chosen for one in needed)
        ]

    def smallest(self, changes: Sequence[Change]) -> tuple[Change, ...] | None:
        """Find the smallest set that mends most and harms nothing; one with an item outside tolerance comes first."""
        mend = [chosen for chosen in self._sets(changes) if self._mends(chosen)]
        faulty = self._faulty(mend)
        if self.small and self.outside and not faulty:
            return None
        return min(faulty or mend, key=lambda chosen: (len(chosen), self.miss_nm(chosen)), default=None)

    def _faulty(self, sets: Sequence[tuple[Change, ...]]) -> list[tuple[Change, ...]]:
        """Keep the sets that change what was outside its tolerance: a cause, or else the track that came of it."""
        for items in (self.outside - {"track"}, self.outside):
            found = [chosen for chosen in sets if any(change.item in items for change in chosen)]
            if found:
                return found
        return []

    def best(self, changes: Sequence[Change]) -> tuple[Change, ...] | None:
        """Find what helps most, where much of the error is nobody's decision; None where nothing helps enough."""
        sets = self._sets(changes)
        faulty = self._faulty(sets)
        chosen = min(faulty if self.small and faulty else sets, key=self.miss_nm)
        # What is outside its tolerance is put right in any case, with all that belongs to it.
        helps = self.small or self.miss_nm(chosen) <= self.miss_nm(()) - self.limits.least_nm
        return chosen if helps or any(change.name == "speed" for change in changes) else None

    def _mends(self, chosen: Collection[Change]) -> bool:
        """Return whether most of the error goes, if there was one, and neither part of it grows, by any clock."""
        before, after, limits = self.misses(()), self.misses(chosen), self.limits
        # At another speed the clock from abeam may not be there: then the worst that was stands for all.
        before = before if len(before) == len(after) else [max(before, key=abs)] * len(after)
        for now, was in zip(after, before, strict=True):
            left = abs(was) if self.small else limits.most_left * abs(was)
            if abs(now) > max(left, limits.good_enough_nm):
                return False
            grown = max(limits.least_nm, limits.may_grow * abs(was))
            if abs(now.real) > max(abs(was.real), grown) or abs(now.imag) > max(abs(was.imag), grown):
                return False
        return True

    def enough(self, changes: Sequence[Change], first: tuple[Change, ...]) -> tuple[Change, ...]:
        """Choose the fewest changes after which no more is to be gained than a hand can fly."""
        others = tuple(change for change in changes if change not in first)
        enough_nm = max(self.limits.good_enough_nm, NEXT.enough_ratio * self.miss_nm(changes))
        for size in range(len(others)):
            more = min(combinations(others, size), key=lambda more: self.miss_nm((*first, *more)))
            if self.miss_nm((*first, *more)) <= enough_nm:
                return more
        return others
