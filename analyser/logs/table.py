"""Plain tables: any separator, any order of columns, recognised by what their headers mean.

Adapted to what recorders do: preambles, comment lines, a units row, blank columns, repeated columns, decimal
commas, several aircraft told apart by a column. A unit that neither header, units row, cells nor the person
give is not guessed here: the column goes on as :class:`~analyser.logs.raw.Undecided`.
"""

from __future__ import annotations

import io
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from analyser.errors import LogError
from analyser.logs.limits import MAX_FLIGHTS, MAX_SAMPLES
from analyser.logs.meaning import Meaning
from analyser.logs.raw import Content, RawFlight
from analyser.logs.table_cells import MISSING
from analyser.logs.table_clock import table_clock
from analyser.logs.table_layout import HEAD_LINES, Layout, find_layout, meanings
from analyser.logs.table_position import table_position
from analyser.logs.table_radians import in_degrees
from analyser.logs.table_reading import Chosen, Reading
from analyser.logs.table_rows import decimal_mark, first_rows, refuse_cut_numbers
from analyser.logs.table_sides import unnamed_sides
from analyser.logs.table_values import table_channel
from analyser.logs.text import refuse_long_lines, shown, sound_utf8

if TYPE_CHECKING:
    from pandas import DataFrame, Series


#: The layout is found in so many bytes.
_SAMPLE = 400_000


def looks_like(head: str) -> bool:
    """Tell a table: anything with a line that can be cut into cells; asked last of all formats.

    Parameters
    ----------
    head : str

    Returns
    -------
    bool
    """
    return any(mark in line for line in head.splitlines()[:HEAD_LINES] for mark in ",;\t| ")


def read(content: Content) -> list[RawFlight]:
    """Read a table.

    Parameters
    ----------
    content : Content

    Returns
    -------
    list of RawFlight
        One for each aircraft where a column tells them apart.

    Raises
    ------
    LogError
        Where no time or no position column is found, or the table cannot be cut into columns.
    """
    refuse_long_lines(content.data, content.name)
    # The engine reads UTF-8 that is known to be sound straight from memory, and any other text half as fast.
    data = sound_utf8(content.data)
    head = data[:_SAMPLE].decode(errors="replace")
    lines = head.splitlines()
    layout = find_layout(lines[: HEAD_LINES + 5], content)
    found = meanings(layout, content)
    rows = first_rows(lines, layout)
    refuse_cut_numbers(rows, layout, found, content)
    found |= unnamed_sides(rows, found)
    decimal = decimal_mark(rows, sorted(found))
    frame = _frame(content, layout, sorted(found), decimal, data, _length(head, lines[: layout.first_line]))
    reading = Reading(content, layout, frame, decimal)
    if reading.frame.empty:
        raise LogError(
            "the table has a header and no rows",
            file=content.name,
            place=f"line {layout.first_line}",
            mend="was anything recorded? export it again",
        )
    chosen = _choose(reading, found)
    lat, lon = table_position(reading, chosen)
    clock = table_clock(reading, chosen)
    lat, lon = in_degrees(reading, chosen, lat, lon, clock)
    for name, (place, meaning, standing) in chosen.items():
        if meaning.concept.channel:
            table_channel(reading, name, place, meaning, standing)
    for place, header in enumerate(layout.headers):
        if place not in found and header:
            reading.note(place, "", "", "ignored", "means nothing the program uses")
    flight = RawFlight(
        clock.time_s,
        lat,
        lon,
        clock.dated,
        reading.channels,
        notices=(*reading.notices, *clock.notices),
        sources=tuple(reading.sources),
        undecided=tuple(reading.undecided),
    )
    return _by_aircraft(reading, chosen, flight)


def _frame(
    content: Content, layout: Layout, places: list[int], decimal: str, data: bytes, rows_from: int
) -> DataFrame:
    """Cut the rows with the C engine; only the columns that mean something."""
    import pandas as pd

    source, last = io.BytesIO(data), None
    # A stray quotation mark swallows the rest of the file; then quotes are taken for plain characters.
    for quoting in (0, 3):
        source.seek(rows_from)
        try:
            frame = pd.read_csv(
                source,
                sep=r"\s+" if layout.separator == " " else layout.separator,
                header=None,
                names=list(range(len(layout.headers))),
                usecols=places,
                na_values=MISSING,
                decimal=decimal,
                engine="c",
                on_bad_lines="skip",
                quoting=quoting,
                # Looking for spaces costs a quarter of the time, and most tables have none.
                skipinitialspace=data.find(b" ", rows_from) >= 0,
                low_memory=False,
                index_col=False,
                nrows=MAX_SAMPLES + 1,
            )
        except (ValueError, OverflowError, IndexError) as error:
            # An index error is the engine's own, where no row reaches the columns asked for.
            last = error
            continue
        if len(frame) > MAX_SAMPLES:
            raise LogError(
                f"the table has more than {MAX_SAMPLES:,} rows",
                file=content.name,
                place=f"line {layout.first_line + MAX_SAMPLES + 1}",
                mend="cut it to the flight",
            )
        return frame
    raise LogError(
        f"the rows cannot be cut into the header's {len(layout.headers)} columns: {shown(str(last))}",
        file=content.name,
        place=f"line {layout.first_line + 1}",
        mend="export it with commas, semicolons or tabs between the columns",
    ) from last


def _length(head: str, lines: list[str]) -> int:
    """Return how many bytes the first lines take with their ends, which are one character or two."""
    reach = sum(map(len, lines)) + 2 * len(lines)
    return len("".join(head[:reach].splitlines(keepends=True)[: len(lines)]).encode())


def _filled(column: Series) -> int:
    if column.dtype.kind == "f":
        return column.size - int(np.count_nonzero(np.isnan(column.to_numpy())))
    return int(column.count())


def _choose(reading: Reading, found: dict[int, tuple[Meaning, str]]) -> Chosen:
    """Keep one column for each meaning: the person's, then the better phrase, then the one with more values."""
    chosen: Chosen = {}
    filled = {place: _filled(reading.frame[place]) for place in found}
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
            reading.note(place, "", "", "ignored", f"'{shown(other)}' says the same")
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
    column = reading.frame[place].ffill().astype(str)
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
