"""Positions, directions, hands and legs as charts print them and people type them."""

from __future__ import annotations

import pytest

from analyser.errors import HoldFileError
from analyser.holds import chart_words
from analyser.holds.holdfile import read_hold, read_hold_file


@pytest.mark.parametrize(
    "text",
    [
        "N46°30.0' W033°15.0'",
        "N46°30.0′ W033°15.0′",
        "N 46 30.0, W 033 15.0",
        "46 30.0N 33 15.0W",
        "46°30'00\"N 033°15'00\"W",
        "W033°15.0' N46°30.0'",
        "463000N 0331500W",
        "4630N 03315W",
        "4630.00N03315.00W",
        "46.5 -33.25",
        "46.5, -33.25",
        "46.5N 33.25W",
        "46 30,0N 033 15,0W",
        "n46º30.0’ w033º15.0’",
        "46.5°N, 33.25°W",
        "46.5 −33.25",
    ],
)
def test_one_place_in_many_spellings(text):
    assert chart_words.position(text) == pytest.approx((46.5, -33.25), abs=1e-9)


def test_a_second_of_arc_and_the_other_hemispheres():
    assert chart_words.position("S46°30'36\" E003°00'18\"") == pytest.approx((-46.51, 3.005))
    assert chart_words.position("00 00.0N 180 00.0E") == (0.0, 180.0)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "46.5",
        "N46 N47",
        "N46°30.0'",
        "N46°60.0' W033°00.0'",
        "N91°00.0' W033°00.0'",
        "N46°30.0' W181°00.0'",
        "46.5 -181",
        "N46.5°30' W033°",
        "over the field",
        "N46°30.0' W033°00.0' approx",
        "N-46 W033",
        "46 30 33 00",
        "N46 30 W",
    ],
)
def test_what_is_no_place_is_none(text):
    with pytest.raises(ValueError, match="latitude and a longitude"):
        chart_words.position(text)


@pytest.mark.parametrize(
    ("text", "bearing", "reference"),
    [
        ("274M 8 NM from N46°30.0' W033°15.0'", 274.0, "magnetic"),
        ("N46°30.0' W033°15.0' 274°M/8NM", 274.0, "magnetic"),
        ("46 30.0N 033 15.0W, 274T 8 nm", 274.0, "true"),
        ("274 / 8 NM from 46.5 -33.25", 274.0, None),
        ("005.5 8 NM from 46.5, -33.25", 5.5, None),
    ],
)
def test_a_place_by_bearing_and_distance(text, bearing, reference):
    said = chart_words.spot(text)
    assert said.get("reference") == reference
    assert (said["from"], said["bearing"], said["distance_nm"]) == (
        {"lat": 46.5, "lon": -33.25},
        bearing,
        8.0,
    )


def test_a_place_alone_has_no_bearing():
    assert chart_words.spot("46.5, -33.25") == {"lat": 46.5, "lon": -33.25}


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("274M", (274.0, "magnetic")),
        ("274°M", (274.0, "magnetic")),
        ("5.5 t", (5.5, "true")),
        ("360 true", (360.0, "true")),
        ("090 magnetic", (90.0, "magnetic")),
        ("263°", (263.0, None)),
    ],
)
def test_directions(text, expected):
    assert chart_words.direction(text) == expected


@pytest.mark.parametrize("text", ["361M", "-3M", "M274", "274 X", "west", ""])
def test_what_is_no_direction_is_none(text):
    with pytest.raises(ValueError, match="degrees from 0 to 360"):
        chart_words.direction(text)


@pytest.mark.parametrize(
    "text", ["R", "r", "Right", "RIGHT", "right-hand", "right turns", "RH", "right hand"]
)
def test_right_hands(text):
    assert chart_words.hand(text) == "right"


@pytest.mark.parametrize("text", ["L", "left", "Left-hand turns", "lh"])
def test_left_hands(text):
    assert chart_words.hand(text) == "left"


@pytest.mark.parametrize("text", ["", "starboard", "right left", "rx", "r/h", "both"])
def test_what_is_no_hand_is_none(text):
    with pytest.raises(ValueError, match="R for right"):
        chart_words.hand(text)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("1 min", {"minutes": 1.0}),
        ("1.5min", {"minutes": 1.5}),
        ("90 s", {"minutes": 1.5}),
        ("1 min 30 s", {"minutes": 1.5}),
        ("4 NM", {"distance_nm": 4.0}),
        ("4.5nm", {"distance_nm": 4.5}),
    ],
)
def test_legs(text, expected):
    assert chart_words.leg(text) == pytest.approx(expected)


# A reading of the distance-measuring equipment is no length, and 4 m might be metres.
@pytest.mark.parametrize("text", ["", "4", "15 DME", "4 m", "1 hour", "4 km"])
def test_what_is_no_leg_is_none(text):
    with pytest.raises(ValueError, match="a time or a length"):
        chart_words.leg(text)


@pytest.mark.parametrize(
    ("text", "feet"), [("4000 ft", 4000), ("4,000 ft", 4000), ("FL160", 16000), ("fl 70", 7000)]
)
def test_levels(text, feet):
    assert chart_words.level(text) == feet


def test_writing_a_position_and_reading_it_again():
    assert chart_words.written(46.5, -33.0) == "N46°30.0' W033°00.0'"
    # Rounded to the next degree, never 60 minutes.
    assert chart_words.written(-9.99999, 179.99999) == "S10°00.0' E180°00.0'"
    lat, lon = chart_words.position(chart_words.written(-46.5123, 3.0049))
    assert (lat, lon) == pytest.approx((-46.5123, 3.0049), abs=0.051 / 60)


CHART = """
name = "As printed"
fix = "N46°30.0' W033°00.0'"
inbound_course = "274M"
turns = "R"
leg = "1 min"
altitude_ft = "4,000 ft"
speed_kias = "98 kt"
"""
PLAIN = """
name = "As printed"
fix = { lat = 46.5, lon = -33.0 }
inbound_course = 274
reference = "magnetic"
turns = "right"
leg = { minutes = 1.0 }
altitude_ft = 4000
speed_kias = 98
"""


def write(tmp_path, text):
    path = tmp_path / "hold.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_file_in_a_charts_words_is_the_file_in_plain_keys(tmp_path):
    assert read_hold(write(tmp_path, CHART), 2026.0) == read_hold(write(tmp_path, PLAIN), 2026.0)


@pytest.mark.parametrize(
    "fix",
    [
        'fix = { lat = "N46°30.0\'", lon = "033 00.0W" }',
        "fix = \"000T 0.0001 NM from N46°30.0' W033°00.0'\"",
        'fix = { from = "46 30.0N 033 00.0W", bearing = "000T", distance_nm = "0.0001 NM" }',
        'fix = { from = { lat = 46.5, lon = "33W" }, bearing = 0, distance_nm = 0.0001 }',
        'fix = { from = "46 30.0N 033 00.0W", bearing = "000T", reference = "true", distance_nm = 0.0001 }',
    ],
)
def test_the_fix_in_parts(tmp_path, fix):
    text = CHART.replace("fix = \"N46°30.0' W033°00.0'\"", fix)
    hold = read_hold(write(tmp_path, text))
    assert (hold.fix_lat_deg, hold.fix_lon_deg) == pytest.approx((46.5, -33.0), abs=1e-5)


def test_a_true_bearing_beside_a_magnetic_course(tmp_path):
    """On the equator due east stays due east: 60 NM are 0.998 of a degree (1,855.3 m a minute, WGS84)."""
    fix = 'fix = { from = "00 00.0N 120 00.0E", bearing = "090T", distance_nm = 60 }'
    text = CHART.replace("fix = \"N46°30.0' W033°00.0'\"", fix)
    hold = read_hold(write(tmp_path, text))
    assert (hold.fix_lat_deg, hold.fix_lon_deg) == pytest.approx((0.0, 120.998), abs=1e-3)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('"274M"', '"274"', "'inbound_course': must be a valid number, or degrees .* not '274'"),
        (
            '"274M"',
            '"274M"\nreference = "true"',
            "'reference': says true, and the inbound course says magnetic",
        ),
        (
            "\"N46°30.0' W033°00.0'\"",
            '{ from = "46N 033W", bearing = "090T", reference = "magnetic", distance_nm = 8 }',
            r"'fix\.reference': says magnetic, and the bearing says true",
        ),
        ('"274M"', "274", "'reference': is missing"),
        ('"R"', '"starboard"', "'turns': must be 'right' or 'left', not 'starboard'"),
        ('"1 min"', '"15 DME"', "'leg': must be a time or a length such as 1 min.* not '15 DME'"),
        ('"1 min"', '"0 min"', r"'leg\.minutes': must be greater than 0"),
        ("\"N46°30.0' W033°00.0'\"", '"N46"', "'fix': must be a latitude and a longitude"),
        ("\"N46°30.0' W033°00.0'\"", '{ lat = "W46", lon = -33 }', r"'fix\.lat': must be a latitude such as"),
        ('"4,000 ft"', '"four"', "'altitude_ft': must be feet or a flight level"),
        ('"98 kt"', '"fast"', "'speed_kias': must be knots"),
    ],
)
def test_mistakes_name_their_key(tmp_path, old, new, said):
    assert old in CHART
    with pytest.raises(HoldFileError, match=said):
        read_hold(write(tmp_path, CHART.replace(old, new)))


def test_mistakes_in_words_and_in_keys_are_named_together(tmp_path):
    text = CHART.replace('"R"', '"starboard"').replace("altitude_ft", "altitude") + "category = 3\n"
    with pytest.raises(HoldFileError) as caught:
        read_hold(write(tmp_path, text))
    for key in ("'turns'", "'altitude'", "'category'"):
        assert key in str(caught.value)


def test_course_and_turns_are_enough_where_the_flight_can_tell_the_rest(tmp_path):
    file = read_hold_file(write(tmp_path, 'inbound_course = "263T"\nturns = "L"\n'))
    assert not file.fix_given
    with pytest.raises(HoldFileError, match="'fix': is missing"):
        file.hold()
    hold = file.hold_at(48.1, 11.6)
    assert (hold.fix_lat_deg, hold.fix_lon_deg, hold.inbound_course_true_deg) == (48.1, 11.6, 263.0)
    assert (hold.turns, hold.fix_given) == ("left", False)


@pytest.mark.parametrize("text", ['turns = "L"\n', 'inbound_course = "263T"\n'])
def test_less_is_not_enough(tmp_path, text):
    with pytest.raises(HoldFileError, match="is missing"):
        read_hold_file(write(tmp_path, text))
