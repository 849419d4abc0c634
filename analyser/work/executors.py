"""The one seam between many logs and whoever works on them: this process, its machine's cores, or a cluster.

Each takes tasks as they come and gives results back in the same order, holding no more than a bounded number of
either, so that memory does not grow with the number of logs.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from types import TracebackType
from typing import Protocol, Self

from analyser.work.task import Finished, Task, carry_out

#: Fewer logs than this are done before other processes have begun.
FEWEST_TO_SHARE = 4


class Seam(Protocol):
    """Whoever does tasks."""

    def run(self, tasks: Iterable[Task]) -> Iterator[Finished]:
        """Do tasks; results come in their order."""
        ...

    def __enter__(self) -> Self: ...

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None: ...


class InThisProcess:
    """One task after another, here."""

    def run(self, tasks: Iterable[Task]) -> Iterator[Finished]:
        """Do tasks; results come in their order."""
        return map(carry_out, tasks)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        return None


def open_seam(logs: int, jobs: int | None, scheduler: str | None) -> Seam:
    """Choose who does the work.

    Parameters
    ----------
    logs : int
        How many there are.
    jobs : int or None
        Processes to use; None: the cores that this process may use, where there is enough to share.
    scheduler : str or None
        Address of a Dask scheduler: its cluster does the work.

    Returns
    -------
    Seam
        To be used in a ``with`` statement.

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
