"""Tables that would be read wrongly without a word: sides of the globe, thousands, mixed units, odd clocks."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from analyser.errors import LogError
from analyser.logs.meaning import concept_named, vocabulary
from tests.logs_invented import invented_flight
from tests.logs_reading import codes, numbers, positions, read_one, table

FLIGHT = invented_flight(600)
LAT, LON = positions(FLIGHT)
ALT = numbers(FLIGHT.altitude_ft, 1)


@pytest.mark.parametrize(
    "headers", [("N/S", "E/W"), ("lat dir", "lon dir"), ("Lat Hemisphere", "Lon Ref"), ("", "")]
)
@pytest.mark.parametrize(("lat_side", "lon_side"), [("N", "E"), ("S", "W"), ("s", "e"), ("North", "West")])
def test_letters_beside_the_position_say_its_side(
    tmp_path: Path, headers: tuple[str, str], lat_side: str, lon_side: str
) -> None:
    """Passed over, they would mirror the flight: every right turn would be a left one."""
    head = ["time", "lat", headers[0], "lon", headers[1]]
    text = table(head, FLIGHT.iso(), LAT, [lat_side] * 600, LON, [lon_side] * 600)
    track = read_one(tmp_path, "a.csv", text)
    north, east = lat_side.upper().startswith("N"), lon_side.upper().startswith("E")
    np.testing.assert_allclose(track.lat_deg, FLIGHT.lat if north else -FLIGHT.lat, atol=1e-6)
    np.testing.assert_allclose(track.lon_deg, FLIGHT.lon if east else -FLIGHT.lon, atol=1e-6)
    assert sum(source.channel == "position" for source in track.sources) == 4


def test_letters_that_name_no_side_change_nothing(tmp_path: Path) -> None:
    text = table(["time", "lat", "N/S", "lon"], FLIGHT.iso(), LAT, ["?"] * 300 + ["x"] * 300, LON)
    track = read_one(tmp_path, "a.csv", text)
    np.testing.assert_allclose(track.lat_deg, FLIGHT.lat, atol=1e-6)
    assert [source.why for source in track.sources if source.column == "N/S"] == ["its cells name no side"]


@pytest.mark.parametrize("decimals", [0, 1])
def test_points_part_thousands_where_commas_are_decimal(tmp_path: Path, decimals: int) -> None:
    def german(value: float, places: int) -> str:
        return f"{value:,.{places}f}".translate(str.maketrans(",.", ".,"))

    text = table(
        ["time", "lat", "lon", "alt_ft"],
        FLIGHT.iso(),
        [german(v, 7) for v in FLIGHT.lat],
        [german(v, 7) for v in FLIGHT.lon],
        [german(v, decimals) for v in FLIGHT.altitude_ft],
        separator=";",
    )
    track = read_one(tmp_path, "a.csv", text)
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft, atol=0.6)
    np.testing.assert_allclose(track.lat_deg, FLIGHT.lat, atol=1e-6)


def test_decimal_commas_between_commas_are_refused(tmp_path: Path) -> None:
    """48,123,11,567 is two numbers or four; read as four it is another place."""
    comma = [[cell.replace(".", ",") for cell in column] for column in (LAT, LON, ALT)]
    with pytest.raises(LogError, match=r"line 2: the rows have 7 cells under 4 headers.*semicolons"):
        read_one(tmp_path, "a.csv", table(["time", "lat", "lon", "alt_ft"], FLIGHT.iso(), *comma))


def test_more_cells_than_headers_alone_are_no_fault(tmp_path: Path) -> None:
    text = table(["time", "lat", "lon", "alt_ft"], FLIGHT.iso(), LAT, LON, [f"{alt},x,y" for alt in ALT])
    track = read_one(tmp_path, "a.csv", text)
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft, atol=0.06)


def test_every_cell_may_carry_a_unit_of_its_own(tmp_path: Path) -> None:
    mixed = [
        f"{feet:.1f} ft" if place % 2 else f"{feet * 0.3048:.2f} m"
        for place, feet in enumerate(FLIGHT.altitude_ft)
    ]
    track = read_one(
        tmp_path, "a.csv", table(["time", "lat", "lon", "Altitude"], FLIGHT.iso(), LAT, LON, mixed)
    )
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft, atol=0.06)


@pytest.mark.parametrize(("header", "known"), [("altitude", 300), ("altitude_ft", 600)])
def test_bare_numbers_beside_flight_levels_are_no_levels(tmp_path: Path, header: str, known: int) -> None:
    """4500 beside FL045 is feet where the header says so, and otherwise nobody knows."""
    mixed = ["4500" if place % 2 else "FL045" for place in range(600)]
    track = read_one(tmp_path, "a.csv", table(["time", "lat", "lon", header], FLIGHT.iso(), LAT, LON, mixed))
    altitude = track.channels["altitude_ft"]
    assert int(np.isfinite(altitude).sum()) == known
    assert set(altitude[np.isfinite(altitude)].tolist()) == {4500.0}
    assert "altitude-datum" in codes(track)


def test_units_in_cells_that_do_not_fit_the_column(tmp_path: Path) -> None:
    text = table(["time", "lat", "lon", "IAS"], FLIGHT.iso(), LAT, LON, ["100 °C"] * 600)
    track = read_one(tmp_path, "a.csv", text)
    assert "ias_kt" not in track.channels


def test_a_header_with_blanks_in_a_table_set_out_with_blanks(tmp_path: Path) -> None:
    rows = [
        f"{t[11:19]}   {lat}   {lon}   {alt}"
        for t, lat, lon, alt in zip(FLIGHT.iso(), LAT, LON, ALT, strict=True)
    ]
    track = read_one(
        tmp_path, "a.txt", "\n".join(["UTC Time   Latitude   Longitude   GPS Altitude ft", *rows])
    )
    np.testing.assert_allclose(track.lat_deg, FLIGHT.lat, atol=1e-6)
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft, atol=0.06)


def test_fractions_of_a_day(tmp_path: Path) -> None:
    """A spreadsheet writes 12:00 as 0.5; as seconds the whole flight would last a blink."""
    clock = [f"{0.5 + t / 86_400.0:.9f}" for t in FLIGHT.time_s]
    alone = read_one(tmp_path, "a.csv", table(["time", "lat", "lon"], clock, LAT, LON))
    assert alone.duration_s == pytest.approx(599.0, abs=1e-3)
    assert "time-unit-assumed" in codes(alone)
    dated = read_one(
        tmp_path, "a.csv", table(["date", "time", "lat", "lon"], ["2026-03-14"] * 600, clock, LAT, LON)
    )
    assert dated.start_utc is not None
    assert abs((dated.start_utc - FLIGHT.start).total_seconds()) < 1e-3


def test_microseconds_since_switching_on_are_no_date(tmp_path: Path) -> None:
    """1,450,000,000 is a day in 2015 in seconds, and 24 minutes of flight in microseconds."""
    clock = [f"{1.45e9 + t * 1e6:.0f}" for t in FLIGHT.time_s]
    track = read_one(tmp_path, "a.csv", table(["timestamp", "lat", "lon"], clock, LAT, LON))
    assert track.start_utc is None
    assert track.duration_s == pytest.approx(599.0)


def test_a_unit_of_time_that_cannot_be_settled_is_said(tmp_path: Path) -> None:
    """An aircraft that only taxied moves at no flying speed in any unit."""
    text = table(
        ["time", "lat", "lon"], FLIGHT.time_s, numbers(48.0 + (FLIGHT.lat - 48.0) * 0.02, 9), ["11.5"] * 600
    )
    track = read_one(tmp_path, "a.csv", text)
    (said,) = [notice.message for notice in track.notices if notice.code == "time-unit-assumed"]
    assert "read in seconds" in said


def test_radians_without_a_word_are_found_by_their_speed(tmp_path: Path) -> None:
    text = table(
        ["time", "lat", "lon"],
        FLIGHT.iso(),
        numbers(np.radians(FLIGHT.lat), 10),
        numbers(np.radians(FLIGHT.lon), 10),
    )
    track = read_one(tmp_path, "a.csv", text)
    np.testing.assert_allclose(track.lat_deg, FLIGHT.lat, atol=1e-6)
    assert "position-form-assumed" in codes(track)


def test_a_flight_at_the_zero_island_is_in_degrees(tmp_path: Path) -> None:
    near = invented_flight(600, lat=0.5, lon=0.5)
    track = read_one(tmp_path, "a.csv", table(["time", "lat", "lon"], near.iso(), *positions(near)))
    np.testing.assert_allclose(track.lat_deg, near.lat, atol=1e-6)


@pytest.mark.parametrize(
    ("name", "meant"),
    [
        ("roll", "bank"),
        ("vertical_speed", "vs"),
        ("temperature", "oat"),
        ("Latitude", "lat"),
        ("bank_deg", "bank"),
    ],
)
def test_other_names_on_the_command_line(name: str, meant: str) -> None:
    concept = concept_named(name)
    assert concept is not None
    assert concept.name == meant


def test_the_vocabulary_has_no_phrase_twice() -> None:
    """A phrase that stands under two concepts would always mean the first."""
    words = vocabulary()
    keys = [
        words.key(phrase.split()) for concept in words.concepts for line in concept.phrases for phrase in line
    ]
    assert sorted(keys) == sorted(set(keys))


@pytest.mark.parametrize(
    ("head", "blanks"),
    [
        ("timestamp lat lon alt_ft", 1),
        ("# time lat lon alt_ft", 2),
        ("Date lat lon alt_ft", 1),
        ("Date time  Lat deg  Lon deg  Alt ft", 2),
        ("Time   Latitude   Longitude   Altitude (ft)", 3),
    ],
)
def test_one_header_over_a_date_and_a_clock_parted_by_a_blank(tmp_path: Path, head: str, blanks: int) -> None:
    moments = [f"{moment:%Y-%m-%d %H:%M:%S}" for moment in FLIGHT.moments()]
    cells = zip(moments, *positions(FLIGHT), numbers(FLIGHT.altitude_ft), strict=True)
    track = read_one(tmp_path, "a.txt", "\n".join([head, *map((" " * blanks).join, cells)]) + "\n")
    np.testing.assert_allclose(track.time_s, FLIGHT.time_s)
    assert track.start_utc == FLIGHT.start
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft, atol=0.01)
