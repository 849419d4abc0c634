"""Which models fly which holds: both hands, all entries, calm to 35 kt, still air to moderate turbulence."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from tests.flights.air import Air, tas_from_eas
from tests.flights.aircraft import Hand
from tests.flights.flight import Flight, as_flown
from tests.flights.hold_pilot import fly
from tests.flights.hold_plan import Drift, FlightPlan, Habits, HoldPlan, Kind
from tests.flights.scenarios import arrival_heading
from tests.jsbsim_flights.autopilot import Gains
from tests.jsbsim_flights.model import ModelAircraft, Turbulence, Type

SINGLE = Type("c172p", 95.0, 4000.0)
HEAVIER_SINGLE = Type("c182", 115.0, 5000.0)
TWIN = Type("c310", 145.0, 6000.0)
TRAINER = Type("t6texan2", 165.0, 7000.0, gains=Gains(slip=0.015, ball_sum=0.004))
JET = Type("global5000", 200.0, 10000.0)
TURBOPROP = Type("OV10", 150.0, 6000.0)

#: Named for what they do: rms 1.5–1.8 kt and 3.3–4.2 kt per axis for the single, measured.
OFF, LIGHT, MODERATE = Turbulence(), Turbulence("light", 2, 15.0), Turbulence("moderate", 3, 15.0)


@dataclass(frozen=True)
class ModelPlan:
    """One flight: the model, the hold, the air, and how often it is sampled."""

    number: int
    kind: Type
    entry: Kind
    side: int
    wind: tuple[float, float]
    turbulence: Turbulence
    interval_s: float
    drift: Drift = "exact"
    circuits: int = 3
    veer_deg_per_hour: float = 0.0

    @property
    def name(self) -> str:
        """Return one line that says it all."""
        veer = f" veering {self.veer_deg_per_hour:.0f}°/h" if self.veer_deg_per_hour else ""
        hand = "right" if self.side > 0 else "left"
        return (
            f"{self.kind.name}: {self.entry}, {hand}, wind {self.wind[0]:03.0f}/{self.wind[1]:.0f}{veer}, "
            f"turbulence {self.turbulence.name}, {self.drift}, every {self.interval_s:g} s"
        )

    @property
    def steady(self) -> bool:
        """Whether the air is smooth and the speed is held within a knot rms."""
        return self.turbulence.severity == 0

    def flight_plan(self) -> FlightPlan:
        """Lay out the hold; course and arrival follow from the number."""
        rng = np.random.default_rng(31_000 + self.number)
        course = float(rng.uniform(0.0, 360.0))
        hold = HoldPlan(
            course_deg=course,
            side=self.side,
            circuits=self.circuits,
            entry=self.entry,
            arrival_heading_deg=arrival_heading(rng, self.entry, course, self.side),
            arrival_nm=5.0,
            habits=Habits(drift=self.drift, bank_error_deg=1.0, timing_error_s=3.0, wind_error_kt=2.0),
        )
        level = self.kind.altitude_ft
        return FlightPlan(
            seed=32_000 + self.number,
            lat_deg=float(rng.uniform(-55.0, 55.0)),
            lon_deg=float(rng.uniform(-180.0, 180.0)),
            tas_kt=tas_from_eas(self.kind.ias_kt, level),
            altitude_ft=level,
            air=Air(*self.wind, level, veer_deg_per_hour=self.veer_deg_per_hour),
            hand=Hand(
                roll_rate_dps=5.0,
                tas_wander_kt=0.7 if self.steady else 1.5,
                bank_wander_deg=0.5,
                heading_wander_deg=0.7,
            ),
            holds=(hold,),
            name=self.name,
        )


def fly_model(plan: ModelPlan) -> Flight:
    """Fly it with the library's aircraft, and read off the truth."""
    wanted = plan.flight_plan()
    origin = (wanted.lat_deg, wanted.lon_deg)

    def make(rng: np.random.Generator, *, tas_kt: float, altitude_ft: float, **rest: Any) -> ModelAircraft:
        return ModelAircraft(rng, plan.kind, origin, turbulence=plan.turbulence, **rest)

    pilot = fly(wanted, make)  # type: ignore[arg-type]
    return as_flown(wanted, pilot.craft.series(), pilot.diary)


PLANS = (
    ModelPlan(1, SINGLE, "direct", 1, (240.0, 15.0), OFF, 1.0),
    ModelPlan(2, SINGLE, "parallel", -1, (310.0, 25.0), LIGHT, 2.0, "triple"),
    ModelPlan(3, SINGLE, "offset", 1, (90.0, 12.0), MODERATE, 1.0),
    ModelPlan(4, SINGLE, "direct", -1, (20.0, 20.0), LIGHT, 5.0, veer_deg_per_hour=30.0),
    ModelPlan(5, HEAVIER_SINGLE, "direct", -1, (180.0, 22.0), OFF, 5.0, "triple"),
    ModelPlan(6, HEAVIER_SINGLE, "offset", 1, (350.0, 8.0), LIGHT, 1.0, "single"),
    ModelPlan(7, HEAVIER_SINGLE, "parallel", 1, (270.0, 30.0), OFF, 2.0, veer_deg_per_hour=-40.0),
    ModelPlan(8, TWIN, "parallel", 1, (45.0, 28.0), OFF, 2.0),
    ModelPlan(9, TWIN, "direct", 1, (135.0, 18.0), MODERATE, 5.0),
    ModelPlan(10, TWIN, "offset", -1, (225.0, 35.0), LIGHT, 1.0, "triple"),
    ModelPlan(11, TRAINER, "offset", -1, (300.0, 20.0), OFF, 1.0, circuits=4),
    ModelPlan(12, TRAINER, "parallel", -1, (160.0, 33.0), MODERATE, 2.0),
    ModelPlan(13, TRAINER, "direct", 1, (0.0, 0.0), LIGHT, 5.0, "none"),
    ModelPlan(14, JET, "direct", -1, (260.0, 35.0), OFF, 2.0),
    ModelPlan(15, JET, "offset", 1, (80.0, 25.0), LIGHT, 5.0, veer_deg_per_hour=25.0),
    ModelPlan(16, JET, "parallel", 1, (200.0, 14.0), LIGHT, 1.0),
    ModelPlan(17, TURBOPROP, "parallel", -1, (120.0, 10.0), OFF, 5.0, "single"),
    ModelPlan(18, TURBOPROP, "offset", 1, (330.0, 27.0), LIGHT, 2.0),
)
