"""Erasing a person."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import Connection, delete, select, update

from analyser.logbook.names import name_key
from analyser.logbook.tables import debrief, grade, hold, measure, person, session


@dataclass(frozen=True)
class Forgotten:
    """What was erased.

    Attributes
    ----------
    sessions : int
        Flown by the person, with all their debriefs and grades.
    elsewhere : int
        Places in other pilots' sessions from which the name was taken, as instructor or grader.
    backups : tuple of str
        Copies of older logbooks that may still hold the name.
    """

    sessions: int
    elsewhere: int
    backups: tuple[str, ...] = ()


def forget_person(connection: Connection, name: str) -> Forgotten | None:
    """Erase a person and every session that the person flew.

    In other pilots' sessions the grades that the person gave stay, without the name; words that somebody
    wrote into a remark are not searched.

    Parameters
    ----------
    connection : Connection
        In a writing transaction.
    name : str

    Returns
    -------
    Forgotten or None
        None where nobody of that name is there.
    """
    who = connection.execute(
        select(person.c.id).where(person.c.name_key == name_key(name))
    ).scalar_one_or_none()
    if who is None:
        return None
    flown = select(session.c.id).where(session.c.pilot_id == who)
    debriefs = select(debrief.c.id).where(debrief.c.session_id.in_(flown))
    holds = select(hold.c.id).where(hold.c.debrief_id.in_(debriefs))
    connection.execute(delete(measure).where(measure.c.hold_id.in_(holds)))
    connection.execute(delete(hold).where(hold.c.debrief_id.in_(debriefs)))
    connection.execute(delete(debrief).where(debrief.c.session_id.in_(flown)))
    connection.execute(delete(grade).where(grade.c.session_id.in_(flown)))
    others = connection.execute(select(session.c.id).where(session.c.pilot_id == who)).all()
    connection.execute(delete(session).where(session.c.pilot_id == who))
    elsewhere = connection.execute(
        update(session).where(session.c.instructor_id == who).values(instructor_id=None)
    ).rowcount
    elsewhere += connection.execute(
        update(grade).where(grade.c.grader_id == who).values(grader_id=None)
    ).rowcount
    connection.execute(delete(person).where(person.c.id == who))
    return Forgotten(sessions=len(others), elsewhere=elsewhere)


def drop_strangers(connection: Connection) -> None:
    """Erase people whom nothing in the logbook mentions any more.

    A session that was erased may have been the only one of its instructor: no name is kept for nothing.

    Parameters
    ----------
    connection : Connection
        In a writing transaction.
    """
    # NOT IN is never true beside a NULL, so those are left out.
    named = [
        person.c.id.not_in(select(column).where(column.is_not(None)))
        for column in (session.c.pilot_id, session.c.instructor_id, grade.c.grader_id)
    ]
    connection.execute(delete(person).where(*named))
