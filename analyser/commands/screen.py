"""What a person sees of a long run: results as they come, and a bar where somebody is watching."""

from __future__ import annotations

import sys
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Self

import typer

from analyser.commands.shown import bar

if TYPE_CHECKING:
    from rich.progress import Progress, TaskID

    from analyser.work.task import Finished


class Screen:
    """Results on standard output, messages on standard error; a bar there if it is a terminal.

    Parameters
    ----------
    logs : int
        How many are coming.
    quiet : bool
        Errors only.
    """

    def __init__(self, logs: int, quiet: bool) -> None:
        self.faults = 0
        self._pages: list[Path] = []
        self._quiet = quiet
        self._bar: Progress | None = None
        self._line: TaskID | None = None
        if logs > 1 and not quiet and sys.stderr.isatty():
            self._bar, self._line = bar("debriefed", logs)

    def fault(self, message: str) -> None:
        """Say what went wrong."""
        self.faults += 1
        self._say(f"analyser: {message}", error=True)

    def show(self, finished: Finished) -> None:
        """Show what came of one log."""
        from analyser.summary import folded

        self._pages += [told.page for told in finished.told]
        for told in finished.told if not self._quiet else ():
            self._say(folded(told.summary))
        for note in finished.notes if not self._quiet else ():
            self._say(note, error=True)
        for message in finished.faults:
            self.fault(message)
        if self._bar is not None and self._line is not None:
            self._bar.advance(self._line)

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

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._bar is not None:
            self._bar.stop()
