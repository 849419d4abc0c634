"""Scores and numbers to fly as plain data for the debrief file."""

from __future__ import annotations

from typing import Any

from analyser.grading.plain import direction, number, points
from analyser.grading.score import Score
from analyser.grading.wording import Number

#: Decimals by unit: a hundredth of a degree, second or knot, twenty centimetres, a tenth of a foot.
DECIMALS = {"s": 2, "°": 2, "NM": 4, "kt": 2, "ft": 1}


def score_document(score: Score) -> dict[str, Any]:
    """Write one score as plain data."""
    decimals = DECIMALS[score.unit]
    return {
        "points": points(score.points),
        "value": number(score.value, decimals),
        "target": number(score.target, decimals),
        "tolerance": number(score.tolerance, decimals),
        "verdict": score.verdict,
        "unit": score.unit,
        "sd": number(score.sd, decimals + 1),
        "deviation": number(score.deviation, decimals),
        "reference": number(score.reference, decimals),
        "obtained": score.how or None,
        "rule": score.rule or None,
        "why": (score.note or None) if score.verdict == "not judged" else None,
        "note": (score.note or None) if score.verdict != "not judged" else None,
        "outside_s": number(score.outside_s, 1),
        "longest_outside_s": number(score.back_s, 1),
    }


def number_document(one: Number | None) -> dict[str, Any] | None:
    """Write a number with its unit; ``reference`` is "true" for a direction and null for anything else."""
    if one is None:
        return None
    value = direction(one.value) if one.reference else number(one.value, DECIMALS[one.unit])
    return {"value": value, "unit": one.unit, "reference": one.reference}
