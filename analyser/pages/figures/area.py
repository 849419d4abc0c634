"""The outlines of a holding area, for the plan view and for a picture of its own."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from analyser.frozen import dataclass
from analyser.pages.figures.sheet import Sheet

FloatArray = NDArray[np.float64]
Path = tuple[FloatArray, FloatArray]

#: Written into every drawing of the area.
CAUTION = ("training illustration: not obstacle clearance,", "not for planning or navigation")
#: How each outline is drawn: ink, width, dash, and its words for the key.
OUTLINES: dict[str, tuple[str, float, tuple[float, ...] | None, str]] = {
    "area": ("ink", 1.8, None, "holding area of the circuits"),
    "entry_area": ("ink", 1.3, (7.0, 3.0), "with the entries"),
    "template": ("pencil", 0.9, (2.0, 2.0), "template round one fix"),
    "fix": ("pencil", 0.9, None, "fix tolerance area"),
    "buffer": ("other", 0.8, (1.2, 3.2), "steps of the buffer, 1 NM each"),
}


@dataclass(frozen=True)
class AreaParts:
    """The outlines on the map, nautical miles from the fix.

    Attributes
    ----------
    outlines : mapping of name to Path
        Of :data:`OUTLINES` without the buffer.
    buffer : sequence of (outline, clearance_ft)
        Inside to outside.
    clearance_ft : float
        Inside the area.
    deepest : (east_nm, north_nm) or None
        Where the flight was furthest out.
    """

    outlines: dict[str, Path]
    buffer: Sequence[tuple[Path, float]]
    clearance_ft: float
    deepest: tuple[float, float] | None


def draw_area(sheet: Sheet, parts: AreaParts, *, layer: str = "airspace") -> None:
    """Draw the outlines into a sheet, also where they lie outside its window."""
    ink, width, dash, _ = OUTLINES["buffer"]
    for (east, north), _ in parts.buffer:
        sheet.line(east, north, ink, width, dash, layer=layer, beyond=True)
    shown = ("template", "entry_area", "area", "fix")
    for name in shown:
        same = name == "template" and parts.outlines["fix"][0].size < 3
        if same or parts.outlines[name][0].size < 3:
            continue
        ink, width, dash, _ = OUTLINES[name]
        sheet.line(*parts.outlines[name], ink, width, dash, layer=layer, beyond=True)


def say_caution(sheet: Sheet, *, layer: str) -> None:
    """Write the caution across the foot of a drawing."""
    left, right, bottom, _ = sheet.window
    for up, line in zip((26, 7), CAUTION, strict=True):
        sheet.letter((left + right) / 2, bottom, line, "mark", up=up, layer=layer)


def say_caution_further_out(sheet: Sheet, parts: AreaParts, *, layer: str) -> None:
    """Write the caution across the head of what is seen when the whole area is looked at."""
    x, y, wide, _ = reach(sheet, parts)
    left, right, _, top = sheet.window
    # The page keeps lettering at its size when it looks further out, so its place moves with the scale.
    down, aside = y + 16.0 * wide / sheet.width, x + wide / 2 - sheet.width / 2
    for lower, line in zip((0.0, 20.0 * wide / sheet.width), CAUTION, strict=True):
        sheet.letter((left + right) / 2, top, line, "mark", right=aside, up=-down - lower, layer=layer)


def reach(sheet: Sheet, parts: AreaParts) -> tuple[float, float, float, float]:
    """Find how far to look out from a plan view to see the whole holding area.

    Returns
    -------
    x, y, width, height : float
        Drawing units, in the sheet's own shape and round all of it.
    """
    east, north = parts.outlines["entry_area"]
    x, y = sheet.x(east), sheet.height - sheet.y(north)
    left, right = min(0.0, float(x.min())), max(sheet.width, float(x.max()))
    top, bottom = min(0.0, float(y.min())), max(sheet.height, float(y.max()))
    times = 1.06 * max((right - left) / sheet.width, (bottom - top) / sheet.height)
    wide, high = times * sheet.width, times * sheet.height
    return (left + right - wide) / 2, (top + bottom - high) / 2, wide, high
