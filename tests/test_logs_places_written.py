"""Positions as tables write them, and rows that break off or are quoted badly: each just read so and just not."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from analyser.errors import LogError
from analyser.logs.track import Track
from tests.logs_invented import invented_flight
from tests.logs_reading import codes, numbers, positions, read_one, read_text, table

FLIGHT = invented_flight(300)
ROWS, ISO, (LAT, LON) = 300, FLIGHT.iso(), positions(FLIGHT)


def _form(track: Track) -> str:
    return "".join(one.message for one in track.notices if one.code == "position-form-assumed")


def _lies_on(track: Track, lat: np.ndarray, lon: np.ndarray, within_deg: float = 2e-6) -> None:
    np.testing.assert_allclose(track.lat_deg, lat, atol=within_deg)
    np.testing.assert_allclose(track.lon_deg, lon, atol=within_deg)


def _sixtieths(degrees: np.ndarray, parts: int) -> np.ndarray:
    """Run degrees and minutes, or degrees, minutes and seconds, together."""
    size, run = np.abs(degrees), np.floor(np.abs(degrees))
    for part in range(parts):
        size = (size % 1.0) * 60.0
        run = run * 100.0 + (size if part == parts - 1 else np.floor(size))
    return np.sign(degrees) * run


@pytest.mark.parametrize(
    ("write", "decimals", "said"),
    [
        (lambda v: _sixtieths(v, 1), 5, "degrees and minutes run together"),
        (lambda v: _sixtieths(v, 2), 3, "degrees, minutes and seconds run together"),
        (lambda v: np.round(v * 1e6), 0, "millionths of a degree"),
        (lambda v: np.round(v * 1e7), 0, "ten-millionths of a degree"),
    ],
)
@pytest.mark.parametrize(
    ("lat", "lon"), [(48.1, 11.5), (-33.9, -70.6), (-33.9, 18.4), (59.3, 170.5), (0.4, 36.8), (51.5, 0.2)]
)
def test_whole_numbers_and_sixtieths_are_told_wherever_they_are_flown(
    tmp_path: Path,
    lat: float,
    lon: float,
    write: Callable[[np.ndarray], np.ndarray],
    decimals: int,
    said: str,
) -> None:
    flight = invented_flight(ROWS, lat=lat, lon=lon)
    cells = [numbers(write(values), decimals) for values in (flight.lat, flight.lon)]
    track = read_one(tmp_path, "a.csv", table(["time", "lat", "lon"], ISO, *cells))
    _lies_on(track, flight.lat, flight.lon)
    assert f"are read as {said}" in _form(track)


def test_semicircles_are_beyond_what_ten_millionths_of_degrees_may_be(tmp_path: Path) -> None:
    """2³¹ of them are 180°: 48.1° are 573,852,416, which ten-millionths would make 57.4°; 170° are 2,028,178,772."""
    east = invented_flight(ROWS, lat=48.1, lon=170.0)
    cells = [np.round(values * 2**31 / 180.0).astype(int).tolist() for values in (east.lat, east.lon)]
    text = table(["time", "position_lat", "position_long"], ISO, *cells)
    track = read_one(tmp_path, "a.csv", text)
    _lies_on(track, east.lat, east.lon)
    assert "semicircles" in _form(track)


@pytest.mark.parametrize("zeros", [5, 250])
def test_zeros_before_the_first_fix_hide_no_form(tmp_path: Path, zeros: int) -> None:
    cells = [
        numbers(_sixtieths(values, 1) * (np.arange(ROWS) >= zeros), 5) for values in (FLIGHT.lat, FLIGHT.lon)
    ]
    track = read_one(tmp_path, "a.csv", table(["time", "lat", "lon"], ISO, *cells))
    _lies_on(track, FLIGHT.lat[zeros:], FLIGHT.lon[zeros:])


def _behind(degrees: np.ndarray, parts: int) -> list[str]:
    return numbers(_sixtieths(degrees, parts) / 100.0**parts, 7 if parts == 1 else 8)


@pytest.mark.parametrize(("header", "parts"), [("lat (dm)", 1), ("lat (dd.mmss)", 2), ("lat (dms)", 2)])
def test_a_header_tells_sixtieths_behind_the_point(tmp_path: Path, header: str, parts: int) -> None:
    cells = [_behind(values, parts) for values in (FLIGHT.lat[:60], FLIGHT.lon[:60])]
    text = table(["time", header, header.replace("lat", "lon")], ISO[:60], *cells)
    track = read_one(tmp_path, "a.csv", text)
    _lies_on(track, FLIGHT.lat[:60], FLIGHT.lon[:60], 3e-6)
    assert "behind the point" in _form(track)


@pytest.mark.parametrize(
    ("share", "sixtieths"), [(1.0, True), (1.03, True), (1.06, False), (1.0 / 0.6, False)]
)
def test_a_logged_speed_tells_minutes_behind_the_point(tmp_path: Path, share: float, sixtieths: bool) -> None:
    """Taken for decimals the aircraft would move at six tenths of its speed."""
    cells = [_behind(values, 1) for values in (FLIGHT.lat, FLIGHT.lon)]
    text = table(["time", "lat", "lon", "gs_kt"], ISO, *cells, numbers(FLIGHT.ground_speed_kt * share, 1))
    (track, *_) = read_text(tmp_path, "a.csv", text)
    assert ("behind the point" in _form(track)) == sixtieths
    if sixtieths:
        _lies_on(track, FLIGHT.lat, FLIGHT.lon)


def test_a_sign_before_no_degrees_is_that_of_the_minutes(tmp_path: Path) -> None:
    near = invented_flight(ROWS, lat=-0.6, lon=-0.5)
    degrees = [[f"-{int(abs(value))}" for value in values] for values in (near.lat, near.lon)]
    minutes = [numbers(np.abs(values) % 1.0 * 60.0, 5) for values in (near.lat, near.lon)]
    headers = ["time", "lat", "lat min", "lon", "lon min"]
    text = table(headers, ISO, degrees[0], minutes[0], degrees[1], minutes[1])
    _lies_on(read_one(tmp_path, "a.csv", text), near.lat, near.lon)


@pytest.mark.parametrize("pattern", ["POINT ({1} {0})", "{0}, {1}", "{0};{1}", "{0} {1}", "N{0} E{1}",
                                     "{0}N {1}E", "({0}, {1})"])  # fmt: skip
def test_one_cell_holds_a_position(tmp_path: Path, pattern: str) -> None:
    cells = [f'"{pattern.format(a, b)}"' for a, b in zip(LAT, LON, strict=True)]
    track = read_one(tmp_path, "a.csv", table(["time", "position"], ISO, cells))
    _lies_on(track, FLIGHT.lat, FLIGHT.lon)
    assert {one.column for one in track.sources} == {"time", "position"}


@pytest.mark.parametrize("name", ["lon lat", "lng lat"])
def test_a_header_tells_that_the_longitude_comes_first(tmp_path: Path, name: str) -> None:
    cells = [f'"{b}, {a}"' for a, b in zip(LAT, LON, strict=True)]
    _lies_on(read_one(tmp_path, "a.csv", table(["time", name], ISO, cells)), FLIGHT.lat, FLIGHT.lon)


def test_a_table_without_longitudes_is_none(tmp_path: Path) -> None:
    with pytest.raises(LogError, match="names a latitude and a longitude column"):
        read_text(tmp_path, "a.csv", table(["time", "lat", "alt_ft"], ISO, LAT, LON))


# Rows that break off, and quotation marks


@pytest.mark.parametrize(
    ("last", "kept"),
    [
        # Cut inside: what is left of a number is another one.
        ("2026-03-14T12:05:00.000Z,48.2,1", ROWS),
        ("2026-03-14T12:05:00.000Z,48.2,11.5,40", ROWS + 1),
        # Fewer cells than the row before it is cut, as many are whole; words begin no row.
        ("2026-03-14T12:05:00.000Z,48.2,11.5,4000", ROWS + 1),
        ("2026", ROWS),
    ],
)
def test_a_last_row_that_breaks_off_is_left_out(tmp_path: Path, last: str, kept: int) -> None:
    text = table(["time", "lat", "lon", "altitude_ft"], ISO, LAT, LON, numbers(FLIGHT.altitude_ft, 0))
    lat, lon = float(LAT[-1]), float(LON[-1])
    last = last.replace("48.2", f"{lat + 0.0005:.4f}").replace("11.5", f"{lon:.4f}")
    assert read_one(tmp_path, "a.csv", text + last).samples == kept


def test_a_line_with_a_stray_mark_swallows_no_rows(tmp_path: Path) -> None:
    lines = table(["time", "lat", "lon", "note"], ISO, LAT, LON, ["calm"] * ROWS).splitlines()
    lines[50], lines[90] = lines[50].replace("calm", 'cal"m'), lines[90].replace("calm", 'cal"m')
    assert read_one(tmp_path, "a.csv", "\n".join(lines) + "\n").samples == ROWS


def test_a_note_over_several_lines_is_one_cell(tmp_path: Path) -> None:
    lines = table(["time", "lat", "lon", "note"], ISO, LAT, LON, ["calm"] * ROWS).splitlines()
    lines[50] = lines[50].replace("calm", '"calm\nand clear\nall day"')
    track = read_one(tmp_path, "a.csv", "\n".join(lines) + "\n")
    assert track.samples == ROWS and not codes(track) & {"row-damaged", "file-cut-off"}


# Which column is which


def test_each_sensor_keeps_its_own_latitude_and_longitude(tmp_path: Path) -> None:
    """The second one's latitudes are nearly all missing: its longitude is not put beside the first one's latitude."""
    few = ["" if row else cell for row, cell in enumerate(LAT)]
    headers = ["time", "gps2_lat", "gps2_lon", "gps1_lat", "gps1_lon"]
    text = table(headers, ISO, few, numbers(FLIGHT.lon + 1.0, 6), LAT, LON)
    _lies_on(read_one(tmp_path, "a.csv", text), FLIGHT.lat, FLIGHT.lon)


@pytest.mark.parametrize("first", ["alt", "alt_m"])
def test_of_two_altitudes_that_whose_unit_is_said_is_used(tmp_path: Path, first: str) -> None:
    other = "alt_m" if first == "alt" else "alt"
    metres = numbers(FLIGHT.altitude_ft * 0.3048, 2)
    cells = {"alt": numbers(FLIGHT.altitude_ft * 7.0, 2), "alt_m": metres}
    text = table(["time", "lat", "lon", first, other], ISO, LAT, LON, cells[first], cells[other])
    track = read_one(tmp_path, "a.csv", text)
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft, atol=0.05)


@pytest.mark.parametrize("order", [("yyyy", "mm", "dd"), ("dd", "mm", "yyyy")])
def test_mm_beside_years_and_days_are_months(tmp_path: Path, order: tuple[str, ...]) -> None:
    cells: dict[str, list[object]] = {"yyyy": [2026] * ROWS, "mm": [3] * ROWS, "dd": [14] * ROWS}
    clock = [f"{one:%H:%M:%S}" for one in FLIGHT.moments()]
    text = table([*order, "time", "lat", "lon"], *(cells[name] for name in order), clock, LAT, LON)
    track = read_one(tmp_path, "a.csv", text)
    assert track.start_utc == FLIGHT.start


@pytest.mark.parametrize(("order", "month"), [("dmy", 5), ("mdy", 4)])
def test_a_person_says_the_order_of_dates(tmp_path: Path, order: str, month: int) -> None:
    """04/05/2026 is the 4th of May or the 5th of April."""
    clock = [f"{one:%H:%M:%S}" for one in FLIGHT.moments()]
    text = table(["date", "time", "lat", "lon"], ["04/05/2026"] * ROWS, clock, LAT, LON)
    track = read_one(tmp_path, "a.csv", text, units={"date": order})
    assert track.start_utc is not None and track.start_utc.month == month
