"""Leaving on time: when the fix is passed again, by when the inbound turn begins."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analyser.frozen import dataclass
from analyser.pages.figures.sheet import Sheet
from analyser.pages.words import clock, nice_step


@dataclass(frozen=True)
class LeavingPlot:
    """What the plot shows, seconds after leaving the fix.

    Attributes
    ----------
    turn_in_s, back_s : sequence of float
        From the shortest circuit to the full one.
    wanted_s : float or None
        When to be over the fix again.
    flown : (turn_in_s, back_s) or None
    """

    turn_in_s: Sequence[float]
    back_s: Sequence[float]
    wanted_s: float | None
    flown: tuple[float, float] | None


def leaving(plot: LeavingPlot) -> Sheet:
    """Draw the instant of return over the instant of turning in."""
    across, up = list(plot.turn_in_s), list(plot.back_s)
    if plot.flown:
        across.append(plot.flown[0])
        up.append(plot.flown[1])
    if plot.wanted_s is not None:
        up.append(plot.wanted_s)
    left, right, low, high = min(across), max(across), min(up), max(up)
    wide, tall = max(right - left, 20.0), max(high - low, 20.0)
    window = (left - 0.2 * wide, right + 0.12 * wide, low - 0.24 * tall, high + 0.16 * tall)
    sheet = Sheet(420.0, 260.0, window)
    _axes(sheet)
    sheet.line(plot.turn_in_s, plot.back_s, "pencil", 1.8, (2.0, 2.4), layer="exact")
    if plot.wanted_s is not None:
        sheet.line(window[:2], [plot.wanted_s] * 2, "good", 1.6, (7, 3), layer="wanted")
        sheet.letter(
            window[1], plot.wanted_s, f"wanted {clock(plot.wanted_s)}", "note", "end", up=5, right=-4
        )
    if plot.flown:
        _dot(sheet, *plot.flown)
        sheet.letter(*plot.flown, "flown", "strong", "end", right=-8, up=-4)
    return sheet


def _axes(sheet: Sheet) -> None:
    left, right, low, high = sheet.window
    step = nice_step(right - left, 6)
    for value in np.arange(np.ceil(left / step) * step, right, step):
        sheet.line([value, value], [low, high], "rule", 0.7, layer="axis")
        if 0.12 < (value - left) / (right - left) < 0.95:
            sheet.letter(float(value), low, clock(float(value)), "tick", up=4)
    step = nice_step(high - low, 5)
    for value in np.arange(np.ceil(low / step) * step, high, step):
        sheet.line([left, right], [value, value], "rule", 0.7, layer="axis")
        if 0.12 < (value - low) / (high - low) < 0.9:
            sheet.letter(left, float(value), clock(float(value)), "tick", "start", right=3, up=2)
    sheet.letter(right, low, "turn in after the fix", "note", "end", up=17, right=-4)
    sheet.letter(left, high, "back over the fix after", "note", "start", up=-13, right=4)


def _dot(sheet: Sheet, x: float, y: float) -> None:
    angle = np.linspace(0, 2 * np.pi, 25)
    across, up = (sheet.window[1] - sheet.window[0]) / 420.0, (sheet.window[3] - sheet.window[2]) / 260.0
    sheet.area(x + 4.5 * across * np.cos(angle), y + 4.5 * up * np.sin(angle), "ink", layer="flown")
