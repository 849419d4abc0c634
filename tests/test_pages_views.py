"""The views of a flight: plan, holding area, side and air-mass view, against the motion's own positions."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from analyser.pages.figures.canvas import Canvas, canvas_for
from analyser.pages.figures.views import (
    air,
    airspace,
    draw_area,
    draw_flown,
    plan,
    reach,
    say_caution_further_out,
    side,
)
from analyser.pages.shown_hold import _outlines
from analyser.pages.subject import PHASES, AreaParts, HoldSeries, Path, Span, hold_series, spans, subject_of
from analyser.schema.debrief_file import WrittenPath
from tests.pages_fixture import INBOUND
from tests.test_pages_geometry import debrief, flown_hold, in_data, layer


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
    # The key names what is drawn, each as it is drawn.
    for drawn, parts, count in ((canvas, AREA, 5), (sharp, point, 3)):
        strokes = {(one.edge, one.width, one.dash) for one in layer(drawn, "airspace")}
        key = _outlines(parts)
        assert {(f"var(--ink-{one.ink})", one.width, one.dash or ()) for one in key} == strokes
        assert len(key) == len(strokes) == len({one.words for one in key}) == count
    assert _outlines(None) == []


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
    # The caution stands at the foot, in two lines that end at the right edge.
    caution = [one for one in canvas.letters if one.layer == "caution"]
    assert " ".join(one.text for one in caution).startswith(
        "training illustration: not obstacle clearance, not for"
    )
    assert [(one.anchor, one.x) for one in caution] == [("end", pytest.approx(canvas.width - 6.0))] * 2
    assert canvas.height - 30.0 < caution[0].y < caution[1].y - 12.0 and caution[1].y < canvas.height
    # So too round corners that are none: where circles reach north-east is at 45°.
    angle = np.radians(np.arange(0.0, 361.0))
    round_, beyond = ((nm * np.sin(angle), nm * np.cos(angle)) for nm in (5.0, 7.0))
    parts = replace(AREA, outlines={**AREA.outlines, "entry_area": round_}, buffer=[(beyond, 984.0)])
    canvas = airspace(parts, hold_series(flown_hold()), found, 263.0)
    (one,) = [letter for letter in canvas.letters if letter.text == "984 ft"]
    at = 6.0 * math.sqrt(0.5)
    assert (one.x, canvas.height - one.y + 4.0) == pytest.approx(
        (float(canvas.x(at)), float(canvas.y(at))), abs=1.0
    )
    # North, the scale and the fix are there as on the plan.
    assert {"N"} < {letter.text for letter in canvas.letters} and layer(canvas, "fix")
    assert any(letter.text.endswith(" NM") for letter in canvas.letters)
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
    # What was right is a wide band with a dashed line in it, over the same places; the entry's a line alone.
    ideal = [one for one in layer(canvas, "ideal") if one.data["circuit"]]
    assert [(one.edge, one.width > 5.0, bool(one.dash)) for one in ideal] == [
        ("var(--ink-band)", True, False),
        ("var(--ink-pencil)", False, True),
    ] * len(subject.exact_paths)
    assert all(np.array_equal(a.pieces[0], b.pieces[0]) for a, b in zip(ideal[::2], ideal[1::2], strict=True))
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


def test_what_was_flown_well_before_or_after_the_hold_does_not_stretch_the_side_view() -> None:
    flown = flown_hold()
    found, series = spans(flown), hold_series(flown)
    inner = [span for span in found if span.in_hold]
    away = (series.time_s < inner[0].start_s - 25.0) | (series.time_s > inner[-1].end_s + 20.0)
    assert away.any()
    series = replace(
        series,
        altitude_ft=np.where(away, 9000.0, 4000.0),
        along_nm=np.where(away, -40.0, series.along_nm),
    )
    left, _, _, high = side(series, found, None).window
    assert left > -20.0 and high < 4500.0


def test_phases_are_as_thick_against_each_other_from_the_side_as_from_above() -> None:
    flown = flown_hold()
    found, series = spans(flown), hold_series(flown)
    above = canvas_for(series.east_nm, series.north_nm)
    draw_flown(above, series, found)
    series = replace(series, altitude_ft=np.full(series.time_s.size, 4000.0))
    widths = [
        {one.data["phase"]: one.width for one in layer(canvas, "flown")}
        for canvas in (above, side(series, found, None))
    ]
    assert set(widths[0]) == set(widths[1]) and len(set(widths[0].values())) > 1
    thinner = {widths[1][phase] / widths[0][phase] for phase in widths[0]}
    assert len({round(one, 6) for one in thinner}) == 1 and max(thinner) < 1.0


@pytest.mark.parametrize(("nm", "said"), [(1.2, "0.4 NM"), (12.0, "2 NM")])
def test_miles_under_the_side_view_are_whole_where_its_steps_are(nm: float, said: str) -> None:
    flown = flown_hold()
    found, series = spans(flown), hold_series(flown)
    far = float(np.abs(series.along_nm).max())
    series = replace(
        series, along_nm=series.along_nm * nm / far, altitude_ft=np.full(series.time_s.size, 4000.0)
    )
    miles = [
        one.text.removeprefix("−") for one in side(series, found, None).letters if one.kind == "tick minor"
    ]
    whole = nm > 8.0
    assert miles and all(text.endswith(" NM") and ("." in text) != whole for text in miles)
    assert said in miles


def test_in_the_air_mass_a_circle_lies_on_the_side_that_the_turn_was_banked_to() -> None:
    """In steady wind a turn is a circle there, as rolling is left out, and that of its own radius fits."""
    flown = flown_hold()
    series, found = hold_series(flown), spans(flown)
    turn = next(span for span in found if (span.circuit, span.phase) == (2, "inbound_turn"))
    cut = (series.time_s > turn.start_s + 8.0) & (series.time_s < turn.end_s - 8.0)
    speed_nm_s = np.hypot(np.diff(series.air_east_nm[cut]), np.diff(series.air_north_nm[cut])).sum() / np.ptp(
        series.time_s[cut]
    )
    turned = np.radians(np.ptp(np.unwrap(series.heading_deg[cut], period=360.0))) / np.ptp(series.time_s[cut])
    radius = float(speed_nm_s / turned)
    canvas = air(series, found, {(2, "inbound_turn"): radius})
    circles = [in_data(canvas, one.pieces[0]) for one in layer(canvas, "ideal")]
    # A band and a line in it.
    assert len(circles) == 2 and {one.data["circuit"] for one in layer(canvas, "ideal")} == {2}
    for circle in circles:
        middle = circle[:-1].mean(axis=0)
        assert np.hypot(*(circle - middle).T) == pytest.approx(radius, rel=0.01)
        away = np.hypot(series.air_east_nm[cut] - middle[0], series.air_north_nm[cut] - middle[1])
        assert away == pytest.approx(np.full(away.size, radius), rel=0.15)


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


def test_where_time_was_taken_out_the_word_stands_right_of_the_way_that_was_flown() -> None:
    """The bars across the track, the word beyond them: as who flies there has it on the right hand."""
    flown = flown_hold()
    found, series = spans(flown), hold_series(flown)
    for phase in ("outbound_leg", "inbound_leg"):
        leg = next(span for span in found if span.phase == phase)
        at_s = 0.5 * (leg.start_s + leg.end_s)
        canvas = canvas_for(series.east_nm, series.north_nm)
        draw_flown(canvas, replace(series, seams_s=(at_s,)), found)
        (word,) = [one for one in canvas.letters if one.text == "not timed"]
        x, y = (
            np.interp([at_s - 3.0, at_s, at_s + 3.0], series.time_s, one)
            for one in (canvas.x(series.east_nm), canvas.height - canvas.y(series.north_nm))
        )
        way = np.array([x[2] - x[0], y[2] - y[0]]) / math.hypot(x[2] - x[0], y[2] - y[0])
        off = np.array([word.x - x[1], word.y - y[1]])
        # Downwards on paper is larger, so the right hand of a way (a, b) is (-b, a).
        assert off @ np.array([-way[1], way[0]]) == pytest.approx(12.0, abs=1.5)
        assert word.data["circuit"] == leg.circuit


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
