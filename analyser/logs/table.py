"""Plain tables: any separator, any order of columns, recognised by what their headers mean.

Adapted to what recorders do: preambles, comment lines, a units row, blank columns, repeated columns, decimal
commas, a second header where a recorder was switched on again, several aircraft told apart by a column.
"""

from __future__ import annotations

import io
import re
from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from itertools import pairwise
from math import isnan
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from analyser.logs.limits import MAX_FLIGHTS, MAX_SAMPLES
from analyser.logs.log_thresholds import LOOK
from analyser.logs.meaning import concepts_of, meaning_of, vocabulary
from analyser.logs.number_text import angle, numbers
from analyser.logs.raw import Content, FloatArray, Pieces, RawFlight, cut_off
from analyser.logs.table_clock import table_clock
from analyser.logs.table_columns import FlightTable, TableColumn, meanings
from analyser.logs.table_layout import (
    Layout,
    cells,
    decimal_mark,
    find_layout,
    first_rows,
    refuse_cut_numbers,
    with_row_numbers,
    with_units,
)
from analyser.logs.table_position import in_degrees, table_position
from analyser.logs.text import left_out, refuse_long_lines, shown, sound_utf8
from analyser.logs.track import PRESSURE_DATUM, Notice, Source
from analyser.logs.units import Unit, unit_of

if TYPE_CHECKING:
    from pandas import Series

    Columns = dict[int, Series[Any]]

#: Signs that stand for plain ones: minus, en dash, the apostrophe that parts thousands, blanks that do not break.
_SIGNS = (("\u2212", "-"), ("\u2013", "-"), ("\u2019", "'"), ("\u00a0", " "), ("\u202f", " "))
#: How spreadsheets keep cells as text.
_TEXT_CELL = b'="'
#: Lines that stand in quotation marks as a whole: a table that a spreadsheet took for one column.
_WHOLE_LINES = re.compile(rb'(?:"[^"\r\n]*[,;\t|][^"\r\n]*"\r?\n){3}')
#: Cells that all stand in single quotation marks.
_SINGLE_QUOTES = re.compile(rb"'[^'\r\n]*'(?:[,;\t|] ?'[^'\r\n]*')+\r?\n")
#: A header's cell that is written over two lines or three.
_BROKEN_CELL = re.compile(rb'"[^"\r\n,;\t]{1,60}(?:\r?\n[^"\r\n,;\t]{1,60}){1,2}"(?=[,;\t\r\n])')
#: Columns that give times, one of which each header names.
_TIMES = {"time", "hour", "gps_seconds", "date", "year", "day_of_year"}
_LEVELS = unit_of("FL", "length")


def looks_like(head: str) -> bool:
    """Tell a table: anything with a line that can be cut into cells; asked last of all formats."""
    return any(mark in line for line in head.splitlines()[: LOOK.head_lines] for mark in ",;\t| ")


def read(content: Content) -> list[RawFlight]:
    """Read a table: one flight for each aircraft where a column tells them apart, and for each header.

    LogError where no time or no position column is found, or the table cannot be cut into columns.
    """
    refuse_long_lines(content.data, content.name)
    content = replace(content, data=_plain(content.data))
    head = content.data[: LOOK.layout_bytes].decode(errors="replace")
    lines = head.splitlines()
    layout = find_layout(lines, content)
    rows = first_rows(lines, layout)
    layout = with_row_numbers(layout, rows, content)
    found = meanings(layout, content, rows)
    at = {meaning.concept.name: place for place, meaning in reversed(list(found.items()))}
    if "lat" in at:
        spread = first_rows(lines, layout, spread=True)
        refuse_cut_numbers([*rows, *spread], layout, found, at["lat"], content)
    decimal = decimal_mark(rows, found)
    # A header may name columns, or end with a comma, where no row has a cell.
    width = min(len(layout.headers), max((len(row) for row in rows), default=len(layout.headers)))
    # As a number +0200 would lose what tells it from minutes, and −0° beside minutes its side.
    signed = {"utc_offset"} | {name for name in ("lat", "lon") if f"{name}_minutes" in at}
    text = [place for place, meaning in found.items() if meaning.concept.name in signed]
    begin = _length(head, lines[: layout.first_line])
    whole = _without_cut_row(content.data, layout.separator)
    lost = content.data.count(b"\n") + 1 if whole is not content.data else 0
    content = replace(content, data=whole)
    columns = _columns(content, layout, sorted(found), text, decimal, begin, width)
    rows_read = next(map(len, columns.values()), 0)
    if b'"' in content.data and content.data.count(b"\n", begin) > rows_read:
        content = replace(content, data=_without_stray_quotes(content.data, layout))
        columns = _columns(content, layout, sorted(found), text, decimal, begin, width)
    if not any(column.size for column in columns.values()):
        what = "the table has a header and no rows"
        raise content.refusal(what, f"line {layout.first_line}", "was anything recorded? export it again")
    later = _later_headers(columns.get(at.get("lat", -1)), layout, content.data)
    if later:
        return _in_parts(content, later)
    there = {place: meaning for place, meaning in found.items() if place in columns}
    flights = table_flights(FlightTable(content, layout, columns, there, decimal))
    said = cut_off(f"line {lost:,}") if lost else ()
    return [flight.with_notices(said) for flight in flights]


def _without_cut_row(data: bytes, separator: str) -> bytes:
    """Leave out a last row that breaks off inside: what is left of a number is another one."""
    end = data.rfind(b"\n") + 1
    start = data.rfind(b"\n", 0, max(end - 1, 0)) + 1
    before, last = (cells(part.decode(errors="replace"), separator) for part in (data[start:end], data[end:]))
    begins_alike = before[:1] and last[:1] and before[0][:1].isdigit() and last[0][:1].isdigit()
    return data[:end] if begins_alike and 1 < len(last) < len(before) else data


def _without_stray_quotes(data: bytes, layout: Layout) -> bytes:
    """Take quotation marks off lines on which they do not pair, where they would swallow whole rows between them.

    A note that goes over several lines holds no row, and its second mark ends a cell.
    """
    lines, separator = data.split(b"\n"), layout.separator.encode()
    odd = [number for number, line in enumerate(lines) if line.count(b'"') % 2]
    full = len(layout.headers) - 1
    for begin, end in zip(odd[::2], odd[1::2], strict=False):
        follows = lines[end].partition(b'"')[2][:1].strip()
        rows = any(line.count(separator) >= full for line in lines[begin + 1 : end])
        if rows or follows not in (separator, b""):
            for number in odd:
                lines[number] = lines[number].replace(b'"', b"")
            return b"\n".join(lines)
    return data


def _plain(data: bytes) -> bytes:
    """Bring a table's text into UTF-8, without signs that stand for plain ones, and marks of spreadsheets."""
    # The engine reads UTF-8 that is known to be sound straight from memory, and any other text half as fast.
    sound = sound_utf8(data)
    # What comes back as the same object is plain ASCII.
    if sound is not data:
        for sign, plain in _SIGNS:
            sound = sound.replace(sign.encode(), plain.encode())
    # Recorders fill cells, and the file's end, with zero bytes.
    data = sound.replace(b"\0", b"") if b"\0" in sound else sound
    if _TEXT_CELL in data[: LOOK.quoted_bytes]:
        data = data.replace(_TEXT_CELL, b'"')
    if _SINGLE_QUOTES.match(data[: LOOK.quoted_bytes]):
        data = data.replace(b"'", b'"')
    if _WHOLE_LINES.match(data[: LOOK.quoted_bytes]):
        data = data.replace(b'"', b"")
    mended, broken = _BROKEN_CELL.subn(lambda cell: b" ".join(cell[0].split()), data[: LOOK.quoted_bytes])
    return mended + data[LOOK.quoted_bytes :] if broken else data


def _later_headers(lat: Series[Any] | None, layout: Layout, data: bytes) -> list[int]:
    """Find where other headers begin further down: a recorder was switched on again with other settings.

    Gives places in the data; none where every header is the first one again, whose rows are simply no numbers.
    """
    if lat is None or lat.dtype.kind in "fiu":
        return []
    words = (
        lat[~lat.astype(str).str.contains(r"^\s*[-+.\d]", na=False)]
        .dropna()
        .astype(str)
        .unique()[: LOOK.later_words]
    )
    named = b"|".join(re.escape(word.encode()) for word in words if meaning_of(word) is not None)
    starts: list[int] = []
    end = -1
    for found in re.finditer(named, data) if named else ():
        if found.start() < end:
            continue
        begin, end = data.rfind(b"\n", 0, found.start()) + 1, data.find(b"\n", found.end())
        end = end if end >= 0 else len(data)
        row = cells(data[begin:end].decode(errors="replace"), layout.separator)
        if begin and {"lat", "lon"} <= concepts_of(row):
            beside = data[begin : begin + LOOK.header_bytes].decode(errors="replace").splitlines()
            there = with_units(beside, 0, layout.separator, row)
            others = there.headers != layout.headers or (any(there.units) and there.units != layout.units)
            if others and _heads(there, beside):
                starts.append(begin)
        if len(starts) >= MAX_FLIGHTS:
            break
    return starts


def _heads(layout: Layout, lines: list[str]) -> bool:
    """Tell a header from words in a note: it names a time, and positions stand in the row below it."""
    at = {meaning.concept.name: place for place, meaning in meanings(layout, Content("", b"")).items()}
    below = cells(lines[layout.first_line], layout.separator) if layout.first_line < len(lines) else []
    placed = [angle(below[at[name]]) for name in ("lat", "lon") if at[name] < len(below)]
    return not _TIMES.isdisjoint(at) and len(placed) == 2 and not any(map(isnan, placed))


def _in_parts(content: Content, starts: list[int]) -> list[RawFlight]:
    """Read each header's rows as a table of its own."""
    pieces = Pieces()
    for begin, end in pairwise([0, *starts, len(content.data)]):
        pieces.take(partial(read, replace(content, data=content.data[begin:end])))
    return pieces.noted(())


def _columns(
    content: Content,
    layout: Layout,
    places: list[int],
    text: list[int],
    decimal: str,
    rows_from: int,
    width: int,
) -> Columns:
    """Cut the rows with the C engine; only the columns that mean something, in rows at least so wide."""
    import pandas as pd

    source, last = io.BytesIO(content.data), None
    full = len(layout.headers)
    # A stray quotation mark swallows the rest of the file; then quotes are taken for plain characters.
    attempts: tuple[tuple[Literal[0, 3], int], ...] = ((0, full), (3, full), (0, width))
    for quoting, wide in attempts:
        source.seek(rows_from)
        try:
            frame = pd.read_csv(
                source,
                sep=r"\s+" if layout.separator == " " else layout.separator,
                header=None,
                names=list(range(wide)),
                usecols=[place for place in places if place < wide],
                dtype=dict.fromkeys(text, str),
                na_values=vocabulary().missing,
                decimal=decimal,
                engine="c",
                on_bad_lines="skip",
                quoting=quoting,
                # Looking for spaces costs a quarter of the time, and most tables have none.
                skipinitialspace=content.data.find(b" ", rows_from) >= 0,
                low_memory=False,
                index_col=False,
                nrows=MAX_SAMPLES + 1,
            )
        except (ValueError, OverflowError, IndexError) as error:
            # An index error is the engine's own, where no row reaches the columns asked for.
            last = error
            continue
        if len(frame) > MAX_SAMPLES:
            raise content.refusal(
                f"the table has more than {MAX_SAMPLES:,} rows",
                f"line {layout.first_line + MAX_SAMPLES + 1}",
                "cut it to the flight",
            )
        return {place: frame[place] for place in range(wide) if place in frame}
    raise content.refusal(
        f"the rows cannot be cut into the header's {full} columns: {shown(str(last))}",
        f"line {layout.first_line + 1}",
        "export it with commas, semicolons or tabs between the columns",
    ) from last


def _length(head: str, lines: list[str]) -> int:
    """Return how many bytes the first lines take with their ends, which are one character or two."""
    reach = sum(map(len, lines)) + 2 * len(lines)
    return len("".join(head[:reach].splitlines(keepends=True)[: len(lines)]).encode())


def table_flights(table: FlightTable) -> list[RawFlight]:
    """Read a table that is cut into columns: one flight for each aircraft where a column tells them apart.

    LogError where no column gives the time or the position.
    """
    lat, lon = table_position(table)
    clock = table_clock(table, lat, lon)
    lat, lon = in_degrees(table, lat, lon, clock)
    for column in table.chosen.values():
        if column.meaning.concept.channel:
            _take_channel(table, column)
    for place, header in enumerate(table.layout.headers):
        if place not in table.meanings and header:
            why = "means nothing the program uses"
            table.found.sources.append(Source(shown(header), "", "", "ignored", why))
    flight = RawFlight(
        clock.time_s,
        lat,
        lon,
        clock.dated,
        table.found.channels,
        notices=(*clock.notices, *table.notices),
        undecided=table.found.undecided,
    )
    flights = _by_aircraft(table, flight)
    # A table and its columns know one another: cells and text would stay in memory until somebody looks for cycles.
    table.chosen.clear()
    table.beside.clear()
    return [replace(one, sources=tuple(table.found.sources)) for one in flights]


def _by_aircraft(table: FlightTable, flight: RawFlight) -> list[RawFlight]:
    """Part the rows by the column that names the aircraft, if one does."""
    column = table.chosen.get("id")
    if column is None:
        return [flight]
    codes = column.cells.ffill().bfill().astype(str)
    names = list(dict.fromkeys(codes))
    # A number that changes with every row counts rows, not aircraft.
    if len(names) > min(MAX_FLIGHTS, max(1, len(codes) // 2)):
        column.ignore("it changes too often to tell aircraft apart")
        return [flight]
    column.note("aircraft")
    if len(names) == 1:
        return [flight]
    return [
        replace(flight.take(np.flatnonzero(codes == name)), label=shown(name), aircraft=name)
        for name in names
    ]


def _take_channel(table: FlightTable, column: TableColumn) -> None:
    """Read one column into its channel, or leave its unit to be decided."""
    values, written = numbers(column.cells, table.decimal)
    concept, before = column.meaning.concept, int(np.isfinite(values).sum())
    if not before:
        column.ignore("no cell holds a number")
        return
    unit = column.unit()
    if concept.name == "alt" and not written and _are_thousands(values, unit):
        cell = f"{values[np.isfinite(values)][0]:.3f}"
        message = f"The altitudes, such as {cell}, are below 100 ft as they stand; read with a point in the thousands."
        table.notice("unit-assumed", message)
        values = np.round(values * 1000.0)
    if written:
        values, unit = _in_one_unit(values, written, unit, concept.kind)
        lost = before - int(np.isfinite(values).sum())
        if lost:
            of, beside = f"of column '{column.header}'", "no unit that fits beside others that do"
            message = left_out(lost, f"cell {of} gives {beside}", f"cells {of} give {beside}")
            table.notice("unit-unknown", message)
        if lost == before:
            column.ignore("its cells carry units that do not fit it")
            return
    table.found.take(column.written_header, concept, values, unit, column.standing)
    if concept.name == "alt" and concept.channel in table.found.channels:
        levels = any(unit_of(text, "length") == _LEVELS for text in set(written.values()))
        table.notices.extend(_datum({*column.meaning.words, *(["fl"] if levels else [])}))


def _are_thousands(values: FloatArray, unit: Unit | None) -> bool:
    """Tell altitudes such as 4.000, where the point parts the thousands: no hold is flown below 100 ft.

    Heights with three decimals that are so low in truth would jump, if they were thousands.
    """
    known = values[np.isfinite(values)] * 1000.0
    if unit is None or unit.factor > LOOK.small_unit_ft or known.size < 3:
        return False
    parted = (np.abs(known - np.round(known)) < 1e-6).all() and (np.round(known) % 1000.0).any()
    heights = LOOK.heights_ft[0] < known.min() and known.max() * unit.factor < LOOK.heights_ft[1]
    return bool(parted and heights and np.abs(np.diff(known)).max() * unit.factor < LOOK.fastest_step_ft)


def _in_one_unit(
    values: FloatArray, written: Mapping[int, str], stated: Unit | None, kind: str
) -> tuple[FloatArray, Unit | None]:
    """Bring cells that carry units to one: a cell's own unit counts for it, the column's for bare cells.

    Bare cells beside ones with a unit share it, unless it is flight levels: 4500 beside FL150 is no level.
    """
    units = {row: unit_of(text, kind) for row, text in written.items()}
    known = [unit for unit in units.values() if unit is not None]
    if not known:
        return values, stated
    to = stated or known[0]
    alone = len({unit.name for unit in known}) == 1 and known[0] != _LEVELS
    bare = stated or (known[0] if alone else None)
    of_cells = [units.get(row, bare) for row in range(values.size)]
    factor = np.array([unit.factor if unit is not None else np.nan for unit in of_cells])
    offset = np.array([unit.offset if unit is not None else np.nan for unit in of_cells])
    return (values * factor + offset - to.offset) / to.factor, to


#: Words of an altitude's header that say what it is measured from. Above sea level is no flight level.
_RECEIVERS = {"gps", "gnss", "geometric", "geom", "geo", "wgs84", "hae", "ellipsoid", "wgs"}
_PRESSURES = {"pressure", "pres", "press", "fl", "standard", "std", "qne"}


def _datum(words: set[str]) -> list[Notice]:
    if words & _RECEIVERS:
        datum = "a receiver's height, not an altimeter's: it differs from the indicated altitude by the day's error"
    elif {"flight", "level"} <= words or words & _PRESSURES:
        datum = PRESSURE_DATUM
    else:
        return []
    return [Notice("altitude-datum", f"The altitude column is {datum}.")]
