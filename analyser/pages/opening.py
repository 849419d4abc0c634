"""What stands first of a hold: its worst finding, what else was found, what to work on first."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from markupsafe import Markup

from analyser.frozen import dataclass
from analyser.pages.words import turnable
from analyser.summary import foremost

if TYPE_CHECKING:
    from analyser.schema.debrief_file import WrittenFinding, WrittenHold

#: Where an advice goes on to the rule by which the figure is found in another wind.
_RULE = re.compile(r"(?<=[.!?])\s+(?=(?:The rule|Rule)\b)")


@dataclass(frozen=True)
class ShownFinding:
    """One finding, ready for the page.

    ``label`` is the severity as in the document, or ``"not judged"``: that a log is too coarse is nothing to improve.
    """

    label: str
    sentence: Markup
    advice: Markup | None
    cost_points: float


@dataclass(frozen=True)
class Opening:
    """The first screen's words: the worst finding, the next worst beside it, all of them, what to do.

    ``work_why`` is what else is said of the work, ``notes`` what holds the points or the grade down, and ``circuit``
    the one that the first finding speaks of: the plan shows that one.
    """

    first: ShownFinding | None
    beside: tuple[ShownFinding, ...]
    findings: tuple[ShownFinding, ...]
    work_on_first: Markup | None
    work_why: Markup | None
    notes: tuple[Markup, ...]
    circuit: int | None


def opening(document: WrittenHold) -> Opening:
    """Read the first screen from a hold's findings."""
    found, variation = document.findings, document.variation
    spoken_of = [course for one in found for course in one.directions_true]
    said = tuple(_said(one, variation) for one in found)
    work = document.work_on_first or ""
    do, *why = _RULE.split(work, maxsplit=1)
    foremost_said = [_said(one, variation) for one in foremost(document)]
    # A finding that praises does not point at a circuit's fault: the whole hold is shown then.
    pointed = found[0].circuits if found and found[0].severity != "good" else []
    return Opening(
        foremost_said[0] if foremost_said else None,
        tuple(foremost_said[1:]),
        said,
        turnable(do, variation, spoken_of) if do else None,
        turnable(why[0], variation, spoken_of) if why else None,
        tuple(turnable(note, variation) for note in _notes(document)),
        pointed[0] if pointed else None,
    )


def _notes(document: WrittenHold) -> list[str]:
    capped = document.capped.sentence if document.capped else ""
    return [f"{said[0].upper()}{said[1:].rstrip('.')}." for said in (capped, document.ungraded or "") if said]


def _said(one: WrittenFinding, variation: float | None) -> ShownFinding:
    def words(text: str) -> Markup:
        return turnable(text, variation, one.directions_true)

    advice = words(one.advice) if one.advice else None
    label = "not judged" if one.kind in ("not judged", "half judged") else one.severity
    return ShownFinding(label, words(one.sentence), advice, one.cost_points or 0.0)
