"""A flat map round one point, good to centimetres over a hold.

The map is azimuthal equidistant: every point keeps its geodesic distance and its true bearing *from the
origin*. Put the origin on the fix and what a pilot measures from the fix (distance, radial, cross-track) is
exact. Away from the origin the map's north leans from true north by the meridians' convergence, which
matters only near the poles but is returned for every point, so that headings can be laid into the map.
"""

from __future__ import annotations

import sys
from functools import lru_cache
from importlib import import_module
from importlib.util import find_spec, module_from_spec
from threading import Lock
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from analyser.earth.angles import wrap180
from analyser.earth.constants import METRES_PER_NM
from analyser.frozen import dataclass

if TYPE_CHECKING:
    from pyproj import Geod

FloatArray = NDArray[np.float64]

_LOADING = Lock()


@lru_cache(maxsize=1)
def wgs84() -> Geod:
    """Return the WGS84 ellipsoid's geodesics (imported late: pyproj takes a while to load)."""
    # A worker of a cluster has several threads: none may meet the empty package of another one.
    with _LOADING:
        return _geodesics()(ellps="WGS84")


def _geodesics() -> type[Geod]:
    """Import pyproj's geodesics alone.

    The package's own module imports coordinate systems, transformations and the network's modules, too, which takes a
    fifteenth of an hour's debrief: so an empty one stands in its place meanwhile.
    """
    spec = find_spec("pyproj")
    if "pyproj" not in sys.modules and spec is not None:
        sys.modules["pyproj"] = module_from_spec(spec)
        try:
            found: type[Geod] = import_module("pyproj.geod").Geod
            return found
        except ImportError:
            # Where the package must first say where its libraries are.
            pass
        finally:
            del sys.modules["pyproj"]
    from pyproj import Geod

    return Geod


@dataclass(frozen=True)
class LocalPlane:
    """Azimuthal equidistant map with its origin at one point."""

    #: The origin, WGS84 degrees.
    lat_deg: float
    lon_deg: float

    def to_plane(self, lat_deg: FloatArray, lon_deg: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Lay points on the map.

        Parameters
        ----------
        lat_deg, lon_deg : (n,) float array
            WGS84 degrees; any longitude convention.

        Returns
        -------
        east_nm, north_nm : (n,) float array
            Map coordinates, nautical miles.
        convergence_deg : (n,) float array
            Map direction = true direction at the point − convergence; zero at the origin and
            positive where true north leans anticlockwise of the map's (east of the origin, northern
            hemisphere).
        """
        lat, lon = np.asarray(lat_deg, float), np.asarray(lon_deg, float)
        azimuth, back, distance_m = wgs84().inv(
            np.full(lat.shape, self.lon_deg), np.full(lat.shape, self.lat_deg), lon, lat
        )
        bearing = np.radians(np.asarray(azimuth))
        distance_nm = np.asarray(distance_m) / METRES_PER_NM
        # A geodesic from the origin is a straight line of the map, so the turn of the meridian under it
        # between its two ends is the convergence; at the origin itself the library's azimuths are arbitrary.
        turned = wrap180(np.asarray(back) + 180.0 - np.asarray(azimuth))
        convergence = np.where(distance_nm > 1e-9, turned, 0.0)
        return distance_nm * np.sin(bearing), distance_nm * np.cos(bearing), convergence

    def to_earth(self, east_nm: FloatArray, north_nm: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Find the latitude and longitude of map points.

        Parameters
        ----------
        east_nm, north_nm : (n,) float array
            Map coordinates, nautical miles.

        Returns
        -------
        lat_deg, lon_deg : (n,) float array
            WGS84 degrees, longitude in [-180, 180).
        """
        east, north = np.asarray(east_nm, float), np.asarray(north_nm, float)
        lon, lat, _ = wgs84().fwd(
            np.full(east.shape, self.lon_deg),
            np.full(east.shape, self.lat_deg),
            np.degrees(np.arctan2(east, north)),
            np.hypot(east, north) * METRES_PER_NM,
        )
        return np.asarray(lat), wrap180(np.asarray(lon))
