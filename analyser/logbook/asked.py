"""What can be asked of a logbook: sessions and pilots."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime

from sqlalchemy import select

from analyser.logbook import reading
from analyser.logbook.names import clean_name
from analyser.logbook.opened import OpenLogbook
from analyser.logbook.sessions import Session
from analyser.logbook.tables import session


class AskedLogbook(OpenLogbook):
    """Answers; nothing in it changes."""

    def sessions(
        self,
        *,
        pilot: str | None = None,
        pilots: Sequence[str] | None = None,
        instructor: str | None = None,
        since: datetime | None = None,
        until: datetime | None = None,
    ) -> list[Session]:
        """Return sessions in the order they were flown.

        Parameters
        ----------
        pilot : str, optional
        pilots : sequence of str, optional
        instructor : str, optional
        since, until : datetime, optional

        Returns
        -------
        list of Session
        """
        wanted = [pilot] if pilot is not None else pilots
        return list(
            self._each(
                reading.Wanted(
                    pilots=None if wanted is None else [clean_name(one) for one in wanted],
                    instructor=clean_name(instructor, what="instructor") if instructor else None,
                    since=since,
                    until=until,
                )
            )
        )

    def session(self, reference: str) -> Session:
        """Return one session.

        Parameters
        ----------
        reference : str
            How its log's hash begins, or ``"last"`` for the one recorded last.

        Returns
        -------
        Session

        Raises
        ------
        UsageError
            None, or more than one, is called so.
        """
        with self._store.reading() as connection:
            return self._one(connection, reference)[1]

    def flights(self, log_sha256: str) -> list[Session]:
        """Return the sessions of one log, in the order of its flights.

        Parameters
        ----------
        log_sha256 : str
            In full.

        Returns
        -------
        list of Session
        """
        query = select(session.c.id).where(session.c.log_sha256 == log_sha256).order_by(session.c.flight)
        with self._store.reading() as connection:
            numbers = list(connection.execute(query).scalars())
            found = [reading.read_session(connection, number) for number in numbers]
        return [one for one in found if one is not None]

    def pilots(self) -> dict[str, int]:
        """Return every pilot's name with the number of sessions.

        Returns
        -------
        dict
        """
        with self._store.reading() as connection:
            return reading.people(connection)

    def _each(self, wanted: reading.Wanted) -> Iterator[Session]:
        with self._store.reading() as connection:
            for number in reading.session_ids(connection, wanted):
                found = reading.read_session(connection, number)
                if found is not None:
                    yield found
