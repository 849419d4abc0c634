"""The flight in two other views: as the air saw it, and from the side."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analyser.earth.constants import METRES_PER_FOOT
from analyser.pages.figures import symbols
from analyser.pages.figures.canvas import Canvas, canvas_for
from analyser.pages.figures.placing import letter_free
from analyser.pages.figures.plan import draw_flown
from analyser.pages.figures.strips import MARGIN_RIGHT, STRIP_WIDTH
from analyser.pages.subject import PHASES, HoldSeries, Span, inner_spans
from analyser.pages.words import nice_step, number


def air(series: HoldSeries, spans: Sequence[Span], turn_radii_nm: dict[tuple[int, str], float]) -> Canvas:
    """Draw the flight as the air saw it, each turn (circuit, phase) over a circle of the radius that was asked for."""
    inner = inner_spans(spans)
    start, end = inner[0].start_s, inner[-1].end_s
    cut = series.within(start - 20.0, end + 15.0)
    drift = series.within(start, end)
    east = np.concatenate((series.air_east_nm[cut], series.drift_east_nm[drift]))
    north = np.concatenate((series.air_north_nm[cut], series.drift_north_nm[drift]))
    canvas = canvas_for(east, north)
    symbols.north(canvas)
    symbols.scale(canvas)
    canvas.line(
        series.drift_east_nm[drift], series.drift_north_nm[drift], "air", 1.4, (1.5, 3.0), layer="drift"
    )
    for (which, phase), radius in turn_radii_nm.items():
        _circle(canvas, series, spans, (which, phase), radius)
    draw_flown(canvas, series, spans, in_air=True)
    for span in spans:
        if span.phase == "outbound_turn":
            _fix_seen(canvas, series, span)
    return canvas


def _circle(
    canvas: Canvas, series: HoldSeries, spans: Sequence[Span], which: tuple[int, str], radius: float
) -> None:
    number = which[0]
    for span in spans:
        if (span.circuit, span.phase) == which:
            middle = int(np.argmin(np.abs(series.time_s - (span.clock_s + span.end_s) / 2)))
            heading = np.radians(series.heading_deg[middle])
            # The centre lies square to the heading, on the side the wing is down.
            side = np.sign(series.bank_deg[middle])
            east = float(series.air_east_nm[middle] + side * radius * np.cos(heading))
            north = float(series.air_north_nm[middle] - side * radius * np.sin(heading))
            angle = np.linspace(0, 2 * np.pi, 73)
            circle = (east + radius * np.sin(angle), north + radius * np.cos(angle))
            canvas.line(*circle, "band", 6.0, layer="ideal", circuit=number)
            canvas.line(*circle, "pencil", 1.0, (2.0, 2.4), layer="ideal", circuit=number)


def _fix_seen(canvas: Canvas, series: HoldSeries, span: Span) -> None:
    at = int(np.argmin(np.abs(series.time_s - span.start_s)))
    east, north = float(series.drift_east_nm[at]), float(series.drift_north_nm[at])
    symbols.fix(canvas, east, north, layer="drift")
    letter_free(canvas, (east, north), [(str(span.circuit), "circle")], 0.0, layer="flown-numbers",
                clear_of=("flown", "ideal", "drift"), circuit=span.circuit)  # fmt: skip


def side(series: HoldSeries, spans: Sequence[Span], band_ft: tuple[float, float] | None) -> Canvas:
    """Draw height against distance along the inbound course; the inbound leg is flown from left to right.

    ``band_ft`` is the tolerance band, where one altitude was asked for.
    """
    inner = inner_spans(spans)
    cut = series.within(inner[0].start_s - 20.0, inner[-1].end_s + 15.0)
    along, height = series.along_nm[cut], series.altitude_ft[cut]
    known = height[~np.isnan(height)]
    edges = np.concatenate((known, band_ft or ())) if known.size else np.array([0.0, 1.0])
    low, high = float(edges.min()), float(edges.max())
    room = max(high - low, 100.0)
    left, right = float(along.min()), float(max(along.max(), 0.0))
    margin = 0.05 * (right - left)
    canvas = Canvas(
        STRIP_WIDTH,
        150.0,
        (left - margin, right + margin, low - 0.25 * room, high + 0.3 * room),
        stretch=True,
    )
    _frame(canvas, band_ft)
    for span in spans:
        drawn, part = PHASES[span.phase], series.within(span.start_s, span.end_s)
        layer = "flown" if span.in_hold else "other"
        canvas.line(series.along_nm[part], series.altitude_ft[part], drawn.ink, 0.55 * drawn.width, drawn.dash,
                   layer=layer, tolerance=0.4, circuit=span.circuit, phase=drawn.code)  # fmt: skip
    return canvas


def _frame(canvas: Canvas, band_ft: tuple[float, float] | None) -> None:
    left, right, low, high = canvas.window
    if band_ft:
        canvas.area(
            [left, right, right, left], [band_ft[0], band_ft[0], band_ft[1], band_ft[1]], "band", layer="band"
        )
    step = nice_step(high - low, 5)
    for value in np.arange(np.ceil(low / step) * step, high, step):
        canvas.line([left, right], [value, value], "rule", 0.7, layer="axis")
        if (high - value) / (high - low) > 0.14 and (value - low) / (high - low) > 0.14:
            feet, metres = float(value), float(value) * METRES_PER_FOOT
            for text, kind in ((number(feet), "tick when-ft"), (number(metres), "tick when-m")):
                canvas.letter(left, feet, text, kind, "end", right=MARGIN_RIGHT, up=-3.5)
    canvas.line([0, 0], [low, high], "ink", 1.2, layer="axis")
    canvas.letter(0, high, "fix", "strong", "end", up=-14, right=-5)
    along = nice_step(right - left, 8)
    for value in np.arange(np.ceil(left / along) * along, right, along):
        canvas.line([value, value], [low, low + 0.03 * (high - low)], "ink", 0.8, layer="axis")
        if abs(value) > along / 2 and 0.04 < (value - left) / (right - left) < 0.94:
            canvas.letter(
                float(value), low, f"{number(float(value), 0 if along >= 1 else 1)} NM", "tick minor", up=6
            )
