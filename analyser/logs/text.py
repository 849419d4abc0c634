"""From bytes to text: character sets, and text that is safe to show."""

from __future__ import annotations

import codecs
import re
import unicodedata
from collections.abc import Sequence

import numpy as np

from analyser.errors import LogError
from analyser.logs.limits import MAX_LINE
from analyser.logs.log_thresholds import LOOK

#: Byte order marks, the longer one first: UTF-32 starts like UTF-16.
_MARKS = (
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
#: C0 and C1 controls, bidirectional overrides, line and paragraph separators, lone surrogates.
_UNSHOWN = re.compile("[\x00-\x1f\x7f-\x9f\u200b-\u200f\u2028-\u202e\u2066-\u2069\ufeff\ud800-\udfff]+")
#: Bytes of plain text.
_PLAIN = bytes(range(32, 127)) + b"\t\n\r\f\x1e"
#: So many bytes are decoded at a time.
_CHUNK = 1 << 20


def encoding_of(data: bytes) -> str:
    """Tell the character set of a text file.

    By the byte order mark, then UTF-16 by where the zero bytes lie, then UTF-8 where it decodes, then Windows-1252,
    which is Latin-1 with the printable signs recorders use.
    """
    for mark, name in _MARKS:
        if data.startswith(mark):
            return name
    head = np.frombuffer(data[: LOOK.encoding_bytes], np.uint8)
    if head.size > 3:
        even, odd = float(np.mean(head[0::2] == 0)), float(np.mean(head[1::2] == 0))
        if max(even, odd) > LOOK.zeros_most and min(even, odd) < LOOK.zeros_least:
            return "utf-16-be" if even > odd else "utf-16-le"
    if data.isascii():
        return "utf-8"
    decoder = codecs.getincrementaldecoder("utf-8")()
    try:
        # A log cut off inside a character is still UTF-8.
        for place in range(0, len(data), _CHUNK):
            decoder.decode(data[place : place + _CHUNK])
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def counted(number: int, one: str, many: str) -> str:
    """Say how many there are of something, in good grammar: what follows the number when it is one, and otherwise."""
    return f"{number:,} {one if number == 1 else many}"


def clock_text(seconds: float) -> str:
    """Write a time since the log's first sample as minutes and seconds, from an hour on with hours: 7:05, 1:02:30."""
    whole = round(seconds)
    minutes, rest = divmod(abs(whole), 60)
    hours, minutes = divmod(minutes, 60)
    sign = "-" if whole < 0 else ""
    return f"{sign}{hours}:{minutes:02d}:{rest:02d}" if hours else f"{sign}{minutes}:{rest:02d}"


def listed(items: Sequence[str]) -> str:
    """Name the first five of many: ``"one, two and 3 more"``."""
    return ", ".join(items[: LOOK.named]) + (
        f" and {len(items) - LOOK.named} more" if len(items) > LOOK.named else ""
    )


def left_out(number: int, one: str, many: str) -> str:
    """Say that so many were left out, and why: ``"record is damaged"``, ``"records are damaged"``."""
    return counted(number, f"{one}; it was left out.", f"{many}; they were left out.")


def sound_utf8(data: bytes) -> bytes:
    """Return a text file's content in UTF-8: as it is where it is plain ASCII, without a byte order mark otherwise."""
    if encoding_of(data[: LOOK.encoding_bytes]) == "utf-8" and data.isascii():
        return data
    return decode(data).encode("utf-8", errors="replace")


def decode(data: bytes) -> str:
    """Decode a text file without its byte order mark, never failing: what cannot be decoded becomes U+FFFD."""
    encoding = encoding_of(data)
    if encoding == "cp1252":
        # A few damaged bytes make no other character set: what is sound UTF-8 by chance is next to nothing.
        begins = data[:_CHUNK].decode(errors="replace")
        broken = begins.count("\ufffd")
        sound = len(begins) - sum(map(str.isascii, begins)) - broken
        encoding = "utf-8" if LOOK.broken_ratio * sound > broken else encoding
    return data.decode(encoding, errors="replace").removeprefix("\ufeff")


def shown(text: str, length: int = LOOK.name_letters) -> str:
    """Make text from a log fit to be shown on one line: still untrusted, pages escape it.

    Control characters become spaces.
    """
    clean = " ".join(_UNSHOWN.sub(" ", text[: 4 * length]).split())
    return clean if len(clean) <= length else clean[: length - 1] + "…"


def refuse_long_lines(data: bytes, file: str) -> None:
    """Refuse a text file with a line no recorder writes."""
    start = 0
    # Hop from line end to line end, each as far off as allowed: a few searches for a whole file.
    while len(data) - start > MAX_LINE:
        reach = start + MAX_LINE + 1
        end = data.rfind(b"\n", start, reach)
        if end < 0 and (end := data.rfind(b"\r", start, reach)) < 0:
            number = data.count(b"\n", 0, start) + 1
            raise LogError(
                f"a line is longer than {MAX_LINE:,} characters",
                file=file,
                place=f"line {number}",
                mend="is this a flight log?",
            )
        start = end + 1


def is_binary(data: bytes) -> bool:
    """Tell whether content is certainly no text: control bytes that no text holds."""
    head = data[: LOOK.binary_bytes]
    if encoding_of(head).startswith(("utf-16", "utf-32")):
        return False
    if b"\0" in head:
        # Zero bytes fill up the cells and the ends of text files that are written in blocks of one size.
        head = head.replace(b"\0", b"")
        if len(head.translate(None, _PLAIN)) >= LOOK.unplain_share * len(head):
            return True
    strange = sum(head.count(code) for code in range(1, 32) if code not in (9, 10, 12, 13, 26, 27, 30))
    return strange > max(LOOK.strange_few, LOOK.strange_share * len(head))


def without_accents(text: str) -> str:
    """Take accents and the like off letters: ``Höhe`` becomes ``Hohe``."""
    if text.isascii():
        return text
    plain = "".join(
        letter for letter in unicodedata.normalize("NFD", text) if not unicodedata.combining(letter)
    )
    for joined, apart in (("ß", "ss"), ("œ", "oe"), ("æ", "ae"), ("ø", "o"), ("ł", "l"), ("Ł", "L")):
        plain = plain.replace(joined, apart)
    return plain
