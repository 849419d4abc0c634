"""The symbols that the pictures share: fix, north, wind, scale."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from analyser.pages.figures.canvas import Canvas, FloatArray
from analyser.pages.words import in_both


def _place(canvas: Canvas, units: tuple[float, float]) -> tuple[float, float]:
    """Turn a place in drawing units from the top left into the canvas's data."""
    left, right, bottom, top = canvas.window
    across = left + units[0] * (right - left) / canvas.width
    return across, top - units[1] * (top - bottom) / canvas.height


def fix(canvas: Canvas, east: float = 0.0, north: float = 0.0, *, layer: str = "fix") -> None:
    """Draw the fix: a triangle with its dot."""
    size = 8.5 * canvas.per_unit
    angles = np.radians([90, 210, 330])
    canvas.area(
        east + size * np.cos(angles),
        north + size * np.sin(angles),
        "paper",
        edge="ink",
        width=1.6,
        layer=layer,
    )
    dot = np.linspace(0, 2 * np.pi, 13)
    canvas.area(east + 0.25 * size * np.cos(dot), north + 0.25 * size * np.sin(dot), "ink", layer=layer)


def course(canvas: Canvas, east: float, north: float, *, width: float = 0.9, layer: str = "drawing") -> None:
    """Draw the inbound course from a place to the fix."""
    canvas.line([east, 0], [north, 0], "ink", width, (9, 2.5, 1.5, 2.5), layer=layer)


def seam(canvas: Canvas, here: tuple[float, float], towards_deg: float, *, layer: str, circuit: int) -> None:
    """Draw two bars across a track, where the recording stood still or time ran at another rate."""
    unit, along = canvas.per_unit, math.radians(towards_deg)
    ahead, across = (math.sin(along), math.cos(along)), (math.cos(along), -math.sin(along))
    for off in (-2.5, 2.5):
        x, y = ([here[k] + unit * (off * ahead[k] + far * across[k]) for far in (-8.0, 8.0)] for k in (0, 1))
        canvas.line(x, y, "mark", 1.8, layer=layer, circuit=circuit)
    canvas.letter(
        here[0] + 12.0 * unit * across[0],
        here[1] + 12.0 * unit * across[1],
        "not timed",
        "mark",
        "start" if across[0] >= 0.0 else "end",
        circuit=circuit,
    )


def arrow(
    canvas: Canvas,
    start: tuple[float, float],
    towards_deg: float,
    length: float,
    *,
    ink: str,
    width: float,
    layer: str,
) -> tuple[float, float]:
    """Draw an arrow from a place in drawing units, its length too; return its tip in data."""
    unit = canvas.per_unit
    east, north = _place(canvas, start)
    angle = math.radians(towards_deg)
    tip = (east + length * unit * math.sin(angle), north + length * unit * math.cos(angle))
    shaft(canvas, (east, north), tip, towards_deg, 8 * unit, ink=ink, width=width, layer=layer)
    return tip


def shaft(
    canvas: Canvas,
    start: tuple[float, float],
    tip: tuple[float, float],
    towards_deg: float,
    barb: float,
    **how: Any,
) -> None:
    """Draw an arrow between two places in data, its barbs so long, data units too; ``how`` as for a line."""
    canvas.line([start[0], tip[0]], [start[1], tip[1]], **how)
    for side in (155.0, -155.0):
        at = math.radians(towards_deg + side)
        canvas.line([tip[0], tip[0] + barb * math.sin(at)], [tip[1], tip[1] + barb * math.cos(at)], **how)


def north_and_scale(canvas: Canvas) -> None:
    """Draw what every map has: the north arrow in the top left corner, and the scale at the foot."""
    north(canvas)
    scale(canvas)


def north(canvas: Canvas) -> None:
    """Draw the north arrow in the top left corner (true north is up)."""
    tip = arrow(canvas, (14, 40), 0.0, 28, ink="ink", width=1.3, layer="frame")
    canvas.letter(*tip, "N", "note", "start", up=-9, right=9, layer="frame")


def scale(canvas: Canvas) -> None:
    """Draw the scale bar, one nautical mile (or five where one would be too small to see)."""
    length = 1.0 if 1.0 / canvas.per_unit > 36 else 5.0
    east, north_ = _place(canvas, (16, canvas.height - 12))
    tick = 4 * canvas.per_unit
    canvas.line(
        [east, east, east + length, east + length],
        [north_ + tick, north_, north_, north_ + tick],
        "ink",
        1.3,
        layer="frame",
    )
    canvas.letter(east + length, north_, f"{length:g} NM", "note", "start", right=6, up=1, layer="frame")


def wind(canvas: Canvas, from_true_deg: float, texts: tuple[str, str]) -> None:
    """Draw the wind's arrow in the top right corner, its magnetic and its true text to its left."""
    middle = (canvas.width - 26, 26)
    angle = math.radians(from_true_deg)
    start = (middle[0] + 19 * math.sin(angle), middle[1] - 19 * math.cos(angle))
    arrow(canvas, start, from_true_deg + 180.0, 38, ink="air", width=2.2, layer="wind")
    east, north_ = _place(canvas, (canvas.width - 52, 31))
    for text, kind in in_both(texts, "note"):
        canvas.letter(east, north_, text, kind, "end", layer="wind")


def dot(
    canvas: Canvas,
    x: float,
    y: float,
    radius: float,
    ink: str,
    *,
    edge: str | None = None,
    square: bool = False,
    layer: str,
) -> None:
    """Draw a dot at a place in the canvas's data, its radius in drawing units; a square one differs without colour."""
    _, _, bottom, top = canvas.window
    angles = np.linspace(0.0, 2.0 * np.pi, 5 if square else 15)[:-1] + (np.pi / 4.0 if square else 0.0)
    reach = radius * (1.3 if square else 1.0)
    across, up = reach * canvas.per_unit, reach * (top - bottom) / canvas.height
    canvas.area(x + across * np.cos(angles), y + up * np.sin(angles), ink, edge=edge, width=1.4, layer=layer)


def circle(radius: float, east: float, north_: float, points: int = 97) -> tuple[FloatArray, FloatArray]:
    """Return points on a circle round a place, from north clockwise and closed."""
    angle = np.linspace(0, 2 * np.pi, points)
    return east + radius * np.sin(angle), north_ + radius * np.cos(angle)


def ring(
    canvas: Canvas,
    radius: float,
    east: float = 0.0,
    north_: float = 0.0,
    *,
    ink: str = "rule",
    width: float = 0.8,
    dash: tuple[float, ...] | None = None,
    layer: str = "frame",
) -> None:
    """Draw a circle round a place in data units."""
    canvas.line(*circle(radius, east, north_), ink, width, dash, layer=layer)
