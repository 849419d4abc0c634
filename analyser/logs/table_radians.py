"""Positions in radians that no header calls so, found by how slowly they would move as degrees."""

from __future__ import annotations

import numpy as np

from analyser.logs.movement import is_flying_speed, usual_speed_kt
from analyser.logs.raw import FloatArray
from analyser.logs.table_reading import Chosen, Reading
from analyser.logs.table_time import Clock
from analyser.logs.track import Notice


def in_degrees(
    reading: Reading, chosen: Chosen, lat: FloatArray, lon: FloatArray, clock: Clock
) -> tuple[FloatArray, FloatArray]:
    """Turn positions into degrees where only radians give a flight.

    Parameters
    ----------
    reading : Reading
        Gets the notice.
    chosen : Chosen
    lat, lon : (n,) float array
        As written, unless a unit was said.
    clock : Clock

    Returns
    -------
    lat_deg, lon_deg : (n,) float array
    """
    said = any(name in chosen and reading.stated_unit(*chosen[name][:2])[0] for name in ("lat", "lon"))
    known = np.isfinite(lat) & np.isfinite(lon) & np.isfinite(clock.time_s)
    if said or clock.scale_open or known.sum() < 3:
        return lat, lon
    if np.abs(lat[known]).max() > np.pi / 2.0 or np.abs(lon[known]).max() > np.pi:
        return lat, lon
    as_degrees = usual_speed_kt(clock.time_s[known], lat[known], lon[known])
    as_radians = usual_speed_kt(clock.time_s[known], np.degrees(lat[known]), np.degrees(lon[known]))
    if is_flying_speed(as_degrees) or not is_flying_speed(as_radians):
        return lat, lon
    message = (
        f"The positions are read as radians: as degrees the aircraft would move at {as_degrees:.1f} kt, "
        f"so at {as_radians:.0f} kt."
    )
    reading.notices.append(Notice("position-form-assumed", message))
    return np.degrees(lat), np.degrees(lon)
