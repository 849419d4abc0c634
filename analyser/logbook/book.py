"""The logbook: weeks of debriefs, of one pilot or of a whole school.

One code path for an SQLite file and a PostgreSQL database. Everything that is written is one transaction,
acknowledged only when it is on the disk.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import IO, Any, Self

from sqlalchemy import select, update

from analyser.errors import LogbookError, UsageError
from analyser.logbook import engine, exchange, migrate, reading
from analyser.logbook.faults import in_words
from analyser.logbook.flatten import iso_utc
from analyser.logbook.forget import Forgotten, drop_strangers, forget_person
from analyser.logbook.grades import Propose, add_grades
from analyser.logbook.names import clean_name
from analyser.logbook.place import Place, find_place
from analyser.logbook.record import Entry, RecordOutcome, now, person_id, write_entry
from analyser.logbook.sessions import Session, Trace
from analyser.logbook.sheet import Given
from analyser.logbook.tables import metadata, session
from analyser.logbook.versions import program_version, rules_version

WAIT_S = 30.0


@dataclass(frozen=True)
class Imported:
    """What an import came to, in numbers of sessions."""

    new: int = 0
    extended: int = 0
    already_there: int = 0


class Logbook:
    """An open logbook; use it in a ``with`` block, or close it.

    Attributes
    ----------
    copy : Path, str or None
        Where the logbook of an older form was copied to before it was moved on; None where it was not.
    """

    def __init__(self, store: engine.Store, copy: Path | str | None) -> None:
        self._store = store
        self.copy = copy

    @classmethod
    def open(
        cls, url_or_path: str | Path | None = None, *, create: bool = True, wait_s: float = WAIT_S
    ) -> Self:
        """Open a logbook, bringing an older one to this program's form after copying it.

        Parameters
        ----------
        url_or_path : str, Path or None
            A file, ``postgresql://…``, or None for the user's own logbook.
        create : bool
            Whether to make the file where there is none.
        wait_s : float
            How long to wait for another writer, seconds.

        Returns
        -------
        Logbook

        Raises
        ------
        LogbookError
            It cannot be opened, belongs to a newer version, or is something else; it is then untouched.
        UsageError
            An address of an unknown kind.
        """
        place = find_place(url_or_path)
        if place.path is not None:
            _find_file(place.path, create)
        store = engine.open_store(place, wait_s=wait_s)
        try:
            return cls(store, migrate.bring_up_to_date(store))
        except BaseException:
            store.engine.dispose()
            raise

    def close(self) -> None:
        """Let go of the database."""
        self._store.engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @property
    def place(self) -> Place:
        """Where it is."""
        return self._store.place

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

    def export(self, stream: IO[str], *, done: Callable[[int, int], None] | None = None) -> int:
        """Write every session as a JSON line.

        Parameters
        ----------
        stream : text stream
        done : callable, optional
            Told after each session: how many of how many.

        Returns
        -------
        int
            How many sessions.
        """
        with self._store.reading() as connection:
            numbers = reading.session_ids(connection, reading.Wanted())
        stream.write(exchange.first_line() + "\n")
        written = 0
        for number in numbers:
            # One by one, so that writers need not wait for a long export.
            with self._store.reading() as connection:
                found = reading.read_session(connection, number)
            if found is not None:
                stream.write(exchange.session_line(found) + "\n")
                written += 1
            if done:
                done(written, len(numbers))
        stream.write(exchange.last_line(written) + "\n")
        return written

    def export_file(self, path: Path, *, done: Callable[[int, int], None] | None = None) -> int:
        """Write every session into a file, whole or not at all, readable by its owner only.

        Parameters
        ----------
        path : Path
        done : callable, optional
            As for :meth:`export`.

        Returns
        -------
        int
            How many sessions.

        Raises
        ------
        LogbookError
            The file cannot be written; an older one is then left as it was.
        """
        with exchange.whole_file(path) as stream:
            return self.export(stream, done=done)

    def import_file(self, path: Path, *, done: Callable[[int], None] | None = None) -> Imported:
        """Take over an export from a file.

        Parameters
        ----------
        path : Path
        done : callable, optional
            As for :meth:`import_`.

        Returns
        -------
        Imported

        Raises
        ------
        LogbookError
            As for :meth:`import_`, or the file cannot be read.
        """
        try:
            with path.open(encoding="utf-8-sig") as stream:
                return self.import_(stream, name=str(path), done=done)
        except (OSError, UnicodeDecodeError) as fault:
            what = f"cannot be read: {getattr(fault, 'strerror', None) or 'it is not UTF-8 text'}"
            raise LogbookError(what, file=str(path), mend="check the path") from fault

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

    def import_(
        self,
        stream: Iterable[str],
        *,
        name: str = "import",
        done: Callable[[int], None] | None = None,
    ) -> Imported:
        """Take over an export: each session one transaction, beside what is here already.

        Parameters
        ----------
        stream : iterable of str
            Its lines.
        name : str
            Of the file, for messages.
        done : callable, optional
            Told after each session: how many so far.

        Returns
        -------
        Imported

        Raises
        ------
        LogbookError
            A line that cannot be taken over; those before it were.
        """
        counted = {"new": 0, "extended": 0, "already there": 0}
        for number, told in exchange.read_lines(iter(stream), name):
            try:
                with self._store.writing() as connection:
                    taken = exchange.take_over(connection, told)
            except LogbookError as fault:
                raise LogbookError(fault.what, file=name, place=f"line {number}", mend=fault.mend) from fault
            except (KeyError, TypeError, ValueError, UsageError) as fault:
                what = f"this session cannot be taken over: {type(fault).__name__} {fault}"
                raise LogbookError(what, file=name, place=f"line {number}") from fault
            counted[taken] += 1
            if done:
                done(sum(counted.values()))
        return Imported(counted["new"], counted["extended"], counted["already there"])

    def _each(self, wanted: reading.Wanted) -> Iterator[Session]:
        with self._store.reading() as connection:
            for number in reading.session_ids(connection, wanted):
                found = reading.read_session(connection, number)
                if found is not None:
                    yield found

    def _one(self, connection: Any, reference: str) -> tuple[int, Session]:
        if reference == "last":
            query = select(session.c.id).order_by(session.c.recorded_utc.desc(), session.c.id.desc()).limit(1)
            numbers = list(connection.execute(query).scalars())
        else:
            numbers = reading.session_ids(connection, reading.Wanted(reference=reference))
        found = reading.read_session(connection, numbers[0]) if len(numbers) == 1 else None
        if found is None:
            what = "no session" if not numbers else f"{len(numbers)} sessions"
            mend = "analyser logbook list shows them" if not numbers else "give more of its characters"
            raise UsageError(f"{what} in the logbook begins with '{reference}'", mend=mend)
        return numbers[0], found

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


def _find_file(path: Path, create: bool) -> None:
    if path.is_dir():
        raise UsageError("this is a folder", file=str(path), mend="give the name of a file in it")
    if not path.exists():
        if not create:
            mend = "debrief a log with --pilot NAME to begin one, or say where it is with --logbook"
            raise LogbookError("there is no logbook here", file=str(path), mend=mend)
        engine.lay_file(path)
    engine.check_file(path)
