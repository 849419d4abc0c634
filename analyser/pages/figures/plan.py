"""The plan view: the flown track over the exact circuit, north up."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyser.pages.figures import symbols
from analyser.pages.figures.area import AreaParts, draw_area, say_caution_further_out
from analyser.pages.figures.sheet import Sheet
from analyser.pages.phases import PHASES, Span
from analyser.pages.series import HoldSeries

FloatArray = NDArray[np.float64]
Path = tuple[FloatArray, FloatArray]


@dataclass(frozen=True)
class PlanParts:
    """What the plan view shows.

    Attributes
    ----------
    series : HoldSeries
    spans : sequence of Span
    inbound_course_true_deg : float
    course_texts, wind_texts : (magnetic, true)
        Ready written.
    wind_from_true_deg : float or None
    ideal : mapping of circuit number to Path
        The exact circuit for the wind of each, from the fix, nautical miles.
    ideal_entry : Path or None
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


def plan(parts: PlanParts) -> Sheet:
    """Draw the plan view.

    Parameters
    ----------
    parts : PlanParts

    Returns
    -------
    Sheet
        Layers, from the bottom: frame, airspace (the holding area), course, ideal, reflown,
        other, flown, fix, wind, lettering.
    """
    sheet = sheet_for(*_extent(parts))
    _frame(sheet)
    if parts.area is not None:
        draw_area(sheet, parts.area)
        say_caution_further_out(sheet, parts.area, layer="airspace")
    else:
        # An empty group keeps its place in the order of layers.
        sheet.area([0, 0, 0], [0, 0, 0], "none", layer="airspace")
    _course(sheet, parts)
    for number, (east, north) in parts.ideal.items():
        sheet.line(east, north, "band", 7.0, layer="ideal", circuit=number)
        sheet.line(east, north, "pencil", 1.3, (2.0, 2.4), layer="ideal", circuit=number)
    if parts.ideal_entry is not None:
        sheet.line(*parts.ideal_entry, "pencil", 1.3, (2.0, 2.4), layer="ideal", circuit=0)
    for (number, cause), (east, north) in parts.reflown.items():
        sheet.line(
            east, north, "ghost", 2.0, (6.0, 2.0, 1.5, 2.0), layer="reflown", circuit=number, cause=cause
        )
    draw_flown(sheet, parts.series, parts.spans)
    symbols.fix(sheet)
    if parts.wind_from_true_deg is not None:
        symbols.wind(sheet, parts.wind_from_true_deg, parts.wind_texts)
    _numbers(sheet, parts)
    return sheet


def draw_flown(sheet: Sheet, series: HoldSeries, spans: Sequence[Span], *, in_air: bool = False) -> None:
    """Draw the flown track, each phase by its line, parts interpolated over holes of the log dotted thin."""
    east = series.air_east_nm if in_air else series.east_nm
    north = series.air_north_nm if in_air else series.north_nm
    for span in spans:
        code, _, ink, width, dash, _ = PHASES[span.phase]
        cut = series.within(span.start_s, span.end_s)
        hole = series.in_hole[cut]
        layer = "flown" if span.circuit or span.phase == "entry" else "other"
        measured = np.where(hole, np.nan, east[cut])
        sheet.line(measured, north[cut], ink, width, dash, layer=layer, circuit=span.circuit, phase=code)
        if hole.any():
            guessed = np.where(hole, east[cut], np.nan)
            sheet.line(
                guessed, north[cut], "mark", 1.0, (0.8, 2.4), layer=layer, circuit=span.circuit, phase=code
            )


def _extent(parts: PlanParts) -> tuple[FloatArray, FloatArray]:
    series, inner = parts.series, [span for span in parts.spans if span.circuit or span.phase == "entry"]
    start = min((span.start_s for span in inner), default=series.time_s[0]) - 30.0
    end = max((span.end_s for span in inner), default=series.time_s[-1]) + 20.0
    cut = series.within(start, end)
    paths = [(series.east_nm[cut], series.north_nm[cut]), *parts.ideal.values(), (np.zeros(1), np.zeros(1))]
    return np.concatenate([east for east, _ in paths]), np.concatenate([north for _, north in paths])


def sheet_for(east: FloatArray, north: FloatArray, *, width: float = 560.0) -> Sheet:
    """Return a sheet round some points, with room for lettering and a shape that suits a page."""
    left, right, bottom, top = map(
        float, (np.nanmin(east), np.nanmax(east), np.nanmin(north), np.nanmax(north))
    )
    wide, high = max(right - left, 0.5), max(top - bottom, 0.5)
    across = max(wide * 1.16, high * 1.3)
    height = min(max(high * 1.42 / across, 0.62), 1.0) * width
    up = across * height / width
    middle_x, middle_y = (left + right) / 2, (bottom + top) / 2
    return Sheet(
        width, height, (middle_x - across / 2, middle_x + across / 2, middle_y - up / 2, middle_y + up / 2)
    )


def _frame(sheet: Sheet) -> None:
    left, right, bottom, top = sheet.window
    farthest = max(math.hypot(x, y) for x in (left, right) for y in (bottom, top))
    step = 1.0 if farthest < 9 else 5.0
    for radius in np.arange(step, farthest, step):
        symbols.ring(sheet, float(radius))
    symbols.north(sheet)
    symbols.scale(sheet)


def _course(sheet: Sheet, parts: PlanParts) -> None:
    course = math.radians(parts.inbound_course_true_deg)
    back = float(np.nanmin(parts.series.along_nm[parts.series.within(*_flown_time(parts.spans))]))
    far = min(back, -1.0) * 1.06
    sheet.line(
        [far * math.sin(course), 0],
        [far * math.cos(course), 0],
        "ink",
        0.9,
        (9, 2.5, 1.5, 2.5),
        layer="course",
    )
    for text, kind in zip(parts.course_texts, ("when-mag", "when-tru"), strict=True):
        sheet.letter(0.0, 0.0, text, f"course {kind}", "end" if math.sin(course) > 0 else "start",
                     right=12 if math.sin(course) <= 0 else -12, up=-20, layer="course")  # fmt: skip


def _flown_time(spans: Sequence[Span]) -> tuple[float, float]:
    inner = [span for span in spans if span.circuit] or list(spans)
    return inner[0].start_s, inner[-1].end_s


def _numbers(sheet: Sheet, parts: PlanParts) -> None:
    """Write each circuit's number where its outbound leg ends."""
    for span in parts.spans:
        if span.phase == "outbound_leg":
            at = int(np.argmin(np.abs(parts.series.time_s - span.end_s)))
            east, north = float(parts.series.east_nm[at]), float(parts.series.north_nm[at])
            sheet.letter(
                east, north, str(span.circuit), "circle", up=-4, layer="flown-numbers", circuit=span.circuit
            )
