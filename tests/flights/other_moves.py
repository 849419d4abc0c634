"""What pilots fly that is no hold, move by move."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from tests.flights.air import MPS
from tests.flights.pilot import Pilot, fold, rate_one_bank_deg

Point = tuple[float, float]


def _bearing(a: Point, b: Point) -> float:
    return float(np.degrees(np.arctan2(b[0] - a[0], b[1] - a[1])))


def _corners(start: Point, along_deg: float, side: int, nm: list[tuple[float, float]]) -> list[Point]:
    """Lay out points by miles along a direction and miles to a side of it."""
    toward = np.radians(along_deg)
    return [
        (
            float(start[0] + 1852.0 * (along * np.sin(toward) + side * across * np.cos(toward))),
            float(start[1] + 1852.0 * (along * np.cos(toward) - side * across * np.sin(toward))),
        )
        for along, across in nm
    ]


@dataclass
class Moves:
    """A pilot's repertoire; the dice are the pilot's own."""

    pilot: Pilot
    rng: np.random.Generator

    @property
    def heading(self) -> float:
        """Return the heading now."""
        return self.pilot.craft.heading_deg

    def some(self, low: float, high: float) -> float:
        """Draw a number."""
        return float(self.rng.uniform(low, high))

    def whole(self, low: int, high: int) -> int:
        """Draw a whole number, both ends included."""
        return int(self.rng.integers(low, high + 1))

    def side(self) -> int:
        """Draw a hand."""
        return 1 if self.rng.random() < 0.5 else -1

    def straight(self, seconds: float) -> None:
        """Fly on."""
        self.pilot.hold_for(self.heading, seconds)

    def onto(self, heading: float, bank: float | None = None) -> None:
        """Turn the short way onto a heading."""
        off = fold(heading - self.heading)
        self.pilot.turn(1 if off >= 0 else -1, bank or self.bank(), heading)

    def bank(self) -> float:
        """Return about the bank of rate one."""
        return max(rate_one_bank_deg(self.pilot.craft.tas_kt) + self.some(-3.0, 4.0), 8.0)

    def by(self, side: int, degrees: float, bank: float | None = None) -> None:
        """Turn through an angle."""
        self.pilot.turn_for(side, bank or self.bank(), degrees)

    def height(self, feet: float, fpm: float = 700.0) -> None:
        """Go for a height; getting there takes its time."""
        self.pilot.craft.wanted_ft, self.pilot.craft.climb_fpm = feet, fpm

    def speed(self, eas_kt: float) -> None:
        """Go for a speed."""
        self.pilot.craft.wanted_eas_kt = eas_kt

    def fly_to(self, east_m: float, north_m: float, right_m: float = 0.0) -> None:
        """Turn towards a point and track to it."""
        craft = self.pilot.craft
        bearing = float(np.degrees(np.arctan2(east_m - craft.east_m, north_m - craft.north_m)))
        self.onto(self.pilot.reckoned_heading(bearing))
        bearing = float(np.degrees(np.arctan2(east_m - craft.east_m, north_m - craft.north_m)))
        self.pilot.track_to((east_m, north_m), bearing, right_m=right_m)

    def leg(self, track_deg: float, nm: float) -> None:
        """Fly a track over the ground for a length."""
        craft = self.pilot.craft
        toward = np.radians(track_deg)
        to = (craft.east_m + nm * 1852 * np.sin(toward), craft.north_m + nm * 1852 * np.cos(toward))
        self.pilot.track_to((float(to[0]), float(to[1])), track_deg)

    def line(self, a: Point, b: Point, early_m: float = 0.0) -> None:
        """Track the line from one point to another, until a little before its end."""
        track = float(np.degrees(np.arctan2(b[0] - a[0], b[1] - a[1])))
        self.pilot.intercept(b, track)
        self.pilot.track_to(b, track, short_m=early_m)

    def radius_m(self) -> float:
        """Return the radius of a turn at about the usual bank."""
        return (self.pilot.craft.tas_kt * MPS) ** 2 / 9.80665 / float(np.tan(np.radians(self.bank())))

    def round(self, points: list[Point], side: int, each: Callable[[int], None]) -> None:
        """Fly once round the corners of a polygon; ``each`` is called on every leg with its number."""
        for i, here in enumerate(points):
            there, beyond = points[(i + 1) % len(points)], points[(i + 2) % len(points)]
            track, onwards = _bearing(here, there), _bearing(there, beyond)
            each(i)
            corner = (side * (onwards - track)) % 360.0
            early = self.radius_m() * float(np.tan(np.radians(min(corner, 90.0) / 2.0)))
            self.line(here, there, early if corner < 120.0 else 0.0)
            self.turn_to_track(side, onwards)

    def turn_to_track(self, side: int, track_deg: float, bank: float | None = None) -> None:
        """Turn one way until the ground goes by on a track."""
        self.pilot.turn(side, bank or self.bank(), self.pilot.reckoned_heading(track_deg))


def orbits(m: Moves) -> None:
    """Full circles, one after the other, some with a pause between."""
    side, bank = m.side(), m.some(12.0, 35.0)
    for _ in range(m.whole(2, 6)):
        m.by(side, 360.0 * m.whole(1, 3), bank)
        m.straight(m.some(0.0, 12.0) if m.rng.random() < 0.5 else m.some(60.0, 200.0))


def steep_turns(m: Moves) -> None:
    """Full circles at steep bank, one each way."""
    for _ in range(m.whole(2, 4)):
        side, bank = m.side(), m.some(40.0, 50.0)
        m.by(side, 360.0, bank)
        m.straight(m.some(4.0, 20.0))
        m.by(-side, 360.0, bank)
        m.straight(m.some(30.0, 120.0))


def s_turns(m: Moves) -> None:
    """Turns this way and that about a line."""
    side, angle = m.side(), m.some(40.0, 180.0)
    for i in range(m.whole(4, 10)):
        m.by(side if i % 2 else -side, angle)
        m.straight(m.some(2.0, 25.0))


def vectors(m: Moves) -> None:
    """Headings given by somebody else, turn after turn."""
    for _ in range(m.whole(6, 12)):
        m.onto(m.heading + m.some(-120.0, 120.0))
        m.straight(m.some(30.0, 200.0))


def procedure_turn(m: Moves) -> None:
    """An approach with a procedure turn, 45°/180° or 80°/260°, down and then up again."""
    out, side, high = m.heading, m.side(), m.pilot.craft.height_ft
    m.straight(m.some(60.0, 150.0))
    m.height(high - m.some(500.0, 1500.0), 500.0)
    if m.rng.random() < 0.5:
        m.by(side, 45.0)
        m.straight(m.some(45.0, 75.0))
        m.by(-side, 180.0)
        m.straight(m.some(5.0, 30.0))
        m.turn_to_track(-side, out + 180.0)
    else:
        m.by(side, 80.0)
        m.turn_to_track(-side, out + 180.0)
    m.straight(m.some(60.0, 150.0))
    m.height(high - m.some(1500.0, 2500.0), 600.0)
    m.straight(m.some(100.0, 200.0))
    m.height(high, 800.0)
    m.straight(m.some(120.0, 240.0))
    m.onto(m.heading + m.some(-150.0, 150.0))


def base_turn(m: Moves) -> None:
    """An approach by a base turn: out on a diverging track, a turn of two hundred degrees, in and down."""
    inbound, side, high = m.heading + 180.0, m.side(), m.pilot.craft.height_ft
    m.onto(inbound + 180.0 - side * m.some(18.0, 40.0))
    m.height(high - 800.0, 600.0)
    m.straight(m.some(90.0, 180.0))
    m.turn_to_track(side, inbound)
    m.height(high - 2200.0, 600.0)
    m.leg(inbound, m.some(4.0, 7.0))
    m.height(high, 900.0)
    m.straight(m.some(120.0, 240.0))


def course_reversal(m: Moves) -> None:
    """Over the beacon, out, back by a teardrop or a turn the short way, in, and on: once."""
    # It comes over the beacon more or less outbound: a turn of 180° there would make it a racetrack procedure.
    inbound, side, high = m.heading + 180.0 + m.some(-90.0, 90.0), m.side(), m.pilot.craft.height_ft
    m.onto(inbound + 180.0)
    m.straight(m.some(80.0, 160.0))
    m.by(side, m.some(30.0, 50.0))
    m.straight(m.some(20.0, 50.0))
    m.turn_to_track(-side, inbound)
    m.height(high - 1800.0, 700.0)
    m.leg(inbound, m.some(5.0, 9.0))
    m.height(high, 900.0)
    m.onto(inbound + m.some(-60.0, 60.0))
    m.straight(180.0)


def approach_laps(m: Moves) -> None:
    """Vectored round for one approach after the other: down the final, and up again."""
    final, side, high = m.some(0.0, 360.0), m.side(), m.pilot.craft.height_ft
    low = max(high - m.some(1500.0, 2500.0), 200.0)
    wide = 2.0 * m.radius_m() / 1852.0 if m.rng.random() < 0.5 else m.some(2.5, 5.0)
    length = m.some(6.0, 10.0)
    here = (m.pilot.craft.east_m, m.pilot.craft.north_m)
    points = _corners(here, final, side, [(3.0, 0.0), (3.0 + length, 0.0), (3.0 + length, wide), (3.0, wide)])
    m.fly_to(*points[0])
    m.turn_to_track(side, final)

    def each(leg: int) -> None:
        if leg == 0:
            m.height(low, 700.0)
        elif leg == 1:
            m.height(high, 900.0)

    for _ in range(m.whole(2, 4)):
        m.round(points, side, each)
    m.height(high)


def aerodrome_circuits(m: Moves) -> None:
    """Circuits and landings: square or oval, of several sizes, the speed and height changing all the way."""
    runway, side, cruise = m.some(0.0, 360.0), m.side(), m.pilot.craft.wanted_eas_kt
    oval, size = m.rng.random() < 0.5, m.some(0.8, 1.8)
    ground = max(m.pilot.craft.height_ft - m.some(2500.0, 3500.0), 0.0)
    pattern = ground + m.some(800.0, 1500.0)
    wide = 2.0 * m.radius_m() / 1852.0 if oval else 1.1 * size
    here = (m.pilot.craft.east_m, m.pilot.craft.north_m)
    corners = [(3.0, 0.0), (3.0 + 2.4 * size, 0.0), (3.0 + 2.4 * size, wide), (3.0, wide)]
    points = _corners(here, runway, side, corners)
    m.height(pattern, 800.0)
    m.fly_to(*points[0])
    m.turn_to_track(side, runway)

    def each(leg: int) -> None:
        # 0: final, landing and take-off; 1: crosswind; 2: downwind; 3: base.
        if leg == 0:
            m.height(ground, 900.0)
            m.speed(0.55 * cruise)
            m.leg(runway, 1.1 * size)
            m.speed(0.8 * cruise)
            m.height(pattern, 700.0)
        elif leg == 2:
            m.speed(cruise)
        elif leg == 3:
            m.speed(0.7 * cruise)
            m.height(ground + 400.0, 600.0)

    for _ in range(m.whole(4, 9)):
        m.round(points, side, each)
    m.speed(cruise)
    m.height(pattern + 2500.0, 700.0)


def thermals(m: Moves) -> None:
    """Circles that drift and climb, and glides between."""
    cruise, side = m.pilot.craft.wanted_eas_kt, 1
    for _ in range(m.whole(3, 6)):
        side = m.side()
        m.speed(0.75 * cruise)
        m.height(m.pilot.craft.height_ft + 3000.0, m.some(150.0, 500.0))
        for _ in range(m.whole(5, 14)):
            m.by(side, m.some(300.0, 400.0), m.some(20.0, 40.0))
            if m.rng.random() < 0.3:
                m.straight(m.some(2.0, 8.0))
        m.speed(cruise)
        m.height(m.pilot.craft.height_ft - 1500.0, 300.0)
        m.straight(m.some(90.0, 400.0))


def survey_lines(m: Moves) -> None:
    """Lines side by side: turned onto alternately, or always the same way round with the lines marching on."""
    direction, nm, side = m.some(0.0, 360.0), m.some(3.0, 9.0), m.side()
    racetrack, diameter_nm = m.rng.random() < 0.5, 2.0 * m.radius_m() / 1852.0
    apart = m.some(0.15, 0.4) if racetrack else diameter_nm * m.some(1.0, 1.4)
    here = (m.pilot.craft.east_m, m.pilot.craft.north_m)
    rows: list[float] = []
    for i in range(m.whole(3, 5)):
        rows += [i * apart, i * apart + diameter_nm] if racetrack else [2 * i * apart, (2 * i + 1) * apart]
    for count, row in enumerate(rows):
        a, b = _corners(here, direction, side, [(1.0, row), (1.0 + nm, row)])
        if count % 2:
            a, b = b, a
        hand = side if racetrack or count % 2 else -side
        if count == 0:
            m.fly_to(*a)
            hand = 1 if fold(_bearing(a, b) - m.heading) > 0 else -1
        m.turn_to_track(hand, _bearing(a, b))
        m.line(a, b)


def airwork(m: Moves) -> None:
    """A lesson in the training area: turns, climbs, slow flight, a stall or two, an emergency descent."""
    cruise, high, hand = m.pilot.craft.wanted_eas_kt, m.pilot.craft.height_ft, m.side()
    for _ in range(m.whole(8, 14)):
        kind = m.whole(0, 6)
        if kind == 0:
            m.speed(0.6 * cruise)
            m.straight(m.some(40.0, 90.0))
            m.speed(cruise)
        elif kind == 1:
            # Two half circles the same way round with a leg between would be a lap of a hold, whatever was meant.
            hand = -hand
            m.by(hand, m.some(80.0, 200.0), m.some(15.0, 45.0))
        elif kind == 2:
            m.height(high + m.some(-1000.0, 1000.0), 800.0)
            m.by(m.side(), m.some(60.0, 180.0))
        elif kind == 3:
            side = m.side()
            m.by(side, 90.0, 30.0)
            m.by(-side, 270.0, 30.0)
        elif kind == 4:
            m.straight(m.some(30.0, 120.0))
        elif kind == 5:
            hand = -hand
            m.by(hand, 180.0, m.some(20.0, 45.0))
        else:
            side = m.side()
            for _ in range(2):
                m.by(side, 180.0, 28.0)
                m.by(-side, 180.0, 28.0)
        m.straight(m.some(5.0, 40.0))


def circle_a_point(m: Moves) -> None:
    """Round a place on the ground, the bank changing with the wind; then an eight round two of them."""
    side = m.side()
    for _ in range(m.whole(2, 4)):
        for _ in range(8):
            m.by(side, 45.0, m.some(14.0, 32.0))
    for _ in range(m.whole(2, 4)):
        side = -side
        m.by(side, m.some(230.0, 270.0), m.some(18.0, 30.0))
        m.straight(m.some(8.0, 25.0))


def journey(m: Moves) -> None:
    """Way-points, far apart."""
    for _ in range(m.whole(2, 4)):
        m.straight(m.some(200.0, 600.0))
        m.onto(m.heading + m.some(-60.0, 60.0))


MOVES = (
    orbits, steep_turns, s_turns, vectors, procedure_turn, base_turn, course_reversal, approach_laps,
    aerodrome_circuits, thermals, survey_lines, airwork, circle_a_point, journey,
)  # fmt: skip
