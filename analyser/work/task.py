"""One log debriefed, from file to page: what a worker is sent, and the little that comes back."""

from __future__ import annotations

import json
import traceback
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

from analyser.collection.files import HoldFiles, HoldsForFlight
from analyser.errors import AnalyserError
from analyser.exports.circuit_table import Row, rows_of
from analyser.frozen import dataclass
from analyser.process_settings import forget_cycles
from analyser.schema.debrief_file import WrittenDebrief, WrittenFit
from analyser.schema.file_text import file_text
from analyser.work.job import Job
from analyser.work.report_names import flight_stem, program_block

if TYPE_CHECKING:
    from analyser.logbook.sessions import Trace
    from analyser.logs.track import Track
    from analyser.pages.index import ListedDebrief

ALREADY = (
    "debriefed before with the same settings, so what was found then is told again; --again does it anew"
)
#: Notices of a log that are said on the terminal: something of it is not there, or was left to a guess that the
#: person can settle. The rest stand on the page.
_SAID = frozenset(
    {
        "file-cut-off",
        "archive-damaged",
        "member-skipped",
        "flight-left-out",
        "aircraft-mixed",
        "altitude-missing",
        "date-ambiguous",
        "date-impossible",
        "option-unused",
        "unit-unknown",
    }
)
#: Codes of a file that was taken for a hold of the flight, or would have done as well.
_TAKEN, _DOUBTED, _ALIKE = "flown", ("flown-course", "flown-fix"), "flown-alike"


@dataclass(frozen=True)
class Task:
    """One log to debrief.

    ``stem`` names its page and JSON, or its first flight's; ``earlier`` are the names of the debriefs that an earlier
    run left and that still stand, empty where there is work to do; ``twin`` is the very same log, met before in this
    run. ``rows`` of a table are made where they are wanted.
    """

    log: Path
    stem: str
    job: Job
    earlier: tuple[str, ...] = ()
    twin: Path | None = None
    rows: bool = False


@dataclass(frozen=True)
class Report:
    """One debrief, as little of it as a run of thousands can keep: page (HTML), data (JSON) and a few plain lines.

    ``flight`` counts the log's flights from 1; ``rows`` are one per circuit, where wanted. Only where it was debriefed
    now: ``trace``, the flown paths, and ``entry``, what the list of all debriefs shows of it.
    """

    page: Path
    data: Path
    summary: str
    flight: int
    rows: tuple[Row, ...] = ()
    trace: Trace | None = None
    entry: ListedDebrief | None = None


@dataclass(frozen=True)
class Finished:
    """What came of one log: a report per flight in order of time, what went wrong, and what to know besides."""

    log: Path
    reports: tuple[Report, ...] = ()
    faults: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def carry_out(task: Task) -> Finished:
    """Do one task; whatever goes wrong is a fault in what comes back, never an exception."""
    if task.twin is not None:
        return Finished(task.log, notes=(f"{task.log}: the same log as {task.twin}, debriefed once",))
    try:
        if task.earlier:
            return _as_before(task)
    except (OSError, ValueError, KeyError, TypeError):
        # An earlier file that cannot be read is no loss: the log is still there.
        pass
    try:
        return _debriefed(task)
    except Exception as error:
        # One log must not end a run of a thousand.
        return Finished(task.log, faults=(fault_of(error, task.log),))


class InThisProcess:
    """Does one task after another, here; a pool of processes and a cluster are used alike, in a ``with`` statement.

    Each takes tasks as they come and gives results back in the same order, holding no more than a bounded number of
    either, so that memory does not grow with the number of logs.
    """

    def run(self, tasks: Iterable[Task]) -> Iterator[Finished]:
        """Do tasks; results come in their order."""
        for number, task in enumerate(tasks):
            if number:
                forget_cycles()
            yield carry_out(task)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        return None


def _as_before(task: Task) -> Finished:
    """Return what an earlier run found."""
    reports = []
    notes = [f"{task.log}: {ALREADY}"]
    for flight, stem in enumerate(task.earlier, 1):
        text = (task.job.out / f"{stem}.json").read_text(encoding="utf-8")
        document = WrittenDebrief.from_json(json.loads(text))
        reports.append(_report(task, stem, flight, document))
        notes += _notes(document, task)
    return Finished(task.log, tuple(reports), notes=tuple(dict.fromkeys(notes)))


def _debriefed(task: Task) -> Finished:
    """Read, judge, write page and JSON of each flight."""
    from analyser.logs.read import read_log

    log, job = task.log, task.job
    tracks = read_log(log, job.reading)
    flights = range(1, len(tracks) + 1)
    stems = [flight_stem(job.out, task.stem, flight, tracks[0].sha256) for flight in flights]
    reports: list[Report] = []
    faults: list[str] = []
    notes: list[str] = []
    # The first flight's file tells that the whole log is done, so it is written last.
    for flight in reversed(flights):
        # Where another flight could not be written, no mark of the job lets a later run take this for done.
        program = program_block(None if faults else job.fingerprint(), stems if flight == 1 else [])
        try:
            document, one = _debrief(tracks[flight - 1], task, stems[flight - 1], flight, program)
            reports.insert(0, one)
            notes = _notes(document, task) + notes
        except Exception as error:
            # One flight that fails must not cost the other flights of its log their pages.
            faults.insert(0, fault_of(error, log))
    return Finished(log, tuple(reports), tuple(faults), tuple(dict.fromkeys(notes)))


def _debrief(
    track: Track, task: Task, stem: str, flight: int, program: dict[str, Any]
) -> tuple[WrittenDebrief, Report]:
    """Write page and JSON of one flight."""
    from analyser.document import written_debrief
    from analyser.logbook.trace import trace_of
    from analyser.pages.index import entry_of, mark_of
    from analyser.pages.page import render_page
    from analyser.rules.scales import load_scales
    from analyser.whole_files import write_text_whole

    job = task.job
    given = job.holds_for(track)
    debrief = job.debriefed(track, given.holds)
    content = written_debrief(debrief)
    content = replace(content, definition_fit=_named_fits(content.definition_fit, given, job.holds))
    filled = job.recording.filled(task.log) if job.recording else {}
    rendered = render_page(debrief, content, scales=load_scales(job.scales), filled=filled)
    write_text_whole(job.out / f"{stem}.html", rendered)
    # The JSON is written last: where it is, the page is too. How it was made stands before the log.
    file = content.plain()
    file = {"schema": file["schema"], "caution": file["caution"], "program": program, **file}
    report = _report(task, stem, flight, content)
    state = write_text_whole(report.data, file_text(file))
    entry = entry_of(content, report.data, mark_of(state))
    return content, replace(report, trace=trace_of(debrief) if job.recording else None, entry=entry)


def _report(task: Task, stem: str, flight: int, document: WrittenDebrief) -> Report:
    from analyser.summary import summary

    page, data = task.job.out / f"{stem}.html", task.job.out / f"{stem}.json"
    rows = tuple(rows_of(document)) if task.rows else ()
    return Report(page, data, summary(document, str(page)), flight, rows)


def fault_of(error: Exception, log: Path) -> str:
    """Put an error into words: those of one that a person can mend; of any other, what a developer needs to find it.

    The log is named with its folder: in those of a class several have one name.
    """
    if isinstance(error, AnalyserError):
        named = error.file == log.name
        return str(
            AnalyserError(error.what, file=str(log), place=error.place, mend=error.mend) if named else error
        )
    last = traceback.extract_tb(error.__traceback__)[-1:]
    where = f" at {Path(last[0].filename).name}:{last[0].lineno}" if last else ""
    what = f"{type(error).__name__}: {error}".rstrip(": ")
    mend = "a fault of the program, not yours: please report it, with the log if you may"
    return f"{log}: this log could not be debriefed: {what}{where} ({mend})"


def _named_fits(
    fits: Iterable[WrittenFit], given: HoldsForFlight, collected: HoldFiles
) -> tuple[WrittenFit, ...]:
    """Add to how the given holds fit which files were named by themselves, and those that no hold is like."""
    named = {file.name for file in collected.named}
    unlike = WrittenFit(
        file="",
        name="",
        code="unlike",
        sentence="No hold of this flight is of this hand and about this course.",
        nearest_nm=None,
        holds=(),
        named=True,
    )
    return (
        *(replace(fit, named=fit.file in named) for fit in fits),
        *(replace(unlike, file=file) for file in given.unlike),
    )


def _notes(document: WrittenDebrief, task: Task) -> list[str]:
    """Say what of a log is not there, which hold files fitted no hold, and which fitted as well as the one taken."""
    log, given = task.log, task.job.holds
    notes = [f"{log}: {one.message}" for one in document.log.notices if one.code in _SAID]
    fits = document.definition_fit
    taken = {fit.file for fit in fits if fit.code in (_TAKEN, *_DOUBTED)}
    for fit in fits:
        if fit.code in _DOUBTED:
            notes.append(f"{log}: {fit.file}: {fit.sentence}")
        elif fit.code == _ALIKE:
            notes.append(f"{log}: {fit.file} fits as well as the hold file that was taken. {fit.sentence}")
        elif fit.named and fit.file not in taken:
            notes.append(f"{log}: {fit.file} fits no hold of this flight. {fit.sentence}")
    if document.holds and given.files and not given.named and not taken:
        count = len(given.files)
        said = "the hold file does not fit" if count == 1 else f"none of the {count} hold files fits"
        notes.append(f"{log}: {said}, so the hold is inferred from the track")
    return notes
