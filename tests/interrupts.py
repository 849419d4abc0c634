"""Starting a child that hears Ctrl-C, whatever the tests themselves were started by."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def interrupts_heard() -> Iterator[None]:
    """Let children started within hear interrupts: ``nohup`` and a shell's ``&`` hand down that they are ignored."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
