"""``analyser compare``: a class or a period, pilot by item."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from analyser.commands.book_words import (
    Out,
    Place,
    Quiet,
    ScaleName,
    Since,
    Until,
    first_instant,
    last_instant,
    open_book,
)


def compare(
    pilots: Annotated[
        list[str] | None, typer.Argument(help="Whom; by default everybody.", show_default=False)
    ] = None,
    instructor: Annotated[
        str | None, typer.Option(help="Only sessions with this instructor.", show_default=False)
    ] = None,
    since: Since = None,
    until: Until = None,
    out: Out = Path("reports"),
    csv: Annotated[
        Path | None, typer.Option(help="Write every measure into this CSV file too.", show_default=False)
    ] = None,
    scale: ScaleName = "evidence-1-5",
    show: Annotated[bool, typer.Option("--open", help="Open the page.")] = False,
    logbook: Place = None,
    quiet: Quiet = False,
) -> None:
    """Compare a class: pilot by item, the same exercise side by side, how grades lean."""
    from analyser.pages.compare_files import write_comparison
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
        typer.echo(f"analyser: {name} has no session in this period or with this instructor", err=True)
    for said in (*written.said, *map(str, files)) if not quiet else ():
        typer.echo(said)
    if show:
        typer.launch(str(written.page))
