"""GPX 1.1: one track, a segment for each phase; altitude is what the log called altitude.

References
----------
GPX 1.1 Schema Documentation, topografix.com/GPX/1/1. A segment has no name in GPX, so the phases' names stand in
the track's description, in the order of the segments.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from analyser import __version__
from analyser.exports.segments import Segment, Waypoint
from analyser.exports.written_values import DEGREE_DECIMALS, metres, plain_text, times
from analyser.logs.track import Track


def write_gpx(track: Track, segments: list[Segment], places: Sequence[Waypoint] = ()) -> str:
    """Write GPX."""
    from gpxpy.gpx import GPX, GPXTrack, GPXTrackPoint, GPXTrackSegment, GPXWaypoint

    lat, lon = track.lat_deg.round(DEGREE_DECIMALS).tolist(), track.lon_deg.round(DEGREE_DECIMALS).tolist()
    height = [float(value) if value else None for value in metres(track)]
    when = [datetime.fromisoformat(text) for text in times(track)]
    written = GPX()
    written.creator = f"analyser {__version__}"
    written.waypoints += [
        GPXWaypoint(
            round(place.lat_deg, DEGREE_DECIMALS),
            round(place.lon_deg, DEGREE_DECIMALS),
            name=plain_text(place.name),
            description=plain_text(place.told),
        )
        for place in places
    ]
    line = GPXTrack(name=plain_text(track.name))
    written.tracks.append(line)
    if any(segment.name for segment in segments):
        named = "; ".join(
            f"{place}: {segment.name}" for place, segment in enumerate(segments, 1) if segment.name
        )
        line.description = f"Segments: {plain_text(named)}"
    for segment in segments:
        points = [
            GPXTrackPoint(lat[i], lon[i], height[i], when[i]) for i in range(segment.first, segment.last)
        ]
        line.segments.append(GPXTrackSegment(points))
    return str(written.to_xml(version="1.1", prettyprint=False)) + "\n"
