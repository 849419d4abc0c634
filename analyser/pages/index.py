"""The list of all debriefs in a folder, ``index.html``, newest first, kept up to date by each run that writes there.

An entry whose debrief has not changed is taken over from the page as it stands, and a run that has just written a
debrief hands its entry on, so that a file is read only where another program wrote it. There is no lock: a run looks
again after writing, and writes again if the folder has changed meanwhile, so that the last one lists everything.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from urllib.parse import quote

import numpy as np
from markupsafe import Markup

from analyser import __version__
from analyser.earth.angles import whole_direction
from analyser.frozen import dataclass
from analyser.grading.wording import sentence
from analyser.pages.figures.canvas import thin
from analyser.pages.template import environment, render
from analyser.schema import is_debrief
from analyser.schema.debrief_file import WrittenDebrief, WrittenHold
from analyser.whole_files import head_of, write_text_whole

#: An entry on a line of its own, with the debrief's file, its state, and what it is ordered by.
_LINE = re.compile(r'<li data-file="([^"]*)" data-state="([^"]*)" data-when="([^"]*)">(.*)</li>')
#: Used where a log called index has its own page in ``index.html``, from before that name was reserved.
_OTHER_NAME = "all-debriefs"
#: How often the folder is looked at again while it keeps changing; another run that goes on writes the list at its end.
_LOOKS = 20
#: The thumbnail: units of its drawing, and the margin round the path.
_WIDTH, _HEIGHT, _MARGIN = 120.0, 84.0, 6.0
#: A point this little beside the line through the others, units of the picture, is left out.
_LEFT_OUT = 0.25
#: The end of a sentence: a full stop after a word, with another sentence behind it.
_SENTENCE_END = re.compile(r"(?<=[\w°%)\"][.!?])\s+(?=[A-Z])")
_COUNT = re.compile(r"\w+ circuits?\.")


@dataclass(frozen=True)
class ListedDebrief:
    """One debrief in the list: its JSON ``file`` and a mark of that file's content (``state``).

    ``when`` it is ordered by, UTC in ISO form, is empty where the log has no date; ``html``, what the page shows of it
    on one line, is empty for what is no debrief.
    """

    file: str
    state: str
    when: str
    html: str


def index_path(out: Path) -> Path:
    """Return where the list of a folder is, or will be: never in the place of a page of a log called index."""
    path = out / "index.html"
    return path if not path.exists() or _is_own(path) else out / f"{_OTHER_NAME}.html"


def update_index(out: Path, written: Mapping[str, ListedDebrief] | None = None) -> None:
    """Bring the list of a folder of reports up to date; without any debrief in it nothing is written.

    ``written`` are the entries of what was just written there by file name, as :func:`entry_of` makes them.
    Raises ReportError if it cannot be written.
    """
    path = index_path(out)
    entries = _listed_before(path)
    before: dict[str, str] = {entry.file: entry.state for entry in entries.values()}
    entries |= written or {}
    for _ in range(_LOOKS):
        there = _debriefs(out)
        if there == before:
            return
        entries = {
            name: known
            if (known := entries.get(name)) and known.state == state
            else _read_entry(out / name, state)
            for name, state in there.items()
        }
        if entries:
            write_text_whole(path, _index_page(list(entries.values())))
        before = there


def _debriefs(out: Path) -> dict[str, str]:
    """List the JSON files of a folder, each with a mark that changes when it does."""
    found = {}
    try:
        with os.scandir(out) as there:
            for one in there:
                if one.name.endswith(".json") and not one.name.startswith("."):
                    found[one.name] = mark_of(one.stat())
    except OSError:
        # A folder that is not there has no debriefs; a file that vanished meanwhile is missed at the next look.
        pass
    return found


def mark_of(state: os.stat_result) -> str:
    """Return a mark that changes when a file does."""
    return f"{state.st_mtime_ns}-{state.st_size}"


def _read_entry(data: Path, state: str) -> ListedDebrief:
    try:
        text = data.read_text(encoding="utf-8")
        if is_debrief(text[:100]) and data.with_suffix(".html").exists():
            return entry_of(WrittenDebrief.from_json(json.loads(text)), data, state)
    except (OSError, ValueError):
        # Files of other kinds in the folder must not make the list fail.
        pass
    return ListedDebrief(data.name, state, "", "")


def _listed_before(path: Path) -> dict[str, ListedDebrief]:
    """Read the entries of the list as it stands, if this version wrote it."""
    from html import unescape

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
    return f'<meta name="generator" content="analyser list of debriefs {version}' in head_of(path, 400)


def entry_of(document: WrittenDebrief, data: Path, state: str) -> ListedDebrief:
    """Write the entry of one debrief, with its JSON and :func:`mark_of` that; its page has the same name."""
    when = document.log.start_utc
    body = (
        environment()
        .get_template("index_entry.html")
        .render(
            address=quote(os.fsencode(data.with_suffix(".html").name)),
            log=document.log.name,
            begun=datetime.fromisoformat(when) if when else None,
            holds=document.holds,
            said=first_sentence,
            course=_course,
            miss=sentence(document.nearest_miss or "Nothing came near one"),
            thumbnail=_thumbnail(document.holds),
        )
    )
    return ListedDebrief(data.name, state, when or "", " ".join(body.split()))


def _index_page(entries: Sequence[ListedDebrief]) -> str:
    """Write the page of entries that come in any order."""
    # Newest first; those without a date last, by name.
    by_name = sorted(entries, key=lambda entry: entry.file)
    ordered = sorted(by_name, key=lambda entry: entry.when, reverse=True)
    return render(
        "index.html",
        "index.css",
        version=__version__,
        shown=[entry for entry in ordered if entry.html],
        # What is no debrief leaves a line that is not shown, so that it is not read again each time.
        passed_over=[entry for entry in ordered if not entry.html],
    )


def _course(hold: WrittenHold) -> str:
    magnetic = hold.inbound_course_magnetic
    course = hold.inbound_course_true if magnetic is None else magnetic
    return f"{whole_direction(course):03d}°{'T' if magnetic is None else 'M'}"


def first_sentence(hold: WrittenHold) -> str:
    """Return what the debrief page says first of a hold: its worst finding, or the best where nothing was amiss.

    A debrief of an earlier schema has no findings: of its verdict the first sentence but for how many circuits were
    flown, which stands beside it.
    """
    if hold.findings:
        return hold.findings[0].sentence
    sentences = _SENTENCE_END.split(hold.verdict)
    return next((one for one in sentences if not _COUNT.fullmatch(one)), sentences[0])


def _thumbnail(holds: Sequence[WrittenHold]) -> Markup | None:
    """Draw the flown path of the first hold, its fix as a dot."""
    path = holds[0].flown_path if holds else None
    if path is None:
        return None
    points = [
        (east, -north)
        for east, north in zip(path.east_nm, path.north_nm, strict=True)
        if east is not None and north is not None
    ]
    if len(points) < 2:
        return None
    across = [0.0, *(x for x, _ in points)]
    down = [0.0, *(y for _, y in points)]
    wide, high = max(across) - min(across), max(down) - min(down)
    scale = min((_WIDTH - 2 * _MARGIN) / max(wide, 1e-6), (_HEIGHT - 2 * _MARGIN) / max(high, 1e-6))

    def placed(x: float, y: float) -> str:
        right = 0.5 * _WIDTH + scale * (x - min(across) - 0.5 * wide)
        below = 0.5 * _HEIGHT + scale * (y - min(down) - 0.5 * high)
        return f"{right:.1f},{below:.1f}"

    path_nm = np.array(points)
    east, south = thin(path_nm[:, 0], path_nm[:, 1], _LEFT_OUT / scale)
    fix = placed(0.0, 0.0).split(",")
    return Markup(
        f'<svg viewBox="0 0 {_WIDTH:g} {_HEIGHT:g}" aria-hidden="true">'
        f'<polyline points="{" ".join(placed(*point) for point in zip(east, south, strict=True))}"/>'
        f'<circle cx="{fix[0]}" cy="{fix[1]}" r="3"/></svg>'
    )
