"""The way out: a cleaned track, cut into phases, in an open format that reads back equal.

Phases become segments (GPX), styled folders (KML), features (GeoJSON) or a column (CSV); places become waypoints,
placemarks or features, and a table has no room for them. The altitude is what the log called altitude.

References
----------
GPX 1.1 Schema Documentation, topografix.com/GPX/1/1: a segment has no name, so the phases' names stand in the track's
description, in the order of the segments. OGC 12-007r2, KML 2.3, and the ``gx`` extensions of 2.2, which more viewers
read: ``gx:Track`` with ``when`` and ``gx:coord`` (longitude, latitude, metres); colours are aabbggrr. RFC 7946
(GeoJSON): longitude, latitude, height in metres; a line across the 180th meridian is cut in two (section 3.1.9);
``coordTimes`` holds a time for each position by common practice.
"""

from __future__ import annotations

import csv
import io
import itertools
import json
import math
import re
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any
from xml.sax.saxutils import escape

import numpy as np
from numpy.typing import NDArray

from analyser import __version__
from analyser.earth.constants import METRES_PER_FOOT
from analyser.errors import UsageError
from analyser.frozen import dataclass
from analyser.logs.track import CHANNELS, Track

FloatArray = NDArray[np.float64]

#: Decimals of a degree (about a centimetre), of a metre, and of channels: finer than any instrument.
_DEGREE_DECIMALS, _METRE_DECIMALS, _CHANNEL_DECIMALS = 7, 2, 3
#: Characters that XML 1.0 cannot carry at all, escaped or not.
_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
#: KML line colour by the first word that occurs in a phase's name, aabbggrr; they differ for colour-blind eyes too.
_COLOURS = {
    "entry": "ff7a4f9e",
    "outbound turn": "ff0072d5",
    "inbound turn": "ff009e73",
    "outbound leg": "ffb27200",
    "inbound leg": "ff00459e",
}
_PLAIN = "ff808080"
_XML = '<?xml version="1.0" encoding="UTF-8"?>\n'


@dataclass(frozen=True)
class Phase:
    """A stretch of flight with a name, such as ``"circuit 1, outbound turn"``."""

    #: Seconds from the log's first sample.
    start_s: float
    end_s: float
    name: str


@dataclass(frozen=True)
class Waypoint:
    """A point that is named in an export; its texts are untrusted."""

    lat_deg: float
    lon_deg: float
    name: str
    told: str = ""


@dataclass(frozen=True)
class Segment:
    """Samples of one phase, or between phases; neighbouring segments share no sample."""

    #: First sample, and one past the last.
    first: int
    last: int
    #: Empty between phases.
    name: str


def segments(track: Track, phases: Sequence[Phase]) -> list[Segment]:
    """Cut a track at its phases, in any order: every sample is in exactly one segment.

    Where two phases overlap the later one begins where the earlier one ends.
    """
    owner = np.full(track.samples, -1)
    ordered = sorted(phases, key=lambda phase: (phase.start_s, phase.end_s))
    for place, phase in enumerate(ordered):
        inside = (track.time_s >= phase.start_s - 1e-6) & (track.time_s < phase.end_s - 1e-6) & (owner < 0)
        owner[inside] = place
    edges = [0, *(np.flatnonzero(np.diff(owner)) + 1).tolist(), track.samples]
    return [
        Segment(first, last, ordered[owner[first]].name if owner[first] >= 0 else "")
        for first, last in itertools.pairwise(edges)
    ]


def export_track(track: Track, to: str, phases: Sequence[Phase] = (), places: Sequence[Waypoint] = ()) -> str:
    """Write a track as ``"gpx"``, ``"kml"``, ``"geojson"`` or ``"csv"``: the whole file.

    UsageError for another format, and where the format needs a date that the log does not have.
    """
    if to not in ("csv", "geojson", "gpx", "kml"):
        raise UsageError(
            f"'{to}' is no format to export to", place="--to", mend="choose gpx, kml, geojson or csv"
        )
    cut = segments(track, phases)
    if to == "csv":
        return write_csv(track, cut)
    if track.start_utc is None:
        raise UsageError(
            f"the log has no date, and {to.upper()} times need one",
            file=track.name,
            place="--to",
            mend="export it to csv, which can carry seconds alone",
        )
    metres = _written(track.channel("altitude_ft") * METRES_PER_FOOT, _METRE_DECIMALS)
    points = list(zip(*_degrees_of(track), metres, _times(track, track.start_utc), strict=True))
    return {"geojson": _geojson, "gpx": _gpx, "kml": _kml}[to](track.name, points, cut, places)


def write_csv(track: Track, cut: Sequence[Segment]) -> str:
    """Write a table with units in its header: times in UTC where the log has a date, else seconds from its first."""
    names = [name for name in CHANNELS if name in track.channels]
    start = track.start_utc
    header, clock = (
        ("elapsed_s", _written(track.time_s, 3)) if start is None else ("time_utc", _times(track, start))
    )
    columns = [_written(track.channels[name], _CHANNEL_DECIMALS) for name in names]
    phases = [segment.name for segment in cut for _ in range(segment.first, segment.last)]
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([header, "latitude_deg", "longitude_deg", *names, "phase"])
    writer.writerows(zip(clock, *_degrees_of(track), *columns, phases, strict=True))
    return out.getvalue()


def _written(values: FloatArray, decimals: int) -> list[str]:
    """Write numbers; empty for none."""
    return ["" if math.isnan(value) else f"{value:.{decimals}f}" for value in values.tolist()]


def _degrees_of(what: Track | Sequence[Waypoint]) -> tuple[list[str], list[str]]:
    """Write latitudes and longitudes."""
    lat, lon = (
        (what.lat_deg, what.lon_deg)
        if isinstance(what, Track)
        else (np.array([place.lat_deg for place in what]), np.array([place.lon_deg for place in what]))
    )
    return _written(lat, _DEGREE_DECIMALS), _written(lon, _DEGREE_DECIMALS)


def _times(track: Track, start_utc: datetime) -> list[str]:
    """Write the times in UTC, to the millisecond."""
    moments = [start_utc + timedelta(milliseconds=round(s * 1000.0)) for s in track.time_s.tolist()]
    return [moment.isoformat(timespec="milliseconds").replace("+00:00", "Z") for moment in moments]


#: Latitude, longitude, metres (empty for none) and time, as they are written.
_Point = tuple[str, str, str, str]


def _geojson(flight: str, points: list[_Point], cut: list[Segment], places: Sequence[Waypoint]) -> str:
    features = []
    for segment in cut:
        properties = {"name": segment.name or flight, "flight": flight, "phase": segment.name or None}
        for run in _runs(points[segment.first : segment.last]):
            positions = [[float(part) for part in (lon, lat, height) if part] for lat, lon, height, _ in run]
            # One position is no line (RFC 7946, 3.1.4), and a lone point is no part of a flight.
            kind = "LineString" if len(run) > 1 else "MultiPoint"
            times = {"coordTimes": [when for _, _, _, when in run]}
            features.append(_feature(properties | times, kind, positions))
    for place in places:
        position = [round(degrees, _DEGREE_DECIMALS) for degrees in (place.lon_deg, place.lat_deg)]
        features.append(_feature({"name": place.name, "description": place.told}, "Point", position))
    return json.dumps({"type": "FeatureCollection", "features": features}, ensure_ascii=False) + "\n"


def _runs(points: list[_Point]) -> list[list[_Point]]:
    """Cut points where their line would run the long way round the globe."""
    cuts = [i for i in range(1, len(points)) if abs(float(points[i][1]) - float(points[i - 1][1])) > 180.0]
    return [points[first:last] for first, last in itertools.pairwise([0, *cuts, len(points)])]


def _feature(properties: dict[str, Any], kind: str, coordinates: list[Any]) -> dict[str, Any]:
    geometry = {"type": kind, "coordinates": coordinates}
    return {"type": "Feature", "properties": properties, "geometry": geometry}


def _gpx(flight: str, points: list[_Point], cut: list[Segment], places: Sequence[Waypoint]) -> str:
    # Only who exports to GPX waits for the library.
    from gpxpy import gpx

    document = gpx.GPX()
    document.creator = f"analyser {__version__}"
    for place, lat, lon in zip(places, *_degrees_of(places), strict=True):
        name, told = _plain(place.name), _plain(place.told)
        document.waypoints.append(gpx.GPXWaypoint(float(lat), float(lon), name=name, description=told))
    named = "; ".join(f"{place}: {segment.name}" for place, segment in enumerate(cut, 1) if segment.name)
    phases = _plain(f"Segments: {named}") if named else None
    track = gpx.GPXTrack(name=_plain(flight), description=phases)
    document.tracks.append(track)
    for segment in cut:
        track.segments.append(
            gpx.GPXTrackSegment(
                [
                    gpx.GPXTrackPoint(
                        float(lat),
                        float(lon),
                        elevation=float(height) if height else None,
                        time=datetime.fromisoformat(when),
                    )
                    for lat, lon, height, when in points[segment.first : segment.last]
                ]
            )
        )
    return document.to_xml(version="1.1") + "\n"


def _kml(flight: str, points: list[_Point], cut: list[Segment], places: Sequence[Waypoint]) -> str:
    mode = "absolute" if any(height for _, _, height, _ in points) else "clampToGround"
    lines = [
        f'{_XML}<kml xmlns="http://www.opengis.net/kml/2.2" xmlns:gx="http://www.google.com/kml/ext/2.2">',
        "<Document>",
        f"<name>{_xml(flight)}</name>",
    ]
    for name, colour in (*_COLOURS.items(), ("plain", _PLAIN)):
        line = f"<LineStyle><color>{colour}</color><width>3</width></LineStyle>"
        lines.append(f'<Style id="{name.replace(" ", "-")}">{line}</Style>')
    for place, lat, lon in zip(places, *_degrees_of(places), strict=True):
        told = f"<name>{_xml(place.name)}</name><description>{_xml(place.told)}</description>"
        lines.append(f"<Placemark>{told}<Point><coordinates>{lon},{lat}</coordinates></Point></Placemark>")
    for segment in cut:
        name, inside = _xml(segment.name or "between"), points[segment.first : segment.last]
        style = next((key for key in _COLOURS if key in segment.name), "plain").replace(" ", "-")
        lines.append(f"<Folder><name>{name}</name><Placemark><name>{name}</name>")
        lines.append(f"<styleUrl>#{style}</styleUrl><gx:Track>")
        lines.append(f"<altitudeMode>{mode}</altitudeMode>")
        lines += [f"<when>{when}</when>" for _, _, _, when in inside]
        lines += [
            f"<gx:coord>{f'{lon} {lat} {height}'.rstrip()}</gx:coord>" for lat, lon, height, _ in inside
        ]
        lines.append("</gx:Track></Placemark></Folder>")
    return "\n".join([*lines, "</Document>", "</kml>", ""])


def _plain(text: str) -> str:
    """Leave out what XML cannot carry."""
    return _NOT_XML.sub("\ufffd", text)


def _xml(text: str) -> str:
    """Escape untrusted text, without what XML cannot carry."""
    return escape(_plain(text), {'"': "&quot;"})
