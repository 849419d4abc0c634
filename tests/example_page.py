"""The example page kept in ``reports/``: a sample log's debrief, written again by one command.

::

    python -m tests.example_page            writes reports/example.html
    python -m tests.example_page --check    compares it instead; exit status 1 where it differs
"""

from __future__ import annotations

import re
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from analyser.debrief import debrief_track
from analyser.document import written_debrief
from analyser.holds.holdfile import read_hold
from analyser.logs.read import read_log
from analyser.logs.track import Notice, Track
from analyser.pages.page import render_page
from analyser.whole_files import write_text_whole

ROOT = Path(__file__).resolve().parent.parent
EXAMPLE = ROOT / "reports" / "example.html"
LOG = ROOT / "sample_logs" / "first_lesson.gpx"


#: A line of a picture, and how far its reach may differ, in the picture's units: on another processor the last bit of
#: a position can decide whether a point is left out of a line.
_LINE, _NUMBER = re.compile(r' d="([^"]*)"'), re.compile(r"-?(?:\d+\.?\d*|\.\d+)")
_PIECE = re.compile(r"[Mm]([^l]*)l([^mz]*)(z?)")
_REACH_UNITS = 0.1


def alike(one: str, other: str) -> bool:
    """Tell whether two pages are the same: every character but the lines' points, and every line's reach."""
    if _LINE.sub(' d=""', one) != _LINE.sub(' d=""', other):
        return False
    reaches = zip(*(map(_reach, _LINE.findall(page)) for page in (one, other)), strict=True)
    return all(abs(a - b) <= _REACH_UNITS for pair in reaches for a, b in zip(*pair, strict=True))


def _reach(line: str) -> tuple[float, float]:
    places = [np.zeros((1, 2)), *followed(line)]
    return float(np.concatenate(places).min()), float(np.concatenate(places).max())


def followed(line: str) -> list[NDArray[np.float64]]:
    """Follow a path's steps: the places of each of its pieces.

    Parameters
    ----------
    line : str
        ``d`` of a path written with ``M``, ``m``, ``l`` and ``z``.
    """
    pieces, start = [], np.zeros(2)
    for move, steps, closed in _PIECE.findall(line):
        numbers = [np.array(_NUMBER.findall(part), float).reshape(-1, 2) for part in (move, steps)]
        places = np.cumsum(np.concatenate([numbers[0] + start, numbers[1]]), axis=0)
        start = places[0] if closed else places[-1]
        pieces.append(places)
    return pieces


def page_of(log: Path, hold_file: Path | None = None) -> str:
    """Debrief the first track of a log and return its page."""
    (track, *_) = read_log(log)
    return _page(track, hold_file)


def _page(track: Track, hold_file: Path | None) -> str:
    hold = None if hold_file is None else read_hold(hold_file, track.start_utc)
    made = debrief_track(track, hold=hold)
    return render_page(made, written_debrief(made))


def example() -> str:
    """Return the example page as it should be."""
    (track, *_) = read_log(LOG)
    said = Notice(
        "invented", "This flight is invented: the fix lies in the open ocean, and nobody flew there."
    )
    return _page(replace(track, notices=(*track.notices, said)), LOG.with_suffix(".toml"))


def main(arguments: list[str]) -> int:
    """Write the example page, or compare it."""
    if arguments == ["--check"]:
        same = EXAMPLE.exists() and alike(EXAMPLE.read_text(encoding="utf-8"), example())
        sys.stdout.write(
            "the example page is up to date\n" if same else "run: python -m tests.example_page\n"
        )
        return 0 if same else 1
    write_text_whole(EXAMPLE, example())
    sys.stdout.write(f"{EXAMPLE.relative_to(ROOT)}: {EXAMPLE.stat().st_size / 1000:.0f} kB\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
