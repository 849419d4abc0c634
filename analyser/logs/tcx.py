"""TCX, the training-centre schema: activities of laps and tracks, whose track points carry time and position.

References
----------
TrainingCenterDatabase schema, version 2 (element names and units from memory of it): ``Trackpoint`` holds ``Time``
(UTC, ISO 8601), ``Position`` with ``LatitudeDegrees`` and ``LongitudeDegrees`` (WGS84), ``AltitudeMeters``; the
activity extension, version 2, adds ``Speed`` in m/s.
"""

from __future__ import annotations

from typing import Any

from analyser.earth.constants import KT_PER_MPS
from analyser.logs.limits import MAX_PIECES
from analyser.logs.raw import Content, RawFlight, cut_off
from analyser.logs.samples import Field, Points, point_flight
from analyser.logs.units import FEET_PER_METRE
from analyser.logs.xml_stream import read_xml, root_name

_NAMES = {
    "time": "time",
    "latitudedegrees": "lat",
    "longitudedegrees": "lon",
    "altitudemeters": "AltitudeMeters",
    "speed": "Speed",
}
_FIELDS = (
    Field("AltitudeMeters", "altitude_ft", "m", FEET_PER_METRE),
    Field("Speed", "ground_speed_kt", "m/s", KT_PER_MPS),
)
_DATUM = (
    "TCX altitude is a receiver's or a sensor's height, not an altimeter's: it differs from the indicated."
)


def looks_like(head: str) -> bool:
    """Tell TCX by its root element."""
    return root_name(head) == "trainingcenterdatabase"


class _Document:
    """The activities met so far."""

    def __init__(self) -> None:
        self.flights: list[Points] = []
        self._point: dict[str, Any] | None = None

    def start(self, name: str, _attributes: dict[str, str]) -> None:
        """Take an element that begins."""
        if name == "trackpoint":
            self._point = {}
        elif name in ("activity", "course") and len(self.flights) <= MAX_PIECES:
            self.flights.append(Points())

    def end(self, name: str, text: str) -> None:
        """Take an element that ends."""
        if self._point is None:
            return
        if name == "trackpoint":
            if not self.flights:
                self.flights.append(Points())
            self.flights[-1].samples.add(self._point)
            self._point = None
        elif name in _NAMES:
            self._point.setdefault(_NAMES[name], text)


def read(content: Content) -> list[RawFlight]:
    """Read every activity or course of a TCX file; LogError where no track point has a position."""
    document = _Document()
    broken_at = read_xml(content, document.start, document.end)
    flights = [
        point_flight(points, _FIELDS, content, cut_off(broken_at), _DATUM)
        for points in document.flights
        if "lat" in points.samples.columns()
    ]
    if not flights:
        raise content.refusal(
            "no track point has a position",
            "element Trackpoint",
            "was a position recorded? export the activity again",
            broken_at,
        )
    return flights
