"""JSON that is a list of points, and NDJSON with one point a line: names of values as in a table's header."""

from __future__ import annotations

import re
from typing import Any

import numpy as np

from analyser.errors import LogError
from analyser.logs.json_stream import JsonStream, is_by_line
from analyser.logs.limits import check_samples
from analyser.logs.meaning import meaning_of
from analyser.logs.raw import Content, RawFlight
from analyser.logs.records import Records, flat
from analyser.logs.text import shown
from analyser.logs.times import iso_seconds
from analyser.logs.track import Notice

_MEND = 'give each point its time, latitude and longitude, such as {"time": …, "lat": …, "lon": …}'
_LOOKS = re.compile(r"[\ufeff\s\x1e]*(?:\{|\[\s*(?:null\s*,\s*)*[\[{])")
#: So many names tell whether an object is a point.
_NAMES = 100
_POSITIONS = ({"lat", "lon"}, {"position"})


def looks_like(head: str) -> bool:
    """Tell a JSON text, of which GeoJSON was asked about before."""
    return _LOOKS.match(head) is not None or is_by_line(head)


def read(content: Content) -> list[RawFlight]:
    """Read points.

    A list of objects, objects one after another, one list for each value, rows under a list of their names, or an
    object that holds any of these, whatever its name. LogError for broken JSON, and where the points have no time or no
    position.
    """
    points = _Points(content)
    notices = points.read()
    if not (_name_a_position(list(points.records.columns())) or content.options.columns):
        what = "no timed line and no list of points with a position is in it"
        raise content.refusal(what, "JSON", _MEND)
    return [flight.with_notices(notices) for flight in points.records.flights(content)]


def _concepts(names: list[str]) -> set[str]:
    return {meaning.concept.name for name in names[:_NAMES] if (meaning := meaning_of(name)) is not None}


def _name_a_position(names: list[str]) -> bool:
    concepts = _concepts(names)
    return any(wanted <= concepts for wanted in _POSITIONS)


class _Points:
    """The points met so far on the way through a text."""

    def __init__(self, content: Content) -> None:
        self._content, self._stream = content, JsonStream(content)
        self.records = Records()
        #: The names of values whose rows follow.
        self._names: list[str] = []

    def read(self) -> tuple[Notice, ...]:
        """Go through the text; say what was broken in it."""
        stream, broken_at = self._stream, ""
        try:
            for line, alone in stream.texts():
                first = stream.peek()
                if isinstance(alone, list):
                    stream.pass_line(line)
                    self._row(alone)
                elif alone is not None and "[" not in line:
                    stream.pass_line(line)
                    self._take(alone)
                elif first == "[":
                    self._list()
                elif first == "{":
                    self._take(self._object())
                else:
                    raise stream.fault("Expecting a list or an object")
        except LogError as error:
            broken_at = stream.broken_at(error, enough=len(self.records) > 1)
        return stream.notices(broken_at)

    def _list(self) -> None:
        stream = self._stream
        for _ in stream.items():
            first = stream.peek()
            if first == "{":
                self._add(stream.value(), {})
            elif first == "[" and stream.peek_inside() in "[{":
                self._list()
            elif first == "[":
                self._row(stream.value())
            else:
                stream.skip()

    def _add(self, point: dict[str, Any], around: dict[str, Any]) -> None:
        """Add a point, or the points in an object's lists: each also has what the object round it says."""
        lists = [one for one in point.values() if isinstance(one, list) and one and isinstance(one[0], dict)]
        names = {**around, **flat(point)}
        # An object with a position and no time, such as a home airfield's, is no point of a flight.
        if not lists or (_name_a_position(list(names)) and "time" in _concepts(list(names))):
            self.records.add(names)
            return
        for inner in (inner for one in lists for inner in one if isinstance(inner, dict)):
            self._add(inner, names)

    def _row(self, row: list[Any]) -> None:
        """Take a row of values under the names that stand before, or the names themselves."""
        if row and all(isinstance(cell, str) for cell in row) and _name_a_position(row):
            self._names = row
        elif len(row) == len(self._names):
            self.records.add(dict(zip(self._names, map(_plain, row), strict=True)))

    def _object(self) -> dict[str, Any]:
        """Take what an object holds: points, lists of values, objects round them; return what may be a point itself."""
        stream = self._stream
        alone: dict[str, Any] = {}
        columns: dict[str, list[Any]] = {}
        held = len(self.records)
        for key in stream.members():
            first, inside = stream.peek(), stream.peek_inside()
            if first == "[" and inside in ("{", "["):
                self._list()
            elif first == "[" and (meaning_of(key) is not None or inside == '"'):
                columns[key] = self._values()
                if _name_a_position([name for name in columns[key] if isinstance(name, str)]):
                    self._names = [str(name) for name in columns.pop(key)]
            elif first == "[":
                stream.skip()
            elif first == "{" and inside != "}":
                alone[key] = self._object()
            else:
                alone[key] = stream.value()
        columns = {key: values for key, values in columns.items() if meaning_of(key) is not None}
        if len(self.records) == held and _name_a_position(list(columns)):
            self._pair(columns)
        return alone if len(self.records) == held else {}

    def _take(self, alone: dict[str, Any]) -> None:
        """Take an object for a point, or what is in it for points, each under a name, a number or its time."""
        inside = [one for one in alone.values() if isinstance(one, dict)]
        if inside and len(inside) == len(alone) and np.isfinite(iso_seconds(list(alone))[0]).all():
            for name, one in alone.items():
                self._take({"time": name, **one})
            return
        names = flat(alone)
        rows = {tuple(one) for one in inside}
        if len(inside) == len(alone) > 2 and len(rows) == 1 and _name_a_position(list(alone)):
            # An object for each value, with the same names of rows in each.
            self.records.add_columns({name: [_plain(v) for v in one.values()] for name, one in alone.items()})
            return
        several = len(inside) > 1 or any(isinstance(two, dict) for one in inside for two in one.values())
        if not several or _name_a_position(list(names)):
            self.records.add(names)
            return
        for one in inside:
            self._take(one)

    def _values(self) -> list[Any]:
        values: list[Any] = []
        for _ in self._stream.items():
            values.append(_plain(self._stream.value()))
            check_samples(len(values))
        return values

    def _pair(self, columns: dict[str, list[Any]]) -> None:
        """Refuse lists of different lengths: nothing tells which value is missing."""
        if len({len(values) for values in columns.values()}) > 1:
            listed = ", ".join(
                f"{len(values):,} under '{shown(name, 40)}'" for name, values in columns.items()
            )
            raise self._content.refusal(
                f"the lists differ in length, and nothing tells what is missing: {listed}",
                mend="give every point all its values",
            )
        self.records.add_columns(columns)


def _plain(value: Any) -> Any:
    return None if isinstance(value, (list, dict)) else value
