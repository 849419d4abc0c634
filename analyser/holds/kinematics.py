"""Flying in a steady wind: turns, straights, and the way back onto a course.

Positions, velocities and winds are complex numbers: the real part lies along the inbound course (positive inbound), the
imaginary part across it, positive to the side that the hold turns to, so that a left-hand hold is computed as a
right-hand one. Headings are measured from the inbound course, positive in the hold's direction of turn.
"""

from __future__ import annotations

import cmath
import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from analyser.earth.angles import wrap180, wrap360
from analyser.frozen import dataclass

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

#: Points of one part of a path at most: an hour of seconds. Against a wind nearly as fast as the aircraft a leg lasts
#: for hours or days, and a drawing shows no more for having every second of them.
MOST_STEPS = 3600

#: Intercept angles tried, degrees: the usual one, then steeper where the fix is near, then flatter.
_INTERCEPTS = (30, 35, 40, 45, 50, 55, 60, 25, 20, 15, 10, 6, 3, 1)

#: Nearer than this the turn is taken to have ended on the course, nautical miles (a drawn line's width).
_ON_COURSE_NM = 0.01

# Sixteen points integrate a ramp of up to a radian to the last digit.
_NODES, _WEIGHTS = (np.asarray(part) for part in np.polynomial.legendre.leggauss(16))


@dataclass(frozen=True)
class TurnPath:
    """A turn through the air, to the right: the rate rises evenly while rolling in, stays, and falls while rolling out.

    A turn too small for both rolls still reaches the full rate, so it rolls quicker than a hand does: by half a roll, a
    second or two, at most. A circuit has no such turn; corrections of an interception and of an entry's leg may be one.
    """

    #: Heading change, positive.
    angle_deg: float
    #: Rate when established, positive.
    rate_dps: float
    #: Time to roll in, and again to roll out; without it the turn is the plain arc of a circle.
    roll_s: float = 0.0

    @property
    def rolling_s(self) -> float:
        """Time of one roll: shorter where the turn ends before the full rate is reached."""
        return min(self.roll_s, self.angle_deg / self.rate_dps)

    @property
    def duration_s(self) -> float:
        """Seconds from wings leaving level to wings level."""
        return self.angle_deg / self.rate_dps + self.rolling_s

    @property
    def peak_rate_dps(self) -> float:
        """The established rate; less where the turn is too small to reach it."""
        if self.angle_deg == 0.0:
            return 0.0
        return self.angle_deg / (self.duration_s - self.rolling_s)

    def turned_deg(self, time_s: FloatArray) -> FloatArray:
        """Return the heading change at (n,) times since the turn began, within its duration."""
        t, roll, rate = np.asarray(time_s, float), self.rolling_s, self.peak_rate_dps
        if roll <= 0.0:
            return rate * t
        to_end = self.duration_s - t
        rising, falling = 0.5 * rate * t**2 / roll, self.angle_deg - 0.5 * rate * to_end**2 / roll
        steady = rate * (t - 0.5 * roll)
        return np.where(t < roll, rising, np.where(to_end < roll, falling, steady))

    def moved_s(self, time_s: FloatArray) -> ComplexArray:
        """Return the way made through the air, in seconds of flight (multiply by the true airspeed).

        Parameters
        ----------
        time_s : (n,) float array
            Since the turn began, within its duration.

        Returns
        -------
        (n,) complex array
            Along the heading at the start of the turn + i·to its right.
        """
        t, roll = np.asarray(time_s, float), self.rolling_s
        out = self.duration_s - roll
        moved = self._arc(np.clip(t, roll, out))
        if roll > 0.0:
            moved = self._ramp(0.0, np.minimum(t, roll)) + moved + self._ramp(out, np.maximum(t, out))
        return moved

    def _arc(self, end_s: FloatArray) -> ComplexArray:
        """Move along the steady arc, from the end of the rolling in: sines and cosines of the heading."""
        if self.peak_rate_dps == 0.0:
            return np.asarray(end_s, complex)
        radius_s = 1.0 / np.radians(self.peak_rate_dps)
        start = np.radians(0.5 * self.peak_rate_dps * self.rolling_s)
        end = start + (end_s - self.rolling_s) / radius_s
        ahead, right = np.sin(end) - np.sin(start), np.cos(start) - np.cos(end)
        return np.asarray(radius_s * ahead + 1j * radius_s * right)

    def _ramp(self, start_s: float, end_s: FloatArray) -> ComplexArray:
        """Move while rolling: the heading is a parabola in time, so the integral is done by quadrature."""
        half = 0.5 * (end_s - start_s)
        direction = np.radians(self.turned_deg(start_s + half[..., None] * (1.0 + _NODES)))
        return np.asarray(half * (np.cos(direction) @ _WEIGHTS) + 1j * half * (np.sin(direction) @ _WEIGHTS))


def chord_s(angle_deg: FloatArray, rate_dps: float, roll_s: float) -> FloatArray:
    """Return the straight distance from the start of a turn to its end, in seconds of flight.

    A turn that rolls out as it rolled in is symmetrical, so its chord lies along its middle heading.

    Parameters
    ----------
    angle_deg : (n,) float array
        Heading changes, positive.
    rate_dps, roll_s : float
        As for :class:`TurnPath`.

    Returns
    -------
    (n,) float array
        Negative where the turn ends behind its start, as seen along the middle heading.
    """
    angle = np.asarray(angle_deg, float)
    rolling = np.minimum(roll_s, angle / rate_dps)
    # Steady arc: 2 R sin(half its angle), with R = 1/rate in seconds of flight.
    steady = 2.0 / np.radians(rate_dps) * np.sin(np.radians(0.5 * (angle - rate_dps * rolling)))
    t = 0.5 * rolling[..., None] * (1.0 + _NODES)
    safe = np.where(rolling > 0.0, rolling, 1.0)[..., None]
    off_middle = np.radians(0.5 * angle[..., None] - 0.5 * rate_dps * t**2 / safe)
    ramp = 0.5 * rolling * (np.cos(off_middle) @ _WEIGHTS)
    return np.asarray(steady + 2.0 * ramp)


@lru_cache(maxsize=1024)
def _one_chord_s(turn: TurnPath) -> float:
    return float(chord_s(np.array(turn.angle_deg), turn.rate_dps, turn.roll_s))


@dataclass(frozen=True)
class SteadyFlight:
    """An aircraft of steady airspeed in a steady wind."""

    tas_kt: float
    #: Wind TOWARDS: along the inbound course + i·to the hold's side.
    wind_kt: complex
    #: Time to roll in, and again to roll out.
    roll_s: float

    def velocity_kt(self, heading_deg: float) -> complex:
        """Return the velocity over the ground on a heading."""
        return cmath.rect(self.tas_kt, math.radians(heading_deg)) + self.wind_kt

    def correction_deg(self, track_deg: float) -> float:
        """Return heading minus track that holds a track, degrees; NaN where the wind is too strong."""
        track = math.radians(track_deg)
        sideways = self.wind_kt.imag * math.cos(track) - self.wind_kt.real * math.sin(track)
        if abs(sideways) >= self.tas_kt:
            return math.nan
        return math.degrees(math.asin(-sideways / self.tas_kt))

    def ground_speed_kt(self, track_deg: float) -> float:
        """Return the speed made good along a track that is held; NaN where it cannot be."""
        track, correction = math.radians(track_deg), math.radians(self.correction_deg(track_deg))
        tailwind = self.wind_kt.real * math.cos(track) + self.wind_kt.imag * math.sin(track)
        return self.tas_kt * math.cos(correction) + tailwind

    def in_turn_nm(
        self, turn: TurnPath, heading_deg: float, time_s: FloatArray, hand: int = 1
    ) -> ComplexArray:
        """Return the displacement over the ground at (n,) times of a turn that starts on a heading.

        ``hand`` is +1 for a turn the way the hold turns, -1 for one the other way.
        """
        moved = turn.moved_s(time_s)
        ahead = moved if hand > 0 else moved.conj()
        through_air = ahead * self.tas_kt * cmath.rect(1.0, math.radians(heading_deg))
        return np.asarray((through_air + self.wind_kt * time_s) / 3600.0)

    def turned_nm(self, turn: TurnPath, heading_deg: float, hand: int = 1) -> complex:
        """Return the displacement over the ground by a whole turn that starts on a heading."""
        # A turn that rolls out as it rolled in is symmetrical: it displaces along its middle heading.
        length = _one_chord_s(turn) * self.tas_kt / 3600.0
        through_air = cmath.rect(length, math.radians(heading_deg + hand * 0.5 * turn.angle_deg))
        return through_air + self.wind_kt * turn.duration_s / 3600.0


@dataclass(frozen=True)
class PathPoints:
    """Points of a path, for drawing and for comparing with a flown one."""

    #: (n,) Since its start.
    time_s: FloatArray
    #: (n,) From the fix: positive inbound beyond it, positive right of the inbound course.
    along_nm: FloatArray
    cross_nm: FloatArray
    #: (n,) [0, 360), in the reference of the inbound course.
    heading_deg: FloatArray
    #: (n,) Number of the part.
    phase: NDArray[np.int64]


class Trajectory:
    """A flight made of turns and straights.

    Parameters
    ----------
    rate_dps : float
        Of every turn when established.
    heading_deg : float
        At the start.
    at_nm : complex
        Where it starts.
    step_s : float
        Between points; wider where a part would have more than :data:`MOST_STEPS`.

    Attributes
    ----------
    time_s, at_nm, heading_deg
        The aircraft now.
    """

    def __init__(
        self,
        flight: SteadyFlight,
        rate_dps: float,
        heading_deg: float,
        at_nm: complex = 0j,
        step_s: float = 1.0,
    ) -> None:
        self.flight, self.rate_dps, self.step_s = flight, rate_dps, step_s
        self.time_s, self.at_nm, self.heading_deg = 0.0, at_nm, heading_deg
        self._parts: list[tuple[FloatArray, ComplexArray, FloatArray, int]] = []

    def turn(self, angle_deg: float, hand: int, phase: int) -> None:
        """Turn through an angle that is not negative; hand +1 the way the hold turns, -1 the other way."""
        turn = TurnPath(angle_deg, self.rate_dps, self.flight.roll_s)
        since = self._times(turn.duration_s)
        moved = self.flight.in_turn_nm(turn, self.heading_deg, since, hand)
        self._add(since, moved, self.heading_deg + hand * turn.turned_deg(since), phase)

    def straight(self, time_s: float, phase: int) -> None:
        """Fly straight for a time that is not negative."""
        since = self._times(time_s)
        moved = np.asarray(self.flight.velocity_kt(self.heading_deg) * since / 3600.0, complex)
        self._add(since, moved, np.full_like(since, self.heading_deg), phase)

    def meet_course(self, hand: int | None, phases: tuple[int, int, int]) -> bool:
        """Turn towards the inbound course, meet it at an angle, and fly it to the fix.

        Parameters
        ----------
        hand : int or None
            Of the turn towards the course; None for the shorter way.
        phases : (int, int, int)
            Of the turn, the interception and the leg along the course.

        Returns
        -------
        bool
            False where the course cannot be met before the fix: then the rest stays open.
        """
        turn, intercept, along = phases
        inbound_deg = self.flight.correction_deg(0.0)
        for angle_deg in _INTERCEPTS:
            found = self._interception(hand, inbound_deg, angle_deg)
            if found is not None:
                heading_deg, straight_s, last_hand = found
                self.turn(*self._turn_to(heading_deg, hand), turn)
                self.straight(straight_s, intercept)
                self.turn(*self._turn_to(inbound_deg, last_hand), intercept)
                break
        else:
            # The turn itself ends on the course, or nothing meets it before the fix.
            self.turn(*self._turn_to(inbound_deg, hand), turn)
            if self.at_nm.real >= 0.0 or abs(self.at_nm.imag) >= _ON_COURSE_NM:
                return False
        self.straight(-self.at_nm.real / self.flight.ground_speed_kt(0.0) * 3600.0, along)
        return True

    def points(self, course_deg: float = 0.0, side: int = 1, *, corners_once: bool = False) -> PathPoints:
        """Return the points so far, for a hold of this course and hand.

        A corner between two parts belongs to both; with ``corners_once`` only to the one that ends there.
        """
        time_s = np.concatenate([part[0] for part in self._parts])
        at_nm = np.concatenate([part[1] for part in self._parts])
        heading_deg = np.concatenate([part[2] for part in self._parts])
        phase = np.concatenate([np.full(part[0].size, part[3]) for part in self._parts])
        heading_deg = np.asarray(wrap360(course_deg + side * heading_deg))
        kept = np.append(True, np.diff(time_s) > 0.0) if corners_once else np.full(time_s.size, True)
        return PathPoints(
            time_s[kept], at_nm.real[kept], side * at_nm.imag[kept], heading_deg[kept], phase[kept]
        )

    def _interception(
        self, hand: int | None, inbound_deg: float, angle_deg: float
    ) -> tuple[float, float, int] | None:
        """Try one angle: heading, seconds straight and hand of the last turn; None where it does not work."""
        whole_nm = self._after_turn_to(inbound_deg, hand)
        if abs(whole_nm.imag) < _ON_COURSE_NM:
            return None
        # Right of the course the heading must lead left, and the other way round.
        lead = -1 if whole_nm.imag > 0.0 else 1
        heading_deg = inbound_deg + lead * angle_deg
        last = TurnPath(angle_deg, self.rate_dps, self.flight.roll_s)
        after_nm = self._after_turn_to(heading_deg, hand) + self.flight.turned_nm(last, heading_deg, -lead)
        velocity_kt = self.flight.velocity_kt(heading_deg)
        if abs(velocity_kt.imag) < 1e-9:
            return None
        straight_s = -3600.0 * after_nm.imag / velocity_kt.imag
        joins_nm = after_nm.real + velocity_kt.real * straight_s / 3600.0
        return None if straight_s < 0.0 or joins_nm >= 0.0 else (heading_deg, straight_s, -lead)

    def _turn_to(self, heading_deg: float, hand: int | None) -> tuple[float, int]:
        """Return angle and hand of the turn onto a heading."""
        change = wrap180(heading_deg - self.heading_deg)
        if hand is None:
            hand = 1 if change >= 0.0 else -1
        return wrap360(hand * change), hand

    def _after_turn_to(self, heading_deg: float, hand: int | None) -> complex:
        angle_deg, hand = self._turn_to(heading_deg, hand)
        turn = TurnPath(angle_deg, self.rate_dps, self.flight.roll_s)
        return self.at_nm + self.flight.turned_nm(turn, self.heading_deg, hand)

    def _times(self, duration_s: float) -> FloatArray:
        step_s = max(self.step_s, duration_s / MOST_STEPS)
        times = np.append(np.arange(0.0, max(duration_s - 0.01 * step_s, 0.0), step_s), duration_s)
        # However short, a part begins where the one before it ended.
        return times if times[0] == 0.0 else np.append(0.0, times)

    def _add(self, since_s: FloatArray, moved_nm: ComplexArray, heading_deg: FloatArray, phase: int) -> None:
        at_nm = self.at_nm + moved_nm
        self._parts.append((self.time_s + since_s, at_nm, heading_deg, phase))
        self.time_s, self.at_nm = self.time_s + float(since_s[-1]), complex(at_nm[-1])
        self.heading_deg = float(heading_deg[-1])


def to_east_north(
    along_nm: FloatArray, cross_nm: FloatArray, inbound_course_deg: float
) -> tuple[FloatArray, FloatArray]:
    """Turn (n,) points along and right of the inbound course into east and north of the fix."""
    sin, cos = math.sin(math.radians(inbound_course_deg)), math.cos(math.radians(inbound_course_deg))
    return along_nm * sin + cross_nm * cos, along_nm * cos - cross_nm * sin


#: East and north of the fix into (n,) points along and right of the inbound course: that turn is its own inverse.
to_along_cross = to_east_north
