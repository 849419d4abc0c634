"""The worst tables that were thought of: sixtieths behind a point, dates in words, clocks of twelve hours."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from analyser.errors import LogError
from analyser.logs.read import read_log
from analyser.logs.track import Track
from tests.logs_invented import Invented, invented_flight
from tests.logs_reading import codes, numbers, positions, read_one, read_text, table

NORTH_EAST = invented_flight(700)
SOUTH_WEST = invented_flight(700, lat=-33.9, lon=-70.7)
ROUND_THE_CORNER = invented_flight(700, lat=-0.05, lon=-0.1)
ISO = NORTH_EAST.iso()
LAT, LON = positions(NORTH_EAST)


def moments(start: datetime) -> list[datetime]:
    return [start + timedelta(seconds=float(t)) for t in NORTH_EAST.time_s]


def same_places(track: Track, flight: Invented, within_deg: float = 1e-5) -> None:
    assert track.samples == flight.time_s.size
    np.testing.assert_allclose(track.lat_deg, flight.lat, atol=within_deg)
    np.testing.assert_allclose(track.lon_deg, flight.lon, atol=within_deg)


def same_times(track: Track, start: datetime | None = None, within_s: float = 0.02) -> None:
    assert track.samples == 700
    np.testing.assert_allclose(track.time_s, NORTH_EAST.time_s, atol=within_s)
    if start is not None:
        assert track.start_utc is not None
        assert abs((track.start_utc - start).total_seconds()) <= within_s


def behind_the_point(value: float, seconds: bool) -> str:
    """Write 48.0559 for 48°05'59", with hundredths of a second, or 48.0612 for 48°06.12'."""
    whole = round(abs(value) * (360_000 if seconds else 600_000))
    degrees, rest = divmod(whole, 360_000 if seconds else 600_000)
    minutes, rest = divmod(rest, 6_000 if seconds else 10_000)
    return f"{'-' if value < 0 else ''}{degrees}.{minutes:02d}{rest:04d}"


@pytest.mark.parametrize("comma", [False, True])
@pytest.mark.parametrize("flight", [NORTH_EAST, SOUTH_WEST, ROUND_THE_CORNER])
def test_minutes_and_seconds_behind_the_point(tmp_path: Path, flight: Invented, comma: bool) -> None:
    """As degrees they would put the flight up to 24 NM away and tear it apart at each minute."""
    lat, lon = ([behind_the_point(v, True) for v in values] for values in (flight.lat, flight.lon))
    text = table(["time", "lat", "lon"], flight.iso(), lat, lon, separator=";")
    track = read_one(tmp_path, "a.csv", text.replace(".", ",") if comma else text)
    same_places(track, flight)
    assert "position-form-assumed" in codes(track)


@pytest.mark.parametrize("header", ["lat (DMS)", "Latitude dd.mmss"])
def test_a_header_tells_minutes_and_seconds_of_a_few_rows(tmp_path: Path, header: str) -> None:
    lat, lon = (
        [behind_the_point(v, True) for v in values[:15]] for values in (NORTH_EAST.lat, NORTH_EAST.lon)
    )
    text = table(["time", header, header.replace("lat", "lon").replace("Lat", "Long")], ISO[:15], lat, lon)
    np.testing.assert_allclose(read_one(tmp_path, "a.csv", text).lat_deg, NORTH_EAST.lat[:15], atol=1e-5)


@pytest.mark.parametrize("flight", [NORTH_EAST, SOUTH_WEST])
def test_minutes_behind_the_point_by_the_ground_speed(tmp_path: Path, flight: Invented) -> None:
    lat, lon = ([behind_the_point(v, False) for v in values] for values in (flight.lat, flight.lon))
    speed = numbers(flight.ground_speed_kt, 1)
    same_places(
        read_one(tmp_path, "a.csv", table(["time", "lat", "lon", "gs_kt"], ISO, lat, lon, speed)), flight
    )


def test_minutes_behind_the_point_by_the_step_to_the_next_degree(tmp_path: Path) -> None:
    flight = invented_flight(700, lat=48.985)
    lat, lon = ([behind_the_point(v, False) for v in values] for values in (flight.lat, flight.lon))
    same_places(read_one(tmp_path, "a.csv", table(["time", "lat", "lon"], ISO, lat, lon)), flight)


@pytest.mark.parametrize("per_knot", [1.852, 1.151, 0.5144])
def test_a_speed_in_another_unit_than_it_says_makes_no_minutes_of_degrees(
    tmp_path: Path, per_knot: float
) -> None:
    speed = numbers(NORTH_EAST.ground_speed_kt * per_knot, 1)
    track = read_one(tmp_path, "a.csv", table(["time", "lat", "lon", "gs_kt"], ISO, LAT, LON, speed))
    same_places(track, NORTH_EAST)
    assert "position-form-assumed" not in codes(track) and "channel-disagrees" in codes(track)


def test_circles_in_a_small_field_are_degrees(tmp_path: Path) -> None:
    """Here no seconds would be above 59 either."""
    lat = 48.1230 + 0.0018 * np.sin(NORTH_EAST.time_s / 15)
    lon = 11.5030 + 0.0025 * np.cos(NORTH_EAST.time_s / 15)
    track = read_one(tmp_path, "a.csv", table(["time", "lat", "lon"], ISO, numbers(lat, 7), numbers(lon, 7)))
    np.testing.assert_allclose(track.lat_deg, lat, atol=1e-6)


@pytest.mark.parametrize("fill", ["-9999", "999.0", "0", "event"])
def test_what_fills_a_cell_is_no_next_degree(tmp_path: Path, fill: str) -> None:
    """Nor is a simulator's reposition by 0.4°: all minutes would be below 60."""
    lat = [fill if row % 37 == 5 else cell for row, cell in enumerate(LAT)]
    track = read_one(tmp_path, "a.csv", table(["time", "lat", "lon"], ISO, lat, LON))
    assert abs(float(np.median(track.lat_deg)) - float(np.median(NORTH_EAST.lat))) < 0.01
    moved = numbers(NORTH_EAST.lat + np.where(NORTH_EAST.time_s < 350.0, 0.0, 0.4), 7)
    jumped = read_text(tmp_path, "b.csv", table(["time", "lat", "lon"], ISO, moved, LON))
    assert all("position-form-assumed" not in codes(part) for part in jumped)


@pytest.mark.parametrize("per_second", [1, 1000])
def test_radians_beside_times_without_a_unit(tmp_path: Path, per_second: int) -> None:
    lat, lon = (numbers(np.radians(values), 9) for values in (SOUTH_WEST.lat, SOUTH_WEST.lon))
    track = read_one(
        tmp_path, "a.csv", table(["t", "lat", "lon"], numbers(SOUTH_WEST.time_s * per_second), lat, lon)
    )
    same_places(track, SOUTH_WEST)
    same_times(track)
    assert "position-form-assumed" in codes(track)


def test_gons(tmp_path: Path) -> None:
    lat, lon = (numbers(values / 0.9, 8) for values in (NORTH_EAST.lat, NORTH_EAST.lon))
    same_places(
        read_one(tmp_path, "a.csv", table(["time", "lat (gon)", "lon (gon)"], ISO, lat, lon)), NORTH_EAST
    )


@pytest.mark.parametrize("begins", [(9, 52, 30), (12, 0, 0), (23, 50, 0), (0, 50, 0)])
@pytest.mark.parametrize(
    ("header", "form", "within_s"),
    [
        ("time", "{0.hour}.{0.minute:02d}", 1.0),
        ("time", "{0.hour}.{0.minute:02d}{0.second:02d}", 0.02),
        ("time (hh.mm)", "{0.hour}.{0.minute:02d}", 1.0),
        ("time (hhmm)", "{0:%H%M}", 1.0),
    ],
)
def test_clocks_with_a_point(
    tmp_path: Path, header: str, form: str, within_s: float, begins: tuple[int, int, int]
) -> None:
    """As hours with decimals the legs would be up to two thirds too short."""
    start = datetime(2026, 3, 14, *begins, tzinfo=UTC)
    times = moments(start)
    dates, clocks = [f"{m:%d.%m.%Y}" for m in times], [form.format(m) for m in times]
    same_times(
        read_one(tmp_path, "a.csv", table(["date", header, "lat", "lon"], dates, clocks, LAT, LON)),
        start,
        within_s,
    )


def test_hours_with_decimals_beside_a_date_are_of_the_day(tmp_path: Path) -> None:
    start = datetime(2026, 3, 14, 9, 52, 30, tzinfo=UTC)
    hours = numbers(9.875 + NORTH_EAST.time_s / 3600.0, 6)
    text = table(["date", "time", "lat", "lon"], ["2026-03-14"] * 700, hours, LAT, LON)
    track = read_one(tmp_path, "a.csv", text)
    same_times(track, start)
    assert "time-unit-assumed" in codes(track)
    elapsed = read_one(tmp_path, "b.csv", text.replace("time", "elapsed (h)"))
    same_times(elapsed)
    assert elapsed.start_utc is None


def test_minutes_and_seconds_with_a_point(tmp_path: Path) -> None:
    clocks = [f"{int(t // 60)}.{int(t % 60):02d}" for t in NORTH_EAST.time_s]
    same_times(read_one(tmp_path, "a.csv", table(["time", "lat", "lon"], clocks, LAT, LON)))


@pytest.mark.parametrize("step_s", [0.1, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 60.0])
@pytest.mark.parametrize("rows", [22, 24, 48, 70, 700])
def test_seconds_at_any_pace_are_no_clock(tmp_path: Path, step_s: float, rows: int) -> None:
    flight = invented_flight(rows, interval_s=step_s)
    for decimals in (0, 1, 2, 3):
        if round(step_s, decimals) == step_s:
            text = table(["t", "lat", "lon"], numbers(flight.time_s, decimals), *positions(flight))
            np.testing.assert_allclose(read_one(tmp_path, "a.csv", text).time_s, flight.time_s, atol=1e-3)


@pytest.mark.parametrize("first", [0, 100, 905, 1000])
def test_a_minute_of_whole_seconds_is_no_clock(tmp_path: Path, first: int) -> None:
    text = table(["t", "lat", "lon"], range(first, first + 50), LAT[:50], LON[:50])
    track = read_one(tmp_path, "a.csv", text)
    np.testing.assert_allclose(track.time_s, NORTH_EAST.time_s[:50])
    assert "time-unit-assumed" not in codes(track)


def test_hours_and_minutes_run_together_within_one_hour(tmp_path: Path) -> None:
    times = moments(datetime(2026, 3, 14, 9, 5, tzinfo=UTC))
    text = table(["date", "time", "lat", "lon"], ["2026-03-14"] * 700, [f"{m:%H%M}" for m in times], LAT, LON)
    same_times(read_one(tmp_path, "a.csv", text), times[0], 1.0)


@pytest.mark.parametrize("iso", [False, True])
def test_a_clock_of_twelve_hours_goes_on_past_one(tmp_path: Path, iso: bool) -> None:
    times = moments(datetime(2026, 3, 14, 12, 55, tzinfo=UTC))
    clocks = [f"{m:%I:%M:%S}" for m in times]
    text = table(["date", "time", "lat", "lon"], ["2026-03-14"] * 700, clocks, LAT, LON)
    if iso:
        text = table(["time", "lat", "lon"], [f"2026-03-14 {clock}" for clock in clocks], LAT, LON)
    track = read_one(tmp_path, "a.csv", text)
    same_times(track, times[0])
    assert "time-half-assumed" in codes(track) and "time-set-back" not in codes(track)


@pytest.mark.parametrize("half", ["{:%p}", "{:.1p}"])
def test_halves_of_the_day_by_a_letter(tmp_path: Path, half: str) -> None:
    times = moments(datetime(2026, 3, 14, 11, 55, tzinfo=UTC))
    clocks = [f"{m:%I:%M:%S} {'AP'[m.hour // 12]}{'M' if half == '{:%p}' else ''}" for m in times]
    text = table(["date", "time", "lat", "lon"], ["2026-03-14"] * 700, clocks, LAT, LON)
    same_times(read_one(tmp_path, "a.csv", text), times[0])


@pytest.mark.parametrize(
    "begins", [datetime(2025, 10, 26, 0, 55, tzinfo=UTC), datetime(2025, 3, 30, 0, 55, tzinfo=UTC)]
)
def test_summer_time_begins_and_ends_in_flight(tmp_path: Path, begins: datetime) -> None:
    local = [m.astimezone(ZoneInfo("Europe/Berlin")) for m in moments(begins)]
    clocks = [f"{m:%Y-%m-%d %H:%M:%S}" for m in local]
    text = table(["local time", "timezone", "lat", "lon"], clocks, ["Europe/Berlin"] * 700, LAT, LON)
    track = read_one(tmp_path, "a.csv", text)
    same_times(track, begins)
    assert not codes(track) & {"time-set-back", "time-leap"}


@pytest.mark.parametrize(
    "form",
    [
        "Samstag, {0.day}. März {0.year}",
        "sábado, {0.day} de marzo de {0.year}",
        "samedi {0.day} mars {0.year}",
        "sabato {0.day} marzo {0.year}",
        "Saturday, March {0.day}th, {0.year}",
        "{0.day}. maaliskuuta {0.year}",
        "{0:%d-%b-%y}",
        "14-MÄRZ-26",
        "{0:%d_%m_%Y}",
        "{0:%d.%m.%Y} 00:00:00",
        "{0.year}-W11-6",
    ],
)
@pytest.mark.parametrize("together", [False, True])
def test_dates_in_words(tmp_path: Path, form: str, together: bool) -> None:
    times = moments(datetime(2026, 3, 14, 12, 0, tzinfo=UTC))
    dates, clocks = [form.format(m) for m in times], [f"{m:%H:%M:%S}" for m in times]
    text = table(["date", "time", "lat", "lon"], dates, clocks, LAT, LON, separator=";")
    if together:
        joined = [
            f"{date.removesuffix(' 00:00:00')} {clock}" for date, clock in zip(dates, clocks, strict=True)
        ]
        text = table(["time", "lat", "lon"], joined, LAT, LON, separator=";")
    same_times(read_one(tmp_path, "a.csv", text), times[0])


@pytest.mark.parametrize("weekday", ["mardi", "mar.", "martes", "martedì", "Dienstag", "maandag"])
def test_weekdays_that_begin_as_months_do(tmp_path: Path, weekday: str) -> None:
    times = moments(datetime(2026, 4, 14, 12, 0, tzinfo=UTC))
    written = [f"{weekday} {m.day} avril {m.year} {m:%H:%M:%S}" for m in times]
    same_times(read_one(tmp_path, "a.csv", table(["time", "lat", "lon"], written, LAT, LON)), times[0])


@pytest.mark.parametrize(
    "form",
    [
        "{0:%a %b %d %H:%M:%S} UTC {0.year}",
        "{0:%a %b %d %Y %H:%M:%S} GMT+0000 (Coordinated Universal Time)",
        "{0:%Y%m%d.%H%M%S}",
        "{0:%y%m%d %H:%M:%S}",
    ],
)
def test_moments_as_programs_print_them(tmp_path: Path, form: str) -> None:
    times = moments(datetime(2026, 3, 14, 12, 0, tzinfo=UTC))
    same_times(
        read_one(tmp_path, "a.csv", table(["time", "lat", "lon"], map(form.format, times), LAT, LON)),
        times[0],
    )


@pytest.mark.parametrize("header", ["hh,mm,ss", "yyyy,mm,dd,hh,mm,ss"])
def test_columns_under_letters(tmp_path: Path, header: str) -> None:
    times = moments(datetime(2026, 3, 14, 12, 50, tzinfo=UTC))
    form = (
        "{0.hour},{0.minute},{0.second}"
        if header[0] == "h"
        else "{0.year},{0.month},{0.day},{0.hour},{0.minute},{0.second}"
    )
    track = read_one(tmp_path, "a.csv", table([header, "lat", "lon"], map(form.format, times), LAT, LON))
    same_times(track, times[0] if header[0] == "y" else None)


def test_dates_that_cannot_be_read_are_said(tmp_path: Path) -> None:
    clocks = [f"{m:%H:%M:%S}" for m in NORTH_EAST.moments()]
    track = read_one(
        tmp_path, "a.csv", table(["date", "time", "lat", "lon"], ["yesterday"] * 700, clocks, LAT, LON)
    )
    assert any("'yesterday'" in notice.message for notice in track.notices)


def test_altitudes_below_zero_in_brackets(tmp_path: Path) -> None:
    feet = NORTH_EAST.altitude_ft - 4000.0
    written = [f"({-value:.0f})" if round(value) < 0 else f"{value:.0f}" for value in feet]
    track = read_one(tmp_path, "a.csv", table(["time", "lat", "lon", "alt_ft"], ISO, LAT, LON, written))
    np.testing.assert_allclose(track.channels["altitude_ft"], feet, atol=0.51)


def test_a_units_row_some_lines_below_the_header(tmp_path: Path) -> None:
    rows = table(
        ["time", "lat", "lon", "alt"], ISO, LAT, LON, numbers(NORTH_EAST.altitude_ft, 0)
    ).splitlines()
    text = "\n".join([rows[0], "#", "#", "#", "#,deg,deg,ft", *rows[1:]])
    assert read_one(tmp_path, "a.csv", text).channels["altitude_ft"].size == 700


def test_cells_in_single_quotation_marks(tmp_path: Path) -> None:
    quoted = ([f"'{cell}'" for cell in column] for column in (ISO, LAT, LON))
    same_times(read_one(tmp_path, "a.csv", table(["'time'", "'lat'", "'lon'"], *quoted)), NORTH_EAST.start)


def test_a_place_under_the_same_header_is_not_the_aircraft(tmp_path: Path) -> None:
    text = table(["time", "lat", "lon", "lat", "lon"], ISO, ["47.0"] * 700, ["11.0"] * 700, LAT, LON)
    same_places(read_one(tmp_path, "a.csv", text), NORTH_EAST)


def test_another_aircraft_in_columns_of_its_own_is_said(tmp_path: Path) -> None:
    other = invented_flight(700, lat=48.6, lon=12.5)
    headers = ["time", "lat1", "lon1", "lat2", "lon2"]
    track = read_one(tmp_path, "a.csv", table(headers, ISO, LAT, LON, *positions(other)))
    same_places(track, NORTH_EAST)
    assert "flight-left-out" in codes(track)
    same = read_one(tmp_path, "b.csv", table(headers, ISO, LAT, LON, LAT, LON))
    assert "flight-left-out" not in codes(same)


@pytest.mark.parametrize(("name", "first"), [("latlng", LAT), ("coordinates", LON), ("lonlat", LON)])
def test_positions_in_lists(tmp_path: Path, name: str, first: list[str]) -> None:
    second = LON if first is LAT else LAT
    points = [{"time": t, name: [float(a), float(b)]} for t, a, b in zip(ISO, first, second, strict=True)]
    same_places(read_one(tmp_path, "a.json", json.dumps(points)), NORTH_EAST)


def test_units_of_time_in_plain_letters(tmp_path: Path) -> None:
    counts = [f"{(m.timestamp() - 978_307_200) * 1e6:.0f}" for m in NORTH_EAST.moments()]
    text = table(["time", "lat", "lon"], counts, LAT, LON)
    same_times(read_one(tmp_path, "a.csv", text, units={"time": "2001us"}), NORTH_EAST.start)


@pytest.mark.parametrize("form", ["{:%Y-%m-%d %H:%M:%S}:000", "{:%H:%M:%S}:000"])
def test_milliseconds_behind_a_colon(tmp_path: Path, form: str) -> None:
    written = [form.format(m) for m in NORTH_EAST.moments()]
    same_times(read_one(tmp_path, "a.csv", table(["time", "lat", "lon"], written, LAT, LON)))


@pytest.mark.parametrize("form", ["T{0}{1}", "{0}{1}"])
def test_clocks_that_count_down_and_up(tmp_path: Path, form: str) -> None:
    seconds = [int(t) - 100 for t in NORTH_EAST.time_s]
    written = [
        form.format("-" if s < 0 else "+", f"00:{abs(s) // 60:02d}:{abs(s) % 60:02d}") for s in seconds
    ]
    same_times(read_one(tmp_path, "a.csv", table(["elapsed", "lat", "lon"], written, LAT, LON)))


def test_the_time_of_the_export_is_not_the_time_of_the_row(tmp_path: Path) -> None:
    text = table(["time", "gps time", "lat", "lon"], [ISO[0]] * 700, ISO, LAT, LON)
    same_times(read_one(tmp_path, "a.csv", text), NORTH_EAST.start)


def test_altitudes_with_a_point_in_their_thousands(tmp_path: Path) -> None:
    thousands = numbers(np.round(NORTH_EAST.altitude_ft) / 1000.0, 3)
    track = read_one(tmp_path, "a.csv", table(["time", "lat", "lon", "alt_ft"], ISO, LAT, LON, thousands))
    np.testing.assert_allclose(track.channels["altitude_ft"], NORTH_EAST.altitude_ft, atol=0.51)
    assert "unit-assumed" in codes(track)
    low = 12.345 + 10.0 * np.sin(NORTH_EAST.time_s / 7.0)
    track = read_one(
        tmp_path, "b.csv", table(["time", "lat", "lon", "alt_ft"], ISO, LAT, LON, numbers(low, 3))
    )
    np.testing.assert_allclose(track.channels["altitude_ft"], low, atol=0.001)


def test_units_that_change_under_a_header_in_the_middle(tmp_path: Path) -> None:
    feet = numbers(NORTH_EAST.altitude_ft[:300], 0)
    metres = numbers(NORTH_EAST.altitude_ft[300:] * 0.3048, 2)
    head = "time,lat,lon,alt\n,deg,deg,{}\n"
    first = table(["time"], [",".join(row) for row in zip(ISO[:300], LAT, LON, feet, strict=False)])
    second = table(
        ["time"], [",".join(row) for row in zip(ISO[300:], LAT[300:], LON[300:], metres, strict=True)]
    )
    text = head.format("ft") + first.split("\n", 1)[1] + head.format("m") + second.split("\n", 1)[1]
    track = read_one(tmp_path, "a.csv", text)
    np.testing.assert_allclose(track.channels["altitude_ft"], NORTH_EAST.altitude_ft, atol=1.0)


def test_each_sheet_of_a_workbook_may_hold_a_flight(tmp_path: Path) -> None:
    import xlsxwriter

    path = tmp_path / "a.xlsx"
    book = xlsxwriter.Workbook(path)
    for name, later_s in (("Monday", 0.0), ("notes", None), ("Tuesday", 86_400.0), ("a copy", 0.0)):
        sheet = book.add_worksheet(name)
        if later_s is None:
            sheet.write(0, 0, "nothing flown")
            continue
        sheet.write_row(0, 0, ["unix", "lat", "lon"])
        for row in range(60):
            when = NORTH_EAST.start.timestamp() + later_s + row
            sheet.write_row(row + 1, 0, [when, float(NORTH_EAST.lat[row]), float(NORTH_EAST.lon[row])])
    book.close()
    first, second = read_log(path)
    assert "Monday" in first.name and "Tuesday" in second.name


@pytest.mark.parametrize(
    "inside", [lambda stamp: {"stamp": stamp}, lambda stamp: {"header": {"stamp": stamp}}]
)
def test_times_of_seconds_and_nanoseconds(tmp_path: Path, inside: Callable[..., dict[str, object]]) -> None:
    points = [
        {**inside({"sec": int(m.timestamp()), "nanosec": 0}), "lat": float(lat), "lon": float(lon)}
        for m, lat, lon in zip(NORTH_EAST.moments(), LAT, LON, strict=True)
    ]
    same_times(read_one(tmp_path, "a.json", json.dumps(points)), NORTH_EAST.start)


def test_a_header_that_says_gps_position(tmp_path: Path) -> None:
    written = [
        f"N{int(a)}°{a % 1 * 60:.5f}' E{int(b):03d}°{b % 1 * 60:.5f}'"
        for a, b in zip(NORTH_EAST.lat, NORTH_EAST.lon, strict=True)
    ]
    same_places(read_one(tmp_path, "a.csv", table(["time", "GPS position"], ISO, written)), NORTH_EAST)


@pytest.mark.parametrize("sign", ["Â°", "\ufffd", "˚", "&deg;", "*", " deg "])
def test_signs_of_a_degree_from_a_wrong_character_set(tmp_path: Path, sign: str) -> None:
    lat, lon = (
        [f"{int(v)}{sign}{v % 1 * 60:.6f}'" for v in values] for values in (NORTH_EAST.lat, NORTH_EAST.lon)
    )
    same_places(read_one(tmp_path, "a.csv", table(["time", "lat", "lon"], ISO, lat, lon)), NORTH_EAST)


def test_both_coordinates_in_one_cell_with_decimal_commas(tmp_path: Path) -> None:
    written = [f'"{lat}; {lon}"'.replace(".", ",") for lat, lon in zip(LAT, LON, strict=True)]
    same_places(read_one(tmp_path, "a.csv", table(["time", "position"], ISO, written)), NORTH_EAST)


@pytest.mark.parametrize("per_degree", [10, 100])
def test_a_heading_in_parts_of_a_degree_is_not_used(tmp_path: Path, per_degree: int) -> None:
    """The few values below 360 would be headings that nobody flew."""
    heading = numbers(NORTH_EAST.heading_deg * per_degree, 0)
    track = read_one(
        tmp_path, "a.csv", table(["time", "lat", "lon", "heading_true_deg"], ISO, LAT, LON, heading)
    )
    assert "heading_true_deg" not in track.channels and "value-impossible" in codes(track)
    filled = ["9999" if row % 3 else cell for row, cell in enumerate(numbers(NORTH_EAST.heading_deg, 1))]
    track = read_one(
        tmp_path, "b.csv", table(["time", "lat", "lon", "heading_true_deg"], ISO, LAT, LON, filled)
    )
    assert np.isfinite(track.channels["heading_true_deg"]).sum() == 234


@pytest.mark.parametrize(
    "cell",
    [
        "2026-W60-1",
        "0000-W01-1",
        "( " * 50_000,
        "1 " * 50_000,
        "12:00:00 " * 10_000,
        "9" * 400,
        "1e308",
        "-0:0:0",
        "T+",
    ],
)
def test_cells_that_are_no_times_or_dates(tmp_path: Path, cell: str) -> None:
    for header in (["date", "time"], ["time", "date"], ["time", "note"]):
        text = table([*header, "lat", "lon"], [cell] * 5, ISO[:5], LAT[:5], LON[:5])
        try:
            assert read_one(tmp_path, "a.csv", text).samples == 5
        except LogError as error:
            assert error.mend


def test_a_time_in_two_parts_that_are_too_large(tmp_path: Path) -> None:
    point = '{"stamp": {"sec": 1' + "0" * 400 + ', "nanosec": 0}, "lat": 48.1, "lon": 11.5}'
    with pytest.raises(LogError, match="time"):
        read_one(tmp_path, "a.json", f"[{point}, {point}]")


@pytest.mark.parametrize(
    "line",
    [
        "Date: 14 March 2026",
        "# date,2026-03-14",
        "Flight date;14.03.2026",
        "Datum\t14. März 2026",
        '"Date","2026-03-14"',
    ],
)
def test_the_day_above_the_header(tmp_path: Path, line: str) -> None:
    times = moments(datetime(2026, 3, 14, 23, 55, tzinfo=UTC))
    text = table(["time", "lat", "lon"], [f"{m:%H:%M:%S}" for m in times], LAT, LON)
    same_times(read_one(tmp_path, "a.csv", f"an invented recorder\n{line}\n{text}"), times[0])


@pytest.mark.parametrize(
    "line", ["Export date: 2026-04-01", "Date: 03/04/2026", "Date: unknown yet", "Update: 2026-03-14"]
)
def test_what_is_no_day_of_the_flight_above_the_header(tmp_path: Path, line: str) -> None:
    text = table(["time", "lat", "lon"], [f"{m:%H:%M:%S}" for m in NORTH_EAST.moments()], LAT, LON)
    track = read_one(tmp_path, "a.csv", f"{line}\n{text}")
    same_times(track)
    assert track.start_utc is None
