"""Bringing a logbook to this program's form: new ones are laid, older ones moved on, newer ones refused."""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import (
    Column,
    Connection,
    Float,
    Integer,
    String,
    Text,
    UniqueConstraint,
    insert,
    inspect,
    select,
    text,
    update,
)

from analyser.errors import LogbookError
from analyser.logbook.engine import APPLICATION_ID, Store
from analyser.logbook.tables import maybe, metadata, needed, of_a, version

if TYPE_CHECKING:
    from alembic.operations import Operations


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
            upgrade(connection, found)
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
    if found in _FORMS:
        return str(found)
    raise LogbookError(
        f"this logbook was written by a newer version of the program (its form is '{found}', "
        f"this program knows up to '{HEAD}')",
        file=store.place.shown,
        mend="it was left as it is; install the newer version",
    )


def _application(connection: Connection) -> int:
    return int(connection.exec_driver_sql("PRAGMA application_id").scalar_one())


def upgrade(connection: Connection, form: str, to: str | None = None) -> None:
    """Move a logbook on from an older form to a newer one, by default today's, in a writing transaction."""
    from alembic.migration import MigrationContext
    from alembic.operations import Operations

    operations = Operations(MigrationContext.configure(connection, opts={"target_metadata": metadata}))
    for next_form, step in _STEPS:
        if form < next_form <= (to or HEAD):
            step(operations)
            connection.execute(update(version).values(version_num=next_form))


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


# The steps from form to form. One that has been released stays as it is, whatever the tables become after it.


def _add_grades(op: Operations) -> None:
    op.create_table(
        "grade",
        Column("id", String(64), primary_key=True),
        of_a("session", "session_id", nullable=False),
        of_a("person", "grader_id"),
        *needed(Integer, "hold", "place"),
        *needed(String(20), "given_as"),
        *needed(String(40), "graded_utc", "recorded_utc"),
        *needed(String(60), "item", "level"),
        *needed(String(200), "scale"),
        *needed(Text, "remark"),
        *maybe(String(60), "required", "proposed"),
        *maybe(Float, "computed_points"),
        *maybe(Integer, "proposed_place"),
    )
    op.create_index("ix_grade_session_id", "grade", ["session_id"])


def _add_recordings_and_trail(op: Operations) -> None:
    op.add_column("session", Column("removed_utc", String(40)))
    op.add_column("grade", Column("arrival", Integer, nullable=False, server_default="0"))
    op.add_column("grade", Column("withdrawn_utc", String(40)))
    _number_grades(op.get_bind())
    op.create_table(
        "recording",
        Column("id", Integer, primary_key=True),
        of_a("session", "session_id", nullable=False, index=True),
        *needed(String(64), "log_sha256"),
        *needed(Integer, "flight"),
        *needed(String(300), "log_name"),
        *maybe(String(40), "starts_utc"),
        *maybe(Float, "lasts_s"),
        UniqueConstraint("log_sha256", "flight"),
    )
    _fill_recordings(op.get_bind())
    op.create_table(
        "change",
        Column("id", Integer, primary_key=True),
        of_a("session", "session_id", index=True),
        of_a("person", "by_id"),
        *needed(String(40), "changed_utc"),
        *needed(String(20), "kind"),
        *needed(Text, "said", "why", "edits"),
        *maybe(Integer, "undone_by"),
    )
    op.create_table(
        "written_file",
        Column("id", Integer, primary_key=True),
        *needed(Text, "path"),
        of_a("person", "pilot_id"),
        *needed(String(40), "written_utc"),
        UniqueConstraint("path"),
    )


def _number_grades(connection: Connection) -> None:
    # The instant at which a grade was recorded is this logbook's own; the instant of grading may be any clock's.
    order = "ORDER BY recorded_utc, graded_utc, session_id, hold, item, given_as, id"
    grades = connection.execute(text(f"SELECT id FROM grade {order}")).scalars().all()
    for place, number in enumerate(grades, start=1):
        values = {"place": place, "id": number}
        connection.execute(text("UPDATE grade SET arrival = :place WHERE id = :id"), values)


def _fill_recordings(connection: Connection) -> None:
    latest = text("SELECT document FROM debrief WHERE session_id = :id ORDER BY rank DESC LIMIT 1")
    told = "INSERT INTO recording (session_id, log_sha256, flight, log_name, starts_utc, lasts_s)"
    put = text(f"{told} VALUES (:id, :log_sha256, :flight, :log_name, :starts, :lasts)")
    for row in connection.execute(
        text("SELECT id, log_sha256, flight, log_name FROM session ORDER BY id")
    ).all():
        document = connection.execute(latest, {"id": row.id}).scalar_one_or_none()
        log = json.loads(document)["log"] if document else {}
        lasts = log.get("duration_s")
        known = {"starts": log.get("start_utc"), "lasts": lasts if isinstance(lasts, (int, float)) else None}
        connection.execute(put, {**row._mapping, **known})


#: Each form after the first with the step that leads to it, oldest first.
_STEPS: tuple[tuple[str, Callable[[Operations], None]], ...] = (
    ("0002", _add_grades),
    ("0003", _add_recordings_and_trail),
)
_FORMS = ("0001", *(form for form, _ in _STEPS))
HEAD = _FORMS[-1]
