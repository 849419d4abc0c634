"""The flight in its views: from above over the exact circuit, as the air saw it, from the side, in its holding area."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from analyser.earth.constants import METRES_PER_FOOT
from analyser.pages.figures import symbols
from analyser.pages.figures.canvas import Canvas, canvas_for, letter_free, ticks, window_round
from analyser.pages.figures.strips import STRIP_WIDTH, scale_figure
from analyser.pages.subject import PHASES, AreaParts, FloatArray, HoldSeries, Path, Span, Subject, inner_spans
from analyser.pages.words import direction, in_both, number


def plan(subject: Subject) -> Canvas:
    """Draw the plan view, from the bottom: frame, holding area, course, ideal, reflown, other, flown, fix, wind."""
    canvas = canvas_for(*_extent(subject))
    _frame(canvas)
    if subject.area is not None:
        draw_area(canvas, subject.area)
        say_caution_further_out(canvas, subject.area, layer="airspace")
    else:
        # An empty group keeps its place in the order of layers.
        canvas.area([0, 0, 0], [0, 0, 0], "none", layer="airspace")
    _course(canvas, subject)
    for number_of, path in subject.exact_paths.items():
        _ideal(canvas, path, number_of, 7.0, 1.3)
    if subject.ideal_entry is not None:
        canvas.line(*subject.ideal_entry, "pencil", 1.3, (2.0, 2.4), layer="ideal", circuit=0)
    for (number_of, cause), (east, north) in subject.reflown.items():
        how: dict[str, Any] = {"tolerance": 0.25, "circuit": number_of, "cause": cause}
        canvas.line(east, north, "ghost", 2.0, (6.0, 2.0, 1.5, 2.0), layer="reflown", **how)
    draw_flown(canvas, subject.series, subject.spans)
    symbols.fix(canvas)
    wind_from = subject.document.wind.from_true
    if wind_from is not None:
        symbols.wind(canvas, wind_from, subject.wind_texts)
    _course_text(canvas, subject)
    _numbers(canvas, subject)
    return canvas


def _ideal(canvas: Canvas, path: Path, circuit: int, wash: float, width: float) -> None:
    """Draw what was asked for: a wash with a dotted line in its middle."""
    canvas.line(*path, "band", wash, layer="ideal", circuit=circuit)
    canvas.line(*path, "pencil", width, (2.0, 2.4), layer="ideal", circuit=circuit)


def draw_flown(canvas: Canvas, series: HoldSeries, spans: Sequence[Span], *, in_air: bool = False) -> None:
    """Draw the flown track, each phase by its line, parts interpolated over holes of the log dotted thin."""
    east = series.air_east_nm if in_air else series.east_nm
    north = series.air_north_nm if in_air else series.north_nm
    for span in spans:
        drawn = PHASES[span.phase]
        cut = series.within(span.start_s, span.end_s)
        hole = series.in_hole[cut]
        layer = "flown" if span.in_hold else "other"
        inside = layer == "other"
        of: dict[str, Any] = {"circuit": span.circuit, "phase": drawn.code}
        measured = np.where(hole, np.nan, east[cut])
        canvas.line(
            measured, north[cut], drawn.ink, drawn.width, drawn.dash, layer=layer, inside=inside, **of
        )
        if hole.any():
            guessed = np.where(hole, east[cut], np.nan)
            canvas.line(guessed, north[cut], "mark", 1.0, (0.8, 2.4), layer=layer, inside=inside, **of)
        for seam_s in series.seams_s:
            if span.start_s <= seam_s < span.end_s:
                here, ahead = (
                    (float(np.interp(at, series.time_s, east)), float(np.interp(at, series.time_s, north)))
                    for at in (seam_s, seam_s + 2.0)
                )
                towards_deg = math.degrees(math.atan2(ahead[0] - here[0], ahead[1] - here[1]))
                symbols.seam(canvas, here, towards_deg, layer=layer, circuit=span.circuit)


def _extent(subject: Subject) -> Path:
    series, inner = subject.series, inner_spans(subject.spans)
    cut = series.within(inner[0].start_s - 30.0, inner[-1].end_s + 20.0)
    paths = [
        (series.east_nm[cut], series.north_nm[cut]),
        *subject.exact_paths.values(),
        *subject.reflown.values(),
        (np.zeros(1), np.zeros(1)),
    ]
    return np.concatenate([east for east, _ in paths]), np.concatenate([north for _, north in paths])


def _frame(canvas: Canvas) -> None:
    left, right, bottom, top = canvas.window
    farthest = max(math.hypot(x, y) for x in (left, right) for y in (bottom, top))
    step = 1.0 if farthest < 9 else 5.0
    for radius in np.arange(step, farthest, step):
        symbols.ring(canvas, float(radius))
    symbols.north_and_scale(canvas)


def _course(canvas: Canvas, subject: Subject) -> None:
    course = math.radians(subject.flown.hold.inbound_course_true_deg)
    cut = subject.series.within(*_flown_time(subject.spans))
    far = 1.06 * min(float(np.nanmin(subject.series.along_nm[cut])), -1.0)
    symbols.course(canvas, far * math.sin(course), far * math.cos(course), layer="course")


def _course_text(canvas: Canvas, subject: Subject) -> None:
    course = subject.flown.hold.inbound_course_true_deg
    shown = in_both(direction(course, subject.variation), "course")
    letter_free(canvas, (0.0, 0.0), shown, course + 150.0, layer="course",
                clear_of=("flown", "fix", "ideal", "course", "other"), nearest=26.0)  # fmt: skip


def _flown_time(spans: Sequence[Span]) -> tuple[float, float]:
    inner = [span for span in spans if span.circuit] or list(spans)
    return inner[0].start_s, inner[-1].end_s


def _numbers(canvas: Canvas, subject: Subject) -> None:
    """Write each circuit's number where its outbound leg ends."""
    series, middle = subject.series, math.radians(subject.flown.hold.inbound_course_true_deg + 180.0)
    for span in subject.spans:
        if span.phase == "outbound_leg":
            at = int(np.argmin(np.abs(series.time_s - span.end_s)))
            place = float(series.east_nm[at]), float(series.north_nm[at])
            # Away from the middle of the pattern, where there is room.
            off = place[0] - math.sin(middle), place[1] - math.cos(middle)
            letter_free(canvas, place, [(str(span.circuit), "circle")], math.degrees(math.atan2(*off)),
                        layer="flown-numbers", clear_of=("flown", "fix", "ideal", "course", "other"),
                        circuit=span.circuit)  # fmt: skip


def common_canvas(subject: Subject, width: float, height: float) -> Canvas:
    """Return a canvas with the window that shows any circuit over its exact one, NM from the fix."""
    series = subject.series
    parts = [series.within(span.start_s, span.end_s) for span in subject.spans if span.circuit]
    paths = [
        *((series.east_nm[part], series.north_nm[part]) for part in parts),
        *subject.exact_paths.values(),
    ]
    east, north = (np.concatenate([[0.0], *(path[k] for path in paths)]) for k in (0, 1))
    return Canvas(width, height, window_round(east, north, height / width, 1.12))


def air(series: HoldSeries, spans: Sequence[Span], turn_radii_nm: dict[tuple[int, str], float]) -> Canvas:
    """Draw the flight as the air saw it, each turn (circuit, phase) over a circle of the radius that was asked for."""
    inner = inner_spans(spans)
    start, end = inner[0].start_s, inner[-1].end_s
    cut = series.within(start - 20.0, end + 15.0)
    drift = series.within(start, end)
    east = np.concatenate((series.air_east_nm[cut], series.drift_east_nm[drift]))
    north = np.concatenate((series.air_north_nm[cut], series.drift_north_nm[drift]))
    canvas = canvas_for(east, north)
    symbols.north_and_scale(canvas)
    canvas.line(
        series.drift_east_nm[drift], series.drift_north_nm[drift], "air", 1.4, (1.5, 3.0), layer="drift"
    )
    for which, radius in turn_radii_nm.items():
        _circle(canvas, series, spans, which, radius)
    draw_flown(canvas, series, spans, in_air=True)
    for span in spans:
        if span.phase == "outbound_turn":
            _fix_seen(canvas, series, span)
    return canvas


def _circle(
    canvas: Canvas, series: HoldSeries, spans: Sequence[Span], which: tuple[int, str], radius: float
) -> None:
    for span in spans:
        if (span.circuit, span.phase) == which:
            middle = int(np.argmin(np.abs(series.time_s - (span.clock_s + span.end_s) / 2)))
            heading = np.radians(series.heading_deg[middle])
            # The centre lies square to the heading, on the side the wing is down.
            side = np.sign(series.bank_deg[middle])
            east = float(series.air_east_nm[middle] + side * radius * np.cos(heading))
            north = float(series.air_north_nm[middle] - side * radius * np.sin(heading))
            _ideal(canvas, symbols.circle(radius, east, north, 73), which[0], 6.0, 1.0)


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
    _side_frame(canvas, band_ft)
    for span in spans:
        drawn, part = PHASES[span.phase], series.within(span.start_s, span.end_s)
        layer = "flown" if span.in_hold else "other"
        canvas.line(series.along_nm[part], series.altitude_ft[part], drawn.ink, 0.55 * drawn.width, drawn.dash,
                   layer=layer, tolerance=0.4, circuit=span.circuit, phase=drawn.code)  # fmt: skip
    return canvas


def _side_frame(canvas: Canvas, band_ft: tuple[float, float] | None) -> None:
    left, right, low, high = canvas.window
    if band_ft:
        canvas.box(left, right, *band_ft, "band", layer="band")
    for value in ticks(low, high, 5)[0]:
        canvas.line([left, right], [value, value], "rule", 0.7, layer="axis")
        if (high - value) / (high - low) > 0.14 and (value - low) / (high - low) > 0.14:
            scale_figure(canvas, float(value), number(float(value)), metres=True)
    canvas.line([0, 0], [low, high], "ink", 1.2, layer="axis")
    canvas.letter(0, high, "fix", "strong", "end", up=-14, right=-5)
    places, along = ticks(left, right, 8)
    for value in places:
        canvas.line([value, value], [low, low + 0.03 * (high - low)], "ink", 0.8, layer="axis")
        if abs(value) > along / 2 and 0.04 < (value - left) / (right - left) < 0.94:
            canvas.letter(
                float(value), low, f"{number(float(value), 0 if along >= 1 else 1)} NM", "tick minor", up=6
            )


#: Written into every drawing of the area.
CAUTION = ("training illustration: not obstacle clearance,", "not for planning or navigation")


class Outline(NamedTuple):
    """How an outline is drawn, and its words for the key."""

    ink: str
    width: float
    dash: tuple[float, ...] | None
    words: str


OUTLINES = {
    "area": Outline("ink", 1.8, None, "holding area of the circuits"),
    "entry_area": Outline("ink", 1.3, (7.0, 3.0), "with the entries"),
    "template": Outline("pencil", 0.9, (2.0, 2.0), "template round one fix"),
    "fix": Outline("pencil", 0.9, None, "fix tolerance area"),
    "buffer": Outline("other", 0.8, (1.2, 3.2), "steps of the buffer, 1 NM each"),
}


def lines_round(parts: AreaParts) -> dict[str, list[Path]]:
    """Return the lines of each outline that there is; round a single point the template is the area itself."""
    lines = {name: [line] for name, line in parts.outlines.items() if line[0].size > 2}
    if "fix" not in lines:
        lines.pop("template", None)
    return lines | {"buffer": [line for line, _ in parts.buffer]}


def draw_area(canvas: Canvas, parts: AreaParts) -> None:
    """Draw the outlines into a canvas, also where they lie outside its window."""
    lines = lines_round(parts)
    for name in ("buffer", "template", "entry_area", "area", "fix"):
        ink, width, dash, _ = OUTLINES[name]
        for line in lines.get(name, ()):
            canvas.line(*line, ink, width, dash, layer="airspace", beyond=True)


def say_caution(canvas: Canvas, *, layer: str) -> None:
    """Write the caution at the foot of a drawing, beside the scale."""
    _, right, bottom, _ = canvas.window
    for up, line in zip((26, 7), CAUTION, strict=True):
        canvas.letter(right, bottom, line, "mark", "end", right=-6, up=up, layer=layer)


def say_caution_further_out(canvas: Canvas, parts: AreaParts, *, layer: str) -> None:
    """Write the caution across the head of what is seen when the whole area is looked at."""
    x, y, wide, _ = reach(canvas, parts)
    left, right, _, top = canvas.window
    # The page keeps lettering at its size when it looks further out, so its place moves with the scale.
    down, aside = y + 16.0 * wide / canvas.width, x + wide / 2 - canvas.width / 2
    for lower, line in zip((0.0, 20.0 * wide / canvas.width), CAUTION, strict=True):
        canvas.letter((left + right) / 2, top, line, "mark", right=aside, up=-down - lower, layer=layer)


def reach(canvas: Canvas, parts: AreaParts) -> tuple[float, float, float, float]:
    """Find how far to look out from a plan view to see the whole holding area: x, y, width, height in drawing units."""
    east, north = parts.outlines["entry_area"]
    x, y = canvas.x(east), canvas.height - canvas.y(north)
    left, right = min(0.0, float(x.min())), max(canvas.width, float(x.max()))
    top, bottom = min(0.0, float(y.min())), max(canvas.height, float(y.max()))
    times = 1.06 * max((right - left) / canvas.width, (bottom - top) / canvas.height)
    wide, high = times * canvas.width, times * canvas.height
    return (left + right - wide) / 2, (top + bottom - high) / 2, wide, high


#: Lettering needs lines this far apart, drawing units.
_ROOM = 11.0


def airspace(parts: AreaParts, series: HoldSeries, spans: Sequence[Span], course_true_deg: float) -> Canvas:
    """Draw what lies round the area and the flown track, which the plan view has drawn already."""
    outermost = parts.buffer[-1][0]
    cuts = [series.within(span.start_s, span.end_s) for span in spans if span.in_hold]
    canvas = canvas_for(
        np.concatenate([outermost[0], *(series.east_nm[cut] for cut in cuts)]),
        np.concatenate([outermost[1], *(series.north_nm[cut] for cut in cuts)]),
    )
    symbols.north_and_scale(canvas)
    course = math.radians(course_true_deg)
    far = float(np.hypot(*outermost).max())
    symbols.course(canvas, -far * math.sin(course), -far * math.cos(course), width=0.7, layer="course")
    symbols.fix(canvas)
    if parts.deepest is not None:
        symbols.ring(canvas, 0.5, *parts.deepest, ink="mark", width=2.2, layer="deepest")
    _clearances(canvas, parts)
    say_caution(canvas, layer="caution")
    return canvas


def _clearances(canvas: Canvas, parts: AreaParts) -> None:
    """Write the clearance each step asks for where its line reaches furthest north-east, if there is room."""
    towards = np.array([math.sin(math.radians(45.0)), math.cos(math.radians(45.0))])
    inner = parts.outlines["entry_area"]
    for outer, clearance_ft in parts.buffer:
        places = [_furthest(outline, towards) for outline in (inner, outer)]
        inner = outer
        if abs(float(np.diff(canvas.y([place[1] for place in places]))[0])) < _ROOM:
            continue
        east, north = np.mean(places, axis=0)
        for text, kind in (
            (f"{clearance_ft:.0f} ft", "when-ft"),
            (f"{clearance_ft * METRES_PER_FOOT:.0f} m", "when-m"),
        ):
            canvas.letter(float(east), float(north), text, f"tick {kind}", up=-4, layer="clearance")


def _furthest(outline: Path, towards: FloatArray) -> FloatArray:
    corners = np.column_stack(outline)
    return np.asarray(corners[np.argmax(corners @ towards)])
