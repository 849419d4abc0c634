"""The logbook: weeks of debriefs, of one pilot or of a whole school.

One code path for an SQLite file and a PostgreSQL database. Everything that is written is one transaction,
acknowledged only when it is on the disk.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import IO, Any, Self

from sqlalchemy import Connection, delete, insert, update

from analyser import __version__
from analyser.errors import LogbookError, UsageError
from analyser.frozen import dataclass
from analyser.logbook import corrections, engine, exchange, migrate, reading
from analyser.logbook.corrections import Forgotten, Hand, drop_strangers, forget_person
from analyser.logbook.documents import iso_utc, now
from analyser.logbook.engine import in_words
from analyser.logbook.names import clean_name
from analyser.logbook.place import Place, find_place
from analyser.logbook.record import (
    NewDebrief,
    Propose,
    RecordOutcome,
    add_grades,
    person_id,
    rules_version,
    write_entry,
)
from analyser.logbook.sessions import Given, GivenAs, Session, Trace, TrailEntry
from analyser.logbook.tables import metadata, session, written_file

WAIT_S = 30.0
#: The first powered, controlled flight; a date before it is a slip of the pen.
FIRST_FLIGHT = datetime(1903, 12, 17, tzinfo=UTC)


@dataclass(frozen=True)
class Imported:
    """What an import came to, in numbers of sessions, with what could not be agreed or read."""

    new: int = 0
    extended: int = 0
    already_there: int = 0
    left: int = 0
    conflicts: tuple[exchange.Conflict, ...] = ()
    faults: tuple[LogbookError, ...] = ()


class _NothingKeptError(Exception):
    """Ends a transaction of which nothing is to be kept."""


class Logbook:
    """An open logbook; use it in a ``with`` block, or close it.

    ``copy`` is where a logbook of an older form was copied to before it was moved on; None where it was not.
    """

    def __init__(self, store: engine.Store, copy: Path | str | None) -> None:
        self._store = store
        self.copy = copy

    @classmethod
    def open(
        cls, url_or_path: str | Path | None = None, *, create: bool = True, wait_s: float = WAIT_S
    ) -> Self:
        """Open a logbook, bringing an older one to this program's form after copying it.

        It is a file, which is made where there is none and ``create`` is set, or at ``postgresql://…``; None is the
        user's own. Another writer is waited for ``wait_s`` seconds.

        Raises
        ------
        LogbookError
            It cannot be opened, belongs to a newer version, or is something else; it is then untouched.
        UsageError
            An address of an unknown kind.
        """
        place = find_place(url_or_path)
        if place.path is not None:
            engine.find_file(place.path, create=create)
        store = engine.open_store(place, wait_s=wait_s)
        try:
            book = cls(store, migrate.bring_up_to_date(store))
            if isinstance(book.copy, Path):
                # Known also where the logbook itself is called otherwise, or moved, later.
                book.note_files([(book.copy, None)])
            return book
        except BaseException:
            store.engine.dispose()
            raise

    def close(self) -> None:
        """Let go of the database."""
        self._store.engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @property
    def place(self) -> Place:
        """Where it is."""
        return self._store.place

    @property
    def copy_note(self) -> str:
        """What is to be told where a copy was made of a logbook of an older form; empty where none was."""
        if self.copy is None:
            return ""
        said = "this logbook was of an older form and has been moved on; a copy of it, names included, is in"
        return f"{self.place.shown}: {said} {self.copy} (erase that when it is no longer wanted)"

    # What can be asked of it.

    def sessions(
        self,
        *,
        pilots: Sequence[str] | None = None,
        instructor: str | None = None,
        since: datetime | None = None,
        until: datetime | None = None,
    ) -> list[Session]:
        """Return sessions in the order they were flown; those that were taken out are left out.

        Raises
        ------
        UsageError
            One of ``pilots``, or the instructor, has no session at all; who may have been meant is said.
        """
        with self._store.reading() as connection:
            names = None if pilots is None else corrections.known_people(connection, pilots)
            if instructor:
                (instructor,) = corrections.known_people(connection, [instructor], what="instructor")
            wanted = reading.Wanted(pilots=names, instructor=instructor, since=since, until=until)
            numbers = reading.session_ids(connection, wanted)
            found = [reading.read_session(connection, number) for number in numbers]
        return [one for one in found if one is not None]

    def session(self, reference: str) -> Session:
        """Return one session: by how its log's hash begins, or ``"last"`` for the one recorded last.

        Raises
        ------
        UsageError
            None, or more than one, is called so.
        """
        with self._store.reading() as connection:
            return reading.one_session(connection, reference)[1]

    def flights(self, log_sha256: str) -> list[Session]:
        """Return the sessions of one log, by its hash in full, in the order of its flights."""
        with self._store.reading() as connection:
            return reading.sessions_of_log(connection, log_sha256)

    def pilots(self) -> dict[str, int]:
        """Return every pilot's name with the number of sessions."""
        with self._store.reading() as connection:
            return reading.people(connection)

    def person(self, name: str) -> tuple[str, int]:
        """Return the name of a pilot or instructor as the logbook writes it, and how many sessions the person flew.

        Raises
        ------
        UsageError
            Nobody is called so; who may have been meant is said.
        """
        with self._store.reading() as connection:
            written = str(corrections.known_person(connection, clean_name(name)).name)
            return written, reading.people(connection).get(written, 0)

    def known_pilots(self, names: Sequence[str]) -> list[str]:
        """Return the names of pilots as the logbook writes them, whatever their case.

        Raises
        ------
        UsageError
            One of them has no session; who may have been meant is said.
        """
        with self._store.reading() as connection:
            return corrections.known_people(connection, names)

    def trail(self, reference: str | None = None, *, pilot: str | None = None) -> list[TrailEntry]:
        """Return what was changed by hand, oldest first: of all, of one session, or of a pilot's sessions."""
        with self._store.reading() as connection:
            if reference is not None:
                return reading.read_trail(
                    connection, [reading.one_session(connection, reference, removed=True)[0]]
                )
            if pilot is not None:
                wanted = reading.Wanted(pilots=[clean_name(pilot)], removed=True)
                return reading.read_trail(connection, reading.session_ids(connection, wanted))
            return reading.read_trail(connection)

    # What is put into it.

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
        """Keep a debrief: a document of schema 1 or 2, of one of the log's flights, counted from 1.

        Instructor, device and lesson are kept where the logbook knows of none yet; ``flown`` is for a log without a
        date. Without the flown path the same flight in another file is not known again. ``program`` and ``rules`` are
        the versions that made the document; left out: those that run now.

        Raises
        ------
        LogbookError
            It was not kept; the logbook is as it was.
        UsageError
            A name that cannot be one.
        """
        entry = NewDebrief(
            document=document,
            flight=flight,
            pilot=clean_name(pilot),
            instructor=clean_name(instructor, what="instructor") if instructor else None,
            device=clean_name(device, what="device") if device else None,
            lesson=clean_name(lesson, what="lesson") if lesson else None,
            flown=flown,
            trace=trace,
            program_version=program or __version__,
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
        flown: datetime | None = None,
    ) -> int:
        """Keep grades of a session; return how many were new.

        ``propose`` turns points into (key, place) of the level they stand for, on the scale of the grades. When they
        were ``graded`` is information: their order is that in which they arrive here. Device, lesson and the day on
        which it was ``flown`` are taken over where the session has none yet.

        Raises
        ------
        LogbookError, UsageError
            Nothing was kept then.
        """
        with self._store.writing() as connection:
            number, found = reading.one_session(connection, reference)
            said = {"device": None if found.device else device, "lesson": None if found.lesson else lesson}
            new = {key: clean_name(value, what=key) for key, value in said.items() if value}
            if flown and not found.flown:
                new |= {"flown_utc": iso_utc(flown), "flown_from": "given"}
            if new:
                connection.execute(update(session).where(session.c.id == number).values(**new))
            return add_grades(
                connection, number, found, given, propose=propose, graded=graded or now(), recorded=now()
            )

    def note_files(self, files: Sequence[tuple[Path, str | None]]) -> None:
        """Remember files with a pilot's name in them that were written, or with everybody's (None).

        A logbook that cannot be written to remembers nothing, and that is no fault.
        """
        with contextlib.suppress(LogbookError), self._store.writing() as connection:
            for path, pilot in files:
                full = str(path.absolute())
                who = person_id(connection, pilot) if pilot else None
                connection.execute(delete(written_file).where(written_file.c.path == full))
                values = {"path": full, "pilot_id": who, "written_utc": iso_utc(now())}
                connection.execute(insert(written_file).values(**values))

    # What is put right in it: each with its trail, by whom and why.

    def move(
        self, reference: str, *, pilot: str, by: str, why: str = "", carry_own: bool = False
    ) -> tuple[Session, str]:
        """Say that another pilot flew a session; return it as it is now, and what was done.

        The grades that the first pilot gave as the one who flew are withdrawn, or carried over.
        """
        name = clean_name(pilot)
        with self._on_session(reference, by, why) as (hand, number, one):
            said = corrections.move(hand, number, one, name, carry_own=carry_own)
            return reading.one_session(hand.connection, one.key)[1], said

    def set_about(
        self,
        reference: str,
        *,
        by: str,
        instructor: str | None = None,
        device: str | None = None,
        lesson: str | None = None,
        why: str = "",
    ) -> str:
        """Say anew who instructed a session, on what, and which lesson it was; return what was done."""
        told = {"instructor": instructor, "device": device, "lesson": lesson}
        names = {key: clean_name(value, what=key) if value else None for key, value in told.items()}
        if not any(names.values()):
            raise UsageError("nothing to set is given", mend="say --instructor, --device or --lesson")
        with self._on_session(reference, by, why) as (hand, number, one):
            return corrections.set_about(hand, number, one, **names)

    def date(self, reference: str, flown: datetime, *, by: str, why: str = "") -> Session:
        """Say when a session was flown, where its log does not or is wrong; return it as it is now.

        Raises
        ------
        UsageError
            No flight can have been flown then.
        """
        said = f"{flown:%Y-%m-%d}"
        if flown > now() + timedelta(days=1):
            raise UsageError(f"{said} is still to come", mend="give the day on which it was flown")
        if flown < FIRST_FLIGHT:
            raise UsageError(f"{flown.date()} is before the first powered flight", mend="write 2026-03-14")
        with self._on_session(reference, by, why) as (hand, number, one):
            corrections.date(hand, number, one, flown)
            return reading.one_session(hand.connection, one.key)[1]

    def rename(self, name: str, to: str, *, by: str, why: str = "", merge: bool = False) -> str:
        """Give a pilot or instructor another name in all places, or make one person of two."""
        with self._hand(by, why) as hand:
            return corrections.rename(hand, clean_name(name), clean_name(to), merge=merge)

    def withdraw(
        self,
        reference: str,
        item: str,
        *,
        by: str,
        why: str = "",
        hold: int = 1,
        given_as: GivenAs = "instructor",
        grader: str | None = None,
    ) -> str:
        """Take back the grade of an item that stands, or one grader's; ``"all"`` for every item."""
        with self._on_session(reference, by, why) as (hand, number, one):
            return corrections.withdraw(
                hand, number, one, hold=hold, item=item, given_as=given_as, grader=grader
            )

    def take_out(self, reference: str, *, by: str, why: str = "") -> str:
        """Take a session out of the logbook, to be put back by undoing it."""
        with self._on_session(reference, by, why) as (hand, number, one):
            return corrections.take_out(hand, number, one)

    def undo(self, number: int, *, by: str, why: str = "") -> str:
        """Put back what a change of the trail replaced."""
        with self._hand(by, why) as hand:
            return corrections.undo(hand, number)

    @contextmanager
    def _hand(self, by: str, why: str) -> Iterator[Hand]:
        who = clean_name(by, what="name of who changes it")
        with self._store.writing() as connection:
            yield Hand(connection, who, why.strip())

    @contextmanager
    def _on_session(self, reference: str, by: str, why: str) -> Iterator[tuple[Hand, int, Session]]:
        with self._hand(by, why) as hand:
            yield (hand, *reading.one_session(hand.connection, reference))

    # What is erased from it.

    def forget(self, pilot: str) -> Forgotten:
        """Erase a person: the sessions that the person flew, and the name everywhere else in the logbook.

        Raises
        ------
        UsageError
            Nobody of that name is in the logbook; who may have been meant is said.
        """
        name = clean_name(pilot)
        with self._store.writing() as connection:
            erased = forget_person(connection, name)
            drop_strangers(connection)
        copies = self._clear_traces()
        told = {str(Path(one).absolute()) for one in copies}
        files = tuple(one for one in erased.files if one not in told and Path(one).exists())
        return replace(erased, copies=copies, files=files)

    def erase_copies(self) -> tuple[str, ...]:
        """Erase the copies that were made before older logbooks were moved on; return what was erased.

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

    # How it is carried elsewhere.

    def count(self) -> int:
        """How many sessions there are, those that were taken out too."""
        with self._store.reading() as connection:
            return len(reading.session_ids(connection, reading.Wanted(removed=True)))

    def export(self, stream: IO[str], *, done: Callable[[], object] = int) -> int:
        """Write every session as a JSON line; return how many. ``done`` is called after each."""
        with self._store.reading() as connection:
            numbers = reading.session_ids(connection, reading.Wanted(removed=True))
        stream.write(exchange.first_line() + "\n")
        written = 0
        for number in numbers:
            # One by one, so that writers need not wait for a long export.
            with self._store.reading() as connection:
                found = reading.read_session(connection, number)
                trail = reading.read_trail(connection, [number])
            if found is not None:
                stream.write(exchange.session_line(found, trail) + "\n")
                written += 1
            done()
        general = [one for one in self.trail() if one.session is None]
        if general:
            stream.write(exchange.trail_line(general) + "\n")
        stream.write(exchange.last_line(written) + "\n")
        return written

    def export_file(self, path: Path, *, done: Callable[[], object] = int) -> int:
        """Write every session into a file, whole or not at all, readable by its owner only.

        Raises
        ------
        LogbookError
            The file cannot be written; an older one is then left as it was.
        UsageError
            A database is there.
        """
        with exchange.whole_file(path) as stream:
            count = self.export(stream, done=done)
        self.note_files([(path, None)])
        return count

    def import_file(
        self,
        path: Path,
        *,
        by: str = "import",
        choice: exchange.Choice | None = None,
        dry_run: bool = False,
        done: Callable[[], object] = int,
    ) -> Imported:
        """Take over an export from a file, as :meth:`import_` does.

        Raises
        ------
        LogbookError
            It cannot be read, or is no export.
        """
        try:
            with path.open(encoding="utf-8-sig") as stream:
                return self.import_(stream, name=str(path), by=by, choice=choice, dry_run=dry_run, done=done)
        except (OSError, UnicodeDecodeError) as fault:
            what = f"cannot be read: {getattr(fault, 'strerror', None) or 'it is not UTF-8 text'}"
            raise LogbookError(what, file=str(path), mend="check the path") from fault

    def import_(
        self,
        stream: Iterable[str],
        *,
        name: str = "import",
        by: str = "import",
        choice: exchange.Choice | None = None,
        dry_run: bool = False,
        done: Callable[[], object] = int,
    ) -> Imported:
        """Take over an export beside what is here, each session one transaction; what differs stops nothing.

        ``name`` is the file's, for messages; ``by`` who takes it over, for the trail where the
        other logbook's words are preferred. A dry run only says what would become of it: all of it in one transaction
        that is given up.

        Raises
        ------
        LogbookError
            It is no export, or one of a newer form, or the logbook cannot be written.
        """
        faults: list[LogbookError] = []
        lines = exchange.read_lines(iter(stream), name, faults)
        counted: dict[exchange.Taken, int] = {"new": 0, "extended": 0, "already there": 0, "left": 0}
        conflicts: list[exchange.Conflict] = []

        def each(writing: Callable[[], contextlib.AbstractContextManager[Connection]]) -> None:
            for number, told in lines:
                try:
                    with writing() as connection:
                        hand = Hand(connection, by, f"import of {name}")
                        taken, differing = exchange.take_over(hand, told, choice or exchange.Choice())
                except (
                    LookupError,
                    TypeError,
                    ValueError,
                    AttributeError,
                    OverflowError,
                    UsageError,
                ) as fault:
                    what = f"this session cannot be taken over: {type(fault).__name__} {fault}"
                    faults.append(LogbookError(what, file=name, place=f"line {number}"))
                    continue
                if taken is not None:
                    counted[taken] += 1
                conflicts.extend(differing)
                done()

        if dry_run:
            with contextlib.suppress(_NothingKeptError), self._store.writing() as connection:
                each(lambda: _part_of(connection))
                raise _NothingKeptError
        else:
            each(self._store.writing)
        numbers = (counted["new"], counted["extended"], counted["already there"], counted["left"])
        return Imported(*numbers, conflicts=tuple(conflicts), faults=tuple(faults))


@contextmanager
def _part_of(connection: Connection) -> Iterator[Connection]:
    """Run a part of a transaction that is given up by itself where it fails."""
    with connection.begin_nested():
        yield connection
