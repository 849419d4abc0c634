"""The error budget as a waterfall: each share starts where the one before ended; the last is measured."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analyser.frozen import dataclass
from analyser.pages.figures.sheet import Sheet
from analyser.pages.words import number

ROW = 24.0
#: More shares than this are summed up in one bar, so that the chart stays a picture; the table has them all.
_MOST = 6
#: Which parts of the width the names and the figures take; the bars stand between them.
_NAMES, _FIGURES = 0.40, 0.23


@dataclass(frozen=True)
class Share:
    """One bar: its name in words and how much it added."""

    name: str
    value: float


def waterfall(shares: Sequence[Share], measured: float, unit: str, decimals: int) -> Sheet:
    """Draw shares that add up to what was measured.

    Parameters
    ----------
    shares : sequence of Share
        In the order in which they are drawn, the most costly first.
    measured : float
        What the shares add up to.
    unit : str
    decimals : int

    Returns
    -------
    Sheet
        One row for each share and one for the sum, to be stretched.
    """
    shares = _summed(shares)
    ends = np.cumsum([0.0, *(share.value for share in shares)])
    low, high = float(min(ends.min(), measured, 0.0)), float(max(ends.max(), measured, 0.0))
    room = max(high - low, 10.0**-decimals * 5)
    scale = room / (1.0 - _NAMES - _FIGURES)
    left, right = low - _NAMES * scale, high + _FIGURES * scale
    rows = len(shares) + 1
    sheet = Sheet(480.0, rows * ROW, (left, right, float(rows), 0.0), stretch=True)
    for row, (share, start) in enumerate(zip(shares, ends[:-1], strict=True)):
        text = f"{number(share.value, decimals, signed=True)} {unit}"
        _row(sheet, row, share, (float(start), float(start) + share.value), text)
    text = f"{number(measured, decimals, signed=True)} {unit}"
    _row(sheet, len(shares), Share("measured", measured), (0.0, measured), text, total=True)
    sheet.line([0, 0], [0, rows], "ink", 1.0, layer="axis")
    return sheet


def _summed(shares: Sequence[Share]) -> Sequence[Share]:
    """Keep the largest shares and sum up the rest, so that the bars still add up."""
    if len(shares) <= _MOST:
        return shares
    kept, rest = shares[: _MOST - 1], shares[_MOST - 1 :]
    return [*kept, Share(f"{len(rest)} smaller shares", sum(share.value for share in rest))]


def _row(
    sheet: Sheet, row: int, share: Share, bar: tuple[float, float], text: str, *, total: bool = False
) -> None:
    left, right = sheet.window[:2]
    base = row + 0.68
    sheet.letter(left, base, share.name, "strong" if total else "row", "start", right=2)
    if total:
        sheet.line([left, right], [row + 0.02] * 2, "ink", 1.0, layer="axis")
    low, high = min(bar), max(bar)
    worse = abs(bar[1]) > abs(bar[0])
    corners = ([low, high, high, low], [row + 0.22, row + 0.22, row + 0.78, row + 0.78])
    if total:
        sheet.area(*corners, "ink", layer="bars")
    elif worse:
        sheet.area(*corners, "mark", layer="bars")
    else:
        # A share that took error away is only outlined: told from the others without colour.
        sheet.area(*corners, "paper", edge="good", width=1.4, layer="bars")
    if not total:
        sheet.line([bar[1]] * 2, [row + 0.22, row + 1.22], "ink", 0.7, layer="bars")
    sheet.letter(right, base, text, "strong" if total else "row", "end", right=-2)
