"""Keeping grades: always added, never written over, with who gave what and when, in the order of their arrival."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, func, insert, select

from analyser.errors import LogbookError, UsageError
from analyser.logbook.flatten import iso_utc
from analyser.logbook.marks import item_points
from analyser.logbook.names import name_key, storable
from analyser.logbook.record import person_id
from analyser.logbook.sessions import Session
from analyser.logbook.sheet import Given
from analyser.logbook.tables import grade

#: Points to (key, place) of the proposed level.
Propose = Callable[[float | None], tuple[str, int] | None]
#: What makes two grades of one person the same one.
_TOLD = ("hold", "item", "given_as", "scale", "level", "required", "remark", "graded_utc")


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
    """Add grades to a session; return how many were new, for the same sheet a second time adds nothing.

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
            "grader_id": person_id(connection, _grader(session, one)),
            "recorded_utc": iso_utc(recorded),
        }
        added += insert_grade(connection, session.key, values)
    return added


def insert_grade(connection: Connection, key: str, values: dict[str, Any]) -> int:
    """Insert a grade of a session behind all others, unless the very same is there; return how many were inserted.

    ``values`` are the columns of ``grade`` without its id and order of arrival.
    """
    # "IS NOT DISTINCT FROM" in both databases' words: a grade asked for may be missing.
    alike = [grade.c[name].is_not_distinct_from(values[name]) for name in ("session_id", *_TOLD)]
    there = connection.execute(select(grade.c.grader_id).where(*alike)).scalars().all()
    # A grade whose giver has been erased is known again without the name.
    if any(who is None or who == values["grader_id"] for who in there):
        return 0
    arrival = connection.execute(select(func.coalesce(func.max(grade.c.arrival), 0))).scalar_one() + 1
    # The grader's name stays out of it, so that nothing of the name is left when the person is erased.
    text = json.dumps([key, *(values[name] for name in _TOLD), *([len(there)] if there else [])])
    number = hashlib.sha256(text.encode("ascii")).hexdigest()
    connection.execute(insert(grade).values(id=number, arrival=arrival, **values))
    return 1


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
