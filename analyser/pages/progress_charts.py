"""The pictures of the progress page: an item over the weeks, first and latest circuits over each other."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

import numpy as np
from markupsafe import Markup
from numpy.typing import NDArray

from analyser.logbook.logbook_thresholds import TREND
from analyser.logbook.marks import SessionMark
from analyser.logbook.names import counted
from analyser.logbook.progress import Count, ItemProgress, Standing
from analyser.logbook.trend import Trend
from analyser.pages.figures import symbols
from analyser.pages.figures.canvas import Canvas, window_round
from analyser.pages.figures.svg import svg
from analyser.pages.words import number

FloatArray = NDArray[np.float64]
Path = Sequence[Sequence[float]]

_WIDTH = 640.0
_DAY_S = 86400.0
#: Points run to 100; the wind's bars stand below nought.
_FLOOR, _TOP = -34.0, 106.0
_WIND_ROOM = 24.0
#: Numbers on the axis nearer to each other than this, in points, would touch.
_TICK_APART = 14.0
_STRONG_WIND_SHARE = 0.3
#: Not the system's: a page must come out the same whatever language the machine speaks.
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def points_chart(item: ItemProgress, asked_points: float, reference_share: float) -> Markup:
    """Draw the points of an item, session by session, with those asked for as a pencilled line."""
    canvas, start = _time_sheet([mark.when for mark in item.marks], 190.0, _FLOOR, _TOP)
    left, right = canvas.window[:2]
    for level in (0.0, 50.0, 100.0):
        canvas.line([left, right], [level, level], "rule", 0.8, layer="frame")
        # The points asked for are named on the axis, where no session's dot covers them.
        if abs(level - asked_points) >= _TICK_APART:
            canvas.letter(left, level, f"{level:.0f}", "tick", "end", right=26, up=-3.5)
    canvas.line([left, right], [asked_points] * 2, "pencil", 1.0, (5.0, 3.0), layer="asked")
    canvas.letter(left, asked_points, f"{asked_points:.0f}", "tick", "end", right=26, up=-3.5)
    _trend(canvas, item)
    for mark, allowed in zip(item.marks, item.allowed, strict=True):
        day = (mark.when - start).total_seconds() / _DAY_S
        canvas.line([day, day], [min(mark.each), max(mark.each)], "pencil", 1.4, layer="spread")
        symbols.dot(canvas, day, mark.points, 3.6, "paper", edge="ink", layer="flown")
        symbols.dot(canvas, day, float(allowed), 3.0, "ink", layer="allowed")
        _wind_bar(canvas, day, mark)
    canvas.letter(left, _FLOOR + 3, "wind", "tick", "end", right=26)
    return svg(canvas, points_finding(item, reference_share), name="weeks", item=item.item.key)


def points_finding(item: ItemProgress, reference_share: float) -> str:
    """Say what the chart of an item shows."""
    now = f"{item.item.title}: {number(item.now.points)} points, {sure_words(item.now)}"
    where = f", over the last {item.now.sessions} of {len(item.marks)} sessions"
    if item.count is not None:
        now = f"{item.item.title}: {lately_words(item.count)}"
        where = ""
    return f"{now}{where}. {trend_words(item)}"


def lately_words(count: Count) -> str:
    """Say how many were right lately; of few sessions that is all of them."""
    last = "the last " if count.lately_of < count.of else ""
    return f"{count.lately_right} of {last}{count.lately_of} right"


def sure_words(now: Standing) -> str:
    """Say how well it is known where a pilot stands: two sigma, while that is less than half of all points."""
    return f"give or take {number(2 * now.sd)}" if now.sd < 25.0 else "known only roughly"


def trend_words(item: ItemProgress) -> str:
    """Say what the trend is, in a pilot's words, or that there is none to be seen."""
    if item.count is not None:
        return f"{item.count.right} of {item.count.of} right."
    count = len(item.marks)
    if item.trend is None and count < TREND.fewest_sessions:
        return f"Judged in {counted(count, 'session')}: too few to tell a change yet."
    if item.trend is None:
        return "No change can be told: the sessions lie on one day, or have no dates."
    if item.trend.verdict == "no trend" and item.moved:
        step = f"{number(item.first_points)} points at first, {number(item.now.points)} now"
        return f"{step}; whether that lasts or form only drifts, {count} sessions cannot tell."
    if item.trend.verdict == "no trend":
        return f"No change to be told from the ups and downs of {count} sessions."
    return _change_words(item.trend)


def changes(item: ItemProgress) -> bool:
    """Whether more is said of an item than that no change can be told."""
    return bool(item.moved) or (item.trend is not None and item.trend.verdict != "no trend")


def _change_words(trend: Trend) -> str:
    seen = trend.beside if trend.seen_beside and trend.beside else trend.slope
    least, most = sorted((abs(seen.low), abs(seen.high)))
    # The lower limit is above nought, so it is not printed as nought.
    limits = f"{number(least, 1) if round(least, 1) else 'a little over 0'} to {number(most, 1)}"
    said = f"Getting {trend.verdict}: about {number(abs(trend.slope.per_week), 1)} points a week"
    if trend.seen_beside:
        way = "rises" if trend.verdict == "better" else "falls"
        return f"{said}; beside the pilot's other items it {way} by {limits} a week, most likely."
    return f"{said}, most likely {limits}."


def deviation_chart(item: ItemProgress) -> Markup | None:
    """Draw the raw measure of an item against its tolerance; None where it has none."""
    known = [(mark, mark.deviation) for mark in item.marks if mark.deviation is not None]
    tolerances = [one.tolerance for mark in item.marks for one in mark.marks if one.tolerance]
    if not known or not tolerances:
        return None
    tolerance = tolerances[-1]
    each = [one.deviation for mark, _ in known for one in mark.marks if one.deviation is not None]
    reach = 1.15 * max(1.5 * tolerance, *(abs(off) for off in each))
    canvas, start = _time_sheet([mark.when for mark in item.marks], 120.0, -reach, reach)
    left, right = canvas.window[:2]
    canvas.box(left, right, -tolerance, tolerance, "band", layer="band")
    canvas.line([left, right], [0.0, 0.0], "pencil", 0.9, layer="frame")
    for level in (-tolerance, 0.0, tolerance):
        said = number(level, 0 if float(tolerance).is_integer() else 1, signed=True)
        canvas.letter(left, level, said, "tick", "end", right=26, up=-3.5)
    for mark, middle in known:
        day = (mark.when - start).total_seconds() / _DAY_S
        offs = [one.deviation for one in mark.marks if one.deviation is not None]
        canvas.line([day, day], [min(offs), max(offs)], "pencil", 1.4, layer="spread")
        # By most circuits, not by their median: errors to both sides would cancel in it.
        outside = sum(not one.within for one in mark.marks) * 2 > len(mark.marks)
        symbols.dot(canvas, day, middle, 3.0, "mark" if outside else "ink", square=outside, layer="flown")
    middles = [off for _, off in known]
    finding = (
        f"{item.item.title}, raw: median {number(float(np.median(middles)), 1, signed=True)} {item.unit}, "
        f"tolerance plus or minus {number(tolerance, 1)} {item.unit}; "
        f"{sum(one.within for mark, _ in known for one in mark.marks)} of {len(each)} circuits within."
    )
    return svg(canvas, finding, name="weeks-raw", item=item.item.key)


def overlay(first: Path, latest: Path, labels: Sequence[str]) -> Markup:
    """Draw two circuits over each other, on one map round the fix: the first pencilled, the latest inked."""
    drawn = [np.array(path, float) for path in (first, latest)]
    canvas = map_canvas(drawn, 420.0, 300.0)
    canvas.line(drawn[0][:, 1], drawn[0][:, 2], "pencil", 1.6, (5.0, 3.0), layer="flown")
    canvas.line(drawn[1][:, 1], drawn[1][:, 2], "out", 2.2, layer="flown")
    symbols.fix(canvas)
    symbols.north_and_scale(canvas)
    return svg(canvas, f"The fix and the circuits flown: {'; '.join(labels)}.", name="overlay")


def thumbnail(path: Path, window: tuple[float, float, float, float], finding: str) -> Markup:
    """Draw one flown hold small; the window (left, right, bottom, top) is that of all that are to be compared."""
    canvas = Canvas(150.0, 120.0, window)
    points = np.array(path, float)
    canvas.line(points[:, 1], points[:, 2], "out", 1.5, layer="flown")
    symbols.fix(canvas)
    return svg(canvas, finding, name="thumb")


def map_canvas(paths: Sequence[FloatArray], width: float, height: float) -> Canvas:
    """Make a canvas whose window holds all paths and the fix, the same scale both ways.

    Paths are (n, 3) arrays: seconds, NM east, NM north; width and height are in drawing units.
    """
    points = np.concatenate(paths)
    return Canvas(width, height, window_round(points[:, 1], points[:, 2], height / width))


def _time_sheet(
    moments: Sequence[datetime], height: float, bottom: float, top: float
) -> tuple[Canvas, datetime]:
    """Make a canvas over the days of the sessions, with the months (or days) named below."""
    start = min(moments)
    days = max(1.0, (max(moments) - start).total_seconds() / _DAY_S)
    room = 0.16 * (top - bottom)
    # Thirty units for the numbers on the left, a margin on the right.
    per_unit = days / (_WIDTH - 50.0)
    window = (-34.0 * per_unit, days + 16.0 * per_unit, bottom - room, top)
    canvas = Canvas(_WIDTH, height, window)
    step = max(1, round(days / 6.0))
    for day in range(0, int(days) + 1, step):
        canvas.line([day, day], [bottom - 0.3 * room, bottom], "rule", 0.8, layer="frame")
        when = start + timedelta(days=day)
        canvas.letter(float(day), bottom - room, f"{when.day} {_MONTHS[when.month - 1]}", "tick", up=2)
    return canvas, start


def _trend(canvas: Canvas, item: ItemProgress) -> None:
    trend = item.trend
    if trend is None or trend.verdict == "no trend":
        # A line through noise would be read as one: none is drawn.
        return
    days = (trend.weeks - trend.weeks[0]) * 7.0
    edges = np.concatenate([trend.line_low, trend.line_high[::-1]])
    canvas.area(np.concatenate([days, days[::-1]]), np.clip(edges, 0.0, 100.0), "band", layer="trend")
    canvas.line(days, np.clip(trend.line, 0.0, 100.0), "air", 1.8, layer="trend")


def _wind_bar(canvas: Canvas, day: float, mark: SessionMark) -> None:
    if mark.wind_share is None:
        return
    half = 2.2 * canvas.per_unit
    top = _FLOOR + _WIND_ROOM * min(1.0, mark.wind_share / _STRONG_WIND_SHARE)
    canvas.box(day - half, day + half, _FLOOR, top, "air", layer="wind")
