"""Pages of pilots as files: progress with the next exercise's hold file and card, the record, the whole class."""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from pathlib import Path

from analyser.frozen import dataclass
from analyser.logbook.classes import STATES, Readiness, readiness
from analyser.logbook.logbook_thresholds import STANDING
from analyser.logbook.marks import title_of
from analyser.logbook.progress import Experience, Progress, learn, progress_of
from analyser.logbook.sessions import Session, TrailEntry
from analyser.logbook.standard import ItemStandard
from analyser.pages.pilot_pages import STYLES, progress_page, record_page, summary
from analyser.pages.progress_charts import changes, lately_words, trend_words
from analyser.pages.template import render
from analyser.pages.words import number, points_words
from analyser.rules.scales import Scale
from analyser.whole_files import write_text_whole


@dataclass(frozen=True)
class Written:
    """What was written for one pilot, the files of the next exercise included, and the summary's sentences."""

    page: Path
    card: Path | None
    hold: Path | None
    said: list[str]
    progress: Progress

    @property
    def files(self) -> list[Path]:
        """All of it."""
        return [one for one in (self.page, self.card, self.hold) if one]


def write_progress(
    pilot: str,
    sessions: Sequence[Session],
    out: Path,
    *,
    scale: Scale,
    on: date,
    experience: Experience | None = None,
    record_file: str = "",
) -> Written:
    """Write a pilot's progress page and what goes with it into a folder, from the whole logbook's sessions.

    Recency is stated for the day ``on``; ``experience`` is worked out before where several pilots' pages are written;
    ``record_file`` is the name of the record beside the page, empty where it is not written.
    """
    found = progress_of(pilot, sessions, scale=scale, on=on, experience=experience)
    stem = f"progress-{file_stem(pilot)}"
    card, hold = _exercise(found, out, stem)
    page = out / f"{stem}.html"
    files = {"card_file": card.name if card else "", "hold_file": hold.name if hold else ""}
    write_text_whole(page, progress_page(found, **files, record_file=record_file))
    return Written(page, card, hold, summary(found), found)


def write_record(
    found: Progress,
    sessions: Sequence[Session],
    trail: Sequence[TrailEntry],
    out: Path,
    *,
    progress_file: str = "",
) -> Path:
    """Write a pilot's record into a folder, as :func:`analyser.pages.pilot_pages.record_page` makes it."""
    page = out / record_name(found.pilot)
    write_text_whole(page, record_page(found, sessions, trail, progress_file=progress_file))
    return page


def record_name(pilot: str) -> str:
    """Return the file name of a pilot's record."""
    return f"record-{file_stem(pilot)}.html"


def write_class(
    sessions: Sequence[Session],
    trail: Sequence[TrailEntry],
    out: Path,
    *,
    scale: Scale,
    on: date,
    done: Callable[[str, Sequence[Path]], None] | None = None,
) -> tuple[Path, Mapping[str, int]]:
    """Write every pilot's progress page and record (``done`` is told of them), and the class's index."""
    known = learn(sessions)
    members = []
    for pilot in sorted(known.marks, key=str.casefold):
        own = [one for one in sessions if one.pilot == pilot]
        references = {one.reference for one in own}
        record = record_name(pilot)
        written = write_progress(
            pilot, sessions, out, scale=scale, on=on, experience=known, record_file=record
        )
        about = [one for one in trail if one.session in references]
        page = write_record(written.progress, own, about, out, progress_file=written.page.name)
        members.append(Member(written.progress, readiness(written.progress), written.page.name, record))
        if done:
            done(pilot, [*written.files, page])
    index = out / "class.html"
    write_text_whole(index, class_page(members, on=on))
    return index, Counter(one.readiness.state for one in members)


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

    Letters, digits, hyphens and underscores; with a mark at the end where something had to change.
    """
    plain = re.sub(r"[^\w-]+", "_", name).strip("_") or "pilot"
    if plain == name.replace(" ", "_") and "_" not in name and len(plain) <= 60:
        return plain
    return f"{plain[:60]}-{hashlib.sha256(name.encode()).hexdigest()[:6]}"


@dataclass(frozen=True)
class Member:
    """One pilot of the class, with the names of the pages beside the index."""

    progress: Progress
    readiness: Readiness
    page: str
    record: str


def class_page(members: Sequence[Member], *, on: date) -> str:
    """Write the class's index: a complete HTML document without a script."""
    ordered = sorted(
        members, key=lambda one: (STATES.index(one.readiness.state), one.progress.pilot.casefold())
    )
    asked = members[0].progress.asked_points if members else 0.0
    return render(
        "class.html",
        *STYLES,
        rows=ordered,
        counts=[(state, sum(one.readiness.state == state for one in members)) for state in STATES],
        asked=number(asked),
        least=STANDING.least_sessions,
        on=on,
        why=why_words,
        change=lambda one: trend_words(one) if one and changes(one) else "",
        last_flown=_last_flown,
        titles=_titles,
    )


def _titles(items: Sequence[ItemStandard]) -> str:
    return ", ".join(title_of(one.item).lower() for one in items)


def _last_flown(found: Progress) -> str:
    dated = [one.flown for one in found.sessions if one.flown]
    return f"{max(dated):%Y-%m-%d}" if dated else "no dates" if found.sessions else ""


def why_words(progress: Progress, found: Readiness) -> str:
    """Say why a pilot stands where the index puts the pilot."""
    said = []
    if found.unsafe:
        said.append(f"unsafe in {found.unsafe} of the latest sessions")
    for one in found.below[:3]:
        if one.count is not None:
            said.append(f"{one.item.title.lower()} {lately_words(one.count)}")
        else:
            first = f", at first {number(one.first_points)}" if len(one.marks) >= 2 * one.now.sessions else ""
            now = points_words(one.now.points, progress.asked_points)
            worse = ", getting worse" if one.trend and one.trend.verdict == "worse" else ""
            said.append(f"{one.item.title.lower()} {now}{first}{worse}")
    falling = [one for one in progress.items if one.trend and one.trend.verdict == "worse"]
    others = [one.item.title.lower() for one in falling if one not in found.below]
    if others:
        said.append("getting worse: " + ", ".join(others))
    if len(found.below) > 3:
        said.append(f"{len(found.below) - 3} more items below")
    if not said and found.open:
        said.append(f"graded below the standard: {_titles(found.open)}")
    if not said:
        return "" if progress.items else "nothing judged yet"
    return "; ".join(said)
