"""Time strips: one quantity over the whole hold, with its tolerance band and what lay outside it marked."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from analyser.pages.figures.sheet import Sheet
from analyser.pages.figures.strip import Outside, Strip, outside
from analyser.pages.figures.thin import thin
from analyser.pages.phases import PHASES, Span
from analyser.pages.words import METRES_PER_FOOT, clock, nice_step, number

FloatArray = NDArray[np.float64]

#: All strips are drawn this wide; the page stretches them to the room there is.
STRIP_WIDTH = 900.0
STRIP_HEIGHT = 104.0


def strip_sheet(strip: Strip, spans: Sequence[Span], window_s: tuple[float, float]) -> Sheet:
    """Draw one strip.

    Parameters
    ----------
    strip : Strip
    spans : sequence of Span
        For the shading of the turns and the lines between circuits.
    window_s : (start, end)
        What all strips of a hold show.

    Returns
    -------
    Sheet
        Layers: phases, band, axis, value, outside, lettering.
    """
    low, high, step = _range(strip, window_s)
    sheet = Sheet(STRIP_WIDTH, STRIP_HEIGHT, (*window_s, low, high), stretch=True)
    shade(sheet, spans)
    for band in strip.bands:
        left, right = max(band.start_s, window_s[0]), min(band.end_s, window_s[1])
        if right > left:
            lower, upper = band.edges(np.array([left, right]))
            sheet.area([left, right, right, left], [*lower, *upper[::-1]], "band", layer="band")
            sheet.line([left, right], [band.target] * 2, "pencil", 1.0, (2.0, 2.4), layer="band")
    _ticks(sheet, strip, low, high, step)
    _values(sheet, strip)
    _outside(sheet, strip)
    return sheet


def shade(sheet: Sheet, spans: Sequence[Span]) -> None:
    """Shade the turns and rule the lines between circuits."""
    _, _, low, high = sheet.window
    for span in spans:
        if span.phase in ("outbound_turn", "inbound_turn"):
            corners = [span.start_s, span.end_s, span.end_s, span.start_s]
            sheet.area(
                corners, [low, low, high, high], "rule", opacity=0.32, layer="phases", circuit=span.circuit
            )
        if span.phase == "outbound_turn":
            sheet.line([span.start_s] * 2, [low, high], "ink", 0.9, layer="phases")


def ribbon(spans: Sequence[Span], window_s: tuple[float, float]) -> Sheet:
    """Draw the ribbon above the strips: phases by their lines, circuits by number, time in minutes.

    Parameters
    ----------
    spans : sequence of Span
    window_s : (start, end)

    Returns
    -------
    Sheet
    """
    sheet = Sheet(STRIP_WIDTH, 46.0, (*window_s, 0.0, 46.0), stretch=True)
    shade(sheet, spans)
    for span in spans:
        code, _, ink, width, dash, _ = PHASES[span.phase]
        line = ([span.start_s, span.end_s], [25.0, 25.0])
        sheet.line(*line, ink, width, dash, layer="flown", circuit=span.circuit, phase=code)
        if span.phase == "outbound_turn":
            sheet.letter(
                span.start_s,
                32.0,
                f"Circuit {span.circuit}",
                "strong",
                "start",
                right=5,
                circuit=span.circuit,
            )
        if span.phase == "entry":
            sheet.letter(span.start_s, 32.0, "Entry", "strong", "start", right=5)
    step = next(
        step for step in (30, 60, 120, 300, 600, 1200, 3600) if (window_s[1] - window_s[0]) / step <= 12
    )
    for at in np.arange(np.ceil(window_s[0] / step) * step, window_s[1], step):
        sheet.line([at, at], [12.0, 18.0], "ink", 0.8, layer="axis")
        if (
            window_s[0] + 0.03 * (window_s[1] - window_s[0])
            < at
            < window_s[1] - 0.03 * (window_s[1] - window_s[0])
        ):
            kind = "tick" if round(at / step) % 2 == 0 else "tick minor"
            sheet.letter(float(at), 1.5, clock(float(at)), kind)
    return sheet


def _range(strip: Strip, window_s: tuple[float, float]) -> tuple[float, float, float]:
    seen = strip.value[(strip.time_s >= window_s[0]) & (strip.time_s <= window_s[1])]
    seen = seen[~np.isnan(seen)]
    edges = [edge for band in strip.bands for edge in (band.low, band.high)]
    all_values = np.concatenate((seen, edges)) if seen.size or edges else np.array([0.0, 1.0])
    low, high = float(all_values.min()), float(all_values.max())
    room = max(high - low, 10.0 ** (1 - strip.decimals) * 0.5)
    low, high = low - 0.12 * room, high + 0.2 * room
    return low, high, nice_step(high - low, 4)


def _ticks(sheet: Sheet, strip: Strip, low: float, high: float, step: float) -> None:
    start, end = sheet.window[:2]
    for value in np.arange(np.ceil(low / step) * step, high, step):
        sheet.line([start, end], [value, value], "rule", 0.7, layer="axis")
        up = 2.0
        if (high - value) / (high - low) < 0.1:
            continue
        text = number(float(value), 0 if step >= 1 else strip.decimals)
        sheet.letter(
            start, float(value), text, "tick when-ft" if strip.metres else "tick", "start", right=4, up=up
        )
        if strip.metres:
            sheet.letter(
                start,
                float(value),
                number(float(value) * METRES_PER_FOOT),
                "tick when-m",
                "start",
                right=4,
                up=up,
            )


def _values(sheet: Sheet, strip: Strip) -> None:
    if strip.sd is not None:
        good = ~(np.isnan(strip.value) | np.isnan(strip.sd))
        time, value, two = strip.time_s[good], strip.value[good], 2 * strip.sd[good]
        over, under = _coarse(sheet, time, value + two, 0.6), _coarse(sheet, time, value - two, 0.6)
        around = np.concatenate((over[0], under[0][::-1])), np.concatenate((over[1], under[1][::-1]))
        sheet.area(*around, "out", opacity=0.16, layer="value")
    sheet.line(*_coarse(sheet, strip.time_s, strip.value, 0.25), "out", 1.5, layer="value")


def _coarse(
    sheet: Sheet, time_s: FloatArray, value: FloatArray, tolerance: float
) -> tuple[FloatArray, FloatArray]:
    """Thin a curve to a part of a drawing unit: a strip is never zoomed."""
    left, right, low, high = sheet.window
    x, y = thin(sheet.x(time_s), sheet.y(value), tolerance)
    return left + x * (right - left) / sheet.width, low + y * (high - low) / sheet.height


def _outside(sheet: Sheet, strip: Strip) -> None:
    """Mark what lay outside: a heavy line, a bar under it, and the worst of each circuit in figures."""
    _, _, low, high = sheet.window
    foot = [low, low, low + 0.055 * (high - low), low + 0.055 * (high - low)]
    spots = outside(strip)
    for spot in spots:
        cut = (strip.time_s >= spot.start_s) & (strip.time_s <= spot.end_s)
        until = max(spot.end_s, spot.start_s + 1.0)
        sheet.line(strip.time_s[cut], strip.value[cut], "mark", 3.4, layer="outside")
        sheet.area([spot.start_s, until, until, spot.start_s], foot, "mark", layer="outside")
    told: list[float] = []
    for spot in sorted(spots, key=lambda one: -abs(one.beyond)):
        # Lettering that would lie over its neighbour says less than none.
        if len(told) < 5 and all(
            abs(spot.worst_s - other) > 0.09 * (sheet.window[1] - sheet.window[0]) for other in told
        ):
            told.append(spot.worst_s)
            _worst(sheet, strip, spot)


def _worst(sheet: Sheet, strip: Strip, spot: Outside) -> None:
    sign = "▲" if spot.beyond > 0 else "▼"
    start, end = sheet.window[:2]
    anchor = (
        "start"
        if spot.worst_s < start + 0.08 * (end - start)
        else "end"
        if spot.worst_s > end - 0.08 * (end - start)
        else "middle"
    )
    above = (spot.worst - sheet.window[2]) / (sheet.window[3] - sheet.window[2]) < 0.84
    up = 6.0 if above else -14.0
    kind = "mark when-ft" if strip.metres else "mark"
    text = f"{sign} {number(spot.beyond, strip.decimals, signed=True)} {strip.unit}"
    sheet.letter(spot.worst_s, spot.worst, text, kind, anchor, up=up)
    if strip.metres:
        metric = f"{sign} {number(spot.beyond * METRES_PER_FOOT, 0, signed=True)} m"
        sheet.letter(spot.worst_s, spot.worst, metric, "mark when-m", anchor, up=up)
