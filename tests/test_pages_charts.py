"""Charts and the sector diagram: bars, circle and names stand where they can be read."""

from __future__ import annotations

import math

import numpy as np
import pytest

from analyser.pages.figures.canvas import Canvas, box_of, canvas_for
from analyser.pages.figures.charts import leaving, waterfall, wind_circle
from analyser.pages.figures.sectors import sectors
from analyser.rules.load import load_regime
from analyser.schema.debrief_file import WrittenWind

SHARES = [
    ("late turn", 0.6),
    ("wind", -0.3),
    ("bank", 0.2),
    ("heading", 0.1),
    *((f"small {n}", 0.02) for n in range(4)),
]


@pytest.mark.parametrize(
    ("count", "rows", "summed"), [(6, 7, None), (7, 7, "2 smaller shares"), (8, 7, "3 smaller shares")]
)
def test_a_waterfall_has_six_bars_at_most_and_they_add_up(count: int, rows: int, summed: str | None) -> None:
    shares = SHARES[:count]
    total = sum(value for _, value in shares)
    canvas = waterfall(shares, total, "NM", 2)
    bars = [stroke.pieces[0] for stroke in canvas.strokes if stroke.closed]
    assert len(bars) == rows
    left, right = canvas.window[:2]
    for row, bar in enumerate(bars):
        # Upright rectangles, one a row.
        ends = (
            sorted({round(float(x), 6) for x in bar[:, 0]}),
            sorted({round(float(y), 6) for y in bar[:, 1]}),
        )
        assert [len(one) for one in ends] == [2, 2] and 24.0 * row < ends[1][0] < ends[1][1] < 24.0 * (
            row + 1
        )
        assert len({(round(float(x), 6), round(float(y), 6)) for x, y in bar}) == 4
    ends_at = [left + float(bar[:, 0].max()) / canvas.width * (right - left) for bar in bars]
    assert ends_at[-1] == pytest.approx(total)
    names = [letter.text for letter in canvas.letters if letter.anchor == "start"]
    kept = [name for name, _ in shares] if summed is None else [name for name, _ in shares[:5]] + [summed]
    assert names == [*kept, "measured"]
    figures = [float(one.text.split()[0].replace("−", "-")) for one in canvas.letters if one.anchor == "end"]
    assert sum(figures[:-1]) == pytest.approx(figures[-1], abs=0.005) and figures[-1] == pytest.approx(total)


@pytest.mark.parametrize(
    ("wanted_s", "flown"), [(400.0, None), (90.0, None), (None, (300.0, 400.0)), (400.0, (20.0, 90.0))]
)
def test_what_was_wanted_and_what_was_flown_lie_on_the_chart_of_leaving(
    wanted_s: float | None, flown: tuple[float, float] | None
) -> None:
    """Also far from any circuit that could have been flown."""
    canvas = leaving([60.0, 160.0], [170.0, 270.0], wanted_s, flown)
    left, right, low, high = canvas.window
    assert all(low < one < high for one in (170.0, 270.0, wanted_s or 200.0, flown[1] if flown else 200.0))
    assert all(left < one < right for one in (60.0, 160.0, flown[0] if flown else 100.0))


def test_the_wind_circle_has_north_up_and_east_to_the_right() -> None:
    wind = WrittenWind(
        from_true=200.0, speed_kt=12.0, east_kt=4.0, north_kt=-11.0, sd_kt=None, source="turns"
    )
    canvas = wind_circle((np.zeros(1), np.zeros(1)), wind, 100.0, None, ("197°M", "200°T"))
    words = {one.text: one for one in canvas.letters}
    north, east = words["N"], words["E"]
    assert (north.x, north.y) == (pytest.approx(180.0), pytest.approx(12.0))
    # Before the edge, above its axis.
    assert (east.x, east.y, east.anchor) == (pytest.approx(357.0), pytest.approx(192.0), "end")
    assert words["197°M"].kind.split()[-1] == "when-mag" and words["200°T"].kind.split()[-1] == "when-tru"
    assert (words["197°M"].x, words["197°M"].y) == (words["200°T"].x, words["200°T"].y)


def test_a_map_of_a_point_shows_half_a_mile() -> None:
    canvas = canvas_for(np.zeros(1), np.zeros(1))
    assert np.ptp(canvas.x([0.0, 0.5])) == pytest.approx(
        0.9 * 560.0 if canvas.height > 500.0 else np.ptp(canvas.y([0.0, 0.5]))
    )
    assert canvas.width / (canvas.window[1] - canvas.window[0]) == pytest.approx((0.84 * 560.0 - 102.0) / 0.5)


def bearing(point: np.ndarray) -> float:
    return math.degrees(math.atan2(point[0], point[1])) % 360.0


def off(one: float, other: float) -> float:
    return abs((one - other + 180.0) % 360.0 - 180.0)


def middle_of(canvas: Canvas, kind: str, text: str) -> np.ndarray:
    """Where the middle of some lettering lies from the fix, in radii of the ring, north up."""
    (letter,) = [one for one in canvas.letters if one.text == text and one.kind == kind]
    left, top, right, foot = box_of(canvas, letter)
    per_unit = (canvas.window[1] - canvas.window[0]) / canvas.width
    return (
        np.array([(left + right) / 2.0 - canvas.width / 2.0, canvas.height / 2.0 - (top + foot) / 2.0])
        * per_unit
    )


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize("rules", ["icao", "faa"])
def test_each_sector_has_its_name_within_it_and_no_two_words_meet(side: int, rules: str) -> None:
    """Sectors by heading at the fix, as ICAO Doc 8168 and the AIM have them: for right-hand turns 110° that come from
    the holding side's back for the teardrop 70°, and 180° for the direct entry; mirrored for left-hand turns."""
    rule = load_regime(rules).entry
    for course in range(0, 360, 40):
        canvas = sectors(float(course), side, 3.0, float(course + 75), ("direct",), rule, heading_sd_deg=3.0)
        # From where: the middle of each sector, off the inbound course's own direction of coming.
        middles = {"direct": 20.0 * side, "parallel": -125.0 * side, rule.word("offset"): 145.0 * side}
        widths = {"direct": 180.0, "parallel": 110.0, rule.word("offset"): 70.0}
        for name, from_off in middles.items():
            place = middle_of(canvas, "strong" if name == "direct" else "row", name)
            assert off(bearing(place), course + 180.0 + from_off) < widths[name] / 2.0, (course, name)
            assert 0.35 < math.hypot(*place) < 1.0
        boxes = [box_of(canvas, one) for one in canvas.letters if "when-mag" not in one.kind]
        for number, a in enumerate(boxes):
            assert a[0] > 0.0 and a[1] > 0.0 and a[2] < canvas.width and a[3] < canvas.height
            for b in boxes[:number]:
                assert a[2] < b[0] or b[2] < a[0] or a[3] < b[1] or b[3] < a[1], course
        # The fix lies over all lines that lead to it, and the arrow ends before it.
        triangle = next(stroke.pieces[0] for stroke in canvas.strokes if stroke.layer == "fix")
        assert triangle.mean(axis=0) == pytest.approx((canvas.width / 2.0, canvas.height / 2.0), abs=0.2)
        stem = next(one.pieces[0] for one in canvas.strokes if one.layer == "arrival" and not one.closed)
        tip = (stem[-1] - (canvas.width / 2.0, canvas.height / 2.0)) * (1.0, -1.0)
        assert off(bearing(tip), course + 75.0 + 180.0) < 1.0


def test_a_sector_without_anything_in_the_way_has_its_name_in_its_middle() -> None:
    """Direct entries come from 180°, the largest sector: course 90°, right-hand turns, from 200° to 20° over west."""
    canvas = sectors(90.0, 1, None, None, ("direct",), load_regime("icao").entry)
    place = middle_of(canvas, "strong", "direct")
    assert off(bearing(place), 290.0) < 2.0 and 0.55 < math.hypot(*place) < 0.75
