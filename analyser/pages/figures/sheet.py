"""One drawing: lines and areas by matplotlib, lettering by the page, both in named layers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analyser.pages.figures.ink import stand_in
from analyser.pages.figures.thin import thin

if TYPE_CHECKING:
    from matplotlib.figure import Figure

FloatArray = NDArray[np.float64]

#: Points closer to the line than this many drawing units are left out; a tenth is invisible also when zoomed.
THIN_UNITS = 0.12


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
    _artists: list[Any] = field(default_factory=list)

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
        **data: Any,
    ) -> None:
        """Draw a line through data points; NaN breaks it."""
        from matplotlib.lines import Line2D

        px, py = thin(self.x(x), self.y(y), THIN_UNITS)
        if px.size < 2:
            return
        style: dict[str, Any] = {"color": stand_in(ink), "linewidth": width, "alpha": opacity}
        if dash:
            style["dashes"] = tuple(step / width for step in dash)
        self._add(Line2D(px, py, **style), layer, data)

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
        from matplotlib.patches import PathPatch
        from matplotlib.path import Path

        px, py = self.x(x), self.y(y)
        points, codes = [], []
        for piece in np.split(np.arange(px.size), np.flatnonzero(np.isnan(px))):
            inside = piece[~np.isnan(px[piece])]
            if inside.size < 3:
                continue
            points += [(px[i], py[i]) for i in inside] + [(px[inside[0]], py[inside[0]])]
            codes += [Path.MOVETO] + [Path.LINETO] * (inside.size - 1) + [Path.CLOSEPOLY]
        if points:
            outline = stand_in(edge) if edge else "none"
            self._add(
                PathPatch(
                    Path(points, codes),
                    facecolor="none" if ink == "none" else stand_in(ink),
                    edgecolor=outline,
                    linewidth=width,
                    alpha=opacity,
                ),
                layer,
                data,
            )

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

    def _add(self, artist: Any, layer: str, data: dict[str, Any]) -> None:
        from matplotlib.transforms import IdentityTransform

        artist.set_transform(IdentityTransform())
        # matplotlib keeps nothing of ours but the artist's name, so the layer and the data travel in it.
        artist.set_gid("|".join([f"@{layer}", *(f"{key}={value}" for key, value in data.items())]))
        artist.set_zorder(len(self._artists))
        self._artists.append(artist)

    def figure(self) -> Figure:
        """Return the matplotlib figure with everything drawn so far (no lettering)."""
        from matplotlib.figure import Figure

        figure = Figure(figsize=(self.width / 72.0, self.height / 72.0), dpi=72)
        figure.patch.set_visible(False)
        for artist in self._artists:
            figure.add_artist(artist)
        return figure
