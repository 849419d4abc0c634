"""Writing into the logbook: a debrief, the same flight once, with the versions that made it; and grades.

Grades are always added, never written over, with who gave what and when, in the order of their arrival.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal, Self

from sqlalchemy import Connection, func, insert, select, update

import analyser
from analyser.errors import LogbookError, UsageError
from analyser.frozen import dataclass
from analyser.logbook.documents import iso_utc, lasts_s, now, starts
from analyser.logbook.logbook_thresholds import SAME
from analyser.logbook.marks import item_points, proposable
from analyser.logbook.names import alike, counted, name_key, storable
from analyser.logbook.reading import read_session
from analyser.logbook.sessions import Given, Grade, Kept, Session, Trace, as_plain
from analyser.logbook.tables import debrief, grade, hold, measure, person, recording, session
from analyser.logbook.trace import Relation, relation
from analyser.rules.scales import Scale

Kind = Literal["new", "already there", "re-debriefed", "longer", "taken out"]


@dataclass(frozen=True)
class RecordOutcome:
    """What recording a debrief came to: the session's key, and one sentence for the person."""

    kind: Kind
    session: str
    message: str


def fingerprint(document: Mapping[str, Any]) -> str:
    """Return the SHA-256 of what a document says of the flight, whatever the order of its keys.

    The log's name and the block that tells of the file's making are left out: a log that was renamed, or
    debriefed into another folder, has the same result.
    """
    said = {key: value for key, value in document.items() if key != "program"}
    said["log"] = {key: value for key, value in document["log"].items() if key != "name"}
    return hashlib.sha256(_as_text(said, sort_keys=True).encode("ascii")).hexdigest()


def _as_text(document: Mapping[str, Any], *, sort_keys: bool = False) -> str:
    """Write a document as plain ASCII, so that any database keeps any character."""
    try:
        return json.dumps(
            document, sort_keys=sort_keys, allow_nan=False, separators=(",", ":"), ensure_ascii=True
        )
    except (TypeError, ValueError) as fault:
        raise LogbookError(f"this debrief cannot be kept: {fault}") from fault


def write_entry(connection: Connection, new: Session) -> RecordOutcome:
    """Write a debrief that was checked, as a new session or into the one whose flight it is, in a writing transaction.

    Raises LogbookError if the flight is there already as another pilot's.
    """
    number, found = known_session(connection, new)
    here = None if number is None else read_session(connection, number)
    if number is None or here is None:
        everybody = connection.execute(select(person.c.name)).scalars().all()
        SessionRows.new(connection, new).add_debrief(new.debrief)
        said = f"kept in the logbook as a new session of {_called(new, everybody)}"
        return RecordOutcome("new", new.key, said)
    if here.removed:
        said = "was taken out of the logbook; nothing was added (analyser logbook trail shows how to put it back)"
        return RecordOutcome("taken out", here.key, said)
    if name_key(here.pilot) != name_key(new.pilot):
        raise LogbookError(
            f"this {'flight' if found else 'log'} is in the logbook already, as flown by {here.pilot}"
            + (f" (log {here.log_name})" if found else ""),
            file=new.log_name,
            mend=f"if that is wrong: analyser logbook move {here.reference} --pilot NAME",
        )
    rows = SessionRows(connection, number)
    kept_as = _complete(rows, here, new)
    if found:
        rows.add_recordings(new)
    if found == "longer":
        rows.add_debrief(new.debrief)
        rows.say(log_name=new.log_name)
        said = f"a longer recording of {here.log_name}: it counts now, and the session keeps its grades"
        return RecordOutcome("longer", here.key, said + kept_as)
    kind, said = _again(rows, here, new)
    return RecordOutcome(kind, here.key, said + kept_as)


def _called(new: Session, everybody: Sequence[str]) -> str:
    """Name the pilot as the logbook does; of a new name that is much like another's that is asked about."""
    written = {name_key(one): one for one in everybody}.get(name_key(new.pilot))
    close = [] if written else alike(new.pilot, everybody, cutoff=SAME.name_ratio)
    if not close:
        return written or new.pilot
    mend = f'analyser logbook move {new.reference} --pilot "{close[0]}"'
    return f"{new.pilot}, who is new to it; if {close[0]} flew it: {mend}"


def known_session(connection: Connection, new: Session) -> tuple[int | None, Relation | None]:
    """Find the session of one of these recordings, or else of the same flight in another file, and how that relates."""
    for mark, flight, _ in new.recordings:
        number = _of_recording(connection, mark, flight)
        if number is not None:
            return number, None
    trace, begins = new.debrief.trace, starts(new.debrief.document)
    if trace is None or not trace.flight:
        return None, None
    when = recording.c.starts_utc.is_(None)
    if begins is not None:
        ends = begins + timedelta(seconds=trace.flight[-1][0] + 1.0)
        # Texts of instants sort as the instants do; nothing that began more than a day before is still going on.
        when = recording.c.starts_utc.between(iso_utc(begins - timedelta(days=1))[:19], iso_utc(ends))
    there = select(recording).where(when, recording.c.lasts_s.is_not(None))
    going_on = {
        one.session_id: None
        for one in connection.execute(there)
        if begins is None
        # A second more, for how long a log lasts is rounded.
        or datetime.fromisoformat(one.starts_utc) + timedelta(seconds=one.lasts_s + 1.0) >= begins
    }
    for number in going_on:
        latest = connection.execute(
            select(debrief.c.document, debrief.c.trace)
            .where(debrief.c.session_id == number, debrief.c.trace.like('{"%'))
            .order_by(debrief.c.rank.desc())
            .limit(1)
        ).one_or_none()
        if latest is None:
            continue
        kept = Trace(**json.loads(latest.trace))
        found = relation(trace, begins, kept, starts(json.loads(latest.document)))
        if found:
            return int(number), found
    return None, None


def _of_recording(connection: Connection, mark: str, flight: int) -> int | None:
    """Return the session of a log's flight, by the log's hash."""
    this = (recording.c.log_sha256 == mark, recording.c.flight == flight)
    return connection.execute(select(recording.c.session_id).where(*this)).scalar_one_or_none()


def row_of(connection: Connection, told: Mapping[str, Any]) -> dict[str, Any]:
    """Return the columns of what is told: people by their ids, instants as texts; None is left out."""
    row: dict[str, Any] = {}
    for key, value in told.items():
        if value is None:
            continue
        if key in ("pilot", "instructor", "grader", "by"):
            row[f"{key}_id"] = person_id(connection, value)
        elif isinstance(value, datetime):
            row[f"{key}_utc"] = iso_utc(value)
        else:
            row[key] = value
    return row


def _complete(rows: SessionRows, here: Session, new: Session) -> str:
    """Fill in what was not known; what was said before stays, and the person is told."""
    said = {key: getattr(new, key) for key in ("instructor", "device", "lesson")}
    rows.fill_gaps(here, **said)
    if new.flown_from == "given":
        rows.say(flown=new.flown, flown_from="given")
    stays = [
        f"{key} {there}"
        for key, value in said.items()
        if value and (there := getattr(here, key)) and name_key(value) != name_key(there)
    ]
    mend = f"analyser logbook set {here.reference} changes it"
    return f"; kept as it was: {', '.join(stays)} ({mend})" if stays else ""


def _again(rows: SessionRows, here: Session, new: Session) -> tuple[Kind, str]:
    last, made = here.debrief, new.debrief
    other_file = last.document["log"]["sha256"] != new.log_sha256
    told = f"the flight of {here.log_name}, which is in the logbook already; nothing was added"
    if other_file and (lasts_s(made.document) or 0.0) < (lasts_s(last.document) or 0.0) - SAME.length_s:
        return "already there", told
    if any(one.is_like(made) for one in (*here.earlier, last)):
        # The person may have gone back to an earlier way of judging: that one counts again.
        rows.let_count(made)
        return "already there", "in the logbook already; nothing was added"
    as_judged = last.versions == made.versions
    if other_file and as_judged and _settings(last.document) == _settings(made.document):
        return "already there", told
    rows.add_debrief(made)
    why = []
    if last.rules_version != made.rules_version:
        why.append(f"other rules ({made.rules_version}, before {last.rules_version})")
    if last.program_version != made.program_version:
        why.append(f"another program version ({made.program_version}, before {last.program_version})")
    cause = " and ".join(why) or "other settings"
    said = f"debriefed again with {cause}: this result counts now, the earlier one is kept beside it"
    return "re-debriefed", said


def _settings(document: Mapping[str, Any]) -> list[Any]:
    """Return what tells two ways of judging one flight apart, whatever file it was read from."""
    keys = ("definition", "name", "rules", "turns", "leg")
    return [document.get("standard"), *([hold.get(key) for key in keys] for hold in document["holds"])]


def person_id(connection: Connection, name: str) -> int:
    """Return the id of a person by the cleaned name, and enter the person where nobody of that name is there."""
    key = name_key(name)
    found = connection.execute(select(person.c.id).where(person.c.name_key == key)).scalar_one_or_none()
    return inserted(connection, person, {"name_key": key, "name": name}) if found is None else int(found)


def inserted(connection: Connection, table: Any, values: Mapping[str, Any]) -> int:
    """Insert one row and return its id."""
    key = connection.execute(insert(table).values(**values)).inserted_primary_key
    if key is None:
        raise LogbookError("the database gave a new row no number")
    return int(key[0])


#: What makes two grades of one person the same one.
_TOLD = ("hold", "item", "given_as", "scale", "level", "required", "remark", "graded_utc")


class SessionRows:
    """The rows of one session, by its ``number``, in a writing transaction."""

    def __init__(self, connection: Connection, number: int) -> None:
        self.connection = connection
        self.number = number

    @classmethod
    def new(cls, connection: Connection, new: Session) -> Self:
        """Enter a session and its recordings, without debriefs and grades."""
        told = as_plain(new, "others", "debrief", "earlier", "grades")
        rows = cls(connection, inserted(connection, session, row_of(connection, told)))
        rows.add_recordings(new)
        return rows

    def say(self, **told: Any) -> None:
        """Write columns of the session itself, None left out."""
        values = row_of(self.connection, told)
        self.connection.execute(update(session).where(session.c.id == self.number).values(**values))

    def fill_gaps(self, here: Session, *, flown_from: str = "given", **said: Any) -> int:
        """Fill in what nobody has said of the session yet, None left out; return how much that was."""
        new = {key: value for key, value in said.items() if value and getattr(here, key) is None}
        if new:
            self.say(**new, flown_from=flown_from if "flown" in new else None)
        return len(new)

    def add_recordings(self, one: Session) -> None:
        """Keep which logs hold the flight."""
        logs = {each.document["log"]["sha256"]: each.document for each in (*one.earlier, one.debrief)}
        for mark, flight, name in one.recordings:
            if _of_recording(self.connection, mark, flight) is None:
                document = logs.get(mark, {"log": {}})
                values = {"session_id": self.number, "log_sha256": mark, "flight": flight, "log_name": name}
                times = {"starts_utc": document["log"].get("start_utc"), "lasts_s": lasts_s(document)}
                self.connection.execute(insert(recording).values(**values, **times))

    def add_debrief(self, made: Kept) -> None:
        """Put a debrief and its figures on top of those that are there."""
        values = as_plain(made, "document", "trace") | {
            "session_id": self.number,
            "rank": self._top_rank() + 1,
            "document": _as_text(made.document),
            "trace": None if made.trace is None else json.dumps(made.trace.as_json(), separators=(",", ":")),
        }
        debrief_id = inserted(self.connection, debrief, values)
        for one in made.holds:
            hold_id = inserted(self.connection, hold, {"debrief_id": debrief_id, **one.columns()})
            measures = [
                {"hold_id": hold_id, "circuit": circuit, "item": item, **as_plain(score, "deviation", "unit")}
                for circuit, item, score in one.measures()
            ]
            if measures:
                self.connection.execute(insert(measure), measures)

    def has(self, kept: Kept) -> bool:
        """Whether a debrief is there."""
        found = self.connection.execute(select(debrief.c.id).where(*self._kept(kept)))
        return found.first() is not None

    def let_count(self, kept: Kept) -> None:
        """Let a debrief that is there count, whatever has been put on top of it."""
        top = self._top_rank()
        moved = update(debrief).where(*self._kept(kept), debrief.c.rank < top).values(rank=top + 1)
        self.connection.execute(moved)

    def _top_rank(self) -> int:
        highest = select(func.coalesce(func.max(debrief.c.rank), 0)).where(
            debrief.c.session_id == self.number
        )
        return int(self.connection.execute(highest).scalar_one())

    def _kept(self, kept: Kept) -> list[Any]:
        names = ("document_sha256", "program_version", "rules_version")
        same = [debrief.c[name] == getattr(kept, name) for name in names]
        return [debrief.c.session_id == self.number, *same]

    def add_grade(self, key: str, new: Grade) -> int:
        """Put a grade behind all others, unless the very same is there; return how many were added."""
        values = row_of(self.connection, as_plain(new, "id")) | {"session_id": self.number}
        # "IS NOT DISTINCT FROM" in both databases' words: a grade asked for may be missing.
        alike = [grade.c[name].is_not_distinct_from(values.get(name)) for name in ("session_id", *_TOLD)]
        there = self.connection.execute(select(grade.c.grader_id).where(*alike)).scalars().all()
        # A grade whose giver has been erased is known again without the name.
        if any(who is None or who == values.get("grader_id") for who in there):
            return 0
        last = self.connection.execute(select(func.coalesce(func.max(grade.c.arrival), 0))).scalar_one()
        # The grader's name stays out of it, so that nothing of the name is left when the person is erased.
        text = json.dumps([key, *(values.get(name) for name in _TOLD), *([len(there)] if there else [])])
        mark = hashlib.sha256(text.encode("ascii")).hexdigest()
        self.connection.execute(insert(grade).values(id=mark, arrival=last + 1, **values))
        return 1


@lru_cache(maxsize=1)
def rules_version() -> str:
    """Return a fingerprint of the rules: it changes with any number in any of their files.

    A version number would have to be raised by hand, and would be forgotten. The grade scales are left
    out: they come after the debrief and do not change it. Twelve hexadecimal digits.
    """
    folder = Path(analyser.__file__).parent
    digest = hashlib.sha256()
    for path in sorted(folder.rglob("*.toml"), key=lambda one: one.relative_to(folder).as_posix()):
        name = path.relative_to(folder).as_posix()
        if name.startswith(("rules/", "grading/")) and "/scales/" not in name:
            digest.update(name.encode() + b"\0" + path.read_bytes() + b"\0")
    return digest.hexdigest()[:12]


def add_grades(
    rows: SessionRows, session: Session, given: Sequence[Given], *, scale: Scale, graded: datetime
) -> int:
    """Add grades to a session; return how many were new, for the same sheet a second time adds nothing.

    Raises LogbookError or UsageError: a hold, item or person that this session does not have.
    """
    added = 0
    for one in given:
        points = _computed(session, one)
        proposed = scale.propose_place(proposable(one.item, points, session.holds[one.hold - 1].grade))
        new = Grade(
            hold=one.hold,
            item=one.item,
            given_as=one.given_as,
            grader=_grader(session, one),
            scale=storable(scale.key, longest=200),
            level=storable(one.level, longest=60),
            place=scale.place(one.level),
            required=None if one.required is None else storable(one.required, longest=60),
            computed_points=points,
            proposed=proposed[0] if proposed else None,
            proposed_place=proposed[1] if proposed else None,
            remark=storable(one.remark, longest=4000),
            graded=graded,
            recorded=now(),
        )
        added += rows.add_grade(session.key, new)
    return added


def _computed(session: Session, one: Given) -> float | None:
    if not 1 <= one.hold <= len(session.holds):
        what = f"session {session.reference} has {counted(len(session.holds), 'hold')}, none is number {one.hold}"
        raise UsageError(what, mend="give the number of a hold that it has")
    points = item_points(session.holds[one.hold - 1])
    if one.item not in points:
        known = ", ".join(points)
        raise UsageError(f"hold {one.hold} has no item '{one.item:.40}'", mend=f"use one of: {known}")
    return points[one.item]


def _grader(session: Session, one: Given) -> str:
    if one.given_as == "pilot":
        if one.grader and name_key(one.grader) != name_key(session.pilot):
            raise LogbookError(
                f"the sheet is {one.grader}'s, but this log was flown by {session.pilot}",
                file=session.log_name,
                mend=f"if that is wrong: analyser logbook move {session.reference} --pilot NAME",
            )
        return session.pilot
    if not one.grader and not session.instructor:
        mend = "write the name on the sheet, or say --by NAME"
        raise UsageError("the instructor's grades have no instructor", mend=mend)
    return one.grader or str(session.instructor)
