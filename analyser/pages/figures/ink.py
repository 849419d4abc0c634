"""The inks of the pages: names in the drawings, colours only in the style sheet.

A drawing names its inks and the SVG asks the style sheet for them, ``var(--ink-<name>)``, so that one drawing
serves light and dark paper, the screen and grey print.
"""

from __future__ import annotations

#: Every ink with what it is for.
INKS: dict[str, str] = {
    "paper": "the paper itself, for what lies over something else",
    "rule": "faint ruling: grids and rings",
    "pencil": "the exact circuit and other targets",
    "band": "the wash of a tolerance band",
    "ink": "the writing colour: axes, symbols, the fix",
    "out": "flown, outbound half of a circuit",
    "in": "flown, inbound half of a circuit",
    "entry": "flown, the entry",
    "other": "flown before and after the hold",
    "mark": "the instructor's red pencil: out of tolerance, lost",
    "good": "a share that helped",
    "ghost": "the circuit flown again with a fault corrected",
    "air": "the wind and what it carries",
}


def variable(ink: str) -> str:
    """Return the style sheet's variable for an ink.

    Parameters
    ----------
    ink : str
        A key of :data:`INKS`, or ``"none"``.

    Returns
    -------
    str
        ``"var(--ink-…)"``, or ``"none"``.

    Raises
    ------
    KeyError
        For what is no ink: a drawing must not bring its own colour.
    """
    if ink != "none" and ink not in INKS:
        raise KeyError(ink)
    return "none" if ink == "none" else f"var(--ink-{ink})"
