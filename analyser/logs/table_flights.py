"""From columns to flights: one column for each meaning, then time, position and channels.

Objects with named values, as JSON writes them, are rows like a table's. A list of objects, one object a line, GeoJSON's
timed points and a spreadsheet's rows have this in common. Objects inside objects lend their names:
``{"position": {"lat": 48.1}}`` is a column ``position lat``.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from analyser.logs.json_stream import number_or_nan
from analyser.logs.limits import MAX_COLUMNS, MAX_FLIGHTS
from analyser.logs.meaning import Meaning, meaning_of, words_of
from analyser.logs.number_text import numbers
from analyser.logs.raw import Content, FloatArray, RawFlight, Undecided
from analyser.logs.samples import Samples
from analyser.logs.table_clock import table_clock
from analyser.logs.table_columns import Chosen, Meanings, Reading, choose_columns, meanings
from analyser.logs.table_layout import Layout
from analyser.logs.table_position import in_degrees, table_position
from analyser.logs.text import left_out, shown
from analyser.logs.track import PRESSURE_DATUM, Notice
from analyser.logs.units import Unit, unit_of

if TYPE_CHECKING:
    from pandas import Series

#: A column of angles with no unit is in degrees unless its values are small enough for radians.
_RADIANS_UP_TO = 6.3
_LEVELS = unit_of("FL", "length")


def table_flights(reading: Reading, found: Meanings) -> list[RawFlight]:
    """Read a table that is cut into columns: one flight for each aircraft where a column tells them apart.

    LogError where no column gives the time or the position.
    """
    chosen = choose_columns(reading, found)
    lat, lon = table_position(reading, chosen)
    clock = table_clock(reading, chosen, lat, lon)
    lat, lon = in_degrees(reading, chosen, lat, lon, clock)
    for name, (place, meaning, standing) in chosen.items():
        if meaning.concept.channel:
            _channel(reading, name, place, meaning, standing)
    for place, header in enumerate(reading.layout.headers):
        if place not in found and header:
            reading.note(place, "", "", "ignored", "means nothing the program uses")
    flight = RawFlight(
        clock.time_s,
        lat,
        lon,
        clock.dated,
        reading.channels,
        notices=(*clock.notices, *reading.notices),
        sources=tuple(reading.sources),
        undecided=tuple(reading.undecided),
    )
    return _by_aircraft(reading, chosen, flight)


def _by_aircraft(reading: Reading, chosen: Chosen, flight: RawFlight) -> list[RawFlight]:
    """Part the rows by the column that names the aircraft, if one does."""
    if "id" not in chosen:
        return [flight]
    place, _, standing = chosen["id"]
    column = reading.columns[place].ffill().astype(str)
    names = list(dict.fromkeys(column))
    # A number that changes with every row counts rows, not aircraft.
    if len(names) > min(MAX_FLIGHTS, max(1, len(column) // 2)):
        reading.note(place, "", "", "ignored", "it changes too often to tell aircraft apart")
        names = names[:1]
    else:
        reading.note(place, "aircraft", "", standing)
    flight = replace(flight, sources=tuple(reading.sources))
    if len(names) == 1:
        return [flight]
    codes = column.to_numpy()
    return [
        replace(flight.take(np.flatnonzero(codes == name)), label=shown(str(name)), aircraft=str(name))
        for name in names
    ]


def _channel(reading: Reading, name: str, place: int, meaning: Meaning, standing: str) -> None:
    """Read one column into its channel, or leave its unit to be decided."""
    values, written = numbers(reading.columns[place], reading.decimal)
    concept = meaning.concept
    if not np.isfinite(values).any():
        reading.note(place, "", "", "ignored", "no cell holds a number")
        return
    unit, told = reading.stated_unit(place, meaning)
    if written:
        before = int(np.isfinite(values).sum())
        values, unit = _in_one_unit(values, written, unit, concept.kind)
        lost = before - int(np.isfinite(values).sum())
        if lost:
            of, beside = (
                f"of column '{shown(reading.layout.headers[place])}'",
                "no unit that fits beside others that do",
            )
            message = left_out(lost, f"cell {of} gives {beside}", f"cells {of} give {beside}")
            reading.notices.append(Notice("unit-unknown", message))
    if written and not np.isfinite(values).any():
        reading.note(place, "", "", "ignored", "its cells carry units that do not fit it")
        return
    if unit is None and concept.kind == "angle" and np.nanmax(np.abs(values)) > _RADIANS_UP_TO:
        unit = unit_of("deg", "angle")
    if unit is None:
        header = reading.layout.headers[place]
        reading.undecided.append(Undecided(name, concept.kind, concept.channel, header, values))
        return
    reading.note(place, concept.channel, unit.name, "told" if "told" in (told, standing) else standing)
    plain = unit.factor == 1.0 and unit.offset == 0.0
    reading.channels[concept.channel] = values if plain else values * unit.factor + unit.offset
    if concept.name == "alt":
        levels = any(unit_of(text, "length") == _LEVELS for text in set(written))
        reading.notices.extend(_datum(set(meaning.words) | ({"level"} if levels else set())))


def _in_one_unit(
    values: FloatArray, written: list[str], stated: Unit | None, kind: str
) -> tuple[FloatArray, Unit | None]:
    """Bring cells that carry units to one: a cell's own unit counts for it, the column's for bare cells.

    Bare cells beside ones with a unit share it, unless it is flight levels: 4500 beside FL150 is no level.
    """
    units = {text: unit_of(text, kind) for text in set(written) - {""}}
    known = [unit for text in written if text and (unit := units[text]) is not None]
    if not known:
        return values, stated
    to = stated or known[0]
    alone = len({unit.name for unit in known}) == 1 and known[0] != _LEVELS
    bare = stated or (known[0] if alone else None)
    cells: list[Unit | None] = [units[text] if text else bare for text in written]
    factor = np.array([unit.factor if unit is not None else np.nan for unit in cells])
    offset = np.array([unit.offset if unit is not None else np.nan for unit in cells])
    return (values * factor + offset - to.offset) / to.factor, to


def _datum(words: set[str]) -> list[Notice]:
    if words & {"gps", "gnss", "geometric", "geom", "geo", "wgs84", "hae", "ellipsoid", "wgs"}:
        datum = "a receiver's height, not an altimeter's: it differs from the indicated altitude by the day's error"
    elif words & {"pressure", "pres", "press", "fl", "level", "standard", "std", "qne"}:
        datum = PRESSURE_DATUM
    else:
        return []
    return [Notice("altitude-datum", f"The altitude column is {datum}.")]


#: How deep objects inside objects lend their names.
_DEEPEST = 3

#: Names of objects that say nothing of what the values in them are.
_WHERE = re.compile(
    "ahrs|attitude|coordinates|coords|data|fix|geo|gnss|gps|imu|ins|location|orientation|point|pos|position|sample|state"
)

Values = NDArray[Any]


def flat(record: dict[str, Any], prefix: str = "", depth: int = 0) -> dict[str, Any]:
    """Bring an object's plain values under one roof; lists are passed over.

    A name inside another object has that one's name before it (``wind speed``), unless it only says where the value
    was taken (``position lat``) and the two together mean nothing.
    """
    found: dict[str, Any] = {}
    for key, value in record.items():
        name = f"{prefix} {key}".strip()
        if isinstance(value, dict):
            if depth < _DEEPEST:
                for inner, one in flat(value, name, depth + 1).items():
                    found.setdefault(inner, one)
        elif not isinstance(value, list):
            bare = bool(prefix) and _only_says_where(prefix) and meaning_of(name) is None
            found.setdefault(key if bare else name, value)
    return found


@lru_cache(maxsize=256)
def _only_says_where(prefix: str) -> bool:
    return all(_WHERE.fullmatch(word) for word in words_of(prefix))


class Records(Samples):
    """Flat objects as they are met, kept as columns."""

    def __init__(self) -> None:
        super().__init__(convert=_column, most_names=MAX_COLUMNS)

    def add_columns(self, columns: dict[str, list[Any]]) -> None:
        """Add samples that are written as one list for each name, all of one length."""
        for row in zip(*columns.values(), strict=True):
            self.add(dict(zip(columns, row, strict=True)))

    def flights(self, content: Content) -> list[RawFlight]:
        """Read the objects as a table; LogError where their names give no time or no position."""
        names = list(self.columns())
        layout = Layout("", tuple(name[:200] for name in names), ("",) * len(names), 1)
        return table_flights(Reading(content, layout, self.numbered(names)), meanings(layout, content))

    def numbered(self, names: Sequence[str]) -> dict[int, Series[Any]]:
        """Hand the columns of some names over, numbered in their order; nothing of them is kept."""
        from pandas import Series

        columns = self.columns()
        nothing = np.full(len(self), np.nan)
        self.clear()
        return {place: Series(columns.get(name, nothing)) for place, name in enumerate(names)}


def _column(values: Sequence[Any]) -> Values:
    """Keep numbers as numbers, anything else as text."""
    if all(value is None or type(value) in (int, float) for value in values):
        return np.array([number_or_nan(value, 1e300) for value in values])
    return np.array([_text(value) for value in values], dtype=object)


def _text(value: object) -> str | None:
    if value is None or isinstance(value, bool):
        return None
    return value if isinstance(value, str) else f"{value}"[:60]
