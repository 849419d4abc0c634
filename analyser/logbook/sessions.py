"""What the logbook gives back: a session, its debriefs and its grades."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

GivenAs = Literal["pilot", "instructor"]
#: Per hold: (seconds, NM east of the fix, NM north of the fix) along the flown path.
Trace = Sequence[Sequence[Sequence[float]]]


def session_key(log_sha256: str, flight: int) -> str:
    """Write what tells a session from every other.

    Parameters
    ----------
    log_sha256 : str
    flight : int
        From 1.

    Returns
    -------
    str
        The log's hash; from the second flight of a log on with ``-2`` …
    """
    return log_sha256 + (f"-{flight}" if flight > 1 else "")


@dataclass(frozen=True)
class Kept:
    """One debrief of a log, as it was made.

    Attributes
    ----------
    program_version, rules_version : str
    recorded : datetime
    document : mapping
        The whole debrief document.
    trace : sequence or None
        Flown path per hold; None where it was not kept.
    document_sha256 : str
        Of the document's canonical text.
    """

    program_version: str
    rules_version: str
    recorded: datetime
    document: Mapping[str, Any]
    trace: Trace | None
    document_sha256: str


@dataclass(frozen=True)
class Grade:
    """What somebody thought of one item, beside what was computed then.

    Attributes
    ----------
    hold : int
        From 1, as in the document.
    item : str
        Key of the item, or ``"overall"``.
    given_as : "pilot" or "instructor"
    grader : str or None
        None where that person has been erased.
    scale : str
        Key of the grade scale.
    level : str
        Key of the grade on that scale.
    place : int
        Of the level on its scale, 1 the lowest.
    required : str or None
        Key of the level that this lesson asks for.
    computed_points : float or None
        None where the item was not judged.
    proposed : str or None
        The level that the points stand for.
    proposed_place : int or None
    remark : str
    graded, recorded : datetime
        When it was given, and when it reached the logbook.
    """

    hold: int
    item: str
    given_as: GivenAs
    grader: str | None
    scale: str
    level: str
    place: int
    required: str | None
    computed_points: float | None
    proposed: str | None
    proposed_place: int | None
    remark: str
    graded: datetime
    recorded: datetime


@dataclass(frozen=True)
class Session:
    """One flight of one log, flown by one pilot.

    Attributes
    ----------
    log_sha256 : str
    flight : int
        Which flight of the log, from 1: a file may hold several.
    log_name : str
    flown : datetime or None
        UTC; None where neither the log nor anybody says.
    flown_from : "log", "given" or "unknown"
    pilot : str
    instructor, device, lesson : str or None
    recorded : datetime
    debrief : Kept
        The one that counts: the last that was asked for.
    earlier : tuple of Kept
        Those it took the place of, oldest first.
    grades : tuple of Grade
        All that were ever given, oldest first.
    """

    log_sha256: str
    flight: int
    log_name: str
    flown: datetime | None
    flown_from: str
    pilot: str
    instructor: str | None
    device: str | None
    lesson: str | None
    recorded: datetime
    debrief: Kept
    earlier: tuple[Kept, ...]
    grades: tuple[Grade, ...]

    @property
    def reference(self) -> str:
        """The short name of a session for commands: how its log's hash begins, and which flight of it."""
        return self.log_sha256[:8] + (f"-{self.flight}" if self.flight > 1 else "")

    @property
    def key(self) -> str:
        """The same, in full: no two sessions have one."""
        return session_key(self.log_sha256, self.flight)

    @property
    def when(self) -> datetime:
        """When it was flown; where nobody knows, when it was recorded."""
        return self.flown or self.recorded

    @property
    def holds(self) -> Sequence[Mapping[str, Any]]:
        """The holds of the debrief that counts."""
        holds: Sequence[Mapping[str, Any]] = self.debrief.document["holds"]
        return holds

    def standing_grades(self) -> dict[tuple[int, str, str], Grade]:
        """Return the last grade of each hold, item and role; earlier ones stay in :attr:`grades`.

        Returns
        -------
        dict
            (hold, item, given_as) to grade.
        """
        return {(one.hold, one.item, one.given_as): one for one in self.grades}
