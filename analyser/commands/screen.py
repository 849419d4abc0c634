"""What a person sees of a long run: results as they come, a bar where somebody is watching, plain lines in a pipe."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Self

import typer

if TYPE_CHECKING:
    from rich.progress import Progress

    from analyser.work.run import Running
    from analyser.work.task import Finished


#: A pipe gets a line no more often than this, so that a log file stays short.
_LINE_EVERY_S = 5.0


class Screen:
    """Results on standard output, messages on standard error; a bar there if it is a terminal and several logs come."""

    def __init__(self, logs: int, quiet: bool) -> None:
        self.faults = 0
        self._pages: list[Path] = []
        self._quiet = quiet
        watched = logs > 1 and not quiet and sys.stderr.isatty()
        self._bar = _new_bar("debriefed", logs) if watched else None

    def fault(self, message: str) -> None:
        """Say what went wrong."""
        self.faults += 1
        self._say(f"analyser: {message}", error=True)

    def follow(self, running: Running) -> None:
        """Show a run to its end: what was wrong before it, and what came of each log."""
        for fault in running.faults:
            self.fault(fault)
        for note in running.notes:
            self._say(f"analyser: {note}", error=True)
        for finished in running.results:
            self.show(finished)

    def show(self, finished: Finished) -> None:
        """Show what came of one log."""
        from analyser.summary import folded

        self._pages += [report.page for report in finished.reports]
        for report in finished.reports if not self._quiet else ():
            self._say(folded(report.summary))
        for note in finished.notes if not self._quiet else ():
            self._say(note, error=True)
        for message in finished.faults:
            self.fault(message)
        if self._bar is not None:
            self._bar.advance(self._bar.task_ids[0])

    def open_page(self, index: Path) -> None:
        """Open what was shown in the browser: the one page, or the list of all debriefs."""
        if self._pages:
            typer.launch(str(self._pages[0] if len(self._pages) == 1 else index))

    def _say(self, text: str, *, error: bool = False) -> None:
        from analyser.summary import plain

        shown = "\n".join(plain(line) for line in text.split("\n"))
        stream = sys.stderr if error else sys.stdout
        if self._bar is not None and stream.isatty():
            # Above the bar: text written past it would be painted over.
            self._bar.console.print(shown, markup=False, highlight=False, soft_wrap=True)
        else:
            typer.echo(shown, err=error)

    def __enter__(self) -> Self:
        if self._bar is not None:
            self._bar.start()
        return self

    def __exit__(self, *_: object) -> None:
        if self._bar is not None:
            self._bar.stop()


@contextmanager
def steps(label: str, total: int | None, *, quiet: bool = False) -> Iterator[Callable[[], None]]:
    """Show the progress of so many steps on standard error; without ``total`` nobody knows how many.

    What is given out is to be called after each step.
    """
    bar = _new_bar(label, total) if not quiet and sys.stderr.isatty() else None
    done, last = 0, time.monotonic()

    def step() -> None:
        nonlocal done, last
        done += 1
        if bar is not None:
            bar.advance(bar.task_ids[0])
        elif not quiet and (done == total or time.monotonic() - last >= _LINE_EVERY_S):
            last = time.monotonic()
            of = "" if total is None else f" of {total}"
            typer.echo(f"{label}: {done}{of}", err=True)

    with bar or nullcontext():
        yield step


def _new_bar(label: str, total: int | None) -> Progress:
    """Return a bar on standard error, with one task, that is not started yet.

    What is printed meanwhile goes past it: only lines through its own console stand above it.
    """
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    made = Progress(
        TextColumn("{task.description}"),
        MofNCompleteColumn(),
        BarColumn(),
        TimeRemainingColumn(),
        console=Console(stderr=True),
        transient=True,
        redirect_stdout=False,
        redirect_stderr=False,
    )
    made.add_task(label, total=total)
    return made
