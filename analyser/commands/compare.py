"""``analyser compare``: a class or a period, item by pilot."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from analyser.commands.book_words import Out, Place, Quiet, Since, Until, first_instant, last_instant


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
    scale: Annotated[
        str, typer.Option(help="Grade scale: a name, or a TOML file of your own.")
    ] = "evidence-1-5",
    show: Annotated[bool, typer.Option("--open", help="Open the page.")] = False,
    logbook: Place = None,
    quiet: Quiet = False,
) -> None:
    """Compare a class: item by pilot, the same exercise side by side, how grades lean."""
    from analyser.logbook.book import Logbook
    from analyser.pages.compare_files import write_comparison
    from analyser.rules.scales import load_scale

    first, last = first_instant(since, "--since"), last_instant(until, "--until")
    with Logbook.open(logbook, create=False) as book:
        sessions = book.sessions(pilots=pilots or None, instructor=instructor, since=first, until=last)
    written = write_comparison(
        sessions,
        out,
        asked_points=load_scale(scale).asked_points,
        since=first.date() if first else None,
        until=last.date() if last else None,
        table=csv,
    )
    if not quiet:
        for said in written.said:
            typer.echo(said)
        for path in filter(None, (written.page, written.table)):
            typer.echo(str(path))
    if show:
        typer.launch(str(written.page))
