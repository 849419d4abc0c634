"""JSON from a stranger, value by value: a long list is gone through without standing in memory as a whole.

References
----------
RFC 8259 (JSON); newline-delimited JSON is RFC 8259 texts parted by line ends, RFC 7464 parts them by another sign.
"""

from __future__ import annotations

import codecs
import json
import re
from collections.abc import Iterator
from typing import Any

from analyser.errors import LogError
from analyser.logs.limits import MAX_DEPTH, MAX_JSON_VALUE
from analyser.logs.log_thresholds import LOOK
from analyser.logs.raw import Content, cut_off
from analyser.logs.text import encoding_of, left_out, shown
from analyser.logs.track import Notice

#: So many bytes are decoded at a time.
_CHUNK = 1 << 18
_BLANK = re.compile(r"[ \t\r\n]*")
_BROKEN = "this is not well-formed JSON"
#: What is wrong with a text that is cut off.
ENDS = "it ends before it is whole"
_DECODER = json.JSONDecoder()
_LINE_END = re.compile(r"\r\n?|\n")
#: Stands for a value that is not taken yet, since it is too large to be taken whole, or broken inside.
IN_PARTS = object()


def whole_line(line: str) -> dict[str, Any] | list[Any] | None:
    """Read a line that is one object or one list of plain values; None for any other."""
    bare = line.strip(" \t\r\n,\x1e")
    if bare[:1] + bare[-1:] not in ("{}", "[]"):
        return None
    try:
        value = json.loads(bare)
    except (ValueError, RecursionError):
        return None
    nested = isinstance(value, list) and any(isinstance(one, (list, dict)) for one in value)
    return value if value and not nested else None


def is_by_line(head: str) -> bool:
    """Tell a text of which each line is an object or a row, although some may be broken, from a list over lines."""
    lines = [
        line.strip()
        for line in head.split("\n" if "\n" in head else "\r", LOOK.json_lines)[: LOOK.json_lines]
    ]
    if all(line.startswith("[") and whole_line(line) is not None for line in lines[:2]):
        return True
    whole = [line for line in lines if line.startswith("{") and whole_line(line) is not None]
    return len(whole) > 1 and (whole[0] == lines[0] or sum(line.endswith("}") for line in whole) > 1)


def number_or_nan(value: object, below: float) -> float:
    """Return a JSON value as a number; NaN for anything else, and for numbers out of all bounds."""
    number = isinstance(value, (int, float)) and not isinstance(value, bool) and abs(value) < below
    return float(value) if number else float("nan")  # type: ignore[arg-type]


class JsonStream:
    """Walks through one JSON text.

    :meth:`items` and :meth:`members` go through a list or an object; before the next step of either the caller takes
    exactly one value, by :meth:`value` or by going through it in turn.
    """

    def __init__(self, content: Content) -> None:
        self._content, self._data = content, content.data
        decoder = codecs.getincrementaldecoder(encoding_of(content.data))
        self._decoder, self._taken = decoder(errors="replace"), 0
        self._text, self._place = "", 0
        #: How many characters were read and dropped.
        self._dropped = 0
        self._depth = 0
        self._more()
        if self._text.startswith("\ufeff"):
            self._place = 1
        self._by_line, self._broken_lines = is_by_line(self._text[self._place :]), 0

    def _more(self, size: int = 0) -> bool:
        """Drop what was read and decode some more, so much at least; tell whether there was any."""
        if self._taken >= len(self._data):
            return False
        data = self._data[self._taken : self._taken + max(size, _CHUNK)]
        self._taken += len(data)
        decoded = self._decoder.decode(data, self._taken >= len(self._data))
        self._dropped += self._place
        self._text, self._place = self._text[self._place :] + decoded, 0
        return True

    def fault(self, what: str) -> LogError:
        """Return an error that tells the place."""
        whole = self._data.decode(encoding_of(self._data), errors="replace")
        read = whole[: self._dropped + self._place]
        place = f"line {read.count(chr(10)) + 1}, column {len(read) - read.rfind(chr(10))}"
        return self._content.refusal(f"{_BROKEN}: {what}", place, "export it again")

    def broken_at(self, error: LogError, *, enough: bool) -> str:
        """Return where the text is broken or cut off; raise where it is not, or where too little stands before."""
        if not error.what.startswith(_BROKEN):
            raise error
        if not enough:
            raise self._content.refusal("", broken_at=error.place) if error.what.endswith(ENDS) else error
        return error.place

    def peek(self) -> str:
        """Return the next character that is no blank; empty at the end."""
        # Mostly there is no blank, and a pattern takes five times as long to say so.
        while (character := self._text[self._place : self._place + 1]) <= " ":
            found = _BLANK.match(self._text, self._place)
            self._place = found.end() if found is not None else self._place
            if self._place < len(self._text) or not self._more():
                return self._text[self._place : self._place + 1]
        return character

    def value(self) -> Any:
        """Take the next value whole, or return :data:`IN_PARTS` for a list or an object that is to be gone through.

        That is one larger than the limit, or broken. LogError for any other value that cannot be read.
        """
        parted = self.peek() in ("[", "{")
        # What was decoded in vain takes many times the memory of its text.
        most = MAX_JSON_VALUE // 2 if parted else MAX_JSON_VALUE
        while True:
            try:
                value, end = _DECODER.raw_decode(self._text, self._place)
            except RecursionError as error:
                raise self.too_deep() from error
            except ValueError as error:
                what, at = f"a number cannot be read: {shown(str(error))}", self._place
                if isinstance(error, json.JSONDecodeError):
                    what, at = error.msg, error.pos
                    # A value cut at the end of what is decoded looks broken; the rest of it may follow.
                    if at >= len(self._text) - 16 or what.startswith("Unterminated"):
                        size = len(self._text) - self._place
                        if size <= most and self._more(size):
                            continue
                        what = ENDS
                        if size > most and not parted:
                            raise self._too_large() from error
                if parted:
                    return IN_PARTS
                self._place = max(self._place, at)
                raise self.fault(what) from error
            # A number near the end may have more digits, or an exponent.
            if end < len(self._text) - 3 or not self._more():
                self._place = end
                return value

    def _too_large(self) -> LogError:
        what = f"a single value takes more than {MAX_JSON_VALUE // 1_000_000} MB"
        return self._content.refusal(what, mend="is this a flight log?")

    def too_deep(self) -> LogError:
        """Return an error for nesting beyond the limit."""
        what = f"arrays are nested more than {MAX_DEPTH} deep"
        return self._content.refusal(what, mend="is this a flight log?")

    def texts(self) -> Iterator[Any]:
        """Go through the texts: :data:`IN_PARTS` for one that is to be taken.

        Where each line is a text it comes taken, and a broken one costs no more than itself.
        """
        while first := self.peek():
            if first in "\x1e,":
                self._place += 1
                continue
            if not self._by_line:
                yield IN_PARTS
                continue
            line = self._line()
            self._place += len(line)
            value = whole_line(line)
            if value is not None:
                yield value
            elif self.peek():
                self._broken_lines += 1
            else:
                raise self.fault(ENDS)

    def _line(self) -> str:
        """Return what is left of this line, without taking it; no more than is decoded at a time."""
        while (found := _LINE_END.search(self._text, self._place)) is None:
            if len(self._text) - self._place > _CHUNK or not self._more():
                return self._text[self._place :]
        return self._text[self._place : found.end()]

    def notices(self, broken_at: str) -> tuple[Notice, ...]:
        """Say where the text broke off, and how many lines were broken."""
        count = self._broken_lines
        broken = Notice("record-damaged", left_out(count, "line is broken", "lines are broken"))
        return (*cut_off(broken_at), *((broken,) if count else ()))

    def items(self) -> Iterator[None]:
        """Go through the list that comes next."""
        yield from self._through("]")

    def members(self) -> Iterator[str]:
        """Go through the object that comes next, by its keys."""
        for _ in self._through("}"):
            if self.peek() != '"':
                raise self.fault("Expecting property name enclosed in double quotes" if self.peek() else ENDS)
            key = self.value()
            if self.peek() != ":":
                raise self.fault("Expecting ':' delimiter" if self.peek() else ENDS)
            self._place += 1
            yield key

    def _through(self, closing: str) -> Iterator[None]:
        self._depth += 1
        if self._depth > MAX_DEPTH:
            raise self.too_deep()
        self._place += 1
        mark = self.peek()
        while mark != closing:
            yield None
            mark = self.peek()
            if mark == ",":
                self._place += 1
            elif mark != closing:
                # A number that is cut in two ends at its point.
                ends = self._place >= len(self._text) - 1 and not self._more()
                raise self.fault(ENDS if ends else "Expecting ',' delimiter")
        self._place += 1
        self._depth -= 1
