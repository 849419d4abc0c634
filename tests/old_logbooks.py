"""Logbooks of older forms, with one session in them, as the programs of then left them."""

from __future__ import annotations

from sqlalchemy import (
    Column,
    Float,
    ForeignKey,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
    text,
)

from analyser.logbook import migrate
from analyser.logbook.engine import find_place, open_store

_FORM_1 = MetaData(
    naming_convention={
        "pk": "pk_%(table_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
        "ix": "ix_%(table_name)s_%(column_0_name)s",
    }
)


def _table(name: str, *parts: Column[str] | Column[int] | Column[float] | UniqueConstraint) -> None:
    Table(name, _FORM_1, Column("id", Integer, primary_key=True), *parts)


def _need(name: str, kind: type[Integer | Text] | String) -> Column[str] | Column[int]:
    return Column(name, kind, nullable=False)


def _parent(table: str, column: str, **more: bool) -> Column[int]:
    return Column(column, ForeignKey(f"{table}.id"), **more)


# As the first program laid them, column by column.
Table("logbook_version", _FORM_1, Column("version_num", String(32), primary_key=True))
_table("person", _need("name_key", String(600)), _need("name", String(200)), UniqueConstraint("name_key"))
_table(
    "session",
    _need("log_sha256", String(64)),
    _need("flight", Integer),
    _need("log_name", String(300)),
    Column("flown_utc", String(40)),
    _need("flown_from", String(20)),
    _parent("person", "pilot_id", nullable=False, index=True),
    _parent("person", "instructor_id"),
    Column("device", String(200)),
    Column("lesson", String(200)),
    _need("recorded_utc", String(40)),
    UniqueConstraint("log_sha256", "flight"),
)
_table(
    "debrief",
    _parent("session", "session_id", nullable=False),
    _need("rank", Integer),
    _need("document_sha256", String(64)),
    _need("program_version", String(60)),
    _need("rules_version", String(60)),
    _need("recorded_utc", String(40)),
    _need("document", Text),
    Column("trace", Text),
    UniqueConstraint("session_id", "rank"),
)
_table(
    "hold",
    _parent("debrief", "debrief_id", nullable=False),
    _need("number", Integer),
    _need("name", String(300)),
    *(Column(name, Float) for name in ("fix_lat_deg", "fix_lon_deg", "inbound_course_true_deg")),
    Column("turns", String(10)),
    *(Column(name, Float) for name in ("leg_minutes", "leg_distance_nm")),
    Column("rules", String(20)),
    *(Column(name, Float) for name in ("wind_from_true_deg", "wind_speed_kt", "wind_sd_kt", "tas_wander_kt")),
    *(Column(name, Float) for name in ("tas_kt", "altitude_ft")),
    Column("entry_flown", String(20)),
    Column("entry_verdict", String(20)),
    _need("circuits", Integer),
    Column("points", Float),
    Column("grade", String(100)),
    UniqueConstraint("debrief_id", "number"),
)
_table(
    "measure",
    _parent("hold", "hold_id", nullable=False),
    _need("circuit", Integer),
    _need("item", String(60)),
    *(Column(name, Float) for name in ("points", "value", "target", "tolerance")),
    _need("verdict", String(40)),
    UniqueConstraint("hold_id", "circuit", "item"),
)

#: As recorded: the first by a computer whose clock ran ahead.
OLD_GRADES = (
    ("b" * 64, "5", "2099-01-01T00:00:00Z", "2025-01-03T10:00:00Z"),
    ("a" * 64, "2", "2025-01-04T09:00:00Z", "2025-01-04T10:00:00Z"),
)


def lay_old(place: str, form: str = "0001") -> None:
    """A logbook of an older form, with one session in it, as the program of then would have left it."""
    found = find_place(place)
    if found.path:
        found.path.touch()
    store = open_store(found, wait_s=5)
    with store.writing() as connection:
        _FORM_1.create_all(connection)
        connection.execute(text("INSERT INTO logbook_version VALUES ('0001')"))
        migrate.upgrade(connection, "0001", form)
        if found.path:
            connection.exec_driver_sql(f"PRAGMA application_id = {migrate.APPLICATION_ID}")
        connection.execute(text("INSERT INTO person (name_key, name) VALUES ('ada vane', 'Ada Vane')"))
        connection.execute(
            text(
                "INSERT INTO session (log_sha256, flight, log_name, flown_from, pilot_id, recorded_utc)"
                " VALUES (:mark, 1, 'old.gpx', 'unknown', 1, '2025-01-02T03:04:05Z')"
            ),
            {"mark": "ab" * 32},
        )
        connection.execute(
            text(
                "INSERT INTO debrief (session_id, rank, document_sha256, program_version,"
                " rules_version, recorded_utc, document)"
                " VALUES (1, 1, :mark, '0.0.1', 'r', '2025-01-02T03:04:05Z', :document)"
            ),
            {
                "mark": "cd" * 32,
                "document": '{"log":{"sha256":"' + "ab" * 32 + '","duration_s":900.5},"holds":[]}',
            },
        )
        if form == "0002":
            for mark, level, graded, recorded in OLD_GRADES:
                connection.execute(
                    text(
                        "INSERT INTO grade (id, session_id, hold, item, given_as, grader_id, scale, level, place,"
                        " remark, graded_utc, recorded_utc)"
                        " VALUES (:mark, 1, 1, 'bank', 'instructor', 1, 'evidence-1-5', :level, 3, :remark,"
                        " :graded, :recorded)"
                    ),
                    {"mark": mark, "level": level, "remark": level, "graded": graded, "recorded": recorded},
                )
    store.engine.dispose()
