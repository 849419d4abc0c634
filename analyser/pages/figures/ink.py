"""The inks of the pages: names in the drawings, colours only in the style sheet.

matplotlib draws with a stand-in colour for each ink; the SVG gets ``var(--ink-<name>)`` in its place, so
that one drawing serves light and dark paper, the screen and grey print.
"""

from __future__ import annotations

#: Every ink with what it is for. The order fixes the stand-in colours.
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

_STAND_INS = {name: f"#fe00{number:02x}" for number, name in enumerate(INKS)}
_VARIABLES = {stand_in: f"var(--ink-{name})" for name, stand_in in _STAND_INS.items()}


def stand_in(name: str) -> str:
    """Return the colour that matplotlib draws an ink with.

    Parameters
    ----------
    name : str
        A key of :data:`INKS`.

    Returns
    -------
    str
        ``"#rrggbb"``.
    """
    return _STAND_INS[name]


def variable(colour: str) -> str:
    """Return the style sheet's variable for a stand-in colour.

    Parameters
    ----------
    colour : str
        ``"#rrggbb"`` as matplotlib wrote it, or ``"none"``.

    Returns
    -------
    str
        ``"var(--ink-…)"``, or ``"none"``.

    Raises
    ------
    KeyError
        For a colour that is no ink: a drawing must not bring its own.
    """
    return "none" if colour == "none" else _VARIABLES[colour]
