"""Draws of pilots: what is wrong with each, in which hold and wind."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from analyser.holds.definition import LegLimit
from tests.closed_loop.pilot import Habits, Practice, right_habits
from tests.grading_flights import Plan


def practice(index: int, seed: int = 0) -> tuple[Practice, str]:
    """Draw one pilot's practice, and the regime it is judged by."""
    rng = np.random.default_rng([seed, 31_000 + index])
    rules = ("icao", "faa")[index % 2]
    while True:
        tas = float(rng.uniform(85.0, 190.0))
        wind = float(rng.uniform(0.02, 0.22)) * tas
        plan = Plan(
            course_deg=float(rng.uniform(0.0, 360.0)),
            side=1 if (index // 2) % 2 == 0 else -1,
            tas_kt=tas,
            wind_from_deg=float(rng.uniform(0.0, 360.0)),
            wind_kt=wind,
            still_air=rules == "icao",
            altitude_ft=float(rng.uniform(3000.0, 9000.0)),
            leg=LegLimit(minutes=1.0),
            faults=(),
        )
        try:
            right = right_habits(plan)
        except AssertionError:
            # No circuit of that length closes in so much wind.
            continue
        if right.outbound_s > 20.0:
            break
    return Practice(plan, _habits(rng, plan, right), 2 + index % 2, 1000 * seed + index), rules


def _habits(rng: np.random.Generator, plan: Plan, right: Habits) -> Habits:
    """Plant one to three faults in a hold flown rightly otherwise."""
    drift = -plan.inbound_heading_deg
    faults = rng.choice(
        ["bank", "one bank", "heading", "time", "late", "clock", "speed"],
        size=int(rng.integers(1, 4)),
        replace=False,
        p=[0.2, 0.12, 0.26, 0.2, 0.1, 0.06, 0.06],
    )
    habits = right
    for fault in faults:
        if fault == "bank":
            off = float(rng.choice([-7.0, -5.0, -4.0, 4.0, 6.0]))
            habits = replace(habits, outbound_bank_deg=_bank(plan, off), inbound_bank_deg=_bank(plan, off))
        elif fault == "one bank":
            off = float(rng.choice([-6.0, -4.0, 4.0, 6.0]))
            which = str(rng.choice(["outbound_bank_deg", "inbound_bank_deg"]))
            habits = replace(habits, **{which: _bank(plan, off)})
        elif fault == "heading":
            multiple = float(rng.choice([-1.0, 0.0, 1.0, 2.0, 5.0]))
            off = -multiple * -drift if abs(drift) > 2.0 else float(rng.choice([-12.0, 12.0]))
            habits = replace(habits, outbound_heading_deg=180.0 + float(np.clip(off, -45.0, 45.0)))
        elif fault == "time":
            plain = float(rng.choice([60.0, right.outbound_s - 20.0, right.outbound_s + 20.0]))
            habits = replace(habits, outbound_s=max(plain, 10.0))
        elif fault == "late":
            habits = replace(habits, late_s=float(rng.uniform(6.0, 25.0)))
        elif fault == "clock":
            habits = replace(habits, clock="wings level", outbound_s=60.0)
        else:
            habits = _at_speed(habits, plan, float(rng.choice([-18.0, 15.0, 20.0])))
    return habits


def _bank(plan: Plan, off_deg: float) -> float:
    return max(plan.bank_deg + off_deg, 8.0)


def _at_speed(habits: Habits, plan: Plan, off_kt: float) -> Habits:
    """Fly at another speed all that was right for the one asked for; the bank goes with rate one."""
    tas = plan.tas_kt + off_kt
    rate = math.tan(math.radians(plan.bank_deg)) / plan.tas_kt
    bank = math.degrees(math.atan(rate * tas))
    same = (habits.outbound_bank_deg, habits.inbound_bank_deg) == (plan.bank_deg, plan.bank_deg)
    return replace(
        habits, tas_kt=tas, **({"outbound_bank_deg": bank, "inbound_bank_deg": bank} if same else {})
    )
