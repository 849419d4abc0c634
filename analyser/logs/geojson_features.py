"""GeoJSON features one after another, each with its lines as numbers: a long line never stands in memory as text."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from analyser.logs.json_stream import JsonStream, number_or_nan
from analyser.logs.limits import check_samples
from analyser.logs.raw import Content, FloatArray
from analyser.logs.samples import Column

_NOWHERE = np.full(4, np.nan)


@dataclass
class Listed:
    """A property that is a list: plain values, or one list of them for each line."""

    values: list[Any] = field(default_factory=list)
    lists: list[list[Any]] = field(default_factory=list)


@dataclass
class Feature:
    """One geometry with what is said of it.

    Attributes
    ----------
    kind : str
        ``type`` of the geometry.
    point : (4,) float array
        Longitude, latitude, metres, and a fourth number that RFC 7946 gives no meaning; NaN where there is none.
    lines : list of (n, 4) float array
        Every list of positions, however deep it stands.
    properties : dict
        Plain values and objects.
    listed : dict of str to Listed
        Lists, those of ``coordinateProperties`` too.
    """

    kind: str = ""
    point: FloatArray = field(default_factory=lambda: _NOWHERE)
    lines: list[FloatArray] = field(default_factory=list)
    properties: dict[str, Any] = field(default_factory=dict)
    listed: dict[str, Listed] = field(default_factory=dict)


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
        self._stream = JsonStream(content)
        self.broken_at = self._stream.broken_at

    def __iter__(self) -> Iterator[Feature]:
        # One document, or one feature a line.
        while self._stream.peek():
            if self._stream.peek() == "\x1e":
                self._stream.pass_mark()
            else:
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
        feature, kind = Feature(), ""
        for key in stream.members():
            if key in ("features", "geometries") and stream.peek() == "[":
                yield from self._walk()
            elif key == "type":
                kind = str(stream.value())
            elif key == "geometry" and stream.peek() == "{":
                yield from self._geometry(feature)
            elif key == "coordinates":
                self._coordinates(feature)
            elif key == "properties" and stream.peek() == "{":
                self._properties(feature)
            else:
                stream.skip()
        if kind not in ("Feature", "FeatureCollection", "GeometryCollection"):
            feature.kind = kind
        yield feature

    def _geometry(self, feature: Feature) -> Iterator[Feature]:
        """Read a feature's geometry; a collection's members follow as features of their own."""
        stream = self._stream
        for key in stream.members():
            if key == "type":
                feature.kind = str(stream.value())
            elif key == "coordinates":
                self._coordinates(feature)
            elif key == "geometries" and stream.peek() == "[":
                yield from self._walk()
            else:
                stream.skip()

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
        for _ in stream.items():
            if stream.peek() == "[" and stream.peek_inside() == "[":
                nested = True
                self._lists(feature)
            else:
                line.append(stream.value())
        if len(line) or not nested:
            feature.lines.append(line.values())

    def _properties(self, feature: Feature) -> None:
        stream = self._stream
        for key in stream.members():
            if stream.peek() == "[":
                feature.listed[key] = self._list()
            elif key == "coordinateProperties" and stream.peek() == "{":
                self._properties(feature)
            else:
                feature.properties[key] = stream.value()

    def _list(self) -> Listed:
        stream, listed = self._stream, Listed()
        for _ in stream.items():
            value = stream.value()
            if isinstance(value, list):
                listed.lists.append(value)
            else:
                listed.values.append(value)
            check_samples(len(listed.values) + len(listed.lists))
        return listed
