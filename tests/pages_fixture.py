"""Invented flights for the page's tests: a point mass on a flat map, debriefed by the program itself.

The pilot is clumsy on purpose: heading corrections too small at first and better later, a shallow first
inbound turn, an altitude that wanders off in the second circuit. Nobody flew this.
"""

from __future__ import annotations

import copy
import math
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import lru_cache
from typing import Any

import numpy as np

from analyser.debrief import Debrief, debrief_track
from analyser.document import document
from analyser.earth.plane import LocalPlane
from analyser.earth.wind import wind_components
from analyser.holds.definition import Hold, LegLimit
from analyser.logs.track import Notice, Track
from analyser.pages.page import render_page
from analyser.schema.debrief_file import WrittenDebrief, WrittenExcursion

INBOUND = 263.0
TAS = 108.0
#: Where the holds of one flight lie, nautical miles east and north of the first.
PLACES = ((0.0, 0.0), (-14.0, 6.0), (-30.0, 2.0))
START = datetime(2026, 3, 14, 17, 5, tzinfo=UTC)
HOLD = Hold(
    47.0, 8.0, INBOUND, "right", LegLimit(minutes=1.0), "Invented practice hold", 4000.0, variation_deg=3.2
)


@dataclass
class Pilot:
    """Where the point mass is and what it has left behind."""

    wind: tuple[float, float]
    east: float
    north: float
    heading: float
    time: float = 0.0
    rows: list[tuple[float, float, float]] = field(default_factory=list)

    def step(self, bank: float) -> None:
        self.rows.append((self.time, self.east, self.north))
        tas = TAS + 2.0 * math.sin(self.time / 40.0)
        self.heading += math.degrees(9.80665 * math.tan(math.radians(bank)) / (tas * 0.514444))
        h = math.radians(self.heading)
        self.east += (tas * math.sin(h) + self.wind[0]) / 3600.0
        self.north += (tas * math.cos(h) + self.wind[1]) / 3600.0
        self.time += 1.0

    def straight(self, seconds: float) -> None:
        for _ in range(round(seconds)):
            self.step(0.6 * math.sin(self.time / 7.0))

    def turn(self, to: float, bank: float, side: int) -> None:
        start = self.time
        goal = self.heading + side * (((to - self.heading) * side) % 360.0)
        while (goal - self.heading) * side > 0.5:
            rolled = min(1.0, (self.time - start + 1.0) / 4.0)
            ending = min(1.0, max(0.25, (goal - self.heading) * side / 9.0))
            self.step(side * bank * min(rolled, ending) * (1.0 + 0.04 * math.sin(self.time / 3.0)))

    def cross_along(self, place: tuple[float, float]) -> tuple[float, float]:
        c = math.radians(INBOUND)
        east, north = self.east - place[0], self.north - place[1]
        return east * math.cos(c) - north * math.sin(c), east * math.sin(c) + north * math.cos(c)

    def direct(self, place: tuple[float, float]) -> None:
        while self.cross_along(place)[1] < 0.0:
            aim = math.degrees(math.atan2(place[0] - self.east, place[1] - self.north))
            error = (aim + 3.0 - self.heading + 180.0) % 360.0 - 180.0
            self.step(max(-15.0, min(15.0, error)))

    def home(self, place: tuple[float, float]) -> None:
        course = math.radians(INBOUND)
        across = self.wind[0] * math.cos(course) - self.wind[1] * math.sin(course)
        drift = math.degrees(math.asin(across / TAS))
        start = self.time
        while self.cross_along(place)[1] < 0.0 and self.time - start < 300.0:
            cross, _ = self.cross_along(place)
            want = INBOUND - drift - max(-25.0, min(25.0, cross * 90.0))
            error = (want - self.heading + 180.0) % 360.0 - 180.0
            self.step(max(-15.0, min(15.0, error * 1.5)))

    def hold(self, place: tuple[float, float], side: int, circuits: int, offsets: tuple[float, ...]) -> None:
        across = math.copysign(
            1.0,
            self.wind[0] * math.cos(math.radians(INBOUND)) - self.wind[1] * math.sin(math.radians(INBOUND)),
        )
        for k in range(circuits):
            self.straight(2)
            self.turn(INBOUND - 180.0 + across * offsets[min(k, len(offsets) - 1)], 16.5, side)
            self.straight((64.0, 56.0, 60.0, 61.0)[k % 4])
            self.turn(INBOUND - 6.0 * across, 14.0 if k == 0 else 17.0, side)
            self.home(place)


@lru_cache(maxsize=8)
def track(
    name: str = "invented_evening.gpx", holds: int = 1, circuits: int = 3, turns: str = "right"
) -> Track:
    """Fly one to three holds one after the other and return the log, positions and heights only."""
    side = 1 if turns == "right" else -1
    pilot = Pilot(wind_components(325.0, 19.0), 4.2, 1.0, 258.0)
    for k in range(holds):
        pilot.direct(PLACES[k])
        pilot.hold(PLACES[k], side if k != 1 else -side, circuits + (k > 0), (8.0, 16.0, 24.0, 26.0, 25.0))
        pilot.straight(60)
    rows = np.array(pilot.rows)
    lat, lon = LocalPlane(47.0, 8.0).to_earth(rows[:, 1], rows[:, 2])
    time = rows[:, 0]
    altitude = 4000.0 + 40.0 * np.sin(time / 60.0) + 110.0 * np.exp(-(((time - 620.0) / 25.0) ** 2))
    odd = Notice("altitude-datum", "The file does not say what its heights are measured from.")
    return Track(name, "gpx", "ab" * 32, time, lat, lon, {"altitude_ft": altitude}, START, (odd,))


@lru_cache(maxsize=8)
def _debriefed(holds: int, circuits: int, turns: str, given: bool) -> tuple[Debrief, dict[str, Any]]:
    made = debrief_track(track(holds=holds, circuits=circuits, turns=turns), hold=HOLD if given else None)
    return made, document(made)


def debriefed(
    *, holds: int = 1, circuits: int = 3, turns: str = "right", given: bool = True
) -> tuple[Debrief, dict[str, Any]]:
    """Return a debrief and a document of one's own to change."""
    made, plain = _debriefed(holds, circuits, turns, given)
    return made, copy.deepcopy(plain)


def no_hold() -> tuple[Debrief, dict[str, Any]]:
    """Return the debrief of a straight flight."""
    pilot = Pilot(wind_components(325.0, 19.0), 0.0, 0.0, 90.0)
    pilot.straight(400)
    rows = np.array(pilot.rows)
    lat, lon = LocalPlane(47.0, 8.0).to_earth(rows[:, 1], rows[:, 2])
    made = debrief_track(Track("straight.gpx", "gpx", "cd" * 32, rows[:, 0], lat, lon, {}, START))
    return made, document(made)


def typed(plain: dict[str, Any]) -> WrittenDebrief:
    """Return a document, perhaps one that was changed, as the program has it."""
    return WrittenDebrief.from_json(plain)


def rendered(made: Debrief, plain: dict[str, Any] | None = None, **known: Any) -> str:
    """Write the page of a debrief, from a document that was changed where one is given."""
    return render_page(made, typed(plain or document(made)), **known)


def excursion(start_s: float, end_s: float, worst_s: float, worst: float) -> WrittenExcursion:
    """Return one time that the height of 4,000 ft was left, by ``worst`` feet."""
    return WrittenExcursion(item="altitude", start_s=start_s, end_s=end_s, worst=worst, worst_s=worst_s,
                            reference=4000.0, circuits=(1,), came_back=True)  # fmt: skip
