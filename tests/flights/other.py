"""Whole flights that hold nowhere."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from tests.flights.air import MPS, Air
from tests.flights.aircraft import Aircraft, Hand
from tests.flights.flight import Flight
from tests.flights.other_moves import MOVES, Moves, journey
from tests.flights.pilot import Pilot


def make_other(seed: int, kinds: tuple[Callable[[Moves], None], ...] = (), *, hours: float = 0.75) -> Flight:
    """Fly about for some time, holding nowhere; the kinds of flying are drawn where none are named."""
    rng = np.random.default_rng([seed, 4321])
    air = Air(float(rng.uniform(0, 360)), float(rng.uniform(0, 35)), 3000.0, gust_kt=float(rng.uniform(0, 3)))
    hand = Hand(
        roll_rate_dps=float(rng.uniform(4, 9)),
        tas_wander_kt=float(rng.uniform(0.5, 3.0)),
        bank_wander_deg=float(rng.uniform(0.3, 2.0)),
        heading_wander_deg=float(rng.uniform(0.5, 2.0)),
    )
    tas_kt = float(rng.choice([75.0, 90.0, 100.0, 115.0, 140.0, 170.0]))
    craft = Aircraft(
        rng, tas_kt=tas_kt, altitude_ft=float(rng.uniform(3500, 6000)), air=air, hand=hand,
        heading_deg=float(rng.uniform(0, 360)),
    )  # fmt: skip
    wind = air.towards_mps(0.0, craft.height_ft)
    pilot = Pilot(craft, (wind[0] / MPS, wind[1] / MPS))
    flown = fly_other(pilot, rng, kinds, hours)
    lat, lon = float(rng.uniform(-60, 60)), float(rng.uniform(-180, 180))
    facts: dict[str, float | str] = {"seed": seed, "flown": flown, "tas_kt": tas_kt, "wind_kt": air.speed_kt}
    return Flight(f"other {seed}", (lat, lon), craft.series(), (), facts | diary_of(pilot))


def fly_other(
    pilot: Pilot, rng: np.random.Generator, kinds: tuple[Callable[[Moves], None], ...], hours: float
) -> str:
    """Fly one kind after the other, drawn from all where none are named; return what was flown."""
    moves, craft = Moves(pilot, rng), pilot.craft
    flown: list[str] = []
    while craft.time_s < hours * 3600.0:
        move = kinds[len(flown) % len(kinds)] if kinds else MOVES[int(rng.integers(len(MOVES)))]
        pilot.note(move.__name__)
        flown.append(move.__name__)
        begun_ft = craft.wanted_ft
        move(moves)
        craft.wanted_ft = max(begun_ft, 3000.0)
        pilot.note("on the way")
        moves.straight(float(rng.uniform(20, 150)))
        if rng.random() < 0.3:
            journey_home(moves)
    return ", ".join(flown)


def diary_of(pilot: Pilot) -> dict[str, float | str]:
    """Write the diary out as one fact of a flight."""
    return {"diary": "; ".join(f"{time_s:.0f} {what}" for time_s, what in pilot.diary)}


def journey_home(moves: Moves) -> None:
    """Turn towards where the flight began, so that it stays about there."""
    craft = moves.pilot.craft
    if np.hypot(craft.east_m, craft.north_m) > 20_000.0:
        bearing = float(np.degrees(np.arctan2(-craft.east_m, -craft.north_m)))
        moves.onto(moves.pilot.reckoned_heading(bearing))
        journey_leg = float(np.hypot(craft.east_m, craft.north_m) / craft.tas_kt / MPS * 0.5)
        moves.straight(min(journey_leg, 400.0))
    elif moves.rng.random() < 0.2:
        journey(moves)
