"""A whole run: logs gathered, named and shared out; results written, recorded and tabled as they come, in order."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Self

from analyser.collection.files import ENDING
from analyser.errors import AnalyserError, LogbookError, ReportError, UsageError
from analyser.frozen import dataclass
from analyser.process_settings import interruptions_held
from analyser.whole_files import make_folder
from analyser.work.circuit_table import Row, is_table, open_table
from analyser.work.job import Job, Recording
from analyser.work.list_of_debriefs import index_path, update_index
from analyser.work.report_names import Names, is_debrief
from analyser.work.task import Finished, InThisProcess, Task, Told

if TYPE_CHECKING:
    from analyser.logbook.book import Logbook
    from analyser.pages.index import ListedDebrief

#: Fewer logs than this are done before other processes have begun.
FEWEST_TO_SHARE = 4


@dataclass(frozen=True)
class Orders:
    """What was asked for.

    Attributes
    ----------
    paths : sequence of Path
        Logs and folders of logs.
    jobs : int or None
        Processes; None: as many as there are cores.
    scheduler : str or None
        Address of a cluster's scheduler.
    again : bool
        Debrief anew what an earlier run has done.
    """

    paths: Sequence[Path]
    job: Job
    jobs: int | None = None
    scheduler: str | None = None
    again: bool = False
    table: Path | None = None


@dataclass(frozen=True)
class Running:
    """A run under way.

    Attributes
    ----------
    logs : int
        How many there are.
    faults, notes : tuple of str
        What is wrong, and what is to be known, before the first log.
    results : iterator of Finished
        One per log in the order given, each when it is done.
    index : Path
        The list of all debriefs of the folder, brought up to date when the run ends.
    """

    logs: int
    faults: tuple[str, ...]
    notes: tuple[str, ...]
    results: Iterator[Finished]
    index: Path


@contextmanager
def run(orders: Orders) -> Iterator[Running]:
    """Begin a run; leaving the context ends it and puts the table in its place.

    Raises
    ------
    UsageError
        What was asked for is impossible; nothing has been done then.
    ReportError
        The table cannot be written, or the folder of the reports.
    """
    logs, missing = gather(orders.paths)
    orders = _with_schools(orders, logs)
    recording = orders.job.recording
    begun = False
    written: dict[str, ListedDebrief] = {}
    with ExitStack() as stack:
        # However the run ends, what is finished is in the list, also what workers finish while they are ended.
        stack.callback(lambda: _list_all(orders.job.out, written) if begun else None)
        # First, for other processes begin while this one looks at the rest.
        executor = stack.enter_context(open_executor(len(logs), orders.jobs, orders.scheduler))
        orders.job.refuse_impossible()
        tabled = stack.enter_context(open_table(orders.table)) if orders.table is not None else None
        keeper = stack.enter_context(Keeper(recording)) if recording is not None else None
        if logs:
            make_folder(orders.job.out)
        results = debrief_many(
            logs,
            orders.job,
            executor,
            again=orders.again,
            rows=tabled is not None,
            trace=keeper is not None,
            told_elsewhere=keeper.knows if keeper is not None else None,
        )
        begun = True
        faults = missing if keeper is None or not keeper.fault else (*missing, keeper.fault)
        notes = (keeper.note,) if keeper is not None and keeper.note else ()
        handed_on = _handed_on(results, tabled, keeper, written)
        yield Running(len(logs), faults, notes, handed_on, index_path(orders.job.out))


def _list_all(out: Path, written: Mapping[str, ListedDebrief]) -> None:
    # Ctrl-C while the last result is shown must not leave it out of the list.
    with interruptions_held():
        update_index(out, written)


def _with_schools(orders: Orders, logs: Sequence[Path]) -> Orders:
    """Find the folders that hold a folder for each pilot, and let each page know whose flight it is."""
    recording = orders.job.recording
    if recording is None:
        return orders
    folders = [path.absolute() for path in orders.paths if path.is_dir()]
    schools = tuple(one for one in folders if any(one in log.absolute().parents[1:] for log in logs))
    recording = replace(recording, schools=(*recording.schools, *schools))
    return replace(orders, job=replace(orders.job, recording=recording))


def _handed_on(
    results: Iterator[Finished],
    tabled: Callable[[Iterable[Row]], None] | None,
    keeper: Keeper | None,
    written: dict[str, ListedDebrief],
) -> Iterator[Finished]:
    for finished in results:
        written |= {told.data.name: told.entry for told in finished.told if told.entry is not None}
        notes, faults = keeper.keep(finished) if keeper is not None else ([], [])
        if tabled is not None:
            try:
                tabled(row for told in finished.told for row in told.rows)
            except ReportError as error:
                faults, tabled = [*faults, str(error)], None
        yield replace(finished, notes=(*finished.notes, *notes), faults=(*finished.faults, *faults))


def open_executor(logs: int, jobs: int | None, scheduler: str | None) -> InThisProcess:
    """Choose who does the work.

    Parameters
    ----------
    logs : int
        How many there are.
    jobs : int or None
        Processes to use; None: the cores that this process may use, where there is enough to share.
    scheduler : str or None
        Address of a Dask scheduler: its cluster does the work.

    Raises
    ------
    UsageError
        There is no such cluster, or its workers run another version.
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


def gather(paths: Sequence[Path]) -> tuple[tuple[Path, ...], tuple[str, ...]]:
    """Expand files and folders to logs.

    Parameters
    ----------
    paths : sequence of Path
        A file is taken whatever it is; in a folder, debriefs and tables that this program wrote are passed over.

    Returns
    -------
    logs : tuple of Path
        In the order they were named; those of a folder by name.
    faults : tuple of str
        One message for each path at which there is nothing to read.
    """
    from analyser.logs.read import find_logs

    logs: dict[Path, None] = {}
    faults = []
    for path in paths:
        try:
            found = find_logs([path])
        except UsageError as error:
            faults.append(str(error))
            continue
        if path.suffix.lower() == ENDING and path.is_file():
            mend = f"give it with --hold: analyser debrief LOG --hold {path}"
            faults.append(str(UsageError("a hold file is no log", file=str(path), mend=mend)))
            continue
        if path.is_dir():
            found = [log for log in found if not _is_own(log)]
            if not found:
                mend = "name the folder that the logs are in"
                faults.append(str(UsageError("no logs but the reports of some", file=str(path), mend=mend)))
        logs.update(dict.fromkeys(found))
    return tuple(logs), tuple(faults)


def _is_own(file: Path) -> bool:
    """Tell whether a file with a log's ending is what this program wrote, perhaps into the folder of the logs."""
    kind = {".json": is_debrief, ".csv": is_table}.get(file.suffix.lower())
    if kind is None:
        return False
    try:
        with file.open(encoding="utf-8-sig", errors="replace") as text:
            return kind(text.read(200))
    except OSError:
        # Whoever reads it as a log will say what is wrong with it.
        return False


def debrief_many(
    logs: Sequence[Path],
    job: Job,
    executor: InThisProcess,
    *,
    again: bool = False,
    rows: bool = False,
    trace: bool = False,
    told_elsewhere: Callable[[str, int], bool] | None = None,
) -> Iterator[Finished]:
    """Debrief many logs; results come in the order given.

    Parameters
    ----------
    executor : InThisProcess or another
        Who does the work.
    again : bool
        Debrief anew what an earlier run has done.
    rows, trace : bool
        As in :class:`~analyser.work.task.Task`.
    told_elsewhere : callable, optional
        Takes a log's SHA-256 and how many flights it holds, and tells whether it need not be debriefed again; where
        left out it never needs to be.
    """

    def tasks() -> Iterator[Task]:
        # Names are given out here, one after another and before the work is spread, so that no two workers can
        # take the same one.
        names, fingerprint = Names(job.out), job.fingerprint()
        for log in logs:
            claim = names.claim(log)
            there = claim.earlier
            stands = there is not None and not again and there.stands(job.out, fingerprint)
            if there is not None and stands and told_elsewhere is not None:
                stands = told_elsewhere(there.sha256, len(there.stems))
            earlier = there.stems if there is not None and stands else ()
            yield Task(log, claim.stem, job, earlier, claim.twin, rows, trace)

    return executor.run(tasks())


class Keeper:
    """Writes debriefs into a logbook; a logbook that cannot be used is a fault, the debriefs are still made.

    Raises
    ------
    UsageError
        The logbook's address is of an unknown kind.
    """

    def __init__(self, recording: Recording) -> None:
        from analyser.logbook.book import Logbook

        self._recording = recording
        self._book: Logbook | None = None
        self.fault = self.note = ""
        try:
            self._book = Logbook.open(recording.logbook)
            self.note = self._book.copy_note
        except LogbookError as error:
            self.fault = f"nothing is recorded: {error}"

    def knows(self, sha256: str, flights: int) -> bool:
        """Tell whether a log of so many flights is in the logbook, with its paths, so that no new debrief is needed."""
        try:
            return self._book is not None and len(self._book.flights(sha256)) >= flights
        except AnalyserError:
            return False

    def keep(self, finished: Finished) -> tuple[list[str], list[str]]:
        """Record what came of one log."""
        notes: list[str] = []
        faults: list[str] = []
        if self._book is None:
            return notes, faults
        for told in finished.told:
            try:
                notes.append(f"{finished.log}: {self._record(self._book, finished.log, told)}")
            except (AnalyserError, OSError, ValueError) as error:
                faults.append(str(error) if isinstance(error, AnalyserError) else f"{told.data}: {error}")
        return notes, faults

    def _record(self, book: Logbook, log: Path, told: Told) -> str:
        document = json.loads(told.data.read_text(encoding="utf-8"))
        # How the file was made is left out: otherwise a renamed folder would look like another result.
        document.pop("program", None)
        said = self._recording
        outcome = book.record(
            document,
            pilot=said.pilot_of(log),
            instructor=said.instructor,
            device=said.device,
            lesson=said.lesson,
            trace=told.trace,
            flight=told.flight,
        )
        # The page's grade sheet holds the names, so whoever erases a pilot is told of the page.
        book.note_files([(told.page, said.pilot_of(log))])
        return outcome.message

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._book is not None:
            self._book.close()
