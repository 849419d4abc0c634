"""Keeping grades: always added, never written over, with who gave what and when."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, insert, select

from analyser.errors import LogbookError, UsageError
from analyser.logbook.flatten import iso_utc
from analyser.logbook.names import name_key, storable
from analyser.logbook.points import item_points
from analyser.logbook.record import person_id
from analyser.logbook.sessions import Session
from analyser.logbook.sheet import Given
from analyser.logbook.tables import grade

#: Points to (key, place) of the proposed level.
Propose = Callable[[float | None], tuple[str, int] | None]


def add_grades(
    connection: Connection,
    session_id: int,
    session: Session,
    given: Sequence[Given],
    *,
    propose: Propose,
    graded: datetime,
    recorded: datetime,
) -> int:
    """Add grades to a session.

    Parameters
    ----------
    connection : Connection
        In a writing transaction.
    session_id : int
    session : Session
    given : sequence of Given
    propose : callable
        Points to (key, place) of the level that they stand for.
    graded, recorded : datetime
        When they were given, and when they reach the logbook.

    Returns
    -------
    int
        How many were new; the same sheet a second time adds nothing.

    Raises
    ------
    LogbookError, UsageError
        A hold, item or person that this session does not have.
    """
    added = 0
    for one in given:
        points = _computed(session, one)
        proposed = propose(points)
        values = {
            "session_id": session_id,
            "hold": one.hold,
            "item": one.item,
            "given_as": one.given_as,
            "scale": storable(one.scale, longest=200),
            "level": storable(one.level, longest=60),
            "place": one.place,
            "required": None if one.required is None else storable(one.required, longest=60),
            "computed_points": points,
            "proposed": proposed[0] if proposed else None,
            "proposed_place": proposed[1] if proposed else None,
            "remark": storable(one.remark, longest=4000),
            "graded_utc": iso_utc(graded),
        }
        grader = _grader(session, one)
        values |= {"grader_id": person_id(connection, grader), "recorded_utc": iso_utc(recorded)}
        added += insert_grade(connection, session.key, values)
    return added


def insert_grade(connection: Connection, key: str, values: dict[str, Any]) -> int:
    """Insert a grade, unless the very same is there.

    Parameters
    ----------
    connection : Connection
    key : str
        The session's.
    values : dict
        Columns of ``grade`` without its id.

    Returns
    -------
    int
        1 where it was new, else 0.
    """
    number = _mark(key, values)
    if connection.execute(select(grade.c.id).where(grade.c.id == number)).one_or_none():
        return 0
    connection.execute(insert(grade).values(id=number, **values))
    return 1


def _mark(key: str, values: dict[str, Any]) -> str:
    # The grader's name stays out of it, so that nothing of the name is left when the person is erased.
    told = ("hold", "item", "given_as", "scale", "level", "required", "remark", "graded_utc")
    text = json.dumps([key, *(values[name] for name in told)])
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def _computed(session: Session, one: Given) -> float | None:
    if not 1 <= one.hold <= len(session.holds):
        what = f"session {session.reference} has {len(session.holds)} holds, none is number {one.hold}"
        raise UsageError(what, mend="give the number of a hold that it has")
    points = item_points(session.holds[one.hold - 1])
    if one.item not in points:
        known = ", ".join(points)
        raise UsageError(f"hold {one.hold} has no item '{one.item}'", mend=f"use one of: {known}")
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
        raise UsageError("the instructor's grades have no instructor", mend="write the name on the sheet")
    return one.grader or str(session.instructor)
