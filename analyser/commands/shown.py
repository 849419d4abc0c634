"""How long work shows itself: a bar where a person is watching, plain lines in a pipe."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from rich.progress import Progress, TaskID

#: A pipe gets a line no more often than this, so that a log file stays short.
_LINE_EVERY_S = 5.0


@contextmanager
def steps(label: str, total: int | None, *, quiet: bool = False) -> Iterator[Callable[[str], None]]:
    """Show the progress of some work on standard error.

    Parameters
    ----------
    label : str
        What is being done.
    total : int or None
        How many steps; None where nobody knows.
    quiet : bool
        Show nothing.

    Yields
    ------
    callable
        To be called after each step, with a word about it (or none).
    """
    if quiet:
        yield _nothing
    elif sys.stderr.isatty():
        yield from _bar(label, total)
    else:
        yield _lines(label, total)


def bar(label: str, total: int | None) -> tuple[Progress, TaskID]:
    """Return a bar on standard error that is not started yet, and its one task.

    What is printed meanwhile goes past it: only lines through its own console stand above it.
    """
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (
        TextColumn("{task.description}"),
        MofNCompleteColumn(),
        BarColumn(),
        TimeRemainingColumn(),
        TextColumn("{task.fields[said]}", markup=False),
    )
    made = Progress(
        *columns,
        console=Console(stderr=True),
        transient=True,
        redirect_stdout=False,
        redirect_stderr=False,
    )
    return made, made.add_task(label, total=total, said="")


def _nothing(_said: str = "") -> None:
    pass


def _bar(label: str, total: int | None) -> Iterator[Callable[[str], None]]:
    shown, task = bar(label, total)

    def step(said: str = "") -> None:
        shown.update(task, advance=1, said=said)

    with shown:
        yield step


def _lines(label: str, total: int | None) -> Callable[[str], None]:
    done, last = 0, time.monotonic()

    def step(said: str = "") -> None:
        nonlocal done, last
        done += 1
        if done == total or time.monotonic() - last >= _LINE_EVERY_S:
            last = time.monotonic()
            of = "" if total is None else f" of {total}"
            typer.echo(f"{label}: {done}{of}{' ' + said if said else ''}", err=True)

    return step
