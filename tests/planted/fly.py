"""Flying a scene with a fault planted in it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import numpy as np

from analyser.holds.definition import ClearedLevel, Hold, LegLimit
from analyser.logs.track import Track
from tests.flights.air import density_ratio
from tests.flights.aircraft import Aircraft, Hand
from tests.flights.as_track import seen_track
from tests.flights.diary import laps_of
from tests.flights.flight import Flight, on_earth, see
from tests.flights.hold_pilot import _at_the_start, _HoldPilot
from tests.flights.hold_plan import FlightPlan, Habits, HoldPlan, Incident
from tests.flights.instruments import with_air_data
from tests.flights.pilot import Pilot
from tests.flights.receiver import Receiver
from tests.flights.truth import TrueHold, true_hold
from tests.planted.fault import Fault, Scene

#: A steady hand on a calm day: nothing but the planted fault is to be seen.
HAND = Hand(
    tas_wander_kt=0.4, bank_wander_deg=0.3, heading_wander_deg=0.3, altitude_wander_ft=12.0, roll_rate_dps=5.0
)
HABITS = Habits(
    drift="exact",
    timing_error_s=0.0,
    bank_error_deg=0.0,
    late_at_fix_s=0.0,
    heading_error_deg=0.0,
    wind_error_kt=0.0,
)


@dataclass(frozen=True)
class Flown:
    """The flight, what a receiver wrote of it, the hold as the file has it, and the truth."""

    scene: Scene
    fault: Fault
    track: Track
    hold: Hold
    truth: TrueHold
    flight: Flight


class _Craft(Aircraft):
    """An aircraft told beforehand when to go to another level, and what happens in its turns."""

    levels: list[tuple[float, float]]
    held_eas_kt = 0.0
    faster_in_turns_kt = 0.0
    steep_deg, steep_from_s, steep_until_s = 0.0, math.inf, math.inf

    def step(self, bank_wanted_deg: float) -> None:
        while self.levels and self.time_s >= self.levels[0][0]:
            self.wanted_ft = self.levels.pop(0)[1]
        turning = abs(bank_wanted_deg) > _TURNING_DEG
        self.wanted_eas_kt = self.held_eas_kt + (self.faster_in_turns_kt if turning else 0.0)
        if turning and self.steep_from_s <= self.time_s < self.steep_until_s:
            bank_wanted_deg = math.copysign(self.steep_deg, bank_wanted_deg)
        super().step(bank_wanted_deg)


#: More bank than a correction on a leg takes.
_TURNING_DEG = 9.0


class _FaultyPilot(_HoldPilot):
    """Flies as the plan has it but for the planted fault."""

    fault: Fault
    scene: Scene
    circuit = 0
    part = "outbound"

    def _bank(self) -> float:
        bank = super()._bank()
        for fault in self.fault.here(self.circuit) if self.circuit else ():
            if fault.bank_deg is not None and self.part in fault.bank_parts:
                bank = fault.bank_deg
        return bank

    def _note(self, what: str) -> None:
        super()._note(what)
        fault, craft = self.fault, self.craft
        level_ft = self.scene.level_ft + fault.level_off_ft
        if fault.bust_when == "arrival" and what == "entry fix":
            craft.levels.append((craft.time_s, level_ft + fault.bust_back_ft))
        if fault.bust_when == "entry" and what == "entry fix":
            self._bust(fault, 0.0)
        for one in fault.here(self.circuit) if what.endswith("inbound leg") else ():
            if one.bust_when == "homeward":
                self._bust(one, 10.0)

    def _bust(self, fault: Fault, in_s: float) -> None:
        craft = self.craft
        begin_s, level_ft = craft.time_s + in_s, self.scene.level_ft + self.fault.level_off_ft
        craft.levels.append((begin_s, level_ft + fault.bust_ft))
        if math.isfinite(fault.bust_s):
            back_s = begin_s + 60.0 * abs(fault.bust_ft) / fault.climb_fpm + fault.bust_s
            craft.levels.append((back_s, level_ft + fault.bust_back_ft))

    def _circuit(self, number: int) -> bool:
        self.circuit, self.part, craft, side = number, "outbound", self.craft, self.side
        here = self.fault.here(number)
        if number == 1:
            craft.held_eas_kt -= self.fault.arrival_speed_kt
        faster_kt = sum(one.lap_speed_kt for one in here)
        craft.held_eas_kt += faster_kt
        for one in here:
            if one.bust_ft and one.bust_when == "circuit":
                self._bust(one, 70.0)
        if any(one.orbit for one in here):
            self.pilot.turn_for(self.side, self._bank(), 360.0)
        if any(one.wrong_lap for one in here):
            self.side = -side
        craft.faster_in_turns_kt = sum(one.turn_speed_kt for one in here)
        flown = super()._circuit(number)
        self.side, craft.faster_in_turns_kt = side, 0.0
        craft.held_eas_kt -= faster_kt
        return flown

    def _turn_in(self, side: int, least_deg: float, right_m: float = 0.0) -> None:
        away = self.circuit and any(one.wrong_back for one in self.fault.here(self.circuit))
        super()._turn_in(-side if away else side, least_deg, right_m)

    def _reckon(self, happens: Incident) -> tuple[float, float]:
        heading, seconds = super()._reckon(happens)
        for fault in self.fault.here(self.circuit):
            heading -= self.side * fault.outbound_heading_deg
            if fault.steep_deg:
                # The turn begins now; rolling there and back takes time of its own.
                rolling_s = (fault.steep_deg - self._bank()) / self.craft.hand.roll_rate_dps
                self.craft.steep_deg, self.craft.steep_from_s = fault.steep_deg, self.craft.time_s + 4.0
                self.craft.steep_until_s = self.craft.steep_from_s + rolling_s + fault.steep_s
            if fault.outbound_is_s is not None:
                return heading, fault.outbound_is_s
            seconds = max(seconds * fault.outbound_factor + fault.outbound_s, 4.0)
        return heading, seconds

    def _outbound(self, heading: float, seconds: float, happens: Incident, *, left_early: bool) -> None:
        super()._outbound(heading, seconds, happens, left_early=left_early)
        self.part = "inbound"

    def _parallel(self) -> None:
        self._entry_leg(self.out_course, -self.side)

    def _offset(self) -> None:
        self._entry_leg(self.out_course - self.side * 30.0, self.side)

    def _entry_leg(self, track_deg: float, back: int) -> None:
        pilot, fault = self.pilot, self.fault
        wanted = pilot.reckoned_heading(track_deg - self.side * fault.entry_track_off_deg)
        self._turn_short(wanted)
        self._note("entry leg")
        pilot.hold_for(wanted, self.hold.leg_s * fault.entry_time_factor)
        self._note("entry turn back")
        self._turn_in(-back if fault.entry_wrong_way else back, 110.0)
        self._home()


def flown(scene: Scene, fault: Fault) -> Flown:
    """Fly a scene with a fault."""
    side = -scene.side if fault.wrong_hand else scene.side
    root = math.sqrt(density_ratio(scene.level_ft))
    speed_kias = round(scene.tas_kt * root)
    tas_kt = (speed_kias + fault.speed_kt) / root
    # Nearly along the inbound course: the first outbound turn is then that of any other circuit.
    off = {"direct": 168.0, "offset": 35.0, "parallel": -55.0}[scene.asked or scene.entry]
    off = off if scene.arrival_off_deg is None else scene.arrival_off_deg
    arrival = (scene.course_deg + 180.0 - side * off) % 360.0
    incidents = {}
    for number in range(1, scene.circuits + 1):
        here = fault.here(number)
        incidents[number] = Incident(
            late_at_fix_s=sum(one.late_s for one in here),
            drift=next((one.drift for one in here if one.drift), None),
            miss_right_nm=sum(one.beside_nm for one in here),
        )
    hold_plan = HoldPlan(
        course_deg=scene.course_deg,
        side=side,
        circuits=scene.circuits,
        entry=scene.entry,
        arrival_heading_deg=arrival,
        arrival_nm=7.0,
        leg_nm=scene.leg_nm,
        leg_s=60.0 if scene.level_ft <= 14000.0 else 90.0,
        habits=replace(
            HABITS,
            clock="outbound" if scene.rules == "icao" else "inbound",
            bank_limit_deg=25.0 if scene.rules == "icao" else 30.0,
        ),
        incidents=incidents,
        ending=scene.ending,
    )
    plan = FlightPlan(
        seed=scene.seed,
        tas_kt=tas_kt,
        altitude_ft=scene.level_ft + fault.level_off_ft,
        air=scene.air,
        hand=replace(HAND, bank_swing_deg=fault.swing_deg),
        holds=(hold_plan,),
        name="planted",
    )
    rng = np.random.default_rng(plan.seed)
    pilot = _at_the_start(rng, plan, hold_plan, _Craft)
    craft = pilot.craft
    assert isinstance(craft, _Craft)
    craft.levels, craft.climb_fpm = [], fault.climb_fpm
    craft.eas_kt += fault.arrival_speed_kt
    craft.held_eas_kt = craft.eas_kt
    if fault.bust_when == "arrival":
        craft.height_ft = craft.wanted_ft = craft.wanted_ft + fault.bust_ft
    if fault.sink_fpm:
        craft.climb_fpm, craft.wanted_ft = fault.sink_fpm, 0.0
    flies = _FaultyPilot(rng, pilot, hold_plan, 0)
    flies.fault, flies.scene = fault, scene
    flies.fly()
    return _written(plan, hold_plan, pilot, scene, fault, float(speed_kias))


def _written(
    plan: FlightPlan, hold_plan: HoldPlan, pilot: Pilot, scene: Scene, fault: Fault, speed_kias: float
) -> Flown:
    series = pilot.craft.series()
    origin = (plan.lat_deg, plan.lon_deg)
    lat, lon = on_earth(origin, np.array([0.0]), np.array([0.0]))
    truth = true_hold(
        series, laps_of(pilot.diary, 0, hold_plan), (float(lat[0]), float(lon[0])), wind_changes=False
    )
    flight = Flight(plan.name, origin, series, (truth,))
    seen = see(flight, Receiver(drifting_m=2.0, interval_s=scene.interval_s), scene.seed)
    if scene.logged_speed:
        seen = with_air_data(
            flight, seen, scene.seed, variation_deg=0.0, ias_bias_kt=0.0, temperature_off_isa_c=0.0
        )
    leg = (
        LegLimit(distance_nm=scene.leg_nm, fix_dme_nm=scene.fix_dme_nm) if scene.leg_nm is not None else None
    )
    track = _with_holes(seen_track(seen, "planted"), scene, truth)
    leave_at = None
    if scene.leave_late_s is not None:
        track = replace(track, start_utc=_STARTED)
        leave_at = _STARTED + timedelta(seconds=round(truth.end_s - scene.leave_late_s))
    hold = Hold(
        truth.fix_lat_deg, truth.fix_lon_deg, (scene.course_deg + scene.file_course_off_deg) % 360.0,
        "right" if scene.side > 0 else "left", leg,
        "Planted",
        altitude_ft=scene.level_ft if scene.level_given else None,
        speed_kias=speed_kias if scene.speed_given else None,
        max_kias=scene.max_kias, variation_deg=0.0, leave_fix_at=leave_at, category=scene.category,
        limiting_radial_true_deg=None if scene.radial_off_deg is None
        else (scene.course_deg + 180.0 - scene.side * scene.radial_off_deg) % 360.0,
        levels=tuple(ClearedLevel(level_ft, from_circuit=circuit) for circuit, level_ft in scene.cleared),
    )  # fmt: skip
    return Flown(scene, fault, track, hold, truth, flight)


def _with_holes(track: Track, scene: Scene, truth: TrueHold) -> Track:
    keep = np.ones(track.time_s.size, bool)
    for circuit, from_s, for_s in scene.holes:
        begin_s = truth.circuits[circuit - 1].start_s + from_s
        keep &= (track.time_s < begin_s) | (track.time_s > begin_s + for_s)
    return track.take(keep)


_STARTED = datetime(2026, 3, 14, 9, 0, tzinfo=UTC)
