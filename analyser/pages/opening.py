"""What stands first of a hold: its worst finding, what else was found, what to work on first."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from analyser.pages.marks import turnable

#: So many further findings stand under the first; all of them have a section of their own.
_BESIDE = 3


@dataclass(frozen=True)
class Said:
    """One finding, ready for the page.

    Attributes
    ----------
    severity : str
        As in the document: ``"unsafe"``, ``"below standard"``, ``"improve"`` or ``"good"``.
    sentence : Markup
    advice : Markup or None
    cost_points : float
    """

    severity: str
    sentence: Markup
    advice: Markup | None
    cost_points: float


@dataclass(frozen=True)
class Opening:
    """The first screen's words.

    Attributes
    ----------
    first : Said or None
        None where nothing at all was found to say.
    beside : tuple of Said
        The next worst.
    findings : tuple of Said
        All of them, worst first.
    work_on_first : Markup or None
    circuit : int or None
        Which circuit the first finding speaks of: the plan shows that one.
    """

    first: Said | None
    beside: tuple[Said, ...]
    findings: tuple[Said, ...]
    work_on_first: Markup | None
    circuit: int | None


def opening(document: Mapping[str, Any]) -> Opening:
    """Read the first screen from a hold's findings.

    Parameters
    ----------
    document : mapping
        The hold's part of the debrief document.

    Returns
    -------
    Opening
    """
    found, variation = document["findings"], document["variation"]
    spoken_of = [course for one in found for course in one["directions_true"]]
    said = tuple(_said(one, variation) for one in found)
    first = said[0] if said else None
    work = document["work_on_first"]
    # A finding that praises does not point at a circuit's fault: the whole hold is shown then.
    pointed = found[0]["circuits"] if found and found[0]["severity"] != "good" else []
    return Opening(
        first,
        said[1 : 1 + _BESIDE],
        said,
        turnable(work, variation, spoken_of) if work else None,
        pointed[0] if pointed else None,
    )


def _said(one: Mapping[str, Any], variation: float | None) -> Said:
    def words(text: str) -> Markup:
        return turnable(text, variation, one["directions_true"])

    advice = words(one["advice"]) if one["advice"] else None
    return Said(one["severity"], words(one["sentence"]), advice, one["cost_points"] or 0.0)
