"""KML: a folder for each phase with its timed track in the phase's own colour.

References
----------
OGC 12-007r2, KML 2.3, and the ``gx`` extensions of 2.2, which more viewers read: ``gx:Track`` with ``when`` and
``gx:coord`` (longitude, latitude, metres); colours are aabbggrr.
"""

from __future__ import annotations

from collections.abc import Sequence

from analyser.exports.segments import Segment, Waypoint
from analyser.exports.written_values import degrees, metres, times, xml_text
from analyser.logs.track import Track

#: Line colour by the first word that occurs in a phase's name, aabbggrr; chosen to differ for colour-blind eyes too.
_COLOURS = {
    "entry": "ff7a4f9e",
    "outbound turn": "ff0072d5",
    "inbound turn": "ff009e73",
    "outbound leg": "ffb27200",
    "inbound leg": "ff00459e",
}
_PLAIN = "ff808080"


def write_kml(track: Track, segments: list[Segment], places: Sequence[Waypoint] = ()) -> str:
    """Write KML."""
    lat, lon = track.lat_deg.tolist(), track.lon_deg.tolist()
    height, when = metres(track), times(track)
    has_altitude = any(height)
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        '<kml xmlns="http://www.opengis.net/kml/2.2" xmlns:gx="http://www.google.com/kml/ext/2.2">',
        "<Document>",
        f"<name>{xml_text(track.name)}</name>",
        *[_style(name, colour) for name, colour in (*_COLOURS.items(), ("plain", _PLAIN))],
    ]
    for place in places:
        point = f"<Point><coordinates>{degrees(place.lon_deg)},{degrees(place.lat_deg)}</coordinates></Point>"
        told = f"<name>{xml_text(place.name)}</name><description>{xml_text(place.told)}</description>"
        lines.append(f"<Placemark>{told}{point}</Placemark>")
    for segment in segments:
        name = xml_text(segment.name or "between")
        lines.append(f"<Folder><name>{name}</name><Placemark><name>{name}</name>")
        lines.append(f"<styleUrl>#{_style_of(segment.name)}</styleUrl><gx:Track>")
        lines.append(f"<altitudeMode>{'absolute' if has_altitude else 'clampToGround'}</altitudeMode>")
        lines.extend(f"<when>{when[i]}</when>" for i in range(segment.first, segment.last))
        lines.extend(
            f"<gx:coord>{degrees(lon[i])} {degrees(lat[i])}{' ' + height[i] if height[i] else ''}</gx:coord>"
            for i in range(segment.first, segment.last)
        )
        lines.append("</gx:Track></Placemark></Folder>")
    return "\n".join([*lines, "</Document>", "</kml>", ""])


def _style(name: str, colour: str) -> str:
    line = f"<LineStyle><color>{colour}</color><width>3</width></LineStyle>"
    return f'<Style id="{name.replace(" ", "-")}">{line}</Style>'


def _style_of(name: str) -> str:
    return next((key for key in _COLOURS if key in name), "plain").replace(" ", "-")
