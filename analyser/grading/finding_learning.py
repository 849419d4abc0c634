"""Findings on what was learned from circuit to circuit, and on leaving on time."""

from __future__ import annotations

from analyser.grading.finding import Finding
from analyser.grading.judged import JudgedHold
from analyser.grading.learned import learned


def learning_findings(judged: JudgedHold) -> list[Finding]:
    """Find what became of each correction, and whether the fix was left on time."""
    exact = tuple(
        lesson.exact.value for lesson in judged.learning if lesson.exact and lesson.exact.reference == "true"
    )
    found = [
        Finding(
            "learning",
            "good" if right else "improve",
            (),
            None,
            None,
            None,
            None,
            "",
            sentence,
            directions_true_deg=exact,
        )
        for sentence, right in learned(judged.learning, judged.variation_deg, judged.scoring.learning)
    ]
    return found + _leaving(judged)


def _leaving(judged: JudgedHold) -> list[Finding]:
    leaving = judged.leaving
    if leaving is None:
        return []
    score = leaving.score
    if leaving.left_s is None:
        words = "The fix was not passed again, so leaving on time was not judged."
        return [Finding("leaving", "good", (), None, None, score.tolerance, None, "s", words, item="leaving")]
    error = leaving.left_s - leaving.leave_at_s
    words = (
        "You left the fix on the second."
        if abs(error) < 1.0
        else f"You left the fix {abs(error):.0f} s {'late' if error > 0 else 'early'}."
    )
    outside = score.verdict == "outside"
    brief = f"{abs(error):.0f} s {'late' if error > 0 else 'early'} over the fix"
    return [
        Finding(
            "leaving",
            "improve" if outside else "good",
            (),
            error,
            0.0,
            score.tolerance,
            score.sd,
            "s",
            words,
            item="leaving",
            brief=brief,
            outside=outside,
        )
    ]
