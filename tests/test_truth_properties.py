"""What a flight's measures must not depend on: where north is, which hand, which place, what time, how sampled."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from analyser.circuits.find import find_holds
from analyser.circuits.flown import FlownHold
from analyser.logs.read import read_log
from tests.flights.air import Air
from tests.flights.as_track import seen_track
from tests.flights.flight import Flight, Seen, make_flight, on_earth
from tests.flights.hold_plan import FlightPlan, Habits, HoldPlan
from tests.flights.receiver import Receiver, position_error_m, sample_times
from tests.flights.wander import FloatArray
from tests.flights.write import write_gpx

pytestmark = pytest.mark.slow

PLACE = (47.0, -32.0)
FEW = settings(
    max_examples=5,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)


@lru_cache
def flown() -> Flight:
    hold = HoldPlan(
        course_deg=50.0, circuits=3, entry="offset", arrival_heading_deg=200.0, habits=Habits(drift="triple")
    )
    air = Air(350.0, 19.0, 4000.0, gust_kt=1.0)
    lat, lon = PLACE
    return make_flight(FlightPlan(seed=77, lat_deg=lat, lon_deg=lon, tas_kt=112.0, air=air, holds=(hold,)))


@dataclass(frozen=True)
class Metres:
    """What the receiver wrote, in metres on the flight's map: this is what the tests move about."""

    time_s: FloatArray
    east: FloatArray
    north: FloatArray
    altitude_ft: FloatArray

    def placed(self, place: tuple[float, float] = PLACE) -> Seen:
        lat, lon = on_earth(place, self.east, self.north)
        return Seen(self.time_s, lat, lon, self.altitude_ft)

    def turned(self, degrees: float) -> Metres:
        """Turn everything clockwise about the fix."""
        c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
        return replace(self, east=self.east * c + self.north * s, north=self.north * c - self.east * s)


@lru_cache
def watched(interval_s: float = 1.0, drifting_m: float = 3.0, irregular: float = 0.0) -> Metres:
    rng = np.random.default_rng(78)
    receiver = Receiver(interval_s=interval_s, drifting_m=drifting_m, irregular=irregular)
    series = flown().series
    time_s = sample_times(rng, receiver, 0.0, float(series["time_s"][-1]))
    # The slow error is one process however often it is looked at: the same draw for every sampling.
    fine_s = np.arange(0.0, float(series["time_s"][-1]) + 1.0, 1.0)
    slow = position_error_m(np.random.default_rng(79), replace(receiver, white_m=0.0), fine_s)
    east, north = (
        np.interp(time_s, series["time_s"], series[name]) + np.interp(time_s, fine_s, off)
        for name, off in zip(("east_m", "north_m"), slow, strict=True)
    )
    noise = rng.normal(0.0, 0.3, (2, time_s.size))
    return Metres(
        time_s,
        east + noise[0],
        north + noise[1],
        np.round(np.interp(time_s, series["time_s"], series["altitude_ft"])),
    )


def hold_of(seen: Seen) -> FlownHold:
    (found,) = find_holds(seen_track(seen, "moved"))
    return found


@lru_cache
def usual() -> FlownHold:
    return hold_of(watched().placed())


def fold(angle_deg: float) -> float:
    return (angle_deg + 180.0) % 360.0 - 180.0


def same(
    one: FlownHold,
    two: FlownHold,
    *,
    turned_deg: float = 0.0,
    mirrored: bool = False,
    sds: float = 0.3,
    later_s: float = 0.0,
) -> None:
    """Hold the measures of two holds against each other, one of them turned or mirrored; differences in sigmas."""
    hand = -1.0 if mirrored else 1.0
    assert (one.hold.turns == two.hold.turns) is not mirrored
    assert one.entry is not None and two.entry is not None
    assert one.entry.flown == two.entry.flown
    assert len(one.circuits) == len(two.circuits)
    course = hand * one.hold.inbound_course_true_deg + turned_deg
    assert abs(fold(two.hold.inbound_course_true_deg - course)) <= 0.2 + sds * (one.course_sd_deg or 0.0)
    wind = complex(one.motion.wind_mean_north_kt, hand * one.motion.wind_mean_east_kt)
    wind *= np.exp(1j * np.radians(turned_deg))
    found = complex(two.motion.wind_mean_north_kt, two.motion.wind_mean_east_kt)
    assert abs(found - wind) <= 0.02 + sds * one.motion.wind_mean_sd_kt * np.sqrt(2.0)
    assert abs(two.motion.tas_mean_kt - one.motion.tas_mean_kt) <= 0.02 + sds * one.motion.tas_mean_sd_kt
    for mine, other in zip(one.circuits, two.circuits, strict=True):
        assert abs(mine.start_s + later_s - other.start_s) <= 0.3 + 2.0 * sds
        for a, b in ((mine.outbound_turn, other.outbound_turn), (mine.inbound_turn, other.inbound_turn)):
            assert a is not None and b is not None
            assert abs(b.bank_mean_deg - hand * a.bank_mean_deg) <= 0.03 + 2.0 * sds * a.bank_mean_sd_deg
            assert abs(b.start_s - later_s - a.start_s) <= 0.1 + 2.0 * sds * a.start_sd_s
            assert abs(b.end_s - later_s - a.end_s) <= 0.1 + 2.0 * sds * a.end_sd_s


@FEW
@given(st.floats(1.0, 359.0))
def test_turned_about_the_fix(degrees: float) -> None:
    same(usual(), hold_of(watched().turned(degrees).placed()), turned_deg=degrees)


def test_mirrored() -> None:
    seen = watched()
    same(usual(), hold_of(replace(seen, east=-seen.east).placed()), mirrored=True)


@FEW
@given(st.floats(-75.0, 75.0), st.floats(-180.0, 180.0))
def test_at_another_place(lat: float, lon: float) -> None:
    same(usual(), hold_of(watched().placed((lat, lon))))


@pytest.mark.parametrize(
    "place", [(47.0, 180.0), (-47.0, -179.999), (0.0, 0.0), (83.0, 10.0), (-88.0, 100.0)]
)
def test_at_a_hard_place(place: tuple[float, float]) -> None:
    same(usual(), hold_of(watched().placed(place)))


def test_later_in_the_log() -> None:
    """A quarter of an hour of straight flight before it moves every instant by that, and changes nothing else."""
    seen = watched()
    before_s = np.arange(-900.0, 0.0)
    speed = [(v[10] - v[0]) / 10.0 for v in (seen.east, seen.north)]
    lead = Metres(
        np.concatenate([before_s, seen.time_s]),
        np.concatenate([seen.east[0] + speed[0] * before_s, seen.east]),
        np.concatenate([seen.north[0] + speed[1] * before_s, seen.north]),
        np.concatenate([np.full(before_s.size, seen.altitude_ft[0]), seen.altitude_ft]),
    )
    same(usual(), hold_of(lead.placed()), later_s=900.0)


@pytest.mark.parametrize("hour", [12, 23])
def test_across_midnight(tmp_path: Path, hour: int) -> None:
    """From a file, for that is where a day can change."""
    path = tmp_path / "night.gpx"
    write_gpx(path, watched().placed(), datetime(2026, 12, 31, hour, 52, 0, tzinfo=UTC), "invented")
    (track,) = read_log(path)
    (found,) = find_holds(track)
    same(usual(), found, sds=0.5)


@pytest.mark.parametrize(
    ("interval_s", "irregular"), [(0.2, 0.0), (2.0, 0.0), (2.0, 0.5), (5.0, 0.0), (5.0, 0.4)]
)
def test_sampled_otherwise(interval_s: float, irregular: float) -> None:
    same(usual(), hold_of(watched(interval_s, irregular=irregular).placed()), sds=2.0)


@FEW
@given(st.floats(0.0, 8.0))
def test_seen_by_a_worse_receiver(drifting_m: float) -> None:
    same(usual(), hold_of(watched(1.0, drifting_m).placed()), sds=2.0)
