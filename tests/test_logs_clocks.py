"""Clocks and receivers that fail: put in order, said, and never a second flight made of a fault."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from analyser.errors import LogError
from analyser.logs.read import read_log
from analyser.logs.track import Track
from tests.logs_invented import Invented, as_csv, invented_flight
from tests.logs_reading import codes, numbers, read_one, read_text, table

FLIGHT = invented_flight(samples=1200)
EPOCH = FLIGHT.start.timestamp()
ROLLOVER_S = 1024 * 7 * 86_400


def _rows(flight: Invented, time_s: np.ndarray | None = None) -> np.ndarray:
    """Columns: POSIX time, latitude, longitude, altitude."""
    clock = flight.start.timestamp() + (flight.time_s if time_s is None else time_s)
    return np.column_stack([clock, flight.lat, flight.lon, flight.altitude_ft])


def _read(folder: Path, rows: np.ndarray) -> list[Track]:
    columns = [numbers(rows[:, 0], 3), numbers(rows[:, 1], 7), numbers(rows[:, 2], 7), numbers(rows[:, 3], 1)]
    return read_text(folder, "a.csv", table(["time", "lat", "lon", "alt_ft"], *columns))


def _one(folder: Path, rows: np.ndarray) -> Track:
    (track,) = _read(folder, rows)
    return track


def test_a_sound_log_gets_no_notice(tmp_path: Path) -> None:
    track = read_one(tmp_path, "a.csv", as_csv(FLIGHT))
    assert track.notices == ()
    assert track.samples == 1200


@pytest.mark.parametrize("interval_s", [0.05, 0.1, 0.2, 1.0, 2.0, 5.0, 10.0])
@pytest.mark.parametrize("noise_m", [0.0, 3.0])
def test_no_sampling_makes_faults(tmp_path: Path, interval_s: float, noise_m: float) -> None:
    flight = invented_flight(samples=int(900 / interval_s), interval_s=interval_s, tas_kt=210.0)
    random = np.random.default_rng(4)
    rows = _rows(flight)
    rows[:, 1] += random.normal(0, noise_m / 111_000, rows.shape[0])
    rows[:, 2] += random.normal(0, noise_m / 75_000, rows.shape[0])
    track = _one(tmp_path, rows)
    assert track.samples == rows.shape[0]
    assert track.notices == ()


@pytest.mark.parametrize("shake_s", [1.0, 3.0])
def test_a_clock_that_shakes_is_averaged_and_shuffles_nothing(tmp_path: Path, shake_s: float) -> None:
    """Written seconds early or late, second by second, and once by ten minutes: the rows come as they were flown."""
    rows = _rows(FLIGHT)
    rows[:, 0] += np.random.default_rng(7).normal(0.0, shake_s, 1200)
    rows[600, 0] += 600.0
    track = _one(tmp_path, rows)
    assert track.samples == 1200
    (said,) = [notice.message for notice in track.notices if notice.code == "time-shaken"]
    assert float(said.split("by about ")[1].split(" s")[0]) == pytest.approx(shake_s, rel=0.25)
    beat_s = np.diff(track.time_s)
    assert np.median(beat_s) == pytest.approx(1.0, abs=0.05)
    assert track.duration_s == pytest.approx(np.ptp(FLIGHT.time_s), abs=2.0 * shake_s + 1.0)
    way = np.hypot(np.diff(track.lat_deg) * 111_195.0, np.diff(track.lon_deg) * 75_000.0) / beat_s
    true = np.hypot(np.diff(FLIGHT.lat) * 111_195.0, np.diff(FLIGHT.lon) * 75_000.0) / np.diff(FLIGHT.time_s)
    minutes = [np.add.reduceat(one, np.arange(0, 1199, 60))[1:-2] / 60.0 for one in (way[:1199], true)]
    assert minutes[0] == pytest.approx(minutes[1], rel=0.12)


def test_irregular_sampling(tmp_path: Path) -> None:
    random = np.random.default_rng(5)
    keep = np.sort(random.choice(1200, 400, replace=False))
    track = _one(tmp_path, _rows(FLIGHT)[keep])
    np.testing.assert_allclose(track.time_s, FLIGHT.time_s[keep] - FLIGHT.time_s[keep][0], atol=1e-3)
    assert not codes(track) & {"position-spike", "time-leap", "time-backward"}


def test_repeated_rows(tmp_path: Path) -> None:
    rows = np.repeat(_rows(FLIGHT), 2, axis=0)
    track = _one(tmp_path, rows)
    assert track.samples == 1200
    assert "time-duplicate" in codes(track)


def test_ten_hertz_with_whole_seconds(tmp_path: Path) -> None:
    flight = invented_flight(samples=3000, interval_s=0.1)
    track = _one(tmp_path, _rows(flight, np.floor(flight.time_s + 1e-6)))
    assert track.samples == 300
    assert "time-coarse" in codes(track)
    np.testing.assert_allclose(track.lat_deg, flight.lat[::10], atol=1e-6)


def test_ten_hertz_with_whole_seconds_and_a_finer_column(tmp_path: Path) -> None:
    flight = invented_flight(samples=3000, interval_s=0.1)
    text = table(
        ["UTC", "elapsed_ms", "lat", "lon"],
        [m.strftime("%Y-%m-%dT%H:%M:%SZ") for m in flight.moments()],
        numbers(flight.time_s * 1000 + 777, 0),
        numbers(flight.lat, 7),
        numbers(flight.lon, 7),
    )
    track = read_one(tmp_path, "a.csv", text)
    assert track.samples == 3000
    assert track.start_utc == flight.start


def test_samples_written_late_are_sorted(tmp_path: Path) -> None:
    order = np.arange(1200)
    order[[200, 201, 600, 602]] = order[[201, 200, 602, 600]]
    track = _one(tmp_path, _rows(FLIGHT)[order])
    np.testing.assert_allclose(track.time_s, FLIGHT.time_s, atol=1e-3)
    np.testing.assert_allclose(track.lat_deg, FLIGHT.lat, atol=1e-6)
    assert "time-backward" in codes(track)


def test_a_whole_log_backwards_is_sorted(tmp_path: Path) -> None:
    track = _one(tmp_path, _rows(FLIGHT)[::-1])
    np.testing.assert_allclose(track.lat_deg, FLIGHT.lat, atol=1e-6)


@pytest.mark.parametrize("back_s", [3.0, 60.0, 3600.0])
def test_a_clock_set_back_in_flight_does_not_shuffle_the_path(tmp_path: Path, back_s: float) -> None:
    clock = FLIGHT.time_s - np.where(np.arange(1200) >= 700, back_s, 0.0)
    track = _one(tmp_path, _rows(FLIGHT, clock))
    assert track.samples == 1200
    np.testing.assert_allclose(track.lat_deg, FLIGHT.lat, atol=1e-6)
    np.testing.assert_allclose(track.time_s, FLIGHT.time_s, atol=0.3)
    assert "time-set-back" in codes(track)


@pytest.mark.parametrize("leap_s", [3600.0, ROLLOVER_S])
def test_a_clock_that_leaps_forward(tmp_path: Path, leap_s: float) -> None:
    clock = FLIGHT.time_s - np.where(np.arange(1200) < 60, leap_s, 0.0)
    track = _one(tmp_path, _rows(FLIGHT, clock))
    assert track.samples == 1200
    np.testing.assert_allclose(track.time_s, FLIGHT.time_s, atol=0.3)
    assert track.start_utc is not None
    assert abs(track.start_utc.timestamp() - EPOCH) < 0.5
    assert "time-leap" in codes(track)


@pytest.mark.parametrize("start", [datetime(1980, 1, 6, tzinfo=UTC), datetime(2090, 1, 1, tzinfo=UTC)])
def test_an_impossible_date_is_not_used(tmp_path: Path, start: datetime) -> None:
    track = read_one(tmp_path, "a.csv", as_csv(invented_flight(samples=300, start=start)))
    assert track.start_utc is None
    assert "date-impossible" in codes(track)


def test_a_date_1024_weeks_ago_is_doubted(tmp_path: Path) -> None:
    now = datetime.now(UTC).timestamp()
    start = datetime.fromtimestamp(round(now - ROLLOVER_S - 5 * 86_400), UTC)
    track = read_one(tmp_path, "a.csv", as_csv(invented_flight(samples=300, start=start)))
    assert "date-old" in codes(track)
    assert track.start_utc == start


def test_a_hole_is_told_and_kept_open(tmp_path: Path) -> None:
    rows = np.delete(_rows(FLIGHT), np.s_[500:520], axis=0)
    track = _one(tmp_path, rows)
    assert track.samples == 1180
    assert next(n for n in track.notices if n.code == "hole").message.startswith(
        "1 hole in the recording, longest 21 s"
    )


def test_flights_hours_apart_are_two(tmp_path: Path) -> None:
    later = invented_flight(samples=600, start=datetime(2026, 3, 14, 16, 0, tzinfo=UTC))
    tracks = _read(tmp_path, np.concatenate([_rows(FLIGHT), _rows(later)]))
    assert [track.samples for track in tracks] == [1200, 600]
    assert tracks[1].start_utc == later.start


def test_a_reposition_parts_the_flight(tmp_path: Path) -> None:
    rows = _rows(FLIGHT)
    rows[600:, 1] += 0.4
    tracks = _read(tmp_path, rows)
    assert [track.samples for track in tracks] == [600, 600]


def test_two_aircraft_mixed_without_a_name(tmp_path: Path) -> None:
    other = _rows(invented_flight(samples=1200, lat=49.0))
    other[:, 0] += 0.4
    rows = np.concatenate([_rows(FLIGHT), other])
    tracks = _read(tmp_path, rows[np.argsort(rows[:, 0])])
    assert sorted(track.samples for track in tracks) == [1200, 1200]


@pytest.mark.parametrize(
    ("size_m", "length"),
    # A short step aside of 150 m cannot be told from flying.
    [(150.0, 1), *((size_m, length) for size_m in (400.0, 5_000.0, 900_000.0) for length in (1, 2, 4))],
)
def test_spikes_are_taken_out(tmp_path: Path, size_m: float, length: int) -> None:
    rows = _rows(FLIGHT)
    for place in (150, 401, 777, 1000):
        rows[place : place + length, 1] += size_m / 111_000
    track = _one(tmp_path, rows)
    assert track.samples == 1200 - 4 * length
    assert np.abs(np.interp(track.time_s, FLIGHT.time_s, FLIGHT.lat) - track.lat_deg).max() < 1e-5
    assert "position-spike" in codes(track)


def test_the_zero_island_and_the_outside_of_the_globe(tmp_path: Path) -> None:
    rows = _rows(FLIGHT)
    rows[:30, 1:3] = 0.0
    rows[400, 1] = 123.0
    rows[401, 2] = -999.0
    rows[500:505, 1:3] = np.nan
    track = _one(tmp_path, rows)
    assert track.samples == 1200 - 37
    assert {"position-zero", "position-out-of-range"} <= codes(track)


def test_longitudes_from_0_to_360(tmp_path: Path) -> None:
    flight = invented_flight(samples=300, lat=37.0, lon=-122.0)
    rows = _rows(flight)
    rows[:, 2] += 360.0
    np.testing.assert_allclose(_one(tmp_path, rows).lon_deg, flight.lon, atol=1e-6)


def test_positions_slower_than_the_log(tmp_path: Path) -> None:
    """Ten samples a second, a new position each second, held in between."""
    flight = invented_flight(samples=3000, interval_s=0.1)
    rows = _rows(flight)
    rows[:, 1:3] = rows[(np.arange(3000) // 10) * 10, 1:3]
    track = _one(tmp_path, rows)
    assert track.samples == 300
    assert "position-held" in codes(track)
    np.testing.assert_allclose(track.lat_deg, flight.lat[::10], atol=1e-6)


def test_positions_only_every_tenth_row(tmp_path: Path) -> None:
    flight = invented_flight(samples=3000, interval_s=0.1)
    rows = _rows(flight)
    rows[np.arange(3000) % 10 != 0, 1:3] = np.nan
    assert _one(tmp_path, rows).samples == 300


def test_a_frozen_receiver_leaves_a_hole(tmp_path: Path) -> None:
    rows = _rows(FLIGHT)
    rows[300:340, 1:3] = rows[300, 1:3]
    track = _one(tmp_path, rows)
    assert {"position-frozen", "hole"} <= codes(track)
    assert track.samples == 1200 - 39


def test_a_parked_aircraft_keeps_its_samples(tmp_path: Path) -> None:
    """A day's log: an hour parked, a flight, an hour parked."""
    rows = _rows(FLIGHT)
    taxi = np.repeat(rows[-1:], 60, axis=0)
    taxi[:, 0] += np.arange(1, 61)
    taxi[:, 1] += np.cumsum(np.linspace(55.0, 0.5, 60)) / 111_000.0
    rows = np.concatenate([rows, taxi])
    before, after = np.repeat(rows[:1], 3600, axis=0), np.repeat(rows[-1:], 3600, axis=0)
    before[:, 0] -= np.arange(3600, 0, -1)
    after[:, 0] += np.arange(1, 3601)
    track = _one(tmp_path, np.concatenate([before, rows, after]))
    assert track.samples == 8460
    assert track.notices == ()


def test_altitude_missing_is_said(tmp_path: Path) -> None:
    text = table(["time", "lat", "lon"], FLIGHT.iso(), numbers(FLIGHT.lat, 7), numbers(FLIGHT.lon, 7))
    assert "altitude-missing" in codes(read_one(tmp_path, "a.csv", text))


def test_no_path_is_read_twice_differently(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text(as_csv(FLIGHT))
    one, two = read_log(tmp_path / "a.csv")[0], read_log(tmp_path / "a.csv")[0]
    assert one.sha256 == two.sha256
    np.testing.assert_array_equal(one.lat_deg, two.lat_deg)


def test_all_times_equal(tmp_path: Path) -> None:
    rows = _rows(FLIGHT)
    rows[:, 0] = rows[0, 0]
    with pytest.raises(LogError, match="one and the same time"):
        _read(tmp_path, rows)
