"""Alembic's hook: run the steps on the connection that the logbook hands over, inside its transaction."""

from __future__ import annotations

from alembic import context

from analyser.logbook.tables import VERSION_TABLE, metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    version_table=VERSION_TABLE,
)
with context.begin_transaction():
    context.run_migrations()
