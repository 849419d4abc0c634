"""FIT, the binary protocol of small recorders: position, altitude and speed of its record messages.

The bytes are taken apart by a library that follows the published protocol; it checks lengths and checksums.

References
----------
The published FIT protocol and its profile: message ``record`` with ``timestamp`` (s since 1989-12-31T00:00Z),
``position_lat`` and ``position_long`` (semicircles: 2**31 are 180°), ``altitude`` and ``enhanced_altitude`` (m),
``speed`` and ``enhanced_speed`` (m/s), ``vertical_speed`` (m/s), ``temperature`` (°C, of the recorder);
a ``timestamp``
below 0x10000000 counts from when the recorder was switched on; ``aviation_attitude`` with ``pitch`` and ``roll`` (rad)
at ``system_time`` (ms) is not read.
"""

from __future__ import annotations

import io
import warnings
from collections.abc import Iterator
from datetime import datetime
from itertools import islice
from typing import Any

import numpy as np

from analyser.earth.constants import KT_PER_MPS
from analyser.logs.limits import MAX_SAMPLES
from analyser.logs.raw import Content, RawFlight, cut_off
from analyser.logs.samples import EXTENSION, Field, Samples, flight_of, height
from analyser.logs.text import shown
from analyser.logs.units import FPM_PER_METRE_PER_SECOND

_SEMICIRCLE_DEG = 180.0 / 2.0**31
_HEIGHT = "FIT altitude is a receiver's or a sensor's height"
_FIELDS = (
    height("enhanced_altitude", _HEIGHT),
    height("altitude", _HEIGHT),
    Field("enhanced_speed", "ground_speed_kt", "m/s", KT_PER_MPS),
    Field("speed", "ground_speed_kt", "m/s", KT_PER_MPS),
    Field("vertical_speed", "vertical_speed_fpm", "m/s", FPM_PER_METRE_PER_SECOND),
)
#: Smaller time stamps count from when the recorder was switched on.
_SYSTEM_TIME_S = float(0x1000_0000)
_NAMES = frozenset(field.name for field in _FIELDS)
#: What a recorder measures of itself or of a body, and no aircraft.
_NOT_FLOWN = frozenset(("temperature", "heart_rate", "cadence", "power", "distance", "timestamp"))


def looks_like(head: bytes) -> bool:
    """Tell FIT by the four letters in its header of 12 or 14 bytes."""
    return len(head) >= 12 and head[0] in (12, 14) and head[8:12] == b".FIT"


def read(content: Content) -> list[RawFlight]:
    """Read the record messages of a FIT file; LogError where none has a position."""
    samples = Samples()
    broken_at = ""
    try:
        for row in islice(_rows(content), MAX_SAMPLES):
            samples.add(row)
    # The library asserts and stumbles where the bytes are not as the protocol says: all of it is damage.
    except Exception as error:
        broken_at = f"record {len(samples) + 1:,} ({shown(str(error) or type(error).__name__)})"
        if len(samples) < 2:
            raise content.refusal("", broken_at=broken_at) from error
    columns = samples.columns()
    if not {"lat", "lon"} <= columns.keys():
        raise content.refusal(
            "no record of the FIT file has a position",
            "message record",
            "was a position recorded? export the activity again",
        )
    # Before the recorder knew the day it counted from when it was switched on.
    time_s = columns.setdefault("time", np.full(len(samples), np.nan))
    since_start = time_s < _SYSTEM_TIME_S
    dated = not since_start.all()
    time_s[since_start & dated] = np.nan
    return [flight_of(columns, _FIELDS, content, notices=cut_off(broken_at), dated=dated)]


def _rows(content: Content) -> Iterator[dict[str, Any]]:
    import fitdecode

    with warnings.catch_warnings():
        # What the library warns of (a wrong checksum, a field that it cannot read) costs a value, not the file.
        warnings.simplefilter("ignore")
        data = io.BytesIO(_sized(content.data))
        for frame in fitdecode.FitReader(data, check_crc=fitdecode.CrcCheck.DISABLED):
            if frame.frame_type == fitdecode.FIT_FRAME_DATA and frame.name == "record":
                yield _row(frame)


def _sized(data: bytes) -> bytes:
    """Give a recording its size, which a recorder that was cut off never wrote."""
    size = len(data) - data[0]
    return data if any(data[4:8]) or size <= 0 else data[:4] + size.to_bytes(4, "little") + data[8:]


def _row(frame: Any) -> dict[str, Any]:
    row: dict[str, Any] = {}
    for field in frame.fields:
        name, value = field.name, field.value
        if name == "timestamp" and isinstance(value, (datetime, int)):
            row["time"] = value.timestamp() if isinstance(value, datetime) else value
        elif isinstance(value, (bool, datetime)) or not isinstance(value, (int, float)):
            continue
        elif name == "position_lat":
            row["lat"] = value * _SEMICIRCLE_DEG
        elif name == "position_long":
            row["lon"] = value * _SEMICIRCLE_DEG
        elif name in _NAMES:
            row.setdefault(name, float(value))
        elif name not in _NOT_FLOWN and not name.startswith("unknown"):
            units = f" {field.units}" if getattr(field, "units", None) else ""
            row.setdefault(f"{EXTENSION}{name}{units}", float(value))
    return row
