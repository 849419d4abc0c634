"""Findings, and what they held the points down to, as plain data for the debrief file."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from analyser.grading.finding import Capped, Finding
from analyser.grading.judged import JudgedHold
from analyser.grading.keeping import Excursion
from analyser.grading.plain import direction, number, points, seconds
from analyser.grading.score_document import DECIMALS


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
