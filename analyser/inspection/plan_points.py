"""A track laid flat for a small picture: north up, one scale, holes left open."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analyser.earth.constants import METRES_PER_NM
from analyser.frozen import dataclass
from analyser.logs.clean import holes_of
from analyser.logs.movement import offsets
from analyser.logs.track import Track

FloatArray = NDArray[np.float64]


#: Enough for a picture of any size that is looked at.
_MOST_POINTS = 4000


@dataclass(frozen=True)
class PlanPoints:
    """Points to draw.

    Attributes
    ----------
    east_nm, north_nm : (n,) float array
        From the middle of the track.
    after_hole : (n,) bool array
        Points that no line leads to.
    """

    east_nm: FloatArray
    north_nm: FloatArray
    after_hole: NDArray[np.bool_]

    @property
    def width_nm(self) -> float:
        """East–west extent."""
        return float(np.ptp(self.east_nm))

    @property
    def height_nm(self) -> float:
        """North–south extent."""
        return float(np.ptp(self.north_nm))


def plan_points(track: Track) -> PlanPoints:
    """Lay a track flat.

    Returns
    -------
    PlanPoints
        Thinned to what a picture can show; every first sample after a hole is kept.
    """
    after = np.zeros(track.samples, dtype=bool)
    for _, end_s in holes_of(track.time_s):
        after[int(np.searchsorted(track.time_s, end_s))] = True
    keep = np.zeros(track.samples, dtype=bool)
    keep[:: max(1, track.samples // _MOST_POINTS)] = True
    keep |= after | np.roll(after, -1)
    keep[-1] = True
    # Positions are unwound along the track first, so that the date line does not tear it.
    lon = np.unwrap(track.lon_deg, period=360.0)[keep]
    lat = track.lat_deg[keep]
    middle_lat, middle_lon = 0.5 * (lat.min() + lat.max()), 0.5 * (lon.min() + lon.max())
    east, north = offsets(np.full(lat.size, middle_lat), np.full(lon.size, middle_lon), lat, lon)
    return PlanPoints(east / METRES_PER_NM, north / METRES_PER_NM, after[keep])


def round_length(nm: float) -> float:
    """Return the largest of 1, 2, 5 × a power of ten that is no more than a length.

    Parameters
    ----------
    nm : float
        Positive.
    """
    power = 10.0 ** np.floor(np.log10(max(nm, 1e-6)))
    return float(max(step * power for step in (1.0, 2.0, 5.0) if step * power <= nm * 1.000001))
