"""What the logbook gives back: a session, its debriefs, its grades, and the trail of what was changed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field
from datetime import datetime
from functools import cached_property
from typing import Any, Literal

from analyser.frozen import dataclass
from analyser.logbook.documents import LoggedHold, logged_holds

GivenAs = Literal["pilot", "instructor"]
#: (seconds, first, second) along a path.
Path = Sequence[Sequence[float]]


@dataclass(frozen=True)
class Trace:
    """The flown path, thinned, as it is kept beside a debrief.

    Per hold: seconds from the log's first sample, NM east, NM north of the fix. Of the whole flight: seconds, latitude,
    longitude in degrees; a flight is recognised by it in another file.
    """

    holds: Sequence[Path] = field(default_factory=tuple)
    flight: Path = field(default_factory=tuple)

    @classmethod
    def from_json(cls, data: Any) -> Trace | None:
        """Read what :meth:`as_json` wrote, or the list of hold paths that older logbooks keep."""
        if data is None:
            return None
        return cls(data["holds"], data["flight"]) if isinstance(data, Mapping) else cls(data)

    def as_json(self) -> dict[str, Any]:
        """Return the paths as JSON has them."""
        return {"holds": self.holds, "flight": self.flight}


def session_key(log_sha256: str, flight: int) -> str:
    """Write what tells a session from every other: a log's hash, with ``-2`` for its second flight and so on."""
    return log_sha256 + (f"-{flight}" if flight > 1 else "")


@dataclass(frozen=True)
class Kept:
    """One debrief of a log, as it was made; ``document_sha256`` is that of what it says of the flight."""

    program_version: str
    rules_version: str
    recorded: datetime
    document: Mapping[str, Any]
    trace: Trace | None
    document_sha256: str

    @cached_property
    def holds(self) -> tuple[LoggedHold, ...]:
        """The holds of the document."""
        return logged_holds(self.document)

    def path(self, place: int) -> Path | None:
        """Return the flown path of a hold, counted from 0; None where it was not kept."""
        known = self.trace is not None and place < len(self.trace.holds)
        return (self.trace.holds[place] or None) if known and self.trace else None


@dataclass(frozen=True)
class Grade:
    """What somebody thought of one item, beside what was computed then.

    ``item`` is its key, or ``"overall"``; ``scale``, ``level``, ``required`` and ``proposed`` are keys, the last the
    level that the points stand for; places count from 1, the lowest level. ``grader`` is None where that person has
    been erased, ``computed_points`` where the item was not judged. ``graded`` is by the clock of the computer on which
    it was given, ``recorded`` when it reached the logbook; since ``withdrawn`` it no longer counts. ``id`` is the
    logbook's own word for it.
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
    withdrawn: datetime | None = None
    id: str = field(default="", compare=False, repr=False)


@dataclass(frozen=True)
class Given:
    """One grade on its way into the logbook.

    ``grader`` is cleaned, and empty for the session's own pilot or instructor; ``place`` is that of the level on its
    scale, 1 the lowest.
    """

    hold: int
    item: str
    given_as: GivenAs
    grader: str
    scale: str
    level: str
    place: int
    required: str | None
    required_place: int | None
    remark: str

    @property
    def unexplained(self) -> bool:
        """Whether it is below the grade asked for, and no remark says why."""
        return self.required_place is not None and self.place < self.required_place and not self.remark


@dataclass(frozen=True)
class TrailEntry:
    """One entry of the trail: what was ``said`` to be done, and what stood before.

    It is undone by its ``number``; ``session`` is the reference of the one that it is about; ``by`` is None where that
    person has been erased.
    """

    number: int
    session: str | None
    kind: str
    said: str
    why: str
    by: str | None
    changed: datetime
    undone: bool


@dataclass(frozen=True)
class Session:
    """One flight of one log, flown by one pilot.

    It is called by hash and number (a file may hold several flights) of the first recording that was kept; ``log_name``
    is that of the one that counts, ``others`` are hash, number and name of the rest. ``flown`` is in UTC, None where
    neither the log nor anybody says. ``debrief`` counts; ``earlier`` ones are those it took the place of, oldest first.
    ``grades`` are all that were ever given, in the order in which they reached the logbook. Since ``removed`` the
    session is out of it.
    """

    log_sha256: str
    flight: int
    log_name: str
    others: tuple[tuple[str, int, str], ...]
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
    removed: datetime | None = None

    @property
    def reference(self) -> str:
        """The short name of a session for commands: how its log's hash begins, and which flight of it."""
        return session_key(self.log_sha256[:8], self.flight)

    @property
    def key(self) -> str:
        """The same, in full: no two sessions have one."""
        return session_key(self.log_sha256, self.flight)

    @property
    def when(self) -> datetime:
        """When it was flown; where nobody knows, when it was recorded."""
        return self.flown or self.recorded

    @property
    def holds(self) -> tuple[LoggedHold, ...]:
        """The holds of the debrief that counts."""
        return self.debrief.holds

    def standing_grades(self) -> dict[tuple[int, str, str], Grade]:
        """Return the grade that stands for each (hold, item, role).

        Of one person's grades the last to arrive counts. Of several instructors' the grade of the session's own
        instructor stands; where that one has not graded or none is named, that of whoever graded first.
        """
        return {key: found[0] for key, found in self.counting_grades().items()}

    def counting_grades(self) -> dict[tuple[int, str, str], list[Grade]]:
        """Return for each (hold, item, role) the last grade of each grader, the one that stands first."""
        latest: dict[tuple[int, str, str], dict[str | None, Grade]] = {}
        for one in self.grades:
            if one.withdrawn is None:
                latest.setdefault((one.hold, one.item, one.given_as), {})[one.grader] = one
        return {
            # The sort is stable: behind the session's instructor come the others in the order they first graded.
            key: sorted(found.values(), key=lambda one: one.grader != self.instructor)
            for key, found in latest.items()
        }
