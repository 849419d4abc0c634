"""GeoJSON: a timed line for each phase; one feature of two points or more, or a timed point.

References
----------
RFC 7946: longitude, latitude, height in metres; a line across the 180th meridian is cut in two (section 3.1.9).
``coordTimes`` holds a time for each position by common practice.
"""

from __future__ import annotations

import itertools
import json
from collections.abc import Sequence
from typing import Any

from analyser.exports.segments import Segment, Waypoint
from analyser.exports.written_values import DEGREE_DECIMALS, metres, times
from analyser.logs.track import Track


def write_geojson(track: Track, segments: list[Segment], places: Sequence[Waypoint] = ()) -> str:
    """Write GeoJSON."""
    height, when = metres(track), times(track)
    positions: list[list[float]] = [
        [round(lon, DEGREE_DECIMALS), round(lat, DEGREE_DECIMALS), *([float(metre)] if metre else [])]
        for lon, lat, metre in zip(track.lon_deg.tolist(), track.lat_deg.tolist(), height, strict=True)
    ]
    features = [
        _feature(track.name, segment.name, positions[first:last], when[first:last])
        for segment in segments
        for first, last in _runs(positions, segment)
    ]
    features += [_place(place) for place in places]
    return json.dumps({"type": "FeatureCollection", "features": features}, ensure_ascii=False) + "\n"


def _place(place: Waypoint) -> dict[str, Any]:
    point = [round(place.lon_deg, DEGREE_DECIMALS), round(place.lat_deg, DEGREE_DECIMALS)]
    properties = {"name": place.name, "description": place.told}
    return {"type": "Feature", "properties": properties, "geometry": {"type": "Point", "coordinates": point}}


def _runs(positions: list[list[float]], segment: Segment) -> list[tuple[int, int]]:
    """Cut a segment where its line would run the long way round the globe."""
    cuts = [
        i
        for i in range(segment.first + 1, segment.last)
        if abs(positions[i][0] - positions[i - 1][0]) > 180.0
    ]
    edges = [segment.first, *cuts, segment.last]
    return list(itertools.pairwise(edges))


def _feature(flight: str, phase: str, positions: list[list[float]], when: list[str]) -> dict[str, Any]:
    properties: dict[str, Any] = {"name": phase or flight, "flight": flight, "phase": phase or None}
    if len(positions) == 1:
        geometry: dict[str, Any] = {"type": "Point", "coordinates": positions[0]}
        properties["time"] = when[0]
    else:
        geometry = {"type": "LineString", "coordinates": positions}
        properties["coordTimes"] = when
    return {"type": "Feature", "properties": properties, "geometry": geometry}
