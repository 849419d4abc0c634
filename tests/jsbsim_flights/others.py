"""The library's aircraft flown about without holding."""

from __future__ import annotations

import numpy as np

from tests.flights.air import MPS, Air
from tests.flights.aircraft import Hand
from tests.flights.flight import Flight
from tests.flights.other import diary_of, fly_other
from tests.flights.other_moves import (
    approach_laps,
    base_turn,
    circle_a_point,
    course_reversal,
    orbits,
    procedure_turn,
    s_turns,
    steep_turns,
    survey_lines,
    vectors,
)
from tests.flights.pilot import Pilot
from tests.jsbsim_flights.model import ModelAircraft, Type
from tests.jsbsim_flights.plans import HEAVIER_SINGLE, LIGHT, SINGLE, TRAINER, TURBOPROP

#: What needs neither slow flight nor a landing: the autopilot is not made for those.
ABOUT = (
    orbits, procedure_turn, survey_lines, s_turns, course_reversal, vectors, approach_laps, steep_turns, base_turn,
    circle_a_point,
)  # fmt: skip
TYPES = (SINGLE, HEAVIER_SINGLE, TRAINER, TURBOPROP)


def model_other(number: int, hours: float) -> Flight:
    """Fly one of the types about for some time; the kinds of flying follow one another."""
    rng, kind = np.random.default_rng(36_000 + number), TYPES[number % len(TYPES)]
    origin = (float(rng.uniform(-55, 55)), float(rng.uniform(-180, 180)))
    air = Air(float(rng.uniform(0, 360)), float(rng.uniform(5, 30)), kind.altitude_ft)
    craft = _craft(rng, kind, origin, air)
    wind = air.towards_mps(0.0, kind.altitude_ft)
    pilot = Pilot(craft, (wind[0] / MPS, wind[1] / MPS))  # type: ignore[arg-type]
    begin = (3 * number) % len(ABOUT)
    flown = fly_other(pilot, rng, ABOUT[begin:] + ABOUT[:begin], hours)
    facts: dict[str, float | str] = {"seed": number, "flown": flown}
    return Flight(f"{kind.name} about {number}", origin, craft.series(), (), facts | diary_of(pilot))


def _craft(rng: np.random.Generator, kind: Type, origin: tuple[float, float], air: Air) -> ModelAircraft:
    hand = Hand(tas_wander_kt=1.5, bank_wander_deg=1.0)
    return ModelAircraft(
        rng, kind, origin, air=air, hand=hand, turbulence=LIGHT, heading_deg=float(rng.uniform(0, 360)),
        east_m=0.0, north_m=0.0,
    )  # fmt: skip
