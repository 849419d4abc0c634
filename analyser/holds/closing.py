"""The outbound leg that brings a circuit back to where it began, in a steady wind.

Coordinates lie along the inbound course (positive inbound) and across it (positive right); angles are
measured from the inbound course, positive right. In the air mass the two turns of a circuit add up to one
full circle, so without rolling time they move the aircraft by nothing; over the ground they drift with the
wind. With rolling time two unequal turns leave a small rest, which is why a search follows the closed form.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyser.holds.root import root_between
from analyser.holds.turn_path import chord_s

FloatArray = NDArray[np.float64]

#: Headings tried on each side of the reciprocal when the closed form does not suffice, degrees.
_WIDEST_DEG = 150.0
_GRID = np.arange(-_WIDEST_DEG, _WIDEST_DEG + 0.25, 0.5)


@dataclass(frozen=True)
class Air:
    """Speed, wind and turning of the aircraft.

    Attributes
    ----------
    tas_kt : float
    along_kt, cross_kt : float
        Wind TOWARDS, along and across the inbound course.
    side : int
        +1 right-hand, -1 left-hand.
    rate_dps, roll_s : float
        Established turn rate, and time to roll in or out.
    """

    tas_kt: float
    along_kt: float
    cross_kt: float
    side: int
    rate_dps: float
    roll_s: float

    @property
    def turning_s(self) -> float:
        """Both turns together, where both reach the full rate."""
        return 360.0 / self.rate_dps + 2.0 * self.roll_s

    def correction_deg(self, track_deg: float) -> float:
        """Return heading minus track that holds a track, degrees; NaN where the wind is too strong."""
        track = math.radians(track_deg)
        sideways = self.cross_kt * math.cos(track) - self.along_kt * math.sin(track)
        if abs(sideways) >= self.tas_kt:
            return math.nan
        return math.degrees(math.asin(-sideways / self.tas_kt))

    def ground_speed_kt(self, track_deg: float) -> float:
        """Return the speed made good along a track that is held; NaN where it cannot be."""
        track, correction = math.radians(track_deg), math.radians(self.correction_deg(track_deg))
        tailwind = self.along_kt * math.cos(track) + self.cross_kt * math.sin(track)
        return self.tas_kt * math.cos(correction) + tailwind


@dataclass(frozen=True)
class OutboundLeg:
    """The leg that closes the circuit.

    Attributes
    ----------
    heading_deg : float
        Minus the reciprocal of the inbound course, positive right.
    along_kt, cross_kt : float
        Ground velocity.
    time_s : float
        From wings level to the start of the inbound turn.
    """

    heading_deg: float
    along_kt: float
    cross_kt: float
    time_s: float


def closing_leg(air: Air, inbound_distance_nm: float, inbound_correction_deg: float) -> OutboundLeg | None:
    """Find the outbound leg for an inbound leg of a given length on the course.

    Parameters
    ----------
    air : Air
    inbound_distance_nm : float
        From roll-out on the inbound course to the fix, over the ground.
    inbound_correction_deg : float
        Inbound heading minus course.

    Returns
    -------
    OutboundLeg or None
        None where no heading within 150° of the reciprocal closes the circuit.
    """
    closing = _Closing(air, inbound_distance_nm, inbound_correction_deg)
    if air.roll_s == 0.0:
        return _kept([closing.closed_form()])
    near = closing.search_near(closing.closed_form())
    # A leg of some length is the only one that closes; near none there may be two, so look everywhere.
    if near is not None and near.time_s > 1.0:
        return near
    return _kept([closing.leg(heading) for heading in _roots(closing.aside, closing.grid())])


def _kept(legs: Sequence[OutboundLeg | None]) -> OutboundLeg | None:
    """Keep the leg nearest the reciprocal: close to a leg of no length, two headings can close."""
    flyable = [leg for leg in legs if leg is not None and leg.time_s >= 0.0]
    return min(flyable, key=lambda leg: abs(leg.heading_deg), default=None)


@dataclass(frozen=True)
class _Closing:
    air: Air
    distance_nm: float
    correction_deg: float

    def needed_nm(self, heading_deg: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Displacement that the leg must give, with this outbound heading."""
        air = self.air
        first = 180.0 + air.side * (heading_deg - self.correction_deg)
        chord_1 = chord_s(first, air.rate_dps, air.roll_s)
        chord_2 = chord_s(360.0 - first, air.rate_dps, air.roll_s)
        # The second turn's middle heading is opposite to the first's, so only the difference remains.
        rest = air.tas_kt / 3600.0 * (chord_1 - chord_2)
        middle = np.radians(self.correction_deg + air.side * first / 2.0)
        # A turn too small to reach the full rate rolls for less than the rolling time.
        rolling_s = sum(np.minimum(air.roll_s, angle / air.rate_dps) for angle in (first, 360.0 - first))
        drift_h = (360.0 / air.rate_dps + rolling_s) / 3600.0
        along = self.distance_nm + air.along_kt * drift_h + rest * np.cos(middle)
        return -along, -(air.cross_kt * drift_h + rest * np.sin(middle))

    def velocity_kt(self, heading_deg: FloatArray) -> tuple[FloatArray, FloatArray]:
        direction, air = np.radians(180.0 + heading_deg), self.air
        return air.tas_kt * np.cos(direction) + air.along_kt, air.tas_kt * np.sin(direction) + air.cross_kt

    def aside(self, heading_deg: FloatArray) -> FloatArray:
        """Zero where the leg points along the displacement needed."""
        n_along, n_cross = self.needed_nm(heading_deg)
        v_along, v_cross = self.velocity_kt(heading_deg)
        return v_along * n_cross - v_cross * n_along

    def leg(self, heading_deg: float) -> OutboundLeg:
        at = np.array(heading_deg)
        (n_along, n_cross), (v_along, v_cross) = self.needed_nm(at), self.velocity_kt(at)
        speed2 = float(v_along**2 + v_cross**2)
        hours = float(v_along * n_along + v_cross * n_cross) / speed2 if speed2 > 0.0 else math.nan
        return OutboundLeg(heading_deg, float(v_along), float(v_cross), 3600.0 * hours)

    def closed_form(self) -> OutboundLeg | None:
        """Solve without rolling time: displacement gives the track, the wind triangle the heading."""
        drift_h = self.air.turning_s / 3600.0
        along = -(self.distance_nm + self.air.along_kt * drift_h)
        cross = -self.air.cross_kt * drift_h
        # A leg of no length has no direction: take the reciprocal, which a longer one would have.
        track = math.degrees(math.atan2(cross, along)) if math.hypot(along, cross) > 1e-9 else 180.0
        if not self.air.ground_speed_kt(track) > 0.0:
            return None
        return self.leg(_fold(track + self.air.correction_deg(track) - 180.0))

    def search_near(self, start: OutboundLeg | None) -> OutboundLeg | None:
        """Refine the closed form by the secant rule; None where that does not settle."""
        if start is None:
            return None
        low, high = start.heading_deg, start.heading_deg + 0.25
        f_low, f_high = float(self.aside(np.array(low))), float(self.aside(np.array(high)))
        for _ in range(20):
            if abs(high - low) < 1e-11 or f_high == f_low:
                break
            low, high, f_low = high, high - f_high * (high - low) / (f_high - f_low), f_high
            if abs(high) > _WIDEST_DEG:
                return None
            f_high = float(self.aside(np.array(high)))
        return self.leg(high) if abs(f_high) < 1e-9 else None

    def grid(self) -> FloatArray:
        """Headings that make both turns go the right way."""
        return np.asarray(_GRID[np.abs(_GRID - self.correction_deg) < 179.0])


def _fold(angle_deg: float) -> float:
    return (angle_deg + 180.0) % 360.0 - 180.0


def _roots(function: Callable[[FloatArray], FloatArray], grid: FloatArray) -> list[float]:
    """Find the zeros by sign changes on the grid, each then refined."""
    values = function(grid)
    roots = [float(at) for at in grid[values == 0.0]]
    for k in np.flatnonzero(values[:-1] * values[1:] < 0.0):
        low, high = float(grid[k]), float(grid[k + 1])
        roots.append(root_between(lambda at: float(function(np.array(at))), low, high, within=1e-12))
    return roots
