"""A judged hold as it is written in the debrief file: its circuits, entry, findings, learning and leaving."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.flown import Turn
from analyser.earth.angles import wrap180
from analyser.grading.budget import Budget, Share
from analyser.grading.finding import Finding
from analyser.grading.judged import Arrival, JudgedCircuit, JudgedEntry, JudgedHold
from analyser.grading.keeping import Excursion
from analyser.grading.learning import Lesson
from analyser.grading.replay import DECISIONS, FlownDecisions
from analyser.grading.score import Score
from analyser.grading.timing import Departure, Leaving
from analyser.grading.wording import Number
from analyser.holds.definition import Hold
from analyser.holds.exact import ExactCircuit
from analyser.holds.kinematics import Trajectory, TurnPath
from analyser.holds.rules_of_thumb import ThumbComparison, compared_with_thumb
from analyser.rules.regime import Regime
from analyser.rules.scoring import Scoring
from analyser.schema.debrief_file import (
    WrittenArrival,
    WrittenCircuit,
    WrittenCircuitWind,
    WrittenEntry,
    WrittenError,
    WrittenExcursion,
    WrittenFinding,
    WrittenIdeal,
    WrittenInboundLeg,
    WrittenInboundTurn,
    WrittenInterception,
    WrittenLeaving,
    WrittenLeg,
    WrittenLesson,
    WrittenNumber,
    WrittenOutboundLeg,
    WrittenPath,
    WrittenPlan,
    WrittenReflown,
    WrittenRollout,
    WrittenScore,
    WrittenShare,
    WrittenShortened,
    WrittenThumb,
    WrittenTurn,
    WrittenTurnIn,
)
from analyser.schema.plain_data import DECIMALS, direction, directions, number, thousandths

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

#: Points drawn: fix to turn, outbound turn, outbound leg, inbound turn, inbound leg.
POINTS = (3, 24, 12, 24, 24)


def reflown(circuit: JudgedCircuit, causes: Collection[str]) -> tuple[FloatArray, FloatArray]:
    """Fly a measured circuit again with some of :data:`DECISIONS` put right; other causes are nobody's and stay.

    East and north of the fix, (n,) each, from passing the fix round to the end of the circuit.

    Raises
    ------
    ValueError
        The circuit has no budget.
    """
    budget = circuit.budget
    if budget is None:
        raise ValueError("this circuit has no error budget")
    righted = budget.righted(causes)
    before, after = _phases(budget.flown), _phases(righted)
    at = budget.instants
    corners = (at.fix_s, at.turn_s, at.level_s, at.turn_in_s, at.rollout_s)
    path = [
        _measured(budget, start, end, old.size) + new - old
        for start, end, old, new in zip(corners, corners[1:], before, after, strict=False)
    ]
    if circuit.circuit.end_s > at.rollout_s + 1.0:
        path.append(
            _homeward(righted, complex(path[-1][-1]))
            if any(cause in DECISIONS for cause in causes)
            else _measured(budget, at.rollout_s, circuit.circuit.end_s, POINTS[4])
        )
    return budget.axes.on_map(np.concatenate(path))


def faults_of(circuit: JudgedCircuit, least_nm: float) -> tuple[str, ...]:
    """Name the faults that moved the roll-out by so much, to be put right on paper, the most costly first."""
    costs = [share.cost for share in circuit.shares if share.cost.cause in DECISIONS]
    costs.sort(key=lambda cost: -cost.size_nm)
    return tuple(cost.cause for cost in costs if cost.size_nm >= least_nm)


def _homeward(circuit: FlownDecisions, rollout: complex) -> ComplexArray:
    """Meet the inbound course from the new roll-out, at the usual angle, and track it to the fix."""
    decisions = circuit.decisions
    heading_deg = wrap180(decisions.rollout_heading)
    way = Trajectory(circuit.flight, decisions.inbound_turn_bank, heading_deg, rollout)
    if not way.meet_course(None, (0, 0, 0)):
        # Too near the fix to meet the course before it: straight to the fix.
        return np.asarray(np.linspace(rollout, 0j, POINTS[4]), complex)
    points = way.points()
    at_s = np.linspace(0.0, points.time_s[-1], POINTS[4])
    return np.asarray(np.interp(at_s, points.time_s, points.along_nm + 1j * points.cross_nm))


def _measured(budget: Budget, start_s: float, end_s: float, points: int) -> ComplexArray:
    return np.array([budget.axes.at(time_s) for time_s in np.linspace(start_s, end_s, points)])


def _phases(circuit: FlownDecisions) -> list[ComplexArray]:
    """Lay out fix to turn, outbound turn, outbound leg, inbound turn, each at even fractions of its time."""
    taken = circuit.decisions
    waiting, out = (np.linspace(0.0, 1.0, points) for points in (POINTS[0], POINTS[2]))
    phases = (
        taken.fix_crossing + (circuit.turn_start - taken.fix_crossing) * waiting,
        circuit.turn_start + _turning(circuit, circuit.first_turn, taken.arrival_heading, POINTS[1]),
        circuit.level + (circuit.turn_in - circuit.level) * out,
        circuit.turn_in + _turning(circuit, circuit.second_turn, taken.outbound_heading, POINTS[3]),
    )
    return [np.asarray(phase, complex) for phase in phases]


def _turning(circuit: FlownDecisions, turn: TurnPath, heading_deg: float, points: int) -> ComplexArray:
    return circuit.flight.in_turn_nm(turn, heading_deg, np.linspace(0.0, turn.duration_s, points))


def written_score(score: Score) -> WrittenScore:
    """Write one score; its note says why it was not judged, or what else should be known."""
    decimals = DECIMALS[score.unit]
    unjudged = score.verdict == "not judged"
    return WrittenScore(
        points=score.points,
        value=number(score.value, decimals),
        target=number(score.target, decimals),
        tolerance=number(score.tolerance, decimals),
        verdict=score.verdict,
        unit=score.unit,
        sd=number(score.sd, decimals + 1),
        deviation=number(score.deviation, decimals),
        reference=number(score.reference, decimals),
        obtained=score.how or None,
        rule=score.rule or None,
        why=(score.note or None) if unjudged else None,
        note=None if unjudged else (score.note or None),
        outside_s=score.outside_s,
        longest_outside_s=score.back_s,
    )


def written_number(one: Number | None) -> WrittenNumber | None:
    """Write a number with its unit."""
    if one is None:
        return None
    value = direction(one.value) if one.reference else number(one.value, DECIMALS[one.unit])
    return WrittenNumber.of(one, value=value)


def written_leg(hold: Hold, minutes: float | None) -> WrittenLeg:
    """Write what ends the leg: minutes, or a distance where there are none."""
    if minutes is None and hold.leg is not None:
        return WrittenLeg(distance_nm=hold.leg.distance_nm)
    return WrittenLeg(minutes=minutes)


def written_circuit(
    judged: JudgedCircuit, hold: Hold, regime: Regime, scoring: Scoring, *, variation_deg: float | None
) -> WrittenCircuit:
    """Write one circuit, the directions in its advice by the variation."""
    circuit = judged.circuit
    return WrittenCircuit.of(
        judged.measures,
        circuit,
        leg=written_leg(hold, judged.terms.minutes),
        timed=judged.terms.timed,
        outbound_turn=_turn(circuit.outbound_turn, judged.turns.get("outbound_turn")),
        outbound_leg=_outbound_leg(judged),
        inbound_turn=_inbound_turn(judged),
        inbound_leg=_inbound_leg(judged),
        altitude_ft=judged.altitude_ft,
        altitude_error_max_ft=judged.scores["altitude"].value,
        speed_error_max_kt=judged.scores["speed"].value,
        wind=WrittenCircuitWind(
            east_kt=circuit.wind_east_kt, north_kt=circuit.wind_north_kt, sd_kt=circuit.wind_sd_kt
        ),
        ideal=_ideal(judged),
        error_budget=tuple(_share(share, variation_deg) for share in _by_cost(judged.shares)),
        error=None if judged.budget is None else WrittenError.of(judged.budget),
        error_budget_missing=judged.no_budget or None,
        reflown=_reflown(judged, scoring.advice.least_nm),
        rules_of_thumb=_thumbs(judged, regime, judged.terms.still_air_s),
        scores={item: written_score(score) for item, score in judged.scores.items()},
        inbound_correction=written_score(judged.inbound_correction),
        points=judged.points,
    )


def _ideal(judged: JudgedCircuit) -> WrittenIdeal:
    exact = judged.ideal.circuit
    return WrittenIdeal.of(
        exact,
        why_not=exact.why_not or None,
        rate=exact.turn_rate_dps,
        inbound_correction=exact.inbound_drift_correction_deg,
        gate_bearing=wrap180(exact.gate_bearing_deg) if exact.closes else None,
    )


def _thumbs(judged: JudgedCircuit, regime: Regime, still_air_s: float | None) -> tuple[WrittenThumb, ...]:
    exact = judged.ideal.circuit
    if not exact.closes:
        return ()
    outbound_s = exact.outbound_timed_s if still_air_s is None else still_air_s
    rules = compared_with_thumb(exact, still_air_s=outbound_s, allowances=regime.allowances)
    # Without a prescribed time there is nothing that a rule of thumb could correct.
    return tuple(_thumb(one) for one in rules if still_air_s is not None or one.what != "outbound time")


def _thumb(one: ThumbComparison) -> WrittenThumb:
    decimals, rule = DECIMALS[one.thumb.unit], one.thumb.rule
    return WrittenThumb(
        what=one.what,
        rule=rule.name,
        words=rule.words,
        source=rule.source,
        standing=rule.standing,
        value=number(one.thumb.value, decimals),
        exact=number(one.exact, decimals),
        error=number(one.error, decimals),
        unit=one.thumb.unit,
        good=one.good,
    )


def _turn(turn: Turn | None, bank: Score | None) -> WrittenTurn | None:
    if turn is None:
        return None
    return WrittenTurn.of(
        turn,
        bank_target=bank.target if bank else None,
        bank_verdict=bank.verdict if bank else "not judged",
        rate_mean=turn.rate_mean_dps,
    )


def _outbound_leg(judged: JudgedCircuit) -> WrittenOutboundLeg | None:
    leg, measures = judged.circuit.outbound_leg, judged.measures
    if leg is None:
        return None
    exact, known = judged.ideal.circuit, judged.ideal.circuit.closes
    target, target_sd = judged.outbound_target_s
    return WrittenOutboundLeg.of(
        leg,
        measures,
        abeam_s=judged.circuit.abeam_s,
        clock=None if judged.terms.clock == "length" or measures.timed_s is None else judged.terms.clock,
        correction=measures.outbound_correction_deg,
        ideal_heading_true=exact.outbound_heading_deg if known else None,
        ideal_heading_sd=judged.ideal.outbound_heading_sd_deg,
        ideal_timed_s=target if known else None,
        ideal_timed_sd_s=target_sd,
        ideal_timed_wings_s=exact.outbound_time_s if known else None,
    )


def _inbound_turn(judged: JudgedCircuit) -> WrittenInboundTurn | None:
    turn = _turn(judged.circuit.inbound_turn, judged.turns.get("inbound_turn"))
    if turn is None:
        return None
    return WrittenInboundTurn.of(turn, judged.measures)


def _inbound_leg(judged: JudgedCircuit) -> WrittenInboundLeg | None:
    leg, measures = judged.circuit.inbound_leg, judged.measures
    if leg is None:
        return None
    exact, known = judged.ideal.circuit, judged.ideal.circuit.closes
    return WrittenInboundLeg.of(
        measures,
        leg,
        duration_s=measures.inbound_duration_s,
        duration_sd_s=measures.inbound_duration_sd_s,
        ideal_duration_s=exact.inbound_time_s if known else None,
        ideal_duration_sd_s=judged.ideal.inbound_time_sd_s,
        correction=measures.inbound_correction_deg,
        ideal_heading_true=exact.inbound_heading_deg if known else None,
    )


def _by_cost(shares: tuple[Share, ...]) -> list[Share]:
    """Order the shares: those whose advice is given first, then by size."""
    return sorted(shares, key=lambda share: (share.rank or 99, -share.cost.size_nm))


def _share(share: Share, variation_deg: float | None) -> WrittenShare:
    advice = share.advice if share.rank is not None else None
    return WrittenShare.of(
        share.cost,
        advice=None if advice is None else advice.said(variation_deg),
        rank=share.rank,
        fly=None if advice is None else written_number(advice.fly),
        flown=None if advice is None else written_number(advice.flown),
    )


def _reflown(judged: JudgedCircuit, least_nm: float) -> tuple[WrittenReflown, ...]:
    """Give the path for each fault worth it, and for all together; smaller ones than ``least_nm`` are left out."""
    if judged.budget is None:
        return ()
    faults = faults_of(judged, least_nm)
    ways: list[tuple[str, tuple[str, ...]]] = [(fault, (fault,)) for fault in faults]
    if faults:
        ways.append(("all", DECISIONS))
    made = []
    for cause, causes in ways:
        east, north = map(thousandths, reflown(judged, causes))
        made.append(
            WrittenReflown(cause=cause, east_nm=east, north_nm=north, rollout=_rollout(judged, causes))
        )
    return tuple(made)


def _rollout(judged: JudgedCircuit, causes: tuple[str, ...]) -> WrittenRollout:
    budget = judged.budget
    assert budget is not None
    moved = budget.righted(causes).rollout - budget.flown.rollout
    there = budget.axes.at(budget.instants.rollout_s) + moved
    return WrittenRollout(cross_track_nm=budget.axes.side * there.imag, along_nm=there.real)


def written_entry(judged: JudgedEntry | None) -> WrittenEntry | None:
    """Write the entry; None where the log begins inside the hold."""
    if judged is None:
        return None
    entry = judged.entry
    path = WrittenPath(east_nm=thousandths(judged.ideal_east_nm), north_nm=thousandths(judged.ideal_north_nm))
    return WrittenEntry.of(
        judged,
        entry,
        note=judged.note or None,
        angle=written_score(judged.angle) if judged.angle else None,
        time=written_score(judged.time) if judged.time else None,
        interception=None if judged.interception is None else WrittenInterception.of(judged.interception),
        arrival=_arrival(judged.arrival),
        ideal_path=path if path.east_nm else None,
    )


def _arrival(one: Arrival) -> WrittenArrival:
    return WrittenArrival.of(
        one,
        speed_at_fix_kias=one.speed_at_fix_kt,
        speed_before_kias=one.speed_before_kt,
        rule=one.source,
        slow_down=written_score(one.slow_down) if one.slow_down else None,
    )


def written_lesson(lesson: Lesson) -> WrittenLesson:
    """Write one lesson."""
    return WrittenLesson.of(
        lesson,
        before=written_number(lesson.before),
        taught=written_number(lesson.taught),
        flown=written_number(lesson.flown),
        exact=written_number(lesson.exact),
    )


def written_leaving(leaving: Leaving | None) -> WrittenLeaving | None:
    """Write the leaving; None where no time was given."""
    if leaving is None:
        return None
    return WrittenLeaving.of(
        leaving,
        score=written_score(leaving.score),
        plans=tuple(_plan(one) for one in leaving.departures),
        turn_in=tuple(_turn_in(one) for one in leaving.table),
    )


def _plan(one: Departure) -> WrittenPlan:
    plan = one.plan
    return WrittenPlan.of(
        one,
        plan,
        to_go_s=plan.wanted_s,
        why_not=plan.why_not or None,
        shortened=tuple(map(WrittenShortened.of, plan.shortened)),
        leaves_s=one.fix_s + plan.leaves_s,
    )


def _turn_in(one: ExactCircuit) -> WrittenTurnIn:
    return WrittenTurnIn.of(one, outbound_timed_wings_s=one.outbound_time_s, back_after_s=one.total_s)


def written_finding(one: Finding) -> WrittenFinding:
    """Write one finding."""
    decimals = DECIMALS.get(one.unit, 2)
    return WrittenFinding.of(
        one,
        value=number(one.value, decimals),
        target=number(one.target, decimals),
        tolerance=number(one.tolerance, decimals),
        sd=number(one.sd, decimals + 1),
        unit=one.unit or None,
        advice=one.advice or None,
        brief=one.brief or None,
        item=one.item or None,
        directions_true=directions(one.directions_true_deg),
    )


def written_excursions(judged: JudgedHold) -> tuple[WrittenExcursion, ...]:
    """Write each time that altitude, speed, bank or track left its tolerance."""
    written = []
    for item, kept in (("altitude", judged.altitude_kept), ("speed", judged.speed_kept)):
        written += _excursions(item, kept.excursions if kept is not None else ())
    for item in ("bank", "track"):
        written += _excursions(item, [one for circuit in judged.circuits for one in circuit.left[item]])
    return tuple(written)


def _excursions(item: str, found: Sequence[Excursion]) -> list[WrittenExcursion]:
    decimals = {"altitude": 1, "track": 4}.get(item, 2)
    return [
        WrittenExcursion.of(
            one, item=item, worst=number(one.worst, decimals), reference=number(one.reference, decimals)
        )
        for one in found
    ]
