"""The steps that lead from an older logbook to this program's, run by Alembic."""
