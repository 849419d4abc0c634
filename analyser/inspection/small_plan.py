"""A track as a small plan, north up: laid flat, drawn in characters or as SVG, every text escaped."""

from __future__ import annotations

from xml.sax.saxutils import escape

import numpy as np
from numpy.typing import NDArray

from analyser.earth.constants import METRES_PER_NM
from analyser.frozen import dataclass
from analyser.logs.clean import holes_of
from analyser.logs.movement import offsets
from analyser.logs.track import Track

FloatArray = NDArray[np.float64]

#: Enough for a picture of any size that is looked at.
_MOST_POINTS = 4000


@dataclass(frozen=True)
class PlanPoints:
    """Points to draw, (n,) each."""

    #: From the middle of the track.
    east_nm: FloatArray
    north_nm: FloatArray
    #: Points that no line leads to.
    after_hole: NDArray[np.bool_]

    @property
    def width_nm(self) -> float:
        """East–west extent."""
        return float(np.ptp(self.east_nm))

    @property
    def height_nm(self) -> float:
        """North–south extent."""
        return float(np.ptp(self.north_nm))


def plan_points(track: Track) -> PlanPoints:
    """Lay a track flat, thinned to what a picture can show; every first sample after a hole is kept."""
    after = np.zeros(track.samples, dtype=bool)
    for _, end_s in holes_of(track.time_s):
        after[int(np.searchsorted(track.time_s, end_s))] = True
    keep = np.zeros(track.samples, dtype=bool)
    keep[:: max(1, track.samples // _MOST_POINTS)] = True
    keep |= after | np.roll(after, -1)
    keep[-1] = True
    # Positions are unwound along the track first, so that the date line does not tear it.
    lon = np.unwrap(track.lon_deg, period=360.0)[keep]
    lat = track.lat_deg[keep]
    middle_lat, middle_lon = 0.5 * (lat.min() + lat.max()), 0.5 * (lon.min() + lon.max())
    east, north = offsets(np.full(lat.size, middle_lat), np.full(lon.size, middle_lon), lat, lon)
    return PlanPoints(east / METRES_PER_NM, north / METRES_PER_NM, after[keep])


def round_length(nm: float) -> float:
    """Return the largest of 1, 2, 5 × a power of ten that is no more than a length."""
    power = 10.0 ** np.floor(np.log10(max(nm, 1e-6)))
    return float(max(step * power for step in (1.0, 2.0, 5.0) if step * power <= nm * 1.000001))


#: Bit of each dot in a Braille sign, by row and column (Unicode 2800 ff.).
_BITS = np.array([[0x01, 0x08], [0x02, 0x10], [0x04, 0x20], [0x40, 0x80]], dtype=np.int64)


def plan_text(points: PlanPoints, *, columns: int = 56, rows: int = 20, braille: bool = True) -> str:
    """Draw a track in characters, so many columns and rows at most, over a scale.

    ``braille`` is false for terminals that show ASCII only.
    """
    across, down = (2, 4) if braille else (1, 1)
    # A character is about twice as high as wide: a Braille dot is about square, an ASCII cell is not.
    aspect = 1.0 if braille else 2.0
    nm_per_dot = max(
        points.width_nm / (columns * across - 1), points.height_nm / (aspect * (rows * down - 1)), 1e-6
    )
    dots = _dots(points, nm_per_dot, aspect, across, down)
    lines = _signs(dots) if braille else ["".join(".*"[int(cell)] for cell in row) for row in dots]
    lines = [line.replace(".", " ").rstrip() if not braille else line.rstrip("\u2800") for line in lines]
    bar_nm = round_length(max(nm_per_dot * across * 16, 1e-6))
    bar = max(1, round(bar_nm / (nm_per_dot * across)))
    scale = f"|{'-' * max(bar - 2, 0)}| {bar_nm:g} NM, north up"
    return "\n".join([*lines, scale])


def _dots(points: PlanPoints, nm_per_dot: float, aspect: float, across: int, down: int) -> NDArray[np.bool_]:
    """Set the dots along the lines between points."""
    x = (points.east_nm - points.east_nm.min()) / nm_per_dot
    y = (points.north_nm.max() - points.north_nm) / (nm_per_dot * aspect)
    width = -(-(round(x.max()) + 1) // across) * across
    height = -(-(round(y.max()) + 1) // down) * down
    dots = np.zeros((height, width), dtype=bool)
    for place in range(1, x.size):
        if points.after_hole[place]:
            continue
        steps = int(max(abs(x[place] - x[place - 1]), abs(y[place] - y[place - 1]))) + 2
        line_x = np.linspace(x[place - 1], x[place], steps).round().astype(int)
        line_y = np.linspace(y[place - 1], y[place], steps).round().astype(int)
        dots[line_y, line_x] = True
    return dots


def _signs(dots: NDArray[np.bool_]) -> list[str]:
    height, width = dots.shape
    blocks = dots.reshape(height // 4, 4, width // 2, 2)
    codes = np.einsum("aibj,ij->ab", blocks.astype(np.int64), _BITS)
    return ["".join(chr(0x2800 + int(code)) for code in row) for row in codes]


_SIZE, _MARGIN = 640.0, 40.0


def plan_svg(points: PlanPoints, title: str) -> str:
    """Draw a track: a whole SVG document; the title is untrusted text."""
    room = _SIZE - 2 * _MARGIN
    scale = room / max(points.width_nm, points.height_nm, 1e-6)
    width, height = points.width_nm * scale + 2 * _MARGIN, points.height_nm * scale + 2 * _MARGIN + 30.0
    x = (points.east_nm - points.east_nm.min()) * scale + _MARGIN
    y = (points.north_nm.max() - points.north_nm) * scale + _MARGIN
    bar_nm = round_length(max(room / scale / 4.0, 1e-6))
    bar = bar_nm * scale
    path = " ".join(
        f"{'M' if place == 0 or points.after_hole[place] else 'L'}{x[place]:.1f},{y[place]:.1f}"
        for place in range(x.size)
    )
    foot = height - 18.0
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {max(width, bar + 120.0):.0f} {height:.0f}" '
            'role="img" font-family="sans-serif" font-size="13">',
            f"<title>{escape(title)}</title>",
            '<rect width="100%" height="100%" fill="#ffffff"/>',
            f'<path d="{path}" fill="none" stroke="#1f3a5f" stroke-width="1.6" stroke-linejoin="round"/>',
            f'<circle cx="{x[0]:.1f}" cy="{y[0]:.1f}" r="4" fill="#1b7f4b"><title>start</title></circle>',
            f'<circle cx="{x[-1]:.1f}" cy="{y[-1]:.1f}" r="4" fill="#b3261e"><title>end</title></circle>',
            '<path d="M20,34 L20,12 M15,19 L20,10 L25,19" fill="none" stroke="#333333" stroke-width="1.6"/>',
            '<text x="30" y="24" fill="#333333">N</text>',
            f'<path d="M{_MARGIN:.0f},{foot - 5:.1f} v5 h{bar:.1f} v-5" fill="none" stroke="#333333"/>',
            f'<text x="{_MARGIN + bar + 8:.1f}" y="{foot:.1f}" fill="#333333">{bar_nm:g} NM</text>',
            "</svg>",
            "",
        ]
    )
