"""The error budget in figures, beside its picture."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from analyser.pages.captions import cause_words
from analyser.pages.marks import missing, quantity

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

    Parameters
    ----------
    circuit : mapping
        As in the document.

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
