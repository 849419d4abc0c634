"""Logs that few write and that must not be read wrongly: odd calendars, zones, swapped positions, locked files."""

from __future__ import annotations

import io
import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from analyser.errors import LogError
from analyser.logs.read import read_log
from analyser.logs.track import Track
from tests.logs_invented import as_gpx, as_nmea, invented_flight, sentence
from tests.logs_reading import codes, numbers, positions, read_one, table

FLIGHT = invented_flight(600)
LAT, LON = positions(FLIGHT)
MOMENTS = FLIGHT.moments()
LOCAL = [moment + timedelta(hours=2) for moment in MOMENTS]


def _is_the_flight(track: Track, *, dated: bool = True) -> None:
    np.testing.assert_allclose(track.time_s, FLIGHT.time_s, atol=0.02)
    np.testing.assert_allclose(track.lat_deg, FLIGHT.lat, atol=1e-6)
    np.testing.assert_allclose(track.lon_deg, FLIGHT.lon, atol=1e-6)
    assert (track.start_utc is not None) == dated
    if track.start_utc is not None:
        assert abs((track.start_utc - FLIGHT.start).total_seconds()) < 0.02


def _years() -> list[str]:
    begin, end = datetime(2026, 1, 1, tzinfo=UTC), datetime(2027, 1, 1, tzinfo=UTC)
    return [f"{2026 + (moment - begin) / (end - begin):.12f}" for moment in MOMENTS]


@pytest.mark.parametrize("header", ["decimal year", "Decimal_Year", "time", "year", "date"])
def test_years_with_fractions_are_times(tmp_path: Path, header: str) -> None:
    _is_the_flight(read_one(tmp_path, "a.csv", table([header, "lat", "lon"], _years(), LAT, LON)))


def test_seconds_from_1995_on_are_no_years(tmp_path: Path) -> None:
    text = table(["time", "lat", "lon"], numbers(FLIGHT.time_s / 2.0 + 1995.0, 2), LAT, LON)
    track = read_one(tmp_path, "a.csv", text)
    assert track.start_utc is None and track.duration_s == pytest.approx(299.5)


@pytest.mark.parametrize("header", ["doy", "day_of_year", "Ordinal Day"])
@pytest.mark.parametrize("clock", ["time", "seconds of day", "fraction"])
def test_days_of_the_year(tmp_path: Path, header: str, clock: str) -> None:
    """14 March is day 73 of a year that is no leap year (ISO 8601 calls it 2026-073)."""
    seconds = [moment.hour * 3600 + moment.minute * 60 + moment.second for moment in MOMENTS]
    cells = {"time": [f"{m:%H:%M:%S}" for m in MOMENTS], "seconds of day": seconds}
    days = [f"{73 + s / 86_400:.9f}" for s in seconds] if clock == "fraction" else ["73"] * 600
    more = {} if clock == "fraction" else {clock: cells[clock]}
    text = table(["year", header, *more, "lat", "lon"], ["2026"] * 600, days, *more.values(), LAT, LON)
    _is_the_flight(read_one(tmp_path, "a.csv", text))


@pytest.mark.parametrize("form", ["%Y-%jT%H:%M:%SZ", "%Y%jT%H%M%SZ", "%Y:%j:%H:%M:%SZ", "%Y-%j %H:%M:%S.0Z"])
def test_moments_by_the_day_of_the_year(tmp_path: Path, form: str) -> None:
    track = read_one(
        tmp_path, "a.csv", table(["time", "lat", "lon"], [f"{m:{form}}" for m in MOMENTS], LAT, LON)
    )
    _is_the_flight(track)
    assert "time-zone-assumed" not in codes(track), "the Z says it"


def test_a_day_without_its_year_gives_no_date(tmp_path: Path) -> None:
    text = table(["time", "lat", "lon"], [f"{m:%j:%H:%M:%S}" for m in MOMENTS], LAT, LON)
    _is_the_flight(read_one(tmp_path, "a.csv", text), dated=False)
    text = table(
        ["date", "time", "lat", "lon"], ["2026073"] * 600, [f"{m:%H:%M:%S}" for m in MOMENTS], LAT, LON
    )
    _is_the_flight(read_one(tmp_path, "a.csv", text))


@pytest.mark.parametrize(
    ("header", "form"),
    [
        ("Time (UTC+2)", "%Y-%m-%d %H:%M:%S"),
        ("time CEST", "%d.%m.%Y %H:%M:%S"),
        ("time_UTC+02:00", "%Y-%m-%d %H:%M:%S"),
        ("time", "%Y-%m-%d %H:%M:%S+02"),
        ("time", "%Y-%m-%d %H:%M:%S UTC+2"),
        ("time", "%d.%m.%Y %H:%M:%S GMT+02:00"),
    ],
)
def test_the_zone_may_stand_in_the_header_or_behind_the_time(tmp_path: Path, header: str, form: str) -> None:
    track = read_one(
        tmp_path, "a.csv", table([header, "lat", "lon"], [f"{m:{form}}" for m in LOCAL], LAT, LON)
    )
    _is_the_flight(track)
    assert "time-zone-assumed" not in codes(track)


@pytest.mark.parametrize("cell", ["UTC+2", "30"])
def test_a_column_called_zone_may_be_a_map_s(tmp_path: Path, cell: str) -> None:
    """Zone 30 of a map's grid is no half hour: the times are read as UTC, and that is said."""
    written = [f"{m:%Y-%m-%d %H:%M:%S}" for m in MOMENTS]
    text = table(["time", "zone", "lat", "lon"], written, [cell] * 600, LAT, LON)
    track = read_one(tmp_path, "a.csv", text)
    _is_the_flight(track)
    assert "time-zone-assumed" in codes(track)


@pytest.mark.parametrize("between", [[""], ["text,number,number,number"], ["", "text,number,number,number"]])
def test_the_units_row_may_stand_a_little_lower(tmp_path: Path, between: list[str]) -> None:
    head, *rows = table(
        ["time", "lat", "lon", "alt"], FLIGHT.iso(), LAT, LON, numbers(FLIGHT.altitude_ft)
    ).splitlines()
    track = read_one(tmp_path, "a.csv", "\n".join(["A flight", head, *between, "utc,deg,deg,ft", *rows]))
    _is_the_flight(track)
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft, atol=0.01)


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-32", "utf-8-sig"])
def test_character_sets_of_any_width(tmp_path: Path, encoding: str) -> None:
    _is_the_flight(read_one(tmp_path, "a.gpx", as_gpx(FLIGHT), encoding=encoding))
    _is_the_flight(read_one(tmp_path, "a.nmea", as_nmea(FLIGHT), encoding=encoding))


def test_longitudes_called_latitudes_change_places(tmp_path: Path) -> None:
    """No latitude lies beyond 90°, so 110 under one is no 1°10'."""
    flight = invented_flight(600, lon=-110.0)
    lat, lon = positions(flight)
    swapped = read_one(tmp_path, "a.csv", table(["time", "lat", "lon"], flight.iso(), lon, lat))
    np.testing.assert_allclose(swapped.lat_deg, flight.lat, atol=1e-6)
    np.testing.assert_allclose(swapped.lon_deg, flight.lon, atol=1e-6)
    assert "position-form-assumed" in codes(swapped)


@pytest.mark.parametrize("name", ["track_true", "heading_true"])
def test_swapped_positions_are_refused_where_a_direction_shows_them(tmp_path: Path, name: str) -> None:
    """Read so, every right turn would be a left one."""
    degrees = numbers(FLIGHT.track_deg if name == "track_true" else FLIGHT.heading_deg, 1)
    sound = table(["time", "lat", "lon", name], FLIGHT.iso(), LAT, LON, degrees)
    assert f"{name}_deg" in read_one(tmp_path, "a.csv", sound).channels
    with pytest.raises(LogError, match=r"a.csv.*latitude and longitude are swapped.*own place"):
        read_one(tmp_path, "a.csv", table(["time", "lon", "lat", name], FLIGHT.iso(), LAT, LON, degrees))


@pytest.mark.parametrize("kind", ["LineString", "MultiLineString", "Point"])
@pytest.mark.parametrize("scale", [1.0, 1e3])
def test_a_fourth_number_of_geojson_positions_is_the_time(tmp_path: Path, kind: str, scale: float) -> None:
    """RFC 7946 (3.1.1) gives a fourth number no meaning; who writes one for every position counts time."""
    places = [
        [lon, lat, feet * 0.3048, moment.timestamp() * scale]
        for lat, lon, feet, moment in zip(
            FLIGHT.lat.tolist(), FLIGHT.lon.tolist(), FLIGHT.altitude_ft.tolist(), MOMENTS, strict=True
        )
    ]
    shapes = {"LineString": [places], "MultiLineString": [[places[:300], places[300:]]], "Point": places}[
        kind
    ]
    features = [
        {"type": "Feature", "properties": {}, "geometry": {"type": kind, "coordinates": shape}}
        for shape in shapes
    ]
    track = read_one(tmp_path, "a.geojson", json.dumps({"type": "FeatureCollection", "features": features}))
    _is_the_flight(track)
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft, atol=0.01)


def test_a_fourth_number_that_does_not_grow_is_no_time(tmp_path: Path) -> None:
    """A speed, say: read as a time it would make nonsense of the flight."""
    places = list(
        zip(
            FLIGHT.lon.tolist(),
            FLIGHT.lat.tolist(),
            [900.0] * 600,
            FLIGHT.ground_speed_kt.tolist(),
            strict=True,
        )
    )
    line = {"type": "LineString", "coordinates": places}
    points = [
        {"type": "Feature", "properties": {}, "geometry": {"type": "Point", "coordinates": p}} for p in places
    ]
    for text in (line, {"type": "FeatureCollection", "features": points}):
        with pytest.raises(LogError, match=r"a.geojson, member 'features'.*a time"):
            read_one(tmp_path, "a.geojson", json.dumps(text))


@pytest.mark.parametrize("header", ["Time UTC", "time (utc)", "GMT", "Zulu time"])
def test_a_header_that_says_utc_leaves_nothing_to_assume(tmp_path: Path, header: str) -> None:
    written = [f"{m:%Y-%m-%d %H:%M:%S}" for m in MOMENTS]
    track = read_one(tmp_path, "a.csv", table([header, "lat", "lon"], written, LAT, LON))
    _is_the_flight(track)
    assert "time-zone-assumed" not in codes(track)


def test_the_older_sentence_of_a_magnetic_heading(tmp_path: Path) -> None:
    """NMEA 0183: HDM, heading and M."""
    lines = as_nmea(FLIGHT).splitlines(keepends=True)
    text = "".join(
        sentence(f"HCHDM,{line[7:].split(',')[0]},M") if line.startswith("$HEHDT") else line for line in lines
    )
    heading = read_one(tmp_path, "a.nmea", text).channels["heading_magnetic_deg"]
    np.testing.assert_allclose(heading, np.round(FLIGHT.heading_deg, 1) % 360.0, atol=0.01)


def _workbook(*, lat: bool = False, alt: bool = False) -> bytes:
    """Write a workbook with formulas that nobody worked out, under latitude or altitude."""
    import openpyxl

    book = openpyxl.Workbook()
    assert book.active is not None
    book.active.append(["Time UTC", "Latitude", "Longitude", "Altitude (ft)"])
    for moment, *values in zip(MOMENTS, FLIGHT.lat, FLIGHT.lon, FLIGHT.altitude_ft, strict=True):
        cells = [
            f"={value}" if formula else value
            for value, formula in zip(values, (lat, False, alt), strict=True)
        ]
        book.active.append([moment.replace(tzinfo=None), *cells])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def test_formulas_without_their_values_are_named(tmp_path: Path) -> None:
    path = tmp_path / "a.xlsx"
    path.write_bytes(_workbook(lat=True))
    with pytest.raises(LogError, match=r"a.xlsx, sheet: column B of the sheet holds formulas.*save it there"):
        read_log(path)
    path.write_bytes(_workbook(alt=True))
    (track,) = read_log(path)
    _is_the_flight(track)
    assert [notice.message[:8] for notice in track.notices if notice.code == "formula-unsaved"] == [
        "Column D"
    ]
    path.write_bytes(_workbook())
    assert "formula-unsaved" not in codes(read_log(path)[0])


@pytest.mark.parametrize(
    ("start", "said"),
    [
        ("d0cf11e0a1b11ae1", r"a.bin, first bytes: this is a workbook that is locked.*without a password"),
        (
            "377abcaf271c0004",
            r"a.bin, first bytes: this is an archive of a kind that is not unpacked.*unpack it",
        ),
        ("28b52ffd", r"a.bin, first bytes: this is an archive of a kind that is not unpacked.*unpack it"),
    ],
)
def test_what_is_locked_or_packed_otherwise_is_named(tmp_path: Path, start: str, said: str) -> None:
    path = tmp_path / "a.bin"
    path.write_bytes(bytes.fromhex(start) + bytes(range(256)) * 8)
    with pytest.raises(LogError, match=said):
        read_log(path)
