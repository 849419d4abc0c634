"""The worst logs that could be thought of: nothing false is said of wind, speed and timing; one flight stays one."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
import pytest

from analyser.debrief import debrief_track
from analyser.logs.clean import tracks
from analyser.logs.raw import Content, RawFlight
from tests.flights.as_track import to_hold
from tests.flights.cache import remembered
from tests.flights.flight import Flight, make_flight, on_earth
from tests.flights.scenarios import main_case

pytestmark = pytest.mark.slow

#: What a fault makes of the rows a second apart: what the recorder's clock says of each, and when it was truly taken.
Rows = tuple[np.ndarray, np.ndarray]


#: So many sigmas off is false: of 132 numbers from laps too few to tell a hand's wander well, none should be.
FAR_SD = 3.5


@cache
def flown(index: int) -> Flight:
    plan = main_case(index, 301).plan
    return remembered(f"worst {plan!r}", lambda: make_flight(plan))


def second_leg(index: int) -> tuple[float, float]:
    lap = flown(index).holds[0].circuits[1]
    assert lap.inbound_turn is not None
    return lap.outbound_turn.end_s + 3.0, lap.inbound_turn.start_s - 3.0


def shaken_clock(rng: np.random.Generator, true_s: np.ndarray, _: tuple[float, float]) -> Rows:
    return true_s + rng.normal(0.0, 3.0, true_s.size), true_s


def shaken_places(rng: np.random.Generator, true_s: np.ndarray, _: tuple[float, float]) -> Rows:
    return true_s, true_s + rng.normal(0.0, 3.0, true_s.size)


def set_back_ten_minutes(rng: np.random.Generator, true_s: np.ndarray, leg: tuple[float, float]) -> Rows:
    return true_s - np.where(true_s > sum(leg) / 2.0, 600.0, 0.0), true_s


def paused_twice(rng: np.random.Generator, true_s: np.ndarray, leg: tuple[float, float]) -> Rows:
    at = leg[0] + 10.0, leg[1] + 40.0
    return true_s + 30.0 * (true_s > at[0]) + 50.0 * (true_s > at[1]), true_s


def four_times_as_fast(rng: np.random.Generator, true_s: np.ndarray, leg: tuple[float, float]) -> Rows:
    return seen_each_second(true_s - 0.75 * np.clip(true_s - leg[0], 0.0, leg[1] - leg[0]), true_s)


def half_as_fast(rng: np.random.Generator, true_s: np.ndarray, leg: tuple[float, float]) -> Rows:
    return seen_each_second(true_s + np.clip(true_s - leg[0], 0.0, leg[1] - leg[0]), true_s)


def fast_to_the_end(rng: np.random.Generator, true_s: np.ndarray, leg: tuple[float, float]) -> Rows:
    return seen_each_second(true_s - 0.75 * np.maximum(true_s - leg[0], 0.0), true_s)


def seen_each_second(clock_s: np.ndarray, true_s: np.ndarray) -> Rows:
    rows_s = np.arange(0.0, clock_s[-1])
    return rows_s, np.interp(rows_s, clock_s, true_s)


def now_and_then(rng: np.random.Generator, true_s: np.ndarray, _: tuple[float, float]) -> Rows:
    keep = (true_s // 120 % 2 == 0) | (true_s % 30 == 0)
    return true_s[keep], true_s[keep]


def lags_and_catches_up(rng: np.random.Generator, true_s: np.ndarray, _: tuple[float, float]) -> Rows:
    return true_s, true_s - true_s % 60.0 / 10.0


def lag_that_slips(rng: np.random.Generator, true_s: np.ndarray, _: tuple[float, float]) -> Rows:
    at = np.cumsum(rng.exponential(12.0, true_s.size))
    return true_s, true_s - np.abs(rng.normal(0.0, 2.5, at.size + 1))[np.searchsorted(at, true_s)]


def each_place_five_times(rng: np.random.Generator, true_s: np.ndarray, _: tuple[float, float]) -> Rows:
    return true_s, true_s // 5 * 5.0


FAULTS: tuple[Callable[[np.random.Generator, np.ndarray, tuple[float, float]], Rows], ...] = (
    shaken_clock, shaken_places, set_back_ten_minutes, paused_twice, four_times_as_fast, half_as_fast,
    fast_to_the_end, now_and_then, lags_and_catches_up, lag_that_slips, each_place_five_times,
)  # fmt: skip


#: Of a clock that jumps places to a thousandth of a degree do not tell: a step a second is half a place.
NOT_ROUNDED = (paused_twice, four_times_as_fast, half_as_fast, fast_to_the_end)
KINDS = [(fault, 7, True) for fault in FAULTS] + [(f, 3, False) for f in FAULTS if f not in NOT_ROUNDED]


@pytest.mark.parametrize("index", [1, 4])
@pytest.mark.parametrize(("fault", "digits", "altitude"), KINDS)
def test_nothing_false_is_said(
    fault: Callable[[np.random.Generator, np.ndarray, tuple[float, float]], Rows],
    digits: int,
    *,
    altitude: bool,
    index: int,
) -> None:
    flight, rng = flown(index), np.random.default_rng([index, 5])
    clock_s, taken_s = fault(rng, np.arange(0.0, float(flight.series["time_s"][-1])), second_leg(index))
    east, north, height = (
        np.interp(taken_s, flight.series["time_s"], flight.series[name])
        for name in ("east_m", "north_m", "altitude_ft")
    )
    # A place that is written again is written with the same error.
    whole_s = np.arange(0.0, taken_s.max() + 10.0)
    noise = [np.interp(taken_s, whole_s, rng.normal(0.0, 0.5, whole_s.size)) for _ in range(2)]
    lat, lon = (np.round(v, digits) for v in on_earth(flight.origin_deg, east + noise[0], north + noise[1]))
    channels = {"altitude_ft": np.round(height)} if altitude else {}
    raw = RawFlight(time_s=clock_s, lat_deg=lat, lon_deg=lon, dated=False, channels=channels)
    (track,) = tracks([raw], Content("worst.csv", b""), "table", "0" * 64)
    truth = flight.holds[0]
    (one,) = debrief_track(track, hold=to_hold(truth)).holds
    motion = one.flown.motion
    assert abs(motion.wind_mean_east_kt - truth.wind_kt[0]) < FAR_SD * motion.wind_mean_sd_kt
    assert abs(motion.wind_mean_north_kt - truth.wind_kt[1]) < FAR_SD * motion.wind_mean_sd_kt
    assert abs(motion.tas_mean_kt - truth.tas_kt) < FAR_SD * motion.tas_mean_sd_kt
    assert not [found.sentence for found in one.judged.findings if "indicated" in found.sentence]
    assert len(one.judged.circuits) == len(truth.circuits)
    for lap, true in zip(one.judged.circuits, truth.circuits, strict=True):
        timing = lap.scores["timing"]
        if timing.verdict != "not judged" and timing.value is not None and true.timed_outbound_s is not None:
            assert abs(timing.value - true.timed_outbound_s) < max(3.0 * (timing.sd or 0.0), 4.0)
