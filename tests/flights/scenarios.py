"""Draws of flights: the sets that the accuracy command measures on. Every case follows from its seed alone."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from tests.flights.air import Air
from tests.flights.aircraft import Hand
from tests.flights.hold_plan import Drift, FlightPlan, Habits, HoldPlan, Incident, Kind
from tests.flights.receiver import Receiver

ENTRIES: tuple[Kind, ...] = ("direct", "parallel", "offset")
DRIFTS: tuple[Drift, ...] = ("exact", "triple", "single", "none")


@dataclass(frozen=True)
class Case:
    """One flight to make and the receiver that watches it."""

    plan: FlightPlan
    receiver: Receiver
    steady: bool
    """Airspeed within a knot rms and no gusts."""


def arrival_heading(rng: np.random.Generator, entry: Kind, course_deg: float, side: int) -> float:
    """Draw a heading well inside an entry's sector.

    The outbound course less the heading, mirrored for a left hold: 0 to 70 offset, −110 to 0 parallel, the
    rest direct (US Navy P-821, figure 3-8). Eight degrees at least are kept from every edge.
    """
    low, high = {"offset": (8.0, 62.0), "parallel": (-102.0, -8.0), "direct": (78.0, 242.0)}[entry]
    return float((course_deg + 180.0 - side * rng.uniform(low, high)) % 360.0)


def _hand(rng: np.random.Generator, wander_kt: float) -> Hand:
    return Hand(
        roll_rate_dps=float(rng.uniform(3.0, 7.0)),
        roll_accel_dps2=float(rng.uniform(5.0, 12.0)),
        tas_wander_kt=wander_kt,
        bank_wander_deg=float(rng.uniform(0.3, 1.5)),
        heading_wander_deg=float(rng.uniform(0.4, 1.5)),
        altitude_wander_ft=float(rng.uniform(10.0, 50.0)),
    )


def _drift(rng: np.random.Generator, wind_share: float) -> Drift:
    """Draw how a pilot corrects: one who gets back onto the course before the fix, which is what makes it a hold.

    In much wind that takes more than no correction or a single one; those who fly so are in the odd set.
    """
    known = DRIFTS if wind_share < 0.07 else DRIFTS[:3] if wind_share < 0.12 else DRIFTS[:2]
    return known[int(rng.integers(len(known)))]


def _hold(
    rng: np.random.Generator, index: int, *, circuits: int, leg_s: float, wind_share: float
) -> HoldPlan:
    entry, side = ENTRIES[index % 3], 1 if (index // 3) % 2 == 0 else -1
    course = float(rng.uniform(0.0, 360.0))
    habits = Habits(
        drift=_drift(rng, wind_share),
        timing_error_s=float(rng.uniform(1.0, 6.0)),
        bank_error_deg=float(rng.uniform(0.3, 2.0)),
        late_at_fix_s=float(rng.uniform(0.3, 2.5)),
        heading_error_deg=float(rng.uniform(0.5, 3.0)),
        wind_error_kt=float(rng.uniform(0.5, 4.0)),
        clock="outbound" if rng.random() < 0.5 else "inbound",
    )
    return HoldPlan(
        course_deg=course,
        side=side,
        circuits=circuits,
        entry=entry,
        arrival_heading_deg=arrival_heading(rng, entry, course, side),
        arrival_nm=float(rng.uniform(3.0, 8.0)),
        leg_s=leg_s,
        habits=habits,
        departure_turn_deg=float(rng.uniform(-80.0, 80.0)),
    )


def _place(rng: np.random.Generator) -> tuple[float, float]:
    return float(rng.uniform(-62.0, 62.0)), float(rng.uniform(-180.0, 180.0))


def main_case(index: int, seed: int = 0) -> Case:
    """Draw one of the main set: 0–35 kt of wind, 85–210 kt, gusts to 3 kt, 1–5 s sampling."""
    rng = np.random.default_rng([seed, 1000 + index])
    lat, lon = _place(rng)
    tas = float(rng.uniform(85.0, 210.0))
    level = float(rng.uniform(2000.0, 6000.0) if tas < 150.0 else rng.uniform(5000.0, 16000.0))
    air = Air(
        float(rng.uniform(0, 360)), float(rng.uniform(0, 35)), level, gust_kt=float(rng.uniform(0.0, 3.0))
    )
    hold = _hold(
        rng,
        index,
        circuits=2 + index % 3,
        leg_s=90.0 if level > 14000.0 else 60.0,
        wind_share=air.speed_kt / tas,
    )
    plan = FlightPlan(
        seed=100_000 * (seed + 1) + index, lat_deg=lat, lon_deg=lon, tas_kt=tas, altitude_ft=level, air=air,
        hand=_hand(rng, float(rng.uniform(0.5, 3.0))), holds=(hold,), name=f"main {index}",
    )  # fmt: skip
    return Case(plan, _receiver(rng, index), steady=False)


def _receiver(rng: np.random.Generator, index: int) -> Receiver:
    return Receiver(
        interval_s=(1.0, 2.0, 5.0)[index % 3 if index % 2 else (index // 3) % 3],
        irregular=0.4 if rng.random() < 0.2 else 0.0,
        drift_memory_s=float(rng.uniform(60.0, 200.0)),
    )


def instrument_case(index: int, seed: int = 0) -> Case:
    """Draw one of the instrument's set: half flown with a steady hand in smooth air, half not."""
    rng = np.random.default_rng([seed, 5000 + index])
    steady = index % 2 == 0
    lat, lon = _place(rng)
    tas = float(rng.uniform(85.0, 230.0))
    level = float(rng.uniform(3000.0, 7000.0) if tas < 150.0 else rng.uniform(7000.0, 16000.0))
    wander = float(rng.uniform(0.5, 1.0) if steady else rng.uniform(0.5, 4.0))
    air = Air(
        float(rng.uniform(0, 360)), float(rng.uniform(0, 35)), level,
        gust_kt=0.0 if steady else float(rng.uniform(0.0, 3.0)),
    )  # fmt: skip
    kind = (index // 2) % 6
    if kind == 4:
        air = replace(air, veer_deg_per_hour=float(rng.choice([-1, 1]) * rng.uniform(20.0, 60.0)))
    hold = _hold(
        rng,
        index // 2,
        circuits=2 + (index // 2) % 4,
        leg_s=90.0 if level > 14000.0 else 60.0,
        wind_share=air.speed_kt / tas,
    )
    if kind == 5:
        shear = rng.uniform(-2.5, 2.5, 2)
        air = replace(air, shear_kt_per_kft=(float(shear[0]), float(shear[1])))
        hold = replace(hold, descend_ft=1000.0 if level > 6000.0 else 500.0)
    plan = FlightPlan(
        seed=500_000 * (seed + 1) + index, lat_deg=lat, lon_deg=lon, tas_kt=tas, altitude_ft=level, air=air,
        hand=_hand(rng, wander), holds=(hold,), name=f"instrument {index}",
    )  # fmt: skip
    return Case(plan, _receiver(rng, index // 2), steady=steady)


def odd_cases() -> tuple[Case, ...]:
    """Return the hard ones, each named for what is odd about it."""
    usual = HoldPlan(course_deg=75.0, circuits=3, arrival_heading_deg=60.0)
    plain = FlightPlan(
        seed=9000, tas_kt=110.0, altitude_ft=5000.0, air=Air(330.0, 18.0, 5000.0, gust_kt=1.0), holds=(usual,)
    )

    def odd(name: str, seed: int, hold: HoldPlan = usual, **changes: object) -> Case:
        return Case(
            replace(plain, name=name, seed=seed, holds=(hold,), **changes),  # type: ignore[arg-type]
            Receiver(),
            steady=False,
        )

    jet = {"tas_kt": 230.0, "altitude_ft": 12000.0, "hand": Hand(tas_wander_kt=1.5, roll_rate_dps=4.0)}
    stack_air = Air(280.0, 30.0, 12000.0, shear_kt_per_kft=(2.0, -1.5))
    return (
        odd("stack descent", 9001, replace(usual, circuits=4, descend_ft=1000.0), **jet, air=stack_air),
        odd("one circuit", 9002, replace(usual, circuits=1)),
        odd("one circuit after a parallel entry", 9003,
            replace(usual, circuits=1, entry="parallel", arrival_heading_deg=300.0)),
        odd("cut short to leave", 9004, replace(usual, incidents={3: Incident(outbound_s=20.0)})),
        odd("left on the outbound leg", 9005, replace(usual, ending="outbound")),
        odd("left in the inbound turn", 9006, replace(usual, ending="inbound turn")),
        odd("circle on the outbound leg", 9007, replace(usual, incidents={2: Incident(circle_outbound=True)})),
        odd("circle on the inbound leg", 9008,
            replace(usual, leg_s=120.0, incidents={2: Incident(circle_inbound=True)})),
        odd("fix missed by half a mile", 9009, replace(usual, incidents={2: Incident(miss_right_nm=0.5)})),
        odd("bank swinging 8°", 9010, hand=Hand(bank_swing_deg=8.0, bank_wander_deg=0.5)),
        odd("60 kt of wind at 90 kt", 9011,
            replace(usual, arrival_heading_deg=60.0, habits=Habits(drift="exact", wind_error_kt=1.0)),
            tas_kt=90.0, air=Air(75.0, 60.0, 5000.0, gust_kt=1.0)),
        odd("jet at 25° of bank", 9012, replace(usual, side=-1), **jet, air=Air(250.0, 40.0, 12000.0)),
        odd("no correction in 30 kt", 9017, replace(usual, habits=Habits(drift="none")),
            air=Air(330.0, 30.0, 5000.0, gust_kt=2.0)),
        odd("single correction in 30 kt, left", 9018, replace(usual, side=-1, habits=Habits(drift="single")),
            air=Air(180.0, 30.0, 5000.0, gust_kt=2.0)),
        odd("no correction, offset entry", 9019,
            replace(usual, entry="offset", arrival_heading_deg=215.0, habits=Habits(drift="none")),
            air=Air(200.0, 25.0, 5000.0)),
        Case(
            replace(
                plain, name="two holds", seed=9020, tas_kt=126.0,
                holds=(
                    replace(usual, side=-1, circuits=2, departure_s=60.0),
                    replace(
                        usual, course_deg=70.0, circuits=2, arrival_heading_deg=40.0, fix_m=(23000.0, 17000.0),
                        habits=Habits(drift="exact"),
                    ),
                ),
            ),
            Receiver(),
            steady=False,
        ),
        odd("southern hemisphere", 9013, lat_deg=-43.0, lon_deg=171.5),
        odd("date line", 9014, lat_deg=-17.0, lon_deg=179.98),
        odd("above 80° north", 9015, lat_deg=82.5, lon_deg=-60.0),
        odd("above 80° south", 9016, lat_deg=-86.0, lon_deg=120.0),
    )  # fmt: skip
