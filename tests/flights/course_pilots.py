"""Pilots by how they meet the inbound course: what tells the course of a hold that nobody gave.

They fly decently, but three kinds of them leave different traces. Who tracks draws the course; who homes on the fix
draws a bent line beside it, or a straight one that has nothing to do with it; who turns inbound early has hardly a leg.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from tests.flights.air import Air
from tests.flights.aircraft import Hand
from tests.flights.receiver import Receiver
from tests.flights.students import SECTORS, EntryPlan, Inbound, StudentCase, StudentPlan

PilotKind = Literal["tracks the course", "homes on the fix", "flies 20–35 s outbound"]
PILOT_KINDS: tuple[PilotKind, ...] = ("tracks the course", "homes on the fix", "flies 20–35 s outbound")
_ENTRIES: tuple[EntryPlan, ...] = ("direct", "parallel", "offset")


@dataclass(frozen=True)
class _Way:
    """How a kind of pilot flies in, and for how long out."""

    inbound: Inbound
    outbound_s: tuple[float, float]


_WAYS: dict[PilotKind, _Way] = {
    "tracks the course": _Way("track", (50.0, 75.0)),
    "homes on the fix": _Way("home", (50.0, 75.0)),
    "flies 20–35 s outbound": _Way("track", (20.0, 35.0)),
}


def course_case(kind: PilotKind, index: int, seed: int = 0) -> StudentCase:
    """Draw one of a kind of pilot: 0–35 kt of wind, both hands, all entries, two to four circuits, 1–5 s sampling."""
    rng = np.random.default_rng([seed, 61_000 + index, PILOT_KINDS.index(kind)])
    side, entry = (1 if index % 2 == 0 else -1), _ENTRIES[(index // 2) % 3]
    course, level = float(rng.uniform(0.0, 360.0)), float(rng.uniform(2500.0, 7000.0))
    low, high = SECTORS[entry]
    bank, way = float(rng.uniform(16.0, 25.0)), _WAYS[kind]
    plan = StudentPlan(
        seed=1_100_000 * (seed + 1) + 1000 * PILOT_KINDS.index(kind) + index,
        name=f"{kind} {index}",
        lat_deg=float(rng.uniform(-60.0, 60.0)),
        lon_deg=float(rng.uniform(-180.0, 180.0)),
        tas_kt=float(rng.uniform(85.0, 140.0)),
        altitude_ft=level,
        air=Air(
            float(rng.uniform(0.0, 360.0)), float(rng.uniform(0.0, 35.0)), level,
            gust_kt=float(rng.uniform(0.0, 3.0)),
        ),
        hand=Hand(
            roll_rate_dps=float(rng.uniform(3.0, 7.0)),
            tas_wander_kt=float(rng.uniform(0.5, 3.0)),
            bank_wander_deg=float(rng.uniform(0.3, 2.0)),
            heading_wander_deg=float(rng.uniform(0.4, 2.0)),
        ),
        course_deg=course,
        side=side,
        arrival_heading_deg=float((course + 180.0 - side * rng.uniform(low, high)) % 360.0),
        entry=entry,
        circuits=2 + index % 3,
        drift_multiple=float(rng.uniform(0.0, 3.0)),
        wind_known_share=float(rng.uniform(0.7, 1.2)),
        leg_s=float(rng.uniform(*way.outbound_s)),
        bank_deg=bank,
        bank_spread_deg=float(rng.uniform(0.5, 3.0)),
        watch="wings level",
        inbound=way.inbound,
        late_s=float(rng.uniform(0.5, 3.0)),
        mishaps=("",) * (2 + index % 3),
        departure_turn_deg=float(rng.uniform(-90.0, 90.0)),
    )  # fmt: skip
    receiver = Receiver(
        interval_s=(1.0, 2.0, 3.0, 5.0)[int(rng.integers(4))], drift_memory_s=float(rng.uniform(60.0, 200.0))
    )
    return StudentCase(plan, receiver)
