"""One drawing: lines and areas in matplotlib's paths, lettering by the page, both in named layers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analyser.pages.figures.ink import variable
from analyser.pages.figures.thin import thin

FloatArray = NDArray[np.float64]

#: Points closer to the line than this many drawing units are left out; a tenth is invisible also when zoomed.
THIN_UNITS = 0.12
#: ``matplotlib.path.Path``'s codes, written down so that importing this module does not import matplotlib.
_MOVETO, _LINETO, _CLOSEPOLY = 1, 2, 79


@dataclass(frozen=True)
class Stroke:
    """One path, cut to the sheet, in drawing units (y downwards).

    Attributes
    ----------
    vertices : (n, 2) float array
    codes : (n,) uint8 array
        As in ``matplotlib.path.Path``.
    fill, edge : str
        Colours for the style sheet to decide: ``"var(--ink-…)"``, or ``"none"``.
    width : float
    dash : sequence of float
        Empty for a solid line.
    opacity : float or None
    layer : str
    data : dict
        ``data-…`` attributes.
    """

    vertices: FloatArray
    codes: NDArray[np.uint8]
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
class Sheet:
    """A drawing of fixed size with a window on the data.

    Parameters
    ----------
    width, height : float
        Drawing units; one unit is one pixel where the page shows the drawing at its own size.
    window : (left, right, bottom, top)
        What part of the data the sheet shows, in the data's units.
    stretch : bool
        True for time strips: the page may stretch the drawing to the width it has; the lettering keeps
        its shape.
    """

    width: float
    height: float
    window: tuple[float, float, float, float]
    stretch: bool = False
    letters: list[Letter] = field(default_factory=list)
    strokes: list[Stroke] = field(default_factory=list)

    def x(self, value: ArrayLike) -> FloatArray:
        """Turn data into drawing units, rightwards."""
        left, right, _, _ = self.window
        return (np.asarray(value, float) - left) * (self.width / (right - left))

    def y(self, value: ArrayLike) -> FloatArray:
        """Turn data into drawing units, upwards from the bottom as matplotlib counts."""
        _, _, bottom, top = self.window
        return (np.asarray(value, float) - bottom) * (self.height / (top - bottom))

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
        **data: Any,
    ) -> None:
        """Draw a line through data points; NaN breaks it.

        With ``beyond`` it is drawn also outside the window, for who looks further out.
        """
        px, py = thin(self.x(x), self.y(y), THIN_UNITS)
        if px.size >= 2:
            points = np.stack([px, self.height - py], axis=1)
            self._add(points, None, "none", ink, width, dash or (), opacity, layer, data, whole=beyond)

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
        px, py = self.x(x), self.height - self.y(y)
        points, codes = [], []
        for piece in np.split(np.arange(px.size), np.flatnonzero(np.isnan(px))):
            inside = piece[~np.isnan(px[piece])]
            if inside.size < 3:
                continue
            ring = np.append(inside, inside[0])
            points.append(np.stack([px[ring], py[ring]], axis=1))
            codes += [_MOVETO] + [_LINETO] * (inside.size - 1) + [_CLOSEPOLY]
        if points:
            corners = np.concatenate(points)
            self._add(corners, codes, ink, edge or "none", width, (), opacity, layer, data)

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

    def _add(
        self,
        points: FloatArray,
        codes: list[int] | None,
        fill: str,
        edge: str,
        width: float,
        dash: Sequence[float],
        opacity: float | None,
        layer: str,
        data: dict[str, Any],
        *,
        whole: bool = False,
    ) -> None:
        from matplotlib.path import Path

        # A whole figure of artists written out and read back gives the same strokes at twenty times the cost.
        # What is filled is left whole, for a cut area would lose its shape.
        clip = (0.0, 0.0, self.width, self.height) if fill == "none" and not whole else None
        path = Path(points, codes).cleaned(remove_nans=True, clip=clip)
        vertices, kinds = np.asarray(path.vertices, float), np.asarray(path.codes, np.uint8)
        last = int(np.argmax(kinds == Path.STOP))
        ink = variable(fill), variable(edge)
        self.strokes.append(Stroke(vertices[:last], kinds[:last], *ink, width, dash, opacity, layer, data))
