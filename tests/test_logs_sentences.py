"""NMEA 0183 field by field, GeoJSON part by part: each value just inside and just outside of what it may be."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest

from analyser.errors import LogError
from analyser.logs.track import Track
from tests.logs_invented import as_geojson, as_nmea, invented_flight, nmea_place, sentence
from tests.logs_reading import codes, read_one, read_text

FLIGHT = invented_flight(300)
ROWS = 300


def _place(row: int, north_deg: float = 0.0) -> str:
    return nmea_place(FLIGHT.lat[row] + north_deg, FLIGHT.lon[row])


def _rmc(row: int, *, clock: str = "", place: str = "", day: str = "140326", mode: str = "A") -> str:
    clock = clock or f"{FLIGHT.moments()[row]:%H%M%S}.00"
    return sentence(f"GPRMC,{clock},A,{place or _place(row)},110.0,090.0,{day},,,{mode}")


def _stream(*odd: tuple[int, str], more: str = "") -> str:
    lines = [_rmc(row) + more for row in range(ROWS)]
    for row, line in odd:
        lines[row] = line
    return "".join(lines)


def _read(folder: Path, text: str) -> Track:
    return read_one(folder, "a.nmea", text)


@pytest.mark.parametrize(
    ("written", "instead", "read"),
    [
        (",N,", ",X,", False),
        (",E,", ",X,", False),
        # 47° 66' is no latitude, nor is one without minutes.
        (",480", ",476", False),
        (",480", ",48o", False),
        (",4806", ",", False),
        (",480", ",480", True),
    ],
)
def test_a_position_has_minutes_below_60_and_two_sides(
    tmp_path: Path, written: str, instead: str, read: bool
) -> None:
    lines = [line[1:].partition("*")[0].replace(written, instead, 1) for line in _stream().splitlines()[:60]]
    text = "".join(sentence(line) for line in lines)
    if read:
        assert _read(tmp_path, text).samples == 60
        return
    with pytest.raises(LogError):
        read_text(tmp_path, "a.nmea", text)


@pytest.mark.parametrize(
    ("clock", "read"),
    [("120100.00", True), ("120060.00", True), ("120061.00", False), ("126000.00", False), ("240000.00", False),
     ("12010", False)],
)  # fmt: skip
def test_a_time_of_day_has_at_most_a_leap_second(tmp_path: Path, clock: str, read: bool) -> None:
    track = _read(tmp_path, _stream((60, _rmc(60, clock=clock))))
    assert track.samples == (ROWS if read else ROWS - 1)


@pytest.mark.parametrize(
    ("day", "dated"), [("140326", True), ("", False), ("14032", False), ("xx0326", False)]
)
def test_a_date_is_of_six_digits(tmp_path: Path, day: str, dated: bool) -> None:
    track = _read(tmp_path, "".join(_rmc(row, day=day) for row in range(ROWS)))
    assert (track.start_utc == FLIGHT.start) == dated and track.samples == ROWS


def test_rows_before_the_first_date_and_over_midnight_are_of_the_days_beside_them(tmp_path: Path) -> None:
    late = invented_flight(ROWS, start=datetime.fromisoformat("2026-03-14T23:58:20+00:00"))
    lines = []
    for row, moment in enumerate(late.moments()):
        # Two in three sentences have no date.
        day = f"{moment:%d%m%y}" if row % 3 == 2 else ""
        lines.append(_rmc(row, clock=f"{moment:%H%M%S}.00", day=day))
    track = _read(tmp_path, "".join(lines))
    assert track.start_utc == late.start
    np.testing.assert_allclose(track.time_s, FLIGHT.time_s)


@pytest.mark.parametrize(
    ("fields", "added"), [(",,,", 0.0), ("2.0,E,,", 2.0), ("2.0,W,,", -2.0), (",,4.0,E", 0.0)]
)
def test_a_magnetic_sensors_deviation_is_added_to_the_east(tmp_path: Path, fields: str, added: float) -> None:
    """NMEA 0183, HDG: sensor heading, deviation, its side, variation, its side."""
    lines = [_rmc(row) + sentence(f"HCHDG,{FLIGHT.heading_deg[row]:.1f},{fields}") for row in range(ROWS)]
    found = _read(tmp_path, "".join(lines)).channels["heading_magnetic_deg"]
    off = (found - FLIGHT.heading_deg - added + 180.0) % 360.0 - 180.0
    np.testing.assert_allclose(off, 0.0, atol=0.06)


def test_sentences_with_a_wrong_sum_are_left_out_and_counted(tmp_path: Path) -> None:
    wrong = _rmc(7).replace("*", "*0")[:-4] + "\r\n"
    track = _read(tmp_path, _stream((7, wrong), (9, _rmc(9).replace("110.0", "910.0"))))
    assert track.samples == ROWS - 2 and "checksum-wrong" in codes(track)
    bare = [line.partition("*")[0] + "\r\n" for line in _stream().splitlines()]
    without = _read(tmp_path, "".join(bare))
    assert without.samples == ROWS and "checksum-missing" in codes(without)
    # Among sentences that carry theirs one without it was cut off.
    mixed = _read(tmp_path, _stream((7, bare[7])))
    assert mixed.samples == ROWS - 1


@pytest.mark.parametrize(("mode", "read"), [("A", True), ("D", True), ("N", False)])
def test_a_receiver_says_when_its_position_does_not_hold(tmp_path: Path, mode: str, read: bool) -> None:
    odd = [(row, _rmc(row, mode=mode)) for row in range(50, 60)]
    assert _read(tmp_path, _stream(*odd)).samples == (ROWS if read else ROWS - 10)


@pytest.mark.parametrize(("quality", "read"), [("1", True), ("0", False), ("", False)])
def test_a_height_without_a_fix_is_none(tmp_path: Path, quality: str, read: bool) -> None:
    lines = [
        _rmc(row)
        + sentence(
            f"GPGGA,{FLIGHT.moments()[row]:%H%M%S}.00,{_place(row)},{quality},08,1.0,1000.0,M,47.0,M,,"
        )
        for row in range(ROWS)
    ]
    track = _read(tmp_path, "".join(lines))
    assert ("altitude_ft" in track.channels) == read
    if read:
        np.testing.assert_allclose(track.channels["altitude_ft"], 1000.0 / 0.3048, atol=0.01)


def test_a_height_in_another_unit_than_metres_is_not_read(tmp_path: Path) -> None:
    text = as_nmea(FLIGHT)
    assert "altitude_ft" in _read(tmp_path, text).channels
    feet = "".join(
        sentence(line[1:].partition("*")[0].replace(",M,47.0", ",F,47.0")) for line in text.splitlines()
    )
    assert "altitude_ft" not in _read(tmp_path, feet).channels


def test_a_place_far_from_the_one_of_its_instant_is_another_aircrafts(tmp_path: Path) -> None:
    """Six tenths of a minute are a hundredth of a degree."""

    def with_second(north_deg: float) -> str:
        return "".join(_rmc(row) + _rmc(row, place=_place(row, north_deg)) for row in range(ROWS))

    assert "aircraft-mixed" not in codes(_read(tmp_path, with_second(0.009)))
    assert "aircraft-mixed" in codes(_read(tmp_path, with_second(0.012)))


# GeoJSON


def _feature(**changes: object) -> str:
    document = json.loads(as_geojson(FLIGHT))
    (feature,) = document["features"]
    feature["geometry"].update(changes.pop("geometry", {}))  # type: ignore[call-overload]
    feature["properties"].update(changes)
    return json.dumps(document)


@pytest.mark.parametrize("width", [2, 3, 4])
def test_positions_of_geojson_have_two_numbers_or_more(tmp_path: Path, width: int) -> None:
    """RFC 7946, 3.1.1: longitude, latitude, perhaps an altitude in metres; what is more has no meaning."""
    coordinates = [
        [float(lon), float(lat), 1000.0, 7.0][:width] for lat, lon in zip(FLIGHT.lat, FLIGHT.lon, strict=True)
    ]
    track = read_one(tmp_path, "a.geojson", _feature(geometry={"coordinates": coordinates}))
    np.testing.assert_allclose(track.lat_deg, FLIGHT.lat, atol=1e-9)
    assert ("altitude_ft" in track.channels) == (width > 2)
    if width > 2:
        np.testing.assert_allclose(track.channels["altitude_ft"], 1000.0 / 0.3048, atol=0.01)


def test_positions_of_one_number_are_none(tmp_path: Path) -> None:
    with pytest.raises(LogError):
        read_text(tmp_path, "a.geojson", _feature(geometry={"coordinates": [[11.5]] * ROWS}))


def test_some_positions_without_an_altitude_leave_it_open_there(tmp_path: Path) -> None:
    coordinates = [
        [float(lon), float(lat), *([1000.0] if row % 2 else [])]
        for row, (lat, lon) in enumerate(zip(FLIGHT.lat, FLIGHT.lon, strict=True))
    ]
    track = read_one(tmp_path, "a.geojson", _feature(geometry={"coordinates": coordinates}))
    assert track.samples == ROWS
    assert np.isfinite(track.channels["altitude_ft"]).sum() >= ROWS // 2


def test_parts_of_a_multilinestring_are_flown_one_after_the_other(tmp_path: Path) -> None:
    places = [[float(lon), float(lat)] for lat, lon in zip(FLIGHT.lat, FLIGHT.lon, strict=True)]
    times = FLIGHT.iso()
    geometry = {"type": "MultiLineString", "coordinates": [places[:100], places[100:]]}
    text = _feature(geometry=geometry, coordTimes=[times[:100], times[100:]])
    track = read_one(tmp_path, "a.geojson", text)
    assert track.samples == ROWS
    np.testing.assert_allclose(track.lon_deg, FLIGHT.lon, atol=1e-9)


def test_a_collection_of_geometries_is_gone_through(tmp_path: Path) -> None:
    document = json.loads(as_geojson(FLIGHT))
    (feature,) = document["features"]
    feature["geometry"] = {"type": "GeometryCollection", "geometries": [feature["geometry"]]}
    assert read_one(tmp_path, "a.geojson", json.dumps(document)).samples == ROWS


@pytest.mark.parametrize(("north_deg", "same"), [(0.0, True), (0.5, False)])
def test_the_same_flight_twice_in_a_file_is_one(tmp_path: Path, north_deg: float, same: bool) -> None:
    document = json.loads(as_geojson(FLIGHT))
    other = json.loads(as_geojson(invented_flight(ROWS, lat=48.1 + north_deg)))
    document["features"] += other["features"]
    assert (len(read_text(tmp_path, "a.geojson", json.dumps(document))) == 1) == same
