"""GPX 1.0 and 1.1, with or without its namespace.

References
----------
GPX 1.1 Schema Documentation, topografix.com/GPX/1/1: ``trkpt`` lat and lon in WGS84 decimal degrees, ``ele`` in
metres, ``time`` in UTC as ISO 8601; ``wpt`` and ``rtept`` are points of the same kind. GPX 1.0 adds ``course``
(degrees true) and ``speed`` (m/s) to each point; 1.1 leaves such things to ``extensions``, whose common elements
``speed`` and ``course`` keep those units; what else stands there is known by what its name means.
"""

from __future__ import annotations

from typing import Any

from analyser.earth.constants import KT_PER_MPS
from analyser.logs.limits import MAX_PIECES
from analyser.logs.raw import Content, RawFlight, cut_off
from analyser.logs.samples import Field, Points, point_flight
from analyser.logs.track import Notice
from analyser.logs.units import FEET_PER_METRE
from analyser.logs.xml_stream import read_xml, root_name

#: What the schema's own elements say wherever they stand: of the receiver, not of the aircraft.
_OF_RECEIVER = frozenset(
    ("sat", "fix", "hdop", "vdop", "pdop", "geoidheight", "magvar", "ageofdgpsdata", "dgpsid")
)
_POINTS = frozenset(("trkpt", "wpt", "rtept"))
_ELEMENTS = frozenset(("ele", "time", "speed", "course"))
_FIELDS = (
    Field("ele", "altitude_ft", "m", FEET_PER_METRE),
    Field("speed", "ground_speed_kt", "m/s", KT_PER_MPS),
    Field("course", "track_true_deg", "deg"),
)
#: Most values that one point is asked for.
_MOST_FIELDS = 60
_DATUM = (
    "GPX altitude is a receiver's height, not an altimeter's: it differs from the indicated altitude by the day's "
    "pressure and temperature error."
)


def looks_like(head: str) -> bool:
    """Tell GPX by its root element."""
    return root_name(head) == "gpx"


class _Document:
    """What is met on the way through the document."""

    def __init__(self) -> None:
        self.tracks: list[Points] = []
        self.waypoints = Points()
        self._point: dict[str, Any] | None = None
        self._depth = self._extensions = 0
        self._named = True

    def start(self, name: str, attributes: dict[str, str]) -> None:
        """Take an element that begins."""
        if self._point is not None:
            self._depth += 1
            # Inside extensions everything counts, however deep it stands.
            if name == "extensions" and not self._extensions:
                self._extensions = self._depth
        elif name in _POINTS:
            self._point = {"lat": attributes.get("lat"), "lon": attributes.get("lon")}
            self._depth = self._extensions = 0
        elif name == "trk" and len(self.tracks) <= MAX_PIECES:
            self.tracks.append(Points())
            self._named = False

    def end(self, name: str, text: str) -> None:
        """Take an element that ends."""
        point = self._point
        if point is None:
            if name == "name" and not self._named:
                self.tracks[-1].label, self._named = text, True
            return
        if self._depth == 0:
            (self.tracks[-1] if name == "trkpt" and self.tracks else self.waypoints).samples.add(point)
            self._point = None
            return
        if self._extensions:
            if name in ("speed", "course"):
                point.setdefault(name, text)
            elif name not in _OF_RECEIVER and len(point) < _MOST_FIELDS and text and not text.isspace():
                point.setdefault(f"+{name}", text)
            if self._depth == self._extensions:
                self._extensions = 0
        elif self._depth == 1 and name in _ELEMENTS:
            point[name] = text
        self._depth -= 1


def read(content: Content) -> list[RawFlight]:
    """Read every track of a GPX file; segments of a track are joined, time tells where they belong.

    Without a track, the waypoints are one where they have times. LogError where nothing has a time.
    """
    document = _Document()
    broken_at = read_xml(content, document.start, document.end)
    flights = [
        point_flight(points, _FIELDS, content, cut_off(broken_at), _DATUM)
        for points in document.tracks
        if len(points.samples)
    ]
    if flights and not any(flight.timed for flight in flights):
        raise content.refusal(
            "no track point has a time, so nothing can be timed",
            "element trkpt 1",
            "export the track again with its times",
        )
    return flights or [_from_waypoints(document.waypoints, content, broken_at)]


def _from_waypoints(points: Points, content: Content, broken_at: str) -> RawFlight:
    """Take points that have times for a track: receivers hand their memory out so."""
    if len(points.samples) > 1:
        notice = Notice(
            "waypoints-as-track",
            "The file holds no track; its waypoints or route points carry times and were read as one.",
        )
        flight = point_flight(points, _FIELDS, content, (*cut_off(broken_at), notice), _DATUM)
        if flight.timed:
            return flight
    raise content.refusal(
        "the GPX file holds no track points",
        "element trk",
        "export the track, not the route or the waypoints",
        broken_at,
    )
