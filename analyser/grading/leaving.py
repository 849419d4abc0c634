"""Leaving on time: how near the wanted second the fix was left, and which turn-in would have met it.

The plan itself is the one that ``analyser brief`` gives ahead (:mod:`analyser.holds.leaving`): the circuit may
be shortened, but neither bank nor speed changed, nor a leg flown beyond the protected length.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from analyser.grading.lap import Lap
from analyser.grading.score import Score, scored
from analyser.holds.exact import ExactCircuit
from analyser.holds.leaving import LeavePlan, TurnIn, plan_leaving, turn_in_table


@dataclass(frozen=True)
class Departure:
    """The plan from one passage of the fix.

    Attributes
    ----------
    fix_s : float
        The passage, seconds from the log's first sample.
    plan : LeavePlan
        How to be back over the fix at the wanted instant.
    next : ExactCircuit or None
        The circuit that the plan begins with; None where it has none.
    turn_in_s : float or None
        When to begin that circuit's inbound turn, seconds from the log's first sample.
    """

    fix_s: float
    plan: LeavePlan
    next: ExactCircuit | None
    turn_in_s: float | None


@dataclass(frozen=True)
class Leaving:
    """How the hold was left.

    Attributes
    ----------
    leave_at_s : float
        The wanted instant over the fix, seconds from the log's first sample.
    left_s : float or None
        The last passage of the fix.
    score : Score
        Error in seconds, positive late.
    departures : tuple of Departure
        From each passage of the fix before the wanted instant, the earliest first.
    table : tuple of TurnIn
        For the last circuit's wind: when to turn in, and when that leads back over the fix.
    """

    leave_at_s: float
    left_s: float | None
    score: Score
    departures: tuple[Departure, ...]
    table: tuple[TurnIn, ...]


def judge_leaving(laps: list[Lap], leave_at_s: float) -> Leaving:
    """Judge the leaving, and plan it from each passage of the fix.

    Parameters
    ----------
    laps : list of Lap
        At least one.
    leave_at_s : float
        The wanted instant, seconds from the log's first sample.
    """
    last = laps[-1]
    scoring, regime = last.scoring, last.regime
    left_s = last.circuit.end_s if last.circuit.complete else None
    score = scored(
        scoring,
        value=math.nan if left_s is None else left_s - leave_at_s,
        target=0.0,
        tolerance=scoring.leaving.tolerance_s,
        unit="s",
        sd=_passage_sd_s(last),
        how="derived",
        rule=f"{regime.leaving.source}; tolerance: {scoring.leaving.source}",
        note="seconds late over the fix",
    )
    departures = tuple(
        _departure(lap, leave_at_s)
        for lap in laps
        if lap.circuit.start_s <= leave_at_s and lap.ideal.circuit.closes
    )
    least_s = regime.allowances.least_inbound_s
    table = turn_in_table(last.ideal.circuit, least_inbound_s=least_s) if last.ideal.circuit.closes else ()
    return Leaving(leave_at_s, left_s, score, departures, table)


def _departure(lap: Lap, leave_at_s: float) -> Departure:
    exact = lap.ideal.circuit
    least_s = lap.regime.allowances.least_inbound_s
    plan = plan_leaving(exact, leave_at_s - lap.circuit.start_s, least_inbound_s=least_s)
    following = exact if plan.full_circuits else plan.shortened[0] if plan.shortened else None
    turn_in = None
    if following is not None:
        turn_in = lap.circuit.start_s + following.first_turn_s + following.outbound_time_s
    return Departure(lap.circuit.start_s, plan, following, turn_in)


def _passage_sd_s(lap: Lap) -> float:
    """Return the sigma of passing an inferred fix; next to nothing where it was given."""
    speed = max(lap.circuit.tas_kt, 30.0)
    return math.hypot(0.5, 3600.0 * (lap.flown.fix_sd_nm or 0.0) / speed)
