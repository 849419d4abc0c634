"""Places for lettering that lie on no track, on no other lettering and inside the canvas."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

import numpy as np

from analyser.pages.figures.canvas import Canvas, Letter

Box = tuple[float, float, float, float]

#: How much larger the circuits' numbers are.
NUMBER_TIMES = 1.3
#: Width of a character and height of a line, in sizes of the lettering.
_WIDE, _HIGH = 0.58, 0.95
#: Room left round lettering, drawing units.
_ROOM = 2.0
#: How far from its point lettering may stand, drawing units.
_REACH = (13.0, 19.0, 26.0, 34.0, 44.0, 56.0)


def box_of(canvas: Canvas, letter: Letter) -> Box:
    """Return the box that a piece of lettering fills at its largest: left, top, right, bottom, drawing units."""
    size = canvas.letter_units * (NUMBER_TIMES if "circle" in letter.kind.split() else 1.0)
    wide, high = _WIDE * size * len(letter.text), _HIGH * size
    left = letter.x - {"start": 0.0, "middle": wide / 2, "end": wide}[letter.anchor]
    return left, letter.y - 0.82 * high, left + wide, letter.y + 0.18 * high


def letter_free(
    canvas: Canvas,
    point: tuple[float, float],
    texts: Sequence[tuple[str, str]],
    towards_deg: float,
    *,
    layer: str,
    clear_of: Iterable[str],
    nearest: float = 0.0,
    **data: Any,
) -> bool:
    """Write beside a point (in the canvas's data), where nothing is in the way; tell whether there was room.

    ``texts`` are (text, kind), of which the page shows one: they share the place. It would stand best ``towards_deg``,
    clockwise from the top of the canvas, and no nearer than ``nearest`` drawing units. It keeps clear of the lines of
    the layers ``clear_of``, which are drawn already; if there is no such place, of the first alone.
    """
    layers = tuple(clear_of)
    return any(
        write_first_free(
            canvas, places_beside(canvas, point, texts, towards_deg, nearest, layer=layer, **data), kept
        )
        for kept in (layers, layers[:1])
    )


def write_first_free(canvas: Canvas, tried: Iterable[list[Letter]], clear_of: Sequence[str]) -> bool:
    """Write the first of several letterings that is in nothing's way; tell whether there was one.

    The letters of one list share a place; ``clear_of`` are the layers whose lines they keep clear of.
    """
    from shapely import linestrings

    lines = [
        linestrings(piece) for stroke in canvas.strokes if stroke.layer in clear_of for piece in stroke.pieces
    ]
    for letters in tried:
        if all(_is_free(canvas, box_of(canvas, letter), lines) for letter in letters):
            canvas.letters.extend(letters)
            return True
    return False


def places_beside(
    canvas: Canvas,
    point: tuple[float, float],
    texts: Sequence[tuple[str, str]],
    towards_deg: float,
    nearest: float = 0.0,
    *,
    layer: str = "lettering",
    **data: Any,
) -> Iterator[list[Letter]]:
    """Try places all round a point, the nearest and best first; see `letter_free`."""
    x, y = float(canvas.x(point[0])), canvas.height - float(canvas.y(point[1]))
    for away in (reach for reach in _REACH if reach >= nearest):
        for turn in (0, 30, -30, 60, -60, 90, -90, 120, -120, 150, -150, 180):
            angle = math.radians(towards_deg + turn)
            right, down = math.sin(angle), -math.cos(angle)
            anchor = "start" if right > 0.4 else "end" if right < -0.4 else "middle"
            place = x + away * right, y + away * down + 0.32 * canvas.letter_units
            yield [Letter(*place, text, kind, anchor, layer, data) for text, kind in texts]


def _is_free(canvas: Canvas, box: Box, lines: Sequence[Any]) -> bool:
    left, top, right, bottom = box[0] - _ROOM, box[1] - _ROOM, box[2] + _ROOM, box[3] + _ROOM
    if left < 0 or top < 0 or right > canvas.width or bottom > canvas.height:
        return False
    for other in canvas.letters:
        a = box_of(canvas, other)
        if a[0] < right and left < a[2] and a[1] < bottom and top < a[3]:
            return False
    from shapely import box as rectangle
    from shapely import intersects

    return not np.any(intersects(rectangle(left, top, right, bottom), lines))
