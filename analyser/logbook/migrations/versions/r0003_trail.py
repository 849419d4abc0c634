"""Order of arrival, withdrawn grades, several recordings of one flight, the trail of changes, files written."""

from __future__ import annotations

import json

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Add what was missing; nothing that is there is changed but for the grades' order of arrival."""
    op.add_column("session", sa.Column("removed_utc", sa.String(40)))
    op.add_column("grade", sa.Column("arrival", sa.Integer, nullable=False, server_default="0"))
    op.add_column("grade", sa.Column("withdrawn_utc", sa.String(40)))
    _number_grades()
    _make_recordings()
    _fill_recordings()
    _make_trail()


def _number_grades() -> None:
    # The instant at which a grade was recorded is this logbook's own; the instant of grading may be any clock's.
    order = "ORDER BY recorded_utc, graded_utc, session_id, hold, item, given_as, id"
    rows = op.get_bind().execute(sa.text(f"SELECT id FROM grade {order}")).scalars().all()
    for place, number in enumerate(rows, start=1):
        op.get_bind().execute(
            sa.text("UPDATE grade SET arrival = :place WHERE id = :id"), {"place": place, "id": number}
        )


def _make_recordings() -> None:
    op.create_table(
        "recording",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("session_id", sa.Integer, nullable=False),
        sa.Column("log_sha256", sa.String(64), nullable=False),
        sa.Column("flight", sa.Integer, nullable=False),
        sa.Column("log_name", sa.String(300), nullable=False),
        sa.Column("starts_utc", sa.String(40)),
        sa.Column("lasts_s", sa.Float),
        sa.PrimaryKeyConstraint("id", name="pk_recording"),
        sa.UniqueConstraint("log_sha256", "flight", name="uq_recording_log_sha256"),
        sa.ForeignKeyConstraint(["session_id"], ["session.id"], name="fk_recording_session_id"),
    )
    op.create_index("ix_recording_session_id", "recording", ["session_id"])


def _fill_recordings() -> None:
    bind = op.get_bind()
    sessions = bind.execute(sa.text("SELECT id, log_sha256, flight, log_name FROM session ORDER BY id")).all()
    latest = sa.text("SELECT document FROM debrief WHERE session_id = :id ORDER BY rank DESC LIMIT 1")
    for row in sessions:
        document = bind.execute(latest, {"id": row.id}).scalar_one_or_none()
        log = json.loads(document)["log"] if document else {}
        lasts = log.get("duration_s")
        bind.execute(
            sa.text(
                "INSERT INTO recording (session_id, log_sha256, flight, log_name, starts_utc, lasts_s)"
                " VALUES (:id, :mark, :flight, :name, :starts, :lasts)"
            ),
            {
                "id": row.id,
                "mark": row.log_sha256,
                "flight": row.flight,
                "name": row.log_name,
                "starts": log.get("start_utc"),
                "lasts": float(lasts) if isinstance(lasts, (int, float)) else None,
            },
        )


def _make_trail() -> None:
    op.create_table(
        "change",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("session_id", sa.Integer),
        sa.Column("by_id", sa.Integer),
        sa.Column("changed_utc", sa.String(40), nullable=False),
        sa.Column("kind", sa.String(20), nullable=False),
        sa.Column("said", sa.Text, nullable=False),
        sa.Column("why", sa.Text, nullable=False),
        sa.Column("edits", sa.Text, nullable=False),
        sa.Column("undone_by", sa.Integer),
        sa.PrimaryKeyConstraint("id", name="pk_change"),
        sa.ForeignKeyConstraint(["session_id"], ["session.id"], name="fk_change_session_id"),
        sa.ForeignKeyConstraint(["by_id"], ["person.id"], name="fk_change_by_id"),
    )
    op.create_index("ix_change_session_id", "change", ["session_id"])
    op.create_table(
        "written_file",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("path", sa.Text, nullable=False),
        sa.Column("pilot_id", sa.Integer),
        sa.Column("written_utc", sa.String(40), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_written_file"),
        sa.UniqueConstraint("path", name="uq_written_file_path"),
        sa.ForeignKeyConstraint(["pilot_id"], ["person.id"], name="fk_written_file_pilot_id"),
    )
