"""One drawing: lines, areas and lettering in named layers, in drawing units; and places for lettering that are free."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analyser.pages.words import nice_step

FloatArray = NDArray[np.float64]

#: Inks: names in the drawings, colours only in the style sheet, so that one drawing serves light and dark paper,
#: the screen and grey print. Each with what it is for.
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
#: Points closer to the line than this many drawing units are left out; a tenth is invisible also when zoomed.
THIN_UNITS = 0.12
#: Lines are cut this far outside the canvas, drawing units, so that no line end shows at its edge.
_CUT_UNITS = 6.0
#: Drawing units kept above for the arrows of north and wind, below for the scale.
BANDS = (50.0, 28.0)


@dataclass(frozen=True)
class Stroke:
    """One path, cut to the canvas, in drawing units (y downwards).

    Its ``pieces`` are unbroken runs of points, rings where it is ``closed``. ``fill`` and ``edge`` are colours for the
    style sheet to decide, ``"var(--ink-…)"``, or ``"none"``; an empty ``dash`` is a solid line; ``data`` become
    ``data-…`` attributes.
    """

    pieces: tuple[FloatArray, ...]
    closed: bool
    fill: str
    edge: str
    width: float
    dash: Sequence[float]
    opacity: float | None
    layer: str
    data: dict[str, Any]


@dataclass(frozen=True)
class Letter:
    """One piece of lettering, at a place in drawing units (y downwards)."""

    x: float
    y: float
    text: str
    kind: str
    anchor: str
    layer: str
    data: dict[str, Any]


@dataclass
class Canvas:
    """A drawing of fixed size with a window (left, right, bottom, top) on the data.

    ``width`` and ``height`` are in drawing units; one is one pixel where the page shows the drawing at its own size.
    ``bands`` (top, bottom) are kept for lettering: a line drawn ``inside`` ends before them. A time strip may
    ``stretch`` to the width the page has; its lettering keeps its shape. ``letter_units`` is the largest size at which
    any page shows the lettering, drawing units: room is kept for it.
    """

    width: float
    height: float
    window: tuple[float, float, float, float]
    stretch: bool = False
    bands: tuple[float, float] = (0.0, 0.0)
    #: On a phone.
    letter_units: float = 17.0
    letters: list[Letter] = field(default_factory=list)
    strokes: list[Stroke] = field(default_factory=list)

    def x(self, value: ArrayLike) -> FloatArray:
        """Turn data into drawing units, rightwards."""
        left, right, _, _ = self.window
        return (np.asarray(value, float) - left) * (self.width / (right - left))

    def y(self, value: ArrayLike) -> FloatArray:
        """Turn data into drawing units, upwards from the bottom."""
        _, _, bottom, top = self.window
        return (np.asarray(value, float) - bottom) * (self.height / (top - bottom))

    @property
    def per_unit(self) -> float:
        """What a drawing unit across is in data."""
        return (self.window[1] - self.window[0]) / self.width

    def mapping(self) -> dict[str, float]:
        """Return what the page's script needs to put its cursor: ``x = ox + kx * data``, y downwards."""
        left, right, bottom, top = self.window
        kx, ky = self.width / (right - left), -self.height / (top - bottom)
        found = {"kx": kx, "ox": -left * kx, "ky": ky, "oy": -top * ky, "w": self.width, "h": self.height}
        return {name: round(value, 5) for name, value in found.items()}

    def line(
        self,
        x: ArrayLike,
        y: ArrayLike,
        ink: str,
        width: float = 1.2,
        dash: Sequence[float] | None = None,
        *,
        opacity: float | None = None,
        layer: str = "drawing",
        beyond: bool = False,
        inside: bool = False,
        tolerance: float = THIN_UNITS,
        **data: Any,
    ) -> None:
        """Draw a line through data points; NaN breaks it.

        With ``beyond`` it is drawn also outside the window, for who looks further out; with ``inside`` it keeps out
        of the bands for lettering. ``tolerance`` is how far a point may lie off the drawn line, drawing units.
        """
        px, py = thin(self.x(x), self.y(y), tolerance)
        pieces = _unbroken(np.stack([px, self.height - py], axis=1), 2)
        if not beyond:
            pieces = self._cut(pieces, self.bands if inside else (-_CUT_UNITS, -_CUT_UNITS))
        if pieces:
            self.strokes.append(
                Stroke(tuple(pieces), False, "none", variable(ink), width, dash or (), opacity, layer, data)
            )

    def area(
        self,
        x: ArrayLike,
        y: ArrayLike,
        ink: str,
        *,
        opacity: float | None = None,
        edge: str | None = None,
        width: float = 1.0,
        layer: str = "drawing",
        **data: Any,
    ) -> None:
        """Fill a closed area given by its corners; NaN separates several."""
        rings = _unbroken(np.stack([self.x(x), self.height - self.y(y)], axis=1), 3)
        # What is filled is left whole: cut to the canvas it would lose its shape.
        if rings:
            inks = variable(ink), variable(edge or "none")
            self.strokes.append(Stroke(tuple(rings), True, *inks, width, (), opacity, layer, data))

    def box(self, left: float, right: float, low: float, high: float, ink: str, **how: Any) -> None:
        """Fill a rectangle; ``how`` as for `area`."""
        self.area([left, right, right, left], [low, low, high, high], ink, **how)

    def letter(
        self,
        x: float,
        y: float,
        text: str,
        kind: str = "note",
        anchor: str = "middle",
        *,
        up: float = 0.0,
        right: float = 0.0,
        layer: str = "lettering",
        **data: Any,
    ) -> None:
        """Write at a place given in data units, moved ``right`` and ``up`` by drawing units."""
        px, py = float(self.x(x)) + right, self.height - float(self.y(y)) - up
        self.letters.append(Letter(px, py, text, kind, anchor, layer, data))

    def _cut(self, pieces: list[FloatArray], bands: tuple[float, float]) -> list[FloatArray]:
        """Leave out what lies outside the canvas or in its bands."""
        # Beside a strip hang the figures of its scale: its lines end at its edge.
        beyond = 0.0 if self.stretch else _CUT_UNITS
        low = np.array([-beyond, bands[0]])
        high = np.array([self.width + beyond, self.height - bands[1]])
        if all((piece >= low).all() and (piece <= high).all() for piece in pieces):
            return pieces
        from shapely import clip_by_rect, get_coordinates, get_parts, linestrings

        kept = []
        for piece in pieces:
            inside = clip_by_rect(linestrings(piece), *map(float, low), *map(float, high))
            kept += [get_coordinates(part) for part in get_parts(inside) if part.geom_type == "LineString"]
        return [piece for piece in kept if len(piece) > 1]


def _unbroken(points: FloatArray, least: int) -> list[FloatArray]:
    """Split points at the rows that are NaN; leave out pieces with fewer points than ``least``."""
    missing = np.isnan(points).any(axis=1)
    if not missing.any():
        return [points] if len(points) >= least else []
    edges = np.flatnonzero(np.diff(np.concatenate(([1], missing.astype(int), [1]))))
    pieces = [points[first:after] for first, after in zip(edges[0::2], edges[1::2], strict=True)]
    return [piece for piece in pieces if len(piece) >= least]


def variable(ink: str) -> str:
    """Return the style sheet's variable for an ink, ``"var(--ink-…)"``, or ``"none"``.

    Raises KeyError: for what is no ink: a drawing must not bring its own colour.
    """
    if ink != "none" and ink not in INKS:
        raise KeyError(ink)
    return "none" if ink == "none" else f"var(--ink-{ink})"


def thin(x: FloatArray, y: FloatArray, tolerance: float) -> tuple[FloatArray, FloatArray]:
    """Drop the points that a line does not need: none lies further from the thinned one than ``tolerance``.

    Lines are (n,) arrays in drawing units. NaN breaks them: the first and last point of every unbroken piece are kept,
    with one NaN between two pieces.

    References
    ----------
    Ramer (1972) and Douglas & Peucker (1973): split at the farthest point until none is too far.
    """
    if x.size <= 2:
        return x, y
    broken = np.full((1, 2), np.nan)
    kept = [
        part for run in _unbroken(np.column_stack([x, y]), 1) for part in (broken, _needed(run, tolerance))
    ]
    joined = np.concatenate(kept[1:] or [broken])
    return joined[:, 0], joined[:, 1]


def _needed(points: FloatArray, tolerance: float) -> FloatArray:
    if len(points) <= 2:
        return points
    from shapely import get_coordinates, linestrings, simplify

    return np.asarray(get_coordinates(simplify(linestrings(points), tolerance, preserve_topology=False)))


def ticks(low: float, high: float, most: int) -> tuple[FloatArray, float]:
    """Return the round values between two edges that at most ``most`` steps make, and their step."""
    step = nice_step(high - low, most)
    return np.arange(np.ceil(low / step) * step, high, step), step


def window_round(
    east: FloatArray, north: FloatArray, shape: float, margin: float = 1.16
) -> tuple[float, float, float, float]:
    """Return a window round points and the origin on one scale: left, right, bottom, top.

    ``shape`` is its height in widths, ``margin`` how much wider it is than what is in it.
    """
    east, north = np.append(east, 0.0), np.append(north, 0.0)
    half = 0.5 * margin * max(float(np.ptp(east)), float(np.ptp(north)) / shape, 0.5)
    middle_x, middle_y = float(east.max() + east.min()) / 2, float(north.max() + north.min()) / 2
    return middle_x - half, middle_x + half, middle_y - half * shape, middle_y + half * shape


def canvas_for(east: FloatArray, north: FloatArray, *, width: float = 560.0) -> Canvas:
    """Return a canvas round some points, bands for lettering above and below, in a shape that suits a page."""
    left, right, bottom, top = map(
        float, (np.nanmin(east), np.nanmax(east), np.nanmin(north), np.nanmax(north))
    )
    wide, high = max(right - left, 0.5), max(top - bottom, 0.5)
    above, below = BANDS
    per_nm = min(0.9 * width / wide, (0.84 * width - above - below - 24) / high)
    height = max(high * per_nm + above + below + 24, 0.6 * width)
    middle_x, middle_y = (left + right) / 2, (bottom + top) / 2
    across, up = width / per_nm / 2, (height - above - below) / per_nm / 2
    window = (
        middle_x - across,
        middle_x + across,
        middle_y - up - below / per_nm,
        middle_y + up + above / per_nm,
    )
    return Canvas(width, height, window, bands=BANDS)


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
        for turn in sorted(range(180, -180, -30), key=abs):
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
