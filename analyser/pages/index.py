"""The page that lists all debriefs of a folder, newest first."""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from datetime import datetime
from typing import Any
from urllib.parse import quote

import numpy as np
from markupsafe import Markup

from analyser import __version__
from analyser.earth.angles import whole_direction
from analyser.frozen import dataclass
from analyser.pages.figures.canvas import thin
from analyser.pages.template import environment, render
from analyser.schema.debrief_file import WrittenDebrief, WrittenHold

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


def entry_of(document: WrittenDebrief, file: str, page: str, state: str) -> ListedDebrief:
    """Write the entry of one debrief, with the names of its JSON and its page."""
    when = document.log.start_utc
    body = (
        environment()
        .get_template("index_entry.html")
        .render(
            address=quote(os.fsencode(page)),
            log=document.log.name,
            begun=datetime.fromisoformat(when) if when else None,
            holds=[_hold(hold) for hold in document.holds],
            miss=_sentence(document.nearest_miss or "Nothing came near one"),
            thumbnail=_thumbnail(document.holds),
        )
    )
    return ListedDebrief(file, state, when or "", " ".join(body.split()))


def index_page(entries: Sequence[ListedDebrief]) -> str:
    """Write the page of entries that come in any order."""
    # Newest first; those without a date last, by name.
    by_name = sorted(entries, key=lambda entry: entry.file)
    ordered = sorted(by_name, key=lambda entry: entry.when, reverse=True)
    page = render(
        "index.html",
        "index.css",
        version=__version__,
        shown=[entry for entry in ordered if entry.html],
        # What is no debrief leaves a line that is not shown, so that it is not read again each time.
        passed_over=[entry for entry in ordered if not entry.html],
    )
    # The name of a file may hold bytes that are no text.
    return page.encode("utf-8", "replace").decode("utf-8")


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:].rstrip('.')}."


def _hold(hold: WrittenHold) -> dict[str, Any]:
    magnetic = hold.inbound_course_magnetic
    course = hold.inbound_course_true if magnetic is None else magnetic
    return {
        "name": hold.name or "Hold",
        "inferred": hold.definition == "inferred",
        "turns": hold.turns,
        "course": f"{whole_direction(course):03d}°{'T' if magnetic is None else 'M'}",
        "circuits": len(hold.circuits),
        "points": hold.points,
        "grade": hold.grade_word,
        "said": first_sentence(hold),
    }


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
