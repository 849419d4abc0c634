"""A logbook's content carried from one place to another: JSON lines, lossless."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from analyser.errors import LogbookError, UsageError
from analyser.logbook import exchange, reading
from analyser.logbook.opened import OpenLogbook


@dataclass(frozen=True)
class Imported:
    """What an import came to, in numbers of sessions."""

    new: int = 0
    extended: int = 0
    already_there: int = 0


class CarriedLogbook(OpenLogbook):
    """Writes itself out, and takes over what another wrote out."""

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
