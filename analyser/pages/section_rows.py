"""The rows of the page's small tables: the error budget, what was taught, rules of thumb, sources."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from markupsafe import Markup

from analyser.frozen import dataclass
from analyser.pages.captions import cause_words
from analyser.pages.marks import heading, missing, quantity
from analyser.rules.graded_items import item_of

_COLUMNS = (
    ("cross_track_nm", "NM", 3),
    ("along_track_nm", "NM", 3),
    ("time_s", "s", 1),
    ("end_cross_track_nm", "NM", 3),
    ("end_along_track_nm", "NM", 3),
)


@dataclass(frozen=True)
class BudgetRow:
    """One cause: across and along at roll-out, inbound time, across and along at the circuit's end."""

    words: str
    cells: tuple[Markup, ...]


def budget_rows(circuit: Mapping[str, Any]) -> list[BudgetRow]:
    """Lay out the error budget of a circuit, the sums last.

    Returns
    -------
    list of BudgetRow
        Empty where the circuit has no budget.
    """
    if not circuit["error"]:
        return []
    rows = [BudgetRow(cause_words(share["cause"]), _cells(share)) for share in circuit["error_budget"]]
    return [*rows, BudgetRow("measured", _cells(circuit["error"]))]


def _cells(share: Mapping[str, Any]) -> tuple[Markup, ...]:
    return tuple(
        missing("not known") if share[key] is None else quantity(share[key], unit, decimals, signed=True)
        for key, unit, decimals in _COLUMNS
    )


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


@dataclass(frozen=True)
class SourceRow:
    """One item: where its target and tolerance come from, and on which circuits."""

    title: str
    rule: str
    circuits: tuple[int, ...]


def source_rows(document: Mapping[str, Any]) -> list[SourceRow]:
    """Collect the rules of all scores.

    Returns
    -------
    list of SourceRow
        One for each item and rule; ``circuits`` is empty where the rule was the same on all.
    """
    seen: dict[tuple[str, str], list[int]] = {}
    for circuit in document["circuits"]:
        scores = {**circuit["scores"], "inbound_correction": circuit["inbound_correction"]}
        for key, score in scores.items():
            if score and score["rule"]:
                seen.setdefault((key, score["rule"]), []).append(circuit["number"])
    every = len(document["circuits"])
    return [
        SourceRow(item_of(key).title, rule, () if len(where) == every else tuple(where))
        for (key, rule), where in seen.items()
    ]
