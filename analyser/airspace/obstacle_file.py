"""Reading obstacles from a table (CSV) or from GeoJSON points, every mistake named with its place.

An elevation must say its unit, in the name of its column or property (``elevation_ft``, ``elevation_m``):
a unit that was guessed wrongly would put the lowest level underground. The third coordinate of a GeoJSON
point is a height above the ellipsoid, which may be fifty metres off mean sea level, and is not taken.
"""

from __future__ import annotations

import csv
import json
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from analyser.earth.constants import METRES_PER_FOOT
from analyser.errors import SettingsError, UsageError
from analyser.frozen import dataclass

#: What columns and properties may be called, letters only and in lower case, without their unit.
_LAT = {"lat", "latitude", "latdeg", "latitudedeg", "y"}
_LON = {"lon", "long", "lng", "longitude", "londeg", "longitudedeg", "x"}
_NAME = {"name", "obstacle", "designation", "description", "id", "ident"}
_HEIGHT = {
    "elevation",
    "elev",
    "topelevation",
    "elevationmsl",
    "elevationamsl",
    "altitude",
    "alt",
    "amsl",
    "msl",
}
_FEET_IN = {
    "ft": 1.0,
    "feet": 1.0,
    "foot": 1.0,
    "m": 1.0 / METRES_PER_FOOT,
    "metres": 1.0 / METRES_PER_FOOT,
    "meters": 1.0 / METRES_PER_FOOT,
    "metre": 1.0 / METRES_PER_FOOT,
    "meter": 1.0 / METRES_PER_FOOT,
}
#: Nothing on earth stands outside these, feet.
_HEIGHTS_FT = (-1500.0, 33_000.0)
_MOST_BYTES = 50_000_000
_WRITE = "name the columns name, lat, lon and elevation_ft or elevation_m"


@dataclass(frozen=True)
class Obstacle:
    """One obstacle or spot of terrain."""

    #: Untrusted text; empty where the file has none.
    name: str
    #: WGS84 degrees.
    lat_deg: float
    lon_deg: float
    #: Of its top, above mean sea level.
    elevation_ft: float
    #: Where in the file it stands.
    place: str = ""

    def said(self) -> str:
        """Name the obstacle, or its place in the file where it has no name."""
        return self.name or f"the obstacle in {self.place}"


def obstacles_asked_for(path: Path | None, *, high_terrain: bool) -> list[Obstacle]:
    """Read the obstacles that a command was given; none without a file.

    Raises SettingsError as :func:`read_obstacles` does, UsageError where high terrain was asked for without a file.
    """
    if path is not None:
        return read_obstacles(path)
    if high_terrain:
        mend = "give the obstacle file with --obstacles"
        raise UsageError("high terrain is about obstacles", place="--high-terrain", mend=mend)
    return []


def read_obstacles(path: str | Path) -> list[Obstacle]:
    """Read an obstacle file: a table with a header row (commas, semicolons or tabs between), or GeoJSON.

    At least one, in the file's order. Raises SettingsError: the file cannot be read, or something in it is missing,
    misspelt or impossible.
    """
    file = Path(path)
    text = _text(file)
    if text.lstrip()[:1] in ("{", "["):
        found = list(_from_geojson(text, str(file)))
    else:
        found = list(_from_table(text, str(file)))
    if not found:
        raise SettingsError("holds no obstacle", file=str(file), mend=_WRITE)
    return found


def _text(file: Path) -> str:
    try:
        if file.stat().st_size > _MOST_BYTES:
            mend = "cut out the surroundings of the hold"
            raise SettingsError("is larger than 50 MB", file=str(file), mend=mend)
        return file.read_bytes().decode("utf-8-sig")
    except OSError as fault:
        what = (fault.strerror or "cannot be read").lower()
        raise SettingsError(what, file=str(file), mend="check the name and the path") from fault
    except UnicodeDecodeError as fault:
        raise SettingsError("is not UTF-8 text", file=str(file), mend="save it as UTF-8") from fault


def _from_table(text: str, file: str) -> Iterator[Obstacle]:
    # A line that begins with # is a remark; emptied, it keeps its number.
    lines = ["" if line.lstrip().startswith("#") else line for line in text.splitlines()]
    first = next((number for number, line in enumerate(lines) if line.strip()), None)
    if first is None:
        return
    separator = max(",;\t", key=lines[first].count)
    columns, feet = _columns(next(csv.reader([lines[first]], delimiter=separator)), f"line {first + 1}", file)
    rows = csv.reader(lines[first + 1 :], delimiter=separator)
    for row in rows:
        place = f"line {first + 1 + rows.line_num}"
        if any(cell.strip() for cell in row):
            cells = {what: row[at].strip() if at < len(row) else "" for what, at in columns.items()}
            yield _obstacle(cells, feet, separator == ";", place, file)


def _columns(header: Sequence[str], place: str, file: str) -> tuple[dict[str, int], float]:
    """Find which column is what, and how many feet one unit of elevation has."""
    columns: dict[str, int] = {}
    feet = None
    for at, title in enumerate(header):
        what, scale = _meaning(title)
        if what in columns and what != "name":
            raise SettingsError(f"two columns give the {what}", file=file, place=place, mend=_WRITE)
        if what and what not in columns:
            columns[what], feet = at, scale or feet
    missing = [what for what in ("latitude", "longitude", "elevation") if what not in columns]
    if missing:
        raise SettingsError(
            f"no column gives the {' or the '.join(missing)}", file=file, place=place, mend=_WRITE
        )
    if feet is None:
        title = header[columns["elevation"]]
        raise SettingsError(
            "the elevation's unit is not said", file=file, place=f"column '{title}'", mend=_WRITE
        )
    return columns, feet


def _meaning(title: str) -> tuple[str, float | None]:
    """Take a title for what it means, and the feet in its unit where it names one."""
    words = [word for word in re.split(r"[^a-z]+", title.lower()) if word]
    scale = _FEET_IN.get(words[-1]) if len(words) > 1 else None
    plain = "".join(words[:-1] if scale is not None else words)
    for what, names in (("latitude", _LAT), ("longitude", _LON), ("name", _NAME), ("elevation", _HEIGHT)):
        if plain in names:
            return what, scale if what == "elevation" else None
    return "", None


def _from_geojson(text: str, file: str) -> Iterator[Obstacle]:
    try:
        data = json.loads(text)
    except (json.JSONDecodeError, RecursionError) as fault:
        place = f"line {fault.lineno}" if isinstance(fault, json.JSONDecodeError) else ""
        raise SettingsError("is not JSON", file=file, place=place, mend="see RFC 7946") from fault
    mend = "give a FeatureCollection of points"
    features = data.get("features") if isinstance(data, dict) else None
    if not isinstance(features, list):
        raise SettingsError("has no list of features", file=file, place="element features", mend=mend)
    for number, feature in enumerate(features):
        place = f"element features {number}"
        geometry = feature.get("geometry") if isinstance(feature, dict) else None
        where = geometry.get("coordinates") if isinstance(geometry, dict) else None
        if not isinstance(geometry, dict) or geometry.get("type") != "Point" or not isinstance(where, list):
            raise SettingsError("is not a point", file=file, place=place, mend=mend)
        properties = feature.get("properties") or {}
        cells, feet = _properties(properties if isinstance(properties, dict) else {}, place, file)
        cells |= {"longitude": where[0] if where else "", "latitude": where[1] if len(where) > 1 else ""}
        yield _obstacle(cells, feet, False, place, file)


def _properties(properties: Mapping[str, Any], place: str, file: str) -> tuple[dict[str, Any], float]:
    mend = "give one property, elevation_ft or elevation_m"
    meant = [(*_meaning(title), value) for title, value in properties.items()]
    heights = [(value, feet) for what, feet, value in meant if what == "elevation" and feet is not None]
    if not heights:
        raise SettingsError("has no elevation with its unit", file=file, place=place, mend=mend)
    if len(heights) > 1:
        raise SettingsError("two properties give the elevation", file=file, place=place, mend=mend)
    value, feet = heights[0]
    return {"elevation": value, "name": next((said for what, _, said in meant if what == "name"), "")}, feet


def _obstacle(cells: Mapping[str, Any], feet: float, comma: bool, place: str, file: str) -> Obstacle:
    def number(what: str, low: float, high: float, scale: float = 1.0) -> float:
        said = str(cells.get(what, "")).strip()
        if isinstance(cells.get(what), bool):
            said = "true" if cells[what] else "false"
        try:
            value = float(said.replace(",", ".") if comma else said) * scale
        except ValueError as fault:
            wrong = f"the {what} '{said}' is not a number" if said else f"the {what} is missing"
            raise SettingsError(wrong, file=file, place=place, mend="write a plain decimal number") from fault
        if not (math.isfinite(value) and low <= value <= high):
            mend = "give WGS84 degrees, and the elevation above mean sea level"
            raise SettingsError(f"the {what} {said} is impossible", file=file, place=place, mend=mend)
        return value

    return Obstacle(
        str(cells.get("name") or "").strip(),
        number("latitude", -90.0, 90.0),
        number("longitude", -180.0, 360.0),
        number("elevation", *_HEIGHTS_FT, scale=feet),
        place,
    )
