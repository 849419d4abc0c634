"""Moving a logbook: one JSON line per session, lossless, into an empty logbook or on top of another.

The first line says what the file is, the last one how many sessions came. Each line between is one
session with its people, every debrief and every grade: it is taken over whole or not at all.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict
from datetime import datetime
from pathlib import Path
from typing import IO, Any, Literal

from sqlalchemy import Connection, insert, select, update

from analyser.errors import LogbookError
from analyser.logbook.flatten import check_document, iso_utc
from analyser.logbook.grades import insert_grade
from analyser.logbook.names import clean_name, name_key
from analyser.logbook.record import Entry, add_debrief, fingerprint, person_id
from analyser.logbook.sessions import Kept, Session, session_key
from analyser.logbook.tables import debrief, person, session

KIND = "holding logbook"
FORM = 1
Taken = Literal["new", "extended", "already there"]


@contextmanager
def whole_file(path: Path) -> Iterator[IO[str]]:
    """Write a text file under another name and put it in its place when it is whole and on the disk.

    Parameters
    ----------
    path : Path

    Yields
    ------
    text stream

    Raises
    ------
    LogbookError
        It cannot be written; an older file of that name is left as it was.
    """
    part = path.with_name(f".{path.name[:80]}.{os.getpid()}.part")
    try:
        handle = os.open(part, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
        with os.fdopen(handle, "w", encoding="utf-8") as stream:
            yield stream
            stream.flush()
            os.fsync(stream.fileno())
        part.replace(path)
    except OSError as fault:
        what = f"the export could not be written: {(fault.strerror or str(fault)).lower()}"
        raise LogbookError(what, file=str(path), mend="make room, or choose another place") from fault
    finally:
        part.unlink(missing_ok=True)


def first_line() -> str:
    """Return the line that says what the file is.

    Returns
    -------
    str
    """
    return json.dumps({"kind": KIND, "form": FORM})


def last_line(sessions: int) -> str:
    """Return the line by which a whole file is told from a cut one.

    Parameters
    ----------
    sessions : int
        How many lines came before.

    Returns
    -------
    str
    """
    return json.dumps({"end": KIND, "sessions": sessions})


def session_line(one: Session) -> str:
    """Write a session as a line.

    Parameters
    ----------
    one : Session

    Returns
    -------
    str
        ASCII, without line end.
    """
    told = {
        "log_sha256": one.log_sha256,
        "flight": one.flight,
        "log_name": one.log_name,
        "flown_utc": iso_utc(one.flown) if one.flown else None,
        "flown_from": one.flown_from,
        "pilot": one.pilot,
        "instructor": one.instructor,
        "device": one.device,
        "lesson": one.lesson,
        "recorded_utc": iso_utc(one.recorded),
        "debriefs": [_debrief(kept) for kept in (*one.earlier, one.debrief)],
        "grades": [_grade(asdict(grade)) for grade in one.grades],
    }
    return json.dumps(told, ensure_ascii=True, allow_nan=False)


def _debrief(kept: Kept) -> dict[str, Any]:
    return {
        "program_version": kept.program_version,
        "rules_version": kept.rules_version,
        "recorded_utc": iso_utc(kept.recorded),
        "document": kept.document,
        "trace": kept.trace,
    }


def _grade(values: dict[str, Any]) -> dict[str, Any]:
    return {**values, "graded": iso_utc(values["graded"]), "recorded": iso_utc(values["recorded"])}


def read_lines(lines: Iterator[str], file: str) -> Iterator[tuple[int, Mapping[str, Any]]]:
    """Read an export, line by line.

    Parameters
    ----------
    lines : iterator of str
    file : str
        Name for messages.

    Yields
    ------
    (line number, session)

    Raises
    ------
    LogbookError
        Not an export, one of a newer form, a broken line, or a file that was cut.
    """
    head = _json(next(lines, ""), file, 1)
    if head.get("kind") != KIND:
        raise LogbookError("this is not a logbook export", file=file, place="line 1")
    if head.get("form") != FORM:
        mend = "use the program version that wrote it"
        raise LogbookError(
            f"its form is {head.get('form')!r}, not {FORM}", file=file, place="line 1", mend=mend
        )
    count = 0
    for number, line in enumerate(lines, start=2):
        told = _json(line, file, number) if line.strip() else {}
        if told.get("end") == KIND:
            _check_count(count, told.get("sessions"), file)
            return
        if told:
            count += 1
            yield number, told
    _check_count(count, None, file)


def _check_count(count: int, promised: object, file: str) -> None:
    if count != promised:
        raise LogbookError(
            f"the export is not whole: it holds {count} sessions"
            + ("" if promised is None else f" and promises {promised}"),
            file=file,
            mend="what it holds was taken over; get the whole file and import it again",
        )


def _json(line: str, file: str, number: int) -> Mapping[str, Any]:
    try:
        data = json.loads(line)
    except (ValueError, RecursionError) as fault:
        raise LogbookError(f"is not JSON: {fault}", file=file, place=f"line {number}") from fault
    if not isinstance(data, Mapping):
        raise LogbookError("is not a session", file=file, place=f"line {number}")
    return data


def take_over(connection: Connection, told: Mapping[str, Any]) -> Taken:
    """Put an exported session into the logbook, beside what is known of that log.

    Parameters
    ----------
    connection : Connection
        In a writing transaction.
    told : mapping
        One line.

    Returns
    -------
    "new", "extended" or "already there"

    Raises
    ------
    LogbookError
        The log is there as another pilot's.
    KeyError, TypeError, ValueError
        The line lacks something.
    """
    number, fresh = _session(connection, told)
    added = 0
    for one in told["debriefs"]:
        added += _take_debrief(connection, number, told, one)
    for one in told["grades"]:
        added += _take_grade(connection, number, session_key(told["log_sha256"], told["flight"]), one)
    if fresh and not told["debriefs"]:
        raise ValueError("a session without a debrief")
    return "new" if fresh else "extended" if added else "already there"


def _session(connection: Connection, told: Mapping[str, Any]) -> tuple[int, bool]:
    pilot = clean_name(told["pilot"])
    known = connection.execute(
        select(session, person.c.name, person.c.name_key)
        .join(person, person.c.id == session.c.pilot_id)
        .where(session.c.log_sha256 == told["log_sha256"], session.c.flight == told["flight"])
    ).one_or_none()
    instructor = person_id(connection, clean_name(told["instructor"])) if told["instructor"] else None
    if known is None:
        values = {
            key: told[key] for key in ("log_sha256", "flight", "log_name", "flown_from", "device", "lesson")
        }
        values |= {key: _utc(told[key]) for key in ("flown_utc", "recorded_utc")}
        values |= {"pilot_id": person_id(connection, pilot), "instructor_id": instructor}
        key = connection.execute(insert(session).values(**values)).inserted_primary_key
        if key is None:
            raise LogbookError("the database gave a new row no number")
        return int(key[0]), True
    if known.name_key != name_key(pilot):
        raise LogbookError(f"log {told['log_sha256'][:8]} is here as flown by {known.name}, there by {pilot}")
    gaps = {"instructor_id": instructor, "device": told["device"], "lesson": told["lesson"]}
    filled = {key: value for key, value in gaps.items() if value and getattr(known, key) is None}
    if filled:
        connection.execute(update(session).where(session.c.id == known.id).values(**filled))
    return int(known.id), False


def _take_debrief(
    connection: Connection, number: int, told: Mapping[str, Any], one: Mapping[str, Any]
) -> int:
    check_document(one["document"])
    if one["document"]["log"]["sha256"] != told["log_sha256"]:
        raise ValueError("a debrief of another log")
    there = connection.execute(
        select(debrief.c.id).where(
            debrief.c.session_id == number,
            debrief.c.document_sha256 == fingerprint(one["document"]),
            debrief.c.program_version == one["program_version"],
            debrief.c.rules_version == one["rules_version"],
        )
    ).first()
    if there:
        return 0
    entry = Entry(
        document=one["document"],
        flight=told["flight"],
        pilot=told["pilot"],
        instructor=None,
        device=None,
        lesson=None,
        flown=None,
        trace=one["trace"],
        program_version=one["program_version"],
        rules_version=one["rules_version"],
        recorded=datetime.fromisoformat(one["recorded_utc"]),
    )
    add_debrief(connection, number, entry)
    return 1


def _take_grade(connection: Connection, number: int, mark: str, one: Mapping[str, Any]) -> int:
    values = {key: value for key, value in one.items() if key not in ("grader", "graded", "recorded")}
    grader = one["grader"]
    values |= {
        "session_id": number,
        "grader_id": person_id(connection, clean_name(grader, what="grader")) if grader else None,
        "graded_utc": _utc(one["graded"]),
        "recorded_utc": _utc(one["recorded"]),
    }
    return insert_grade(connection, mark, values)


def _utc(text: str | None) -> str | None:
    return None if text is None else iso_utc(datetime.fromisoformat(text))
