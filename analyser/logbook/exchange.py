"""The file by which a logbook moves: one JSON line per session, lossless.

The first line says what the file is, the last one how many sessions came. Each line between is one session with
its people, recordings, debriefs, grades and trail; one more line carries the trail that belongs to no session.
"""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import IO, Any

from analyser.errors import LogbookError
from analyser.logbook.flatten import iso_utc
from analyser.logbook.place import refuse_database
from analyser.logbook.sessions import Change, Kept, Session

KIND = "holding logbook"
FORM = 2
_READ = (1, FORM)


@contextmanager
def whole_file(path: Path) -> Iterator[IO[str]]:
    """Write a text file under another name and put it in its place when it is whole and on the disk.

    Raises
    ------
    UsageError
        A database is there.
    LogbookError
        It cannot be written; an older file of that name is left as it was.
    """
    refuse_database(path)
    part = path.with_name(f".{path.name[:80]}.{os.getpid()}.part")
    try:
        handle = os.open(part, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
        with os.fdopen(handle, "w", encoding="utf-8") as stream:
            yield stream
            stream.flush()
            os.fsync(stream.fileno())
        part.replace(path)
    except (OSError, ValueError) as fault:
        reason = (getattr(fault, "strerror", None) or str(fault)).lower()
        what = f"the export could not be written: {reason}"
        raise LogbookError(what, file=str(path), mend="make room, or choose another place") from fault
    finally:
        with contextlib.suppress(OSError, ValueError):
            part.unlink(missing_ok=True)


def first_line() -> str:
    """Return the line that says what the file is."""
    return json.dumps({"kind": KIND, "form": FORM})


def last_line(sessions: int) -> str:
    """Return the line by which a whole file is told from a cut one."""
    return json.dumps({"end": KIND, "sessions": sessions})


def trail_line(trail: Sequence[Change]) -> str:
    """Write the changes that belong to no session as a line."""
    return json.dumps({"trail": [_change(one) for one in trail]}, ensure_ascii=True)


def session_line(one: Session, trail: Sequence[Change] = ()) -> str:
    """Write a session as a line: ASCII, without line end."""
    told = {
        **{key: getattr(one, key) for key in ("log_sha256", "flight", "log_name", "others")},
        "flown_utc": iso_utc(one.flown) if one.flown else None,
        **{key: getattr(one, key) for key in ("flown_from", "pilot", "instructor", "device", "lesson")},
        "recorded_utc": iso_utc(one.recorded),
        "removed_utc": iso_utc(one.removed) if one.removed else None,
        "debriefs": [_debrief(kept) for kept in (*one.earlier, one.debrief)],
        "grades": [_dated(asdict(grade)) for grade in one.grades],
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


def _dated(values: dict[str, Any]) -> dict[str, Any]:
    instants = ("graded", "recorded", "withdrawn")
    return values | {key: iso_utc(values[key]) if values[key] else None for key in instants}


def _change(one: Change) -> dict[str, Any]:
    plain = {"kind": one.kind, "said": one.said, "why": one.why, "by": one.by}
    return {**plain, "changed_utc": iso_utc(one.changed)}


def read_lines(
    lines: Iterator[str], file: str, faults: list[LogbookError]
) -> Iterator[tuple[int, Mapping[str, Any]]]:
    """Read an export, line by line: (line number, what it tells).

    A line that cannot be read, and a file that was cut, are put into ``faults``, and the rest is read.

    Raises
    ------
    LogbookError
        Not an export, or one of a newer form.
    """
    head = _json(next(lines, ""), file, 1)
    if head.get("kind") != KIND:
        raise LogbookError("this is not a logbook export", file=file, place="line 1")
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
        what = f"the export is not whole: it holds {count} sessions{told}"
        mend = "what it holds was taken over; get the whole file and import it again"
        faults.append(LogbookError(what, file=file, mend=mend))


def _json(line: str, file: str, number: int) -> Mapping[str, Any]:
    try:
        data = json.loads(line)
    except (ValueError, RecursionError) as fault:
        raise LogbookError(f"is not JSON: {fault}", file=file, place=f"line {number}") from fault
    if not isinstance(data, Mapping):
        raise LogbookError("is not a session", file=file, place=f"line {number}")
    return data
