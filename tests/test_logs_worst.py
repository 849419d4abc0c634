"""The worst logs that were thought of: either the flight comes out as it was flown, or a clear message does."""

from __future__ import annotations

import io
import json
import random
import re
import warnings
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from analyser.errors import LogError
from analyser.logs import json_stream
from analyser.logs.meaning import meaning_of
from analyser.logs.raw import Content
from analyser.logs.read import read_log
from analyser.logs.track import Track
from tests.logs_invented import Invented, as_geojson, as_gpx, as_json, as_kml, as_ndjson, invented_flight
from tests.logs_reading import codes, numbers, positions, read_one, read_text, table

FLIGHT = invented_flight(300)
ISO = FLIGHT.iso()
LAT, LON = positions(FLIGHT)
ALT = numbers(FLIGHT.altitude_ft, 1)


def same_flight(track: Track, flight: Invented = FLIGHT, samples: int = 0) -> None:
    """Compare what was read with what was flown: times to a millisecond, places to a centimetre or two."""
    count = samples or flight.time_s.size
    assert track.samples == count
    np.testing.assert_allclose(track.time_s, flight.time_s[:count], atol=1e-3)
    np.testing.assert_allclose(track.lat_deg, flight.lat[:count], atol=2e-7)
    np.testing.assert_allclose(track.lon_deg, flight.lon[:count], atol=2e-7)


def features(order: list[int]) -> list[dict[str, object]]:
    """Return timed points of GeoJSON."""
    return [
        {
            "type": "Feature",
            "properties": {"time": ISO[row]},
            "geometry": {"type": "Point", "coordinates": [float(LON[row]), float(LAT[row])]},
        }
        for row in order
    ]


@pytest.mark.parametrize("order", ["reversed", "shuffled"])
def test_points_in_any_order_keep_their_times(tmp_path: Path, order: str) -> None:
    rows = list(range(300))[::-1]
    if order == "shuffled":
        random.Random(1).shuffle(rows)
    track = read_one(
        tmp_path, "a.geojson", json.dumps({"type": "FeatureCollection", "features": features(rows)})
    )
    same_flight(track)
    assert "time-backward" in codes(track) and "time-spike" not in codes(track)


@pytest.mark.parametrize("tail", [1, 40, 300, 3000])
@pytest.mark.parametrize("order", ["times first", "positions first"])
def test_a_geojson_line_that_is_cut_off_pairs_from_its_beginning(
    tmp_path: Path, order: str, tail: int
) -> None:
    text = as_geojson(FLIGHT)
    if order == "positions first":
        geometry, times = json.loads(text)["features"][0]["geometry"], {"coordTimes": ISO}
        text = json.dumps({"type": "Feature", "geometry": geometry, "properties": times})
    track = read_one(tmp_path, "a.geojson", text[:-tail])
    assert track.samples > 150 and "file-cut-off" in codes(track)
    same_flight(track, samples=track.samples)


@pytest.mark.parametrize("order", ["times first", "positions first", "in turn"])
def test_a_kml_track_that_is_cut_off_pairs_from_its_beginning(tmp_path: Path, order: str) -> None:
    text = as_kml(FLIGHT)
    whens, coords = re.findall("<when>.*?</when>", text), re.findall("<coord>.*?</coord>", text)
    if order == "positions first":
        text = f"<kml><Placemark><Track>{''.join(coords)}{''.join(whens)}</Track></Placemark></kml>"
    if order == "in turn":
        pairs = "".join(map("".join, zip(whens, coords, strict=True)))
        text = f"<kml><Placemark><Track>{pairs}</Track></Placemark></kml>"
    track = read_one(tmp_path, "a.kml", text[:-600])
    assert 270 < track.samples < 295 and "file-cut-off" in codes(track)
    same_flight(track, samples=track.samples)


@pytest.mark.parametrize("lost", [0.45, 0.5, 0.55, 0.6, 0.7, 0.8])
@pytest.mark.parametrize("write", [as_kml, as_geojson])
def test_lists_that_are_damaged_inside_are_never_paired_askew(
    tmp_path: Path, write: Callable[[Invented], str], lost: float
) -> None:
    """Five hundred bytes are lost from among the times or the positions: they no longer pair."""
    data = write(FLIGHT).encode()
    at = int(lost * len(data))
    for number, filler in enumerate((b"", bytes(500), b"\xff" * 500)):
        path = tmp_path / f"{number}.log"
        path.write_bytes(data[:at] + filler + data[at + 500 :])
        try:
            (track,) = read_log(path)
        except LogError as error:
            assert error.place and error.mend
        else:
            same_flight(track, samples=track.samples)


@pytest.mark.parametrize("form", [as_kml, as_gpx])
def test_xml_behind_other_text_is_called_so(tmp_path: Path, form: Callable[[Invented], str]) -> None:
    with pytest.raises(LogError, match="does not begin where the file does"):
        read_one(tmp_path, "a.log", "Recorded by an invented recorder\n" + form(FLIGHT))


def test_timed_points_of_kml_that_is_cut_off_are_kept(tmp_path: Path) -> None:
    points = "".join(
        f"<Placemark><TimeStamp><when>{when}</when></TimeStamp><Point><coordinates>{lon},{lat}</coordinates></Point>"
        "</Placemark>"
        for when, lat, lon in zip(ISO, LAT, LON, strict=True)
    )
    track = read_one(tmp_path, "a.kml", f"<kml><Document><Folder>{points[:-1000]}")
    assert track.samples > 280 and "file-cut-off" in codes(track)
    same_flight(track, samples=track.samples)


def test_a_kml_track_without_times_is_called_so(tmp_path: Path) -> None:
    text = re.sub("<when>.*?</when>", "", as_kml(FLIGHT))
    with pytest.raises(LogError, match="has no times, so nothing can be timed"):
        read_one(tmp_path, "a.kml", text)


def test_geojson_in_metres_of_a_grid_is_refused(tmp_path: Path) -> None:
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::25832"}}
    grid = {"type": "FeatureCollection", "crs": crs, "features": features(list(range(300)))}
    with pytest.raises(LogError, match="EPSG:25832"):
        read_one(tmp_path, "a.geojson", json.dumps(grid))
    crs["properties"] = {"name": "urn:ogc:def:crs:OGC:1.3:CRS84"}
    same_flight(read_one(tmp_path, "b.geojson", json.dumps(grid)))


@pytest.mark.parametrize("before", ['{"time": broken', "# a log", "null", '"lon": 11.5}'])
@pytest.mark.parametrize("form", ["points", "features"])
def test_a_line_that_is_no_json_costs_only_itself(tmp_path: Path, form: str, before: str) -> None:
    lines = (
        as_ndjson(FLIGHT).splitlines()
        if form == "points"
        else [json.dumps(f) for f in features(list(range(300)))]
    )
    if form == "features":
        # The first line tells that these are features.
        lines.insert(7, before)
    else:
        lines.insert(0, before)
    track = read_one(tmp_path, "a.ndjson", "\n".join(lines) + "\n")
    same_flight(track)
    assert "1 line is broken" in next(n.message for n in track.notices if n.code == "record-damaged")


def test_lines_of_json_with_every_kind_of_end(tmp_path: Path) -> None:
    ends = ("\n", "\r\n", "\r")
    text = "".join(line + ends[row % 3] for row, line in enumerate(as_ndjson(FLIGHT).splitlines()))
    track = read_one(tmp_path, "a.ndjson", text)
    same_flight(track)
    assert "record-damaged" not in codes(track)


@pytest.mark.parametrize("shape", ["legs in a list", "by time"])
def test_points_deep_inside_json(tmp_path: Path, shape: str) -> None:
    points = [{"time": t, "lat": float(a), "lon": float(o)} for t, a, o in zip(ISO, LAT, LON, strict=True)]
    value: object = {"data": {"flight": {"legs": [{"samples": points[:100]}, {"samples": points[100:]}]}}}
    if shape == "by time":
        value = {point.pop("time"): point for point in points}
    same_flight(read_one(tmp_path, "a.json", json.dumps(value)))


def test_a_place_round_a_list_of_points_is_none_of_them(tmp_path: Path) -> None:
    fixes = [{"time": t, "lat": float(a), "lon": float(o)} for t, a, o in zip(ISO, LAT, LON, strict=True)]
    home = {"name": "an invented airfield", "lat": 50.0, "lon": 8.0}
    same_flight(read_one(tmp_path, "a.json", json.dumps([{**home, "fixes": fixes}])))
    events = [{**fix, "events": [home]} for fix in fixes]
    same_flight(read_one(tmp_path, "b.json", json.dumps(events)))


@pytest.mark.parametrize("comma", [",\n", "\n,"])
def test_a_list_written_over_lines_is_one_list(tmp_path: Path, comma: str) -> None:
    text = "[\n" + comma.join(as_ndjson(FLIGHT).splitlines()) + "\n]\n"
    track = read_one(tmp_path, "a.json", text)
    same_flight(track)
    assert not {"record-damaged", "file-cut-off"} & codes(track)


def test_lists_of_aircraft_in_json_are_flights_of_their_own(tmp_path: Path) -> None:
    other = invented_flight(300, lat=50.0)
    value = [
        {
            "registration": name,
            "fixes": [
                {"time": t, "lat": float(a), "lon": float(o)}
                for t, a, o in zip(flight.iso(), flight.lat, flight.lon, strict=True)
            ],
        }
        for name, flight in (("one", FLIGHT), ("two", other))
    ]
    (tmp_path / "a.json").write_text(json.dumps(value))
    one, two = read_log(tmp_path / "a.json")
    same_flight(one)
    same_flight(two, other)


# Tables.


@pytest.mark.parametrize("begins_ft", [4000.0, 600.0])
def test_thousands_parted_by_commas_among_commas_are_refused(tmp_path: Path, begins_ft: float) -> None:
    climb = [f"{begins_ft + 4.0 * row:,.0f}" for row in range(300)]
    for headers, columns in (
        (["time", "lat", "lon", "alt_ft"], (ISO, LAT, LON, climb)),
        (["time", "alt_ft", "lat", "lon"], (ISO, climb, LAT, LON)),
    ):
        with pytest.raises(LogError, match="commas part the columns and thousands too"):
            read_one(tmp_path, "a.csv", table(headers, *columns))


def test_whole_numbers_beside_one_another_are_no_thousands(tmp_path: Path) -> None:
    """Its header has no word for the last cell of each row."""
    heading, ias = [f"{100 + row}" for row in range(300)], [f"{110 + row % 5}" for row in range(300)]
    text = table(["time", "lat", "lon", "hdg", "ias kt", ""], ISO, LAT, LON, heading, ias, ["7"] * 300)
    same_flight(read_one(tmp_path, "a.csv", text.replace("ias kt,", "ias kt", 1)))


@pytest.mark.parametrize(
    "header",
    [
        "Time,Position,,Height\nUTC,Lat,Lon,ft",
        ",Position,Position,Altitude\nTime,Latitude,Longitude,ft",
        "Date/Time,GPS,GPS,GPS\n,Latitude,Longitude,Altitude (ft)",
        "An invented flight,,,\nTime,Position,,Altitude\nUTC,Lat,Lon,ft",
    ],
)
def test_a_header_over_two_rows(tmp_path: Path, header: str) -> None:
    rows = table(["", "", "", ""], ISO, LAT, LON, ALT).split("\n", 1)[1]
    track = read_one(tmp_path, "a.csv", f"{header}\n{rows}")
    same_flight(track)
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft, atol=0.06)


def test_a_first_row_of_words_is_no_second_header(tmp_path: Path) -> None:
    """The phase of the first row is a word that some recorders head their vertical speed with."""
    lat = [f"N48 {60.0 * (value - 48.0):.5f}" for value in FLIGHT.lat]
    lon = [f"E011 {60.0 * (value - 11.0):.5f}" for value in FLIGHT.lon]
    clock = [f"{moment:%H:%M:%S}" for moment in FLIGHT.moments()]
    track = read_one(
        tmp_path, "a.csv", table(["time", "lat", "lon", "phase"], clock, lat, lon, ["CLIMB"] * 300)
    )
    same_flight(track)


def test_the_first_of_two_sensors_counts(tmp_path: Path) -> None:
    headers = ["time", "gps1 lat", "gps1 lon", "gps2 lat", "gps2 lon", "ALT1 ft", "ALT2 ft"]
    off = [f"{float(value) + 0.01:.7f}" for value in LAT]
    high = numbers(FLIGHT.altitude_ft + 300.0, 1)
    plain = table(["time", "lat1", "lon1", "lat", "lon"], ISO, off, LON, LAT, LON)
    same_flight(read_one(tmp_path, "b.csv", plain))
    track = read_one(tmp_path, "a.csv", table(headers, ISO, LAT, LON, off, LON, ALT, high))
    same_flight(track)
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft, atol=0.06)


def test_a_workbook_with_merged_headers(tmp_path: Path) -> None:
    import xlsxwriter

    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True})
    sheet = book.add_worksheet()
    sheet.merge_range("A1:D1", "An invented flight")
    sheet.merge_range("B2:C2", "Position")
    sheet.write("A2", "Time")
    sheet.write("D2", "Altitude")
    sheet.write_row("A3", ["UTC", "Lat", "Lon", "ft"])
    for row, (when, *values) in enumerate(
        zip(ISO, FLIGHT.lat, FLIGHT.lon, FLIGHT.altitude_ft, strict=True), 3
    ):
        sheet.write_row(row, 0, [when, *values])
    book.close()
    (tmp_path / "a.xlsx").write_bytes(out.getvalue())
    (track,) = read_log(tmp_path / "a.xlsx")
    same_flight(track)
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft)


@pytest.mark.parametrize(
    ("header", "meant"),
    [
        ("Fecha y hora", "time"),
        ("Data e ora", "time"),
        ("Data e hora", "time"),
        ("Date et heure (UTC)", "time"),
        ("Datum und Uhrzeit", "time"),
        ("Höhe über Meer (m)", "alt"),
        ("Höhe über NN [m]", "alt"),
        ("altitude au-dessus du niveau de la mer (m)", "alt"),
        ("Altitud sobre el nivel del mar (m)", "alt"),
        ("Altitudine sul livello del mare (m)", "alt"),
        ("Altitude acima do nível do mar (m)", "alt"),
        ("Altitude above mean sea level (ft)", "alt"),
        ("WKT", "position"),
    ],
)
def test_more_words_of_headers(header: str, meant: str) -> None:
    found = meaning_of(header)
    assert found is not None and found.concept.name == meant


def test_blanks_inside_headers_part_no_columns(tmp_path: Path) -> None:
    comma = [[cell.replace(".", ",") for cell in cells] for cells in (LAT, LON, ALT)]
    headers = ["Date et heure (UTC)", "Latitude (°)", "Longitude (°)", "Altitude (pieds)"]
    track = read_one(tmp_path, "a.csv", table(headers, ISO, *comma, separator=";"), encoding="cp1252")
    same_flight(track)


@pytest.mark.parametrize(
    ("headers", "south", "west"),
    [
        (("latitude south", "longitude W"), "{:.7f}", "{:.7f}"),
        (("lat", "lon"), "Sur {:.7f}", "Oeste {:.7f}"),
        (("lat", "lon"), "{:.7f} Sud", "{:.7f} Ovest"),
    ],
)
def test_south_and_west_in_words(tmp_path: Path, headers: tuple[str, str], south: str, west: str) -> None:
    flight = invented_flight(300, lat=-33.0, lon=-70.0)
    lat, lon = (
        [form.format(-v) for v in values] for form, values in ((south, flight.lat), (west, flight.lon))
    )
    same_flight(read_one(tmp_path, "a.csv", table(["time", *headers], flight.iso(), lat, lon)), flight)


@pytest.mark.parametrize("headers", [("LATITUDE N/S", "LONGITUDE W/E"), ("lat (N+ S-)", "lon (E+ W-)")])
def test_headers_that_name_both_sides_turn_nothing_round(tmp_path: Path, headers: tuple[str, str]) -> None:
    same_flight(read_one(tmp_path, "a.csv", table(["time", *headers], ISO, LAT, LON)))
    sided = [f"{cell}N" for cell in LAT], [f"{cell}E" for cell in LON]
    same_flight(read_one(tmp_path, "b.csv", table(["time", *headers], ISO, *sided)))


def test_degrees_minutes_and_seconds_under_single_letters(tmp_path: Path) -> None:
    parts = []
    for values in (FLIGHT.lat, FLIGHT.lon):
        minutes = values % 1.0 * 60.0
        parts += [[f"{v:.0f}" for v in column] for column in (np.floor(values), np.floor(minutes))]
        parts.append([f"{v:.4f}" for v in minutes % 1.0 * 60.0])
    headers = [f"{name}_{letter}" for name in ("lat", "lon") for letter in "dms"]
    same_flight(read_one(tmp_path, "a.csv", table(["time", *headers], ISO, *parts)))


@pytest.mark.parametrize(("lat", "lon"), [(1.3, 103.9), (-0.2, -78.5), (51.5, 0.1)])
@pytest.mark.parametrize("form", ["minutes", "ten-millionths"])
def test_positions_without_points_beside_the_equator_and_greenwich(
    tmp_path: Path, form: str, lat: float, lon: float
) -> None:
    """One of the two is small there in any form; the receiver had no fix at first."""
    flight = invented_flight(300, lat=lat, lon=lon)
    written = []
    for values in (flight.lat, flight.lon):
        size = np.abs(values)
        together = np.floor(size) * 100.0 + size % 1.0 * 60.0 if form == "minutes" else np.round(size * 1e7)
        written.append([f"{v:.7f}" if form == "minutes" else f"{v:.0f}" for v in np.sign(values) * together])
    text = table(["time", "lat", "lon"], flight.iso(), *[["0"] * 5 + cells[5:] for cells in written])
    track = read_one(tmp_path, "a.csv", text)
    assert track.samples == 295 and {"position-form-assumed", "position-zero"} <= codes(track)
    np.testing.assert_allclose(track.lat_deg, flight.lat[5:], atol=2e-7)
    np.testing.assert_allclose(track.lon_deg, flight.lon[5:], atol=2e-7)


@pytest.mark.parametrize("cell", ["48.100.000", "48-", "Rome"])
def test_a_position_that_cannot_be_read_is_shown(tmp_path: Path, cell: str) -> None:
    with pytest.raises(LogError, match=f"column 'lat': no cell can be read as a position, such as '{cell}'"):
        read_one(tmp_path, "a.csv", table(["time", "lat", "lon"], ISO, [cell] * 300, LON))


# Times.


@pytest.mark.parametrize("counted_on", [True, False])
def test_the_week_of_gps_time_ends_in_flight(tmp_path: Path, counted_on: bool) -> None:
    """GPS time is 18 s ahead of UTC since 2017 (IERS Bulletin C); its weeks begin on Sundays, 1980-01-06 the first."""
    flight = invented_flight(300, start=datetime(2026, 3, 14, 23, 57, 0, tzinfo=UTC))
    gps = [(m - datetime(1980, 1, 6, tzinfo=UTC)).total_seconds() + 18.0 for m in flight.moments()]
    weeks = [int(s // 604_800) if counted_on else int(gps[0] // 604_800) for s in gps]
    lat, lon = positions(flight)
    text = table(["gps week", "tow", "lat", "lon"], weeks, [f"{s % 604_800:.1f}" for s in gps], lat, lon)
    track = read_one(tmp_path, "a.csv", text)
    same_flight(track, flight)
    assert track.start_utc == flight.start and "time-set-back" not in codes(track)


@pytest.mark.parametrize("hours", [-5, 9])
@pytest.mark.parametrize("with_offset", [True, False])
def test_local_dates_beside_utc(tmp_path: Path, with_offset: bool, hours: int) -> None:
    """In New York it is still Saturday, or in Tokyo Sunday already."""
    start = datetime(2026, 3, 15, 2, 0, tzinfo=UTC) if hours < 0 else datetime(2026, 3, 14, 20, 0, tzinfo=UTC)
    flight = invented_flight(300, start=start)
    local = [f"{m + timedelta(hours=hours):%Y-%m-%d}" for m in flight.moments()]
    clock, offset = [f"{m:%H:%M:%S}" for m in flight.moments()], [f"{hours:+03d}:00"] * 300
    headers, columns = ["local date", "utc time", "lat", "lon"], [local, clock, *positions(flight)]
    if with_offset:
        headers, columns = [*headers, "utc offset"], [*columns, offset]
    track = read_one(tmp_path, "a.csv", table(headers, *columns))
    assert track.start_utc is not None
    if with_offset:
        assert track.start_utc == start
    else:
        (said,) = [notice.message for notice in track.notices if notice.code == "date-ambiguous"]
        assert "the day may be one off" in said


@pytest.mark.parametrize("parts", [False, True])
def test_milliseconds_in_a_column_of_their_own(tmp_path: Path, parts: bool) -> None:
    flight = invented_flight(600, interval_s=0.2)
    moments = flight.moments()
    clock = {"time": [f"{m:%H:%M:%S}" for m in moments]}
    if parts:
        clock = {name: [f"{getattr(m, name)}" for m in moments] for name in ("hour", "minute", "second")}
    milli = [m.microsecond // 1000 for m in moments]
    text = table(
        ["date", *clock, "ms", "lat", "lon"], ["2026-03-14"] * 600, *clock.values(), milli, *positions(flight)
    )
    track = read_one(tmp_path, "a.csv", text)
    same_flight(track, flight)
    assert track.start_utc == flight.start


def test_words_under_milliseconds_are_passed_over(tmp_path: Path) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        text = table(["time", "ms", "lat", "lon"], ISO, ["?!"] * 300, LAT, LON)
        same_flight(read_one(tmp_path, "a.csv", text))


def test_other_milliseconds_do_not_shake_the_clock(tmp_path: Path) -> None:
    """How long the recorder waited for each sample."""
    wait = [f"{(row * 377) % 900}" for row in range(300)]
    same_flight(read_one(tmp_path, "a.csv", table(["time", "ms", "lat", "lon"], ISO, wait, LAT, LON)))


def test_days_of_a_spreadsheet_that_counts_from_1904_are_asked_about(tmp_path: Path) -> None:
    """Counted from 1899-12-30 the same numbers are of four years and a day before."""
    days = [(m - datetime(1904, 1, 1, tzinfo=UTC)) / timedelta(days=1) for m in FLIGHT.moments()]
    text = table(["time", "lat", "lon"], [f"{day:.9f}" for day in days], LAT, LON)
    said = next(
        n.message for n in read_one(tmp_path, "a.csv", text).notices if n.code == "time-epoch-assumed"
    )
    assert "2026-03-14 if days since 1904-01-01 (--units time=1904days)" in said
    track = read_one(tmp_path, "a.csv", text, units={"time": "1904days"})
    assert track.start_utc is not None and abs(track.start_utc - FLIGHT.start) < timedelta(milliseconds=1)


@pytest.mark.parametrize("write", [as_kml, as_geojson, as_ndjson])
def test_blocks_that_were_never_written_before_the_log(
    tmp_path: Path, write: Callable[[Invented], str]
) -> None:
    (tmp_path / "a.log").write_bytes(bytes(512) + write(FLIGHT).encode())
    (track,) = read_log(tmp_path / "a.log")
    same_flight(track)


@pytest.mark.parametrize("chunk", [50, 61, 97, 256])
def test_nothing_is_lost_where_a_piece_of_json_ends(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, chunk: int
) -> None:
    monkeypatch.setattr(json_stream, "_CHUNK", chunk)
    monkeypatch.setattr(json_stream, "MAX_JSON_VALUE", 100)
    for name, text in (
        ("a.geojson", json.dumps({"type": "FeatureCollection", "features": features(list(range(300)))})),
        ("b.geojson", as_geojson(FLIGHT)),
        ("c.json", as_json(FLIGHT)),
        ("d.json", json.dumps(json.loads(as_json(FLIGHT)), indent=1)),
    ):
        track = read_one(tmp_path, name, text)
        same_flight(track)
        assert "file-cut-off" not in codes(track)


@pytest.mark.parametrize("chunk", [50, 51])
def test_no_letter_of_two_bytes_is_lost_where_a_piece_of_json_ends(
    monkeypatch: pytest.MonkeyPatch, chunk: int
) -> None:
    monkeypatch.setattr(json_stream, "_CHUNK", chunk)
    told = ["é" * (1 + place % 7) for place in range(90)]
    stream = json_stream.JsonStream(Content("a.json", json.dumps(told, ensure_ascii=False).encode()))
    assert [stream.value() for _ in stream.items()] == told


@pytest.mark.parametrize("beside", [True, False])
def test_moving_features(tmp_path: Path, beside: bool) -> None:
    """OGC 19-045r3, 7.2: a temporal geometry has its moments beside its coordinates."""
    places = list(zip(FLIGHT.lon.tolist(), FLIGHT.lat.tolist(), strict=True))
    moving = {"type": "MovingPoint", "datetimes": ISO, "coordinates": places}
    still = {"geometry": {"type": "LineString", "coordinates": places}} if beside else {}
    text = json.dumps({"type": "Feature", "temporalGeometry": moving, **still, "properties": {}})
    track = read_one(tmp_path, "a.json", text)
    same_flight(track)
    assert "line-untimed" not in codes(track)


def test_points_whose_place_is_written_as_geojson(tmp_path: Path) -> None:
    points = [
        {"time": when, "location": {"type": "Point", "coordinates": [lon, lat]}}
        for when, lat, lon in zip(ISO, FLIGHT.lat.tolist(), FLIGHT.lon.tolist(), strict=True)
    ]
    same_flight(read_one(tmp_path, "a.json", json.dumps(points)))


def test_large_json_of_two_aircraft_that_is_cut_off(tmp_path: Path) -> None:
    """What is too large, or broken, to be taken whole keeps what is said round it; the place counts from its line."""
    aircraft = [
        {"id": name, "track": [{"t": when, "lat": lat, "lon": lon} for when, lat, lon in rows]}
        for name, rows in (
            ("a", list(zip(ISO, FLIGHT.lat.tolist(), FLIGHT.lon.tolist(), strict=True))),
            ("b", list(zip(ISO, (FLIGHT.lat + 0.5).tolist(), FLIGHT.lon.tolist(), strict=True))),
        )
    ]
    text = json.dumps({"aircraft": aircraft})[:-400]
    tracks = read_text(tmp_path, "a.json", text)
    assert [track.name for track in tracks] == ["a.json (a)", "a.json (b)"]
    (said,) = [notice.message for notice in tracks[0].notices if notice.code == "file-cut-off"]
    column = int(re.findall(r"column (\d+)", said)[0])
    assert len(text) - 60 < column <= len(text) + 1
