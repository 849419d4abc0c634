"""KML, and KMZ once unpacked: tracks with times, timed points, timed lines; folders may nest.

References
----------
OGC 12-007r2, KML 2.3: ``Track`` (``gx:Track`` in the 2.2 extensions) pairs each ``when`` with a ``coord`` of
longitude, latitude and altitude in metres; ``angles`` holds heading, tilt and roll in degrees; a ``LineString``
has no times of its own; ``altitudeMode`` says what the altitude is measured from.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from functools import partial
from itertools import islice

import numpy as np

from analyser.logs.flights import concatenated
from analyser.logs.limits import check_samples
from analyser.logs.meaning import means
from analyser.logs.raw import Content, FloatArray, Pieces, RawFlight, cut_off
from analyser.logs.samples import EXTENSION, Column, Field, flight_of, height, to_floats
from analyser.logs.text import shown
from analyser.logs.times import IsoTimes, untimed_notice
from analyser.logs.track import Notice, Source
from analyser.logs.xml_stream import only_cut_off, read_xml

#: So many arrays of extended data are looked at.
_MOST_ARRAYS = 40
_CONTAINERS = ("kml", "document", "folder")
#: What stands in these has times of its own: when something is looked at, not when an aircraft was there.
_VIEWS = frozenset(("lookat", "camera", "model", "region"))
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


class _Line:
    """Times and places that pair: a track, a line, a folder's points."""

    def __init__(self, label: str = "") -> None:
        self.label, self.altitude_mode = label, ""
        self.iso = IsoTimes()
        #: POSIX seconds; longitude, latitude and metres; heading, tilt and roll.
        self.times, self.places, self.angles = Column(self.iso), Column(_triples), Column(_triples)
        #: How many times stood before each place.
        self.times_before = Column()
        #: Extended data.
        self.arrays: dict[str, Column] = {}
        self.last = ("", "", "")

    def place(self, place: str) -> None:
        """Add coordinates as they are written."""
        self.times_before.append(len(self.times))
        self.places.append(place)

    def add(self, when: str, place: str, altitude_mode: str) -> None:
        """Add a point: its time and its coordinates as they are written."""
        self.last = (when, place, altitude_mode)
        self.times.append(when)
        self.place(place)
        self.altitude_mode = self.altitude_mode or altitude_mode

    def flight(self, content: Content, *, cut_off: bool = False) -> Iterator[RawFlight]:
        """Give what is said here; LogError where times and places do not pair. ``cut_off`` where the file is."""
        places = self.places.values()
        columns = {"time": self._paired(content, cut_off), "lon": places[:, 0], "lat": places[:, 1]}
        notices, point = self.iso.notices(), [*_POINT]
        high = bool(np.isfinite(places[:, 2]).any() and np.nanmax(np.abs(places[:, 2])) > 0.0)
        if high and self.altitude_mode.strip().lower().startswith("relative"):
            message = "The altitude is measured from the ground; it was not used."
            notices = (Notice("altitude-above-ground", message), *notices)
            point.append(Source("altitude", "", "m", "ignored", "measured from the ground"))
        elif high:
            columns["altitude"] = places[:, 2]
        if len(self.angles) == len(places):
            angles = zip(("heading", "tilt", "roll"), self.angles.values().T, strict=True)
            # Writers that know only the track fill the rest with zeros.
            columns |= {name: one for name, one in angles if np.isfinite(one).any() and np.nanstd(one) > 0.0}
        for name, values in self.arrays.items():
            if len(values) == len(places):
                columns[EXTENSION + name] = values.values()
        yield flight_of(columns, _FIELDS, content, point, notices, label=shown(self.label))

    def _paired(self, content: Content, cut_off: bool) -> FloatArray:
        """Return a time for each place, NaN for none.

        Where times and places take turns, neighbours pair, so that one that is missing costs no other its own; two
        lists pair from the beginning on. LogError where nothing tells what is missing.
        """
        time_s, before = self.times.values(), self.times_before.values().astype(int)
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
            raise content.refusal(
                f"a track has {time_s.size} times for {count} positions, and nothing tells which is missing",
                "element Track",
                "export it again",
            )
        return np.where(own, np.append(time_s, np.nan)[np.minimum(at, time_s.size)], np.nan)


class _Placemark:
    """What one ``Placemark`` holds beside its tracks; its lines wait for its times, which may follow them."""

    def __init__(self) -> None:
        self.label = self.altitude_mode = ""
        self.span: dict[str, str] = {}
        #: Lists of times: of its own, then those of extended data by their names.
        self.times: dict[str, list[str]] = {"": []}
        self.lines: list[tuple[str, str]] = []
        self.point: str | None = None

    def times_of(self, count: int) -> Sequence[str] | None:
        """Return a time for each of so many points, from where the Placemark may give them."""
        span = [self.span["begin"], self.span["end"]] if len(self.span) == 2 else []
        lists = (self.times[""], span, *self.times.values())
        return next((one for one in lists if count and len(one) == count), None)


class _Document:
    """Makes flights of what is met, each once it is whole."""

    def __init__(self, content: Content) -> None:
        self._content = content
        self.tracks = Pieces()
        #: Lines of two points each, which make one flight, and the points of each folder that carried times.
        self.segments, self.points = Pieces(), Pieces()
        self.untimed = self.timed_whole = 0
        self._open: list[_Line] = []
        self._placemark: _Placemark | None = None
        self._track: _Line | None = None
        self._array = ""

    def break_off(self, *, whole: bool) -> None:
        """Close the folders of a broken document, and its open track where that is whole as far as it goes."""
        if whole and self._track is not None and len(self._track.places) and len(self._track.times):
            self.tracks.take(partial(self._track.flight, self._content, cut_off=True))
        while self._open:
            self._close_folder()

    def start(self, name: str, attributes: dict[str, str], _path: list[str]) -> None:
        """Take an element that begins."""
        if name in _CONTAINERS:
            self._open.append(_Line())
        elif name == "placemark":
            self._placemark = _Placemark()
        elif name == "track":
            self._track = _Line(self._placemark.label if self._placemark is not None else "")
        elif name in ("simplearraydata", "data"):
            self._array = attributes.get("name", "")
        elif name == "linestring" and self._placemark is not None:
            self._placemark.altitude_mode = ""

    def end(self, name: str, text: str, path: list[str]) -> None:
        """Take an element that ends."""
        parent = path[-1] if path else ""
        if not _VIEWS.isdisjoint(path):
            return
        if self._track is not None:
            self._in_track(self._track, name, text, parent)
        elif self._placemark is not None:
            self._in_placemark(self._placemark, name, text, parent)
        elif name in _CONTAINERS and self._open:
            self._close_folder()
        elif name == "name" and self._open:
            self._open[-1].label = text

    def _close_folder(self) -> None:
        folder = self._open.pop()
        if len(folder.times) == 1 and self._open:
            # A folder for each point: the points belong together.
            self._open[-1].add(*folder.last)
        elif len(folder.times) > 1:
            self.points.take(partial(folder.flight, self._content))

    def _in_track(self, track: _Line, name: str, text: str, parent: str) -> None:
        if name == "when":
            track.times.append(text)
        elif name == "coord":
            track.place(text)
        elif name == "angles":
            track.angles.append(text)
        elif name == "altitudemode" and parent == "track":
            track.altitude_mode = text
        elif name == "value" and parent == "simplearraydata":
            if self._array in track.arrays or len(track.arrays) < _MOST_ARRAYS:
                track.arrays.setdefault(self._array, Column()).append(text)
        elif name == "track":
            self._track = None
            if not len(track.times):
                self.untimed += bool(len(track.places))
            elif len(track.places):
                self.tracks.take(partial(track.flight, self._content))

    def _in_placemark(self, placemark: _Placemark, name: str, text: str, parent: str) -> None:
        if name == "name" and parent == "placemark":
            placemark.label = text
        elif name == "when" or (name == "value" and means(self._array, "time")):
            values = placemark.times.setdefault(self._array if parent == "simplearraydata" else "", [])
            values.append(text)
            check_samples(len(values))
        elif name in ("begin", "end"):
            placemark.span[name] = text
        elif name == "altitudemode":
            placemark.altitude_mode = text
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
        counts = [sum(1 for _ in _TUPLE.finditer(text)) for text, _ in placemark.lines]
        # Several lines may share one list of times.
        shared = iter(placemark.times_of(sum(counts)) or ())
        for (text, mode), count in zip(placemark.lines, counts, strict=True):
            times = placemark.times_of(count) or list(islice(shared, count))
            if not times:
                self.untimed += 1
                self.timed_whole += bool(placemark.span)
                continue
            line = _Line(placemark.label)
            for when, place in zip(times, _TUPLE.finditer(text), strict=True):
                line.add(when, place.group(), mode)
            (self.segments if count == 2 else self.tracks).take(partial(line.flight, self._content))
        began = next(iter(placemark.times[""]), placemark.span.get("begin") or placemark.span.get("end"))
        if placemark.point is not None and began and self._open:
            self._open[-1].add(began, placemark.point, placemark.altitude_mode)


def read(content: Content) -> list[RawFlight]:
    """Read every track of a KML document; LogError where nothing has times: a plain line cannot be timed."""
    document = _Document(content)
    broken_at = read_xml(content, document.start, document.end)
    if broken_at:
        document.break_off(whole=only_cut_off(broken_at))
    found = document.tracks
    found.take(lambda: [*_chained(document.segments.flights), *document.points.flights])
    notices = (*cut_off(broken_at), *untimed_notice(document.untimed))
    if flights := found.noted(notices):
        return flights
    what, place = "the document holds no track", "element Placemark"
    if document.untimed:
        what, place = "the line has no times, so nothing can be timed", "element LineString or Track"
    if document.timed_whole:
        what = "a line has one time span for all its points, so its points cannot be timed"
    mend = "export the flight as a track with times (a Track element, GPX or CSV)"
    raise content.refusal(what, place, mend, broken_at)


def _chained(segments: list[RawFlight]) -> list[RawFlight]:
    """Join segments of two points each; an end that repeats the next one's beginning is taken once."""
    if not segments:
        return []
    chain = concatenated(segments)
    same = (chain.steps_s == 0.0) & chain.repeats
    return [chain.take(np.concatenate([[True], ~same]))]
