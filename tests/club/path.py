"""The path of an invented circuit: a point in moving air that turns, flies out, turns and comes home."""

from __future__ import annotations

import math
from dataclasses import dataclass

STEP_S = 1.0


@dataclass(frozen=True)
class Flown:
    """One circuit: its instants and its trace (seconds, NM east, NM north of the fix)."""

    instants: tuple[float, float, float, float, float]
    trace: list[list[float]]
    inbound_heading: float


@dataclass
class _Craft:
    east: float
    north: float
    heading: float
    time: float
    tas_kt: float
    wind: tuple[float, float]
    trace: list[list[float]]

    def step(self, rate_dps: float) -> None:
        self.heading = (self.heading + rate_dps * STEP_S) % 360.0
        h = math.radians(self.heading)
        self.east += (self.tas_kt * math.sin(h) + self.wind[0]) * STEP_S / 3600.0
        self.north += (self.tas_kt * math.cos(h) + self.wind[1]) * STEP_S / 3600.0
        self.time += STEP_S
        if round(self.time) % 4 == 0:
            self.trace.append([round(self.time, 1), round(self.east, 3), round(self.north, 3)])

    def turn(self, degrees: float, rate_dps: float) -> None:
        for _ in range(round(abs(degrees / rate_dps))):
            self.step(rate_dps)


def fly_circuit(
    *,
    start: tuple[float, float, float, float],
    course: float,
    side: int,
    tas_kt: float,
    wind: tuple[float, float],
    outbound_heading: float,
    outbound_s: float,
    rate_dps: float,
) -> Flown:
    """Fly from ``start`` (east, north, heading, time), through both turns, back over the fix line."""
    craft = _Craft(*start, tas_kt, wind, [])
    craft.trace.append([round(craft.time, 1), round(craft.east, 3), round(craft.north, 3)])
    instants = [craft.time]
    craft.turn(side * ((side * (outbound_heading - craft.heading)) % 360.0), side * rate_dps)
    instants.append(craft.time)
    for _ in range(round(outbound_s)):
        craft.step(0.0)
    instants.append(craft.time)
    crab = inbound_crab(course, tas_kt, wind)
    craft.turn(side * ((side * (course + crab - craft.heading)) % 360.0), side * rate_dps)
    instants.append(craft.time)
    _home(craft, course, crab)
    instants.append(craft.time)
    first, second, third, fourth, fifth = instants
    return Flown((first, second, third, fourth, fifth), craft.trace, craft.heading)


def inbound_crab(course: float, tas_kt: float, wind: tuple[float, float]) -> float:
    """Degrees to add to the course so that the wind (towards components) is met."""
    c = math.radians(course)
    across = wind[0] * math.cos(c) - wind[1] * math.sin(c)
    return -math.degrees(math.asin(max(-0.9, min(0.9, across / tas_kt))))


def _home(craft: _Craft, course: float, crab: float) -> None:
    c = math.radians(course)
    for _ in range(240):
        along = craft.east * math.sin(c) + craft.north * math.cos(c)
        if along >= 0.0:
            return
        cross = craft.east * math.cos(c) - craft.north * math.sin(c)
        aim = course + crab - max(-30.0, min(30.0, 90.0 * cross))
        error = (aim - craft.heading + 180.0) % 360.0 - 180.0
        craft.step(max(-3.0, min(3.0, error)))
