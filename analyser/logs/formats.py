"""The formats the program reads: one module each, one line each. The first that recognises the content reads it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from analyser.logs import geojson, gpx, igc, kml, nmea, table
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
    """

    name: str
    suffixes: tuple[str, ...]
    looks_like: Callable[[str], bool]
    read: Callable[[Content], list[RawFlight]]


#: In the order they are asked: the more certain marks first, the table, which is almost anything, last.
FORMATS: tuple[Format, ...] = (
    Format("gpx", (".gpx",), gpx.looks_like, gpx.read),
    Format("kml", (".kml", ".kmz"), kml.looks_like, kml.read),
    Format("geojson", (".geojson", ".json"), geojson.looks_like, geojson.read),
    Format("nmea", (".nmea", ".nma", ".log"), nmea.looks_like, nmea.read),
    Format("igc", (".igc",), igc.looks_like, igc.read),
    Format("table", (".csv", ".tsv", ".txt", ".dat", ".tab"), table.looks_like, table.read),
)
