"""Putting right what is wrong in the logbook: each change leaves its trail, and can be undone; a person erased cannot.

A change is a list of edits: a column of a row, what stood there before and what stands there now. Undoing puts
the former values back, provided that nothing has changed them since.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, Table, delete, insert, not_, or_, select, update

from analyser.errors import UsageError
from analyser.logbook.documents import iso_utc, now
from analyser.logbook.marks import title_of
from analyser.logbook.names import clean_name, counted, name_key
from analyser.logbook.reading import known_person, one_session
from analyser.logbook.record import inserted, person_id, row_of
from analyser.logbook.sessions import GivenAs, Session, TrailEntry, as_plain
from analyser.logbook.tables import (
    change,
    debrief,
    grade,
    hold,
    measure,
    person,
    recording,
    session,
    written_file,
)

_TABLES: Mapping[str, Table] = {"session": session, "grade": grade, "person": person}
#: The columns that name a person.
_NAMES = (session.c.pilot_id, session.c.instructor_id, grade.c.grader_id, change.c.by_id)
#: What the trail says of a name that was put right: the one before and the one after.
_RENAMED = re.compile(r"(.+?) is (?:called )?(.+) (?:from now on, in all places|in \d+ places?)")
#: A session: its reference, or its number and what is known of it.
Which = str | tuple[int, Session]


@dataclass
class _Change:
    """One change under way, of a session or of none: what the trail is to hold of it, and what was edited so far."""

    connection: Connection
    told: dict[str, Any]
    edits: list[dict[str, Any]] = field(default_factory=list)

    def edit(self, table: Table, number: object, **values: Any) -> None:
        """Change columns of a row; those that have the value already are left."""
        columns = [table.c[name] for name in values]
        row = self.connection.execute(select(*columns).where(table.c.id == number)).one()
        for name, value in values.items():
            before = getattr(row, name)
            if before != value:
                about = {"table": table.name, "id": number, "column": name}
                self.edits.append({**about, "before": before, "after": value})
        self.connection.execute(update(table).where(table.c.id == number).values(**values))

    def sign(self, said: str, **more: Any) -> int:
        """Write the change into the trail; return its number.

        Raises UsageError if nothing was edited: all of it is so already.
        """
        if not self.edits:
            raise UsageError(f"this would change nothing: {said}")
        row = row_of(self.connection, {**self.told, "said": said, **more})
        return inserted(self.connection, change, row | {"edits": json.dumps(self.edits)})

    def end(self, one: Session, said: str, **columns: Any) -> str:
        """Change columns of the session, None empties one, and sign; return what was done to which session."""
        if columns:
            self.edit(session, self.told["session_id"], **columns)
        self.sign(said)
        return f"{one.reference}: {said}"


class Corrections:
    """What somebody puts right: each method is one change in one transaction, and returns what was done.

    ``writing`` begins a transaction; ``by`` and ``why`` go into the trail. Each method raises UsageError where nothing
    is to be changed, or the session is not in the logbook.
    """

    def __init__(self, writing: Callable[[], AbstractContextManager[Connection]], by: str, why: str) -> None:
        self._writing = writing
        self._signed = {"by": clean_name(by, what="correcting person"), "why": why.strip()}

    @contextmanager
    def _change(self, kind: str) -> Iterator[_Change]:
        with self._writing() as connection:
            yield _Change(connection, {**self._signed, "kind": kind, "changed": now()})

    @contextmanager
    def _of_session(self, kind: str, which: Which) -> Iterator[tuple[_Change, Session]]:
        with self._change(kind) as made:
            number, one = one_session(made.connection, which) if isinstance(which, str) else which
            made.told["session_id"] = number
            yield made, one

    def rename(self, name: str, to: str, *, merge: bool = False) -> str:
        """Give a person another name in all places, or make one person of two.

        Raises UsageError if nobody is called so, or the new name is somebody else's and ``merge`` is not set.
        """
        name, to = clean_name(name), clean_name(to)
        with self._change("rename") as made:
            who = known_person(made.connection, name)
            same = select(person).where(person.c.name_key == name_key(to))
            other = made.connection.execute(same).one_or_none()
            if other is None or other.id == who.id:
                made.edit(person, who.id, name=to, name_key=name_key(to))
                said = f"{who.name} is called {to} from now on, in all places"  # read again by _RENAMED
            elif merge:
                places = 0
                for column in _NAMES[:3]:
                    rows = select(column.table.c.id).where(column == who.id)
                    for number in made.connection.execute(rows).scalars().all():
                        made.edit(column.table, number, **{column.name: other.id})
                        places += 1
                said = f"{who.name} is {other.name} in {counted(places, 'place')}"
            else:
                mend = "if both are one person, say --merge"
                raise UsageError(f"somebody is called {other.name} already", mend=mend)
            made.sign(said)
        return said

    def move(self, which: Which, *, pilot: str, carry_own: bool = False) -> str:
        """Say that another pilot flew a session.

        The grades that the first pilot gave as the one who flew are withdrawn, or carried over to the new one.
        """
        pilot = clean_name(pilot)
        with self._of_session("move", which) as (made, one):
            if name_key(pilot) == name_key(one.pilot):
                raise UsageError(f"session {one.reference} is {one.pilot}'s already")
            who = person_id(made.connection, pilot)
            own = [each for each in one.grades if each.given_as == "pilot" and each.withdrawn is None]
            for each in own:
                told = {"grader_id": who} if carry_own else {"withdrawn_utc": iso_utc(now())}
                made.edit(grade, each.id, **told)
            done = f"carried over to {pilot}" if carry_own else "withdrawn"
            graded = f"; {counted(len(own), 'grade')} of the pilot's own {done}" if own else ""
            return made.end(one, f"flown by {pilot}, before: {one.pilot}{graded}", pilot_id=who)

    def set_about(
        self,
        which: Which,
        *,
        instructor: str | None = None,
        device: str | None = None,
        lesson: str | None = None,
    ) -> str:
        """Say anew who instructed a session, on what, and which lesson it was; what is None stays."""
        told = {"instructor": instructor, "device": device, "lesson": lesson}
        names = {key: clean_name(value, what=key) for key, value in told.items() if value}
        if not names:
            raise UsageError("nothing to set is given", mend="say --instructor, --device or --lesson")
        with self._of_session("set", which) as (made, one):
            said = [f"{key} {name}, before: {getattr(one, key) or 'none'}" for key, name in names.items()]
            return made.end(one, "; ".join(said), **row_of(made.connection, names))

    def date(self, which: Which, flown: datetime) -> str:
        """Say when a session was flown, where its log does not or is wrong."""
        with self._of_session("date", which) as (made, one):
            before = f"{one.flown:%Y-%m-%d %H:%M} UTC" if one.flown else "not known"
            said = f"flown {flown:%Y-%m-%d %H:%M} UTC, before: {before}"
            return made.end(one, said, flown_utc=iso_utc(flown), flown_from="given")

    def withdraw(
        self,
        which: Which,
        item: str,
        *,
        hold: int = 1,
        given_as: GivenAs = "instructor",
        grader: str | None = None,
    ) -> str:
        """Take back the grade that stands for an item, ``"all"`` of them, or those of one grader.

        Raises UsageError if there is no such grade.
        """
        with self._of_session("withdraw", which) as (made, one):
            found = [
                each
                for (at, key, role), counting in one.counting_grades().items()
                if at == hold and item in ("all", key) and role == given_as
                for each in (counting if grader else counting[:1])
                if grader is None or (each.grader and name_key(each.grader) == name_key(grader))
            ]
            if not found:
                of = f" by {grader}" if grader else ""
                raise UsageError(
                    f"no {given_as}'s grade{of} of '{item}' counts in hold {hold} of session {one.reference}",
                    mend="analyser record NAME shows the grades",
                )
            for each in found:
                made.edit(grade, each.id, withdrawn_utc=iso_utc(now()))
            told = ", ".join(
                f"{title_of(each.item)} {each.level} by {each.grader or 'somebody erased'}" for each in found
            )
            return made.end(one, f"withdrawn: {told} (hold {hold})")

    def take_out(self, which: Which) -> str:
        """Take a session out of the logbook; it stays to be put back, until the pilot is forgotten."""
        with self._of_session("delete", which) as (made, one):
            said = f"taken out: {one.log_name}, flown {one.when:%Y-%m-%d} by {one.pilot}"
            return made.end(one, said, removed_utc=iso_utc(now()))

    def put_back(self, which: Which) -> str:
        """Let a session that was taken out count again."""
        with self._of_session("restore", which) as (made, one):
            return made.end(one, f"put back: {one.log_name}", removed_utc=None)

    def undo(self, number: int) -> str:
        """Put back what a change of the trail replaced; the undoing of an undoing does the first change again.

        Raises UsageError: there is no such change, it is undone or cannot be, or something has been changed since.
        """
        mend = "analyser logbook trail shows the changes"
        with self._change("undo") as made:
            row = made.connection.execute(select(change).where(change.c.id == number)).one_or_none()
            if row is None:
                raise UsageError(f"there is no change number {number}", mend=mend)
            edits = json.loads(row.edits)
            why = ""
            if row.undone_by is not None:
                why = f"it is undone already; undo {row.undone_by} does it again"
            elif row.kind == "redo":
                why = "it did again what had been undone; undo the change that it names"
            elif not edits:
                why = "it is no change of this logbook's own, or changed nothing"
            if why:
                raise UsageError(f"change {number} cannot be undone: {why}", mend=mend)
            for one in reversed(edits):
                table, name = _TABLES[one["table"]], one["column"]
                present = select(table.c[name]).where(table.c.id == one["id"])
                if made.connection.execute(present).scalar_one_or_none() != one["after"]:
                    what = f"change {number} cannot be undone: what it changed has been changed again since"
                    raise UsageError(what, mend="undo the later change first; " + mend)
                made.edit(table, one["id"], **{name: one["before"]})
            undone = made.connection.execute(select(change).where(change.c.undone_by == number)).one_or_none()
            told = {"kind": "undo", "said": f"undone: change {number} ({row.said})"}
            if undone is not None:
                # The first change stands again, and can be undone again.
                told = {"kind": "redo", "said": f"done again: change {undone.id} ({undone.said})"}
                again = update(change).where(change.c.id == undone.id).values(undone_by=None)
                made.connection.execute(again)
            done = made.sign(**told, session_id=row.session_id)
            made.connection.execute(update(change).where(change.c.id == number).values(undone_by=done))
        return told["said"]


def _people_in(edits: str) -> set[int]:
    """Return the ids of people that an entry of the trail needs in order to be undone."""
    found: set[int] = set()
    for one in json.loads(edits):
        if one["column"] in ("pilot_id", "instructor_id", "grader_id"):
            found |= {who for who in (one["before"], one["after"]) if who is not None}
        if one["table"] == "person":
            found.add(one["id"])
    return found


def keep_trail(connection: Connection, session_id: int | None, trail: Sequence[TrailEntry]) -> int:
    """Take over entries of another logbook's trail, to be read and not to be undone; return how many were new."""
    added = 0
    for one in trail:
        values = {**as_plain(one, "number", "session", "undone", "by"), "session_id": session_id}
        same = [change.c[name].is_not_distinct_from(value) for name, value in values.items()]
        if connection.execute(select(change.c.id).where(*same)).first() is None:
            connection.execute(
                insert(change).values(**row_of(connection, values | {"by": one.by}), edits="[]")
            )
            added += 1
    return added


@dataclass(frozen=True)
class Forgotten:
    """What was erased, and where the name may still stand.

    ``sessions`` were the person's, with all their debriefs and grades; ``elsewhere`` counts places in other pilots'
    sessions and in the trail from which the name was taken; ``copies`` are those of older logbooks, made when they were
    moved on; ``files`` are pages and tables that were written from this logbook.
    """

    sessions: int
    elsewhere: int
    copies: tuple[str, ...] = ()
    files: tuple[str, ...] = ()


def forget_person(connection: Connection, name: str) -> Forgotten:
    """Erase a person and every session that the person flew, in a writing transaction.

    In other pilots' sessions the grades that the person gave stay, without the name. Entries of the trail that name
    the person go. Words that somebody wrote into a remark are not searched. Raises UsageError if nobody is called so.
    """
    who = known_person(connection, name).id
    files = _forget_files(connection, who)
    elsewhere = _forget_trail(connection, who, name)
    flown = select(session.c.id).where(session.c.pilot_id == who)
    debriefs = select(debrief.c.id).where(debrief.c.session_id.in_(flown))
    holds = select(hold.c.id).where(hold.c.debrief_id.in_(debriefs))
    connection.execute(delete(measure).where(measure.c.hold_id.in_(holds)))
    connection.execute(delete(hold).where(hold.c.debrief_id.in_(debriefs)))
    for table in (debrief, grade, recording, change):
        connection.execute(delete(table).where(table.c.session_id.in_(flown)))
    count = connection.execute(delete(session).where(session.c.pilot_id == who)).rowcount
    for column in _NAMES[1:]:
        taken = update(column.table).where(column == who).values({column: None})
        elsewhere += connection.execute(taken).rowcount
    connection.execute(delete(person).where(person.c.id == who))
    _drop_strangers(connection)
    return Forgotten(sessions=count, elsewhere=elsewhere, files=files)


def _forget_files(connection: Connection, who: int) -> tuple[str, ...]:
    """List the files that may name the person, and strike the person's own from the list.

    They are the person's, everybody's, and those of pilots whom the person instructed or graded.
    """
    graded = select(grade.c.session_id).where(grade.c.grader_id == who)
    taught = select(session.c.pilot_id).where((session.c.instructor_id == who) | session.c.id.in_(graded))
    owner = written_file.c.pilot_id
    rows = select(written_file.c.path).where(or_(owner == who, owner.is_(None), owner.in_(taught)))
    files = tuple(sorted(connection.execute(rows).scalars()))
    connection.execute(delete(written_file).where(written_file.c.pilot_id == who))
    return files


def _forget_trail(connection: Connection, who: int, name: str) -> int:
    trail = connection.execute(select(change)).all()
    names = _names_of(connection, who, name, [row.said for row in trail if row.kind == "rename"])
    named = re.compile("|".join(map(_as_word, names)))
    gone = [
        row.id
        for row in trail
        if who in _people_in(row.edits) or named.search(name_key(f"{row.said} {row.why}"))
    ]
    connection.execute(delete(change).where(change.c.id.in_(gone)))
    return len(gone)


def _names_of(connection: Connection, who: int, name: str, renamings: Sequence[str]) -> set[str]:
    """Return the keys of all names under which the trail may mention a person; another person's are none of them."""
    query = select(person.c.name_key).where(person.c.id != who, _mentioned())
    taken = set(connection.execute(query).scalars())
    pairs = [set(map(name_key, said.groups())) for one in renamings if (said := _RENAMED.fullmatch(one))]
    names = {name_key(name)}
    while more := {one for pair in pairs if pair & names for one in pair} - taken - names:
        names |= more
    return names


def _as_word(key: str) -> str:
    """Return what finds a name as a whole word: Al is not in "altitude"; some scripts write words together."""
    inside = any(unicodedata.category(sign) == "Lo" for sign in key)
    return re.escape(key) if inside else rf"(?<!\w){re.escape(key)}(?!\w)"


def _mentioned() -> ColumnElement[bool]:
    # NOT IN is never true beside a NULL, so those are left out.
    return or_(*(person.c.id.in_(select(column).where(column.is_not(None))) for column in _NAMES))


def _drop_strangers(connection: Connection) -> None:
    """Erase people whom nothing in the logbook mentions any more: no name is kept for nothing."""
    needed: set[int] = set()
    for edits in connection.execute(select(change.c.edits)).scalars():
        needed |= _people_in(edits)
    strangers = select(person.c.id).where(not_(_mentioned()), person.c.id.not_in(needed))
    gone = connection.execute(strangers).scalars().all()
    connection.execute(delete(written_file).where(written_file.c.pilot_id.in_(gone)))
    connection.execute(delete(person).where(person.c.id.in_(gone)))
