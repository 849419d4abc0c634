"""What each number was judged by, told once for the whole hold."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from analyser.rules.graded_items import item_of


@dataclass(frozen=True)
class SourceRow:
    """One item: where its target and tolerance come from, and on which circuits."""

    title: str
    rule: str
    circuits: tuple[int, ...]


def source_rows(document: Mapping[str, Any]) -> list[SourceRow]:
    """Collect the rules of all scores.

    Parameters
    ----------
    document : mapping
        The hold's part of the debrief document.

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
