"""Debriefs written into the logbook as they are made, for a run and for a watched folder."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Self

from analyser.errors import AnalyserError, LogbookError

if TYPE_CHECKING:
    from pathlib import Path

    from analyser.logbook.book import Logbook
    from analyser.work.job import Recording
    from analyser.work.task import Finished, Report


class Recorder:
    """Writes debriefs into a logbook, if wanted; where it cannot be used that is a ``fault``, and they are still made.

    ``note`` says where a copy of an older logbook was made. Raises UsageError if the logbook's address is of an
    unknown kind.
    """

    def __init__(self, recording: Recording | None) -> None:
        self._recording = recording
        self._book: Logbook | None = None
        self.fault = self.note = ""
        self.wanted = recording is not None
        if recording is None:
            return
        from analyser.logbook.book import Logbook

        try:
            self._book = Logbook.open(recording.logbook)
            self.note = self._book.copy_note
        except LogbookError as error:
            self.fault = f"nothing is recorded: {error}"

    def has_recorded(self, sha256: str, flights: int) -> bool:
        """Tell whether so many flights of a log are in the logbook, as far as that is wanted."""
        try:
            if self._book is None:
                return not self.wanted
            return len(self._book.flights(sha256)) >= flights
        except AnalyserError:
            return False

    def record(self, finished: Finished) -> tuple[list[str], list[str]]:
        """Record what came of one log; return notes and faults."""
        notes: list[str] = []
        faults: list[str] = []
        if self._recording is None or self._book is None:
            return notes, faults
        for report in finished.reports:
            try:
                notes.append(f"{finished.log}: {_record(self._book, self._recording, finished.log, report)}")
            except (AnalyserError, OSError, ValueError) as error:
                faults.append(str(error) if isinstance(error, AnalyserError) else f"{report.data}: {error}")
        return notes, faults

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self._book is not None:
            self._book.close()


def _record(book: Logbook, said: Recording, log: Path, report: Report) -> str:
    document = json.loads(report.data.read_text(encoding="utf-8"))
    # How the file was made is left out: otherwise a renamed folder would look like another result.
    document.pop("program", None)
    pilot = said.pilot_of(log)
    outcome = book.record(
        document,
        pilot=pilot,
        instructor=said.instructor,
        device=said.device,
        lesson=said.lesson,
        trace=report.trace,
        flight=report.flight,
    )
    # The page's grade sheet holds the names, so erasing a pilot lists the page.
    book.note_files([(report.page, pilot)])
    return outcome.message
