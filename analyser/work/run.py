"""A whole run: logs gathered, work spread, results written, recorded and tabled as they come."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from analyser.errors import ReportError
from analyser.work.executors import open_seam
from analyser.work.gather import gather
from analyser.work.index import index_path, update_index
from analyser.work.interruptions import interruptions_held
from analyser.work.job import Job, refuse_impossible
from analyser.work.many import debrief_many
from analyser.work.record import Keeper
from analyser.work.session import Session
from analyser.work.table_file import TableFile, open_table
from analyser.work.task import Finished


@dataclass(frozen=True)
class Orders:
    """What was asked for.

    Attributes
    ----------
    paths : sequence of Path
        Logs and folders of logs.
    job : Job
    jobs : int or None
        Processes; None: as many as there are cores.
    scheduler : str or None
        Address of a cluster's scheduler.
    again : bool
        Debrief anew what an earlier run has done.
    table : Path or None
    session : Session or None
        Where the debriefs are to be recorded.
    """

    paths: Sequence[Path]
    job: Job
    jobs: int | None = None
    scheduler: str | None = None
    again: bool = False
    table: Path | None = None
    session: Session | None = None


@dataclass(frozen=True)
class Running:
    """A run under way.

    Attributes
    ----------
    logs : int
        How many there are.
    faults : tuple of str
        What is wrong before the first log.
    results : iterator of Finished
        One per log in the order given, each when it is done.
    index : Path
        The list of all debriefs of the folder, brought up to date when the run ends.
    """

    logs: int
    faults: tuple[str, ...]
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
        The table cannot be written.
    """
    found = gather(orders.paths)
    orders = _with_schools(orders, found.logs)
    begun = False
    with ExitStack() as stack:
        # However the run ends, what is finished is in the list, also what workers finish while they are ended.
        stack.callback(lambda: _list_all(orders.job.out) if begun else None)
        # First, for other processes begin while this one looks at the rest.
        seam = stack.enter_context(open_seam(len(found.logs), orders.jobs, orders.scheduler))
        refuse_impossible(orders.job)
        table = stack.enter_context(open_table(orders.table)) if orders.table is not None else None
        keeper = stack.enter_context(Keeper(orders.session)) if orders.session is not None else None
        results = debrief_many(
            found.logs,
            orders.job,
            seam,
            again=orders.again,
            rows=table is not None,
            trace=keeper is not None,
            told_elsewhere=keeper.knows if keeper is not None else None,
        )
        begun = True
        faults = found.faults if keeper is None or not keeper.fault else (*found.faults, keeper.fault)
        yield Running(len(found.logs), faults, _handed_on(results, table, keeper), index_path(orders.job.out))


def _list_all(out: Path) -> None:
    # Whoever interrupts when the last result is shown would find it missing from the list.
    with interruptions_held():
        update_index(out)


def _with_schools(orders: Orders, logs: Sequence[Path]) -> Orders:
    """Find the folders that hold a folder for each pilot, and let each page know whose flight it is."""
    session = orders.session
    if session is None:
        return orders
    folders = [path.absolute() for path in orders.paths if path.is_dir()]
    schools = tuple(one for one in folders if any(one in log.absolute().parents[1:] for log in logs))
    session = replace(session, schools=(*session.schools, *schools))
    return replace(orders, session=session, job=replace(orders.job, session=session))


def _handed_on(
    results: Iterator[Finished], table: TableFile | None, keeper: Keeper | None
) -> Iterator[Finished]:
    for finished in results:
        notes, faults = keeper.keep(finished) if keeper is not None else ([], [])
        if table is not None:
            try:
                table.add(row for told in finished.told for row in told.rows)
            except ReportError as error:
                faults, table = [*faults, str(error)], None
        yield replace(finished, notes=(*finished.notes, *notes), faults=(*finished.faults, *faults))
