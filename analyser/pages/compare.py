"""A class compared: its page, and the table for a spreadsheet, one row per judged item of each circuit."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from pathlib import Path
from typing import IO, Any

import numpy as np

from analyser.errors import UsageError
from analyser.frozen import dataclass
from analyser.logbook.classes import Comparison, FlownExercise, PilotRow, compare
from analyser.logbook.documents import iso_utc
from analyser.logbook.leaning import ALL_ITEMS, Leaning
from analyser.logbook.marks import ENTRY, OVERALL, title_of
from analyser.logbook.names import counted
from analyser.logbook.sessions import Grade, Session, as_plain
from analyser.logbook.standard import Graded, graded
from analyser.pages.grades import grade_row
from analyser.pages.pilot_pages import STYLES
from analyser.pages.progress_charts import map_canvas, thumbnail
from analyser.pages.template import render
from analyser.pages.words import number, points_or_not, points_words
from analyser.rules.graded_items import item_of
from analyser.rules.scales import Scale
from analyser.whole_files import cell_text, write_text_whole

#: Of one exercise.
MOST_PICTURES = 60


def compare_page(
    found: Comparison, *, scale: Scale, since: date | None = None, until: date | None = None
) -> str:
    """Write the class page: a complete HTML document without a script.

    A cell below the points of the scale's required level is marked; without ``since`` and ``until`` the first and last
    session say.
    """
    days = [one.when.date() for one in found.sessions]
    rows = [_row(row, found, scale) for row in found.rows]
    return render(
        "compare.html",
        *STYLES,
        found=found,
        first=since or min(days, default=None),
        last=until or max(days, default=None),
        columns=[item_of(key).short for key in found.items],
        looked=any(row.looked_for_unsafe for row in found.rows),
        rows=rows,
        lead=_lead(found, rows),
        apart=[_apart(found, key) for key in found.items],
        asked=number(scale.asked_points),
        remarks=[one for row in found.rows for one in _remarks(row, scale)],
        exercises=[_exercise(title, flown) for title, flown in found.exercises],
        # Item by item only where there is something to say: a school has a hundred of these rows.
        leanings=[one for one in found.leanings if one.item == ALL_ITEMS or _leans(one)],
        lean_words=_lean_words,
        item_title=title_of,
    )


def _lead(found: Comparison, rows: Sequence[dict[str, Any]]) -> list[str]:
    """Say what a class needs first: who flew something unsafe, then which items are below what is asked for."""
    unsafe = [row.pilot for row in found.rows if row.unsafe]
    said = [f"Something unsafe was flown by {', '.join(unsafe)}."] if unsafe else []
    low = Counter(one["key"] for row in rows for one in row["cells"] if one["low"] and one["key"] != OVERALL)
    items = [f"{title_of(key).lower()} ({counted(count, 'pilot')})" for key, count in low.most_common()]
    if items:
        return [*said, f"Below what is asked for, most pilots first: {', '.join(items)}."]
    return [*said, "No item that was judged is below what is asked for."]


def _row(row: PilotRow, found: Comparison, scale: Scale) -> dict[str, Any]:
    grades = {one.item: one for one in row.standards if one.graded}
    cells = []
    for key in found.items:
        cell, graded = row.cells.get(key), grades.get(key)
        low = cell is not None and cell.allowed < scale.asked_points
        cells.append(
            {
                "key": key,
                "cell": cell,
                "title": item_of(key).short,
                "counted": key == ENTRY,
                "shown": points_words(cell.allowed, scale.asked_points) if cell else "",
                "low": low,
                # What a phone says of a pilot in one line.
                "always": low or key == OVERALL,
                "grade": graded.graded[-1].standing.level if graded else "",
            }
        )
    return {"about": row, "cells": cells}


def _apart(found: Comparison, key: str) -> str:
    known = [cell.allowed for row in found.rows if (cell := row.cells.get(key))]
    return number(max(known) - min(known)) if len(known) > 1 else ""


def _remarks(row: PilotRow, scale: Scale) -> list[dict[str, Any]]:
    """Return the last grade of each item that is open, or on which instructors differ, with its remark."""
    told_of = [one for one in row.standards if one.graded and (one.open or one.graded[-1].differ)]
    return [{"pilot": row.pilot, **grade_row(one.graded[-1], scale)} for one in told_of]


def _exercise(title: str, flown: Sequence[FlownExercise]) -> dict[str, Any]:
    shown = _latest_of_each(flown)
    paths = [np.array(one.path, float) for one in shown if one.path and len(one.path) > 1]
    window = map_canvas(paths, 150.0, 120.0).window if paths else None
    return {
        "title": title,
        "flown": [_thumb(one, window) for one in shown],
        "left_out": len(flown) - len(shown),
    }


def _latest_of_each(flown: Sequence[FlownExercise]) -> list[FlownExercise]:
    """Keep the page readable: no more pictures than an eye can compare, shared fairly between pilots."""
    if len(flown) <= MOST_PICTURES:
        return list(flown)
    share = max(1, MOST_PICTURES // len({one.session.pilot for one in flown}))
    kept: set[int] = set()
    for pilot in {one.session.pilot for one in flown}:
        own = [one for one in flown if one.session.pilot == pilot]
        kept |= {id(one) for one in sorted(own, key=lambda one: one.session.when)[-share:]}
    return [one for one in flown if id(one) in kept]


def _thumb(one: FlownExercise, window: tuple[float, float, float, float] | None) -> dict[str, Any]:
    points = points_or_not(one.hold.points)
    wind = one.hold.wind_speed_kt
    said = "wind not known" if wind is None else f"wind {number(wind)} kt"
    finding = f"Flown by {one.session.pilot}, {points}, {said}."
    picture = thumbnail(one.path, window, finding) if one.path and len(one.path) > 1 and window else None
    return {"about": one, "points": points, "wind": said, "picture": picture}


def _leans(one: Leaning) -> bool:
    return one.verdict in ("kinder", "stricter")


def _lean_words(one: Leaning) -> str:
    if one.verdict == "too little":
        return "too few grades to tell, or on a scale that is not at hand"
    if not _leans(one) or one.lean is None:
        return "no lean can be told"
    return f"{one.verdict} than the points, by about {number(abs(one.lean), 1)} of a grade"


#: Of the table, a row per measure.
COLUMNS = (
    "pilot", "instructor", "flown_utc", "device", "lesson", "log", "log_sha256", "flight", "hold", "hold_name",
    "inbound_course_true_deg", "turns", "rules", "wind_from_true_deg", "wind_speed_kt", "tas_kt", "tas_wander_kt",
    "altitude_ft", "circuit", "item", "points", "value", "target", "tolerance", "unit", "verdict",
    "pilot_grade", "instructor_grade", "proposed_grade", "scale", "graded_by", "graded_utc", "instructor_remark",
    "own_remark", "other_grades", "program_version", "rules_version",
)  # fmt: skip


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
    """Go through the rows; what a row has beyond the columns is not written."""
    about = as_plain(session.debrief, "document", "trace") | as_plain(session) | {"log": session.log_name}
    grades = {(one.hold, one.item): one for one in graded(session)}
    for hold in session.holds:
        told = about | hold.columns() | {"hold": hold.number, "hold_name": hold.name}
        for circuit, item, score in hold.measures():
            measure = {"circuit": circuit, "item": item, **as_plain(score)}
            yield told | measure | _grades(grades.get((hold.number, item)))


def _grades(found: Graded | None) -> dict[str, Any]:
    told: dict[str, Any] = {}
    if found and found.own:
        own = found.own
        told = {"pilot_grade": own.level, "own_remark": own.remark}
        told |= {"proposed_grade": own.proposed, "scale": own.scale}
    if found and found.given:
        one = found.standing
        told |= {"instructor_grade": one.level, "instructor_remark": one.remark, "graded_by": one.grader}
        told |= {"graded_utc": iso_utc(one.graded), "proposed_grade": one.proposed, "scale": one.scale}
        told["other_grades"] = "; ".join(map(_beside, found.given[1:]))
    return told


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
    """
    if not any(one.holds for one in sessions):
        raise UsageError(
            "no such session with a hold is in the logbook", mend="analyser logbook list shows all"
        )
    found = compare(sessions, scale)
    page = out / "compare.html"
    if table is not None:
        if table.absolute() == page.absolute():
            raise UsageError("the page is written here", file=str(table), mend="give the table another name")
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
