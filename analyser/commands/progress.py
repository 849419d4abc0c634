"""``analyser progress``: how a pilot is getting on, and what to fly next."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from analyser.commands.book_words import Out, Place, Quiet, first_instant


def progress(
    pilot: Annotated[str, typer.Argument(help="Whose.", show_default=False)],
    out: Out = Path("reports"),
    scale: Annotated[
        str, typer.Option(help="Grade scale: a name, or a TOML file of your own.")
    ] = "evidence-1-5",
    on: Annotated[
        str | None,
        typer.Option(help="Day of flight for which recency is stated, by default today.", show_default=False),
    ] = None,
    show: Annotated[bool, typer.Option("--open", help="Open the page.")] = False,
    logbook: Place = None,
    quiet: Quiet = False,
) -> None:
    """Write a pilot's progress page: each item over time, the weakest one, and the next exercise."""
    from datetime import UTC, datetime

    from analyser.logbook.book import Logbook
    from analyser.pages.progress_files import write_progress
    from analyser.rules.scales import load_scale

    day = first_instant(on, "--on") or datetime.now(UTC)
    with Logbook.open(logbook, create=False) as book:
        sessions = book.sessions()
    written = write_progress(pilot, sessions, out, scale=load_scale(scale), on=day.date())
    if not quiet:
        for said in written.said:
            typer.echo(said)
        for path in filter(None, (written.page, written.card, written.hold)):
            typer.echo(str(path))
    if show:
        typer.launch(str(written.page))
