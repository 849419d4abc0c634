"""A class's comparison as files: the page, and the table for a spreadsheet."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from analyser.errors import UsageError
from analyser.logbook.classes import Comparison, PilotRow, compare
from analyser.logbook.items import ENTRY
from analyser.logbook.sessions import Session
from analyser.logbook.spreadsheet import write_table
from analyser.pages.compare import compare_page, short_title
from analyser.pages.write import write_text_whole
from analyser.rules.scales import Scale

#: A row of the terminal's table is no longer than a terminal is wide.
_LONGEST_NAME = 26


@dataclass(frozen=True)
class Compared:
    """What was written, and the pilot by item table as lines of text."""

    page: Path
    table: Path | None
    said: list[str]


def write_comparison(
    sessions: Sequence[Session],
    out: Path,
    *,
    scale: Scale,
    since: date | None,
    until: date | None,
    table: Path | None,
) -> Compared:
    """Write the comparison of a class: its page into the folder ``out``, and a table for a spreadsheet.

    Raises
    ------
    UsageError
        There is nothing to compare, or the table would be written over a database.
    ReportError
        A file could not be written.
    """
    if not any(one.holds for one in sessions):
        raise UsageError(
            "no such session with a hold is in the logbook", mend="analyser logbook list shows all"
        )
    found = compare(sessions, scale)
    page = out / "compare.html"
    if table is not None:
        text = io.StringIO()
        write_table(sessions, text)
        # The byte order mark tells a spreadsheet that the text is UTF-8.
        write_text_whole(table, "\ufeff" + text.getvalue())
    write_text_whole(page, compare_page(found, scale=scale, since=since, until=until))
    return Compared(page, table, list(_lines(found)))


def _lines(found: Comparison) -> Iterator[str]:
    longest = max(len(row.pilot) for row in found.rows)
    width = min(_LONGEST_NAME, max(longest, len("points, wind allowed for")))
    titles = [short_title(key) for key in found.items]
    yield "  ".join([f"{'points, wind allowed for':{width}}", *titles])
    for row in found.rows:
        name = row.pilot if len(row.pilot) <= width else row.pilot[: width - 1] + "…"
        figures = [
            f"{_figure(row, key):>{len(title)}}" for key, title in zip(found.items, titles, strict=True)
        ]
        yield "  ".join([f"{name:{width}}", *figures]).rstrip()


def _figure(row: PilotRow, key: str) -> str:
    cell = row.cells.get(key)
    if cell is None:
        return "-"
    return f"{cell.right}/{cell.of}" if key == ENTRY else f"{cell.allowed:.0f}"
