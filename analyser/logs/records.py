"""Objects with named values, as JSON writes them: rows like a table's.

A list of objects, one object a line, GeoJSON's timed points and a spreadsheet's rows have this in common. Objects
inside objects lend their names: ``{"position": {"lat": 48.1}}`` is a column ``position lat``.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analyser.logs.json_stream import number_or_nan
from analyser.logs.limits import MAX_COLUMNS
from analyser.logs.log_thresholds import LOOK
from analyser.logs.meaning import meaning_of, vocabulary, words_of
from analyser.logs.raw import Content, RawFlight
from analyser.logs.samples import Samples
from analyser.logs.table import table_flights
from analyser.logs.table_columns import FlightTable, meanings
from analyser.logs.table_layout import Layout

#: In which order lists hold a position: as their names say, or as GeoJSON's do (RFC 7946).
_ORDERS = {
    **dict.fromkeys(("latlng", "latlon", "lat_lon", "lat_lng"), ("lat", "lon")),
    **dict.fromkeys(("lnglat", "lonlat", "lon_lat", "lng_lat", "coordinates"), ("lon", "lat")),
}
#: The two parts of such a time.
_PARTS = {
    **dict.fromkeys(("sec", "secs", "seconds"), "s"),
    **dict.fromkeys(("nsec", "nsecs", "nanosec", "nanosecs", "nanos", "nanoseconds"), "ns"),
}

Values = NDArray[Any]


def flat(record: dict[str, Any], prefix: str = "", depth: int = 0) -> dict[str, Any]:
    """Bring an object's plain values under one roof; lists are passed over, but for a position's.

    A name inside another object has that one's name before it (``wind speed``), unless it only says where the value
    was taken (``position lat``) and the two together mean nothing.
    """
    found: dict[str, Any] = {}
    for key, written in record.items():
        name = f"{prefix} {key}".strip()
        value = written
        if isinstance(written, dict) and (seconds := _in_two_parts(written)) is not None:
            value = seconds
        elif isinstance(written, dict) and len(written) == 2 and isinstance(written.get("unit"), str):
            # A value beside its unit.
            name, value = f"{name} {written['unit']}", written.get("value")
        if isinstance(value, dict):
            for inner, one in flat(value, name, depth + 1).items() if depth < LOOK.nested_objects else ():
                found.setdefault(inner, one)
        elif isinstance(value, list):
            if is_place(key, value):
                # A place of something else, {"home": {"latlng": […]}}, is none of the aircraft's.
                of = f"{prefix} " if prefix and not _only_says_where(prefix) else ""
                for one, number in zip(_ORDERS[key.lower()], value, strict=False):
                    found.setdefault(f"{of}{one}", number)
        else:
            bare = bool(prefix) and _only_says_where(prefix) and meaning_of(name) is None
            found.setdefault(key if bare else name, value)
    return found


def is_place(key: str, value: list[Any]) -> bool:
    """Tell the numbers of one position, whose order its name gives."""
    return (
        key.lower() in _ORDERS
        and 2 <= len(value) <= 3
        and all(type(one) in (int, float) for one in value[:2])
    )


def _in_two_parts(value: dict[str, Any]) -> float | None:
    """Read a time of whole seconds and nanoseconds, as interface definitions write them; None for anything else."""
    numbers = {key: number_or_nan(one, 1e15) for key, one in value.items() if type(one) in (int, float)}
    parts = {_PARTS[key]: one for key, one in numbers.items() if key in _PARTS}
    return parts["s"] + parts["ns"] * 1e-9 if len(value) == 2 == len(parts) else None


@lru_cache(maxsize=256)
def _only_says_where(prefix: str) -> bool:
    """Tell whether an object's name says nothing of what the values in it are."""
    return vocabulary().containers.issuperset(words_of(prefix))


class Records(Samples):
    """Flat objects as they are met, kept as columns."""

    def __init__(self) -> None:
        super().__init__(convert=column, most_names=MAX_COLUMNS)

    def add_columns(self, columns: dict[str, list[Any]]) -> None:
        """Add samples that are written as one list for each name, all of one length."""
        for row in zip(*columns.values(), strict=True):
            self.add(dict(zip(columns, row, strict=True)))

    def flights(self, content: Content) -> list[RawFlight]:
        """Read the objects as a table; LogError where their names give no time or no position."""
        columns = dict(self.columns())
        self.clear()
        return flights_of(columns, content)


def flights_of(columns: dict[str, Values], content: Content) -> list[RawFlight]:
    """Read named columns, of one length, as a table; nothing of them is kept."""
    from pandas import Series

    layout = Layout("", tuple(name[: LOOK.header_letters] for name in columns), ("",) * len(columns), 1)
    cells = {place: Series(columns.pop(name)) for place, name in enumerate(list(columns))}
    return table_flights(FlightTable(content, layout, cells, meanings(layout, content)))


def column(values: Sequence[Any]) -> Values:
    """Keep numbers as numbers, anything else as text."""
    if all(value is None or type(value) in (int, float) for value in values):
        return np.array([number_or_nan(value, 1e300) for value in values])
    return np.array([_text(value) for value in values], dtype=object)


def _text(value: object) -> str | None:
    if value is None or isinstance(value, bool):
        return None
    return value if isinstance(value, str) else f"{value}"[:60]
