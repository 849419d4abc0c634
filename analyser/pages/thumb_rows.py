"""Rules of thumb beside the exact figure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from analyser.pages.marks import quantity


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
