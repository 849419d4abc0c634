"""Logs that were once read wrongly without a word, or refused without a reason: each reads right, or asks."""

from __future__ import annotations

import json
import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from analyser.errors import LogError
from analyser.inspection.contents import inspection_text
from analyser.logs.meaning import meaning_of
from analyser.logs.read import read_log
from analyser.logs.track import Track
from tests.logs_invented import as_csv, as_geojson, as_gpx, as_kml, as_nmea, invented_flight
from tests.logs_reading import codes, numbers, positions, read_one, read_text, table

FLIGHT = invented_flight(600)
LAT, LON = positions(FLIGHT)
ISO = FLIGHT.iso()
POSIX = np.array([moment.timestamp() for moment in FLIGHT.moments()])


def _message(track: Track, code: str) -> str:
    return next(notice.message for notice in track.notices if notice.code == code)


def _counted(
    tmp_path: Path, since: datetime, per_second: float, header: str = "time", ahead_s: int = 0
) -> Track:
    """Write whole counts since a day, exactly."""
    begin = round((FLIGHT.start - since).total_seconds()) + ahead_s
    counts = [f"{round((begin + t) * per_second)}" for t in FLIGHT.time_s]
    return read_one(tmp_path, "a.csv", table([header, "lat", "lon"], counts, LAT, LON))


# Counts since a known day. GPS time: IS-GPS-200, 18 s ahead of UTC since 2017; NTP: RFC 5905.


@pytest.mark.parametrize(
    ("since", "per_second"),
    [
        (datetime(2001, 1, 1, tzinfo=UTC), 1),
        (datetime(2001, 1, 1, tzinfo=UTC), 1000),
        (datetime(1904, 1, 1, tzinfo=UTC), 1),
        (datetime(1900, 1, 1, tzinfo=UTC), 1),
        (datetime(1601, 1, 1, tzinfo=UTC), 10_000_000),
        (datetime(1, 1, 1, tzinfo=UTC), 10_000_000),
    ],
)
def test_counts_since_a_known_day_give_the_day_and_say_so(
    tmp_path: Path, since: datetime, per_second: float
) -> None:
    track = _counted(tmp_path, since, per_second)
    assert track.start_utc is not None
    assert abs(track.start_utc - FLIGHT.start) < timedelta(milliseconds=1)
    np.testing.assert_allclose(track.time_s, FLIGHT.time_s, atol=1e-4)
    assert "2026-03-14" in _message(track, "time-epoch-assumed")
    assert track.notices[0].code == "time-epoch-assumed"


def test_gps_seconds_are_known_by_their_name(tmp_path: Path) -> None:
    track = _counted(tmp_path, datetime(1980, 1, 6, tzinfo=UTC), 1, "GPS time", ahead_s=18)
    assert track.start_utc == FLIGHT.start
    assert "2016" in _message(track, "time-epoch-assumed")


def test_a_count_that_fits_two_days_is_not_dated_in_silence(tmp_path: Path) -> None:
    """As POSIX time it is of 2016, as GPS time of 2026: both are possible, and the option settles it."""
    begin = round((FLIGHT.start - datetime(1980, 1, 6, tzinfo=UTC)).total_seconds()) + 18
    text = table(["time", "lat", "lon"], [f"{begin + t:.0f}" for t in FLIGHT.time_s], LAT, LON)
    track = read_one(tmp_path, "a.csv", text)
    said = _message(track, "time-epoch-assumed")
    assert "2016" in said and "2026-03-14" in said and "--units time=gps" in said
    told = read_one(tmp_path, "a.csv", text, units={"time": "gps"})
    assert told.start_utc == FLIGHT.start
    assert "time-epoch-assumed" not in codes(told)


def test_posix_time_of_today_needs_no_word(tmp_path: Path) -> None:
    track = _counted(tmp_path, datetime(1970, 1, 1, tzinfo=UTC), 1)
    assert track.start_utc == FLIGHT.start
    assert "time-epoch-assumed" not in codes(track)


@pytest.mark.parametrize("header", ["time", "time since boot", "uptime"])
def test_milliseconds_since_a_start_days_ago_are_no_date(tmp_path: Path, header: str) -> None:
    counts = [f"{790_000_000 + 1000 * t:.0f}" for t in FLIGHT.time_s]
    track = read_one(tmp_path, "a.csv", table([header, "lat", "lon"], counts, LAT, LON))
    assert track.start_utc is None
    np.testing.assert_allclose(track.time_s, FLIGHT.time_s)


def test_ticks_of_a_tenth_of_a_microsecond_since_a_start(tmp_path: Path) -> None:
    counts = [f"{5_000_000_000 + 1e7 * t:.0f}" for t in FLIGHT.time_s]
    track = read_one(tmp_path, "a.csv", table(["elapsed", "lat", "lon"], counts, LAT, LON))
    np.testing.assert_allclose(track.time_s, FLIGHT.time_s)


def test_an_aircraft_faster_than_any_is_refused(tmp_path: Path) -> None:
    fast = [(FLIGHT.start + timedelta(seconds=t / 100.0)).isoformat() for t in FLIGHT.time_s]
    with pytest.raises(LogError, match=r"would move at [\d,]+ kt"):
        read_text(tmp_path, "a.csv", table(["time", "lat", "lon"], fast, LAT, LON))


@pytest.mark.parametrize(
    ("written", "day", "said"),
    [
        ("26/03/14", datetime(2026, 3, 14, tzinfo=UTC), "2014-03-26"),
        ("14/03/26", datetime(2026, 3, 14, tzinfo=UTC), "2014-03-26"),
        ("14.03.26", datetime(2026, 3, 14, tzinfo=UTC), ""),
    ],
)
def test_a_year_of_two_digits_may_stand_first_or_last(
    tmp_path: Path, written: str, day: datetime, said: str
) -> None:
    clock = [m.strftime("%H:%M:%S") for m in FLIGHT.moments()]
    text = table(["date", "time", "lat", "lon"], [written] * 600, clock, LAT, LON)
    track = read_one(tmp_path, "a.csv", text)
    assert track.start_utc is not None and track.start_utc.date() == day.date()
    assert ("date-ambiguous" in codes(track)) == bool(said)
    if said:
        assert said in _message(track, "date-ambiguous")
    other = read_one(tmp_path, "a.csv", text, units={"date": "ymd" if said else "dmy"})
    assert "date-ambiguous" not in codes(other)


@pytest.mark.parametrize(
    "start", [datetime(2026, 3, 14, 23, 50, tzinfo=UTC), datetime(2026, 3, 14, 9, 55, tzinfo=UTC)]
)
def test_hhmmss_numbers_over_midnight_beside_a_date(tmp_path: Path, start: datetime) -> None:
    late = invented_flight(1387, start=start)
    text = table(
        ["date", "time", "lat", "lon"],
        [m.strftime("%Y-%m-%d") for m in late.moments()],
        [f"{int(m.strftime('%H%M%S'))}" for m in late.moments()],
        *positions(late),
    )
    track = read_one(tmp_path, "a.csv", text)
    assert track.duration_s == 1386.0
    assert track.start_utc == start


# GeoJSON whose times and positions do not pair.


@pytest.mark.parametrize("nested", [False, True])
def test_geojson_with_more_times_than_positions_is_refused(tmp_path: Path, nested: bool) -> None:
    document = json.loads(as_geojson(FLIGHT))
    feature = document["features"][0]
    times = ["2026-03-14T11:59:55Z", *feature["properties"]["coordTimes"]]
    feature["properties"]["coordTimes"] = [times] if nested else times
    with pytest.raises(LogError, match="600 positions and 601 times"):
        read_text(tmp_path, "a.geojson", json.dumps(document))


def test_geojson_cut_off_keeps_its_beginning(tmp_path: Path) -> None:
    points = [
        {
            "type": "Feature",
            "properties": {"time": w},
            "geometry": {"type": "Point", "coordinates": [float(x), float(y)]},
        }
        for w, x, y in zip(ISO, LON, LAT, strict=True)
    ]
    text = json.dumps({"type": "FeatureCollection", "features": points})
    track = read_one(tmp_path, "a.geojson", text[: len(text) // 2])
    assert 290 < track.samples < 310
    assert "file-cut-off" in codes(track)


# Numbers no machine word holds; files that are none.


@pytest.mark.parametrize("header", ["alt_ft", "time since boot", "notes"])
def test_a_whole_number_of_400_digits(tmp_path: Path, header: str) -> None:
    cells = ["4000"] * 599 + ["9" * 400]
    text = table(["time", "lat", "lon", header], ISO, LAT, LON, cells)
    track = read_one(tmp_path, "a.csv", text)
    assert track.samples == 600
    assert inspection_text(track)
    points = [
        {"time": w, "lat": float(y), "lon": float(x), "n": int("9" * 400)}
        for w, y, x in zip(ISO, LAT, LON, strict=True)
    ]
    assert read_one(tmp_path, "a.json", json.dumps(points)).samples == 600


def test_a_whole_number_of_400_digits_for_a_position_or_a_time(tmp_path: Path) -> None:
    for place in range(3):
        columns = [list(ISO), list(LAT), list(LON)]
        columns[place][100] = "9" * 400
        assert read_one(tmp_path, "a.csv", table(["time", "lat", "lon"], *columns)).samples == 599


def test_pipes_and_devices_are_no_logs(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.gpx")
    for path in (tmp_path / "pipe.gpx", Path("/dev/zero")):
        with pytest.raises(LogError, match="a pipe or a device and no file"):
            read_log(path)


# One flight told twice.


def test_kml_track_and_the_same_points_again_are_one_flight(tmp_path: Path) -> None:
    points = "".join(
        f"<Placemark><TimeStamp><when>{w}</when></TimeStamp><Point><coordinates>{x},{y},0</coordinates></Point></Placemark>"
        for w, x, y in list(zip(ISO, LON, LAT, strict=True))[::5]
    )
    text = as_kml(FLIGHT).replace("</Document>", f"<Folder><name>points</name>{points}</Folder></Document>")
    track = read_one(tmp_path, "a.kml", text)
    assert track.samples == 600
    assert _message(track, "flight-repeated").startswith(
        "The file tells one flight twice: 'points' (120 samples)"
    )


def test_pressure_and_receiver_tracks_of_one_flight_are_one(tmp_path: Path) -> None:
    receiver = as_gpx(FLIGHT, name="GNSS altitude")
    higher = invented_flight(600)
    higher.altitude_ft[:] += 130.0
    pressure = as_gpx(higher, name="pressure altitude")
    track = read_one(tmp_path, "a.gpx", receiver.replace("</gpx>", pressure[pressure.index("<trk>") :]))
    assert track.samples == 600
    np.testing.assert_allclose(track.channels["altitude_ft"], higher.altitude_ft, atol=0.1)
    assert "'GNSS altitude'" in _message(track, "flight-repeated")


def test_two_aircraft_a_mile_apart_stay_two(tmp_path: Path) -> None:
    other = as_gpx(invented_flight(600, lat=48.12), name="other")
    tracks = read_text(tmp_path, "a.gpx", as_gpx(FLIGHT).replace("</gpx>", other[other.index("<trk>") :]))
    assert [track.samples for track in tracks] == [600, 600]


# Wrongly refused, or for a false reason.


@pytest.mark.parametrize("rows_too", [False, True])
def test_a_comma_at_the_end_of_the_header(tmp_path: Path, rows_too: bool) -> None:
    header, rest = table(["time", "lat", "lon", "alt_ft"], ISO, LAT, LON, ["4000"] * 600).split("\n", 1)
    rest = rest.replace("\n", ",\n") if rows_too else rest
    track = read_one(tmp_path, "a.csv", f"{header},\n{rest}")
    assert track.samples == 600
    assert track.channels["altitude_ft"][0] == 4000.0


def test_cells_filled_up_with_zero_bytes(tmp_path: Path) -> None:
    text = table(["time", "lat", "lon", "alt_ft"], ISO, LAT, [f"{x}\0\0\0\0" for x in LON], ["4000"] * 600)
    track = read_one(tmp_path, "a.csv", text + "\0" * 3000)
    np.testing.assert_allclose(track.lon_deg, FLIGHT.lon, atol=1e-6)


def test_headers_of_a_side_over_whole_positions(tmp_path: Path) -> None:
    south = invented_flight(600, lat=-31.7, lon=-11.5)
    lat, lon = [f"{abs(v):.6f}S" for v in south.lat], [f"{abs(v):.6f}W" for v in south.lon]
    track = read_one(tmp_path, "a.csv", table(["TIME", "LATITUDE N/S", "LONGITUDE E/W"], ISO, lat, lon))
    np.testing.assert_allclose(track.lat_deg, south.lat, atol=1e-6)
    np.testing.assert_allclose(track.lon_deg, south.lon, atol=1e-6)


@pytest.mark.parametrize(
    "spoil",
    [
        lambda line: line.replace("$GN", "$$GN"),
        lambda line: line.replace("$GNRMC", "$GNRMC,1200$GNRMC"),
        lambda line: line.replace("$GNRMC", "$GNGGA,12$GNRMC"),
    ],
)
def test_nmea_sentences_behind_scraps_of_others(tmp_path: Path, spoil: object) -> None:
    lines = as_nmea(FLIGHT, "GN").splitlines()
    text = "\r\n".join(spoil(line) for line in lines)  # type: ignore[operator]
    track = read_one(tmp_path, "a.nmea", text)
    assert track.samples == 600
    np.testing.assert_allclose(track.lat_deg, FLIGHT.lat, atol=2e-7)


def test_nmea_among_binary_messages(tmp_path: Path) -> None:
    """Receivers that speak two protocols on one line write messages of their own between the sentences."""
    random = np.random.default_rng(1)
    data = b"".join(
        line.encode() + b"\xb5\x62\x01\x07" + random.bytes(60)
        for line in as_nmea(FLIGHT, "GN").splitlines(keepends=True)
    )
    (tmp_path / "a.log").write_bytes(data)
    (track,) = read_log(tmp_path / "a.log")
    assert track.format == "nmea"
    assert track.samples > 590
    np.testing.assert_allclose(track.lat_deg, np.interp(track.time_s, FLIGHT.time_s, FLIGHT.lat), atol=1e-4)


def test_nmea_cut_sentences_are_not_used(tmp_path: Path) -> None:
    lines = as_nmea(FLIGHT).splitlines(keepends=True)
    lines[900] = lines[900][:38] + "\r\n"
    track = read_one(tmp_path, "a.nmea", "".join(lines))
    assert "checksum-missing" not in codes(track)
    np.testing.assert_allclose(track.lat_deg, np.interp(track.time_s, FLIGHT.time_s, FLIGHT.lat), atol=1e-6)


def test_igc_minutes_rounded_to_sixty(tmp_path: Path) -> None:
    records = ("B1602405460000N", "B1602415460001N", "B1602425500010N")
    text = "HFDTE140326\n" + "".join(f"{record}00249342WA0028000421\n" for record in records)
    track = read_one(tmp_path, "a.igc", text)
    assert track.samples == 2
    assert track.lat_deg.tolist() == [55.0, 55.0 + 0.010 / 60.0]


def test_a_second_header_with_other_units(tmp_path: Path) -> None:
    half = 300
    metres = table(
        ["time", "lat", "lon", "alt_m"],
        ISO[:half],
        LAT[:half],
        LON[:half],
        numbers(FLIGHT.altitude_ft[:half] * 0.3048),
    )
    feet = table(
        ["time", "lat", "lon", "alt_ft"],
        ISO[half:],
        LAT[half:],
        LON[half:],
        numbers(FLIGHT.altitude_ft[half:]),
    )
    track = read_one(tmp_path, "a.csv", metres + feet)
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft, atol=0.02)


def test_the_same_header_again_is_no_fault(tmp_path: Path) -> None:
    text = table(["time", "lat", "lon", "alt_ft"], ISO, LAT, LON, numbers(FLIGHT.altitude_ft))
    lines = text.splitlines()
    lines.insert(300, lines[0])
    track = read_one(tmp_path, "a.csv", "\n".join(lines))
    assert track.samples == 600
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft, atol=0.01)


@pytest.mark.parametrize(
    "headers",
    [("position_lat [semicircles]", "position_long [semicircles]"), ("position_lat", "position_long")],
)
def test_positions_in_semicircles(tmp_path: Path, headers: tuple[str, str]) -> None:
    """FIT protocol: 2**31 semicircles are 180 degrees."""
    flight = invented_flight(600, lat=48.1, lon=151.5)
    lat, lon = ([f"{round(v * 2**31 / 180)}" for v in values] for values in (flight.lat, flight.lon))
    track = read_one(tmp_path, "a.csv", table(["time", *headers], ISO, lat, lon))
    np.testing.assert_allclose(track.lat_deg, flight.lat, atol=1e-6)
    np.testing.assert_allclose(track.lon_deg, flight.lon, atol=1e-6)


def test_waypoints_with_times_are_a_flight(tmp_path: Path) -> None:
    points = "".join(
        f'<wpt lat="{y}" lon="{x}"><time>{w}</time></wpt>' for w, y, x in zip(ISO, LAT, LON, strict=True)
    )
    track = read_one(tmp_path, "a.gpx", f"<gpx>{points}</gpx>")
    assert track.samples == 600
    assert "waypoints-as-track" in codes(track)


def test_a_row_without_a_time_is_not_said_to_lack_a_position(tmp_path: Path) -> None:
    times = [*ISO[:100], "", *ISO[101:]]
    text = table(["time", "lat", "lon", "alt_ft"], times, LAT, LON, numbers(FLIGHT.altitude_ft))
    track = read_one(tmp_path, "a.csv", text)
    assert "values-carried" not in codes(track)
    assert "time-missing" in codes(track)


@pytest.mark.parametrize("header", ["LatAc", "lateral acceleration", "Lat Accel", "lateral g", "NormAc"])
def test_an_acceleration_is_no_latitude(tmp_path: Path, header: str) -> None:
    assert meaning_of(header) is None
    track = read_one(
        tmp_path, "a.csv", table(["time", "Latitude", "Longitude", header], ISO, LAT, LON, ["0.1"] * 600)
    )
    source = next(source for source in track.sources if source.column == header)
    assert source.why == "means nothing the program uses"


def test_two_altitudes_do_not_say_the_same(tmp_path: Path) -> None:
    text = table(
        ["time", "lat", "lon", "alt_ft", "pressure altitude ft"],
        ISO,
        LAT,
        LON,
        ["4000"] * 600,
        ["4300"] * 600,
    )
    track = read_one(tmp_path, "a.csv", text)
    source = next(source for source in track.sources if source.column.startswith("pressure"))
    assert source.why == "'alt_ft' was used instead"


@pytest.mark.parametrize(
    ("header", "unit"),
    [("AltB", "ft Baro"), ("Altitude", "ft Baro"), ("Altitude (ft Baro)", ""), ("AltMSL", "ft msl")],
)
def test_an_altitude_of_the_barometric_kind(tmp_path: Path, header: str, unit: str) -> None:
    head, rest = table(
        ["time", "lat", "lon", header, "GndSpd"],
        ISO,
        LAT,
        LON,
        numbers(FLIGHT.altitude_ft),
        numbers(FLIGHT.ground_speed_kt),
    ).split("\n", 1)
    row = f"yyyy-mm-dd hh:mm:ss,degrees,degrees,{unit},kt\n" if unit else ""
    track = read_one(tmp_path, "a.csv", f"{head}\n{row}{rest}")
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft, atol=0.01)


@pytest.mark.parametrize("spoil", ["blank", "declared otherwise"])
def test_xml_that_begins_oddly(tmp_path: Path, spoil: str) -> None:
    text = as_gpx(FLIGHT)
    data = f"\r\n {text}".encode() if spoil == "blank" else text.encode("utf-16")
    (tmp_path / "a.gpx").write_bytes(data)
    assert read_log(tmp_path / "a.gpx")[0].samples == 600


def test_only_rows_that_carry_values_are_counted_as_carrying(tmp_path: Path) -> None:
    lat, alt = list(LAT), numbers(FLIGHT.altitude_ft)
    for row in range(100, 140):
        lat[row] = ""
        alt[row] = "" if row % 4 else alt[row]
    alt[99] = alt[140] = ""
    track = read_one(tmp_path, "a.csv", table(["time", "lat", "lon", "alt_ft"], ISO, lat, LON, alt))
    assert _message(track, "values-carried").startswith("10 rows carry values and no position")


def test_a_hold_file_is_called_one(tmp_path: Path) -> None:
    text = 'name = "x"\nfix = { lat = 48.1, lon = 11.5 }\ninbound_course = 263\nturns = "right"\n'
    with pytest.raises(LogError, match="a hold file and no log"):
        read_text(tmp_path, "a.toml", text)


def test_the_time_column_of_another_clock_does_not_hide_the_flight(tmp_path: Path) -> None:
    """The plain table still reads as before."""
    assert read_one(tmp_path, "a.csv", as_csv(FLIGHT)).start_utc == FLIGHT.start
