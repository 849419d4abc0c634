"""JSON that holds points, lists of their values or rows, and GeoJSON's timed lines and points.

Values have names as in a table's header. What is small is taken whole; of what is large, lists of objects are read
object by object, and positions are turned into numbers as they come.

References
----------
RFC 7946 (GeoJSON): positions are longitude, latitude and, where given, height in metres above the WGS84 ellipsoid. It
has no times; ``coordTimes`` (or ``times``, or ``coordinateProperties``) is the usual property for them. OGC 19-045r3
(Moving Features, JSON) puts ``datetimes`` beside the coordinates of a ``temporalGeometry``.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from itertools import pairwise, zip_longest
from typing import Any

import numpy as np

from analyser.errors import LogError
from analyser.logs.json_stream import ENDS, IN_PARTS, JsonStream, is_by_line, number_or_nan
from analyser.logs.limits import MAX_DEPTH, check_samples
from analyser.logs.log_thresholds import LOOK, TIMES
from analyser.logs.meaning import concepts_of, meaning_of, means
from analyser.logs.raw import Content, FloatArray, Pieces, RawFlight
from analyser.logs.records import Records, Values, column, flat, flights_of, is_place
from analyser.logs.samples import Column
from analyser.logs.text import shown
from analyser.logs.times import IsoTimes
from analyser.logs.track import Notice

_LOOKS = re.compile(r"[\ufeff\s\x1e]*(?:\{|\[\s*(?:null\s*,\s*)*[\[{])")
#: GeoJSON's types, of which only lines and points are read; and the members that hold more of it.
_LINES = ("LineString", "MultiLineString", "MultiPoint", "MovingPoint")
_TYPES = ("Feature", "FeatureCollection", "GeometryCollection", "Point", "Polygon", "MultiPolygon", *_LINES)
_TYPE = re.compile(f'"({"|".join(_TYPES)})"')
_COLLECTED, _GEOMETRIES = ("features", "geometries"), ("temporalGeometry", "geometry")
#: Reference systems that are WGS84 in degrees, or as good as that.
_EPSG, _DEGREES_OF_WGS84 = (
    re.compile(r"EPSG:+(?:[\d.]*:)?(\d+)", re.IGNORECASE),
    ("4326", "4979", "4258", "4269"),
)
_LINE_TIMES = re.compile(r"(coord(inate)?s?)?(date)?time(stamp)?s?")
#: How a table would call the third number, and times that are read.
_HEIGHT, _POSIX = "ellipsoid height m", "time (seconds since 1970-01-01)"
_POSITIONS = ({"lat", "lon"}, {"position"})


def looks_like(head: str) -> bool:
    """Tell a JSON text."""
    return _LOOKS.match(head) is not None or is_by_line(head)


def is_geojson(head: str) -> bool:
    """Tell GeoJSON by an opening brace and a type that it knows."""
    return head.lstrip().startswith(("{", "[")) and '"type"' in head and _TYPE.search(head) is not None


def read(content: Content) -> list[RawFlight]:
    """Read points and timed lines.

    A list of objects, objects one after another, one list for each value, rows under a list of their names, GeoJSON,
    or an object that holds any of these, whatever its name. LogError for broken JSON, where the points have no time or
    no position, and where times and positions of a line do not pair.
    """
    document = _Document(content)
    notices = document.read()
    records, pieces = document.records, document.pieces
    for line in document.lines:
        pieces.take(line)
    if len(records) and (_name_a_position(list(records.columns())) or content.options.columns):
        pieces.take(partial(records.flights, content))
    if flights := pieces.noted(notices):
        return flights
    if pieces.untimed:
        raise content.refusal(
            "the line has no times, so nothing can be timed",
            "member 'features'",
            "give the line a 'coordTimes' property with a time for each position, or each point a 'time'",
        )
    raise content.refusal(
        "no timed line and no list of points with a position and a time is in it",
        mend='give each point its time, latitude and longitude, such as {"time": …, "lat": …, "lon": …}',
    )


def _concepts(names: list[str]) -> set[str]:
    return concepts_of(names[: LOOK.point_names])


def _name_a_position(names: list[str]) -> bool:
    concepts = _concepts(names)
    return any(wanted <= concepts for wanted in _POSITIONS)


class _Document:
    """What was met so far on the way through a text."""

    def __init__(self, content: Content) -> None:
        self._content, self._stream = content, JsonStream(content)
        self.records, self.pieces = Records(), Pieces()
        #: What reads each line, once its text is let go.
        self.lines: list[Callable[[], list[RawFlight]]] = []
        # What a person says of times that are numbers is said of no text.
        units = {name: unit for name, unit in content.options.units.items() if name != "time"}
        self._of_text = replace(content, options=replace(content.options, units=units))
        #: The names of values whose rows follow; names of properties that are times.
        self._names: list[str] = []
        self._time_names = set[str]()
        #: What is open where the text breaks off.
        self._rest: Any = None

    def read(self) -> tuple[Notice, ...]:
        """Go through the text; say what was broken in it."""
        stream, broken_at = self._stream, ""
        try:
            for one in stream.texts():
                held = len(self.records)
                text = self._value() if one is IN_PARTS else one
                if isinstance(text, list):
                    self._list(text)
                elif not isinstance(text, dict):
                    raise stream.fault("Expecting a list or an object")
                elif (alone := self._gathered(text)) and len(self.records) == held:
                    self._take(alone)
        except LogError as error:
            # A line that the end of the text leaves open pairs from its beginning; one that is damaged inside may lack
            # positions or times anywhere.
            for one in self._rest if isinstance(self._rest, list) else [self._rest]:
                if isinstance(one, dict) and error.what.endswith(ENDS):
                    self._is_geojson(one, cut_off=True)
            broken_at = stream.broken_at(error, enough=bool(self.lines) or len(self.records) > 1)
        return stream.notices(broken_at)

    def _value(self, name: str = "", around: dict[str, Any] | None = None) -> Any:
        """Take the next value. Of one that is large what a list holds is read at once, but for what lines pair.

        ``around`` is what objects round it say, of which each is one of several in a list.
        """
        stream = self._stream
        value = stream.value()
        if value is not IN_PARTS:
            return value
        if stream.peek() == "{":
            found: dict[str, Any] = {}
            key = ""
            try:
                for key in stream.members():
                    said = None if around is None else {**around, **flat(found)}
                    found[key] = self._kept(key, self._value(key, said), said)
                    self._refuse_other_places(found)
            except LogError:
                self._rest = {key: self._rest, **found}
                raise
            return found
        kept: list[Any] = []
        places = Column(_places)
        try:
            for _ in stream.items():
                one = self._value(name, around or {})
                if isinstance(one, dict):
                    self._add(one, around or {})
                elif name == "coordinates" and _is_place(one):
                    places.append(one)
                elif isinstance(one, list) and not _is_paired(name):
                    self._list(one, around)
                else:
                    kept.append(one)
                    check_samples(len(kept))
        except LogError:
            kept += [] if self._rest is None else [self._rest]
            self._rest = places.values() if len(places) else kept
            raise
        return places.values() if len(places) else kept

    def _list(self, values: list[Any], around: dict[str, Any] | None = None, depth: int = 0) -> None:
        """Take a list of points, or of rows, or a row of values."""
        if depth > MAX_DEPTH:
            raise self._stream.too_deep()
        if values and not any(isinstance(one, (dict, list)) for one in values):
            self._row(values)
        for one in values:
            if isinstance(one, dict):
                self._add(one, around or {})
            elif isinstance(one, list):
                self._list(one, around, depth + 1)

    def _row(self, row: list[Any]) -> None:
        """Take a row of values under the names that stand before, or the names themselves."""
        if all(isinstance(cell, str) for cell in row) and _name_a_position(row):
            self._names = row
        elif len(row) == len(self._names):
            self.records.add(dict(zip(self._names, row, strict=True)))

    def _add(self, point: dict[str, Any], around: dict[str, Any]) -> None:
        """Add a point, or the points in an object's lists: each also has what the object round it says."""
        if self._is_geojson(point):
            return
        lists = [one for one in point.values() if isinstance(one, list) and one and isinstance(one[0], dict)]
        names = {**around, **flat(point)}
        # An object with a position and no time, such as a home airfield's, is no point of a flight.
        if not lists or (_name_a_position(list(names)) and "time" in _concepts(list(names))):
            self.records.add(names)
            return
        for inner in (inner for one in lists for inner in one if isinstance(inner, dict)):
            self._add(inner, names)

    def _gathered(self, value: dict[str, Any]) -> dict[str, Any]:
        """Take what an object's lists hold, points or values; return what may be a point itself."""
        if self._is_geojson(value):
            return {}
        alone: dict[str, Any] = {}
        columns: dict[str, list[Any]] = {}
        held = len(self.records)
        for key, one in value.items():
            if isinstance(one, dict) and one:
                alone[key] = self._gathered(one)
            elif not isinstance(one, list) or is_place(key, one):
                alone[key] = one
            elif self._kept(key, one) and meaning_of(key) is not None:
                columns[key] = one
        if len(self.records) == held and _name_a_position(list(columns)):
            self._pair(columns)
        return alone if len(self.records) == held else {}

    def _take(self, alone: dict[str, Any]) -> None:
        """Take an object for a point, or what is in it for points, each under a name, a number or its time."""
        inside = [one for one in alone.values() if isinstance(one, dict)]
        if inside and len(inside) == len(alone) and np.isfinite(IsoTimes()(list(alone))).all():
            for name, one in alone.items():
                self._take({"time": name, **one})
            return
        names = flat(alone)
        rows = {tuple(one) for one in inside}
        if len(inside) == len(alone) > 2 and len(rows) == 1 and _name_a_position(list(alone)):
            # An object for each value, with the same names of rows in each.
            self.records.add_columns({name: list(one.values()) for name, one in alone.items()})
            return
        several = len(inside) > 1 or any(isinstance(two, dict) for one in inside for two in one.values())
        if not several or _name_a_position(list(names)):
            self.records.add(names)
            return
        for one in inside:
            self._take(one)

    def _kept(self, key: str, value: Any, around: dict[str, Any] | None = None) -> Any:
        """Take at once what an object's list holds: points, rows, the names of rows; return what is left of it."""
        if not isinstance(value, list) or not value or _is_paired(key):
            return value
        if isinstance(value[0], (dict, list)):
            self._list(value, around)
        elif _name_a_position([name for name in value[: LOOK.point_names] if isinstance(name, str)]):
            self._names = [str(name) for name in value]
        else:
            return value
        return None

    def _pair(self, columns: dict[str, list[Any]]) -> None:
        """Refuse lists of different lengths: nothing tells which value is missing."""
        if len({len(values) for values in columns.values()}) > 1:
            listed = ", ".join(
                f"{len(values):,} under '{shown(name, LOOK.label_letters)}'"
                for name, values in columns.items()
            )
            raise self._content.refusal(
                f"the lists differ in length, and nothing tells what is missing: {listed}",
                mend="give every point all its values",
            )
        self.records.add_columns(columns)

    def _is_geojson(self, value: dict[str, Any], *, cut_off: bool = False) -> bool:
        """Take an object that GeoJSON has a type for; of a text that is cut off, lines alone, whatever they say."""
        self._refuse_other_places(value)
        if not cut_off and value.get("type") not in _TYPES:
            return False
        for one in (one for name in _COLLECTED for one in value.get(name) or ()):
            if isinstance(one, dict):
                self._is_geojson(one, cut_off=cut_off)
        if any(name in value for name in (*_GEOMETRIES, "coordinates")):
            self.pieces.tried(partial(self._feature, value, cut_off))
        return True

    def _feature(self, feature: dict[str, Any], cut_off: bool) -> None:
        """Take a geometry with what is said of it; a bare one is a feature without properties."""
        properties = _object_of(feature, "properties")
        beside = [properties, _object_of(properties, "coordinateProperties")]
        geometry = next(filter(None, (_object_of(feature, name) for name in _GEOMETRIES)), feature)
        for one in geometry.get("geometries") or ():
            self._feature({"geometry": one, "properties": properties}, cut_off)
        places, kind = geometry.get("coordinates"), geometry.get("type")
        if kind == "Point" and not cut_off and isinstance(places, list):
            self._take_point(_places([places])[0], properties)
        elif (kind in _LINES or (cut_off and kind is None)) and isinstance(places, (list, np.ndarray)):
            # Some writers put times beside the geometry, or into it.
            listed = {
                key: values
                for part in (feature, geometry, *beside)
                for key, values in part.items()
                if isinstance(values, list) and (part in beside or _is_times(key))
            }
            self._take_lines(_lines_of(places), listed, properties.get("name"), cut_off)

    def _take_lines(
        self, lines: list[FloatArray], listed: dict[str, list[Any]], label: object, cut_off: bool
    ) -> None:
        """Take a feature's lines, each as the columns of a table; of one that is cut off what pairs from its start."""
        times = next((values for key, values in listed.items() if _is_times(key)), None)
        if times is None:
            # RFC 7946 leaves a fourth number open; one that grows from position to position counts time.
            lines = [line for line in lines if len(line) > 1 and (np.diff(line[:, 3]) > 0.0).all()]
        moments: Sequence[Any] = (
            [line[:, 3] for line in lines]
            if times is None
            else _per_line(times, lines, self._content, cut_off)
        )
        self.pieces.untimed += not lines
        for line, when in zip(lines, moments, strict=True):
            # As text ISO 8601 takes many times the memory of numbers.
            iso = IsoTimes()
            seconds = iso(when)
            written = bool(np.isfinite(seconds).any())
            columns = {_POSIX: seconds} if written else {"time": column(when)}
            columns |= {"longitude": line[:, 0], "latitude": line[:, 1]}
            columns |= {_HEIGHT: line[:, 2]} if np.isfinite(line[:, 2]).any() else {}
            for key, values in listed.items():
                if len(values) == len(line) and not _is_times(key):
                    # A list of headings may be called so.
                    columns.setdefault(key if meaning_of(key) else key.removesuffix("s"), column(values))
            content, said = (self._of_text, iso.notices()) if written else (self._content, ())
            named = shown(label) if isinstance(label, str) else ""
            self.lines.append(partial(_flights_of_line, columns, content, named, said))

    def _take_point(self, place: FloatArray, properties: dict[str, Any]) -> None:
        """Take a point that has a time, if only one that is missing."""
        if self._time_names.isdisjoint(properties):
            # Names met before are not read again.
            self._time_names |= {key for key in properties if means(key, "time") or means(key, "date")}
        longitude, latitude, height, fourth = place.tolist()
        row: dict[str, Any] = {"longitude": longitude, "latitude": latitude}
        if not math.isnan(height):
            row[_HEIGHT] = height
        # Alone it can be a time: seconds, or parts of them, since a known day; no older than logs are.
        if fourth > TIMES.oldest_s:
            row["time"] = fourth
        elif self._time_names.isdisjoint(properties):
            return
        self.records.add({**flat(properties), **row})

    def _refuse_other_places(self, document: dict[str, Any]) -> None:
        """Refuse coordinates that are no degrees: the older GeoJSON of 2008 could name another reference system."""
        code = _EPSG.search(str(document["crs"])) if "crs" in document else None
        if code is not None and code[1] not in _DEGREES_OF_WGS84:
            what = f"its positions are no longitudes and latitudes of WGS84 but coordinates of EPSG:{code[1]}"
            raise self._content.refusal(what, "member 'crs'", "export it in WGS84, as RFC 7946 asks")


def _flights_of_line(
    columns: dict[str, Values], content: Content, label: str, said: tuple[Notice, ...]
) -> list[RawFlight]:
    flights = flights_of(columns, content)
    return [replace(flight, label=flight.label or label).with_notices(said) for flight in flights]


def _object_of(value: dict[str, Any], name: str) -> dict[str, Any]:
    one = value.get(name)
    return one if isinstance(one, dict) else {}


def _is_times(key: str) -> bool:
    return _LINE_TIMES.fullmatch(re.sub("[_ -]", "", key.lower())) is not None


def _is_paired(key: str) -> bool:
    """Tell whether a list is read with another one, of places or of times."""
    return key == "coordinates" or _is_times(key)


def _per_line(times: list[Any], lines: list[FloatArray], content: Content, cut_off: bool) -> list[list[Any]]:
    """Return one list of times for each line: given so, or to be cut from one list for all."""
    sizes = [len(line) for line in lines]
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


def _is_place(value: object) -> bool:
    # One that is missing may be null.
    return value is None or (
        isinstance(value, list) and not isinstance(next(iter(value), 0), (list, np.ndarray))
    )


def _lines_of(coordinates: list[Any] | FloatArray) -> list[FloatArray]:
    """Return every list of positions, however deep it stands, as :func:`_places` reads them."""
    if isinstance(coordinates, np.ndarray):
        return [coordinates]
    if all(map(_is_place, coordinates)):
        return [_places(coordinates)]
    return [line for one in coordinates if isinstance(one, (list, np.ndarray)) for line in _lines_of(one)]


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
