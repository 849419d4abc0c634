"""What stands beside the judgement: learning from circuit to circuit, rules of thumb, flight against hold file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from markupsafe import Markup

from analyser.earth.angles import wrap180
from analyser.earth.plane import LocalPlane
from analyser.pages.marks import heading, missing, quantity
from analyser.pages.words import number

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


@dataclass(frozen=True)
class ThumbRow:
    """One rule of thumb beside the exact figure, ready for the page."""

    what: str
    rule: str
    words: str
    source: str
    standing: str
    value: Markup
    exact: Markup
    error: Markup
    good: bool


def thumb_rows(circuits: Sequence[Mapping[str, Any]]) -> tuple[int, list[ThumbRow]] | None:
    """Lay out the rules of thumb for the wind of the last circuit that has any.

    Parameters
    ----------
    circuits : sequence of mapping
        As in the document.

    Returns
    -------
    (circuit number, list of ThumbRow) or None
    """
    for circuit in reversed(circuits):
        if circuit["rules_of_thumb"]:
            return circuit["number"], [_thumb(one) for one in circuit["rules_of_thumb"]]
    return None


def _thumb(one: Mapping[str, Any]) -> ThumbRow:
    unit = one["unit"]
    signed = "correction" in one["what"]
    return ThumbRow(
        one["what"],
        one["rule"],
        one["words"],
        one["source"],
        one["standing"],
        quantity(one["value"], unit, 0, signed=signed),
        quantity(one["exact"], unit, 0, signed=signed),
        # The difference of the two figures as they are shown: it must add up for who reads them.
        quantity(round(one["value"]) - round(one["exact"]), unit, 0, signed=True),
        one["good"],
    )


def disagreement(document: Mapping[str, Any]) -> str | None:
    """Say how far the flight itself and the given hold disagree.

    Parameters
    ----------
    document : mapping
        The hold's part of the debrief document.

    Returns
    -------
    str or None
        None where the hold was inferred anyway, or the flight says nothing.
    """
    found, fix = document["inferred"], document["fix"]
    if document["definition"] != "given" or found is None:
        return None
    plane = LocalPlane(fix["lat"], fix["lon"])
    east, north, _ = plane.to_plane(np.array([found["fix"]["lat"]]), np.array([found["fix"]["lon"]]))
    off_nm = float(np.hypot(east, north)[0])
    turned = wrap180(found["inbound_course_true"] - document["inbound_course_true"])
    words = f"fix {number(off_nm, 2)} NM away, "
    if round(abs(turned)) == 0:
        words += "the same course"
    else:
        words += f"course {number(abs(turned))}° further {'right' if turned > 0 else 'left'}"
    if found["turns"] != document["turns"]:
        words += f", turns to the {found['turns']}"
    return words
