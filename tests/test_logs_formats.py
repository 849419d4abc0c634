"""Each open format by the letter of its published specification, and what it must refuse."""

from __future__ import annotations

import gzip
import io
import json
import zipfile
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from analyser.errors import LogError, UsageError
from analyser.logs.read import find_logs, read_log
from analyser.logs.track import Track
from tests.logs_invented import (
    Invented,
    as_csv,
    as_geojson,
    as_gpx,
    as_igc,
    as_kml,
    as_nmea,
    invented_flight,
    sentence,
)
from tests.logs_reading import codes, read_one, read_text

FLIGHT = invented_flight(samples=700)
LATE = invented_flight(samples=700, start=datetime(2026, 3, 14, 23, 55, tzinfo=UTC))
WRITERS = {
    "gpx": as_gpx,
    "kml": as_kml,
    "geojson": as_geojson,
    "nmea": as_nmea,
    "igc": as_igc,
    "table": as_csv,
}


def _agrees(track: Track, flight: Invented, *, degrees: float = 2e-7, feet: float = 0.1) -> None:
    np.testing.assert_allclose(track.time_s, flight.time_s, atol=1e-6)
    np.testing.assert_allclose(track.lat_deg, flight.lat, atol=degrees)
    np.testing.assert_allclose(track.lon_deg, flight.lon, atol=degrees)
    np.testing.assert_allclose(track.channels["altitude_ft"], flight.altitude_ft, atol=feet)
    assert track.start_utc == flight.start


@pytest.mark.parametrize("form", list(WRITERS))
@pytest.mark.parametrize("flight", [FLIGHT, LATE], ids=["noon", "midnight"])
def test_every_format_gives_the_flight_back(tmp_path: Path, form: str, flight: Invented) -> None:
    """The file's name says nothing: the content decides."""
    coarse = form == "igc"
    track = read_one(tmp_path, "log.dat", WRITERS[form](flight))
    assert track.format == form
    _agrees(track, flight, degrees=9e-6 if coarse else 2e-7, feet=1.7 if coarse else 0.1)


@pytest.mark.parametrize("lon", [179.97, -179.99])
@pytest.mark.parametrize("form", list(WRITERS))
def test_across_the_date_line(tmp_path: Path, form: str, lon: float) -> None:
    flight = invented_flight(samples=300, lat=-17.0, lon=lon)
    track = read_one(tmp_path, "log", WRITERS[form](flight))
    assert track.samples == 300
    np.testing.assert_allclose((track.lon_deg - flight.lon + 180.0) % 360.0 - 180.0, 0.0, atol=9e-6)
    assert (track.lon_deg >= -180.0).all() and (track.lon_deg < 180.0).all()


# GPX 1.1 Schema Documentation, topografix.com/GPX/1/1; GPX 1.0 Developer's Manual.


@pytest.mark.parametrize(("version", "namespace"), [("1.0", True), ("1.1", True), ("1.1", False)])
def test_gpx_versions(tmp_path: Path, version: str, namespace: bool) -> None:
    track = read_one(tmp_path, "a.gpx", as_gpx(FLIGHT, version=version, namespace=namespace))
    _agrees(track, FLIGHT)
    np.testing.assert_allclose(track.channels["ground_speed_kt"], FLIGHT.ground_speed_kt, atol=0.01)
    np.testing.assert_allclose(track.channels["track_true_deg"], FLIGHT.track_deg, atol=0.06)


def test_gpx_with_a_prefix_for_its_own_elements(tmp_path: Path) -> None:
    text = as_gpx(FLIGHT, namespace=False)
    for name in ("gpx", "trkseg", "trkpt", "trk", "ele", "time"):
        text = (
            text.replace(f"<{name}>", f"<g:{name}>")
            .replace(f"<{name} ", f"<g:{name} ")
            .replace(f"</{name}>", f"</g:{name}>")
        )
    text = text.replace("<g:gpx ", '<g:gpx xmlns:g="http://www.topografix.com/GPX/1/1" ')
    _agrees(read_one(tmp_path, "a.gpx", text), FLIGHT)


def test_gpx_extensions_with_an_undeclared_prefix(tmp_path: Path) -> None:
    text = as_gpx(FLIGHT).replace("<speed>", "<zz:speed>").replace("</speed>", "</zz:speed>")
    track = read_one(tmp_path, "a.gpx", text)
    assert "ground_speed_kt" in track.channels


def test_gpx_extensions_are_read_by_what_they_mean(tmp_path: Path) -> None:
    points = as_gpx(FLIGHT).split("</trkpt>")
    more = (
        f"<extensions><x:Bank>{bank:.2f}</x:Bank><x:IAS_kt>{ias:.1f}</x:IAS_kt><x:heading_true>{heading:.1f}"
        f"</x:heading_true><x:altitude_ft>99</x:altitude_ft><x:sat>9</x:sat><x:mood>good</x:mood></extensions>"
        for bank, ias, heading in zip(FLIGHT.bank_deg, FLIGHT.ias_kt, FLIGHT.heading_deg, strict=True)
    )
    text = "".join(f"{point}{said}</trkpt>" for point, said in zip(points, more, strict=False)) + points[-1]
    track = read_one(tmp_path, "a.gpx", text)
    _agrees(track, FLIGHT)
    np.testing.assert_allclose(track.channels["bank_deg"], FLIGHT.bank_deg, atol=0.006)
    np.testing.assert_allclose(track.channels["ias_kt"], FLIGHT.ias_kt, atol=0.06)
    np.testing.assert_allclose(track.channels["heading_true_deg"], FLIGHT.heading_deg % 360.0, atol=0.06)
    assert "outside_air_temperature_c" not in track.channels
    standing = {source.column: source.standing for source in track.sources}
    assert standing["mood"] == standing["altitude_ft"] == "ignored"


def test_gpx_extensions_that_some_points_lack_stay_with_their_points(tmp_path: Path) -> None:
    points = as_gpx(FLIGHT).split("</trkpt>")
    text = points[0] + "".join(
        (f"<extensions><bank_deg>{FLIGHT.bank_deg[k]:.2f}</bank_deg></extensions>" if k % 3 else "")
        + "</trkpt>"
        + points[k + 1]
        for k in range(FLIGHT.bank_deg.size)
    )
    bank = read_one(tmp_path, "a.gpx", text).channels["bank_deg"]
    places = np.arange(bank.size)
    assert np.isnan(bank[places % 3 == 0]).all()
    known = places % 3 > 0
    np.testing.assert_allclose(bank[known], FLIGHT.bank_deg[known], atol=0.006)


def test_gpx_segments_of_one_flight_are_one_flight(tmp_path: Path) -> None:
    parts = as_gpx(FLIGHT).split("<trkpt")
    text = "<trkpt".join(
        [*parts[:300], parts[300].replace("</trkpt>", "</trkpt></trkseg><trkseg>"), *parts[301:]]
    )
    _agrees(read_one(tmp_path, "a.gpx", text), FLIGHT)


def test_gpx_tracks_of_two_flights_are_two_flights(tmp_path: Path) -> None:
    other = invented_flight(samples=300, start=datetime(2026, 3, 15, 9, 0, tzinfo=UTC))
    first, second = as_gpx(FLIGHT, name="one"), as_gpx(other, name="two")
    text = first.replace("</gpx>", second[second.index("<trk>") :])
    tracks = read_text(tmp_path, "a.gpx", text)
    assert [(track.name, track.samples) for track in tracks] == [("a.gpx (one)", 700), ("a.gpx (two)", 300)]


def test_gpx_cut_off_keeps_its_beginning(tmp_path: Path) -> None:
    text = as_gpx(FLIGHT)
    track = read_one(tmp_path, "a.gpx", text[: int(len(text) * 0.6)])
    assert 350 < track.samples < 480
    assert "file-cut-off" in codes(track)


def test_gpx_faulty_points_do_not_lose_the_others(tmp_path: Path) -> None:
    text = as_gpx(FLIGHT).replace('lat="48.1', 'lat="4x.1', 3).replace("<time>2026", "<time>nonsense", 1)
    track = read_one(tmp_path, "a.gpx", text)
    assert 600 < track.samples < 700


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("<gpx><rte><rtept lat='1' lon='2'/></rte></gpx>", "no track points"),
        (
            "<gpx><trk><trkseg><trkpt lat='1' lon='2'/><trkpt lat='1' lon='3'/></trkseg></trk></gpx>",
            "has a time",
        ),
        ("<gpx></gpx>", "no track points"),
        ("<gpx>", "cut off"),
        ("<html><body>not found</body></html>", "neither GPX, KML nor TCX"),
        ("<?xml version='1.0'?>", "cut off"),
    ],
)
def test_gpx_without_a_flight(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(LogError, match=said):
        read_text(tmp_path, "a.gpx", text)


# OGC 12-007r2, KML 2.3.


def test_kml_track_of_the_2_2_extensions(tmp_path: Path) -> None:
    text = as_kml(FLIGHT).replace("<Track>", "<gx:Track>").replace("</Track>", "</gx:Track>")
    text = text.replace("<coord>", "<gx:coord>").replace("</coord>", "</gx:coord>")
    text = text.replace(
        'xmlns="http://www.opengis.net/kml/2.3"', 'xmlns="http://www.opengis.net/kml/2.2" xmlns:gx="urn:x"'
    )
    _agrees(read_one(tmp_path, "a.kml", text), FLIGHT)


def test_kml_line_without_times_is_refused_with_the_reason(tmp_path: Path) -> None:
    line = (
        "<kml><Document><Placemark>{}<LineString><coordinates>11,48,0 11.1,48.1,0 11.2,48,0</coordinates>"
        "</LineString></Placemark></Document></kml>"
    )
    with pytest.raises(LogError, match="line has no times"):
        read_text(tmp_path, "a.kml", line.format(""))
    span = "<TimeSpan><begin>2026-03-14T12:00:00Z</begin><end>2026-03-14T12:10:00Z</end></TimeSpan>"
    with pytest.raises(LogError, match="one time span for all its points"):
        read_text(tmp_path, "a.kml", line.format(span))


def test_kml_timed_segments_and_timed_points(tmp_path: Path) -> None:
    when, places = (
        FLIGHT.iso(),
        [
            f"{x:.7f},{y:.7f},{z * 0.3048:.2f}"
            for x, y, z in zip(FLIGHT.lon, FLIGHT.lat, FLIGHT.altitude_ft, strict=True)
        ],
    )
    segments = "".join(
        f"<Placemark><TimeSpan><begin>{when[i]}</begin><end>{when[i + 1]}</end></TimeSpan><LineString>"
        f"<altitudeMode>absolute</altitudeMode><coordinates>{places[i]} {places[i + 1]}</coordinates>"
        "</LineString></Placemark>"
        for i in range(699)
    )
    _agrees(read_one(tmp_path, "a.kml", f"<kml><Folder>{segments}</Folder></kml>"), FLIGHT)
    points = "".join(
        f"<Placemark><TimeStamp><when>{when[i]}</when></TimeStamp><Point><altitudeMode>absolute</altitudeMode>"
        f"<coordinates>{places[i]}</coordinates></Point></Placemark>"
        for i in range(700)
    )
    _agrees(read_one(tmp_path, "b.kml", f"<kml><Folder>{points}</Folder></kml>"), FLIGHT)


def test_kml_times_that_do_not_pair_are_not_guessed(tmp_path: Path) -> None:
    text = as_kml(FLIGHT)
    first = text.index("<when>")
    with pytest.raises(LogError, match="699 times for 700 positions"):
        read_text(tmp_path, "a.kml", text[:first] + text[text.index("</when>") + 7 :])


def test_kml_alternating_times_and_positions_survive_a_missing_time(tmp_path: Path) -> None:
    pairs = [
        f"<when>{w}</when><coord>{x:.7f} {y:.7f} 900</coord>"
        for w, x, y in zip(FLIGHT.iso(), FLIGHT.lon, FLIGHT.lat, strict=True)
    ]
    pairs[100] = pairs[100][pairs[100].index("<coord>") :]
    track = read_one(tmp_path, "a.kml", f"<kml><Placemark><Track>{''.join(pairs)}</Track></Placemark></kml>")
    assert track.samples == 699
    np.testing.assert_allclose(track.lat_deg[:100], FLIGHT.lat[:100], atol=2e-7)
    np.testing.assert_allclose(track.lat_deg[100:], FLIGHT.lat[101:], atol=2e-7)


def test_kml_height_above_ground_is_no_altitude(tmp_path: Path) -> None:
    track = read_one(tmp_path, "a.kml", as_kml(FLIGHT).replace("absolute", "relativeToGround"))
    assert "altitude_ft" not in track.channels
    assert "altitude-above-ground" in codes(track)


# RFC 7946, GeoJSON: positions are longitude, latitude, height in metres.


def test_geojson_multi_line_and_timed_points(tmp_path: Path) -> None:
    document = json.loads(as_geojson(FLIGHT))
    feature = document["features"][0]
    line, when = feature["geometry"]["coordinates"], feature["properties"]["coordTimes"]
    feature["geometry"] = {"type": "MultiLineString", "coordinates": [line[:300], line[300:]]}
    feature["properties"]["coordTimes"] = [when[:300], when[300:]]
    _agrees(read_one(tmp_path, "a.geojson", json.dumps(document)), FLIGHT)
    points = [
        {
            "type": "Feature",
            "properties": {"time": w, "speed_kmh": 200},
            "geometry": {"type": "Point", "coordinates": p},
        }
        for p, w in zip(line, when, strict=True)
    ]
    _agrees(
        read_one(tmp_path, "b.geojson", json.dumps({"type": "FeatureCollection", "features": points})), FLIGHT
    )


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('{"type": "LineString", "coordinates": [[11, 48], [12, 48]]}', "line has no times"),
        ('{"type": "FeatureCollection", "features": []}', "no timed line"),
        ('{"type": "FeatureCollection", "features": [', "cut off"),
        ('{"type": "FeatureCollection", "features": [}, {}, {}, {}, {}, {}]}', "not well-formed JSON"),
        ('{"a": 1}', "no timed line"),
    ],
)
def test_geojson_without_a_flight(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(LogError, match=said):
        read_text(tmp_path, "a.geojson", text)


# NMEA 0183: sentences of any talker, checksums, the date from RMC.


@pytest.mark.parametrize("talker", ["GP", "GN", "GL", "GA"])
def test_nmea_talkers_and_the_heading_sensor(tmp_path: Path, talker: str) -> None:
    track = read_one(tmp_path, "a.nmea", as_nmea(FLIGHT, talker))
    _agrees(track, FLIGHT)
    np.testing.assert_allclose(track.channels["heading_true_deg"], FLIGHT.heading_deg, atol=0.06)


def test_nmea_wrong_checksums_are_left_out(tmp_path: Path) -> None:
    lines = as_nmea(FLIGHT).splitlines(keepends=True)
    lines[300] = lines[300].replace("A,48", "A,49")
    track = read_one(tmp_path, "a.nmea", "".join(lines))
    assert "checksum-wrong" in codes(track)
    np.testing.assert_allclose(track.lat_deg, FLIGHT.lat, atol=2e-7)


def test_nmea_gll_and_vtg_and_logger_prefixes(tmp_path: Path) -> None:
    """A logger's own time stamp before each sentence is passed over; GLL alone has no date."""
    text = ""
    for line in as_nmea(FLIGHT).splitlines():
        if "RMC" in line:
            f = line.split(",")
            text += "[12:00] " + sentence(f"GPGLL,{f[3]},{f[4]},{f[5]},{f[6]},{f[1]},A,A")
            text += sentence(f"GPVTG,{f[8]},T,,M,{f[7]},N,,K,A")
    track = read_one(tmp_path, "a.nmea", text)
    assert track.start_utc is None
    np.testing.assert_allclose(track.lat_deg, FLIGHT.lat, atol=2e-7)
    np.testing.assert_allclose(track.channels["ground_speed_kt"], FLIGHT.ground_speed_kt, atol=0.01)


def test_nmea_hdg_adds_its_deviation(tmp_path: Path) -> None:
    """HDG: magnetic sensor heading, deviation and its sense, variation and its sense."""
    flight = invented_flight(samples=300)
    text = ""
    for line, hdg in zip(as_nmea(flight).splitlines()[::3], flight.heading_deg, strict=True):
        text += line + "\r\n" + sentence(f"HCHDG,{(hdg - 2.0) % 360:.1f},2.0,E,3.0,E")
    track = read_one(tmp_path, "a.nmea", text)
    gap = (track.channels["heading_magnetic_deg"] - flight.heading_deg + 180.0) % 360.0 - 180.0
    np.testing.assert_allclose(gap, 0.0, atol=0.06)


def test_nmea_without_a_fix(tmp_path: Path) -> None:
    text = "".join(sentence(f"GPRMC,1200{s:02d}.00,V,,,,,,,140326,,,N") for s in range(60))
    with pytest.raises(LogError, match="never had a fix"):
        read_text(tmp_path, "a.nmea", text)


# FAI Sporting Code Section 3, Technical Specification for GNSS Flight Recorders, Appendix 1.


@pytest.mark.parametrize(
    "form", ["HFDTE{:%d%m%y}", "HFDTEDATE:{:%d%m%y}", "HFDTEDATE:{:%d%m%y},02", "HFDTE DATE: {:%d%m%y}"]
)
def test_igc_both_forms_of_the_date(tmp_path: Path, form: str) -> None:
    track = read_one(tmp_path, "a.igc", as_igc(FLIGHT, date_form=form))
    assert track.start_utc == FLIGHT.start


def test_igc_extensions_by_the_i_record(tmp_path: Path) -> None:
    track = read_one(tmp_path, "a.igc", as_igc(FLIGHT))
    np.testing.assert_allclose(track.channels["ias_kt"], FLIGHT.ias_kt, atol=0.3)
    assert "altitude-datum" in codes(track)


def test_igc_without_pressure_altitude_uses_the_receivers(tmp_path: Path) -> None:
    lines = [
        line[:25] + "00000" + line[30:] if line.startswith("B") else line
        for line in as_igc(FLIGHT).splitlines()
    ]
    track = read_one(tmp_path, "a.igc", "\r\n".join(lines))
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft + 40 / 0.3048, atol=1.7)


def test_igc_worked_b_record(tmp_path: Path) -> None:
    """The specification's pattern: 16:02:40 UTC, 54°07.121'N 002°49.342'W, 280 m pressure, 421 m GNSS altitude."""
    text = "AXXX001\nHFDTE140326\nB1602405407121N00249342WA0028000421\nB1602415407131N00249342WA0028000421\n"
    track = read_one(tmp_path, "a.igc", text)
    assert track.lat_deg[0] == pytest.approx(54 + 7.121 / 60, abs=1e-9)
    assert track.lon_deg[0] == pytest.approx(-(2 + 49.342 / 60), abs=1e-9)
    assert track.start_utc == datetime(2026, 3, 14, 16, 2, 40, tzinfo=UTC)
    assert track.channels["altitude_ft"][0] == pytest.approx(280 / 0.3048, abs=1e-6)


# Archives.


@pytest.mark.parametrize("form", list(WRITERS))
def test_every_format_inside_gzip_and_zip(tmp_path: Path, form: str) -> None:
    data = WRITERS[form](FLIGHT).encode()
    (tmp_path / "a.gz").write_bytes(gzip.compress(data))
    with zipfile.ZipFile(tmp_path / "a.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("../../inside.log", data)
        archive.writestr("picture.png", b"\x89PNG")
    for name in ("a.gz", "a.zip"):
        (track,) = read_log(tmp_path / name)
        assert track.format == form
        assert track.name == name
        assert track.samples == 700
    assert not (tmp_path.parent.parent / "inside.log").exists()


def test_several_logs_in_one_archive_and_one_that_is_none(tmp_path: Path) -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("day/one.gpx", as_gpx(FLIGHT))
        archive.writestr("day/two.csv", as_csv(LATE))
        archive.writestr("notes.txt", "nothing, really")
    (tmp_path / "a.zip").write_bytes(packed.getvalue())
    tracks = read_log(tmp_path / "a.zip")
    assert [track.name for track in tracks] == ["a.zip: one.gpx", "a.zip: two.csv"]
    assert all("member-skipped" in codes(track) for track in tracks)


def test_logs_are_found_in_folders(tmp_path: Path) -> None:
    (tmp_path / "sub").mkdir()
    for name in ("b.gpx", "a.csv", ".hidden.csv", "sub/c.igc", "picture.png"):
        (tmp_path / name).write_text("x")
    assert [path.name for path in find_logs(tmp_path)] == ["a.csv", "b.gpx", "c.igc"]
    assert find_logs(tmp_path / "picture.png") == [tmp_path / "picture.png"]
    with pytest.raises(UsageError, match="no such file"):
        find_logs(tmp_path / "gone.gpx")
    (tmp_path / "empty").mkdir()
    with pytest.raises(UsageError, match="no logs in this folder"):
        find_logs(tmp_path / "empty")
    with pytest.raises(LogError, match=r"(?i)directory|no such file"):
        read_log(tmp_path / "gone.gpx")
