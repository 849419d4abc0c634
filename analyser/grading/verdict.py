"""The verdict in plain words: how many circuits, the entry, and the one thing that cost most."""

from __future__ import annotations

from analyser.grading.advice import Share
from analyser.grading.entry_judged import JudgedEntry
from analyser.grading.judged import JudgedCircuit, JudgedHold
from analyser.grading.learning import Lesson
from analyser.grading.leaving import Leaving
from analyser.grading.wording import count, sentence, share_of, with_article

#: Below this a drift correction is too small to speak of shares of it, degrees.
_LEAST_CORRECTION_DEG = 4.0


def verdict(judged: JudgedHold, variation_deg: float | None) -> tuple[str, ...]:
    """Write the verdict.

    Parameters
    ----------
    judged : JudgedHold
    variation_deg : float or None
        For magnetic directions, east positive; true ones where it is not known.

    Returns
    -------
    tuple of str
        Sentences: count and entry, the main finding, then what was learned and how the hold was left.
    """
    said = [sentence(count(len(judged.circuits), "circuit"))]
    if judged.entry is not None:
        said.append(_entry(judged.entry))
    said.append(_main(judged.circuits, judged.advice, variation_deg))
    said += _learned(judged.learning)
    if judged.leaving is not None:
        said.append(_left(judged.leaving))
    return tuple(said)


def _entry(entry: JudgedEntry) -> str:
    if entry.verdict == "correct":
        return "Your entry was right."
    if entry.verdict == "not judged":
        return "The log cannot tell whether your entry was right."
    wanted = with_article(" or ".join(entry.sectors_allowed))
    flown = "none of the three" if entry.entry.flown == "other" else f"{with_article(entry.entry.flown)} one"
    return f"The heading at the fix asked for {wanted} entry; you flew {flown}."


def _main(circuits: tuple[JudgedCircuit, ...], advice: tuple[Share, ...], variation_deg: float | None) -> str:
    if not advice:
        if any(one.budget is not None for one in circuits):
            return "No fault cost enough to speak of."
        why = next((one.no_budget for one in circuits), "there is no circuit to judge")
        return f"What cost what cannot be said: {why}."
    first = advice[0]
    assert first.advice is not None
    if first.cost.cause == "outbound_heading":
        words = _correction(circuits, first)
        if words:
            return words
    return first.advice.said(variation_deg)


def _correction(circuits: tuple[JudgedCircuit, ...], share: Share) -> str | None:
    """Say an outbound heading as a share of the drift correction that it needed."""
    circuit = next((one for one in circuits if share in one.shares), None)
    if circuit is None or circuit.measures.outbound_correction_deg is None:
        return None
    needed, flown = circuit.ideal.circuit.outbound_correction_deg, circuit.measures.outbound_correction_deg
    if abs(needed) < _LEAST_CORRECTION_DEG:
        return None
    more = abs(needed) - flown * (1.0 if needed > 0 else -1.0)
    where = (
        f"On circuit {circuit.circuit.number} the outbound heading"
        if len(circuits) > 1
        else "The outbound heading"
    )
    # Into the wind is the way the correction points; said as the pilot steers.
    side = "right" if needed > 0 else "left"
    if flown * needed < 0.0 and abs(flown) >= _LEAST_CORRECTION_DEG:
        return f"{where} was laid off to the wrong side: steer {more:.0f}° further {side}."
    carried = share_of(max(flown / needed, 0.0))
    if more > 0:
        return (
            f"{where} carried {carried} the drift correction it needed: take {more:.0f}° more, to the {side}."
        )
    return f"{where} carried {carried} the drift correction it needed: take {-more:.0f}° of it off."


#: What is said of the last correction that missed what was taught.
_MISSED = {
    "wrong way": "went the wrong way",
    "too far": "went too far",
    "too little": "did not go far enough",
    "not at all": "was never made",
}


def _learned(learning: tuple[Lesson, ...]) -> list[str]:
    """Say what was learned from circuit to circuit: praise together, what was missed one by one."""
    right, said = [], []
    for quantity, words in (("outbound_heading", "heading"), ("outbound_time", "time")):
        outcomes = [lesson.outcome for lesson in learning if lesson.quantity == quantity]
        missed = [one for one in outcomes if one in _MISSED]
        if outcomes and not missed:
            right.append(words)
        elif missed and outcomes[-1] in _MISSED:
            said.append(f"Your last correction of the outbound {words} {_MISSED[outcomes[-1]]}.")
        elif missed:
            said.append(f"You found the right outbound {words} in the end.")
    if right:
        said.insert(
            0,
            f"From circuit to circuit you set the outbound {' and '.join(right)} as the inbound leg taught.",
        )
    return said


def _left(leaving: Leaving) -> str:
    if leaving.left_s is None:
        return "The fix was not passed again, so leaving on time was not judged."
    error = leaving.left_s - leaving.leave_at_s
    if abs(error) < 1.0:
        return "You left the fix on the second."
    return f"You left the fix {abs(error):.0f} s {'late' if error > 0 else 'early'}."
