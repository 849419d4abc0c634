"""Magnetic variation by the World Magnetic Model, with the model that gave it.

A model is published for five years. The one in force on the flight's date is used; before the first or
after the last, the nearest one is carried beyond its years, and :class:`Variation` says so.

References
----------
NOAA/NCEI and British Geological Survey, World Magnetic Model (WMM2010 … WMM2025), coefficients as
packaged by ``pygeomag``; checked in the tests against the published WMM2025 test values.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from functools import lru_cache
from typing import TYPE_CHECKING

from analyser.earth.angles import wrap180
from analyser.earth.constants import METRES_PER_FOOT
from analyser.frozen import dataclass

if TYPE_CHECKING:
    from pygeomag import GeoMag

#: First year of each model's five, and the packaged coefficients. 2015 has a corrected second issue.
_MODELS = {
    2010: "wmm/WMM_2010.COF",
    2015: "wmm/WMM_2015v2.COF",
    2020: "wmm/WMM_2020.COF",
    2025: "wmm/WMM_2025.COF",
}
_LIFE_YEARS = 5


@dataclass(frozen=True)
class Variation:
    """Magnetic variation at one place and time."""

    #: True minus magnetic, degrees, east positive, in [-180, 180].
    variation_deg: float
    #: Name of the model, such as ``"WMM-2025"``.
    model: str
    #: The model's years.
    valid_from_year: float
    valid_to_year: float
    #: The decimal year asked for.
    year: float

    @property
    def within_validity(self) -> bool:
        """Whether the date lies in the model's years."""
        return self.valid_from_year <= self.year <= self.valid_to_year

    def said(self) -> str:
        """Say the variation, its model and date in one phrase.

        Returns
        -------
        str
            For example ``"4.2° E (WMM-2025, 2026.2)"``; outside the model's years that is added.
        """
        side = "E" if self.variation_deg >= 0 else "W"
        text = f"{abs(self.variation_deg):.1f}° {side} ({self.model}, {self.year:.1f}"
        if not self.within_validity:
            text += f"; outside the model's years {self.valid_from_year:.0f}–{self.valid_to_year:.0f}"
        return text + ")"


def magnetic_variation(lat_deg: float, lon_deg: float, altitude_ft: float, when: date | float) -> Variation:
    """Find the variation, and which model gave it.

    Parameters
    ----------
    lat_deg, lon_deg : float
        WGS84 degrees; any longitude convention.
    altitude_ft : float
        Height above mean sea level, feet (hardly matters: degrees change by hundredths).
    when : date, datetime or float
        Date, aware or naive (taken as UTC) instant, or decimal year.

    Returns
    -------
    Variation
        Near the magnetic poles a compass, and so the variation, means little.
    """
    year = decimal_year(when)
    epoch = max((first for first in _MODELS if first <= year), default=min(_MODELS))
    found = _model(epoch).calculate(
        glat=lat_deg,
        glon=wrap180(lon_deg),
        alt=altitude_ft * METRES_PER_FOOT / 1000.0,
        time=year,
        allow_date_outside_lifespan=True,
    )
    name = str(_model(epoch).model)
    return Variation(float(found.d), name, float(epoch), float(epoch + _LIFE_YEARS), year)


def variation_deg(lat_deg: float, lon_deg: float, altitude_ft: float, when: date | float) -> float:
    """Find the variation alone: :func:`magnetic_variation` without the model's name.

    Parameters
    ----------
    lat_deg, lon_deg : float
        WGS84 degrees.
    altitude_ft : float
        Height above mean sea level, feet.
    when : date, datetime or float
        Date, instant or decimal year.

    Returns
    -------
    float
        Degrees, east positive: true = magnetic + variation.
    """
    return magnetic_variation(lat_deg, lon_deg, altitude_ft, when).variation_deg


def decimal_year(when: date | float) -> float:
    """Write an instant as a year with its fraction.

    Parameters
    ----------
    when : date, datetime or float
        A float is taken as a decimal year already.
    """
    if isinstance(when, (int, float)):
        return float(when)
    if not isinstance(when, datetime):
        when = datetime(when.year, when.month, when.day, tzinfo=UTC)
    at = when.replace(tzinfo=UTC) if when.tzinfo is None else when.astimezone(UTC)
    start, end = datetime(at.year, 1, 1, tzinfo=UTC), datetime(at.year + 1, 1, 1, tzinfo=UTC)
    return at.year + (at - start) / (end - start)


@lru_cache(maxsize=len(_MODELS))
def _model(epoch: int) -> GeoMag:
    from pygeomag import GeoMag

    return GeoMag(coefficients_file=_MODELS[epoch])
