"""The verdict in plain words, read from the ranked findings: what was worst, how much was flown, what was right."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analyser.grading.finding import Finding
from analyser.grading.wording import count, sentence

#: What may have been dangerous, and that nothing could be judged, is said before all else that is no sure fault.
_CAUTIONS = ("holding area", "area speed", "not judged")
#: What was right and belongs with the first sentences.
_ABOVE = ("entry", "within")
#: What was learned, how the hold was left, and what cannot be said: the rest.
_BELOW = ("learning", "leaving", "no budget")


@dataclass(frozen=True)
class Said:
    """The verdict, in its two parts.

    Attributes
    ----------
    first : tuple of str
        Sentences: what was unsafe or below standard, how many circuits, whether the entry was right and all
        within tolerance, and what would make it better.
    rest : tuple of str
        What was learned, and how the hold was left.
    """

    first: tuple[str, ...]
    rest: tuple[str, ...]


def said(findings: Sequence[Finding], circuits: int, broken_off: int = 0) -> Said:
    """Write the verdict.

    Parameters
    ----------
    findings : sequence of Finding
        Ranked.
    circuits : int
        How many were flown.
    broken_off : int
        How many of them were not flown to their end.
    """
    bad = [one for one in findings if one.severity in ("unsafe", "below standard") or one.kind in _CAUTIONS]
    good = [one for one in findings if one.severity == "good"]
    better = [one for one in findings if one.severity == "improve" and one.kind not in (*_CAUTIONS, *_BELOW)]
    words = [*(one.sentence for one in bad), _flown(circuits, broken_off)]
    words += [one.sentence for one in good if one.kind in _ABOVE]
    words += [one.sentence for one in better[:1]]
    kinds = {one.kind for one in good}
    if not bad and not better and "within" in kinds and "no budget" not in kinds:
        words.append("No fault cost enough to speak of.")
    return Said(tuple(dict.fromkeys(words)), tuple(one.sentence for one in findings if one.kind in _BELOW))


def _flown(circuits: int, broken_off: int) -> str:
    if not broken_off:
        return sentence(count(circuits, "circuit"))
    if circuits == broken_off:
        return sentence(f"{count(circuits, 'circuit')}, broken off")
    return sentence(
        f"{count(circuits - broken_off, 'circuit')}, and {count(broken_off, 'circuit')} broken off"
    )


def work_on_first(findings: Sequence[Finding]) -> Finding | None:
    """Choose the one thing to work on first: the worst finding that has advice.

    Parameters
    ----------
    findings : sequence of Finding
        Ranked.

    Returns
    -------
    Finding or None
        None where nothing is advised.
    """
    return next((one for one in findings if one.advice), None)
