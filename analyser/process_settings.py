"""How this process runs: one thread for linear algebra, garbage collected rarely, Ctrl-C held back for a moment.

The matrices of a hold are small, and threads that wait for one another only spin. The many small objects of a debrief
live to its end, and reference cycles are few.
"""

from __future__ import annotations

import atexit
import gc
import os
import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager

#: What the libraries below numpy and scipy read when they are loaded.
VARIABLES = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")


def use_one_thread() -> None:
    """Ask for one thread, before numpy is imported; what the user has set stands.

    On a busy machine of two cores the wind fit of an hour took up to thirty times its process time with two threads.
    """
    for name in VARIABLES:
        os.environ.setdefault(name, "1")


@contextmanager
def one_thread_for_children() -> Iterator[None]:
    """Ask for one thread in processes begun meanwhile, leaving this one's environment as it was."""
    before = dict(os.environ)
    use_one_thread()
    try:
        yield
    finally:
        for name in VARIABLES:
            if name not in before:
                os.environ.pop(name, None)


#: Objects made before the youngest generation is looked through (Python's own: 700), and how many such looks make
#: the next generation's turn. An hour's debrief makes about 100,000 with its imports, and at the usual pace a twentieth
#: of its time goes into looking them through.
THRESHOLD = (200_000, 50, 50)


def collect_rarely() -> None:
    """Look for reference cycles less often in this process; what is in none is freed at once as ever.

    At the end of the process nothing is looked through: its memory goes back with it.
    """
    gc.set_threshold(*THRESHOLD)
    atexit.register(gc.freeze)


def forget_cycles() -> None:
    """Free what the log done last left in reference cycles: a page's template holds all that it shows in some.

    Only what is young is looked through, a few milliseconds; left to itself it would be kept for hundreds of logs.
    """
    gc.collect(0)


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


def unblock_interruptions() -> None:
    """Let Ctrl-C through to this thread again, whatever it inherited from the process that started it."""
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_UNBLOCK, (signal.SIGINT,))
