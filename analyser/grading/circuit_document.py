"""One judged circuit as plain data for the debrief file: its parts, its error budget, and the circuit flown again."""

from __future__ import annotations

from typing import Any

from analyser.circuits.flown import Turn
from analyser.earth.angles import wrap180
from analyser.grading.advice import Share
from analyser.grading.decisions import DECISIONS
from analyser.grading.judged import JudgedCircuit
from analyser.grading.plain import (
    DECIMALS,
    degrees,
    direction,
    feet,
    knots,
    miles,
    number,
    number_document,
    path,
    points,
    score_document,
    seconds,
)
from analyser.grading.reflown_path import faults_of, reflown
from analyser.grading.score import Score
from analyser.holds.definition import Hold
from analyser.holds.rules_of_thumb import ThumbComparison, compared_with_thumb
from analyser.rules.regime import Regime
from analyser.rules.scoring import Scoring


def leg_document(hold: Hold, minutes: float | None) -> dict[str, Any]:
    """Write what ends the leg: minutes, or a distance where there are none."""
    if minutes is None and hold.leg is not None:
        return {"distance_nm": miles(hold.leg.distance_nm)}
    return {"minutes": number(minutes, 3)}


def circuit_document(
    judged: JudgedCircuit, hold: Hold, regime: Regime, scoring: Scoring, *, variation_deg: float | None
) -> dict[str, Any]:
    """Write one circuit as plain data.

    Parameters
    ----------
    variation_deg : float or None
        For the directions in the advice.
    """
    circuit = judged.circuit
    return {
        "number": circuit.number,
        "start_s": seconds(circuit.start_s),
        "end_s": seconds(circuit.end_s),
        "complete": circuit.complete,
        "leg": leg_document(hold, judged.terms.minutes),
        "timed": judged.terms.timed,
        **legs_document(judged),
        "fix_miss_nm": miles(judged.measures.fix_miss_nm),
        "fix_cross_track_nm": miles(judged.measures.fix_cross_track_nm),
        "start_delay_s": seconds(judged.measures.start_delay_s),
        "total_s": seconds(judged.measures.total_s),
        "altitude_ft": feet(judged.altitude_ft),
        "altitude_error_max_ft": feet(judged.scores["altitude"].value),
        "speed_error_max_kt": knots(judged.scores["speed"].value),
        "tas_kt": knots(circuit.tas_kt),
        "tas_sd_kt": knots(circuit.tas_sd_kt),
        "wind": {
            "east_kt": knots(circuit.wind_east_kt),
            "north_kt": knots(circuit.wind_north_kt),
            "sd_kt": knots(circuit.wind_sd_kt),
        },
        "ideal": _ideal(judged),
        **budget_document(judged, scoring.advice.least_nm, variation_deg),
        "rules_of_thumb": _thumbs(judged, regime, judged.terms.still_air_s),
        "scores": {item: score_document(score) for item, score in judged.scores.items()},
        "inbound_correction": score_document(judged.inbound_correction),
        "points": points(judged.points),
    }


def _ideal(judged: JudgedCircuit) -> dict[str, Any]:
    exact = judged.ideal.circuit
    return {
        "exists": exact.exists,
        "closes": exact.closes,
        "why_not": exact.why_not or None,
        "bank": degrees(exact.bank_deg),
        "rate": number(exact.turn_rate_dps, 3),
        "roll_s": seconds(exact.roll_s),
        "inbound_heading_true": direction(exact.inbound_heading_deg),
        "inbound_correction": degrees(exact.inbound_drift_correction_deg),
        "inbound_time_s": seconds(exact.inbound_time_s),
        "inbound_distance_nm": miles(exact.inbound_distance_nm),
        "outbound_heading_true": direction(exact.outbound_heading_deg),
        "outbound_correction": degrees(exact.outbound_correction_deg),
        "outbound_track_true": direction(exact.outbound_track_deg),
        "outbound_time_s": seconds(exact.outbound_time_s),
        "outbound_timed_s": seconds(exact.outbound_timed_s),
        "drift_multiple": number(exact.drift_multiple, 2),
        "gate_bearing": degrees(wrap180(exact.gate_bearing_deg)) if exact.closes else None,
        "total_s": seconds(exact.total_s),
    }


def _thumbs(judged: JudgedCircuit, regime: Regime, still_air_s: float | None) -> list[dict[str, Any]]:
    exact = judged.ideal.circuit
    if not exact.closes:
        return []
    outbound_s = exact.outbound_timed_s if still_air_s is None else still_air_s
    rules = compared_with_thumb(exact, still_air_s=outbound_s, allowances=regime.allowances)
    # Without a prescribed time there is nothing that a rule of thumb could correct.
    return [_thumb(one) for one in rules if still_air_s is not None or one.what != "outbound time"]


def _thumb(one: ThumbComparison) -> dict[str, Any]:
    decimals = DECIMALS[one.thumb.unit]
    return {
        "what": one.what,
        "rule": one.thumb.rule.name,
        "words": one.thumb.rule.words,
        "source": one.thumb.rule.source,
        "standing": one.thumb.rule.standing,
        "value": number(one.thumb.value, decimals),
        "exact": number(one.exact, decimals),
        "error": number(one.error, decimals),
        "unit": one.thumb.unit,
        "good": one.good,
    }


def legs_document(judged: JudgedCircuit) -> dict[str, Any]:
    """Write the four parts of a circuit; null where a part was not flown."""
    return {
        "outbound_turn": _turn(judged.circuit.outbound_turn, judged.turns.get("outbound_turn")),
        "outbound_leg": _outbound_leg(judged),
        "inbound_turn": _inbound_turn(judged),
        "inbound_leg": _inbound_leg(judged),
    }


def _turn(turn: Turn | None, bank: Score | None) -> dict[str, Any] | None:
    if turn is None:
        return None
    return {
        "start_s": seconds(turn.start_s),
        "end_s": seconds(turn.end_s),
        "start_sd_s": seconds(turn.start_sd_s),
        "end_sd_s": seconds(turn.end_sd_s),
        "bank_mean": degrees(turn.bank_mean_deg),
        "bank_mean_sd": degrees(turn.bank_mean_sd_deg),
        "bank_target": degrees(bank.target) if bank else None,
        "bank_verdict": bank.verdict if bank else "not judged",
        "bank_max": degrees(turn.bank_max_deg),
        "bank_wander": degrees(turn.bank_wander_deg),
        "rate_mean": number(turn.rate_mean_dps, 3),
        "heading_change": degrees(turn.heading_change_deg),
    }


def _outbound_leg(judged: JudgedCircuit) -> dict[str, Any] | None:
    leg, measures = judged.circuit.outbound_leg, judged.measures
    if leg is None:
        return None
    exact, known = judged.ideal.circuit, judged.ideal.circuit.closes
    target, target_sd = judged.outbound_target_s
    return {
        "start_s": seconds(leg.start_s),
        "end_s": seconds(leg.end_s),
        "abeam_s": seconds(judged.circuit.abeam_s),
        "clock": None if judged.terms.clock == "length" or measures.timed_s is None else judged.terms.clock,
        "timed_s": seconds(measures.timed_s),
        "timed_sd_s": seconds(measures.timed_sd_s),
        "timed_wings_s": seconds(measures.timed_wings_s),
        "heading_true": direction(leg.heading_deg),
        "heading_sd": degrees(leg.heading_sd_deg),
        "correction": degrees(measures.outbound_correction_deg),
        "track_true": direction(leg.track_deg),
        "ideal_heading_true": direction(exact.outbound_heading_deg) if known else None,
        "ideal_heading_sd": degrees(judged.ideal.outbound_heading_sd_deg),
        "ideal_timed_s": seconds(target) if known else None,
        "ideal_timed_sd_s": seconds(target_sd),
        "ideal_timed_wings_s": seconds(exact.outbound_time_s) if known else None,
    }


def _inbound_turn(judged: JudgedCircuit) -> dict[str, Any] | None:
    turn = _turn(judged.circuit.inbound_turn, judged.turns.get("inbound_turn"))
    if turn is None:
        return None
    measures = judged.measures
    return turn | {
        "rollout_cross_track_nm": miles(measures.rollout_cross_track_nm),
        "rollout_along_nm": miles(measures.rollout_along_nm),
        "rollout_heading_true": direction(measures.rollout_heading_deg),
    }


def _inbound_leg(judged: JudgedCircuit) -> dict[str, Any] | None:
    leg, measures = judged.circuit.inbound_leg, judged.measures
    if leg is None:
        return None
    exact, known = judged.ideal.circuit, judged.ideal.circuit.closes
    return {
        "start_s": seconds(leg.start_s),
        "end_s": seconds(leg.end_s),
        "duration_s": seconds(measures.inbound_duration_s),
        "duration_sd_s": seconds(measures.inbound_duration_sd_s),
        "ideal_duration_s": seconds(exact.inbound_time_s) if known else None,
        "ideal_duration_sd_s": seconds(judged.ideal.inbound_time_sd_s),
        "cross_track_rms_nm": miles(measures.cross_track_rms_nm),
        "cross_track_max_nm": miles(measures.cross_track_max_nm),
        "off_course_rms_deg": degrees(measures.off_course_rms_deg),
        "off_course_max_deg": degrees(measures.off_course_max_deg),
        "deflection_rms": number(measures.deflection_rms, 3),
        "deflection_max": number(measures.deflection_max, 3),
        "heading_true": direction(leg.heading_deg),
        "heading_sd": degrees(leg.heading_sd_deg),
        "correction": degrees(measures.inbound_correction_deg),
        "ideal_heading_true": direction(exact.inbound_heading_deg) if known else None,
        "track_true": direction(leg.track_deg),
    }


def budget_document(judged: JudgedCircuit, least_nm: float, variation_deg: float | None) -> dict[str, Any]:
    """Write a circuit's error budget as plain data.

    Parameters
    ----------
    least_nm : float
        Faults that moved the roll-out by less are not flown again.
    variation_deg : float or None
        For the directions in the advice.

    Returns
    -------
    dict
        The keys of the circuit that belong to the budget.
    """
    return {
        "error_budget": [_share(share, variation_deg) for share in _by_cost(judged.shares)],
        "error": _error(judged),
        "error_budget_missing": judged.no_budget or None,
        "reflown": _reflown(judged, least_nm),
    }


def _by_cost(shares: tuple[Share, ...]) -> list[Share]:
    """Order the shares: those whose advice is given first, then by size."""
    return sorted(shares, key=lambda share: (share.rank or 99, -share.cost.size_nm))


def _share(share: Share, variation_deg: float | None) -> dict[str, Any]:
    cost, advice = share.cost, share.advice if share.rank is not None else None
    return {
        "cause": cost.cause,
        "cross_track_nm": miles(cost.cross_track_nm),
        "along_track_nm": miles(cost.along_track_nm),
        "time_s": seconds(cost.time_s),
        "end_cross_track_nm": miles(cost.end_cross_track_nm),
        "end_along_track_nm": miles(cost.end_along_track_nm),
        "sd_nm": miles(cost.sd_nm),
        "advice": None if advice is None else advice.said(variation_deg),
        "rank": share.rank,
        "fly": None if advice is None else number_document(advice.fly),
        "flown": None if advice is None else number_document(advice.flown),
    }


def _error(judged: JudgedCircuit) -> dict[str, Any] | None:
    budget = judged.budget
    if budget is None:
        return None
    return {
        "cross_track_nm": miles(budget.cross_track_nm),
        "along_track_nm": miles(budget.along_track_nm),
        "time_s": seconds(budget.time_s),
        "end_cross_track_nm": miles(budget.end_cross_track_nm),
        "end_along_track_nm": miles(budget.end_along_track_nm),
    }


def _reflown(judged: JudgedCircuit, least_nm: float) -> list[dict[str, Any]]:
    """Give the path for each fault worth it, and for all together."""
    if judged.budget is None:
        return []
    faults = faults_of(judged, least_nm)
    ways: list[tuple[str, tuple[str, ...]]] = [(fault, (fault,)) for fault in faults]
    if faults:
        ways.append(("all", DECISIONS))
    return [
        {"cause": cause, **path(*reflown(judged, causes))} | {"rollout": _rollout(judged, causes)}
        for cause, causes in ways
    ]


def _rollout(judged: JudgedCircuit, causes: tuple[str, ...]) -> dict[str, Any]:
    budget = judged.budget
    assert budget is not None
    moved = budget.righted(causes).rollout - budget.flown.rollout
    there = budget.axes.at(budget.instants.rollout_s) + moved
    return {"cross_track_nm": miles(budget.axes.side * there.imag), "along_nm": miles(there.real)}
