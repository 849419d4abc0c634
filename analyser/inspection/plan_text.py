"""The track as a small picture of characters: eight dots to a character where the terminal has Braille signs."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analyser.inspection.plan_points import PlanPoints, round_length

#: Bit of each dot in a Braille sign, by row and column (Unicode 2800 ff.).
_BITS = np.array([[0x01, 0x08], [0x02, 0x10], [0x04, 0x20], [0x40, 0x80]], dtype=np.int64)


def plan_text(points: PlanPoints, *, columns: int = 56, rows: int = 20, braille: bool = True) -> str:
    """Draw a track in characters.

    Parameters
    ----------
    points : PlanPoints
    columns, rows : int
        Largest size, characters.
    braille : bool
        False for terminals that show ASCII only.

    Returns
    -------
    str
        Lines with an arrow to the north and a scale.
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
