"""A logbook that is open: found, brought to this program's form, and let go of again."""

from __future__ import annotations

from pathlib import Path
from types import TracebackType
from typing import Self

from sqlalchemy import Connection, select

from analyser.errors import LogbookError, UsageError
from analyser.logbook import engine, migrate, reading
from analyser.logbook.place import Place, find_place
from analyser.logbook.sessions import Session
from analyser.logbook.tables import session

WAIT_S = 30.0


class OpenLogbook:
    """What every use of a logbook needs; use it in a ``with`` block, or close it.

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

    def _one(self, connection: Connection, reference: str) -> tuple[int, Session]:
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


def _find_file(path: Path, create: bool) -> None:
    if path.is_dir():
        raise UsageError("this is a folder", file=str(path), mend="give the name of a file in it")
    if not path.exists():
        if not create:
            mend = "debrief a log with --pilot NAME to begin one, or say where it is with --logbook"
            raise LogbookError("there is no logbook here", file=str(path), mend=mend)
        engine.lay_file(path)
    engine.check_file(path)
