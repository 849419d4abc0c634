"""Who does the work of many logs: here this process, in the modules beside it its machine's cores, or a cluster.

Each takes tasks as they come and gives results back in the same order, holding no more than a bounded number of
either, so that memory does not grow with the number of logs.
"""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from types import TracebackType
from typing import Self

from analyser.work.task import Finished, Task, carry_out


class InThisProcess:
    """One task after another, here; the others are used alike, in a ``with`` statement."""

    def run(self, tasks: Iterable[Task]) -> Iterator[Finished]:
        """Do tasks; results come in their order."""
        return map(carry_out, tasks)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        return None


@contextmanager
def interruptions_held() -> Iterator[None]:
    """Hear of Ctrl-C afterwards: processes half begun or half ended would find what they share gone.

    Processes begun meanwhile do not hear of it at all. Outside the main thread, which is the one that is told, nothing
    changes.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    came: list[int] = []
    # The signal may be delivered to another thread, so blocking it in this one is not enough; and a process that is
    # started inherits the blocked signal, but no handler.
    before = signal.signal(signal.SIGINT, lambda number, _: came.append(number))
    blockable = hasattr(signal, "pthread_sigmask")
    mask = signal.pthread_sigmask(signal.SIG_BLOCK, (signal.SIGINT,)) if blockable else ()
    try:
        yield
    finally:
        if blockable:
            signal.pthread_sigmask(signal.SIG_SETMASK, mask)
        signal.signal(signal.SIGINT, signal.SIG_DFL if before is None else before)
    if came:
        signal.raise_signal(signal.SIGINT)


def hear_interruptions() -> None:
    """Let Ctrl-C through to this thread again, whatever it inherited from the process that started it."""
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_UNBLOCK, (signal.SIGINT,))
