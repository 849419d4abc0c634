"""Debriefs on their way into a pilot's logbook, one transaction each."""

from __future__ import annotations

import json
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Self

from analyser.errors import AnalyserError, LogbookError
from analyser.work.session import Session
from analyser.work.task import Finished, Told

if TYPE_CHECKING:
    from analyser.logbook.book import Logbook


class Keeper:
    """Writes debriefs into a logbook; a logbook that cannot be used is a fault, the debriefs are still made.

    Raises
    ------
    UsageError
        The logbook's address is of an unknown kind.
    """

    def __init__(self, session: Session) -> None:
        from analyser.logbook.book import Logbook

        self._session = session
        self._book: Logbook | None = None
        self.fault = self.note = ""
        try:
            self._book = Logbook.open(session.logbook)
            self.note = self._book.copy_note
        except LogbookError as error:
            self.fault = f"nothing is recorded: {error}"

    def knows(self, sha256: str, flights: int) -> bool:
        """Tell whether a log is in the logbook, with its paths, so that its earlier debrief is enough.

        Parameters
        ----------
        sha256 : str
        flights : int
            How many it holds.

        """
        try:
            return self._book is not None and len(self._book.flights(sha256)) >= flights
        except AnalyserError:
            return False

    def keep(self, finished: Finished) -> tuple[list[str], list[str]]:
        """Record what came of one log."""
        # That a copy of an older logbook was made is said once.
        notes, self.note = [self.note] if self.note else [], ""
        faults: list[str] = []
        if self._book is None:
            return notes, faults
        for told in finished.told:
            try:
                notes.append(f"{finished.log}: {self._record(self._book, finished.log, told)}")
            except (AnalyserError, OSError, ValueError) as error:
                faults.append(str(error) if isinstance(error, AnalyserError) else f"{told.data}: {error}")
        return notes, faults

    def _record(self, book: Logbook, log: Path, told: Told) -> str:
        document = json.loads(told.data.read_text(encoding="utf-8"))
        # How a file was made is not part of what was found; with it every change of a folder's names would
        # look like another result.
        document.pop("program", None)
        said = self._session
        outcome = book.record(
            document,
            pilot=said.pilot_of(log),
            instructor=said.instructor,
            device=said.device,
            lesson=said.lesson,
            trace=told.trace,
            flight=told.flight,
        )
        # Its grade sheet bears the names: who forgets a pilot is told of the page.
        book.note_files([(told.page, said.pilot_of(log))])
        return outcome.message

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._book is not None:
            self._book.close()
