"""What is put into a logbook, or put right in it: each a transaction, acknowledged when it is on the disk."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import update

from analyser.logbook.flatten import iso_utc
from analyser.logbook.forget import drop_strangers
from analyser.logbook.grades import Propose, add_grades
from analyser.logbook.names import clean_name
from analyser.logbook.opened import OpenLogbook
from analyser.logbook.record import Entry, RecordOutcome, now, person_id, write_entry
from analyser.logbook.sessions import Session, Trace
from analyser.logbook.sheet import Given
from analyser.logbook.tables import session
from analyser.logbook.versions import program_version, rules_version


class KeptLogbook(OpenLogbook):
    """Takes debriefs and grades, and corrections of whose flight it was and when."""

    def record(
        self,
        document: Mapping[str, Any],
        *,
        pilot: str,
        instructor: str | None = None,
        device: str | None = None,
        lesson: str | None = None,
        flown: datetime | None = None,
        trace: Trace | None = None,
        flight: int = 1,
        program: str | None = None,
        rules: str | None = None,
    ) -> RecordOutcome:
        """Keep a debrief.

        Parameters
        ----------
        document : mapping
            The debrief document.
        pilot : str
        instructor, device, lesson : str, optional
            Left out: what the logbook knows of that log already.
        flown : datetime, optional
            For a log that has no date.
        trace : sequence, optional
            Flown path per hold: (seconds, NM east, NM north of the fix).
        flight : int
            Which of the log's flights, from 1.
        program, rules : str, optional
            Versions that made the document; left out: those that run now.

        Returns
        -------
        RecordOutcome

        Raises
        ------
        LogbookError
            It was not kept; the logbook is as it was.
        UsageError
            A name that cannot be one.
        """
        entry = Entry(
            document=document,
            flight=flight,
            pilot=clean_name(pilot),
            instructor=clean_name(instructor, what="instructor") if instructor else None,
            device=clean_name(device, what="device") if device else None,
            lesson=clean_name(lesson, what="lesson") if lesson else None,
            flown=flown,
            trace=trace,
            program_version=program or program_version(),
            rules_version=rules or rules_version(),
            recorded=now(),
        )
        with self._store.writing() as connection:
            return write_entry(connection, entry)

    def grade(
        self,
        reference: str,
        given: Sequence[Given],
        *,
        propose: Propose,
        graded: datetime | None = None,
        device: str | None = None,
        lesson: str | None = None,
    ) -> int:
        """Keep grades of a session.

        Parameters
        ----------
        reference : str
            As for :meth:`session`.
        given : sequence of Given
        propose : callable
            Points to (key, place) of the level they stand for, on the scale of the grades.
        graded : datetime, optional
            When; left out: now.
        device, lesson : str, optional
            Taken over where the session has none yet.

        Returns
        -------
        int
            How many were new.

        Raises
        ------
        LogbookError, UsageError
            Nothing was kept then.
        """
        with self._store.writing() as connection:
            number, found = self._one(connection, reference)
            said = {"device": None if found.device else device, "lesson": None if found.lesson else lesson}
            new = {key: clean_name(value, what=key) for key, value in said.items() if value}
            if new:
                connection.execute(update(session).where(session.c.id == number).values(**new))
            return add_grades(
                connection, number, found, given, propose=propose, graded=graded or now(), recorded=now()
            )

    def move(self, reference: str, *, pilot: str) -> Session:
        """Say that another pilot flew a session.

        Parameters
        ----------
        reference : str
        pilot : str

        Returns
        -------
        Session
            As it is now.
        """
        name = clean_name(pilot)
        with self._store.writing() as connection:
            number, _ = self._one(connection, reference)
            who = person_id(connection, name)
            connection.execute(update(session).where(session.c.id == number).values(pilot_id=who))
            drop_strangers(connection)
            return self._one(connection, reference)[1]

    def date(self, reference: str, flown: datetime) -> Session:
        """Say when a session was flown, where its log does not or is wrong.

        Parameters
        ----------
        reference : str
            As for :meth:`session`.
        flown : datetime

        Returns
        -------
        Session
            As it is now.
        """
        said = {"flown_utc": iso_utc(flown), "flown_from": "given"}
        with self._store.writing() as connection:
            number, _ = self._one(connection, reference)
            connection.execute(update(session).where(session.c.id == number).values(**said))
            return self._one(connection, reference)[1]
