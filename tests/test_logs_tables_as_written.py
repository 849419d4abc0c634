"""Tables as recorders and spreadsheets write them: every way to write a time, a zone, a position and a number."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pytest

from analyser.errors import LogError
from analyser.logs.track import Track
from tests.logs_invented import Invented, invented_flight
from tests.logs_reading import codes, numbers, read_one, read_text, table

NOON = invented_flight(240)
MIDNIGHT = invented_flight(240, start=datetime(2026, 3, 14, 23, 58, tzinfo=UTC))
SOUTH_WEST = invented_flight(240, lat=-33.9, lon=-70.6)
SOUTH_EAST = invented_flight(240, lat=-33.9, lon=151.2)
#: GPS time began at 1980-01-06 and is 18 s ahead of UTC since 2017 (IS-GPS-200; IERS Bulletin C).
GPS_S = [(moment - datetime(1980, 1, 6, tzinfo=UTC)).total_seconds() + 18.0 for moment in NOON.moments()]


def read(
    folder: Path, columns: dict[str, list[str]], flight: Invented = NOON, separator: str = ";", **more: object
) -> Track:
    """Write a table of the flight's positions beside some columns, and read it."""
    whole = dict(columns)
    if not any(name[:3] == "lat" or name.startswith(("pos", "coord", "lon,")) for name in whole):
        whole |= {"latitude": numbers(flight.lat, 7), "longitude": numbers(flight.lon, 7)}
    return read_one(folder, "a.csv", table(list(whole), *whole.values(), separator=separator), **more)


def same_path(track: Track, flight: Invented = NOON, *, off_deg: float = 2e-5) -> None:
    """Check that every sample is there, at its time and place."""
    assert track.samples == flight.time_s.size
    np.testing.assert_allclose(track.time_s, flight.time_s, atol=0.05)
    np.testing.assert_allclose(track.lat_deg, flight.lat, atol=off_deg)
    np.testing.assert_allclose(track.lon_deg, flight.lon, atol=off_deg)


def written(flight: Invented, form: str, zone: timezone = UTC) -> list[str]:  # type: ignore[assignment]
    return [moment.astimezone(zone).strftime(form) for moment in flight.moments()]


@pytest.mark.parametrize("flight", [NOON, MIDNIGHT], ids=["noon", "midnight"])
@pytest.mark.parametrize(
    "form",
    [
        "%b %d, %Y %I:%M:%S %p",
        "%B %d %Y %H:%M:%S",
        "%a %b %d %H:%M:%S %Y",
        "%Y%m%d_%H%M%S",
        "[%Y-%m-%d %H:%M:%S]",
        "%Y-%jT%H:%M:%SZ",
        "%Y%jT%H%M%SZ",
        "%d.%m.%Y - %H:%M:%S",
        "%Y:%m:%d %H:%M:%S",
        "%d.%m.%Y %H:%M:%S Uhr",
        "%Y-%m-%dt%H:%M:%Sz",
        "%d/%b/%Y:%H:%M:%S +0000",
        "%a, %d %b %Y %H:%M:%S GMT",
        "%d. %B %Y %H:%M:%S",
        "%Y-%m-%dT%H:%M:%S+00:00[Europe/London]",
    ],
)
def test_written_moments(tmp_path: Path, form: str, flight: Invented) -> None:
    track = read(tmp_path, {"time": written(flight, form)}, flight)
    same_path(track, flight)
    assert track.start_utc == flight.start


@pytest.mark.parametrize(
    ("zone", "hours"),
    [("EST", -5), ("PDT", -7), ("CEST", 2), ("MEZ", 1), ("UTC", 0), ("+0530", 5.5), ("-03", -3)],
)
def test_zones_by_their_names(tmp_path: Path, zone: str, hours: float) -> None:
    """RFC 5322, section 4.3, for America's; Europe's clocks from memory."""
    local = written(NOON, f"%d.%m.%Y %H:%M:%S {zone}", timezone(timedelta(hours=hours)))
    track = read(tmp_path, {"time": local})
    assert track.start_utc == NOON.start
    assert "time-zone-assumed" not in codes(track)


def test_an_unknown_zone_is_not_passed_over(tmp_path: Path) -> None:
    with pytest.raises(LogError, match="cannot be read"):
        read(tmp_path, {"time": written(NOON, "%d.%m.%Y %H:%M:%S XYZT")})


@pytest.mark.parametrize(
    ("header", "cell", "hours"),
    [
        ("UTC Offset (h)", "2", 2),
        ("timezone", "+0200", 2),
        ("timezone", "-0330", -3.5),
        ("timezone", "0530", 5.5),
        ("utc_offset", "UTC+2", 2),
        ("utc_offset_min", "-120", -2),
        ("utc_offset", "345", 5.75),
        ("tz offset s", "7200", 2),
        ("utc_offset", "-5.5", -5.5),
        ("timezone", "Europe/Berlin", 1),
        ("timezone", "America/St_Johns", -2.5),
        ("tz", "PST", -8),
    ],
)
@pytest.mark.parametrize("split", [True, False], ids=["date and time", "one column"])
def test_offset_columns(tmp_path: Path, header: str, cell: str, hours: float, split: bool) -> None:
    """On 2026-03-14 Berlin keeps winter time and Newfoundland summer time (IANA time zone tables)."""
    zone = timezone(timedelta(hours=hours))
    if split:
        columns = {"date": written(NOON, "%Y-%m-%d", zone), "local time": written(NOON, "%H:%M:%S", zone)}
    else:
        columns = {"local time": written(NOON, "%Y-%m-%d %H:%M:%S", zone)}
    track = read(tmp_path, columns | {header: [cell] * 240})
    same_path(track)
    assert track.start_utc == NOON.start


@pytest.mark.parametrize("cell", ["Nowhere/Land", "soon", "+99:00"])
def test_an_offset_that_cannot_be_read_is_said(tmp_path: Path, cell: str) -> None:
    columns = {
        "date": written(NOON, "%Y-%m-%d"),
        "local time": written(NOON, "%H:%M:%S"),
        "timezone": [cell] * 240,
    }
    track = read(tmp_path, columns)
    assert track.start_utc == NOON.start
    assert "time-zone-assumed" in codes(track)


@pytest.mark.parametrize("flight", [NOON, MIDNIGHT], ids=["noon", "midnight"])
@pytest.mark.parametrize("time", ["Time (hhmmss)", "UTC hhmmss", "UTC time (hh:mm:ss)"])
@pytest.mark.parametrize(
    ("date", "form"),
    [
        ("Date (ddmmyy)", "%d%m%y"),
        ("Date mm/dd/yyyy", "%m/%d/%Y"),
        ("DATE (yymmdd)", "%y%m%d"),
        ("Date (dd/mm/yy)", "%d/%m/%y"),
    ],
)
def test_headers_that_show_the_pattern(
    tmp_path: Path, date: str, form: str, time: str, flight: Invented
) -> None:
    track = read(
        tmp_path,
        {date: written(flight, form), time: written(flight, "%H:%M:%S" if ":" in time else "%H%M%S")},
        flight,
    )
    same_path(track, flight)
    assert track.start_utc == flight.start
    assert "date-ambiguous" not in codes(track)


def test_dates_of_the_units_row(tmp_path: Path) -> None:
    rows = zip(written(NOON, "%m/%d/%Y"), written(NOON, "%H:%M:%S"), NOON.lat, NOON.lon, strict=True)
    text = "date,time,lat,lon\nmm/dd/yyyy,hh:mm:ss,deg,deg\n" + "".join(
        f"{d},{t},{a:.7f},{o:.7f}\n" for d, t, a, o in rows
    )
    early = text.replace("03/14/2026", "03/04/2026")
    assert read_one(tmp_path, "a.csv", early).start_utc == datetime(2026, 3, 4, 12, tzinfo=UTC)


@pytest.mark.parametrize("flight", [NOON, MIDNIGHT], ids=["noon", "midnight"])
def test_columns_for_the_parts_of_date_and_time(tmp_path: Path, flight: Invented) -> None:
    day = {"year": written(flight, "%Y"), "month": written(flight, "%m"), "day": written(flight, "%d")}
    clock = {"hour": written(flight, "%H"), "min": written(flight, "%M"), "sec": written(flight, "%S")}
    for columns in (
        day | clock,
        day | {"time": written(flight, "%H:%M:%S")},
        {"date": written(flight, "%Y-%m-%d")} | clock,
    ):
        track = read(tmp_path, columns, flight)
        same_path(track, flight)
        assert track.start_utc == flight.start
    track = read(tmp_path, clock, flight)
    same_path(track, flight)
    assert track.start_utc is None


@pytest.mark.parametrize(
    "header", ["seconds of day", "UTC seconds of the day", "seconds since midnight", "time"]
)
def test_seconds_of_the_day_beside_a_date(tmp_path: Path, header: str) -> None:
    seconds = [f"{(86_280 + t) % 86_400:.1f}" for t in MIDNIGHT.time_s]
    track = read(tmp_path, {"date": written(MIDNIGHT, "%Y-%m-%d"), header: seconds}, MIDNIGHT)
    same_path(track, MIDNIGHT)
    assert track.start_utc == MIDNIGHT.start


def test_seconds_from_the_start_beside_a_date_are_no_time_of_day(tmp_path: Path) -> None:
    track = read(
        tmp_path, {"date": written(NOON, "%Y-%m-%d"), "time": [f"{500 + t:.1f}" for t in NOON.time_s]}
    )
    same_path(track)
    assert track.start_utc is None


@pytest.mark.parametrize(
    ("week", "seconds", "milli"),
    [
        ("GPS week", "TOW", False),
        ("GPS week", "TOW", True),
        ("wn", "tow (ms)", True),
        ("week number", "seconds of week", False),
    ],
)
def test_weeks_and_seconds_of_gps_time(tmp_path: Path, week: str, seconds: str, milli: bool) -> None:
    scale = 1000.0 if milli else 1.0
    columns = {
        week: [f"{t // 604_800:.0f}" for t in GPS_S],
        seconds: [f"{t % 604_800 * scale:.0f}" for t in GPS_S],
    }
    track = read(tmp_path, columns)
    same_path(track)
    assert track.start_utc == NOON.start
    assert "time-epoch-assumed" not in codes(track)


def test_weeks_counted_to_1024_are_said(tmp_path: Path) -> None:
    columns = {
        "gps week": [f"{t // 604_800 % 1024:.0f}" for t in GPS_S],
        "time of week": [f"{t % 604_800:.0f}" for t in GPS_S],
    }
    track = read(tmp_path, columns)
    assert track.start_utc == NOON.start
    assert "time-epoch-assumed" in codes(track)


def test_seconds_of_the_week_alone(tmp_path: Path) -> None:
    track = read(tmp_path, {"time of week": [f"{t % 604_800:.1f}" for t in GPS_S]})
    same_path(track)
    assert track.start_utc is None


@pytest.mark.parametrize("header", ["julian date", "MJD"])
def test_julian_days(tmp_path: Path, header: str) -> None:
    """Julian day 2440587.5 and modified Julian day 40587 are 1970-01-01T00:00Z."""
    zero = 2_440_587.5 if header == "julian date" else 40_587.0
    track = read(tmp_path, {header: [f"{m.timestamp() / 86_400 + zero:.9f}" for m in NOON.moments()]})
    same_path(track)
    assert track.start_utc is not None and abs((track.start_utc - NOON.start).total_seconds()) < 0.1


def test_minutes_and_seconds_are_not_hours_and_minutes(tmp_path: Path) -> None:
    """Read as hours and minutes the aircraft would fly at two knots."""
    same_path(read(tmp_path, {"elapsed": [f"{t // 60:.0f}:{t % 60:02.0f}" for t in NOON.time_s]}))


def test_hours_and_minutes_stay_hours_and_minutes(tmp_path: Path) -> None:
    slow = invented_flight(20, interval_s=60.0)
    track = read(tmp_path, {"time": written(slow, "%H:%M")}, slow)
    np.testing.assert_allclose(track.time_s, slow.time_s)


@pytest.mark.parametrize("begins_s", [0, 25], ids=["whole minutes", "within a minute"])
def test_rows_that_show_whole_minutes_are_spread(tmp_path: Path, begins_s: int) -> None:
    """A spreadsheet shows a moment to the minute; each minute holds sixty rows."""
    flight = invented_flight(500, start=datetime(2026, 3, 14, 12, 0, begins_s, tzinfo=UTC))
    track = read(tmp_path, {"time": written(flight, "%d.%m.%Y %H:%M")}, flight)
    same_path(track, flight)
    assert track.start_utc == flight.start
    assert "time-coarse" in codes(track) and "aircraft-mixed" not in codes(track)


def test_aircraft_in_turn_are_not_spread_over_the_minute(tmp_path: Path) -> None:
    """Three aircraft, each written once a minute, at one and the same time."""
    fleet = [invented_flight(40, interval_s=60.0, lat=48.1 + place) for place in range(3)]
    lat, lon = (
        np.column_stack(values).ravel() for values in ([f.lat for f in fleet], [f.lon for f in fleet])
    )
    when = [text for text in written(fleet[0], "%d.%m.%Y %H:%M") for _ in fleet]
    text = table(["time", "latitude", "longitude"], when, numbers(lat, 7), numbers(lon, 7), separator=";")
    tracks = read_text(tmp_path, "a.csv", text)
    assert len(tracks) == 3
    assert all("time-coarse" not in codes(track) for track in tracks)


# Positions.


def _parts(value: float, letters: str) -> tuple[str, int, int, float, float]:
    """Return the side, degrees, whole minutes, seconds, and minutes with their fraction."""
    # Rounded once, so that no seconds are written as 60.
    hundredths = round(abs(value) * 360_000)
    degrees, rest = divmod(hundredths, 360_000)
    minutes, seconds = divmod(rest, 6_000)
    return letters[0 if value >= 0 else 1], degrees, minutes, seconds / 100.0, rest / 6_000


SIDES = {"N": "North", "S": "South", "E": "East", "W": "West"}
FORMS: dict[str, Callable[[str, int, int, float, float], str]] = {
    "N48-30.25": lambda side, d, m, s, mm: f"{side}{d}-{mm:08.5f}",
    "48-30-15.20N": lambda side, d, m, s, mm: f"{d}-{m:02d}-{s:05.2f}{side}",
    "483015.20N": lambda side, d, m, s, mm: f"{d:0{2 if side in 'NS' else 3}d}{m:02d}{s:05.2f}{side}",
    "N483015.20": lambda side, d, m, s, mm: f"{side}{d:0{2 if side in 'NS' else 3}d}{m:02d}{s:05.2f}",
    "48:30:15.20S": lambda side, d, m, s, mm: f"{d}:{m:02d}:{s:05.2f}{side}",
    "48 deg 30.25 min North": lambda side, d, m, s, mm: f"{d} deg {mm:.5f} min {SIDES[side]}",
    "48 degrees 30 minutes 15.20 seconds S": lambda side, d, m, s, mm: (
        f"{d} degrees {m} minutes {s:.2f} seconds {side}"
    ),
}


@pytest.mark.parametrize("flight", [NOON, SOUTH_WEST, SOUTH_EAST], ids=["NE", "SW", "SE"])
@pytest.mark.parametrize("form", FORMS)
def test_degrees_minutes_and_seconds(tmp_path: Path, form: str, flight: Invented) -> None:
    lat = [FORMS[form](*_parts(value, "NS")) for value in flight.lat]
    lon = [FORMS[form](*_parts(value, "EW")) for value in flight.lon]
    same_path(read(tmp_path, {"time": flight.iso(), "latitude": lat, "longitude": lon}, flight), flight)
    for joined in (" ", ", ", "/"):
        cells = [f"{one}{joined}{two}" for one, two in zip(lat, lon, strict=True)]
        if "deg" not in form:
            same_path(read(tmp_path, {"time": flight.iso(), "position": cells}, flight), flight)


@pytest.mark.parametrize(
    "text", ["48.5 30", "48-61.0N", "48 30.5 10", "48 30 61 N", "4830N15", "33-", "", "2026-03-14"]
)
def test_what_is_no_angle(text: str) -> None:
    from analyser.logs.number_text import angle

    assert np.isnan(angle(text))


@pytest.mark.parametrize("flight", [NOON, SOUTH_WEST, SOUTH_EAST], ids=["NE", "SW", "SE"])
@pytest.mark.parametrize(
    ("header", "form"),
    [
        ("position", "{lat:.7f} {lon:.7f}"),
        ("coordinates", "({lat:.7f} {lon:.7f})"),
        ("position", "{lat:.7f}/{lon:.7f}"),
        ("location", "POINT ({lon:.7f} {lat:.7f})"),
        ("position", "POINT Z ({lon:.7f} {lat:.7f} 1200)"),
        ("position", "{lat:+010.7f}{lon:+011.7f}/"),
        ("lon,lat", "{lon:.7f},{lat:.7f}"),
        ("lat,lon", "{lat:.7f},{lon:.7f}"),
        ("coordinates (lon lat)", "{lon:.7f} {lat:.7f}"),
    ],
)
def test_one_column_for_both(tmp_path: Path, header: str, form: str, flight: Invented) -> None:
    cells = [form.format(lat=lat, lon=lon) for lat, lon in zip(flight.lat, flight.lon, strict=True)]
    same_path(read(tmp_path, {"time": flight.iso(), header: cells}, flight), flight)


@pytest.mark.parametrize("flight", [NOON, SOUTH_WEST, SOUTH_EAST], ids=["NE", "SW", "SE"])
def test_degrees_and_minutes_in_columns_of_their_own(tmp_path: Path, flight: Invented) -> None:
    columns: dict[str, list[str]] = {"time": flight.iso()}
    for name, values, letters in (("lat", flight.lat, "NS"), ("lon", flight.lon, "EW")):
        parts = [_parts(value, letters) for value in values]
        columns[f"{name} deg"] = [str(part[1]) for part in parts]
        columns[f"{name} min"] = [str(part[2]) for part in parts]
        columns[f"{name} sec"] = [f"{part[3]:.2f}" for part in parts]
        columns[f"{name} dir"] = [part[0] for part in parts]
    same_path(read(tmp_path, columns, flight), flight)
    signed = {name: cells for name, cells in columns.items() if not name.endswith("dir")}
    for name, values in (("lat", flight.lat), ("lon", flight.lon)):
        signed[f"{name} deg"] = [
            f"-{cell}" if value < 0 else cell
            for cell, value in zip(columns[f"{name} deg"], values, strict=True)
        ]
    same_path(read(tmp_path, signed, flight), flight)


@pytest.mark.parametrize("flight", [NOON, SOUTH_WEST, SOUTH_EAST], ids=["NE", "SW", "SE"])
@pytest.mark.parametrize(
    ("names", "scale"),
    [
        (("lat", "lon"), 1e6),
        (("lat_e6", "lon_e6"), 1e6),
        (("lat_e7", "lon_e7"), 1e7),
        (("lat [degE7]", "lon [degE7]"), 1e7),
        (("lat [arcsec]", "lon [arcsec]"), 3600.0),
        (("lat (arcmin)", "lon (arcmin)"), 60.0),
    ],
)
def test_parts_of_a_degree(tmp_path: Path, names: tuple[str, str], scale: float, flight: Invented) -> None:
    decimals = 0 if scale > 1e5 else 4
    lat, lon = numbers(flight.lat * scale, decimals), numbers(flight.lon * scale, decimals)
    same_path(read(tmp_path, {"time": flight.iso(), names[0]: lat, names[1]: lon}, flight), flight)


def test_columns_of_signs(tmp_path: Path) -> None:
    columns = {
        "time": SOUTH_WEST.iso(),
        "latitude": numbers(abs(SOUTH_WEST.lat), 7),
        "lat sign": ["-1"] * 240,
        "longitude": numbers(abs(SOUTH_WEST.lon), 7),
        "lon sign": ["-1"] * 240,
    }
    same_path(read(tmp_path, columns, SOUTH_WEST), SOUTH_WEST)


# Numbers and signs.


@pytest.mark.parametrize("minus", ["−", "–"])
def test_other_signs_for_minus(tmp_path: Path, minus: str) -> None:
    lat, lon = (
        [cell.replace("-", minus) for cell in numbers(v, 7)] for v in (SOUTH_WEST.lat, SOUTH_WEST.lon)
    )
    columns = {"time": SOUTH_WEST.iso(), "latitude": lat, "longitude": lon}
    same_path(read(tmp_path, columns, SOUTH_WEST), SOUTH_WEST)


@pytest.mark.parametrize("blank", ["\u00a0", "\u202f"])
def test_blanks_that_part_thousands(tmp_path: Path, blank: str) -> None:
    feet = [f"{value:,.1f}".replace(",", blank) for value in NOON.altitude_ft]
    track = read(tmp_path, {"time": NOON.iso(), "altitude_ft": feet})
    np.testing.assert_allclose(track.channel("altitude_ft"), NOON.altitude_ft, atol=0.06)


def test_cells_that_a_spreadsheet_keeps_as_text(tmp_path: Path) -> None:
    columns = {"time": NOON.iso(), "latitude": numbers(NOON.lat, 7), "longitude": numbers(NOON.lon, 7)}
    quoted = {name: [f'="{cell}"' for cell in cells] for name, cells in columns.items()}
    same_path(read(tmp_path, quoted))


@pytest.mark.parametrize("lines", [150, 900])
def test_a_header_far_down(tmp_path: Path, lines: int) -> None:
    preamble = "".join(
        f"event;{place};lat and lon not known yet\n" if place < 150 else "event\n" for place in range(lines)
    )
    rows = table(
        ["time", "lat", "lon"], NOON.iso(), numbers(NOON.lat, 7), numbers(NOON.lon, 7), separator=";"
    )
    same_path(read_one(tmp_path, "a.csv", preamble + rows))


@pytest.mark.parametrize(
    ("header", "feet"), [("altitude (dm)", 3.048), ("altitude (kft)", 0.001), ("hMSL (m)", 0.3048)]
)
def test_units_of_altitude(tmp_path: Path, header: str, feet: float) -> None:
    track = read(tmp_path, {"time": NOON.iso(), header: numbers(NOON.altitude_ft * feet, 4)})
    np.testing.assert_allclose(track.channel("altitude_ft"), NOON.altitude_ft, atol=0.2)


@pytest.mark.parametrize(("header", "per_knot"), [("speed (cm/s)", 51.4444), ("gs [mm/s]", 514.444)])
def test_units_of_speed(tmp_path: Path, header: str, per_knot: float) -> None:
    track = read(tmp_path, {"time": NOON.iso(), header: numbers(NOON.ground_speed_kt * per_knot, 1)})
    np.testing.assert_allclose(track.channel("ground_speed_kt"), NOON.ground_speed_kt, atol=0.1)
