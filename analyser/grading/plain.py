"""Numbers and scores fit for a data file: rounded to what they mean, and null where unknown, never NaN."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analyser.earth.angles import wrap360
from analyser.grading.score import Score
from analyser.grading.wording import Number


def number(value: float | None, decimals: int) -> float | None:
    """Round a number; None where it is not known.

    Returns
    -------
    float or None
        Never NaN or infinite, never a negative nought.
    """
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), decimals) + 0.0


def seconds(value: float | None) -> float | None:
    """Round to hundredths of a second."""
    return number(value, 2)


def miles(value: float | None) -> float | None:
    """Round to ten-thousandths of a nautical mile (20 cm)."""
    return number(value, 4)


def degrees(value: float | None) -> float | None:
    """Round an angle to hundredths of a degree."""
    return number(value, 2)


def direction(value: float | None) -> float | None:
    """Round a direction to hundredths of a degree, in [0, 360) also after rounding."""
    rounded = None if value is None else number(wrap360(value), 2)
    return 0.0 if rounded == 360.0 else rounded


def knots(value: float | None) -> float | None:
    """Round to hundredths of a knot."""
    return number(value, 2)


def feet(value: float | None) -> float | None:
    """Round to tenths of a foot."""
    return number(value, 1)


def points(value: float | None) -> float | None:
    """Round points to tenths."""
    return number(value, 1)


def path(east_nm: NDArray[np.float64], north_nm: NDArray[np.float64]) -> dict[str, Any]:
    """Round a path for drawing, to thousandths of a nautical mile (2 m)."""
    return {
        "east_nm": [number(float(one), 3) for one in east_nm],
        "north_nm": [number(float(one), 3) for one in north_nm],
    }


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
