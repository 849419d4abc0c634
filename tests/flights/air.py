"""The air: how dense it is and how it moves."""

from __future__ import annotations

import math
from dataclasses import dataclass

MPS = 1852.0 / 3600.0
"""Metres per second in a knot."""

FT = 0.3048


def density_ratio(altitude_ft: float) -> float:
    """Return the standard atmosphere's density over its sea-level value (ISO 2533, below 11 km and above)."""
    height_m = altitude_ft * FT
    if height_m <= 11_000.0:
        return (1.0 - 0.0065 * height_m / 288.15) ** 4.25588
    return 0.297076 * math.exp(-(height_m - 11_000.0) / 6341.62)


def tas_from_eas(eas_kt: float, altitude_ft: float) -> float:
    """Return the true airspeed at which a given equivalent airspeed is flown."""
    return eas_kt / math.sqrt(density_ratio(altitude_ft))


@dataclass(frozen=True)
class Air:
    """A wind: as reported at one height and time, with its change and its gusts.

    ``shear`` is what is added per 1,000 ft above ``reference_ft``, knots towards east and north;
    ``veer_deg_per_hour`` turns it clockwise with time. Gusts are a process of their own on each axis:
    their memory is a length of 533 m, a usual scale for turbulence above 2,000 ft (MIL-F-8785C, from
    memory), passed at the aircraft's speed.
    """

    from_deg: float = 0.0
    speed_kt: float = 0.0
    reference_ft: float = 0.0
    shear_kt_per_kft: tuple[float, float] = (0.0, 0.0)
    veer_deg_per_hour: float = 0.0
    gust_kt: float = 0.0
    gust_length_m: float = 533.0

    def towards_mps(self, time_s: float, altitude_ft: float) -> tuple[float, float]:
        """Return the mean movement of the air towards east and north."""
        toward = math.radians(self.from_deg + 180.0 + self.veer_deg_per_hour * time_s / 3600.0)
        above = (altitude_ft - self.reference_ft) / 1000.0
        return (
            (self.speed_kt * math.sin(toward) + self.shear_kt_per_kft[0] * above) * MPS,
            (self.speed_kt * math.cos(toward) + self.shear_kt_per_kft[1] * above) * MPS,
        )

    @property
    def changes(self) -> bool:
        """Whether the mean wind changes with time or height."""
        return self.veer_deg_per_hour != 0.0 or self.shear_kt_per_kft != (0.0, 0.0)
