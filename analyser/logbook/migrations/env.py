"""Alembic's hook: run the steps on the connection that the logbook hands over, inside its transaction."""

from __future__ import annotations

from alembic import context

from analyser.logbook.tables import metadata, version

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    version_table=version.name,
)
with context.begin_transaction():
    context.run_migrations()
