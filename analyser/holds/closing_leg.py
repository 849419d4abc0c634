"""The outbound leg that brings a circuit back to where it began, in a steady wind.

In the axes of :mod:`kinematics`. In the air mass the two turns of a circuit add up to one full circle, so without
rolling time they move the aircraft by nothing; over the ground they drift with the wind. With rolling time two unequal
turns leave a small rest, which is why a search follows the closed form.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from analyser.earth.angles import wrap180
from analyser.frozen import dataclass
from analyser.holds.kinematics import ComplexArray, FloatArray, SteadyFlight, chord_s
from analyser.holds.root_finding import root_between

#: Headings tried on each side of the reciprocal when the closed form does not suffice, degrees.
_WIDEST_DEG = 150.0
_GRID = np.arange(-_WIDEST_DEG, _WIDEST_DEG + 0.25, 0.5)


@dataclass(frozen=True)
class OutboundLeg:
    """The leg that closes the circuit."""

    #: Minus the reciprocal of the inbound course, positive in the hold's direction of turn.
    heading_deg: float
    #: Over the ground.
    velocity_kt: complex
    #: From wings level to the start of the inbound turn.
    time_s: float


def closing_leg(flight: SteadyFlight, rate_dps: float, inbound_distance_nm: float) -> OutboundLeg | None:
    """Find the outbound leg for an inbound one of a given length over the ground, roll-out to fix.

    The flight can hold the inbound course; both turns are of one rate when established. None where no heading within
    150° of the reciprocal closes the circuit.
    """
    closing = _Closing(flight, rate_dps, inbound_distance_nm, flight.correction_deg(0.0))
    if flight.roll_s == 0.0:
        return _kept([closing.closed_form()])
    near = closing.search_near(closing.closed_form())
    # A leg of some length is the only one that closes; near none there may be two, so look everywhere.
    if near is not None and near.time_s > 1.0:
        return near
    # Headings that make both turns go the right way.
    grid = _GRID[np.abs(_GRID - closing.correction_deg) < 179.0]
    return _kept([closing.leg(heading) for heading in _roots(closing.aside, grid)])


def _kept(legs: Sequence[OutboundLeg | None]) -> OutboundLeg | None:
    """Keep the leg nearest the reciprocal: close to a leg of no length, two headings can close."""
    flyable = [leg for leg in legs if leg is not None and leg.time_s >= 0.0]
    return min(flyable, key=lambda leg: abs(leg.heading_deg), default=None)


@dataclass(frozen=True)
class _Closing:
    flight: SteadyFlight
    rate_dps: float
    distance_nm: float
    correction_deg: float

    def needed_nm(self, heading_deg: FloatArray) -> ComplexArray:
        """Displacement that the leg must give, with this outbound heading."""
        rate, roll_s = self.rate_dps, self.flight.roll_s
        first = 180.0 + heading_deg - self.correction_deg
        # The second turn's middle heading is opposite to the first's, so only the difference remains.
        rest_s = chord_s(first, rate, roll_s) - chord_s(360.0 - first, rate, roll_s)
        middle = np.radians(self.correction_deg + first / 2.0)
        # A turn too small to reach the full rate rolls for less than the rolling time.
        rolling_s = sum(np.minimum(roll_s, angle / rate) for angle in (first, 360.0 - first))
        drift_nm = self.flight.wind_kt * (360.0 / rate + rolling_s) / 3600.0
        rest_nm = self.flight.tas_kt * rest_s / 3600.0 * np.exp(1j * middle)
        return np.asarray(-(self.distance_nm + drift_nm + rest_nm))

    def velocity_kt(self, heading_deg: FloatArray) -> ComplexArray:
        through_air = self.flight.tas_kt * np.exp(1j * np.radians(180.0 + heading_deg))
        return np.asarray(through_air + self.flight.wind_kt)

    def aside(self, heading_deg: FloatArray) -> FloatArray:
        """Zero where the leg points along the displacement needed."""
        return np.asarray((self.velocity_kt(heading_deg).conj() * self.needed_nm(heading_deg)).imag)

    def leg(self, heading_deg: float) -> OutboundLeg:
        at = np.array(heading_deg)
        needed, velocity = complex(self.needed_nm(at)), complex(self.velocity_kt(at))
        speed2 = abs(velocity) ** 2
        hours = (velocity.conjugate() * needed).real / speed2 if speed2 > 0.0 else math.nan
        return OutboundLeg(heading_deg, velocity, 3600.0 * hours)

    def closed_form(self) -> OutboundLeg | None:
        """Solve without rolling time: displacement gives the track, the wind triangle the heading."""
        drift_h = (360.0 / self.rate_dps + 2.0 * self.flight.roll_s) / 3600.0
        needed = -(self.distance_nm + self.flight.wind_kt * drift_h)
        # A leg of no length has no direction: take the reciprocal, which a longer one would have.
        track = math.degrees(math.atan2(needed.imag, needed.real)) if abs(needed) > 1e-9 else 180.0
        if not self.flight.ground_speed_kt(track) > 0.0:
            return None
        return self.leg(wrap180(track + self.flight.correction_deg(track) - 180.0))

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


def _roots(function: Callable[[FloatArray], FloatArray], grid: FloatArray) -> list[float]:
    """Find the zeros by sign changes on the grid, each then refined."""
    values = function(grid)
    roots = [float(at) for at in grid[values == 0.0]]
    for k in np.flatnonzero(values[:-1] * values[1:] < 0.0):
        low, high = float(grid[k]), float(grid[k + 1])
        roots.append(root_between(lambda at: float(function(np.array(at))), low, high, within=1e-12))
    return roots
