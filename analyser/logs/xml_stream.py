"""XML from a stranger, element by element: no document type, no bottomless nesting, no tree in memory.

Only the text of elements that a reader asks about is ever held. Names count without their prefix, so a prefix that
nobody declared is no fault; a file that is cut off or damaged keeps its beginning.
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Callable
from functools import lru_cache
from xml.parsers import expat

from analyser.logs.limits import MAX_DEPTH
from analyser.logs.raw import Content
from analyser.logs.text import shown
from analyser.logs.track import Notice

_ROOT = re.compile(r"<(?:[A-Za-z_][\w.-]{0,80}:)?([A-Za-z_][\w.-]{0,80})")
#: So many bytes are parsed at a time.
_CHUNK = 1 << 18

Start = Callable[[str, dict[str, str]], None]
End = Callable[[str, str], None]


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


def read_xml(content: Content, start: Start, end: End) -> tuple[Notice, ...]:
    """Go through an XML log.

    Parameters
    ----------
    content : Content
    start : callable
        Called with the name (:func:`local`) and the attributes of each element as it begins.
    end : callable
        Called with the name and the text of each element as it ends: the text after the last element inside it.

    Returns
    -------
    tuple of Notice
        That the file was cut off or damaged, and where.

    Raises
    ------
    LogError
        For a document type, for nesting beyond the limit, and where no element can be read at all.
    """
    # A byte order mark is surer than what the declaration says.
    marked = content.data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    parser = expat.ParserCreate("utf-16" if marked else None)
    parser.buffer_text, parser.buffer_size = True, 1 << 16
    texts: list[str] = []
    depth, begun = 0, False

    def started(tag: str, attributes: dict[str, str]) -> None:
        nonlocal depth, begun
        depth += 1
        begun = True
        if depth > MAX_DEPTH:
            _refuse_depth(content, tag)
        texts.clear()
        start(local(tag), attributes)

    def ended(tag: str) -> None:
        nonlocal depth
        depth -= 1
        end(local(tag), "".join(texts))
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
    try:
        # No blank may stand before the declaration; some programs write one.
        begin = len(content.data[:_CHUNK]) - len(content.data[:_CHUNK].lstrip())
        for place in range(begin, len(content.data), _CHUNK):
            parser.Parse(content.data[place : place + _CHUNK], False)
        parser.Parse(b"", True)
    except expat.ExpatError as error:
        return _damage(error, content, begun=begun)
    except (ValueError, LookupError) as error:
        raise content.refusal(
            f"the XML names an unknown character set: {shown(str(error))}",
            "XML declaration",
            "save it as UTF-8",
        ) from error
    return ()


def _refuse_depth(content: Content, tag: str) -> None:
    what = f"elements are nested more than {MAX_DEPTH} deep"
    raise content.refusal(what, f"element '{shown(local(tag))}'", "is this a flight log?")


def _damage(error: expat.ExpatError, content: Content, *, begun: bool) -> tuple[Notice, ...]:
    reason = expat.ErrorString(error.code)
    if not begun:
        raise content.refusal(
            f"this is not well-formed XML: {reason}: line {error.lineno}, column {error.offset}",
            mend="export the log again from its source",
        ) from error
    where = f"line {error.lineno}, column {error.offset} ({reason})"
    return (
        Notice(
            "file-cut-off", f"The file is damaged or cut off at {where}; what stands before that was read."
        ),
    )
