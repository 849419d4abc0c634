"""What is read off a track against what was put into it: noise, jitter and made-up rows of drawn tracks, by figures."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from analyser.logs.track_errors import TrackErrors, track_errors, true_samples
from tests.test_logs_track_errors import SPEED_MPS, errors_of, places, racetrack

Way = Callable[[np.ndarray], tuple[np.ndarray, np.ndarray]]


def circle(at_s: np.ndarray, radius_m: float = 1200.0) -> tuple[np.ndarray, np.ndarray]:
    angle = SPEED_MPS / radius_m * at_s
    return radius_m * (1.0 - np.cos(angle)), radius_m * np.sin(angle)


def straight(at_s: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    return 0.6 * SPEED_MPS * at_s, 0.8 * SPEED_MPS * at_s


def drawn(
    way: Way, interval_s: float, noise_m: float, jitter_s: float, seed: int, rows: int = 1500
) -> TrackErrors:
    rng = np.random.default_rng(seed)
    time_s = np.arange(float(rows)) * interval_s
    east, north = way(time_s + rng.normal(0.0, jitter_s, rows))
    noise = rng.normal(0.0, noise_m, (2, rows))
    return errors_of(time_s, east + noise[0], north + noise[1])


@pytest.mark.parametrize(
    ("way", "interval_s", "noise_m", "within"),
    [
        (straight, 1.0, 12.0, 0.04),
        (straight, 2.0, 12.0, 0.04),
        (straight, 5.0, 12.0, 0.04),
        (straight, 5.0, 40.0, 0.04),
        (racetrack, 1.0, 12.0, 0.08),
        (circle, 5.0, 12.0, 0.05),
        # Faster than twice a second neighbours err alike, and one in half a second is looked at.
        (straight, 0.25, 3.0, 0.08),
    ],
)
def test_places_that_err_each_for_itself_are_known_to_err_by_so_much(
    way: Way, interval_s: float, noise_m: float, within: float
) -> None:
    found = [drawn(way, interval_s, noise_m, 0.0, seed) for seed in range(3)]
    assert np.mean([one.position_noise_m for one in found]) == pytest.approx(noise_m, rel=within)
    assert {one.time_jitter_s for one in found} == {0.0}


@pytest.mark.parametrize(
    ("way", "interval_s", "noise_m", "jitter_s", "within"),
    [
        (straight, 1.0, 0.5, 1.0, 0.05),
        (straight, 5.0, 0.5, 1.0, 0.04),
        (straight, 5.0, 3.0, 0.5, 0.04),
        (straight, 10.0, 3.0, 2.0, 0.05),
        (racetrack, 5.0, 0.5, 1.0, 0.05),
        (racetrack, 5.0, 3.0, 0.5, 0.04),
        (racetrack, 10.0, 0.5, 1.0, 0.06),
        (circle, 5.0, 3.0, 0.5, 0.05),
        (circle, 10.0, 0.5, 1.0, 0.06),
    ],
)
def test_a_clock_that_errs_for_each_row_is_known_to_err_by_so_much(
    way: Way, interval_s: float, noise_m: float, jitter_s: float, within: float
) -> None:
    found = [drawn(way, interval_s, noise_m, jitter_s, seed) for seed in range(3)]
    assert np.mean([one.time_jitter_s for one in found]) == pytest.approx(jitter_s, rel=within)
    assert all(one.true_sample.all() and one.effective_s == interval_s for one in found)


@pytest.mark.parametrize(("jitter_s", "told"), [(0.08, False), (0.14, True)])
def test_a_jitter_below_a_tenth_of_a_second_is_no_clocks(jitter_s: float, told: bool) -> None:
    """At 60 m/s six metres: more than the three that receivers err by."""
    found = [drawn(straight, 1.0, 0.3, jitter_s, seed) for seed in range(3)]
    assert [one.time_jitter_s > 0.0 for one in found] == [told] * 3


@pytest.mark.parametrize(("along_m", "told"), [(2.6, False), (3.6, True)])
def test_what_stands_off_along_a_slow_track_by_less_than_three_metres_is_no_clocks(
    along_m: float, told: bool
) -> None:
    """At 20 m/s 0.13 and 0.18 s."""
    found = []
    for seed in range(3):
        rng = np.random.default_rng(seed)
        at_s = np.arange(1500.0)
        early = at_s + rng.normal(0.0, along_m / 20.0, 1500)
        found.append(errors_of(at_s, 12.0 * early + rng.normal(0.0, 0.2, 1500), 16.0 * early))
    assert [one.time_jitter_s > 0.0 for one in found] == [told] * 3


@pytest.mark.parametrize(("longer", "told"), [(1.3, False), (1.75, True)])
def test_errors_hardly_longer_along_than_across_are_the_places_own(longer: float, told: bool) -> None:
    """Half as large again at least, of 8 m across a straight way."""
    found = []
    for seed in range(3):
        rng = np.random.default_rng(seed)
        at_s = np.arange(3000.0)
        along, across = 8.0 * longer * rng.normal(size=3000), 8.0 * rng.normal(size=3000)
        north = SPEED_MPS * at_s + along
        found.append(errors_of(at_s, 0.6 * north - 0.8 * across, 0.8 * north + 0.6 * across))
    assert [one.time_jitter_s > 0.0 for one in found] == [told] * 3


@pytest.mark.parametrize(("noise_m", "untidy"), [(7.5, False), (8.8, True)])
def test_beyond_eight_metres_places_are_rough(noise_m: float, untidy: bool) -> None:
    assert drawn(straight, 1.0, noise_m, 0.0, 1).untidy == untidy


# Rows made up between true samples


def made_up(
    beat_s: float, *, rows_s: np.ndarray | None = None, digits: int = 7, until_s: float = 1400.0
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Write rows on the chords between true samples a beat apart, of a racetrack."""
    true_s = np.arange(0.0, until_s + 2.0 * beat_s, beat_s)
    at_s = np.arange(0.0, until_s) if rows_s is None else rows_s
    east, north = (np.interp(at_s, true_s, column) for column in racetrack(true_s))
    return at_s, *places(east, north, digits=digits)


@pytest.mark.parametrize("beat_s", [4.0, 7.0, 10.0])
def test_between_samples_of_an_even_beat_every_row_is_known_for_what_it_is(beat_s: float) -> None:
    """In a turn: on a leg nothing tells a sample from a row on the line between its neighbours, nor has to."""
    at_s, lat, lon = made_up(beat_s)
    found = track_errors(at_s, lat, lon)
    assert found.interpolated and found.interval_s == 1.0
    assert found.effective_s == pytest.approx(beat_s, abs=0.01)
    lap_s = at_s % 120.0
    in_turn = (lap_s > 60.0 + beat_s) & (lap_s < 120.0 - beat_s) & (at_s < 1380.0)
    assert (found.true_sample[in_turn] == (at_s % beat_s == 0.0)[in_turn]).all()
    # A feed writes whole seconds and passes on latency: half of 0.6 s, and a second's rounding.
    assert found.time_jitter_s >= np.hypot(0.3, 1.0 / np.sqrt(12.0)) - 1e-9


def test_rows_well_inside_a_long_chord_hold_the_path_down() -> None:
    """From fifteen seconds inside its ends: one leg of a racetrack, seen by no sample for 81 s."""
    true_s = np.arange(0.0, 1400.0, 9.0)
    true_s = true_s[(true_s <= 720.0) | (true_s >= 783.0)]
    at_s = np.arange(0.0, 1300.0)
    lat, lon = places(*(np.interp(at_s, true_s, column) for column in racetrack(true_s)))
    found = track_errors(at_s, lat, lon)
    inside = (at_s > 721.0) & (at_s < 782.0)
    anchors = at_s[inside & found.true_sample]
    assert (anchors[0], anchors[-1], anchors.size) == (735.0, 768.0, 34)


@pytest.mark.parametrize(("share", "told"), [(0.18, False), (0.4, True)])
def test_a_log_was_made_up_where_a_quarter_of_the_rows_in_turns_lies_on_lines(
    share: float, told: bool
) -> None:
    at_s = np.arange(0.0, 1200.0, 5.0)
    east, north = racetrack(at_s)
    # Every so many rows one is put on its neighbours' line.
    every = round(1.0 / share)
    rows = np.arange(2, at_s.size - 2, every)
    for column in (east, north):
        column[rows] = 0.5 * (column[rows - 1] + column[rows + 1])
    assert errors_of(at_s, east, north).interpolated == told


@pytest.mark.parametrize(("until_s", "told"), [(105.0, False), (360.0, True)])
def test_from_a_dozen_rows_in_turns_on_a_log_is_known_to_be_made_up(until_s: float, told: bool) -> None:
    """Half a circle in a minute, a row every six seconds and a sample every twelve: some ten tell in each turn."""
    at_s, lat, lon = made_up(12.0, rows_s=np.arange(0.0, until_s, 6.0))
    assert track_errors(at_s, lat, lon).interpolated == told


def test_true_samples_are_those_of_the_span_and_the_corners_between_them() -> None:
    at_s, lat, lon = made_up(12.6)
    found = track_errors(at_s, lat, lon)
    assert found.corners.time_s.size > 20
    seen_s, seen_lat, seen_lon = true_samples(found, at_s, lat, lon, 300.0, 900.0)
    assert seen_s[0] >= 300.0 and seen_s[-1] <= 900.0 and (np.diff(seen_s) > 0.0).all()
    inside = (found.corners.time_s > 300.0) & (found.corners.time_s < 900.0)
    rows = found.true_sample & (at_s >= 300.0) & (at_s <= 900.0)
    assert seen_s.size == inside.sum() + rows.sum() == seen_lat.size == seen_lon.size
    none = replace(found, corners=replace(found.corners, time_s=found.corners.time_s + 1e6))
    assert true_samples(none, at_s, lat, lon, 300.0, 900.0)[0].tolist() == at_s[rows].tolist()
    # Across the date line a corner's longitude is folded back into the circle.
    far = track_errors(at_s, lat, (lon - 20.0 + 179.999 + 180.0) % 360.0 - 180.0)
    folded = true_samples(far, at_s, lat, (lon - 20.0 + 179.999 + 180.0) % 360.0 - 180.0, 0.0, 1400.0)[2]
    assert folded.min() >= -180.0 and folded.max() < 180.0


# A lag that slips and stays


def slipping(sigma_s: float, stays_s: float, seed: int) -> TrackErrors:
    """Fly straight on; the feed lags by a time that is drawn anew every so many seconds."""
    rng = np.random.default_rng(seed)
    at_s = np.arange(3000.0)
    lag = np.repeat(rng.normal(0.0, sigma_s, int(3000.0 / stays_s) + 1), int(stays_s))[:3000]
    return errors_of(at_s, *straight(at_s - lag))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_lag_that_stays_for_a_dozen_seconds_is_told_and_its_rows_are_no_witnesses(seed: int) -> None:
    found = slipping(2.0, 12.0, seed)
    assert found.slips and not found.interpolated and found.untidy
    assert found.effective_s == 10.0
    assert np.flatnonzero(found.true_sample)[:4].tolist() == [0, 10, 20, 30]
    assert found.time_jitter_s == pytest.approx(2.5 * 2.0, rel=0.25)


@pytest.mark.parametrize(("sigma_s", "told"), [(0.6, False), (1.0, True)])
def test_a_lag_is_told_beyond_what_gusts_and_a_throttle_do_in_ten_seconds(sigma_s: float, told: bool) -> None:
    """45 m, at 60 m/s 0.75 s."""
    assert [slipping(sigma_s, 12.0, seed).slips for seed in range(3)] == [told] * 3
