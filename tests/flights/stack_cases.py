"""Airliners in a stack, as a feed wrote them: descending laps in strong winds, true samples a turn's half apart."""

from __future__ import annotations

import numpy as np

from tests.flights.air import Air
from tests.flights.aircraft import Hand
from tests.flights.hold_plan import FlightPlan, Habits, HoldPlan, Incident
from tests.flights.receiver import Receiver
from tests.flights.receiver_faults import Faults
from tests.flights.scenarios import ENTRIES, Case, arrival_heading


def stack_case(index: int, seed: int = 0) -> Case:
    """Draw one: 210–265 kt, 20–50 kt of wind, two or three circuits, chords of 20–30 s; half are cut short to leave."""
    rng = np.random.default_rng([seed, 41000 + index])
    place = float(rng.uniform(-55.0, 55.0)), float(rng.uniform(-180.0, 180.0))
    tas, level = float(rng.uniform(210.0, 265.0)), float(rng.uniform(8000.0, 14000.0))
    air = Air(
        float(rng.uniform(0.0, 360.0)),
        float(rng.uniform(20.0, 50.0)),
        level,
        gust_kt=float(rng.uniform(0.0, 3.0)),
    )
    hold = _hold(rng, index)
    hand = Hand(roll_rate_dps=float(rng.uniform(3.0, 6.0)), tas_wander_kt=float(rng.uniform(1.0, 4.0)))
    plan = FlightPlan(
        seed=100_000 * (seed + 1) + 50_000 + index, lat_deg=place[0], lon_deg=place[1], tas_kt=tas,
        altitude_ft=level, air=air, hand=hand, holds=(hold,), name=f"stack {index}",
    )  # fmt: skip
    faults = Faults(rows_s=5.0, jitter_s=0.5, uneven=float(rng.uniform(0.1, 0.3)))
    return Case(plan, Receiver(float(rng.uniform(20.0, 30.0)), faults=faults), steady=False)


def _hold(rng: np.random.Generator, index: int) -> HoldPlan:
    entry, side, circuits = ENTRIES[index % 3], 1 if index % 2 == 0 else -1, 2 + (index // 2) % 2
    course = float(rng.uniform(0.0, 360.0))
    habits = Habits(
        drift=("exact", "triple", "single")[int(rng.integers(3))],  # type: ignore[arg-type]
        timing_error_s=float(rng.uniform(1.0, 8.0)),
        bank_error_deg=float(rng.uniform(0.3, 1.5)),
        late_at_fix_s=float(rng.uniform(0.3, 3.0)),
        heading_error_deg=float(rng.uniform(0.5, 3.0)),
        wind_error_kt=float(rng.uniform(1.0, 5.0)),
    )
    short = Incident(outbound_s=float(rng.uniform(8.0, 30.0)))
    return HoldPlan(
        course_deg=course,
        side=side,
        circuits=circuits,
        entry=entry,
        arrival_heading_deg=arrival_heading(rng, entry, course, side),
        arrival_nm=float(rng.uniform(6.0, 14.0)),
        habits=habits,
        incidents={circuits: short} if index % 4 < 2 else {},
        descend_ft=float(rng.uniform(800.0, 1000.0)) * circuits,
        departure_turn_deg=float(rng.uniform(-80.0, 80.0)),
    )
