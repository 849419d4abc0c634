"""Channels held against the track: signs, lags, frozen values, references, wrong units."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from analyser.logs.track import Track
from tests.logs_invented import Invented, invented_flight
from tests.logs_reading import codes, numbers, positions, read_one, table

#: South of Iceland the variation is large (about 10° west in 2026), so that references can be told apart.
NORTH = invented_flight(samples=1200, lat=64.0, lon=-20.0)
FLIGHT = invented_flight(samples=1200)


def _with(folder: Path, flight: Invented, header: str, values: np.ndarray, decimals: int = 2) -> Track:
    text = table(["time", "lat", "lon", header], flight.iso(), *positions(flight), numbers(values, decimals))
    return read_one(folder, "a.csv", text)


def _late(flight: Invented, values: np.ndarray, lag_s: float) -> np.ndarray:
    return np.interp(flight.time_s - lag_s, flight.time_s, np.unwrap(values, period=360.0)) % 360.0


def test_bank_positive_to_the_left_is_turned_round(tmp_path: Path) -> None:
    track = _with(tmp_path, FLIGHT, "roll [deg]", -FLIGHT.bank_deg)
    np.testing.assert_allclose(track.channels["bank_deg"], FLIGHT.bank_deg, atol=0.01)
    assert "bank-sign" in codes(track)


def test_bank_of_left_turns_keeps_its_sign(tmp_path: Path) -> None:
    mirrored = Invented(**{**FLIGHT.__dict__, "lat": FLIGHT.lat, "lon": 23.0 - FLIGHT.lon})
    track = _with(tmp_path, mirrored, "roll [deg]", -FLIGHT.bank_deg)
    np.testing.assert_allclose(track.channels["bank_deg"], -FLIGHT.bank_deg, atol=0.01)
    assert "bank-sign" not in codes(track)


@pytest.mark.parametrize("noise_deg", [0.0, 3.0])
def test_sound_channels_are_kept(tmp_path: Path, noise_deg: float) -> None:
    noise = np.random.default_rng(3).normal(0, noise_deg, 1200)
    assert "bank_deg" in _with(tmp_path, FLIGHT, "bank deg", FLIGHT.bank_deg + noise).channels
    assert (
        "heading_true_deg"
        in _with(tmp_path, FLIGHT, "true heading", (FLIGHT.heading_deg + noise) % 360.0).channels
    )
    assert "ias_kt" in _with(tmp_path, FLIGHT, "ias kt", FLIGHT.ias_kt + noise).channels
    assert "ground_speed_kt" in _with(tmp_path, FLIGHT, "gs kt", FLIGHT.ground_speed_kt + noise).channels


@pytest.mark.parametrize("wind_kt", [0.0, 20.0, 35.0])
@pytest.mark.parametrize("interval_s", [0.2, 1.0, 5.0])
def test_sound_headings_are_kept_in_any_wind_and_sampling(
    tmp_path: Path, wind_kt: float, interval_s: float
) -> None:
    flight = invented_flight(samples=int(1000 / interval_s), interval_s=interval_s, wind_east_kt=wind_kt)
    track = _with(tmp_path, flight, "true heading", flight.heading_deg)
    assert "heading_true_deg" in track.channels
    assert track.channels["heading_true_deg"].size == flight.time_s.size


@pytest.mark.parametrize("lag_s", [4.0, 8.0])
def test_a_lagging_heading_is_not_used(tmp_path: Path, lag_s: float) -> None:
    track = _with(tmp_path, FLIGHT, "true heading", _late(FLIGHT, FLIGHT.heading_deg, lag_s))
    assert "heading_true_deg" not in track.channels
    assert "channel-lagging" in codes(track)


def test_a_lagging_bank_is_not_used(tmp_path: Path) -> None:
    track = _with(
        tmp_path, FLIGHT, "bank deg", np.interp(FLIGHT.time_s - 7.0, FLIGHT.time_s, FLIGHT.bank_deg)
    )
    assert "bank_deg" not in track.channels
    assert "channel-lagging" in codes(track)


@pytest.mark.parametrize(
    ("header", "channel", "value"),
    [
        ("true heading", "heading_true_deg", 87.0),
        ("bank deg", "bank_deg", 0.0),
        ("track true", "track_true_deg", 10.0),
    ],
)
def test_a_frozen_channel_is_not_used(tmp_path: Path, header: str, channel: str, value: float) -> None:
    track = _with(tmp_path, FLIGHT, header, np.full(1200, value))
    assert channel not in track.channels
    assert "channel-frozen" in codes(track)
    assert next(s for s in track.sources if s.column == header).standing == "ignored"


def test_a_heading_that_freezes_for_two_minutes_is_open_there(tmp_path: Path) -> None:
    heading = FLIGHT.heading_deg.copy()
    heading[470:600] = heading[470]
    track = _with(tmp_path, FLIGHT, "true heading", heading)
    logged = track.channels["heading_true_deg"]
    assert np.isnan(logged[490:590]).all()
    assert np.isfinite(logged[:470]).all()


def test_an_altitude_that_stands_still_is_an_autopilots(tmp_path: Path) -> None:
    track = _with(tmp_path, FLIGHT, "altitude ft", np.full(1200, 4000.0))
    assert (track.channels["altitude_ft"] == 4000.0).all()
    assert track.notices == ()


def test_a_steady_airspeed_is_no_frozen_one(tmp_path: Path) -> None:
    """A constant airspeed in a wind makes a ground speed that varies with direction only."""
    track = _with(tmp_path, FLIGHT, "ias kt", np.full(1200, 100.0))
    assert "ias_kt" in track.channels


@pytest.mark.parametrize(("header", "factor"), [("gs kt", 1.852), ("gs km/h", 1.0), ("gs kt", 0.514)])
def test_a_ground_speed_in_the_wrong_unit_is_not_used(tmp_path: Path, header: str, factor: float) -> None:
    track = _with(tmp_path, FLIGHT, header, FLIGHT.ground_speed_kt * factor)
    assert "ground_speed_kt" not in track.channels
    assert "channel-disagrees" in codes(track)


@pytest.mark.parametrize("flight", [NORTH, FLIGHT], ids=["variation large", "variation 4"])
@pytest.mark.parametrize("reference", ["true", "magnetic"])
def test_an_unmarked_heading_is_settled_by_the_variation(
    tmp_path: Path, flight: Invented, reference: str
) -> None:
    from analyser.earth.variation import variation_deg

    east = variation_deg(flight.lat[0], flight.lon[0], 4000.0, datetime(2026, 3, 14, tzinfo=UTC))
    assert abs(east) > 3.0
    shift = 0.0 if reference == "true" else -east
    track = _with(tmp_path, flight, "heading", (flight.heading_deg + shift) % 360.0)
    assert f"heading_{reference}_deg" in track.channels
    assert "heading-reference-assumed" in codes(track)


def test_an_unmarked_heading_between_both_is_asked_for(tmp_path: Path) -> None:
    """Five degrees off true and five off magnetic: a compass error or the wrong reference, nobody can tell."""
    track = _with(tmp_path, NORTH, "heading", (NORTH.heading_deg + 5.0) % 360.0)
    assert not {"heading_true_deg", "heading_magnetic_deg"} & set(track.channels)
    assert "--columns heading_true=" in next(n.message for n in track.notices if n.code == "heading-unmarked")


def test_an_unmarked_airspeed_is_asked_for(tmp_path: Path) -> None:
    track = _with(tmp_path, FLIGHT, "airspeed kt", FLIGHT.ias_kt)
    assert "ias_kt" not in track.channels
    assert "airspeed-unmarked" in codes(track)


def test_an_unmarked_speed_that_is_the_ground_speed(tmp_path: Path) -> None:
    track = _with(tmp_path, FLIGHT, "speed km/h", FLIGHT.ground_speed_kt * 1.852)
    np.testing.assert_allclose(track.channels["ground_speed_kt"], FLIGHT.ground_speed_kt, atol=0.01)


def test_impossible_values_are_left_open(tmp_path: Path) -> None:
    altitude = FLIGHT.altitude_ft.copy()
    altitude[::100] = -9999.0
    altitude[50] = 1e9
    track = _with(tmp_path, FLIGHT, "altitude ft", altitude)
    assert np.isnan(track.channels["altitude_ft"][::100]).all()
    assert "value-impossible" in codes(track)


def test_headings_come_out_between_0_and_360(tmp_path: Path) -> None:
    track = _with(tmp_path, FLIGHT, "true heading", FLIGHT.heading_deg - 360.0)
    assert (track.channels["heading_true_deg"] >= 0.0).all()
    assert (track.channels["heading_true_deg"] < 360.0).all()


@pytest.mark.parametrize(("header", "channel"), [("ias kt", "ias_kt"), ("tas kt", "tas_kt")])
def test_an_airspeed_in_the_wrong_unit_is_not_used(tmp_path: Path, header: str, channel: str) -> None:
    track = _with(tmp_path, FLIGHT, header, FLIGHT.ias_kt * 1.852)
    assert channel not in track.channels
    assert "channel-disagrees" in codes(track)


def test_altitudes_that_jump_are_left_open(tmp_path: Path) -> None:
    altitude = FLIGHT.altitude_ft.copy()
    altitude[[200, 201, 700]] = [0.0, 0.0, 12_000.0]
    track = _with(tmp_path, FLIGHT, "altitude ft", altitude)
    assert np.flatnonzero(np.isnan(track.channels["altitude_ft"])).tolist() == [200, 201, 700]
    assert "altitude-spike" in codes(track)


def test_an_altitude_of_zero_throughout_is_none(tmp_path: Path) -> None:
    track = _with(tmp_path, FLIGHT, "altitude ft", np.zeros(1200))
    assert "altitude_ft" not in track.channels
    assert "altitude-missing" in codes(track)


def test_an_altitude_and_a_vertical_speed_that_contradict(tmp_path: Path) -> None:
    climb = np.gradient(FLIGHT.altitude_ft, FLIGHT.time_s) * 60.0
    text = table(
        ["time", "lat", "lon", "alt ft", "vs fpm"],
        FLIGHT.iso(),
        *positions(FLIGHT),
        numbers(FLIGHT.altitude_ft * 0.3048),
        numbers(climb),
    )
    track = read_one(tmp_path, "a.csv", text)
    assert "altitude_ft" not in track.channels
    assert "channel-disagrees" in codes(track)


def test_a_hold_at_the_end_of_a_long_cruise_settles_bank_and_heading(tmp_path: Path) -> None:
    """Eight hours one way, then ten minutes of circuits: the sign and the reference come from the circuits."""
    cruise_s, hold = 28_800, invented_flight(samples=1200, lat=64.0, lon=-20.0)
    before = np.arange(cruise_s)
    speed_nm = np.hypot(110.0 * 0.0 + 15.0, 110.0 + 8.0) / 3600.0
    north = hold.lat[0] - (cruise_s - before) * speed_nm * np.cos(np.arctan2(15.0, 118.0)) / 60.0
    east = hold.lon[0] - (cruise_s - before) * speed_nm * np.sin(np.arctan2(15.0, 118.0)) / (
        60.0 * np.cos(np.radians(64.0))
    )
    seconds = np.concatenate([before, cruise_s + hold.time_s])
    text = table(
        ["elapsed s", "lat", "lon", "heading", "roll deg"],
        numbers(seconds, 1),
        numbers(np.concatenate([north, hold.lat]), 7),
        numbers(np.concatenate([east, hold.lon]), 7),
        numbers((np.concatenate([np.zeros(cruise_s), hold.heading_deg]) + 11.0) % 360.0),
        numbers(np.concatenate([np.zeros(cruise_s), -hold.bank_deg])),
    )
    track = read_one(tmp_path, "a.csv", text)
    assert "bank-sign" in codes(track)
    assert "heading_magnetic_deg" in track.channels


def test_a_track_that_is_called_heading_is_found_out(tmp_path: Path) -> None:
    """Tracking networks call the track heading; taken for the nose it would say that there is no wind."""
    track = _with(tmp_path, FLIGHT, "true heading", FLIGHT.track_deg)
    assert "heading_true_deg" not in track.channels
    assert "it is the track" in next(n.message for n in track.notices if n.code == "channel-disagrees")


def test_a_heading_in_calm_air_is_no_track(tmp_path: Path) -> None:
    calm = invented_flight(samples=1200, wind_east_kt=0.0, wind_north_kt=0.0)
    assert "heading_true_deg" in _with(tmp_path, calm, "true heading", calm.heading_deg).channels
