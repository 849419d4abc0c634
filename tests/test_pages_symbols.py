"""Symbols, axes and lettering of the drawings, point by point: sizes and places worked out by hand.

Sizes are as a pen would draw them: in drawing units, of which one is a pixel on the page.
"""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from analyser.pages.figures import symbols
from analyser.pages.figures.canvas import (
    Canvas,
    Letter,
    Stroke,
    box_of,
    canvas_for,
    places_beside,
    ticks,
    window_round,
    write_first_free,
)
from analyser.pages.figures.charts import leaving, waterfall, wind_circle
from analyser.pages.figures.sectors import sectors
from analyser.pages.figures.strips import Strip, ribbon, strip_sheet
from analyser.pages.index import _thumbnail as thumbnail_of_holds
from analyser.pages.progress_charts import _time_sheet, map_canvas
from analyser.pages.subject import Span
from analyser.rules.load import load_regime
from analyser.schema.debrief_file import WrittenWind
from tests.pages_fixture import excursion


def sheet(width: float = 500.0, height: float = 400.0, per_unit: float = 10.0) -> Canvas:
    """Return a canvas of ten units a mile, its bottom left corner at (-5, -4) miles."""
    return Canvas(width, height, (-5.0, width / per_unit - 5.0, -4.0, height / per_unit - 4.0))


def layer(canvas: Canvas, name: str) -> list[Stroke]:
    return [stroke for stroke in canvas.strokes if stroke.layer == name]


def about(points: np.ndarray, place: tuple[float, float]) -> np.ndarray:
    """Return distances of points from a place, drawing units."""
    return np.hypot(points[:, 0] - place[0], points[:, 1] - place[1])


def test_the_fix_is_an_even_triangle_that_points_up_with_a_dot_in_its_middle() -> None:
    canvas = sheet()
    symbols.fix(canvas, 2.0, 1.0)
    # Seven miles from the left, 35 from the top.
    place = (70.0, 350.0)
    triangle, dot = (stroke.pieces[0] for stroke in canvas.strokes)
    assert about(triangle, place) == pytest.approx(np.full(3, 8.5))
    assert triangle[0] == pytest.approx((70.0, 341.5))
    sides = np.hypot(*(triangle - np.roll(triangle, 1, axis=0)).T)
    assert sides == pytest.approx(np.full(3, 8.5 * math.sqrt(3.0)))
    assert about(dot, place) == pytest.approx(np.full(len(dot), 8.5 / 4.0))
    assert np.ptp(dot[:, 0]) == pytest.approx(8.5 / 2.0) == np.ptp(dot[:, 1])


@pytest.mark.parametrize(("towards_deg", "anchor"), [(20.0, "start"), (100.0, "end"), (-30.0, "start")])
def test_a_seam_is_two_bars_across_the_track_with_its_word_to_the_right(
    towards_deg: float, anchor: str
) -> None:
    canvas = sheet()
    symbols.seam(canvas, (2.0, 1.0), towards_deg, layer="seam", circuit=3)
    ahead = np.array([math.sin(math.radians(towards_deg)), -math.cos(math.radians(towards_deg))])
    right = np.array([-ahead[1], ahead[0]])
    bars = [stroke.pieces[0] - (70.0, 350.0) for stroke in layer(canvas, "seam")]
    assert [sorted(bar @ right) for bar in bars] == [pytest.approx([-8.0, 8.0])] * 2
    assert [bar @ ahead for bar in bars] == [pytest.approx([-2.5] * 2), pytest.approx([2.5] * 2)]
    (word,) = canvas.letters
    assert (word.x - 70.0, word.y - 350.0) == pytest.approx(tuple(12.0 * right))
    assert (word.anchor, word.data["circuit"]) == (anchor, 3)


@pytest.mark.parametrize("towards_deg", [0.0, 75.0, 200.0])
def test_an_arrow_has_its_length_and_two_barbs_swept_back_by_25_degrees(towards_deg: float) -> None:
    canvas = sheet()
    tip = symbols.arrow(canvas, (100.0, 200.0), towards_deg, 40.0, ink="ink", width=1.0, layer="arrow")
    stem, *barbs = (stroke.pieces[0] for stroke in canvas.strokes)
    way = np.array([math.sin(math.radians(towards_deg)), -math.cos(math.radians(towards_deg))])
    assert stem[0] == pytest.approx((100.0, 200.0)) and stem[-1] - stem[0] == pytest.approx(40.0 * way)
    assert (float(canvas.x(tip[0])), 400.0 - float(canvas.y(tip[1]))) == pytest.approx(tuple(stem[-1]))
    backs = [barb[-1] - stem[-1] for barb in barbs]
    assert [back @ way for back in backs] == pytest.approx([-8.0 * math.cos(math.radians(25.0))] * 2)
    beside = sorted(back @ np.array([-way[1], way[0]]) for back in backs)
    assert beside == pytest.approx([-8.0 * math.sin(math.radians(25.0)), 8.0 * math.sin(math.radians(25.0))])


def test_north_stands_top_left_and_the_scale_bottom_left() -> None:
    canvas = sheet(per_unit=40.0)
    symbols.north(canvas)
    stem, (letter,) = canvas.strokes[0].pieces[0], canvas.letters
    # 28 units up from (14, 40); the N beside its tip.
    assert stem == pytest.approx(np.array([[14.0, 40.0], [14.0, 12.0]]))
    assert (letter.text, letter.anchor, letter.x, letter.y) == (
        "N",
        "start",
        pytest.approx(23.0),
        pytest.approx(21.0),
    )
    canvas = sheet(per_unit=40.0)
    symbols.scale(canvas)
    bar, (letter,) = canvas.strokes[0].pieces[0], canvas.letters
    # One mile, 40 units, with ticks up at both ends.
    assert bar == pytest.approx(np.array([[16.0, 384.0], [16.0, 388.0], [56.0, 388.0], [56.0, 384.0]]))
    assert (letter.text, letter.x, letter.y) == ("1 NM", pytest.approx(62.0), pytest.approx(387.0))


@pytest.mark.parametrize(("per_unit", "says"), [(37.0, "1 NM"), (35.0, "5 NM")])
def test_a_mile_too_short_to_be_seen_gives_way_to_five(per_unit: float, says: str) -> None:
    canvas = sheet(per_unit=per_unit)
    symbols.scale(canvas)
    assert canvas.letters[0].text == says


@pytest.mark.parametrize("from_deg", [0.0, 130.0, 290.0])
def test_the_winds_arrow_is_centred_in_its_corner_with_its_words_to_the_left(from_deg: float) -> None:
    canvas = sheet()
    symbols.wind(canvas, from_deg, ("130°M 20 kt", "132°T 20 kt"))
    stem = layer(canvas, "wind")[0].pieces[0]
    assert stem.mean(axis=0) == pytest.approx((474.0, 26.0))
    way = stem[-1] - stem[0]
    assert np.hypot(*way) == pytest.approx(38.0)
    # It blows from there: the tail lies towards where it comes from.
    towards = math.degrees(math.atan2(way[0], -way[1]))
    assert (towards - from_deg) % 360.0 == pytest.approx(180.0)
    assert all((one.x, one.y) == pytest.approx((448.0, 31.0)) for one in canvas.letters)
    assert [one.anchor for one in canvas.letters] == ["end", "end"]
    assert [one.kind for one in canvas.letters] == ["note when-mag", "note when-tru"]


@pytest.mark.parametrize(("square", "reach"), [(False, 3.0), (True, 3.9)])
def test_a_dot_is_as_large_as_asked_whatever_the_scales(square: bool, reach: float) -> None:
    canvas = Canvas(500.0, 400.0, (0.0, 100.0, 0.0, 1.0))
    symbols.dot(canvas, 50.0, 0.25, 3.0, "ink", square=square, layer="dot")
    corners = canvas.strokes[0].pieces[0]
    assert about(corners, (250.0, 300.0)) == pytest.approx(np.full(len(corners), reach))
    assert (len(corners) == 4) == square
    if square:
        # It stands on a side, not on a corner.
        assert sorted(corners[:, 0]) == pytest.approx(
            [250.0 - reach / math.sqrt(2.0)] * 2 + [250.0 + reach / math.sqrt(2.0)] * 2
        )


def test_a_circle_runs_from_north_clockwise_and_closes() -> None:
    east, north = symbols.circle(2.0, 10.0, -3.0, 5)
    assert east == pytest.approx([10.0, 12.0, 10.0, 8.0, 10.0])
    assert north == pytest.approx([-1.0, -3.0, -5.0, -3.0, -1.0])


def test_a_window_is_round_its_points_and_the_origin_with_a_margin() -> None:
    # Six miles wide with the origin, three high: at 0.5 the width decides.
    found = window_round(np.array([2.0, 6.0]), np.array([-1.0, 2.0]), 0.5, 1.1)
    assert found == pytest.approx((3.0 - 3.3, 3.0 + 3.3, 0.5 - 1.65, 0.5 + 1.65))
    # Three miles high in a shape as wide as it is high: now the height decides.
    tall = window_round(np.array([0.0, 1.0]), np.array([0.0, 3.0]), 1.0, 1.0)
    assert tall == pytest.approx((0.5 - 1.5, 0.5 + 1.5, 0.0, 3.0))
    # A point alone is not blown up beyond half a mile.
    assert window_round(np.zeros(1), np.zeros(1), 1.0, 1.0) == pytest.approx((-0.25, 0.25, -0.25, 0.25))


def test_a_map_fills_nine_tenths_of_its_width_or_its_height_between_the_bands() -> None:
    wide = canvas_for(np.array([-4.0, 4.0]), np.array([0.0, 2.0]))
    assert np.ptp(wide.x([-4.0, 4.0])) == pytest.approx(0.9 * 560.0)
    # Two miles of 63 units with both bands and two margins of 12 are less than the least height: three fifths.
    assert wide.height == pytest.approx(0.6 * 560.0)
    tall = canvas_for(np.array([0.0, 1.0]), np.array([0.0, 8.0]))
    assert tall.height == pytest.approx(0.84 * 560.0)
    assert np.ptp(tall.y([0.0, 8.0])) == pytest.approx(0.84 * 560.0 - 50.0 - 28.0 - 24.0)
    # Evenly between the bands: 50 units above for north and wind, 28 below for the scale.
    assert float(tall.y(0.0)) - 28.0 == pytest.approx(12.0) == tall.height - 50.0 - float(tall.y(8.0))


def test_lines_end_six_units_beyond_a_map_at_a_strips_edge_and_at_the_bands_where_asked() -> None:
    x, y = [-50.0, 50.0], [-40.0, 40.0]
    canvas = Canvas(100.0, 100.0, (-10.0, 10.0, -10.0, 10.0), bands=(20.0, 10.0))
    canvas.line([-50.0, 50.0], [0.0, 0.0], "ink")
    assert canvas.strokes[0].pieces[0][:, 0] == pytest.approx([-6.0, 106.0])
    canvas.line(x, x, "ink", inside=True)
    assert sorted(canvas.strokes[1].pieces[0][:, 1]) == pytest.approx([20.0, 90.0])
    canvas.line(x, y, "ink", beyond=True)
    assert np.ptp(canvas.strokes[2].pieces[0][:, 0]) == pytest.approx(500.0)
    strip = Canvas(100.0, 100.0, (-10.0, 10.0, -10.0, 10.0), stretch=True)
    strip.line([-50.0, 50.0], [0.0, 0.0], "ink")
    assert strip.strokes[0].pieces[0][:, 0] == pytest.approx([0.0, 100.0])


def test_round_values_on_an_axis() -> None:
    values, step = ticks(-0.3, 4.1, 5)
    assert step == 1.0 and values == pytest.approx([0.0, 1.0, 2.0, 3.0, 4.0])


def test_lettering_fills_a_box_on_the_side_that_its_anchor_says() -> None:
    canvas = Canvas(200.0, 200.0, (0.0, 1.0, 0.0, 1.0), letter_units=10.0)

    def box(anchor: str, kind: str = "note") -> tuple[float, float, float, float]:
        return box_of(canvas, Letter(100.0, 50.0, "four", kind, anchor, "lettering", {}))

    # Four characters of 0.58 and a line of 0.95 sizes, most of it above the foot of the letters.
    assert box("start") == pytest.approx((100.0, 50.0 - 0.82 * 9.5, 123.2, 50.0 + 0.18 * 9.5))
    assert box("middle")[::2] == pytest.approx((88.4, 111.6))
    assert box("end")[::2] == pytest.approx((76.8, 100.0))
    # The circuits' numbers are a third larger, or nearly.
    assert np.ptp(box("start", "circle")[::2]) == pytest.approx(1.3 * 23.2)


def test_places_for_lettering_begin_near_and_straight_and_stand_on_their_own_side() -> None:
    canvas = Canvas(200.0, 200.0, (0.0, 200.0, 0.0, 200.0), letter_units=10.0)
    tried = [one[0] for one in places_beside(canvas, (100.0, 100.0), [("a", "note")], 90.0)]
    first = tried[0]
    # Due right, 13 units off, the foot of the letters a third of their size lower.
    assert (first.x, first.y, first.anchor) == (pytest.approx(113.0), pytest.approx(103.2), "start")
    away = [math.hypot(one.x - 100.0, one.y - 103.2) for one in tried]
    assert away == pytest.approx(sorted(away)) and max(away) < 60.0
    for one in tried[:12]:
        side = {"start": 1.0, "end": -1.0}.get(one.anchor)
        assert (one.x - 100.0) * side > 0.0 if side else abs(one.x - 100.0) < 0.5 * 13.0
    # All round in steps of 30°, the way it would stand best first, the opposite last.
    turned = [math.degrees(math.atan2(one.x - 100.0, 103.2 - one.y)) - 90.0 for one in tried[:12]]
    off = [round((one + 180.0) % 360.0 - 180.0) for one in turned]
    assert sorted(one % 360 for one in off) == list(range(0, 360, 30))
    assert [abs(one) for one in off] == [0, 30, 30, 60, 60, 90, 90, 120, 120, 150, 150, 180]
    far = next(iter(places_beside(canvas, (100.0, 100.0), [("a", "note")], 180.0, 26.0)))[0]
    assert (far.x, far.y) == (pytest.approx(100.0), pytest.approx(126.0 + 3.2))


@pytest.mark.parametrize(("apart", "free"), [(25.0, False), (29.0, True)])
def test_two_pieces_of_lettering_keep_two_units_of_room(apart: float, free: bool) -> None:
    """Four characters of 5.8 units are 23.2 wide."""
    canvas = Canvas(200.0, 200.0, (0.0, 1.0, 0.0, 1.0), letter_units=10.0)
    canvas.letters.append(Letter(20.0, 100.0, "four", "note", "start", "lettering", {}))
    other = Letter(20.0 + apart, 100.0, "four", "note", "start", "lettering", {})
    assert write_first_free(canvas, [[other]], ()) == free
    assert (other in canvas.letters) == free


@pytest.mark.parametrize(
    ("at", "free"),
    [
        ((1.0, 50.0), False),
        ((3.0, 50.0), True),
        ((175.0, 50.0), False),
        ((50.0, 8.0), False),
        ((50.0, 11.0), True),
        ((50.0, 197.0), False),
    ],
)
def test_lettering_keeps_two_units_from_the_edges(at: tuple[float, float], free: bool) -> None:
    canvas = Canvas(200.0, 200.0, (0.0, 1.0, 0.0, 1.0), letter_units=10.0)
    letter = Letter(*at, "four", "note", "start", "lettering", {})
    assert write_first_free(canvas, [[letter]], ()) == free


def test_a_waterfall_leaves_room_for_names_and_figures_and_a_row_for_each() -> None:
    canvas = waterfall([("late turn", 0.6), ("wind", -0.2)], 0.4, "NM", 2)
    assert (canvas.width, canvas.height) == (480.0, 3 * 24.0)
    # Bars from 0 to 0.6 take what 40 % for names and 23 % for figures leave of the width.
    assert canvas.x([0.0, 0.6]) == pytest.approx([0.40 * 480.0, 0.77 * 480.0])
    bars = [stroke.pieces[0] for stroke in layer(canvas, "bars") if stroke.closed]
    # Each is a little more than half as high as its row, in its middle.
    for row, bar in enumerate(bars):
        assert (bar[:, 1].min(), bar[:, 1].max()) == pytest.approx((24.0 * (row + 0.22), 24.0 * (row + 0.78)))
    lines = [stroke.pieces[0] for stroke in layer(canvas, "bars") if not stroke.closed]
    # From the end of each bar down to the next.
    assert [line[:, 0].mean() for line in lines] == pytest.approx(
        [float(canvas.x(0.6)), float(canvas.x(0.4))]
    )
    assert [line[-1, 1] - line[0, 1] for line in lines] == pytest.approx([24.0, 24.0])
    names = [letter for letter in canvas.letters if letter.anchor == "start"]
    assert [(one.text, one.kind) for one in names] == [
        ("late turn", "row"),
        ("wind", "row"),
        ("measured", "strong"),
    ]
    for row, letter in enumerate(names):
        assert (letter.x, letter.y) == (pytest.approx(2.0), pytest.approx(24.0 * (row + 0.68)))
    figures = [letter for letter in canvas.letters if letter.anchor == "end"]
    assert [one.text for one in figures] == ["+0.60 NM", "−0.20 NM", "+0.40 NM"]
    assert [one.x for one in figures] == pytest.approx([478.0] * 3)
    # The sum is ruled off above, from edge to edge, and nought from top to bottom.
    rules = [stroke.pieces[0] for stroke in layer(canvas, "axis")]
    assert rules[0] == pytest.approx(np.array([[0.0, 48.48], [480.0, 48.48]]))
    assert rules[1][:, 0] == pytest.approx([192.0, 192.0]) and np.ptp(rules[1][:, 1]) == pytest.approx(72.0)


def test_hardly_any_error_does_not_fill_a_waterfall() -> None:
    canvas = waterfall([("a", 0.001)], 0.001, "NM", 2)
    # The bars' 37 % of the width stand for five in the last decimal at least: names and figures take 63 / 37 of 0.05.
    assert np.ptp(canvas.x([0.0, 0.001])) == pytest.approx(480.0 * 0.001 / (0.001 + 0.05 * 63.0 / 37.0))


def test_an_axis_has_a_figure_at_each_round_value_that_stands_clear_of_its_corners() -> None:
    canvas = leaving([60.0, 160.0], [170.0, 270.0], None, None)
    left, right, low, high = canvas.window

    def said(anchor: str) -> list[float]:
        clocks = [one.text for one in canvas.letters if one.kind == "tick" and one.anchor == anchor]
        return [60.0 * int(text.split(":")[0]) + float(text.split(":")[1]) for text in clocks]

    # Across 40 to 172 s in steps of 50 (six steps at most are of 22 and more), up 146 to 286 s in steps of 50.
    across = [at for at in np.arange(0.0, 400.0, 50.0) if 0.12 < (at - left) / (right - left) < 0.95]
    up = [at for at in np.arange(0.0, 400.0, 50.0) if 0.12 < (at - low) / (high - low) < 0.9]
    assert said("middle") == across and said("start") == up
    assert len(across) >= 2 and len(up) >= 2


def test_the_leaving_chart_has_a_margin_on_each_side_for_its_words() -> None:
    canvas = leaving([60.0, 160.0], [170.0, 270.0], 220.0, (100.0, 300.0))
    # Across 60 to 160, up 170 to 300.
    assert canvas.window == pytest.approx(
        (60.0 - 20.0, 160.0 + 12.0, 170.0 - 0.24 * 130.0, 300.0 + 0.16 * 130.0)
    )
    said = {letter.text: letter for letter in canvas.letters}
    assert (said["wanted 3:40"].x, said["flown"].anchor) == (pytest.approx(canvas.width - 4.0), "end")
    assert said["wanted 3:40"].y == pytest.approx(canvas.height - float(canvas.y(220.0)) - 5.0)
    assert (said["flown"].x, said["flown"].y) == pytest.approx(
        (float(canvas.x(100.0)) - 8.0, canvas.height - float(canvas.y(300.0)) + 4.0)
    )
    wanted = layer(canvas, "wanted")[0].pieces[0]
    assert wanted[:, 0] == pytest.approx([0.0, canvas.width])
    narrow = leaving([60.0, 62.0], [170.0, 171.0], None, None)
    assert narrow.window[1] - narrow.window[0] == pytest.approx(2.0 + 0.32 * 20.0)
    assert not [letter for letter in narrow.letters if letter.text.startswith("wanted")]


@pytest.mark.parametrize(
    ("tas_kt", "wind_kt", "step_kt"),
    [(100.0, 0.0, 50.0), (150.0, 20.0, 50.0), (190.0, 10.0, 100.0), (30.0, 0.0, 10.0)],
)
def test_the_wind_circle_has_rings_at_round_speeds_four_at_most(
    tas_kt: float, wind_kt: float, step_kt: float
) -> None:
    """Of 1, 2, 5 and their tens the least of which four reach to the edge: it lies 12 % beyond wind and airspeed."""
    wind = WrittenWind(
        from_true=None, speed_kt=wind_kt, east_kt=0.0, north_kt=-wind_kt, sd_kt=None, source="turns"
    )
    canvas = wind_circle((np.zeros(1), np.zeros(1)), wind, tas_kt, None, ("", ""))
    reach_kt = 1.12 * (tas_kt + wind_kt)
    assert canvas.window == pytest.approx((-reach_kt, reach_kt, -reach_kt, reach_kt))
    rings = [stroke.pieces[0] for stroke in layer(canvas, "axis") if len(stroke.pieces[0]) > 8]
    radii = [np.ptp(ring[:, 0]) / canvas.width * reach_kt for ring in rings]
    assert radii == pytest.approx(np.arange(step_kt, reach_kt, step_kt), abs=0.2)
    # Each has its speed where it passes south of the middle; the cross of the axes reaches from edge to edge.
    told = {one.text: one.y + 2.0 - canvas.height / 2.0 for one in canvas.letters if one.kind == "tick"}
    speeds = np.arange(step_kt, reach_kt, step_kt)
    assert list(told) == [f"{speed:.0f} kt" for speed in speeds]
    assert list(told.values()) == pytest.approx(speeds * 180.0 / reach_kt, abs=0.2)
    cross = [stroke.pieces[0] for stroke in layer(canvas, "axis") if len(stroke.pieces[0]) == 2]
    assert [list(np.ptp(line, axis=0)) for line in cross] == [[360.0, 0.0], [0.0, 360.0]]


@pytest.mark.parametrize(
    ("course", "side", "heading"), [(10.0, 1, 75.0), (250.0, -1, 130.0), (145.0, 1, 320.0)]
)
def test_the_sector_diagram_has_hold_arrival_and_zones_where_they_are(
    course: float, side: int, heading: float
) -> None:
    rule = load_regime("icao").entry
    canvas = sectors(course, side, 2.0, heading, ("direct",), rule, heading_sd_deg=4.0)
    per_unit = canvas.width / (canvas.window[1] - canvas.window[0])
    middle = np.array([canvas.width / 2.0, canvas.height / 2.0])

    def drawn(name: str) -> list[np.ndarray]:
        found = [(stroke.pieces, stroke.closed) for stroke in layer(canvas, name)]
        return [(piece - middle) / per_unit * (1.0, -1.0) for pieces, _ in found for piece in pieces]

    def bearing(point: np.ndarray) -> float:
        return float(np.degrees(np.arctan2(point[0], point[1]))) % 360.0

    # The small racetrack: back from the fix, 0.34 long and twice 0.13 wide, on the side that the turns go to.
    racetrack, line = drawn("hold")
    along = racetrack @ (math.sin(math.radians(course)), math.cos(math.radians(course)))
    right = racetrack @ (math.cos(math.radians(course)), -math.sin(math.radians(course)))
    assert (along.min(), along.max()) == pytest.approx((-0.34 - 0.13, 0.13), abs=0.01)
    assert (min(side * right), max(side * right)) == pytest.approx((0.0, 0.26), abs=0.01)
    # It begins and ends over the fix, and its turns are round: as far from their middle everywhere.
    assert racetrack[[0, -1]] == pytest.approx(np.zeros((2, 2)), abs=0.01)
    ahead = along > 0.005
    assert np.hypot(along[ahead], side * right[ahead] - 0.13) == pytest.approx(0.13, abs=0.01)
    assert bearing(line[0]) == pytest.approx((course + 180.0) % 360.0, abs=0.1)
    assert np.hypot(*line[0]) == pytest.approx(1.04, abs=2e-3) and line[-1] == pytest.approx(
        (0.0, 0.0), abs=1e-6
    )
    # The arrival comes from behind its heading to just before the fix; two sigma of it fan out.
    fan, stem, *barbs = drawn("arrival")
    assert bearing(stem[0]) == pytest.approx((heading + 180.0) % 360.0, abs=0.1)
    assert [float(np.hypot(*end)) for end in stem] == pytest.approx([1.06, 0.09], abs=2e-3)
    back = {round((bearing(point) - heading - 180.0 + 180.0) % 360.0 - 180.0) for point in fan[1:]}
    assert back == {-8, 8} and np.hypot(*fan[1]) == pytest.approx(0.98, abs=2e-3)
    assert [float(np.hypot(*(barb[-1] - barb[0]))) for barb in barbs] == pytest.approx([0.08, 0.08], abs=2e-3)
    swept = {round((bearing(barb[-1] - barb[0]) - heading + 180.0) % 360.0 - 180.0) for barb in barbs}
    assert swept == {-155, 155}
    # Each border has a hatched zone of five degrees to either side, and the sectors fill the ring.
    wedges = drawn("sectors")
    area = sum(
        0.5 * abs(np.dot(w[:, 0], np.roll(w[:, 1], 1)) - np.dot(w[:, 1], np.roll(w[:, 0], 1))) for w in wedges
    )
    assert area == pytest.approx(math.pi, rel=0.01)
    borders = [piece for piece in drawn("borders") if np.hypot(*piece[0]) < 1e-6]
    hatched = [piece for piece in drawn("borders") if np.hypot(*piece[0]) > 1e-6]
    assert len(borders) == 3
    for border in borders:
        off = {
            round((bearing(end) - bearing(border[-1]) + 180.0) % 360.0 - 180.0)
            for piece in hatched
            for end in piece
        }
        assert {-5, 5} <= off
    assert min(np.hypot(*piece[0]) for piece in hatched) == pytest.approx(0.16, abs=2e-3)
    assert max(np.hypot(*piece[0]) for piece in hatched) == pytest.approx(0.98, abs=2e-3)
    # What it says of the course stands where the course comes from, of the heading where that does.
    for kind, from_deg in (("course when-tru", course + 180.0), ("mark when-tru", heading + 180.0)):
        (letter,) = [one for one in canvas.letters if one.kind == kind]
        left, top, end, foot = box_of(canvas, letter)
        place = (np.array([(left + end) / 2.0, (top + foot) / 2.0]) - middle) * (1.0, -1.0)
        assert abs((bearing(place) - from_deg + 180.0) % 360.0 - 180.0) < 50.0
    strong = [one.text for one in canvas.letters if one.kind == "strong"]
    assert strong == ["direct"]


def test_a_ribbon_names_circuits_while_there_is_room_and_the_entry_where_it_is_long() -> None:
    def laps(count: int, each_s: float, entry_s: float) -> list[Span]:
        found = [Span("entry", 0, 500.0, 500.0 + entry_s, 500.0)]
        for number in range(count):
            start = 500.0 + entry_s + number * each_s
            found.append(Span("outbound_turn", number + 1, start, start + 60.0, start))
            found.append(Span("outbound_leg", number + 1, start + 60.0, start + each_s, start + 60.0))
        return found

    def said(count: int, each_s: float, entry_s: float) -> list[str]:
        found = laps(count, each_s, entry_s)
        canvas = ribbon(found, (500.0, found[-1].end_s), 500.0 + entry_s)
        return [letter.text for letter in canvas.letters if letter.kind == "strong"]

    # A quarter of the width is room for words; a fifth is not; of thirty-four circuits each third has its number.
    assert said(4, 240.0, 100.0) == ["Circuit 1", "Circuit 2", "Circuit 3", "Circuit 4"]
    assert said(5, 240.0, 100.0) == ["1", "2", "3", "4", "5"]
    assert said(34, 240.0, 100.0) == [str(number) for number in range(1, 35, 3)]
    # The entry has its name from 14 % of the width on: 150 s of 150 + 960, not 165 of 1,200.
    assert said(4, 240.0, 150.0)[0] == "Circuit 1" and said(4, 240.0, 160.0)[0] == "Entry"
    # Too near the right edge a number alone is left.
    late = [Span("outbound_turn", 1, 800.0, 860.0, 800.0), Span("outbound_leg", 1, 860.0, 1000.0, 860.0)]
    canvas = ribbon(late, (0.0, 1000.0), 800.0)
    assert [letter.text for letter in canvas.letters if letter.kind == "strong"] == ["1"]


@pytest.mark.parametrize(
    ("seconds", "step"),
    [
        (300.0, 30.0),
        (359.0, 30.0),
        (361.0, 60.0),
        (721.0, 120.0),
        (1441.0, 300.0),
        (3601.0, 600.0),
        (7201.0, 1200.0),
        (14401.0, 3600.0),
        (43201.0, 7200.0),
    ],
)
def test_a_ribbon_has_a_dozen_ticks_at_most_at_round_times_from_the_fix(seconds: float, step: float) -> None:
    canvas = ribbon([], (0.0, seconds), 100.0)
    at = sorted(float(stroke.pieces[0][0, 0]) / canvas.width * seconds for stroke in layer(canvas, "axis"))
    assert np.diff(at) == pytest.approx(step) and len(at) <= 13
    assert (at[0] - 100.0) % step == pytest.approx(0.0, abs=1e-6) or (at[0] - 100.0) % step == pytest.approx(
        step
    )
    assert at[0] < step and at[-1] > seconds - step
    heights = [sorted(46.0 - stroke.pieces[0][:, 1]) for stroke in layer(canvas, "axis")]
    assert all(ends == pytest.approx([12.0, 18.0]) for ends in heights)
    # Each third is also shown on a phone.
    kinds = [(letter.text, letter.kind) for letter in canvas.letters]
    assert {kind for text, kind in kinds if text == "0:00"} <= {"tick"}
    assert {kind for _, kind in kinds} == {"tick", "tick minor"}


def strip(value: np.ndarray, decimals: int = 0, unit: str = "kt", **more: object) -> Strip:
    time_s = np.arange(float(value.size))
    return Strip("speed", "Speed", unit, decimals, time_s, value, **more)  # type: ignore[arg-type]


def test_a_strip_leaves_a_quarter_of_its_range_above_and_below_for_figures() -> None:
    value = np.linspace(100.0, 140.0, 200)
    canvas = strip_sheet(strip(value), [], (0.0, 199.0))
    assert canvas.window == pytest.approx((0.0, 199.0, 100.0 - 9.6, 140.0 + 9.6))
    # Only what the window shows counts; a steady value is not blown up beyond five in its last but one figure.
    early = strip_sheet(strip(value), [], (0.0, 99.5))
    assert early.window[3] == pytest.approx(value[99] + 0.24 * (value[99] - 100.0))
    steady = strip_sheet(strip(np.full(200, 110.0)), [], (0.0, 199.0))
    assert steady.window[2:] == pytest.approx((110.0 - 1.2, 110.0 + 1.2))
    fine = strip_sheet(strip(np.full(200, 0.1), 2, "NM"), [], (0.0, 199.0))
    assert fine.window[2:] == pytest.approx((0.1 - 0.24 * 0.05, 0.1 + 0.24 * 0.05))
    unknown = strip_sheet(strip(np.full(200, np.nan)), [], (0.0, 199.0))
    assert (
        unknown.window[2:] == pytest.approx((-1.2 * 1.0, 1.0 + 1.2 * 1.0))
        or unknown.window[2] < 0.0 < unknown.window[3]
    )


def test_two_sigmas_are_washed_to_either_side_of_a_value() -> None:
    value, sd = 110.0 + 10.0 * np.sin(np.arange(300.0) / 40.0), np.full(300, 2.0)
    canvas = strip_sheet(strip(value, sd=sd), [], (0.0, 299.0))
    wash, line = layer(canvas, "value")
    per_kt = canvas.height / (canvas.window[3] - canvas.window[2])
    corners = wash.pieces[0]
    middle = np.interp(corners[:, 0], canvas.x(np.arange(300.0)), canvas.height - canvas.y(value))
    assert np.abs(corners[:, 1] - middle) == pytest.approx(np.full(len(corners), 4.0 * per_kt), abs=1.6)
    assert {-1.0, 1.0} == set(np.sign(corners[:, 1] - middle))
    drawn = line.pieces[0]
    there = np.interp(drawn[:, 0], canvas.x(np.arange(300.0)), canvas.height - canvas.y(value))
    assert drawn[:, 1] == pytest.approx(there, abs=0.45)
    # Thinned: a curve needs far fewer points than it has samples.
    assert len(drawn) < 100


def test_the_worst_is_written_clear_of_the_line_on_its_own_side_and_within_the_strip() -> None:
    value = np.full(1000, 110.0)
    spots = []
    for at, off in ((30, 14.0), (500, -15.0), (560, 13.0), (970, 16.0)):
        value[at - 5 : at + 6] += off
        spots.append(excursion(at - 5.0, at + 5.0, float(at), off))
    canvas = strip_sheet(strip(value, outside=spots), [], (0.0, 1000.0))
    told = {letter.text: letter for letter in canvas.letters if letter.text[0] in "▲▼"}
    # The third lies within a quarter of the width of a worse one: neither could be read.
    assert set(told) == {"▲ +14 kt", "▼ −15 kt", "▲ +16 kt"}
    assert [told[text].anchor for text in ("▲ +14 kt", "▼ −15 kt", "▲ +16 kt")] == ["start", "middle", "end"]
    assert told["▼ −15 kt"].x == pytest.approx(float(canvas.x(500.0)))
    # One that ends at the left edge reaches a tenth of the width to the right, and so too near to the next.
    edge = [excursion(25.0, 35.0, 30.0, 16.0), excursion(295.0, 305.0, 300.0, 14.0)]
    crowded = strip_sheet(strip(value, outside=edge), [], (0.0, 1000.0))
    assert [letter.text for letter in crowded.letters if letter.text[0] in "▲▼"] == ["▲ +16 kt"]
    # Bars at the foot, as long as it lasted.
    bars = [stroke.pieces[0] for stroke in layer(canvas, "outside") if stroke.closed]
    assert [np.ptp(bar[:, 0]) for bar in bars] == pytest.approx([9.0] * 4)
    for bar in bars:
        heights = sorted(canvas.height - bar[:, 1])
        assert heights == pytest.approx([0.0, 0.0, 0.055 * canvas.height, 0.055 * canvas.height])


def test_the_weeks_of_a_progress_chart_stand_at_their_days() -> None:
    start = datetime(2026, 1, 25, 9, 0, tzinfo=UTC)
    canvas, first = _time_sheet([start + timedelta(days=30), start], 190.0, 0.0, 100.0)
    assert first == start
    # From 34 units off the left edge to 16 off the right one.
    assert canvas.x([0.0, 30.0]) == pytest.approx([34.0, 640.0 - 16.0])
    assert canvas.window[2:] == pytest.approx((-16.0, 100.0))
    assert [letter.text for letter in canvas.letters] == [
        "25 Jan",
        "30 Jan",
        "4 Feb",
        "9 Feb",
        "14 Feb",
        "19 Feb",
        "24 Feb",
    ]
    assert [letter.x for letter in canvas.letters] == pytest.approx(
        [float(canvas.x(day)) for day in range(0, 31, 5)]
    )
    assert all(letter.y == pytest.approx(188.0) for letter in canvas.letters)
    rules = [stroke.pieces[0] for stroke in layer(canvas, "frame")]
    assert all(
        sorted(canvas.height - rule[:, 1]) == pytest.approx(sorted(canvas.y([-4.8, 0.0]))) for rule in rules
    )
    (one_day, _) = _time_sheet([start], 190.0, 0.0, 100.0)
    assert np.ptp(one_day.x([0.0, 1.0])) == pytest.approx(640.0 - 50.0)


def test_a_map_of_circuits_has_one_scale_both_ways() -> None:
    canvas = map_canvas([np.array([[0.0, 0.0, 0.0], [60.0, 4.0, 1.0]])], 420.0, 300.0)
    assert np.ptp(canvas.x([0.0, 1.0])) == pytest.approx(np.ptp(canvas.y([0.0, 1.0])))
    # Four miles wide with the usual margin.
    assert np.ptp(canvas.x([0.0, 4.0])) == pytest.approx(420.0 / 1.16)


def test_a_list_without_a_path_has_no_picture() -> None:
    assert thumbnail_of_holds([]) is None
