"""Starting a program that hears Ctrl-C, whatever the tests themselves were started by."""

from __future__ import annotations

import signal
import subprocess
from collections.abc import Sequence
from pathlib import Path


def start_hearing_interrupts(command: Sequence[str], folder: Path) -> subprocess.Popen[str]:
    """Start a program in a group of its own: ``nohup`` and a shell's ``&`` hand down that interrupts are ignored.

    Parameters
    ----------
    folder : Path
        To start it in.

    Returns
    -------
    subprocess.Popen of str
        Its output and errors are pipes of text.
    """
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    pipe = subprocess.PIPE
    try:
        return subprocess.Popen(
            command, cwd=folder, stdout=pipe, stderr=pipe, text=True, start_new_session=True
        )
    finally:
        signal.signal(signal.SIGINT, before)
