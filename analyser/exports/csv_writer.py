"""CSV: one row a sample, every channel with its unit in the header, and the phase."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence

from analyser.exports.segments import Segment, Waypoint
from analyser.exports.written_values import degrees, times
from analyser.logs.track import CHANNELS, Track

#: Decimals of the channels: finer than any instrument.
_DECIMALS = 3


def write_csv(track: Track, segments: list[Segment], _places: Sequence[Waypoint] = ()) -> str:
    """Write a table.

    Returns
    -------
    str
        Times in UTC where the log has a date, else seconds from its first sample.
    """
    names = [name for name in CHANNELS if name in track.channels]
    dated = track.start_utc is not None
    clock = times(track) if dated else [f"{seconds:.3f}" for seconds in track.time_s.tolist()]
    columns = [track.channels[name].tolist() for name in names]
    phases = [segment.name for segment in segments for _ in range(segment.first, segment.last)]
    lat, lon = track.lat_deg.tolist(), track.lon_deg.tolist()
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["time_utc" if dated else "elapsed_s", "latitude_deg", "longitude_deg", *names, "phase"])
    for i in range(track.samples):
        values = ["" if math.isnan(column[i]) else f"{column[i]:.{_DECIMALS}f}" for column in columns]
        writer.writerow([clock[i], degrees(lat[i]), degrees(lon[i]), *values, phases[i]])
    return out.getvalue()
