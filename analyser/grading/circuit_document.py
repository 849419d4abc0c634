"""One judged circuit as plain data for the debrief file."""

from __future__ import annotations

from typing import Any

from analyser.earth.angles import wrap180
from analyser.grading.budget_document import budget_document
from analyser.grading.judged import JudgedCircuit
from analyser.grading.legs_document import legs_document
from analyser.grading.plain import degrees, direction, feet, knots, miles, number, points, seconds
from analyser.grading.score_document import DECIMALS, score_document
from analyser.holds.beside import Beside, rules_beside
from analyser.holds.definition import Hold
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
    rules = rules_beside(exact, still_air_s=outbound_s, allowances=regime.allowances)
    # Without a prescribed time there is nothing that a rule of thumb could correct.
    return [_thumb(one) for one in rules if still_air_s is not None or one.what != "outbound time"]


def _thumb(one: Beside) -> dict[str, Any]:
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
