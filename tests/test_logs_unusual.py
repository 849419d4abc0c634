"""Logs that few write and that must not be read wrongly: odd calendars, zones, swapped positions, locked files."""

from __future__ import annotations

import io
import json
import re
import tarfile
import zipfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from analyser.errors import LogError
from analyser.logs.read import read_log
from analyser.logs.track import Track
from tests.logs_invented import as_geojson, as_gpx, as_nmea, invented_flight, sentence
from tests.logs_reading import codes, numbers, positions, read_one, read_text, table

FLIGHT = invented_flight(600)
LAT, LON = positions(FLIGHT)
MOMENTS = FLIGHT.moments()
ISO = FLIGHT.iso()
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


@pytest.mark.parametrize("cell", ["32U", "30"])
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


def test_swapped_positions_are_refused_by_the_speed_over_the_ground(tmp_path: Path) -> None:
    """At 48°N a degree east is two thirds of a degree north: swapped, who flies north seems to fly at two thirds."""
    speed = numbers(FLIGHT.ground_speed_kt, 1)
    for name, columns in (("gs (kt)", [speed]), ("remark", [[""] * 600])):
        swapped = table(["time", "lon", "lat", name], FLIGHT.iso(), LAT, LON, *columns)
        with pytest.raises(LogError, match=r"a.csv.*latitude and longitude are swapped.*own place"):
            read_one(tmp_path, "a.csv", swapped)
    document = json.loads(as_geojson(FLIGHT))
    line = document["features"][0]["geometry"]
    line["coordinates"] = [[lat, lon, height] for lon, lat, height in line["coordinates"]]
    with pytest.raises(LogError, match="latitude and longitude are swapped"):
        read_one(tmp_path, "a.geojson", json.dumps(document))


def test_who_says_which_is_which_is_believed(tmp_path: Path) -> None:
    text = table(["time", "lon", "lat"], FLIGHT.iso(), LAT, LON)
    _is_the_flight(read_one(tmp_path, "a.csv", text, columns={"lat": "lon", "lon": "lat"}))
    assert read_one(tmp_path, "a.csv", text, columns={"lat": "lat", "lon": "lon"}).samples == 600


def test_who_slows_down_by_a_fifth_in_every_turn_is_no_swapped_log(tmp_path: Path) -> None:
    """Legs east and west at 120 kt and turns at 96 kt, at 48°N, where swapped ones would differ by half."""
    north, east = (FLIGHT.lat - FLIGHT.lat[0]), (FLIGHT.lon - FLIGHT.lon[0])
    slow = np.hypot(np.gradient(north), np.gradient(east) * 0.668)
    turning = np.abs(np.gradient(np.unwrap(np.radians(FLIGHT.track_deg)))) > 0.02
    time_s = np.cumsum(np.where(turning, 1.25, 1.0)) - 1.0
    assert slow.min() > 0.0
    track = read_one(tmp_path, "a.csv", table(["time (s)", "lat", "lon"], numbers(time_s, 2), LAT, LON))
    assert track.samples == 600


def test_latitude_and_longitude_are_one_sensors(tmp_path: Path) -> None:
    """A filtered longitude beside a raw latitude puts a flight where nobody was."""
    lat, lon = numbers(FLIGHT.lat + 0.005, 7), numbers(FLIGHT.lon + 0.007, 7)
    headers = ["time", "latitude raw", "longitude filtered", "latitude filtered", "longitude raw"]
    _is_the_flight(read_one(tmp_path, "a.csv", table(headers, ISO, LAT, lon, lat, LON)))


def test_signs_behind_numbers(tmp_path: Path) -> None:
    """Accounts write a loss as 70.6-: read as no number, the flight would be lost."""
    west = invented_flight(300, lat=-33.9, lon=-70.6)
    lat, lon = ([f"{text[1:]}-" for text in cells] for cells in positions(west))
    fall = [f"{value:.0f}-" for value in range(100, 400)]
    text = table(["time", "lat", "lon", "vs (fpm)"], west.iso(), lat, lon, fall)
    track = read_one(tmp_path, "a.csv", text)
    np.testing.assert_allclose(track.lat_deg, west.lat, atol=1e-6)
    np.testing.assert_allclose(track.lon_deg, west.lon, atol=1e-6)
    np.testing.assert_allclose(track.channels["vertical_speed_fpm"], -np.arange(100.0, 400.0))


def _minutes(values: np.ndarray, side: str, mark: str) -> list[str]:
    """Write positions in degrees and minutes, or in whole seconds where there is no mark."""
    if mark:
        return [f"{int(v)}°{v % 1.0 * 60.0:07.4f}' {side}".replace(".", mark) for v in values]
    return [
        f"{v // 3600:.0f}°{v // 60 % 60:02.0f}'{v % 60:02.0f}\" {side}" for v in np.round(values * 3600.0)
    ]


@pytest.mark.parametrize(
    ("separator", "positions_mark", "height", "ft"),
    [
        ("\t", "none", "10,993", 10_993.0),
        (";", "minutes ,", "3.000", 3_000.0),
        (";", "none", "3.000", 3_000.0),
        (";", ",", "9.144", 9_144.0),
        (";", ",", "914,4", 914.4),
        (";", ".", "914.400", 914.4),
        (";", ".", "9,144", 9_144.0),
    ],
)
def test_marks_that_part_the_thousands_of_an_altitude(
    tmp_path: Path, separator: str, positions_mark: str, height: str, ft: float
) -> None:
    """Read as 11 ft, a flight at 10,993 ft would be charged with every altitude."""
    mark = positions_mark.removeprefix("minutes ").replace("none", "")
    lat, lon = ([cell.replace(".", mark) for cell in cells] for cells in (LAT, LON))
    if positions_mark not in (",", "."):
        lat, lon = _minutes(FLIGHT.lat, "N", mark), _minutes(FLIGHT.lon, "E", mark)
    text = table(["time", "lat", "lon", "alt (ft)"], ISO, lat, lon, [height] * 600, separator=separator)
    track = read_one(tmp_path, "a.csv", text)
    np.testing.assert_allclose(track.channels["altitude_ft"], ft)


def test_a_row_that_is_cut_off_does_not_tell_the_decimal_mark(tmp_path: Path) -> None:
    rows = table(
        ["time", "lat", "lon", "alt (ft)"], ISO, LAT, LON, ["3,000"] * 600, separator=";"
    ).splitlines()
    rows[300] = rows[300].removesuffix("00")
    track = read_one(tmp_path, "a.csv", "\n".join(rows))
    assert np.count_nonzero(track.channels["altitude_ft"] == 3000.0) >= 599


def test_a_units_row_for_one_column(tmp_path: Path) -> None:
    head, *rows = table(
        ["time", "lat", "lon", "alt"], ISO, LAT, LON, numbers(FLIGHT.altitude_ft)
    ).splitlines()
    track = read_one(tmp_path, "a.csv", "\n".join([head, ",,,ft", *rows]))
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft, atol=0.01)


def test_rows_that_are_cut_off_do_not_tell_the_form_of_all_positions(tmp_path: Path) -> None:
    """Beside the equator every latitude could be degrees, and so can a longitude that is cut after its degrees."""
    flight = invented_flight(600, lat=0.02, lon=32.5)
    written = [
        [f"{int(abs(v)):0{width}d}{abs(v) % 1.0 * 60.0:08.5f}" for v in values]
        for values, width in ((np.abs(flight.lat), 2), (flight.lon, 3))
    ]
    rows = table(["time", "lat", "lon"], flight.iso(), *written).splitlines()
    rows[5::60] = [row[:-8] for row in rows[5::60]]
    track = read_one(tmp_path, "a.csv", "\n".join(rows))
    assert track.samples >= 580
    np.testing.assert_allclose(track.lon_deg, np.interp(track.time_s, flight.time_s, flight.lon), atol=1e-5)


def test_altitudes_and_levels_as_in_flight_plans(tmp_path: Path) -> None:
    """ICAO Doc 4444, appendix 2, item 15: A and F before three figures are hundreds of feet."""
    cells = [
        f"A{value // 100:03.0f}" if value < 4000.0 else f"F{value // 100:03.0f}"
        for value in FLIGHT.altitude_ft
    ]
    track = read_one(tmp_path, "a.csv", table(["time", "lat", "lon", "altitude"], ISO, LAT, LON, cells))
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft // 100.0 * 100.0)
    thousands = numbers(FLIGHT.altitude_ft / 1000.0)
    track = read_one(
        tmp_path, "a.csv", table(["time", "lat", "lon", "alt (1000 ft)"], ISO, LAT, LON, thousands)
    )
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft, atol=0.6)


def test_values_in_objects_that_only_hold_them_together(tmp_path: Path) -> None:
    """What is selected on a panel was not flown."""
    points = [
        {
            "t": when,
            "state": {"position": {"lat": lat, "lon": lon}, "air": {"alt_ft": 4000.0 + i, "gs_kt": speed}},
        }
        | {"selected": {"altitude_ft": 9000.0}, "target": {"lat": 1.0, "lon": 2.0}}
        for i, (when, lat, lon, speed) in enumerate(
            zip(ISO, FLIGHT.lat.tolist(), FLIGHT.lon.tolist(), FLIGHT.ground_speed_kt.tolist(), strict=True)
        )
    ]
    track = read_one(tmp_path, "a.json", json.dumps(points))
    _is_the_flight(track)
    np.testing.assert_allclose(track.channels["altitude_ft"], 4000.0 + np.arange(600.0))
    np.testing.assert_allclose(track.channels["ground_speed_kt"], FLIGHT.ground_speed_kt)


def test_days_since_1970(tmp_path: Path) -> None:
    days = [f"{moment.timestamp() / 86_400.0:.9f}" for moment in MOMENTS]
    _is_the_flight(read_one(tmp_path, "a.csv", table(["time", "lat", "lon"], days, LAT, LON)))


@pytest.mark.parametrize("lon", [-179.99, 179.99])
def test_longitudes_that_count_on_beyond_the_date_line(tmp_path: Path, lon: float) -> None:
    """A line that a drawing program has unwrapped goes on to 180.1° or to −180.1°."""
    flight = invented_flight(600, lon=lon)
    counted_on = np.where(flight.lon * lon < 0.0, flight.lon + np.copysign(360.0, lon), flight.lon)
    text = table(["time", "lat", "lon"], flight.iso(), positions(flight)[0], numbers(counted_on, 7))
    track = read_one(tmp_path, "a.csv", text)
    np.testing.assert_allclose(track.lon_deg, flight.lon, atol=1e-6)


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
        with pytest.raises(LogError, match=r"a.geojson.*time.*give .*time"):
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


def _locked(data: bytes, name: bytes) -> bytes:
    """Set the bit that says of a member that it is encrypted, in both of its headers (PKWARE APPNOTE 4.4.4)."""
    changed = bytearray(data)
    for mark, flags, at in ((b"PK\x03\x04", 6, 30), (b"PK\x01\x02", 8, 46)):
        for match in re.finditer(re.escape(mark), data):
            if data[match.start() + at :].startswith(name):
                changed[match.start() + flags] |= 1
    return bytes(changed)


def _zip_of(names: list[str]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name in names:
            packed.writestr(name, as_gpx(FLIGHT))
    return out.getvalue()


def test_a_locked_or_damaged_part_of_an_archive_does_not_stop_the_others(tmp_path: Path) -> None:
    path = tmp_path / "class.zip"
    path.write_bytes(_locked(_zip_of(["anna.gpx", "ben.gpx"]), b"anna.gpx"))
    (track,) = read_log(path)
    _is_the_flight(track)
    (said,) = [notice.message for notice in track.notices if notice.code == "member-skipped"]
    assert "class.zip: anna.gpx" in said and "locked with a password" in said
    damaged = bytearray(_zip_of(["anna.gpx", "ben.gpx"]))
    damaged[200:230] = b"\xff" * 30
    path.write_bytes(bytes(damaged))
    (track,) = read_log(path)
    assert "class.zip: anna.gpx: the zip archive is damaged" in track.notices[-1].message
    path.write_bytes(_locked(_zip_of(["anna.gpx"]), b"anna.gpx"))
    with pytest.raises(LogError, match=r"class.zip: anna.gpx: .*locked"):
        read_log(path)


def test_a_damaged_archive_inside_another_does_not_stop_the_others(tmp_path: Path) -> None:
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w") as packed:
        for name, data in (
            ("a.gpx", as_gpx(FLIGHT).encode()),
            ("b.gz", b"\x1f\x8bnone"),
            ("c.zip", b"PK\x03\x04"),
        ):
            info = tarfile.TarInfo(name)
            info.size = len(data)
            packed.addfile(info, io.BytesIO(data))
    path = tmp_path / "a.tar"
    path.write_bytes(out.getvalue())
    (track,) = read_log(path)
    _is_the_flight(track)
    said = [notice.message for notice in track.notices if notice.code == "member-skipped"]
    assert ["b.gz" in said[0], "c.zip" in said[1], len(said)] == [True, True, 2]


def _piece(first: int, last: int, lat: float = 0.0) -> str:
    points = "".join(
        f'<trkpt lat="{FLIGHT.lat[i] + lat:.7f}" lon="{FLIGHT.lon[i]:.7f}"><time>{ISO[i]}</time></trkpt>'
        for i in range(first, last)
    )
    return f"<trk><name>part {first}</name><trkseg>{points}</trkseg></trk>"


def test_tracks_that_tell_the_same_minute_are_one_flight(tmp_path: Path) -> None:
    """Two downloads of one receiver overlap: the same places at the same times are one aircraft's."""
    text = f'<gpx version="1.1">{_piece(0, 400)}{_piece(340, 600)}</gpx>'
    track = read_one(tmp_path, "a.gpx", text)
    _is_the_flight(track)
    (said,) = [notice.message for notice in track.notices if notice.code == "flight-repeated"]
    assert "'part 340'" in said and "60 samples" in said


def test_tracks_of_the_same_minute_elsewhere_are_two_flights(tmp_path: Path) -> None:
    text = f'<gpx version="1.1">{_piece(0, 400)}{_piece(340, 600, lat=0.003)}</gpx>'
    assert [one.samples for one in read_text(tmp_path, "a.gpx", text)] == [400, 260]


def test_two_aircraft_parked_side_by_side_are_not_one(tmp_path: Path) -> None:
    """Nothing was flown together: the one shuts down where the other is about to start."""
    stand = FLIGHT.lat[300], FLIGHT.lon[300]

    def point(i: int, place: tuple[float, float]) -> str:
        return f'<trkpt lat="{place[0]:.7f}" lon="{place[1]:.7f}"><time>{ISO[i]}</time></trkpt>'

    first = "".join(point(i, (FLIGHT.lat[min(i, 300)], FLIGHT.lon[min(i, 300)])) for i in range(420))
    second = "".join(
        point(i, stand if i < 430 else (stand[0] + (i - 430) * 5e-4, stand[1])) for i in range(320, 600)
    )
    text = "".join(f"<trk><trkseg>{points}</trkseg></trk>" for points in (first, second))
    assert len(read_text(tmp_path, "a.gpx", f'<gpx version="1.1">{text}</gpx>')) == 2


@pytest.mark.parametrize("leads", [True, False])
def test_vtg_is_taken_with_the_instant_it_was_sent_for(tmp_path: Path, leads: bool) -> None:
    """VTG has no time. Receivers send it before GLL or after it, and a turn at rate one shows which."""
    text = ""
    for line, track, speed in zip(
        [line for line in as_nmea(FLIGHT).splitlines() if "RMC" in line],
        FLIGHT.track_deg,
        FLIGHT.ground_speed_kt,
        strict=True,
    ):
        f = line.split(",")
        both = [
            sentence(f"GPVTG,{track:.1f},T,,M,{speed:.2f},N,,K,A"),
            sentence(f"GPGLL,{f[3]},{f[4]},{f[5]},{f[6]},{f[1]},A,A"),
        ]
        text += "".join(both if leads else both[::-1])
    read = read_one(tmp_path, "a.nmea", text)
    off = (read.channels["track_true_deg"] - FLIGHT.track_deg + 180.0) % 360.0 - 180.0
    assert np.nanmax(np.abs(off)) < 0.06
    np.testing.assert_allclose(read.channels["ground_speed_kt"][1:], FLIGHT.ground_speed_kt[1:], atol=0.01)


@pytest.mark.parametrize(
    ("form", "dated"),
    [
        ("%H%M%S000", False),
        ("%d%H%M%S", False),
        ("%y%m%d%H%M%S", True),
        ("%Y%m%d%H%M%S", True),
        ("%Y%m%d%H%M%S000", True),
    ],
)
def test_dates_and_clocks_run_together(tmp_path: Path, form: str, dated: bool) -> None:
    """None of them is a count of anything: read as one, the clock would stand still 40 s in every minute."""
    moments = [moment + timedelta(hours=11, minutes=52) for moment in MOMENTS]
    text = table(["time", "lat", "lon"], [f"{moment:{form}}" for moment in moments], LAT, LON)
    track = read_one(tmp_path, "a.csv", text)
    np.testing.assert_allclose(track.time_s, FLIGHT.time_s, atol=0.02)
    assert not codes(track) & {"time-paused", "time-set-back", "time-unit-assumed", "hole"}
    assert track.start_utc == (moments[0] if dated else None)


def test_a_clock_with_milliseconds_run_together_beside_a_date(tmp_path: Path) -> None:
    moments = [moment + timedelta(hours=11, minutes=52) for moment in MOMENTS]
    columns = [f"{moment:%Y-%m-%d}" for moment in moments], [f"{moment:%H%M%S}250" for moment in moments]
    track = read_one(tmp_path, "a.csv", table(["date", "time", "lat", "lon"], *columns, LAT, LON))
    np.testing.assert_allclose(track.time_s, FLIGHT.time_s, atol=0.02)
    assert track.start_utc == moments[0] + timedelta(seconds=0.25)


def test_the_order_of_a_date_can_be_said_wherever_the_date_stands(tmp_path: Path) -> None:
    """What the notice says to say is heard: also where date and clock share a column."""
    for form in ("%y-%m-%d %H:%M:%S", "%y%m%d%H%M%S"):
        text = table(["time", "lat", "lon"], [f"{moment:{form}}" for moment in MOMENTS], LAT, LON)
        assert "--units date=dmy" in str(read_one(tmp_path, "a.csv", text).notices)
        told = read_one(tmp_path, "a.csv", text, units={"date": "dmy"})
        assert told.start_utc == datetime(2014, 3, 26, 12, tzinfo=UTC)


def test_a_later_header_may_change_the_order_of_columns(tmp_path: Path) -> None:
    """Its rows were read with latitude and longitude swapped: right turns became left ones."""
    first = table(["time", "lat", "lon"], FLIGHT.iso()[:300], LAT[:300], LON[:300])
    second = table(["time", "lon", "lat"], FLIGHT.iso()[300:], LON[300:], LAT[300:])
    _is_the_flight(read_one(tmp_path, "a.csv", first + second))


def _parts_of(values: np.ndarray, *, signed_minutes: bool) -> tuple[list[str], list[str]]:
    degrees = np.floor(np.abs(values))
    minutes = (np.abs(values) - degrees) * 60.0
    signs = ["-" if value < 0.0 else "" for value in values]
    return (
        [f"{sign}{degree:.0f}" for sign, degree in zip(signs, degrees, strict=True)],
        [f"{sign * signed_minutes}{minute:.5f}" for sign, minute in zip(signs, minutes, strict=True)],
    )


@pytest.mark.parametrize("signed_minutes", [True, False])
@pytest.mark.parametrize("west", [11.9, 61.9])
def test_minutes_beside_degrees_of_minus_zero_lie_west(
    tmp_path: Path, west: float, signed_minutes: bool
) -> None:
    """England lies on both sides of Greenwich: −0° 24' read as 0° 24' mirrors a flight, and its turns."""
    lon = FLIGHT.lon - west
    text = table(
        ["time", "lat deg", "lat min", "lon deg", "lon min"],
        FLIGHT.iso(),
        *_parts_of(FLIGHT.lat, signed_minutes=signed_minutes),
        *_parts_of(lon, signed_minutes=signed_minutes),
    )
    track = read_one(tmp_path, "a.csv", text)
    np.testing.assert_allclose(track.lon_deg, lon, atol=1e-6)
    np.testing.assert_allclose(track.lat_deg, FLIGHT.lat, atol=1e-6)


def test_a_header_written_over_two_lines(tmp_path: Path) -> None:
    """Spreadsheets break the line inside a header's cell."""
    text = table(['"Time\n(UTC)"', '"Latitude\n(deg)"', '"Longitude\r\n(deg)"'], FLIGHT.iso(), LAT, LON)
    _is_the_flight(read_one(tmp_path, "a.csv", text))


def test_json_with_an_object_for_each_value(tmp_path: Path) -> None:
    """Libraries of tables write a column as an object of its rows' numbers."""
    columns = {"time": FLIGHT.iso(), "lat": FLIGHT.lat.tolist(), "lon": FLIGHT.lon.tolist()}
    text = json.dumps(
        {name: {str(i): one for i, one in enumerate(values)} for name, values in columns.items()}
    )
    _is_the_flight(read_one(tmp_path, "a.json", text))


def test_a_receiver_that_freezes_for_good_rounds_nothing(tmp_path: Path) -> None:
    """Nothing follows that shows where the aircraft went: its last place stays at its own time."""
    last = [min(i, 500) for i in range(600)]
    text = table(["time", "lat", "lon"], FLIGHT.iso(), [LAT[i] for i in last], [LON[i] for i in last])
    track = read_one(tmp_path, "a.csv", text)
    assert "position-frozen" in codes(track) and "position-rounded" not in codes(track)
    assert track.duration_s == pytest.approx(500.0)


@pytest.mark.parametrize(
    ("header", "channel"),
    [
        ("Vitesse sol (nœuds)", "ground_speed_kt"),
        ("Inclinação lateral (graus)", "bank_deg"),
        ("Inclinaison latérale (°)", "bank_deg"),
        ("Inclinazione laterale [°]", "bank_deg"),
    ],
)
def test_words_of_other_languages_that_were_passed_over(tmp_path: Path, header: str, channel: str) -> None:
    values = {"ground_speed_kt": FLIGHT.ground_speed_kt, "bank_deg": FLIGHT.bank_deg}[channel]
    track = read_one(
        tmp_path, "a.csv", table(["time", "lat", "lon", header], FLIGHT.iso(), LAT, LON, numbers(values))
    )
    np.testing.assert_allclose(track.channels[channel], values, atol=0.01)


def test_apostrophes_of_both_kinds_part_thousands(tmp_path: Path) -> None:
    for sign in ("'", "\u2019"):
        heights = [f"{height:,.1f}".replace(",", sign) for height in FLIGHT.altitude_ft]
        text = table(["time", "lat", "lon", "alt_ft"], FLIGHT.iso(), LAT, LON, heights)
        track = read_one(tmp_path, "a.csv", text)
        np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft, atol=0.06)


@pytest.mark.parametrize("quote", ["", '"'])
def test_rows_that_begin_with_their_number(tmp_path: Path, quote: str) -> None:
    """Programs for statistics write the rows' numbers, and no word for them in the header."""
    numbered = [f"{quote}{i}{quote}" for i in range(1, 601)]
    text = table(["time", "lat", "lon", ""], numbered, ISO, LAT, LON).replace(
        "time,lat,lon,", "time,lat,lon", 1
    )
    _is_the_flight(read_one(tmp_path, "a.csv", text))


def test_a_cell_too_many_behind_counted_seconds_is_no_row_number(tmp_path: Path) -> None:
    text = table(["time_s", "lat", "lon", ""], range(600), LAT, LON, [7.5] * 600)
    _is_the_flight(read_one(tmp_path, "a.csv", text.replace("lon,\n", "lon\n", 1)), dated=False)


@pytest.mark.parametrize("separator", [",", ";"])
def test_lines_that_stand_in_quotation_marks_as_a_whole(tmp_path: Path, separator: str) -> None:
    """A spreadsheet that took a table for one column writes it so."""
    lines = table(["time", "lat", "lon"], ISO, LAT, LON, separator=separator).splitlines()
    _is_the_flight(read_one(tmp_path, "a.csv", "".join(f'"{line}"\r\n' for line in lines)))


def test_clocks_without_leading_zeros(tmp_path: Path) -> None:
    moments = [moment - timedelta(hours=11, minutes=55) for moment in MOMENTS]
    clock = [f"{moment.hour}:{moment.minute}:{moment.second}" for moment in moments]
    track = read_one(
        tmp_path, "a.csv", table(["date", "time utc", "lat", "lon"], ["2026-03-14"] * 600, clock, LAT, LON)
    )
    np.testing.assert_allclose(track.time_s, FLIGHT.time_s)
    assert track.start_utc == moments[0]


def test_json_that_begins_with_a_missing_point_or_parts_its_sensors(tmp_path: Path) -> None:
    points = [
        {
            "gps": {"time": ISO[i], "lat": FLIGHT.lat[i], "lon": FLIGHT.lon[i]},
            "imu": {"roll_deg": FLIGHT.bank_deg[i]},
        }
        for i in range(600)
    ]
    track = read_one(tmp_path, "a.json", json.dumps([None, *points, None]))
    _is_the_flight(track)
    np.testing.assert_allclose(track.channels["bank_deg"], FLIGHT.bank_deg, atol=0.01)


@pytest.mark.parametrize(
    ("header", "side", "sign"),
    [
        ("Zeit;Breite;Länge", "O", 1.0),
        ("Heure;Latitude;Longitude", "O", -1.0),
        ("Hora;Latitud;Longitud", "O", -1.0),
        ("Ora;Latitudine;Longitudine", "O", -1.0),
        ("time;lat;lon", "Ouest", -1.0),
        ("time;lat;lon", "Ost", 1.0),
    ],
)
def test_the_letter_o_is_east_or_west_by_the_language(
    tmp_path: Path, header: str, side: str, sign: float
) -> None:
    """Read as the other side a flight is mirrored, and its right turns are left ones."""
    lon = numbers(FLIGHT.lon - 10.5, 7)
    time, lat, east = header.split(";")
    apart = table([time, lat, "N/S", east, "E/W"], ISO, LAT, ["N"] * 600, lon, [side] * 600, separator=";")
    beside = table([time, lat, east], ISO, LAT, [f"{one} {side[0]}" for one in lon], separator=";")
    for text in (apart, beside) if len(side) == 1 else (apart,):
        track = read_one(tmp_path, "a.csv", text)
        np.testing.assert_allclose(track.lon_deg, sign * (FLIGHT.lon - 10.5), atol=1e-6)


def test_the_letter_o_without_a_language_is_refused_unless_the_other_side_is_there(tmp_path: Path) -> None:
    text = table(["time", "lat", "lon"], ISO, LAT, [f"{value:.7f} O" for value in FLIGHT.lon])
    with pytest.raises(LogError, match=r"column 'lon': the letter O .*write E or W"):
        read_one(tmp_path, "a.csv", text)
    lon = FLIGHT.lon - float(np.mean(FLIGHT.lon))
    for east, west in (("E", "O"), ("O", "W")):
        cells = [f"{abs(value):.7f} {east if value >= 0.0 else west}" for value in lon]
        track = read_one(tmp_path, "a.csv", table(["time", "lat", "lon"], ISO, LAT, cells))
        np.testing.assert_allclose(track.lon_deg, lon, atol=1e-6)


@pytest.mark.parametrize("digits", [1, 2, 3])
@pytest.mark.parametrize("dated", [True, False])
def test_parts_of_a_second_run_together_with_the_clock(tmp_path: Path, digits: int, dated: bool) -> None:
    flight = invented_flight(1500, interval_s=0.1, start=datetime(2026, 3, 14, 23, 59, tzinfo=UTC))
    moments = flight.moments()
    clock = [f"{moment:%H%M%S%f}"[: 6 + digits] for moment in moments]
    headers, columns = ["utc time", "lat", "lon"], [clock, *positions(flight)]
    if dated:
        headers, columns = ["utc date", *headers], [[f"{moment:%d%m%y}" for moment in moments], *columns]
    track = read_one(tmp_path, "a.csv", table(headers, *columns))
    np.testing.assert_allclose(track.time_s, flight.time_s, atol=0.002)
    np.testing.assert_allclose(track.lat_deg, flight.lat, atol=1e-6)
    assert track.start_utc == (flight.start if dated else None)


@pytest.mark.parametrize("fraction", [True, False])
def test_days_as_spreadsheets_number_them_beside_a_clock(tmp_path: Path, fraction: bool) -> None:
    """46095 is 2026-03-14: days from 1899-12-30 (ISO/IEC 29500-1, 18.17.4; the clause from memory)."""
    clock = [f"{0.5 + i / 86_400.0:.9f}" if fraction else f"{MOMENTS[i]:%H:%M:%S}" for i in range(600)]
    _is_the_flight(
        read_one(tmp_path, "a.csv", table(["date", "time", "lat", "lon"], [46095] * 600, clock, LAT, LON))
    )
