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
from analyser.exports.export import Phase, segments
from analyser.inspection.small_plan import PlanPoints, plan_svg, plan_text, round_length
from analyser.logs.track import Track
from analyser.pages.figures import symbols
from analyser.pages.figures.canvas import Canvas, Stroke, box_of, canvas_for, letter_free
from analyser.pages.figures.charts import leaving, waterfall, wind_circle
from analyser.pages.figures.strips import Band, Strip, ribbon, strip_sheet
from analyser.pages.figures.views import (
    air,
    airspace,
    common_canvas,
    draw_area,
    draw_flown,
    plan,
    reach,
    say_caution_further_out,
    side,
)
from analyser.pages.pictures import _level_parts, hold_strips
from analyser.pages.subject import (
    PHASES,
    AreaParts,
    HoldSeries,
    Path,
    Span,
    area_parts,
    exact_circuits,
    hold_series,
    path_on_map,
    spans,
    subject_of,
)
from analyser.schema.debrief_file import WrittenHold, WrittenPath, WrittenWind
from analyser.work.exported import phases_of, places_of
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


@pytest.mark.parametrize("per_nm", [100.0, 20.0])
def test_the_scale_bar_is_as_long_as_it_says_and_north_is_up(per_nm: float) -> None:
    canvas = Canvas(500.0, 400.0, (0.0, 500.0 / per_nm, 0.0, 400.0 / per_nm))
    symbols.scale(canvas, layer="scale")
    (bar,), (letter,) = (stroke.pieces[0] for stroke in layer(canvas, "scale")), canvas.letters
    assert np.ptp(in_data(canvas, bar)[:, 0]) == pytest.approx(float(letter.text.split()[0]))
    symbols.north(canvas, layer="north")
    stem = layer(canvas, "north")[0].pieces[0]
    assert stem[-1, 1] < stem[0, 1] and stem[-1, 0] == pytest.approx(stem[0, 0])


@pytest.mark.parametrize("from_deg", [0.0, 240.0, 305.0])
def test_the_winds_arrow_points_where_the_wind_blows_to(from_deg: float) -> None:
    canvas = Canvas(500.0, 400.0, (0.0, 5.0, 0.0, 4.0))
    symbols.wind(canvas, from_deg, ("", ""))
    stem, *barbs = (stroke.pieces[0] for stroke in layer(canvas, "wind"))
    right, up = stem[-1, 0] - stem[0, 0], stem[0, 1] - stem[-1, 1]
    off = (math.degrees(math.atan2(right, up)) - from_deg - 180.0 + 180.0) % 360.0 - 180.0
    assert abs(off) < 1e-6
    # The barbs hang back from the tip, on either side, and the whole of it is on the paper.
    assert all(barb[0] == pytest.approx(stem[-1]) for barb in barbs)
    assert all((barb[-1] - stem[-1]) @ (stem[0] - stem[-1]) > 0 for barb in barbs)
    every = np.concatenate([stem, *barbs])
    assert every.min() > 0 and every[:, 0].max() < 500.0


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


@pytest.mark.parametrize(
    ("low_ft", "high_ft", "band", "edges"),
    [
        (4000.0, 4200.0, (3900.0, 4100.0), (3900.0 - 75.0, 4200.0 + 90.0)),
        # A steady height is not blown up beyond a hundred feet.
        (4000.0, 4000.0, None, (4000.0 - 25.0, 4000.0 + 30.0)),
        (4000.0, 4400.0, None, (4000.0 - 100.0, 4400.0 + 120.0)),
    ],
)
def test_the_side_view_leaves_room_for_its_figures_and_rules_round_values(
    low_ft: float, high_ft: float, band: tuple[float, float] | None, edges: tuple[float, float]
) -> None:
    flown = flown_hold()
    found = spans(flown)
    series = hold_series(flown)
    inside = np.arange(series.time_s.size) % 2 == 0
    series = replace(series, altitude_ft=np.where(inside, low_ft, high_ft))
    canvas = side(series, found, band)
    inner = [span for span in found if span.in_hold]
    cut = series.within(inner[0].start_s - 20.0, inner[-1].end_s + 15.0)
    along = series.along_nm[cut]
    margin = 0.05 * (max(along.max(), 0.0) - along.min())
    assert canvas.window == pytest.approx((along.min() - margin, max(along.max(), 0.0) + margin, *edges))
    left, right, low, high = canvas.window
    # A line up through the fix, with its word to the left of it.
    (upright,) = [s.pieces[0] for s in layer(canvas, "axis") if s.fill == "none" and s.width == 1.2]
    assert upright == pytest.approx(np.array([[float(canvas.x(0.0)), 150.0], [float(canvas.x(0.0)), 0.0]]))
    (word,) = [one for one in canvas.letters if one.text == "fix"]
    assert (word.x, word.y, word.anchor) == (
        pytest.approx(float(canvas.x(0.0)) - 5.0),
        pytest.approx(14.0),
        "end",
    )
    # Figures in feet and metres beside the round heights that stand clear of the edges.
    step_ft = next(step for step in (20.0, 50.0, 100.0, 200.0) if (high - low) / step <= 5.0)
    rules = np.arange(math.ceil(low / step_ft) * step_ft, high, step_ft)
    flat = [in_data(canvas, s.pieces[0]) for s in layer(canvas, "axis") if s.width == 0.7]
    assert [line[0, 1] for line in flat] == pytest.approx(rules) and all(
        line[:, 0] == pytest.approx([left, right]) for line in flat
    )
    clear = [ft for ft in rules if 0.14 < (ft - low) / (high - low) < 0.86]
    told = [one.text.replace(",", "") for one in canvas.letters if one.kind == "tick when-ft"]
    assert told == [f"{ft:.0f}" for ft in clear]
    metres = [one.text.replace(",", "") for one in canvas.letters if one.kind == "tick when-m"]
    assert metres == [f"{ft * 0.3048:.0f}" for ft in clear]
    # Along, marks at round miles a thirtieth of the height long, with their miles where there is room.
    marks = [in_data(canvas, s.pieces[0]) for s in layer(canvas, "axis") if s.width == 0.8]
    assert all(np.ptp(mark[:, 1]) == pytest.approx(0.03 * (high - low)) for mark in marks)
    at = [float(mark[0, 0]) for mark in marks]
    step_nm = next(step for step in (0.2, 0.5, 1.0, 2.0) if (right - left) / step <= 8.0)
    assert at == pytest.approx(np.arange(math.ceil(left / step_nm) * step_nm, right, step_nm), abs=1e-9)
    miles = [one.text for one in canvas.letters if one.kind == "tick minor"]
    shown = [nm for nm in at if abs(nm) > 0.5 * step_nm and 0.04 < (nm - left) / (right - left) < 0.94]
    assert [float(text.split()[0].replace("−", "-")) for text in miles] == pytest.approx(shown)


def test_what_lies_across_a_hole_of_the_log_is_dotted_and_the_rest_is_not() -> None:
    flown = flown_hold()
    found = spans(flown)
    series = hold_series(flown)
    leg = next(span for span in found if span.phase == "outbound_leg")
    hidden = (series.time_s > leg.start_s + 10.0) & (series.time_s < leg.start_s + 25.0)
    canvas = canvas_for(series.east_nm, series.north_nm)
    draw_flown(canvas, replace(series, in_hole=hidden), found)
    dotted = [s for s in layer(canvas, "flown") if s.edge == "var(--ink-mark)"]
    assert [(s.data["circuit"], s.data["phase"]) for s in dotted] == [(1, "ol")]
    places = np.column_stack([series.east_nm, series.north_nm])
    ends = in_data(canvas, dotted[0].pieces[0])[[0, -1]]
    assert ends == pytest.approx(places[hidden][[0, -1]], abs=0.01)
    drawn = [s for s in layer(canvas, "flown") if s.data == dotted[0].data and s.edge != "var(--ink-mark)"]
    # The leg itself is broken there.
    assert len(drawn) == 1 and len(drawn[0].pieces) == 2
    assert not [s for s in layer(canvas_of(series, found), "flown") if s.edge == "var(--ink-mark)"]


def canvas_of(series: HoldSeries, found: list[Span]) -> Canvas:
    """Draw a flight without holes."""
    canvas = canvas_for(series.east_nm, series.north_nm)
    draw_flown(canvas, replace(series, in_hole=np.zeros(series.time_s.size, bool)), found)
    return canvas


def test_in_the_air_mass_the_fix_drifts_from_circuit_to_circuit() -> None:
    """It lies at the origin at the arrival, and each circuit begins where it has drifted to by then."""
    flown = flown_hold()
    series, found = hold_series(flown), spans(flown)
    canvas = air(series, found, {})
    (line,) = [in_data(canvas, s.pieces[0]) for s in layer(canvas, "drift") if s.edge == "var(--ink-air)"]
    for at_s, end in zip(
        (flown.start_s, max(span.end_s for span in found if span.in_hold)), line[[0, -1]], strict=True
    ):
        drifted = [
            np.interp(at_s, series.time_s, one) for one in (series.drift_east_nm, series.drift_north_nm)
        ]
        assert end == pytest.approx(drifted, abs=0.02)
    triangles = [
        in_data(canvas, s.pieces[0]).mean(axis=0) for s in layer(canvas, "drift") if len(s.pieces[0]) == 3
    ]
    begun = [one.start_s for one in flown.circuits]
    expected = [
        [np.interp(at, series.time_s, one) for one in (series.drift_east_nm, series.drift_north_nm)]
        for at in begun
    ]
    assert np.array(triangles) == pytest.approx(np.array(expected), abs=0.02)
    numbers = [one for one in canvas.letters if one.layer == "flown-numbers"]
    assert [one.text for one in numbers] == [str(one.number) for one in flown.circuits]
    for number, (east, north) in zip(numbers, expected, strict=True):
        middle = number.x, number.y - 0.32 * canvas.letter_units
        assert math.dist(middle, (float(canvas.x(east)), canvas.height - float(canvas.y(north)))) < 57.0
    # It is seen from 20 s before the arrival to 15 s after the hold.
    cut = series.within(flown.start_s - 20.0, max(span.end_s for span in found if span.in_hold) + 15.0)
    x = canvas.x(series.air_east_nm[cut])
    assert x.min() > 0.0 and x.max() < canvas.width


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


def square(half_nm: float) -> Path:
    return half_nm * np.array([-1.0, 1.0, 1.0, -1.0, -1.0]), half_nm * np.array([-1.0, -1.0, 1.0, 1.0, -1.0])


#: Squares round the fix, half as wide as it says, nautical miles.
SQUARES = {"template": 3.0, "area": 4.0, "entry_area": 5.0, "fix": 0.4}
AREA = AreaParts({name: square(half) for name, half in SQUARES.items()},
                 [(square(6.0), 984.0), (square(8.0), 492.0)], (1.5, -2.0))  # fmt: skip


def test_the_holding_area_is_drawn_in_its_outlines_also_beyond_the_canvas() -> None:
    canvas = canvas_for(np.array([-2.0, 2.0]), np.array([-1.0, 1.0]))
    draw_area(canvas, AREA)
    found = [in_data(canvas, one.pieces[0]) for one in layer(canvas, "airspace")]
    assert sorted(np.abs(one).max() for one in found) == pytest.approx([0.4, 3.0, 4.0, 5.0, 6.0, 8.0])
    # Round a fix that is a point the template is the area itself, and is not drawn twice.
    point = replace(AREA, outlines={**AREA.outlines, "fix": (np.zeros(1), np.zeros(1))})
    sharp = canvas_for(np.array([-2.0, 2.0]), np.array([-1.0, 1.0]))
    draw_area(sharp, point)
    widths = [np.abs(in_data(sharp, one.pieces[0])).max() for one in layer(sharp, "airspace")]
    assert sorted(widths) == pytest.approx([4.0, 5.0, 6.0, 8.0])


@pytest.mark.parametrize(("off_east_nm", "off_north_nm"), [(0.0, 0.0), (7.0, 0.0), (-3.0, 9.0), (0.0, -9.0)])
def test_looking_out_shows_plan_and_area_with_a_little_room_and_the_caution_in_its_head(
    off_east_nm: float, off_north_nm: float
) -> None:
    canvas = canvas_for(np.array([-2.0, 2.0]), np.array([-1.0, 1.0]))
    east, north = square(5.0)
    parts = replace(AREA, outlines={"entry_area": (east + off_east_nm, north + off_north_nm)})
    x, y, wide, high = reach(canvas, parts)
    assert wide / high == pytest.approx(canvas.width / canvas.height)
    seen = np.array([[0.0, canvas.width, *canvas.x(east + off_east_nm)],
                     [0.0, canvas.height, *(canvas.height - canvas.y(north + off_north_nm))]])  # fmt: skip
    rooms = np.array([seen.min(axis=1) - (x, y), (x + wide, y + high) - seen.max(axis=1)])
    assert rooms.min() > 0.0 and rooms[0] == pytest.approx(rooms[1])
    # Six hundredths more than it needs one way.
    assert (np.ptp(seen, axis=1) / (wide, high)).max() == pytest.approx(1.0 / 1.06)
    say_caution_further_out(canvas, parts, layer="airspace")
    times = wide / canvas.width
    assert [one.x for one in canvas.letters] == pytest.approx([x + wide / 2.0] * 2)
    # Lettering keeps its size: so many times as far apart in what is seen.
    assert [one.y - y for one in canvas.letters] == pytest.approx([16.0 * times, 36.0 * times])


def test_round_the_area_stand_its_clearances_and_the_farthest_the_flight_was_out() -> None:
    found = spans(flown_hold())
    canvas = airspace(AREA, hold_series(flown_hold()), found, 263.0)
    (ring,) = (in_data(canvas, one.pieces[0]) for one in layer(canvas, "deepest"))
    assert np.hypot(ring[:, 0] - 1.5, ring[:, 1] + 2.0) == pytest.approx(np.full(len(ring), 0.5))
    (line,) = (in_data(canvas, one.pieces[0]) for one in layer(canvas, "course"))
    # Due back along 263°, as far as the outermost corner.
    assert line[-1] == pytest.approx([0.0, 0.0], abs=1e-9) and np.hypot(*line[0]) == pytest.approx(
        8.0 * math.sqrt(2.0)
    )
    assert math.degrees(math.atan2(*line[0])) == pytest.approx(263.0 - 180.0)
    told = {
        one.text: (one.x, canvas.height - one.y + 4.0) for one in canvas.letters if one.layer == "clearance"
    }
    # 984 ft are 300 m, 492 ft are 150 m; each between its line and the next within, where both reach north-east.
    assert list(told) == ["984 ft", "300 m", "492 ft", "150 m"]
    for text, middle_nm in (("984 ft", 5.5), ("300 m", 5.5), ("492 ft", 7.0), ("150 m", 7.0)):
        assert told[text] == pytest.approx((float(canvas.x(middle_nm)), float(canvas.y(middle_nm))))
    # Lines a tenth of a mile apart leave no room for a word between them.
    narrow = replace(AREA, buffer=[(square(5.1), 984.0), (square(8.0), 492.0)])
    letters = airspace(narrow, hold_series(flown_hold()), found, 263.0).letters
    assert [one.text for one in letters if one.layer == "clearance"] == ["492 ft", "150 m"]


def test_the_plan_shows_what_was_flown_where_it_was_flown() -> None:
    """Every phase over the motion's own positions, the course as far back as was flown, a ring a mile, numbers at the
    ends of the outbound legs."""
    judged, document = debrief()[0].holds[0], debrief()[1]
    motion = judged.flown.motion
    assert document.entry is not None
    asked = WrittenPath(east_nm=(0.0, 1.0, 2.0), north_nm=(0.0, -1.0, -1.0))
    subject = subject_of(judged, replace(document, entry=replace(document.entry, ideal_path=asked)))
    canvas = plan(subject)
    exact = {one.data["circuit"]: in_data(canvas, one.pieces[0]) for one in layer(canvas, "ideal")}
    assert exact.pop(0) == pytest.approx(np.column_stack([asked.east_nm, asked.north_nm]))
    for number, path in exact.items():
        assert path[[0, -1]] == pytest.approx(np.column_stack(subject.exact_paths[number])[[0, -1]])
    assert set(exact) == {1, 2, 3}
    none = subject_of(judged, replace(document, entry=replace(document.entry, ideal_path=None)))
    assert 0 not in {one.data["circuit"] for one in layer(plan(none), "ideal")}
    for stroke in layer(canvas, "flown"):
        (span,) = [
            one
            for one in subject.spans
            if (one.circuit, PHASES[one.phase].code) == (stroke.data["circuit"], stroke.data["phase"])
        ]
        at_s = np.array([span.start_s, span.end_s])
        ends = np.column_stack(
            [np.interp(at_s, motion.time_s, values) for values in (motion.east_nm, motion.north_nm)]
        )
        assert in_data(canvas, stroke.pieces[0])[[0, -1]] == pytest.approx(ends, abs=0.05)
        inside = (motion.time_s >= span.start_s - 1.0) & (motion.time_s <= span.end_s + 1.0)
        for east, north in in_data(canvas, stroke.pieces[0]):
            assert np.hypot(motion.east_nm[inside] - east, motion.north_nm[inside] - north).min() < 0.02
    drawn = {(one.data["circuit"], one.data["phase"]) for one in layer(canvas, "flown")}
    assert drawn == {(one.circuit, PHASES[one.phase].code) for one in subject.spans if one.in_hold}
    # From 30 s before the fix to 20 s after the hold all lies on the paper, clear of the edges.
    shown = motion.span(judged.flown.start_s - 30.0, judged.flown.end_s + 20.0)
    x, y = canvas.x(motion.east_nm[shown]), canvas.y(motion.north_nm[shown])
    assert x.min() > 0.0 and x.max() < canvas.width and y.min() >= 28.0 and y.max() <= canvas.height - 50.0
    (line,) = (in_data(canvas, one.pieces[0]) for one in layer(canvas, "course"))
    course = math.radians(INBOUND)
    held = motion.span(judged.flown.start_s, judged.flown.end_s)
    back_nm = -(motion.east_nm[held] * math.sin(course) + motion.north_nm[held] * math.cos(course)).min()
    assert line[0] == pytest.approx(
        [-1.06 * back_nm * math.sin(course), -1.06 * back_nm * math.cos(course)], rel=0.01
    )
    # Beside the fix stands its course, by both norths, clear of the line: 263° true less the variation of 3.2° east.
    told = [one for one in canvas.letters if one.layer == "course"]
    assert [(one.text, one.kind) for one in told] == [
        ("260°M", "course when-mag"),
        ("263°T", "course when-tru"),
    ]
    fix = float(canvas.x(0.0)), canvas.height - float(canvas.y(0.0))
    assert all(26.0 <= math.dist((one.x, one.y - 0.32 * canvas.letter_units), fix) < 57.0 for one in told)
    # The wind stands in its corner.
    assert {one.text for one in canvas.letters if one.layer == "wind"} == set(subject.wind_texts) != {""}
    # Also who never flew back of the fix sees a mile of the course.
    beyond = replace(subject, series=replace(subject.series, along_nm=np.abs(subject.series.along_nm)))
    (short,) = (in_data(canvas, one.pieces[0]) for one in layer(plan(beyond), "course"))
    assert np.hypot(*short[0]) == pytest.approx(1.06, abs=0.01)
    # Rings are cut by the paper; what is left of each is as far from the fix as it says.
    rings = [
        in_data(canvas, piece)
        for one in layer(canvas, "frame")
        if len(one.pieces[0]) > 8
        for piece in one.pieces
    ]
    radii = sorted({round(float(np.hypot(*ring.T).mean()), 2) for ring in rings})
    assert len(radii) >= 2 and radii == pytest.approx(np.arange(1.0, len(radii) + 1.0), abs=0.02)
    numbers = {one.text: one for one in canvas.letters if one.layer == "flown-numbers"}
    assert set(numbers) <= {"1", "2", "3"} and len(numbers) >= 2
    for text, letter in numbers.items():
        leg = judged.flown.circuits[int(text) - 1].outbound_leg
        assert leg is not None
        east, north = motion.at("east_nm", leg.end_s), motion.at("north_nm", leg.end_s)
        end = np.array([float(canvas.x(east)), canvas.height - float(canvas.y(north))])
        assert np.hypot(*(np.array([letter.x, letter.y - 0.32 * canvas.letter_units]) - end)) < 57.0
        assert letter.data["circuit"] == int(text)


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
