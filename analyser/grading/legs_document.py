"""Turns and legs of a circuit as plain data for the debrief file."""

from __future__ import annotations

from typing import Any

from analyser.circuits.flown import Turn
from analyser.grading.judged import JudgedCircuit
from analyser.grading.plain import degrees, direction, miles, number, seconds
from analyser.grading.score import Score


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
