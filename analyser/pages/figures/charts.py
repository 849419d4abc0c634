"""Charts of one hold: what moved a roll-out, when to turn in to leave on time, wind and airspeed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from analyser.pages.figures import symbols
from analyser.pages.figures.canvas import Canvas, FloatArray, letter_free, ticks
from analyser.pages.words import clock, in_both, nice_step, number

if TYPE_CHECKING:
    from analyser.schema.debrief_file import WrittenWind

ROW = 24.0
#: More shares than this are summed up in one bar, so that the chart stays a picture; the table has them all.
_MOST = 6
#: Which parts of the width the names and the figures take; the bars stand between them.
_NAMES, _FIGURES = 0.40, 0.23


#: One bar: its name in words and how much it added.
Bar = tuple[str, float]


def waterfall(shares: Sequence[Bar], measured: float, unit: str, decimals: int) -> Canvas:
    """Draw shares that add up to what was ``measured``, the most costly first, a row each, to be stretched."""
    shares = _summed(shares)
    ends = np.cumsum([0.0, *(value for _, value in shares)])
    low, high = float(min(ends.min(), measured, 0.0)), float(max(ends.max(), measured, 0.0))
    room = max(high - low, 10.0**-decimals * 5)
    scale = room / (1.0 - _NAMES - _FIGURES)
    left, right = low - _NAMES * scale, high + _FIGURES * scale
    rows = len(shares) + 1
    canvas = Canvas(480.0, rows * ROW, (left, right, float(rows), 0.0), stretch=True)
    for row, (share, start) in enumerate(zip(shares, ends[:-1], strict=True)):
        text = f"{number(share[1], decimals, signed=True)} {unit}"
        _row(canvas, row, share[0], (float(start), float(start) + share[1]), text)
    text = f"{number(measured, decimals, signed=True)} {unit}"
    _row(canvas, len(shares), "measured", (0.0, measured), text, total=True)
    canvas.line([0, 0], [0, rows], "ink", 1.0, layer="axis")
    return canvas


def _summed(shares: Sequence[Bar]) -> Sequence[Bar]:
    """Keep the largest shares and sum up the rest, so that the bars still add up."""
    if len(shares) <= _MOST:
        return shares
    kept, rest = shares[: _MOST - 1], shares[_MOST - 1 :]
    return [*kept, (f"{len(rest)} smaller shares", sum(value for _, value in rest))]


def _row(
    canvas: Canvas, row: int, name: str, bar: tuple[float, float], text: str, *, total: bool = False
) -> None:
    left, right = canvas.window[:2]
    base = row + 0.68
    canvas.letter(left, base, name, "strong" if total else "row", "start", right=2)
    if total:
        canvas.line([left, right], [row + 0.02] * 2, "ink", 1.0, layer="axis")
    low, high = min(bar), max(bar)
    worse = abs(bar[1]) > abs(bar[0])
    corners = (low, high, row + 0.22, row + 0.78)
    if total or worse:
        canvas.box(*corners, "ink" if total else "mark", layer="bars")
    else:
        # A share that took error away is only outlined: told from the others without colour.
        canvas.box(*corners, "paper", edge="good", width=1.4, layer="bars")
    if not total:
        canvas.line([bar[1]] * 2, [row + 0.22, row + 1.22], "ink", 0.7, layer="bars")
    canvas.letter(right, base, text, "strong" if total else "row", "end", right=-2)


def leaving(
    turn_in_s: Sequence[float],
    back_s: Sequence[float],
    wanted_s: float | None,
    flown: tuple[float, float] | None,
) -> Canvas:
    """Draw the instant of return over the instant of turning in, seconds after leaving the fix.

    The circuits run from the shortest to the full one; ``wanted_s`` is when to be over the fix again; ``flown`` is when
    the inbound turn was begun and when the fix was passed.
    """
    across, up = list(turn_in_s), list(back_s)
    if flown:
        across.append(flown[0])
        up.append(flown[1])
    if wanted_s is not None:
        up.append(wanted_s)
    left, right, low, high = min(across), max(across), min(up), max(up)
    wide, tall = max(right - left, 20.0), max(high - low, 20.0)
    window = (left - 0.2 * wide, right + 0.12 * wide, low - 0.24 * tall, high + 0.16 * tall)
    canvas = Canvas(420.0, 260.0, window)
    _leaving_axes(canvas)
    canvas.line(turn_in_s, back_s, "pencil", 1.8, (2.0, 2.4), layer="exact")
    if wanted_s is not None:
        canvas.line(window[:2], [wanted_s] * 2, "good", 1.6, (7, 3), layer="wanted")
        canvas.letter(window[1], wanted_s, f"wanted {clock(wanted_s)}", "note", "end", up=5, right=-4)
    if flown:
        symbols.dot(canvas, *flown, 4.5, "ink", layer="flown")
        canvas.letter(*flown, "flown", "strong", "end", right=-8, up=-4)
    return canvas


def _leaving_axes(canvas: Canvas) -> None:
    left, right, low, high = canvas.window
    for value in ticks(left, right, 6)[0]:
        canvas.line([value, value], [low, high], "rule", 0.7, layer="axis")
        if 0.12 < (value - left) / (right - left) < 0.95:
            canvas.letter(float(value), low, clock(float(value)), "tick", up=4)
    for value in ticks(low, high, 5)[0]:
        canvas.line([left, right], [value, value], "rule", 0.7, layer="axis")
        if 0.12 < (value - low) / (high - low) < 0.9:
            canvas.letter(left, float(value), clock(float(value)), "tick", "start", right=3, up=2)
    canvas.letter(right, low, "turn in after the fix", "note", "end", up=17, right=-4)
    canvas.letter(left, high, "back over the fix after", "note", "start", up=-13, right=4)


def wind_circle(
    ground_kt: tuple[FloatArray, FloatArray],
    wind: WrittenWind,
    tas_kt: float,
    tas_sd_kt: float | None,
    texts: tuple[str, str],
) -> Canvas:
    """Draw the ground velocities (east, north), the circle through them, and how well its centre is known.

    The wind, whose components are known, is also written in ``texts``, magnetic and true.
    """
    centre = (wind.east_kt or 0.0, wind.north_kt or 0.0)
    reach = 1.12 * (tas_kt + max(map(abs, centre)))
    canvas = Canvas(360.0, 360.0, (-reach, reach, -reach, reach))
    _axes(canvas, reach)
    if tas_sd_kt is not None and wind.sd_kt is not None:
        # Both uncertainties widen the ring in which the points should lie.
        _ring_area(canvas, centre, tas_kt, 2 * math.hypot(tas_sd_kt, wind.sd_kt))
    symbols.ring(canvas, tas_kt, *centre, ink="pencil", width=1.2, dash=(2.0, 2.4), layer="circle")
    _points(canvas, *ground_kt)
    _centre(canvas, *centre, wind.sd_kt)
    letter_free(canvas, centre, in_both(texts, "note"), math.degrees(math.atan2(*centre)), layer="lettering",
                clear_of=("wind", "points"))  # fmt: skip
    return canvas


def _axes(canvas: Canvas, reach: float) -> None:
    canvas.line([-reach, reach], [0, 0], "rule", 0.9, layer="axis")
    canvas.line([0, 0], [-reach, reach], "rule", 0.9, layer="axis")
    step = nice_step(reach, 4)
    for radius in np.arange(step, reach, step):
        symbols.ring(canvas, float(radius), layer="axis")
        canvas.letter(0.0, -float(radius), f"{number(float(radius))} kt", "tick", "start", right=3, up=2)
    canvas.letter(0.0, reach, "N", "note", up=-12)
    canvas.letter(reach, 0.0, "E", "note", "end", right=-3, up=-12)


def _ring_area(canvas: Canvas, centre: tuple[float, float], radius: float, half: float) -> None:
    outer, inner = (symbols.circle(reach, *centre) for reach in (radius + half, max(radius - half, 0.0)))
    east, north = (np.concatenate((outer[k], inner[k][::-1])) for k in (0, 1))
    canvas.area(east, north, "band", layer="circle")


def _points(canvas: Canvas, east_kt: FloatArray, north_kt: FloatArray) -> None:
    # Each point is a dash as long as it is thick: a square of one short path piece.
    size = 1.25 * canvas.per_unit
    ends = np.array([-size, size, np.nan])
    east, north = (east_kt[:, None] + ends).ravel(), (north_kt[:, None] + 0.0 * ends).ravel()
    canvas.line(east, north, "out", 2.5, opacity=0.75, layer="points")


def _centre(canvas: Canvas, east: float, north: float, sd_kt: float | None) -> None:
    canvas.line([0, east], [0, north], "air", 2.2, layer="wind")
    if sd_kt is not None:
        canvas.area(*symbols.circle(2 * sd_kt, east, north, 49), "air", opacity=0.3, edge="air", layer="wind")
    size = 4.0 * canvas.per_unit
    canvas.line([east - size, east + size], [north, north], "ink", 1.2, layer="wind")
    canvas.line([east, east], [north - size, north + size], "ink", 1.2, layer="wind")
