"""What is erased from a logbook: people, and the copies that older forms of it left behind."""

from __future__ import annotations

import contextlib
from dataclasses import replace

from analyser.errors import LogbookError, UsageError
from analyser.logbook import migrate
from analyser.logbook.faults import in_words
from analyser.logbook.forget import Forgotten, drop_strangers, forget_person
from analyser.logbook.names import clean_name
from analyser.logbook.opened import OpenLogbook
from analyser.logbook.tables import metadata


class ErasingLogbook(OpenLogbook):
    """Forgets."""

    def forget(self, pilot: str) -> Forgotten:
        """Erase a person: the sessions that the person flew, and the name everywhere else.

        Parameters
        ----------
        pilot : str

        Returns
        -------
        Forgotten

        Raises
        ------
        UsageError
            Nobody of that name is in the logbook.
        """
        name = clean_name(pilot)
        with self._store.writing() as connection:
            erased = forget_person(connection, name)
            drop_strangers(connection)
        if erased is None:
            raise UsageError(f"nobody called '{name}' is in the logbook", file=self.place.shown)
        return replace(erased, backups=self._clear_traces())

    def erase_copies(self) -> tuple[str, ...]:
        """Erase the copies that were made before older logbooks were moved on.

        Returns
        -------
        tuple of str
            What was erased.

        Raises
        ------
        LogbookError
            A copy could not be erased.
        """
        if self.place.path is not None:
            return migrate.erase_files(self.place.path)
        with self._store.writing() as connection:
            return migrate.erase_schemas(connection)

    def _clear_traces(self) -> tuple[str, ...]:
        if self.place.path is not None:
            return tuple(str(one) for one in migrate.backups_of(self.place.path))
        # PostgreSQL keeps the bytes of deleted rows until it tidies up; other connections may delay that.
        with (
            contextlib.suppress(LogbookError),
            in_words(self.place),
            self._store.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection,
        ):
            for table in metadata.sorted_tables:
                connection.exec_driver_sql(f'VACUUM "{table.name}"')
        with self._store.reading() as connection:
            return tuple(migrate.backup_schemas(connection))
