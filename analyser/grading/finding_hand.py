"""The finding that must stand before all others: the hold flown to the other side than the file says."""

from __future__ import annotations

from analyser.grading.finding import Finding
from analyser.grading.judged import JudgedHold
from analyser.grading.wording import on_circuits

#: Its kind; it has a cap of its own.
WRONG_SIDE = "wrong side"


def hand_findings(judged: JudgedHold) -> list[Finding]:
    """Find circuits flown to the other hand than the hold's, with both readings.

    Returns
    -------
    list of Finding
        Empty where the hand was inferred from the flight itself.
    """
    if not judged.flown.given or not judged.other_hand:
        return []
    says, flew = judged.given.turns, "left" if judged.given.turns == "right" else "right"
    every = len(judged.other_hand) == len(judged.circuits)
    numbers = judged.other_hand
    where = "" if every else on_circuits(numbers)
    return [
        Finding(
            WRONG_SIDE,
            "unsafe",
            numbers,
            None,
            None,
            None,
            None,
            "",
            f"The file says {says}-hand turns; you held {flew}-hand{where}, {_near(judged)}. The holding area lies on "
            "the other side; check the file, or turn the other way.",
            0.0,
            "",
            f"Turn {says} over the fix: the hold is {says}-hand.",
            f"flown on the non-holding side{where}",
        )
    ]


def _near(judged: JudgedHold) -> str:
    """Say how near the fix was met: the nearest of the passages at the circuits' ends."""
    misses = [one.measures.fix_miss_nm for one in judged.circuits if one.measures.fix_miss_nm is not None]
    return f"{min(misses):.1f} NM round this fix" if misses else "round this fix"
