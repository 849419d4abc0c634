"""Times that count from a day which the header names, in ticks of any size, or that are digits run together."""

from __future__ import annotations

import json
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from analyser.errors import LogError
from analyser.logs.time_numbers import number_clock
from analyser.logs.track import Track
from tests.logs_invented import Invented, invented_flight
from tests.logs_reading import codes, numbers, positions, read_one, table

FLIGHT = invented_flight(500)
LAT, LON = positions(FLIGHT)
#: Differences between UTC and GPS time since 2017, seconds (IERS Bulletin C).
GPS_AHEAD_S = 18.0


def _read(folder: Path, header: str, cells: list[str], flight: Invented = FLIGHT, **more: object) -> Track:
    lat, lon = positions(flight)
    return read_one(folder, "a.csv", table([header, "lat", "lon"], cells, lat, lon), **more)


def _is_timed(track: Track, flight: Invented = FLIGHT, *, dated: bool, within_s: float = 0.05) -> None:
    np.testing.assert_allclose(track.time_s, flight.time_s, atol=within_s)
    assert (track.start_utc is not None) == dated
    if track.start_utc is not None:
        assert abs((track.start_utc - flight.start).total_seconds()) <= within_s


def _since(begin: datetime, unit_s: float = 1.0) -> list[str]:
    return [f"{(moment - begin).total_seconds() / unit_s:.6f}" for moment in FLIGHT.moments()]


@pytest.mark.parametrize(
    ("header", "begin", "unit_s"),
    [
        ("seconds since 1970-01-01", datetime(1970, 1, 1, tzinfo=UTC), 1.0),
        ("time (seconds since 1970-01-01 00:00:00)", datetime(1970, 1, 1, tzinfo=UTC), 1.0),
        ("seconds since 2001-01-01 00:00 UTC", datetime(2001, 1, 1, tzinfo=UTC), 1.0),
        ("Time [s since 2026-03-14]", datetime(2026, 3, 14, tzinfo=UTC), 1.0),
        ("ms since 1970-01-01T00:00:00Z", datetime(1970, 1, 1, tzinfo=UTC), 1e-3),
        ("hours since 1900-01-01 00:00:0.0", datetime(1900, 1, 1, tzinfo=UTC), 3600.0),
        ("days since 2001-1-1 0:0:0", datetime(2001, 1, 1, tzinfo=UTC), 86_400.0),
        ("minutes since 2026-03-14 10:00:00 +02:00", datetime(2026, 3, 14, 8, tzinfo=UTC), 60.0),
        ("seconds since 1 Jan 1970", datetime(1970, 1, 1, tzinfo=UTC), 1.0),
        ("elapsed seconds since 2026-03-14T12:00:00Z", datetime(2026, 3, 14, 12, tzinfo=UTC), 1.0),
        ("seconds since epoch", datetime(1970, 1, 1, tzinfo=UTC), 1.0),
        (
            "GPS seconds since 1980-01-06",
            datetime(1980, 1, 6, tzinfo=UTC) - timedelta(seconds=GPS_AHEAD_S),
            1.0,
        ),
        ("seconds since 1980-01-06 00:00 UTC", datetime(1980, 1, 6, tzinfo=UTC), 1.0),
    ],
)
def test_a_header_names_the_day_that_times_count_from(
    tmp_path: Path, header: str, begin: datetime, unit_s: float
) -> None:
    """CF conventions, 4.4: "<unit> since <date> <clock> <zone>", in UTC where no zone is given."""
    track = _read(tmp_path, header, _since(begin, unit_s))
    _is_timed(track, dated=True)
    assert not codes(track) & {"time-epoch-assumed", "time-zone-assumed"}


@pytest.mark.parametrize(
    ("words", "count", "year", "said"),
    [
        # Seconds since 1970 until they can be of no flight yet; GPS has counted ten years less.
        ((), 1.3e9, 2011, True),
        (("unix",), 1.3e9, 2011, False),
        (("posix",), 1.3e9, 2011, False),
        (("gps",), 1.3e9, 2021, True),
        ((), 8.2e8, 2005, True),
        (("unix",), 8.2e8, 1995, False),
        ((), 1.78e9, 2026, False),
        (("gps",), 1.78e9, 2026, False),
    ],
)
def test_a_header_that_names_a_clock_tells_which_of_two_days_a_count_begins_at(
    words: tuple[str, ...], count: float, year: int, said: bool
) -> None:
    clock = number_clock(count + np.arange(100.0), None, words, lambda time_s: 100.0)
    assert datetime.fromtimestamp(float(clock.time_s[0]), UTC).year == year
    assert [notice.code for notice in clock.notices] == ["time-epoch-assumed"] * said


def test_a_units_row_names_the_day_that_times_count_from(tmp_path: Path) -> None:
    """And calls degrees and feet as CF's tables do."""
    cells = _since(datetime(2001, 1, 1, tzinfo=UTC))
    rows = "\n".join(map(",".join, zip(cells, LAT, LON, numbers(FLIGHT.altitude_ft), strict=True)))
    head = "time,latitude,longitude,altitude\nseconds since 2001-01-01,degrees_north,degrees_east,ft\n"
    track = read_one(tmp_path, "a.csv", head + rows)
    _is_timed(track, dated=True)
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft, atol=0.01)


@pytest.mark.parametrize("header", ["seconds since takeoff", "s since start", "sec. since power on"])
def test_seconds_since_a_start_are_of_no_day(tmp_path: Path, header: str) -> None:
    _is_timed(_read(tmp_path, header, numbers(FLIGHT.time_s + 1e9, 1)), dated=False)


def test_a_day_that_may_be_the_month_is_not_guessed(tmp_path: Path) -> None:
    with pytest.raises(LogError, match="no column gives the time"):
        _read(tmp_path, "seconds since 02/03/2001", numbers(FLIGHT.time_s, 1))


@pytest.mark.parametrize("tas_kt", [65.0, 110.0, 250.0, 400.0])
@pytest.mark.parametrize("tick_s", [1.0, 0.1, 0.01, 0.001, 1e-4, 1e-5, 1e-6])
def test_ticks_of_any_size_are_told_by_speed_and_turns(tmp_path: Path, tas_kt: float, tick_s: float) -> None:
    """A flight ten times as slow would turn with a hundredth of the bank: no aircraft circles so."""
    flight = invented_flight(600, tas_kt=tas_kt)
    track = _read(tmp_path, "ticks", [f"{time_s / tick_s:.0f}" for time_s in flight.time_s], flight)
    _is_timed(track, flight, dated=False)
    assert ("time-unit-assumed" in codes(track)) == (tick_s < 1.0)


def test_a_straight_flight_counts_seconds(tmp_path: Path) -> None:
    """Nothing in it speaks against them."""
    flight = invented_flight(60, tas_kt=40.0, wind_east_kt=0.0, wind_north_kt=0.0)
    straight = [f"{48.0 + 2e-4 * row:.6f}" for row in range(60)]
    text = table(["time", "lat", "lon"], numbers(flight.time_s, 0), straight, ["11.0"] * 60)
    assert read_one(tmp_path, "a.csv", text).duration_s == 59.0


def test_wide_circles_flown_slowly_count_seconds(tmp_path: Path) -> None:
    """At 65 kt round 3 NM, with 1.2° of bank: ten times as fast it would be 650 kt with 64°, and no faster than any."""
    at_s = np.arange(0.0, 1500.0, 5.0)
    turned = 33.4 * at_s / 5556.0
    lat, lon = 48.0 + np.sin(turned) * 5556.0 / 111_195.0, 11.0 + np.cos(turned) * 5556.0 / 74_404.0
    track = read_one(
        tmp_path, "a.csv", table(["time", "lat", "lon"], numbers(at_s, 0), numbers(lat, 7), numbers(lon, 7))
    )
    assert track.time_s[-1] == at_s[-1] and "time-unit-assumed" not in codes(track)


@pytest.mark.parametrize(
    ("header", "tick_s"),
    [
        ("time (0.1 s)", 0.1),
        ("time [1/10 s]", 0.1),
        ("time_ds", 0.1),
        ("time (10 ms)", 0.01),
        ("time (centiseconds)", 0.01),
        ("t [0.05 s]", 0.05),
        ("time (1/64 s)", 1 / 64),
    ],
)
def test_a_header_gives_the_size_of_a_tick(tmp_path: Path, header: str, tick_s: float) -> None:
    track = _read(tmp_path, header, [f"{time_s / tick_s:.0f}" for time_s in FLIGHT.time_s])
    _is_timed(track, dated=False)
    assert "time-unit-assumed" not in codes(track)


def test_a_person_gives_the_size_of_a_tick(tmp_path: Path) -> None:
    cells = [f"{time_s / 0.05:.0f}" for time_s in FLIGHT.time_s]
    _is_timed(_read(tmp_path, "time", cells, units={"time": "0.05s"}), dated=False)


@pytest.mark.parametrize("hour", [0, 3, 8, 12, 23])
@pytest.mark.parametrize("padded", [True, False])
@pytest.mark.parametrize("header", ["time", "utc"])
def test_a_clock_run_together_beside_a_date_within_one_minute(
    tmp_path: Path, hour: int, padded: bool, header: str
) -> None:
    """Before ten in the morning such digits may be a count of the day's seconds, too: 083005."""
    flight = invented_flight(250, interval_s=0.2, start=datetime(2026, 3, 14, hour, 41, 5, tzinfo=UTC))
    lat, lon = positions(flight)
    cells = [f"{moment:%H%M%S}.{moment.microsecond // 100_000}" for moment in flight.moments()]
    cells = cells if padded else [cell.lstrip("0") for cell in cells]
    text = table(["date", header, "lat", "lon"], ["140326"] * 250, cells, lat, lon)
    track = read_one(tmp_path, "a.csv", text)
    if hour or padded:
        _is_timed(track, flight, dated=True)
    else:
        # 4105.0 may well be a count of seconds.
        assert track.start_utc is None


@pytest.mark.parametrize("note", ["latitude, longitude", "lat,lon,alt", "time,lat,lon", "event,lat,lon"])
@pytest.mark.parametrize("own_line", [True, False])
def test_words_in_a_note_begin_no_table(tmp_path: Path, note: str, own_line: bool) -> None:
    rows = list(map(",".join, zip(FLIGHT.iso(), LAT, LON, strict=True)))
    head = "time,lat,lon"
    if not own_line:
        rows, head = [f",{row}" for row in rows], f"note,{head}"
        rows[200] = f"{note}{rows[200]}"
    else:
        rows.insert(200, f"# {note}")
    track = read_one(tmp_path, "a.csv", "\n".join([head, *rows]) + "\n")
    assert track.samples >= 499 and track.duration_s == FLIGHT.time_s[-1]
    assert "flight-left-out" not in codes(track)


def test_json_values_beside_their_units_and_places_that_are_null(tmp_path: Path) -> None:
    columns = zip(FLIGHT.iso(), FLIGHT.lat, FLIGHT.lon, FLIGHT.altitude_ft, strict=True)
    points = [
        {"time": when, "lat": lat, "lon": lon, "altitude": {"value": height, "unit": "ft"}}
        for when, lat, lon, height in columns
    ]
    track = read_one(tmp_path, "a.json", json.dumps(points))
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft)
    places: list[list[float] | None] = [[lon, lat] for lat, lon in zip(FLIGHT.lat, FLIGHT.lon, strict=True)]
    places[100] = None
    line = {"type": "LineString", "coordinates": places}
    feature = {"type": "Feature", "properties": {"coordTimes": FLIGHT.iso()}, "geometry": line}
    track = read_one(tmp_path, "a.geojson", json.dumps(feature))
    np.testing.assert_allclose(track.time_s, np.delete(FLIGHT.time_s, 100))
    np.testing.assert_allclose(track.lat_deg, np.delete(FLIGHT.lat, 100))


def test_numbers_with_commas_beside_positions_in_words_with_points(tmp_path: Path) -> None:
    """A spreadsheet writes its numbers as the country does, and leaves text as it is."""
    seconds = [f"{time_s:.3f}".replace(".", ",") for time_s in FLIGHT.time_s]
    lat, lon = (
        [f"{value:.6f}{side}" for value in values] for values, side in ((FLIGHT.lat, "N"), (FLIGHT.lon, "E"))
    )
    track = read_one(tmp_path, "a.csv", table(["time", "lat", "lon"], seconds, lat, lon, separator=";"))
    _is_timed(track, dated=False)


@pytest.mark.parametrize(("degrees", "celsius"), [(59.0, 15.0), (-12.0, -12.0), (280.0, 6.85), (10.0, None)])
def test_a_temperature_is_read_in_the_one_unit_that_the_height_allows(
    tmp_path: Path, degrees: float, celsius: float | None
) -> None:
    """At 4,000 ft the standard atmosphere has 7 °C; 10 may be of either kind."""
    heights = numbers(FLIGHT.altitude_ft)
    text = table(["time", "lat", "lon", "alt_ft", "oat"], FLIGHT.iso(), LAT, LON, heights, [degrees] * 500)
    track = read_one(tmp_path, "a.csv", text)
    found = track.channels.get("outside_air_temperature_c")
    assert (found is None) == (celsius is None)
    if found is not None:
        np.testing.assert_allclose(found, celsius, atol=0.01)


def test_a_header_of_very_many_letters_takes_no_time(tmp_path: Path) -> None:
    begun = time.process_time()
    cells = [f"{when},x" for when in FLIGHT.iso()]
    _is_timed(_read(tmp_path, f"time,{'a' * 150_000}", cells), dated=True)
    assert time.process_time() - begun < 2.0


@pytest.mark.parametrize(
    "header", ["Date", "Datum", "date (UTC)", "Fecha", "recorded at", "Zeitpunkt", "Data i godzina"]
)
@pytest.mark.parametrize("form", ["%Y-%m-%d %H:%M:%S", "%d.%m.%Y %H:%M:%S", "%Y%m%dT%H%M%SZ", "%Y%m%d%H%M%S"])
def test_a_column_called_a_date_may_hold_the_clock_too(tmp_path: Path, header: str, form: str) -> None:
    _is_timed(_read(tmp_path, header, [f"{moment:{form}}" for moment in FLIGHT.moments()]), dated=True)


def test_a_date_alone_gives_no_time(tmp_path: Path) -> None:
    with pytest.raises(LogError, match="no column gives the time"):
        _read(tmp_path, "Date", ["2026-03-14"] * 250 + ["2026-03-15"] * 250)


def test_points_of_geojson_whose_date_holds_the_clock(tmp_path: Path) -> None:
    features = [
        {
            "type": "Feature",
            "properties": {"date": when},
            "geometry": {"type": "Point", "coordinates": [lon, lat]},
        }
        for when, lat, lon in zip(FLIGHT.iso(), FLIGHT.lat, FLIGHT.lon, strict=True)
    ]
    document = {"type": "FeatureCollection", "features": features}
    _is_timed(read_one(tmp_path, "a.geojson", json.dumps(document)), dated=True)


@pytest.mark.parametrize(("every", "used"), [(3, True), (20, False)])
def test_lines_of_another_sensor_between_positions_are_brought_to_them_or_said_to_be_lost(
    tmp_path: Path, every: int, used: bool
) -> None:
    """Nothing is said to be brought to positions that none of it reaches."""
    lines = [
        json.dumps(
            {"time": when, "lat": lat, "lon": lon} if row % every else {"time": when, "roll_deg": bank}
        )
        for row, (when, lat, lon, bank) in enumerate(
            zip(FLIGHT.iso(), FLIGHT.lat, FLIGHT.lon, FLIGHT.bank_deg, strict=True)
        )
    ]
    track = read_one(tmp_path, "a.ndjson", "\n".join(lines))
    (message,) = (notice.message for notice in track.notices if notice.code == "values-carried")
    assert ("bank_deg" in track.channels) == used
    assert ("bank was brought to" in message) == used and ("bank was not used" in message) != used


@pytest.mark.parametrize("key", ["latlng", "lonlat", "coordinates"])
def test_lines_of_json_whose_position_is_a_list(tmp_path: Path, key: str) -> None:
    """In the order that its name gives, as GeoJSON's (RFC 7946) for coordinates; another's place is none of its own."""
    places = zip(FLIGHT.lat.tolist(), FLIGHT.lon.tolist(), strict=True)
    lines = [
        json.dumps(
            {
                "time": when,
                "home": {key: [1.0, 2.0]},
                "location": {key: [lat, lon] if key == "latlng" else [lon, lat, None]},
                "target": {key: [3.0, 4.0]},
            }
        )
        for when, (lat, lon) in zip(FLIGHT.iso(), places, strict=True)
    ]
    track = read_one(tmp_path, "a.ndjson", "\n".join(lines))
    np.testing.assert_allclose(track.lat_deg, FLIGHT.lat)
    np.testing.assert_allclose(track.lon_deg, FLIGHT.lon)
    _is_timed(track, dated=True)


def test_the_bank_of_one_turn_is_used_whichever_way_it_counts(tmp_path: Path) -> None:
    """In the first minute the flight turns right all the time: there is no other bank to go with."""
    rows = slice(0, 55)
    for sign in (1.0, -1.0):
        cells = (FLIGHT.iso()[rows], LAT[rows], LON[rows], numbers(sign * FLIGHT.bank_deg[rows], 2))
        track = read_one(tmp_path, "a.csv", table(["time", "lat", "lon", "bank_deg"], *cells))
        np.testing.assert_allclose(track.channels["bank_deg"], FLIGHT.bank_deg[rows], atol=0.01)


def test_nothing_is_said_to_be_brought_where_each_position_has_its_own_value(tmp_path: Path) -> None:
    """As in the rows before a receiver's first fix, which go on counting heights."""
    lat, lon = (["" if row < 200 else one for row, one in enumerate(cells)] for cells in (LAT, LON))
    columns = (FLIGHT.iso(), lat, lon, numbers(FLIGHT.altitude_ft, 1))
    track = read_one(tmp_path, "a.csv", table(["time", "lat", "lon", "alt_ft"], *columns))
    assert track.samples == 300 and codes(track) == {"position-missing"}
