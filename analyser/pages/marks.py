"""Pieces of HTML for quantities that the reader may turn: magnetic or true, feet or metres."""

from __future__ import annotations

from markupsafe import Markup, escape

from analyser.pages.words import METRES_PER_FOOT, NOT_JUDGED, direction, number


def heading(true_deg: float | None, variation_deg: float | None) -> Markup:
    """Mark up a direction in both references; the page shows one of them.

    Parameters
    ----------
    true_deg : float or None
        Degrees true; None is not known.
    variation_deg : float or None
        East positive.

    Returns
    -------
    Markup
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

    Returns
    -------
    Markup
    """
    if value_ft is None:
        return missing()
    metres = number(value_ft * METRES_PER_FOOT, signed=signed)
    both = '<span class="when-ft">{} ft</span><span class="when-m">{} m</span>'
    return Markup(both).format(number(value_ft, signed=signed), metres)


def quantity(value: float | None, unit: str, decimals: int = 0, *, signed: bool = False) -> Markup:
    """Mark up a number with its unit; feet become turnable.

    Parameters
    ----------
    value : float or None
    unit : str
    decimals : int
    signed : bool

    Returns
    -------
    Markup
    """
    if value is None:
        return missing()
    if unit == "ft":
        return feet(value, signed=signed)
    space = "" if unit in ("°", "%", "") else " "
    return Markup("{}{}{}").format(number(value, decimals, signed=signed), space, unit)


def missing(words: str = NOT_JUDGED) -> Markup:
    """Mark up what could not be told from the log, so that it looks like nothing else."""
    return Markup('<span class="nj">{}</span>').format(escape(words))
