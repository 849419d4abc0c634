"""The library's flights as a receiver saw them: ten times a second, thinned to what is wanted, three metres off."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from tests.flights.cache import remembered
from tests.flights.flight import Seen, see
from tests.flights.receiver import Receiver
from tests.flights.truth import TrueHold
from tests.jsbsim_flights.plans import PLANS, ModelPlan, fly_model

HERE = Path(__file__).resolve().parent


@dataclass(frozen=True)
class ModelSeen:
    """One flight of the library, seen and known."""

    plan: ModelPlan
    seen: Seen
    holds: tuple[TrueHold, ...]


def watch_model(plan: ModelPlan) -> ModelSeen:
    """Fly one plan, or remember it, and let a receiver watch it."""

    def make() -> ModelSeen:
        flight = fly_model(plan)
        watched = see(flight, Receiver(interval_s=0.1), 33_000 + plan.number)
        every = round(plan.interval_s / 0.1)
        assert watched.altitude_ft is not None
        thinned = Seen(
            watched.time_s[::every],
            watched.lat_deg[::every],
            watched.lon_deg[::every],
            watched.altitude_ft[::every],
        )
        return ModelSeen(plan, thinned, flight.holds)

    return remembered(f"model {plan!r}", make, (HERE,))


__all__ = ["PLANS", "ModelSeen", "watch_model"]
