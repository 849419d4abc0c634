"""GPX 1.1: one track, a segment for each phase; altitude is what the log called altitude.

References
----------
GPX 1.1 Schema Documentation, topografix.com/GPX/1/1. A segment has no name in GPX, so the phases' names stand in
the track's description, in the order of the segments.
"""

from __future__ import annotations

from analyser import __version__
from analyser.logs.export import Piece
from analyser.logs.export_values import degrees, metres, times, xml_text
from analyser.logs.track import Track


def write_gpx(track: Track, pieces: list[Piece]) -> str:
    """Write GPX.

    Parameters
    ----------
    track : Track
    pieces : list of Piece

    Returns
    -------
    str
    """
    lat, lon = track.lat_deg.tolist(), track.lon_deg.tolist()
    height, when = metres(track), times(track)
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="analyser {__version__}">',
        "<trk>",
        f"<name>{xml_text(track.name)}</name>",
    ]
    if any(piece.name for piece in pieces):
        named = "; ".join(f"{place}: {piece.name}" for place, piece in enumerate(pieces, 1) if piece.name)
        lines.append(f"<desc>Segments: {xml_text(named)}</desc>")
    for piece in pieces:
        lines.append("<trkseg>")
        for i in range(piece.first, piece.last):
            ele = f"<ele>{height[i]}</ele>" if height[i] else ""
            lines.append(
                f'<trkpt lat="{degrees(lat[i])}" lon="{degrees(lon[i])}">{ele}<time>{when[i]}</time></trkpt>'
            )
        lines.append("</trkseg>")
    return "\n".join([*lines, "</trk>", "</gpx>", ""])
