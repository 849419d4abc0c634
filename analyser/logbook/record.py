"""Writing a debrief into the logbook: one transaction, the same log once."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Literal

from sqlalchemy import Connection, func, insert, select, update

from analyser.errors import LogbookError
from analyser.logbook.flatten import check_document, flown_utc, hold_rows, iso_utc
from analyser.logbook.names import name_key, storable
from analyser.logbook.sessions import Trace, session_key
from analyser.logbook.tables import debrief, hold, measure, person, session

Kind = Literal["new", "already there", "re-debriefed"]


@dataclass(frozen=True)
class RecordOutcome:
    """What recording a debrief came to.

    Attributes
    ----------
    kind : "new", "already there" or "re-debriefed"
    session : str
        The session's key: SHA-256 of the log, and which flight of it.
    message : str
        One sentence for the person.
    """

    kind: Kind
    session: str
    message: str


@dataclass(frozen=True)
class Entry:
    """A debrief on its way into the logbook.

    Attributes
    ----------
    document : mapping
    flight : int
        Which of the log's flights, from 1.
    pilot : str
        Cleaned.
    instructor, device, lesson : str or None
        Cleaned; None leaves what is there.
    flown : datetime or None
        Said by a person, for logs without a date.
    trace : sequence or None
    program_version, rules_version : str
    recorded : datetime
    """

    document: Mapping[str, Any]
    flight: int
    pilot: str
    instructor: str | None
    device: str | None
    lesson: str | None
    flown: datetime | None
    trace: Trace | None
    program_version: str
    rules_version: str
    recorded: datetime


def canonical(document: Mapping[str, Any]) -> str:
    """Write a document as its one text: plain ASCII, so that any database keeps any character.

    Parameters
    ----------
    document : mapping

    Returns
    -------
    str

    Raises
    ------
    LogbookError
        It holds something that JSON has no word for.
    """
    return _as_text(document, sort_keys=False)


def fingerprint(document: Mapping[str, Any]) -> str:
    """Return the SHA-256 of what a document says of the flight, whatever the order of its keys.

    The log's name and the block that tells of the file's making are left out: a log that was renamed, or
    debriefed into another folder, has the same result.

    Parameters
    ----------
    document : mapping

    Returns
    -------
    str

    Raises
    ------
    LogbookError
        It holds something that JSON has no word for.
    """
    said = {key: value for key, value in document.items() if key != "program"}
    said["log"] = {key: value for key, value in document["log"].items() if key != "name"}
    return hashlib.sha256(_as_text(said, sort_keys=True).encode("ascii")).hexdigest()


def _as_text(document: Mapping[str, Any], *, sort_keys: bool) -> str:
    try:
        return json.dumps(
            document, sort_keys=sort_keys, allow_nan=False, separators=(",", ":"), ensure_ascii=True
        )
    except (TypeError, ValueError) as fault:
        raise LogbookError(f"this debrief cannot be kept: {fault}") from fault


def write_entry(connection: Connection, entry: Entry) -> RecordOutcome:
    """Write a debrief.

    Parameters
    ----------
    connection : Connection
        In a writing transaction.
    entry : Entry

    Returns
    -------
    RecordOutcome

    Raises
    ------
    LogbookError
        The log is there already as another pilot's.
    """
    check_document(entry.document)
    mark = entry.document["log"]["sha256"]
    key = session_key(mark, entry.flight)
    known = connection.execute(
        select(session.c.id, person.c.name, person.c.name_key)
        .join(person, person.c.id == session.c.pilot_id)
        .where(session.c.log_sha256 == mark, session.c.flight == entry.flight)
    ).one_or_none()
    if known is None:
        number = _new_session(connection, entry, mark)
        add_debrief(connection, number, entry)
        return RecordOutcome("new", key, f"kept in the logbook as a new session of {entry.pilot}")
    if known.name_key != name_key(entry.pilot):
        raise LogbookError(
            f"this log is in the logbook already, as flown by {known.name}",
            file=storable(entry.document["log"].get("name")),
            mend=f"if that is wrong: analyser logbook move {session_key(mark[:8], entry.flight)} --pilot NAME",
        )
    _complete(connection, known.id, entry)
    return _again(connection, known.id, entry, key)


def _new_session(connection: Connection, entry: Entry, mark: str) -> int:
    said = iso_utc(entry.flown) if entry.flown else None
    logged = flown_utc(entry.document)
    values = {
        "log_sha256": mark,
        "flight": entry.flight,
        "log_name": storable(entry.document["log"].get("name")),
        "flown_utc": said or logged,
        "flown_from": "given" if said else "log" if logged else "unknown",
        "pilot_id": person_id(connection, entry.pilot),
        "instructor_id": person_id(connection, entry.instructor) if entry.instructor else None,
        "device": entry.device,
        "lesson": entry.lesson,
        "recorded_utc": iso_utc(entry.recorded),
    }
    return inserted(connection, session, values)


def _complete(connection: Connection, number: int, entry: Entry) -> None:
    """Take over what was said this time and is not what was said before."""
    said: dict[str, Any] = {}
    if entry.instructor:
        said["instructor_id"] = person_id(connection, entry.instructor)
    if entry.device:
        said["device"] = entry.device
    if entry.lesson:
        said["lesson"] = entry.lesson
    if entry.flown:
        said |= {"flown_utc": iso_utc(entry.flown), "flown_from": "given"}
    if said:
        connection.execute(update(session).where(session.c.id == number).values(**said))


def _again(connection: Connection, number: int, entry: Entry, key: str) -> RecordOutcome:
    kept = connection.execute(
        select(debrief).where(debrief.c.session_id == number).order_by(debrief.c.rank)
    ).all()
    same = [one for one in kept if one.document_sha256 == fingerprint(entry.document)]
    same = [
        one
        for one in same
        if (one.program_version, one.rules_version) == (entry.program_version, entry.rules_version)
    ]
    if same:
        if same[-1].rank != kept[-1].rank:
            # The person went back to an earlier way of judging: that one counts again.
            moved = update(debrief).where(debrief.c.id == same[-1].id).values(rank=kept[-1].rank + 1)
            connection.execute(moved)
        return RecordOutcome("already there", key, "in the logbook already; nothing was added")
    add_debrief(connection, number, entry)
    last = kept[-1] if kept else None
    return RecordOutcome("re-debriefed", key, _what_changed(last, entry))


def _what_changed(last: Any, entry: Entry) -> str:
    why = []
    if last and last.rules_version != entry.rules_version:
        why.append(f"other rules ({entry.rules_version}, before {last.rules_version})")
    if last and last.program_version != entry.program_version:
        why.append(f"another program version ({entry.program_version}, before {last.program_version})")
    cause = " and ".join(why) or "other settings"
    return f"debriefed again with {cause}: this result counts now, the earlier one is kept beside it"


def add_debrief(connection: Connection, number: int, entry: Entry) -> None:
    """Put a debrief and its figures on top of those that a session has.

    Parameters
    ----------
    connection : Connection
        In a writing transaction.
    number : int
        The session's id.
    entry : Entry
    """
    highest = connection.execute(
        select(func.coalesce(func.max(debrief.c.rank), 0)).where(debrief.c.session_id == number)
    ).scalar_one()
    values = {
        "session_id": number,
        "rank": highest + 1,
        "document_sha256": fingerprint(entry.document),
        "program_version": entry.program_version,
        "rules_version": entry.rules_version,
        "recorded_utc": iso_utc(entry.recorded),
        "document": canonical(entry.document),
        "trace": None if entry.trace is None else json.dumps(entry.trace, separators=(",", ":")),
    }
    debrief_id = inserted(connection, debrief, values)
    for row, measures in hold_rows(entry.document):
        hold_id = inserted(connection, hold, {"debrief_id": debrief_id, **row})
        if measures:
            connection.execute(insert(measure), [{"hold_id": hold_id, **one} for one in measures])


def person_id(connection: Connection, name: str) -> int:
    """Return a person's id, and enter the person where nobody of that name is there.

    Parameters
    ----------
    connection : Connection
        In a writing transaction.
    name : str
        Cleaned.

    Returns
    -------
    int
    """
    key = name_key(name)
    found = connection.execute(select(person.c.id).where(person.c.name_key == key)).scalar_one_or_none()
    return inserted(connection, person, {"name_key": key, "name": name}) if found is None else int(found)


def inserted(connection: Connection, table: Any, values: Mapping[str, Any]) -> int:
    """Insert one row and return its id.

    Parameters
    ----------
    connection : Connection
    table : Table
    values : mapping

    Returns
    -------
    int
    """
    key = connection.execute(insert(table).values(**values)).inserted_primary_key
    if key is None:
        raise LogbookError("the database gave a new row no number")
    return int(key[0])


def now() -> datetime:
    """Return the present instant, to the second.

    Returns
    -------
    datetime
    """
    return datetime.now(UTC).replace(microsecond=0)
