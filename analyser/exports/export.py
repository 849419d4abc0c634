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

from analyser import __version__
from analyser.earth.constants import METRES_PER_FOOT
from analyser.errors import UsageError
from analyser.frozen import dataclass
from analyser.logs.track import CHANNELS, Track

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
    when = _times(track, track.start_utc)
    return {"geojson": _geojson, "gpx": _gpx, "kml": _kml}[to](track, when, cut, places)


def write_csv(track: Track, cut: Sequence[Segment]) -> str:
    """Write a table with units in its header: times in UTC where the log has a date, else seconds from its first."""
    names = [name for name in CHANNELS if name in track.channels]
    dated = track.start_utc is not None
    clock = (
        [f"{seconds:.3f}" for seconds in track.time_s.tolist()]
        if track.start_utc is None
        else _times(track, track.start_utc)
    )
    columns = [_written(track.channels[name].tolist(), _CHANNEL_DECIMALS) for name in names]
    phases = [segment.name for segment in cut for _ in range(segment.first, segment.last)]
    places = (_written(values.tolist(), _DEGREE_DECIMALS) for values in (track.lat_deg, track.lon_deg))
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["time_utc" if dated else "elapsed_s", "latitude_deg", "longitude_deg", *names, "phase"])
    writer.writerows(zip(clock, *places, *columns, phases, strict=True))
    return out.getvalue()


def _written(values: Sequence[float], decimals: int) -> list[str]:
    """Write numbers; empty for none."""
    return ["" if math.isnan(value) else f"{value:.{decimals}f}" for value in values]


def _metres(track: Track) -> list[str]:
    return _written((track.channel("altitude_ft") * METRES_PER_FOOT).tolist(), _METRE_DECIMALS)


def _times(track: Track, start_utc: datetime) -> list[str]:
    """Write the times in UTC, to the millisecond."""
    moments = [start_utc + timedelta(milliseconds=round(s * 1000.0)) for s in track.time_s.tolist()]
    return [moment.isoformat(timespec="milliseconds").replace("+00:00", "Z") for moment in moments]


def _geojson(track: Track, when: list[str], cut: list[Segment], places: Sequence[Waypoint]) -> str:
    positions: list[list[float]] = [
        [round(lon, _DEGREE_DECIMALS), round(lat, _DEGREE_DECIMALS), *([float(metre)] if metre else [])]
        for lon, lat, metre in zip(
            track.lon_deg.tolist(), track.lat_deg.tolist(), _metres(track), strict=True
        )
    ]
    features = [
        _line(track.name, segment.name, positions[first:last], when[first:last])
        for segment in cut
        for first, last in _runs(positions, segment)
    ]
    features += [
        _feature(
            {"name": place.name, "description": place.told},
            "Point",
            [round(place.lon_deg, _DEGREE_DECIMALS), round(place.lat_deg, _DEGREE_DECIMALS)],
        )
        for place in places
    ]
    return json.dumps({"type": "FeatureCollection", "features": features}, ensure_ascii=False) + "\n"


def _runs(positions: list[list[float]], segment: Segment) -> list[tuple[int, int]]:
    """Cut a segment where its line would run the long way round the globe."""
    inner = range(segment.first + 1, segment.last)
    cuts = [i for i in inner if abs(positions[i][0] - positions[i - 1][0]) > 180.0]
    return list(itertools.pairwise([segment.first, *cuts, segment.last]))


def _line(flight: str, phase: str, positions: list[list[float]], when: list[str]) -> dict[str, Any]:
    """Make a timed line; one position is no line (RFC 7946, 3.1.4), and a lone point is no part of a flight."""
    properties = {"name": phase or flight, "flight": flight, "phase": phase or None, "coordTimes": when}
    return _feature(properties, "LineString" if len(positions) > 1 else "MultiPoint", positions)


def _feature(properties: dict[str, Any], kind: str, coordinates: list[Any]) -> dict[str, Any]:
    geometry = {"type": kind, "coordinates": coordinates}
    return {"type": "Feature", "properties": properties, "geometry": geometry}


def _gpx(track: Track, when: list[str], cut: list[Segment], places: Sequence[Waypoint]) -> str:
    from gpxpy.gpx import GPX, GPXTrack, GPXTrackPoint, GPXTrackSegment, GPXWaypoint

    lat, lon = (values.round(_DEGREE_DECIMALS).tolist() for values in (track.lat_deg, track.lon_deg))
    height = [float(value) if value else None for value in _metres(track)]
    moments = [datetime.fromisoformat(text) for text in when]
    written = GPX()
    written.creator = f"analyser {__version__}"
    written.waypoints += [
        GPXWaypoint(
            round(place.lat_deg, _DEGREE_DECIMALS),
            round(place.lon_deg, _DEGREE_DECIMALS),
            name=_plain(place.name),
            description=_plain(place.told),
        )
        for place in places
    ]
    line = GPXTrack(name=_plain(track.name))
    written.tracks.append(line)
    named = "; ".join(f"{place}: {segment.name}" for place, segment in enumerate(cut, 1) if segment.name)
    if named:
        line.description = f"Segments: {_plain(named)}"
    for segment in cut:
        inside = range(segment.first, segment.last)
        points = [GPXTrackPoint(lat[i], lon[i], height[i], moments[i]) for i in inside]
        line.segments.append(GPXTrackSegment(points))
    return str(written.to_xml(version="1.1", prettyprint=False)) + "\n"


def _kml(track: Track, when: list[str], cut: list[Segment], places: Sequence[Waypoint]) -> str:
    lat, lon = (_written(values.tolist(), _DEGREE_DECIMALS) for values in (track.lat_deg, track.lon_deg))
    height = _metres(track)
    mode = "absolute" if any(height) else "clampToGround"
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        '<kml xmlns="http://www.opengis.net/kml/2.2" xmlns:gx="http://www.google.com/kml/ext/2.2">',
        "<Document>",
        f"<name>{_xml(track.name)}</name>",
    ]
    for name, colour in (*_COLOURS.items(), ("plain", _PLAIN)):
        line = f"<LineStyle><color>{colour}</color><width>3</width></LineStyle>"
        lines.append(f'<Style id="{name.replace(" ", "-")}">{line}</Style>')
    for place in places:
        east, north = _written([place.lon_deg, place.lat_deg], _DEGREE_DECIMALS)
        told = f"<name>{_xml(place.name)}</name><description>{_xml(place.told)}</description>"
        lines.append(f"<Placemark>{told}<Point><coordinates>{east},{north}</coordinates></Point></Placemark>")
    for segment in cut:
        name, inside = _xml(segment.name or "between"), range(segment.first, segment.last)
        style = next((key for key in _COLOURS if key in segment.name), "plain").replace(" ", "-")
        lines.append(f"<Folder><name>{name}</name><Placemark><name>{name}</name>")
        lines.append(f"<styleUrl>#{style}</styleUrl><gx:Track>")
        lines.append(f"<altitudeMode>{mode}</altitudeMode>")
        lines += [f"<when>{when[i]}</when>" for i in inside]
        lines += [f"<gx:coord>{' '.join((lon[i], lat[i], height[i])).rstrip()}</gx:coord>" for i in inside]
        lines.append("</gx:Track></Placemark></Folder>")
    return "\n".join([*lines, "</Document>", "</kml>", ""])


def _plain(text: str) -> str:
    """Drop what XML cannot carry from untrusted text; a library that writes XML escapes the rest."""
    return _NOT_XML.sub("\ufffd", text)


def _xml(text: str) -> str:
    return escape(_plain(text), {'"': "&quot;"})
