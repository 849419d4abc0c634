"""``analyser progress``, ``record`` and ``compare``: how pilots and a class are getting on."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from analyser.commands.options import (
    OnlyInstructor,
    Out,
    Place,
    Quiet,
    ScaleName,
    Show,
    Since,
    Until,
    argument,
    first_instant,
    last_instant,
    open_book,
    optional,
    warn,
)
from analyser.errors import UsageError

if TYPE_CHECKING:
    from analyser.logbook.book import Logbook

On = Annotated[str | None, optional("Day of flight for which recency is stated, by default today.")]


def progress(
    pilot: Annotated[str | None, argument("Whose.")] = None,
    everybody: Annotated[
        bool, typer.Option("--all", help="Everybody's pages and records, and the class at a glance.")
    ] = False,
    out: Out = Path("reports"),
    scale: ScaleName = "evidence-1-5",
    on: On = None,
    show: Show = False,
    logbook: Place = None,
    quiet: Quiet = False,
) -> None:
    """Write a pilot's progress page: each item over time, the weakest one, and the next exercise."""
    from analyser.pages.progress_files import write_progress
    from analyser.rules.scales import load_scale

    if everybody == (pilot is not None):
        raise UsageError(
            "name a pilot, or everybody", mend="analyser progress NAME, or analyser progress --all"
        )
    day, levels = _day(on), load_scale(scale)
    with open_book(logbook) as book:
        if pilot is None:
            page = _everybody(book, out, scale, day, quiet=quiet)
        else:
            (name,) = book.known_pilots([pilot])
            written = write_progress(name, book.sessions(), out, scale=levels, on=day)
            page = written.page
            book.note_files([(path, name) for path in written.files])
            _tell([*written.said, *map(str, written.files)], quiet)
    if show:
        typer.launch(str(page))


def _everybody(book: Logbook, out: Path, scale: str, day: date, *, quiet: bool) -> Path:
    from analyser.commands.screen import steps
    from analyser.pages.progress_files import write_class
    from analyser.rules.scales import load_scale

    sessions, trail = book.sessions(), book.trail()
    if not sessions:
        raise UsageError("no session is in the logbook", mend="debrief a log with --pilot NAME first")
    pilots = len({one.pilot for one in sessions})
    files: list[tuple[Path, str | None]] = []
    with steps("pilots", pilots, quiet=quiet) as step:

        def done(pilot: str, written: Sequence[Path]) -> None:
            files.extend((path, pilot) for path in written)
            step("")

        index, states = write_class(sessions, trail, out, scale=load_scale(scale), on=day, done=done)
    book.note_files([*files, (index, None)])
    _tell([", ".join(f"{count} {state}" for state, count in states.items()), str(index)], quiet)
    return index


def record(
    pilot: Annotated[str, argument("Whose.")],
    out: Out = Path("reports"),
    scale: ScaleName = "evidence-1-5",
    on: On = None,
    show: Show = False,
    logbook: Place = None,
    quiet: Quiet = False,
) -> None:
    """Write a student's record, to read and to print: sessions, grades, remarks, standards met and open items."""
    from analyser.logbook.progress import progress_of
    from analyser.pages.progress_files import write_record
    from analyser.rules.scales import load_scale

    day = _day(on)
    with open_book(logbook) as book:
        (name,) = book.known_pilots([pilot])
        sessions = book.sessions()
        found = progress_of(name, sessions, scale=load_scale(scale), on=day)
        own = [one for one in sessions if one.pilot == name]
        page = write_record(found, own, book.trail(pilot=name), out)
        book.note_files([(page, name)])
    _tell([str(page)], quiet)
    if show:
        typer.launch(str(page))


def compare(
    pilots: Annotated[list[str] | None, argument("Whom; by default everybody.")] = None,
    instructor: OnlyInstructor = None,
    since: Since = None,
    until: Until = None,
    out: Out = Path("reports"),
    csv: Annotated[Path | None, optional("Write every measure into this CSV file too.")] = None,
    scale: ScaleName = "evidence-1-5",
    show: Show = False,
    logbook: Place = None,
    quiet: Quiet = False,
) -> None:
    """Compare a class: pilot by item, the same exercise side by side, how grades lean."""
    from analyser.pages.compare import write_comparison
    from analyser.rules.scales import load_scale

    first, last = first_instant(since, "--since"), last_instant(until, "--until")
    levels = load_scale(scale)
    with open_book(logbook) as book:
        sessions = book.sessions(pilots=pilots or None, instructor=instructor, since=first, until=last)
        days = (first.date() if first else None, last.date() if last else None)
        written = write_comparison(sessions, out, scale=levels, since=days[0], until=days[1], table=csv)
        files = [path for path in (written.page, written.table) if path]
        book.note_files([(path, None) for path in files])
        there = {one.pilot for one in sessions}
        missing = [name for name in book.known_pilots(pilots or ()) if name not in there]
    for name in missing:
        warn(f"{name} has no session in this period or with this instructor")
    _tell([*written.said, *map(str, files)], quiet)
    if show:
        typer.launch(str(written.page))


def _day(on: str | None) -> date:
    return (first_instant(on, "--on") or datetime.now(UTC)).date()


def _tell(lines: Sequence[str], quiet: bool) -> None:
    for line in lines if not quiet else ():
        typer.echo(line)
