"""Plain tables: any separator, any order of columns, recognised by what their headers mean.

Adapted to what recorders do: preambles, comment lines, a units row, blank columns, repeated columns, decimal
commas, a second header where a recorder was switched on again, several aircraft told apart by a column.
"""

from __future__ import annotations

import io
import re
from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Literal

from analyser.errors import LogError
from analyser.logs.limits import MAX_FLIGHTS, MAX_SAMPLES
from analyser.logs.meaning import meaning_of, vocabulary
from analyser.logs.raw import Content, RawFlight
from analyser.logs.table_columns import Meanings, Reading, meanings
from analyser.logs.table_flights import table_flights
from analyser.logs.table_layout import (
    HEAD_LINES,
    Layout,
    cells,
    decimal_mark,
    find_layout,
    first_rows,
    refuse_cut_numbers,
    with_row_numbers,
)
from analyser.logs.text import refuse_long_lines, shown, sound_utf8
from analyser.logs.track import Notice

if TYPE_CHECKING:
    from pandas import Series

    Columns = dict[int, Series[Any]]

#: The layout is found in so many bytes.
_SAMPLE = 400_000
#: Signs that stand for plain ones: minus, en dash, the apostrophe that parts thousands, blanks that do not break.
_SIGNS = (("\u2212", "-"), ("\u2013", "-"), ("\u2019", "'"), ("\u00a0", " "), ("\u202f", " "))
#: How spreadsheets keep cells as text; looked for in so many bytes.
_TEXT_CELL, _FIRST_ROWS = b'="', 20_000


#: Lines that stand in quotation marks as a whole: a table that a spreadsheet took for one column.
_WHOLE_LINES = re.compile(rb'(?:"[^"\r\n]*[,;\t|][^"\r\n]*"\r?\n){3}')
#: A header's cell that is written over two lines or three.
_BROKEN_CELL = re.compile(rb'"[^"\r\n,;\t]{1,60}(?:\r?\n[^"\r\n,;\t]{1,60}){1,2}"(?=[,;\t\r\n])')


def _on_one_line(cell: re.Match[bytes]) -> bytes:
    return b" ".join(cell[0].split())


def looks_like(head: str) -> bool:
    """Tell a table: anything with a line that can be cut into cells; asked last of all formats."""
    return any(mark in line for line in head.splitlines()[:HEAD_LINES] for mark in ",;\t| ")


def read(content: Content) -> list[RawFlight]:
    """Read a table: one flight for each aircraft where a column tells them apart, and for each header.

    LogError where no time or no position column is found, or the table cannot be cut into columns.
    """
    refuse_long_lines(content.data, content.name)
    # The engine reads UTF-8 that is known to be sound straight from memory, and any other text half as fast.
    data = sound_utf8(content.data)
    # What comes back as the same object is plain ASCII.
    if data is not content.data:
        for sign, plain in _SIGNS:
            data = data.replace(sign.encode(), plain.encode())
    # Recorders fill cells, and the file's end, with zero bytes.
    data = data.replace(b"\0", b"") if b"\0" in data else data
    if _TEXT_CELL in data[:_FIRST_ROWS]:
        data = data.replace(_TEXT_CELL, b'"')
    if _WHOLE_LINES.match(data[:_FIRST_ROWS]):
        data = data.replace(b'"', b"")
    mended, cells_broken = _BROKEN_CELL.subn(_on_one_line, data[:_FIRST_ROWS])
    if cells_broken:
        data = mended + data[_FIRST_ROWS:]
    head = data[:_SAMPLE].decode(errors="replace")
    lines = head.splitlines()
    layout = find_layout(lines[: HEAD_LINES + 5], content)
    rows = first_rows(lines, layout)
    found = meanings(layout, content, rows)
    lat = next((place for place, (meaning, _) in found.items() if meaning.concept.name == "lat"), None)
    numbered = layout if lat is None else with_row_numbers(layout, rows, lat)
    if numbered != layout:
        layout, found = numbered, meanings(numbered, content, rows)
    refuse_cut_numbers([*rows, *first_rows(lines, layout, spread=True)], layout, found, content)
    decimal = decimal_mark(rows, sorted(found))
    # A header may name columns, or end with a comma, where no row has a cell.
    width = min(len(layout.headers), max((len(row) for row in rows), default=len(layout.headers)))
    begin = _length(head, lines[: layout.first_line])
    # As a number +0200 would lose what tells it from minutes.
    text = [place for place, (meaning, _) in found.items() if meaning.concept.name == "utc_offset"]
    names = {meaning.concept.name: place for place, (meaning, _) in found.items()}
    # As a number −0° beside minutes would lose its side.
    text += [names[name] for name in ("lat", "lon") if name in names and f"{name}_minutes" in names]
    columns = _columns(content, layout, sorted(found), text, decimal, data, begin, width)
    found = {place: found[place] for place in found if place in columns}
    if not any(column.size for column in columns.values()):
        what = "the table has a header and no rows"
        raise content.refusal(what, f"line {layout.first_line}", "was anything recorded? export it again")
    later = _later_headers(columns, found, layout, data)
    if later:
        return _in_parts(replace(content, data=data), later)
    return table_flights(Reading(content, layout, columns, decimal), found)


def _later_headers(columns: Columns, found: Meanings, layout: Layout, data: bytes) -> list[int]:
    """Find where other headers begin further down: a recorder was switched on again with other settings.

    Gives places in the data; none where every header is the first one again, whose rows are simply no numbers.
    """
    place = next((p for p, (meaning, _) in found.items() if meaning.concept.name == "lat"), None)
    if place is None or columns[place].dtype.kind in "fiu":
        return []
    column = columns[place]
    words = (
        column[~column.astype(str).str.contains(r"^\s*[-+.\d]", na=False)].dropna().astype(str).unique()[:200]
    )
    starts: list[int] = []
    for word in words:
        if meaning_of(word) is None:
            continue
        at = data.find(word.encode())
        while at >= 0 and len(starts) <= MAX_FLIGHTS:
            begin, end = data.rfind(b"\n", 0, at) + 1, data.find(b"\n", at)
            end = end if end >= 0 else len(data)
            row = cells(data[begin:end].decode(errors="replace"), layout.separator)
            names = {meaning.concept.name for cell in row if (meaning := meaning_of(cell)) is not None}
            if begin and {"lat", "lon"} <= names and tuple(row) != layout.headers:
                starts.append(begin)
            at = data.find(word.encode(), end)
    return sorted(set(starts))[:MAX_FLIGHTS]


def _in_parts(content: Content, starts: list[int]) -> list[RawFlight]:
    """Read each header's rows as a table of its own."""
    flights: list[RawFlight] = []
    failed: list[LogError] = []
    for begin, end in pairwise([0, *starts, len(content.data)]):
        try:
            if content.data.count(b"\n", begin, end) < 2:
                # Reading takes a thousand times as long as counting, and there may be very many such lines.
                raise content.refusal("a header has no rows")
            flights.extend(read(replace(content, data=content.data[begin:end])))
        except LogError as error:
            failed.append(error)
    if not flights:
        raise failed[0]
    messages = [f"A part of the table was left out: {one.what}." for one in failed]
    more = tuple(Notice("flight-left-out", message) for message in messages)
    return [replace(flight, notices=(*flight.notices, *more)) for flight in flights]


def _columns(
    content: Content,
    layout: Layout,
    places: list[int],
    text: list[int],
    decimal: str,
    data: bytes,
    rows_from: int,
    width: int,
) -> Columns:
    """Cut the rows with the C engine; only the columns that mean something, in rows at least so wide."""
    import pandas as pd

    source, last = io.BytesIO(data), None
    # A stray quotation mark swallows the rest of the file; then quotes are taken for plain characters.
    full = len(layout.headers)
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
            raise content.refusal(
                f"the table has more than {MAX_SAMPLES:,} rows",
                f"line {layout.first_line + MAX_SAMPLES + 1}",
                "cut it to the flight",
            )
        return {place: frame[place] for place in range(wide) if place in frame}
    raise content.refusal(
        f"the rows cannot be cut into the header's {len(layout.headers)} columns: {shown(str(last))}",
        f"line {layout.first_line + 1}",
        "export it with commas, semicolons or tabs between the columns",
    ) from last


def _length(head: str, lines: list[str]) -> int:
    """Return how many bytes the first lines take with their ends, which are one character or two."""
    reach = sum(map(len, lines)) + 2 * len(lines)
    return len("".join(head[:reach].splitlines(keepends=True)[: len(lines)]).encode())
