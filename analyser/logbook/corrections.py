"""Putting right what is wrong in the logbook: each change leaves its trail, and can be undone; a person erased cannot.

A change is a list of edits: a column of a row, what stood there before and what stands there now. Undoing puts
the former values back, provided that nothing has changed them since.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Table, delete, insert, or_, select, update

from analyser.errors import UsageError
from analyser.logbook.documents import iso_utc, now
from analyser.logbook.marks import title_of
from analyser.logbook.names import clean_name, counted, name_key, near
from analyser.logbook.reading import people
from analyser.logbook.record import inserted, person_id
from analyser.logbook.sessions import GivenAs, Session
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
_PEOPLE = ("pilot_id", "instructor_id", "grader_id")


@dataclass
class Hand:
    """Somebody at work on the logbook, in a writing transaction: who it is, why, and what was edited so far."""

    connection: Connection
    by: str
    why: str
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

    def sign(self, kind: str, said: str, session_id: int | None = None) -> int:
        """Write the change into the trail; return its number.

        Raises
        ------
        UsageError
            Nothing was edited: all of it is so already.
        """
        if not self.edits:
            raise UsageError(f"this would change nothing: {said}")
        values = {
            "session_id": session_id,
            "by_id": person_id(self.connection, self.by),
            "changed_utc": iso_utc(now()),
            "kind": kind,
            "said": said,
            "why": self.why,
            "edits": json.dumps(self.edits),
        }
        return inserted(self.connection, change, values)


def rename(hand: Hand, name: str, to: str, *, merge: bool) -> str:
    """Give a person another name in all places, or make one person of two; return what was done.

    Raises
    ------
    UsageError
        Nobody is called so, or the new name is somebody else's and ``merge`` is not set.
    """
    who = known_person(hand.connection, name)
    other = hand.connection.execute(select(person).where(person.c.name_key == name_key(to))).one_or_none()
    if other is not None and other.id != who.id:
        if not merge:
            mend = "if both are one person, say --merge"
            raise UsageError(f"somebody is called {other.name} already", mend=mend)
        places = _replace_person(hand, who.id, other.id)
        said = f"{who.name} is {other.name} in {counted(places, 'place')}"
    else:
        hand.edit(person, who.id, name=to, name_key=name_key(to))
        said = f"{who.name} is called {to} from now on, in all places"
    hand.sign("rename", said)
    return said


def known_person(connection: Connection, name: str) -> Any:
    """Return the row of a person, or raise a UsageError that says who may have been meant."""
    who = connection.execute(select(person).where(person.c.name_key == name_key(name))).one_or_none()
    if who is None:
        everybody = connection.execute(select(person.c.name).order_by(person.c.name_key)).scalars().all()
        raise UsageError(f"nobody called '{name}' is in the logbook", mend=near(name, everybody))
    return who


def _replace_person(hand: Hand, old: int, new: int) -> int:
    places = 0
    for table, column in ((session, "pilot_id"), (session, "instructor_id"), (grade, "grader_id")):
        rows = hand.connection.execute(select(table.c.id).where(table.c[column] == old)).scalars().all()
        for number in rows:
            hand.edit(table, number, **{column: new})
        places += len(rows)
    return places


def move(hand: Hand, number: int, one: Session, pilot: str, *, carry_own: bool) -> str:
    """Say that another pilot flew a session.

    The grades that the first pilot gave as the one who had flown are withdrawn, or carried over to the new one.
    """
    if name_key(pilot) == name_key(one.pilot):
        raise UsageError(f"session {one.reference} is {one.pilot}'s already")
    who = person_id(hand.connection, pilot)
    hand.edit(session, number, pilot_id=who)
    own = select(grade.c.id).where(
        grade.c.session_id == number, grade.c.given_as == "pilot", grade.c.withdrawn_utc.is_(None)
    )
    rows = hand.connection.execute(own).scalars().all()
    for mark in rows:
        if carry_own:
            hand.edit(grade, mark, grader_id=who)
        else:
            hand.edit(grade, mark, withdrawn_utc=iso_utc(now()))
    done = f"carried over to {pilot}" if carry_own else "withdrawn"
    graded = f"; {counted(len(rows), 'grade')} of the pilot's own {done}" if rows else ""
    said = f"flown by {pilot}, before: {one.pilot}{graded}"
    hand.sign("move", said, number)
    return said


def set_about(
    hand: Hand,
    number: int,
    one: Session,
    *,
    instructor: str | None = None,
    device: str | None = None,
    lesson: str | None = None,
) -> str:
    """Say anew who instructed, on what, and which lesson it was; what is None stays."""
    told = []
    if instructor:
        hand.edit(session, number, instructor_id=person_id(hand.connection, instructor))
        told.append(f"instructor {instructor}, before: {one.instructor or 'none'}")
    for name, value in (("device", device), ("lesson", lesson)):
        if value:
            hand.edit(session, number, **{name: value})
            told.append(f"{name} {value}, before: {getattr(one, name) or 'none'}")
    said = "; ".join(told)
    hand.sign("set", said, number)
    return said


def date(hand: Hand, number: int, one: Session, flown: datetime) -> str:
    """Say when a session was flown, where its log does not or is wrong."""
    hand.edit(session, number, flown_utc=iso_utc(flown), flown_from="given")
    before = f"{one.flown:%Y-%m-%d %H:%M} UTC" if one.flown else "not known"
    said = f"flown {flown:%Y-%m-%d %H:%M} UTC, before: {before}"
    hand.sign("date", said, number)
    return said


def withdraw(
    hand: Hand, number: int, one: Session, *, hold: int, item: str, given_as: str, grader: str | None
) -> str:
    """Take back the grade that stands for an item, ``"all"`` of them, or those of one grader.

    Raises
    ------
    UsageError
        There is no such grade.
    """
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
        alike = [
            grade.c[name].is_not_distinct_from(getattr(each, name))
            for name in ("hold", "item", "given_as", "scale", "level", "required", "remark")
        ]
        rows = hand.connection.execute(
            select(grade.c.id)
            .outerjoin(person, person.c.id == grade.c.grader_id)
            .where(
                grade.c.session_id == number,
                *alike,
                grade.c.graded_utc == iso_utc(each.graded),
                person.c.name.is_not_distinct_from(each.grader),
            )
        ).scalars()
        for mark in rows.all():
            hand.edit(grade, mark, withdrawn_utc=iso_utc(now()))
    told = ", ".join(
        f"{title_of(each.item)} {each.level} by {each.grader or 'somebody erased'}" for each in found
    )
    said = f"withdrawn: {told} (hold {hold})"
    hand.sign("withdraw", said, number)
    return said


def take_out(hand: Hand, number: int, one: Session) -> str:
    """Take a session out of the logbook; it stays to be put back, until the pilot is forgotten."""
    hand.edit(session, number, removed_utc=iso_utc(now()))
    said = f"taken out: {one.log_name}, flown {one.when:%Y-%m-%d} by {one.pilot}"
    hand.sign("delete", said, number)
    return said


def undo(hand: Hand, number: int) -> str:
    """Put back what a change replaced; the undoing of an undoing does the first change again.

    Raises
    ------
    UsageError
        There is no such change, it is undone or cannot be, or something has been changed since.
    """
    row = hand.connection.execute(select(change).where(change.c.id == number)).one_or_none()
    mend = "analyser logbook trail shows the changes"
    if row is None:
        raise UsageError(f"there is no change number {number}", mend=mend)
    edits = json.loads(row.edits)
    undone = hand.connection.execute(
        select(change.c.id, change.c.said).where(change.c.undone_by == number)
    ).one_or_none()
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
        table = _TABLES[one["table"]]
        column = table.c[one["column"]]
        present = hand.connection.execute(select(column).where(table.c.id == one["id"])).scalar_one_or_none()
        if present != one["after"]:
            what = f"change {number} cannot be undone: what it changed has been changed again since"
            raise UsageError(what, mend="undo the later change first; " + mend)
        hand.edit(table, one["id"], **{one["column"]: one["before"]})
    if undone is None:
        said = f"undone: change {number} ({row.said})"
    else:
        said = f"done again: change {undone.id} ({undone.said})"
    done = hand.sign("undo" if undone is None else "redo", said, row.session_id)
    hand.connection.execute(update(change).where(change.c.id == number).values(undone_by=done))
    if undone is not None:
        # The first change stands again, and can be undone again.
        hand.connection.execute(update(change).where(change.c.id == undone.id).values(undone_by=None))
    return said


def people_in(edits: str) -> set[int]:
    """Return the ids of people that an entry of the trail needs in order to be undone."""
    found: set[int] = set()
    for one in json.loads(edits):
        if one["column"] in _PEOPLE:
            found |= {who for who in (one["before"], one["after"]) if who is not None}
        if one["table"] == "person":
            found.add(one["id"])
    return found


def keep_trail(connection: Connection, session_id: int | None, told: Sequence[Mapping[str, Any]]) -> int:
    """Take over entries of another logbook's trail, to be read and not to be undone; return how many were new."""
    added = 0
    for one in told:
        values = {key: one[key] for key in ("changed_utc", "kind", "said", "why")} | {
            "session_id": session_id
        }
        same = [change.c[name].is_not_distinct_from(value) for name, value in values.items()]
        if connection.execute(select(change.c.id).where(*same)).first() is None:
            by = person_id(connection, one["by"]) if one["by"] else None
            connection.execute(insert(change).values(**values, by_id=by, edits="[]"))
            added += 1
    return added


def known_people(connection: Connection, names: Sequence[str], *, what: GivenAs = "pilot") -> list[str]:
    """Return the names of pilots, or of instructors, as the logbook writes them.

    Raises
    ------
    UsageError
        One of them has no session: all of those are named, with who may have been meant.
    """
    there = {name_key(one): one for one in people(connection, what)}
    asked = [clean_name(one, what=what) for one in names]
    strangers = [one for one in asked if name_key(one) not in there]
    if strangers:
        called = ", ".join(f"'{one}'" for one in strangers)
        whose = "of" if what == "pilot" else "with instructor"
        mend = near(strangers[0], there.values())
        raise UsageError(f"no session {whose} {called} is in the logbook", mend=mend)
    return [there[name_key(one)] for one in asked]


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

    In other pilots' sessions the grades that the person gave stay, without the name. Entries of the trail that
    name the person go. Words that somebody wrote into a remark are not searched.

    Raises
    ------
    UsageError
        Nobody is called so.
    """
    who = known_person(connection, name).id
    files = _forget_files(connection, who)
    elsewhere = _forget_trail(connection, who, name)
    flown = select(session.c.id).where(session.c.pilot_id == who)
    count = len(connection.execute(flown).all())
    debriefs = select(debrief.c.id).where(debrief.c.session_id.in_(flown))
    holds = select(hold.c.id).where(hold.c.debrief_id.in_(debriefs))
    connection.execute(delete(measure).where(measure.c.hold_id.in_(holds)))
    connection.execute(delete(hold).where(hold.c.debrief_id.in_(debriefs)))
    for table in (debrief, grade, recording, change):
        connection.execute(delete(table).where(table.c.session_id.in_(flown)))
    connection.execute(delete(session).where(session.c.pilot_id == who))
    for table, column in ((session, "instructor_id"), (grade, "grader_id"), (change, "by_id")):
        taken = update(table).where(table.c[column] == who).values(**{column: None})
        elsewhere += connection.execute(taken).rowcount
    connection.execute(delete(person).where(person.c.id == who))
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
    gone = 0
    for row in connection.execute(select(change)).all():
        if who in people_in(row.edits) or name_key(name) in name_key(f"{row.said} {row.why}"):
            connection.execute(delete(change).where(change.c.id == row.id))
            gone += 1
    return gone


def drop_strangers(connection: Connection) -> None:
    """Erase people whom nothing in the logbook mentions any more: no name is kept for nothing."""
    needed: set[int] = set()
    for edits in connection.execute(select(change.c.edits)).scalars():
        needed |= people_in(edits)
    # NOT IN is never true beside a NULL, so those are left out.
    columns = (session.c.pilot_id, session.c.instructor_id, grade.c.grader_id, change.c.by_id)
    named = [person.c.id.not_in(select(column).where(column.is_not(None))) for column in columns]
    gone = connection.execute(select(person.c.id).where(*named, person.c.id.not_in(needed))).scalars().all()
    connection.execute(delete(written_file).where(written_file.c.pilot_id.in_(gone)))
    connection.execute(delete(person).where(person.c.id.in_(gone)))
