"""How a track errs is read off the track: drawn racetracks, their clock, places and rows spoilt by a known amount."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analyser.logs.clean import tracks
from analyser.logs.positions import drop_coasted
from analyser.logs.raw import Content, RawFlight
from analyser.logs.track_errors import TrackErrors, track_errors, true_samples

METRES_PER_DEGREE = 111_195.0
SPEED_MPS, RATE_DPS, LEG_S = 75.0, 3.0, 60.0


def racetrack(time_s: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Lay a right-hand racetrack, metres east and north: legs of a minute north and south, half circles between."""
    half_s = 180.0 / RATE_DPS
    radius = SPEED_MPS / np.radians(RATE_DPS)
    lap = np.mod(time_s, 2.0 * (LEG_S + half_s))
    back = lap >= LEG_S + half_s
    phase = np.where(back, lap - LEG_S - half_s, lap)
    on_leg = phase < LEG_S
    angle = np.radians(RATE_DPS) * np.maximum(phase - LEG_S, 0.0)
    x = np.where(on_leg, 0.0, radius * (1.0 - np.cos(angle)))
    y = np.where(on_leg, SPEED_MPS * phase, SPEED_MPS * LEG_S + radius * np.sin(angle))
    return np.where(back, 2.0 * radius - x, x), np.where(back, SPEED_MPS * LEG_S - y, y)


def errors_of(time_s: np.ndarray, east: np.ndarray, north: np.ndarray, *, digits: int = 7) -> TrackErrors:
    lat, lon = places(east, north, digits=digits)
    return track_errors(time_s, lat, lon)


def places(east: np.ndarray, north: np.ndarray, *, digits: int = 7) -> tuple[np.ndarray, np.ndarray]:
    lat = 10.0 + north / METRES_PER_DEGREE
    lon = 20.0 + east / (METRES_PER_DEGREE * np.cos(np.radians(10.0)))
    return np.round(lat, digits), np.round(lon, digits)


@pytest.mark.parametrize("interval_s", [1.0, 2.0, 5.0])
def test_a_tidy_track_has_neither_jitter_nor_made_up_rows(interval_s: float) -> None:
    rng = np.random.default_rng(1)
    time_s = np.arange(0.0, 900.0, interval_s)
    east, north = racetrack(time_s)
    noise = rng.normal(0.0, 0.5, (2, time_s.size))
    found = errors_of(time_s, east + noise[0], north + noise[1])
    assert not found.untidy
    assert found.effective_s == pytest.approx(interval_s)
    assert found.position_noise_m < 4.0


@pytest.mark.parametrize(("interval_s", "jitter_s"), [(1.0, 0.3), (5.0, 1.0), (10.0, 3.0)])
def test_the_jitter_of_a_clock_is_measured(interval_s: float, jitter_s: float) -> None:
    rng = np.random.default_rng(2)
    time_s = np.arange(0.0, 1400.0, interval_s)
    found = errors_of(time_s, *racetrack(time_s + rng.normal(0.0, jitter_s, time_s.size)))
    assert found.time_jitter_s == pytest.approx(jitter_s, rel=0.25)
    assert not found.interpolated


def test_a_jitter_too_small_to_tell_from_a_throttle_is_none() -> None:
    rng = np.random.default_rng(3)
    time_s = np.arange(0.0, 900.0, 5.0)
    found = errors_of(time_s, *racetrack(time_s + rng.normal(0.0, 0.03, time_s.size)))
    assert found.time_jitter_s == 0.0


def test_a_lag_that_slips_and_stays_shows_only_between_samples_far_apart() -> None:
    """Every second, from a feed whose lag is drawn anew every dozen seconds: neighbours share its error."""
    rng = np.random.default_rng(6)
    time_s = np.arange(0.0, 1400.0)
    lag_s = np.repeat(rng.normal(4.0, 2.0, 120), 12)[: time_s.size]
    found = errors_of(time_s, *racetrack(time_s - lag_s))
    assert found.untidy
    assert found.slips
    assert not found.interpolated
    # More than twice as large as it shows, for rows ten seconds apart share a part of it still.
    assert found.time_jitter_s == pytest.approx(2.5 * 2.0, rel=0.35)
    assert found.effective_s == 10.0
    assert np.diff(time_s[found.true_sample]).min() >= 5.0
    # A throttle that swings by three knots for tens of seconds is no clock.
    swung = racetrack(time_s + 1.5 / SPEED_MPS * 10.0 * np.sin(time_s / 10.0))
    assert not errors_of(time_s, *swung).untidy


def test_a_clock_whose_every_row_errs_each_for_itself_does_not_slip() -> None:
    """Three seconds at one a second: neighbours are out of order, and only further apart does the sigma show."""
    time_s = np.arange(0.0, 1400.0)
    found = errors_of(time_s, *racetrack(time_s + np.random.default_rng(1).normal(0.0, 3.0, time_s.size)))
    assert not found.slips
    assert found.time_jitter_s == pytest.approx(3.0, rel=0.3)
    assert found.true_sample.all()


def test_noise_on_both_axes_is_the_positions_and_not_the_clocks() -> None:
    rng = np.random.default_rng(4)
    time_s = np.arange(0.0, 900.0, 1.0)
    east, north = racetrack(time_s)
    noise = rng.normal(0.0, 12.0, (2, time_s.size))
    found = errors_of(time_s, east + noise[0], north + noise[1])
    assert found.time_jitter_s == 0.0
    assert found.position_noise_m == pytest.approx(12.0, rel=0.2)
    assert found.untidy
    little = errors_of(time_s, east + 0.5 * noise[0], north + 0.5 * noise[1])
    assert not little.untidy


def test_coarse_samples_tell_their_noise_on_straight_legs_and_without_one_not_at_all() -> None:
    """Turning, every 25 s: as right as a good position of surveillance, 30 m in 95 %, 12.3 m a sigma."""
    rng = np.random.default_rng(5)
    time_s = np.arange(0.0, 3000.0, 25.0)
    noise = rng.normal(0.0, 20.0, (2, time_s.size))
    found = errors_of(time_s, SPEED_MPS * time_s * 0.6 + noise[0], SPEED_MPS * time_s * 0.8 + noise[1])
    assert found.position_noise_m == pytest.approx(20.0, rel=0.25)
    round_s = np.arange(0.0, 500.0, 25.0)
    early = round_s + rng.normal(0.0, 1.0, round_s.size)
    circle = 2500.0 * np.cos(0.03 * early), 2500.0 * np.sin(0.03 * early)
    assert errors_of(round_s, *circle).position_noise_m == pytest.approx(30.0 / 2.4477, rel=0.01)


def test_places_wrong_by_fifty_metres_are_no_better_for_the_few_that_lie_in_line() -> None:
    """Steps of 375 m with such an error turn by 20° on a straight leg, there and back."""
    rng = np.random.default_rng(5)
    time_s = np.arange(0.0, 2400.0, 5.0)
    east, north = racetrack(time_s)
    found = errors_of(
        time_s, east + rng.normal(0.0, 50.0, time_s.size), north + rng.normal(0.0, 50.0, time_s.size)
    )
    assert found.position_noise_m == pytest.approx(50.0, rel=0.25)
    assert found.time_jitter_s == 0.0


def test_a_feed_that_went_straight_on_where_it_lost_the_aircraft_is_told() -> None:
    """Twelve seconds into a turn at rate one the straight is 270 m off it, and no wing flies back at once."""
    rng = np.random.default_rng(6)
    time_s = np.arange(0.0, 1200.0, 2.0)
    east, north = (column + rng.normal(0.0, 1.0, time_s.size) for column in racetrack(time_s))
    lost = (np.array([85.0, 210.0, 440.0]) / 2.0).astype(int)
    for row in lost:
        for column in (east, north):
            column[row : row + 7] = column[row] + (column[row] - column[row - 1]) * np.arange(7)
    lat, lon = places(east, north)
    flight = RawFlight(time_s=time_s, lat_deg=lat, lon_deg=lon, dated=False, channels={})
    seen = drop_coasted(flight)
    gone = np.setdiff1d(time_s, seen.time_s)
    # The true one from which it went on by the step before cannot be told from what follows.
    np.testing.assert_array_equal(gone, np.concatenate([time_s[row : row + 7] for row in lost]))
    assert [notice.code for notice in seen.notices] == ["position-coasted"]
    assert "21 samples left out, in 3 stretches, the longest 16 s" in seen.notices[0].message
    # Who is put five miles away after such a straight was not lost on it.
    beyond = np.where(time_s >= 97.0, 5.0 * 1852.0, 0.0)
    lat, lon = places(east + beyond, north)
    put_away = drop_coasted(replace(flight, lat_deg=lat, lon_deg=lon))
    assert 90.0 in put_away.time_s
    assert 446.0 not in put_away.time_s
    # Who flies like that all the time is a simulator's autopilot in still air, or a feed that joins corners.
    even = racetrack(time_s)
    lat, lon = places(*(np.interp(time_s, time_s[::7], column[::7]) for column in even))
    assert drop_coasted(replace(flight, lat_deg=lat, lon_deg=lon)).notices == ()


def test_who_makes_rows_up_writes_whole_seconds_for_true_samples_at_best() -> None:
    """1 s / √12 of rounding and 0.3 s of latency: less is not believed, whatever the chords look like."""
    true_s, rows_s = np.arange(0.0, 1200.0, 10.0), np.arange(0.0, 1190.0, 2.5)
    east, north = (np.interp(rows_s, true_s, column) for column in racetrack(true_s))
    found = errors_of(rows_s, east, north)
    assert found.interpolated
    assert found.time_jitter_s == pytest.approx(0.4163, abs=0.001)


def test_every_second_row_made_up_is_told() -> None:
    true_s, rows_s = np.arange(0.0, 1200.0, 10.0), np.arange(0.0, 1190.0, 5.0)
    east, north = (np.interp(rows_s, true_s, column) for column in racetrack(true_s))
    found = errors_of(rows_s, east, north)
    assert found.interpolated
    assert found.effective_s == pytest.approx(10.0)
    # In the turns the rows that are kept are the true ones.
    lap = np.mod(rows_s, 240.0)
    inside = (np.mod(lap, 120.0) > 70.0) & (np.mod(lap, 120.0) < 110.0) & (rows_s < rows_s[-1])
    assert (found.true_sample[inside] == (np.mod(rows_s[inside], 10.0) == 0.0)).all()


@pytest.mark.parametrize(("every_s", "digits"), [(1.0, 5), (1.0, 6), (1.0, 7), (0.2, 7), (0.2, 5)])
def test_rows_made_up_near_each_other_are_told_however_places_are_rounded(
    every_s: float, digits: int
) -> None:
    """Between rows a second apart an arc stands off its chord by less than two metres."""
    true_s, rows_s = np.arange(0.0, 1200.0, 8.3), np.arange(0.0, 1190.0, every_s)
    east, north = (np.interp(rows_s, true_s, column) for column in racetrack(true_s))
    found = errors_of(rows_s, east, north, digits=digits)
    assert found.interpolated
    assert found.interval_s == pytest.approx(every_s)
    assert found.effective_s == pytest.approx(8.3, abs=0.6)
    # Nothing that was made up counts in the turns, but what stands beside a true sample.
    lap_s = np.mod(rows_s, 120.0)
    inside = found.true_sample & (lap_s > 70.0) & (lap_s < 110.0) & (rows_s < 1180.0)
    assert np.abs(rows_s[inside][:, None] - true_s[None, :]).min(axis=1).max() < 2.0


def test_corners_between_rows_are_found_where_the_chords_meet() -> None:
    true_s, rows_s = np.arange(0.0, 1400.0, 27.0), np.arange(2.0, 1300.0, 5.0)
    corners = racetrack(true_s)
    east, north = (np.interp(rows_s, true_s, column) for column in corners)
    lat, lon = places(east, north)
    found = track_errors(rows_s, lat, lon)
    assert found.effective_s == pytest.approx(27.0, abs=1.0)
    assert found.corners.time_s.size >= 10
    nearest = np.abs(found.corners.time_s[:, None] - true_s[None, :])
    assert np.median(nearest.min(axis=1)) < 0.2
    true_lat, true_lon = places(*corners)
    which = nearest.argmin(axis=1)
    away = np.hypot(found.corners.lat_deg - true_lat[which], found.corners.lon_deg - true_lon[which])
    assert np.median(away) * METRES_PER_DEGREE < 10.0
    sampled, _, _ = true_samples(found, rows_s, lat, lon, 300.0, 900.0)
    assert (np.diff(sampled) > 0.0).all()
    assert sampled[0] >= 300.0
    assert sampled[-1] <= 900.0


def test_rows_inside_a_long_chord_are_as_good_as_samples_only_where_it_is_longer_than_usual() -> None:
    """On a feed of corners a minute apart every chord is long, and cuts turns as well as legs."""
    rows_s = np.arange(2.0, 1300.0, 5.0)
    for true_s, kept in (
        (np.arange(0.0, 1400.0, 61.0), False),
        (np.delete(np.arange(0.0, 1400.0, 27.0), 10), True),
    ):
        lat, lon = places(*(np.interp(rows_s, true_s, column) for column in racetrack(true_s)))
        found = track_errors(rows_s, lat, lon)
        nearest = np.abs(rows_s[found.true_sample][:, None] - true_s[None, :]).min(axis=1)
        # What is kept far from any true sample is an anchor.
        assert bool((nearest[2:-2] > 14.0).any()) == kept


def test_rounding_is_not_taken_for_rows_made_up() -> None:
    time_s = np.arange(0.0, 900.0, 1.0)
    found = errors_of(time_s, *racetrack(time_s), digits=5)
    assert not found.interpolated
    assert found.position_step_m == pytest.approx(1.11, rel=2e-3)
    assert found.time_step_s == 1.0


def test_coarse_rounding_is_noise_though_a_leg_along_a_meridian_shows_none() -> None:
    """A uniform error of 0.001° has a sigma of 0.001° / √12: 32 m of latitude."""
    time_s = np.arange(0.0, 900.0, 2.0)
    found = errors_of(time_s, *racetrack(time_s), digits=3)
    assert found.position_noise_m == pytest.approx(32.0, rel=0.1)
    assert found.untidy


@pytest.mark.parametrize("way_deg", [0.0, 40.0, 200.0])
def test_a_rounded_position_stands_for_the_middle_of_its_time(way_deg: float) -> None:
    """The first row of a run would lie ahead of the aircraft by half a step, there and back: as if the clock were."""
    time_s = np.arange(0.0, 600.0)
    east, north = 45.0 * time_s * np.sin(np.radians(way_deg)), 45.0 * time_s * np.cos(np.radians(way_deg))
    lat, lon = places(east, north, digits=3)
    flight = RawFlight(time_s=time_s.copy(), lat_deg=lat, lon_deg=lon, dated=False, channels={})
    (track,) = tracks([flight], Content("rounded.csv", b""), "table", "0" * 64)
    assert any(notice.code == "position-rounded" for notice in track.notices)
    first = np.flatnonzero((lat != lat[0]) | (lon != lon[0]))[0]
    inner = slice(2, -2)
    at_s = track.time_s[inner] + 0.5 * (first - 1)
    seen_north = (track.lat_deg[inner] - 10.0) * METRES_PER_DEGREE
    seen_east = (track.lon_deg[inner] - 20.0) * METRES_PER_DEGREE * np.cos(np.radians(10.0))
    ahead = (seen_east * np.sin(np.radians(way_deg)) + seen_north * np.cos(np.radians(way_deg))) - 45.0 * at_s
    assert abs(np.mean(ahead)) < 8.0


def test_too_few_rows_say_nothing() -> None:
    time_s = np.arange(0.0, 7.0)
    found = errors_of(time_s, *racetrack(time_s))
    assert not found.untidy
    assert found.position_noise_m == 0.0


def test_a_turn_that_a_hole_hides_makes_no_made_up_rows_of_the_straight_legs_beside_it() -> None:
    """A simulator's rows lie on their leg to the millimetre; what turned lies in the hole between them."""
    time_s = np.concatenate([np.arange(0.0, 350.0), np.arange(450.0, 900.0)])
    on_s = np.maximum(time_s - 400.0, 0.0)
    found = errors_of(time_s, SPEED_MPS * on_s, SPEED_MPS * (time_s - on_s))
    assert not found.interpolated and found.effective_s == 1.0


@pytest.mark.parametrize("beat_s", [9.37, 12.6, 17.2])
def test_a_sample_that_no_row_shows_lies_where_the_chords_beside_it_meet(beat_s: float) -> None:
    """A feed's true samples fall between its rows: their times and places follow from the rows before and after."""
    true_s = np.arange(0.31, 900.0, beat_s)
    rows_s = np.arange(1.0, 880.0)
    found = errors_of(rows_s, *(np.interp(rows_s, true_s, axis) for axis in racetrack(true_s)), digits=9)
    assert found.interpolated and found.effective_s == pytest.approx(beat_s, rel=0.02)
    corners = found.corners
    # Chords of a turn meet at an angle: there the corner is sharp, and known to the last digits.
    turned = np.abs(np.interp(corners.time_s, true_s, np.gradient(np.unwrap(np.arctan2(*np.gradient(
        np.stack(racetrack(true_s)), axis=1))), true_s))) > np.radians(1.5)  # fmt: skip
    nearest = true_s[np.abs(corners.time_s[:, None] - true_s).argmin(axis=1)]
    assert turned.sum() > 15
    assert np.abs(corners.time_s - nearest)[turned].max() < 0.1
    lat, lon = places(*racetrack(nearest), digits=9)
    off_m = METRES_PER_DEGREE * np.hypot(
        corners.lat_deg - lat, (corners.lon_deg - lon) * np.cos(np.radians(10.0))
    )
    assert off_m[turned].max() < 3.0
