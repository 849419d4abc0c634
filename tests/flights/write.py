"""Writing what was seen as the logs that people have: GPX 1.1 and plain tables."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

from tests.flights.flight import Seen


def instant(start: datetime, seconds: float, *, places: int = 0) -> str:
    """Write an instant as ISO 8601 in UTC."""
    whole = start + timedelta(seconds=round(seconds, 3))
    text = whole.strftime("%Y-%m-%dT%H:%M:%S")
    if places:
        text += f".{whole.microsecond / 1e6:.{places}f}"[0] + f"{whole.microsecond / 1e6:.{places}f}"[2:]
    return text + "Z"


def write_gpx(path: Path, seen: Seen, start: datetime, note: str) -> None:
    """Write positions and heights as one GPX 1.1 track."""
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        '<gpx version="1.1" creator="invented for practice" xmlns="http://www.topografix.com/GPX/1/1">',
        f"<metadata><desc>{note}</desc></metadata>",
        f"<trk><name>{path.stem.replace('_', ' ')}</name><trkseg>",
    ]
    height = np.full(seen.time_s.size, np.nan) if seen.altitude_ft is None else seen.altitude_ft
    rows = zip(seen.time_s, seen.lat_deg, seen.lon_deg, height * 0.3048, strict=True)
    for time_s, lat, lon, metres in rows:
        place = f'<trkpt lat="{lat:.7f}" lon="{lon:.7f}"><ele>{metres:.1f}</ele>'
        lines.append(f"{place}<time>{instant(start, time_s)}</time></trkpt>")
    lines.append("</trkseg></trk></gpx>")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")


def write_table(
    path: Path, header: Sequence[str], rows: Sequence[Sequence[str]], separator: str = ","
) -> None:
    """Write a plain table."""
    lines = [separator.join(header), *(separator.join(row) for row in rows)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")
