"""The outlines of a holding area, for the plan view and for a picture of its own."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from analyser.frozen import dataclass
from analyser.pages.figures.canvas import Canvas

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


def draw_area(canvas: Canvas, parts: AreaParts, *, layer: str = "airspace") -> None:
    """Draw the outlines into a canvas, also where they lie outside its window."""
    ink, width, dash, _ = OUTLINES["buffer"]
    for (east, north), _ in parts.buffer:
        canvas.line(east, north, ink, width, dash, layer=layer, beyond=True)
    shown = ("template", "entry_area", "area", "fix")
    for name in shown:
        same = name == "template" and parts.outlines["fix"][0].size < 3
        if same or parts.outlines[name][0].size < 3:
            continue
        ink, width, dash, _ = OUTLINES[name]
        canvas.line(*parts.outlines[name], ink, width, dash, layer=layer, beyond=True)


def say_caution(canvas: Canvas, *, layer: str) -> None:
    """Write the caution across the foot of a drawing."""
    left, right, bottom, _ = canvas.window
    for up, line in zip((26, 7), CAUTION, strict=True):
        canvas.letter((left + right) / 2, bottom, line, "mark", up=up, layer=layer)


def say_caution_further_out(canvas: Canvas, parts: AreaParts, *, layer: str) -> None:
    """Write the caution across the head of what is seen when the whole area is looked at."""
    x, y, wide, _ = reach(canvas, parts)
    left, right, _, top = canvas.window
    # The page keeps lettering at its size when it looks further out, so its place moves with the scale.
    down, aside = y + 16.0 * wide / canvas.width, x + wide / 2 - canvas.width / 2
    for lower, line in zip((0.0, 20.0 * wide / canvas.width), CAUTION, strict=True):
        canvas.letter((left + right) / 2, top, line, "mark", right=aside, up=-down - lower, layer=layer)


def reach(canvas: Canvas, parts: AreaParts) -> tuple[float, float, float, float]:
    """Find how far to look out from a plan view to see the whole holding area.

    Returns
    -------
    x, y, width, height : float
        Drawing units, in the canvas's own shape and round all of it.
    """
    east, north = parts.outlines["entry_area"]
    x, y = canvas.x(east), canvas.height - canvas.y(north)
    left, right = min(0.0, float(x.min())), max(canvas.width, float(x.max()))
    top, bottom = min(0.0, float(y.min())), max(canvas.height, float(y.max()))
    times = 1.06 * max((right - left) / canvas.width, (bottom - top) / canvas.height)
    wide, high = times * canvas.width, times * canvas.height
    return (left + right - wide) / 2, (top + bottom - high) / 2, wide, high
