"""What a reader's rules let pass and what they do not, through files: one thing is odd at a time."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from analyser.errors import LogError
from analyser.logs.track_errors import track_errors
from tests.logs_invented import as_gpx, as_igc, as_json, invented_flight
from tests.logs_reading import codes, numbers, positions, read_one, read_text, table

FLIGHT = invented_flight(480)
LAT, LON = positions(FLIGHT)
RNG = np.random.default_rng(41)


def _with(**columns: np.ndarray | list[str]) -> str:
    """Write the flight's table with more columns beside it."""
    cells = [numbers(one, 4) if isinstance(one, np.ndarray) else one for one in columns.values()]
    return table(["time", "lat", "lon", *columns], FLIGHT.iso(), LAT, LON, *cells)


# Tables


def test_a_column_of_milliseconds_that_makes_the_clock_less_even_is_none_of_its_parts(tmp_path: Path) -> None:
    """Whole seconds, a row each: what stands beside them between 0 and 150 counts something else."""
    text = _with(ms=RNG.integers(0, 150, 480).astype(str).tolist())
    np.testing.assert_allclose(read_one(tmp_path, "a.csv", text).time_s, FLIGHT.time_s, atol=1e-6)


@pytest.mark.parametrize(("moves", "told"), [(False, False), (True, True)])
def test_of_two_places_a_row_another_aircrafts_is_told_and_that_of_the_field_is_not(
    tmp_path: Path, moves: bool, told: bool
) -> None:
    away = 0.5 + (FLIGHT.lat if moves else np.full(480, FLIGHT.lat[0]))
    there = FLIGHT.lon if moves else np.full(480, FLIGHT.lon[0])
    headers = ["time", "lat", "lon", "latitude", "longitude"]
    text = table(headers, FLIGHT.iso(), LAT, LON, numbers(away, 6), numbers(there, 6))
    assert ("flight-left-out" in codes(read_one(tmp_path, "a.csv", text))) == told


def test_a_header_says_in_which_unit_a_temperature_is(tmp_path: Path) -> None:
    """50 °F are 10 °C, 283.15 K are."""
    for header, value in (("oat (°F)", 50.0), ("oat (K)", 283.15), ("oat (°C)", 10.0)):
        text = table(["time", "lat", "lon", header], FLIGHT.iso(), LAT, LON, [value] * 480)
        track = read_one(tmp_path, "a.csv", text)
        np.testing.assert_allclose(track.channels["outside_air_temperature_c"], 10.0, atol=1e-6)


@pytest.mark.parametrize(("rise_ft", "jumps"), [(3_300.0, False), (3_500.0, True)])
def test_an_altitude_may_change_by_what_an_aircraft_climbs_in_the_time_between(
    tmp_path: Path, rise_ft: float, jumps: bool
) -> None:
    """A row each ten seconds: 400 ft, and 300 ft for each second."""
    flight = invented_flight(200, interval_s=10.0)
    level = np.where(np.arange(200) == 90, 4000.0 + rise_ft, 4000.0)
    text = table(["time", "lat", "lon", "altitude_ft"], flight.iso(), *positions(flight), numbers(level, 1))
    assert ("altitude-spike" in codes(read_one(tmp_path, "a.csv", text))) == jumps


# Other formats


def test_json_that_is_wrong_inside_is_told_from_one_that_breaks_off(tmp_path: Path) -> None:
    whole = as_json(FLIGHT)
    with pytest.raises(LogError, match="Expecting ',' delimiter"):
        read_text(tmp_path, "a.json", whole.replace("},", "}", 2).replace("}}", "} }", 1))
    cut = read_one(tmp_path, "b.json", whole[: len(whole) // 2])
    assert "file-cut-off" in codes(cut)


@pytest.mark.parametrize(("hour", "read"), [(47, True), (48, False)])
def test_igc_counts_hours_on_over_one_midnight(tmp_path: Path, hour: int, read: bool) -> None:
    text = as_igc(FLIGHT).replace("\nB12", f"\nB{hour}")
    if read:
        assert read_one(tmp_path, "a.igc", text).samples == 480
        return
    with pytest.raises(LogError, match="no B record"):
        read_text(tmp_path, "a.igc", text)


@pytest.mark.parametrize("stray", ["", "3"])
def test_a_text_beside_elements_belongs_to_none_of_them(tmp_path: Path, stray: str) -> None:
    text = as_gpx(FLIGHT).replace("<ele>", f"{stray}<ele>")
    track = read_one(tmp_path, "a.gpx", text)
    np.testing.assert_allclose(track.channels["altitude_ft"], FLIGHT.altitude_ft, atol=0.02)


# How a track errs


@pytest.mark.parametrize(("speed_mps", "told"), [(10.5, False), (13.5, True)])
def test_who_taxies_tells_nothing_of_the_clock(speed_mps: float, told: bool) -> None:
    at_s = np.arange(0.0, 1800.0, 5.0)
    east = speed_mps * (at_s + RNG.normal(0.0, 0.35, at_s.size))
    lat = 10.1234567 + RNG.normal(0.0, 1e-6, at_s.size)
    found = track_errors(at_s, lat, 20.0 + east / 109_500.0)
    assert (found.time_jitter_s > 0.0) == told
