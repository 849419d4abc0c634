"""Ctrl-C, held back while other processes begin or end: half begun, they would find what they share gone."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def interruptions_held() -> Iterator[None]:
    """Hear of Ctrl-C afterwards; processes begun meanwhile do not hear of it at all.

    Outside the main thread, which is the one that is told, nothing changes.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    came: list[int] = []
    # The signal may be delivered to another thread, so blocking it in this one is not enough; and a process that is
    # started inherits the blocked signal, but no handler.
    before = signal.signal(signal.SIGINT, lambda number, _: came.append(number))
    try:
        with _signal_blocked():
            yield
    finally:
        signal.signal(signal.SIGINT, signal.SIG_DFL if before is None else before)
    if came:
        signal.raise_signal(signal.SIGINT)


@contextmanager
def _signal_blocked() -> Iterator[None]:
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, (signal.SIGINT,))
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def hear_interruptions() -> None:
    """Let Ctrl-C through to this thread again, whatever it inherited from the process that started it."""
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_UNBLOCK, (signal.SIGINT,))
