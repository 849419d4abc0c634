"""Debriefs on their way into a pilot's logbook, one transaction each."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Self

from analyser.errors import AnalyserError, LogbookError, UsageError
from analyser.work.task import Finished, Told

if TYPE_CHECKING:
    from analyser.logbook.book import Logbook


@dataclass(frozen=True)
class Session:
    """Whose flights the logs are.

    Attributes
    ----------
    pilot : str or None
        None: each log lies in its pilot's own folder.
    instructor, device, lesson : str or None
    logbook : str or None
        Where it is; None: the user's own.
    """

    pilot: str | None
    instructor: str | None = None
    device: str | None = None
    lesson: str | None = None
    logbook: str | None = None


def session_of(
    pilot: str | None,
    instructor: str | None,
    device: str | None,
    lesson: str | None,
    logbook: str | None,
    *,
    folders: bool = False,
) -> Session | None:
    """Put together what was said about a session.

    Parameters
    ----------
    pilot, instructor, device, lesson, logbook : str or None
    folders : bool
        Each log lies in its pilot's own folder.

    Returns
    -------
    Session or None
        None where nothing is to be recorded.

    Raises
    ------
    UsageError
        Something is said of a session without a pilot, the pilot is said twice, or a name cannot be one.
    """
    if pilot is not None and folders:
        raise UsageError("a pilot and folders of pilots are given", mend="give one of them")
    if pilot is None and not folders:
        options = {"--instructor": instructor, "--device": device, "--lesson": lesson}
        for option, value in options.items():
            if value is not None:
                mend = "say whose flight it is with --pilot or --pilot-folders"
                raise UsageError("nothing is recorded without a pilot", place=option, mend=mend)
        return None
    from analyser.logbook.names import clean_name

    named = {"instructor": instructor, "device": device, "lesson": lesson}
    cleaned = {what: clean_name(name, what=what) if name else None for what, name in named.items()}
    return Session(clean_name(pilot) if pilot is not None else None, **cleaned, logbook=logbook)


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
        self.fault = ""
        try:
            self._book = Logbook.open(session.logbook)
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
        notes: list[str] = []
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
        from analyser.logbook.names import pilot_from_folder

        document = json.loads(told.data.read_text(encoding="utf-8"))
        # How a file was made is not part of what was found; with it every change of a folder's names would
        # look like another result.
        document.pop("program", None)
        said = self._session
        return book.record(
            document,
            pilot=pilot_from_folder(log) if said.pilot is None else said.pilot,
            instructor=said.instructor,
            device=said.device,
            lesson=said.lesson,
            trace=told.trace,
            flight=told.flight,
        ).message

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._book is not None:
            self._book.close()
