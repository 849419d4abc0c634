"""Carrying a logbook elsewhere: written out as JSON lines without loss, and taken over beside what is there.

The first line says what the file is, the last one how many sessions came. Each line between is one session with
its people, recordings, debriefs, grades and trail; one more line carries the trail that belongs to no session.
"""

from __future__ import annotations

import json
import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import asdict
from datetime import datetime
from types import NoneType
from typing import IO, Any, Literal, get_args

import numpy as np
from sqlalchemy import Connection, func, select, update

from analyser.errors import LogbookError, UsageError
from analyser.frozen import dataclass
from analyser.logbook.corrections import Corrections, keep_trail
from analyser.logbook.documents import check_document, iso_utc, lasts_s
from analyser.logbook.names import clean_name, counted, name_key, storable
from analyser.logbook.reading import read_session, read_trail, session_ids
from analyser.logbook.record import (
    NewDebrief,
    add_debrief,
    add_recording,
    canonical,
    fill_gaps,
    fingerprint,
    insert_grade,
    inserted,
    person_id,
    same_flight,
)
from analyser.logbook.sessions import GivenAs, Grade, Kept, Session, Trace, TrailEntry, session_key
from analyser.logbook.tables import debrief, recording, session

KIND = "holding logbook"
FORM = 2
_READ = (1, FORM)
#: Begins a transaction, to read or to write.
Transaction = Callable[[], AbstractContextManager[Connection]]


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
        general = [_change(one) for one in read_trail(connection) if one.session is None]
    if general:
        to.write(json.dumps({"trail": general}) + "\n")
    # By this line a whole file is told from a cut one.
    to.write(json.dumps({"end": KIND, "sessions": written}) + "\n")
    return written


def _session_line(one: Session, trail: Sequence[TrailEntry]) -> str:
    """Write a session as a line: ASCII, without line end."""
    told = {
        **{key: getattr(one, key) for key in ("log_sha256", "flight", "log_name", "others")},
        "flown_utc": iso_utc(one.flown) if one.flown else None,
        **{key: getattr(one, key) for key in ("flown_from", "pilot", "instructor", "device", "lesson")},
        "recorded_utc": iso_utc(one.recorded),
        "removed_utc": iso_utc(one.removed) if one.removed else None,
        "debriefs": [_debrief(kept) for kept in (*one.earlier, one.debrief)],
        "grades": [_grade(grade) for grade in one.grades],
        "trail": [_change(each) for each in trail],
    }
    return json.dumps(told, ensure_ascii=True, allow_nan=False)


def _debrief(kept: Kept) -> dict[str, Any]:
    return {
        "program_version": kept.program_version,
        "rules_version": kept.rules_version,
        "recorded_utc": iso_utc(kept.recorded),
        "document": kept.document,
        "trace": kept.trace.as_json() if kept.trace else None,
    }


def _grade(one: Grade) -> dict[str, Any]:
    instants = {key: getattr(one, key) for key in ("graded", "recorded", "withdrawn")}
    values = asdict(one) | {key: iso_utc(value) if value else None for key, value in instants.items()}
    # Another logbook has its own word for it.
    del values["id"]
    return values


def _change(one: TrailEntry) -> dict[str, Any]:
    plain = {"kind": one.kind, "said": one.said, "why": one.why, "by": one.by}
    return {**plain, "changed_utc": iso_utc(one.changed)}


def _read_lines(
    lines: Iterator[str], file: str, faults: list[LogbookError]
) -> Iterator[tuple[int, Mapping[str, Any]]]:
    """Read an export, line by line: (line number, what it tells).

    A line that cannot be read, and a file that was cut, are put into ``faults``, and the rest is read. Raises
    LogbookError: not an export, or one of a newer form.
    """
    try:
        head = _json(next(lines, ""), file, 1)
    except LogbookError:
        head = {}
    if head.get("kind") != KIND:
        mend = "give the file that analyser logbook export wrote"
        raise LogbookError("this is not a logbook export", file=file, place="line 1", mend=mend)
    if head.get("form") not in _READ:
        what = f"its form is {head.get('form')!r}, and this program reads {FORM}"
        mend = "use the program version that wrote it"
        raise LogbookError(what, file=file, place="line 1", mend=mend)
    count = 0
    for number, line in enumerate(lines, start=2):
        try:
            told = _json(line, file, number) if line.strip() else {}
        except LogbookError as fault:
            faults.append(fault)
            count += 1
            continue
        if told.get("end") == KIND:
            _check_count(count, told.get("sessions"), file, faults)
            return
        if told:
            count += "trail" not in told or "log_sha256" in told
            yield number, told
    _check_count(count, None, file, faults)


def _check_count(count: int, promised: object, file: str, faults: list[LogbookError]) -> None:
    if count != promised:
        told = "" if promised is None else f" and promises {promised}"
        what = f"the export is not whole: it holds {counted(count, 'session')}{told}"
        mend = "get the whole file and import it; nothing is doubled by that"
        faults.append(LogbookError(what, file=file, mend=mend))


def _json(line: str, file: str, number: int) -> Mapping[str, Any]:
    try:
        data = json.loads(line)
    except (ValueError, RecursionError) as fault:
        raise LogbookError(f"is not JSON: {fault}", file=file, place=f"line {number}") from fault
    if not isinstance(data, Mapping):
        raise LogbookError("is not a session", file=file, place=f"line {number}")
    return data


Prefer = Literal["here", "there"]
Taken = Literal["new", "extended", "already there", "left"]
Line = Mapping[str, Any]
_Kinds = Mapping[str, tuple[type, ...]]


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
    if "log_sha256" not in told and "trail" in told:
        for one in told["trail"]:
            _check(one, _CHANGE)
        keep_trail(connection, None, told["trail"])
        return None, []
    told = _whole(told)
    number = _known(connection, told)
    if number is None:
        number = _new(connection, told)
        _fill(connection, number, told, own=True)
        _count_the_last(connection, number, told)
        return "new", []
    here = read_session(connection, number)
    assert here is not None
    if only_new:
        return "left", []
    conflicts = list(_conflicts(here, told))
    other_pilot = name_key(here.pilot) != name_key(clean_name(told["pilot"]))
    if other_pilot and prefer is None:
        return "left", conflicts
    added = 0
    if prefer == "there":
        added = _take_there(Corrections(lambda: nullcontext(connection), by, why), number, here, told)
    instructor = told["instructor"] if here.instructor is None else None
    added += fill_gaps(
        connection,
        number,
        device=told["device"],
        lesson=told["lesson"],
        instructor_id=person_id(connection, clean_name(instructor)) if instructor else None,
        flown_utc=_utc(told["flown_utc"]),
        flown_from=told["flown_from"],
    )
    added += _fill(connection, number, told, own=not other_pilot or prefer == "there")
    _count_the_last(connection, number, told, here)
    return "extended" if added else "already there", conflicts


#: What a line holds, and of what kind; an instant is written as text.
_TEXT, _MAYBE = (str,), (str, NoneType)
_RECORDING: _Kinds = {"log_sha256": _TEXT, "flight": (int,), "log_name": _TEXT}
_SESSION: _Kinds = {
    **_RECORDING,
    **dict.fromkeys(("flown_from", "pilot", "recorded_utc"), _TEXT),
    **dict.fromkeys(("instructor", "device", "lesson", "flown_utc", "removed_utc"), _MAYBE),
    **dict.fromkeys(("others", "debriefs", "grades", "trail"), (list,)),
}
_DEBRIEF: _Kinds = {
    **dict.fromkeys(("program_version", "rules_version", "recorded_utc"), _TEXT),
    "document": (dict,),
    "trace": (dict, list, NoneType),
}
_GRADE: _Kinds = {
    **dict.fromkeys(("item", "given_as", "scale", "level", "remark", "graded", "recorded"), _TEXT),
    **dict.fromkeys(("grader", "required", "proposed"), _MAYBE),
    **dict.fromkeys(("hold", "place"), (int,)),
    "computed_points": (int, float, NoneType),
    "proposed_place": (int, NoneType),
}
_CHANGE: _Kinds = {**dict.fromkeys(("kind", "said", "why", "changed_utc"), _TEXT), "by": _MAYBE}


def _whole(told: Line) -> Line:
    """Fill in what older exports did not have, and see that each part is of its kind: what is kept is read for good."""
    told = {"others": [], "removed_utc": None, "trail": [], **told}
    _check(told, _SESSION)
    for mark, flight, name in told["others"]:
        _check({"log_sha256": mark, "flight": flight, "log_name": name}, _RECORDING)
    for part, kinds in (("debriefs", _DEBRIEF), ("grades", _GRADE), ("trail", _CHANGE)):
        for one in told[part]:
            _check(one, kinds)
    if told["flight"] < 1 or not told["debriefs"]:
        raise ValueError("a session without a debrief, or before a log's first flight")
    for one in told["debriefs"]:
        try:
            check_document(one["document"])
            canonical(one["document"])
        except LogbookError as fault:
            raise ValueError(fault.what) from fault
        trace = Trace.from_json(one["trace"])
        np.array([point for path in (*trace.holds, trace.flight) for point in path] if trace else [], float)
    marks = {told["log_sha256"], *(other[0] for other in told["others"])}
    if any(one["document"]["log"]["sha256"] not in marks for one in told["debriefs"]):
        raise ValueError("a debrief of another log")
    if any(one["given_as"] not in get_args(GivenAs) for one in told["grades"]):
        raise ValueError("a grade by neither pilot nor instructor")
    return told


def _check(one: Any, kinds: _Kinds) -> None:
    for key, kind in kinds.items():
        value: Any = one[key]
        # To Python, but not in JSON, true is a number; and NaN is none, to JSON.
        spoilt = isinstance(value, bool) or (isinstance(value, float) and not math.isfinite(value))
        if spoilt or not isinstance(value, kind):
            raise ValueError(f"{key} is {str(value)[:40]!r}")
        if key.endswith("_utc") or key in ("graded", "recorded"):
            _utc(None if value is None else str(value))


def _recordings(told: Line) -> Iterator[tuple[str, int, str]]:
    yield told["log_sha256"], told["flight"], told["log_name"]
    yield from told["others"]


def _known(connection: Connection, told: Line) -> int | None:
    for mark, flight, _ in _recordings(told):
        query = select(recording.c.session_id).where(
            recording.c.log_sha256 == mark, recording.c.flight == flight
        )
        found = connection.execute(query).scalar_one_or_none()
        if found is not None:
            return int(found)
    twin = same_flight(connection, _entry(told, told["debriefs"][-1]))
    return int(twin[0].id) if twin else None


def _new(connection: Connection, told: Line) -> int:
    instructor = told["instructor"]
    values = {
        **{key: told[key] for key in ("log_sha256", "flight", "flown_from")},
        "log_name": storable(told["log_name"]),
        **{key: clean_name(told[key], what=key) if told[key] else None for key in ("device", "lesson")},
        **{key: _utc(told[key]) for key in ("flown_utc", "recorded_utc", "removed_utc")},
        "pilot_id": person_id(connection, clean_name(told["pilot"])),
        "instructor_id": person_id(connection, clean_name(instructor)) if instructor else None,
    }
    return inserted(connection, session, values)


def _conflicts(here: Session, told: Line) -> Iterator[Conflict]:
    there = {key: told[key] for key in ("pilot", "instructor", "device", "lesson")}
    for about, value in there.items():
        before = getattr(here, about)
        if value and before and name_key(str(value)) != name_key(before):
            yield Conflict(here.reference, about, before, str(value))
    flown = _utc(told["flown_utc"])
    if flown and here.flown and flown != iso_utc(here.flown):
        yield Conflict(here.reference, "flown", iso_utc(here.flown), flown)
    if bool(told["removed_utc"]) != bool(here.removed):
        states = {True: "taken out", False: "counts"}
        yield Conflict(
            here.reference, "session", states[bool(here.removed)], states[bool(told["removed_utc"])]
        )


def _take_there(put: Corrections, number: int, here: Session, told: Line) -> int:
    """Let the other logbook's words count, each with its trail; return in how many ways they differed."""
    which, done = (number, here), []
    if name_key(here.pilot) != name_key(clean_name(told["pilot"])):
        done.append(put.move(which, pilot=told["pilot"]))
    said = {
        key: told[key]
        for key in ("instructor", "device", "lesson")
        if told[key] and name_key(told[key]) != name_key(getattr(here, key) or "")
    }
    if said:
        done.append(put.set_about(which, **said))
    flown = _utc(told["flown_utc"])
    if flown and (here.flown is None or flown != iso_utc(here.flown)):
        done.append(put.date(which, datetime.fromisoformat(flown)))
    if bool(told["removed_utc"]) != bool(here.removed):
        done.append((put.put_back if here.removed else put.take_out)(which))
    return len(done)


def _fill(connection: Connection, number: int, told: Line, *, own: bool) -> int:
    """Add what is not here yet; without ``own`` the pilot's own grades are left, for another pilot gave them."""
    logs = {one["document"]["log"]["sha256"]: one["document"]["log"] for one in told["debriefs"]}
    added = 0
    for mark, flight, name in _recordings(told):
        log = {**logs.get(mark, {}), "sha256": mark, "name": storable(name)}
        add_recording(connection, number, {"log": log}, flight)
    for one in told["debriefs"]:
        if connection.execute(select(debrief.c.id).where(_is(number, one))).first() is None:
            add_debrief(connection, number, _entry(told, one))
            added += 1
    key = session_key(told["log_sha256"], told["flight"])
    for one in told["grades"]:
        if own or one["given_as"] != "pilot":
            added += _take_grade(connection, number, key, one)
    return added + keep_trail(connection, number, told["trail"])


def _entry(told: Line, one: Line) -> NewDebrief:
    return NewDebrief(
        document=one["document"],
        flight=told["flight"],
        pilot=told["pilot"],
        trace=Trace.from_json(one["trace"]),
        program_version=one["program_version"],
        rules_version=one["rules_version"],
        recorded=datetime.fromisoformat(one["recorded_utc"]),
    )


def _is(number: int, one: Line) -> Any:
    return (
        (debrief.c.session_id == number)
        & (debrief.c.document_sha256 == fingerprint(one["document"]))
        & (debrief.c.program_version == one["program_version"])
        & (debrief.c.rules_version == one["rules_version"])
    )


def _count_the_last(connection: Connection, number: int, told: Line, here: Session | None = None) -> None:
    """Of the two debriefs that counted let the longer recording's count, else the one made later."""
    last = told["debriefs"][-1]
    counts = _is(number, last)
    if here is not None and _weight(here.debrief.document, here.debrief.recorded) >= _weight(
        last["document"], datetime.fromisoformat(last["recorded_utc"])
    ):
        kept = here.debrief
        counts = _is(number, vars(kept))
    top = connection.execute(
        select(func.max(debrief.c.rank)).where(debrief.c.session_id == number)
    ).scalar_one()
    connection.execute(update(debrief).where(counts, debrief.c.rank < top).values(rank=top + 1))


def _weight(document: Mapping[str, Any], recorded: datetime) -> tuple[float, datetime]:
    return round((lasts_s(document) or 0.0) / 10.0), recorded


def _take_grade(connection: Connection, number: int, key: str, one: Line) -> int:
    instants = {"graded": "graded_utc", "recorded": "recorded_utc", "withdrawn": "withdrawn_utc"}
    values = {name: value for name, value in one.items() if name not in ("grader", *instants)}
    values |= {column: _utc(one.get(name)) for name, column in instants.items()}
    grader = one["grader"]
    values |= {
        "session_id": number,
        "grader_id": person_id(connection, clean_name(grader, what="grader")) if grader else None,
    }
    return insert_grade(connection, key, values)


def _utc(text: str | None) -> str | None:
    return None if text is None else iso_utc(datetime.fromisoformat(text))
