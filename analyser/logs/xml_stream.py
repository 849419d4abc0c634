"""XML from a stranger, element by element: no document type, no bottomless nesting, no tree in memory.

Only the text of elements that a reader asks about is ever held. Names count without their prefix, so a prefix that
nobody declared is no fault; a file that is cut off or damaged keeps its beginning.
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Container, Iterator
from contextlib import suppress
from functools import lru_cache
from itertools import chain
from xml.parsers import expat

from analyser.logs.limits import MAX_DEPTH, MAX_MARKUP
from analyser.logs.raw import Content
from analyser.logs.text import encoding_of, shown

#: An & that begins none of XML's own entities, and what no XML may hold.
_LONE_AMPERSAND = re.compile(rb"&(?!(?:amp|lt|gt|quot|apos|#\d{1,7}|#x[0-9a-fA-F]{1,6});)")
_CONTROLS = bytes(code for code in range(32) if code not in b"\t\n\r")
_DECLARED = re.compile(rb"""encoding\s*=\s*["']([\w-]+)""")
_ROOT = re.compile(r"<(?:[A-Za-z_][\w.-]{0,80}:)?([A-Za-z_][\w.-]{0,80})")
#: How the parser calls a document that ends too early; it has other words for one that is damaged inside.
_ENDS = ("no element found", "unclosed token", "partial character", "unclosed CDATA section")
#: So many bytes are parsed at a time.
_CHUNK = 1 << 18


class Scope:
    """An element that a reader looks into. What opens no scope of its own inside it is taken by it."""

    def open(self, name: str, attributes: dict[str, str]) -> Scope | None:
        """Return the scope of an element that begins, if it has one; its name is as :func:`local` gives it."""

    def take(self, name: str, text: str, parent: str) -> None:
        """Take an element that ends: the text after the last element inside it, and the element round it."""

    def close(self) -> None:
        """Take the end of this element."""

    def break_off(self, *, whole: bool) -> None:
        """Take the end of the document inside this element; ``whole`` where nothing is missing before it."""


@lru_cache(maxsize=4096)
def local(tag: str) -> str:
    """Return an element's name without its prefix, lower-case."""
    return tag.rpartition(":")[2].lower()


def root_name(head: str) -> str:
    """Return the name of a document's first element, without prefix, lower-case; empty where none begins."""
    bare = head.lstrip("\ufeff \t\r\n")
    place = 0 if bare.startswith("<") else -1
    while place >= 0:
        # Comments may hold anything, also elements; a search for each start keeps this linear.
        if bare.startswith("<!--", place):
            end = bare.find("-->", place)
            place = bare.find("<", end) if end >= 0 else -1
            continue
        match = _ROOT.match(bare, place)
        if match:
            return match.group(1).lower()
        place = bare.find("<", place + 1)
    return ""


def read_xml(content: Content, document: Scope, told: Container[str]) -> str:
    """Go through an XML log; return where it is cut off or damaged, and how: empty for a whole one.

    Scopes are told when elements of the names ``told`` begin, and of all elements when they end. LogError for a
    document type, for nesting beyond the limit, and for a tag or comment without end.
    """
    parser = expat.ParserCreate("utf-8")
    parser.buffer_text, parser.buffer_size = True, 1 << 16
    texts: list[str] = []
    path: list[str] = []
    scopes, depths = [document], [0]

    def started(tag: str, attributes: dict[str, str]) -> None:
        name = local(tag)
        if len(path) >= MAX_DEPTH:
            what = f"elements are nested more than {MAX_DEPTH} deep"
            raise content.refusal(what, f"element '{shown(name)}'", "is this a flight log?")
        texts.clear()
        path.append(name)
        if name in told and (scope := scopes[-1].open(name, attributes)) is not None:
            scopes.append(scope)
            depths.append(len(path))

    def ended(_tag: str) -> None:
        depth, name = len(path), path.pop()
        if depth == depths[-1]:
            depths.pop()
            scopes.pop().close()
        else:
            scopes[-1].take(name, "".join(texts), path[-1] if path else "")
        texts.clear()

    def refuse(*_: object) -> None:
        raise content.refusal(
            "the file declares a document type, which a log has no use for and an attacker has",
            "<!DOCTYPE>",
            "remove the <!DOCTYPE …> declaration",
        )

    parser.StartDoctypeDeclHandler = refuse
    parser.StartElementHandler, parser.EndElementHandler = started, ended
    parser.CharacterDataHandler = texts.append
    taken = 0
    try:
        for piece in _pieces(content.data):
            parser.Parse(piece, False)
            taken += len(piece)
            if taken - parser.CurrentByteIndex > MAX_MARKUP:
                what = f"a single tag or comment takes more than {MAX_MARKUP // 1_000_000} MB"
                raise content.refusal(what, f"line {parser.CurrentLineNumber}", "is this a flight log?")
        parser.Parse(b"", True)
    except expat.ExpatError as error:
        what = expat.ErrorString(error.code)
        for scope in reversed(scopes):
            scope.break_off(whole=what in _ENDS)
        return f"line {error.lineno}, column {error.offset} ({what})"
    return ""


def _pieces(data: bytes) -> Iterator[bytes]:
    """Give the text piece by piece in UTF-8, without what programs that know no XML leave in it: lone &, controls."""
    encoding, declared = encoding_of(data), _DECLARED.search(data[:200])
    if encoding == "cp1252" and declared is not None:
        # The declaration counts where it may be so.
        with suppress(LookupError):
            said = codecs.lookup(declared[1].decode()).name
            encoding = said if said.startswith(("iso8859", "cp125")) else encoding
    chunks = (data[place : place + _CHUNK] for place in range(0, len(data), _CHUNK))
    rest = ""
    for number, text in enumerate(chain(codecs.iterdecode(chunks, encoding, "replace"), [""])):
        # No blank may stand before the declaration; some programs write one. An entity may be cut at a piece's end.
        piece = rest + (text if number else text.lstrip("\ufeff \t\r\n"))
        cut = piece.rfind("&", max(0, len(piece) - 10)) if text else -1
        piece, rest = (piece[:cut], piece[cut:]) if cut > 0 else (piece, "")
        yield _LONE_AMPERSAND.sub(b"&amp;", piece.encode(errors="replace")).translate(None, _CONTROLS)
