"""The holding area: its outlines in a drawing, and a drawing of its own with the buffer and the flown track."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from analyser.earth.constants import METRES_PER_FOOT
from analyser.pages.figures import symbols
from analyser.pages.figures.canvas import Canvas, canvas_for
from analyser.pages.subject import AreaParts, FloatArray, HoldSeries, Path, Span

#: Written into every drawing of the area.
CAUTION = ("training illustration: not obstacle clearance,", "not for planning or navigation")


class Outline(NamedTuple):
    """How an outline is drawn, and its words for the key."""

    ink: str
    width: float
    dash: tuple[float, ...] | None
    words: str


OUTLINES = {
    "area": Outline("ink", 1.8, None, "holding area of the circuits"),
    "entry_area": Outline("ink", 1.3, (7.0, 3.0), "with the entries"),
    "template": Outline("pencil", 0.9, (2.0, 2.0), "template round one fix"),
    "fix": Outline("pencil", 0.9, None, "fix tolerance area"),
    "buffer": Outline("other", 0.8, (1.2, 3.2), "steps of the buffer, 1 NM each"),
}


def draw_area(canvas: Canvas, parts: AreaParts) -> None:
    """Draw the outlines into a canvas, also where they lie outside its window."""
    ink, width, dash, _ = OUTLINES["buffer"]
    for (east, north), _ in parts.buffer:
        canvas.line(east, north, ink, width, dash, layer="airspace", beyond=True)
    shown = ("template", "entry_area", "area", "fix")
    for name in shown:
        same = name == "template" and parts.outlines["fix"][0].size < 3
        if same or parts.outlines[name][0].size < 3:
            continue
        ink, width, dash, _ = OUTLINES[name]
        canvas.line(*parts.outlines[name], ink, width, dash, layer="airspace", beyond=True)


def say_caution(canvas: Canvas, *, layer: str) -> None:
    """Write the caution at the foot of a drawing, beside the scale."""
    _, right, bottom, _ = canvas.window
    for up, line in zip((26, 7), CAUTION, strict=True):
        canvas.letter(right, bottom, line, "mark", "end", right=-6, up=up, layer=layer)


def say_caution_further_out(canvas: Canvas, parts: AreaParts, *, layer: str) -> None:
    """Write the caution across the head of what is seen when the whole area is looked at."""
    x, y, wide, _ = reach(canvas, parts)
    left, right, _, top = canvas.window
    # The page keeps lettering at its size when it looks further out, so its place moves with the scale.
    down, aside = y + 16.0 * wide / canvas.width, x + wide / 2 - canvas.width / 2
    for lower, line in zip((0.0, 20.0 * wide / canvas.width), CAUTION, strict=True):
        canvas.letter((left + right) / 2, top, line, "mark", right=aside, up=-down - lower, layer=layer)


def reach(canvas: Canvas, parts: AreaParts) -> tuple[float, float, float, float]:
    """Find how far to look out from a plan view to see the whole holding area: x, y, width, height in drawing units."""
    east, north = parts.outlines["entry_area"]
    x, y = canvas.x(east), canvas.height - canvas.y(north)
    left, right = min(0.0, float(x.min())), max(canvas.width, float(x.max()))
    top, bottom = min(0.0, float(y.min())), max(canvas.height, float(y.max()))
    times = 1.06 * max((right - left) / canvas.width, (bottom - top) / canvas.height)
    wide, high = times * canvas.width, times * canvas.height
    return (left + right - wide) / 2, (top + bottom - high) / 2, wide, high


#: Lettering needs lines this far apart, drawing units.
_ROOM = 11.0


def airspace(parts: AreaParts, series: HoldSeries, spans: Sequence[Span], course_true_deg: float) -> Canvas:
    """Draw what lies round the area and the flown track, which the plan view has drawn already."""
    outermost = parts.buffer[-1][0]
    cuts = [series.within(span.start_s, span.end_s) for span in spans if span.in_hold]
    canvas = canvas_for(
        np.concatenate([outermost[0], *(series.east_nm[cut] for cut in cuts)]),
        np.concatenate([outermost[1], *(series.north_nm[cut] for cut in cuts)]),
    )
    symbols.north(canvas)
    symbols.scale(canvas)
    course = math.radians(course_true_deg)
    far = float(np.hypot(*outermost).max())
    symbols.course(canvas, -far * math.sin(course), -far * math.cos(course), width=0.7, layer="course")
    symbols.fix(canvas)
    if parts.deepest is not None:
        symbols.ring(canvas, 0.5, *parts.deepest, ink="mark", width=2.2, layer="deepest")
    _clearances(canvas, parts)
    say_caution(canvas, layer="caution")
    return canvas


def _clearances(canvas: Canvas, parts: AreaParts) -> None:
    """Write the clearance each step asks for where its line reaches furthest north-east, if there is room."""
    towards = np.array([math.sin(math.radians(45.0)), math.cos(math.radians(45.0))])
    inner = parts.outlines["entry_area"]
    for outer, clearance_ft in parts.buffer:
        places = [_furthest(outline, towards) for outline in (inner, outer)]
        inner = outer
        if abs(float(np.diff(canvas.y([place[1] for place in places]))[0])) < _ROOM:
            continue
        east, north = np.mean(places, axis=0)
        for text, kind in (
            (f"{clearance_ft:.0f} ft", "when-ft"),
            (f"{clearance_ft * METRES_PER_FOOT:.0f} m", "when-m"),
        ):
            canvas.letter(float(east), float(north), text, f"tick {kind}", up=-4, layer="clearance")


def _furthest(outline: Path, towards: FloatArray) -> FloatArray:
    corners = np.column_stack(outline)
    return np.asarray(corners[np.argmax(corners @ towards)])
