"""Flying holds: arrival, entry, circuits, departure."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from tests.flights.air import MPS
from tests.flights.aircraft import GRAVITY, Aircraft
from tests.flights.hold_plan import FlightPlan, HoldPlan, Incident
from tests.flights.pilot import Pilot, fold, rate_one_bank_deg
from tests.flights.rehearsal import rehearse


def fly(plan: FlightPlan, make_craft: Callable[..., Aircraft] = Aircraft) -> Pilot:
    """Fly a plan from the first arrival to the last departure; the aircraft and diary are in the pilot."""
    rng = np.random.default_rng(plan.seed)
    first = plan.holds[0]
    pilot = _at_the_start(rng, plan, first, make_craft)
    for number, hold in enumerate(plan.holds):
        if number:
            _go_to(pilot, hold)
        _HoldPilot(rng, pilot, hold, number).fly()
    return pilot


def _at_the_start(
    rng: np.random.Generator, plan: FlightPlan, hold: HoldPlan, make_craft: Callable[..., Aircraft]
) -> Pilot:
    """Put the aircraft upwind enough that its wanted heading leads it over the fix."""
    heading = math.radians(hold.arrival_heading_deg)
    wind = plan.air.towards_mps(0.0, plan.altitude_ft)
    ground = np.array([math.sin(heading), math.cos(heading)]) * plan.tas_kt * MPS + np.array(wind)
    start = np.array(hold.fix_m) - ground / np.hypot(*ground) * hold.arrival_nm * 1852.0
    craft = make_craft(
        rng, tas_kt=plan.tas_kt, altitude_ft=plan.altitude_ft, air=plan.air, hand=plan.hand,
        heading_deg=hold.arrival_heading_deg, east_m=float(start[0]), north_m=float(start[1]),
    )  # fmt: skip
    return Pilot(craft, (wind[0] / MPS, wind[1] / MPS))


def _go_to(pilot: Pilot, hold: HoldPlan) -> None:
    """Fly to where the arrival at the next hold begins, then line up with it."""
    wind = pilot.craft.air.towards_mps(pilot.craft.time_s, pilot.craft.height_ft)
    pilot.wind_kt = (wind[0] / MPS, wind[1] / MPS)
    course = _arrival_course(pilot, hold)
    back = math.radians(course + 180.0)
    reach = hold.arrival_nm * 1852.0
    gate = (hold.fix_m[0] + reach * math.sin(back), hold.fix_m[1] + reach * math.cos(back))
    bearing = math.degrees(math.atan2(gate[0] - pilot.craft.east_m, gate[1] - pilot.craft.north_m))
    bank = rate_one_bank_deg(pilot.craft.tas_kt)
    wanted = pilot.reckoned_heading(bearing)
    pilot.turn(1 if fold(wanted - pilot.craft.heading_deg) >= 0 else -1, bank, wanted)
    pilot.track_to(gate, bearing)
    wanted = pilot.reckoned_heading(course)
    if abs(fold(wanted - pilot.craft.heading_deg)) > 15.0:
        pilot.turn(1 if fold(wanted - pilot.craft.heading_deg) >= 0 else -1, bank, wanted)


def _arrival_course(pilot: Pilot, hold: HoldPlan) -> float:
    heading = math.radians(hold.arrival_heading_deg)
    east = pilot.craft.tas_kt * math.sin(heading) + pilot.wind_kt[0]
    north = pilot.craft.tas_kt * math.cos(heading) + pilot.wind_kt[1]
    return math.degrees(math.atan2(east, north))


class _HoldPilot:
    """One hold, from some way out to some way off."""

    def __init__(self, rng: np.random.Generator, pilot: Pilot, hold: HoldPlan, number: int) -> None:
        self.rng, self.pilot, self.hold, self.number = rng, pilot, hold, number
        self.craft = pilot.craft
        self.course, self.side = hold.course_deg, hold.side
        self.out_course = hold.course_deg + 180.0

    def fly(self) -> None:
        self._learn_the_wind()
        self._note("arrival")
        course = _arrival_course(self.pilot, self.hold)
        self.pilot.track_to(self.hold.fix_m, course)
        self._note("entry fix")
        if self.hold.entry == "parallel":
            self._parallel()
        elif self.hold.entry == "offset":
            self._offset()
        else:
            self._wait_if_crossing()
        for circuit in range(1, self.hold.circuits + 1):
            if not self._circuit(circuit):
                break
        else:
            self._note("end fix")
        self._depart()

    def _note(self, what: str) -> None:
        self.pilot.note(f"{self.number} {what}")

    def _learn_the_wind(self) -> None:
        """Reckon with the wind of this height and time, a little wrong."""
        wind = self.craft.air.towards_mps(self.craft.time_s, self.craft.height_ft)
        off = self.rng.normal(0.0, self.hold.habits.wind_error_kt, 2)
        self.pilot.wind_kt = (wind[0] / MPS + float(off[0]), wind[1] / MPS + float(off[1]))

    def _bank(self) -> float:
        habits = self.hold.habits
        meant = habits.bank_deg or rate_one_bank_deg(self.craft.tas_kt, habits.bank_limit_deg)
        return max(meant + float(self.rng.normal(0.0, habits.bank_error_deg)), 5.0)

    def _error(self, sigma: float) -> float:
        return float(self.rng.normal(0.0, sigma)) if sigma > 0 else 0.0

    def _turn_in(self, side: int, least_deg: float, right_m: float = 0.0) -> None:
        """Turn inbound one way, rolling out on the course or on a cut of it."""
        bank = self._bank()
        self.pilot.turn(
            side,
            bank,
            lambda: self.pilot.inbound_heading(self.hold.fix_m, self.course, side, bank, right_m),
            least_deg=least_deg,
        )

    def _parallel(self) -> None:
        pilot = self.pilot
        wanted = pilot.reckoned_heading(self.out_course) + self._error(self.hold.habits.heading_error_deg)
        self._turn_short(wanted)
        self._note("entry leg")
        pilot.hold_for(wanted, self.hold.leg_s + self._error(self.hold.habits.timing_error_s))
        self._note("entry turn back")
        self._turn_in(-self.side, 140.0)
        self._home()

    def _offset(self) -> None:
        pilot = self.pilot
        track = self.out_course - self.side * 30.0
        wanted = pilot.reckoned_heading(track) + self._error(self.hold.habits.heading_error_deg)
        self._turn_short(wanted)
        self._note("entry leg")
        pilot.hold_for(wanted, self.hold.leg_s + self._error(self.hold.habits.timing_error_s))
        self._note("entry turn back")
        self._turn_in(self.side, 110.0)
        self._home()

    def _turn_short(self, wanted: float) -> None:
        off = fold(wanted - self.craft.heading_deg)
        if abs(off) > 12.0:
            self.pilot.turn(1 if off > 0 else -1, self._bank(), wanted)

    def _wait_if_crossing(self) -> None:
        """Fly on a little where the arrival crosses towards the holding side: the turn would end too near."""
        off = self.side * fold(self.craft.heading_deg - self.course)
        if off > 35.0:
            rate = GRAVITY * math.tan(math.radians(rate_one_bank_deg(self.craft.tas_kt)))
            radius_s = self.craft.tas_kt * MPS / rate
            wait_s = radius_s * (1.0 - math.cos(math.radians(off))) / math.sin(math.radians(min(off, 90.0)))
            self.pilot.hold_for(self.craft.heading_deg, min(wait_s, 30.0))

    def _circuit(self, number: int) -> bool:
        """Fly one circuit; False where the hold was left in the middle of it."""
        hold, pilot = self.hold, self.pilot
        happens = hold.incidents.get(number, Incident())
        last = number == hold.circuits
        self._learn_the_wind()
        if hold.descend_ft:
            self.craft.wanted_ft -= hold.descend_ft
        late = happens.late_at_fix_s
        late = self._error(hold.habits.late_at_fix_s) if late is None else late
        if late > 0:
            pilot.hold_for(self.craft.heading_deg, late)
        outbound_heading, outbound_s = self._reckon(happens)
        self._note(f"circuit {number} outbound turn")
        pilot.turn(self.side, self._bank(), outbound_heading, least_deg=60.0)
        self._note(f"circuit {number} outbound leg")
        self._outbound(outbound_heading, outbound_s, happens, left_early=last and hold.ending == "outbound")
        if last and hold.ending == "outbound":
            return False
        self._note(f"circuit {number} inbound turn")
        if last and hold.ending == "inbound turn":
            pilot.turn(self.side, self._bank(), outbound_heading + self.side * 80.0)
            return False
        self._turn_in(self.side, 110.0, happens.miss_right_nm * 1852.0)
        self._note(f"circuit {number} inbound leg")
        if happens.circle_inbound:
            pilot.hold_for(self.craft.heading_deg, 12.0)
            pilot.turn_for(self.side, self._bank(), 360.0)
        self._home(right_m=happens.miss_right_nm * 1852.0, early_s=self._early(number))
        return True

    def _early(self, number: int) -> float:
        """Return how many seconds before the fix the next turn is begun; zero where it is begun after it."""
        following = self.hold.incidents.get(number + 1, Incident()).late_at_fix_s
        return max(0.0, -following) if following is not None else 0.0

    def _home(self, right_m: float = 0.0, early_s: float = 0.0) -> None:
        # Wings level, a look at the needle, and only then a correction.
        self.pilot.hold_for(self.craft.heading_deg, float(self.rng.uniform(4.0, 9.0)))
        self.pilot.intercept(self.hold.fix_m, self.course, right_m)
        self.pilot.track_to(
            self.hold.fix_m, self.course, short_m=early_s * self.craft.tas_kt * MPS, right_m=right_m
        )
        self._note("fix")

    def _reckon(self, happens: Incident) -> tuple[float, float]:
        """Return the outbound heading, and the seconds from wings level that the pilot means to fly it."""
        hold, pilot, habits = self.hold, self.pilot, self.hold.habits
        exact_heading, exact_s = self._rehearsed()
        single = pilot.reckoned_heading(self.out_course)
        drift = fold(single - self.out_course)
        heading = {
            "none": self.out_course,
            "single": single,
            "triple": self.out_course + max(-45.0, min(45.0, 3.0 * drift)),
            "exact": exact_heading,
        }[happens.drift or habits.drift]
        seconds = exact_s if (happens.drift or habits.drift) in ("exact", "triple") else hold.leg_s
        if happens.outbound_s is not None:
            seconds = happens.outbound_s
        seconds += self._error(habits.timing_error_s)
        return heading + self._error(habits.heading_error_deg), max(seconds, 4.0)

    def _rehearsed(self) -> tuple[float, float]:
        hold, tas_kt = self.hold, self.craft.tas_kt
        still_m = tas_kt * MPS * hold.leg_s if hold.leg_nm is None else hold.leg_nm * 1852.0
        by_length = hold.habits.clock == "outbound" or hold.leg_nm is not None
        return rehearse(
            course_deg=self.course, side=self.side, tas_kt=tas_kt,
            bank_deg=hold.habits.bank_deg or rate_one_bank_deg(tas_kt, hold.habits.bank_limit_deg),
            wind_kt=self.pilot.wind_kt, inbound_m=still_m if by_length else None, inbound_s=hold.leg_s,
            roll_dps=self.craft.hand.roll_rate_dps,
        )  # fmt: skip

    def _outbound(self, heading: float, seconds: float, happens: Incident, *, left_early: bool) -> None:
        if left_early:
            seconds *= 0.6
        if happens.circle_outbound:
            self.pilot.hold_for(heading, 0.4 * seconds)
            self.pilot.turn_for(self.side, self._bank(), 360.0)
            seconds *= 0.6
        self.pilot.hold_for(heading, seconds)

    def _depart(self) -> None:
        """Leave: on a new heading after the fix, or away from a leg broken off."""
        hold, pilot = self.hold, self.pilot
        self._note("left")
        turn = hold.departure_turn_deg
        pilot.hold_for(self.craft.heading_deg, 6.0)
        if abs(turn) > 1.0:
            pilot.turn(1 if turn > 0 else -1, self._bank(), self.craft.heading_deg + turn)
        pilot.hold_for(self.craft.heading_deg, hold.departure_s)
        self._note("gone")
