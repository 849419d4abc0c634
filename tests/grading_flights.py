"""Holds flown by a point mass, for the tests of judging: every fault can be planted on purpose.

Nothing of the analyser's arithmetic is used: the aircraft is stepped through the air at twenty hertz, rolls
at its own rate, and the circuit without faults is found by trial (a root finder turns the outbound heading
and time until the roll-out lies on the course). Only the shared dataclasses are filled in at the end.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache

import numpy as np
from scipy.optimize import root

from analyser.circuits.flown import Circuit, Entry, FlownHold, Leg, Turn
from analyser.earth.plane import LocalPlane
from analyser.grading.budget import Budget, Cost
from analyser.holds.definition import Hold, LegLimit
from analyser.motion.motion import Motion

STEP_S = 0.05
G_KT_PER_S = 9.80665 / 0.5144444


@dataclass(frozen=True)
class Faults:
    """What the pilot does wrong on one circuit; nothing by default."""

    fix_cross_nm: float = 0.0
    late_turn_s: float = 0.0
    outbound_bank_deg: float = 0.0
    outbound_heading_deg: float = 0.0
    outbound_time_s: float = 0.0
    inbound_bank_deg: float = 0.0
    rollout_heading_deg: float = 0.0


@dataclass(frozen=True)
class Plan:
    """The flight to fly; angles and cross-track of a left-hand hold are mirrored with it."""

    course_deg: float = 30.0
    side: int = 1
    tas_kt: float = 110.0
    wind_from_deg: float = 120.0
    wind_kt: float = 20.0
    inbound_s: float = 60.0
    still_air: bool = True
    roll_dps: float = 5.0
    altitude_ft: float = 4000.0
    faults: tuple[Faults, ...] = (Faults(),)
    wind_change_kt: float = 0.0
    bank_wander_deg: float = 0.0
    tas_change_kt: float = 0.0
    leg: LegLimit | None = field(default_factory=lambda: LegLimit(minutes=1.0))

    @cached_property
    def wind(self) -> complex:
        """Towards, along the course and across it to the hold's side, knots."""
        toward = math.radians(self.wind_from_deg + 180.0 - self.course_deg)
        along_right = self.wind_kt * complex(math.cos(toward), math.sin(toward))
        return complex(along_right.real, self.side * along_right.imag)

    @cached_property
    def bank_deg(self) -> float:
        """Rate one, or 25 degrees."""
        return min(25.0, math.degrees(math.atan(math.radians(3.0) * self.tas_kt / G_KT_PER_S)))

    @cached_property
    def roll_s(self) -> float:
        """Time to roll in, and again to roll out."""
        return self.bank_deg / self.roll_dps

    @cached_property
    def inbound_heading_deg(self) -> float:
        """Against the course, positive to the hold's side."""
        return -math.degrees(math.asin(self.wind.imag / self.tas_kt))

    @cached_property
    def inbound_ground_kt(self) -> float:
        return self.tas_kt * math.cos(math.radians(self.inbound_heading_deg)) + self.wind.real

    @cached_property
    def inbound_nm(self) -> float:
        """ICAO: the still-air length; FAA: what the inbound time gives."""
        speed = self.tas_kt if self.still_air else self.inbound_ground_kt
        return speed * self.inbound_s / 3600.0


class PointMass:
    """Steps through moving air; along + i·across to the hold's side."""

    def __init__(self, plan: Plan, at: complex, heading_deg: float) -> None:
        self.plan, self.at, self.heading, self.time = plan, at, heading_deg, 0.0
        self.rows: list[tuple[float, complex, float, float, float, complex]] = []

    def wind(self) -> complex:
        plan = self.plan
        if plan.wind_change_kt == 0.0:
            return plan.wind
        return plan.wind + plan.wind_change_kt * complex(0.4, 1.0) * math.tanh((self.time - 320.0) / 30.0)

    def tas(self) -> float:
        plan = self.plan
        return plan.tas_kt + (plan.tas_change_kt and plan.tas_change_kt * math.sin(self.time / 25.0))

    def step(self, rate_dps: float) -> None:
        tas, wind = self.tas(), self.wind()
        self.rows.append((self.time, self.at, self.heading, rate_dps, tas, wind))
        middle = math.radians(self.heading + 0.5 * rate_dps * STEP_S)
        self.at += (tas * complex(math.cos(middle), math.sin(middle)) + wind) * STEP_S / 3600.0
        self.heading += rate_dps * STEP_S
        self.time += STEP_S

    def straight(self, seconds: float) -> None:
        end = self.time + seconds
        while self.time < end - 0.5 * STEP_S:
            self.step(0.0)

    def turn(self, to_deg: float, bank_deg: float, way: int = 1) -> tuple[float, float]:
        """Roll in evenly, hold, roll out evenly, on the heading; way −1 turns against the hold's hand."""
        start, angle = self.time, way * (to_deg - self.heading)
        full = self.rate_dps(bank_deg)
        if self.plan.bank_wander_deg == 0.0 and self.plan.tas_change_kt == 0.0:
            roll, ends = self.plan.roll_s, angle / full + self.plan.roll_s
            while self.time - start < ends - 0.5 * STEP_S:
                middle = self.time - start + 0.5 * STEP_S
                self.step(way * full * max(0.0, min(1.0, middle / roll, (ends - middle) / roll)))
            return start, start + ends
        while to_deg - self.heading > 1e-3:
            rate = self.rate_dps(bank_deg + self.plan.bank_wander_deg * math.sin((self.time - start) / 6.0))
            rising = (self.time - start + 0.5 * STEP_S) / self.plan.roll_s * rate
            # While rolling out evenly, the heading still to go is rate² · roll / (2 · full rate).
            falling = math.sqrt(max(2.0 * rate * (to_deg - self.heading) / self.plan.roll_s, 0.0))
            falling = max(falling - 0.5 * rate * STEP_S / self.plan.roll_s, 0.05 * rate)
            self.step(min(rising, rate, falling, (to_deg - self.heading) / STEP_S))
        return start, self.time

    def rate_dps(self, bank_deg: float) -> float:
        return math.degrees(math.tan(math.radians(bank_deg)) * G_KT_PER_S / self.tas())

    def home(self) -> None:
        """Meet the course and follow it until abeam the fix."""
        while self.at.real < 0.0 and len(self.rows) < 100_000:
            bend = max(-25.0, min(25.0, 90.0 * self.at.imag))
            want = self.plan.inbound_heading_deg - bend
            off = (want - self.heading + 180.0) % 360.0 - 180.0
            self.step(max(-2.0, min(2.0, 0.3 * off)))


@dataclass
class Lap:
    """Instants of one circuit."""

    start: float
    out: tuple[float, float]
    abeam: float | None
    back: tuple[float, float]
    end: float
    outbound_heading: float = 0.0


def fly_out_and_back(
    aircraft: PointMass, out_deg: float, timed_s: float, faults: Faults, *, by_level: bool = False
) -> Lap:
    """Fly one circuit from the fix to the inbound roll-out; the outbound time runs from abeam, or from wings level."""
    plan, start = aircraft.plan, aircraft.time
    aircraft.straight(faults.late_turn_s)
    # Headings count on from circuit to circuit, so that each turn goes the hold's way.
    laps_deg = 360.0 * round(aircraft.heading / 360.0)
    heading = laps_deg + out_deg + faults.outbound_heading_deg
    first = len(aircraft.rows)
    out = aircraft.turn(heading, plan.bank_deg + faults.outbound_bank_deg)
    abeam = _abeam(aircraft, first)
    while abeam is None and aircraft.at.real > 0.0 and aircraft.time - out[1] < 200.0:
        aircraft.step(0.0)
        abeam = _abeam(aircraft, first)
    clock = out[1] if abeam is None or by_level else abeam
    aircraft.straight(clock + timed_s + faults.outbound_time_s - aircraft.time)
    back = aircraft.turn(
        laps_deg + 360.0 + plan.inbound_heading_deg + faults.rollout_heading_deg,
        plan.bank_deg + faults.inbound_bank_deg,
    )
    return Lap(start, out, abeam, back, aircraft.time, heading)


def _abeam(aircraft: PointMass, first: int) -> float | None:
    here, before = aircraft.at.real, aircraft.rows[-1][1].real
    if here > 0.0:
        return None
    if before > 0.0:
        return aircraft.time - STEP_S * here / (here - before)
    past = [
        k
        for k in range(first + 1, len(aircraft.rows))
        if aircraft.rows[k - 1][1].real > 0.0 >= aircraft.rows[k][1].real
    ]
    if not past:
        return None
    k = past[-1]
    (t0, a), (t1, b) = ((aircraft.rows[j][0], aircraft.rows[j][1].real) for j in (k - 1, k))
    return t0 + (t1 - t0) * a / (a - b)


@lru_cache(maxsize=64)
def right_numbers(plan: Plan) -> tuple[float, float]:
    """Find by trial the outbound heading and time that bring the aircraft to the right roll-out."""
    calm = replace(plan, faults=(), wind_change_kt=0.0, bank_wander_deg=0.0, tas_change_kt=0.0)

    def miss(numbers: np.ndarray) -> list[float]:
        aircraft = PointMass(calm, 0j, calm.inbound_heading_deg)
        lap = fly_out_and_back(aircraft, float(numbers[0]), float(numbers[1]), Faults())
        if calm.leg is not None and calm.leg.distance_nm is not None:
            # A charted distance ends the outbound leg: the aircraft has to be there when the inbound turn begins.
            times = [row[0] for row in aircraft.rows]
            turn_in = np.interp(lap.back[0], times, [row[1].real for row in aircraft.rows])
            return [float(turn_in) + calm.leg.distance_nm, aircraft.at.imag]
        return [aircraft.at.real + calm.inbound_nm, aircraft.at.imag]

    guess = [180.0 - 3.0 * calm.inbound_heading_deg, 60.0]
    found = root(miss, guess, options={"eps": 1e-2, "xtol": 1e-4})
    assert max(map(abs, miss(found.x))) < 0.01, found
    return float(found.x[0]), float(found.x[1])


@lru_cache(maxsize=64)
def fly(plan: Plan) -> FlownHold:
    """Fly a direct entry along the course and one circuit for each set of faults."""
    right = replace(plan, faults=(), wind_change_kt=0.0, bank_wander_deg=0.0, tas_change_kt=0.0)
    out_deg, timed_s = right_numbers(right)
    start_nm = 3.2 * plan.inbound_ground_kt / 60.0
    aircraft = PointMass(plan, complex(-start_nm, plan.faults[0].fix_cross_nm), plan.inbound_heading_deg)
    while aircraft.at.real < 0.0:
        aircraft.step(0.0)
    laps = []
    for faults in plan.faults:
        lap = fly_out_and_back(aircraft, out_deg, timed_s, faults)
        aircraft.home()
        lap.end = aircraft.time
        laps.append(lap)
    aircraft.straight(30.0)
    return as_flown(plan, aircraft, laps)


def fly_entry(plan: Plan, kind: str, *, arrival_deg: float, track_deg: float, seconds: float) -> FlownHold:
    """Fly a parallel or offset entry and one circuit; angles against the course, to the hold's side.

    ``seconds`` count from the fix for an offset entry, from wings level for a parallel one.
    """
    out_deg, timed_s = right_numbers(replace(plan, faults=()))
    aircraft = PointMass(plan, 0j, arrival_deg)
    velocity = aircraft.tas() * complex(
        math.cos(math.radians(arrival_deg)), math.sin(math.radians(arrival_deg))
    )
    aircraft.at = -(velocity + plan.wind) * 200.0 / 3600.0
    aircraft.straight(200.0)
    fix_s = aircraft.time
    track = complex(math.cos(math.radians(track_deg)), math.sin(math.radians(track_deg)))
    heading = track_deg - math.degrees(math.asin((plan.wind * track.conjugate()).imag / plan.tas_kt))
    change = (heading - arrival_deg + 180.0) % 360.0 - 180.0
    onto = aircraft.turn(arrival_deg + change, plan.bank_deg, 1 if change > 0 else -1)
    aircraft.straight(seconds - (aircraft.time - fix_s if kind == "offset" else 0.0))
    leg = (onto[1], aircraft.time)
    way = 1 if kind == "offset" else -1
    home_deg = plan.inbound_heading_deg + (0.0 if kind == "offset" else -30.0)
    back_deg = way * ((way * (home_deg - aircraft.heading)) % 360.0)
    back = aircraft.turn(aircraft.heading + back_deg, plan.bank_deg, way)
    aircraft.home()
    lap = fly_out_and_back(aircraft, out_deg, timed_s, Faults())
    aircraft.home()
    lap.end = aircraft.time
    aircraft.straight(30.0)
    flown = as_flown(plan, aircraft, [lap])
    turns = (_turn(plan, aircraft, back, way),)
    if abs(change) > 20.0:
        turns = (_turn(plan, aircraft, onto, 1 if change > 0 else -1), *turns)
    heading_deg = (plan.course_deg + plan.side * arrival_deg) % 360.0
    entry = Entry(fix_s, lap.start, heading_deg, 1.0, kind, _leg(plan, flown.motion, *leg), turns)  # type: ignore[arg-type]
    return replace(flown, entry=entry, start_s=fix_s)


def as_flown(plan: Plan, aircraft: PointMass, laps: list[Lap]) -> FlownHold:
    """Fill in the shared dataclasses from the fine steps."""
    motion = _motion(plan, aircraft)
    wind_fine = np.array([row[5] for row in aircraft.rows])
    times = np.array([row[0] for row in aircraft.rows])
    tas = np.array([row[4] for row in aircraft.rows])
    circuits = []
    for number, lap in enumerate(laps, start=1):
        part = slice(*np.searchsorted(times, [lap.start, lap.end]))
        east, north = _on_map(plan, np.array([wind_fine[part].mean()]))
        circuits.append(
            Circuit(
                number, lap.start, lap.end, True,
                _turn(plan, aircraft, lap.out), _leg(plan, motion, lap.out[1], lap.back[0]), lap.abeam,
                _turn(plan, aircraft, lap.back), _leg(plan, motion, lap.back[1], lap.end),
                float(east[0]), float(north[0]), 0.5, float(tas[part].mean()), 0.5,
            )
        )  # fmt: skip
    hold = Hold(
        48.0,
        11.0,
        plan.course_deg,
        "right" if plan.side > 0 else "left",
        plan.leg,
        "Invented hold",
        plan.altitude_ft,
    )
    first = laps[0].start
    entry = Entry(first, first, motion.at("heading_deg", first), 1.0, "direct", None, ())
    return FlownHold(hold, None, None, None, motion, entry, tuple(circuits), first, laps[-1].end)


def _on_map(plan: Plan, points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    c = math.radians(plan.course_deg)
    along, right = points.real, plan.side * points.imag
    return along * math.sin(c) + right * math.cos(c), along * math.cos(c) - right * math.sin(c)


def _motion(plan: Plan, aircraft: PointMass) -> Motion:
    fine = np.array([row[0] for row in aircraft.rows])
    grid = np.arange(0.0, math.floor(fine[-1]) + 1.0)

    def series(values: list[float]) -> np.ndarray:
        return np.interp(grid, fine, values)

    position = np.array([row[1] for row in aircraft.rows])
    east, north = _on_map(plan, position)
    heading = plan.course_deg + plan.side * np.array([row[2] for row in aircraft.rows])
    rate = plan.side * np.array([row[3] for row in aircraft.rows])
    tas = np.array([row[4] for row in aircraft.rows])
    wind_east, wind_north = _on_map(plan, np.array([row[5] for row in aircraft.rows]))
    h = np.radians(heading)
    bank = np.degrees(np.arctan(np.radians(rate) * tas / G_KT_PER_S))
    n = grid.size
    return Motion(
        LocalPlane(48.0, 11.0), grid, series(east), series(north), np.full(n, plan.altitude_ft),
        series(tas * np.sin(h) + wind_east), series(tas * np.cos(h) + wind_north),
        series(wind_east), series(wind_north), np.full(n, 0.5), series(tas), np.full(n, 0.5),
        series(heading) % 360.0, np.full(n, 0.7), series(rate), series(bank), np.full(n, 0.5),
        series(tas) * 0.94, np.full(n, 1.0), np.zeros(n, bool),
        float(wind_east.mean()), float(wind_north.mean()), 0.5, float(tas.mean()), 0.5, 0.5,
        {"bank": "derived", "heading": "derived", "tas": "derived", "ias": "derived", "wind": "derived"},
    )  # fmt: skip


def _turn(plan: Plan, aircraft: PointMass, span: tuple[float, float], way: int = 1) -> Turn:
    rolled_in, rolling_out = span[0] + plan.roll_s, span[1] - plan.roll_s
    rows = [row for row in aircraft.rows if rolled_in <= row[0] <= rolling_out]
    rates = np.array([row[3] for row in rows])
    banks = np.degrees(np.arctan(np.radians(rates) * np.array([row[4] for row in rows]) / G_KT_PER_S))
    all_rows = [row for row in aircraft.rows if span[0] - 1e-6 <= row[0] <= span[1] + STEP_S]
    change = all_rows[-1][2] - all_rows[0][2]
    return Turn(
        span[0], span[1], 0.4, 0.4, plan.side * change, plan.side * float(banks.mean()), 0.3,
        plan.side * way * float(abs(banks).max()), float(banks.std()), plan.side * float(rates.mean()),
        span[0] + plan.roll_s, span[1] - plan.roll_s,
    )  # fmt: skip


def _leg(plan: Plan, motion: Motion, start: float, end: float) -> Leg:
    inner = motion.span(start + 1.0, end - 1.0)
    h = np.radians(motion.heading_deg[inner])
    heading = math.degrees(math.atan2(np.sin(h).mean(), np.cos(h).mean())) % 360.0
    east = motion.at("east_nm", end) - motion.at("east_nm", start)
    north = motion.at("north_nm", end) - motion.at("north_nm", start)
    return Leg(start, end, heading, 0.7, math.degrees(math.atan2(east, north)) % 360.0)


def advised_shares(circuit):
    """The costs of a judged circuit whose advice is given, most costly first."""
    costs = () if circuit.budget is None else circuit.budget.costs
    return tuple(sorted((one for one in costs if one.rank is not None), key=lambda one: one.rank))


def cost(budget: Budget, cause: str) -> Cost:
    return next(one for one in budget.costs if one.cause == cause)


def assert_adds_up(budget: Budget) -> None:
    """The shares of a budget are together the whole error, to a hundredth of a mile and a second."""
    within = {"time_s": 1.0}
    for name in ("cross_track_nm", "along_track_nm", "time_s", "end_cross_track_nm", "end_along_track_nm"):
        total = sum(getattr(one, name) for one in budget.costs)
        assert abs(total - getattr(budget, name)) <= within.get(name, 0.01), name
