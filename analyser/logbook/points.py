"""From circuits to one figure per item of a hold: what a grade is proposed from."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from analyser.logbook.flatten import entry_points, number_or_none
from analyser.logbook.items import ENTRY, in_order

OVERALL = "overall"


def item_points(hold: Mapping[str, Any]) -> dict[str, float | None]:
    """Return the points of each item of a hold: the mean over the circuits in which it was judged.

    Parameters
    ----------
    hold : mapping
        One of the document's ``holds``.

    Returns
    -------
    dict
        Item key to points 0–100, in the order of a grade sheet, ``"overall"`` last; None where no circuit
        could be judged.
    """
    scores = [circuit.get("scores") or {} for circuit in hold["circuits"]]
    found: dict[str, float | None] = {}
    if hold.get("entry"):
        found[ENTRY] = entry_points(hold["entry"])
    for key in in_order(key for one in scores for key in one):
        found[key] = mean_of([number_or_none((one.get(key) or {}).get("points")) for one in scores])
    found[OVERALL] = number_or_none(hold.get("points"))
    return found


def mean_of(figures: list[float | None]) -> float | None:
    """Average what is known.

    Returns
    -------
    float or None
        None where nothing is known.
    """
    known = [figure for figure in figures if figure is not None]
    return sum(known) / len(known) if known else None
