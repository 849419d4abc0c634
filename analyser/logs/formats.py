"""The formats the program reads: one module each, one line each. The first that recognises the content reads it."""

from __future__ import annotations

import re
from collections.abc import Callable
from importlib import import_module
from types import ModuleType
from typing import Any

from analyser.frozen import dataclass
from analyser.logs.nmea import stands_between
from analyser.logs.raw import Content, RawFlight
from analyser.logs.text import encoding_of, is_binary, shown
from analyser.logs.xml_stream import root_name


@dataclass(frozen=True)
class Format:
    """One file format.

    Attributes
    ----------
    name : str
        As in :class:`~analyser.logs.track.Track`.
    suffixes : tuple of str
        Usual endings of file names, for finding logs in a folder; the content decides.
    looks_like : callable
        Takes the first characters of the content and tells whether this is the format.
    read : callable
        Takes the content and returns its flights, or raises LogError.
    binary : bool
        Whether ``looks_like`` is asked with bytes; otherwise with text.
    """

    name: str
    suffixes: tuple[str, ...]
    looks_like: Callable[[Any], bool]
    read: Callable[[Content], list[RawFlight]]
    binary: bool = False


def _format(name: str, suffixes: tuple[str, ...], module_name: str = "", *, binary: bool = False) -> Format:
    """Return a format whose module, of the same name, is imported when it is first asked."""

    def module() -> ModuleType:
        return import_module(f"analyser.logs.{module_name or name}")

    def looks_like(head: Any) -> bool:
        return bool(module().looks_like_bytes(head) if binary else module().looks_like(head))

    def read(content: Content) -> list[RawFlight]:
        flights: list[RawFlight] = module().read(content)
        return flights

    return Format(name, suffixes, looks_like, read, binary)


#: In the order they are asked: the more certain marks first, the table, which is almost anything, last.
FORMATS: tuple[Format, ...] = (
    _format("fit", (".fit",), binary=True),
    _format("xlsx", (".xlsx", ".xlsm"), "spreadsheet", binary=True),
    _format("gpx", (".gpx",)),
    _format("kml", (".kml", ".kmz")),
    _format("tcx", (".tcx",)),
    _format("geojson", (".geojson", ".json")),
    _format("json", (".json", ".ndjson", ".jsonl"), "json_points"),
    _format("nmea", (".nmea", ".nma", ".log")),
    _format("igc", (".igc",)),
    _format("table", (".csv", ".tsv", ".txt", ".dat", ".tab")),
)
#: Packed content that is known and not taken apart: how it begins, what it is, the mend.
_PACKED = (
    "this is an archive of a kind that is not unpacked",
    "unpack it first, or pack the log as .zip or .gz",
)
_UNREAD = (
    (
        bytes.fromhex("d0cf11e0a1b11ae1"),
        "this is a workbook that is locked with a password, or of the old binary kind",
        "save it as .xlsx without a password, or its sheet as CSV",
    ),
    *((start, *_PACKED) for start in (b"7z\xbc\xaf", b"Rar!\x1a\x07", b"\x28\xb5\x2f\xfd")),
)
_HOLD_FILE = re.compile(r"^inbound_course\s*=", re.MULTILINE)
_TEXTS = tuple(form for form in FORMATS if not form.binary)

#: Content is recognised from so many bytes; sentences among binary messages are looked for in so many.
_HEAD_BYTES, _BETWEEN_BYTES = 64_000, 1_000_000


def recognise(content: Content) -> Format:
    """Tell a log's format from its content.

    Raises
    ------
    LogError
        For an empty file, for binary content, and where no format fits.
    """
    head = content.data[:_HEAD_BYTES]
    if not head.strip():
        raise content.refusal("the file is empty", mend="record or export it again")
    form = next((form for form in FORMATS if form.binary and form.looks_like(head)), None)
    if form is not None:
        return form
    for start, what, mend in _UNREAD:
        if head.startswith(start):
            raise content.refusal(what, "first bytes", mend)
    if is_binary(head):
        if stands_between(content.data[:_BETWEEN_BYTES]):
            return next(form for form in FORMATS if form.name == "nmea")
        raise content.refusal(
            "this is binary content in no open log format", mend="export the flight as GPX or CSV"
        )
    text = head.decode(encoding_of(head), errors="replace").removeprefix("\ufeff")
    if text.lstrip().startswith("<") and not any(form.looks_like(text) for form in _TEXTS[:-1]):
        root = root_name(text)
        raise content.refusal(
            "the file is XML and neither GPX, KML nor TCX",
            f"root element '{shown(root)}'",
            "export the flight as GPX or CSV",
            "" if root else "line 1",
        )
    if _HOLD_FILE.search(text):
        raise content.refusal("this is a hold file and no log", "key 'inbound_course'", "give it with --hold")
    form = next((form for form in _TEXTS if form.looks_like(text)), None)
    if form is None:
        raise content.refusal(
            "the content is in no format the program reads", "line 1", "export it as GPX or CSV"
        )
    return form
