"""Findings on what was learned from circuit to circuit, in words, and on leaving on time."""

from __future__ import annotations

from collections.abc import Sequence

from analyser.earth.angles import wrap180
from analyser.grading.finding import Finding, unmeasured
from analyser.grading.judged import JudgedHold
from analyser.grading.learning import Lesson
from analyser.grading.wording import said_apart_deg
from analyser.rules.scoring import LearningBands

_QUANTITIES = (("outbound_heading", "heading"), ("outbound_time", "time"))
#: What is said of the last correction that missed what was taught.
_MISSED = {
    "wrong way": "went the wrong way",
    "too far": "went too far",
    "too little": "did not go far enough",
    "not at all": "was not made",
}
_TAUGHT, _ASKED, _EITHER = (
    "as the inbound leg taught",
    "as the wind asked",
    "as the inbound leg taught or the wind asked",
)


def learned(
    learning: Sequence[Lesson], variation_deg: float | None, bands: LearningBands
) -> list[tuple[str, bool]]:
    """Say what became of what each inbound leg taught.

    Parameters
    ----------
    learning : sequence of Lesson
        In order of circuits.
    variation_deg : float or None
        For magnetic directions, east positive.
    bands : LearningBands
        From which error on a rule of thumb that was followed is held up against what the wind asked for.

    Returns
    -------
    list of (sentence, right)
        What was done right throughout first; ``right`` is False of a last correction that missed.
    """
    praised, said = [], []
    for quantity, words in _QUANTITIES:
        mine = [lesson for lesson in learning if lesson.quantity == quantity]
        if not mine:
            continue
        last, rest = mine[-1], _rest(mine[-1], words, variation_deg, bands)
        if last.outcome in _MISSED:
            said.append((f"The last correction of the outbound {words} {_MISSED[last.outcome]}.", False))
        elif not any(lesson.outcome in _MISSED for lesson in mine):
            praised.append((words, _how(mine), rest))
        elif last.as_asked:
            said.append((f"You found the right outbound {words} in the end.", True))
        else:
            said.append((f"In the end you set the outbound {words} {_TAUGHT}{rest}.", True))
    return [*((one, True) for one in _praise(praised)), *said]


def _praise(praised: list[tuple[str, str, str]]) -> list[str]:
    if not praised:
        return []
    (words, how, rest), *others = praised
    if others and others[0][1] == how and not rest:
        return [
            f"From circuit to circuit you set the outbound {words} and {others[0][0]} {how}{others[0][2]}."
        ]
    first = f"From circuit to circuit you set the outbound {words} {how}{rest}"
    return [first + "".join(f", and the outbound {one} {by}{more}" for one, by, more in others) + "."]


def _how(lessons: Sequence[Lesson]) -> str:
    if all(lesson.as_taught for lesson in lessons):
        return _TAUGHT
    return _ASKED if all(lesson.as_asked for lesson in lessons) else _EITHER


def _rest(last: Lesson, words: str, variation_deg: float | None, bands: LearningBands) -> str:
    """Say what the wind asked for where the rule that was followed did not meet it."""
    if last.exact is None or last.as_asked:
        return ""
    off = last.exact.value - last.flown.value
    off = wrap180(off) if words == "heading" else off
    if abs(off) < (bands.worth_heading_deg if words == "heading" else bands.worth_time_s):
        return ""
    if words == "heading":
        way = "right" if off > 0.0 else "left"
        apart = abs(said_apart_deg(last.exact.value, last.flown.value, variation_deg))
        return f", though this wind asked for {last.exact.said(variation_deg)}, {apart}° further {way}"
    way = "longer" if off > 0.0 else "shorter"
    return f", though this wind asked for {last.exact.said()}, {abs(off):.0f} s {way}"


def learning_findings(judged: JudgedHold) -> list[Finding]:
    """Find what became of each correction, and whether the fix was left on time."""
    exact = tuple(
        lesson.exact.value for lesson in judged.learning if lesson.exact and lesson.exact.reference == "true"
    )
    found = [
        unmeasured(
            "learning",
            "good" if right else "improve",
            (),
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
