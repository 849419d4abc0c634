"""Tables as recorders write them: separators, preambles, units, times, and what is asked instead of guessed."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from analyser.errors import LogError, UsageError
from analyser.logs.meaning import meaning_of
from tests.logs_invented import as_csv, invented_flight
from tests.logs_reading import codes, numbers, positions, read_one, read_text, table

FLIGHT = invented_flight()
LAT, LON = positions(FLIGHT)
START = datetime(2026, 3, 14, 12, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("header", "meant", "unit"),
    [
        ("time_utc", "time", None),
        ("Timestamp", "time", None),
        ("elapsed_ms", "time", "ms"),
        ("Lat", "lat", None),
        ("Latitude [deg]", "lat", "deg"),
        ("lng", "lon", None),
        ("long.", "lon", None),
        ("alt_m", "alt", "m"),
        ("Altitude (ft)", "alt", "ft"),
        ("Altitude, ft", "alt", "ft"),
        ("Flight Level", "alt", "FL"),
        ("GS [kt]", "gs", "kt"),
        ("groundSpeedKt", "gs", "kt"),
        ("Speed over ground (km/h)", "gs", "km/h"),
        ("COG", "track", None),
        ("trk_true", "track", None),
        ("Heading", "heading", None),
        ("hdgT", "heading_true", None),
        ("Heading (magnetic) [deg]", "heading_magnetic", "deg"),
        ("psi", "heading", None),
        ("Roll [rad]", "bank", "rad"),
        ("Bank Angle", "bank", None),
        ("theta", "pitch", None),
        ("KIAS", "ias", "kt"),
        ("Indicated Airspeed (mph)", "ias", "mph"),
        ("TAS m/s", "tas", "m/s"),
        ("Wind Direction", "wind_from", None),
        ("wind speed kt", "wind_speed", "kt"),
        ("OAT °C", "oat", "°C"),
        ("Vertical Speed (ft/min)", "vs", "fpm"),
        ("UTC offset", "utc_offset", None),
        ("callsign", "id", None),
        ("baroaltitude", "alt", None),
        ("trueheading", "heading_true", None),
        ("windspeed_kt", "wind_speed", "kt"),
        ("vertrate", "vs", None),
        ("magheading", "heading_magnetic", None),
        ("utctime", "time", None),
    ],
)
def test_headers_are_read_by_meaning(header: str, meant: str, unit: str | None) -> None:
    meaning = meaning_of(header)
    assert meaning is not None
    assert meaning.concept.name == meant
    assert (meaning.unit.name if meaning.unit else None) == unit


NOT_MEASURED = (
    "selected heading,roll rate,altitude agl,oil temperature,desired track,fuel flow,x,status,tailwind,rollout,latency,"
    "altimeter setting,timeout,headwind,track error,bank rate"
)


@pytest.mark.parametrize("header", NOT_MEASURED.split(","))
def test_what_was_not_measured_is_not_taken_for_it(header: str) -> None:
    assert meaning_of(header) is None


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
@pytest.mark.parametrize(
    ("encoding", "newline"), [("utf-8", "\n"), ("utf-8-sig", "\r\n"), ("utf-16", "\r\n")]
)
def test_separators_encodings_and_line_ends(
    tmp_path: Path, separator: str, encoding: str, newline: str
) -> None:
    text = table(
        ["time", "lat", "lon", "alt_ft"],
        FLIGHT.iso(),
        LAT,
        LON,
        numbers(FLIGHT.altitude_ft),
        separator=separator,
    )
    track = read_one(tmp_path, "a.csv", text.replace("\n", newline), encoding=encoding)
    assert track.samples == 900
    assert track.start_utc == START
    np.testing.assert_allclose(track.lat_deg, FLIGHT.lat, atol=1e-6)
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft, atol=0.01)


def test_latin_1_with_degree_signs_and_a_preamble(tmp_path: Path) -> None:
    body = table(
        ["Zeit UTC", "Latitude [°]", "Longitude [°]", "OAT [°C]"], FLIGHT.iso(), LAT, LON, ["7.5"] * 900
    )
    text = "Recorder: «Übung»\n\n# made up\n" + body.replace("Zeit UTC", "time")
    track = read_one(tmp_path, "a.csv", text, encoding="latin-1")
    assert track.channels["outside_air_temperature_c"][0] == 7.5


def test_units_row_blank_columns_decimal_commas_and_radians(tmp_path: Path) -> None:
    """The row under the header gives the units; commas are decimal where semicolons separate."""
    text = (
        table(
            ["Date", "Time", "Latitude", "", "Longitude", "Altitude", "Ground Speed", "Roll", ""],
            ["14.03.2026"] * 900,
            [m.strftime("%H:%M:%S") for m in FLIGHT.moments()],
            LAT,
            [""] * 900,
            LON,
            numbers(FLIGHT.altitude_ft * 0.3048),
            numbers(FLIGHT.ground_speed_kt * 1.852),
            numbers(np.radians(FLIGHT.bank_deg), 5),
            [""] * 900,
            separator=";",
        )
        .replace(".", ",")
        .replace("14,03,2026", "14.03.2026")
    )
    head, _, rest = text.partition("\n")
    track = read_one(tmp_path, "a.txt", f"Log 7\n{head}\ndd.mm.yyyy;hh:mm:ss;deg;;deg;m;km/h;rad;\n{rest}")
    assert track.start_utc == START
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft, atol=0.01)
    np.testing.assert_allclose(track.channels["ground_speed_kt"], FLIGHT.ground_speed_kt, atol=0.01)
    np.testing.assert_allclose(track.channels["bank_deg"], FLIGHT.bank_deg, atol=0.01)


@pytest.mark.parametrize(
    ("header", "written", "dated"),
    [
        ("time", [f"{1773489600 + t:.1f}" for t in FLIGHT.time_s], True),
        ("timestamp", [f"{(1773489600 + t) * 1000:.0f}" for t in FLIGHT.time_s], True),
        ("epoch", [f"{(1773489600 + t) * 1e9:.0f}" for t in FLIGHT.time_s], True),
        ("elapsed_s", numbers(FLIGHT.time_s), False),
        ("elapsed [ms]", numbers(FLIGHT.time_s * 1000, 0), False),
        ("time", numbers(FLIGHT.time_s * 1000, 0), False),
        ("t", numbers(FLIGHT.time_s), False),
        ("time [min]", numbers(FLIGHT.time_s / 60.0, 6), False),
        ("UTC", [m.strftime("%H:%M:%S") for m in FLIGHT.moments()], False),
        ("UTC", [m.strftime("%H%M%S") for m in FLIGHT.moments()], False),
        ("time", [m.strftime("%I:%M:%S %p") for m in FLIGHT.moments()], False),
        ("time", [m.strftime("%m/%d/%Y %H:%M:%S") for m in FLIGHT.moments()], True),
        ("time", [m.strftime("%d.%m.%Y %H:%M:%S") for m in FLIGHT.moments()], True),
        ("time", [m.strftime("%d %b %Y %H:%M:%S") for m in FLIGHT.moments()], True),
        ("time", [m.strftime("%Y-%m-%d %H:%M:%S+00:00") for m in FLIGHT.moments()], True),
        ("time", [f"{46095.5 + t / 86400:.9f}" for t in FLIGHT.time_s], True),
    ],
)
def test_times_as_they_are_written(tmp_path: Path, header: str, written: list[str], dated: bool) -> None:
    track = read_one(tmp_path, "a.csv", table([header, "lat", "lon"], written, LAT, LON))
    np.testing.assert_allclose(track.time_s, FLIGHT.time_s, atol=2e-3)
    if dated:
        assert track.start_utc is not None
        assert abs((track.start_utc - START).total_seconds()) < 2e-3
    else:
        assert track.start_utc is None
        assert "date-missing" in codes(track)


def test_midnight_without_a_date(tmp_path: Path) -> None:
    late = invented_flight(start=datetime(2026, 3, 14, 23, 55, tzinfo=UTC))
    text = table(["UTC", "lat", "lon"], [m.strftime("%H:%M:%S") for m in late.moments()], *positions(late))
    np.testing.assert_allclose(read_one(tmp_path, "a.csv", text).time_s, late.time_s)


def test_midnight_with_a_date_column_that_changes_late(tmp_path: Path) -> None:
    """Recorders write the old date for a row or two after midnight; the clock decides."""
    late = invented_flight(start=datetime(2026, 3, 14, 23, 55, tzinfo=UTC))
    dates = ["2026-03-14"] * 303 + ["2026-03-15"] * 597
    text = table(
        ["date", "UTC", "lat", "lon"],
        dates,
        [m.strftime("%H:%M:%S") for m in late.moments()],
        *positions(late),
    )
    track = read_one(tmp_path, "a.csv", text)
    np.testing.assert_allclose(track.time_s, late.time_s)
    assert track.start_utc == late.start


def test_local_time_with_an_offset_column(tmp_path: Path) -> None:
    local = [m + timedelta(hours=-8) for m in FLIGHT.moments()]
    text = table(
        ["local date", "local time", "UTC offset", "lat", "lon"],
        [m.strftime("%Y-%m-%d") for m in local],
        [m.strftime("%H:%M:%S") for m in local],
        ["-08:00"] * 900,
        LAT,
        LON,
    )
    track = read_one(tmp_path, "a.csv", text)
    assert track.start_utc == START
    assert "time-zone-assumed" not in codes(track)


def test_local_time_without_an_offset_is_said(tmp_path: Path) -> None:
    text = table(
        ["local time", "lat", "lon"], [m.strftime("%Y-%m-%d %H:%M:%S") for m in FLIGHT.moments()], LAT, LON
    )
    assert "time-zone-assumed" in codes(read_one(tmp_path, "a.csv", text))


def test_a_date_that_can_be_read_two_ways_is_left_open(tmp_path: Path) -> None:
    text = table(
        ["date", "time", "lat", "lon"],
        ["03/04/2026"] * 900,
        [m.strftime("%H:%M:%S") for m in FLIGHT.moments()],
        LAT,
        LON,
    )
    track = read_one(tmp_path, "a.csv", text)
    assert track.start_utc is None
    assert "date-ambiguous" in codes(track)


def _sexagesimal(value: float, pattern: str, side: str) -> str:
    """Write degrees, minutes and seconds to a ten-thousandth of a second, exactly."""
    minutes, rest = divmod(round(abs(value) * 36_000_000), 600_000)
    return pattern.format(
        d=minutes // 60, m=minutes % 60, s=rest / 10_000, dm=minutes % 60 + rest / 600_000, side=side
    )


@pytest.mark.parametrize(
    "pattern", ["{side}{d} {dm:.7f}", '{d}°{m:02d}\'{s:.4f}""{side}', "{d}:{m}:{s:.4f} {side}"]
)
def test_positions_in_degrees_minutes_and_hemispheres(tmp_path: Path, pattern: str) -> None:
    south = invented_flight(lat=-33.9, lon=-70.6)
    lat = [f'"{_sexagesimal(v, pattern, "S")}"' for v in south.lat]
    lon = [f'"{_sexagesimal(v, pattern, "W")}"' for v in south.lon]
    track = read_one(tmp_path, "a.csv", table(["time", "lat", "lon"], south.iso(), lat, lon))
    np.testing.assert_allclose(track.lat_deg, south.lat, atol=1e-6)
    np.testing.assert_allclose(track.lon_deg, south.lon, atol=1e-6)


def test_both_coordinates_in_one_cell(tmp_path: Path) -> None:
    pairs = [f'"{-v:.7f}, {w:.7f}"' for v, w in zip(FLIGHT.lat, FLIGHT.lon, strict=True)]
    track = read_one(tmp_path, "a.csv", table(["time", "position"], FLIGHT.iso(), pairs))
    np.testing.assert_allclose(track.lat_deg, -FLIGHT.lat, atol=1e-6)


def test_headings_of_plus_minus_180_and_blank_slow_cells(tmp_path: Path) -> None:
    hdg = np.where(np.arange(900) % 5 == 0, (FLIGHT.heading_deg + 180.0) % 360.0 - 180.0, np.nan)
    track = read_one(
        tmp_path, "a.csv", table(["time", "lat", "lon", "true heading"], FLIGHT.iso(), LAT, LON, numbers(hdg))
    )
    logged = track.channels["heading_true_deg"]
    assert np.isnan(logged).sum() == 720
    np.testing.assert_allclose(logged[::5], FLIGHT.heading_deg[::5] % 360.0, atol=0.01)


@pytest.mark.parametrize(
    ("unit", "factor"), [("kt", 1.0), ("km/h", 1.852), ("mph", 1.150779), ("m/s", 0.514444)]
)
def test_a_speed_without_a_unit_is_settled_by_the_ground(tmp_path: Path, unit: str, factor: float) -> None:
    text = table(
        ["time", "lat", "lon", "gs"], FLIGHT.iso(), LAT, LON, numbers(FLIGHT.ground_speed_kt * factor)
    )
    track = read_one(tmp_path, "a.csv", text)
    np.testing.assert_allclose(track.channels["ground_speed_kt"], FLIGHT.ground_speed_kt, rtol=1e-3)
    assert any(source.unit == unit and source.standing == "assumed" for source in track.sources)


def test_an_altitude_without_a_unit_is_asked_for(tmp_path: Path) -> None:
    text = table(["time", "lat", "lon", "alt"], FLIGHT.iso(), LAT, LON, numbers(FLIGHT.altitude_ft * 0.3048))
    track = read_one(tmp_path, "a.csv", text)
    assert "altitude_ft" not in track.channels
    notice = next(notice for notice in track.notices if notice.code == "unit-unknown")
    assert "--units alt=m" in notice.message
    told = read_one(tmp_path, "a.csv", text, units={"alt": "m"})
    np.testing.assert_allclose(told.channels["altitude_ft"], FLIGHT.altitude_ft, atol=0.01)


def test_an_altitude_without_a_unit_is_settled_by_the_vertical_speed(tmp_path: Path) -> None:
    climb = np.gradient(FLIGHT.altitude_ft, FLIGHT.time_s) * 60.0
    text = table(
        ["time", "lat", "lon", "alt", "vs [fpm]"],
        FLIGHT.iso(),
        LAT,
        LON,
        numbers(FLIGHT.altitude_ft * 0.3048),
        numbers(climb),
    )
    track = read_one(tmp_path, "a.csv", text)
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft, atol=0.01)


def test_steps_of_25_are_feet(tmp_path: Path) -> None:
    steps = np.round(FLIGHT.altitude_ft * 3 / 25.0) * 25.0
    track = read_one(
        tmp_path, "a.csv", table(["time", "lat", "lon", "alt"], FLIGHT.iso(), LAT, LON, numbers(steps, 0))
    )
    np.testing.assert_allclose(track.channels["altitude_ft"], steps)


def test_bank_without_a_unit_in_radians(tmp_path: Path) -> None:
    text = table(
        ["time", "lat", "lon", "roll"], FLIGHT.iso(), LAT, LON, numbers(np.radians(FLIGHT.bank_deg), 4)
    )
    np.testing.assert_allclose(
        read_one(tmp_path, "a.csv", text).channels["bank_deg"], FLIGHT.bank_deg, atol=0.02
    )


def test_a_unit_in_the_cells(tmp_path: Path) -> None:
    cells = [f"{v:.0f} m" for v in FLIGHT.altitude_ft * 0.3048]
    track = read_one(tmp_path, "a.csv", table(["time", "lat", "lon", "alt"], FLIGHT.iso(), LAT, LON, cells))
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft, atol=2.0)


def test_columns_said_by_hand(tmp_path: Path) -> None:
    text = table(["a", "b", "c", "d"], FLIGHT.iso(), LAT, LON, numbers(FLIGHT.altitude_ft))
    track = read_one(
        tmp_path, "a.csv", text, columns={"time": "a", "lat": "B", "lon": "3", "alt": "d"}, units={"d": "ft"}
    )
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft, atol=0.01)
    assert {source.standing for source in track.sources} >= {"told"}


def test_a_table_without_a_header_by_numbers(tmp_path: Path) -> None:
    text = table(["time", "lat", "lon"], FLIGHT.iso(), LAT, LON).partition("\n")[2]
    track = read_one(tmp_path, "a.csv", text, columns={"time": "1", "lat": "2", "lon": "3"})
    assert track.samples == 900


def test_repeated_columns_take_the_fuller_one(tmp_path: Path) -> None:
    sparse = np.where(np.arange(900) < 20, FLIGHT.altitude_ft, np.nan)
    text = table(
        ["time", "lat", "lon", "baro altitude ft", "altitude ft"],
        FLIGHT.iso(),
        LAT,
        LON,
        numbers(sparse),
        numbers(FLIGHT.altitude_ft),
    )
    track = read_one(tmp_path, "a.csv", text)
    assert np.isfinite(track.channels["altitude_ft"]).all()
    assert any(source.standing == "ignored" for source in track.sources)


def test_headers_repeated_in_the_middle_and_comments(tmp_path: Path) -> None:
    lines = as_csv(FLIGHT).splitlines()
    text = "\n".join([*lines[:400], "# the recorder was started again", lines[0], *lines[400:]]) + "\n"
    assert read_one(tmp_path, "a.csv", text).samples == 900


def test_a_stray_quotation_mark_does_not_swallow_the_log(tmp_path: Path) -> None:
    lines = as_csv(FLIGHT).splitlines()
    lines[500] = lines[500].replace(",", ',"', 1)
    assert read_one(tmp_path, "a.csv", "\n".join(lines) + "\n").samples >= 890


def test_several_aircraft_in_one_table(tmp_path: Path) -> None:
    other = invented_flight(lat=51.0, lon=-1.0)
    rows = []
    for flight, name in ((FLIGHT, "AAA1"), (other, "BBB2")):
        rows += [(w, name, a, o) for w, a, o in zip(flight.iso(), *positions(flight), strict=True)]
    rows.sort()
    tracks = read_text(tmp_path, "a.csv", table(["time", "callsign", "lat", "lon"], *zip(*rows, strict=True)))
    assert [track.name for track in tracks] == ["a.csv (AAA1)", "a.csv (BBB2)"]
    assert all(track.samples == 900 for track in tracks)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "empty"),
        ("   \n\n", "empty"),
        ("hello world\nthis is no table\n", "no row names"),
        ("time,lat,lon\n", "no rows"),
        ("lat,lon\n48.1,11.5\n48.2,11.6\n", "gives the time"),
        ("time,alt\n1,2\n2,3\n", "no row names"),
        ("time,lat,lon\n1,48.1,11.5\n", "one usable sample"),
        ("time,lat,lon\n1,48.1,11.5\n2,48.1,11.5\n3,48.1,11.5\n", "never changes"),
        ("time,lat,lon\nx,48.1,11.5\ny,48.2,11.5\n", "times cannot be read"),
        ("time,lat,lon\n1,,\n2,,\n", "gives lat"),
        ("time,lat,lon\n1,98.1,11.5\n2,-95,11.5\n", "outside the globe"),
        ("time,lat,lon\n1,0,0\n2,0.0,0\n3,0,0\n", "never had a fix"),
        ("time,lat,lon\n1,nan,nan\n2,nan,nan\n", "gives lat"),
    ],
)
def test_what_cannot_be_read_is_said(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(LogError, match=said) as caught:
        read_text(tmp_path, "bad.csv", text)
    assert "bad.csv" in str(caught.value)
    assert caught.value.exit_status == 1


def test_wrong_names_on_the_command_line_are_refused(tmp_path: Path) -> None:
    text = as_csv(FLIGHT)
    with pytest.raises(UsageError, match="no column the program knows"):
        read_one(tmp_path, "a.csv", text, columns={"speed_of_sound": "x"})
    with pytest.raises(LogError, match="there is no column 'nothing'"):
        read_one(tmp_path, "a.csv", text, columns={"alt": "nothing"})
    with pytest.raises(LogError, match="there is no column 'nothing'"):
        read_one(tmp_path, "a.csv", text, units={"nothing": "m"})
    with pytest.raises(UsageError, match="no unit for"):
        read_one(tmp_path, "a.csv", text, units={"alt": "parsec"})
    with pytest.raises(UsageError, match="no unit for 'date'"):
        read_one(tmp_path, "a.csv", text, units={"date": "xyz"})


def test_a_units_row_above_the_header_in_a_comment(tmp_path: Path) -> None:
    """Comment signs before every unit, blanks after every comma, local time with its offset."""
    local = [m + timedelta(hours=-5) for m in FLIGHT.moments()]
    text = table(
        ["Date", " Time", " UTC Ofst", " Latitude", " Longitude", " Alt", " Gnd Spd", " Roll", " Wnd Dr"],
        [f"{m:%Y-%m-%d}" for m in local],
        [f" {m:%H:%M:%S}" for m in local],
        [" -05:00"] * 900,
        LAT,
        LON,
        numbers(FLIGHT.altitude_ft),
        numbers(FLIGHT.ground_speed_kt),
        numbers(FLIGHT.bank_deg),
        ["240"] * 900,
    )
    head = "#made up\n#yyyy-mm-dd, #hh:mm:ss, #hh:mm, #degrees, #degrees, #ft msl, #kt, #deg, #deg\n"
    track = read_one(tmp_path, "a.csv", head + text)
    assert track.start_utc == START
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft, atol=0.01)
    assert {"ground_speed_kt", "bank_deg", "wind_from_true_deg"} <= set(track.channels)


def test_a_column_for_each_part_of_the_time(tmp_path: Path) -> None:
    late = invented_flight(start=datetime(2026, 3, 14, 23, 55, tzinfo=UTC))
    m = late.moments()
    text = table(
        ["year", "month", "day", "hour", "minute", "second", "lat", "lon"],
        [t.year for t in m],
        [t.month for t in m],
        [t.day for t in m],
        [t.hour for t in m],
        [t.minute for t in m],
        [t.second for t in m],
        *positions(late),
    )
    track = read_one(tmp_path, "a.csv", text)
    assert track.start_utc == late.start
    np.testing.assert_allclose(track.time_s, late.time_s)


@pytest.mark.parametrize(
    "write",
    [
        lambda m: f"{m:%Y%m%d%H%M%S}",
        lambda m: f"{m:%a %d %b %Y %H:%M:%S} GMT",
        lambda m: f"{m:%Y/%m/%d %H:%M:%S}",
        lambda m: f"{m:%Y%m%dT%H%M%SZ}",
        lambda m: f"{m + timedelta(hours=2):%Y-%m-%dT%H:%M:%S}+02:00",
        lambda m: f'"{m:%Y-%m-%d %H:%M:%S},000 UTC"',
    ],
)
def test_more_ways_to_write_a_date(tmp_path: Path, write: object) -> None:
    text = table(["time", "lat", "lon"], [write(m) for m in FLIGHT.moments()], LAT, LON)  # type: ignore[operator]
    track = read_one(tmp_path, "a.csv", text)
    assert track.start_utc == START
    np.testing.assert_allclose(track.time_s, FLIGHT.time_s)


def test_minutes_and_seconds_as_spreadsheets_leave_them(tmp_path: Path) -> None:
    long = invented_flight(samples=5000)
    written = [f"{int(t // 60) % 60:02d}:{t % 60:04.1f}" for t in long.time_s]
    track = read_one(tmp_path, "a.csv", table(["time", "lat", "lon"], written, *positions(long)))
    np.testing.assert_allclose(track.time_s, long.time_s)


@pytest.mark.parametrize(
    "write",
    [lambda v: f"{int(v) * 100 + v % 1 * 60:.5f}", lambda v: f"{round(v * 1e7)}"],
    ids=["ddmm.mm", "1e-7"],
)
def test_positions_run_together_are_read_and_said(tmp_path: Path, write: object) -> None:
    lat, lon = [write(v) for v in FLIGHT.lat], [write(v) for v in FLIGHT.lon]  # type: ignore[operator]
    track = read_one(tmp_path, "a.csv", table(["time", "lat", "lon"], FLIGHT.iso(), lat, lon))
    np.testing.assert_allclose(track.lat_deg, FLIGHT.lat, atol=2e-7)
    assert "position-form-assumed" in codes(track)


def test_flight_levels_in_the_cells(tmp_path: Path) -> None:
    levels = [f"FL{round(v / 100):03d}" for v in FLIGHT.altitude_ft]
    track = read_one(
        tmp_path,
        "a.csv",
        table(["time", "lat", "lon", "level"], FLIGHT.iso(), LAT, LON, levels),
        columns={"alt": "level"},
    )
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft, atol=51.0)


def test_degrees_magnetic_in_the_unit(tmp_path: Path) -> None:
    text = table(
        ["time", "lat", "lon", "Hdg (°M)", "COG (°T)"],
        FLIGHT.iso(),
        LAT,
        LON,
        numbers(FLIGHT.heading_deg),
        numbers(FLIGHT.track_deg),
    )
    track = read_one(tmp_path, "a.csv", text)
    assert {"heading_magnetic_deg", "track_true_deg"} == set(track.channels)


@pytest.mark.parametrize("storage", ["python", "pyarrow"])
@pytest.mark.parametrize(
    ("written", "late_s"), [("{:%Y-%m-%dT%H:%M:%SZ}", 0.0), ("{:%Y-%m-%d %H:%M:%S}+01:00", 3600.0)]
)
@pytest.mark.parametrize("spoilt", [None, "no fix", ""])
def test_iso_times_are_the_same_however_text_is_kept(
    tmp_path: Path, storage: str, written: str, late_s: float, spoilt: str | None
) -> None:
    import pandas as pd

    if storage == "pyarrow":
        pytest.importorskip("pyarrow", reason="parquet's library is not installed")
    times = [written.format(START + timedelta(seconds=float(t))) for t in FLIGHT.time_s]
    if spoilt is not None:
        times[450] = spoilt
    text = table(["time", "lat", "lon"], times, LAT, LON)
    with pd.option_context("mode.string_storage", storage):
        track = read_one(tmp_path, "a.csv", text)
    assert track.start_utc == START - timedelta(seconds=late_s)
    expected = FLIGHT.time_s if spoilt is None else np.delete(FLIGHT.time_s, 450)
    np.testing.assert_allclose(track.time_s, expected, atol=1e-6)
    said = [notice.message for notice in track.notices if notice.code == "time-missing"]
    assert said == ([] if spoilt is None else ["1 sample has no readable time; it was left out."])


def test_rows_begin_where_the_header_ends_whatever_is_written_above(tmp_path: Path) -> None:
    body = table(["time", "lat", "lon", "alt_ft"], FLIGHT.iso(), LAT, LON, numbers(FLIGHT.altitude_ft))
    for above in ("", "\ufeff", "Höhe – 高さ\r\n\r\n", "# made up\n", "\n\n"):
        # Spaces after the commas, as some recorders write them.
        text = above + body.replace(",", ", ")
        track = read_one(tmp_path, "a.csv", text)
        np.testing.assert_allclose(track.time_s, FLIGHT.time_s, atol=1e-6)
        np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft, atol=0.01)


#: Headers of a table in each language, in the order of COLUMNS. From the trade's own words, none of a program's.
LANGUAGES = {
    "german": "Datum;Uhrzeit UTC;Breitengrad;Längengrad;Höhe [m];Geschwindigkeit über Grund [km/h];"
    "Kurs über Grund;"
    "Rechtweisender Steuerkurs;Querneigung;Angezeigte Fahrt [kt];Windrichtung;Windgeschwindigkeit [kt];"
    "Außentemperatur [°C];Steigrate [ft/min]",
    "german, no umlauts": "Datum;Zeit;Breite;Laenge;Hoehe (m);Grundgeschwindigkeit (km/h);Kurs;"
    "Steuerkurs (rechtweisend);"
    "Rollwinkel;angezeigte Fluggeschwindigkeit (Knoten);Windrichtung;Windstärke (kt);Lufttemperatur (°C);"
    "Vertikalgeschwindigkeit (ft/min)",
    "french": "Date;Heure UTC;Latitude;Longitude;Altitude (m);Vitesse sol (km/h);Route vraie;Cap vrai;"
    "Inclinaison;"
    "Vitesse indiquée (kt);Direction du vent;Vitesse du vent (kt);Température extérieure (°C);"
    "Vitesse verticale (ft/min)",
    "spanish": "Fecha;Hora UTC;Latitud;Longitud;Altitud (m);Velocidad sobre el suelo (km/h);Derrota;"
    "Rumbo verdadero;Alabeo;"
    "Velocidad indicada (kt);Dirección del viento;Velocidad del viento (kt);Temperatura exterior (°C);"
    "Velocidad vertical (ft/min)",
    "italian": "Data;Ora UTC;Latitudine;Longitudine;Quota (m);Velocità al suolo (km/h);Rotta;Prua vera;"
    "Angolo di rollio;"
    "Velocità indicata (nodi);Direzione del vento;Velocità del vento (kt);Temperatura esterna (°C);"
    "Velocità verticale (ft/min)",
    "portuguese": "Data;Hora UTC;Latitude;Longitude;Altitude (m);Velocidade no solo (km/h);Rumo;"
    "Proa verdadeira;Inclinação;"
    "Velocidade indicada (nós);Direção do vento;Velocidade do vento (kt);Temperatura externa (°C);"
    "Razão de subida (ft/min)",
}
COLUMNS = [
    "date",
    "time",
    "lat",
    "lon",
    "alt",
    "gs",
    "track",
    "heading_true",
    "bank",
    "ias",
    "wind_from",
    "wind_speed",
    "oat",
    "vs",
]


@pytest.mark.parametrize("language", list(LANGUAGES))
def test_headers_in_other_languages(tmp_path: Path, language: str) -> None:
    headers = LANGUAGES[language].split(";")
    found = [meaning_of(header) for header in headers]
    assert [
        meaning.concept.name if meaning else header for meaning, header in zip(found, headers, strict=True)
    ] == COLUMNS
    text = table(
        headers[:10],
        [m.strftime("%d.%m.%Y") for m in FLIGHT.moments()],
        [m.strftime("%H:%M:%S") for m in FLIGHT.moments()],
        LAT,
        LON,
        numbers(FLIGHT.altitude_ft * 0.3048),
        numbers(FLIGHT.ground_speed_kt * 1.852),
        numbers(FLIGHT.track_deg),
        numbers(FLIGHT.heading_deg),
        numbers(FLIGHT.bank_deg),
        numbers(FLIGHT.ias_kt),
        separator=";",
    )
    track = read_one(tmp_path, "a.csv", text, encoding="latin-1")
    assert track.start_utc == START
    for channel, true in (
        ("altitude_ft", FLIGHT.altitude_ft),
        ("ground_speed_kt", FLIGHT.ground_speed_kt),
        ("bank_deg", FLIGHT.bank_deg),
        ("ias_kt", FLIGHT.ias_kt),
    ):
        np.testing.assert_allclose(track.channels[channel], true, atol=0.02)


def test_an_english_word_comes_before_one_that_only_looks_like_another(tmp_path: Path) -> None:
    """``Route`` is the French for track, and in English a name."""
    text = table(
        ["time", "Route", "lat", "lon", "Track"],
        FLIGHT.iso(),
        ["north"] * 900,
        LAT,
        LON,
        numbers(FLIGHT.track_deg),
    )
    track = read_one(tmp_path, "a.csv", text)
    np.testing.assert_allclose(track.channels["track_true_deg"], FLIGHT.track_deg, atol=0.01)


@pytest.mark.parametrize(
    "written", ["14 März 2026", "14 mars 2026", "14 marzo 2026", "14 março 2026", "14 Mar 2026"]
)
def test_months_in_other_languages(tmp_path: Path, written: str) -> None:
    text = table(["time", "lat", "lon"], [f"{written} {m:%H:%M:%S}" for m in FLIGHT.moments()], LAT, LON)
    assert read_one(tmp_path, "a.csv", text).start_utc == START
