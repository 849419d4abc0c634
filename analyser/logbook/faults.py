"""What a database complains of, in words that say what to do."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from analyser.errors import LogbookError
from analyser.logbook.place import Place

# SQLite's primary result codes, https://www.sqlite.org/rescode.html
_SQLITE = {
    "SQLITE_FULL": ("the disk is full: this record was not kept", "make room and record it again"),
    "SQLITE_BUSY": (
        "the logbook is locked by another program, and stayed so",
        "close the other program and try again",
    ),
    "SQLITE_LOCKED": ("the logbook is locked", "try again"),
    "SQLITE_READONLY": (
        "the logbook or its folder is read-only",
        "change the permissions, or choose another place with --logbook",
    ),
    "SQLITE_CANTOPEN": (
        "the logbook cannot be opened",
        "check that its folder exists and may be written, or choose another place with --logbook",
    ),
    "SQLITE_PERM": ("the logbook may not be opened", "change its permissions"),
    "SQLITE_NOTADB": ("this file is not a logbook", "choose another place with --logbook"),
    "SQLITE_CORRUPT": ("the logbook is damaged", "keep the file, and go back to a copy or an export"),
    "SQLITE_IOERR": (
        "the disk refused to read or write: this record was not kept",
        "check the disk and its free space, then record it again",
    ),
}

# PostgreSQL's SQLSTATE, by its first characters, https://www.postgresql.org/docs/current/errcodes-appendix.html
_POSTGRESQL = {
    "53100": ("the database server's disk is full: this record was not kept", "make room there"),
    "53": ("the database server has no room left", "try again, or ask whoever keeps it"),
    "55P03": ("the logbook is locked by another program, and stayed so", "try again"),
    "28": ("the database server refused the name or the password", "check the address after --logbook"),
    "3D": ("there is no such database", "make it first, or check the address after --logbook"),
    "42501": ("the database lets this user do no such thing", "ask whoever keeps the database"),
    "25006": ("the database is read-only", "ask whoever keeps the database"),
    "57P": ("the database server is going down: this record was not kept", "try again later"),
    "08": ("the connection to the database broke: this record was not kept", "try again"),
}


@contextmanager
def in_words(place: Place) -> Iterator[None]:
    """Turn what the database refuses to do into a LogbookError that says it to a person."""
    try:
        yield
    except SQLAlchemyError as fault:
        raise _explained(fault, place) from fault


def _explained(fault: SQLAlchemyError, place: Place) -> LogbookError:
    origin = fault.orig if isinstance(fault, DBAPIError) else None
    code = getattr(origin, "sqlite_errorname", None)
    if code:
        primary = "_".join(str(code).split("_")[:2])
        what, mend = _SQLITE.get(primary, (f"the database said: {origin}", ""))
        return LogbookError(what, file=place.shown, mend=mend)
    state = str(getattr(origin, "sqlstate", None) or "")
    for beginning, (what, mend) in _POSTGRESQL.items():
        if state and state.startswith(beginning):
            return LogbookError(what, file=place.shown, mend=mend)
    if place.url and origin is not None and not state:
        return LogbookError(
            "the database server cannot be reached",
            file=place.shown,
            mend="check that it runs and that the address after --logbook is right",
        )
    return LogbookError(f"the database said: {origin or fault}".splitlines()[0], file=place.shown)
