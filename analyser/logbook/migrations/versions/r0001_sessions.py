"""Sessions: people, the logs they flew, every debrief of each log, and its figures."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the tables of the first logbook."""
    _people_and_sessions()
    _debriefs()
    _figures()


def _people_and_sessions() -> None:
    op.create_table(
        "person",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("name_key", sa.String(600), nullable=False),
        sa.Column("name", sa.String(200), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_person"),
        sa.UniqueConstraint("name_key", name="uq_person_name_key"),
    )
    op.create_table(
        "session",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("log_sha256", sa.String(64), nullable=False),
        sa.Column("flight", sa.Integer, nullable=False),
        sa.Column("log_name", sa.String(300), nullable=False),
        sa.Column("flown_utc", sa.String(40)),
        sa.Column("flown_from", sa.String(20), nullable=False),
        sa.Column("pilot_id", sa.Integer, nullable=False),
        sa.Column("instructor_id", sa.Integer),
        sa.Column("device", sa.String(200)),
        sa.Column("lesson", sa.String(200)),
        sa.Column("recorded_utc", sa.String(40), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_session"),
        sa.UniqueConstraint("log_sha256", "flight", name="uq_session_log_sha256"),
        sa.ForeignKeyConstraint(["pilot_id"], ["person.id"], name="fk_session_pilot_id"),
        sa.ForeignKeyConstraint(["instructor_id"], ["person.id"], name="fk_session_instructor_id"),
    )
    op.create_index("ix_session_pilot_id", "session", ["pilot_id"])


def _debriefs() -> None:
    op.create_table(
        "debrief",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("session_id", sa.Integer, nullable=False),
        sa.Column("rank", sa.Integer, nullable=False),
        sa.Column("document_sha256", sa.String(64), nullable=False),
        sa.Column("program_version", sa.String(60), nullable=False),
        sa.Column("rules_version", sa.String(60), nullable=False),
        sa.Column("recorded_utc", sa.String(40), nullable=False),
        sa.Column("document", sa.Text, nullable=False),
        sa.Column("trace", sa.Text),
        sa.PrimaryKeyConstraint("id", name="pk_debrief"),
        sa.UniqueConstraint("session_id", "rank", name="uq_debrief_session_id"),
        sa.ForeignKeyConstraint(["session_id"], ["session.id"], name="fk_debrief_session_id"),
    )


def _figures() -> None:
    op.create_table(
        "hold",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("debrief_id", sa.Integer, nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("name", sa.String(300), nullable=False),
        sa.Column("fix_lat_deg", sa.Float),
        sa.Column("fix_lon_deg", sa.Float),
        sa.Column("inbound_course_true_deg", sa.Float),
        sa.Column("turns", sa.String(10)),
        sa.Column("leg_minutes", sa.Float),
        sa.Column("leg_distance_nm", sa.Float),
        sa.Column("rules", sa.String(20)),
        sa.Column("wind_from_true_deg", sa.Float),
        sa.Column("wind_speed_kt", sa.Float),
        sa.Column("wind_sd_kt", sa.Float),
        sa.Column("tas_wander_kt", sa.Float),
        sa.Column("tas_kt", sa.Float),
        sa.Column("altitude_ft", sa.Float),
        sa.Column("entry_flown", sa.String(20)),
        sa.Column("entry_verdict", sa.String(20)),
        sa.Column("circuits", sa.Integer, nullable=False),
        sa.Column("points", sa.Float),
        sa.Column("grade", sa.String(100)),
        sa.PrimaryKeyConstraint("id", name="pk_hold"),
        sa.UniqueConstraint("debrief_id", "number", name="uq_hold_debrief_id"),
        sa.ForeignKeyConstraint(["debrief_id"], ["debrief.id"], name="fk_hold_debrief_id"),
    )
    op.create_table(
        "measure",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("hold_id", sa.Integer, nullable=False),
        sa.Column("circuit", sa.Integer, nullable=False),
        sa.Column("item", sa.String(60), nullable=False),
        sa.Column("points", sa.Float),
        sa.Column("value", sa.Float),
        sa.Column("target", sa.Float),
        sa.Column("tolerance", sa.Float),
        sa.Column("verdict", sa.String(40), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_measure"),
        sa.UniqueConstraint("hold_id", "circuit", "item", name="uq_measure_hold_id"),
        sa.ForeignKeyConstraint(["hold_id"], ["hold.id"], name="fk_measure_hold_id"),
    )
