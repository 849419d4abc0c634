"""Getting sessions out of the logbook."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Table, func, select

from analyser.errors import UsageError
from analyser.logbook.documents import iso_utc
from analyser.logbook.names import clean_name, name_key, near
from analyser.logbook.sessions import (
    GivenAs,
    Grade,
    Kept,
    Session,
    Trace,
    TrailEntry,
    from_plain,
    session_key,
)
from analyser.logbook.tables import change, debrief, grade, person, recording, session

_pilot = person.alias("pilot")
_instructor = person.alias("instructor")
_OF_PEOPLE = session.join(_pilot, _pilot.c.id == session.c.pilot_id).outerjoin(
    _instructor, _instructor.c.id == session.c.instructor_id
)


def session_ids(
    connection: Connection,
    *,
    pilots: Sequence[str] | None = None,
    instructor: str | None = None,
    since: datetime | None = None,
    until: datetime | None = None,
    reference: str | None = None,
    removed: bool = False,
) -> list[int]:
    """List the sessions that are wanted, in the order they were flown; one that nobody dated, as it was recorded.

    ``reference`` is how a log's hash begins, with ``-2`` … after it for another than the log's first flight; with
    ``removed`` those that were taken out are listed too.
    """
    when = func.coalesce(session.c.flown_utc, session.c.recorded_utc)
    query = select(session.c.id).select_from(_OF_PEOPLE)
    query = query.order_by(when, session.c.log_sha256, session.c.flight)
    if not removed:
        query = query.where(session.c.removed_utc.is_(None))
    if pilots is not None:
        query = query.where(_pilot.c.name_key.in_([name_key(one) for one in pilots]))
    if instructor is not None:
        query = query.where(_instructor.c.name_key == name_key(instructor))
    if since is not None:
        query = query.where(when >= iso_utc(since))
    if until is not None:
        query = query.where(when <= iso_utc(until))
    if reference is not None:
        beginning, dash, flight = reference.lower().partition("-")
        # No flight has the number 0: what is no number finds nothing.
        number = (int(flight) if flight.isdecimal() and len(flight) < 6 else 0) if dash else 1
        begins = recording.c.log_sha256.startswith(beginning, autoescape=True)
        called = select(recording.c.session_id).where(begins, recording.c.flight == number)
        query = query.where(session.c.id.in_(called))
    return list(connection.execute(query).scalars())


def one_session(connection: Connection, reference: str, *, removed: bool = False) -> tuple[int, Session]:
    """Find the one session that is called so; ``"last"`` is the one that came here last.

    Raises UsageError: none, or more than one.
    """
    if reference == "last":
        # By arrival here: a computer's clock may have been set back.
        numbers = sorted(session_ids(connection))[-1:]
    else:
        numbers = session_ids(connection, reference=reference, removed=removed) if reference else []
    found = read_session(connection, numbers[0]) if len(numbers) == 1 else None
    if found is None:
        if numbers:
            what = f"{len(numbers)} sessions in the logbook begin with '{reference}'"
            raise UsageError(what, mend="give more of its characters")
        if reference == "last":
            raise UsageError("no session is in the logbook", mend="debrief a log with --pilot NAME first")
        if reference and not removed and session_ids(connection, reference=reference, removed=True):
            what = f"session {reference} was taken out of the logbook"
            raise UsageError(what, mend="analyser logbook trail shows how to put it back")
        mend = "analyser logbook list shows them"
        raise UsageError(f"no session in the logbook begins with '{reference}'", mend=mend)
    return numbers[0], found


def sessions_of_log(connection: Connection, log_sha256: str) -> list[Session]:
    """Return the sessions whose flights a log holds, in the order of its flights."""
    query = select(session.c.id).join(recording).order_by(recording.c.flight)
    query = query.where(recording.c.log_sha256 == log_sha256, session.c.removed_utc.is_(None))
    return read_sessions(connection, connection.execute(query).scalars().all())


def read_sessions(connection: Connection, numbers: Sequence[int]) -> list[Session]:
    """Read sessions, those left out that have been erased meanwhile."""
    found = [read_session(connection, number) for number in numbers]
    return [one for one in found if one is not None]


def read_session(connection: Connection, number: int) -> Session | None:
    """Read one session with all that belongs to it; None where it has been erased meanwhile."""
    people = (_pilot.c.name.label("pilot"), _instructor.c.name.label("instructor"))
    query = select(session, *people).select_from(_OF_PEOPLE).where(session.c.id == number)
    row = connection.execute(query).one_or_none()
    if row is None:
        return None

    def those_of_it(of: Table, *order: Any) -> Sequence[Any]:
        belonging = select(of).where(of.c.session_id == number)
        if of is grade:
            belonging = belonging.add_columns(person.c.name.label("grader")).outerjoin(person)
        return connection.execute(belonging.order_by(*order)).all()

    kept = [
        from_plain(
            Kept,
            one._asdict(),
            document=json.loads(one.document),
            trace=Trace.from_json(json.loads(one.trace or "null")),
        )
        for one in those_of_it(debrief, debrief.c.rank)
    ]
    logs = [(one.log_sha256, one.flight, one.log_name) for one in those_of_it(recording, recording.c.id)]
    grades = those_of_it(grade, grade.c.arrival, grade.c.id)
    return from_plain(
        Session,
        row._asdict(),
        others=tuple(one for one in logs if one[:2] != (row.log_sha256, row.flight)),
        debrief=kept[-1],
        earlier=tuple(kept[:-1]),
        grades=tuple(from_plain(Grade, one._asdict()) for one in grades),
    )


def people(connection: Connection, what: GivenAs = "pilot") -> dict[str, int]:
    """Count the sessions that each pilot, or each instructor, has: name to number, by name."""
    rows = connection.execute(
        select(person.c.name, func.count(session.c.id))
        .join(session, session.c[f"{what}_id"] == person.c.id)
        .where(session.c.removed_utc.is_(None))
        .group_by(person.c.id, person.c.name, person.c.name_key)
        .order_by(person.c.name_key)
    )
    return {name: int(count) for name, count in rows}


def known_person(connection: Connection, name: str) -> Any:
    """Return the row of a person, or raise a UsageError that says who may have been meant."""
    who = connection.execute(select(person).where(person.c.name_key == name_key(name))).one_or_none()
    if who is None:
        everybody = connection.execute(select(person.c.name).order_by(person.c.name_key)).scalars().all()
        raise UsageError(f"nobody called '{name}' is in the logbook", mend=near(name, everybody))
    return who


def known_people(connection: Connection, names: Sequence[str], *, what: GivenAs = "pilot") -> list[str]:
    """Return the names of pilots, or of instructors, as the logbook writes them.

    Raises UsageError if one of them has no session: all of those are named, with who may have been meant.
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


def read_trail(connection: Connection, numbers: Sequence[int] | None = None) -> list[TrailEntry]:
    """Return the changes that were made by hand, oldest first: all, or those of some sessions."""
    query = (
        select(change, person.c.name.label("by"), session.c.log_sha256, session.c.flight)
        .outerjoin(person, person.c.id == change.c.by_id)
        .outerjoin(session, session.c.id == change.c.session_id)
        .order_by(change.c.id)
    )
    if numbers is not None:
        query = query.where(change.c.session_id.in_(numbers))
    return [
        from_plain(
            TrailEntry,
            row._asdict(),
            number=row.id,
            session=session_key(row.log_sha256[:8], row.flight) if row.log_sha256 else None,
            undone=row.undone_by is not None,
        )
        for row in connection.execute(query)
    ]
