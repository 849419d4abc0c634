"""One turn through the air: the rate builds up while rolling in, stays, and dies away while rolling out.

The rate ramps evenly over the rolling time, so a turn of heading change A at rate r takes A/r plus one
rolling time, and with no rolling time it is the plain arc of a circle.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

# Sixteen points integrate a ramp of up to a radian to the last digit.
_NODES, _WEIGHTS = (np.asarray(part) for part in np.polynomial.legendre.leggauss(16))


@dataclass(frozen=True)
class TurnPath:
    """A turn, to the right; mirror it for a left-hand one.

    Attributes
    ----------
    angle_deg : float
        Heading change, positive.
    rate_dps : float
        Rate when established, positive.
    roll_s : float
        Time to roll in, and again to roll out.
    """

    angle_deg: float
    rate_dps: float
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
        """Return the heading change so far.

        Parameters
        ----------
        time_s : (n,) float array
            Since the turn began, within its duration.

        Returns
        -------
        (n,) float array
            Degrees.
        """
        t, roll, rate = np.asarray(time_s, float), self.rolling_s, self.peak_rate_dps
        if roll <= 0.0:
            return rate * t
        to_end = self.duration_s - t
        rising, falling = 0.5 * rate * t**2 / roll, self.angle_deg - 0.5 * rate * to_end**2 / roll
        steady = rate * (t - 0.5 * roll)
        return np.where(t < roll, rising, np.where(to_end < roll, falling, steady))

    def moved_s(self, time_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the distance made through the air, in seconds of flight (multiply by the true airspeed).

        Parameters
        ----------
        time_s : (n,) float array
            Since the turn began, within its duration.

        Returns
        -------
        ahead_s, right_s : (n,) float array
            Along the heading at the start of the turn, and to its right.
        """
        t, roll = np.asarray(time_s, float), self.rolling_s
        out = self.duration_s - roll
        parts = [self._ramp(0.0, np.minimum(t, roll))] if roll > 0.0 else []
        parts.append(self._arc(np.clip(t, roll, out)))
        if roll > 0.0:
            parts.append(self._ramp(out, np.maximum(t, out)))
        return sum((part[0] for part in parts), np.zeros_like(t)), sum(
            (part[1] for part in parts), np.zeros_like(t)
        )

    def _arc(self, end_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Move along the steady arc, from the end of the rolling in: sines and cosines of the heading."""
        if self.peak_rate_dps == 0.0:
            return end_s, np.zeros_like(end_s)
        radius_s = 1.0 / np.radians(self.peak_rate_dps)
        start = np.radians(0.5 * self.peak_rate_dps * self.rolling_s)
        end = start + (end_s - self.rolling_s) / radius_s
        return radius_s * (np.sin(end) - np.sin(start)), radius_s * (np.cos(start) - np.cos(end))

    def _ramp(self, start_s: float, end_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Move while rolling: the heading is a parabola in time, so the integral is done by quadrature."""
        half = 0.5 * (end_s - start_s)
        direction = np.radians(self.turned_deg(start_s + half[..., None] * (1.0 + _NODES)))
        return half * (np.cos(direction) @ _WEIGHTS), half * (np.sin(direction) @ _WEIGHTS)


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
