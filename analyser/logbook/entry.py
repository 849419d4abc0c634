"""What ``analyser debrief --pilot NAME`` calls for each debrief."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from analyser.logbook.record import RecordOutcome
    from analyser.logbook.sessions import Trace


def record_debrief(
    document: Mapping[str, Any],
    *,
    pilot: str,
    instructor: str | None = None,
    device: str | None = None,
    lesson: str | None = None,
    flown: datetime | None = None,
    trace: Trace | None = None,
    flight: int = 1,
    logbook: str | Path | None = None,
) -> RecordOutcome:
    """Keep one debrief in a logbook.

    Parameters
    ----------
    document : mapping
        The debrief document.
    pilot : str
    instructor, device, lesson : str, optional
    flown : datetime, optional
        For a log without a date.
    trace : sequence, optional
        What :func:`analyser.logbook.trace.trace_of` takes from the debrief; without it the class and
        progress pages have no path to draw.
    flight : int
        Which of the log's flights, from 1, in the order they are read: a file may hold several.
    logbook : str, Path or None
        A file, ``postgresql://…``, or None for the user's own.

    Returns
    -------
    RecordOutcome
        ``kind`` is "new", "already there" or "re-debriefed"; ``message`` says it in a sentence.

    Raises
    ------
    LogbookError
        It was not kept; nothing in the logbook changed.
    UsageError
        A name that cannot be one, or an address of an unknown kind.
    """
    from analyser.logbook.book import Logbook

    with Logbook.open(logbook) as book:
        return book.record(
            document,
            pilot=pilot,
            instructor=instructor,
            device=device,
            lesson=lesson,
            flown=flown,
            trace=trace,
            flight=flight,
        )


def pilot_from_folder(log: Path) -> str:
    """Return the pilot of a log that lies in the pilot's own folder: the folder's name.

    Parameters
    ----------
    log : Path

    Returns
    -------
    str
        Cleaned; underscores are read as blanks.

    Raises
    ------
    UsageError
        The folder's name cannot be a person's.
    """
    from analyser.logbook.names import clean_name

    return clean_name(log.absolute().parent.name.replace("_", " "))
