"""A whole run: logs gathered, named and shared out; results recorded and tabled as they come, in order."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Self

from analyser.collection.files import ENDING
from analyser.errors import AnalyserError, LogbookError, ReportError, UsageError
from analyser.exports.circuit_table import Row, is_table, open_table
from analyser.frozen import dataclass
from analyser.process_settings import interruptions_held
from analyser.schema import is_debrief
from analyser.whole_files import head_of, make_folder
from analyser.work.job import Job, Recording
from analyser.work.report_names import Names
from analyser.work.task import Finished, InThisProcess, Report, Task, fault_of

if TYPE_CHECKING:
    from analyser.logbook.book import Logbook
    from analyser.pages.index import ListedDebrief

#: Fewer logs than this are done before other processes have begun.
FEWEST_TO_SHARE = 4


class Recorder:
    """Writes debriefs into a logbook, if wanted; where it cannot be used that is a fault, and they are still made.

    ``faults`` and ``notes`` are what is to be said before the first log: of a logbook that cannot be used, and where a
    copy of an older one was made. Raises UsageError if the logbook's address is of an unknown kind.
    """

    def __init__(self, recording: Recording | None) -> None:
        self.recording = recording
        self.faults: tuple[str, ...] = ()
        self.notes: tuple[str, ...] = ()
        self._book: Logbook | None = None
        if recording is None:
            return
        from analyser.logbook.book import Logbook

        try:
            self._book = Logbook.open(recording.logbook)
            self.notes = (self._book.copy_note,) if self._book.copy_note else ()
        except LogbookError as error:
            self.faults = (f"nothing is recorded: {error}",)

    def has_recorded(self, sha256: str, flights: int) -> bool:
        """Tell whether so many flights of a log are in the logbook, as far as that is wanted."""
        try:
            if self._book is None:
                return self.recording is None
            return len(self._book.flights(sha256)) >= flights
        except AnalyserError:
            return False

    def record(self, finished: Finished) -> Finished:
        """Record what came of one log; return it with what is to be said of that."""
        notes, faults = [*finished.notes], [*finished.faults]
        for report in finished.reports if self._book is not None else ():
            try:
                notes.append(f"{finished.log}: {self._recorded(finished.log, report)}")
            except (OSError, ValueError) as error:
                faults.append(f"{report.data}: {error}")
            except AnalyserError as error:
                faults.append(fault_of(error, finished.log))
        return replace(finished, notes=tuple(notes), faults=tuple(faults))

    def _recorded(self, log: Path, report: Report) -> str:
        book, said = self._book, self.recording
        assert book is not None and said is not None
        document = json.loads(report.data.read_text(encoding="utf-8"))
        # How the file was made is left out: otherwise a renamed folder would look like another result.
        document.pop("program", None)
        pilot = said.pilot_of(log)
        outcome = book.record(
            document,
            pilot=pilot,
            instructor=said.instructor,
            device=said.device,
            lesson=said.lesson,
            trace=report.trace,
            flight=report.flight,
        )
        # The page's grade sheet holds the names, so erasing a pilot lists the page.
        book.note_files([(report.page, pilot)])
        return outcome.message

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self._book is not None:
            self._book.close()


@dataclass(frozen=True)
class Running:
    """A run under way over so many logs.

    ``faults`` and ``notes`` are what is to be said before the first log; ``results`` come one per log in the order
    given, each when it is done; ``index``, the list of all debriefs of the folder, is brought up to date when the run
    ends.
    """

    logs: int
    faults: tuple[str, ...]
    notes: tuple[str, ...]
    results: Iterator[Finished]
    index: Path


@contextmanager
def run(
    paths: Sequence[Path],
    job: Job,
    *,
    jobs: int | None = None,
    scheduler: str | None = None,
    again: bool = False,
    table: Path | None = None,
) -> Iterator[Running]:
    """Begin a run over logs and folders of logs; leaving the context ends it and puts the table in its place.

    ``jobs`` and ``scheduler`` are as for :func:`open_executor`; with ``again`` what an earlier run has done is
    debriefed anew; ``table`` is one of all circuits to write. Raises UsageError: what was asked for is impossible;
    nothing has been done then. Raises ReportError if the table cannot be written, or the folder of the reports.
    """
    from analyser.pages.index import index_path, update_index

    logs, missing = _gather(paths)
    job = _with_schools(paths, job, logs)
    begun = False
    written: dict[str, ListedDebrief] = {}

    def list_all() -> None:
        if begun:
            # Ctrl-C while the last result is shown must not leave it out of the list.
            with interruptions_held():
                update_index(job.out, written)

    with ExitStack() as stack:
        # However the run ends, what is finished is in the list, also what workers finish while they are ended.
        stack.callback(list_all)
        # First, for other processes begin while this one checks the rest.
        executor = stack.enter_context(open_executor(len(logs), jobs, scheduler))
        job.refuse_impossible()
        add_rows = stack.enter_context(open_table(table)) if table is not None else None
        recorder = stack.enter_context(Recorder(job.recording))
        if logs:
            make_folder(job.out)
        results = debrief_many(logs, job, executor, again=again, rows=add_rows is not None, recorder=recorder)
        begun = True
        kept = _kept(results, add_rows, recorder, written)
        yield Running(len(logs), (*missing, *recorder.faults), recorder.notes, kept, index_path(job.out))


def _with_schools(paths: Sequence[Path], job: Job, logs: Sequence[Path]) -> Job:
    """Add the folders that hold a folder for each pilot to the recording: each page names its pilot."""
    if job.recording is None:
        return job
    folders = [path.absolute() for path in paths if path.is_dir()]
    schools = tuple(one for one in folders if any(one in log.absolute().parents[1:] for log in logs))
    return replace(job, recording=replace(job.recording, schools=(*job.recording.schools, *schools)))


def _kept(
    results: Iterator[Finished],
    add_rows: Callable[[Iterable[Row]], None] | None,
    recorder: Recorder,
    written: dict[str, ListedDebrief],
) -> Iterator[Finished]:
    """Note each result for the list, record it and add its rows to the table before it is shown."""
    for finished in results:
        written |= {one.data.name: one.entry for one in finished.reports if one.entry is not None}
        kept = recorder.record(finished)
        if add_rows is not None:
            try:
                add_rows(row for one in finished.reports for row in one.rows)
            except ReportError as error:
                kept, add_rows = replace(kept, faults=(*kept.faults, str(error))), None
        yield kept


def open_executor(logs: int, jobs: int | None, scheduler: str | None) -> InThisProcess:
    """Choose what does the work: the cluster of a Dask scheduler at an address, or so many processes.

    Without ``jobs`` these are the cores that this process may use, where there is enough to share. Raises UsageError
    if there is no such cluster, or its workers run another version.
    """
    if scheduler is not None:
        from analyser.work.cluster import Cluster

        return Cluster(scheduler)
    wanted = cores() if jobs is None else jobs
    enough = logs >= (FEWEST_TO_SHARE if jobs is None else 2)
    if wanted == 1 or not enough:
        return InThisProcess()
    from analyser.work.pool import Pool

    return Pool(min(wanted, logs))


def cores() -> int:
    """Return how many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _gather(paths: Sequence[Path]) -> tuple[tuple[Path, ...], tuple[str, ...]]:
    """Expand files and folders to logs, in the order they were named, with a message where there is nothing to read."""
    logs: dict[Path, None] = {}
    faults = []
    for path in paths:
        try:
            logs.update(dict.fromkeys(_logs_at(path)))
        except UsageError as error:
            faults.append(str(error))
    return tuple(logs), tuple(faults)


def _logs_at(path: Path) -> list[Path]:
    """Return a file, whatever it is, or the logs of a folder: what this program wrote there is passed over.

    Raises UsageError if there is none.
    """
    from analyser.logs.read import find_logs

    if path.suffix.lower() == ENDING and path.is_file():
        mend = f"give it with --hold: analyser debrief LOG --hold {path}"
        raise UsageError("a hold file is no log", file=str(path), mend=mend)
    found = find_logs(path)
    logs = [log for log in found if not _is_own(log)] if path.is_dir() else found
    if not logs:
        mend = "name the folder that the logs are in"
        raise UsageError("no logs but the reports of some", file=str(path), mend=mend)
    return logs


def _is_own(file: Path) -> bool:
    """Tell whether a file with a log's ending is what this program wrote, perhaps into the folder of the logs."""
    kind = {".json": is_debrief, ".csv": is_table}.get(file.suffix.lower())
    # Of one that cannot be read, reading it as a log will say what is wrong with it.
    return kind is not None and kind(head_of(file))


def debrief_many(
    logs: Sequence[Path],
    job: Job,
    executor: InThisProcess,
    *,
    again: bool = False,
    rows: bool = False,
    recorder: Recorder | None = None,
) -> Iterator[Finished]:
    """Debrief many logs; results come in the order given.

    With ``again`` what an earlier run has done is debriefed anew, and so is, with its paths, what the ``recorder`` to
    which the results go has not recorded.
    """
    recorder = recorder or Recorder(None)

    def tasks() -> Iterator[Task]:
        # Names are given out here, one after another and before the work is spread, so that no two workers can
        # take the same one.
        names, fingerprint = Names(job.out), job.fingerprint()
        for log in logs:
            claim = names.claim(log)
            there, earlier = claim.earlier, tuple[str, ...]()
            if there is not None and not again and there.stands(job.out, fingerprint):
                earlier = there.stems if recorder.has_recorded(there.sha256, len(there.stems)) else ()
            yield Task(log, claim.stem, job, earlier, claim.twin, rows)

    return executor.run(tasks())
