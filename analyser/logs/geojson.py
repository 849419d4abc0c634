"""GeoJSON: lines with a list of times beside the coordinates, or collections of timed points.

References
----------
RFC 7946: positions are longitude, latitude and, where given, height in metres above the WGS84 ellipsoid. It has
no times; ``coordTimes`` (or ``times``, or ``coordinateProperties``) is the usual property for them.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import pairwise, zip_longest
from typing import Any

import numpy as np

from analyser.errors import LogError
from analyser.logs.json_stream import ENDS, JsonStream, number_or_nan
from analyser.logs.limits import check_samples
from analyser.logs.meaning import means
from analyser.logs.raw import Content, FloatArray, Pieces, RawFlight, Undecided
from analyser.logs.records import Records, flat
from analyser.logs.samples import EXTENSION, Column, Field, flight_of
from analyser.logs.text import shown
from analyser.logs.time_numbers import number_clock
from analyser.logs.time_text import Clock
from analyser.logs.times import iso_seconds, untimed_notice, zone_notice
from analyser.logs.track import Notice, Source
from analyser.logs.units import FEET_PER_METRE


@dataclass
class Feature:
    """One geometry with what is said of it."""

    #: ``type`` of the geometry.
    kind: str = ""
    #: Longitude, latitude, metres, and a fourth number that RFC 7946 gives no meaning; NaN where there is none.
    point: FloatArray = field(default_factory=lambda: np.full(4, np.nan))
    #: Every list of positions, however deep it stands: arrays of such rows.
    lines: list[FloatArray] = field(default_factory=list)
    #: Plain values and objects.
    properties: dict[str, Any] = field(default_factory=dict)
    #: Lists of plain values, or of one list for each line; those of ``coordinateProperties`` too.
    listed: dict[str, list[Any]] = field(default_factory=dict)


def _places(positions: Sequence[Any]) -> FloatArray:
    """Read positions of two numbers or more; NaN for what is none."""
    try:
        read = np.array(positions, dtype=float)
        if read.ndim == 2 and read.shape[1] >= 2:
            missing = np.full((len(read), max(0, 4 - read.shape[1])), np.nan)
            return np.concatenate([read[:, :4], missing], axis=1)
    except (ValueError, TypeError, OverflowError):
        pass
    rows = [[_coordinate(position, place) for place in range(4)] for position in positions]
    return np.array(rows, dtype=float).reshape(-1, 4)


def _coordinate(position: Any, place: int) -> float:
    there = isinstance(position, list) and len(position) > place
    return number_or_nan(position[place], 1e15) if there else float("nan")


class Features:
    """The features of a document, in its order; a bare geometry is a feature without properties."""

    def __init__(self, content: Content) -> None:
        self._content, self._stream = content, JsonStream(content)
        self.broken_at, self.notices = self._stream.broken_at, self._stream.notices
        #: The feature that a broken text leaves open.
        self.open = Feature()

    def __iter__(self) -> Iterator[Feature]:
        # One document, or one feature a line.
        for _ in self._stream.texts():
            yield from self._walk()

    def _walk(self) -> Iterator[Feature]:
        stream = self._stream
        if stream.peek() == "[":
            for _ in stream.items():
                yield from self._walk()
            return
        if stream.peek() != "{":
            stream.skip()
            return
        yield from self._object(Feature())

    def _object(self, feature: Feature, *, is_geometry: bool = False) -> Iterator[Feature]:
        """Read a feature, a collection or a geometry; a collection's members follow as features of their own."""
        stream, kind = self._stream, ""
        if not is_geometry:
            self.open = feature
        for key in stream.members():
            first = stream.peek()
            if key in ("features", "geometries") and first == "[":
                yield from self._walk()
            elif key == "type":
                kind = str(stream.value())
            elif key == "coordinates":
                self._coordinates(feature)
            elif key == "geometry" and first == "{" and not is_geometry:
                yield from self._object(feature, is_geometry=True)
            elif key == "properties" and first == "{" and not is_geometry:
                self._properties(feature)
            elif first == "[" and _is_times(key):
                # Some writers put them beside the geometry, or into it.
                self._list(feature.listed.setdefault(key, []))
            elif key == "crs":
                self._refuse_other_places(str(stream.value()))
            else:
                stream.skip()
        if is_geometry or kind not in ("Feature", "FeatureCollection", "GeometryCollection"):
            feature.kind = kind or feature.kind
        if not is_geometry:
            self.open = Feature()
            yield feature

    def _refuse_other_places(self, crs: str) -> None:
        """Refuse coordinates that are no degrees: the older GeoJSON of 2008 could name another reference system."""
        code = _EPSG.search(crs)
        if code is not None and code[1] not in _DEGREES_OF_WGS84:
            what = f"its positions are no longitudes and latitudes of WGS84 but coordinates of EPSG:{code[1]}"
            raise self._content.refusal(what, "member 'crs'", "export it in WGS84, as RFC 7946 asks")

    def _coordinates(self, feature: Feature) -> None:
        stream = self._stream
        if stream.peek() != "[":
            stream.skip()
        elif stream.peek_inside() != "[":
            feature.point = _places([stream.value()])[0]
        else:
            self._lists(feature)

    def _lists(self, feature: Feature) -> None:
        """Read lists of positions, and lists of such lists."""
        stream, line = self._stream, Column(_places)
        nested = False
        try:
            for _ in stream.items():
                if stream.peek() == "[" and stream.peek_inside() == "[":
                    nested = True
                    self._lists(feature)
                else:
                    line.append(stream.value())
        finally:
            # Also what stands before a break.
            if len(line) or not nested:
                feature.lines.append(line.values())

    def _properties(self, feature: Feature) -> None:
        stream = self._stream
        for key in stream.members():
            if stream.peek() == "[":
                self._list(feature.listed.setdefault(key, []))
            elif key == "coordinateProperties" and stream.peek() == "{":
                self._properties(feature)
            else:
                feature.properties[key] = stream.value()

    def _list(self, values: list[Any]) -> None:
        values.clear()
        for _ in self._stream.items():
            values.append(self._stream.value())
            check_samples(len(values))


_TYPE = re.compile('"(FeatureCollection|Feature|GeometryCollection|(Multi)?(LineString|Point|Polygon))"')
#: Reference systems that are WGS84 in degrees, or as good as that.
_EPSG, _DEGREES_OF_WGS84 = (
    re.compile(r"EPSG:+(?:[\d.]*:)?(\d+)", re.IGNORECASE),
    ("4326", "4979", "4258", "4269"),
)
_LINE_TIMES = re.compile(r"(coord(inate)?s?)?(date)?time(stamp)?s?")
_HEIGHT = Field(
    "coordinates[2]",
    "altitude_ft",
    "m",
    FEET_PER_METRE,
    "GeoJSON height is above the ellipsoid, not an altimeter's: it differs from the indicated altitude.",
    weak=True,
)


def looks_like(head: str) -> bool:
    """Tell GeoJSON by an opening brace and a type that it knows."""
    bare = head.lstrip()
    return bare.startswith(("{", "[")) and _TYPE.search(bare) is not None and '"type"' in bare


def read(content: Content) -> list[RawFlight]:
    """Read the timed lines and points of a GeoJSON document.

    LogError for broken JSON, where nothing has times, and where times and positions do not pair.
    """
    found = Pieces()
    points, time_names = Records(), set[str]()
    untimed = 0
    features = Features(content)
    broken_at = ""
    try:
        for feature in features:
            if feature.kind == "Point":
                _take_point(feature, points, time_names)
            elif feature.kind in ("LineString", "MultiLineString", "MultiPoint"):
                untimed += not found.take(partial(_lines, feature, content))
    except LogError as error:
        # A text that is damaged inside may lack positions or times anywhere.
        if features.open.lines and error.what.endswith(ENDS):
            found.take(partial(_lines, features.open, content, cut_off=True))
        broken_at = features.broken_at(error, enough=bool(found.flights) or len(points) > 1)
    if len(points):
        found.take(partial(points.flights, content))
    if flights := found.noted((*features.notices(broken_at), *untimed_notice(untimed))):
        return flights
    raise content.refusal(
        "the line has no times, so nothing can be timed"
        if untimed
        else "no timed line and no timed points are in it",
        "member 'features'",
        "give the line a 'coordTimes' property with a time for each position, or each point a 'time'",
    )


def _is_count(fourth: float) -> bool:
    """Tell whether a fourth number alone can be a time: seconds, or parts of them, since a known day; from 1990 on."""
    return fourth > 631_152_000.0


def _take_point(feature: Feature, points: Records, time_names: set[str]) -> None:
    if not _is_timed(feature.properties, time_names) and not _is_count(float(feature.point[3])):
        return
    position = feature.point.tolist()
    row: dict[str, Any] = {"longitude": position[0], "latitude": position[1]}
    if position[2] == position[2]:
        row["ellipsoid height m"] = position[2]
    if _is_count(position[3]):
        row["time"] = position[3]
    for name, value in flat(feature.properties).items():
        row.setdefault(name, value)
    points.add(row)


def _is_timed(properties: dict[str, Any], time_names: set[str]) -> bool:
    """Tell whether a property is a time, if only one that is missing; names met before are not read again."""
    if time_names.isdisjoint(properties):
        time_names |= {key for key in properties if means(key, "time")}
    return not time_names.isdisjoint(properties)


def _lines(feature: Feature, content: Content, *, cut_off: bool = False) -> list[RawFlight]:
    """Read a feature's lines; of one that is cut off the positions and times that pair from the beginning on."""
    times = next((value for key, value in feature.listed.items() if _is_times(key)), None)
    label = feature.properties.get("name", "")
    if times is None:
        # RFC 7946 leaves a fourth number open; one that grows from position to position counts time.
        timed = [line for line in feature.lines if len(line) > 1 and (np.diff(line[:, 3]) > 0.0).all()]
        return [_flight(line, line[:, 3].tolist(), {}, content, label) for line in timed]
    flights = []
    for line, moments in zip(feature.lines, _per_line(times, feature, content, cut_off), strict=True):
        beside = {
            EXTENSION + key: _numbers(values)
            for key, values in feature.listed.items()
            if len(values) == len(line) and not _is_times(key)
        }
        flights.append(_flight(line, moments, beside, content, label))
    return flights


def _is_times(key: str) -> bool:
    return _LINE_TIMES.fullmatch(re.sub("[_ -]", "", key.lower())) is not None


def _per_line(times: list[Any], feature: Feature, content: Content, cut_off: bool) -> list[list[Any]]:
    """Return one list of times for each line: given so, or to be cut from one list for all."""
    sizes = [len(line) for line in feature.lines]
    lists = [one for one in times if isinstance(one, list)]
    told = zip_longest(sizes, map(len, lists), fillvalue=0) if lists else [(sum(sizes), len(times))]
    for number, (positions, moments) in enumerate(told, 1):
        if positions != moments and not cut_off:
            raise content.refusal(
                f"line {number} has {positions:,} positions and {moments:,} times, and nothing tells which is missing",
                "property 'coordTimes'",
                "give every position its time",
            )
    edges = pairwise(np.cumsum([0, *sizes]).tolist())
    parts = lists[: len(sizes)] if lists else [times[begin:end] for begin, end in edges]
    parts += [[] for _ in sizes[len(parts) :]]
    return [(part + [None] * size)[:size] for part, size in zip(parts, sizes, strict=True)]


def _flight(
    line: FloatArray, moments: list[Any], beside: dict[str, FloatArray], content: Content, label: object
) -> RawFlight:
    clock, notices = _clock(moments)
    columns = {"time": clock.time_s, "lon": line[:, 0], "lat": line[:, 1], _HEIGHT.name: line[:, 2], **beside}
    point = (
        Source("coordinates", "position", "deg", "recognised"),
        Source("time", "time", clock.unit, "recognised"),
    )
    name = shown(label) if isinstance(label, str) else ""
    flight = flight_of(columns, (_HEIGHT,), content, point, notices, dated=clock.dated, label=name)
    if not clock.scale_open:
        return flight
    return replace(flight, undecided=(*flight.undecided, Undecided("time", "time", "", "time", clock.time_s)))


def _clock(moments: list[Any]) -> tuple[Clock, tuple[Notice, ...]]:
    if any(isinstance(moment, str) for moment in moments):
        texts = [moment if isinstance(moment, str) else None for moment in moments]
        seconds, without_zone = iso_seconds(texts)
        return Clock(seconds, True, "ISO 8601"), zone_notice(without_zone, len(moments))
    clock = number_clock(_numbers(moments), None)
    return clock, clock.saying_its_zone().notices


def _numbers(values: Sequence[Any]) -> FloatArray:
    return np.array([number_or_nan(value, 1e300) for value in values], dtype=float)
