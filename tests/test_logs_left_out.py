"""Nothing of a file is passed over in silence: tracks, lines, rows, options, and units that nobody said."""

from __future__ import annotations

import bz2
import io
import json
import zipfile
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from analyser.earth.atmosphere import tas_to_cas
from analyser.errors import LogError
from analyser.logs.read import read_log
from analyser.logs.time_text import read_dates
from analyser.logs.track import Track
from tests.logs_invented import as_geojson, as_gpx, as_igc, as_kml, as_nmea, invented_flight
from tests.logs_reading import codes, numbers, positions, read_one, read_text, table

FLIGHT = invented_flight(600)
LAT, LON = positions(FLIGHT)
ISO = FLIGHT.iso()


def _message(track: Track, code: str) -> str:
    (found,) = [notice.message for notice in track.notices if notice.code == code]
    return found


def test_a_track_without_times_beside_a_timed_one_is_named(tmp_path: Path) -> None:
    points = "".join(f'<trkpt lat="48.{i}" lon="11.5"/>' for i in range(10, 40))
    second = f"<trk><name>planned</name><trkseg>{points}</trkseg></trk></gpx>"
    track = read_one(tmp_path, "a.gpx", as_gpx(FLIGHT).replace("</gpx>", second))
    assert _message(track, "flight-left-out") == "Left out: 'planned' (no sample has a readable time)."


def test_a_track_without_a_name_is_told_by_its_number(tmp_path: Path) -> None:
    second = '<trk><trkseg><trkpt lat="48.2" lon="11.5"/></trkseg></trk></gpx>'
    track = read_one(tmp_path, "a.gpx", as_gpx(FLIGHT).replace("</gpx>", second))
    assert _message(track, "flight-left-out").startswith("Left out: 'track 2' (")


def test_a_scrap_beside_a_flight_is_named(tmp_path: Path) -> None:
    points = "".join(
        f'<trkpt lat="47.{i:04d}" lon="11.5"><time>2026-03-15T12:00:0{i}Z</time></trkpt>' for i in range(5)
    )
    second = f"<trk><name>switched on</name><trkseg>{points}</trkseg></trk></gpx>"
    track = read_one(tmp_path, "a.gpx", as_gpx(FLIGHT).replace("</gpx>", second))
    assert _message(track, "flight-left-out") == "Left out: 'switched on' (5 samples, too few)."


def test_too_many_tracks_are_refused_and_not_cut_short(tmp_path: Path) -> None:
    tracks = (
        '<trk><trkseg><trkpt lat="1" lon="2"><time>2026-03-14T12:00:00Z</time></trkpt></trkseg></trk>' * 2_001
    )
    with pytest.raises(LogError, match=r"track 2001: the file holds more than 2,000 tracks"):
        read_text(tmp_path, "a.gpx", f"<gpx>{tracks}</gpx>")


def test_a_line_without_times_beside_a_timed_track_is_counted(tmp_path: Path) -> None:
    """RFC 7946 and KML 2.3: a LineString has no times of its own."""
    line = "<Placemark><LineString><coordinates>11,48 12,49</coordinates></LineString></Placemark></Document>"
    kml = read_one(tmp_path, "a.kml", as_kml(FLIGHT).replace("</Document>", line))
    document = json.loads(as_geojson(FLIGHT))
    geometry = {"type": "LineString", "coordinates": [[11, 48], [12, 49]]}
    document["features"].append({"type": "Feature", "properties": {}, "geometry": geometry})
    geojson = read_one(tmp_path, "a.geojson", json.dumps(document))
    assert _message(kml, "line-untimed") == _message(geojson, "line-untimed")


@pytest.mark.parametrize("date_form", ["HFDTE{:%d%m%y}", "HFDTEDATE:{:%d%m%y},01"])
def test_igc_files_joined_on_to_one_another_are_two_flights(tmp_path: Path, date_form: str) -> None:
    later = invented_flight(300, lat=47.0, start=FLIGHT.start + timedelta(days=1))
    text = as_igc(FLIGHT, date_form=date_form) + as_igc(later, date_form=date_form)
    first, second = read_text(tmp_path, "a.igc", text)
    assert (first.samples, second.samples) == (600, 300)
    assert first.start_utc == FLIGHT.start
    assert second.start_utc == later.start
    assert "ias_kt" in second.channels


def test_an_igc_recorder_that_repeats_the_date_at_midnight_wrote_one_flight(tmp_path: Path) -> None:
    late = invented_flight(600, start=FLIGHT.start.replace(hour=23, minute=55))
    lines = as_igc(late).splitlines()
    midnight = next(place for place, line in enumerate(lines) if line.startswith("B000000"))
    text = "\r\n".join([*lines[:midnight], "HFDTEDATE:150326,02", *lines[midnight:]])
    track = read_one(tmp_path, "a.igc", text)
    assert track.samples == 600
    assert track.duration_s == 599.0


@pytest.mark.parametrize(
    ("name", "text"), [("a.gpx", as_gpx(FLIGHT)), ("a.nmea", as_nmea(FLIGHT)), ("a.igc", as_igc(FLIGHT))]
)
def test_options_for_tables_are_said_to_have_no_effect(tmp_path: Path, name: str, text: str) -> None:
    track = read_one(tmp_path, name, text, units={"alt": "ft"}, columns={"time": "When"})
    assert _message(track, "option-unused").startswith("--columns and --units had no effect")
    assert "option-unused" not in codes(read_one(tmp_path, name, text))


def test_other_elements_of_gpx_points_are_listed_as_ignored(tmp_path: Path) -> None:
    text = as_gpx(FLIGHT).replace("<extensions>", "<extensions><n:hdg>12</n:hdg><box><temp>7</temp></box>")
    track = read_one(tmp_path, "a.gpx", text.replace("<gpx ", '<gpx xmlns:n="urn:n" '))
    assert [source.column for source in track.sources if source.standing == "ignored"] == ["hdg", "temp"]


@pytest.mark.parametrize(
    ("members", "said"),
    [
        (("[Content_Types].xml", "xl/workbook.xml"), r"the workbook is damaged: .*save it again"),
        (
            ("mimetype", "content.xml"),
            r"a spreadsheet's workbook in a form that is not read \(save its sheet as CSV",
        ),
    ],
)
def test_a_workbook_is_called_one(tmp_path: Path, members: tuple[str, str], said: str) -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for member in members:
            archive.writestr(member, "<x/>")
    (tmp_path / "flight.xlsx").write_bytes(packed.getvalue())
    with pytest.raises(LogError, match=said):
        read_log(tmp_path / "flight.xlsx")


@pytest.mark.parametrize("late_s", [0.0, 0.5, 0.2])
def test_rows_that_carry_values_and_no_position_give_them_to_their_neighbours(
    tmp_path: Path, late_s: float
) -> None:
    """A recorder that writes each sensor as it speaks, ``late_s`` after the position."""
    rows = ["time,lat,lon,alt_ft,ias_kt,bank_deg,heading_true"]
    heading = np.unwrap(FLIGHT.heading_deg, period=360.0)
    for i, moment in enumerate(FLIGHT.moments()):
        when = FLIGHT.time_s[i] + late_s
        values = [
            np.interp(when, FLIGHT.time_s, c) for c in (FLIGHT.altitude_ft, FLIGHT.ias_kt, FLIGHT.bank_deg)
        ]
        hdg = np.interp(when, FLIGHT.time_s, heading) % 360.0
        later = (moment + timedelta(seconds=late_s)).isoformat()
        rows.append(f"{ISO[i]},{LAT[i]},{LON[i]},,,,")
        rows.append(f"{later},,,{','.join(f'{v:.3f}' for v in values)},{hdg:.3f}")
    track = read_one(tmp_path, "a.csv", "\n".join(rows))
    assert track.samples == 600
    assert "altitude, " in _message(track, "values-carried") or ", altitude" in _message(
        track, "values-carried"
    )
    inner = slice(2, -2)
    for name, truth, off in (
        ("altitude_ft", FLIGHT.altitude_ft, 0.1),
        ("ias_kt", FLIGHT.ias_kt, 0.1),
        ("heading_true_deg", FLIGHT.heading_deg, 1.0),
    ):
        gap = (
            (track.channels[name] - truth + 180.0) % 360.0 - 180.0
            if "heading" in name
            else track.channels[name] - truth
        )
        assert np.abs(gap[inner]).max() < off, name


def test_a_slow_sensor_with_rows_of_its_own_is_not_stretched(tmp_path: Path) -> None:
    """An altitude every ten seconds stays one value in ten; nothing is made up between."""
    rows = ["time,lat,lon,alt_ft"]
    for i in range(600):
        rows.append(f"{ISO[i]},{LAT[i]},{LON[i]},")
        if i % 10 == 3:
            rows.append(f"{ISO[i]},,,{FLIGHT.altitude_ft[i]:.2f}")
    track = read_one(tmp_path, "a.csv", "\n".join(rows))
    altitude = track.channels["altitude_ft"]
    known = np.flatnonzero(np.isfinite(altitude))
    assert known.tolist() == list(range(3, 600, 10))
    np.testing.assert_allclose(altitude[known], FLIGHT.altitude_ft[known], atol=0.01)


def test_two_aircraft_at_the_same_times_without_a_name_are_two(tmp_path: Path) -> None:
    other = invented_flight(600, lat=47.0, lon=10.0)
    lat, lon = positions(other)
    rows = [row for i in range(600) for row in (f"{ISO[i]},{LAT[i]},{LON[i]}", f"{ISO[i]},{lat[i]},{lon[i]}")]
    one, two = read_text(tmp_path, "a.csv", "\n".join(["time,lat,lon", *rows]))
    np.testing.assert_allclose(one.lat_deg, FLIGHT.lat, atol=1e-6)
    np.testing.assert_allclose(two.lat_deg, other.lat, atol=1e-6)
    assert "taken as 2 aircraft" in _message(one, "aircraft-mixed") == _message(two, "aircraft-mixed")


def test_noise_at_one_time_comes_to_an_end(tmp_path: Path) -> None:
    rows = [f"1,{i % 90},{i % 170}" for i in range(20_000)]
    with pytest.raises(LogError, match="all samples carry one and the same time"):
        read_text(tmp_path, "a.csv", "\n".join(["time,lat,lon", *rows]))


@pytest.mark.slow
def test_very_many_scraps_come_to_an_end(tmp_path: Path) -> None:
    """Each a second and a long way from the one before: none follows any other."""
    scraps = "".join(
        f'<trk><trkseg><trkpt lat="{i % 80}" lon="{i % 170}">'
        f"<time>2026-03-14T12:{i // 60:02d}:{i % 60:02d}Z</time></trkpt></trkseg></trk>"
        for i in range(1_500)
    )
    with pytest.raises(LogError, match="only one usable sample is left"):
        read_text(tmp_path, "a.gpx", f"<gpx>{scraps}</gpx>")


#: Knots in each unit: 1852 m, 3600 s, 1609.344 m, 0.3048 m.
PER_KNOT = {"kt": 1.0, "mph": 1852.0 / 1609.344, "km/h": 1.852, "m/s": 1852.0 / 3600.0}


@pytest.mark.parametrize("unit", PER_KNOT)
def test_an_airspeed_without_a_unit_is_settled_by_all_directions(tmp_path: Path, unit: str) -> None:
    """The invented flight keeps 110 kt true at 4,000 ft; kt taken for mph would be 15 per cent off."""
    wander = 2.0 * np.sin(FLIGHT.time_s / 23.0)
    for header, truth in (("tas", 110.0 + wander), ("ias", float(tas_to_cas(110.0, 4000.0)) + wander)):
        text = table(
            ["time", "lat", "lon", "alt_ft", header],
            ISO, LAT, LON, numbers(FLIGHT.altitude_ft), numbers(truth * PER_KNOT[unit]),
        )  # fmt: skip
        track = read_one(tmp_path, "a.csv", text)
        np.testing.assert_allclose(track.channels[f"{header}_kt"], truth, atol=0.01)
        assert f"read in {unit}: so it is about the " in _message(track, "unit-assumed")


@pytest.mark.parametrize("others", [["alt"], ["alt", "gs (kt)"]])
def test_an_airspeed_whose_unit_stays_open_is_asked_for(tmp_path: Path, others: list[str]) -> None:
    """Without an altitude 120 may be mph near the ground or kt high up, whatever the table's other speeds are."""
    filled = {"alt": numbers(FLIGHT.altitude_ft), "gs (kt)": numbers(FLIGHT.ground_speed_kt)}
    text = table(
        ["time", "lat", "lon", "ias", *others],
        ISO,
        LAT,
        LON,
        numbers(FLIGHT.ias_kt),
        *(filled[o] for o in others),
    )
    track = read_one(tmp_path, "a.csv", text)
    assert "ias_kt" not in track.channels
    assert any("--units ias=kt or --units ias=km/h" in notice.message for notice in track.notices)


def _in_turns(one: str, other: str) -> str:
    """Write two streams of three sentences an instant into one."""
    first, second = (
        ["".join(f"{line}\r\n" for line in stream.split()[at : at + 3]) for at in range(0, 1800, 3)]
        for stream in (one, other)
    )
    return "".join(a + b for a, b in zip(first, second, strict=True))


def test_a_second_receiver_in_a_stream_is_left_out_and_named(tmp_path: Path) -> None:
    # Half a second later, and its antenna 40 m to the north: read as one, the path would zigzag.
    other = replace(FLIGHT, time_s=FLIGHT.time_s + 0.5, lat=FLIGHT.lat + 40.0 / 111_190.0)
    track = read_one(tmp_path, "a.nmea", _in_turns(as_nmea(FLIGHT), as_nmea(other, "GL")))
    np.testing.assert_allclose(track.lat_deg, FLIGHT.lat, atol=1e-6)
    assert "1,200 sentences of talker GL were left out" in _message(track, "receiver-left-out")


def test_a_receiver_that_goes_over_to_more_satellites_is_one(tmp_path: Path) -> None:
    lines = as_nmea(FLIGHT).split()
    more = as_nmea(FLIGHT, "GN").split()
    text = "".join(f"{line}\r\n" for line in (*lines[:600], *more[600:1500], *lines[1500:]))
    track = read_one(tmp_path, "a.nmea", text)
    assert track.samples == 600 and "receiver-left-out" not in codes(track)


@pytest.mark.parametrize(("every", "second"), [(3, True), (4, False)])
def test_a_talker_that_changes_at_three_sentences_of_ten_is_a_second_receiver(
    tmp_path: Path, every: int, second: bool
) -> None:
    own, other = (
        [line for line in as_nmea(FLIGHT, talker).split() if "RMC" in line] for talker in ("GP", "GL")
    )
    lines = [other[place] if place // every % 2 else own[place] for place in range(600)]
    track = read_one(tmp_path, "a.nmea", "".join(f"{line}\r\n" for line in lines))
    assert track.samples == (300 if second else 600)
    assert ("receiver-left-out" in codes(track)) == second


def test_another_aircraft_in_a_stream_is_said(tmp_path: Path) -> None:
    other = invented_flight(600, lat=48.9, lon=12.5)
    track = read_one(tmp_path, "a.nmea", _in_turns(as_nmea(FLIGHT), as_nmea(other)))
    np.testing.assert_allclose(track.lat_deg, FLIGHT.lat, atol=1e-6)
    assert "aircraft are recorded into one stream: 1,200;" in _message(track, "aircraft-mixed")


@pytest.mark.parametrize("inside", ["geometry", "feature"])
def test_times_beside_the_geometry_or_in_it_are_read(tmp_path: Path, inside: str) -> None:
    document = json.loads(as_geojson(FLIGHT))
    (feature,) = document["features"]
    times = feature["properties"].pop("coordTimes")
    (feature["geometry"] if inside == "geometry" else feature)["coordTimes"] = times
    track = read_one(tmp_path, "a.geojson", json.dumps(document))
    np.testing.assert_allclose(track.time_s, FLIGHT.time_s)


def test_a_packed_log_cut_off_before_its_first_block_is_damaged_and_not_empty(tmp_path: Path) -> None:
    (tmp_path / "a.igc.bz2").write_bytes(bz2.compress(as_igc(FLIGHT).encode())[:2000])
    with pytest.raises(LogError, match="the bzip2 file is damaged"):
        read_log(tmp_path / "a.igc.bz2")


@pytest.mark.parametrize("first", ["", "no fix"])
def test_a_date_column_that_begins_without_a_date_is_read_all_the_same(first: str) -> None:
    # 14 March 2026, or 26 March 2014; a recorder writes none before its first fix.
    days, (notice,) = read_dates([first, "14/03/26"], "")
    assert days["14/03/26"] == 1_773_446_400.0 and np.isnan(days[first])
    assert "read as 2026-03-14, but 2014-03-26" in notice.message
