"""The plan view: the flown track over the exact circuit, north up."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from analyser.pages.figures import symbols
from analyser.pages.figures.airspace import draw_area, say_caution_further_out
from analyser.pages.figures.canvas import Canvas, canvas_for
from analyser.pages.figures.placing import letter_free
from analyser.pages.subject import PHASES, HoldSeries, Path, Span, Subject, inner_spans
from analyser.pages.words import direction


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
    for number, (east, north) in subject.exact_paths.items():
        canvas.line(east, north, "band", 7.0, layer="ideal", circuit=number)
        canvas.line(east, north, "pencil", 1.3, (2.0, 2.4), layer="ideal", circuit=number)
    if subject.ideal_entry is not None:
        canvas.line(*subject.ideal_entry, "pencil", 1.3, (2.0, 2.4), layer="ideal", circuit=0)
    for (number, cause), (east, north) in subject.reflown.items():
        canvas.line(
            east,
            north,
            "ghost",
            2.0,
            (6.0, 2.0, 1.5, 2.0),
            layer="reflown",
            tolerance=0.25,
            circuit=number,
            cause=cause,
        )
    draw_flown(canvas, subject.series, subject.spans)
    symbols.fix(canvas)
    wind_from = subject.document.wind.from_true
    if wind_from is not None:
        symbols.wind(canvas, wind_from, subject.wind_texts)
    _course_text(canvas, subject)
    _numbers(canvas, subject)
    return canvas


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
    symbols.north(canvas)
    symbols.scale(canvas)


def _course(canvas: Canvas, subject: Subject) -> None:
    course = math.radians(subject.flown.hold.inbound_course_true_deg)
    cut = subject.series.within(*_flown_time(subject.spans))
    far = min(float(np.nanmin(subject.series.along_nm[cut])), -1.0) * 1.06
    symbols.course(canvas, far * math.sin(course), far * math.cos(course), layer="course")


def _course_text(canvas: Canvas, subject: Subject) -> None:
    course = subject.flown.hold.inbound_course_true_deg
    shown = zip(direction(course, subject.variation), ("course when-mag", "course when-tru"), strict=True)
    letter_free(canvas, (0.0, 0.0), list(shown), course + 150.0, layer="course",
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


def common_window(
    series: HoldSeries,
    spans: Sequence[Span],
    ideal: Mapping[int, Path],
    shape: float = 0.8,
) -> tuple[float, float, float, float]:
    """Return the window that shows any circuit over its exact one: left, right, bottom, top, NM from the fix.

    ``shape`` is the picture's height in widths.
    """
    parts = [series.within(s.start_s, s.end_s) for s in spans if s.circuit]
    east = np.concatenate(
        [*(series.east_nm[part] for part in parts), *(path[0] for path in ideal.values()), [0.0]]
    )
    north = np.concatenate(
        [*(series.north_nm[part] for part in parts), *(path[1] for path in ideal.values()), [0.0]]
    )
    across = 1.12 * max(float(np.ptp(east)), float(np.ptp(north)) / shape)
    up = across * shape
    middle = (float(east.max() + east.min()) / 2, float(north.max() + north.min()) / 2)
    return middle[0] - across / 2, middle[0] + across / 2, middle[1] - up / 2, middle[1] + up / 2
