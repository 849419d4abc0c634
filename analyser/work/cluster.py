"""Work spread over a cluster of machines that share a file system, through the client of a Dask scheduler."""

from __future__ import annotations

import asyncio
import concurrent.futures
from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from analyser import __version__
from analyser.errors import UsageError
from analyser.work.task import Finished, InThisProcess, Task, carry_out

#: Tasks in hand: enough for the largest cluster a school has, and few enough to wait for in memory.
IN_HAND = 512
#: How long to wait for the scheduler, and for its first worker.
PATIENCE_S = 15


class Cluster(InThisProcess):
    """Whatever workers a Dask scheduler has, also those that come later.

    Its address is ``tcp://host:8786``. A worker that dies has its tasks done by another. Logs and the folder of
    reports must be reachable from every machine under the same path. Raises UsageError if Dask is not installed, the
    scheduler does not answer, or its workers have no analyser or another version.
    """

    def __init__(self, scheduler: str) -> None:
        try:
            from distributed import Client
        except ImportError as error:
            raise _refusal("a cluster needs Dask", "pip install 'analyser[cluster]'") from error
        connect: Any = Client
        try:
            self._client = connect(scheduler, timeout=PATIENCE_S, set_as_default=False)
        except (OSError, ValueError, TimeoutError) as error:
            mend = "write tcp://host:8786, and see that it runs"
            raise _refusal(f"no scheduler answers at '{scheduler}'", mend) from error
        try:
            self._check_workers()
        except UsageError:
            self._client.close()
            raise

    def run(self, tasks: Iterable[Task]) -> Iterator[Finished]:
        """Do tasks; results come in their order, also when a worker dies."""
        coming, line = iter(tasks), deque[tuple[Task, Any]]()
        while True:
            while len(line) < IN_HAND and (task := next(coming, None)) is not None:
                line.append((task, self._client.submit(carry_out, _reachable(task), pure=False)))
            if not line:
                return
            task, future = line.popleft()
            yield replace(_result(task, future), log=task.log)
            # A result that is held here is held by the cluster, too.
            future.release()

    def _check_workers(self) -> None:
        try:
            self._client.wait_for_workers(1, timeout=PATIENCE_S)
            versions = set(self._client.run(_version).values())
        except TimeoutError as error:
            raise _refusal("the scheduler has no workers", "start some: dask worker ADDRESS") from error
        except Exception as error:
            mend = "install analyser on each of them"
            raise _refusal(f"the workers cannot debrief: {error}", mend) from error
        if versions != {__version__}:
            said = f"the workers run version {', '.join(sorted(versions))} and this is {__version__}"
            raise _refusal(said, "install the same version everywhere")

    def __exit__(self, *_: object) -> None:
        # Closing forgets the futures, and a scheduler drops what nobody waits for.
        self._client.close()


def _refusal(what: str, mend: str) -> UsageError:
    return UsageError(what, place="--scheduler", mend=mend)


def _version() -> str:
    return __version__


def _reachable(task: Task) -> Task:
    """Name every file from the root, for a worker's current folder is its own."""
    named = ("out", "holds", "standard", "obstacles", "scoring", "scales")
    job = replace(task.job, **{name: _from_root(getattr(task.job, name)) for name in named})
    return replace(task, log=task.log.absolute(), job=job)


def _from_root(value: Any) -> Any:
    """Name a file from the root; a name that the program knows stays as it is."""
    if isinstance(value, tuple):
        return tuple(map(_from_root, value))
    if isinstance(value, str):
        return str(Path(value).absolute()) if Path(value).is_file() else value
    return None if value is None else value.absolute()


def _result(task: Task, future: Any) -> Finished:
    try:
        finished: Finished = future.result()
    except (Exception, asyncio.CancelledError, concurrent.futures.CancelledError) as error:
        # A task that killed several workers one after another, or a scheduler that went away.
        said = str(error).splitlines()[:1] or [type(error).__name__]
        return Finished(task.log, faults=(f"{task.log}: the cluster could not debrief this log: {said[0]}",))
    return finished
