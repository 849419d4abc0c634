"""Reference libraries read the same files and must agree: gpxpy (GPX), pynmea2 (NMEA 0183), aerofiles (IGC)."""

from __future__ import annotations

import io
import warnings
from pathlib import Path

import numpy as np
import pytest

from tests.logs_invented import as_gpx, as_igc, as_nmea, invented_flight
from tests.logs_reading import read_one

FLIGHTS = [
    invented_flight(samples=600),
    invented_flight(samples=600, lat=-34.2, lon=-70.1),
    invented_flight(samples=600, lat=64.1, lon=-21.9, interval_s=5.0),
]


@pytest.mark.parametrize("flight", FLIGHTS, ids=["north-east", "south-west", "5 s"])
@pytest.mark.parametrize("version", ["1.0", "1.1"])
def test_gpx_agrees_with_gpxpy(tmp_path: Path, flight: object, version: str) -> None:
    import gpxpy

    text = as_gpx(flight, version=version)  # type: ignore[arg-type]
    points = gpxpy.parse(text).tracks[0].segments[0].points
    track = read_one(tmp_path, "a.gpx", text)
    np.testing.assert_array_equal(track.lat_deg, [point.latitude for point in points])
    np.testing.assert_array_equal(track.lon_deg, [point.longitude for point in points])
    np.testing.assert_allclose(
        track.channels["altitude_ft"] * 0.3048, [point.elevation for point in points], atol=1e-9
    )
    assert track.start_utc == points[0].time
    np.testing.assert_allclose(
        track.time_s, [(point.time - points[0].time).total_seconds() for point in points], atol=1e-6
    )
    if version == "1.0":
        np.testing.assert_allclose(
            track.channels["ground_speed_kt"], [point.speed * 3600 / 1852 for point in points], atol=1e-9
        )


@pytest.mark.parametrize("flight", FLIGHTS, ids=["north-east", "south-west", "5 s"])
def test_nmea_agrees_with_pynmea2(tmp_path: Path, flight: object) -> None:
    import pynmea2

    text = as_nmea(flight)  # type: ignore[arg-type]
    sentences = [pynmea2.parse(line) for line in text.splitlines()]
    rmc = [s for s in sentences if s.sentence_type == "RMC"]
    gga = [s for s in sentences if s.sentence_type == "GGA"]
    hdt = [s for s in sentences if s.sentence_type == "HDT"]
    track = read_one(tmp_path, "a.nmea", text)
    np.testing.assert_allclose(track.lat_deg, [s.latitude for s in rmc], atol=1e-9)
    np.testing.assert_allclose(track.lon_deg, [s.longitude for s in rmc], atol=1e-9)
    np.testing.assert_allclose(track.channels["altitude_ft"] * 0.3048, [s.altitude for s in gga], atol=1e-6)
    np.testing.assert_allclose(track.channels["ground_speed_kt"], [s.spd_over_grnd for s in rmc])
    np.testing.assert_allclose(track.channels["track_true_deg"] % 360.0, [s.true_course % 360.0 for s in rmc])
    np.testing.assert_allclose(track.channels["heading_true_deg"], [float(s.heading) % 360.0 for s in hdt])
    assert track.start_utc is not None
    assert track.start_utc.replace(tzinfo=None) == rmc[0].datetime.replace(tzinfo=None)


@pytest.mark.parametrize("flight", FLIGHTS, ids=["north-east", "south-west", "5 s"])
@pytest.mark.parametrize("form", ["HFDTE{:%d%m%y}", "HFDTEDATE:{:%d%m%y},01"])
def test_igc_agrees_with_aerofiles(tmp_path: Path, flight: object, form: str) -> None:
    from aerofiles.igc import Reader

    text = as_igc(flight, date_form=form)  # type: ignore[arg-type]
    with warnings.catch_warnings():
        # The library's own use of a deprecated call is not under test.
        warnings.simplefilter("ignore")
        fixes = Reader(skip_duplicates=False).read(io.StringIO(text))["fix_records"][1]
    track = read_one(tmp_path, "a.igc", text)
    np.testing.assert_allclose(track.lat_deg, [fix["lat"] for fix in fixes], atol=1e-9)
    np.testing.assert_allclose(track.lon_deg, [fix["lon"] for fix in fixes], atol=1e-9)
    np.testing.assert_allclose(
        track.channels["altitude_ft"] * 0.3048, [fix["pressure_alt"] for fix in fixes], atol=1e-6
    )
    np.testing.assert_allclose(track.channels["ias_kt"] * 1.852, [fix["IAS"] for fix in fixes], atol=1e-6)
    first = fixes[0]["datetime"]
    assert track.start_utc is not None
    assert track.start_utc.timestamp() == pytest.approx(first.timestamp(), abs=1e-6)
    np.testing.assert_allclose(
        track.time_s, [(fix["datetime"] - first).total_seconds() for fix in fixes], atol=1e-6
    )
