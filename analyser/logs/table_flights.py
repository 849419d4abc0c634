"""From a table's columns to flights: one column for each meaning, then time, position and channels."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from analyser.logs.limits import MAX_FLIGHTS
from analyser.logs.meaning import Meaning
from analyser.logs.raw import RawFlight
from analyser.logs.table_clock import table_clock
from analyser.logs.table_columns import Chosen, Reading, table_channel
from analyser.logs.table_position import in_degrees, table_position
from analyser.logs.text import shown

if TYPE_CHECKING:
    from pandas import Series


def table_flights(reading: Reading, found: dict[int, tuple[Meaning, str]]) -> list[RawFlight]:
    """Read a table that is cut into columns: one flight for each aircraft where a column tells them apart.

    Raises
    ------
    LogError
        Where no column gives the time or the position.
    """
    chosen = _choose(reading, found)
    lat, lon = table_position(reading, chosen)
    clock = table_clock(reading, chosen, lat, lon)
    lat, lon = in_degrees(reading, chosen, lat, lon, clock)
    for name, (place, meaning, standing) in chosen.items():
        if meaning.concept.channel:
            table_channel(reading, name, place, meaning, standing)
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


def _filled(column: Series) -> int:
    if column.dtype.kind == "f":
        return column.size - int(np.count_nonzero(np.isnan(column.to_numpy())))
    return int(column.count())


def _choose(reading: Reading, found: dict[int, tuple[Meaning, str]]) -> Chosen:
    """Keep one column for each meaning: the person's, then the better phrase, then the one with more values."""
    chosen: Chosen = {}
    filled = {place: _filled(reading.columns[place]) for place in found}
    # An altitude that says its unit is worth more than a better altitude that does not.
    unsaid = {
        p: found[p][0].concept.name == "alt" and reading.stated_unit(p, found[p][0])[0] is None for p in found
    }
    order = sorted(found, key=lambda p: (found[p][1] != "told", unsaid[p], found[p][0].rank, -filled[p], p))
    for place in order:
        meaning, standing = found[place]
        name = meaning.concept.name
        if filled[place] == 0:
            reading.note(place, "", "", "ignored", "the column is empty")
        elif name == "time" and name in chosen:
            reading.other_times.append((place, meaning))
        elif name in chosen:
            other = reading.layout.headers[chosen[name][0]]
            reading.note(place, "", "", "ignored", f"'{shown(other)}' was used instead")
        elif name == "time":
            chosen[name] = (place, meaning, standing)
        else:
            # A better phrase with hardly any values loses to a plainer one that is filled.
            rivals = [p for p in order if found[p][0].concept.name == name and filled[p] > 5 * filled[place]]
            if rivals and standing != "told":
                reading.note(place, "", "", "ignored", "nearly empty, and another column says the same")
            else:
                chosen[name] = (place, meaning, standing)
    return chosen


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
        return [replace(flight, sources=tuple(reading.sources))]
    reading.note(place, "aircraft", "", standing)
    flight = replace(flight, sources=tuple(reading.sources))
    codes = column.to_numpy()
    if len(names) == 1:
        return [flight]
    return [
        replace(flight.take(np.flatnonzero(codes == name)), label=shown(str(name)), aircraft=str(name))
        for name in names
    ]
