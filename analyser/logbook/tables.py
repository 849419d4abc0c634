"""The logbook's tables. Times are ISO 8601 text in UTC: the same, and in the same order, everywhere.

::

    person ─┬─< session ──< debrief ──< hold ──< measure
            └─< grade >── session

A debrief keeps its whole document; ``hold`` and ``measure`` repeat its figures so that they can be asked
for with a query, and can be rebuilt from the document at any time.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import (
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)

metadata = MetaData(
    naming_convention={
        "pk": "pk_%(table_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
        "ix": "ix_%(table_name)s_%(column_0_name)s",
    }
)
#: Which form a logbook has; the steps from older forms keep it, so it stands apart from the tables that they make.
version = Table("logbook_version", MetaData(), Column("version_num", String(32), primary_key=True))
_INSTANT = String(40)


def needed(kind: Any, *names: str) -> list[Column[Any]]:
    """Make columns that always have a value."""
    return [Column(name, kind, nullable=False) for name in names]


def maybe(kind: Any, *names: str) -> list[Column[Any]]:
    """Make columns that may be empty."""
    return [Column(name, kind) for name in names]


def of_a(table: str, column: str, **more: Any) -> Column[Any]:
    """Make the column that says which row of another table this one belongs to."""
    return Column(column, Integer, ForeignKey(f"{table}.id"), **more)


def _numbered(name: str, *parts: Any) -> Table:
    return Table(name, metadata, Column("id", Integer, primary_key=True), *parts)


person = _numbered(
    "person",
    Column("name_key", String(600), nullable=False, unique=True),
    *needed(String(200), "name"),
)

session = _numbered(
    "session",
    *needed(String(64), "log_sha256"),
    *needed(Integer, "flight"),
    *needed(String(300), "log_name"),
    *maybe(_INSTANT, "flown_utc"),
    *needed(String(20), "flown_from"),
    of_a("person", "pilot_id", nullable=False, index=True),
    of_a("person", "instructor_id"),
    *maybe(String(200), "device", "lesson"),
    *needed(_INSTANT, "recorded_utc"),
    # A session that was taken out can be put back; only forgetting a person erases.
    *maybe(_INSTANT, "removed_utc"),
    UniqueConstraint("log_sha256", "flight"),
)

#: Every file that holds a session's flight: another format, a packed copy, or a longer recording of it.
recording = _numbered(
    "recording",
    of_a("session", "session_id", nullable=False, index=True),
    *needed(String(64), "log_sha256"),
    *needed(Integer, "flight"),
    *needed(String(300), "log_name"),
    *maybe(_INSTANT, "starts_utc"),
    *maybe(Float, "lasts_s"),
    UniqueConstraint("log_sha256", "flight"),
)

debrief = _numbered(
    "debrief",
    of_a("session", "session_id", nullable=False),
    *needed(Integer, "rank"),
    *needed(String(64), "document_sha256"),
    *needed(String(60), "program_version", "rules_version"),
    *needed(_INSTANT, "recorded_utc"),
    *needed(Text, "document"),
    *maybe(Text, "trace"),
    UniqueConstraint("session_id", "rank"),
)

hold = _numbered(
    "hold",
    of_a("debrief", "debrief_id", nullable=False),
    *needed(Integer, "number"),
    *needed(String(300), "name"),
    *maybe(Float, "fix_lat_deg", "fix_lon_deg", "inbound_course_true_deg"),
    *maybe(String(10), "turns"),
    *maybe(Float, "leg_minutes", "leg_distance_nm"),
    *maybe(String(20), "rules", "entry_flown", "entry_verdict"),
    *maybe(Float, "wind_from_true_deg", "wind_speed_kt", "wind_sd_kt"),
    *maybe(Float, "tas_wander_kt", "tas_kt", "altitude_ft", "points"),
    *needed(Integer, "circuits"),
    *maybe(String(100), "grade"),
    UniqueConstraint("debrief_id", "number"),
)

measure = _numbered(
    "measure",
    of_a("hold", "hold_id", nullable=False),
    *needed(Integer, "circuit"),
    *needed(String(60), "item"),
    *maybe(Float, "points", "value", "target", "tolerance"),
    *needed(String(40), "verdict"),
    UniqueConstraint("hold_id", "circuit", "item"),
)

grade = Table(
    "grade",
    metadata,
    Column("id", String(64), primary_key=True),
    of_a("session", "session_id", nullable=False),
    of_a("person", "grader_id"),
    *needed(Integer, "hold", "place"),
    *needed(String(20), "given_as"),
    *needed(String(60), "item", "level"),
    *needed(String(200), "scale"),
    *maybe(String(60), "required", "proposed"),
    *maybe(Float, "computed_points"),
    *maybe(Integer, "proposed_place"),
    *needed(Text, "remark"),
    *needed(_INSTANT, "graded_utc", "recorded_utc"),
    # In which order grades reached this logbook: clocks of other computers do not decide.
    Column("arrival", Integer, nullable=False, server_default="0"),
    *maybe(_INSTANT, "withdrawn_utc"),
)
Index("ix_grade_session_id", grade.c.session_id)

#: The trail: what was changed by hand, who did it, when, and what stood before.
change = _numbered(
    "change",
    of_a("session", "session_id", index=True),
    of_a("person", "by_id"),
    *needed(_INSTANT, "changed_utc"),
    *needed(String(20), "kind"),
    *needed(Text, "said", "why", "edits"),
    *maybe(Integer, "undone_by"),
)

#: Files with names in them that were written from this logbook, as far as it knows.
written_file = _numbered(
    "written_file",
    Column("path", Text, nullable=False, unique=True),
    of_a("person", "pilot_id"),
    *needed(_INSTANT, "written_utc"),
)
