"""The first form: people, the logs they flew, every debrief of each log, and its figures."""

from __future__ import annotations

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Do nothing: what stands at this step has its tables, and a new logbook is laid in the form of the day."""
