"""What is sent to whoever does the work, and what comes back: small, whatever the size of the log."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from analyser.work.job import Job
from analyser.work.notes import notes_of
from analyser.work.one import Report, debrief_file, said
from analyser.work.table import Row, rows_of

if TYPE_CHECKING:
    from analyser.logbook.sessions import Trace

ALREADY = (
    "debriefed before with the same settings, so what was found then is told again; --again does it anew"
)


@dataclass(frozen=True)
class Task:
    """One log to debrief.

    Attributes
    ----------
    log : Path
    stem : str
        Name of its page and JSON, or of its first flight's.
    job : Job
    earlier : tuple of str
        Names of the debriefs that an earlier run left and that still stand; empty where there is work to do.
    twin : Path or None
        The very same log, met before in this run.
    rows, trace : bool
        Whether rows of a table, and paths for a logbook, are wanted with it.
    """

    log: Path
    stem: str
    job: Job
    earlier: tuple[str, ...] = ()
    twin: Path | None = None
    rows: bool = False
    trace: bool = False


@dataclass(frozen=True)
class Told:
    """One debrief, as little of it as a run of thousands can keep.

    Attributes
    ----------
    page, data : Path
        HTML and JSON on disk.
    summary : str
        A few plain lines.
    flight : int
        Which flight of the log, from 1.
    rows : tuple of Row
        One per circuit, where wanted.
    trace : sequence or None
        Flown paths, where wanted and debriefed now.
    """

    page: Path
    data: Path
    summary: str
    flight: int = 1
    rows: tuple[Row, ...] = ()
    trace: Trace | None = None


@dataclass(frozen=True)
class Finished:
    """What came of one log.

    Attributes
    ----------
    log : Path
    told : tuple of Told
        One per flight.
    faults : tuple of str
        What went wrong; empty where all went well.
    notes : tuple of str
        What the person should know besides.
    """

    log: Path
    told: tuple[Told, ...] = ()
    faults: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def carry_out(task: Task) -> Finished:
    """Do one task.

    Returns
    -------
    Finished
        Whatever goes wrong is a fault in it, never an exception.
    """
    if task.twin is not None:
        return Finished(task.log, notes=(f"{task.log}: the same log as {task.twin}, debriefed once",))
    if task.earlier:
        try:
            reports = [_left(task, flight) for flight in range(1, len(task.earlier) + 1)]
            found = _finished(task, reports)
            return replace(found, notes=(f"{task.log}: {ALREADY}", *found.notes))
        except (OSError, ValueError, KeyError, TypeError):
            # An earlier file that cannot be told again is no loss: the log is still there.
            pass
    try:
        outcome = debrief_file(task.log, task.job, stem=task.stem)
        return _finished(task, outcome.reports, outcome.faults)
    except Exception as error:
        # One log must not end a run of a thousand.
        return Finished(task.log, faults=(said(error, task.log),))


def _left(task: Task, flight: int) -> Report:
    """Return a report as an earlier run left it."""
    stem = task.earlier[flight - 1]
    page, data = task.job.out / f"{stem}.html", task.job.out / f"{stem}.json"
    return Report(page, data, json.loads(data.read_text(encoding="utf-8")), flight, None)


def _finished(task: Task, reports: Sequence[Report], faults: tuple[str, ...] = ()) -> Finished:
    notes = [note for report in reports for note in notes_of(report.document, task.log, task.job.holds)]
    return Finished(
        task.log, tuple(_told(task, report) for report in reports), faults, tuple(dict.fromkeys(notes))
    )


def _told(task: Task, report: Report) -> Told:
    from analyser.summary import summary

    rows = tuple(rows_of(report.document)) if task.rows else ()
    trace = report.trace if task.trace else None
    return Told(
        report.page, report.data, summary(report.document, str(report.page)), report.flight, rows, trace
    )
