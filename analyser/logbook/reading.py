"""Getting sessions out of the logbook."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Select, func, select

from analyser.logbook.flatten import iso_utc
from analyser.logbook.names import name_key
from analyser.logbook.sessions import Grade, Kept, Session
from analyser.logbook.tables import debrief, grade, person, session

_pilot = person.alias("pilot")
_instructor = person.alias("instructor")


@dataclass(frozen=True)
class Wanted:
    """Which sessions.

    Attributes
    ----------
    pilots : sequence of str or None
        None: everybody's.
    instructor : str or None
    since, until : datetime or None
        First and last instant; a session that nobody dated counts by when it was recorded.
    reference : str or None
        How the log's hash begins; ``-2`` … after it for another than the log's first flight.
    """

    pilots: Sequence[str] | None = None
    instructor: str | None = None
    since: datetime | None = None
    until: datetime | None = None
    reference: str | None = None


def session_ids(connection: Connection, wanted: Wanted) -> list[int]:
    """List the sessions that are wanted, in the order they were flown.

    Parameters
    ----------
    connection : Connection
    wanted : Wanted

    Returns
    -------
    list of int
    """
    when = func.coalesce(session.c.flown_utc, session.c.recorded_utc)
    query: Select[Any] = (
        select(session.c.id)
        .join(_pilot, _pilot.c.id == session.c.pilot_id)
        .outerjoin(_instructor, _instructor.c.id == session.c.instructor_id)
        .order_by(when, session.c.log_sha256, session.c.flight)
    )
    if wanted.pilots is not None:
        query = query.where(_pilot.c.name_key.in_([name_key(one) for one in wanted.pilots]))
    if wanted.instructor is not None:
        query = query.where(_instructor.c.name_key == name_key(wanted.instructor))
    if wanted.since is not None:
        query = query.where(when >= iso_utc(wanted.since))
    if wanted.until is not None:
        query = query.where(when <= iso_utc(wanted.until))
    if wanted.reference is not None:
        beginning, dash, flight = wanted.reference.lower().partition("-")
        # No flight has the number 0: what is no number finds nothing.
        number = (int(flight) if flight.isdecimal() and len(flight) < 6 else 0) if dash else 1
        query = query.where(
            session.c.log_sha256.startswith(beginning, autoescape=True),
            session.c.flight == number,
        )
    return list(connection.execute(query).scalars())


def read_session(connection: Connection, number: int) -> Session | None:
    """Read one session with all that belongs to it.

    Parameters
    ----------
    connection : Connection
    number : int
        Its id.

    Returns
    -------
    Session or None
        None where it has been erased meanwhile.
    """
    row = connection.execute(
        select(session, _pilot.c.name.label("pilot"), _instructor.c.name.label("instructor"))
        .join(_pilot, _pilot.c.id == session.c.pilot_id)
        .outerjoin(_instructor, _instructor.c.id == session.c.instructor_id)
        .where(session.c.id == number)
    ).one_or_none()
    if row is None:
        return None
    kept = _debriefs(connection, number)
    return Session(
        log_sha256=row.log_sha256,
        flight=row.flight,
        log_name=row.log_name,
        flown=_instant(row.flown_utc) if row.flown_utc else None,
        flown_from=row.flown_from,
        pilot=row.pilot,
        instructor=row.instructor,
        device=row.device,
        lesson=row.lesson,
        recorded=_instant(row.recorded_utc),
        debrief=kept[-1],
        earlier=tuple(kept[:-1]),
        grades=_grades(connection, number),
    )


def _debriefs(connection: Connection, number: int) -> list[Kept]:
    rows = connection.execute(select(debrief).where(debrief.c.session_id == number).order_by(debrief.c.rank))
    return [
        Kept(
            program_version=row.program_version,
            rules_version=row.rules_version,
            recorded=_instant(row.recorded_utc),
            document=json.loads(row.document),
            trace=None if row.trace is None else json.loads(row.trace),
            document_sha256=row.document_sha256,
        )
        for row in rows
    ]


def _grades(connection: Connection, number: int) -> tuple[Grade, ...]:
    rows = connection.execute(
        select(grade, person.c.name.label("grader"))
        .outerjoin(person, person.c.id == grade.c.grader_id)
        .where(grade.c.session_id == number)
        .order_by(grade.c.graded_utc, grade.c.recorded_utc, grade.c.hold, grade.c.item, grade.c.given_as)
    )
    plain = [name for name in Grade.__dataclass_fields__ if name not in ("graded", "recorded")]
    return tuple(
        Grade(
            **{name: getattr(row, name) for name in plain},
            graded=_instant(row.graded_utc),
            recorded=_instant(row.recorded_utc),
        )
        for row in rows
    )


def people(connection: Connection) -> dict[str, int]:
    """Count the sessions that each pilot has.

    Parameters
    ----------
    connection : Connection

    Returns
    -------
    dict
        Pilot's name to number of sessions, by name.
    """
    rows = connection.execute(
        select(person.c.name, func.count(session.c.id))
        .join(session, session.c.pilot_id == person.c.id)
        .group_by(person.c.id, person.c.name, person.c.name_key)
        .order_by(person.c.name_key)
    )
    counted: dict[str, int] = defaultdict(int)
    for name, sessions in rows:
        counted[name] += sessions
    return dict(counted)


def _instant(text: str) -> datetime:
    return datetime.fromisoformat(text)
