"""Formats as programs write them in earnest: names that are no XML, broken lines, points in folders of their own."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from analyser.errors import LogError
from analyser.logs.read import read_log
from analyser.logs.track import Track
from tests.logs_invented import (
    Invented,
    as_csv,
    as_fit,
    as_geojson,
    as_gpx,
    as_igc,
    as_json,
    as_kml,
    as_ndjson,
    as_nmea,
    as_tcx,
    invented_flight,
    records,
    sentence,
)
from tests.logs_reading import codes, read_one

FLIGHT = invented_flight(200)
PLACES = [
    f"{lon:.7f},{lat:.7f},{alt * 0.3048:.2f}"
    for lat, lon, alt in zip(FLIGHT.lat, FLIGHT.lon, FLIGHT.altitude_ft, strict=True)
]


def same_flight(
    track: Track, flight: Invented = FLIGHT, *, altitude: bool = True, within_ft: float = 3.0
) -> None:
    """Check times, positions (to 2 m) and altitudes against the truth."""
    assert track.samples == flight.time_s.size
    np.testing.assert_allclose(track.time_s, flight.time_s, atol=0.01)
    np.testing.assert_allclose(track.lat_deg, flight.lat, atol=2e-5)
    np.testing.assert_allclose(track.lon_deg, flight.lon, atol=2e-5)
    if altitude:
        np.testing.assert_allclose(track.channel("altitude_ft"), flight.altitude_ft, atol=within_ft)


def _kml(body: str) -> str:
    return f"<kml><Document>{body}</Document></kml>"


@pytest.mark.parametrize(
    "name", ["A & B", "a\x0bb", "a&nbsp;b", "R&D; x", "&amp; fine &#38; so is this"], ids=repr
)
def test_xml_names_that_are_no_xml(tmp_path: Path, name: str) -> None:
    same_flight(read_one(tmp_path, "a.gpx", as_gpx(FLIGHT, name=name)))


def test_an_entity_cut_by_the_end_of_a_piece_is_whole(tmp_path: Path) -> None:
    from analyser.logs.xml_stream import _CHUNK

    for short in range(1, 6):
        text = as_gpx(FLIGHT)
        head = text.index("<trk>")
        text = (
            text[:head]
            + f"<!--{'x' * (_CHUNK - head - 30 - short)}--><trk><name>12345&amp;6"
            + text[head + 16 :]
        )
        (tmp_path / "a.gpx").write_text(text.replace("6invented</name>", "6</name>"))
        (track,) = read_log(tmp_path / "a.gpx")
        same_flight(track)


@pytest.mark.parametrize(
    ("declared", "encoding"),
    [
        ("UTF-8", "cp1252"),
        ("iso-8859-1", "latin-1"),
        ("windows-1252", "cp1252"),
        ("utf-16", "utf-8"),
        ("UTF-8", "utf-16"),
        ("iso-8859-1", "utf-8"),
    ],
)
def test_xml_in_another_character_set_than_it_declares(tmp_path: Path, declared: str, encoding: str) -> None:
    text = as_gpx(FLIGHT, name="Flüge").replace('encoding="UTF-8"', f'encoding="{declared}"')
    same_flight(read_one(tmp_path, "a.gpx", text, encoding=encoding))


def test_decimal_commas_and_slashes_in_gpx(tmp_path: Path) -> None:
    text = re.sub(r'"(-?\d+)\.(\d{7})"', r'"\1,\2"', as_gpx(FLIGHT))
    text = re.sub(r"<ele>(\d+)\.", r"<ele>\1,", text).replace("2026-03-14T", "2026/03/14 ")
    track = read_one(tmp_path, "a.gpx", text)
    same_flight(track)
    assert track.start_utc == FLIGHT.start


@pytest.mark.parametrize(
    ("name", "write", "keep"),
    [
        ("a.gpx", as_gpx, 200),
        ("a.gpx", as_gpx, 60),
        ("a.gpx", as_gpx, 30),
        ("a.kml", as_kml, 300),
        ("a.tcx", as_tcx, 200),
        ("a.geojson", as_geojson, 150),
        ("a.geojson", as_geojson, 5000),
        ("a.json", as_json, 60),
        ("a.ndjson", as_ndjson, 61),
        ("a.ndjson", as_ndjson, 25),
        ("a.fit", as_fit, 60),
    ],
)
def test_cut_off_before_the_first_point(
    tmp_path: Path, name: str, write: Callable[[Invented], str | bytes], keep: int
) -> None:
    data = write(FLIGHT)
    path = tmp_path / name
    path.write_bytes((data if isinstance(data, bytes) else data.encode())[:keep])
    with pytest.raises(LogError, match="cut off or damaged before its first whole point") as raised:
        read_log(path)
    assert raised.value.place and raised.value.mend and raised.value.file == name


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("<gpx><trk></trk></gpx>", "no track points"),
        ("<kml><Document></Document></kml>", "no track"),
        ("<TrainingCenterDatabase></TrainingCenterDatabase>", "no track point has a position"),
        ('{"type": "FeatureCollection", "features": [}, {}, {}, {}, {}, {}]}', "not well-formed JSON"),
    ],
)
def test_a_whole_file_is_not_called_cut_off(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(LogError, match=said):
        read_one(tmp_path, "a", text)


@pytest.mark.parametrize("wrap", ["<Placemark>{}</Placemark>", "<Folder><Placemark>{}</Placemark></Folder>"])
@pytest.mark.parametrize(
    "time",
    [
        "<TimeStamp><when>{}</when></TimeStamp>",
        "<TimeSpan><begin>{}</begin></TimeSpan>",
        '<ExtendedData><Data name="time"><value>{}</value></Data></ExtendedData>',
    ],
)
def test_kml_points_each_with_its_time(tmp_path: Path, wrap: str, time: str) -> None:
    points = (
        wrap.format(
            f"{time.format(when)}<Point><altitudeMode>absolute</altitudeMode><coordinates>{place}</coordinates></Point>"
        )
        for when, place in zip(FLIGHT.iso(), PLACES, strict=True)
    )
    same_flight(read_one(tmp_path, "a.kml", _kml(f"<Folder>{''.join(points)}</Folder>")))


def test_kml_coord_with_commas(tmp_path: Path) -> None:
    whens = "".join(f"<when>{when}</when>" for when in FLIGHT.iso())
    coords = "".join(f"<coord>{place}</coord>" for place in PLACES)
    text = _kml(f"<Placemark><Track><altitudeMode>absolute</altitudeMode>{whens}{coords}</Track></Placemark>")
    same_flight(read_one(tmp_path, "a.kml", text))


def test_nmea_gns_alone(tmp_path: Path) -> None:
    """NMEA 0183: GNS has a mode letter for each constellation, N for none; read as the reference library reads it."""
    import pynmea2

    gga = [line for line in as_nmea(FLIGHT).splitlines() if "GGA" in line]
    lines = []
    for place, line in enumerate(gga):
        fields = line.split(",")
        mode = "NN" if place == 7 else "AN"
        lines.append(sentence(f"GNGNS,{','.join(fields[1:6])},{mode},12,0.8,{fields[9]},47.0,,,V"))
    track = read_one(tmp_path, "a.nmea", "".join(lines))
    assert track.samples == FLIGHT.time_s.size - 1
    assert "fix-missing" in codes(track)
    first = pynmea2.parse(lines[0].strip())
    assert track.lat_deg[0] == pytest.approx(first.latitude, abs=1e-7)
    assert track.channel("altitude_ft")[0] == pytest.approx(float(first.altitude) / 0.3048, abs=0.01)


@pytest.mark.parametrize(
    "form", ["HPDTE{:%d%m%y}", "HODTEDATE:{:%d%m%y},01", "hfdte{:%d%m%y}", "HFDTEDATE:{:%d/%m/%y}"]
)
def test_igc_date_records(tmp_path: Path, form: str) -> None:
    assert read_one(tmp_path, "a.igc", as_igc(FLIGHT, date_form=form)).start_utc == FLIGHT.start


def test_igc_date_after_the_first_fixes_belongs_to_them(tmp_path: Path) -> None:
    lines = as_igc(FLIGHT).split("\r\n")
    track = read_one(tmp_path, "a.igc", "\r\n".join([lines[0], *lines[2:9], lines[1], *lines[9:]]))
    assert (track.samples, track.start_utc) == (FLIGHT.time_s.size, FLIGHT.start)


def test_igc_with_bare_carriage_returns(tmp_path: Path) -> None:
    same_flight(read_one(tmp_path, "a.igc", as_igc(FLIGHT).replace("\r\n", "\r")), within_ft=3.0)


def test_igc_hours_counted_on_over_midnight(tmp_path: Path) -> None:
    flight = invented_flight(200, start=datetime(2026, 3, 14, 23, 58, tzinfo=UTC))
    text = re.sub(r"^B00", "B24", as_igc(flight), flags=re.MULTILINE)
    track = read_one(tmp_path, "a.igc", text)
    same_flight(track, flight)
    assert track.start_utc == flight.start


@pytest.mark.parametrize("key", ["datetimes", "coord_times", "CoordTimes", "timestamps", "time"])
def test_geojson_names_of_the_list_of_times(tmp_path: Path, key: str) -> None:
    same_flight(read_one(tmp_path, "a.geojson", as_geojson(FLIGHT).replace("coordTimes", key)))


def test_geojson_multipoint_with_times(tmp_path: Path) -> None:
    same_flight(read_one(tmp_path, "a.geojson", as_geojson(FLIGHT).replace("LineString", "MultiPoint")))


def test_a_broken_line_of_ndjson_costs_only_itself(tmp_path: Path) -> None:
    lines = as_ndjson(FLIGHT).splitlines()
    for place in (40, 90, 91, 150):
        lines[place] = lines[place][: 30 + place // 3]
    track = read_one(tmp_path, "a.ndjson", "\n".join(lines))
    assert track.samples == FLIGHT.time_s.size - 4
    (said,) = (notice.message for notice in track.notices if notice.code == "record-damaged")
    assert said.startswith("4 lines are broken")


def test_ndjson_cut_in_its_last_line_says_so(tmp_path: Path) -> None:
    track = read_one(tmp_path, "a.ndjson", as_ndjson(FLIGHT)[:-30])
    assert track.samples == FLIGHT.time_s.size - 1
    assert "file-cut-off" in codes(track) and "record-damaged" not in codes(track)


NAMES = ["time", "lat", "lon", "altitude_ft"]
ROWS = [
    list(row)
    for row in zip(
        FLIGHT.iso(), FLIGHT.lat.tolist(), FLIGHT.lon.tolist(), FLIGHT.altitude_ft.tolist(), strict=True
    )
]
COLUMNS = {name: [row[place] for row in ROWS] for place, name in enumerate(NAMES)}


@pytest.mark.parametrize(
    "value",
    [
        {"recorder": {"version": 2}, "data": COLUMNS},
        [NAMES, *ROWS],
        {"columns": NAMES, "data": ROWS},
        {"a": {"b": {"points": records(FLIGHT)}}},
        {str(place): record for place, record in enumerate(records(FLIGHT))},
        {"points": {f"p{place}": record for place, record in enumerate(records(FLIGHT))}},
        {"waypoints": [], "events": ["start", "end"], "points": records(FLIGHT)},
    ],
    ids=[
        "columns inside",
        "rows under names",
        "names beside rows",
        "deep",
        "by number",
        "by name",
        "other lists",
    ],
)
def test_json_shapes(tmp_path: Path, value: object) -> None:
    same_flight(read_one(tmp_path, "a.json", json.dumps(value)))


def test_json_objects_one_after_another_on_one_line(tmp_path: Path) -> None:
    same_flight(read_one(tmp_path, "a.json", as_ndjson(FLIGHT).replace("\n", "")))


def test_ndjson_with_commas_between_the_lines(tmp_path: Path) -> None:
    same_flight(read_one(tmp_path, "a.json", as_ndjson(FLIGHT).replace("}\n", "},\n")))


def test_csv_is_no_json(tmp_path: Path) -> None:
    same_flight(read_one(tmp_path, "a.csv", "[a recorder]\n" + as_csv(FLIGHT)))
