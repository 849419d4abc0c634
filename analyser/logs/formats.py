"""The formats the program reads: one module each, one line each. The first that recognises the content reads it."""

from __future__ import annotations

import re
from importlib import import_module
from types import ModuleType

from analyser.frozen import dataclass
from analyser.logs.log_thresholds import LOOK
from analyser.logs.nmea import stands_between
from analyser.logs.raw import Content, RawFlight
from analyser.logs.text import encoding_of, is_binary, shown
from analyser.logs.xml_stream import root_name


@dataclass(frozen=True)
class Format:
    """One file format, whose module is imported when it is first asked."""

    #: As in :class:`~analyser.logs.track.Track`.
    name: str
    #: Usual endings of file names, for finding logs in a folder; the content decides.
    suffixes: tuple[str, ...]
    #: The module's name, where it is not the format's.
    module: str = ""
    #: Whether it is recognised by bytes; otherwise by text.
    binary: bool = False
    #: Root elements that tell a format of XML.
    roots: tuple[str, ...] = ()
    #: The module's function that tells the format.
    asked: str = "looks_like"

    def _module(self) -> ModuleType:
        return import_module(f"analyser.logs.{self.module or self.name}")

    def looks_like(self, head: bytes | str) -> bool:
        """Tell whether the first bytes, or characters, of the content are in this format."""
        if self.roots:
            return isinstance(head, str) and root_name(head) in self.roots
        return bool(getattr(self._module(), self.asked)(head))

    def read(self, content: Content) -> list[RawFlight]:
        """Return the flights in the content; LogError where there is none."""
        flights: list[RawFlight] = self._module().read(content)
        return flights


#: In the order they are asked: the more certain marks first, the table, which is almost anything, last.
FORMATS: tuple[Format, ...] = (
    Format("fit", (".fit",), binary=True),
    Format("xlsx", (".xlsx", ".xlsm"), "spreadsheet", binary=True),
    Format("gpx", (".gpx",), "xml_points", roots=("gpx",)),
    Format("kml", (".kml", ".kmz"), roots=("kml", "document", "folder", "placemark", "track", "multitrack")),
    Format("tcx", (".tcx",), "xml_points", roots=("trainingcenterdatabase",)),
    Format("geojson", (".geojson", ".json"), "json_points", asked="is_geojson"),
    Format("json", (".json", ".ndjson", ".jsonl"), "json_points"),
    Format("nmea", (".nmea", ".nma", ".log")),
    Format("igc", (".igc",)),
    Format("table", (".csv", ".tsv", ".txt", ".dat", ".tab")),
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
#: Elements of logs; a table's cells hold none.
_XML_INSIDE = re.compile(
    r"<(?:gpx|trkseg|trkpt|kml|Placemark|gx:Track|when|TrainingCenterDatabase|Trackpoint)[\s>]"
)
_HOLD_FILE = re.compile(r"^inbound_course\s*=", re.MULTILINE)
_TEXTS = tuple(form for form in FORMATS if not form.binary)


def recognise(content: Content) -> Format:
    """Tell a log's format from its content; LogError for an empty file, other binary content, and where none fits."""
    head = content.data[: LOOK.head_bytes]
    if not head.strip():
        raise content.refusal("the file is empty", mend="record or export it again")
    form = next((form for form in FORMATS if form.binary and form.looks_like(head)), None)
    if form is not None:
        return form
    for start, what, mend in _UNREAD:
        if head.startswith(start):
            raise content.refusal(what, "first bytes", mend)
    if is_binary(head):
        if stands_between(content.data[: LOOK.between_bytes]):
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
    if _XML_INSIDE.search(text) and not text.lstrip().startswith("<"):
        raise content.refusal(
            "the file is damaged: its XML does not begin where the file does",
            "line 1",
            "export it again, or delete what stands before the XML",
        )
    # Looking for the start of each line takes as long as all other questions.
    if "inbound_course" in text and _HOLD_FILE.search(text):
        mend = f"give it with --hold beside a log, or look at it: analyser hold check {content.name}"
        raise content.refusal("this is a hold file and no log", "key 'inbound_course'", mend)
    form = next((form for form in _TEXTS if form.looks_like(text)), None)
    if form is None:
        raise content.refusal(
            "the content is in no format the program reads", "line 1", "export it as GPX or CSV"
        )
    return form
