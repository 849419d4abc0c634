"""The aircraft: a point in moving air that rolls, turns as its bank makes it turn, and is carried along."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tests.flights.air import FT, MPS, Air, density_ratio
from tests.flights.wander import FloatArray, wandering

STEP_S = 0.05
GRAVITY = 9.80665

#: What is kept of every step, in this order. Metres, degrees, knots; heading is through the air.
SERIES = (
    "time_s", "east_m", "north_m", "heading_deg", "bank_deg", "tas_kt", "altitude_ft",
    "wind_east_kt", "wind_north_kt", "ground_east_kt", "ground_north_kt",
)  # fmt: skip


@dataclass(frozen=True)
class Hand:
    """How steady the pilot's hand is, and how the aircraft rolls. Sigmas are rms, memories seconds."""

    roll_rate_dps: float = 5.0
    roll_accel_dps2: float = 8.0
    tas_wander_kt: float = 1.0
    tas_memory_s: float = 30.0
    bank_wander_deg: float = 0.8
    bank_memory_s: float = 6.0
    bank_swing_deg: float = 0.0
    bank_swing_period_s: float = 9.0
    heading_wander_deg: float = 1.0
    heading_memory_s: float = 20.0
    altitude_wander_ft: float = 25.0
    altitude_memory_s: float = 40.0


class Aircraft:
    """Stepped by whoever flies it: each step is given the bank that is wanted."""

    def __init__(
        self,
        rng: np.random.Generator,
        *,
        tas_kt: float,
        altitude_ft: float,
        air: Air,
        hand: Hand,
        heading_deg: float = 0.0,
        east_m: float = 0.0,
        north_m: float = 0.0,
    ) -> None:
        self.air, self.hand = air, hand
        self.time_s = 0.0
        self.east_m, self.north_m = east_m, north_m
        self.heading_deg, self.bank_deg, self.roll_dps = heading_deg, 0.0, 0.0
        self.height_ft = self.wanted_ft = altitude_ft
        self.climb_fpm = 700.0
        # The pilot holds an indicated speed; equivalent airspeed stands for it.
        self.eas_kt = tas_kt * math.sqrt(density_ratio(altitude_ft))
        self.wanted_eas_kt = self.eas_kt
        self.speed_change_kt_per_s = 1.0
        self.tas_kt = tas_kt
        gust_memory_s = air.gust_length_m / (tas_kt * MPS)
        self._speed = wandering(rng, hand.tas_wander_kt, hand.tas_memory_s, STEP_S)
        self._gust_east = wandering(rng, air.gust_kt, gust_memory_s, STEP_S)
        self._gust_north = wandering(rng, air.gust_kt, gust_memory_s, STEP_S)
        self._bank = wandering(rng, hand.bank_wander_deg, hand.bank_memory_s, STEP_S)
        self._heading = wandering(rng, hand.heading_wander_deg, hand.heading_memory_s, STEP_S)
        self._height = wandering(rng, hand.altitude_wander_ft, hand.altitude_memory_s, STEP_S)
        self._height_rate = 0.0
        self._height_off = next(self._height)
        self._swing_phase = float(rng.uniform(0.0, 2.0 * math.pi))
        self.rows: list[tuple[float, ...]] = []
        self._keep(*self._wind())

    def unsteady_bank_deg(self) -> float:
        """Return what the hand adds to a bank it means to hold, now."""
        hand = self.hand
        swing = 0.0
        if hand.bank_swing_deg:
            turn = 2.0 * math.pi * self.time_s / hand.bank_swing_period_s
            swing = hand.bank_swing_deg * math.sin(turn + self._swing_phase)
        return self.bank_off + swing

    def step(self, bank_wanted_deg: float) -> None:
        """Fly on for one step."""
        hand, dt = self.hand, STEP_S
        self.bank_off, self.heading_off = next(self._bank), next(self._heading)
        roll_wanted = 1.6 * (bank_wanted_deg - self.bank_deg)
        roll_wanted = max(-hand.roll_rate_dps, min(hand.roll_rate_dps, roll_wanted))
        change = hand.roll_accel_dps2 * dt
        self.roll_dps += max(-change, min(change, roll_wanted - self.roll_dps))
        middle_bank = self.bank_deg + 0.5 * self.roll_dps * dt
        self.bank_deg += self.roll_dps * dt
        climb_fps = self._climb(dt)
        self._speed_up(dt)
        true_mps = self.tas_kt * MPS
        level_mps = math.sqrt(max(true_mps**2 - (climb_fps * FT) ** 2, 1.0))
        rate = math.degrees(GRAVITY * math.tan(math.radians(middle_bank)) / level_mps)
        middle = math.radians(self.heading_deg + 0.5 * rate * dt)
        self.heading_deg += rate * dt
        self.time_s += dt
        wind_east, wind_north = self._wind()
        self.east_m += (level_mps * math.sin(middle) + wind_east) * dt
        self.north_m += (level_mps * math.cos(middle) + wind_north) * dt
        self._keep(wind_east, wind_north)

    bank_off = 0.0
    heading_off = 0.0

    def _climb(self, dt: float) -> float:
        off = next(self._height)
        # The wander of the height is followed slowly: no aircraft jumps by a foot in a twentieth of a second.
        self._height_rate += (0.04 * (off - self._height_off) - 0.4 * self._height_rate) * dt
        self._height_off += self._height_rate * dt
        most = self.climb_fpm / 60.0
        rate = max(-most, min(most, 0.3 * (self.wanted_ft - self.height_ft)))
        self.height_ft += rate * dt
        return rate + self._height_rate

    def _speed_up(self, dt: float) -> None:
        most = self.speed_change_kt_per_s * dt
        self.eas_kt += max(-most, min(most, self.wanted_eas_kt - self.eas_kt))
        self.tas_kt = max(self.eas_kt / math.sqrt(density_ratio(self.height_ft)) + next(self._speed), 20.0)

    def _wind(self) -> tuple[float, float]:
        east, north = self.air.towards_mps(self.time_s, self.height_ft)
        return east + next(self._gust_east) * MPS, north + next(self._gust_north) * MPS

    def _keep(self, wind_east: float, wind_north: float) -> None:
        level_mps = self.tas_kt * MPS
        heading = math.radians(self.heading_deg)
        ground_east = (level_mps * math.sin(heading) + wind_east) / MPS
        ground_north = (level_mps * math.cos(heading) + wind_north) / MPS
        self.rows.append(
            (self.time_s, self.east_m, self.north_m, self.heading_deg, self.bank_deg, self.tas_kt,
             self.height_ft + self._height_off, wind_east / MPS, wind_north / MPS, ground_east, ground_north)
        )  # fmt: skip

    def series(self) -> dict[str, FloatArray]:
        """Return everything that was kept."""
        table = np.array(self.rows)
        return {name: table[:, i].copy() for i, name in enumerate(SERIES)}
