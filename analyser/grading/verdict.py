"""The verdict in plain words: how many circuits, the entry, and the one thing that cost most."""

from __future__ import annotations

from analyser.grading.advice import Share
from analyser.grading.entry_judged import JudgedEntry
from analyser.grading.first import outside_words, work_on_first
from analyser.grading.judged import JudgedCircuit, JudgedHold
from analyser.grading.learned import learned_sentences
from analyser.grading.leaving import Leaving
from analyser.grading.wording import count, sentence, share_of, with_article

#: Below this a drift correction is too small to speak of shares of it, degrees.
_LEAST_CORRECTION_DEG = 4.0
#: Nearer to the whole correction than this, degrees say more than a share.
_ABOUT_ALL = 0.25


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
        Sentences: count and entry, whether all lay within tolerance, the main finding, then what was learned
        and how the hold was left.
    """
    said = [sentence(count(len(judged.circuits), "circuit"))]
    if judged.entry is not None:
        said.append(_entry(judged.entry))
    if _all_within(judged):
        said.append("Every item judged in the circuits lay within its tolerance.")
    said.append(_main(judged, variation_deg))
    said += learned_sentences(judged.learning, variation_deg, judged.scoring.learning)
    if judged.leaving is not None:
        said.append(_left(judged.leaving))
    return tuple(said)


def _entry(entry: JudgedEntry) -> str:
    if entry.verdict == "correct" and entry.recommended:
        return "Your entry was right."
    if entry.verdict == "not judged":
        return "The log cannot tell whether your entry was right."
    wanted = with_article(" or ".join(entry.sectors_allowed))
    flown = "none of the three" if entry.entry.flown == "other" else f"{with_article(entry.entry.flown)} one"
    if not entry.recommended:
        return f"For the heading at the fix {wanted} entry is recommended; you flew {flown}."
    return f"The heading at the fix asked for {wanted} entry; you flew {flown}."


def _all_within(judged: JudgedHold) -> bool:
    """Return whether most of every circuit could be judged, and nothing lay outside its tolerance."""
    circuits = [part for part in judged.parts if part.kind == "circuit"]
    mostly = bool(circuits) and all(part.weight > part.unjudged for part in circuits)
    return mostly and not outside_words(judged.circuits)


def _main(judged: JudgedHold, variation_deg: float | None) -> str:
    circuits, first = judged.circuits, work_on_first(judged)
    if first is None:
        return _nothing_dear(circuits)
    if not judged.advice or first is not judged.advice[0].advice:
        return first.said(variation_deg)
    if judged.advice[0].cost.cause == "outbound_heading":
        words = _correction(circuits, judged.advice[0])
        if words:
            return words
    return first.said(variation_deg)


def _nothing_dear(circuits: tuple[JudgedCircuit, ...]) -> str:
    if not any(one.budget is not None for one in circuits):
        why = next((one.no_budget for one in circuits), "there is no circuit to judge")
        return f"What each fault cost cannot be said: {why}."
    outside = outside_words(circuits)
    if not outside:
        return "No fault cost enough to speak of."
    return f"No single cause stands out; outside tolerance: {', '.join(outside)}."


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
    part = max(flown / needed, 0.0)
    if abs(part - 1.0) < _ABOUT_ALL:
        amount = "little" if more > 0 else "much"
        return f"{where} carried {abs(more):.0f}° too {amount} drift correction to the {side}."
    carried = share_of(part)
    if more > 0:
        return (
            f"{where} carried {carried} the drift correction it needed: take {more:.0f}° more, to the {side}."
        )
    return f"{where} carried {carried} the drift correction it needed: take {-more:.0f}° of it off."


def _left(leaving: Leaving) -> str:
    if leaving.left_s is None:
        return "The fix was not passed again, so leaving on time was not judged."
    error = leaving.left_s - leaving.leave_at_s
    if abs(error) < 1.0:
        return "You left the fix on the second."
    return f"You left the fix {abs(error):.0f} s {'late' if error > 0 else 'early'}."
