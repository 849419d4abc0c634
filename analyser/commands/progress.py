"""``analyser progress``, ``record`` and ``compare``: how pilots and a class are getting on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NamedTuple

import typer

from analyser.commands import options
from analyser.errors import UsageError

if TYPE_CHECKING:
    from analyser.logbook.book import Logbook
    from analyser.rules.scales import Scale

On = Annotated[str | None, options.optional("Day of flight for which recency is stated, by default today.")]


class _Writing(NamedTuple):
    """Pages under way: from which logbook, where to, and on which scale."""

    book: Logbook
    out: Path
    scale: Scale
    quiet: bool
    show: bool

    def end(self, page: Path, files: Sequence[tuple[Path, str | None]], said: Sequence[str] = ()) -> None:
        """Note what was written, with whose names in it (None: everybody's), tell of it, and show the page."""
        self.book.note_files(files)
        for line in said if not self.quiet else ():
            typer.echo(line)
        if self.show:
            typer.launch(str(page))


@contextmanager
def _writing(
    out: options.Out = Path(options.REPORTS),
    scale: options.ScaleName = "evidence-1-5",
    show: options.Show = False,
    logbook: options.Place = None,
    quiet: options.Quiet = False,
) -> Iterator[_Writing]:
    from analyser.rules.scales import load_scale

    levels = load_scale(scale)
    with options.open_book(logbook) as book:
        yield _Writing(book, out, levels, quiet, show)


@options.with_options_of(writing=_writing)
def progress(
    *,
    pilot: Annotated[str | None, options.argument("Whose.")] = None,
    everybody: Annotated[
        bool, typer.Option("--all", help="Everybody's pages and records, and the class at a glance.")
    ] = False,
    on: On = None,
    writing: _Writing,
) -> None:
    """Write a pilot's progress page: each item over time, the weakest one, and the next exercise."""
    from analyser.pages.progress_files import write_progress

    if everybody == (pilot is not None):
        mend = "analyser progress NAME, or analyser progress --all"
        raise UsageError("name a pilot, or everybody", mend=mend)
    if pilot is None:
        _everybody(writing, _day(on))
        return
    (name,) = writing.book.known_pilots([pilot])
    written = write_progress(name, writing.book.sessions(), writing.out, scale=writing.scale, on=_day(on))
    said = [*written.said, *map(str, written.files)]
    writing.end(written.page, [(path, name) for path in written.files], said)


def _everybody(writing: _Writing, day: date) -> None:
    from analyser.commands.screen import steps
    from analyser.pages.progress_files import write_class

    sessions, trail = writing.book.sessions(), writing.book.trail()
    if not sessions:
        raise UsageError("no session is in the logbook", mend="debrief a log with --pilot NAME first")
    files: list[tuple[Path, str | None]] = []
    with steps("pilots", len({one.pilot for one in sessions}), quiet=writing.quiet) as step:

        def done(pilot: str, written: Sequence[Path]) -> None:
            files.extend((path, pilot) for path in written)
            step()

        index, states = write_class(sessions, trail, writing.out, scale=writing.scale, on=day, done=done)
    counts = ", ".join(f"{count} {state}" for state, count in states.items())
    writing.end(index, [*files, (index, None)], [counts, str(index)])


@options.with_options_of(writing=_writing)
def record(*, pilot: Annotated[str, options.argument("Whose.")], on: On = None, writing: _Writing) -> None:
    """Write a student's record, to read and to print: sessions, grades, remarks, standards met and open items."""
    from analyser.logbook.progress import progress_of
    from analyser.pages.progress_files import write_record

    book = writing.book
    (name,) = book.known_pilots([pilot])
    sessions = book.sessions()
    found = progress_of(name, sessions, scale=writing.scale, on=_day(on))
    own = [one for one in sessions if one.pilot == name]
    page = write_record(found, own, book.trail(pilot=name), writing.out)
    writing.end(page, [(page, name)], [str(page)])


@options.with_options_of(period=options.period, writing=_writing)
def compare(
    *,
    pilots: Annotated[list[str] | None, options.argument("Whom; by default everybody.")] = None,
    instructor: options.OnlyInstructor = None,
    period: tuple[datetime | None, datetime | None],
    csv: Annotated[Path | None, options.optional("Write every measure into this CSV file too.")] = None,
    writing: _Writing,
) -> None:
    """Compare a class: pilot by item, the same exercise side by side, how grades lean."""
    from analyser.pages.compare import write_comparison

    book, (first, last) = writing.book, period
    sessions = book.sessions(pilots=pilots or None, instructor=instructor, since=first, until=last)
    days = {"since": first.date() if first else None, "until": last.date() if last else None}
    written = write_comparison(sessions, writing.out, scale=writing.scale, table=csv, **days)
    there = {one.pilot for one in sessions}
    for name in book.known_pilots(pilots or ()):
        if name not in there:
            options.warn(f"{name} has no session in this period or with this instructor")
    files = [path for path in (written.page, written.table) if path]
    writing.end(written.page, [(path, None) for path in files], [*written.said, *map(str, files)])


def _day(on: str | None) -> date:
    return (options.first_instant(on, "--on") or datetime.now(UTC)).date()
