"""Erasing a person."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import Connection, delete, or_, select, update

from analyser.logbook.changes import people_in
from analyser.logbook.names import name_key
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


def forget_person(connection: Connection, name: str) -> Forgotten | None:
    """Erase a person and every session that the person flew, in a writing transaction; None: nobody is called so.

    In other pilots' sessions the grades that the person gave stay, without the name. Entries of the trail that
    name the person go. Words that somebody wrote into a remark are not searched.
    """
    who = connection.execute(
        select(person.c.id).where(person.c.name_key == name_key(name))
    ).scalar_one_or_none()
    if who is None:
        return None
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
    """List the files that are the person's or everybody's, and strike the person's own from the list."""
    mine = or_(written_file.c.pilot_id == who, written_file.c.pilot_id.is_(None))
    rows = select(written_file.c.path).where(mine).order_by(written_file.c.path)
    files = tuple(connection.execute(rows).scalars())
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
