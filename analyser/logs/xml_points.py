"""GPX 1.0 and 1.1, and TCX, the training-centre schema: tracks of points, with or without their namespace.

References
----------
GPX 1.1 Schema Documentation, topografix.com/GPX/1/1: ``trkpt`` lat and lon in WGS84 decimal degrees, ``ele`` in
metres, ``time`` in UTC as ISO 8601; ``wpt`` and ``rtept`` are points of the same kind. GPX 1.0 adds ``course``
(degrees true) and ``speed`` (m/s) to each point; 1.1 leaves such things to ``extensions``, whose common elements
``speed`` and ``course`` keep those units; what else stands there is known by what its name means.

TrainingCenterDatabase schema, version 2 (element names and units from memory of it): ``Trackpoint`` holds ``Time``
(UTC, ISO 8601), ``Position`` with ``LatitudeDegrees`` and ``LongitudeDegrees`` (WGS84), ``AltitudeMeters``; the
activity extension, version 2, adds ``Speed`` in m/s.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from analyser.earth.constants import KT_PER_MPS
from analyser.frozen import dataclass
from analyser.logs.limits import MAX_PIECES
from analyser.logs.log_thresholds import LOOK
from analyser.logs.raw import Content, RawFlight, cut_off
from analyser.logs.samples import EXTENSION, Field, Samples, flight_of, height
from analyser.logs.text import shown
from analyser.logs.times import IsoTimes
from analyser.logs.track import Notice
from analyser.logs.xml_stream import Scope, read_xml


@dataclass(frozen=True)
class _Schema:
    """How a format calls what it says of a point."""

    track_point: str
    #: Elements that hold points, to the elements of these.
    lines: Mapping[str, str]
    #: Elements of a point, to the values that they give.
    elements: Mapping[str, str]
    fields: tuple[Field, ...]
    #: What is said, and where, and the mend, where no point is in the file.
    empty: tuple[str, str, str]
    #: Whether its elements count however deep they stand in a point; else those that stand right in it, and what is in
    #: its extensions; and whether its places are elements too.
    loose: bool = False


_GPX = _Schema(
    track_point="trkpt",
    lines={"trk": "trkpt", "rte": "rtept", "gpx": "wpt"},
    elements={name: name for name in ("ele", "time", "speed", "course")},
    fields=(
        height("ele", "GPX altitude is a receiver's height"),
        Field("speed", "ground_speed_kt", "m/s", KT_PER_MPS),
        Field("course", "track_true_deg", "deg"),
    ),
    empty=(
        "the GPX file holds no track points",
        "element trk",
        "export the track, not the route or the waypoints",
    ),
)
_TCX = _Schema(
    track_point="trackpoint",
    lines={"activity": "trackpoint", "course": "trackpoint"},
    elements={
        "time": "time",
        "latitudedegrees": "lat",
        "longitudedegrees": "lon",
        "altitudemeters": "AltitudeMeters",
        "speed": "Speed",
    },
    fields=(
        height("AltitudeMeters", "TCX altitude is a receiver's or a sensor's height"),
        Field("Speed", "ground_speed_kt", "m/s", KT_PER_MPS),
    ),
    empty=(
        "no track point has a position",
        "element Trackpoint",
        "was a position recorded? export the activity again",
    ),
    loose=True,
)
_TCX_ROOT = "trainingcenterdatabase"
#: Elements of which is told when they begin.
_TOLD = frozenset(
    (
        "extensions",
        _TCX_ROOT,
        *(name for form in (_GPX, _TCX) for item in form.lines.items() for name in item),
    )
)
#: What GPX says wherever it stands: of the receiver, not of the aircraft.
_OF_RECEIVER = frozenset(
    ("sat", "fix", "hdop", "vdop", "pdop", "geoidheight", "magvar", "ageofdgpsdata", "dgpsid")
)


class _Line:
    """The points of one track or route."""

    def __init__(self) -> None:
        self.label, self._times = "", IsoTimes()
        self.samples = Samples({"time": self._times})

    def flight(self, schema: _Schema, content: Content, notices: tuple[Notice, ...]) -> RawFlight:
        columns, notices = self.samples.columns(), (*notices, *self._times.notices())
        return flight_of(columns, schema.fields, content, notices=notices, label=shown(self.label))


class _Document(Scope):
    """What is met on the way through the document."""

    def __init__(self) -> None:
        self.schema = _GPX
        #: Lines by the elements of their points.
        self.lines: dict[str, list[_Line]] = {}
        #: The line whose name is still to come.
        self._unnamed: _Line | None = None

    def open(self, name: str, attributes: dict[str, str]) -> Scope | None:
        schema = self.schema
        if name in schema.lines.values():
            if name not in self.lines:
                self.lines[name] = [_Line()]
            return _Point(name, self.lines[name][-1], schema, attributes)
        if name in schema.lines:
            lines = self.lines.setdefault(schema.lines[name], [])
            if len(lines) <= MAX_PIECES:
                lines.append(_Line())
            self._unnamed = None if schema.loose or name == "gpx" else lines[-1]
        elif name == _TCX_ROOT:
            self.schema = _TCX
        return None

    def take(self, name: str, text: str, parent: str) -> None:
        if name == "name" and self._unnamed is not None:
            self._unnamed.label, self._unnamed = text, None


class _Point(Scope):
    """A point; inside its extensions everything counts, however deep it stands."""

    def __init__(self, name: str, line: _Line, schema: _Schema, attributes: dict[str, str]) -> None:
        self._name, self._line, self._schema, self._extended = name, line, schema, False
        self._said: dict[str, Any] = {}
        if not schema.loose:
            self._said = {"lat": attributes.get("lat"), "lon": attributes.get("lon")}

    def open(self, name: str, attributes: dict[str, str]) -> Scope | None:
        if name == self._name:
            # The one round it was never closed.
            return _Point(name, self._line, self._schema, attributes)
        if name != "extensions" or self._schema.loose or self._extended:
            return None
        self._extended = True
        return self

    def take(self, name: str, text: str, parent: str) -> None:
        said, schema = self._said, self._schema
        if not self._extended:
            if name in schema.elements and (schema.loose or parent == self._name):
                said.setdefault(schema.elements[name], text)
        elif name in ("speed", "course"):
            said.setdefault(name, text)
        elif name not in _OF_RECEIVER and len(said) < LOOK.point_fields and text and not text.isspace():
            said.setdefault(EXTENSION + name, text)

    def close(self) -> None:
        if not self._extended:
            self._line.samples.add(self._said)
        self._extended = False


def read(content: Content) -> list[RawFlight]:
    """Read every track; its segments or laps are joined, time tells where they belong.

    Without a track that has times, routes and waypoints are flights where they have them. LogError where nothing has a
    time or a position.
    """
    document = _Document()
    broken_at = read_xml(content, document, _TOLD)
    schema, notices = document.schema, cut_off(broken_at)

    def flights_of(name: str, enough: int) -> list[RawFlight]:
        there = [one for one in document.lines.get(name, []) if len(one.samples) >= enough]
        there = [one for one in there if {"lat", "lon"} <= one.samples.columns().keys()]
        return [one.flight(schema, content, notices) for one in there]

    tracks = flights_of(schema.track_point, 1)
    if any(flight.timed for flight in tracks):
        return tracks
    others = [flight for name in document.lines for flight in flights_of(name, 2) if flight.timed]
    if others:
        which = "No track of the file has times" if tracks else "The file holds no track"
        message = f"{which}; its waypoints or route points carry times and were read as one."
        return [flight.with_notices((Notice("waypoints-as-track", message),)) for flight in others]
    if tracks:
        what, mend = (
            "no track point has a time that can be read, so nothing can be timed",
            "export the track again with its times, as ISO 8601 (2026-03-14T12:00:00Z)",
        )
        raise content.refusal(what, f"element {schema.track_point} 1", mend)
    raise content.refusal(*schema.empty, broken_at)
