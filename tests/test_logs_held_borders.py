"""What a reader keeps apart: one object's words from another's, whole readings from others that fit as well."""

from __future__ import annotations

import json
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from analyser.errors import LogError
from analyser.logs.clock_faults import order_clock
from tests.logs_invented import as_geojson, as_igc, as_kml, invented_flight
from tests.logs_reading import codes, numbers, positions, read_one, table
from tests.test_logs_clock_borders import SPEED, flight

FLIGHT = invented_flight(600)
LONG = invented_flight(9_000)
LAT, LON = positions(FLIGHT)

# XML and JSON


@pytest.mark.parametrize(
    ("written", "used"),
    [
        ("", True),
        # OGC KML 2.3, Track (from memory): it may hold a Model, whose altitude mode is the model's own.
        ("<Model><altitudeMode>relativeToGround</altitudeMode></Model>", True),
        ("<description>relative to nothing</description>", True),
        ("<altitudeMode>relativeToGround</altitudeMode>", False),
    ],
)
def test_only_a_track_s_own_altitude_mode_is_its_altitudes(tmp_path: Path, written: str, used: bool) -> None:
    track = read_one(tmp_path, "a.kml", as_kml(FLIGHT).replace("</Track>", f"{written}</Track>"))
    assert ("altitude_ft" in track.channels) == used
    assert ("altitude-above-ground" in codes(track)) != used


@pytest.mark.parametrize("damage", ["", "#"])
def test_a_large_document_of_other_coordinates_is_refused_also_where_it_is_damaged(
    tmp_path: Path, damage: str
) -> None:
    whole = json.loads(as_geojson(LONG))
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::25832"}}
    text = json.dumps({"type": whole["type"], "crs": crs, "features": whole["features"] * 2})
    assert len(text) > 2 * 2**18
    with pytest.raises(LogError, match="EPSG:25832"):
        read_one(tmp_path, "a.json", text[:-100] + damage + text[-100:])


# Numbers


@pytest.mark.parametrize(
    ("header", "channel", "written", "worth"),
    [
        ("ground speed (kt)", "ground_speed_kt", FLIGHT.ground_speed_kt, 1.0),
        ("altitude (km)", "altitude_ft", FLIGHT.altitude_ft * 0.3048e-3, 1.0 / 0.3048e-3),
        # Feet and metres with three digits behind a comma are thousands.
        ("altitude (ft)", "altitude_ft", FLIGHT.altitude_ft / 1000.0, 1000.0),
        ("altitude (m)", "altitude_ft", FLIGHT.altitude_ft * 0.3048e-3, 1000.0 / 0.3048),
    ],
)
def test_a_comma_before_three_digits_parts_only_heights_in_small_units(
    tmp_path: Path, header: str, channel: str, written: np.ndarray, worth: float
) -> None:
    """Where no other column has a mark: positions in ten-millionths of a degree, counted seconds."""
    cells = [cell.replace(".", ",") for cell in numbers(written)]
    e7 = (numbers(degrees * 1e7, 0) for degrees in (FLIGHT.lat, FLIGHT.lon))
    text = table(["seconds", "lat", "lon", header], range(600), *e7, cells, separator=";")
    track = read_one(tmp_path, "a.csv", text, units={"lat": "e7", "lon": "e7", "time": "s"})
    assert track.channels[channel] == pytest.approx(written * worth, abs=6e-4 * worth)


@pytest.mark.parametrize(
    ("seconds", "read"), [("60.5", True), ("60.9", True), ("61.0", False), ("75.0", False)]
)
def test_a_minute_has_a_leap_second_and_no_more(tmp_path: Path, seconds: str, read: bool) -> None:
    written = [one[11:19] for one in FLIGHT.iso()]
    last = next(row for row, one in enumerate(written) if row > 200 and one.endswith("59"))
    written[last] = f"{written[last][:6]}{seconds}"
    track = read_one(tmp_path, "a.csv", table(["time", "lat", "lon"], written, LAT, LON))
    assert (len(track.time_s) == 600) == read


def test_seconds_of_gps_that_tell_the_present_are_no_others(tmp_path: Path) -> None:
    """GPS time began on 6 January 1980, 315,964,800 s after 1970, and is 18 s ahead of UTC since 2017 (IS-GPS-200)."""
    now = int(time.time()) - 600
    counted = [now - 315_964_800 + 18 + row for row in range(600)]
    track = read_one(tmp_path, "a.csv", table(["gps time", "lat", "lon"], counted, LAT, LON))
    assert track.start_utc is not None and abs(track.start_utc.timestamp() - now) < 1.0


def test_further_digits_of_a_fix_go_behind_its_thousandths(tmp_path: Path) -> None:
    """FAI IGC format, A 4.1 and appendix (from memory): LAD and LOD are further decimals of the minutes."""
    lines = as_igc(FLIGHT).splitlines()
    first = next(line for line in lines if line.startswith("B"))
    size = len(first)
    extended = [f"I02{size + 1:02}{size + 2:02}LAD{size + 3:02}{size + 4:02}LOD"]
    heads = [line for line in lines if line[0] in "AH"]
    plain = read_one(tmp_path, "a.igc", "\r\n".join([*heads, *(x for x in lines if x[0] == "B")]) + "\r\n")
    more = [line + "7525" for line in lines if line[0] == "B"]
    track = read_one(tmp_path, "b.igc", "\r\n".join([*heads, *extended, *more]) + "\r\n")
    assert np.abs(track.lat_deg) - np.abs(plain.lat_deg) == pytest.approx(0.75e-3 / 60.0, abs=1e-9)
    assert np.abs(track.lon_deg) - np.abs(plain.lon_deg) == pytest.approx(0.25e-3 / 60.0, abs=1e-9)


# Clocks


@pytest.mark.parametrize("usual_s", [0.2, 1.0, 5.0])
@pytest.mark.parametrize("wrong", [1, 3, 5])
@pytest.mark.parametrize("late", [40.0, -40.0])
def test_wrong_times_are_told_at_any_rate_of_samples(usual_s: float, wrong: int, late: float) -> None:
    true_s = np.arange(161.0) * usual_s
    raw = flight(true_s, np.full(160, SPEED * usual_s + 0j))
    time_s = true_s.copy()
    time_s[80 : 80 + wrong] += late * usual_s
    ordered = order_clock(replace(raw, time_s=time_s))
    assert [notice.code for notice in ordered.notices] == ["time-spike"]
    assert f"by up to {abs(late) * usual_s:,.0f} s" in ordered.notices[0].message
    assert ordered.time_s == pytest.approx(true_s)


@pytest.mark.parametrize("usual_s", [0.2, 5.0])
@pytest.mark.parametrize("early", [1.4, 2.5])
def test_a_clock_set_back_is_told_from_a_time_that_is_wrong_at_any_rate(usual_s: float, early: float) -> None:
    true_s = np.arange(161.0) * usual_s
    raw = flight(true_s, np.full(160, SPEED * usual_s + 0j))
    early_s = early * usual_s
    wrong = order_clock(replace(raw, time_s=np.where(np.arange(161) == 80, true_s - early_s, true_s)))
    assert [notice.code for notice in wrong.notices] == ["time-spike"]
    assert wrong.time_s == pytest.approx(true_s)
    back = order_clock(replace(raw, time_s=np.where(np.arange(161) >= 80, true_s - early_s, true_s)))
    assert [notice.code for notice in back.notices] == ["time-set-back"]
    assert np.diff(back.time_s) == pytest.approx(usual_s)
