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
from analyser.logs.meaning import meaning_of, means
from analyser.logs.raw import Content, FloatArray, Pieces, RawFlight
from analyser.logs.records import Records, Values, column, flat, flights_of
from analyser.logs.samples import Column
from analyser.logs.text import shown
from analyser.logs.times import IsoTimes
from analyser.logs.track import Notice

_COLLECTED, _LINES = ("features", "geometries"), ("LineString", "MultiLineString", "MultiPoint")
_GROUPS = ("Feature", "FeatureCollection", "GeometryCollection")
#: Objects that are parts of a feature, and of its parts.
_PARTS = {"": ("geometry", "properties"), "geometry": (), "properties": ("coordinateProperties",)}
_TYPE = re.compile('"(FeatureCollection|Feature|GeometryCollection|(Multi)?(LineString|Point|Polygon))"')
#: Reference systems that are WGS84 in degrees, or as good as that.
_EPSG, _DEGREES_OF_WGS84 = (
    re.compile(r"EPSG:+(?:[\d.]*:)?(\d+)", re.IGNORECASE),
    ("4326", "4979", "4258", "4269"),
)
_LINE_TIMES = re.compile(r"(coord(inate)?s?)?(date)?time(stamp)?s?")
#: How a table would call the third number, and seconds since a moment that it need not know.
_HEIGHT, _SECONDS = "ellipsoid height m", "time since start (s)"


def looks_like(head: str) -> bool:
    """Tell GeoJSON by an opening brace and a type that it knows."""
    bare = head.lstrip()
    return bare.startswith(("{", "[")) and _TYPE.search(bare) is not None and '"type"' in bare


def read(content: Content) -> list[RawFlight]:
    """Read the timed lines and points of a GeoJSON document.

    LogError for broken JSON, where nothing has times, and where times and positions do not pair.
    """
    found, lines = Pieces(), _Lines(content)
    points, time_names = Records(), set[str]()
    features = _Features(content)
    stream, broken_at = features.stream, ""
    try:
        for feature in features:
            if feature.kind == "Point":
                _take_point(feature, points, time_names)
            elif feature.kind in _LINES and found.tried(partial(lines.add, feature)) is False:
                found.untimed += 1
    except LogError as error:
        # A text that is damaged inside may lack positions or times anywhere.
        if features.open.lines and error.what.endswith(ENDS):
            found.tried(partial(lines.add, features.open, cut_off=True))
        broken_at = stream.broken_at(error, enough=bool(lines.columns) or len(points) > 1)
    found.take(lines.flights)
    if len(points):
        found.take(partial(points.flights, content))
    if flights := found.noted(stream.notices(broken_at)):
        return flights
    raise content.refusal(
        "the line has no times, so nothing can be timed"
        if found.untimed
        else "no timed line and no timed points are in it",
        "member 'features'",
        "give the line a 'coordTimes' property with a time for each position, or each point a 'time'",
    )


def _is_count(fourth: float) -> bool:
    """Tell whether a fourth number alone can be a time: seconds, or parts of them, since a known day; from 1990 on."""
    return fourth > 631_152_000.0


def _take_point(feature: _Feature, points: Records, time_names: set[str]) -> None:
    if not _is_timed(feature.properties, time_names) and not _is_count(float(feature.point[3])):
        return
    position = feature.point.tolist()
    row: dict[str, Any] = {"longitude": position[0], "latitude": position[1]}
    if position[2] == position[2]:
        row[_HEIGHT] = position[2]
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


class _Lines:
    """Timed lines; those that say the same things are one table, since to read one takes longer than many rows."""

    def __init__(self, content: Content) -> None:
        self._content, self._said = content, set[Notice]()
        #: POSIX seconds of the first time that is written as ISO 8601.
        self._begin_s = 0.0
        #: By what they say, each line's columns, and its label.
        self.columns: dict[tuple[str, ...], list[tuple[dict[str, Values], str]]] = {}

    def add(self, feature: _Feature, *, cut_off: bool = False) -> bool:
        """Add a feature's lines, of one that is cut off what pairs from its beginning; tell whether any has times."""
        times = next((value for key, value in feature.listed.items() if _is_times(key)), None)
        label = feature.properties.get("name", "")
        if times is None:
            # RFC 7946 leaves a fourth number open; one that grows from position to position counts time.
            lines = [line for line in feature.lines if len(line) > 1 and (np.diff(line[:, 3]) > 0.0).all()]
            moments = [("time", line[:, 3]) for line in lines]
        else:
            lines = feature.lines
            moments = [self._moments(one) for one in _per_line(times, feature, self._content, cut_off)]
        for line, (clock, when) in zip(lines, moments, strict=True):
            columns = {clock: when, "longitude": line[:, 0], "latitude": line[:, 1], _HEIGHT: line[:, 2]}
            if not np.isfinite(line[:, 2]).any():
                del columns[_HEIGHT]
            for key, values in feature.listed.items():
                if len(values) == len(line) and not _is_times(key):
                    # A list of headings may be called so.
                    columns.setdefault(key if meaning_of(key) else key.removesuffix("s"), column(values))
            alike = tuple(f"{name} {values.dtype.kind}" for name, values in columns.items())
            named = shown(label) if isinstance(label, str) else ""
            self.columns.setdefault(alike, []).append((columns, named))
        return bool(lines)

    def _moments(self, written: list[Any]) -> tuple[str, Values]:
        """Return times and how a table would call them: as text ISO 8601 takes many times the memory of numbers."""
        if any(isinstance(one, str) for one in written):
            iso = IsoTimes()
            seconds = iso([one if isinstance(one, str) else None for one in written])
            if np.isfinite(seconds).any():
                self._said.update(iso.notices())
                self._begin_s = self._begin_s or float(seconds[np.isfinite(seconds)][0])
                return _SECONDS, seconds - self._begin_s
        return "time", column(written)

    def flights(self) -> Iterator[RawFlight]:
        """Give a flight for each line."""
        for lines in self.columns.values():
            columns = {name: [line[name] for line, _ in lines] for name in lines[0][0]}
            ends = np.cumsum([len(one) for one in columns["longitude"]])
            table = {
                name: many[0] if len(many) == 1 else np.concatenate(many) for name, many in columns.items()
            }
            del columns
            dated, content = _SECONDS in table, self._content
            if dated:
                # What a person says of numbers is said of no text.
                units = {name: unit for name, unit in content.options.units.items() if name != "time"}
                content = replace(content, options=replace(content.options, units=units))
            for one in flights_of(table, content):
                whole = one.with_notices(tuple(self._said))
                if dated:
                    whole = replace(whole, time_s=whole.time_s + self._begin_s, dated=True)
                if whole.samples < ends[-1]:
                    # A column parts aircraft.
                    yield whole
                    continue
                for (_, label), rows in zip(lines, np.split(np.arange(ends[-1]), ends[:-1]), strict=True):
                    yield replace(whole if len(lines) == 1 else whole.take(rows), label=label)


def _is_times(key: str) -> bool:
    return _LINE_TIMES.fullmatch(re.sub("[_ -]", "", key.lower())) is not None


def _per_line(times: list[Any], feature: _Feature, content: Content, cut_off: bool) -> list[list[Any]]:
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


@dataclass
class _Feature:
    """One geometry with what is said of it; a bare one is a feature without properties."""

    #: ``type`` of the geometry.
    kind: str = ""
    #: The only position, and every list of positions, however deep it stands, as :func:`_places` reads them.
    point: FloatArray = field(default_factory=lambda: np.full(4, np.nan))
    lines: list[FloatArray] = field(default_factory=list)
    #: Plain values and objects; lists of plain values, or of one list for each line.
    properties: dict[str, Any] = field(default_factory=dict)
    listed: dict[str, list[Any]] = field(default_factory=dict)


class _Features:
    """The features of a document, in its order."""

    def __init__(self, content: Content) -> None:
        self._content, self.stream = content, JsonStream(content)
        #: The feature that a broken text leaves open.
        self.open = _Feature()

    def __iter__(self) -> Iterator[_Feature]:
        # One document, or one feature a line.
        for _ in self.stream.texts():
            yield from self._walk()

    def _walk(self) -> Iterator[_Feature]:
        stream, first = self.stream, self.stream.peek()
        if first == "[":
            for _ in stream.items():
                yield from self._walk()
        elif first == "{":
            self.open = feature = _Feature()
            yield from self._fill(feature, "")
            self.open = _Feature()
            yield feature
        else:
            stream.skip()

    def _fill(self, feature: _Feature, part: str) -> Iterator[_Feature]:
        """Read a feature, or a part of it; what a collection holds comes as features of their own."""
        stream = self.stream
        for key in stream.members():
            first = stream.peek()
            if first == "[" and (part == "properties" or _is_times(key)):
                # Some writers put times beside the geometry, or into it.
                values = feature.listed[key] = []
                for _ in stream.items():
                    values.append(stream.value())
                    check_samples(len(values))
            elif first == "{" and key in _PARTS[part]:
                yield from self._fill(feature, "properties" if part else key)
            elif part == "properties":
                feature.properties[key] = stream.value()
            elif first == "[" and key in _COLLECTED:
                yield from self._walk()
            elif first == "[" and key == "coordinates" and stream.peek_inside() == "[":
                self._positions(feature.lines)
            elif first == "[" and key == "coordinates":
                feature.point = _places([stream.value()])[0]
            elif key == "type":
                kind = str(stream.value())
                feature.kind = kind if part or kind not in _GROUPS else feature.kind
            elif key == "crs":
                self._refuse_other_places(str(stream.value()))
            else:
                stream.skip()

    def _refuse_other_places(self, crs: str) -> None:
        """Refuse coordinates that are no degrees: the older GeoJSON of 2008 could name another reference system."""
        code = _EPSG.search(crs)
        if code is not None and code[1] not in _DEGREES_OF_WGS84:
            what = f"its positions are no longitudes and latitudes of WGS84 but coordinates of EPSG:{code[1]}"
            raise self._content.refusal(what, "member 'crs'", "export it in WGS84, as RFC 7946 asks")

    def _positions(self, lines: list[FloatArray]) -> None:
        """Read a list of positions, or lists of such lists, into numbers, also before a break."""
        stream, line = self.stream, Column(_places)
        nested = False
        try:
            for _ in stream.items():
                if stream.peek() == "[" and stream.peek_inside() == "[":
                    nested = True
                    self._positions(lines)
                else:
                    line.append(stream.value())
        finally:
            if len(line) or not nested:
                lines.append(line.values())


def _places(positions: Sequence[Any]) -> FloatArray:
    """Read longitude, latitude, metres and a fourth number that RFC 7946 gives no meaning; NaN for what is missing."""
    try:
        read = np.array(positions, dtype=float)
        if read.ndim == 2 and read.shape[1] >= 2:
            return np.pad(read[:, :4], ((0, 0), (0, max(0, 4 - read.shape[1]))), constant_values=np.nan)
    except (ValueError, TypeError, OverflowError):
        pass
    rows = [[*one, *[None] * 4][:4] if isinstance(one, list) else [None] * 4 for one in positions]
    return np.array([[number_or_nan(part, 1e15) for part in row] for row in rows]).reshape(-1, 4)
