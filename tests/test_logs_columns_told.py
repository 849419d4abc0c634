"""What became of every column of a table is told; times and places that are spread over several are put together."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from analyser.logs.track import Track
from tests.logs_invented import START, invented_flight
from tests.logs_reading import codes, numbers, positions, read_one, table

FLIGHT = invented_flight(300)
ROWS = 300
MOMENTS, (LAT, LON) = FLIGHT.moments(), positions(FLIGHT)
CLOCK, DAY = [f"{one:%H:%M:%S}" for one in MOMENTS], [f"{one:%Y-%m-%d}" for one in MOMENTS]
HOUR, MINUTE, SECOND = ([getattr(one, part) for one in MOMENTS] for part in ("hour", "minute", "second"))
#: 2026-03-14 is a Saturday, day 6 of week 2409 of GPS time, which is 18 s ahead of UTC (IS-GPS-200).
TOW_S = 6 * 86_400.0 + 43_200.0 + 18.0 + FLIGHT.time_s


def _read(folder: Path, **columns: Sequence[object]) -> Track:
    """Read a table whose headers are the keys, with blanks for their low lines."""
    headers = [name.replace("_", " ") for name in columns]
    return read_one(folder, "a.csv", table(headers, *columns.values()))


def _told(track: Track) -> dict[str, tuple[str, str, str]]:
    return {one.column: (one.channel, one.unit, one.standing) for one in track.sources}


def _same(*cells: object) -> list[list[object]]:
    return [[cell] * ROWS for cell in cells]


def _time(unit: str, standing: str = "recognised") -> tuple[str, str, str]:
    return "time", unit, standing


IGNORED = ("", "", "ignored")


def test_a_day_and_a_clock_in_six_columns_and_their_milliseconds(tmp_path: Path) -> None:
    year, month, day, thousandth = _same(2026, 3, 14, 250)
    track = _read(tmp_path, year=year, month=month, day=day, hour=HOUR, minute=MINUTE, second=SECOND,
                  millisecond=thousandth, lat=LAT, lon=LON)  # fmt: skip
    assert track.start_utc == START + timedelta(milliseconds=250)
    units = {"millisecond": "ms"} | {
        name: name for name in ("year", "month", "day", "hour", "minute", "second")
    }
    assert {name: _told(track)[name] for name in units} == {name: _time(unit) for name, unit in units.items()}
    assert "time-zone-assumed" in codes(track)


def test_a_year_and_the_day_in_it(tmp_path: Path) -> None:
    """31 + 28 + 14: the 14th of March is day 73."""
    year, day = _same(2026, 73)
    track = _read(
        tmp_path, year=year, day_of_year=day, hour=HOUR, minute=MINUTE, second=SECOND, lat=LAT, lon=LON
    )
    assert track.start_utc == START
    assert _told(track)["day of year"] == _time("day_of_year")


def test_hour_and_minute_beside_a_time_that_holds_the_seconds(tmp_path: Path) -> None:
    track = _read(tmp_path, hour=HOUR, minute=MINUTE, time=SECOND, lat=LAT, lon=LON)
    np.testing.assert_allclose(track.time_s, FLIGHT.time_s)
    assert _told(track)["time"] == _time("second")


def test_an_hour_alone_is_no_clock(tmp_path: Path) -> None:
    track = _read(tmp_path, hour=HOUR, time=FLIGHT.iso(), lat=LAT, lon=LON)
    assert track.start_utc == START and _told(track)["time"] == _time("ISO 8601")


@pytest.mark.parametrize("scale", [1.0, 1000.0])
def test_week_and_seconds_of_gps_time(tmp_path: Path, scale: float) -> None:
    (week,) = _same(2409)
    track = _read(tmp_path, gps_week=week, tow=numbers(TOW_S * scale, 1), lat=LAT, lon=LON)
    assert track.start_utc == START
    assert (_told(track)["gps week"], _told(track)["tow"]) == (_time("gps week"), _time("gps seconds"))
    assert "time-zone-assumed" not in codes(track)


def test_seconds_of_a_week_over_its_end(tmp_path: Path) -> None:
    """Where the week is counted on the seconds begin again; where it is not they do all the same."""
    seconds = (604_700.0 + FLIGHT.time_s) % 604_800.0
    after = np.where(np.arange(ROWS) >= 100, 2410, 2409)
    for weeks in (after.tolist(), [2409] * ROWS):
        track = _read(tmp_path, gps_week=weeks, tow=numbers(seconds, 1), lat=LAT, lon=LON)
        np.testing.assert_allclose(track.time_s, FLIGHT.time_s)
        assert track.samples == ROWS


def test_seconds_of_a_week_alone_are_seconds(tmp_path: Path) -> None:
    track = _read(tmp_path, tow=numbers(TOW_S, 1), lat=LAT, lon=LON)
    assert track.start_utc is None and _told(track)["tow"] == _time("s", "assumed")


def test_date_time_and_milliseconds(tmp_path: Path) -> None:
    track = _read(tmp_path, date=DAY, time=CLOCK, ms=[250] * ROWS, lat=LAT, lon=LON)
    told = _told(track)
    assert track.start_utc == START + timedelta(milliseconds=250)
    assert (told["date"], told["time"], told["ms"]) == (
        ("date", "", "recognised"), _time("time of day"), _time("ms")
    )  # fmt: skip
    tenths = _read(tmp_path, date=DAY, time=CLOCK, ms=[1500] * ROWS, lat=LAT, lon=LON)
    assert tenths.start_utc == START and _told(tenths)["ms"] == IGNORED


@pytest.mark.parametrize(("cell", "ahead_h"), [("+01:00", 1.0), ("-0330", -3.5), ("2", 2.0), ("x", None)])
def test_an_offset_from_utc(tmp_path: Path, cell: str, ahead_h: float | None) -> None:
    track = _read(tmp_path, date=DAY, time=CLOCK, utc_offset=[cell] * ROWS, lat=LAT, lon=LON)
    assert track.start_utc == START - timedelta(hours=ahead_h or 0.0)
    assert _told(track)["utc offset"] == (IGNORED if ahead_h is None else _time("offset from UTC"))
    assert ("time-zone-assumed" in codes(track)) == (ahead_h is None)


def test_times_that_say_their_zone_need_no_offset(tmp_path: Path) -> None:
    track = _read(tmp_path, time=FLIGHT.iso(), utc_offset=["+01:00"] * ROWS, lat=LAT, lon=LON)
    assert track.start_utc == START and _told(track)["utc offset"] == IGNORED


def test_an_offset_that_is_missing_in_some_rows_is_that_of_the_others(tmp_path: Path) -> None:
    offsets = ["+01:00" if row % 3 else "" for row in range(ROWS)]
    track = _read(tmp_path, date=DAY, time=CLOCK, utc_offset=offsets, lat=LAT, lon=LON)
    assert track.start_utc == START - timedelta(hours=1) and track.samples == ROWS


def test_a_date_that_nobody_can_read(tmp_path: Path) -> None:
    track = _read(tmp_path, date=["the day after"] * ROWS, time=CLOCK, lat=LAT, lon=LON)
    assert track.start_utc is None and _told(track)["date"] == IGNORED
    (said,) = [one.message for one in track.notices if one.code == "date-ambiguous"]
    assert "such as 'the day after', cannot be read" in said


def test_a_date_beside_moments_is_not_used(tmp_path: Path) -> None:
    track = _read(tmp_path, date=["2020-01-01"] * ROWS, time=FLIGHT.iso(), lat=LAT, lon=LON)
    assert track.start_utc == START and _told(track)["date"] == IGNORED
    (why,) = [one.why for one in track.sources if one.column == "date"]
    assert why == "the time column carries the date"


@pytest.mark.parametrize("steps_at", [None, 95, 100, 105])
def test_over_midnight_the_clock_tells_the_day(tmp_path: Path, steps_at: int | None) -> None:
    """A date that is written a few rows early or late, or that stays, sends nobody back or on by a day."""
    late = invented_flight(ROWS, start=datetime.fromisoformat("2026-03-14T23:58:20+00:00"))
    days = [f"2026-03-{14 + (steps_at is not None and row >= steps_at)}" for row in range(ROWS)]
    track = _read(tmp_path, date=days, time=[f"{one:%H:%M:%S}" for one in late.moments()], lat=LAT, lon=LON)
    assert track.start_utc == late.start and track.samples == ROWS
    np.testing.assert_allclose(track.time_s, FLIGHT.time_s)


@pytest.mark.parametrize(
    ("date_header", "time_header", "start"),
    # An hour ahead of UTC 00:30 of the 15th is 23:30 UTC of the 14th.
    [("date_local", "time_utc", "23:30"), ("date_utc", "time_local", "00:30")],
)
def test_a_date_of_one_zone_beside_a_clock_of_another(
    tmp_path: Path, date_header: str, time_header: str, start: str
) -> None:
    flight = invented_flight(ROWS, start=datetime.fromisoformat("2026-03-14T23:30:00+00:00"))
    local, utc = timedelta(hours=1), timedelta()
    day = [f"{one + (local if 'local' in date_header else utc):%Y-%m-%d}" for one in flight.moments()]
    clock = [f"{one + (local if 'local' in time_header else utc):%H:%M:%S}" for one in flight.moments()]
    assert clock[0].startswith(start)
    columns = {date_header: day, time_header: clock, "utc_offset": ["+01:00"] * ROWS}
    track = _read(tmp_path, **columns, lat=LAT, lon=LON)
    assert track.start_utc == flight.start and track.samples == ROWS
    del columns["utc_offset"]
    assert "date-ambiguous" in codes(_read(tmp_path, **columns, lat=LAT, lon=LON))


@pytest.mark.parametrize(
    ("hours", "afternoon"),
    [((12, 1), True), ((12, 13), False), ((11, 0), False), ((12, 1, 12, 1), False)],
)
def test_a_clock_of_twelve_hours_goes_on_into_the_afternoon_once(
    tmp_path: Path, hours: tuple[int, ...], afternoon: bool
) -> None:
    """After 12:59 comes 1:00: what falls back by half a day, and shows neither 0 nor 13."""
    clock = [
        f"{hour}:{59 if place % 2 == 0 else 0:02d}:{second % 60:02d}"
        for place, hour in enumerate(hours)
        for second in range(60 if place % 2 else 0, 120 if place % 2 else 60)
    ]
    flight = invented_flight(len(clock))
    lat, lon = positions(flight)
    track = _read(tmp_path, time=clock, lat=lat, lon=lon)
    assert ("time-half-assumed" in codes(track)) == afternoon
    if afternoon:
        np.testing.assert_allclose(track.time_s, flight.time_s)


def test_of_two_columns_of_times_the_finer_one_counts_where_the_other_repeats(tmp_path: Path) -> None:
    fast = invented_flight(ROWS, interval_s=0.25)
    lat, lon = positions(fast)
    whole = [f"{one:%Y-%m-%dT%H:%M:%SZ}" for one in fast.moments()]
    headers = ["time utc", "elapsed (s)", "lat", "lon"]
    text = table(headers, whole, numbers(fast.time_s + 7.0, 2), lat, lon)
    finer = read_one(tmp_path, "a.csv", text)
    assert _told(finer)["elapsed (s)"] == _time("s") and "time-refined" in codes(finer)
    np.testing.assert_allclose(finer.time_s, fast.time_s, atol=1e-6)
    assert finer.start_utc == fast.start
    # Beside moments that differ, or where it repeats itself, it is not used.
    for times, beside in ((FLIGHT.iso(), FLIGHT.time_s + 7.0), (whole, np.floor(fast.time_s) + 7.0)):
        other = read_one(tmp_path, "a.csv", table(headers, times, numbers(beside, 2), lat, lon))
        assert _told(other)["elapsed (s)"] == IGNORED and "time-refined" not in codes(other)


def test_the_seconds_of_a_clock_that_shows_minutes_stand_in_another_column(tmp_path: Path) -> None:
    minutes = [f"{one:%Y-%m-%d %H:%M}" for one in MOMENTS]
    track = _read(tmp_path, time=minutes, seconds=SECOND, lat=LAT, lon=LON)
    np.testing.assert_allclose(track.time_s, FLIGHT.time_s)
    assert track.start_utc == START and track.samples == ROWS


# Other columns


@pytest.mark.parametrize(
    ("cells", "told"),
    [
        (["A"] * ROWS, ("aircraft", "", "recognised")),
        (list(range(ROWS)), IGNORED),
    ],
)
def test_a_column_of_aircraft_is_none_where_it_changes_from_row_to_row(
    tmp_path: Path, cells: list[object], told: tuple[str, str, str]
) -> None:
    track = _read(tmp_path, time=FLIGHT.iso(), id=cells, lat=LAT, lon=LON)
    assert _told(track)["id"] == told and track.samples == ROWS


def test_columns_without_a_number_are_ignored(tmp_path: Path) -> None:
    empty, words = _same("", "x")
    track = _read(tmp_path, time=FLIGHT.iso(), lat=LAT, lon=LON, alt=empty, gs=words)
    whys = {one.column: one.why for one in track.sources if one.standing == "ignored"}
    assert whys == {"alt": "the column is empty", "gs": "no cell holds a number"}


@pytest.mark.parametrize(("filled", "used"), [(1, "alt_ft"), (ROWS, "altitude_ft")])
def test_of_two_columns_of_one_meaning_the_first_is_used_unless_it_is_nearly_empty(
    tmp_path: Path, filled: int, used: str
) -> None:
    first = [f"{level:.0f}" if row < filled else "" for row, level in enumerate(FLIGHT.altitude_ft)]
    text = table(["time", "lat", "lon", "altitude_ft", "alt_ft"], FLIGHT.iso(), LAT, LON, first,
                 numbers(FLIGHT.altitude_ft + 30.0, 0))  # fmt: skip
    track = read_one(tmp_path, "a.csv", text)
    other = "alt_ft" if used == "altitude_ft" else "altitude_ft"
    assert _told(track)[used] == ("altitude_ft", "ft", "recognised") and _told(track)[other] == IGNORED
    assert track.channels["altitude_ft"][0] == pytest.approx(
        FLIGHT.altitude_ft[0] + (30.0 if used == "alt_ft" else 0.0), abs=0.6
    )


def test_degrees_and_minutes_in_columns_of_their_own(tmp_path: Path) -> None:
    minutes = [numbers((values % 1.0) * 60.0, 5) for values in (FLIGHT.lat, FLIGHT.lon)]
    degrees = [np.floor(values).astype(int).tolist() for values in (FLIGHT.lat, FLIGHT.lon)]
    track = _read(tmp_path, time=FLIGHT.iso(), lat=degrees[0], lat_min=minutes[0], lon=degrees[1],
                  lon_min=minutes[1])  # fmt: skip
    np.testing.assert_allclose(track.lat_deg, FLIGHT.lat, atol=1e-6)
    told = _told(track)
    assert told["lat"] == ("position", "deg", "recognised")
    assert told["lat min"] == told["lon min"] == ("position", "minutes", "recognised")


@pytest.mark.parametrize(
    ("north", "east", "signs"), [("N", "E", (1, 1)), ("S", "W", (-1, -1)), ("x", "W", (1, -1))]
)
def test_the_sides_of_positions_in_columns_of_their_own(
    tmp_path: Path, north: str, east: str, signs: tuple[int, int]
) -> None:
    text = table(["time", "lat", "n/s", "lon", "e/w"], FLIGHT.iso(), LAT, [north] * ROWS, LON, [east] * ROWS)
    track = read_one(tmp_path, "a.csv", text)
    np.testing.assert_allclose(track.lat_deg, signs[0] * FLIGHT.lat, atol=1e-6)
    np.testing.assert_allclose(track.lon_deg, signs[1] * FLIGHT.lon, atol=1e-6)
    assert _told(track)["n/s"] == (IGNORED if north == "x" else ("position", "", "recognised"))
    assert _told(track)["e/w"] == ("position", "", "recognised")


def test_cells_that_carry_their_unit(tmp_path: Path) -> None:
    speeds = [f"{one:.1f} kt" for one in FLIGHT.ground_speed_kt]
    track = _read(tmp_path, time=FLIGHT.iso(), lat=LAT, lon=LON, gs=speeds)
    assert _told(track)["gs"] == ("ground_speed_kt", "kt", "recognised")
    np.testing.assert_allclose(track.channels["ground_speed_kt"], FLIGHT.ground_speed_kt, atol=0.06)
