"""A class's comparison as files: the page, and the table for a spreadsheet, one row per judged item of each circuit."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from pathlib import Path
from typing import IO, Any

from analyser.errors import UsageError
from analyser.frozen import dataclass
from analyser.logbook.classes import Comparison, PilotRow, compare
from analyser.logbook.documents import iso_utc
from analyser.logbook.marks import ENTRY
from analyser.logbook.sessions import Grade, Session
from analyser.pages.compare import compare_page
from analyser.rules.graded_items import item_of
from analyser.rules.scales import Scale
from analyser.whole_files import cell_text, write_text_whole

COLUMNS = (
    "pilot",
    "instructor",
    "flown_utc",
    "device",
    "lesson",
    "log",
    "log_sha256",
    "flight",
    "hold",
    "hold_name",
    "inbound_course_true_deg",
    "turns",
    "rules",
    "wind_from_true_deg",
    "wind_speed_kt",
    "tas_kt",
    "tas_wander_kt",
    "altitude_ft",
    "circuit",
    "item",
    "points",
    "value",
    "target",
    "tolerance",
    "unit",
    "verdict",
    "pilot_grade",
    "instructor_grade",
    "proposed_grade",
    "scale",
    "graded_by",
    "graded_utc",
    "instructor_remark",
    "own_remark",
    "other_grades",
    "program_version",
    "rules_version",
)


def write_table(sessions: Iterable[Session], stream: IO[str]) -> int:
    """Write sessions as comma-separated values; return the number of rows without the heading.

    The stream is opened with ``encoding="utf-8-sig"`` and ``newline=""``: the mark at the beginning tells a
    spreadsheet that the text is UTF-8. Numbers stay numbers, also negative ones.
    """
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    count = 0
    for session in sessions:
        for row in _rows(session):
            writer.writerow([cell(row.get(column)) for column in COLUMNS])
            count += 1
    return count


def cell(value: object) -> object:
    """Make a value safe for a cell: numbers as they are, None as an empty cell, text that no spreadsheet runs."""
    if value is None:
        return ""
    if isinstance(value, (int, float)):
        return round(value, 6)
    return cell_text(str(value))


def _rows(session: Session) -> Iterator[dict[str, Any]]:
    about = {
        "pilot": session.pilot,
        "instructor": session.instructor,
        "flown_utc": iso_utc(session.flown) if session.flown else None,
        "device": session.device,
        "lesson": session.lesson,
        "log": session.log_name,
        "log_sha256": session.log_sha256,
        "flight": session.flight,
        "program_version": session.debrief.program_version,
        "rules_version": session.debrief.rules_version,
    }
    figures = ("points", "value", "target", "tolerance", "unit", "verdict")
    for hold in session.holds:
        told = {key: value for key, value in hold.columns().items() if key in COLUMNS}
        told |= {"hold": hold.number, "hold_name": hold.name}
        for circuit, item, score in hold.measures():
            measure = {"circuit": circuit, "item": item} | {name: getattr(score, name) for name in figures}
            yield about | told | measure | _grades(session, hold.number, item)


def _grades(session: Session, hold: int, key: str) -> dict[str, Any]:
    counting = session.counting_grades()
    own = next(iter(counting.get((hold, key, "pilot"), [])), None)
    given = counting.get((hold, key, "instructor"), [])
    standing = given[0] if given else None
    either = standing or own
    return {
        "pilot_grade": own.level if own else None,
        "own_remark": own.remark if own else None,
        "instructor_grade": standing.level if standing else None,
        "instructor_remark": standing.remark if standing else None,
        "graded_by": standing.grader if standing else None,
        "graded_utc": iso_utc(standing.graded) if standing else None,
        "other_grades": "; ".join(_beside(one) for one in given[1:]),
        "proposed_grade": either.proposed if either else None,
        "scale": either.scale if either else None,
    }


def _beside(one: Grade) -> str:
    return f"{one.level} by {one.grader or 'somebody erased'}" + (f": {one.remark}" if one.remark else "")


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
    titles = [item_of(key).short for key in found.items]
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
