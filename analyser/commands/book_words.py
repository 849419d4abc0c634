"""Words that all commands of the logbook share, and how they open it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from analyser.errors import UsageError

if TYPE_CHECKING:
    from analyser.logbook.book import Logbook

#: The address may hold a password, which belongs into the environment and not into the list of processes.
Place = Annotated[
    str | None,
    typer.Option(
        "--logbook",
        envvar="ANALYSER_LOGBOOK",
        help="Logbook: a file, or postgresql://user@host/database. By default in the user's data folder.",
        show_default=False,
    ),
]
Since = Annotated[str | None, typer.Option(help="First day, 2026-03-14 (UTC).", show_default=False)]
Until = Annotated[str | None, typer.Option(help="Last day, 2026-03-14 (UTC).", show_default=False)]
Out = Annotated[Path, typer.Option(help="Folder for the pages.")]
PilotFolders = Annotated[
    bool,
    typer.Option("--pilot-folders", help="Each pilot has a folder of logs: its name is the pilot's."),
]
Scales = Annotated[
    list[str] | None,
    typer.Option(
        help="Grade scale that the page offers: a name, or a TOML file of your own; may be repeated.",
        show_default=False,
    ),
]
ScaleName = Annotated[str, typer.Option("--scale", help="Grade scale: a name, or a TOML file of your own.")]
Quiet = Annotated[bool, typer.Option("--quiet", help="Print errors only.")]
By = Annotated[
    str | None,
    typer.Option(help="Who makes this change, by default the user of this computer.", show_default=False),
]
Why = Annotated[str, typer.Option(help="Why, for the trail.", show_default=False)]


@contextmanager
def open_book(logbook: str | None, *, create: bool = False) -> Iterator[Logbook]:
    """Open the logbook for a command, and say where a copy was made of one of an older form."""
    from analyser.logbook.book import Logbook

    with Logbook.open(logbook, create=create) as book:
        if book.copy_note:
            typer.echo(f"analyser: {book.copy_note}", err=True)
        yield book


def who(by: str | None) -> str:
    """Return who is at the keyboard: as said, or the computer's word for its user."""
    import getpass

    try:
        return by or getpass.getuser()
    except (OSError, KeyError, ImportError):
        return "somebody"


def first_instant(day: str | None, option: str) -> datetime | None:
    """Read a day; return its first instant in UTC. ``option`` is what it was given to, for the message.

    Raises
    ------
    UsageError
        It is no day.
    """
    if day is None:
        return None
    try:
        return datetime.strptime(day.strip(), "%Y-%m-%d").replace(tzinfo=UTC)
    except ValueError:
        raise UsageError(f"'{day}' is no day", place=option, mend="write 2026-03-14") from None


def instant(text: str, option: str) -> datetime:
    """Read a day, or a day and a time of day, UTC where no zone is said.

    Raises
    ------
    UsageError
        It is no instant.
    """
    try:
        read = datetime.fromisoformat(text.strip())
    except ValueError:
        mend = "write 2026-03-14 or 2026-03-14T18:30"
        raise UsageError(f"'{text}' is no day", place=option, mend=mend) from None
    return read if read.tzinfo else read.replace(tzinfo=UTC)


def last_instant(day: str | None, option: str) -> datetime | None:
    """Read a day; return its last second.

    Raises
    ------
    UsageError
        It is no day.
    """
    first = first_instant(day, option)
    return None if first is None else first + timedelta(days=1, seconds=-1)
