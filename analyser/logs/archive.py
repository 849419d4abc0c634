"""Logs inside gzip, bzip2, xz, zip and tar, unpacked in memory under limits; no name from one touches the disk."""

from __future__ import annotations

import bz2
import io
import lzma
import tarfile
import zipfile
import zlib
from collections.abc import Callable
from dataclasses import replace
from pathlib import PurePosixPath
from typing import IO, Any

from analyser.errors import LogError
from analyser.logs.limits import MAX_ARCHIVE_BYTES, MAX_MEMBERS, MAX_UNPACKING_BYTES, MAX_WRAPPERS, check_size
from analyser.logs.raw import Content
from analyser.logs.text import shown
from analyser.logs.track import Notice

_CHUNK = 1 << 20
_ZIP = (b"PK\x03\x04", b"PK\x05\x06")
#: A tar archive is known by a word inside its first header.
_TAR, _TAR_AT = b"ustar", 257
#: Endings of what lies beside a log in an archive and is none.
_NO_LOGS = frozenset(
    (".png", ".jpg", ".jpeg", ".gif", ".svg", ".ico", ".dae", ".pdf", ".html", ".md", ".xsl", ".css", ".js")
)
#: Endings of archives, for finding logs in a folder.
SUFFIXES = (".gz", ".bz2", ".xz", ".zip", ".tar", ".tgz", ".tbz2", ".txz")
#: What reading a damaged archive raises, whatever its kind.
_DAMAGE = (EOFError, OSError, ValueError, UnicodeError)
_ZIP_DAMAGE = (*_DAMAGE, zipfile.BadZipFile, zlib.error, lzma.LZMAError, NotImplementedError)


class _Gunzip:
    """zlib's decompressor in the way of the other two."""

    def __init__(self) -> None:
        self._engine = zlib.decompressobj(wbits=31)

    @property
    def eof(self) -> bool:
        return self._engine.eof

    @property
    def unused_data(self) -> bytes:
        return self._engine.unused_data

    @property
    def needs_input(self) -> bool:
        return not self._engine.unconsumed_tail

    def decompress(self, data: bytes, most: int) -> bytes:
        return self._engine.decompress(self._engine.unconsumed_tail + data, most)


#: A packer of one stream: the bytes it begins with, its name, and what unpacks one of its streams.
_STREAMS: tuple[tuple[bytes, str, Callable[[], Any]], ...] = (
    (b"\x1f\x8b", "gzip", _Gunzip),
    (b"BZh", "bzip2", bz2.BZ2Decompressor),
    (b"\xfd7zXZ\x00", "xz", lambda: lzma.LZMADecompressor(lzma.FORMAT_XZ, memlimit=MAX_UNPACKING_BYTES)),
)


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
        unpack = _unpacker(packed.data)
        if unpack is None:
            plain.append(packed)
            continue
        try:
            if depth >= MAX_WRAPPERS:
                what = f"archives are packed inside one another more than {MAX_WRAPPERS} times"
                raise packed.refusal(what, mend="unpack it first")
            waiting.extend((member, depth + 1) for member in unpack(packed, budget, failed))
        except LogError as error:
            failed.append(error)
    if budget.exceeded or not plain:
        raise budget.exceeded or failed[0]
    return plain, failed


class _Budget:
    """How much may still be unpacked from one archive; the bytes are counted as they come."""

    def __init__(self, content: Content) -> None:
        self._content, self._left = content, MAX_ARCHIVE_BYTES
        self.exceeded: LogError | None = None

    def take(self, size: int) -> None:
        """Count some bytes."""
        self._left -= size
        if self._left < 0:
            what = f"the archive unpacks to more than {MAX_ARCHIVE_BYTES // 1_000_000} MB"
            self.exceeded = self._content.refusal(what, mend="take the log out of it first")
            raise self.exceeded


#: Takes what is packed, how much may be unpacked, and where to say what could not be taken out.
_Unpack = Callable[[Content, _Budget, list[LogError]], list[Content]]


def _unpacker(data: bytes) -> _Unpack | None:
    for start, name, engine in _STREAMS:
        if data.startswith(start):
            return lambda content, budget, _: [_unpacked(content, budget, start, name, engine)]
    if data.startswith(_ZIP):
        return None if _is_workbook(data) else _zip_members
    return _tar_members if data[_TAR_AT : _TAR_AT + len(_TAR)] == _TAR else None


def _is_workbook(data: bytes) -> bool:
    """Tell a spreadsheet of Office Open XML, which is a zip archive, from other archives."""
    if not data.startswith(_ZIP):
        return False
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            names = archive.namelist()
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError, UnicodeError):
        return b"xl/worksheets/" in data[:4_000]
    return "xl/workbook.xml" in names


def _unpacked(
    content: Content, budget: _Budget, start: bytes, name: str, begin: Callable[[], Any]
) -> Content:
    """Unpack streams one after another; what is damaged keeps its beginning."""
    parts: list[bytes] = []
    size, place, cut_off = 0, 0, False
    while content.data[place : place + len(start)] == start:
        engine = begin()
        try:
            while not engine.eof:
                chunk = b""
                if engine.needs_input:
                    chunk = content.data[place : place + _CHUNK]
                    place += len(chunk)
                    if not chunk:
                        break
                parts.append(engine.decompress(chunk, _CHUNK))
                size += len(parts[-1])
                check_size(size, content.name, "the unpacked log")
                budget.take(len(parts[-1]))
        except (zlib.error, OSError, lzma.LZMAError, EOFError, ValueError) as error:
            if not size:
                raise content.refusal(f"the {name} file is damaged", mend="copy it again") from error
            cut_off = True
            break
        if not engine.eof:
            cut_off = True
            break
        place -= len(engine.unused_data)
    notices = content.notices
    if cut_off:
        message = f"The {name} file is cut off or damaged; what could be unpacked was read."
        notices += (Notice("archive-damaged", message),)
    return replace(content, data=b"".join(parts), notices=notices)


def _zip_members(content: Content, budget: _Budget, failed: list[LogError]) -> list[Content]:
    found: list[Content] = []
    before = len(failed)
    try:
        with zipfile.ZipFile(io.BytesIO(content.data)) as archive:
            _refuse_document(archive.namelist(), content)
            listed = [info for info in archive.infolist() if _may_be_log(info.filename)]
            _check_count(len(listed), content)
            for info in listed:
                member = replace(content, name=_name(info.filename, content))
                try:
                    found.append(replace(member, data=_zip_member(archive, info, member, budget)))
                except LogError as error:
                    failed.append(error)
                except _ZIP_DAMAGE as error:
                    failed.append(_damaged("zip", error, member))
    except _ZIP_DAMAGE as error:
        raise _damaged("zip", error, content) from error
    return found if len(failed) > before else _or_empty(found, content)


def _zip_member(archive: zipfile.ZipFile, info: zipfile.ZipInfo, member: Content, budget: _Budget) -> bytes:
    if info.flag_bits & 0x1:
        raise member.refusal("this part of the archive is locked with a password", mend="unpack it first")
    # The size that the archive declares is only a promise; the bytes are counted as they come.
    check_size(info.file_size, member.name, "the unpacked log")
    with archive.open(info) as stream:
        return _counted(stream, member.name, budget)


def _tar_members(content: Content, budget: _Budget, failed: list[LogError]) -> list[Content]:
    found: list[Content] = []
    before = len(failed)
    try:
        with tarfile.open(fileobj=io.BytesIO(content.data), mode="r:") as archive:
            for info in archive:
                # Links and devices have no content of their own.
                stream = archive.extractfile(info) if info.isreg() and _may_be_log(info.name) else None
                if stream is not None:
                    _check_count(len(found) + len(failed) - before + 1, content)
                    member = replace(content, name=_name(info.name, content))
                    try:
                        found.append(replace(member, data=_counted(stream, member.name, budget)))
                    except LogError as error:
                        failed.append(error)
    except (*_DAMAGE, tarfile.TarError) as error:
        if not found:
            raise _damaged("tar", error, content) from error
        message = "The tar archive is cut off or damaged; what could be taken out was read."
        notice = Notice("archive-damaged", message)
        found = [replace(member, notices=(*member.notices, notice)) for member in found]
    return found if len(failed) > before else _or_empty(found, content)


def _damaged(kind: str, error: Exception, content: Content) -> LogError:
    return content.refusal(f"the {kind} archive is damaged: {shown(str(error))}", mend="copy it again")


def _check_count(count: int, content: Content) -> None:
    if count > MAX_MEMBERS:
        raise content.refusal(f"the archive holds more than {MAX_MEMBERS} files", mend="unpack it")


def _or_empty(found: list[Content], content: Content) -> list[Content]:
    if not found:
        raise content.refusal("the archive holds no log", mend="pack the log file itself")
    return found


def _refuse_document(names: list[str], content: Content) -> None:
    """Tell documents of office suites, which are zip archives, for what they are."""
    if "content.xml" in names and "mimetype" in names:
        what = "this is a spreadsheet's workbook in a form that is not read"
        raise content.refusal(what, "mimetype", "save its sheet as CSV, or the workbook as .xlsx")


def _may_be_log(name: str) -> bool:
    path = PurePosixPath(name)
    hidden = any(part.startswith(".") and part != ".." for part in path.parts) or "__MACOSX" in path.parts
    return not (name.endswith("/") or hidden or path.suffix.lower() in _NO_LOGS)


def _name(member: str, content: Content) -> str:
    return f"{content.name}: {shown(PurePosixPath(member).name)}"


def _counted(stream: IO[bytes], name: str, budget: _Budget) -> bytes:
    parts, size = [], 0
    while chunk := stream.read(_CHUNK):
        size += len(chunk)
        check_size(size, name, "the unpacked log")
        budget.take(len(chunk))
        parts.append(chunk)
    return b"".join(parts)
