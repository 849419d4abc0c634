"""What a pilot does with an aircraft: turn onto a heading, hold it, intercept and track a line."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

from tests.flights.air import MPS
from tests.flights.aircraft import GRAVITY, STEP_S, Aircraft

Heading = float | Callable[[], float]
Line = Callable[[], tuple[float, float]]


#: Rolling out within this beyond the course is as good as on it, metres.
CAPTURED_M = 130.0
#: Cuts towards the course, degrees: the first that would be flown for so many seconds is taken.
CUTS_DEG, CUT_FLOWN_S = (30.0, 20.0, 12.0), 13.0


def fold(angle_deg: float) -> float:
    """Fold an angle into [−180, 180)."""
    return (angle_deg + 180.0) % 360.0 - 180.0


def rate_one_bank_deg(tas_kt: float, limit_deg: float = 25.0) -> float:
    """Return the bank for three degrees a second, or the limit where that is less."""
    return min(math.degrees(math.atan(math.radians(3.0) * tas_kt * MPS / GRAVITY)), limit_deg)


@dataclass
class Pilot:
    """Flies an aircraft, and keeps a diary of what was begun when.

    ``wind_kt`` is the wind the pilot reckons with, towards east and north: not always the wind that blows.
    """

    craft: Aircraft
    wind_kt: tuple[float, float] = (0.0, 0.0)
    diary: list[tuple[float, str]] = field(default_factory=list)
    level_bank_deg: float = 8.0
    intercept_deg: float = 35.0

    def note(self, what: str) -> None:
        """Write into the diary."""
        self.diary.append((self.craft.time_s, what))

    def reckoned_heading(self, track_deg: float) -> float:
        """Return the heading that makes good a track in the wind the pilot reckons with."""
        toward = math.radians(track_deg)
        across = self.wind_kt[0] * math.cos(toward) - self.wind_kt[1] * math.sin(toward)
        lean = max(-0.9, min(0.9, across / self.craft.tas_kt))
        return track_deg - math.degrees(math.asin(lean))

    def hold(self, heading: Heading, until: Callable[[], bool]) -> None:
        """Fly a heading, wings about level, until something is so."""
        craft = self.craft
        while not until():
            wanted = heading() if callable(heading) else heading
            craft.step(self._level_bank(wanted))

    def hold_for(self, heading: Heading, seconds: float) -> None:
        """Fly a heading for some time."""
        end_s = self.craft.time_s + seconds
        self.hold(heading, lambda: self.craft.time_s >= end_s)

    def _level_bank(self, wanted_deg: float) -> float:
        off = fold(wanted_deg + self.craft.heading_off - self.craft.heading_deg)
        return max(-self.level_bank_deg, min(self.level_bank_deg, 1.0 * off))

    def turn(self, side: int, bank_deg: float, onto: Heading, least_deg: float = 0.0) -> None:
        """Turn one way onto a heading, and roll out.

        The roll-out is begun ahead by half of what is still turned while rolling. ``least_deg`` is turned
        through before the heading is looked at: for a full circle.
        """
        craft = self.craft
        begun_deg = craft.heading_deg
        while True:
            done = side * (craft.heading_deg - begun_deg)
            if done >= least_deg:
                wanted = onto() if callable(onto) else onto
                left = (side * (wanted - craft.heading_deg)) % 360.0
                if left > 315.0 or left <= self._rollout_lead(bank_deg):
                    break
            craft.step(side * max(bank_deg + craft.unsteady_bank_deg(), 2.5))
        while abs(craft.bank_deg) > 0.8:
            craft.step(0.0)

    def _rollout_lead(self, bank_deg: float) -> float:
        craft = self.craft
        seconds = abs(craft.bank_deg) / craft.hand.roll_rate_dps + 0.4
        speed = craft.tas_kt * MPS
        return 0.5 * seconds * math.degrees(GRAVITY * math.tan(math.radians(abs(craft.bank_deg))) / speed)

    def turn_for(self, side: int, bank_deg: float, degrees: float) -> None:
        """Turn through an angle and roll out."""
        begun = self.craft.heading_deg
        self.turn(side, bank_deg, begun + side * degrees, least_deg=max(degrees - 60.0, 0.0))

    def along_across(self, to: tuple[float, float], course_deg: float) -> tuple[float, float]:
        """Return metres along a course past a point, and metres right of it."""
        east, north = self.craft.east_m - to[0], self.craft.north_m - to[1]
        toward = math.radians(course_deg)
        return (
            east * math.sin(toward) + north * math.cos(toward),
            east * math.cos(toward) - north * math.sin(toward),
        )

    def tracking_heading(self, to: tuple[float, float], course_deg: float, right_m: float = 0.0) -> float:
        """Return the heading that gently closes in on a course and then keeps it."""
        _, across = self.along_across(to, course_deg)
        look_m = max(20.0 * self.craft.tas_kt * MPS, 700.0)
        angle = -math.degrees(math.atan2(across - right_m, look_m))
        angle = max(-self.intercept_deg, min(self.intercept_deg, angle))
        return self.reckoned_heading(course_deg + angle)

    def turned_onto_m(self, to: tuple[float, float], course_deg: float, side: int, bank_deg: float) -> float:
        """Reckon how far right of a course the aircraft will be once turned onto it at this bank."""
        craft, speed = self.craft, self.craft.tas_kt * MPS
        _, across = self.along_across(to, course_deg)
        rate = GRAVITY * math.tan(math.radians(bank_deg)) / speed
        now, then = craft.heading_deg - course_deg, self.reckoned_heading(course_deg) - course_deg
        # A little past the course is a little to turn back, not a circle to turn on.
        left_deg = (side * (then - now) + 60.0) % 360.0 - 60.0
        seconds = math.radians(left_deg) / rate
        # Rolling in and out takes time in which little is turned: about half the roll flies on straight.
        still_s = 0.5 * (bank_deg - abs(craft.bank_deg)) / craft.hand.roll_rate_dps
        toward = math.radians(course_deg)
        drift = (self.wind_kt[0] * math.cos(toward) - self.wind_kt[1] * math.sin(toward)) * MPS
        turned = speed / rate * side * (math.cos(math.radians(now)) - math.cos(math.radians(then)))
        return across + turned + drift * (seconds + still_s) + speed * math.sin(math.radians(now)) * still_s

    def inbound_heading(
        self, to: tuple[float, float], course_deg: float, side: int, bank_deg: float, right_m: float = 0.0
    ) -> float:
        """Return the heading to roll out on, as it looks now: the course's, or one that cuts it.

        Turning short leaves the aircraft on the holding side: roll out early on a cut that is flown for a
        while. Turning wide carries it through: roll out late, on a cut back that leaves room to turn again.
        """
        speed = self.craft.tas_kt * MPS
        over_m = -side * (self.turned_onto_m(to, course_deg, side, bank_deg) - right_m)
        cut = next((c for c in CUTS_DEG if -over_m > CUT_FLOWN_S * speed * math.sin(math.radians(c))), 0.0)
        if cut:
            return self.reckoned_heading(course_deg - side * cut)
        if over_m > CAPTURED_M:
            radius = speed**2 / (GRAVITY * math.tan(math.radians(bank_deg)))
            cut = 0.8 * math.degrees(math.acos(max(1.0 - over_m / (2.0 * radius), 0.75)))
            return self.reckoned_heading(course_deg + side * cut)
        return self.reckoned_heading(course_deg)

    def intercept(self, to: tuple[float, float], course_deg: float, right_m: float = 0.0) -> None:
        """Fly straight on where the course lies ahead, and turn onto it when it comes in.

        Where the fix comes first, there is no sense in turning onto the course any more.
        """
        craft = self.craft
        off = fold(self.reckoned_heading(course_deg) - craft.heading_deg)
        if abs(off) < 7.0:
            return
        side = 1 if off > 0 else -1
        bank = rate_one_bank_deg(craft.tas_kt) * min(1.0, abs(off) / 15.0)
        heading, begun_s = craft.heading_deg, craft.time_s

        def passed() -> bool:
            return self.along_across(to, course_deg)[0] > -8.0 * craft.tas_kt * MPS

        def met() -> bool:
            # A right turn onto the course comes from its right: met when the turn would end on it or beyond.
            ahead = -side * (self.turned_onto_m(to, course_deg, side, bank) - right_m)
            return ahead >= 0.0 or passed() or craft.time_s - begun_s > 240.0

        self.hold(heading, met)
        if passed():
            self.hold(heading, lambda: self.along_across(to, course_deg)[0] >= 0.0)
            return
        wanted = self.reckoned_heading(course_deg)
        if side * fold(wanted - craft.heading_deg) > 4.0:
            self.turn(side, bank, wanted)

    def track_to(
        self, to: tuple[float, float], course_deg: float, *, short_m: float = 0.0, right_m: float = 0.0
    ) -> None:
        """Track a course until a point is abeam (``short_m`` before it)."""
        begun_s = self.craft.time_s
        self.hold(
            lambda: self.tracking_heading(to, course_deg, right_m),
            lambda: self.along_across(to, course_deg)[0] >= -short_m or self.craft.time_s - begun_s > 900.0,
        )

    def wait(self, seconds: float) -> None:
        """Do nothing new for a moment: wings level."""
        for _ in range(round(seconds / STEP_S)):
            self.craft.step(0.0)
