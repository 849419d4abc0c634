"""A flight as it was, and as a receiver saw it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from pyproj import Geod

from tests.flights.diary import Diary, laps_of
from tests.flights.hold_pilot import fly
from tests.flights.hold_plan import FlightPlan
from tests.flights.receiver import Receiver, position_error_m, sample_times
from tests.flights.receiver_faults import Faults, clock_of, filtered, lags, retimed
from tests.flights.truth import Series, TrueHold, true_hold
from tests.flights.wander import FloatArray

EARTH = Geod(ellps="WGS84")


@dataclass(frozen=True)
class Flight:
    """One flight with its truth. Metres count from the origin; directions are true at the origin."""

    name: str
    origin_deg: tuple[float, float]
    series: Series
    holds: tuple[TrueHold, ...] = ()
    facts: dict[str, float | str] = field(default_factory=dict)


@dataclass(frozen=True)
class Seen:
    """What a receiver wrote of a flight; ``others`` is further instruments, by the name of what they show."""

    time_s: FloatArray
    lat_deg: FloatArray
    lon_deg: FloatArray
    altitude_ft: FloatArray | None
    others: dict[str, FloatArray] = field(default_factory=dict)


def on_earth(
    origin_deg: tuple[float, float], east_m: FloatArray, north_m: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Lay metres east and north of an origin on the ellipsoid: along the geodesic of that bearing and length."""
    lat, lon = origin_deg
    count = np.ones(np.shape(east_m))
    lon_deg, lat_deg, _ = EARTH.fwd(
        lon * count, lat * count, np.degrees(np.arctan2(east_m, north_m)), np.hypot(east_m, north_m)
    )
    return np.asarray(lat_deg), (np.asarray(lon_deg) + 180.0) % 360.0 - 180.0


def make_flight(plan: FlightPlan) -> Flight:
    """Fly a plan with holds and read off what was truly flown."""
    pilot = fly(plan)
    return as_flown(plan, pilot.craft.series(), pilot.diary)


def as_flown(plan: FlightPlan, series: Series, diary: Diary) -> Flight:
    """Read off series and diary what was truly flown."""
    origin = (plan.lat_deg, plan.lon_deg)
    holds = []
    for number, hold in enumerate(plan.holds):
        lat, lon = on_earth(origin, np.array([hold.fix_m[0]]), np.array([hold.fix_m[1]]))
        laps = laps_of(diary, number, hold)
        holds.append(true_hold(series, laps, (float(lat[0]), float(lon[0])), wind_changes=plan.air.changes))
    facts: dict[str, float | str] = {
        "tas_kt": plan.tas_kt,
        "wind_from_deg": plan.air.from_deg,
        "wind_kt": plan.air.speed_kt,
        "gust_kt": plan.air.gust_kt,
        "gust_length_m": plan.air.gust_length_m,
        "tas_wander_kt": plan.hand.tas_wander_kt,
        "tas_memory_s": plan.hand.tas_memory_s,
        "drift": plan.holds[0].habits.drift,
        "seed": plan.seed,
    }
    return Flight(plan.name, origin, series, tuple(holds), facts)


def see(flight: Flight, receiver: Receiver, seed: int) -> Seen:
    """Let a receiver watch a flight."""
    rng = np.random.default_rng([seed, 77])
    full, faults = flight.series, receiver.faults
    time_s = sample_times(rng, receiver, 0.0, float(full["time_s"][-1]))
    taken_s = time_s + rng.normal(0.0, faults.jitter_s, time_s.size) if faults.jitter_s else time_s
    if faults.lag_s:
        taken_s = taken_s - lags(rng, faults, time_s)
    east, north = (np.interp(taken_s, full["time_s"], full[name]) for name in ("east_m", "north_m"))
    east_off, north_off = position_error_m(rng, receiver, time_s)
    east, north = east + east_off, north + north_off
    height = np.interp(time_s, full["time_s"], full["altitude_ft"])
    height = height + rng.normal(0.0, receiver.altitude_ft, time_s.size)
    columns = np.stack([east, north, height], axis=1)
    others: dict[str, FloatArray] = {}
    if faults != Faults():
        time_s, columns, others = _spoilt(rng, faults, full, time_s, columns)
    lat, lon = on_earth(flight.origin_deg, columns[:, 0], columns[:, 1])
    digits = receiver.decimals
    return Seen(time_s, np.round(lat, digits), np.round(lon, digits), np.round(columns[:, 2]), others)


def _spoilt(
    rng: np.random.Generator, faults: Faults, full: Series, time_s: FloatArray, columns: FloatArray
) -> tuple[FloatArray, FloatArray, dict[str, FloatArray]]:
    """Do to a receiver's samples what its faults do: columns are east, north and height."""
    if faults.filter_s:
        columns = np.column_stack([filtered(faults, time_s, columns[:, :2]), columns[:, 2]])
    clock_s = true_s = time_s
    if faults.smoothed_s:
        path_m = np.column_stack([full["east_m"], full["north_m"]])
        clock_s = retimed(faults, full["time_s"], path_m, time_s)
    if faults.rows_s:
        rows_s = np.arange(np.ceil(clock_s[0]), clock_s[-1], faults.rows_s)
        columns = np.stack([np.interp(rows_s, clock_s, column) for column in columns.T], axis=1)
        true_s = clock_s = rows_s
    if faults.repeated:
        again = rng.random(len(columns)) < faults.repeated
        again[0] = False
        columns = columns[np.maximum.accumulate(np.where(again, 0, np.arange(len(columns))))]
    others = {} if faults.speed_noise_kt is None else _own_speed(rng, faults.speed_noise_kt, full, true_s)
    if faults.pauses_s or faults.accelerated:
        clock_s = clock_of(faults, clock_s)
    if faults.pauses_s and faults.paused_rows:
        clock_s, columns, others = _with_paused_rows(faults, true_s, clock_s, columns, others)
    if faults.whole_seconds:
        clock_s = np.round(clock_s)
        first = np.concatenate([[True], np.diff(clock_s) > 0.0])
        clock_s, columns = clock_s[first], columns[first]
        others = {name: values[first] for name, values in others.items()}
    return clock_s, columns, others


def _own_speed(
    rng: np.random.Generator, noise_kt: float, full: Series, time_s: FloatArray
) -> dict[str, FloatArray]:
    east, north = (
        np.interp(time_s, full["time_s"], np.gradient(full[name], full["time_s"])) * 3600.0 / 1852.0
        + rng.normal(0.0, noise_kt, time_s.size)
        for name in ("east_m", "north_m")
    )
    return {
        "ground_speed_kt": np.round(np.hypot(east, north)),
        "track_true_deg": np.round(np.degrees(np.arctan2(east, north)) % 360.0, 1),
    }


def _with_paused_rows(
    faults: Faults,
    true_s: FloatArray,
    clock_s: FloatArray,
    columns: FloatArray,
    others: dict[str, FloatArray],
) -> tuple[FloatArray, FloatArray, dict[str, FloatArray]]:
    """Write the last row before a pause again and again while it lasts."""
    step = float(np.median(np.diff(clock_s)))
    source, times = [np.arange(clock_s.size)], [clock_s]
    for at, lasted in faults.pauses_s:
        last = int(np.searchsorted(true_s, at, side="right")) - 1
        extra = clock_s[last] + np.arange(step, lasted, step)
        source.append(np.full(extra.size, last))
        times.append(extra)
    order = np.argsort(np.concatenate(times), kind="stable")
    index = np.concatenate(source)[order]
    return (
        np.concatenate(times)[order],
        columns[index],
        {name: values[index] for name, values in others.items()},
    )
