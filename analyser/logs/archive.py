"""Logs inside gzip, bzip2, xz, zip and tar, unpacked in memory under limits; no name from one touches the disk."""

from __future__ import annotations

import bz2
import io
import lzma
import tarfile
import zipfile
import zlib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from functools import partial
from pathlib import PurePosixPath
from typing import Any

from analyser.errors import LogError
from analyser.logs.limits import MAX_ARCHIVE_BYTES, MAX_MEMBERS, MAX_UNPACKING_BYTES, MAX_WRAPPERS, check_size
from analyser.logs.raw import Content
from analyser.logs.text import shown
from analyser.logs.track import Notice

_CHUNK = 1 << 20
_ZIP = (b"PK\x03\x04", b"PK\x05\x06")
#: Endings of what lies beside a log in an archive and is none.
_NO_LOGS = frozenset(
    (".png", ".jpg", ".jpeg", ".gif", ".svg", ".ico", ".dae", ".pdf", ".html", ".md", ".xsl", ".css", ".js")
)
#: Endings of archives, for finding logs in a folder.
SUFFIXES = (".gz", ".bz2", ".xz", ".zip", ".tar", ".tgz", ".tbz2", ".txz")
#: What reading a damaged archive raises, whatever its kind.
_DAMAGE = (
    *(EOFError, OSError, ValueError, UnicodeError, NotImplementedError),
    *(zipfile.BadZipFile, tarfile.TarError, zlib.error, lzma.LZMAError),
)


#: A packer of one stream: its name, the bytes it begins with, and what unpacks one of its streams.
_STREAMS: tuple[tuple[str, bytes, Callable[[], Any]], ...] = (
    ("gzip", b"\x1f\x8b", lambda: zlib.decompressobj(wbits=31)),
    ("bzip2", b"BZh", bz2.BZ2Decompressor),
    ("xz", b"\xfd7zXZ\x00", lambda: lzma.LZMADecompressor(lzma.FORMAT_XZ, memlimit=MAX_UNPACKING_BYTES)),
)


class _Budget:
    """How much may still be unpacked from one archive; the bytes are counted as they come."""

    def __init__(self, content: Content) -> None:
        self._content, self._left = content, MAX_ARCHIVE_BYTES
        self.exceeded: LogError | None = None

    def gather(self, pieces: Iterable[bytes], into: list[bytes], name: str) -> None:
        """Take the pieces of one file, as long as it is not too large."""
        size = 0
        for piece in pieces:
            size += len(piece)
            self._left -= len(piece)
            check_size(size, name, "the unpacked log")
            if self._left < 0:
                what = f"the archive unpacks to more than {MAX_ARCHIVE_BYTES // 1_000_000} MB"
                self.exceeded = self._content.refusal(what, mend="take the log out of it first")
                raise self.exceeded
            into.append(piece)


def unwrapped(content: Content) -> tuple[list[Content], list[LogError]]:
    """Take a log out of what it is packed in: one Content, or one for each possible log of an archive.

    What is damaged, locked, empty, too large or packed too often does not stop the rest: why it could not be taken out
    is returned beside what could be. LogError where nothing could be, and where all of it is more than may be unpacked.
    """
    waiting, plain = [(content, 0)], []
    failed: list[LogError] = []
    budget = _Budget(content)
    while waiting:
        packed, depth = waiting.pop(0)
        kind, members = _listed(packed)
        if members is None:
            plain.append(packed)
            continue
        try:
            if depth >= MAX_WRAPPERS:
                what = f"archives are packed inside one another more than {MAX_WRAPPERS} times"
                raise packed.refusal(what, mend="unpack it first")
            inside = _taken_out(packed, budget, failed, kind, members)
            waiting.extend((member, depth + 1) for member in inside)
        except LogError as error:
            failed.append(error)
    if budget.exceeded or not plain:
        raise budget.exceeded or failed[0]
    return plain, failed


#: A packed file: its name, empty for the only one, its size by the archive's word, whether it is locked, its pieces.
_Member = tuple[str, int, bool, Iterator[bytes]]


def _listed(content: Content) -> tuple[str, Iterator[_Member] | None]:
    """Return how a file is packed, and what lists what is in it; None for what is not packed."""
    for kind, start, begin in _STREAMS:
        if content.data.startswith(start):
            return kind, iter([("", 0, False, _unpacked(content.data, start, begin))])
    if content.data.startswith(_ZIP):
        return "zip", None if _is_workbook(content.data) else _zip_members(content)
    return "tar", _tar_members(content) if _is_tar(content.data) else None


def _unpacked(data: bytes, start: bytes, begin: Callable[[], Any]) -> Iterator[bytes]:
    """Unpack streams one after another; EOFError, or the engine's own, where one is cut off or damaged."""
    place = 0
    while data.startswith(start, place):
        engine = begin()
        while not engine.eof:
            # What zlib took and did not unpack yet it hands back; the others keep it.
            left = getattr(engine, "unconsumed_tail", b"")
            wants_more = getattr(engine, "needs_input", not left)
            chunk = data[place : place + _CHUNK] if wants_more else b""
            if wants_more and not chunk:
                raise EOFError
            place += len(chunk)
            yield engine.decompress(left + chunk, _CHUNK)
        place -= len(engine.unused_data)


def _pieces(opened: Callable[[], Any]) -> Iterator[bytes]:
    with opened() as stream:
        yield from iter(partial(stream.read, _CHUNK), b"")


def _is_workbook(data: bytes) -> bool:
    """Tell a spreadsheet of Office Open XML, which is a zip archive, from other archives."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            return "xl/workbook.xml" in archive.namelist()
    except _DAMAGE:
        return b"xl/worksheets/" in data[:4_000]


def _is_tar(data: bytes) -> bool:
    """Tell a tar archive by a word in its first header, one of the oldest kind by the header's checksum."""
    try:
        old = tarfile.TarInfo.frombuf(data[: tarfile.BLOCKSIZE], "utf-8", "replace").chksum > 0
    except tarfile.TarError:
        old = False
    return old or data.startswith(b"ustar", 257)


def _zip_members(content: Content) -> Iterator[_Member]:
    with zipfile.ZipFile(io.BytesIO(content.data)) as archive:
        # Documents of office suites are zip archives, too.
        if {"content.xml", "mimetype"} <= set(archive.namelist()):
            what = "this is a spreadsheet's workbook in a form that is not read"
            raise content.refusal(what, "mimetype", "save its sheet as CSV, or the workbook as .xlsx")
        for info in archive.infolist():
            locked = bool(info.flag_bits & 0x1)
            yield info.filename, info.file_size, locked, _pieces(partial(archive.open, info))


def _tar_members(content: Content) -> Iterator[_Member]:
    with tarfile.open(fileobj=io.BytesIO(content.data), mode="r:") as archive:
        for info in archive:
            # Links and devices have no content of their own.
            if info.isreg():
                yield info.name, info.size, False, _pieces(partial(archive.extractfile, info))


def _taken_out(
    content: Content, budget: _Budget, failed: list[LogError], kind: str, members: Iterator[_Member]
) -> list[Content]:
    """Take out the files that may be logs; why one could not be taken out is added to ``failed``.

    A stream that is damaged keeps its beginning, an archive what could be taken out before.
    """
    found: list[Content] = []
    before, notices = len(failed), content.notices
    what = f"{kind} file" if kind in (stream[0] for stream in _STREAMS) else f"{kind} archive"
    parts: list[bytes] = []
    try:
        for name, size, locked, pieces in members:
            if name and not _may_be_log(name):
                continue
            if len(found) + len(failed) - before >= MAX_MEMBERS:
                raise content.refusal(f"the archive holds more than {MAX_MEMBERS} files", mend="unpack it")
            member, parts = content, []
            if name:
                member = replace(content, name=f"{content.name}: {shown(PurePosixPath(name).name)}")
            try:
                if locked:
                    raise member.refusal(
                        "this part of the archive is locked with a password", mend="unpack it first"
                    )
                # The size that the archive declares is only a promise; the bytes are counted as they come.
                check_size(size, member.name, "the unpacked log")
                budget.gather(pieces, parts, member.name)
                found.append(replace(member, data=b"".join(parts)))
            except LogError as error:
                failed.append(error)
            except _DAMAGE as error:
                # Only in a zip archive what follows can be found.
                if kind != "zip":
                    raise
                failed.append(_damaged(what, error, member))
    except _DAMAGE as error:
        if what.endswith("file") and any(parts):
            found.append(replace(content, data=b"".join(parts)))
        if not found:
            raise _damaged(what, error, content) from error
        could = "unpacked" if what.endswith("file") else "taken out"
        message = f"The {what} is cut off or damaged; what could be {could} was read."
        notices += (Notice("archive-damaged", message),)
    if not found and len(failed) == before:
        raise content.refusal("the archive holds no log", mend="pack the log file itself")
    return [replace(member, notices=notices) for member in found]


def _damaged(what: str, error: Exception, content: Content) -> LogError:
    reason = f": {shown(str(error))}" if what.endswith("archive") else ""
    return content.refusal(f"the {what} is damaged{reason}", mend="copy it again")


def _may_be_log(name: str) -> bool:
    path = PurePosixPath(name)
    hidden = any(part.startswith(".") and part != ".." for part in path.parts) or "__MACOSX" in path.parts
    return not (name.endswith("/") or hidden or path.suffix.lower() in _NO_LOGS)
