"""Draws of flights with faults of every kind and size, in any wind, to either hand, by either rules."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from tests.flights.air import Air
from tests.flights.hold_plan import Kind
from tests.planted.fault import Fault, Scene

ENTRIES: tuple[Kind, ...] = ("direct", "offset", "parallel")


def drawn(number: int) -> tuple[Scene, Fault]:
    """Draw one flight; it follows from its number alone."""
    rng = np.random.default_rng([number, 41])
    tas_kt = float(rng.uniform(90.0, 150.0))
    level_ft = float(500.0 * rng.integers(5, 17))
    scene = Scene(
        rules="icao" if rng.random() < 0.5 else "faa",
        side=1 if rng.random() < 0.5 else -1,
        course_deg=float(rng.integers(0, 360)),
        circuits=int(rng.integers(2, 5)),
        entry=ENTRIES[int(rng.integers(3))],
        level_ft=level_ft,
        tas_kt=tas_kt,
        air=Air(float(rng.uniform(0.0, 360.0)), float(rng.uniform(0.0, 0.2 * tas_kt)), level_ft),
        seed=1000 + number,
    )
    faults = _FAULTS if number < _MORE_FROM else (*_FAULTS, *_MORE)
    fault = faults[number % len(faults)](rng)
    if fault.entry_wrong_way and scene.entry == "direct":
        scene = replace(scene, entry="offset")
    some = tuple(sorted({int(one) for one in rng.integers(1, scene.circuits + 1, 2)}))
    return scene, replace(fault, on=some) if rng.random() < 0.4 else fault


def _sign(rng: np.random.Generator) -> float:
    return 1.0 if rng.random() < 0.5 else -1.0


_FAULTS = (
    lambda rng: Fault(),
    lambda rng: Fault(level_off_ft=_sign(rng) * float(rng.uniform(100.0, 1500.0))),
    lambda rng: Fault(bust_ft=_sign(rng) * float(rng.uniform(110.0, 600.0)), bust_s=float(rng.uniform(0.0, 90.0))),
    lambda rng: Fault(bust_ft=_sign(rng) * float(rng.uniform(150.0, 600.0)), bust_s=math.inf),
    lambda rng: Fault(sink_fpm=float(rng.uniform(10.0, 200.0))),
    lambda rng: Fault(bank_deg=float(rng.uniform(9.0, 45.0))),
    lambda rng: Fault(bank_deg=float(rng.uniform(9.0, 40.0)), bank_parts=("inbound",)),
    lambda rng: Fault(bank_deg=float(rng.uniform(9.0, 40.0)), bank_parts=("outbound",)),
    lambda rng: Fault(outbound_s=float(rng.uniform(-30.0, 60.0))),
    lambda rng: Fault(outbound_factor=float(rng.uniform(0.5, 4.0))),
    lambda rng: Fault(outbound_heading_deg=float(rng.uniform(-30.0, 30.0))),
    lambda rng: Fault(late_s=float(rng.uniform(4.0, 50.0))),
    lambda rng: Fault(drift="none"),
    lambda rng: Fault(drift="single"),
    lambda rng: Fault(speed_kt=_sign(rng) * float(rng.uniform(4.0, 25.0))),
    lambda rng: Fault(speed_kt=float(rng.uniform(60.0, 160.0))),
    lambda rng: Fault(swing_deg=float(rng.uniform(4.0, 10.0))),
    lambda rng: Fault(beside_nm=_sign(rng) * float(rng.uniform(0.1, 0.5))),
    lambda rng: Fault(wrong_hand=True),
    lambda rng: Fault(entry_wrong_way=True),
    lambda rng: Fault(entry_time_factor=float(rng.uniform(0.5, 2.2))),
    lambda rng: Fault(entry_track_off_deg=float(rng.uniform(-25.0, 25.0))),
    lambda rng: Fault(
        late_s=float(rng.uniform(0.0, 15.0)),
        outbound_s=float(rng.uniform(-20.0, 20.0)),
        outbound_heading_deg=float(rng.uniform(-12.0, 12.0)),
        speed_kt=float(rng.uniform(-8.0, 8.0)),
    ),
    lambda rng: Fault(
        bank_deg=float(rng.uniform(12.0, 28.0)), speed_kt=float(rng.uniform(-20.0, 20.0)),
        outbound_s=float(rng.uniform(-15.0, 25.0)),
    ),
)  # fmt: skip
#: Flights from this number on know these faults too; those before it stay the flights that they were.
_MORE_FROM = 50_000
_MORE = (
    lambda rng: Fault(late_s=-float(rng.uniform(5.0, 25.0))),
    lambda rng: Fault(outbound_is_s=float(rng.uniform(0.0, 12.0))),
    lambda rng: Fault(outbound_is_s=float(rng.uniform(100.0, 200.0))),
    lambda rng: Fault(steep_deg=float(rng.uniform(40.0, 65.0)), steep_s=float(rng.uniform(2.0, 8.0))),
    lambda rng: Fault(turn_speed_kt=float(rng.uniform(-25.0, 30.0))),
    lambda rng: Fault(arrival_speed_kt=float(rng.uniform(10.0, 60.0))),
    lambda rng: Fault(speed_kt=-float(rng.uniform(25.0, 40.0))),
    lambda rng: Fault(bust_ft=_sign(rng) * float(rng.uniform(150.0, 600.0)), bust_when="entry"),
    lambda rng: Fault(bust_ft=_sign(rng) * float(rng.uniform(150.0, 600.0)), bust_s=math.inf, bust_when="homeward"),
    lambda rng: Fault(bust_ft=_sign(rng) * float(rng.uniform(200.0, 1000.0)), bust_when="arrival"),
    lambda rng: Fault((int(rng.integers(1, 3)),), wrong_lap=True),
    lambda rng: Fault(entry_time_factor=float(rng.uniform(0.2, 2.7))),
)  # fmt: skip
