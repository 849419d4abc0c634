"""Judging times: the leg that the rules limit (outbound by ICAO, inbound by the FAA, or a length), and leaving."""

from __future__ import annotations

import math
from dataclasses import replace

from analyser.frozen import dataclass
from analyser.grading.lap import Lap, Measures
from analyser.grading.score import Gauge, Score
from analyser.holds.exact import ExactCircuit
from analyser.holds.leaving_plan import LeavePlan, plan_leaving, turn_in_table


def judge_timing(lap: Lap, measures: Measures) -> Score:
    """Judge the timing by the terms' own clock and target: seconds, or nautical miles for a distance leg."""
    timed = lap.terms.timed
    if timed == "not judged":
        return Gauge(lap.scoring, "NM" if lap.terms.minutes is None else "s", None).unjudged(
            lap.terms.untimed
        )
    if timed == "length":
        return _length(lap, measures)
    score = _inbound(lap, measures) if timed == "inbound" else _outbound(lap, measures)
    by_the_fix = timed == "inbound" or lap.terms.clock == "abeam"
    return _unless_late(lap, score) if by_the_fix and lap.flown.fix_sd_nm is not None else score


def _unless_late(lap: Lap, score: Score) -> Score:
    """Hold nothing against a pilot that a late outbound turn explains.

    A fix that was inferred from where the outbound turns began lies as far on as they began late, on every circuit
    alike: legs timed by it seem that much longer, or shorter, than they were.
    """
    if score.verdict != "outside" or score.deviation is None or score.tolerance is None:
        return score
    allowed = lap.regime.allowances
    late_s = allowed.reaction_s + allowed.bank_establishment_s
    sd = math.hypot(score.sd or 0.0, 0.5 * late_s)
    if abs(score.deviation) <= score.tolerance + late_s:
        return replace(score, points=None, verdict="not judged", sd=sd, note=_BY_LATE_TURNS)
    return replace(score, sd=sd)


#: Why a time outside its tolerance is not held against the pilot.
_BY_LATE_TURNS = (
    "the fix was inferred from where the outbound turns began, and turns begun late would look the same: "
    "a hold file settles it"
)


#: Why what lies across a pause has no time.
_PAUSED = "the recording was paused on this leg, or its time ran at another rate"


def _outbound(lap: Lap, measures: Measures) -> Score:
    """Judge the outbound time: against the exact one, or the standard one where it is the hold's first by the FAA."""
    terms, ideal = lap.terms, lap.ideal
    standard = terms.timed == "first outbound"
    source = lap.regime.clock.source if standard else lap.regime.wind.source
    gauge = Gauge(lap.scoring, "s", terms.timing_tolerance_s, f"{source}; {terms.timing_source}", "derived")
    if measures.timed_s is None or measures.timed_sd_s is None:
        return gauge.unjudged("no outbound leg that ended in a turn")
    turn = lap.circuit.inbound_turn
    if turn is not None and lap.flown.motion.has_seam(turn.start_s - measures.timed_s, turn.start_s):
        return gauge.unjudged(_PAUSED, measures.timed_s)
    if standard:
        assert terms.still_air_s is not None
        target, target_sd = terms.still_air_s, 0.0
        note = "first circuit: the outbound leg is flown for the standard time; later ones are judged by the inbound"
    elif not ideal.circuit.closes:
        return gauge.unjudged(ideal.circuit.why_not, measures.timed_s)
    else:
        target, target_sd = ideal.outbound_s(terms.clock)
        note = _with_why(lap, f"outbound time from {SINCE[terms.clock]}")
    return gauge.score(measures.timed_s, target, math.hypot(measures.timed_sd_s, target_sd), note)


#: Where each clock starts, in words.
SINCE = {"abeam": "abeam the fix", "wings level": "wings level (abeam was not met)"}


def _inbound(lap: Lap, measures: Measures) -> Score:
    terms, exact = lap.terms, lap.ideal.circuit
    rule = f"{terms.leg_source}; {terms.timing_source}"
    gauge = Gauge(lap.scoring, "s", terms.timing_tolerance_s, rule, "derived")
    duration, sd = measures.inbound_duration_s, measures.inbound_duration_sd_s
    if duration is None or sd is None:
        return gauge.unjudged("no inbound leg flown to the fix")
    if lap.flown.motion.has_seam(lap.circuit.end_s - duration, lap.circuit.end_s):
        return gauge.unjudged(_PAUSED, duration)
    if not exact.closes:
        return gauge.unjudged(exact.why_not, duration)
    note = _with_why(lap, "inbound time from wings level to the fix")
    return gauge.score(duration, exact.inbound_time_s, sd, note)


def _length(lap: Lap, measures: Measures) -> Score:
    length, leg = lap.scoring.length, lap.flown.hold.leg
    rule = f"{lap.regime.distance_leg.source}; tolerance: {length.source}"
    gauge = Gauge(lap.scoring, "NM", length.tolerance_nm, rule, "derived")
    if leg is None or leg.distance_nm is None or measures.turn_in_nm is None:
        return gauge.unjudged("no outbound leg that ended in a turn")
    beyond, allowed = measures.beyond_radial_deg, lap.scoring.limiting_radial.tolerance_deg
    if beyond is not None and beyond >= -allowed and measures.turn_in_nm < leg.distance_nm:
        return gauge.unjudged(
            "the limiting radial came before the distance", measures.turn_in_nm, leg.distance_nm
        )
    note = "how far out the inbound turn began, whatever inbound leg results"
    return gauge.score(measures.turn_in_nm, leg.distance_nm, lap.flown.fix_sd_nm or 0.0, note)


def _with_why(lap: Lap, note: str) -> str:
    return note if lap.ideal.circuit.exists else f"{note}; {lap.ideal.circuit.why_not}"


@dataclass(frozen=True)
class Departure:
    """The plan from one passage of the fix."""

    #: The passage, seconds from the log's first sample.
    fix_s: float
    #: How to be back over the fix at the wanted instant.
    plan: LeavePlan
    #: The circuit that the plan begins with; None where it has none.
    next: ExactCircuit | None
    #: When to begin that circuit's inbound turn, seconds from the log's first sample.
    turn_in_s: float | None


@dataclass(frozen=True)
class Leaving:
    """How the hold was left."""

    #: The wanted instant over the fix, seconds from the log's first sample.
    leave_at_s: float
    #: The last passage of the fix.
    left_s: float | None
    #: Error in seconds, positive late.
    score: Score
    #: From each passage of the fix before the wanted instant, the earliest first.
    departures: tuple[Departure, ...]
    #: For the last circuit's wind: when to turn in, and when that leads back over the fix.
    table: tuple[ExactCircuit, ...]


def judge_leaving(laps: list[Lap], leave_at_s: float) -> Leaving:
    """Judge the leaving against an instant on the clock of the log, and plan it from each passage of the fix."""
    last = laps[-1]
    scoring, regime = last.scoring, last.regime
    left_s = last.circuit.end_s if last.circuit.complete else None
    rule = f"{regime.leaving.source}; tolerance: {scoring.leaving.source}"
    late_s = math.nan if left_s is None else left_s - leave_at_s
    gauge = Gauge(scoring, "s", scoring.leaving.tolerance_s, rule, "derived")
    score = gauge.score(late_s, 0.0, _passage_sd_s(last), "seconds late over the fix")
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
