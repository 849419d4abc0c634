"""Quantities over time, one strip each, and the ribbon of phases above them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import field
from typing import TYPE_CHECKING

import numpy as np

from analyser.earth.constants import METRES_PER_FOOT
from analyser.frozen import dataclass
from analyser.pages.figures.canvas import Canvas, FloatArray, thin, ticks
from analyser.pages.subject import PHASES, Span
from analyser.pages.words import clock, number

if TYPE_CHECKING:
    from analyser.schema.debrief_file import WrittenExcursion


@dataclass(frozen=True)
class Band:
    """Between which values a quantity should have stayed, and when.

    ``narrows_to`` is what part of the band's width is left at its end; 1 for an even band.
    """

    start_s: float
    end_s: float
    low: float
    high: float
    target: float
    narrows_to: float = 1.0

    def edges(self, time_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the lowest and the highest value allowed at each instant."""
        share = (time_s - self.start_s) / max(self.end_s - self.start_s, 1e-9)
        wide = 1.0 + share * (self.narrows_to - 1.0)
        return self.target + (self.low - self.target) * wide, self.target + (self.high - self.target) * wide


@dataclass(frozen=True)
class Strip:
    """One quantity over time, (n,) arrays; ``sd``, one sigma, is drawn as a wash two sigmas to either side.

    ``key`` is its name in the page's data, ``"altitude"``; heights are also lettered in ``metres``; ``outside`` are
    the stretches out of tolerance, as the debrief file has them; ``also`` is what was wrong beside the band.
    """

    key: str
    title: str
    unit: str
    decimals: int
    time_s: FloatArray
    value: FloatArray
    sd: FloatArray | None = None
    bands: Sequence[Band] = field(default_factory=tuple)
    metres: bool = False
    outside: Sequence[WrittenExcursion] = ()
    also: str = ""


#: All strips are drawn this wide; the page stretches them to the room there is.
STRIP_WIDTH = 900.0
STRIP_HEIGHT = 104.0
#: How far left of a strip its figures end, drawing units: a few pixels at any width.
MARGIN_RIGHT = -4.0


def strip_sheet(
    strip: Strip, spans: Sequence[Span], window_s: tuple[float, float], seams_s: Sequence[float] = ()
) -> Canvas:
    """Draw one strip: phases, band, axis, value, outside, lettering.

    ``window_s`` (start, end) is what all strips of a hold show; a line is ruled at ``seams_s``, where time was taken
    out or put in.
    """
    low, high = _range(strip, window_s)
    canvas = Canvas(STRIP_WIDTH, STRIP_HEIGHT, (*window_s, low, high), stretch=True)
    shade(canvas, spans)
    for band in strip.bands:
        left, right = max(band.start_s, window_s[0]), min(band.end_s, window_s[1])
        if right > left:
            lower, upper = band.edges(np.array([left, right]))
            canvas.area([left, right, right, left], [*lower, *upper[::-1]], "band", layer="band")
            canvas.line([left, right], [band.target] * 2, "pencil", 1.0, (2.0, 2.4), layer="band")
    _ticks(canvas, strip)
    _values(canvas, strip)
    _outside(canvas, strip)
    _seams(canvas, seams_s)
    return canvas


def shade(canvas: Canvas, spans: Sequence[Span]) -> None:
    """Shade the turns and rule the lines between circuits."""
    _, _, low, high = canvas.window
    for span in spans:
        if span.phase in ("outbound_turn", "inbound_turn"):
            place = (span.start_s, span.end_s, low, high)
            canvas.box(*place, "rule", opacity=0.32, layer="phases", circuit=span.circuit)
        if span.phase == "outbound_turn":
            canvas.line([span.start_s] * 2, [low, high], "ink", 0.9, layer="phases")


def ribbon(
    spans: Sequence[Span], window_s: tuple[float, float], start_s: float, seams_s: Sequence[float] = ()
) -> Canvas:
    """Draw the ribbon above the strips: phases by their lines, circuits by number, minutes from ``start_s``."""
    canvas = Canvas(STRIP_WIDTH, 46.0, (*window_s, 0.0, 46.0), stretch=True)
    shade(canvas, spans)
    starts = [span for span in spans if span.phase == "outbound_turn"]
    # On a phone a ribbon is a third as wide: numbers alone where words would meet, and not all of many.
    share = 1.0 / max(len(starts), 1)
    every = max(1, math.ceil(0.06 / share))
    for span in spans:
        drawn, line = PHASES[span.phase], ([span.start_s, span.end_s], [25.0, 25.0])
        canvas.line(
            *line, drawn.ink, drawn.width, drawn.dash, layer="flown", circuit=span.circuit, phase=drawn.code
        )
        if span.phase == "outbound_turn" and (span.circuit - 1) % every == 0:
            room = (window_s[1] - span.start_s) / (window_s[1] - window_s[0])
            words = f"Circuit {span.circuit}" if share > 0.22 and room > 0.22 else str(span.circuit)
            canvas.letter(span.start_s, 32.0, words, "strong", "start", right=4, circuit=span.circuit)
        if span.phase == "entry" and span.end_s - span.start_s > 0.14 * (window_s[1] - window_s[0]):
            canvas.letter(span.start_s, 32.0, "Entry", "strong", "start", right=5)
    _minutes(canvas, start_s)
    _seams(canvas, seams_s)
    return canvas


def _seams(canvas: Canvas, seams_s: Sequence[float]) -> None:
    for seam_s in seams_s:
        canvas.line([seam_s] * 2, canvas.window[2:], "mark", 1.4, (1.5, 2.0), layer="seams")


def _minutes(canvas: Canvas, start_s: float) -> None:
    first, last = canvas.window[:2]
    step = next(step for step in (30, 60, 120, 300, 600, 1200, 3600, 7200) if (last - first) / step <= 12)
    for nth in range(math.ceil((first - start_s) / step), math.floor((last - start_s) / step) + 1):
        at = start_s + nth * step
        canvas.line([at, at], [12.0, 18.0], "ink", 0.8, layer="axis")
        edge = 0.055 if abs(nth * step) < 3600 else 0.08
        if edge < (at - first) / (last - first) < 1.0 - edge:
            canvas.letter(at, 1.5, clock(nth * step), "tick" if nth % 3 == 0 else "tick minor")


def _range(strip: Strip, window_s: tuple[float, float]) -> tuple[float, float]:
    seen = strip.value[(strip.time_s >= window_s[0]) & (strip.time_s <= window_s[1])]
    seen = seen[~np.isnan(seen)]
    edges = [edge for band in strip.bands for edge in (band.low, band.high)]
    all_values = np.concatenate((seen, edges)) if seen.size or edges else np.array([0.0, 1.0])
    low, high = float(all_values.min()), float(all_values.max())
    room = max(high - low, 10.0 ** (1 - strip.decimals) * 0.5)
    # Room above and below for the figures of what lay outside.
    return low - 0.24 * room, high + 0.24 * room


def _ticks(canvas: Canvas, strip: Strip) -> None:
    start, end, low, high = canvas.window
    values, step = ticks(low, high, 4)
    for value in values:
        canvas.line([start, end], [value, value], "rule", 0.7, layer="axis")
        if 0.06 < (value - low) / (high - low) < 0.94:
            decimals = 0 if step >= 1 else max(strip.decimals, 1)
            scale_figure(canvas, float(value), number(float(value), decimals), metres=strip.metres)


def scale_figure(canvas: Canvas, value: float, text: str, *, metres: bool) -> None:
    """Write a figure of the scale in the margin that the page leaves beside a strip, a height also in metres."""
    texts = [(text, " when-ft" if metres else "")]
    if metres:
        texts.append((number(value * METRES_PER_FOOT), " when-m"))
    for words, kind in texts:
        canvas.letter(canvas.window[0], value, words, f"tick{kind}", "end", right=MARGIN_RIGHT, up=-3.5)


def _values(canvas: Canvas, strip: Strip) -> None:
    if strip.sd is not None:
        good = ~(np.isnan(strip.value) | np.isnan(strip.sd))
        time, value, two = strip.time_s[good], strip.value[good], 2 * strip.sd[good]
        over, under = _coarse(canvas, time, value + two, 1.4), _coarse(canvas, time, value - two, 1.4)
        around = np.concatenate((over[0], under[0][::-1])), np.concatenate((over[1], under[1][::-1]))
        canvas.area(*around, "out", opacity=0.16, layer="value")
    canvas.line(*_coarse(canvas, strip.time_s, strip.value, 0.4), "out", 1.5, layer="value")


def _coarse(
    canvas: Canvas, time_s: FloatArray, value: FloatArray, tolerance: float
) -> tuple[FloatArray, FloatArray]:
    """Thin a curve to a part of a drawing unit: a strip is never zoomed."""
    left, right, low, high = canvas.window
    x, y = thin(canvas.x(time_s), canvas.y(value), tolerance)
    return left + x * (right - left) / canvas.width, low + y * (high - low) / canvas.height


#: How far figures reach to either side of their middle on a phone, as a share of the strip.
_REACH = 0.11


def _outside(canvas: Canvas, strip: Strip) -> None:
    """Mark what lay outside: a heavy line, a bar under it, and the worst of each circuit in figures."""
    _, _, low, high = canvas.window
    spots = strip.outside
    for spot in spots:
        cut = (strip.time_s >= spot.start_s) & (strip.time_s <= spot.end_s)
        until = max(spot.end_s, spot.start_s + 1.0)
        canvas.line(strip.time_s[cut], strip.value[cut], "mark", 3.4, layer="outside")
        canvas.box(spot.start_s, until, low, low + 0.055 * (high - low), "mark", layer="outside")
    told: list[float] = []
    start, end = canvas.window[:2]
    for spot in sorted(spots, key=lambda one: -abs(one.worst)):
        # A label that would lie over its neighbour is left out: neither could be read.
        anchor, middle_s = _placed(canvas, spot)
        if all(abs(middle_s - other) > 0.24 * (end - start) for other in told):
            told.append(middle_s)
            _worst(canvas, strip, spot, anchor, middle_s)


def _placed(canvas: Canvas, spot: WrittenExcursion) -> tuple[str, float]:
    """Return how the worst's figures are anchored to its time, and the time that their middle comes to."""
    start, end = canvas.window[:2]
    reach, place = _REACH * (end - start), (spot.worst_s - start) / (end - start)
    if place < _REACH:
        return "start", spot.worst_s + reach
    return ("end", spot.worst_s - reach) if place > 1.0 - _REACH else ("middle", spot.worst_s)


def _worst(canvas: Canvas, strip: Strip, spot: WrittenExcursion, anchor: str, middle_s: float) -> None:
    """Write the worst in figures, clear of the line on either side of it as far as they reach on a phone."""
    start, end = canvas.window[:2]
    near = np.abs(strip.time_s - middle_s) <= _REACH * 1.1 * (end - start)
    near &= ~np.isnan(strip.value)
    higher = spot.worst > 0
    beside, worst = strip.value[near], spot.reference + spot.worst
    edge = beside.max(initial=worst) if higher else beside.min(initial=worst)
    up, sign = (5.0, "▲") if higher else (-14.0, "▼")
    figures = f"{sign} {number(spot.worst, strip.decimals, signed=True)}"
    kind = "mark when-ft" if strip.metres else "mark"
    space = "" if strip.unit == "°" else " "
    canvas.letter(spot.worst_s, float(edge), f"{figures}{space}{strip.unit}", kind, anchor, up=up)
    if strip.metres:
        metric = f"{sign} {number(spot.worst * METRES_PER_FOOT, 0, signed=True)} m"
        canvas.letter(spot.worst_s, float(edge), metric, "mark when-m", anchor, up=up)
