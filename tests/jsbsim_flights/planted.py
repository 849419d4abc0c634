"""A hold flown by a model of the library with one fault planted in its second circuit, and none besides.

The pilot does what was reckoned beforehand in the known wind, whatever comes of it: rolls out on the course's
heading, not where it looks right, so that no second decision makes up for the fault. The clock is started abeam.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from tests.flights.air import MPS, Air, tas_from_eas
from tests.flights.aircraft import Hand
from tests.flights.cache import remembered
from tests.flights.flight import Flight
from tests.flights.pilot import Pilot, rate_one_bank_deg
from tests.flights.rehearsal import rehearse
from tests.jsbsim_flights.model import ModelAircraft, Turbulence
from tests.jsbsim_flights.plans import SINGLE

HERE = Path(__file__).resolve().parent

ORIGIN_DEG = (44.0, -28.0)
FIX_M = (0.0, 0.0)
COURSE_DEG = 30.0
LEG_S = 60.0
ARRIVAL_NM = 4.0
FAULTY = 2
CIRCUITS = 2
#: Wings level after the roll-out: a correction begun sooner, the same way round, would look like more of the turn.
LOOK_S = 15.0
#: After a circuit that ended on the course there is less to look at, and more leg left to settle beside it.
SHORT_LOOK_S = 4.0

#: The hand of a good instrument pilot on a calm day; the aircraft under it does the rest.
HAND = Hand(roll_rate_dps=5.0, tas_wander_kt=0.3, bank_wander_deg=0.3, heading_wander_deg=0.3)


@dataclass(frozen=True)
class Planted:
    """What is wrong with the circuit; angles count in the hold's direction of turn.

    ``fix_right_nm`` is how far right of the fix it begins; ``wind_change_kt`` is by how much the wind towards
    the right of the inbound course grows while it is flown, its mean being the wind that was reckoned with.
    """

    fix_right_nm: float = 0.0
    late_turn_s: float = 0.0
    outbound_bank_deg: float = 0.0
    outbound_heading_deg: float = 0.0
    outbound_time_s: float = 0.0
    inbound_bank_deg: float = 0.0
    rollout_heading_deg: float = 0.0
    wind_change_kt: float = 0.0


@dataclass(frozen=True)
class _Changing(Air):
    """A wind that is steady, changes evenly while the faulty circuit is flown, and is steady again."""

    half_east_kt: float = 0.0
    half_north_kt: float = 0.0
    since_s: float = math.inf
    over_s: float = 1.0

    def towards_mps(self, time_s: float, altitude_ft: float) -> tuple[float, float]:
        """Return the movement of the air: its mean while it changes is that of the steady wind."""
        east, north = super().towards_mps(time_s, altitude_ft)
        share = max(-1.0, min(1.0, 2.0 * (time_s - self.since_s) / self.over_s - 1.0)) * MPS
        return east + share * self.half_east_kt, north + share * self.half_north_kt


def _changed(air: Air, fault: Planted) -> Air:
    if not fault.wind_change_kt:
        return air
    right = math.radians(COURSE_DEG + 90.0)
    half_kt = 0.5 * fault.wind_change_kt
    return _Changing(
        **vars(air), half_east_kt=half_kt * math.sin(right), half_north_kt=half_kt * math.cos(right)
    )


class _Watched(ModelAircraft):
    """The model with somebody looking at the needle, to start the clock abeam the fix."""

    abeam_s: float | None = None
    _along_m = 0.0

    def step(self, bank_wanted_deg: float) -> None:
        """Fly on, and look."""
        super().step(bank_wanted_deg)
        toward = math.radians(COURSE_DEG)
        east, north = self.east_m - FIX_M[0], self.north_m - FIX_M[1]
        along_m = east * math.sin(toward) + north * math.cos(toward)
        if self._along_m > 0.0 >= along_m:
            self.abeam_s = self.time_s
        self._along_m = along_m


class _FaultyPilot:
    """Flies the hold by numbers."""

    def __init__(self, side: int, air: Air, fault: Planted) -> None:
        self.side, self.fault = side, fault
        level, tas_kt = SINGLE.altitude_ft, tas_from_eas(SINGLE.ias_kt, SINGLE.altitude_ft)
        wind = air.towards_mps(0.0, level)
        wind_kt = (wind[0] / MPS, wind[1] / MPS)
        self.bank_deg = rate_one_bank_deg(tas_kt)
        self.out_deg, self.leg_s = rehearse(
            course_deg=COURSE_DEG, side=side, tas_kt=tas_kt, bank_deg=self.bank_deg, wind_kt=wind_kt,
            inbound_m=tas_kt * MPS * LEG_S, inbound_s=LEG_S, roll_dps=HAND.roll_rate_dps,
        )  # fmt: skip
        self.timed_s = math.nan
        back = math.radians(COURSE_DEG + 180.0)
        self.craft = _Watched(
            np.random.default_rng(41_000), SINGLE, ORIGIN_DEG, air=_changed(air, fault),
            hand=HAND, turbulence=Turbulence(), heading_deg=COURSE_DEG,
            east_m=ARRIVAL_NM * 1852.0 * math.sin(back), north_m=ARRIVAL_NM * 1852.0 * math.cos(back),
        )  # fmt: skip
        self.pilot = Pilot(self.craft, wind_kt)  # type: ignore[arg-type]
        self.in_deg = self.pilot.reckoned_heading(COURSE_DEG)

    def fly(self) -> None:
        """Arrive along the course, fly the circuits, and fly on past the fix."""
        self._know_the_wind()
        self.pilot.track_to(FIX_M, COURSE_DEG)
        for number in range(1, CIRCUITS + 1):
            begun_s = self.craft.time_s
            beside_m = self.fault.fix_right_nm * 1852.0 if number == FAULTY - 1 else 0.0
            self._circuit(self.fault if number == FAULTY else Planted())
            self.pilot.hold_for(self.craft.heading_deg, LOOK_S if number == FAULTY else SHORT_LOOK_S)
            self._know_the_wind()
            self.pilot.intercept(FIX_M, COURSE_DEG, beside_m)
            self.pilot.track_to(FIX_M, COURSE_DEG, right_m=beside_m)
            if number == FAULTY - 1 and isinstance(self.craft.air, _Changing):
                now_s = self.craft.time_s
                self.craft.air = replace(self.craft.air, since_s=now_s, over_s=now_s - begun_s)
        self.pilot.hold_for(self.craft.heading_deg, 60.0)

    def _know_the_wind(self) -> None:
        """Track with the wind that blows now; headings and times of the circuit stay those reckoned before."""
        east, north = self.craft.air.towards_mps(self.craft.time_s, SINGLE.altitude_ft)
        self.pilot.wind_kt = (east / MPS, north / MPS)

    def _circuit(self, fault: Planted) -> None:
        pilot, side = self.pilot, self.side
        pilot.hold_for(self.craft.heading_deg, fault.late_turn_s)
        out_deg = self.out_deg + side * fault.outbound_heading_deg
        self.craft.abeam_s = None
        pilot.turn(side, self.bank_deg + fault.outbound_bank_deg, out_deg, least_deg=60.0)
        self._outbound(out_deg, fault)
        wanted = self.in_deg + side * fault.rollout_heading_deg
        pilot.turn(side, self.bank_deg + fault.inbound_bank_deg, wanted, least_deg=110.0)

    def _outbound(self, out_deg: float, fault: Planted) -> None:
        craft = self.craft
        if math.isnan(self.timed_s):
            # The rehearsal counts from wings level: the first circuit shows how long that is from abeam.
            self.pilot.hold_for(out_deg, self.leg_s)
            assert craft.abeam_s is not None
            self.timed_s = craft.time_s - craft.abeam_s
            return
        until_s = self.timed_s + fault.outbound_time_s
        self.pilot.hold(
            out_deg, lambda: craft.abeam_s is not None and craft.time_s >= craft.abeam_s + until_s
        )


def fly_planted(side: int, air: Air, fault: Planted) -> Flight:
    """Fly it, or remember it."""

    def make() -> Flight:
        pilot = _FaultyPilot(side, air, fault)
        pilot.fly()
        return Flight("planted", ORIGIN_DEG, pilot.craft.series())

    return remembered(f"planted {side} {air!r} {fault!r}", make, (HERE,))
