"""Where a logbook lives, connections to it, the two kinds of transaction, and what a database complains of in words.

Why SQLite's rollback journal and not its write-ahead log: a logbook is one file that people copy, mail and
keep on a stick. With the journal that file alone is the whole logbook whenever nobody is writing, and it
can be read from a read-only folder. Writers are few and quick, so nothing is lost by their taking turns.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlsplit, urlunsplit

from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlalchemy.exc import DBAPIError, SQLAlchemyError
from sqlalchemy.pool import NullPool

from analyser.errors import LogbookError, UsageError
from analyser.frozen import dataclass
from analyser.user_data import user_folder
from analyser.whole_files import DATABASE_HEADER

FILE_NAME = "logbook.sqlite"


@dataclass(frozen=True)
class Place:
    """A logbook's address: the path of an SQLite file, or the URL of a PostgreSQL database, with its password."""

    path: Path | None = None
    url: str | None = None

    @property
    def shown(self) -> str:
        """The address for messages, without a password."""
        if self.path is not None:
            return str(self.path)
        parts = urlsplit((self.url or "").replace("postgresql+psycopg:", "postgresql:", 1))
        user, at, host = parts.netloc.rpartition("@")
        # The query goes too: a password may stand there.
        return urlunsplit(parts._replace(netloc=user.split(":")[0] + at + host, query=""))


def find_place(url_or_path: str | Path | None = None) -> Place:
    """Tell a path from a database's address, ``postgresql://…``; None is a file in the user's own data folder.

    Raises UsageError: an address of another kind of database, or a folder.
    """
    if url_or_path is None or str(url_or_path) == "":
        return Place(path=user_folder() / FILE_NAME)
    text = str(url_or_path)
    scheme, colon, rest = text.partition("://")
    if not colon:
        return Place(path=Path(text).expanduser())
    if scheme.lower() in ("postgresql", "postgres", "postgresql+psycopg"):
        return Place(url=f"postgresql+psycopg://{rest}")
    if scheme.lower() == "sqlite":
        return Place(path=Path(rest.removeprefix("/") or FILE_NAME).expanduser())
    raise UsageError(
        f"a logbook cannot be kept at an address that begins with '{scheme}://'",
        place="--logbook",
        mend="give the path of a file, or postgresql://user@host/database",
    )


# SQLite's primary result codes, https://www.sqlite.org/rescode.html
_SQLITE = {
    "SQLITE_FULL": ("the disk is full: nothing of this was kept", "make room and do it again"),
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
        "the disk refused to read or write: nothing of this was kept",
        "check the disk and its free space, then do it again",
    ),
}

# PostgreSQL's SQLSTATE, by its first characters, https://www.postgresql.org/docs/current/errcodes-appendix.html
_POSTGRESQL = {
    "53100": ("the database server's disk is full: nothing of this was kept", "make room there"),
    "53": ("the database server has no room left", "try again, or ask whoever keeps it"),
    "55P03": ("the logbook is locked by another program, and stayed so", "try again"),
    "28": ("the database server refused the name or the password", "check the address after --logbook"),
    "3D": ("there is no such database", "make it first, or check the address after --logbook"),
    "42501": ("the database lets this user do no such thing", "ask whoever keeps the database"),
    "25006": ("the database is read-only", "ask whoever keeps the database"),
    "57P": ("the database server is going down: nothing of this was kept", "try again later"),
    "08": ("the connection to the database broke: nothing of this was kept", "try again"),
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


#: Marks an SQLite file as a logbook, in the header field made for this: "HLBK".
APPLICATION_ID = 0x484C424B
#: One number that all writers of a PostgreSQL logbook agree to queue on.
ADVISORY_LOCK = APPLICATION_ID


@dataclass(frozen=True)
class Store:
    """An open logbook."""

    place: Place
    engine: Engine

    @property
    def is_file(self) -> bool:
        """True for SQLite."""
        return self.place.path is not None

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Hold one consistent view for as long as the block lasts.

        Raises LogbookError: what the database refused.
        """
        with in_words(self.place), self.engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Run the block as one transaction, alone: all of it is kept, or nothing.

        Raises LogbookError: what the database refused; nothing of the block was kept then.
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

    def overwrite_erased(self, tables: Iterable[str]) -> None:
        """Let PostgreSQL give up the bytes of deleted rows, which SQLite overwrites at once; others may delay that."""
        if self.is_file:
            return
        alone = self.engine.execution_options(isolation_level="AUTOCOMMIT")
        with suppress(LogbookError), in_words(self.place), alone.connect() as connection:
            for table in tables:
                connection.exec_driver_sql(f'VACUUM "{table}"')


def open_store(place: Place, *, wait_s: float) -> Store:
    """Connect to a logbook whose file is there already; ``wait_s`` seconds are waited for another writer."""
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


def find_file(path: Path, *, create: bool) -> None:
    """See that there is a logbook's file, and make an empty logbook where there is none and one is wanted.

    Raises LogbookError if there is none, it cannot be read or made, or it is something else; it is then untouched.
    Raises UsageError if a folder is there.
    """
    if path.is_dir():
        raise UsageError("this is a folder", file=str(path), mend="give the name of a file in it")
    if not path.exists():
        if not create:
            mend = "debrief a log with --pilot NAME to begin one, or say where it is with --logbook"
            raise LogbookError("there is no logbook here", file=str(path), mend=mend)
        _lay_file(path)
    _check_file(path)


def _lay_file(path: Path) -> None:
    """Make a logbook's file without tables, readable by its owner only.

    It gets its name when it bears the logbook's mark: a file that is empty is nobody's logbook.
    """
    part = path.with_name(f".{path.name[:80]}.{os.getpid()}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        os.close(os.open(part, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
        with closing(sqlite3.connect(part)) as laid:
            laid.execute("PRAGMA synchronous = EXTRA")
            laid.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        _name(part, path)
    except (OSError, sqlite3.Error) as fault:
        what = (getattr(fault, "strerror", None) or str(fault)).lower()
        raise LogbookError(
            f"a logbook cannot be made here: {what}",
            file=str(path),
            mend="choose another place with --logbook, or make room",
        ) from fault
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def _name(part: Path, path: Path) -> None:
    """Give a file its name, unless another process was quicker."""
    try:
        path.hardlink_to(part)
    except FileExistsError:
        return
    except OSError:
        # A stick's file system may know no second names; then two first openers must not be that close.
        if not path.exists():
            part.replace(path)


def _check_file(path: Path) -> None:
    """Refuse a file that is no SQLite database, before a database library touches it."""
    try:
        with path.open("rb") as stream:
            beginning = stream.read(len(DATABASE_HEADER))
    except OSError as fault:
        what = f"the logbook cannot be opened: {(fault.strerror or str(fault)).lower()}"
        raise LogbookError(what, file=str(path), mend="choose another place with --logbook") from fault
    if beginning != DATABASE_HEADER:
        mend = "it was left as it is; choose another place with --logbook"
        what = "this file is not a logbook" if beginning else "this file is empty and not a logbook"
        raise LogbookError(what, file=str(path), mend=mend)
