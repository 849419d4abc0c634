"""Work spread over the cores of one machine, by processes of which each may be killed without ending the run.

The standard library's pool breaks as a whole when a process dies, and what was in hand is taken up again here. A pool
that restarts its processes by itself (pebble 5.2) was tried in its place: they share one pipe, and one that died while
it took a task out kept the pipe's lock, so that after two minutes every log was lost.
"""

from __future__ import annotations

import multiprocessing
import multiprocessing.connection
import os
import signal
import threading
from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from multiprocessing.context import BaseContext
from typing import Self

from analyser.process_settings import (
    collect_rarely,
    forget_cycles,
    interruptions_held,
    one_thread_for_children,
    unblock_interruptions,
)
from analyser.work.task import Finished, InThisProcess, Task, carry_out

#: Tasks in hand for each process: so many results may wait for a slow log ahead of them.
IN_HAND = 32
#: What every debrief comes to need, also what is otherwise imported only there; a server imports it once, and each
#: process starts with it.
_NEEDED = (
    "analyser.work.task",
    "analyser.logs.read",
    "analyser.debrief",
    "analyser.document",
    "analyser.summary",
    "analyser.logbook.trace",
    "analyser.pages.index",
    "analyser.pages.page",
    "analyser.whole_files",
    "jinja2",
    "numpy.ma",
    "pygeomag",
    "pyproj",
    "shapely.affinity",
    "shapely.geometry",
    "typer",
)
_ENDED = (
    "the process that debriefed this log was ended from outside, twice: it may want more memory than there is "
    "(try it alone, with --jobs 1)"
)


class Pool(InThisProcess):
    """So many processes on this machine."""

    def __init__(self, jobs: int) -> None:
        self._jobs = jobs
        self._executor: ProcessPoolExecutor | None = None

    def run(self, tasks: Iterable[Task]) -> Iterator[Finished]:
        """Do tasks; results come in their order, also when a process dies."""
        coming, line = iter(tasks), deque[tuple[Task, Future[Finished]]]()
        while True:
            while len(line) < IN_HAND * self._jobs and (task := next(coming, None)) is not None:
                line.append((task, self._submit(task)))
            if not line:
                return
            task, future = line.popleft()
            try:
                yield future.result()
            except BrokenProcessPool:
                lost = [(task, future), *line]
                line.clear()
                line.extend(self._recovered(lost))

    def _recovered(
        self, lost: list[tuple[Task, Future[Finished]]]
    ) -> Iterator[tuple[Task, Future[Finished]]]:
        """Take up again what was in hand when a process died.

        Which task ended the pool cannot be told, but it was one of those that were begun, and they are begun in
        order. Each of these is done alone, so that only that one can fail; the rest goes on as before.
        """
        self._end()
        # The executor hands out one task more than it has processes before it is asked for it.
        begun = 2 * self._jobs + 1
        for task, future in lost:
            if future.done() and not future.cancelled() and future.exception() is None:
                yield task, future
            elif begun > 0:
                begun -= 1
                alone: Future[Finished] = Future()
                alone.set_result(self._alone(task))
                yield task, alone
            else:
                yield task, self._submit(task)

    def _submit(self, task: Task) -> Future[Finished]:
        # An interruption in here could leave a worker that the executor does not know of and never ends.
        with interruptions_held():
            if self._executor is None:
                self._executor = _begin(self._jobs)
            try:
                return self._executor.submit(_do, task)
            except BrokenProcessPool as error:
                broken: Future[Finished] = Future()
                broken.set_exception(error)
                return broken

    def _alone(self, task: Task) -> Finished:
        with Pool(1) as alone:
            try:
                return alone._submit(task).result()
            except BrokenProcessPool:
                return Finished(task.log, faults=(f"{task.log}: {_ENDED}",))

    def _end(self) -> None:
        if self._executor is None:
            return
        # A second Ctrl-C must not break off the shutdown: workers not told to end would be waited for at exit.
        with interruptions_held():
            self._executor.shutdown(wait=True, cancel_futures=True)
            self._executor = None

    def __enter__(self) -> Self:
        _start_server()
        return self

    def __exit__(self, *_: object) -> None:
        self._end()


def _begin(jobs: int) -> ProcessPoolExecutor:
    context = _context()
    with one_thread_for_children():
        executor = ProcessPoolExecutor(jobs, mp_context=context, initializer=_prepare)
        # The first task starts the processes, which inherit the environment as it is now.
        executor.submit(int).result()
    return executor


def _start_server() -> None:
    """Let what processes start from begin with its imports now, while this process goes on."""
    context = _context()
    if context.get_start_method() != "forkserver":
        return
    # These modules exist only where there are fork servers.
    from multiprocessing import forkserver, resource_tracker

    # Starting the resource tracker unblocks SIGINT, so it is started before SIGINT is held back.
    resource_tracker.ensure_running()
    with one_thread_for_children(), interruptions_held():
        forkserver.ensure_running()


def _context() -> BaseContext:
    # Not fork: a process with a progress display has threads, and a copy of a lock that is held stays held.
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(list(_NEEDED))
    return context


def _prepare() -> None:
    """Begin a worker: Ctrl-C is handled by the parent, and the worker ends when the parent does."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    # The signal is blocked in a new process as it is in the server that it starts from.
    unblock_interruptions()
    collect_rarely()
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()


def _end_with(sentinel: int) -> None:
    multiprocessing.connection.wait([sentinel])
    os._exit(1)


def _do(task: Task) -> Finished:
    """Do a task in a worker, breaking it off on Ctrl-C: files are written whole or not at all."""
    signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        return carry_out(task)
    finally:
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        forget_cycles()
