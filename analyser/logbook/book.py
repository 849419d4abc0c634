"""The logbook: weeks of debriefs, of one pilot or of a whole school.

One code path for an SQLite file and a PostgreSQL database. Everything that is written is one transaction,
acknowledged only when it is on the disk.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import IO, Any, Self

from sqlalchemy import Connection, delete, insert

from analyser import __version__
from analyser.errors import LogbookError
from analyser.logbook import engine, exchange, migrate, reading
from analyser.logbook.corrections import Corrections, Forgotten, forget_person
from analyser.logbook.documents import check_document, iso_utc, now, starts
from analyser.logbook.engine import Place, find_place
from analyser.logbook.names import clean_name, clean_or_none, storable
from analyser.logbook.record import (
    RecordOutcome,
    SessionRows,
    add_grades,
    fingerprint,
    person_id,
    rules_version,
    write_entry,
)
from analyser.logbook.sessions import Given, Kept, Session, Trace, TrailEntry
from analyser.logbook.tables import metadata, written_file
from analyser.rules.scales import Scale
from analyser.whole_files import as_report_error, being_written

WAIT_S = 30.0


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
        user's own. Another writer is waited for ``wait_s`` seconds. Raises LogbookError if it cannot be opened,
        belongs to a newer version, or is something else; it is then untouched. Raises UsageError: an address of an
        unknown kind.
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

        Raises UsageError if one of ``pilots``, or the instructor, has no session at all; who may have been meant is
        said.
        """
        with self._store.reading() as connection:
            names = None if pilots is None else reading.known_people(connection, pilots)
            if instructor:
                (instructor,) = reading.known_people(connection, [instructor], what="instructor")
            numbers = reading.session_ids(
                connection, pilots=names, instructor=instructor, since=since, until=until
            )
            return reading.read_sessions(connection, numbers)

    def session(self, reference: str) -> Session:
        """Return one session: by how its log's hash begins, or ``"last"`` for the one recorded last.

        Raises UsageError: none, or more than one, is called so.
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
        """Return a person's name as the logbook writes it, and how many sessions that one flew, taken out or not.

        Raises UsageError if nobody is called so; who may have been meant is said.
        """
        with self._store.reading() as connection:
            written = str(reading.known_person(connection, clean_name(name)).name)
            return written, len(reading.session_ids(connection, pilots=[written], removed=True))

    def known_pilots(self, names: Sequence[str]) -> list[str]:
        """Return the names of pilots as the logbook writes them, whatever their case.

        Raises UsageError if one of them has no session; who may have been meant is said.
        """
        with self._store.reading() as connection:
            return reading.known_people(connection, names)

    def trail(self, reference: str | None = None, *, pilot: str | None = None) -> list[TrailEntry]:
        """Return what was changed by hand, oldest first: of all, of one session, or of a pilot's sessions."""
        with self._store.reading() as connection:
            numbers = None
            if reference is not None:
                numbers = [reading.one_session(connection, reference, removed=True)[0]]
            elif pilot is not None:
                numbers = reading.session_ids(connection, pilots=[clean_name(pilot)], removed=True)
            return reading.read_trail(connection, numbers)

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
        the versions that made the document; left out: those that run now. Raises LogbookError if it was not kept: the
        logbook is as it was. Raises UsageError: a name that cannot be one.
        """
        check_document(document)
        log, logged = document["log"], starts(document)
        made = Kept(
            program_version=program or __version__,
            rules_version=rules or rules_version(),
            recorded=now(),
            document=document,
            trace=trace,
            document_sha256=fingerprint(document),
        )
        new = Session(
            log_sha256=log["sha256"],
            flight=flight,
            log_name=storable(log.get("name")),
            others=(),
            flown=flown or logged,
            flown_from="given" if flown else "log" if logged else "unknown",
            pilot=clean_name(pilot),
            instructor=clean_or_none(instructor, what="instructor"),
            device=clean_or_none(device, what="device"),
            lesson=clean_or_none(lesson, what="lesson"),
            recorded=made.recorded,
            debrief=made,
            earlier=(),
            grades=(),
        )
        with self._store.writing() as connection:
            return write_entry(connection, new)

    def grade(
        self,
        reference: str,
        given: Sequence[Given],
        *,
        scale: Scale,
        graded: datetime | None = None,
        device: str | None = None,
        lesson: str | None = None,
        flown: datetime | None = None,
    ) -> int:
        """Keep grades of a session; return how many were new.

        Their ``scale`` says what the points propose. When they were ``graded`` is information: their order is that in
        which they arrive here. Device, lesson and the day on which it was ``flown`` are taken over where the session
        has none yet. Raises LogbookError or UsageError: nothing was kept then.
        """
        with self._store.writing() as connection:
            number, found = reading.one_session(connection, reference)
            about = {"device": None if found.device else device, "lesson": None if found.lesson else lesson}
            new: dict[str, Any] = {key: clean_or_none(name, what=key) for key, name in about.items()}
            rows = SessionRows(connection, number)
            rows.fill_gaps(found, flown=flown, **new)
            return add_grades(rows, found, given, scale=scale, graded=graded or now())

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

    def corrected(self, *, by: str, why: str = "") -> Corrections:
        """Let somebody put right what is wrong in it; by whom and why stands in the trail."""
        return Corrections(self._store.writing, by, why)

    # What is erased from it.

    def forget(self, pilot: str) -> Forgotten:
        """Erase a person: the sessions that the person flew, and the name everywhere else in the logbook.

        Raises UsageError if nobody of that name is in the logbook; who may have been meant is said.
        """
        name = clean_name(pilot)
        with self._store.writing() as connection:
            erased = forget_person(connection, name)
        self._store.overwrite_erased([table.name for table in metadata.sorted_tables])
        copies = migrate.copies_of(self._store)
        told = {str(Path(one).absolute()) for one in copies}
        files = tuple(one for one in erased.files if one not in told and Path(one).exists())
        return replace(erased, copies=copies, files=files)

    def erase_copies(self) -> tuple[str, ...]:
        """Erase the copies that were made before older logbooks were moved on; return what was erased.

        Raises LogbookError if a copy could not be erased.
        """
        return migrate.erase_copies(self._store)

    # How it is carried elsewhere.

    def count(self) -> int:
        """How many sessions there are, those that were taken out too."""
        with self._store.reading() as connection:
            return len(reading.session_ids(connection, removed=True))

    def export(self, to: Path | IO[str], *, done: Callable[[], object] = int) -> int:
        """Write every session as a JSON line, into a stream or a file; return how many. ``done`` is called after each.

        A file is written whole or not at all, and its owner only may read it. Raises ReportError if the file cannot
        be written; an older one is then left as it was. Raises UsageError if a database is there.
        """
        if isinstance(to, Path):
            with (
                being_written(to, private=True) as part,
                as_report_error(to),
                part.open("w", encoding="utf-8") as stream,
            ):
                count = self.export(stream, done=done)
            self.note_files([(to, None)])
            return count
        return exchange.write_out(to, self._store.reading, done)

    def import_(
        self,
        source: Path | Iterable[str],
        *,
        name: str = "import",
        by: str = "import",
        prefer: exchange.Prefer | None = None,
        only_new: bool = False,
        dry_run: bool = False,
        done: Callable[[], object] = int,
    ) -> exchange.Imported:
        """Take over an export beside what is here, each session one transaction; what differs stops nothing.

        ``source`` is a file or its lines, which messages call by ``name``; ``by`` who takes it over, for the trail
        where the other logbook's words are preferred; ``prefer`` and ``only_new`` are as for
        :func:`exchange.take_over`. A dry run only says what would become of it: all of it in one transaction that is
        given up. Raises LogbookError if it cannot be read, is no export, or one of a newer form, or the logbook
        cannot be written.
        """
        if isinstance(source, Path):
            told: dict[str, Any] = {"by": by, "prefer": prefer, "only_new": only_new, "dry_run": dry_run}
            try:
                with source.open(encoding="utf-8-sig") as stream:
                    return self.import_(stream, name=str(source), done=done, **told)
            except (OSError, UnicodeDecodeError) as fault:
                what = f"cannot be read: {getattr(fault, 'strerror', None) or 'it is not UTF-8 text'}"
                raise LogbookError(what, file=str(source), mend="check the path") from fault
        choices: dict[str, Any] = {"by": by, "prefer": prefer, "only_new": only_new}
        if not dry_run:
            return exchange.take_in(source, name, self._store.writing, done, **choices)
        with contextlib.suppress(_NothingKeptError), self._store.writing() as connection:
            taken = exchange.take_in(source, name, lambda: _part_of(connection), done, **choices)
            raise _NothingKeptError
        return taken


@contextmanager
def _part_of(connection: Connection) -> Iterator[Connection]:
    """Run a part of a transaction that is given up by itself where it fails."""
    with connection.begin_nested():
        yield connection
