"""A pilot's progress as files: the page, and the next exercise's hold file and kneeboard card."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from analyser.errors import UsageError
from analyser.logbook.names import clean_name, name_key
from analyser.logbook.progress import Progress, progress_of
from analyser.logbook.sessions import Session
from analyser.pages.progress import progress_page, summary
from analyser.pages.write import write_text_whole
from analyser.rules.scales import Scale


@dataclass(frozen=True)
class Written:
    """What was written.

    Attributes
    ----------
    page : Path
    card, hold : Path or None
        Of the next exercise.
    said : list of str
        The summary's sentences.
    """

    page: Path
    card: Path | None
    hold: Path | None
    said: list[str]


def write_progress(pilot: str, sessions: Sequence[Session], out: Path, *, scale: Scale, on: date) -> Written:
    """Write a pilot's progress page and what goes with it.

    Parameters
    ----------
    pilot : str
        In any spelling of case.
    sessions : sequence of Session
        The whole logbook's.
    out : Path
        Folder.
    scale : Scale
    on : date
        Day for which recency is stated.

    Returns
    -------
    Written

    Raises
    ------
    UsageError
        The logbook has no session of that pilot.
    ReportError
        A file could not be written.
    """
    name = _known(pilot, sessions)
    found = progress_of(name, sessions, scale=scale, on=on)
    stem = f"progress-{file_stem(name)}"
    card, hold = _exercise(found, out, stem)
    page = out / f"{stem}.html"
    write_text_whole(
        page,
        progress_page(found, card_file=card.name if card else "", hold_file=hold.name if hold else ""),
    )
    return Written(page, card, hold, summary(found))


def _known(pilot: str, sessions: Sequence[Session]) -> str:
    key = name_key(clean_name(pilot))
    names = sorted({one.pilot for one in sessions}, key=str.casefold)
    for name in names:
        if name_key(name) == key:
            return name
    mend = "known: " + ", ".join(names) if names else "debrief a log with --pilot NAME first"
    raise UsageError(f"no session of '{pilot}' is in the logbook", mend=mend)


def _exercise(found: Progress, out: Path, stem: str) -> tuple[Path | None, Path | None]:
    exercise = found.exercise
    if exercise is None:
        return None, None
    hold = out / f"{stem}-exercise.toml"
    write_text_whole(hold, exercise.hold_file())
    if exercise.briefing is None:
        return None, hold
    from analyser.pages.card import card_page
    from analyser.pages.card_writer import card_of

    card = out / f"{stem}-exercise.html"
    write_text_whole(card, card_page(exercise.briefing, card_of(exercise.briefing)))
    return card, hold


def file_stem(name: str) -> str:
    """Turn a person's name into part of a file name that no other name gives.

    Parameters
    ----------
    name : str
        Anything.

    Returns
    -------
    str
        Letters, digits, hyphens and underscores; with a mark at the end where something had to change.
    """
    plain = re.sub(r"[^\w-]+", "_", name).strip("_") or "pilot"
    if plain == name.replace(" ", "_") and "_" not in name and len(plain) <= 60:
        return plain
    return f"{plain[:60]}-{hashlib.sha256(name.encode()).hexdigest()[:6]}"
