"""The measured circuit flown again on paper, with one thing after another made steady.

Three replays tell apart what no decision explains: with the measured headings at the mean airspeed in the
mean wind; then with the measured airspeed; then with the measured wind, which must give back the measured
roll-out. In each the outbound clock is kept: had the wind changed otherwise before abeam, the pilot would
have started the clock elsewhere and turned in after the same time.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.frame import HoldFrame
from analyser.earth.angles import wrap180
from analyser.frozen import dataclass
from analyser.grading.terms import Clock
from analyser.holds.kinematics import SteadyFlight
from analyser.motion.motion import Motion

ComplexArray = NDArray[np.complex128]


@dataclass(frozen=True)
class Axes:
    """The axes of one hold.

    Attributes
    ----------
    frame : HoldFrame
        The motion along and right of the inbound course.
    course_deg : float
        Inbound course on the map.
    side : int
        +1 right-hand, -1 left-hand.
    """

    frame: HoldFrame
    course_deg: float
    side: int

    def at(self, time_s: float) -> complex:
        """Return the measured position, nautical miles from the fix."""
        along, right = self.frame.at(time_s)
        return complex(along, self.side * right)

    def turned(self, north_and_east: ComplexArray) -> ComplexArray:
        """Turn plane numbers north + i·east into these axes."""
        turned = north_and_east * np.exp(-1j * np.radians(self.course_deg))
        return np.asarray(turned.real + 1j * self.side * turned.imag)

    def vector(self, east: float, north: float) -> complex:
        """Turn one vector of the map into these axes."""
        return complex(self.turned(np.array(north + 1j * east)))

    def heading(self, heading_deg: float, near_deg: float) -> float:
        """Turn a heading into these axes, within half a turn of ``near_deg``."""
        off = self.side * (heading_deg - self.course_deg)
        return near_deg + wrap180(off - near_deg)

    def heading_on_map(self, heading_deg: float) -> float:
        """Turn a heading of these axes back into one on the map, [0, 360)."""
        return float((self.course_deg + self.side * heading_deg) % 360.0)

    def on_map(self, points: ComplexArray) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Turn points of these axes into east and north of the fix."""
        plain = (points.real + 1j * self.side * points.imag) * np.exp(1j * np.radians(self.course_deg))
        return np.asarray(plain.imag), np.asarray(plain.real)


FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Instants:
    """The instants of one circuit, seconds from the log's first sample.

    Attributes
    ----------
    fix_s, turn_s, level_s, turn_in_s, rollout_s : float
        Passing the fix, leaving level, wings level outbound, leaving level again, wings level inbound.
    """

    fix_s: float
    turn_s: float
    level_s: float
    turn_in_s: float
    rollout_s: float


@dataclass(frozen=True)
class Replay:
    """Replays of one circuit.

    Attributes
    ----------
    flight : SteadyFlight
        Mean airspeed and wind of the circuit.
    outbound_time : float
        What the pilot's clock showed at the turn-in; the along coordinate where a length ends the leg.
    """

    motion: Motion
    axes: Axes
    instants: Instants
    flight: SteadyFlight
    clock: Clock
    outbound_time: float

    def rollout(self, *, measured_speed: bool, measured_wind: bool) -> complex:
        """Return where the inbound turn would have ended.

        Parameters
        ----------
        measured_speed, measured_wind : bool
            Take the measured series, or the circuit's mean.

        Returns
        -------
        complex
            Nautical miles, in the hold's axes.
        """
        at = self.instants
        first_s, first = self._moved(min(at.fix_s, at.turn_s), at.level_s, measured_speed, measured_wind)
        # The path hangs on the measured position over the fix.
        first = first - _at(first_s, first, at.fix_s) + self.axes.at(at.fix_s)
        _, leg = self._moved(at.level_s, at.turn_in_s, measured_speed, measured_wind)
        _, second = self._moved(at.turn_in_s, at.rollout_s, measured_speed, measured_wind)
        flown_s = at.turn_in_s - at.level_s
        velocity = leg[-1] / flown_s
        return complex(first[-1] + velocity * self._leg_s(first_s, first, complex(velocity)) + second[-1])

    def _leg_s(self, first_s: FloatArray, first: ComplexArray, velocity: complex) -> float:
        """Length of the outbound leg by the same clock, on this replay's own path."""
        level = complex(first[-1])
        if self.clock == "wings level" or velocity.real >= 0.0:
            return self.instants.turn_in_s - self.instants.level_s
        if self.clock == "length":
            return (self.outbound_time - level.real) / velocity.real
        if level.real > 0.0:
            return self.outbound_time - level.real / velocity.real
        along = first.real
        crossed = np.flatnonzero((along[:-1] > 0.0) & (along[1:] <= 0.0))
        if crossed.size == 0:
            return self.outbound_time
        i = int(crossed[-1])
        share = along[i] / (along[i] - along[i + 1])
        abeam_s = first_s[i] + share * (first_s[i + 1] - first_s[i])
        return float(self.outbound_time + abeam_s - self.instants.level_s)

    def _moved(
        self, start_s: float, end_s: float, measured_speed: bool, measured_wind: bool
    ) -> tuple[FloatArray, ComplexArray]:
        """Integrate the velocity from one instant to another: times, and displacement since the start."""
        grid = self.motion.time_s
        first = np.searchsorted(grid, start_s + 1e-6, side="right")
        inner = grid[first : np.searchsorted(grid, end_s - 1e-6)]
        time_s = np.concatenate([[start_s], inner, [end_s]])
        heading = np.radians(np.interp(time_s, grid, self.motion.heading_unwound_deg))
        tas = np.interp(time_s, grid, self.motion.tas_kt) if measured_speed else self.flight.tas_kt
        velocity = self.axes.turned(tas * np.exp(1j * heading))
        if measured_wind:
            east = np.interp(time_s, grid, self.motion.wind_east_kt)
            north = np.interp(time_s, grid, self.motion.wind_north_kt)
            velocity = velocity + self.axes.turned(north + 1j * east)
        else:
            velocity = velocity + self.flight.wind_kt
        steps = 0.5 * (velocity[1:] + velocity[:-1]) * np.diff(time_s) / 3600.0
        return time_s, np.concatenate([[0.0], np.cumsum(steps)])


def _at(time_s: FloatArray, path: ComplexArray, at_s: float) -> complex:
    return complex(np.interp(at_s, time_s, path.real), np.interp(at_s, time_s, path.imag))
