"""What goes into the logbook and comes back: a session, its debriefs, its grades, and the trail of what was changed.

The same types go to the database, as rows, and to an export, as lines: :func:`from_plain` and :func:`as_plain`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import field, fields
from datetime import UTC, datetime
from functools import cache, cached_property
from typing import Any, Literal, TypeVar, get_args, get_type_hints

from analyser.frozen import dataclass
from analyser.logbook.documents import LoggedHold, iso_utc, logged_holds

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

    @property
    def versions(self) -> tuple[str, str]:
        """Of the program and of the rules."""
        return self.program_version, self.rules_version

    def is_like(self, other: Kept) -> bool:
        """Whether the same versions said the same of the flight."""
        return (self.document_sha256, self.versions) == (other.document_sha256, other.versions)

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
    """One grade on its way into the logbook; the ``grader`` is empty for the session's own pilot or instructor."""

    hold: int
    item: str
    given_as: GivenAs
    grader: str
    level: str
    required: str | None
    remark: str


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
    def recordings(self) -> tuple[tuple[str, int, str], ...]:
        """Hash, number and name of every recording of it, the first one first."""
        return ((self.log_sha256, self.flight, self.log_name), *self.others)

    @property
    def when(self) -> datetime:
        """When it was flown; where nobody knows, when it was recorded."""
        return self.flown or self.recorded

    @property
    def holds(self) -> tuple[LoggedHold, ...]:
        """The holds of the debrief that counts."""
        return self.debrief.holds

    @property
    def unsafe(self) -> tuple[str, ...]:
        """What was unsafe, in the debrief's own sentences."""
        return tuple(said for hold in self.holds for said in hold.unsafe or ())

    @property
    def looked_for_unsafe(self) -> bool:
        """Whether the debrief looked for what was: those of schema 1 did not."""
        return any(hold.unsafe is not None for hold in self.holds)

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
            key: sorted(found.values(), key=lambda one: one.grader is None or one.grader != self.instructor)
            for key, found in latest.items()
        }


Part = TypeVar("Part")


def as_plain(part: Any, *left_out: str, suffix: str = "_utc") -> dict[str, Any]:
    """Write one of these as a row or a line has it: its fields by name, those ``left_out`` apart, instants as texts."""
    told, kind = {}, type(part)
    shape: type = kind
    for name, kinds in _kinds(shape).items():
        if name not in left_out:
            value = getattr(part, name)
            key = name + suffix * (datetime in kinds)
            told[key] = iso_utc(value) if isinstance(value, datetime) else value
    return told


def from_plain(kind: type[Part], told: Mapping[str, Any], **given: Any) -> Part:
    """Read one of these from a row or a line; what is more than texts, numbers and instants is ``given``.

    Raises KeyError or ValueError: something is missing, or is not what it should be.
    """
    shape: type = kind
    for name, kinds in _kinds(shape).items():
        if name not in given:
            key = f"{name}_utc" if datetime in kinds and f"{name}_utc" in told else name
            value = told[key]
            # To Python, but not in JSON, true is a number; and NaN is none, to JSON.
            spoilt = isinstance(value, bool) or (isinstance(value, float) and not math.isfinite(value))
            wanted = tuple(str if one is datetime else one for one in kinds if isinstance(one, type))
            if spoilt or not (isinstance(value, wanted) or value in kinds):
                raise ValueError(f"{key} is {str(value)[:40]!r}")
            if datetime in kinds and value is not None:
                moment = datetime.fromisoformat(value)
                value = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
            given[name] = value
    return kind(**given)


@cache
def _kinds(kind: Any) -> dict[str, tuple[Any, ...]]:
    """Return for each field the types, or the words, that it may be."""
    hints = get_type_hints(kind)
    kinds = {one.name: get_args(hints[one.name]) or (hints[one.name],) for one in fields(kind)}
    return {name: (*each, int) if float in each else each for name, each in kinds.items()}
