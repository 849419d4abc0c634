"""A pilot of fixed habits, and what becomes of one more circuit flown by them."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from analyser.holds.definition import Hold
from analyser.logs.track import Track
from tests.flights.air import density_ratio
from tests.flights.as_track import seen_track
from tests.flights.flight import Seen, on_earth
from tests.grading_flights import Faults, Lap, Plan, PointMass, fly_out_and_back, right_numbers

#: Where the invented holds lie.
ORIGIN_DEG = (48.0, 11.0)


@dataclass(frozen=True)
class Habits:
    """What the pilot does on every circuit; angles from the inbound course, positive to the hold's side.

    ``established``: takes care to pass the fix on the course, on the heading that holds it.
    """

    tas_kt: float
    late_s: float
    outbound_bank_deg: float
    outbound_heading_deg: float
    clock: str
    outbound_s: float
    inbound_bank_deg: float
    rollout_off_deg: float = 0.0
    established: bool = False


@dataclass(frozen=True)
class Practice:
    """One pilot's practice: the hold and its wind, the speed that was asked for, the habits."""

    plan: Plan
    habits: Habits
    laps: int
    seed: int

    @property
    def flown_plan(self) -> Plan:
        """The hold as it is at the speed that the pilot flies."""
        return replace(self.plan, tas_kt=self.habits.tas_kt)

    @property
    def asked_kias(self) -> float:
        """The indicated speed asked for; equivalent airspeed stands for it."""
        return self.plan.tas_kt * math.sqrt(density_ratio(self.plan.altitude_ft))


def right_habits(plan: Plan) -> Habits:
    """Find by trial what would be right at a plan's speed."""
    out_deg, timed_s = right_numbers(replace(plan, faults=()))
    return Habits(plan.tas_kt, 0.0, plan.bank_deg, out_deg, "abeam", timed_s, plan.bank_deg)


def fly_lap(aircraft: PointMass, plan: Plan, habits: Habits) -> Lap:
    """Fly one circuit by habits, from the fix to the inbound roll-out."""
    faults = Faults(
        late_turn_s=habits.late_s,
        outbound_bank_deg=habits.outbound_bank_deg - plan.bank_deg,
        inbound_bank_deg=habits.inbound_bank_deg - plan.bank_deg,
        rollout_heading_deg=habits.rollout_off_deg,
    )
    return fly_out_and_back(
        aircraft, habits.outbound_heading_deg, habits.outbound_s, faults, by_level=habits.clock != "abeam"
    )


def fly_practice(practice: Practice) -> PointMass:
    """Fly the hold: straight in, then every circuit by the same habits, a little different each time."""
    rng = np.random.default_rng(practice.seed)
    plan = practice.flown_plan
    aircraft = PointMass(plan, complex(-3.2 * plan.inbound_ground_kt / 60.0, 0.0), plan.inbound_heading_deg)
    while aircraft.at.real < 0.0:
        aircraft.step(0.0)
    for _ in range(practice.laps):
        off = rng.normal(0.0, 1.0, 5)
        habits = practice.habits
        fly_lap(
            aircraft,
            plan,
            replace(
                habits,
                late_s=max(habits.late_s + 0.5 * off[0], 0.0),
                outbound_bank_deg=habits.outbound_bank_deg + 0.5 * off[1],
                outbound_heading_deg=habits.outbound_heading_deg + off[2],
                outbound_s=habits.outbound_s + off[3],
                inbound_bank_deg=habits.inbound_bank_deg + 0.5 * off[4],
            ),
        )
        aircraft.home()
    return aircraft


def next_miss(practice: Practice, aircraft: PointMass, habits: Habits) -> complex:
    """Fly one more circuit from where the pilot is: where it rolls out, along + i·across, from where it should."""
    plan = replace(practice.flown_plan, tas_kt=habits.tas_kt)
    following = PointMass(plan, aircraft.at, aircraft.heading)
    if habits.established:
        following = PointMass(plan, 0j, plan.inbound_heading_deg)
    fly_lap(following, plan, habits)
    return following.at - complex(-plan.inbound_nm, 0.0)


def as_log(practice: Practice, aircraft: PointMass) -> tuple[Track, Hold]:
    """Let a receiver watch: a position a second, a few metres off, and the hold file that was flown by."""
    rng = np.random.default_rng([practice.seed, 7])
    plan = practice.plan
    end = aircraft.time
    tail = PointMass(practice.flown_plan, aircraft.at, aircraft.heading)
    tail.time = end
    tail.straight(45.0)
    rows = [*aircraft.rows, *tail.rows]
    time_s = np.arange(0.0, math.floor(rows[-1][0]))
    position = np.array([row[1] for row in rows])
    course = math.radians(plan.course_deg)
    right = plan.side * position.imag
    east = position.real * math.sin(course) + right * math.cos(course)
    north = position.real * math.cos(course) - right * math.sin(course)
    fine = np.array([row[0] for row in rows])
    east_m, north_m = (1852.0 * np.interp(time_s, fine, one) for one in (east, north))
    noise = rng.normal(0.0, 1.5, (2, time_s.size))
    lat, lon = on_earth(ORIGIN_DEG, east_m + noise[0], north_m + noise[1])
    seen = Seen(time_s, lat, lon, np.full(time_s.size, plan.altitude_ft))
    hold = Hold(
        *ORIGIN_DEG,
        plan.course_deg,
        "right" if plan.side > 0 else "left",
        plan.leg,
        "Invented hold",
        plan.altitude_ft,
        practice.asked_kias,
    )
    return seen_track(seen, f"closed loop {practice.seed}"), hold
