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
from analyser.logs.raw import Content, RawFlight, cut_off
from analyser.logs.samples import EXTENSION, Field, Points
from analyser.logs.track import Notice
from analyser.logs.units import FEET_PER_METRE
from analyser.logs.xml_stream import read_xml


@dataclass(frozen=True)
class _Schema:
    """How a format calls what it says of a point."""

    track_point: str
    tracks: tuple[str, ...]
    #: Points beside the tracks.
    waypoints: tuple[str, ...]
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
    tracks=("trk",),
    waypoints=("wpt", "rtept"),
    elements={name: name for name in ("ele", "time", "speed", "course")},
    fields=(
        Field(
            "ele",
            "altitude_ft",
            "m",
            FEET_PER_METRE,
            "GPX altitude is a receiver's height, not an altimeter's: it differs from the indicated altitude by the "
            "day's pressure and temperature error.",
        ),
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
    tracks=("activity", "course"),
    waypoints=(),
    elements={
        "time": "time",
        "latitudedegrees": "lat",
        "longitudedegrees": "lon",
        "altitudemeters": "AltitudeMeters",
        "speed": "Speed",
    },
    fields=(
        Field(
            "AltitudeMeters",
            "altitude_ft",
            "m",
            FEET_PER_METRE,
            "TCX altitude is a receiver's or a sensor's height, not an altimeter's: it differs from the indicated.",
        ),
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
#: What GPX says wherever it stands: of the receiver, not of the aircraft.
_OF_RECEIVER = frozenset(
    ("sat", "fix", "hdop", "vdop", "pdop", "geoidheight", "magvar", "ageofdgpsdata", "dgpsid")
)
#: Most values that one point is asked for.
_MOST_FIELDS = 60


class _Document:
    """What is met on the way through the document."""

    def __init__(self) -> None:
        self.schema, self._track_point = _GPX, _GPX.track_point
        self.tracks: list[Points] = []
        self.waypoints = Points()
        self._point: dict[str, Any] | None = None
        #: How deep the point stands, and the extensions inside it.
        self._depth = self._extensions = 0
        self._named = True

    def start(self, name: str, attributes: dict[str, str], path: list[str]) -> None:
        """Take an element that begins."""
        if self._point is not None and name != self._track_point:
            # Inside extensions everything counts, however deep it stands.
            if name == "extensions" and not self._extensions and not self.schema.loose:
                self._extensions = len(path)
        elif name == self._track_point or name in self.schema.waypoints:
            self._point = {}
            if not self.schema.loose:
                self._point = {"lat": attributes.get("lat"), "lon": attributes.get("lon")}
            self._depth, self._extensions = len(path), 0
            if name == self._track_point and not self.tracks:
                self.tracks.append(Points())
        elif name in self.schema.tracks and len(self.tracks) <= MAX_PIECES:
            self.tracks.append(Points())
            self._named = self.schema.loose
        elif name == _TCX_ROOT:
            self.schema, self._track_point = _TCX, _TCX.track_point

    def end(self, name: str, text: str, path: list[str]) -> None:
        """Take an element that ends."""
        point, depth = self._point, len(path)
        if point is None:
            if name == "name" and not self._named:
                self.tracks[-1].label, self._named = text, True
        elif depth == self._depth:
            (self.tracks[-1] if name == self._track_point else self.waypoints).samples.add(point)
            self._point = None
        elif depth == self._extensions:
            self._extensions = 0
        elif self._extensions:
            if name in ("speed", "course"):
                point.setdefault(name, text)
            elif name not in _OF_RECEIVER and len(point) < _MOST_FIELDS and text and not text.isspace():
                point.setdefault(EXTENSION + name, text)
        elif (depth == self._depth + 1 or self.schema.loose) and name in self.schema.elements:
            point.setdefault(self.schema.elements[name], text)


def read(content: Content) -> list[RawFlight]:
    """Read every track; its segments or laps are joined, time tells where they belong.

    Without a track, the waypoints are one where they have times. LogError where nothing has a time or a position.
    """
    document = _Document()
    broken_at = read_xml(content, document.start, document.end)
    schema, notices = document.schema, cut_off(broken_at)
    tracks = [points for points in document.tracks if "lat" in points.samples.columns()]
    if not tracks and len(document.waypoints.samples) > 1:
        tracks = [document.waypoints]
        message = "The file holds no track; its waypoints or route points carry times and were read as one."
        notices += (Notice("waypoints-as-track", message),)
    flights = [points.flight(schema.fields, content, notices) for points in tracks]
    if any(flight.timed for flight in flights):
        return flights
    if flights and tracks[0] is not document.waypoints:
        what, mend = (
            "no track point has a time that can be read, so nothing can be timed",
            "export the track again with its times, as ISO 8601 (2026-03-14T12:00:00Z)",
        )
        raise content.refusal(what, f"element {schema.track_point} 1", mend)
    raise content.refusal(*schema.empty, broken_at)
