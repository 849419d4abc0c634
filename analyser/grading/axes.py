"""The hold's axes as plane numbers: along the inbound course, and across it to the hold's side.

A direction on the map is the plane number north + i·east. Turned by the course it becomes along + i·right,
and for a left-hand hold right is mirrored, so that every hold is computed as a right-hand one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.frame import HoldFrame
from analyser.earth.angles import wrap180

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
