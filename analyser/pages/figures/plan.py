"""The plan view: the flown track over the exact circuit, north up."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from analyser.frozen import dataclass
from analyser.pages.figures import symbols
from analyser.pages.figures.airspace import AreaParts, draw_area, say_caution_further_out
from analyser.pages.figures.canvas import Canvas, canvas_for
from analyser.pages.figures.placing import letter_free
from analyser.pages.series import PHASES, HoldSeries, Span

FloatArray = NDArray[np.float64]
Path = tuple[FloatArray, FloatArray]


@dataclass(frozen=True)
class PlanParts:
    """What the plan view shows.

    Attributes
    ----------
    course_texts, wind_texts : (magnetic, true)
        Ready written.
    ideal : mapping of circuit number to Path
        The exact circuit for the wind of each, from the fix, nautical miles.
    reflown : mapping of (circuit number, cause) to Path
        The same circuit with one fault corrected.
    area : AreaParts or None
        The holding area, a layer that is hidden until asked for.
    """

    series: HoldSeries
    spans: Sequence[Span]
    inbound_course_true_deg: float
    course_texts: tuple[str, str]
    wind_texts: tuple[str, str]
    wind_from_true_deg: float | None
    ideal: dict[int, Path]
    ideal_entry: Path | None
    reflown: dict[tuple[int, str], Path]
    area: AreaParts | None = None


def plan(parts: PlanParts) -> Canvas:
    """Draw the plan view.

    Returns
    -------
    Canvas
        Layers, from the bottom: frame, airspace (the holding area), course, ideal, reflown,
        other, flown, fix, wind, lettering.
    """
    canvas = canvas_for(*_extent(parts))
    _frame(canvas)
    if parts.area is not None:
        draw_area(canvas, parts.area)
        say_caution_further_out(canvas, parts.area, layer="airspace")
    else:
        # An empty group keeps its place in the order of layers.
        canvas.area([0, 0, 0], [0, 0, 0], "none", layer="airspace")
    _course(canvas, parts)
    for number, (east, north) in parts.ideal.items():
        canvas.line(east, north, "band", 7.0, layer="ideal", circuit=number)
        canvas.line(east, north, "pencil", 1.3, (2.0, 2.4), layer="ideal", circuit=number)
    if parts.ideal_entry is not None:
        canvas.line(*parts.ideal_entry, "pencil", 1.3, (2.0, 2.4), layer="ideal", circuit=0)
    for (number, cause), (east, north) in parts.reflown.items():
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
    draw_flown(canvas, parts.series, parts.spans)
    symbols.fix(canvas)
    if parts.wind_from_true_deg is not None:
        symbols.wind(canvas, parts.wind_from_true_deg, parts.wind_texts)
    _course_text(canvas, parts)
    _numbers(canvas, parts)
    return canvas


def draw_flown(canvas: Canvas, series: HoldSeries, spans: Sequence[Span], *, in_air: bool = False) -> None:
    """Draw the flown track, each phase by its line, parts interpolated over holes of the log dotted thin."""
    east = series.air_east_nm if in_air else series.east_nm
    north = series.air_north_nm if in_air else series.north_nm
    for span in spans:
        code, _, ink, width, dash, _ = PHASES[span.phase]
        cut = series.within(span.start_s, span.end_s)
        hole = series.in_hole[cut]
        layer = "flown" if span.circuit or span.phase == "entry" else "other"
        measured = np.where(hole, np.nan, east[cut])
        inside = layer == "other"
        canvas.line(measured, north[cut], ink, width, dash, layer=layer, inside=inside, circuit=span.circuit,
                   phase=code)  # fmt: skip
        if hole.any():
            guessed = np.where(hole, east[cut], np.nan)
            canvas.line(
                guessed,
                north[cut],
                "mark",
                1.0,
                (0.8, 2.4),
                layer=layer,
                inside=inside,
                circuit=span.circuit,
                phase=code,
            )
        for seam_s in series.seams_s:
            if span.start_s <= seam_s < span.end_s:
                here, ahead = (
                    (float(np.interp(at, series.time_s, east)), float(np.interp(at, series.time_s, north)))
                    for at in (seam_s, seam_s + 2.0)
                )
                towards_deg = math.degrees(math.atan2(ahead[0] - here[0], ahead[1] - here[1]))
                symbols.seam(canvas, here, towards_deg, layer=layer, circuit=span.circuit)


def _extent(parts: PlanParts) -> tuple[FloatArray, FloatArray]:
    series, inner = parts.series, [span for span in parts.spans if span.circuit or span.phase == "entry"]
    start = min((span.start_s for span in inner), default=series.time_s[0]) - 30.0
    end = max((span.end_s for span in inner), default=series.time_s[-1]) + 20.0
    cut = series.within(start, end)
    paths = [
        (series.east_nm[cut], series.north_nm[cut]),
        *parts.ideal.values(),
        *parts.reflown.values(),
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


def _course(canvas: Canvas, parts: PlanParts) -> None:
    course = math.radians(parts.inbound_course_true_deg)
    back = float(np.nanmin(parts.series.along_nm[parts.series.within(*_flown_time(parts.spans))]))
    far = min(back, -1.0) * 1.06
    canvas.line(
        [far * math.sin(course), 0],
        [far * math.cos(course), 0],
        "ink",
        0.9,
        (9, 2.5, 1.5, 2.5),
        layer="course",
    )


def _course_text(canvas: Canvas, parts: PlanParts) -> None:
    texts = [(parts.course_texts[0], "course when-mag"), (parts.course_texts[1], "course when-tru")]
    letter_free(canvas, (0.0, 0.0), texts, parts.inbound_course_true_deg + 150.0, layer="course",
                clear_of=("flown", "fix", "ideal", "course", "other"), nearest=26.0)  # fmt: skip


def _flown_time(spans: Sequence[Span]) -> tuple[float, float]:
    inner = [span for span in spans if span.circuit] or list(spans)
    return inner[0].start_s, inner[-1].end_s


def _numbers(canvas: Canvas, parts: PlanParts) -> None:
    """Write each circuit's number where its outbound leg ends."""
    middle = math.radians(parts.inbound_course_true_deg + 180.0)
    for span in parts.spans:
        if span.phase == "outbound_leg":
            at = int(np.argmin(np.abs(parts.series.time_s - span.end_s)))
            place = float(parts.series.east_nm[at]), float(parts.series.north_nm[at])
            # Away from the middle of the pattern, where there is room.
            off = place[0] - math.sin(middle), place[1] - math.cos(middle)
            letter_free(canvas, place, [(str(span.circuit), "circle")], math.degrees(math.atan2(*off)),
                        layer="flown-numbers", clear_of=("flown", "fix", "ideal", "course", "other"),
                        circuit=span.circuit)  # fmt: skip


def common_window(
    series: HoldSeries,
    spans: Sequence[Span],
    ideal: Mapping[int, tuple[FloatArray, FloatArray]],
    shape: float = 0.8,
) -> tuple[float, float, float, float]:
    """Return the window that shows any circuit over its exact one.

    Parameters
    ----------
    ideal : mapping of circuit number to (east_nm, north_nm)
    shape : float
        Height of the picture in widths.

    Returns
    -------
    left, right, bottom, top : float
        Nautical miles from the fix.
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
