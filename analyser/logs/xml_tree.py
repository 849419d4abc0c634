"""XML from a stranger: no document type, no entities, no bottomless nesting; a cut-off file keeps its beginning.

The standard library's parser expands entities that a document declares itself, so the declaration is refused
before the tree is built; nothing outside the file is ever fetched.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from xml.etree import ElementTree
from xml.parsers import expat

from analyser.errors import LogError
from analyser.logs.limits import MAX_DEPTH
from analyser.logs.raw import Content
from analyser.logs.text import shown
from analyser.logs.track import Notice

#: expat's number for a prefix that no ``xmlns`` declares: recorders add extensions and forget it.
_UNBOUND_PREFIX = 27
_ROOT = re.compile(r"<(?:[A-Za-z_][\w.-]{0,80}:)?([A-Za-z_][\w.-]{0,80})")
_PREFIXES = re.compile(rb"</?([A-Za-z_][\w.-]*):[A-Za-z_]")


class _PrologueRead(Exception):  # noqa: N818 - it is the good news, not an error
    """The root element was reached without a document type."""


@dataclass(frozen=True)
class XmlTree:
    """A parsed document.

    Attributes
    ----------
    root : Element
    notices : tuple of Notice
        That the file was cut off or damaged, and where.
    """

    root: ElementTree.Element
    notices: tuple[Notice, ...] = ()


@lru_cache(maxsize=4096)
def local(tag: object) -> str:
    """Return an element's name without its namespace.

    Parameters
    ----------
    tag : object
        ``Element.tag``; comments carry a function there.

    Returns
    -------
    str
        Lower-case; empty for a comment.
    """
    return tag.rpartition("}")[2].lower() if isinstance(tag, str) else ""


def root_name(head: str) -> str:
    """Return the name of the first element, without prefix, lower-case.

    Parameters
    ----------
    head : str
        The first characters of a document.

    Returns
    -------
    str
        Empty where no element begins.
    """
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


def parse_xml(content: Content) -> XmlTree:
    """Build the tree of an XML log.

    Parameters
    ----------
    content : Content

    Returns
    -------
    XmlTree

    Raises
    ------
    LogError
        For a document type, for nesting beyond the limit, and where no element can be read at all.
    """
    _refuse_document_type(content)
    data = content.data
    for _ in range(2):
        root, error = _build(data)
        if error is None or error.code != _UNBOUND_PREFIX:
            break
        data = _with_prefixes_declared(data)
    if root is None:
        raise LogError(
            f"this is not well-formed XML: {error}",
            file=content.name,
            mend="export the log again from its source",
        )
    _refuse_deep(root, content.name)
    if error is None:
        return XmlTree(root)
    line, column = error.position
    reason = expat.ErrorString(error.code)
    where = f"line {line}, column {column} ({reason})"
    message = f"The file is damaged or cut off at {where}; what stands before that was read."
    return XmlTree(root, (Notice("file-cut-off", message),))


def _refuse_document_type(content: Content) -> None:
    """Read the prologue only: a document type can stand nowhere else."""

    def refuse(*_: object) -> None:
        raise LogError(
            "the file declares a document type, which a log has no use for and an attacker has",
            file=content.name,
            place="<!DOCTYPE>",
            mend="remove the <!DOCTYPE …> declaration",
        )

    def reached(*_: object) -> None:
        raise _PrologueRead

    parser = expat.ParserCreate()
    parser.StartDoctypeDeclHandler = refuse
    parser.StartElementHandler = reached
    try:
        parser.Parse(content.data, True)
    except (_PrologueRead, expat.ExpatError):
        return
    except (ValueError, LookupError) as error:
        raise LogError(
            f"the XML names an unknown character set: {shown(str(error))}",
            file=content.name,
            place="XML declaration",
            mend="save it as UTF-8",
        ) from error


def _build(data: bytes) -> tuple[ElementTree.Element | None, ElementTree.ParseError | None]:
    builder = ElementTree.TreeBuilder()
    parser = ElementTree.XMLParser(target=builder)
    try:
        parser.feed(data)
        return parser.close(), None
    except ElementTree.ParseError as error:
        try:
            root = builder.close()
        except (AssertionError, ElementTree.ParseError):
            root = None
        return (root if isinstance(root, ElementTree.Element) else None), error
    except (ValueError, LookupError) as fault:
        stand_in = ElementTree.ParseError(str(fault))
        stand_in.code, stand_in.position = 0, (1, 0)
        return None, stand_in


def _with_prefixes_declared(data: bytes) -> bytes:
    """Declare every prefix in use on the root element, whatever it may stand for."""
    start = re.search(rb"<[A-Za-z_][\w.:-]*", data)
    if start is None:
        return data
    head_end = data.find(b">", start.end())
    head = data[start.start() : head_end]
    missing = sorted(p for p in set(_PREFIXES.findall(data)) if b"xmlns:" + p not in head)[:50]
    declared = b"".join(b' xmlns:%s="undeclared:%s"' % (p, p) for p in missing)
    return data[: start.end()] + declared + data[start.end() :]


def _refuse_deep(root: ElementTree.Element, file: str) -> None:
    level = [root]
    for _ in range(MAX_DEPTH):
        level = [child for parent in level for child in parent]
        if not level:
            return
    raise LogError(
        f"elements are nested more than {MAX_DEPTH} deep",
        file=file,
        place=f"element '{shown(local(level[0].tag))}'",
        mend="is this a flight log?",
    )
