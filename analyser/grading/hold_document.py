"""A judged hold's entry, findings, learning and leaving as plain data for the debrief file."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from analyser.grading.entry_judged import Arrival, Interception, JudgedEntry
from analyser.grading.finding import Capped, Finding
from analyser.grading.judged import JudgedHold
from analyser.grading.keeping import Excursion
from analyser.grading.learning import Lesson
from analyser.grading.plain import (
    DECIMALS,
    degrees,
    direction,
    knots,
    miles,
    number,
    number_document,
    path,
    points,
    score_document,
    seconds,
)
from analyser.grading.timing import Departure, Leaving
from analyser.holds.exact import ExactCircuit
from analyser.holds.leaving_plan import TurnIn


def entry_document(judged: JudgedEntry | None) -> dict[str, Any] | None:
    """Write the entry as plain data; None where the log begins inside the hold."""
    if judged is None:
        return None
    entry = judged.entry
    return {
        "fix_s": seconds(entry.fix_s),
        "end_s": seconds(entry.end_s),
        "arrival_heading_true": direction(entry.arrival_heading_deg),
        "arrival_heading_sd": degrees(entry.arrival_heading_sd_deg),
        "sectors_allowed": list(judged.sectors_allowed),
        "flown": entry.flown,
        "verdict": judged.verdict,
        "recommended": judged.recommended,
        "note": judged.note or None,
        "points": points(judged.points),
        "angle": score_document(judged.angle) if judged.angle else None,
        "time": score_document(judged.time) if judged.time else None,
        "off_side_nm": miles(judged.off_side_nm),
        "turn_back": degrees(judged.turn_back_deg),
        "turn_back_right_way": judged.turn_back_right_way,
        "interception": _interception(judged.interception),
        "arrival": _arrival(judged.arrival),
        "ideal_path": path(judged.ideal_east_nm, judged.ideal_north_nm)
        if judged.ideal_east_nm.size
        else None,
    }


def lesson_document(lesson: Lesson) -> dict[str, Any]:
    """Write one lesson as plain data."""
    return {
        "circuit": lesson.circuit,
        "quantity": lesson.quantity,
        "before": number_document(lesson.before),
        "taught": number_document(lesson.taught),
        "flown": number_document(lesson.flown),
        "exact": number_document(lesson.exact),
        "outcome": lesson.outcome,
        "rule": lesson.rule,
    }


def leaving_document(leaving: Leaving | None) -> dict[str, Any] | None:
    """Write the leaving as plain data; None where no time was given."""
    if leaving is None:
        return None
    return {
        "leave_at_s": seconds(leaving.leave_at_s),
        "left_s": seconds(leaving.left_s),
        "score": score_document(leaving.score),
        "plans": [_departure(one) for one in leaving.departures],
        "turn_in": [_turn_in(one) for one in leaving.table],
    }


def _interception(one: Interception | None) -> dict[str, Any] | None:
    if one is None:
        return None
    return {
        "rollout_cross_track_nm": miles(one.rollout_cross_track_nm),
        "angle": degrees(one.angle_deg),
        "met_at_nm": miles(one.met_at_nm),
    }


def _arrival(one: Arrival) -> dict[str, Any]:
    return {
        "speed_at_fix_kias": knots(one.speed_at_fix_kt),
        "speed_before_kias": knots(one.speed_before_kt),
        "limit_kias": knots(one.limit_kias),
        "slowed_before_fix_s": seconds(one.slowed_before_fix_s),
        "verdict": one.verdict,
        "rule": one.source,
        "slow_down": score_document(one.slow_down) if one.slow_down else None,
    }


def _departure(one: Departure) -> dict[str, Any]:
    plan = one.plan
    return {
        "fix_s": seconds(one.fix_s),
        "to_go_s": seconds(plan.wanted_s),
        "feasible": plan.feasible,
        "why_not": plan.why_not or None,
        "full_circuits": plan.full_circuits,
        "shortened": [_shortened(circuit) for circuit in plan.shortened],
        "leaves_s": seconds(one.fix_s + plan.leaves_s),
        "turn_in_s": seconds(one.turn_in_s),
    }


def _shortened(circuit: ExactCircuit) -> dict[str, Any]:
    return {
        "total_s": seconds(circuit.total_s),
        "outbound_heading_true": direction(circuit.outbound_heading_deg),
        "outbound_timed_s": seconds(circuit.outbound_timed_s),
        "inbound_distance_nm": miles(circuit.inbound_distance_nm),
    }


def _turn_in(one: TurnIn) -> dict[str, Any]:
    return {
        "outbound_timed_s": seconds(one.outbound_timed_s),
        "clock_from": one.clock_from,
        "outbound_timed_wings_s": seconds(one.outbound_time_s),
        "outbound_heading_true": direction(one.outbound_heading_deg),
        "turn_in_after_s": seconds(one.turn_in_after_s),
        "back_after_s": seconds(one.back_after_s),
    }


def finding_document(one: Finding) -> dict[str, Any]:
    """Write one finding as plain data."""
    decimals = DECIMALS.get(one.unit, 2)
    return {
        "kind": one.kind,
        "severity": one.severity,
        "circuits": list(one.circuits),
        "value": number(one.value, decimals),
        "target": number(one.target, decimals),
        "tolerance": number(one.tolerance, decimals),
        "sd": number(one.sd, decimals + 1),
        "unit": one.unit or None,
        "sentence": one.sentence,
        "advice": one.advice or None,
        "brief": one.brief or None,
        "cost_points": number(one.cost_points, 2),
        "item": one.item or None,
        "directions_true": [direction(course) for course in one.directions_true_deg],
    }


def excursion_documents(judged: JudgedHold) -> list[dict[str, Any]]:
    """Write each time that altitude, speed, bank or track left its tolerance as plain data."""
    written = []
    for item, kept in (("altitude", judged.altitude_kept), ("speed", judged.speed_kept)):
        written += _excursions(item, kept.excursions if kept is not None else ())
    for item in ("bank", "track"):
        written += _excursions(item, [one for circuit in judged.circuits for one in circuit.left[item]])
    return written


def _excursions(item: str, found: Sequence[Excursion]) -> list[dict[str, Any]]:
    decimals = {"altitude": 1, "track": 4}.get(item, 2)
    return [
        {
            "item": item,
            "start_s": seconds(one.start_s),
            "end_s": seconds(one.end_s),
            "worst": number(one.worst, decimals),
            "worst_s": seconds(one.worst_s),
            "reference": number(one.reference, decimals),
            "circuits": list(one.circuits),
            "came_back": one.came_back,
        }
        for one in found
    ]


def capped_document(one: Capped) -> dict[str, Any]:
    """Write what the points were held down to as plain data."""
    return {
        "points_without": points(one.points_without),
        "at": points(one.at),
        "why": one.why,
        "kind": one.kind,
        "sentence": one.sentence,
    }
