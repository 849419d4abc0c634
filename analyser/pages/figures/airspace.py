"""The drawing of the whole holding area with the buffer round it, and the flown track in it."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from analyser.earth.constants import METRES_PER_FOOT
from analyser.pages.figures import symbols
from analyser.pages.figures.area import AreaParts, Path, say_caution
from analyser.pages.figures.canvas import Canvas
from analyser.pages.figures.plan import canvas_for
from analyser.pages.series import HoldSeries, Span

FloatArray = NDArray[np.float64]

#: Lettering needs lines this far apart, drawing units.
_ROOM = 11.0


def airspace(parts: AreaParts, series: HoldSeries, spans: Sequence[Span], course_true_deg: float) -> Canvas:
    """Draw what lies round the area and the flown track, which the plan view has drawn already.

    Parameters
    ----------
    course_true_deg : float
        Inbound.
    """
    outermost = parts.buffer[-1][0]
    flown = np.concatenate([np.arange(0)] + [_within(series, span) for span in spans if _counts(span)])
    canvas = canvas_for(
        np.concatenate([outermost[0], series.east_nm[flown.astype(int)]]),
        np.concatenate([outermost[1], series.north_nm[flown.astype(int)]]),
    )
    symbols.north(canvas)
    symbols.scale(canvas)
    course = math.radians(course_true_deg)
    far = float(np.hypot(*outermost).max())
    canvas.line(
        [-far * math.sin(course), 0],
        [-far * math.cos(course), 0],
        "ink",
        0.7,
        (9, 2.5, 1.5, 2.5),
        layer="course",
    )
    symbols.fix(canvas)
    if parts.deepest is not None:
        symbols.ring(canvas, 0.5, *parts.deepest, ink="mark", width=2.2, layer="deepest")
    _clearances(canvas, parts)
    say_caution(canvas, layer="caution")
    return canvas


def _counts(span: Span) -> bool:
    return bool(span.circuit) or span.phase == "entry"


def _within(series: HoldSeries, span: Span) -> NDArray[np.int64]:
    cut = series.within(span.start_s, span.end_s)
    return np.arange(series.time_s.size)[cut]


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
