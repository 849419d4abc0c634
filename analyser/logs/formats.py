"""The formats the program reads: one module each, one line each. The first that recognises the content reads it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from types import ModuleType
from typing import Any

from analyser.logs.raw import Content, RawFlight


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
