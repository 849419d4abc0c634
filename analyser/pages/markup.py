"""Pieces of HTML for quantities that the reader may turn: magnetic or true, feet or metres."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import TYPE_CHECKING

from markupsafe import Markup, escape

from analyser.earth.constants import METRES_PER_FOOT
from analyser.pages.words import NOT_JUDGED, direction, number

if TYPE_CHECKING:
    from analyser.schema.debrief_file import WrittenNumber


def heading(true_deg: float | None, variation_deg: float | None) -> Markup:
    """Mark up a direction in both references; the page shows one of them.

    Parameters
    ----------
    true_deg : float or None
        Degrees true; None is not known.
    variation_deg : float or None
        East positive.
    """
    if true_deg is None:
        return missing()
    magnetic, true = direction(true_deg, variation_deg)
    if magnetic == true:
        return Markup("<span>{}</span>").format(true)
    return Markup('<span class="when-mag">{}</span><span class="when-tru">{}</span>').format(magnetic, true)


def feet(value_ft: float | None, *, signed: bool = False) -> Markup:
    """Mark up a height in feet and in metres.

    Parameters
    ----------
    value_ft : float or None
    signed : bool
        True for a difference.
    """
    if value_ft is None:
        return missing()
    foot, metres = number(value_ft, signed=signed), number(value_ft * METRES_PER_FOOT, signed=signed)
    return Markup(f'<span class="when-ft">{foot} ft</span><span class="when-m">{metres} m</span>')


def quantity(value: float | None, unit: str, decimals: int = 0, *, signed: bool = False) -> Markup:
    """Mark up a number with its unit; feet become turnable."""
    if value is None:
        return missing()
    if unit == "ft":
        return feet(value, signed=signed)
    space = "" if unit in ("°", "%", "") else " "
    return Markup(f"{number(value, decimals, signed=signed)}{space}{escape(unit)}")


def measured(found: WrittenNumber | None, variation_deg: float | None) -> Markup:
    """Mark up a number of the debrief file with its unit, a direction in both references."""
    if found is None:
        return missing("none")
    if found.reference == "true":
        return heading(found.value, variation_deg)
    return quantity(found.value, found.unit, 2 if found.unit == "NM" else 0)


def turnable(text: str, variation_deg: float | None, exact_true_deg: Iterable[float] = ()) -> Markup:
    """Mark up a sentence whose magnetic directions the page may turn into true ones, and feet into metres.

    Parameters
    ----------
    text : str
        Directions as ``"312°M"``, heights as ``"4,000 ft"``.
    variation_deg : float or None
        East positive.
    exact_true_deg : iterable of float
        The directions that the sentence speaks of, so that a true one is rounded only once.
    """
    exact = {direction(true, variation_deg)[0]: true for true in exact_true_deg}
    parts = re.split(r"(\d{3}°M|\b\d[\d,]* ft\b)", text)
    return Markup("").join(
        _turned(part, exact, variation_deg) if k % 2 else escape(part) for k, part in enumerate(parts)
    )


def _turned(found: str, exact: dict[str, float], variation_deg: float | None) -> Markup:
    if found.endswith(" ft"):
        return feet(float(found.removesuffix(" ft").replace(",", "")))
    return _both(found, exact, variation_deg) if variation_deg is not None else escape(found)


def _both(magnetic: str, exact: dict[str, float], variation_deg: float) -> Markup:
    true_deg = exact.get(magnetic, float(magnetic[:3]) + variation_deg)
    both = '<span class="when-mag">{}</span><span class="when-tru">{}</span>'
    return Markup(both).format(magnetic, direction(true_deg, variation_deg)[1])


def missing(words: str = NOT_JUDGED) -> Markup:
    """Mark up what could not be told from the log, so that it looks like nothing else."""
    return Markup('<span class="nj">{}</span>').format(escape(words))
