"""The kneeboard card: its numbers against sums by hand, its rules, its page and its print."""

import dataclasses
import json
import math
import re
from html import escape

import pytest

from analyser.brief import briefing_document
from analyser.errors import UsageError
from analyser.holds.briefing import flight_of, make_briefing, with_station
from analyser.holds.definition import Hold, LegLimit
from analyser.pages.card import card_page, sketch
from analyser.pages.card_writer import card_of, lines
from analyser.rules.load import load_regime
from tests.pages_browser import opened

# Invented, inbound due north, right-hand.
HOLD = Hold(50.0, 8.0, 0.0, "right", name="Invented practice hold", variation_deg=3.0)


def briefing(
    hold=HOLD, *, rules="faa", leave_after_s=(200.0, 300.0), fix_dme_nm=None, towards=True, **flight
):
    if fix_dme_nm is not None:
        hold = with_station(hold, fix_dme_nm, inbound_towards_station=towards)
    known = {"altitude_ft": 5000, "tas_kt": 120} | flight
    return make_briefing(
        hold, load_regime(rules), flight_of(hold, **known), leave_after_s=leave_after_s, when=2026.5
    )


def rows_of(card):
    return {row.label: row for row in (*card.hold, *card.circuit)}


def table_of(card, title):
    return next(table for table in card.tables if table.title.startswith(title))


def test_still_air_by_hand():
    # 120 kt, one minute inbound, no wind: outbound 180° true for a minute, 18° of bank (18.24), rolled at 5°/s:
    # two turns of 60 + 3.65 s, two legs of 60 s: 247 s.
    card = card_of(briefing(wind=(0, 0)), magnetic=False)
    rows = rows_of(card)
    assert rows["Outbound heading"].value == "180°T"
    assert rows["Inbound heading"].value == "360°T"
    assert rows["Outbound time"].value == "1:00"
    assert rows["Outbound time"].detail == "from abeam the fix"
    assert rows["Bank"].value == "18°"
    assert rows["Whole circuit"].value == "4:07"
    assert rows["Turn in when"].value.endswith("off the course")
    assert card.warnings == ()


def test_magnetic_and_true_differ_by_the_variation():
    made = briefing(wind=(90, 20))
    magnetic, true = rows_of(card_of(made)), rows_of(card_of(made, magnetic=False))
    shown = [int(rows["Outbound heading"].value[:3]) for rows in (magnetic, true)]
    assert (shown[1] - shown[0]) % 360 == pytest.approx(made.variation.variation_deg, abs=1)
    assert "240" not in true["Wind"].value
    assert magnetic["Wind"].value == true["Wind"].value == "090°T / 20 kt"


def test_crosswind_heading_is_the_tables():
    # Worked by hand for 120 kt and 20 kt from the right: 9.59° inbound; 27.76° outbound without rolling time,
    # which the rolling changes by no more than a degree or so.
    rows = rows_of(card_of(briefing(wind=(90, 20)), magnetic=False))
    assert rows["Inbound heading"].value == "010°T"
    assert rows["Inbound heading"].detail == "10° right"
    assert int(rows["Outbound heading"].value[:3]) == pytest.approx(180 - 27.76, abs=1.3)
    assert rows["Outbound heading"].detail.endswith("° left")


def test_every_figure_that_rests_on_a_rule_names_it():
    card = card_of(briefing(wind=(90, 20), arrival_heading_true_deg=250))
    rows = rows_of(card)
    assert any("AIM 5-3-8 j.8(b)" in rule for rule in rows["Bank"].rules)
    assert any("AIM 5-3-8 j.4(b)" in rule for rule in rows["Outbound time"].rules)
    assert any("AIM 5-3-8 j.2" in rule for rule in rows["Maximum speed"].rules)
    assert any("AIM 5-3-8 j:" in rule for rule in rows["Leg"].rules)
    for row in card.circuit:
        assert row.rules, row.label
    for table in card.tables:
        assert table.rules, table.title
    named = {rule for row in rows.values() for rule in row.rules}
    named |= {rule for table in card.tables for rule in table.rules}
    assert set(card.rules) == named
    assert card.marks(rows["Bank"].rules) == str(card.rules.index(rows["Bank"].rules[0]) + 1)


def test_entry_for_an_arrival_heading():
    # Inbound 360, right-hand: 190 lies in the parallel sector (180 to 290), 5° zone not reached.
    entry = table_of(card_of(briefing(wind=(0, 0), arrival_heading_true_deg=190), magnetic=False), "Entry")
    assert "190°T" in entry.title
    ((name, headings, over, time, then),) = entry.rows
    assert (name, headings, over, time) == ("parallel", "180°T to 290°T", "left through 10° to 180°T", "1:00")
    assert then.startswith("left")
    both = table_of(card_of(briefing(wind=(0, 0), arrival_heading_true_deg=183)), "Entry")
    # The FAA calls the offset entry a teardrop (AIM 5-3-8 j.3(b)).
    assert [row[0] for row in both.rows] == ["parallel", "teardrop"]
    every = table_of(card_of(briefing(wind=(0, 0))), "Entry")
    assert [row[0] for row in every.rows] == ["direct", "teardrop", "parallel"]


@pytest.mark.parametrize(
    ("wind_kt", "speeds"), [(5, ("0 kt", "5 kt", "15 kt")), (11, ("1 kt", "11 kt", "21 kt"))]
)
def test_wind_table_moves_by_ten_knots_and_twenty_degrees(wind_kt, speeds):
    winds = table_of(card_of(briefing(wind=(10, wind_kt)), magnetic=False), "If the wind")
    assert [row[0] for row in winds.rows] == ["350°T", "010°T", "030°T"]
    assert winds.head[1:] == speeds
    assert all(
        re.fullmatch(r"\d{3}°T \d:\d\d( \(\d:\d\d\))?, in \d{3}°T", cell) for cell in winds.rows[1][1:]
    )


def test_leaving_by_hand():
    # Without wind, leaving after 200 s: 200 = 2 (60 + 3.65) + 2 T, T = 36.4 s; turn in at 63.65 + 36.4 = 100 s.
    table = table_of(card_of(briefing(wind=(0, 0)), magnetic=False), "Leaving")
    assert table.rows[0] == ("3:20", "1 short", "180°T", "0:36", "1:40")
    # Five minutes: a full circuit leaves 53 s, and two of 150 s would have less than 30 s inbound (Doc 8168 Vol II).
    assert table.rows[1][1] == "no: nearest 4:07"
    impossible = table_of(card_of(briefing(wind=(0, 0), leave_after_s=(30.0,))), "Leaving")
    assert impossible.rows[0][1].startswith("no: nearest")


def test_the_sketchs_gate_line_runs_from_the_end_of_the_outbound_leg_to_the_fix_as_the_card_says():
    made = briefing(wind=(60, 25))
    canvas = sketch(made, magnetic=False)
    (gate,) = [stroke for stroke in canvas.strokes if stroke.layer == "gate"]
    outbound = next(stroke for stroke in canvas.strokes if stroke.layer == "circuit")
    end, fix = gate.pieces[0]
    assert fix == pytest.approx([float(canvas.x(0.0)), canvas.height - float(canvas.y(0.0))])
    assert end == pytest.approx(outbound.pieces[0][-1], abs=4.0)
    bearing = math.degrees(math.atan2(fix[0] - end[0], end[1] - fix[1])) % 360.0
    said = rows_of(card_of(made, magnetic=False))["Turn in when"].value
    assert said.startswith(f"fix bears {round(bearing):03d}°T")


def drawn(canvas, layer):
    """Return the lines of a layer as miles east and north of the fix."""
    left, right, _, top = canvas.window
    per_unit = (right - left) / canvas.width
    return [
        (stroke.pieces[0] * (1.0, -1.0) * per_unit) + (left, top)
        for stroke in canvas.strokes
        if stroke.layer == layer
    ]


@pytest.mark.parametrize(("turns", "side"), [("right", 1.0), ("left", -1.0)])
def test_the_sketch_is_the_circuit_from_the_fix_to_the_fix_with_headings_outside_and_the_wind(turns, side):
    """120 kt inbound due north, turns of 3° a second: circles of 0.64 NM, legs of two miles, the pattern south of the
    fix on its holding side."""
    made = briefing(dataclasses.replace(HOLD, turns=turns), wind=(0, 0))
    canvas = sketch(made, magnetic=False)
    out, back = drawn(canvas, "circuit")
    assert out[0] == pytest.approx((0.0, 0.0), abs=0.02) and back[-1] == pytest.approx((0.0, 0.0), abs=0.02)
    # The halves meet where the inbound turn begins: abeam the end of the minute, a diameter aside.
    assert out[-1] == pytest.approx(tuple(back[0]), abs=1e-9)
    assert out[-1] == pytest.approx((side * 2 * 120.0 / 60.0 / math.pi, -2.0), rel=0.1)
    every = [*out, *back]
    assert min(side * east for east, _ in every) == pytest.approx(0.0, abs=0.02)
    assert max(north for _, north in every) == pytest.approx(0.64, rel=0.15)
    assert min(north for _, north in every) == pytest.approx(-2.64, rel=0.1)
    (course,) = drawn(canvas, "drawing")
    assert course[-1] == pytest.approx((0.0, 0.0), abs=1e-9)
    assert (
        course[0][0] == pytest.approx(0.0, abs=1e-9) and course[0][1] < min(north for _, north in every) - 0.3
    )
    told = {one.text: one.x for one in canvas.letters if one.kind.startswith("strong")}
    # The pattern is drawn between the two headings, each beside its own leg.
    assert side * told["180°T"] > side * float(canvas.x(out[-1][0]))
    assert side * told["360°T"] < side * float(canvas.x(0.0))
    assert drawn(canvas, "wind") == []
    x = [float(canvas.x(east)) for east, _ in every]
    assert 0.1 * canvas.width < min(x) and max(x) < 0.9 * canvas.width


@pytest.mark.parametrize(("turns", "side"), [("right", 1.0), ("left", -1.0)])
@pytest.mark.parametrize("from_deg", [90, 270])
def test_also_across_the_wind_no_heading_is_written_between_the_legs(turns, side, from_deg):
    made = briefing(dataclasses.replace(HOLD, turns=turns), wind=(from_deg, 30))
    canvas = sketch(made, magnetic=False)
    told = {one.kind: one for one in canvas.letters if one.kind.startswith("strong")}
    fix, turning = float(canvas.x(0.0)), float(canvas.x(drawn(canvas, "circuit")[0][-1][0]))
    assert side * told["strong in"].x < side * fix < side * turning
    assert side * told["strong out"].x > side * (fix + turning) / 2.0
    # Each runs on away from the pattern.
    ends = ("end", "start") if side > 0 else ("start", "end")
    assert (told["strong in"].anchor, told["strong out"].anchor) == ends


@pytest.mark.parametrize(("from_deg", "speed_kt"), [(60, 25), (200, 1)])
def test_the_sketch_has_the_winds_arrow_where_a_wind_is_forecast(from_deg, speed_kt):
    canvas = sketch(briefing(wind=(from_deg, speed_kt)), magnetic=True)
    stem = drawn(canvas, "wind")[0]
    towards = math.degrees(math.atan2(*(stem[-1] - stem[0]))) % 360.0
    assert towards == pytest.approx((from_deg + 180.0) % 360.0)
    assert {one.text for one in canvas.letters if one.layer == "wind"} == {f"{from_deg:03d}°T/{speed_kt}"}


def test_an_entry_is_sketched_where_the_arrival_is_known_and_not_direct():
    """Inbound due north: from the north-east a parallel entry leads out beside the course, and back to the fix."""
    assert drawn(sketch(briefing(wind=(0, 0))), "entry") == []
    assert drawn(sketch(briefing(wind=(0, 0), arrival_heading_true_deg=20)), "entry") == []
    (path,) = drawn(sketch(briefing(wind=(0, 0), arrival_heading_true_deg=230)), "entry")
    assert path[0] == pytest.approx((0.0, 0.0), abs=0.02)
    assert path[:, 1].min() < -1.5


def test_times_of_leaving_that_have_one_answer_are_said_once():
    # Still air, a circuit of 247 s by hand: at 230 and 235 s one short circuit, at 300 and 310 s nothing but 4:07.
    table = table_of(card_of(briefing(wind=(0, 0), leave_after_s=(230.0, 235.0, 300.0, 310.0))), "Leaving")
    assert [row[0] for row in table.rows] == ["3:50", "3:55", "5:00 to 5:10"]
    assert table.rows[-1][1:] == ("no: nearest 4:07", "–", "–", "–")


def test_the_small_card_has_the_outbound_leg_in_other_winds_and_the_nearest_rule_of_thumb():
    made = briefing(wind=(90, 20))
    card = card_of(made, magnetic=False)
    winds, thumbs = card.short
    assert winds.head == ("wind from", "10 kt", "20 kt", "30 kt")
    whole = table_of(card, "If the wind")
    for row, full in zip(winds.rows, whole.rows, strict=True):
        for cell, long in zip(row[1:], full[1:], strict=True):
            assert re.fullmatch(r"\d{3}°T \d:\d\d", cell)
            assert long.startswith(cell)
    # Of two and three drifts the nearest: three, 29°, against 27.76° by hand.
    nearest = {row[0]: row[2] for row in thumbs.rows}
    assert set(nearest) == {row[0] for row in table_of(card, "Rules of thumb").rows}
    assert nearest["outbound correction"].count("°") == 1 and "✓" in nearest["outbound correction"]
    page = card_page(made, card, paper="a6", magnetic=False)
    assert "nearest rule" in page and "triple for a minute" not in page.replace(
        nearest["outbound correction"], ""
    )


def test_a_correction_of_nothing_is_called_so():
    rows = rows_of(card_of(briefing(wind=(0, 20))))
    assert rows["Outbound heading"].detail == rows["Inbound heading"].detail == "no correction"


def test_the_card_gives_the_outbound_time_from_wings_level_too_where_it_differs():
    # Wind along the course drifts the first turn, 30 kt for 64 s by 0.53 NM: at 150 kt abeam is passed 13 s sooner.
    made = briefing(wind=(0, 30))
    rows = rows_of(card_of(made))
    assert rows["Outbound time"].detail == "from abeam the fix"
    level_s = made.exact.outbound_time_s
    assert rows["… from wings level"].value == f"{round(level_s) // 60}:{round(level_s) % 60:02d}"
    assert abs(made.exact.outbound_timed_s - level_s) == pytest.approx(12.7, abs=1.5)
    assert "(" in table_of(card_of(made), "If the wind differs").rows[0][1]
    assert "… from wings level" not in rows_of(card_of(briefing(wind=(0, 0))))


@pytest.mark.parametrize("leg", [None, LegLimit(minutes=1.0), LegLimit(distance_nm=4.0)])
@pytest.mark.parametrize("rules", ["icao", "faa"])
def test_the_card_is_read_in_the_order_of_flying(rules, leg):
    """Roll out, time, turn in, come back; the time from wings level begins with dots, for it goes on from the one from
    abeam, and a multiple of the inbound correction needs that correction before it."""
    made = briefing(dataclasses.replace(HOLD, leg=leg), rules=rules, wind=(120, 30))
    labels = [row.label for row in card_of(made).circuit]
    asked = ["Outbound heading", "Outbound time", "… from wings level", "Turn in when", "Inbound heading",
             "Outbound drift", "Inbound leg", "Bank", "Turns take", "Whole circuit"]  # fmt: skip
    assert [one for one in labels if one in asked] == [one for one in asked if one in labels]
    assert {"Outbound heading", "Inbound heading", "Outbound drift", "… from wings level"} <= set(labels)
    assert labels.index("… from wings level") == labels.index("Outbound time") + 1


def test_warnings():
    fast = card_of(briefing(tas_kt=None, ias_kt=205, wind=(0, 0)))
    assert any("205 KIAS is above the maximum of 200 KIAS" in said for said in fast.warnings)
    assert any("still air is assumed" in said for said in card_of(briefing()).warnings)
    strong = card_of(briefing(wind=(0, 60)))
    assert any(said.startswith("No circuit closes with 60 s") for said in strong.warnings)
    assert strong.thumbs is None
    old = make_briefing(HOLD, load_regime("faa"), flight_of(HOLD, altitude_ft=5000, tas_kt=120), when=2035.0)
    assert any("outside the magnetic model's years" in said for said in card_of(old).warnings)


def test_wind_that_nothing_can_be_flown_in():
    made = briefing(wind=(0, 130))
    card = card_of(made)
    assert card.circuit == ()
    assert [table.title for table in card.tables] == ["Entry"]
    assert "too strong" in card.warnings[0]
    document = briefing_document(made)
    assert document["circuit"]["outbound_timed_s"] is None
    json.dumps(document, allow_nan=False)
    assert "too strong" in card_page(made, card)


def test_rules_of_thumb_with_their_error():
    thumbs = {row[0]: row for row in table_of(card_of(briefing(wind=(90, 20))), "Rules of thumb").rows}
    # Three and two times 9.59°, against 27.76° without rolling time.
    assert "triple drift: 29° left ✓" in thumbs["outbound correction"][2]
    assert re.search(r"double drift: 19° left \(out by [789]°\)", thumbs["outbound correction"][2])
    assert "a tenth of the TAS plus 7: 19° ✓" in thumbs["bank"][2]


def test_distance_leg_and_icao_leg():
    distance = dataclasses.replace(HOLD, leg=LegLimit(distance_nm=4.0))
    rows = rows_of(card_of(briefing(distance, rules="icao", wind=(0, 0))))
    assert rows["Leg"].value == "4.0 NM outbound"
    # 4 NM at 100 kt take 144 s.
    assert briefing(distance, rules="icao", tas_kt=100, wind=(0, 15)).still_air_s == pytest.approx(144.0)
    assert rows["Outbound time"].value == "2:00"
    icao = rows_of(card_of(briefing(rules="icao", wind=(0, 20))))
    assert icao["Leg"].value == "1 min outbound, in still air"
    assert icao["Inbound leg"].value == "1:12, 2.0 NM"


# FAA AIM figures 5-3-5 and 5-3-6: fix at 10 NM, 5 NM leg, towards → 15 DME; fix at 28 NM, 8 NM, away → 20.
@pytest.mark.parametrize(("fix", "leg", "towards", "end"), [(10, 5, True, "15.0"), (28, 8, False, "20.0")])
def test_dme_that_ends_the_outbound_leg(fix, leg, towards, end):
    hold = dataclasses.replace(HOLD, leg=LegLimit(distance_nm=leg))
    made = briefing(hold, wind=(0, 0), fix_dme_nm=fix, towards=towards)
    row = rows_of(card_of(made))["Outbound ends at"]
    assert (row.value, row.detail) == (f"{end} DME", "as charted, whatever the time")
    assert briefing_document(made)["leg"]["outbound_end_dme_nm"] == float(end)
    with pytest.raises(UsageError, match="no distance leg"):
        briefing(fix_dme_nm=fix)
    with pytest.raises(UsageError, match="longer than"):
        briefing(hold, fix_dme_nm=leg - 1, towards=False)
    with pytest.raises(UsageError, match="longer than"):
        briefing(hold, fix_dme_nm=leg, towards=False)


@pytest.mark.slow
@pytest.mark.parametrize(("fix", "towards", "end"), [(10, True, 15.0), (28, False, 23.0)])
@pytest.mark.parametrize("from_deg", [0.0, 180.0, 90.0])
def test_the_cards_own_time_turns_in_at_the_charted_distance_in_any_wind(fix, towards, end, from_deg):
    """FAA AIM 5-3-8 j.5, j.7(a)(4): the charted length limits the outbound leg, never the inbound one."""
    hold = dataclasses.replace(HOLD, leg=LegLimit(distance_nm=5.0))
    made = briefing(hold, tas_kt=120, wind=(from_deg, 40), fix_dme_nm=fix, towards=towards)
    assert made.exact_end_dme_nm == pytest.approx(end, abs=1e-3)
    assert rows_of(card_of(made))["Outbound ends at"].detail == "as charted, whatever the time"
    document = briefing_document(made)["leg"]
    assert document["exact_end_dme_nm"] == pytest.approx(document["outbound_end_dme_nm"], abs=1e-3)
    if from_deg == 0.0:
        # By hand: 40 kt on the tail outbound drift the inbound turn out by 0.67 NM (rolling adds a little).
        assert made.exact.inbound_distance_nm == pytest.approx(5.67, abs=0.1)


def test_entries_of_a_distance_hold_end_at_its_distance():
    hold = dataclasses.replace(HOLD, leg=LegLimit(distance_nm=5.0))
    rows = {
        row[0]: row for row in table_of(card_of(briefing(hold, wind=(0, 0), fix_dme_nm=10)), "Entry").rows
    }
    assert rows["parallel"][3] == rows["teardrop"][3] == "to 15.0 DME"
    rows = {row[0]: row for row in table_of(card_of(briefing(hold, wind=(0, 0))), "Entry").rows}
    assert rows["parallel"][3] == "to 5.0 NM out"


@pytest.mark.parametrize(("radial", "crossed"), [(174.0, True), (164.0, False)])
def test_a_limiting_radial_is_on_the_card_and_whether_the_times_cross_it(radial, crossed):
    # ICAO Doc 8168 Vol II App. C-15: where it comes before the distance, it ends the outbound leg. By hand: inbound
    # 360° towards a station 10 NM beyond the fix, right hand, 150 kt: at 15 DME the aircraft lies 2 r = 1.59 NM to the
    # right of the course, 6.1° off the fix's own radial of 180°, on the radial 173.9°; 1 kt of wind changes nothing.
    leg = LegLimit(distance_nm=5.0, fix_dme_nm=10.0)
    hold = dataclasses.replace(HOLD, leg=leg, limiting_radial_true_deg=radial)
    made = briefing(hold, tas_kt=150, wind=(0, 0))
    row = rows_of(card_of(made, magnetic=False))["Limiting radial"]
    assert row.value == f"{radial:.0f}°T"
    assert ("before you pass it" in row.detail) is crossed
    assert "Limiting radial" not in rows_of(card_of(briefing(wind=(0, 0))))


def test_a_charted_speed_limit_is_the_cards():
    # FAA AIM 5-3-8 j.2: any charted limit holds at any level, but 210 belongs to 6,001 to 14,000 ft.
    slow = dataclasses.replace(HOLD, max_kias=175.0)
    made = briefing(slow, ias_kt=190, tas_kt=None)
    assert (made.speed_limit_kias, made.too_fast) == (175.0, True)
    assert "hold file" in rows_of(card_of(made))["Maximum speed"].rules[0]
    band = dataclasses.replace(HOLD, max_kias=210.0)
    limits = [
        briefing(band, ias_kt=190, tas_kt=None, altitude_ft=at).speed_limit_kias
        for at in (6000, 6001, 14000, 14001)
    ]
    assert limits == [200.0, 210.0, 210.0, 265.0]


def test_slower_than_the_rules_name_is_warned_of():
    # FAA AIM 5-3-8: at or above 90 KIAS.
    assert "below the 90 KIAS" in card_of(briefing(ias_kt=80, tas_kt=None)).warnings[0]
    assert not card_of(briefing(rules="icao", wind=(0, 0), ias_kt=80, tas_kt=None)).warnings


def test_document_matches_the_card_and_names_rules():
    made = briefing(wind=(90, 20), arrival_heading_true_deg=250)
    document = briefing_document(made)
    assert document["circuit"]["outbound_heading_true"] == pytest.approx(180 - 27.76, abs=1.3)
    assert document["entry"]["sectors_allowed"] == ["parallel"]
    assert document["speed_limit"] == {
        "kias": 200,
        "exceeded": False,
        "rule": {"source": "FAA AIM 5-3-8 j.2", "standing": "published"},
    }
    assert len(document["winds"]) == 9
    assert all(one["rule"]["source"] for one in document["rules_of_thumb"])
    assert briefing_document(briefing())["flight"]["wind"] is None
    json.dumps(document, allow_nan=False)


def test_flight_takes_what_is_missing_from_the_hold():
    hold = dataclasses.replace(HOLD, altitude_ft=6000, speed_kias=110, reported_wind=(240, 22), category="B")
    flight = flight_of(hold)
    # Compressible, standard atmosphere: 110 kt at 6,000 ft is 120.21 kt true.
    assert flight.tas_kt == pytest.approx(120.21, abs=0.006)
    assert (flight.wind_from_true_deg, flight.wind_speed_kt, flight.category) == (240, 22, "B")
    assert flight_of(hold, tas_kt=120.21).ias_kt == pytest.approx(110, abs=0.01)
    with pytest.raises(UsageError, match="two airspeeds"):
        flight_of(hold, tas_kt=100, ias_kt=100)
    with pytest.raises(UsageError, match="altitude"):
        flight_of(HOLD, tas_kt=100)
    with pytest.raises(UsageError, match="airspeed"):
        flight_of(HOLD, altitude_ft=4000)


def test_terminal_lines_end_with_the_caution():
    said = list(lines(card_of(briefing(wind=(90, 20)))))
    assert said[0] == "Invented practice hold"
    assert said[-1].startswith("Training aid: not for navigation, not for obstacle clearance.")


def test_page_escapes_the_name_and_loads_nothing():
    evil = '<script>alert(1)</script><img src="http://nowhere.invalid/x">'
    made = briefing(dataclasses.replace(HOLD, name=evil), wind=(90, 20))
    page = card_page(made, card_of(made))
    assert evil not in page
    assert escape(evil) in page.replace("&#34;", "&quot;")
    assert "<script" not in page
    assert not re.search(r'(src|href)="?http', page)
    assert "default-src &#39;none&#39;" in page


def test_page_is_the_same_every_time():
    first, second = (
        card_page(made, card_of(made)) for made in (briefing(wind=(90, 20)), briefing(wind=(90, 20)))
    )
    assert first == second


def test_pictures_say_what_they_show():
    made = briefing(wind=(90, 20), arrival_heading_true_deg=250)
    page = card_page(made, card_of(made, magnetic=False), magnetic=False)
    assert re.search(r"outbound heading 15\d°T, inbound heading 010°T", page)
    assert "entry: parallel." in page
    assert 'data-layer="entry"' in page


#: As long as the command writes it.
OVER_OBSTACLES = (
    "2,900 ft over the highest obstacle counted, 1,916 ft, with 984 ft of clearance in the area (quoted).",
    "The highest: mast near the outbound end, 1.2 NM from the fix, in the holding area.",
    "Invented data only: the AIP's minimum holding level decides.",
)


@pytest.mark.browser
@pytest.mark.parametrize(
    "case",
    [
        {"wind": (240, 22), "arrival_heading_true_deg": 120},
        pytest.param({"wind": (300, 38), "tas_kt": 183, "altitude_ft": 9000}, marks=pytest.mark.slow),
        pytest.param(
            {"wind": (0, 60), "rules": "icao", "tas_kt": None, "ias_kt": 240}, marks=pytest.mark.slow
        ),
        pytest.param(
            {"rules": "icao", "wind": (200, 35), "tas_kt": 210, "altitude_ft": 14500}, marks=pytest.mark.slow
        ),
        pytest.param({"rules": "icao", "obstacles": True}, marks=pytest.mark.slow),
        pytest.param(
            {"rules": "icao", "wind": (0, 130), "tas_kt": None, "ias_kt": 240}, marks=pytest.mark.slow
        ),
    ],
)
def test_prints_front_and_back_and_fits_a_phone(tmp_path, chromium, case):
    """One leaf, both sides: the front to fly by, the back for why. Sizes in points: 1 mm is 2.835."""
    obstacles = case.pop("obstacles", False)
    made = briefing(**{"leave_after_s": tuple(60.0 * k for k in range(4, 11))} | case)
    card = dataclasses.replace(card_of(made), level=OVER_OBSTACLES if obstacles else ())
    for paper, size in (("a5", [419.5, 595.3]), ("a6", [297.6, 419.5])):
        path = tmp_path / f"{paper}.html"
        path.write_text(card_page(made, card, paper=paper), encoding="utf-8")
        _fits(chromium, path, paper, size, closes=made.exact.closes)


def _fits(chromium, path, paper, size, *, closes):
    with opened(chromium, path, viewport={"width": 360, "height": 740}) as watched:
        assert watched.page.evaluate("document.documentElement.scrollWidth") <= 360
        pdf = watched.page.pdf(prefer_css_page_size=True, print_background=True)
        # How wide the sheet is between its margins: 96 pixels to the inch.
        inner = {"a5": 136, "a6": 97}[paper] / 25.4 * 96
        watched.page.set_viewport_size({"width": round(inner), "height": 740})
        watched.page.emulate_media(media="print")
        small, large, high = watched.page.evaluate(LETTERS)
    assert watched.requests == [path.as_uri()]
    assert watched.complaints == []
    assert small >= 9.0
    assert large >= 20.0 or not closes
    assert high <= {"a5": 198, "a6": 140}[paper] / 25.4 * 96, "the front is one side"
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) == 2
    box = re.search(rb"/MediaBox\s*\[0 0 ([\d.]+) ([\d.]+)\]", pdf)
    assert [float(side) for side in box.groups()] == pytest.approx(size, abs=1)


#: The smallest lettering as it is printed and the least of the key figures, points; how high the front is, pixels.
LETTERS = """() => {
  const points = (e) => {
    const drawing = e.closest('svg');
    const scale = drawing ? drawing.getScreenCTM().a : 1;
    return (parseFloat(getComputedStyle(e).fontSize) * scale * 72) / 96;
  };
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT), all = [];
  while (walk.nextNode()) {
    const e = walk.currentNode.parentElement;
    if (walk.currentNode.data.trim() && e.checkVisibility() && e.getBoundingClientRect().width) all.push(points(e));
  }
  const key = [...document.querySelectorAll('.main b')].map(points);
  const front = document.querySelector('.front').getBoundingClientRect();
  return [Math.min(...all) + 0.01, Math.min(...key, 99), front.height];
}"""


@pytest.mark.slow
@pytest.mark.browser
def test_no_lettering_of_the_cards_pictures_overlaps_for_any_course_or_hand(tmp_path, chromium):
    """Every 15° of course, both hands, arrivals all round: measured as the card is printed."""
    pictures, page = [], ""
    for course in range(0, 360, 15):
        for hand in ("right", "left"):
            hold = dataclasses.replace(HOLD, inbound_course_true_deg=float(course), turns=hand)
            arrival = (7 * course + 50) % 360 + (90 if hand == "left" else 0)
            made = briefing(hold, wind=((5 * course) % 360, 22), arrival_heading_true_deg=arrival % 360)
            page = card_page(made, card_of(made))
            found = re.search(r'<div class="pictures">.*?</div>', page, re.DOTALL)[0]
            pictures.append(found.replace('"pictures"', f'"pictures" title="{course} {hand}"', 1))
    path = tmp_path / "all.html"
    path.write_text(page.replace("</main>", "".join(pictures) + "</main>"), encoding="utf-8")
    with opened(chromium, path, viewport={"width": 514, "height": 900}) as watched:
        watched.page.emulate_media(media="print")
        drawn, overlaps = watched.page.evaluate(OVERLAPS)
    # The three sectors' names and the course and the heading in each; the legs' headings, wind, north, scale.
    assert drawn >= 48 * (5 + 4)
    assert overlaps == []


#: Of all pictures: how many pieces of lettering there are, and what overlaps or runs out of its picture.
OVERLAPS = """() => {
  const found = [];
  let drawn = 0;
  for (const picture of document.querySelectorAll('.pictures[title] svg')) {
    const who = picture.closest('.pictures').title + ' ' + picture.dataset.fig, box = picture.getBoundingClientRect();
    const all = [...picture.querySelectorAll('text')].map((e) => [e.textContent, e.getBoundingClientRect()]);
    const shown = all.filter(([, at]) => at.width);
    drawn += shown.length;
    shown.forEach(([text, a], n) => {
      if (a.left < box.left - 1 || a.right > box.right + 1 || a.top < box.top - 1 || a.bottom > box.bottom + 1)
        found.push(`${who}: ${text} runs out`);
      for (const [other, b] of shown.slice(n + 1))
        if (Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1
          && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 1) found.push(`${who}: ${text} on ${other}`);
    });
  }
  return [drawn, found];
}"""
