"""A table's position and channels: cells to numbers in the program's units."""

from __future__ import annotations

import numpy as np

from analyser.errors import LogError
from analyser.logs.meaning import Meaning
from analyser.logs.raw import FloatArray, Undecided
from analyser.logs.table_cells import angles, numbers
from analyser.logs.table_reading import Chosen, Reading
from analyser.logs.track import Notice
from analyser.logs.units import unit_of

#: A column of angles with no unit is in degrees unless its values are small enough for radians.
_RADIANS_UP_TO = 6.3


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
            both.append(angles(reading.frame[place]) * (unit.factor if unit is not None else 1.0))
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


def table_channel(reading: Reading, name: str, place: int, meaning: Meaning, standing: str) -> None:
    """Read one column into its channel, or leave its unit to be decided.

    Parameters
    ----------
    reading : Reading
        Gets the channel and what became of the column.
    name : str
        The concept's short name.
    place : int
        Column.
    meaning : Meaning
    standing : str
    """
    values, cell_unit = numbers(reading.frame[place])
    concept = meaning.concept
    known = values[np.isfinite(values)]
    if known.size == 0:
        reading.note(place, "", "", "ignored", "no cell holds a number")
        return
    unit, told = reading.stated_unit(place, meaning)
    unit = unit or (unit_of(cell_unit, concept.kind) if cell_unit else None)
    if unit is None and concept.kind == "angle" and np.abs(known).max() > _RADIANS_UP_TO:
        unit = unit_of("deg", "angle")
    if unit is None:
        reading.undecided.append(
            Undecided(name, concept.kind, concept.channel, reading.layout.headers[place], values)
        )
        return
    reading.note(place, concept.channel, unit.name, "told" if "told" in (told, standing) else standing)
    reading.channels[concept.channel] = values * unit.factor + unit.offset
    if concept.name == "alt":
        reading.notices.extend(_datum(meaning))


def _datum(meaning: Meaning) -> list[Notice]:
    words = set(meaning.words)
    if words & {"gps", "gnss", "geometric", "geom", "geo", "wgs84", "hae", "ellipsoid", "wgs"}:
        said = "a receiver's height, not an altimeter's: it differs from the indicated altitude by the day's error"
    elif words & {"pressure", "pres", "press", "fl", "level", "standard", "std", "qne"}:
        said = "pressure altitude on 1013.25 hPa: below the transition level it differs from the indicated altitude"
    else:
        return []
    return [Notice("altitude-datum", f"The altitude column is {said}.")]
