"""One log's whole way from file to page: the unit of work that is repeated, spread over cores, or watched for."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from analyser.errors import AnalyserError, ReportError
from analyser.holds.definition import Hold


@dataclass(frozen=True)
class Job:
    """How logs are to be debriefed; the same for all logs of a run.

    Attributes
    ----------
    out : Path
        Folder for pages and JSON; made if need be.
    hold_file : Path or None
        Read anew for each log, for the variation depends on the flight's date.
    rules : "icao" or "faa"
    standard : str or None
    columns, units : mapping of str to str
        What the user says of a table's columns.
    leave_fix_at : str or None
        UTC time of day or date and time to leave the fix, overriding the hold file.
    """

    out: Path
    hold_file: Path | None = None
    rules: str = "icao"
    standard: str | None = None
    columns: Mapping[str, str] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)
    leave_fix_at: str | None = None


@dataclass(frozen=True)
class Report:
    """One debrief as written.

    Attributes
    ----------
    page, data : Path
        HTML and JSON.
    document : dict
        The JSON's content.
    """

    page: Path
    data: Path
    document: dict[str, Any]


@dataclass(frozen=True)
class Outcome:
    """What came of one log.

    Attributes
    ----------
    log : Path
    reports : tuple of Report
        One per aircraft in the log.
    faults : tuple of str
        Messages for the person; empty where all went well.
    """

    log: Path
    reports: tuple[Report, ...] = ()
    faults: tuple[str, ...] = ()


def debrief_file(log: Path, job: Job) -> Outcome:
    """Debrief one log: read, judge, write page and JSON.

    Parameters
    ----------
    log : Path
    job : Job

    Returns
    -------
    Outcome
        A log that cannot be read, or a page that cannot be written, is a fault in it, never an exception.
    """
    from analyser.logs.read import ReadOptions, read_log

    try:
        tracks = read_log(log, ReadOptions(columns=job.columns, units=job.units))
    except AnalyserError as error:
        return Outcome(log, faults=(str(error),))
    reports: list[Report] = []
    faults: list[str] = []
    for track in tracks:
        try:
            reports.append(_debrief(log, track, job))
        except ReportError as error:
            faults.append(str(error))
    return Outcome(log, tuple(reports), tuple(faults))


def _debrief(log: Path, track: Any, job: Job) -> Report:
    from analyser.debrief import debrief_track
    from analyser.document import document
    from analyser.pages.page import render_page
    from analyser.pages.write import write_text_whole

    debrief = debrief_track(
        track, hold=read_job_hold(job, track.start_utc), rules=job.rules, standard=job.standard
    )
    content = document(debrief)
    stem = free_stem(job.out, log.stem, track.name, track.sha256)
    page, data = job.out / f"{stem}.html", job.out / f"{stem}.json"
    write_text_whole(page, render_page(debrief, content))
    write_text_whole(data, json.dumps(content, ensure_ascii=False, indent=1, allow_nan=False) + "\n")
    return Report(page, data, content)


def read_job_hold(job: Job, start_utc: Any) -> Hold | None:
    """Read a job's hold file for a flight of a given date.

    Parameters
    ----------
    job : Job
    start_utc : datetime or None

    Returns
    -------
    Hold or None

    Raises
    ------
    HoldFileError
        The file is wrong.
    UsageError
        The time to leave is no time, or there is no hold file to go with it.
    """
    if job.hold_file is None:
        return None
    from analyser.holds.holdfile import read_hold

    hold = read_hold(job.hold_file, start_utc)
    if job.leave_fix_at is None:
        return hold
    return replace(hold, leave_fix_at=parse_leave_time(job.leave_fix_at, start_utc))


def parse_leave_time(text: str, start_utc: Any) -> Any:
    """Read a time to leave the fix.

    Parameters
    ----------
    text : str
        ``2026-03-14T18:32:00Z``, or ``18:32`` or ``18:32:00`` (UTC) on the day of the flight.
    start_utc : datetime or None
        The flight's first sample.

    Returns
    -------
    datetime or None
        Aware; None for a time of day where the log has no date.

    Raises
    ------
    UsageError
        It is no time.
    """
    from datetime import UTC, datetime, time, timedelta

    from analyser.errors import UsageError

    try:
        if "T" in text or " " in text:
            given = datetime.fromisoformat(text)
            return given if given.tzinfo else given.replace(tzinfo=UTC)
        of_day = time.fromisoformat(text.removesuffix("Z"))
    except ValueError:
        mend = "write 18:32, 18:32:00 or 2026-03-14T18:32:00Z, in UTC"
        raise UsageError(f"'{text}' is no time", place="--leave-at", mend=mend) from None
    if start_utc is None:
        return None
    leave = datetime.combine(start_utc.date(), of_day, tzinfo=UTC)
    return leave if leave >= start_utc else leave + timedelta(days=1)


def free_stem(out: Path, stem: str, name: str, sha256: str) -> str:
    """Choose a file stem under which nothing of another log is overwritten.

    Parameters
    ----------
    out : Path
    stem : str
        The log's stem, wanted.
    name, sha256 : str
        Of the track: a debrief of the very same one is replaced.

    Returns
    -------
    str
        ``stem``, or ``stem-2``, ``stem-3`` …
    """
    for number in range(1, 100_000):
        candidate = stem if number == 1 else f"{stem}-{number}"
        taken_by = _owner(out / f"{candidate}.json")
        if taken_by in (None, (name, sha256)) and (taken_by or not (out / f"{candidate}.html").exists()):
            return candidate
    raise ReportError(
        "there are too many reports of this name", file=str(out / stem), mend="use another --out"
    )


def _owner(data: Path) -> tuple[str, str] | None:
    """Return name and hash of the log that an earlier JSON speaks of; None where there is none to respect."""
    if not data.exists():
        return None
    try:
        log = json.loads(data.read_text(encoding="utf-8"))["log"]
        return str(log["name"]), str(log["sha256"])
    except (OSError, ValueError, KeyError, TypeError):
        return "", ""


def debrief_all(logs: Sequence[Path], job: Job, *, jobs: int = 1) -> Iterator[Outcome]:
    """Debrief many logs, in order.

    Parameters
    ----------
    logs : sequence of Path
    job : Job
    jobs : int
        Processes to use; 1 works in this one.

    Yields
    ------
    Outcome
        One per log, in the order given.
    """
    for log in logs:
        yield debrief_file(log, job)
