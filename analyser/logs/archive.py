"""Logs inside gzip and zip, unpacked in memory under limits. No name from an archive ever touches the disk."""

from __future__ import annotations

import io
import zipfile
import zlib
from dataclasses import replace
from pathlib import PurePosixPath

from analyser.errors import LogError
from analyser.logs.limits import MAX_ARCHIVE_BYTES, MAX_MEMBERS, MAX_WRAPPERS, check_size
from analyser.logs.raw import Content
from analyser.logs.text import shown
from analyser.logs.track import Notice

_GZIP, _ZIP = b"\x1f\x8b", b"PK\x03\x04"
_CHUNK = 1 << 20
#: Endings of what lies beside a log in an archive and is none.
_NO_LOGS = (
    ".png",
    ".jpg",
    ".jpeg",
    ".gif",
    ".svg",
    ".ico",
    ".dae",
    ".pdf",
    ".html",
    ".md",
    ".xsl",
    ".css",
    ".js",
)


def unwrapped(content: Content) -> list[Content]:
    """Take a log out of what it is packed in.

    Parameters
    ----------
    content : Content

    Returns
    -------
    list of Content
        One for a plain or gzipped file; one for each possible log of an archive.

    Raises
    ------
    LogError
        For an archive that is damaged, locked, empty, too large, or packed too often.
    """
    waiting, plain = [(content, 0)], []
    total = 0
    while waiting:
        packed, depth = waiting.pop(0)
        packer = _packer(packed.data)
        if packer is None:
            plain.append(packed)
            continue
        if depth >= MAX_WRAPPERS:
            raise LogError(
                f"archives are packed inside one another more than {MAX_WRAPPERS} times",
                file=packed.name,
                mend="unpack it first",
            )
        inside = _gunzipped(packed) if packer == "gzip" else _members(packed)
        total += sum(len(member.data) for member in inside)
        if total > MAX_ARCHIVE_BYTES:
            raise LogError(
                f"the archive unpacks to more than {MAX_ARCHIVE_BYTES // 1_000_000} MB",
                file=content.name,
                mend="take the log out of it first",
            )
        waiting.extend((member, depth + 1) for member in inside)
    return plain


def _packer(data: bytes) -> str | None:
    if data.startswith(_GZIP):
        return "gzip"
    return "zip" if data.startswith(_ZIP) or data.startswith(b"PK\x05\x06") else None


def _gunzipped(content: Content) -> list[Content]:
    unpacked = io.BytesIO()
    rest = content.data
    cut_off = False
    # A gzip file may hold several streams one after another.
    while rest.startswith(_GZIP):
        engine = zlib.decompressobj(wbits=31)
        try:
            while not engine.eof and rest:
                unpacked.write(engine.decompress(rest, _CHUNK))
                check_size(unpacked.tell(), content.name, "the unpacked log")
                rest = engine.unconsumed_tail
        except zlib.error as error:
            if not unpacked.tell():
                raise LogError("the gzip file is damaged", file=content.name, mend="copy it again") from error
            cut_off = True
            break
        if not engine.eof:
            cut_off = True
            break
        rest = engine.unused_data
    said = (
        Notice("archive-damaged", "The gzip file is cut off or damaged; what could be unpacked was read."),
    )
    notices = content.notices + (said if cut_off else ())
    return [replace(content, data=unpacked.getvalue(), notices=notices)]


def _members(content: Content) -> list[Content]:
    try:
        with zipfile.ZipFile(io.BytesIO(content.data)) as archive:
            _refuse_document(archive.namelist(), content.name)
            listed = [info for info in archive.infolist() if _may_be_log(info.filename)]
            if len(listed) > MAX_MEMBERS:
                raise LogError(
                    f"the archive holds more than {MAX_MEMBERS} files", file=content.name, mend="unpack it"
                )
            found = [_member(archive, info, content) for info in listed]
    except (
        zipfile.BadZipFile,
        zlib.error,
        EOFError,
        OSError,
        NotImplementedError,
        ValueError,
        UnicodeError,
    ) as error:
        raise LogError(
            f"the zip archive is damaged: {shown(str(error))}", file=content.name, mend="copy it again"
        ) from error
    if not found:
        raise LogError(
            "the archive holds no log",
            file=content.name,
            place=f"{len(listed)} files that may be one",
            mend="pack the log file itself",
        )
    return found


def _refuse_document(names: list[str], file: str) -> None:
    """Tell workbooks and documents of office suites, which are zip archives, for what they are."""
    marks = {"[Content_Types].xml", "mimetype"} & set(names)
    if marks and any(name.startswith("xl/") or name == "content.xml" for name in names):
        raise LogError(
            "this is a spreadsheet's workbook", file=file, place=min(marks), mend="save its sheet as CSV"
        )


def _may_be_log(name: str) -> bool:
    path = PurePosixPath(name)
    hidden = any(part.startswith(".") and part != ".." for part in path.parts) or "__MACOSX" in path.parts
    return not (name.endswith("/") or hidden or path.suffix.lower() in _NO_LOGS)


def _member(archive: zipfile.ZipFile, info: zipfile.ZipInfo, content: Content) -> Content:
    name = f"{content.name}: {shown(PurePosixPath(info.filename).name)}"
    if info.flag_bits & 0x1:
        raise LogError("the archive is locked with a password", file=name, mend="unpack it first")
    # The size that the archive declares is only a promise; the bytes are counted as they come.
    check_size(info.file_size, name, "the unpacked log")
    parts, size = [], 0
    with archive.open(info) as stream:
        while chunk := stream.read(_CHUNK):
            size += len(chunk)
            check_size(size, name, "the unpacked log")
            parts.append(chunk)
    return Content(name, b"".join(parts), content.options, content.notices)
