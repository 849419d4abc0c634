"""Grades: what the pilot and the instructor thought, beside what was computed."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Add the grades."""
    op.create_table(
        "grade",
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("session_id", sa.Integer, nullable=False),
        sa.Column("hold", sa.Integer, nullable=False),
        sa.Column("item", sa.String(60), nullable=False),
        sa.Column("given_as", sa.String(20), nullable=False),
        sa.Column("grader_id", sa.Integer),
        sa.Column("scale", sa.String(200), nullable=False),
        sa.Column("level", sa.String(60), nullable=False),
        sa.Column("place", sa.Integer, nullable=False),
        sa.Column("required", sa.String(60)),
        sa.Column("computed_points", sa.Float),
        sa.Column("proposed", sa.String(60)),
        sa.Column("proposed_place", sa.Integer),
        sa.Column("remark", sa.Text, nullable=False),
        sa.Column("graded_utc", sa.String(40), nullable=False),
        sa.Column("recorded_utc", sa.String(40), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_grade"),
        sa.ForeignKeyConstraint(["session_id"], ["session.id"], name="fk_grade_session_id"),
        sa.ForeignKeyConstraint(["grader_id"], ["person.id"], name="fk_grade_grader_id"),
    )
    op.create_index("ix_grade_session_id", "grade", ["session_id"])
