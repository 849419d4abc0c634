"""GeoJSON: lines with a list of times beside the coordinates, or collections of timed points.

References
----------
RFC 7946: positions are longitude, latitude and, where given, height in metres above the WGS84 ellipsoid. It has
no times; ``coordTimes`` (or ``times``, or ``coordinateProperties``) is the usual property for them.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from analyser.errors import LogError
from analyser.logs.limits import MAX_DEPTH
from analyser.logs.meaning import meaning_of
from analyser.logs.named import named_channels
from analyser.logs.number_time import number_clock
from analyser.logs.raw import Content, FloatArray, RawFlight, Undecided
from analyser.logs.table_time import Clock
from analyser.logs.text import decode, shown
from analyser.logs.times import iso_seconds, untimed_notice, zone_notice
from analyser.logs.track import Notice, Source
from analyser.logs.units import FEET_PER_METRE

_LINE_TIMES = ("coordtimes", "times", "time", "timestamps", "timestamp", "coordinatetimes")


def looks_like(head: str) -> bool:
    """Tell GeoJSON by an opening brace and a type that it knows.

    Parameters
    ----------
    head : str

    Returns
    -------
    bool
    """
    bare = head.lstrip()
    return bare.startswith("{") or (bare.startswith("[") and '"type"' in bare)


def read(content: Content) -> list[RawFlight]:
    """Read the timed lines and points of a GeoJSON document.

    Parameters
    ----------
    content : Content

    Returns
    -------
    list of RawFlight

    Raises
    ------
    LogError
        For broken JSON, and where nothing has times.
    """
    features = list(_features(_parsed(content)))
    lines = [_lines(feature, content) for feature in features]
    flights = [flight for found in lines for flight in found]
    untimed = sum(_is_line(feature) for feature, found in zip(features, lines, strict=True) if not found)
    flights.extend(_points(features, content))
    if not flights:
        what = (
            "the line has no times, so nothing can be timed"
            if untimed
            else "no timed line and no timed points are in it"
        )
        raise LogError(
            what,
            file=content.name,
            place="member 'features'",
            mend="give the line a 'coordTimes' property with a time for each position, or each point a 'time'",
        )
    return [replace(flight, notices=(*flight.notices, *untimed_notice(untimed))) for flight in flights]


def _is_line(feature: dict[str, Any]) -> bool:
    return _geometry(feature).get("type") in ("LineString", "MultiLineString")


def _parsed(content: Content) -> Any:
    try:
        return json.loads(decode(content.data))
    except json.JSONDecodeError as error:
        raise LogError(
            f"this is not well-formed JSON: {error.msg}",
            file=content.name,
            place=f"line {error.lineno}, column {error.colno}",
            mend="export it again",
        ) from error
    except RecursionError as error:
        what = f"arrays are nested more than {MAX_DEPTH} deep"
        raise LogError(what, file=content.name, mend="is this a flight log?") from error
    except ValueError as error:
        what = f"a number cannot be read: {shown(str(error))}"
        raise LogError(what, file=content.name, mend="export it again") from error


def _features(document: Any) -> Iterator[dict[str, Any]]:
    """Walk collections without recursion; anything that is no object is passed over."""
    waiting = [document]
    while waiting:
        item = waiting.pop()
        if isinstance(item, list):
            waiting.extend(reversed(item))
        elif isinstance(item, dict):
            kind = item.get("type")
            if kind == "FeatureCollection" and isinstance(item.get("features"), list):
                waiting.extend(reversed(item["features"]))
            elif kind == "GeometryCollection" and isinstance(item.get("geometries"), list):
                waiting.extend(reversed(item["geometries"]))
            elif kind == "Feature":
                yield item
            elif isinstance(item.get("coordinates"), list):
                yield {"type": "Feature", "geometry": item, "properties": {}}


def _geometry(feature: dict[str, Any]) -> dict[str, Any]:
    geometry = feature.get("geometry")
    return geometry if isinstance(geometry, dict) else {}


def _properties(feature: dict[str, Any]) -> dict[str, Any]:
    properties = feature.get("properties")
    return properties if isinstance(properties, dict) else {}


def _lines(feature: dict[str, Any], content: Content) -> list[RawFlight]:
    geometry, properties = _geometry(feature), _properties(feature)
    coordinates = geometry.get("coordinates")
    if not _is_line(feature) or not isinstance(coordinates, list):
        return []
    lines = (
        [coordinates]
        if geometry["type"] == "LineString"
        else [line for line in coordinates if isinstance(line, list)]
    )
    beside = properties.get("coordinateProperties")
    listed = {**properties, **(beside if isinstance(beside, dict) else {})}
    times = next(
        (value for key, value in listed.items() if key.lower() in _LINE_TIMES and isinstance(value, list)),
        None,
    )
    if times is None:
        return []
    flights = []
    for place, (line, moments) in enumerate(zip(lines, _per_line(times, lines), strict=False)):
        if not isinstance(moments, list) or len(moments) != len(line):
            raise LogError(
                f"line {place + 1} has {len(line)} positions and another number of times",
                file=content.name,
                place="property 'coordTimes'",
                mend="give every position its time",
            )
        named = {
            key: value
            for key, value in listed.items()
            if _fits(value, line) and key.lower() not in _LINE_TIMES
        }
        flights.append(_flight(line, moments, named, content, _name(properties)))
    return flights


def _per_line(times: list[Any], lines: list[list[Any]]) -> list[Any]:
    """Return one list of times for each line: given so, or to be cut from one list for all."""
    if times and all(isinstance(part, list) for part in times):
        return times
    cut, start = [], 0
    for line in lines:
        cut.append(times[start : start + len(line)])
        start += len(line)
    return cut


def _fits(value: Any, line: list[Any]) -> bool:
    return isinstance(value, list) and len(value) == len(line)


def _name(properties: dict[str, Any]) -> str:
    name = properties.get("name", "")
    return shown(name) if isinstance(name, str) else ""


@dataclass(frozen=True)
class _Point:
    position: list[Any]
    moment: Any
    properties: dict[str, Any]
    aircraft: str


def _points(features: list[dict[str, Any]], content: Content) -> list[RawFlight]:
    points = [point for feature in features if (point := _point(feature)) is not None]
    groups: dict[str, list[_Point]] = {}
    for point in points:
        groups.setdefault(point.aircraft, []).append(point)
    if len(groups) > max(1, len(points) // 2):
        # Every point has an identity of its own: it numbers points, not aircraft.
        groups = {"": points}
    flights = []
    for aircraft, members in groups.items():
        keys = list(dict.fromkeys(key for member in members for key in member.properties))[:200]
        named = {key: [member.properties.get(key) for member in members] for key in keys}
        flights.append(
            _flight([m.position for m in members], [m.moment for m in members], named, content, aircraft)
        )
    return flights


def _point(feature: dict[str, Any]) -> _Point | None:
    geometry, properties = _geometry(feature), _properties(feature)
    position = geometry.get("coordinates")
    if geometry.get("type") != "Point" or not isinstance(position, list):
        return None
    moment, aircraft, rest = None, "", {}
    for key, value in properties.items():
        meaning = meaning_of(key)
        concept = meaning.concept.name if meaning is not None else ""
        if concept == "time" and moment is None and value is not None:
            moment = value
        elif concept == "id" and isinstance(value, str):
            aircraft = aircraft or shown(value)
        else:
            rest[key] = value
    return None if moment is None else _Point(position, moment, rest, aircraft)


def _flight(
    positions: list[Any], moments: list[Any], named: dict[str, list[Any]], content: Content, label: str
) -> RawFlight:
    lon, lat, metres = (np.array([_coordinate(p, i) for p in positions], dtype=float) for i in range(3))
    clock, notices = _clock(moments)
    found = named_channels(named, content.options)
    channels, undecided = dict(found.channels), list(found.undecided)
    sources = [
        Source("coordinates", "position", "deg", "recognised"),
        Source("time", "time", clock.unit, "recognised"),
    ]
    if "altitude_ft" not in channels and np.isfinite(metres).any():
        channels["altitude_ft"] = metres * FEET_PER_METRE
        undecided = [column for column in undecided if column.channel != "altitude_ft"]
        sources.append(Source("coordinates[2]", "altitude_ft", "m", "recognised"))
        notices += (
            Notice(
                "altitude-datum",
                "GeoJSON height is above the ellipsoid, not an altimeter's: it differs from the indicated altitude.",
            ),
        )
    if clock.scale_open:
        undecided.append(Undecided("time", "time", "", "time", clock.time_s))
    return RawFlight(
        clock.time_s,
        lat,
        lon,
        clock.dated,
        channels,
        label,
        notices=notices,
        sources=(*sources, *found.sources),
        undecided=tuple(undecided),
    )


def _coordinate(position: Any, place: int) -> float:
    if not isinstance(position, list) or len(position) <= place:
        return float("nan")
    value = position[place]
    number = isinstance(value, (int, float)) and not isinstance(value, bool) and abs(value) < 1e15
    return float(value) if number else float("nan")


def _clock(moments: list[Any]) -> tuple[Clock, tuple[Notice, ...]]:
    if any(isinstance(moment, str) for moment in moments):
        seconds, without_zone = iso_seconds(
            [moment if isinstance(moment, str) else None for moment in moments]
        )
        return Clock(seconds, True, "ISO 8601"), zone_notice(without_zone, len(moments))
    values: FloatArray = np.array([_coordinate([moment], 0) for moment in moments], dtype=float)
    return number_clock(values, None), ()
