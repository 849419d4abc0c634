"""Spreadsheets (.xlsx), read only: each sheet whose rows make a table of a flight.

The file is taken apart by a library that reads row after row; cells of dates and times come as the workbook says.

References
----------
ISO/IEC 29500 (Office Open XML): a zip archive with ``xl/workbook.xml``; dates are days since 1899-12-30, or since
1904-01-01 where the workbook says so.
"""

from __future__ import annotations

import io
import warnings
import zipfile
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, time, timedelta
from itertools import chain, islice
from typing import Any

import numpy as np

from analyser.errors import LogError
from analyser.logs.limits import MAX_COLUMNS, MAX_SHARED_TEXT, check_size
from analyser.logs.log_thresholds import LOOK
from analyser.logs.raw import Content, RawFlight
from analyser.logs.text import shown
from analyser.logs.track import Notice

_SAVE_IT = "open the workbook in a spreadsheet program, save it there, and read it again"


def looks_like(head: bytes) -> bool:
    """Tell a workbook: archives of any other kind are unpacked before."""
    return head.startswith(b"PK\x03\x04")


def read(content: Content) -> list[RawFlight]:
    """Read the sheets that hold a flight.

    LogError where none does, with the reason of the first, and where the workbook is damaged.
    """
    import openpyxl

    flights: list[RawFlight] = []
    reasons: list[LogError] = []
    _check_parts(content)
    with warnings.catch_warnings():
        # The library warns of styles and extensions that it does not keep: none matters here.
        warnings.simplefilter("ignore")
        try:
            book = openpyxl.load_workbook(io.BytesIO(content.data), read_only=True, data_only=True)
            for number, sheet in enumerate(book.worksheets[: LOOK.sheets]):
                formulas = _unsaved_formulas(content, number, sheet)
                what = f"column {formulas} of the sheet holds formulas and not what they come to"
                message = f"{what[0].upper()}{what[1:]}: {_SAVE_IT}."
                said = (Notice("formula-unsaved", message),) if formulas else ()
                try:
                    flights += [
                        replace(
                            flight, label=flight.label or shown(sheet.title, LOOK.label_letters)
                        ).with_notices(said)
                        for flight in _sheet(_rows(sheet), content)
                    ]
                except LogError as error:
                    # Formulas without values are the reason, where there are any, that a sheet holds no flight.
                    reasons.append(content.refusal(what, "sheet", _SAVE_IT) if formulas else error)
        # The library raises whatever the damage provokes in it.
        except Exception as error:
            raise _damaged(content, error) from error
    if not flights:
        nothing = content.refusal("the workbook holds no sheet", mend="save its sheet as CSV")
        raise next(iter(reasons), nothing)
    return flights


def _unsaved_formulas(content: Content, number: int, sheet: Any) -> str:
    """Name the columns of a sheet's first rows that hold formulas without the values that they came to."""
    import openpyxl
    from openpyxl.utils import get_column_letter

    first = {"max_row": LOOK.formula_rows, "max_col": 100}
    values = list(sheet.iter_rows(values_only=True, **first))
    if all(cell is not None for row in values for cell in row):
        return ""
    written = openpyxl.load_workbook(io.BytesIO(content.data), read_only=True).worksheets[number]
    columns = {
        get_column_letter(place + 1)
        for row, known in zip(written.iter_rows(values_only=True, **first), values, strict=False)
        for place, (cell, value) in enumerate(zip(row, known, strict=False))
        if value is None and isinstance(cell, str) and cell.startswith("=")
    }
    return ", ".join(sorted(columns))


def _damaged(content: Content, error: Exception) -> LogError:
    reason = shown(str(error)) or type(error).__name__
    return content.refusal(f"the workbook is damaged: {reason}", mend="save it again, or its sheet as CSV")


def _check_parts(content: Content) -> None:
    """Refuse a workbook that unpacks to more than a log may hold; the sizes it declares are checked on reading."""
    try:
        with zipfile.ZipFile(io.BytesIO(content.data)) as archive:
            for part in archive.infolist():
                check_size(part.file_size, content.name, "the unpacked workbook")
                # Sheets are gone through row by row; all else the library holds whole.
                if part.file_size > MAX_SHARED_TEXT and not part.filename.startswith("xl/worksheets/"):
                    raise content.refusal(
                        f"the workbook holds more than {MAX_SHARED_TEXT // 1_000_000} MB of text and styles",
                        mend="save the flight's sheet as CSV",
                    )
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError) as error:
        raise _damaged(content, error) from error


def _rows(sheet: Any) -> Iterator[tuple[Any, ...]]:
    empty = 0
    for row in sheet.iter_rows(values_only=True, max_col=MAX_COLUMNS):
        empty = 0 if any(cell is not None for cell in row) else empty + 1
        if empty > LOOK.empty_rows:
            return
        yield row


def _sheet(rows: Iterator[tuple[Any, ...]], content: Content) -> list[RawFlight]:
    # Every log is asked whether it is a workbook: what only tables need is loaded for one.
    from pandas import Series

    from analyser.logs.records import Records
    from analyser.logs.table import table_flights
    from analyser.logs.table_columns import FlightTable, meanings
    from analyser.logs.table_layout import find_layout

    head = list(islice(rows, LOOK.head_lines + LOOK.units_within_lines))
    layout = find_layout(
        ["\t".join(_on_one_line(cell) for cell in row).rstrip("\t") for row in head], content, "\t"
    )
    records = Records()
    width = len(layout.headers)
    for row in chain(head[layout.first_line :], rows):
        records.add({str(place): _plain(cell) for place, cell in enumerate(row[:width])})
    if not len(records):
        raise content.refusal("the sheet has a header and no rows", f"row {layout.first_line}")
    columns, nothing = records.columns(), np.full(len(records), np.nan)
    cells = {place: Series(columns.get(str(place), nothing)) for place in range(width)}
    first = [[_on_one_line(cell) for cell in row] for row in head[layout.first_line :][: LOOK.layout_rows]]
    return table_flights(FlightTable(content, layout, cells, meanings(layout, content, first)))


def _on_one_line(cell: object) -> str:
    return "" if cell is None else " ".join(str(cell)[: LOOK.cell_letters].split())


def _plain(cell: object) -> object:
    """Bring a cell to a number, or to text as a table would write it."""
    if isinstance(cell, (date, time)):
        return cell.isoformat()
    return cell.total_seconds() if isinstance(cell, timedelta) else cell
