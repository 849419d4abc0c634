"""Weak students: holds flown as badly as people do fly them, with what was truly flown.

They misjudge the wind by nothing to three times, time their legs from 20 to 140 s, bank between 8° and 38°, hold
neither heading nor height, start the watch over the fix instead of abeam, take the wrong entry or turn it the wrong
way, lose themselves in orbits and S-turns, turn with the wrong hand and leave in the middle of a lap.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from tests.flights.air import MPS, Air
from tests.flights.aircraft import Aircraft, Hand
from tests.flights.flight import Flight, on_earth
from tests.flights.pilot import Pilot, fold
from tests.flights.receiver import Receiver
from tests.flights.truth import Lap, Laps, Series, TrueHold, axes, mean, true_hold

EntryPlan = Literal["direct", "parallel", "offset", "offset turned the wrong way"]
#: What may befall a lap.
Mishap = Literal["", "orbit outbound", "orbit inbound", "s-turns", "wrong hand"]
Inbound = Literal["track", "home", "heading"]
Watch = Literal["abeam", "wings level", "fix"]
#: In words of the program under test; what is none of the three is "other".
ENTRY_NAMES: dict[EntryPlan, str] = {
    "direct": "direct", "parallel": "parallel", "offset": "offset", "offset turned the wrong way": "other",
}  # fmt: skip
NM = 1852.0


@dataclass(frozen=True)
class StudentPlan:
    """One student's hold, round the flight's origin."""

    seed: int
    name: str = "student"
    lat_deg: float = 46.0
    lon_deg: float = -30.0
    tas_kt: float = 100.0
    altitude_ft: float = 4000.0
    air: Air = field(default_factory=Air)
    hand: Hand = field(default_factory=Hand)
    course_deg: float = 0.0
    side: int = 1
    rules: Literal["icao", "faa"] = "icao"
    arrival_heading_deg: float = 0.0
    entry: EntryPlan = "direct"
    circuits: int = 3
    drift_multiple: float = 1.0
    wind_known_share: float = 1.0
    leg_s: float = 60.0
    bank_deg: float = 20.0
    bank_spread_deg: float = 4.0
    watch: Watch = "abeam"
    inbound: Inbound = "track"
    late_s: float = 4.0
    mishaps: tuple[Mishap, ...] = ()
    ending: Literal["fix", "outbound", "inbound turn"] = "fix"
    all_wrong_hand: bool = False
    departure_turn_deg: float = 60.0


@dataclass(frozen=True)
class StudentCase:
    """A student's flight and the receiver that watches it."""

    plan: StudentPlan
    receiver: Receiver
    hole_share: float | None = None
    """Where in the hold the log has a hole of 91 s; None: it has none."""


@dataclass(frozen=True)
class StudentFlight:
    """What was flown."""

    flight: Flight
    entry: str
    misses_nm: tuple[float, ...]
    """How far beside the fix it passed: on arrival, and at the end of the entry and of each circuit."""
    legless: tuple[int, ...]
    """Circuits, from 1, in which the wings were never level between the two turns."""
    merged_in: tuple[int, ...]
    """Circuits whose inbound turn ran on into the next turn."""

    @property
    def hold(self) -> TrueHold:
        return self.flight.holds[0]


class _Student:
    """Flies one plan and keeps the diary."""

    def __init__(self, plan: StudentPlan) -> None:
        self.plan, self.rng = plan, np.random.default_rng(plan.seed)
        heading = math.radians(plan.arrival_heading_deg)
        wind = np.array(plan.air.towards_mps(0.0, plan.altitude_ft))
        ground = np.array([math.sin(heading), math.cos(heading)]) * plan.tas_kt * MPS + wind
        start = -ground / np.hypot(*ground) * self.rng.uniform(3.0, 6.0) * NM
        craft = Aircraft(
            self.rng, tas_kt=plan.tas_kt, altitude_ft=plan.altitude_ft, air=plan.air, hand=plan.hand,
            heading_deg=plan.arrival_heading_deg, east_m=float(start[0]), north_m=float(start[1]),
        )  # fmt: skip
        known = plan.wind_known_share
        self.pilot = Pilot(craft, (float(wind[0]) / MPS * known, float(wind[1]) / MPS * known))
        self.craft = craft
        self.passed_s: list[float] = []
        self.laps: list[Lap] = []
        self.entry_leg_s: tuple[float, float] | None = None

    def fly(self) -> None:
        plan, pilot = self.plan, self.pilot
        arrival = math.degrees(math.atan2(-self.craft.east_m, -self.craft.north_m))
        pilot.wind_kt, reckoned = (
            tuple(w / MPS for w in plan.air.towards_mps(0.0, plan.altitude_ft)),
            pilot.wind_kt,
        )
        pilot.track_to((0.0, 0.0), arrival)
        pilot.wind_kt = reckoned
        self._passed()
        if plan.entry != "direct":
            self._entry()
        for number in range(1, plan.circuits + 1):
            if not self._lap(number):
                break
        self._depart()

    def _passed(self) -> None:
        self.passed_s.append(self.craft.time_s)

    def _bank(self) -> float:
        drawn = self.plan.bank_deg + self.rng.uniform(-1.0, 1.0) * self.plan.bank_spread_deg
        return float(np.clip(drawn, 8.0, 38.0))

    def _outbound_heading(self, track_deg: float) -> float:
        """Lay off what the student takes for the drift, so many times."""
        drift = fold(self.pilot.reckoned_heading(track_deg) - track_deg)
        return (
            track_deg
            + float(np.clip(self.plan.drift_multiple * drift, -50.0, 50.0))
            + self.rng.normal(0.0, 5.0)
        )

    def _short_turn(self, wanted_deg: float) -> None:
        off = fold(wanted_deg - self.craft.heading_deg)
        if abs(off) > 12.0:
            self.pilot.turn(1 if off > 0 else -1, self._bank(), wanted_deg)

    def _entry(self) -> None:
        plan, pilot = self.plan, self.pilot
        lean = 0.0 if plan.entry == "parallel" else 30.0
        back = -plan.side if plan.entry in ("parallel", "offset turned the wrong way") else plan.side
        wanted = self._outbound_heading(plan.course_deg + 180.0 - plan.side * lean)
        if plan.entry == "parallel" and abs(fold(plan.arrival_heading_deg - plan.course_deg)) < 90.0:
            pilot.turn(-plan.side, self._bank(), wanted, least_deg=40.0)
        else:
            self._short_turn(wanted)
        begun_s = self.craft.time_s
        pilot.hold_for(wanted, float(np.clip(plan.leg_s * self.rng.uniform(0.8, 1.3), 25.0, 120.0)))
        self.entry_leg_s = (begun_s, self.craft.time_s)
        self._turn_in(back, 100.0)
        self._inbound()

    def _turn_in(self, side: int, least_deg: float) -> None:
        """Turn inbound: half of them watch the needle, half roll out on the heading of the chart."""
        plan, bank = self.plan, self._bank()
        if self.rng.random() < 0.5:
            self.pilot.turn(
                side, bank, lambda: self.pilot.inbound_heading((0.0, 0.0), plan.course_deg, side, bank),
                least_deg=least_deg,
            )  # fmt: skip
        else:
            wanted = self.pilot.reckoned_heading(plan.course_deg) + self.rng.normal(0.0, 6.0)
            self.pilot.turn(side, bank, wanted, least_deg=least_deg)

    def _inbound(self, *, orbit: bool = False) -> None:
        plan, pilot, craft = self.plan, self.pilot, self.craft
        pilot.hold_for(craft.heading_deg, float(self.rng.uniform(3.0, 9.0)))
        if orbit and pilot.along_across((0.0, 0.0), plan.course_deg)[0] < -40.0 * craft.tas_kt * MPS:
            pilot.turn_for(plan.side, self._bank(), 360.0)
        begun_s = craft.time_s

        def abeam() -> bool:
            late = craft.time_s - begun_s > 400.0
            return pilot.along_across((0.0, 0.0), plan.course_deg)[0] >= 0.0 or late

        if plan.inbound == "heading":
            pilot.hold(pilot.reckoned_heading(plan.course_deg), abeam)
        elif plan.inbound == "home":
            pilot.hold(lambda: math.degrees(math.atan2(-craft.east_m, -craft.north_m)), abeam)
        else:
            pilot.intercept((0.0, 0.0), plan.course_deg)
            pilot.hold(lambda: pilot.tracking_heading((0.0, 0.0), plan.course_deg), abeam)
        self._passed()

    def _lap(self, number: int) -> bool:
        plan, pilot, craft = self.plan, self.pilot, self.craft
        mishap = plan.mishaps[number - 1] if number <= len(plan.mishaps) else ""
        over_s = craft.time_s
        late = float(self.rng.uniform(0.0, 2.0) * plan.late_s)
        if late > 1.0:
            pilot.hold_for(craft.heading_deg, late)
        side = -plan.side if plan.all_wrong_hand or mishap == "wrong hand" else plan.side
        begun_s = craft.time_s
        wanted = self._outbound_heading(plan.course_deg + 180.0)
        # From a heading near the outbound course, as on a direct entry from a wrong sector, it is a short turn.
        short = abs(fold(wanted - craft.heading_deg)) < 60.0
        pilot.turn(side, self._bank(), wanted, least_deg=0.0 if short else 60.0)
        level_s = craft.time_s
        last = number == plan.circuits
        seconds = self._outbound_seconds(over_s, level_s)
        if last and plan.ending == "outbound":
            pilot.hold_for(wanted, max(0.6 * seconds, 15.0))
            self.laps.append(Lap(begun_s, level_s, craft.time_s, None, None, over_s))
            return False
        self._leg(wanted, seconds, mishap)
        turned_s = craft.time_s
        if last and plan.ending == "inbound turn":
            pilot.turn(side, self._bank(), wanted + side * 80.0)
            self.laps.append(Lap(begun_s, level_s, turned_s, None, None, over_s))
            return False
        self._turn_in(side, 110.0)
        rolled_s = craft.time_s
        self._inbound(orbit=mishap == "orbit inbound")
        disturbed = mishap in ("orbit inbound", "orbit outbound", "s-turns")
        self.laps.append(Lap(begun_s, level_s, turned_s, rolled_s, craft.time_s, over_s, disturbed))
        return True

    def _outbound_seconds(self, over_s: float, level_s: float) -> float:
        seconds = self.plan.leg_s * self.rng.uniform(0.85, 1.15)
        if self.plan.watch == "fix":
            return float(max(seconds - (level_s - over_s), 0.0))
        if self.plan.watch == "abeam":
            return float(max(seconds - 3.0, 0.0))
        return float(seconds)

    def _leg(self, wanted_deg: float, seconds: float, mishap: Mishap) -> None:
        pilot, side = self.pilot, self.plan.side
        if mishap == "orbit outbound":
            pilot.hold_for(wanted_deg, max(0.5 * seconds, 12.0))
            pilot.turn_for(side if self.rng.random() < 0.7 else -side, self._bank(), 360.0)
            pilot.hold_for(wanted_deg, max(0.5 * seconds, 12.0))
        elif mishap == "s-turns":
            swing = float(self.rng.uniform(20.0, 45.0))
            pilot.hold_for(wanted_deg, 8.0)
            pilot.turn(side, self._bank(), wanted_deg + side * swing)
            pilot.hold_for(wanted_deg + side * swing, 6.0)
            pilot.turn(-side, self._bank(), wanted_deg - side * swing)
            pilot.hold_for(wanted_deg - side * swing, 6.0)
            pilot.turn(side, self._bank(), wanted_deg)
            pilot.hold_for(wanted_deg, max(seconds - 30.0, 10.0))
        else:
            pilot.hold_for(wanted_deg, seconds)

    def _depart(self) -> None:
        pilot, craft, turn = self.pilot, self.craft, self.plan.departure_turn_deg
        pilot.hold_for(craft.heading_deg, 6.0)
        if abs(turn) > 5.0:
            pilot.turn(1 if turn > 0 else -1, self._bank(), craft.heading_deg + turn)
        pilot.hold_for(craft.heading_deg, 150.0)


def make_student(plan: StudentPlan) -> StudentFlight:
    """Fly a student's plan and read off what was truly flown."""
    student = _Student(plan)
    student.fly()
    series = student.craft.series()
    entry = _entry_flown(student, series)
    laps = Laps(
        (0.0, 0.0),
        plan.course_deg,
        plan.side,
        entry,
        student.passed_s[0],
        tuple(student.laps),
    )
    lat, lon = on_earth((plan.lat_deg, plan.lon_deg), np.array([0.0]), np.array([0.0]))
    hold = _with_passages(
        true_hold(series, laps, (float(lat[0]), float(lon[0])), wind_changes=False), student
    )
    along, across = axes(series, (0.0, 0.0), plan.course_deg)
    away = np.hypot(along, across) / NM
    time_s = series["time_s"]
    misses = tuple(float(away[np.abs(time_s - passed) <= 25.0].min()) for passed in student.passed_s)
    legless, merged = [], []
    for number, (lap, circuit) in enumerate(zip(student.laps, hold.circuits, strict=True), start=1):
        if lap.inbound_turn_s is not None and circuit.outbound_turn.end_s > lap.inbound_turn_s - 1.0:
            legless.append(number)
        if circuit.inbound_turn is not None and circuit.inbound_turn.end_s > circuit.end_s - 1.0:
            merged.append(number)
    flight = Flight(plan.name, (plan.lat_deg, plan.lon_deg), series, (hold,), {"seed": plan.seed})
    return StudentFlight(flight, entry, misses, tuple(legless), tuple(merged))


def _entry_flown(student: _Student, series: Series) -> str:
    """Name the entry: as it was meant, but for an offset leg that neither heading nor track led off the reciprocal."""
    plan, leg_s = student.plan, student.entry_leg_s
    if leg_s is None or plan.entry != "offset turned the wrong way":
        return ENTRY_NAMES[plan.entry]
    east, north = (
        np.diff(np.interp(leg_s, series["time_s"], series[name])) for name in ("east_m", "north_m")
    )
    track, heading = math.degrees(math.atan2(east[0], north[0])), mean(series, "heading_deg", *leg_s)
    leans = [-plan.side * fold(way - plan.course_deg - 180.0) for way in (track, heading)]
    # Half way to the 30° of an offset entry.
    return "parallel" if max(leans) < 15.0 else "other"


def _with_passages(hold: TrueHold, student: _Student) -> TrueHold:
    """Read the passages of the fix off the whole way from one outbound leg's end to the next one's beginning.

    Students turn over the fix before they have turned inbound, so that a few seconds around what the diary calls the
    passage are not enough.
    """
    series, laps = student.craft.series(), student.laps
    along, across = axes(series, (0.0, 0.0), student.plan.course_deg)
    time_s, away = series["time_s"], np.hypot(along, across)
    whole = sum(lap.fix_s is not None for lap in laps)
    passed: list[float | None] = []
    for number in range(len(laps) + 1):
        first = laps[number - 1].inbound_turn_s if number else student.passed_s[-1 - whole] - 25.0
        last = laps[number].outbound_leg_s if number < len(laps) else (laps[-1].fix_s or 0.0) + 1.0
        if first is None or (number == len(laps) and laps[-1].fix_s is None):
            passed.append(None)
            continue
        if number < len(laps) and number > 0:
            last = min(last, (laps[number - 1].fix_s or last) + 25.0)
        span = np.flatnonzero((time_s >= first) & (time_s <= last))
        crossed = span[:-1][(along[span[:-1]] < 0.0) & (along[span[1:]] >= 0.0)]
        at = crossed[np.argmin(away[crossed])] if crossed.size else span[np.argmin(away[span])]
        passed.append(float(time_s[at]))
    circuits = [
        replace(circuit, start_s=passed[i] or circuit.start_s, end_s=passed[i + 1] or circuit.end_s)
        for i, circuit in enumerate(hold.circuits)
    ]
    return replace(hold, circuits=tuple(circuits))


#: Sectors as headings short of the outbound course, mirrored for a left hold (US Navy P-821, figure 3-8), eight degrees
#: kept from every edge.
SECTORS = {"offset": (8.0, 62.0), "parallel": (-102.0, -8.0), "direct": (78.0, 242.0)}
#: What a student may fly from each sector: the right entry three times in four, else a wrong one. From the direct
#: sector an offset entry is hardly another thing than a lap with a narrow outbound leg, so it is not drawn.
ENTRIES: dict[str, tuple[EntryPlan, ...]] = {
    "direct": ("direct", "direct", "direct", "parallel"),
    "parallel": ("parallel", "parallel", "parallel", "direct", "offset"),
    "offset": ("offset", "offset", "offset turned the wrong way", "parallel", "direct"),
}
MISHAPS: tuple[Mishap, ...] = ("orbit outbound", "orbit inbound", "s-turns", "wrong hand")


def student_case(index: int, seed: int = 0) -> StudentCase:
    """Draw one student."""
    rng = np.random.default_rng([seed, 31_000 + index])
    side, course = (1 if index % 2 == 0 else -1), float(rng.uniform(0.0, 360.0))
    sector = ("direct", "parallel", "offset")[(index // 2) % 3]
    low, high = SECTORS[sector]
    entries = ENTRIES[sector]
    unsteady = float(rng.uniform(2.0, 4.0))
    circuits = 1 + (index // 6) % 4
    level = float(rng.uniform(2500.0, 7000.0))
    ending = "fix" if circuits == 1 else str(rng.choice(["fix", "fix", "fix", "outbound", "inbound turn"]))
    last_whole = circuits - (ending != "fix")
    mishaps: list[Mishap] = [""] * circuits
    if rng.random() < 0.45 and last_whole >= 1:
        number = int(rng.integers(0, last_whole))
        drawn = MISHAPS[int(rng.integers(len(MISHAPS)))]
        # A first lap the wrong way round is a parallel entry to the eye; so one that is to be told comes later.
        if drawn != "wrong hand" or number >= 1:
            mishaps[number] = drawn
    all_wrong = index % 17 == 16
    plan = StudentPlan(
        seed=700_000 * (seed + 1) + index,
        name=f"student {index}",
        lat_deg=float(rng.uniform(-60.0, 60.0)),
        lon_deg=float(rng.uniform(-180.0, 180.0)),
        tas_kt=float(rng.uniform(75.0, 140.0)),
        altitude_ft=level,
        air=Air(
            float(rng.uniform(0.0, 360.0)), float(rng.uniform(0.0, 38.0)), level, gust_kt=float(rng.uniform(0.0, 3.0))
        ),
        hand=Hand(
            roll_rate_dps=float(rng.uniform(3.0, 8.0)),
            roll_accel_dps2=float(rng.uniform(5.0, 12.0)),
            tas_wander_kt=1.0 * unsteady,
            bank_wander_deg=0.8 * unsteady,
            heading_wander_deg=1.0 * unsteady,
            altitude_wander_ft=float(rng.uniform(100.0, 175.0)),
            altitude_memory_s=float(rng.uniform(60.0, 150.0)),
        ),
        course_deg=course,
        side=side,
        rules="faa" if rng.random() < 0.5 else "icao",
        arrival_heading_deg=float((course + 180.0 - side * rng.uniform(low, high)) % 360.0),
        entry="direct" if all_wrong else entries[int(rng.integers(len(entries)))],
        circuits=circuits,
        drift_multiple=float(rng.uniform(0.0, 3.0)),
        wind_known_share=float(rng.uniform(0.3, 1.2)),
        leg_s=float(rng.uniform(20.0, 140.0)),
        bank_deg=float(rng.uniform(9.0, 36.0)),
        bank_spread_deg=float(rng.uniform(1.0, 6.0)),
        watch=("abeam", "wings level", "fix")[int(rng.integers(3))],  # type: ignore[arg-type]
        inbound=("track", "track", "track", "home", "home", "heading")[int(rng.integers(6))],  # type: ignore[arg-type]
        late_s=float(rng.uniform(1.0, 8.0)),
        mishaps=tuple(mishaps),
        ending=ending,  # type: ignore[arg-type]
        all_wrong_hand=all_wrong,
        departure_turn_deg=float(rng.uniform(-90.0, 90.0)),
    )  # fmt: skip
    if all_wrong:
        low, high = SECTORS["direct"]
        plan = replace(plan, arrival_heading_deg=float((course + rng.uniform(-40.0, 40.0)) % 360.0))
    receiver = Receiver(
        interval_s=(1.0, 2.0, 3.0, 5.0)[int(rng.integers(4))], drift_memory_s=float(rng.uniform(60.0, 200.0))
    )
    return StudentCase(plan, receiver, float(rng.uniform(0.15, 0.85)) if rng.random() < 0.12 else None)


def lost_student_case(index: int, seed: int = 0) -> StudentCase:
    """Draw one who is lost in 30 kt of wind and more, in a log of one row in ten seconds.

    Two of five lay the drift off threefold, to the wrong side; one log in four has a hole.
    """
    case, rng = student_case(index, seed), np.random.default_rng([seed, 77_000 + index])
    air = replace(case.plan.air, speed_kt=float(rng.uniform(30.0, 42.0)))
    multiple = -3.0 if rng.random() < 0.4 else float(rng.uniform(0.0, 3.0))
    plan = replace(
        case.plan, air=air, tas_kt=max(case.plan.tas_kt, 85.0), drift_multiple=multiple,
        wind_known_share=float(rng.uniform(0.3, 1.2)),
    )  # fmt: skip
    hole = float(rng.uniform(0.15, 0.85)) if rng.random() < 0.25 else None
    return StudentCase(plan, replace(case.receiver, interval_s=10.0), hole)
