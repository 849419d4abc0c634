"""The charts of the progress page, mark by mark: sessions, spread, wind, trend and tolerance stand at their values."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from analyser.logbook.marks import SessionMark
from analyser.logbook.trend import Slope, Trend, WindCost
from analyser.pages import progress_charts
from analyser.pages.figures.canvas import Canvas, Stroke
from analyser.pages.progress_charts import (
    changes,
    deviation_chart,
    overlay,
    points_chart,
    sure_words,
    thumbnail,
    trend_words,
)
from analyser.rules.graded_items import item_of

START = datetime(2026, 2, 1, 18, 0, tzinfo=UTC)
#: Days of the sessions, and what was judged on each: (points, deviation, within) of every circuit.
SESSIONS: dict[float, list[tuple[float | None, float | None, bool]]] = {
    0.0: [(40.0, 7.0, False), (60.0, 5.5, False), (80.0, -2.0, True)],
    10.0: [(70.0, -5.0, True), (None, None, False)],
    40.0: [(90.0, 1.0, True), (100.0, -1.0, True), (95.0, 3.0, True)],
}
WIND = (0.06, None, 0.5)


def progress(trend: Any = None, **more: Any) -> Any:
    marks = tuple(
        SessionMark(
            SimpleNamespace(),  # type: ignore[arg-type]
            START + timedelta(days=day),
            tuple(
                SimpleNamespace(points=points, deviation=off, tolerance=5.0, within=within)  # type: ignore[misc]
                for points, off, within in circuits
            ),
            wind,
        )
        for (day, circuits), wind in zip(SESSIONS.items(), WIND, strict=True)
    )
    now = SimpleNamespace(points=88.0, sd=4.0, sessions=2)
    known = {"item": item_of("bank"), "marks": marks, "allowed": np.array([55.0, 72.0, 97.0]), "trend": trend}
    return SimpleNamespace(**known, now=now, count=None, unit="°", moved=0.0, first_points=60.0, **more)


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> list[tuple[Canvas, str]]:
    """Collect each canvas, and what it says, before it becomes markup."""
    kept: list[tuple[Canvas, str]] = []

    def keep(canvas: Canvas, says: str, **_: Any) -> str:
        kept.append((canvas, says))
        return ""

    monkeypatch.setattr(progress_charts, "svg", keep)
    return kept


def layer(canvas: Canvas, name: str) -> list[Stroke]:
    return [stroke for stroke in canvas.strokes if stroke.layer == name]


def data(canvas: Canvas, stroke: Stroke) -> np.ndarray:
    left, right, bottom, top = canvas.window
    piece = stroke.pieces[0]
    x = left + piece[:, 0] / canvas.width * (right - left)
    return np.column_stack([x, top - piece[:, 1] / canvas.height * (top - bottom)])


def centres(canvas: Canvas, name: str) -> list[tuple[float, float]]:
    found = []
    for stroke in layer(canvas, name):
        points = data(canvas, stroke)
        found.append(tuple((points.min(axis=0) + points.max(axis=0)) / 2.0))
    return found  # type: ignore[return-value]


def near(expected: list[tuple[float, float]], found: list[tuple[float, float]]) -> bool:
    return np.array(found) == pytest.approx(np.array(expected), abs=0.25)


def test_points_stand_at_their_days_with_their_spread_and_what_the_wind_is_allowed_for(
    drawn: list[tuple[Canvas, str]],
) -> None:
    points_chart(progress(), 70.0, 0.1)
    canvas, says = drawn[0]
    # The median of the circuits of a session, and beside it the points with the wind allowed for.
    assert near([(0.0, 60.0), (10.0, 70.0), (40.0, 95.0)], centres(canvas, "flown"))
    assert near([(0.0, 55.0), (10.0, 72.0), (40.0, 97.0)], centres(canvas, "allowed"))
    spread = [data(canvas, stroke)[:, 1] for stroke in layer(canvas, "spread")]
    assert [(ends.min(), ends.max()) for ends in spread] == [
        pytest.approx((40.0, 80.0)), pytest.approx((70.0, 70.0), abs=0.1), pytest.approx((90.0, 100.0)),
    ]  # fmt: skip
    asked = data(canvas, layer(canvas, "asked")[0])
    assert asked == pytest.approx(np.array([[canvas.window[0], 70.0], [canvas.window[1], 70.0]]))
    frame = [data(canvas, stroke) for stroke in layer(canvas, "frame")]
    assert [line[0, 1] for line in frame if line[0, 1] == line[1, 1]] == pytest.approx([0.0, 50.0, 100.0])
    # A tick stands below over each day that is named, from the first session to the last.
    days = [line[0, 0] for line in frame if line[0, 0] == line[1, 0]]
    named = [letter for letter in canvas.letters if letter.anchor == "middle"]
    assert [letter.x for letter in named] == pytest.approx([float(canvas.x(day)) for day in days])
    assert named[0].text == "1 Feb" and len(days) == 6 and 0.0 <= max(days) <= 40.0
    # A dot of 3.6 units at a hundred points is whole, and little is empty above it.
    assert 3.6 < canvas.height - float(canvas.y(100.0)) < 10.0
    axis = {letter.text: letter for letter in canvas.letters if letter.anchor == "end"}
    assert set(axis) == {"0", "50", "100", "70", "wind"}
    for text in ("0", "50", "70", "100"):
        # In front of its line, its middle level with it.
        assert (axis[text].x, axis[text].y) == pytest.approx(
            (26.0, canvas.height - float(canvas.y(float(text))) + 3.5)
        )
    assert says.startswith("Bank in the turns: 88 points, give or take 8, over the last 2 of 3 sessions.")
    assert not layer(canvas, "trend")


def test_a_number_that_the_points_asked_for_would_touch_is_left_out(drawn: list[tuple[Canvas, str]]) -> None:
    points_chart(progress(), 90.0, 0.1)
    points_chart(progress(), 85.0, 0.1)
    ninety, less = ({one.text for one in canvas.letters if one.anchor == "end"} for canvas, _ in drawn)
    assert ninety == {"0", "50", "90", "wind"} and less == {"0", "50", "85", "100", "wind"}


def test_the_wind_stands_below_nought_full_from_three_tenths_of_the_airspeed(
    drawn: list[tuple[Canvas, str]],
) -> None:
    points_chart(progress(), 70.0, 0.1)
    canvas = drawn[0][0]
    bars = [data(canvas, stroke) for stroke in layer(canvas, "wind")]
    # Six hundredths are a fifth of the room of 24, half the airspeed is all of it; of the second nothing is known.
    assert [bar[:, 1].max() - bar[:, 1].min() for bar in bars] == pytest.approx([24.0 / 5.0, 24.0])
    assert [bar[:, 1].min() for bar in bars] == pytest.approx([-34.0, -34.0])
    assert [bar[:, 0].mean() for bar in bars] == pytest.approx([0.0, 40.0], abs=1e-6)
    assert [np.ptp(stroke.pieces[0][:, 0]) for stroke in layer(canvas, "wind")] == pytest.approx([4.4, 4.4])
    assert max(bar[:, 1].max() for bar in bars) < 0.0


def test_a_trend_that_was_told_is_a_line_with_its_limits_within_the_points(
    drawn: list[tuple[Canvas, str]],
) -> None:
    # Counted from the pilot's first session, in which this item was not judged.
    weeks = 3.0 + np.array([0.0, 10.0, 40.0]) / 7.0
    line = np.array([5.0, 70.0, 98.0])
    slope = SimpleNamespace(per_week=6.6, low=2.0, high=11.0)
    trend = SimpleNamespace(
        verdict="better", weeks=weeks, line=line, line_low=line - 8.0, line_high=line + 8.0, slope=slope, beside=None,
        seen_beside=False,
    )  # fmt: skip
    points_chart(progress(trend), 70.0, 0.1)
    canvas, says = drawn[0]
    band, drawn_line = (data(canvas, stroke) for stroke in layer(canvas, "trend"))
    assert drawn_line == pytest.approx(np.column_stack([[0.0, 10.0, 40.0], line]), abs=0.1)
    # No less than none, and no more than a hundred points can be had.
    assert band[:3] == pytest.approx(np.array([[0.0, 0.0], [10.0, 62.0], [40.0, 90.0]]))
    assert band[3:] == pytest.approx(np.array([[40.0, 100.0], [10.0, 78.0], [0.0, 13.0]]))
    assert says.endswith("Getting better: about 6.6 points a week, most likely 2.0 to 11.0.")


def test_raw_errors_stand_in_their_tolerance_and_are_marked_where_most_circuits_lay_outside(
    drawn: list[tuple[Canvas, str]],
) -> None:
    deviation_chart(progress())
    canvas, says = drawn[0]
    # Half as much again as the tolerance, or the largest error, and a seventh of that: 1.15 · 7.5.
    low, high = -1.15 * 7.5, 1.15 * 7.5
    assert canvas.window[3] == pytest.approx(high)
    assert canvas.window[2] == pytest.approx(low - 0.16 * (high - low))
    band = data(canvas, layer(canvas, "band")[0])
    edges = canvas.window[:2]
    assert band == pytest.approx(
        np.array([(edges[0], -5.0), (edges[1], -5.0), (edges[1], 5.0), (edges[0], 5.0)])
    )
    nought = [data(canvas, one) for one in layer(canvas, "frame") if np.ptp(one.pieces[0][:, 1]) < 1e-6]
    assert [one.ravel() for one in nought] == [pytest.approx([edges[0], 0.0, edges[1], 0.0])]
    assert near([(0.0, 5.5), (10.0, -5.0), (40.0, 1.0)], centres(canvas, "flown"))
    dots = layer(canvas, "flown")
    # Told from the others without colour: square.
    assert [len(dot.pieces[0]) == 4 for dot in dots] == [True, False, False]
    assert [dot.fill for dot in dots] == ["var(--ink-mark)", "var(--ink-ink)", "var(--ink-ink)"]
    spread = [data(canvas, stroke)[:, 1] for stroke in layer(canvas, "spread")]
    assert [(ends.min(), ends.max()) for ends in spread[::2]] == [
        pytest.approx((-2.0, 7.0)), pytest.approx((-1.0, 3.0)),
    ]  # fmt: skip
    assert [letter.text for letter in canvas.letters if letter.anchor == "end"] == ["−5", "0", "+5"]
    # The median of 5.5, −5 and 1; of seven circuits with a number five lay within.
    assert says == (
        "Bank in the turns, raw: median +1.0 °, tolerance plus or minus 5.0 °; 5 of 7 circuits within."
    )


def test_what_has_no_tolerance_or_no_number_has_no_raw_chart(drawn: list[tuple[Canvas, str]]) -> None:
    plain = progress()
    for mark in plain.marks:
        for one in mark.marks:
            one.tolerance = None
    assert deviation_chart(plain) is None
    blind = progress()
    for mark in blind.marks:
        for one in mark.marks:
            one.deviation = None
    assert deviation_chart(blind) is None and not drawn


def test_first_and_latest_circuit_lie_on_one_map(drawn: list[tuple[Canvas, str]]) -> None:
    first = [(0.0, 0.0, 0.0), (30.0, 2.0, 0.5), (60.0, 3.0, 1.5)]
    latest = [(0.0, 0.0, 0.0), (30.0, -1.0, 0.5), (60.0, -2.0, 2.5)]
    overlay(first, latest, ["first", "latest"])
    canvas, says = drawn[0]
    one, two = (data(canvas, stroke) for stroke in layer(canvas, "flown"))
    assert one[[0, -1]] == pytest.approx(np.array([[0.0, 0.0], [3.0, 1.5]]))
    assert two[[0, -1]] == pytest.approx(np.array([[0.0, 0.0], [-2.0, 2.5]]))
    assert [bool(stroke.dash) for stroke in layer(canvas, "flown")] == [True, False]
    assert says == "The fix and the circuits flown: first; latest."
    # As on every map, north and the scale; the fix lies where both begin.
    words = {letter.text for letter in canvas.letters}
    assert {"N", "1 NM"} <= words and centres(canvas, "fix")[0] == pytest.approx((0.0, 0.0), abs=0.1)


def test_a_small_picture_shows_the_whole_path_in_the_window_that_all_share(
    drawn: list[tuple[Canvas, str]],
) -> None:
    path = [(0.0, 0.0, 0.0), (30.0, 2.0, 0.5), (60.0, 3.0, 1.5)]
    thumbnail(path, (-4.0, 4.0, -3.2, 3.2), "Flown by nobody.")
    canvas, says = drawn[0]
    (line,) = (data(canvas, stroke) for stroke in layer(canvas, "flown"))
    assert line == pytest.approx(np.array(path)[:, 1:]) and says == "Flown by nobody."
    # The same scale both ways.
    assert canvas.width / 8.0 == pytest.approx(canvas.height / 6.4)


@pytest.mark.parametrize(
    ("sd", "said"), [(24.4, "give or take 49"), (25.0, "known only roughly"), (2.0, "give or take 4")]
)
def test_what_is_known_to_half_of_all_points_is_known_only_roughly(sd: float, said: str) -> None:
    """Two sigma to either side."""
    now: Any = SimpleNamespace(points=50.0, sd=sd, sessions=3)
    assert sure_words(now) == said


@pytest.mark.parametrize(
    ("own", "said"),
    [
        (Slope(2.0, 0.5, 3.5), "Getting better: about 2.0 points a week, most likely 0.5 to 3.5."),
        (Slope(2.0, 0.01, 3.5), "Getting better: about 2.0 points a week, most likely a little over 0 to 3.5."),
        (Slope(2.0, -0.5, 4.5), "Getting better: about 2.0 points a week; beside the pilot's other items it rises by "
                                "1.2 to 1.8 a week, most likely."),
        (Slope(-2.0, -3.5, -0.5), "Getting worse: about 2.0 points a week, most likely 0.5 to 3.5."),
    ],
)  # fmt: skip
def test_a_change_is_told_with_the_limits_by_which_it_was_seen(own: Slope, said: str) -> None:
    """Those beside the other items only where the item by itself shows none."""
    none = np.zeros(0)
    trend = Trend(own, Slope(1.5, 1.2, 1.8), WindCost(0.0, 1.0), 0.0, none, none, none, none)
    assert trend_words(progress(trend)) == said


@pytest.mark.parametrize(
    ("verdict", "moved", "told"),
    [(None, 0.0, False), ("no trend", 0.0, False), ("no trend", 9.0, True), ("worse", 0.0, True)],
)
def test_more_is_said_only_of_an_item_that_moved_or_has_a_trend(
    verdict: str | None, moved: float, told: bool
) -> None:
    item: Any = SimpleNamespace(trend=verdict and SimpleNamespace(verdict=verdict), moved=moved)
    assert changes(item) == told
