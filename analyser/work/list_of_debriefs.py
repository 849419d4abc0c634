"""The list of all debriefs in a folder, ``index.html``, kept up to date by each run that writes there.

An entry whose debrief has not changed is taken over from the page as it stands, and a run that has just written a
debrief hands its entry on, so that a file is read only where another program wrote it. There is no lock: a run looks
again after writing, and writes again if the folder has changed meanwhile, so that the last one lists everything.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from analyser import __version__

if TYPE_CHECKING:
    from analyser.pages.index import ListedDebrief
    from analyser.schema.debrief_file import WrittenDebrief

#: An entry on a line of its own, with the debrief's file, its state, and what it is ordered by.
_LINE = re.compile(r'<li data-file="([^"]*)" data-state="([^"]*)" data-when="([^"]*)">(.*)</li>')
#: Used where a log called index has its own page in ``index.html``, from before that name was reserved.
_OTHER_NAME = "all-debriefs"
#: How often the folder is looked at again while it keeps changing; another run that goes on writes the list at its end.
_LOOKS = 20


def index_path(out: Path) -> Path:
    """Return where the list of a folder is, or will be: never in the place of a page of a log called index."""
    path = out / "index.html"
    return path if not path.exists() or _is_own(path) else out / f"{_OTHER_NAME}.html"


def update_index(out: Path, written: Mapping[str, ListedDebrief] | None = None) -> None:
    """Bring the list of a folder of reports up to date; without any debrief in it nothing is written.

    ``written`` are the entries of what was just written there by file name, as :func:`entry_of_written` makes them.
    Raises ReportError if it cannot be written.
    """
    path = index_path(out)
    entries = _left(path)
    before: dict[str, str] = {entry.file: entry.state for entry in entries.values()}
    entries |= written or {}
    for _ in range(_LOOKS):
        there = _debriefs(out)
        if there == before:
            return
        entries = {
            name: known
            if (known := entries.get(name)) and known.state == state
            else _entry(out / name, state)
            for name, state in there.items()
        }
        if entries:
            _write(path, list(entries.values()))
        before = there


def _write(path: Path, entries: list[ListedDebrief]) -> None:
    from analyser.pages.index import index_page
    from analyser.whole_files import write_text_whole

    write_text_whole(path, index_page(entries))


def _debriefs(out: Path) -> dict[str, str]:
    """List the JSON files of a folder, each with a mark that changes when it does."""
    found = {}
    try:
        with os.scandir(out) as there:
            for one in there:
                if one.name.endswith(".json") and not one.name.startswith("."):
                    found[one.name] = _mark(one.stat())
    except OSError:
        # A folder that is not there has no debriefs; a file that vanished meanwhile is missed at the next look.
        pass
    return found


def _mark(state: os.stat_result) -> str:
    return f"{state.st_mtime_ns}-{state.st_size}"


def entry_of_written(document: WrittenDebrief, data: Path, state: os.stat_result) -> ListedDebrief:
    """Make the entry of a debrief that was just written; its page has the name of its JSON."""
    from analyser.pages.index import entry_of

    return entry_of(document, data.name, data.with_suffix(".html").name, _mark(state))


def _entry(data: Path, state: str) -> ListedDebrief:
    from analyser.pages.index import ListedDebrief, entry_of
    from analyser.schema.debrief_file import WrittenDebrief
    from analyser.work.report_names import is_debrief

    page = data.with_suffix(".html")
    try:
        text = data.read_text(encoding="utf-8")
        if is_debrief(text[:100]) and page.exists():
            return entry_of(WrittenDebrief.from_json(json.loads(text)), data.name, page.name, state)
    except (OSError, ValueError):
        # Files of other kinds in the folder must not make the list fail.
        pass
    return ListedDebrief(data.name, state, "", "")


def _left(path: Path) -> dict[str, ListedDebrief]:
    """Read the entries of the list as it stands, if this version wrote it."""
    from html import unescape

    from analyser.pages.index import ListedDebrief

    try:
        text = path.read_text(encoding="utf-8") if _is_own(path, __version__) else ""
    except (OSError, ValueError):
        return {}
    entries = [
        ListedDebrief(unescape(found[1]), found[2], found[3], found[4])
        for line in text.split("\n")
        if (found := _LINE.fullmatch(line))
    ]
    return {entry.file: entry for entry in entries}


def _is_own(path: Path, version: str = "") -> bool:
    try:
        with path.open(encoding="utf-8", errors="replace") as file:
            return f'<meta name="generator" content="analyser list of debriefs {version}' in file.read(400)
    except OSError:
        return False
