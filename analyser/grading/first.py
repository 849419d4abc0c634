"""The one thing to work on: the dearest cause of the budget, unless altitude or speed cost more points."""

from __future__ import annotations

from analyser.grading.advice import Advice
from analyser.grading.judged import JudgedCircuit, JudgedHold
from analyser.grading.score import Score
from analyser.grading.wording import Number

#: What the error budget explains; altitude and speed it does not see.
_EXPLAINED = ("timing", "bank", "steadiness", "wind_correction", "track")
_HELD = ("altitude", "speed")
#: What the speed was held against: indicated, or true where the log cannot give the indicated one.
_SPEEDS = {False: "indicated airspeed", True: "true airspeed"}


def work_on_first(judged: JudgedHold) -> Advice | None:
    """Choose what to work on first.

    Parameters
    ----------
    judged : JudgedHold

    Returns
    -------
    Advice or None
        None where nothing cost enough to speak of.
    """
    held = _held(judged)
    if held is not None:
        return held
    return judged.advice[0].advice if judged.advice else None


def outside_words(circuits: tuple[JudgedCircuit, ...]) -> list[str]:
    """Name the items that lay outside their tolerance, each with its circuits.

    Parameters
    ----------
    circuits : tuple of JudgedCircuit

    Returns
    -------
    list of str
        ``"timing (circuit 2)"``; empty where nothing that was judged did.
    """
    found: dict[str, list[str]] = {}
    for one in circuits:
        for item, score in one.scores.items():
            if score.verdict == "outside":
                found.setdefault(item.replace("_", " "), []).append(str(one.circuit.number))
    return [
        f"{item} (circuit{'s' if len(numbers) > 1 else ''} {', '.join(numbers)})"
        for item, numbers in found.items()
    ]


def lost_points(judged: JudgedHold, item: str) -> float:
    """Add up the points that an item cost over the circuits, by the weights of items and circuits.

    Parameters
    ----------
    judged : JudgedHold
    item : str
        One of :data:`analyser.rules.scoring.ITEMS`.

    Returns
    -------
    float
        Where not judged, nothing is lost.
    """
    scoring, lost = judged.scoring, 0.0
    for k, one in enumerate(judged.circuits):
        if not one.circuit.complete:
            # Broken off, it may already have been the way out of the hold.
            continue
        points = one.scores[item].points
        counts = scoring.parts.measuring_circuit if k == 0 and judged.entry else scoring.parts.circuit
        if points is not None:
            lost += counts * float(getattr(scoring.weights, item)) * (100.0 - points)
    return lost


def _held(judged: JudgedHold) -> Advice | None:
    """Advise on altitude or speed where that alone cost more points than all that the budget explains."""
    explained = sum(lost_points(judged, item) for item in _EXPLAINED)
    item = max(_HELD, key=lambda one: lost_points(judged, one))
    far = [one for one in judged.circuits if one.circuit.complete and _is_far(judged, one.scores[item])]
    if not far or lost_points(judged, item) <= explained:
        return None
    worst = max(far, key=lambda one: abs(one.scores[item].deviation or 0.0))
    score = worst.scores[item]
    if score.value is None or score.reference is None or score.tolerance is None:
        return None
    what = "altitude" if item == "altitude" else _SPEEDS["true airspeed" in score.note]
    words = (
        f"Hold your {what} within ±{score.tolerance:.0f} {score.unit}: on circuit {worst.circuit.number} "
        "you strayed from {fly} to {flown}."
    )
    return Advice(
        words, Number(score.reference, score.unit), Number(score.reference + score.value, score.unit)
    )


def _is_far(judged: JudgedHold, score: Score) -> bool:
    """Return whether an item strayed far enough to be spoken of first."""
    if score.verdict != "outside" or score.deviation is None or score.tolerance is None:
        return False
    return abs(score.deviation) >= judged.scoring.advice.held_tolerances * score.tolerance
