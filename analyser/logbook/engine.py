"""Connections to a logbook, and the two kinds of transaction: reading and writing.

Why SQLite's rollback journal and not its write-ahead log: a logbook is one file that people copy, mail and
keep on a stick. With the journal that file alone is the whole logbook whenever nobody is writing, and it
can be read from a read-only folder. Writers are few and quick, so nothing is lost by their taking turns.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote

from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlalchemy.pool import NullPool

from analyser.errors import LogbookError
from analyser.logbook.faults import in_words
from analyser.logbook.place import Place

#: Marks an SQLite file as a logbook, in the header field made for this: "HLBK".
APPLICATION_ID = 0x484C424B
#: One number that all writers of a PostgreSQL logbook agree to queue on.
ADVISORY_LOCK = APPLICATION_ID
_HEADER = b"SQLite format 3\x00"


@dataclass(frozen=True)
class Store:
    """An open logbook.

    Attributes
    ----------
    place : Place
    engine : Engine
    """

    place: Place
    engine: Engine

    @property
    def is_file(self) -> bool:
        """True for SQLite."""
        return self.place.path is not None

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Hold one consistent view for as long as the block lasts.

        Yields
        ------
        Connection

        Raises
        ------
        LogbookError
            What the database refused.
        """
        with in_words(self.place), self.engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Run the block as one transaction, alone: all of it is kept, or nothing.

        Yields
        ------
        Connection

        Raises
        ------
        LogbookError
            What the database refused; nothing of the block was kept then.
        """
        with (
            in_words(self.place),
            self.engine.connect().execution_options(writes=True) as connection,
            connection.begin(),
        ):
            if not self.is_file:
                # Writers take turns here as SQLite's do, so that "look, then insert" means the same on both.
                connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": ADVISORY_LOCK})
            yield connection


def open_store(place: Place, *, wait_s: float) -> Store:
    """Connect to a logbook whose file is there already.

    Parameters
    ----------
    place : Place
    wait_s : float
        How long to wait for another writer, seconds.

    Returns
    -------
    Store
    """
    if place.path is not None:
        return Store(place, _file_engine(place.path, wait_s))
    milliseconds = max(1, round(wait_s * 1000))
    engine = create_engine(
        place.url or "",
        poolclass=NullPool,
        connect_args={"connect_timeout": 10, "options": f"-c lock_timeout={milliseconds}"},
    )
    return Store(place, engine)


def _file_engine(path: Path, wait_s: float) -> Engine:
    # A file that may not be written is opened for reading, so that an archive stays readable.
    mode = "rw" if os.access(path, os.W_OK) else "ro"
    address = f"file:{quote(str(path.absolute()))}?mode={mode}"

    def connect() -> sqlite3.Connection:
        # Without isolation_level the driver starts no transactions behind our back; "begin" below does.
        return sqlite3.connect(address, uri=True, timeout=wait_s, isolation_level=None)

    engine = create_engine("sqlite+pysqlite://", creator=connect, poolclass=NullPool)
    event.listen(engine, "connect", _prepare_file)
    event.listen(engine, "begin", _begin_file)
    return engine


def _prepare_file(connection: Any, _record: object) -> None:
    cursor = connection.cursor()
    cursor.execute("PRAGMA foreign_keys = ON")
    # EXTRA is FULL, and syncs the folder too when the journal is removed: an acknowledged record survives
    # a power cut the moment after.
    cursor.execute("PRAGMA synchronous = EXTRA")
    # What is erased is overwritten, because names are personal data.
    cursor.execute("PRAGMA secure_delete = ON")
    cursor.close()


def _begin_file(connection: Connection) -> None:
    writes = connection.get_execution_options().get("writes", False)
    # A writer asks for its turn at the start; asking in the middle could leave two waiting for each other.
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def lay_file(path: Path) -> None:
    """Make an empty file for a new logbook, readable by its owner only.

    Parameters
    ----------
    path : Path

    Raises
    ------
    LogbookError
        The folder cannot be made or written.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))
    except OSError as fault:
        raise LogbookError(
            f"a logbook cannot be made here: {(fault.strerror or str(fault)).lower()}",
            file=str(path),
            mend="choose another place with --logbook",
        ) from fault


def check_file(path: Path) -> None:
    """Refuse a file that is no SQLite database, before a database library touches it.

    Parameters
    ----------
    path : Path

    Raises
    ------
    LogbookError
        It cannot be read, or it is something else.
    """
    try:
        with path.open("rb") as stream:
            beginning = stream.read(len(_HEADER))
    except OSError as fault:
        what = f"the logbook cannot be opened: {(fault.strerror or str(fault)).lower()}"
        raise LogbookError(what, file=str(path), mend="choose another place with --logbook") from fault
    if beginning and beginning != _HEADER:
        mend = "it was left as it is; choose another place with --logbook"
        raise LogbookError("this file is not a logbook", file=str(path), mend=mend)
