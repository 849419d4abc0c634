"""A table's position of each row: two columns, or one that holds both."""

from __future__ import annotations

import numpy as np

from analyser.errors import LogError
from analyser.logs.raw import FloatArray
from analyser.logs.table_cells import angles
from analyser.logs.table_reading import Chosen, Reading
from analyser.logs.table_sides import on_its_side
from analyser.logs.track import Notice


def table_position(reading: Reading, chosen: Chosen) -> tuple[FloatArray, FloatArray]:
    """Read the position of each row.

    Parameters
    ----------
    reading : Reading
    chosen : Chosen

    Returns
    -------
    lat_deg, lon_deg : (n,) float array

    Raises
    ------
    LogError
        Where no column with values gives it.
    """
    if "lat" in chosen and "lon" in chosen:
        both = []
        for name in ("lat", "lon"):
            place, meaning, standing = chosen[name]
            unit, told = reading.stated_unit(place, meaning)
            reading.note(
                place, "position", unit.name if unit else "deg", standing if told != "told" else told
            )
            degrees = angles(reading.frame[place]) * (unit.factor if unit is not None else 1.0)
            both.append(on_its_side(reading, chosen, name, degrees))
        return _plain_degrees(reading, both[0], both[1])
    if "position" in chosen:
        place, _, standing = chosen["position"]
        parts = (
            reading.frame[place]
            .astype(str)
            .str.slice(0, 80)
            .str.extract(r"^[\s(\[]*([^,;]*\d[^,;]*)[,;]\s*([^,;]*\d[^,;)\]]*)")
        )
        if parts[0].notna().any():
            reading.note(place, "position", "deg", standing)
            return angles(parts[0]), angles(parts[1])
    missing = " and ".join(name for name in ("lat", "lon") if name not in chosen) or "lat and lon"
    raise LogError(
        f"no column with values gives {missing}",
        file=reading.content.name,
        place=f"line {reading.layout.first_line}",
        mend="say which: --columns lat=…,lon=…",
    )


def _plain_degrees(reading: Reading, lat: FloatArray, lon: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Read degrees-and-minutes run together (4806.12) and whole ten-millionths, where nothing else is possible."""
    known = np.isfinite(lat) & np.isfinite(lon)
    if not known.any() or np.abs(lat[known]).min() <= 90.0:
        return lat, lon
    if np.abs(lat[known]).max() <= 9000.0 and all(
        (np.abs(v[known]) % 100.0 < 60.0).all() for v in (lat, lon)
    ):
        said = "degrees and minutes run together, as 4806.12 for 48°06.12'"
        lat, lon = (np.sign(v) * (np.abs(v) // 100.0 + np.abs(v) % 100.0 / 60.0) for v in (lat, lon))
    elif np.abs(lat[known]).max() > 9e7 and all((v[known] == np.round(v[known])).all() for v in (lat, lon)):
        said = "ten-millionths of a degree"
        lat, lon = lat * 1e-7, lon * 1e-7
    else:
        return lat, lon
    reading.notices.append(Notice("position-form-assumed", f"The positions are read as {said}."))
    return lat, lon
