"""Bringing a logbook to this program's shape: new ones are laid, older ones moved, newer ones refused."""

from __future__ import annotations

import re
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Connection, insert, inspect, select

from analyser.errors import LogbookError
from analyser.logbook.engine import APPLICATION_ID, Store
from analyser.logbook.tables import metadata, version

#: The steps in ``migrations/versions``, oldest first. A test compares this with what Alembic finds there.
REVISIONS = ("0001", "0002", "0003")
HEAD = REVISIONS[-1]


def bring_up_to_date(store: Store) -> Path | str | None:
    """Lay the tables of a new logbook, or move an older one on after making a copy of it.

    It returns where the copy is: a file, or a schema of the same database; None where nothing had to be copied.
    Raises LogbookError: a newer program's logbook, or something that is no logbook: both are left untouched.
    """
    with store.reading() as connection:
        if _revision(connection, store) == HEAD:
            return None
    copy: Path | str | None = None
    with store.writing() as connection:
        # Asked again: between the two, another process may have done the work.
        found = _revision(connection, store)
        if found == HEAD:
            return None
        if found is None:
            metadata.create_all(connection)
            version.create(connection)
            connection.execute(insert(version).values(version_num=HEAD))
        else:
            path = store.place.path
            copy = _copy_file(path, found) if path else _copy_tables(connection, found)
            _upgrade(connection)
        if store.is_file:
            connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")
    return copy


def _revision(connection: Connection, store: Store) -> str | None:
    """Return the step a logbook stands at; None where there is nothing yet."""
    tables = inspect(connection).get_table_names()
    if not tables and not (store.is_file and _application(connection) not in (0, APPLICATION_ID)):
        return None
    if version.name not in tables or (store.is_file and _application(connection) != APPLICATION_ID):
        mend = "it was left as it is; give the logbook a place of its own with --logbook"
        raise LogbookError("this is another program's database", file=store.place.shown, mend=mend)
    found = connection.execute(select(version.c.version_num)).scalar_one_or_none()
    if found in REVISIONS:
        return str(found)
    raise LogbookError(
        f"this logbook was written by a newer version of the program (its form is '{found}', "
        f"this program knows up to '{HEAD}')",
        file=store.place.shown,
        mend="it was left as it is; install the newer version",
    )


def _application(connection: Connection) -> int:
    return int(connection.exec_driver_sql("PRAGMA application_id").scalar_one())


def _upgrade(connection: Connection) -> None:
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations").replace("%", "%%"))
    config.attributes["connection"] = connection
    command.upgrade(config, "head")


def backups_of(path: Path) -> list[Path]:
    """List the copies that were made before an older logbook was moved on; ``path`` is the logbook's."""
    # By the whole form of the name: a file that somebody called alike is not ours to list, let alone erase.
    ours = re.compile(
        rf"{re.escape(path.stem)}\.before-\d{{4}}\.\d{{4}}\.\d{{8}}T\d+Z{re.escape(path.suffix)}(\.part)?"
    )
    return sorted(one for one in path.parent.iterdir() if ours.fullmatch(one.name))


def _copy_file(path: Path, revision: str) -> Path:
    """Copy an SQLite logbook by its own backup interface, which sees only whole transactions."""
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%S%fZ")
    copy = path.with_name(f"{path.stem}.before-{HEAD}.{revision}.{stamp}{path.suffix}")
    # Under its own name only when it is whole: a killed process must leave nothing that looks like a copy.
    part = copy.with_name(f"{copy.name}.part")
    try:
        part.touch(mode=0o600, exist_ok=False)
        with closing(sqlite3.connect(path)) as source, closing(sqlite3.connect(part)) as target:
            target.execute("PRAGMA synchronous = EXTRA")
            source.backup(target)
        part.replace(copy)
    except (sqlite3.Error, OSError) as fault:
        part.unlink(missing_ok=True)
        why = (getattr(fault, "strerror", None) or str(fault)).lower()
        raise LogbookError(
            f"this logbook is of an older form and could not be copied before moving it on: {why}",
            file=str(path),
            mend="it was left as it is; make room, allow writing in its folder, or copy it to another one",
        ) from fault
    return copy


def _copy_tables(connection: Connection, revision: str) -> str:
    stamp = datetime.now(UTC).strftime("%Y%m%dt%H%M%S%fz")
    schema = f"before_{HEAD}_{revision}_{stamp}"
    connection.exec_driver_sql(f'CREATE SCHEMA "{schema}"')
    for table in inspect(connection).get_table_names():
        connection.exec_driver_sql(f'CREATE TABLE "{schema}"."{table}" AS TABLE "{table}"')
    return schema


def copies_of(store: Store) -> tuple[str, ...]:
    """List the copies that were made before an older logbook was moved on: files, or schemas of the same database."""
    if store.place.path is not None:
        return tuple(map(str, backups_of(store.place.path)))
    made_here = re.compile(r"before_\d{4}_\d{4}_\d{8}t\d+z")
    with store.reading() as connection:
        return tuple(name for name in inspect(connection).get_schema_names() if made_here.fullmatch(name))


def erase_copies(store: Store) -> tuple[str, ...]:
    """Erase those copies, with all that they hold; return what was erased.

    Raises LogbookError if one cannot be erased.
    """
    gone = copies_of(store)
    for copy in gone:
        try:
            if store.is_file:
                Path(copy).unlink()
            else:
                with store.writing() as connection:
                    connection.exec_driver_sql(f'DROP SCHEMA "{copy}" CASCADE')
        except OSError as fault:
            what = f"this copy could not be erased: {fault.strerror}"
            raise LogbookError(what, file=copy, mend="erase it by hand") from fault
    return gone
