"""Words that all commands of the logbook share."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Annotated

import typer

from analyser.errors import UsageError

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
Quiet = Annotated[bool, typer.Option("--quiet", help="Print errors only.")]


def first_instant(day: str | None, option: str) -> datetime | None:
    """Read a day; return its first instant.

    Parameters
    ----------
    day : str or None
    option : str
        It was given to, for the message.

    Returns
    -------
    datetime or None
        UTC.

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
    """Read a day, or a day and a time of day.

    Parameters
    ----------
    text : str
    option : str

    Returns
    -------
    datetime
        UTC where no zone is said.

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

    Parameters
    ----------
    day : str or None
    option : str

    Returns
    -------
    datetime or None

    Raises
    ------
    UsageError
        It is no day.
    """
    first = first_instant(day, option)
    return None if first is None else first + timedelta(days=1, seconds=-1)
