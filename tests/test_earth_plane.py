"""The flat map and the wind, against a published geodesic and arithmetic by hand."""

from __future__ import annotations

import numpy as np
import pytest

from analyser.earth.atmosphere import sound_speed_kt
from analyser.earth.plane import LocalPlane
from analyser.earth.wind import wind_components, wind_from


def dms(degrees: float, minutes: float, seconds: float) -> float:
    return degrees + minutes / 60.0 + seconds / 3600.0


# Geoscience Australia, the GDA technical manual's worked example of Vincenty's formulae (from memory): on the GRS80
# ellipsoid, which is WGS84's to a tenth of a millimetre.
FLINDERS = (-dms(37, 57, 3.7203), dms(144, 25, 29.5244))
BUNINYONG = (-dms(37, 39, 10.1561), dms(143, 55, 35.3839))
DISTANCE_M, AZIMUTH_DEG, REVERSE_DEG = 54972.271, dms(306, 52, 5.37), dms(127, 10, 25.07)


def test_a_published_geodesic_is_a_straight_line_of_its_length_and_bearing() -> None:
    east, north, turned = LocalPlane(*FLINDERS).to_plane(*(np.array([one]) for one in BUNINYONG))
    assert np.hypot(east, north) * 1852.0 == pytest.approx([DISTANCE_M], abs=0.002)
    assert np.degrees(np.arctan2(east, north)) % 360.0 == pytest.approx([AZIMUTH_DEG], abs=3e-6)
    # The meridian turned under the line by what its two bearings differ, but for the half circle.
    assert turned == pytest.approx([REVERSE_DEG + 180.0 - AZIMUTH_DEG], abs=6e-6)
    lat, lon = LocalPlane(*FLINDERS).to_earth(east, north)
    assert (lat[0], lon[0]) == pytest.approx(BUNINYONG, abs=1e-8)


def test_at_the_origin_north_is_true_and_across_the_date_line_longitudes_go_on() -> None:
    plane = LocalPlane(50.0, 179.99)
    east, _, turned = plane.to_plane(np.array([50.0, 50.0, 50.0]), np.array([179.99, -179.99, 180.01]))
    assert turned[0] == 0.0 and east[0] == pytest.approx(0.0, abs=1e-9)
    assert east[1] == pytest.approx(east[2]) and 0.7 < east[1] < 0.8
    # East of the origin, in the northern hemisphere, true north leans to the left of the map's: by Δλ sin φ.
    assert turned[1] == pytest.approx(0.02 * np.sin(np.radians(50.0)), rel=1e-3)
    assert plane.to_earth(east[1:2], np.zeros(1))[1] == pytest.approx([-179.99], abs=1e-6)


@pytest.mark.parametrize(
    ("from_deg", "east", "north"), [(270.0, 20.0, 0.0), (0.0, 0.0, -20.0), (45.0, -14.142, -14.142)]
)
def test_a_wind_blows_away_from_where_it_comes_from(from_deg: float, east: float, north: float) -> None:
    assert wind_components(from_deg, 20.0) == pytest.approx((east, north), abs=1e-3)
    assert wind_from(*wind_components(from_deg, 20.0)) == pytest.approx((from_deg, 20.0), abs=1e-9)


def test_calm_has_no_direction() -> None:
    assert wind_from(0.0, 0.0) == (0.0, 0.0)


# ICAO Doc 7488 (from memory): 340.294 m/s at sea level, 295.07 m/s in the tropopause.
@pytest.mark.parametrize(("altitude_ft", "sound_mps"), [(0.0, 340.294), (40000.0, 295.07)])
def test_speed_of_sound(altitude_ft: float, sound_mps: float) -> None:
    assert sound_speed_kt(altitude_ft) == pytest.approx(sound_mps * 3600.0 / 1852.0, abs=0.02)
    warm_k, cold_k = 288.15 + 15.0, 288.15
    assert sound_speed_kt(0.0, 15.0) / sound_speed_kt(0.0) == pytest.approx(np.sqrt(warm_k / cold_k))
