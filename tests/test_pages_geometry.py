"""What is drawn lies where it was: maps, charts and strips against plain geometry, written down here and not taken
from the code that draws."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from analyser.circuits.flown import FlownHold
from analyser.debrief import Debrief
from analyser.earth.plane import LocalPlane
from analyser.exports.log_export import phases_of, places_of
from analyser.exports.track_formats import Phase, segments
from analyser.inspection.small_plan import PlanPoints, plan_svg, plan_text, round_length
from analyser.logs.track import Track
from analyser.pages.figures.canvas import Canvas, Stroke, box_of, canvas_for, letter_free
from analyser.pages.figures.charts import leaving, waterfall, wind_circle
from analyser.pages.figures.strips import Band, Strip, ribbon, strip_sheet
from analyser.pages.figures.views import (
    air,
    common_canvas,
    side,
)
from analyser.pages.pictures import _level_parts, _side, hold_strips
from analyser.pages.subject import (
    area_parts,
    exact_circuits,
    hold_series,
    path_on_map,
    spans,
    subject_of,
)
from analyser.schema.debrief_file import WrittenHold, WrittenWind
from tests.pages_fixture import INBOUND, debriefed, excursion, typed


@cache
def debrief() -> tuple[Debrief, WrittenHold]:
    """An invented flight of three circuits, and what is written of its hold."""
    made, plain = debriefed()
    return made, typed(plain).holds[0]


def flown_hold() -> FlownHold:
    return debrief()[0].holds[0].flown


def in_data(canvas: Canvas, piece: np.ndarray) -> np.ndarray:
    """Where points in drawing units lie in the canvas's own data; y runs downwards on paper."""
    left, right, bottom, top = canvas.window
    x = left + piece[:, 0] / canvas.width * (right - left)
    return np.column_stack([x, top - piece[:, 1] / canvas.height * (top - bottom)])


def layer(canvas: Canvas, name: str) -> list[Stroke]:
    return [stroke for stroke in canvas.strokes if stroke.layer == name]


@pytest.mark.parametrize(("wide", "high"), [(2.0, 6.0), (9.0, 1.0), (0.0, 0.0)])
def test_a_map_is_not_stretched_and_shows_every_point(wide: float, high: float) -> None:
    east, north = 3.0 + np.array([0.0, wide]), -2.0 + np.array([0.0, high])
    canvas = canvas_for(east, north)
    left, right, bottom, top = canvas.window
    assert canvas.width / (right - left) == pytest.approx(canvas.height / (top - bottom))
    x, y = canvas.x(east), canvas.height - canvas.y(north)
    # Clear of the bands that carry lettering, above and below, and in the middle between right and left.
    assert x.min() > 0 and x.max() < canvas.width
    assert y.min() >= canvas.bands[0] - 1e-9 and y.max() <= canvas.height - canvas.bands[1] + 1e-9
    assert x.min() == pytest.approx(canvas.width - x.max())


def test_circuits_of_one_hold_are_all_inside_their_common_canvas() -> None:
    subject = subject_of(debrief()[0].holds[0], debrief()[1])
    canvas = common_canvas(subject, 400.0, 200.0)
    left, right, bottom, top = canvas.window
    assert (canvas.width, canvas.height) == (400.0, 200.0)
    assert (top - bottom) == pytest.approx(0.5 * (right - left))
    cuts = [subject.series.within(span.start_s, span.end_s) for span in subject.spans if span.circuit]
    flown = [(subject.series.east_nm[cut], subject.series.north_nm[cut]) for cut in cuts]
    for east, north in [*flown, *subject.exact_paths.values()]:
        assert left < east.min() and east.max() < right and bottom < north.min() and north.max() < top


def test_an_exact_circuit_lies_on_the_holding_side_of_its_course_and_returns_to_the_fix() -> None:
    """Right-hand turns inbound 263°: the pattern lies north of the course, and outbound of the fix, to the east."""
    for exact in exact_circuits(debrief()[0].holds[0].judged).values():
        east, north = path_on_map(exact)
        assert np.hypot(east[[0, -1]], north[[0, -1]]) == pytest.approx([0.0, 0.0], abs=0.02)
        right = east * math.cos(math.radians(INBOUND)) - north * math.sin(math.radians(INBOUND))
        ahead = east * math.sin(math.radians(INBOUND)) + north * math.cos(math.radians(INBOUND))
        assert right.max() > 0.5 and right.max() > 5.0 * -right.min()
        assert -ahead.min() > ahead.max()


def test_the_holding_area_is_laid_on_the_map_about_its_course() -> None:
    """Along is ahead of the fix inbound and cross right of it: 90° right of 263° is 353°."""
    written = debrief()[1]
    parts = area_parts(written)
    assert parts is not None and written.airspace is not None
    name, outline = next(
        (n, o) for n, o in written.airspace.area.outlines.items() if len(o.along_cross_nm) > 2
    )
    points = np.asarray(outline.along_cross_nm, float).reshape(-1, 2)
    course, across = (
        math.radians(written.inbound_course_true),
        math.radians(written.inbound_course_true + 90.0),
    )
    east = points[:, 0] * math.sin(course) + points[:, 1] * math.sin(across)
    north = points[:, 0] * math.cos(course) + points[:, 1] * math.cos(across)
    assert parts.outlines[name][0] == pytest.approx(east) and parts.outlines[name][1] == pytest.approx(north)


def test_the_wind_circle_has_the_wind_for_its_centre_and_the_airspeed_for_its_radius() -> None:
    wind = WrittenWind(from_true=None, speed_kt=15.0, east_kt=12.0, north_kt=-9.0, sd_kt=1.5, source="turns")
    canvas = wind_circle((np.array([110.0]), np.array([-20.0])), wind, 105.0, 2.0, ("", ""))
    ring = next(in_data(canvas, s.pieces[0]) for s in layer(canvas, "circle") if s.fill == "none")
    assert np.hypot(ring[:, 0] - 12.0, ring[:, 1] + 9.0) == pytest.approx(np.full(len(ring), 105.0))
    band = next(in_data(canvas, s.pieces[0]) for s in layer(canvas, "circle") if s.fill != "none")
    away = np.hypot(band[:, 0] - 12.0, band[:, 1] + 9.0)
    # Two sigma of both together to either side: 2 · √(1.5² + 2²) = 5.
    assert (away.min(), away.max()) == (pytest.approx(100.0), pytest.approx(110.0))
    assert in_data(canvas, layer(canvas, "points")[0].pieces[0]).mean(axis=0) == pytest.approx([110.0, -20.0])
    # Each point is a dash of two and a half units; a cross of eight marks the centre, in an ellipse of two sigmas.
    assert np.ptp(layer(canvas, "points")[0].pieces[0], axis=0) == pytest.approx([2.5, 0.0])
    cross = [s.pieces[0] for s in layer(canvas, "wind")[-2:]]
    assert [tuple(np.ptp(line, axis=0)) for line in cross] == [
        pytest.approx((8.0, 0.0)),
        pytest.approx((0.0, 8.0)),
    ]
    middle = float(canvas.x(12.0)), canvas.height - float(canvas.y(-9.0))
    assert all(line.mean(axis=0) == pytest.approx(middle) for line in cross)
    (doubt,) = [in_data(canvas, s.pieces[0]) for s in layer(canvas, "wind") if s.closed]
    assert np.hypot(doubt[:, 0] - 12.0, doubt[:, 1] + 9.0) == pytest.approx(np.full(len(doubt), 3.0))
    needle = in_data(canvas, layer(canvas, "wind")[0].pieces[0])
    assert needle == pytest.approx(np.array([[0.0, 0.0], [12.0, -9.0]]))


def test_each_bar_of_a_waterfall_begins_where_the_one_before_ended() -> None:
    canvas = waterfall([("a", 0.4), ("b", -0.3), ("c", 0.1)], 0.2, "NM", 2)
    bars = [in_data(canvas, s.pieces[0]) for s in layer(canvas, "bars") if s.closed]
    found = [(bar[:, 0].min(), bar[:, 0].max()) for bar in bars]
    expected = [(0.0, 0.4), (0.1, 0.4), (0.1, 0.2), (0.0, 0.2)]
    assert np.array(found) == pytest.approx(np.array(expected))
    inks = [s.fill for s in layer(canvas, "bars") if s.closed]
    # What took error away is only outlined; the sum is the ink's own.
    assert inks == ["var(--ink-mark)", "var(--ink-paper)", "var(--ink-mark)", "var(--ink-ink)"]
    assert all(0 <= letter.x <= canvas.width and 0 <= letter.y <= canvas.height for letter in canvas.letters)


def test_the_leaving_chart_has_its_marks_at_their_times() -> None:
    canvas = leaving([60.0, 130.0], [170.0, 240.0], 210.0, (100.0, 215.0))
    exact = in_data(canvas, layer(canvas, "exact")[0].pieces[0])
    assert exact == pytest.approx(np.array([[60.0, 170.0], [130.0, 240.0]]))
    assert in_data(canvas, layer(canvas, "wanted")[0].pieces[0])[:, 1] == pytest.approx([210.0, 210.0])
    assert in_data(canvas, layer(canvas, "flown")[0].pieces[0]).mean(axis=0) == pytest.approx([100.0, 215.0])
    assert "wanted 3:30" in [letter.text for letter in canvas.letters]
    ticks = [letter for letter in canvas.letters if letter.kind == "tick" and letter.anchor == "middle"]
    for tick in ticks:
        minutes, seconds = tick.text.split(":")
        assert canvas.x(60 * int(minutes) + int(seconds)) == pytest.approx(tick.x)
    assert len(ticks) >= 2


def test_a_strip_has_band_target_and_faults_at_their_values() -> None:
    time_s = np.arange(0.0, 101.0)
    value = np.where((time_s > 60) & (time_s < 80), 4150.0, 4000.0)
    outside = [excursion(61.0, 79.0, 70.0, 150.0)]
    strip = Strip("altitude", "Altitude", "ft", 0, time_s, value, None, [Band(10.0, 90.0, 3900.0, 4100.0, 4000.0)],
                  metres=True, outside=outside)  # fmt: skip
    canvas = strip_sheet(strip, [], (0.0, 100.0))
    area, target = (in_data(canvas, stroke.pieces[0]) for stroke in layer(canvas, "band"))
    assert (area.min(axis=0), area.max(axis=0)) == (
        pytest.approx([10.0, 3900.0]),
        pytest.approx([90.0, 4100.0]),
    )
    assert target == pytest.approx(np.array([[10.0, 4000.0], [90.0, 4000.0]]))
    bar = in_data(canvas, next(s for s in layer(canvas, "outside") if s.closed).pieces[0])
    assert (bar[:, 0].min(), bar[:, 0].max()) == (pytest.approx(61.0), pytest.approx(79.0))
    said = [letter for letter in canvas.letters if letter.text.startswith("▲")]
    # 150 ft are 46 m; the figures stand above what they tell of.
    assert [letter.text for letter in said] == ["▲ +150 ft", "▲ +46 m"]
    assert all(letter.y <= canvas.height - canvas.y(4150.0) for letter in said)
    for tick in (letter for letter in canvas.letters if letter.kind == "tick when-ft"):
        assert canvas.height - tick.y == pytest.approx(
            float(canvas.y(float(tick.text.replace(",", "")))), abs=4.0
        )


def test_a_band_in_degrees_narrows_towards_the_fix() -> None:
    band = Band(100.0, 200.0, -0.5, 0.5, 0.0, narrows_to=0.2)
    low, high = band.edges(np.array([100.0, 150.0, 200.0]))
    assert high == pytest.approx([0.5, 0.3, 0.1]) and low == pytest.approx(-high)
    even = Band(0.0, 10.0, 95.0, 115.0, 105.0).edges(np.array([0.0, 10.0]))
    assert np.array(even) == pytest.approx(np.array([[95.0, 95.0], [115.0, 115.0]]))


def test_the_bands_of_a_hold_are_what_its_scores_say() -> None:
    judged, document = debrief()[0].holds[0], debrief()[1]
    strips = {strip.key: strip for strip in hold_strips(subject_of(judged, document))}
    for circuit in document.circuits:
        bank = circuit.scores["bank"]
        assert bank.points is not None and bank.target is not None and bank.tolerance is not None
        turn = judged.flown.circuits[circuit.number - 1].outbound_turn
        assert turn is not None
        (band,) = [one for one in strips["bank"].bands if one.start_s == turn.established_start_s]
        # A right-hand hold: its turns are banked to the right, which is positive.
        assert (band.low, band.high) == pytest.approx(
            (bank.target - bank.tolerance, bank.target + bank.tolerance)
        )
        height = circuit.scores["altitude"]
        own = [
            b
            for b in strips["altitude"].bands
            if circuit.start_s - 1 <= b.start_s and b.end_s <= circuit.end_s + 1
        ]
        assert own and height.tolerance is not None
        assert all(b.high - b.low == pytest.approx(2 * height.tolerance) for b in own)


def test_a_speed_over_the_limit_is_told_with_the_speed_and_with_nothing_else() -> None:
    judged, document = debrief()[0].holds[0], debrief()[1]
    other = replace(document.findings[0], kind="track", brief="wide of the course")
    fast = replace(other, kind="speed limit", brief="up to 12 kt above the maximum")
    for findings, said in (([other], ""), ([other, fast], fast.brief)):
        strips = hold_strips(subject_of(judged, replace(document, findings=findings)))
        assert {one.key: one.also for one in strips if one.key == "speed" or one.also} == {"speed": said}


def test_the_band_of_an_inbound_leg_in_degrees_is_a_wedge_that_ends_before_the_fix() -> None:
    """So many degrees as seen from the fix: at the roll-out the distance times the tangent; a fifth of it is left at
    the end, where a fifth of the leg is."""
    judged, document = debrief()[0].holds[0], debrief()[1]
    series = hold_series(judged.flown)
    strips = hold_strips(subject_of(judged, document))
    bands = next(strip.bands for strip in strips if strip.key == "cross")
    legs = {one.number: one.inbound_leg for one in judged.flown.circuits}
    scores = [(one.number, one.scores["track"]) for one in document.circuits]
    seen = [
        (legs[number], score) for number, score in scores if score.points is not None and score.unit == "°"
    ]
    assert len(seen) == len(bands) > 0
    for band, (leg, score) in zip(bands, seen, strict=True):
        assert leg is not None and score.tolerance is not None
        out_nm = -float(np.interp(leg.start_s, series.time_s, series.along_nm))
        assert band.high == pytest.approx(out_nm * math.tan(math.radians(score.tolerance)))
        assert (band.low, band.target, band.narrows_to) == (-band.high, 0.0, 0.2)
        assert leg.end_s - band.end_s == pytest.approx(0.2 * (leg.end_s - leg.start_s))


@pytest.mark.parametrize("between", [np.nan, 3900.0])
def test_each_level_held_has_its_own_band_and_the_way_between_two_has_none(between: float) -> None:
    time_s = np.arange(0.0, 300.0)
    level = np.select([time_s < 100.0, time_s < 101.0], [4000.0, between], 3000.0)
    circuit = replace(debrief()[1].circuits[0], start_s=50.0, end_s=180.0)
    plan_of: Any = SimpleNamespace(reference_ft=level)
    assert list(_level_parts(circuit, plan_of, time_s)) == [(50.0, 99.0, 4000.0), (101.0, 180.0, 3000.0)]
    # One sample on the way elsewhere parts it, and two samples are a level.
    left: Any = SimpleNamespace(reference_ft=np.where(np.isin(time_s, [90.0, 93.0]), np.nan, 4000.0))
    assert list(_level_parts(circuit, left, time_s)) == [
        (50.0, 89.0, 4000.0),
        (91.0, 92.0, 4000.0),
        (94.0, 180.0, 4000.0),
    ]
    nowhere: Any = SimpleNamespace(reference_ft=np.full(time_s.size, np.nan))
    assert list(_level_parts(circuit, nowhere, time_s)) == []


def test_a_band_in_miles_is_even_along_the_whole_leg_and_one_unjudged_has_none() -> None:
    judged, document = debrief()[0].holds[0], debrief()[1]
    first, *others = document.circuits
    track = replace(first.scores["track"], unit="NM", tolerance=0.4)
    unseen = replace(first.scores["track"], points=None)
    miles = replace(first, scores={**first.scores, "track": track})
    rest = [replace(one, scores={**one.scores, "track": unseen}) for one in others]
    hold = replace(document, circuits=(miles, *rest))
    (band,) = next(one.bands for one in hold_strips(subject_of(judged, hold)) if one.key == "cross")
    leg = judged.flown.circuits[0].inbound_leg
    assert leg is not None
    assert (band.start_s, band.end_s, band.low, band.high, band.target, band.narrows_to) == (
        leg.start_s, leg.end_s, -0.4, 0.4, 0.0, 1.0
    )  # fmt: skip


def test_the_side_view_has_a_band_where_one_altitude_was_asked_for() -> None:
    judged, document = debrief()[0].holds[0], debrief()[1]
    subject = subject_of(judged, document)
    (strip,) = [one for one in hold_strips(subject) if one.key == "altitude"]
    low = Band(100.0, 200.0, 3900.0, 4100.0, 4000.0)
    for bands, drawn in (
        ([low, replace(low, start_s=300.0)], True),
        ([low, replace(low, high=4200.0)], False),
        ([], False),
    ):
        shown = _side(subject, [replace(strip, bands=bands)])
        assert shown is not None and ('data-layer="band"' in shown.svg) == drawn


def test_along_and_across_are_seen_from_the_fix_along_the_course() -> None:
    series = hold_series(flown_hold())
    away = np.hypot(series.east_nm, series.north_nm)
    off = np.arctan2(series.east_nm, series.north_nm) - math.radians(INBOUND)
    assert series.along_nm == pytest.approx(away * np.cos(off))
    # Right of the course is positive.
    assert series.cross_nm == pytest.approx(away * np.sin(off))


def test_minutes_on_the_ribbon_count_from_the_arrival_over_the_fix() -> None:
    flown = flown_hold()
    found = spans(flown)
    window = (found[0].start_s, found[-1].end_s)
    canvas = ribbon(found, window, flown.start_s)
    ticks = [letter for letter in canvas.letters if letter.kind.startswith("tick")]
    assert len(ticks) >= 4
    for tick in ticks:
        sign = -1.0 if tick.text.startswith("−") else 1.0
        minutes, seconds = tick.text.lstrip("−").split(":")
        assert float(canvas.x(flown.start_s + sign * (60 * int(minutes) + int(seconds)))) == pytest.approx(
            tick.x
        )
    named = {letter.text: letter.x for letter in canvas.letters if letter.kind == "strong"}
    begun = [span.start_s for span in found if span.phase == "outbound_turn"]
    starts = [x for text, x in named.items() if text[-1].isdigit()]
    assert starts == pytest.approx([float(canvas.x(at)) + 4.0 for at in begun])


def test_in_the_air_mass_a_turn_lies_on_the_circle_of_its_bank() -> None:
    flown = flown_hold()
    series, found = hold_series(flown), spans(flown)
    turn = flown.circuits[0].outbound_turn
    assert turn is not None
    # By hand: the radius of a level turn, V² / (g tan φ), at the mean airspeed and bank of the established part.
    cut = series.within(turn.established_start_s, turn.established_end_s)
    tas_mps = float(series.tas_kt[cut].mean()) * 1852.0 / 3600.0
    radius = tas_mps**2 / (9.80665 * math.tan(math.radians(abs(turn.bank_mean_deg)))) / 1852.0
    canvas = air(series, found, {(1, "outbound_turn"): radius})
    ring = in_data(canvas, next(s for s in layer(canvas, "ideal") if s.data.get("circuit") == 1).pieces[0])
    centre = (ring.max(axis=0) + ring.min(axis=0)) / 2.0
    away = np.hypot(series.air_east_nm[cut] - centre[0], series.air_north_nm[cut] - centre[1])
    assert away == pytest.approx(np.full(away.size, radius), abs=0.12 * radius)
    fixes = layer(canvas, "drift")
    assert len(fixes) >= 2 * len(flown.circuits)


def test_the_side_view_has_height_over_distance_to_the_fix() -> None:
    flown = flown_hold()
    series, found = hold_series(flown), spans(flown)
    canvas = side(series, found, (3900.0, 4100.0))
    (band,) = (in_data(canvas, stroke.pieces[0]) for stroke in layer(canvas, "band"))
    assert (band[:, 1].min(), band[:, 1].max()) == (pytest.approx(3900.0), pytest.approx(4100.0))
    leg = next(span for span in found if span.phase == "inbound_leg")
    drawn = in_data(canvas, next(s for s in layer(canvas, "flown") if s.data["phase"] == "il").pieces[0])
    cut = series.within(leg.start_s, leg.end_s)
    assert drawn[0] == pytest.approx([series.along_nm[cut][0], series.altitude_ft[cut][0]], abs=0.02 * 4000)
    assert drawn[0, 0] < drawn[-1, 0] == pytest.approx(0.0, abs=0.1)
    for letter in (letter for letter in canvas.letters if letter.text.endswith("NM")):
        assert float(canvas.x(float(letter.text.split()[0].replace("−", "-")))) == pytest.approx(letter.x)


def test_lettering_keeps_clear_of_lines_letters_and_edges() -> None:
    canvas = Canvas(200.0, 200.0, (0.0, 10.0, 0.0, 10.0))
    canvas.line([0, 10], [5.8, 5.8], "ink", layer="track")
    assert letter_free(canvas, (5.0, 5.0), [("here", "note")], 0.0, layer="words", clear_of=("track",))
    assert letter_free(canvas, (5.0, 5.0), [("there", "note")], 0.0, layer="words", clear_of=("track",))
    boxes = [box_of(canvas, letter) for letter in canvas.letters]
    line_y = 200.0 - 5.8 * 20.0
    assert all(not box[1] <= line_y <= box[3] for box in boxes)
    (a, b) = boxes
    assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
    assert all(box[0] >= 0 and box[2] <= 200 and box[1] >= 0 and box[3] <= 200 for box in boxes)
    # Where there is no room at all, nothing is written.
    small = Canvas(30.0, 12.0, (0.0, 1.0, 0.0, 1.0))
    assert not letter_free(small, (0.5, 0.5), [("far too long for it", "note")], 0.0, layer="w", clear_of=())
    assert small.letters == []


def test_a_log_before_debriefing_is_drawn_north_up_over_its_scale() -> None:
    """Three miles east, then one north: wider than high, its end in the top right corner."""
    points = PlanPoints(np.array([0.0, 3.0, 3.0]), np.array([0.0, 0.0, 1.0]), np.zeros(3, bool))
    lines = plan_text(points, columns=33, rows=20, braille=False).split("\n")
    drawn, scale = lines[:-1], lines[-1]
    assert [line.rstrip()[-1] for line in drawn] == ["*"] * len(drawn)
    assert drawn[-1] == "*" * 33 and all(line[:-1].strip() == "" for line in drawn[:-1])
    # 32 columns for three miles; a character is twice as high as wide: one mile is 5 or 6 lines up.
    assert len(drawn) - 1 == round(32 / 3 / 2)
    assert scale.endswith("1 NM, north up") and scale.index(" ") == pytest.approx(32 / 3, abs=1)
    *braille, bar = plan_text(points, columns=33, rows=20).split("\n")
    # Two dots a column: 65 steps for three miles.
    assert bar.endswith("1 NM, north up") and bar.index(" ") == pytest.approx(65 / 3 / 2, abs=0.6)
    assert braille[0].rstrip("\u2800").strip("\u2800") and braille[-1][0] != "\u2800"
    assert [round_length(nm) for nm in (0.9, 1.0, 4.9, 27.0, 700.0)] == [0.5, 1.0, 2.0, 20.0, 500.0]
    svg = plan_svg(points, "a <log>")
    assert "a &lt;log&gt;" in svg and "M40.0,226.7 L600.0,226.7 L600.0,40.0" in svg


def test_a_plan_in_characters_leaves_holes_of_the_log_empty() -> None:
    points = PlanPoints(np.array([0.0, 1.0, 3.0, 4.0]), np.zeros(4), np.array([False, False, True, False]))
    (line, _) = plan_text(points, columns=41, rows=4, braille=False).split("\n")
    assert line == "*" * 11 + " " * 19 + "*" * 11


def test_phases_of_an_export_are_the_parts_of_the_hold() -> None:
    track, flown = debrief()[0].track, flown_hold()
    found = {phase.name: phase for phase in phases_of(track, (flown,))}
    first = flown.circuits[0]
    assert first.outbound_turn is not None and first.inbound_leg is not None
    turn = found["circuit 1, outbound turn"]
    assert (turn.start_s, turn.end_s) == (first.outbound_turn.start_s, first.outbound_turn.end_s)
    assert found["circuit 1, inbound leg"].end_s == first.inbound_leg.end_s
    assert flown.entry is not None
    arrival, entry = found["arrival"], found.get("entry")
    # Five minutes of the arrival at most, ending over the fix.
    assert arrival.end_s == flown.start_s and 0.0 < arrival.end_s - arrival.start_s <= 300.0
    assert entry is None or entry.start_s == flown.entry.fix_s
    twice = [phase.name for phase in phases_of(track, (flown, flown))]
    assert "hold 1, circuit 1, outbound turn" in twice and "hold 2, circuit 1, outbound turn" in twice
    # Who was never away from it arrived once; without its entry nobody knows where an arrival ended.
    assert "hold 1, arrival" in twice and "hold 2, arrival" not in twice
    unseen = [phase.name for phase in phases_of(track, (replace(flown, entry=None),))]
    assert unseen[0] == "circuit 1, outbound turn" and "arrival" not in unseen and "entry" not in unseen
    (place,) = places_of((flown,))
    assert (place.lat_deg, place.lon_deg) == (flown.hold.fix_lat_deg, flown.hold.fix_lon_deg)
    assert f"inbound course {INBOUND:03.0f}° true" in place.told and "Not for navigation" in place.told


def test_of_two_phases_that_overlap_the_later_begins_where_the_earlier_ends() -> None:
    plane = LocalPlane(47.0, 8.0)
    lat, lon = plane.to_earth(np.arange(10.0), np.zeros(10))
    track = Track(
        name="x", format="table", sha256="", start_utc=None, time_s=np.arange(10.0), lat_deg=lat, lon_deg=lon
    )
    found = segments(track, [Phase(4.0, 8.0, "later"), Phase(2.0, 6.0, "earlier")])
    assert [(one.first, one.last, one.name) for one in found] == [
        (0, 2, ""), (2, 6, "earlier"), (6, 8, "later"), (8, 10, ""),
    ]  # fmt: skip
