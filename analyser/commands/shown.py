"""How long work shows itself: a bar where a person is watching, plain lines in a pipe."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import typer

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


def _nothing(_said: str = "") -> None:
    pass


def _bar(label: str, total: int | None) -> Iterator[Callable[[str], None]]:
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
        TextColumn("{task.fields[said]}", markup=False),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as shown:
        task = shown.add_task(label, total=total, said="")

        def step(said: str = "") -> None:
            shown.update(task, advance=1, said=said)

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
