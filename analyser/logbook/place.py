"""Where a logbook lives: a file of one's own by default, a PostgreSQL database for a school."""

from __future__ import annotations

from pathlib import Path
from urllib.parse import urlsplit, urlunsplit

from analyser.errors import UsageError
from analyser.frozen import dataclass
from analyser.user_data import user_folder

FILE_NAME = "logbook.sqlite"


@dataclass(frozen=True)
class Place:
    """A logbook's address: the path of an SQLite file, or the URL of a PostgreSQL database, with its password."""

    path: Path | None = None
    url: str | None = None

    @property
    def shown(self) -> str:
        """The address for messages, without a password."""
        if self.path is not None:
            return str(self.path)
        parts = urlsplit((self.url or "").replace("postgresql+psycopg:", "postgresql:", 1))
        user, at, host = parts.netloc.rpartition("@")
        # The query goes too: a password may stand there.
        return urlunsplit(parts._replace(netloc=user.split(":")[0] + at + host, query=""))


def find_place(url_or_path: str | Path | None = None) -> Place:
    """Tell a path from a database's address, ``postgresql://…``; None is a file in the user's own data folder.

    Raises UsageError: an address of another kind of database, or a folder.
    """
    if url_or_path is None or str(url_or_path) == "":
        return Place(path=user_folder() / FILE_NAME)
    text = str(url_or_path)
    scheme, colon, rest = text.partition("://")
    if not colon:
        return Place(path=Path(text).expanduser())
    if scheme.lower() in ("postgresql", "postgres", "postgresql+psycopg"):
        return Place(url=f"postgresql+psycopg://{rest}")
    if scheme.lower() == "sqlite":
        return Place(path=Path(rest.removeprefix("/") or FILE_NAME).expanduser())
    raise UsageError(
        f"a logbook cannot be kept at an address that begins with '{scheme}://'",
        place="--logbook",
        mend="give the path of a file, or postgresql://user@host/database",
    )
