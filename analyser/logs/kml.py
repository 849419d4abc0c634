"""KML, and KMZ once unpacked: tracks with times, timed points, timed lines; folders may nest.

References
----------
OGC 12-007r2, KML 2.3: ``Track`` (``gx:Track`` in the 2.2 extensions) pairs each ``when`` with a ``coord`` of
longitude, latitude and altitude in metres; ``angles`` holds heading, tilt and roll in degrees; a ``LineString``
has no times of its own; ``altitudeMode`` says what the altitude is measured from.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import partial
from itertools import islice

import numpy as np

from analyser.logs.limits import check_samples
from analyser.logs.log_thresholds import LOOK
from analyser.logs.meaning import means
from analyser.logs.raw import Content, FloatArray, Pieces, RawFlight, cut_off
from analyser.logs.samples import EXTENSION, Column, Field, flight_of, height, to_floats
from analyser.logs.text import shown
from analyser.logs.times import IsoTimes
from analyser.logs.track import Notice, Source
from analyser.logs.xml_stream import Scope, read_xml

_CONTAINERS = ("kml", "document", "folder")
#: What stands in these has times of its own: when something is looked at, not when an aircraft was there.
_VIEWS = frozenset(("lookat", "camera", "model", "region"))
#: Elements of which is told when they begin.
_TOLD = frozenset(("placemark", "track", "simplearraydata", "data", *_CONTAINERS, *_VIEWS))
#: Coordinates, and the angles of a track; heights in extended data come before those of the coordinates.
_FIELDS = (
    height("altitude", "KML altitude is a height above a sea-level model", weak=True),
    Field("heading", "heading_true_deg", "deg"),
    Field("tilt", "pitch_deg", "deg"),
    Field("roll", "bank_deg", "deg"),
)
_POINT = (Source("when", "time", "", "recognised"), Source("coord", "position", "deg", "recognised"))
#: Numbers of one place; some writers put blanks beside the commas.
_TUPLE = re.compile(r"[^\s,]+(?:\s*,\s*[^\s,]+)*")
_PARTS = re.compile(r"[\s,]+")


def _triples(written: Sequence[str]) -> FloatArray:
    """Read longitude, latitude and altitude, parted by commas or blanks; NaN for what is missing."""
    parts = [_PARTS.split(text.strip(), 3) for text in written]
    columns = [[part[place] if len(part) > place else None for part in parts] for place in range(3)]
    return np.column_stack([to_floats(column) for column in columns])


class _Document:
    """What the scopes of one document have found."""

    def __init__(self, content: Content) -> None:
        self.content = content
        self.pieces, self.timed_whole = Pieces(), False
        #: Lines of two points each, which make one flight; then the timed points of each folder.
        self.points = [_Line(self)]


class _Line(Scope):
    """Times and places that pair: a track, as a scope; a line; a folder's points."""

    def __init__(self, found: _Document, label: str = "", around: Scope | None = None) -> None:
        self._found, self.label, self._around = found, label, around or Scope()
        self.altitude_mode = self._array = ""
        self._iso = IsoTimes()
        #: POSIX seconds; longitude, latitude and metres; heading, tilt and roll.
        self.times, self.places, self._angles = Column(self._iso), Column(_triples), Column(_triples)
        #: How many times stood before each place.
        self._times_before = Column()
        #: Extended data.
        self._arrays: dict[str, Column] = {}
        self.last = ("", "", "")

    def open(self, name: str, attributes: dict[str, str]) -> Scope | None:
        self._array = attributes.get("name", "") if name == "simplearraydata" else self._array
        return self._around.open(name, attributes)

    def take(self, name: str, text: str, parent: str) -> None:
        if name == "when":
            self.times.append(text)
        elif name == "coord":
            self._place(text)
        elif name == "angles":
            self._angles.append(text)
        elif name == "altitudemode" and parent == "track":
            self.altitude_mode = text
        elif name == "value" and parent == "simplearraydata" and len(self._arrays) < LOOK.kml_arrays:
            self._arrays.setdefault(self._array, Column()).append(text)

    def _place(self, place: str) -> None:
        self._times_before.append(len(self.times))
        self.places.append(place)

    def add(self, when: str, place: str, altitude_mode: str) -> None:
        """Add a point: its time and its coordinates as they are written."""
        self.last = (when, place, altitude_mode)
        self.times.append(when)
        self._place(place)
        self.altitude_mode = self.altitude_mode or altitude_mode

    def close(self, *, cut_off: bool = False) -> None:
        timed, placed = len(self.times) > 0, len(self.places) > 0
        self._found.pieces.untimed += placed and not timed
        if placed and timed:
            self._found.pieces.take(partial(self.flights, cut_off=cut_off))

    def break_off(self, *, whole: bool) -> None:
        if whole:
            self.close(cut_off=True)

    def flights(self, *, cut_off: bool = False) -> list[RawFlight]:
        """Return what is said here; LogError where times and places do not pair. ``cut_off`` where the file is."""
        places = self.places.values()
        columns = {"time": self._paired(cut_off), "lon": places[:, 0], "lat": places[:, 1]}
        notices, point = self._iso.notices(), [*_POINT]
        high = bool(np.isfinite(places[:, 2]).any() and np.nanmax(np.abs(places[:, 2])) > 0.0)
        if high and self.altitude_mode.strip().lower().startswith("relative"):
            message = "The altitude is measured from the ground; it was not used."
            notices = (Notice("altitude-above-ground", message), *notices)
            point.append(Source("altitude", "", "m", "ignored", "measured from the ground"))
        elif high:
            columns["altitude"] = places[:, 2]
        if len(self._angles) == len(places):
            angles = zip(("heading", "tilt", "roll"), self._angles.values().T, strict=True)
            # Writers that know only the track fill the rest with zeros.
            columns |= {name: one for name, one in angles if np.isfinite(one).any() and np.nanstd(one) > 0.0}
        whole = {name: values for name, values in self._arrays.items() if len(values) == len(places)}
        columns |= {EXTENSION + name: values.values() for name, values in whole.items()}
        return [flight_of(columns, _FIELDS, self._found.content, point, notices, label=shown(self.label))]

    def _paired(self, cut_off: bool) -> FloatArray:
        """Return a time for each place, NaN for none.

        Where times and places take turns, neighbours pair, so that one that is missing costs no other its own; two
        lists pair from the beginning on. LogError where nothing tells what is missing.
        """
        time_s, before = self.times.values(), self._times_before.values().astype(int)
        count = before.size
        in_turns = np.unique(before).size > 0.5 * count
        if in_turns and before[0] > 0:
            # A second place after the same time lacks its own.
            own, at = np.diff(before, prepend=0) != 0, before - 1
        elif in_turns and (cut_off or before[-1] < time_s.size):
            own, at = np.diff(before, append=time_s.size) != 0, before
        elif time_s.size == count or (cut_off and not in_turns):
            own, at = np.arange(count) < time_s.size, np.arange(count)
        else:
            raise self._found.content.refusal(
                f"a track has {time_s.size} times for {count} positions, and nothing tells which is missing",
                "element Track",
                "export it again",
            )
        return np.where(own, np.append(time_s, np.nan)[np.minimum(at, time_s.size)], np.nan)


class _Folder(Scope):
    """A folder or a document, or what stands round them all; its points that carry times are one line."""

    def __init__(self, found: _Document, around: _Folder | None = None) -> None:
        self._found, self._around = found, around
        self.points = _Line(found)

    def open(self, name: str, attributes: dict[str, str]) -> Scope | None:
        if name in _CONTAINERS:
            return _Folder(self._found, self)
        if name == "placemark":
            return _Placemark(self._found, self)
        return _Line(self._found, "", self) if name == "track" else Scope() if name in _VIEWS else None

    def take(self, name: str, text: str, parent: str) -> None:
        if name == "name":
            self.points.label = text

    def close(self) -> None:
        if len(self.points.times) == 1 and self._around is not None:
            # A folder for each point: the points belong together.
            self._around.points.add(*self.points.last)
        elif len(self.points.times) > 1:
            self._found.points.append(self.points)

    def break_off(self, *, whole: bool) -> None:
        self.close()


class _Placemark(Scope):
    """What holds tracks, lines and points; its lines wait for its times, which may follow them."""

    def __init__(self, found: _Document, around: _Folder) -> None:
        self._found, self._around = found, around
        self._label = self._array = self._point = self._altitude_mode = ""
        self._span: dict[str, str] = {}
        #: Lists of times: of its own, then those of extended data by their names.
        self._times: dict[str, list[str]] = {"": []}
        #: Coordinates of lines, as they are written.
        self._lines: list[str] = []

    def open(self, name: str, attributes: dict[str, str]) -> Scope | None:
        if name in ("simplearraydata", "data"):
            self._array = attributes.get("name", "")
        return (
            _Line(self._found, self._label, self) if name == "track" else self._around.open(name, attributes)
        )

    def take(self, name: str, text: str, parent: str) -> None:
        if name == "name" and parent == "placemark":
            self._label = text
        elif name == "when" or (name == "value" and means(self._array, "time")):
            values = self._times.setdefault(self._array if parent == "simplearraydata" else "", [])
            values.append(text)
            check_samples(len(values))
        elif name in ("begin", "end"):
            self._span[name] = text
        elif name == "coordinates" and parent == "linestring":
            self._lines.append(text)
        elif name == "coordinates" and parent == "point":
            self._point = text
        elif name == "altitudemode" and parent in ("linestring", "point"):
            self._altitude_mode = text

    def close(self) -> None:
        found = self._found
        counts = [sum(1 for _ in _TUPLE.finditer(line)) for line in self._lines]
        # Several lines may share one list of times.
        shared = iter(self._times_of(sum(counts)) or ())
        for written, count in zip(self._lines, counts, strict=True):
            times = self._times_of(count) or list(islice(shared, count))
            if not times:
                found.pieces.untimed += 1
                found.timed_whole |= bool(self._span)
                continue
            line = found.points[0] if count == 2 else _Line(found)
            line.label = line.label or self._label
            for when, place in zip(times, _TUPLE.finditer(written), strict=True):
                # An end that repeats the next one's beginning is taken once.
                if (point := (when, place.group(), self._altitude_mode)) != line.last or count != 2:
                    line.add(*point)
            if count != 2:
                line.close()
        began = next(iter(self._times[""]), self._span.get("begin") or self._span.get("end"))
        if self._point and began:
            self._around.points.add(began, self._point, self._altitude_mode)

    def _times_of(self, count: int) -> Sequence[str] | None:
        """Return a time for each of so many points, from where the Placemark may give them."""
        span = [self._span["begin"], self._span["end"]] if len(self._span) == 2 else []
        lists = (self._times[""], span, *self._times.values())
        return next((one for one in lists if count and len(one) == count), None)


def read(content: Content) -> list[RawFlight]:
    """Read every track of a KML document; LogError where nothing has times: a plain line cannot be timed."""
    found = _Document(content)
    broken_at = read_xml(content, _Folder(found), _TOLD)
    pieces = found.pieces
    # Lines know the document, which lets them go: in a circle all that was read would stay in memory.
    while found.points:
        if len((points := found.points.pop(0)).times):
            pieces.take(points.flights)
    if flights := pieces.noted(cut_off(broken_at)):
        return flights
    what, place = "the document holds no track", "element Placemark"
    if pieces.untimed:
        what, place = "the line has no times, so nothing can be timed", "element LineString or Track"
    if found.timed_whole:
        what = "a line has one time span for all its points, so its points cannot be timed"
    mend = "export the flight as a track with times (a Track element, GPX or CSV)"
    raise content.refusal(what, place, mend, broken_at)
