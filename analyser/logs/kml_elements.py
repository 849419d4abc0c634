"""A KML document's elements on the way through it: tracks, lines with times, points with times."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from itertools import islice

import numpy as np

from analyser.logs.limits import MAX_PIECES, check_samples
from analyser.logs.meaning import meaning_of
from analyser.logs.raw import FloatArray
from analyser.logs.samples import Column, IsoTimes
from analyser.logs.times import to_floats

#: So many arrays of extended data are looked at.
_MOST_ARRAYS = 40
_CONTAINERS = ("kml", "document", "folder")
_TUPLE = re.compile(r"\S+")
_PARTS = re.compile(r"[\s,]+")


def _triples(written: Sequence[list[str]]) -> FloatArray:
    """Read longitude, latitude and altitude; NaN for what is missing."""
    columns = [[part[place] if len(part) > place else None for part in written] for place in range(3)]
    return np.column_stack([to_floats(column) for column in columns])


class Line:
    """Times and places that pair: of a line, or of points in one folder.

    Attributes
    ----------
    times, places : Column
        POSIX seconds; longitude, latitude, metres.
    """

    def __init__(self) -> None:
        self.iso = IsoTimes()
        self.times, self.places = Column(self.iso), Column(_triples)
        self.altitude_mode = self.label = ""
        self._last: tuple[str, str, str] = ("", "", "")

    def add(self, when: str, place: str, altitude_mode: str) -> None:
        """Add a point: its time and its coordinates as they are written."""
        self._last = (when, place, altitude_mode)
        self.times.append(when)
        self.places.append([part.strip() for part in place.split(",", 3)[:3]])
        self.altitude_mode = self.altitude_mode or altitude_mode

    def take(self, other: Line) -> None:
        """Add the only point of another line."""
        self.add(*other._last)


class TrackElement(Line):
    """A ``Track``.

    Attributes
    ----------
    angles : Column
        Heading, tilt, roll.
    times_before : Column
        How many times stood before each place.
    arrays : dict of str to Column
        Arrays of extended data.
    """

    def __init__(self) -> None:
        super().__init__()
        self.angles, self.times_before = Column(_triples), Column()
        self.arrays: dict[str, Column] = {}


class _Placemark:
    """What one ``Placemark`` holds beside its tracks; its lines wait for its times, which may follow them."""

    def __init__(self) -> None:
        self.label = self.altitude_mode = ""
        self.whens: list[str] = []
        self.span: dict[str, str] = {}
        self.arrays: dict[str, list[str]] = {}
        self.lines: list[tuple[str, str]] = []
        self.point: str | None = None


class Document:
    """Collects what is met; tracks and lines are handed on as soon as they are whole.

    Parameters
    ----------
    on_track : callable
        Takes each :class:`TrackElement` that has places.
    on_line : callable
        Takes each :class:`Line` whose points have times.
    """

    def __init__(self, on_track: Callable[[TrackElement], None], on_line: Callable[[Line], None]) -> None:
        self._on_track, self._on_line = on_track, on_line
        self.untimed = self.timed_whole = 0
        self._path: list[str] = []
        self._folders: list[Line] = []
        self._open: list[Line] = []
        self._placemark: _Placemark | None = None
        self._track: TrackElement | None = None
        self._array = ""
        self._handed = 0

    def timed_points(self) -> Iterator[Line]:
        """Give the points of each folder that carried times."""
        yield from (line for line in self._folders if len(line.times))

    def start(self, name: str, attributes: dict[str, str]) -> None:
        """Take an element that begins."""
        self._path.append(name)
        if name in _CONTAINERS:
            self._open.append(Line())
        elif name == "placemark":
            self._placemark = _Placemark()
        elif name == "track":
            self._track = TrackElement()
            self._track.label = self._placemark.label if self._placemark is not None else ""
        elif name in ("simplearraydata", "data"):
            self._array = attributes.get("name", "")
        elif name == "linestring" and self._placemark is not None:
            self._placemark.altitude_mode = ""

    def end(self, name: str, text: str) -> None:
        """Take an element that ends."""
        self._path.pop()
        parent = self._path[-1] if self._path else ""
        if self._track is not None:
            self._in_track(self._track, name, text, parent)
        elif self._placemark is not None:
            self._in_placemark(self._placemark, name, text, parent)
        elif name in _CONTAINERS and self._open:
            folder = self._open.pop()
            if len(folder.times) == 1 and self._open:
                # A folder for each point: the points belong together.
                self._open[-1].take(folder)
            elif len(folder.times) and len(self._folders) <= MAX_PIECES:
                self._folders.append(folder)
        elif name == "name" and self._open:
            self._open[-1].label = text

    def _in_track(self, track: TrackElement, name: str, text: str, parent: str) -> None:
        if name == "when":
            track.times.append(text)
        elif name == "coord":
            track.times_before.append(len(track.times))
            track.places.append(_PARTS.split(text.strip(), 3)[:3])
        elif name == "angles":
            track.angles.append(text.split(None, 3)[:3])
        elif name == "altitudemode" and parent == "track":
            track.altitude_mode = text
        elif name == "value" and parent == "simplearraydata":
            if self._array in track.arrays or len(track.arrays) < _MOST_ARRAYS:
                track.arrays.setdefault(self._array, Column()).append(text)
        elif name == "track":
            self._track = None
            if len(track.places) and self._handed <= MAX_PIECES:
                self._handed += 1
                self._on_track(track)

    def _in_placemark(self, placemark: _Placemark, name: str, text: str, parent: str) -> None:
        if name == "name" and parent == "placemark":
            placemark.label = text
        elif name == "when":
            placemark.whens.append(text)
            check_samples(len(placemark.whens))
        elif name in ("begin", "end"):
            placemark.span[name] = text
        elif name == "value" and parent == "data" and _is_time(self._array):
            placemark.whens.append(text)
        elif name == "altitudemode":
            placemark.altitude_mode = text
        elif name == "value" and parent == "simplearraydata":
            if self._array in placemark.arrays or len(placemark.arrays) < _MOST_ARRAYS:
                values = placemark.arrays.setdefault(self._array, [])
                values.append(text)
                check_samples(len(values))
        elif name == "coordinates" and parent == "linestring":
            placemark.lines.append((text, ""))
        elif name == "linestring" and placemark.lines:
            placemark.lines[-1] = (placemark.lines[-1][0], placemark.altitude_mode)
        elif name == "coordinates" and parent == "point":
            placemark.point = text
        elif name == "placemark":
            self._placemark = None
            self._close(placemark)

    def _close(self, placemark: _Placemark) -> None:
        for text, mode in placemark.lines:
            count = sum(1 for _ in _TUPLE.finditer(text))
            times = _line_times(placemark, count)
            if times is None:
                self.untimed += 1
                self.timed_whole += bool(placemark.span)
                continue
            line = Line()
            line.label = placemark.label
            for when, place in zip(times, _TUPLE.finditer(text), strict=True):
                line.add(when, place.group(), mode)
            self._on_line(line)
        began = next(iter(placemark.whens), placemark.span.get("begin") or placemark.span.get("end"))
        if placemark.point is not None and began and self._open:
            self._open[-1].add(began, placemark.point, placemark.altitude_mode)


def _line_times(placemark: _Placemark, count: int) -> Sequence[str] | None:
    """Return a time for every point of a line, from where the Placemark may give them."""
    if count and len(placemark.whens) == count:
        return placemark.whens
    if count == 2 and len(placemark.span) == 2:
        return [placemark.span["begin"], placemark.span["end"]]
    for name, values in islice(placemark.arrays.items(), _MOST_ARRAYS):
        if len(values) == count and _is_time(name):
            return values
    return None


def _is_time(name: str) -> bool:
    meaning = meaning_of(name)
    return meaning is not None and meaning.concept.name == "time"
