"""Carrying a logbook elsewhere: written out as JSON lines without loss, and taken over beside what is there.

The first line says what the file is, the last one how many sessions came. Each line between is one session with
its people, recordings, debriefs, grades and trail; one more line carries the trail that belongs to no session.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, nullcontext, suppress
from dataclasses import replace
from datetime import datetime
from typing import IO, Any, Literal

import numpy as np
from sqlalchemy import Connection

from analyser.errors import LogbookError, UsageError
from analyser.frozen import dataclass
from analyser.logbook.corrections import Corrections, keep_trail
from analyser.logbook.documents import check_document, iso_utc, lasts_s
from analyser.logbook.names import clean_name, clean_or_none, counted, name_key, storable
from analyser.logbook.reading import read_session, read_trail, session_ids
from analyser.logbook.record import SessionRows, fingerprint, known_session
from analyser.logbook.sessions import Grade, Kept, Session, Trace, TrailEntry, as_plain, from_plain

KIND = "holding logbook"
FORM = 2
_READ = (1, FORM)
#: What each logbook says in its own way of a change.
_OWN = ("number", "session", "undone")
#: What may be said of a session beside who flew it and when.
_ABOUT = ("instructor", "device", "lesson")
#: Begins a transaction, to read or to write.
Transaction = Callable[[], AbstractContextManager[Connection]]
Line = Mapping[str, Any]


def write_out(to: IO[str], reading: Transaction, done: Callable[[], object]) -> int:
    """Write every session as a line into a stream, and what belongs to none; return how many sessions."""
    with reading() as connection:
        numbers = session_ids(connection, removed=True)
    to.write(json.dumps({"kind": KIND, "form": FORM}) + "\n")
    written = 0
    for number in numbers:
        # One by one, so that writers need not wait for a long export.
        with reading() as connection:
            found, trail = read_session(connection, number), read_trail(connection, [number])
        if found is not None:
            to.write(_session_line(found, trail) + "\n")
            written += 1
        done()
    with reading() as connection:
        general = [as_plain(one, *_OWN) for one in read_trail(connection) if one.session is None]
    if general:
        to.write(json.dumps({"trail": general}) + "\n")
    # By this line a whole file is told from a cut one.
    to.write(json.dumps({"end": KIND, "sessions": written}) + "\n")
    return written


def _session_line(one: Session, trail: Sequence[TrailEntry]) -> str:
    """Write a session as a line: ASCII, without line end."""
    told = {
        **as_plain(one, "debrief", "earlier", "grades"),
        "debriefs": [
            as_plain(kept, "document_sha256") | {"trace": kept.trace.as_json() if kept.trace else None}
            for kept in (*one.earlier, one.debrief)
        ],
        # Another logbook has its own word for a grade.
        "grades": [as_plain(grade, "id", suffix="") for grade in one.grades],
        "trail": [as_plain(each, *_OWN) for each in trail],
    }
    return json.dumps(told, ensure_ascii=True, allow_nan=False)


def _read_lines(lines: Iterator[str], file: str, faults: list[LogbookError]) -> Iterator[tuple[int, Line]]:
    """Read an export, line by line: (line number, what it tells).

    A line that cannot be read, and a file that was cut, are put into ``faults``, and the rest is read. Raises
    LogbookError: not an export, or one of a newer form.
    """
    head: Line = {}
    with suppress(LogbookError):
        head = _json(next(lines, ""), file, 1)
    if head.get("kind") != KIND:
        mend = "give the file that analyser logbook export wrote"
        raise LogbookError("this is not a logbook export", file=file, place="line 1", mend=mend)
    if head.get("form") not in _READ:
        what = f"its form is {head.get('form')!r}, and this program reads {FORM}"
        mend = "use the program version that wrote it"
        raise LogbookError(what, file=file, place="line 1", mend=mend)
    count, promised = 0, None
    for number, line in enumerate(lines, start=2):
        try:
            told = _json(line, file, number) if line.strip() else {}
        except LogbookError as fault:
            faults.append(fault)
            count += 1
            continue
        if told.get("end") == KIND:
            promised = told.get("sessions")
            break
        if told:
            count += "trail" not in told or "log_sha256" in told
            yield number, told
    if count != promised:
        also = "" if promised is None else f" and promises {promised}"
        what = f"the export is not whole: it holds {counted(count, 'session')}{also}"
        mend = "get the whole file and import it; nothing is doubled by that"
        faults.append(LogbookError(what, file=file, mend=mend))


def _json(line: str, file: str, number: int) -> Line:
    try:
        data = json.loads(line)
    except (ValueError, RecursionError) as fault:
        raise LogbookError(f"is not JSON: {fault}", file=file, place=f"line {number}") from fault
    if not isinstance(data, Mapping):
        raise LogbookError("is not a session", file=file, place=f"line {number}")
    return data


Prefer = Literal["here", "there"]
Taken = Literal["new", "extended", "already there", "left"]


@dataclass(frozen=True)
class Conflict:
    """Where this logbook and the one that is taken over say different things of one session."""

    session: str
    about: str
    here: str
    there: str

    def __str__(self) -> str:
        return f"session {self.session}: {self.about} here: {self.here}; there: {self.there}"


@dataclass(frozen=True)
class Imported:
    """What an import came to, in numbers of sessions, with what could not be agreed or read."""

    new: int
    extended: int
    already_there: int
    left: int
    conflicts: tuple[Conflict, ...]
    faults: tuple[LogbookError, ...]


def take_in(
    lines: Iterable[str], file: str, writing: Transaction, done: Callable[[], object], **choices: Any
) -> Imported:
    """Take over the lines of an export called ``file``, each in a transaction of its own; see :func:`take_over`."""
    faults: list[LogbookError] = []
    conflicts: list[Conflict] = []
    counts: Counter[str] = Counter()
    for number, line in _read_lines(iter(lines), file, faults):
        try:
            with writing() as connection:
                taken, differing = take_over(connection, line, why=f"import of {file}", **choices)
        except (LookupError, TypeError, ValueError, AttributeError, OverflowError, UsageError) as fault:
            what = f"this session cannot be taken over: {type(fault).__name__} {fault}"
            faults.append(LogbookError(what, file=file, place=f"line {number}"))
            continue
        counts[taken or "trail"] += 1
        conflicts += differing
        done()
    numbers = (counts["new"], counts["extended"], counts["already there"], counts["left"])
    return Imported(*numbers, tuple(conflicts), tuple(faults))


def take_over(
    connection: Connection, told: Line, *, by: str, why: str, prefer: Prefer | None, only_new: bool
) -> tuple[Taken | None, list[Conflict]]:
    """Put an exported session into the logbook; a line of nothing but trail is taken over and counts as none.

    Where the two differ, ``prefer`` says whose word counts. Without it a session of another pilot is left, and of
    anything else what is here stays; ``only_new`` leaves every session that is here already. Raises LogbookError,
    UsageError, KeyError, TypeError or ValueError if the line cannot be taken over; the transaction is to be given up.
    """
    trail = [
        from_plain(TrailEntry, one, number=0, session=None, undone=False) for one in told.get("trail", [])
    ]
    if "log_sha256" not in told and "trail" in told:
        keep_trail(connection, None, trail)
        return None, []
    there = _session(told)
    number, _ = known_session(connection, there)
    here = None if number is None else read_session(connection, number)
    if number is None or here is None:
        rows = SessionRows.new(connection, there)
        _add(rows, there, trail, own=True)
        rows.let_count(there.debrief)
        return "new", []
    if only_new:
        return "left", []
    conflicts = list(_conflicts(here, there))
    other_pilot = name_key(here.pilot) != name_key(there.pilot)
    if other_pilot and prefer is None:
        return "left", conflicts
    added, rows = 0, SessionRows(connection, number)
    if prefer == "there":
        put = Corrections(lambda: nullcontext(connection), by, why)
        added = _take_there(put, (number, here), there, {one.about for one in conflicts})
    told = {key: getattr(there, key) for key in (*_ABOUT, "flown")}
    added += rows.fill_gaps(here, flown_from=there.flown_from, **told)
    added += _add(rows, there, trail, own=not other_pilot or prefer == "there")
    # Of the two debriefs that counted the longer recording's counts, else the one made later.
    rows.let_count(max(there.debrief, here.debrief, key=_weight))
    return "extended" if added else "already there", conflicts


def _session(told: Line) -> Session:
    """Read a session, and see that each part is what it should be: what is kept is read for good.

    What older exports did not have is filled in.
    """
    told = {"others": [], "removed_utc": None, "trail": [], **told}
    debriefs = [_kept(one) for one in told["debriefs"]]
    grades = [from_plain(Grade, {"withdrawn": None, **one}, id="") for one in told["grades"]]
    one = from_plain(
        Session,
        told,
        log_name=storable(told["log_name"]),
        others=tuple((str(mark), int(flight), storable(name)) for mark, flight, name in told["others"]),
        pilot=clean_name(told["pilot"]),
        **{key: clean_or_none(told[key], what=key) for key in _ABOUT},
        debrief=debriefs[-1],
        earlier=tuple(debriefs[:-1]),
        grades=tuple(replace(grade, grader=clean_or_none(grade.grader, what="grader")) for grade in grades),
    )
    if one.flight < 1:
        raise ValueError("before a log's first flight")
    marks = {mark for mark, _, _ in one.recordings}
    if any(kept.document["log"]["sha256"] not in marks for kept in debriefs):
        raise ValueError("a debrief of another log")
    return one


def _kept(told: Line) -> Kept:
    document = told["document"]
    try:
        check_document(document)
        mark = fingerprint(document)
    except LogbookError as fault:
        raise ValueError(fault.what) from fault
    trace = Trace.from_json(told["trace"])
    # Every point of it is three numbers.
    np.array([point for path in (*trace.holds, trace.flight) for point in path] if trace else [], float)
    return from_plain(Kept, told, document=document, trace=trace, document_sha256=mark)


def _conflicts(here: Session, there: Session) -> Iterator[Conflict]:
    for about in ("pilot", *_ABOUT):
        before, value = getattr(here, about), getattr(there, about)
        if value and before and name_key(value) != name_key(before):
            yield Conflict(here.reference, about, before, value)
    if there.flown and here.flown and there.flown != here.flown:
        yield Conflict(here.reference, "flown", iso_utc(here.flown), iso_utc(there.flown))
    if bool(there.removed) != bool(here.removed):
        states = {True: "taken out", False: "counts"}
        yield Conflict(here.reference, "session", states[bool(here.removed)], states[bool(there.removed)])


def _take_there(put: Corrections, which: tuple[int, Session], there: Session, about: Collection[str]) -> int:
    """Let the other logbook's words count where the two differ, each with its trail; return in how many ways."""
    if "pilot" in about:
        put.move(which, pilot=there.pilot)
    said = {key: getattr(there, key) for key in _ABOUT if key in about}
    if said:
        put.set_about(which, **said)
    if "flown" in about and there.flown:
        put.date(which, there.flown)
    if "session" in about:
        (put.take_out if there.removed else put.put_back)(which)
    return len(about)


def _add(rows: SessionRows, there: Session, trail: Sequence[TrailEntry], *, own: bool) -> int:
    """Add what is not here yet; without ``own`` the pilot's own grades are left, for another pilot gave them."""
    rows.add_recordings(there)
    added = 0
    for kept in (*there.earlier, there.debrief):
        if not rows.has(kept):
            rows.add_debrief(kept)
            added += 1
    for one in there.grades:
        if own or one.given_as != "pilot":
            added += rows.add_grade(there.key, one)
    return added + keep_trail(rows.connection, rows.number, trail)


def _weight(kept: Kept) -> tuple[float, datetime]:
    return round((lasts_s(kept.document) or 0.0) / 10.0), kept.recorded
