"""The logbook's tables. Times are ISO 8601 text in UTC: the same, and in the same order, everywhere.

::

    person ─┬─< session ──< debrief ──< hold ──< measure
            └─< grade >── session

A debrief keeps its whole document; ``hold`` and ``measure`` repeat its figures so that they can be asked
for with a query, and can be rebuilt from the document at any time.
"""

from __future__ import annotations

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


def _figures(*names: str) -> list[Column[float]]:
    return [Column(name, Float) for name in names]


person = Table(
    "person",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name_key", String(600), nullable=False, unique=True),
    Column("name", String(200), nullable=False),
)

session = Table(
    "session",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("log_sha256", String(64), nullable=False),
    Column("flight", Integer, nullable=False),
    Column("log_name", String(300), nullable=False),
    Column("flown_utc", String(40)),
    Column("flown_from", String(20), nullable=False),
    Column("pilot_id", ForeignKey("person.id"), nullable=False, index=True),
    Column("instructor_id", ForeignKey("person.id")),
    Column("device", String(200)),
    Column("lesson", String(200)),
    Column("recorded_utc", String(40), nullable=False),
    # A session that was taken out can be put back; only forgetting a person erases.
    Column("removed_utc", String(40)),
    UniqueConstraint("log_sha256", "flight"),
)

#: Every file that holds a session's flight: another format, a packed copy, or a longer recording of it.
recording = Table(
    "recording",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("session_id", ForeignKey("session.id"), nullable=False, index=True),
    Column("log_sha256", String(64), nullable=False),
    Column("flight", Integer, nullable=False),
    Column("log_name", String(300), nullable=False),
    Column("starts_utc", String(40)),
    Column("lasts_s", Float),
    UniqueConstraint("log_sha256", "flight"),
)

debrief = Table(
    "debrief",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("session_id", ForeignKey("session.id"), nullable=False),
    Column("rank", Integer, nullable=False),
    Column("document_sha256", String(64), nullable=False),
    Column("program_version", String(60), nullable=False),
    Column("rules_version", String(60), nullable=False),
    Column("recorded_utc", String(40), nullable=False),
    Column("document", Text, nullable=False),
    Column("trace", Text),
    UniqueConstraint("session_id", "rank"),
)

hold = Table(
    "hold",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("debrief_id", ForeignKey("debrief.id"), nullable=False),
    Column("number", Integer, nullable=False),
    Column("name", String(300), nullable=False),
    *_figures("fix_lat_deg", "fix_lon_deg", "inbound_course_true_deg"),
    Column("turns", String(10)),
    Column("leg_minutes", Float),
    Column("leg_distance_nm", Float),
    Column("rules", String(20)),
    *_figures("wind_from_true_deg", "wind_speed_kt", "wind_sd_kt", "tas_wander_kt", "tas_kt", "altitude_ft"),
    Column("entry_flown", String(20)),
    Column("entry_verdict", String(20)),
    Column("circuits", Integer, nullable=False),
    Column("points", Float),
    Column("grade", String(100)),
    UniqueConstraint("debrief_id", "number"),
)

measure = Table(
    "measure",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("hold_id", ForeignKey("hold.id"), nullable=False),
    Column("circuit", Integer, nullable=False),
    Column("item", String(60), nullable=False),
    *_figures("points", "value", "target", "tolerance"),
    Column("verdict", String(40), nullable=False),
    UniqueConstraint("hold_id", "circuit", "item"),
)

grade = Table(
    "grade",
    metadata,
    Column("id", String(64), primary_key=True),
    Column("session_id", ForeignKey("session.id"), nullable=False),
    Column("hold", Integer, nullable=False),
    Column("item", String(60), nullable=False),
    Column("given_as", String(20), nullable=False),
    Column("grader_id", ForeignKey("person.id")),
    Column("scale", String(200), nullable=False),
    Column("level", String(60), nullable=False),
    Column("place", Integer, nullable=False),
    Column("required", String(60)),
    Column("computed_points", Float),
    Column("proposed", String(60)),
    Column("proposed_place", Integer),
    Column("remark", Text, nullable=False),
    Column("graded_utc", String(40), nullable=False),
    Column("recorded_utc", String(40), nullable=False),
    # In which order grades reached this logbook: clocks of other computers do not decide.
    Column("arrival", Integer, nullable=False, server_default="0"),
    Column("withdrawn_utc", String(40)),
)
Index("ix_grade_session_id", grade.c.session_id)

#: The trail: what was changed by hand, who did it, when, and what stood before.
change = Table(
    "change",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("session_id", ForeignKey("session.id"), index=True),
    Column("by_id", ForeignKey("person.id")),
    Column("changed_utc", String(40), nullable=False),
    Column("kind", String(20), nullable=False),
    Column("said", Text, nullable=False),
    Column("why", Text, nullable=False),
    Column("edits", Text, nullable=False),
    Column("undone_by", Integer),
)

#: Files with names in them that were written from this logbook, as far as it knows.
written_file = Table(
    "written_file",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("path", Text, nullable=False, unique=True),
    Column("pilot_id", ForeignKey("person.id")),
    Column("written_utc", String(40), nullable=False),
)
