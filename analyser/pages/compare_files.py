"""A class's comparison as files: the page, and the table for a spreadsheet."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from analyser.errors import UsageError
from analyser.logbook.classes import Comparison, compare
from analyser.logbook.items import title_of
from analyser.logbook.sessions import Session
from analyser.logbook.spreadsheet import write_table
from analyser.pages.compare import compare_page
from analyser.pages.write import write_text_whole


@dataclass(frozen=True)
class Compared:
    """What was written.

    Attributes
    ----------
    page : Path
    table : Path or None
    said : list of str
        The item by pilot table as lines of text.
    """

    page: Path
    table: Path | None
    said: list[str]


def write_comparison(
    sessions: Sequence[Session],
    out: Path,
    *,
    asked_points: float,
    since: date | None,
    until: date | None,
    table: Path | None,
) -> Compared:
    """Write the comparison of a class.

    Parameters
    ----------
    sessions : sequence of Session
    out : Path
        Folder of the page.
    asked_points : float
    since, until : date or None
        As asked for.
    table : Path or None
        Where the table for a spreadsheet goes.

    Returns
    -------
    Compared

    Raises
    ------
    UsageError
        There is nothing to compare.
    ReportError
        A file could not be written.
    """
    if not any(one.holds for one in sessions):
        raise UsageError(
            "no such session with a hold is in the logbook", mend="analyser logbook list shows all"
        )
    found = compare(sessions)
    page = out / "compare.html"
    write_text_whole(page, compare_page(found, asked_points=asked_points, since=since, until=until))
    if table is not None:
        text = io.StringIO()
        write_table(sessions, text)
        # The byte order mark tells a spreadsheet that the text is UTF-8.
        write_text_whole(table, "\ufeff" + text.getvalue())
    return Compared(page, table, list(_lines(found)))


def _lines(found: Comparison) -> Iterator[str]:
    widths = [max(6, len(pilot)) for pilot in found.pilots]
    names = "  ".join(f"{pilot:>{width}}" for pilot, width in zip(found.pilots, widths, strict=True))
    yield f"{'points, wind allowed for':26}{names}"
    for key in found.items:
        cells = [found.table.get((key, pilot)) for pilot in found.pilots]
        told = ["-" if cell is None else f"{cell.allowed:.0f}" for cell in cells]
        figures = "  ".join(f"{one:>{width}}" for one, width in zip(told, widths, strict=True))
        yield f"{title_of(key):26}{figures}"
