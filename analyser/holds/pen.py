"""Drawing a flight from turns and straights, in a steady wind, in coordinates along and across a course."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from analyser.holds.circuit_path import MOST_STEPS
from analyser.holds.closing import Air
from analyser.holds.turn_path import TurnPath

FloatArray = NDArray[np.float64]


class Pen:
    """Where the aircraft is, and the trail it leaves.

    Parameters
    ----------
    air : Air
        Speed, wind along and across the course, turning.
    heading_deg : float
        At the start, from the course, positive right.
    step_s : float
        Between points of the trail; wider where a part would have more than :data:`MOST_STEPS`.

    Attributes
    ----------
    time_s, along_nm, cross_nm, heading_deg : float
        The aircraft now.
    """

    def __init__(self, air: Air, heading_deg: float, step_s: float = 1.0) -> None:
        self.air, self.step_s = air, step_s
        self.time_s, self.along_nm, self.cross_nm, self.heading_deg = 0.0, 0.0, 0.0, heading_deg
        self._trail: list[tuple[FloatArray, FloatArray, FloatArray, FloatArray, int]] = []

    def turn(self, angle_deg: float, way: int, phase: int) -> None:
        """Turn through an angle.

        Parameters
        ----------
        angle_deg : float
            Not negative.
        way : int
            +1 right, -1 left.
        phase : int
            Label of the points.
        """
        turn = TurnPath(angle_deg, self.air.rate_dps, self.air.roll_s)
        since = self._times(turn.duration_s)
        ahead, right = turn.moved_s(since)
        self._move(since, ahead, way * right, self.heading_deg + way * turn.turned_deg(since), phase)

    def straight(self, time_s: float, phase: int) -> None:
        """Fly straight.

        Parameters
        ----------
        time_s : float
            Not negative.
        phase : int
            Label of the points.
        """
        since = self._times(time_s)
        self._move(since, since, np.zeros_like(since), np.full_like(since, self.heading_deg), phase)

    def trail(self) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, NDArray[np.int64]]:
        """Return the points so far.

        Returns
        -------
        time_s, along_nm, cross_nm, heading_deg : (n,) float array
        phase : (n,) int array
        """
        columns = [np.concatenate([part[k] for part in self._trail]) for k in range(4)]
        phase = np.concatenate([np.full(part[0].size, part[4]) for part in self._trail])
        return columns[0], columns[1], columns[2], columns[3], phase

    def _times(self, duration_s: float) -> FloatArray:
        step_s = max(self.step_s, duration_s / MOST_STEPS)
        times = np.append(np.arange(0.0, max(duration_s - 0.01 * step_s, 0.0), step_s), duration_s)
        # However short, a part begins where the one before it ended.
        return times if times[0] == 0.0 else np.append(0.0, times)

    def _move(
        self, since: FloatArray, ahead_s: FloatArray, right_s: FloatArray, heading: FloatArray, phase: int
    ) -> None:
        direction, air = math.radians(self.heading_deg), self.air
        cos, sin = math.cos(direction), math.sin(direction)
        along = air.tas_kt * (ahead_s * cos - right_s * sin) + air.along_kt * since
        cross = air.tas_kt * (ahead_s * sin + right_s * cos) + air.cross_kt * since
        at = (self.time_s + since, self.along_nm + along / 3600.0, self.cross_nm + cross / 3600.0)
        self._trail.append((*at, heading, phase))
        self.time_s, self.along_nm, self.cross_nm = (float(part[-1]) for part in at)
        self.heading_deg = float(heading[-1])
