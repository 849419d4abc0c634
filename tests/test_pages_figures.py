"""The drawings: thinning, layers, strips, sectors, waterfalls."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyser.pages import captions
from analyser.pages.figures.canvas import Canvas, thin
from analyser.pages.figures.charts import waterfall
from analyser.pages.figures.sectors import sectors
from analyser.pages.figures.strips import Strip, ribbon, strip_sheet
from analyser.pages.figures.svg import svg, used
from analyser.pages.figures.views import plan
from analyser.pages.subject import CODE, PHASES, Subject, hold_series, packed, replay, spans, subject_of
from analyser.pages.words import clock, direction, latitude, longitude, nice_step, number
from analyser.rules.load import load_regime
from tests.example_page import followed
from tests.pages_fixture import debriefed, typed

heights = st.lists(st.floats(-50, 50), min_size=2, max_size=60)


@given(heights, st.floats(0.01, 5))
def test_a_thinned_line_stays_within_its_tolerance(values: list[float], tolerance: float) -> None:
    x, y = np.arange(len(values), dtype=float), np.array(values)
    kept_x, kept_y = thin(x, y, tolerance)
    assert (kept_x[0], kept_x[-1]) == (x[0], x[-1])
    # Distance to the line is never more than the vertical distance to it times the cosine of its slope.
    slope = np.diff(kept_y) / np.diff(kept_x)
    which = np.clip(np.searchsorted(kept_x, x, side="right") - 1, 0, slope.size - 1)
    away = np.abs(y - np.interp(x, kept_x, kept_y)) / np.sqrt(1 + slope[which] ** 2)
    assert away.max() <= tolerance + 1e-9


def test_thinning_keeps_breaks() -> None:
    x, y = thin(np.arange(7.0), np.array([0, 0, 0, np.nan, 1, 1, 1.0]), 0.1)
    assert np.isnan(y).sum() == 1
    assert list(x[~np.isnan(y)]) == [0, 2, 4, 6]


def test_a_drawing_has_no_style_no_id_and_only_inks() -> None:
    canvas = Canvas(100, 50, (0, 10, 0, 5))
    canvas.line([0, 10], [0, 5], "out", 2.0, (4, 2), layer="flown", circuit=1, phase="ol")
    canvas.area([1, 2, 2], [1, 1, 2], "band", edge="ink", layer="band")
    canvas.letter(5, 2.5, 'a <b> & "c"', "note", "end", layer="lettering")
    text = str(svg(canvas, 'finding with "quotes" & <tags>', name="plan"))
    assert "style=" not in text
    assert " id=" not in text
    assert "#" not in re.sub(r"&#\d+;", "", text)
    assert 'stroke="var(--ink-out)"' in text
    assert 'stroke-dasharray="4,2"' in text
    assert '<g data-layer="flown"><g data-circuit="1"><g data-phase="ol">' in text
    assert "a &lt;b&gt; &amp;" in text
    assert 'aria-label="finding with &#34;quotes&#34; &amp; &lt;tags&gt;"' in text
    assert 'd="M0 50l100-50"' in text
    assert '<text class="l-note" text-anchor="end" x="50" y="25">' in text


def test_steps_from_point_to_point_lead_back_to_the_places() -> None:
    """Tenths that are summed up, never rounded twice: also a long line ends where it should."""
    rng = np.random.default_rng(4)
    x, y = np.cumsum(rng.uniform(0, 0.31, 400)), rng.uniform(0, 50, 400)
    y[[100, 250]] = np.nan
    canvas = Canvas(130, 50, (0, 130, 0, 50))
    canvas.line(x, y, "out", layer="flown")
    path = re.search(r' d="([^"]+)"', str(svg(canvas, "a line", name="plan")))
    assert path is not None
    pieces = followed(path.group(1))
    assert len(pieces) == 3
    known = canvas.strokes[0].pieces
    for found, piece in zip(pieces, known, strict=True):
        assert np.abs(found[0] - piece[0]).max() <= 0.0501
        assert np.abs(found[-1] - piece[-1]).max() <= 0.0501


@pytest.mark.parametrize("stretch", [False, True])
def test_a_drawing_is_written_as_it_lies_on_its_canvas(stretch: bool) -> None:
    """Read back from the page: lines and areas to a tenth of a unit, their pen, their places in layers; letters where
    they stand, in hundredths of the size where the drawing is stretched."""
    rng = np.random.default_rng(7)
    canvas = Canvas(640.0, 200.0, (0.0, 64.0, 0.0, 20.0), stretch=stretch)
    line_x, line_y = rng.uniform(0.0, 64.0, 30), rng.uniform(0.0, 20.0, 30)
    line_x[12] = np.nan
    canvas.line(line_x, line_y, "out", 2.25, (4.0, 2.5), layer="flown", circuit=2, phase="ol")
    canvas.line([3.0, 3.0001], [4.0, 4.0], "ink", 1.0, layer="flown", circuit=3)
    canvas.area([1.0, 5.0, 5.0, 1.0], [1.0, 1.0, 6.0, 6.0], "band", opacity=0.3, layer="band")
    canvas.area([7.0, 9.0, 8.0], [7.0, 7.0, 9.0], "paper", edge="good", width=1.4, opacity=1.0, layer="band")
    for place, anchor in enumerate(("start", "middle", "end")):
        canvas.letter(20.0 * place + 1.0, 7.77, f"here {place}", "note", anchor, right=1.5, circuit=place)
    root = ElementTree.fromstring(str(svg(canvas, "a drawing", name="plan", ids="h1")))
    drawn = list(root.iter("path"))
    assert len(drawn) == len(canvas.strokes) == 4
    for one, stroke in zip(drawn, canvas.strokes, strict=True):
        pieces = followed(one.attrib["d"])
        assert len(pieces) == len(stroke.pieces) and one.attrib["d"].endswith("z") == stroke.closed
        for found, piece in zip(pieces, stroke.pieces, strict=True):
            for x, y in piece:
                assert np.hypot(*(found - (x, y)).T).min() <= 0.0708
            # What is too short to be seen is a dot.
            assert len(found) >= 2 and np.ptp(found, axis=0).max() > 0.0
        assert one.get("fill") == stroke.fill and one.get("stroke", "none") == stroke.edge
        assert float(one.get("stroke-width", 1.0)) == (stroke.width if stroke.edge != "none" else 1.0)
        assert [float(dash) for dash in one.get("stroke-dasharray", "").split(",") if dash] == list(
            stroke.dash
        )
        assert float(one.get("opacity", 1.0)) == (1.0 if stroke.opacity is None else stroke.opacity)
    boxes = [one.get("viewBox") for one in root.iter("svg") if one.get("viewBox")]
    assert boxes == ["0 0 640 200"]
    for text, letter in zip(root.iter("text"), canvas.letters, strict=True):
        assert text.text == letter.text and text.get("text-anchor", "middle") == letter.anchor
        x, y = (float(text.attrib[key].removesuffix("%")) for key in ("x", "y"))
        if stretch:
            x, y = x / 100.0 * 640.0, y / 100.0 * 200.0
        assert (x, y) == pytest.approx((letter.x, letter.y), abs=0.04)
        assert text.get("data-circuit") == str(letter.data["circuit"])
    ids = [one.attrib["id"] for one in root.iter() if "id" in one.attrib]
    assert ids == ["h1-flown-2", "h1-flown-3"]


@pytest.mark.parametrize("place", [(0.0, 0.0), (3.0, -1.5), (-2.0, 2.0)])
def test_what_another_picture_uses_lies_at_the_same_place_of_the_map(place: tuple[float, float]) -> None:
    here, there = (
        Canvas(560.0, 400.0, (-4.0, 4.0, -3.0, 2.7143)),
        Canvas(220.0, 176.0, (-5.0, 6.0, -4.0, 4.8)),
    )
    moved = re.search(r"translate\((\S+) (\S+)\) scale\((\S+)\)", str(used("h1-flown-2", here, there)))
    assert moved is not None
    right, down, times = map(float, moved.groups())
    x, y = float(here.x(place[0])), here.height - float(here.y(place[1]))
    assert (times * x + right, times * y + down) == pytest.approx(
        (float(there.x(place[0])), there.height - float(there.y(place[1]))), abs=0.15
    )


def test_a_line_is_cut_to_the_sheet_and_an_area_is_not() -> None:
    canvas = Canvas(100, 100, (0, 100, 0, 100))
    canvas.line([-500, 50, 50, 900], [50, 50, 60, 60], "out")
    canvas.line([-50, 150], [300, 300], "out")
    canvas.area([-500, 500, 500], [0, 0, 50], "band")
    assert len(canvas.strokes) == 2
    line, area = canvas.strokes
    assert line.pieces[0].min() >= -6 and line.pieces[0].max() <= 106
    assert area.closed and area.pieces[0].max() == 500


@pytest.mark.parametrize("way", [(-500.0, 50.0), (50.0, 500.0)])
def test_a_line_that_leaves_the_sheet_on_one_side_ends_there(way: tuple[float, float]) -> None:
    canvas = Canvas(100, 100, (0, 100, 0, 100))
    canvas.line(way, (50.0, 50.0), "out")
    canvas.line((50.0, 50.0), way, "out")
    for stroke in canvas.strokes:
        assert stroke.pieces[0].min() >= -6.0 and stroke.pieces[0].max() <= 106.0


def test_a_stretch_is_drawn_with_one_point_beyond_each_end() -> None:
    series = subject().series
    series = replace(series, time_s=np.arange(float(series.time_s.size)))
    for start_s, end_s, first, last in ((10.5, 20.5, 10, 21), (0.0, 3.5, 0, 4), (-5.0, 0.5, 0, 1)):
        found = series.time_s[series.within(start_s, end_s)]
        assert (found[0], found[-1]) == (first, last)


def test_a_colour_of_its_own_is_refused() -> None:
    canvas = Canvas(100, 50, (0, 10, 0, 5))
    with pytest.raises(KeyError):
        canvas.line([0, 10], [0, 5], "red")
        svg(canvas, "a red line", name="plan")


def test_the_script_s_mapping_is_the_drawing_s() -> None:
    canvas = Canvas(560, 400, (-2.0, 3.0, -1.0, 2.5))
    canvas.line([-2.0, 3.0], [2.5, -1.0], "out")
    found = canvas.mapping()
    assert found["ox"] + found["kx"] * 3.0 == pytest.approx(560, abs=0.01)
    assert found["oy"] + found["ky"] * 2.5 == pytest.approx(0, abs=0.01)
    assert 'd="M0 0l560 400"' in str(svg(canvas, "a line", name="plan"))


def test_phases_cover_the_whole_time_without_gap() -> None:
    flown = debriefed(circuits=4)[0].holds[0].flown
    found = spans(flown)
    assert found[0].start_s == flown.motion.time_s[0]
    assert found[-1].end_s == flown.motion.time_s[-1]
    assert all(a.end_s == b.start_s for a, b in pairwise(found))
    legs = [span for span in found if span.phase == "outbound_leg"]
    assert [span.clock_s for span in legs] == [
        max(circuit.abeam_s or 0.0, circuit.outbound_leg.start_s)
        for circuit in flown.circuits
        if circuit.outbound_leg
    ]


def test_in_steady_wind_a_turn_is_a_circle_in_the_air_mass() -> None:
    flown = debriefed()[0].holds[0].flown
    series = hold_series(flown)
    turn = flown.circuits[0].outbound_turn
    assert turn is not None
    cut = series.within(turn.start_s + 8, turn.end_s - 14)
    east, north = series.air_east_nm[cut], series.air_north_nm[cut]
    # Centre and radius of the circle through all points, by linear least squares.
    a = np.column_stack((2 * east, 2 * north, np.ones_like(east)))
    middle_east, middle_north, _ = np.linalg.lstsq(a, east**2 + north**2, rcond=None)[0]
    radius = np.hypot(east - middle_east, north - middle_north)
    assert np.ptp(radius) / radius.mean() < 0.05
    over_ground = np.hypot(series.east_nm[cut] - series.east_nm[cut].mean(), series.north_nm[cut])
    assert np.ptp(over_ground) > 0


def subject() -> Subject:
    made, plain = debriefed()
    return subject_of(made.holds[0], typed(plain).holds[0])


def test_the_plan_keeps_its_layers_in_order() -> None:
    text = str(svg(plan(subject()), "a plan", name="plan"))
    layers = list(dict.fromkeys(re.findall(r'data-layer="([\w-]+)"', text)))
    order = ["frame", "airspace", "course", "ideal", "reflown", "other", "flown", "fix", "wind"]
    assert [layer for layer in layers if layer in order] == order


def test_where_time_was_taken_out_is_marked_on_plan_ribbon_and_strips() -> None:
    flown = debriefed()[0].holds[0].flown
    turn = flown.circuits[0].inbound_turn
    assert turn is not None
    leg = turn.end_s + 10.0
    paused = replace(flown, motion=replace(flown.motion, seams_s=(leg,)))
    series = hold_series(paused)
    (marked,) = [
        letter for letter in plan(replace(subject(), series=series)).letters if letter.text == "not timed"
    ]
    assert marked.data["circuit"] == 1
    assert not [letter for letter in plan(subject()).letters if letter.text == "not timed"]
    strip = Strip("bank", "Bank", "°", 1, series.time_s, series.bank_deg)
    window = (float(series.time_s[0]), float(series.time_s[-1]))
    for canvas in (strip_sheet(strip, spans(flown), window, [leg]), ribbon(spans(flown), window, 0.0, [leg])):
        (line,) = [stroke for stroke in canvas.strokes if stroke.layer == "seams"]
        assert line.pieces[0][:, 0] == pytest.approx([canvas.x(leg)] * 2)
    assert f"upright at {clock(leg)}: the recording stood still" in captions.ribbon(spans(flown), 0.0, [leg])
    assert "stood still" not in captions.ribbon(spans(flown), 0.0)


@pytest.mark.parametrize("side", [1, -1])
def test_sectors_lie_as_in_the_published_example(side: int) -> None:
    """Inbound 010°: headings 120–190 offset, 190–300 parallel, 300–120 direct; a left-hand hold is its mirror image.

    From an ATPL air-law question bank, quoted. An aircraft on heading h comes from bearing h + 180.
    """
    canvas = sectors(10.0, side, None, None, (), load_regime("icao").entry)
    # The middle of the lettering, from the middle of the canvas.
    raised = 0.32 * canvas.letter_units
    places = {letter.text: (letter.x - 220, 180 - letter.y + raised) for letter in canvas.letters}
    right_hand = {"offset": (120.0, 190.0), "parallel": (190.0, 300.0), "direct": (300.0, 480.0)}
    for name, (first, last) in right_hand.items():
        bearing = float(np.degrees(np.arctan2(*places[name])))
        heading = bearing + 180 if side > 0 else 20.0 - (bearing + 180)
        assert 5 <= (heading - first) % 360 <= last - first - 5, name
    # The borders themselves, as headings.
    lines = [
        stroke.pieces[0] for stroke in canvas.strokes if stroke.layer == "borders" and stroke.width == 1.0
    ]
    drawn = [
        float(np.degrees(np.arctan2(end[0] - 220, 180 - end[1]))) + 180
        for end in (line[-1] for line in lines)
    ]
    asked = sorted((border if side > 0 else 20.0 - border) % 360 for border in (120.0, 190.0, 300.0))
    assert sorted(one % 360 for one in drawn) == pytest.approx(asked, abs=0.2)


def test_a_waterfall_adds_up_and_sums_small_shares() -> None:
    shares = [
        (f"cause {k}", value) for k, value in enumerate((0.4, -0.2, 0.1, 0.05, 0.03, -0.02, 0.01, 0.01))
    ]
    total = sum(value for _, value in shares)
    canvas = waterfall(shares, total, "NM", 2)
    texts = [letter.text for letter in canvas.letters]
    assert "3 smaller shares" in texts
    assert texts[-2:] == ["measured", "+0.38 NM"]
    figures = [float(t.split()[0].replace("−", "-")) for t in texts if t.endswith("NM")]
    assert sum(figures[:-1]) == pytest.approx(figures[-1], abs=0.011)


def test_numbers_are_written_as_in_the_trade() -> None:
    assert direction(3.2, 3.4) == ("360°M", "003°T")
    assert direction(359.6, None) == ("360°T", "360°T")
    assert direction(10.0, -5.0) == ("015°M", "010°T")
    assert number(-0.004, 2) == "0.00"
    assert number(-1234.5) == "−1,234"
    assert number(3.0, 1, signed=True) == "+3.0"
    assert clock(3750) == "1:02:30"
    assert clock(-3.4) == "−0:03"
    assert latitude(-47.9999999) == "48°00.00′ S"
    assert longitude(8.085) == "008°05.10′ E"
    assert (latitude(0.5), latitude(-0.5)) == ("00°30.00′ N", "00°30.00′ S")
    assert (longitude(0.25), longitude(-0.25)) == ("000°15.00′ E", "000°15.00′ W")
    assert [nice_step(length, 4) for length in (4.0, 0.9, 730.0)] == [1.0, 0.5, 200.0]


def test_series_are_written_in_few_characters() -> None:
    """By hand, base 43: differenced twice 10 and -5, written 20 and 9; 1000 is 2000 = 22 + 43 (3 + 43 · 1)."""
    assert len(CODE) == 86
    assert packed(np.array([1.0, 1.5, 2.0]), 1) == [1, 2, 3, CODE[20] + CODE[9]]
    assert packed(np.array([1000.0, np.nan]), 0) == [0, 0, 2, f"{CODE[43 + 22]}{CODE[43 + 3]}{CODE[1]} "]
    # Nothing that JSON or HTML would escape.
    assert not set(CODE) & set(" \"'&<>\\")


def unpacked(decimals: int, order: int, length: int, numbers: str) -> np.ndarray:
    """Read a series back, as it is said to be written: signs by turns, digits to the base of 43, a space for a gap."""
    read, value, digit = list[float](), 0, 1
    for character in numbers:
        place = CODE.find(character)
        value += digit * (place % 43)
        if place >= 43:
            digit *= 43
            continue
        read.append(np.nan if character == " " else value // 2 if value % 2 == 0 else -(value + 1) // 2)
        value, digit = 0, 1
    found = np.array([*read, *[0.0] * (length - len(read))])
    for _ in range(order):
        found = np.cumsum(found)
    return found / 10.0**decimals


@given(st.lists(st.floats(-1e6, 1e6) | st.just(np.nan), min_size=1, max_size=40), st.integers(0, 3))
def test_a_series_is_read_back_to_its_last_decimal(values: list[float], decimals: int) -> None:
    series = np.array(values)
    found = unpacked(*packed(series, decimals))
    assert found == pytest.approx(np.round(series, decimals), abs=1e-6, nan_ok=True)


def test_the_replay_has_what_was_flown_as_finely_as_it_is_shown() -> None:
    """Cursors move by tenths of a second and of a degree of bank, and by a thousandth of a mile; the figures beside
    them are whole feet, knots and degrees, the airspeed of a strip in tenths."""
    shown = subject()
    found = replay(shown, {}, 2)
    series = shown.series
    flown = {"t": (series.time_s, 1), "e": (series.east_nm, 3), "n": (series.north_nm, 3), "bank": (series.bank_deg, 1),
             "alt": (series.altitude_ft, 0), "gs": (series.ground_speed_kt, 0), "hdg": (series.heading_deg, 0),
             "tas": (series.tas_kt, 1 if np.isnan(series.ias_kt).all() else 0)}  # fmt: skip
    for name, (values, decimals) in flown.items():
        assert found["columns"][name][0] == decimals
        assert unpacked(*found["columns"][name]) == pytest.approx(
            values, abs=0.5001 * 10.0**-decimals, nan_ok=True
        )
    assert [span[1:] for span in found["spans"]] == [
        [
            one.circuit,
            *(pytest.approx(time_s, abs=0.0501) for time_s in (one.start_s, one.end_s, one.clock_s)),
        ]
        for one in shown.spans
    ]
    # In tenths: more figures would only make the page longer.
    assert all(len(repr(time_s).partition(".")[2]) <= 1 for span in found["spans"] for time_s in span[2:])
    # Where the air had carried the fix since the arrival: nowhere then, and on by what it blows.
    blown = unpacked(*found["columns"]["fe"]), unpacked(*found["columns"]["fn"])
    start, wind = shown.flown.start_s, shown.document.wind
    assert [np.interp(start, series.time_s, one) for one in blown] == pytest.approx([0.0, 0.0], abs=0.002)
    hour = (
        np.interp(start + 360.0, series.time_s, blown[0]),
        np.interp(start + 360.0, series.time_s, blown[1]),
    )
    assert wind.east_kt is not None and wind.north_kt is not None
    assert hour == pytest.approx((-0.1 * wind.east_kt, -0.1 * wind.north_kt), abs=0.15)
    assert [one[:2] for one in found["spans"]] == [
        [PHASES[one.phase].code, one.circuit] for one in shown.spans
    ]
    for written, span in zip(found["spans"], shown.spans, strict=True):
        assert written[2:] == pytest.approx([span.start_s, span.end_s, span.clock_s], abs=0.0501)
    assert (found["shown"], found["start"]) == (2, pytest.approx(start, abs=0.0501))
    assert found["course"] == pytest.approx(shown.flown.hold.inbound_course_true_deg, abs=0.0006)
