"""Files that are written whole or not at all: the old one stands until the new one is complete on the disk.

And text that is safe in a table's cell, whatever program opens the file.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from pathlib import Path

from analyser.errors import ReportError, UsageError

#: How every SQLite file begins.
DATABASE_HEADER = b"SQLite format 3\x00"
#: Text that begins with one of these is run as a formula by some spreadsheets (common advice on formula injection);
#: tab and line ends are stripped by some of them, and then the next sign is first.
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")


def cell_text(text: str) -> str:
    """Return text that no spreadsheet runs: before a formula an apostrophe, which means "this is text"."""
    told = text.encode("utf-8", "replace").decode("utf-8").replace("\x00", "\N{REPLACEMENT CHARACTER}")
    return f"'{told}" if told.lstrip(" ").startswith(_FORMULA) else told


def head_of(file: Path, characters: int = 200) -> str:
    """Return how a text file begins, to tell what it is; empty where it cannot be read."""
    try:
        with file.open(encoding="utf-8-sig", errors="replace") as text:
            return text.read(characters)
    except OSError:
        return ""


def named_for_each(path: Path, count: int) -> list[Path]:
    """Name a file for each of so many things: that path for one alone, else with each one's number in it."""
    return [path] if count == 1 else [path.with_stem(f"{path.stem}-{n + 1}") for n in range(count)]


def refuse_database(path: Path) -> None:
    """See that no database would be written over: this logbook's, another's, or any other program's.

    Raises UsageError if one is there.
    """
    try:
        # A pipe is not looked into: that would wait for whoever writes to it.
        if not path.is_file():
            return
        with path.open("rb") as stream:
            is_one = stream.read(len(DATABASE_HEADER)) == DATABASE_HEADER
    except (OSError, ValueError):
        return
    if is_one:
        what = "a database is here, perhaps a logbook, and is not written over"
        raise UsageError(what, file=str(path), mend="give another file for what is to be written")


def write_text_whole(path: Path, text: str) -> os.stat_result:
    """Write a text file whole or not at all, as UTF-8 with the line ends it has; see :func:`write_bytes_whole`.

    What stands for a byte of a file name that is no text is replaced by a question mark.
    """
    return write_bytes_whole(path, text.encode("utf-8", "replace"))


def write_bytes_whole(path: Path, content: bytes) -> os.stat_result:
    """Write a file whole or not at all, as :func:`being_written` does.

    Returns what the file system knows of the file as it was written here, whoever replaces it the next moment.
    """
    with being_written(path) as temporary:
        with as_report_error(path):
            temporary.write_bytes(content)
        return temporary.stat()


@contextlib.contextmanager
def being_written(path: Path, *, private: bool = False) -> Iterator[Path]:
    """Give a temporary file beside a file, whose place it takes where the ``with`` statement ends without an error.

    Its folder is made where it is missing. It is forced to the disk and then takes the place of the old file in one
    step of the file system, so that neither a full disk nor a killed process leaves half a page. One that is
    ``private`` can be read by its owner only. A link stays and what it leads to is replaced; a device or a pipe
    cannot be replaced, and is given out to be written to itself. Raises ReportError if the folder or the file
    cannot be written, and leaves an older file as it was; UsageError if a database is there, perhaps a logbook.
    """
    refuse_database(path)
    with as_report_error(path):
        as_it_is = path.exists() and not (path.is_file() or path.is_dir())
        path = path.resolve() if path.is_symlink() and not as_it_is else path
    if as_it_is:
        yield path
        return
    make_folder(path.parent)
    # Named before it is made: Ctrl-C in the very moment of making it must not leave it there.
    temporary = path.parent / f".{path.name[:40]}.{os.urandom(6).hex()}.part"
    try:
        with as_report_error(path):
            temporary.touch(mode=0o600, exist_ok=False)
        yield temporary
        # Asked again: where writing takes long a new logbook may have been begun there meanwhile.
        refuse_database(path)
        with as_report_error(path):
            with temporary.open("rb+") as stream:
                os.fsync(stream.fileno())
            # A temporary file is private by design; a page is for sharing, so it gets the permissions that
            # an ordinarily created file would have, or keeps those of the page it replaces.
            if not private:
                temporary.chmod(_permissions(path))
            temporary.replace(path)
            _sync_folder(path.parent)
    finally:
        with contextlib.suppress(OSError):
            temporary.unlink()


@contextlib.contextmanager
def as_report_error(path: Path) -> Iterator[None]:
    """Raise what goes wrong while a file is written as a ReportError that names it."""
    try:
        yield
    except OSError as error:
        raise ReportError(
            f"the file could not be written: {error.strerror or error}",
            file=str(path),
            mend="check the folder's permissions and the free space, or choose another folder",
        ) from error


def make_folder(folder: Path) -> None:
    """Make a folder that files shall be written to, with those above it.

    Raises ReportError if it cannot be made or written to.
    """
    why = ""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except (FileExistsError, NotADirectoryError):
        why = "a file is in its place"
    except OSError as error:
        why = error.strerror or str(error)
    if why or not os.access(folder, os.W_OK):
        mend = "check its permissions and the free space, or choose another folder"
        raise ReportError(
            f"the folder cannot be written to: {why or 'no permission'}", file=str(folder), mend=mend
        )


def _permissions(path: Path) -> int:
    try:
        return path.stat().st_mode & 0o777
    except FileNotFoundError:
        mask = os.umask(0)
        os.umask(mask)
        return 0o666 & ~mask


def _sync_folder(folder: Path) -> None:
    # The renaming itself lives in the folder's entry; systems that cannot open a folder have no need of it.
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
