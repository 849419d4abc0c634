"""What each circuit taught the next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from analyser.pages.marks import heading, missing, quantity

_QUANTITIES = {"outbound_time": "outbound time", "outbound_heading": "outbound heading"}
#: Outcomes that the page marks as a fault.
_FAULTS = ("too little", "too far", "wrong way", "not at all")


@dataclass(frozen=True)
class LessonRow:
    """One quantity from one circuit to the next, ready for the page."""

    circuit: int
    quantity: str
    before: Markup
    taught: Markup
    flown: Markup
    exact: Markup
    outcome: str
    fault: bool
    rule: str


def lesson_rows(lessons: Sequence[Mapping[str, Any]], variation: float | None) -> list[LessonRow]:
    """Lay out what each circuit taught the next.

    Parameters
    ----------
    lessons : sequence of mapping
        The document's ``learning``.
    variation : float or None
        East positive.

    Returns
    -------
    list of LessonRow
    """
    return [
        LessonRow(
            lesson["circuit"],
            _QUANTITIES.get(lesson["quantity"], lesson["quantity"]),
            _number(lesson["before"], variation),
            _number(lesson["taught"], variation),
            _number(lesson["flown"], variation),
            _number(lesson["exact"], variation),
            lesson["outcome"],
            lesson["outcome"] in _FAULTS,
            lesson["rule"],
        )
        for lesson in lessons
    ]


def _number(found: Mapping[str, Any] | None, variation: float | None) -> Markup:
    if found is None:
        return missing("none")
    if found["reference"] == "true":
        return heading(found["value"], variation)
    return quantity(found["value"], found["unit"], 2 if found["unit"] == "NM" else 0)
