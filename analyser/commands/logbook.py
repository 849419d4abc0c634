"""``analyser logbook …``: what is in the logbook, and moving, erasing and copying it."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from analyser.commands.book_words import Place, Quiet, Since, Until, first_instant, instant, last_instant
from analyser.errors import UsageError

app = typer.Typer(
    name="logbook",
    help="See, move, erase, export and import what has been recorded. Nothing leaves this machine.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
Pilot = Annotated[str | None, typer.Option(help="Only this pilot's.", show_default=False)]
Session = Annotated[str, typer.Argument(help="Its reference, or 'last'.", show_default=False)]
File = Annotated[str, typer.Argument(help="A file, or - for the standard stream.", show_default=False)]


@app.command("list")
def list_sessions(
    pilot: Pilot = None,
    instructor: Annotated[
        str | None, typer.Option(help="Only with this instructor.", show_default=False)
    ] = None,
    since: Since = None,
    until: Until = None,
    logbook: Place = None,
) -> None:
    """List the sessions: reference, day, pilot, holds and points."""
    from analyser.logbook.book import Logbook
    from analyser.logbook.listing import listing

    first, last = first_instant(since, "--since"), last_instant(until, "--until")
    with Logbook.open(logbook, create=False) as book:
        found = book.sessions(pilot=pilot, instructor=instructor, since=first, until=last)
    for line in listing(found):
        typer.echo(line)


@app.command()
def where(logbook: Place = None) -> None:
    """Print where the logbook is."""
    from analyser.logbook.place import find_place

    typer.echo(find_place(logbook).shown)


@app.command()
def move(
    session: Session,
    pilot: Annotated[str, typer.Option(help="Who flew it.", show_default=False)],
    logbook: Place = None,
    quiet: Quiet = False,
) -> None:
    """Say that another pilot flew a session."""
    from analyser.logbook.book import Logbook

    with Logbook.open(logbook, create=False) as book:
        moved = book.move(session, pilot=pilot)
    if not quiet:
        typer.echo(f"{moved.reference}: flown by {moved.pilot}")


@app.command()
def date(
    session: Session,
    day: Annotated[str, typer.Argument(help="2026-03-14, or 2026-03-14T18:30 (UTC).", show_default=False)],
    logbook: Place = None,
    quiet: Quiet = False,
) -> None:
    """Say when a session was flown, where its log has no date."""
    from analyser.logbook.book import Logbook

    flown = instant(day, "DAY")
    with Logbook.open(logbook, create=False) as book:
        dated = book.date(session, flown)
    if not quiet:
        typer.echo(f"{dated.reference}: flown {dated.when:%Y-%m-%d %H:%M} UTC")


@app.command()
def forget(
    pilot: Annotated[str, typer.Argument(help="Whom to erase.", show_default=False)],
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask.")] = False,
    copies: Annotated[
        bool, typer.Option("--copies", help="Erase the copies of older logbooks too (all they hold).")
    ] = False,
    logbook: Place = None,
    quiet: Quiet = False,
) -> None:
    """Erase a person: every session that the person flew, and the name wherever else it stands."""
    from analyser.logbook.book import Logbook

    with Logbook.open(logbook, create=False) as book:
        count = {name.casefold(): number for name, number in book.pilots().items()}.get(pilot.casefold(), 0)
        if not yes:
            if not sys.stdin.isatty():
                raise UsageError("erasing cannot be undone", mend="say --yes if it is meant")
            question = f"Erase {pilot} and {count} sessions from {book.place.shown}? This cannot be undone."
            typer.confirm(question, abort=True)
        erased = book.forget(pilot)
        gone = book.erase_copies() if copies else ()
    if not quiet:
        typer.echo(f"erased: {erased.sessions} sessions; the name in {erased.elsewhere} other places")
        for one in gone:
            typer.echo(f"erased: {one}")
    for one in erased.backups if not copies else ():
        typer.echo(
            f"analyser: {one}: this copy of an older logbook may still hold the name (--copies erases it)",
            err=True,
        )


@app.command("export")
def export_lines(file: File, logbook: Place = None, quiet: Quiet = False) -> None:
    """Write the whole logbook as JSON lines; nothing is lost by it."""
    from analyser.commands.shown import steps
    from analyser.logbook.book import Logbook

    with Logbook.open(logbook, create=False) as book:
        total = sum(book.pilots().values())
        with steps("exporting", total, quiet=quiet) as step:
            if file == "-":
                count = book.export(sys.stdout, done=lambda *_: step(""))
            else:
                count = book.export_file(Path(file), done=lambda *_: step(""))
    if not quiet:
        typer.echo(f"{count} sessions written to {file}", err=file == "-")


@app.command("import")
def import_lines(file: File, logbook: Place = None, quiet: Quiet = False) -> None:
    """Take over an export; a session that is here already is completed, never doubled."""
    from analyser.commands.shown import steps
    from analyser.logbook.book import Logbook

    with Logbook.open(logbook) as book, steps("importing", None, quiet=quiet) as step:
        if file == "-":
            taken = book.import_(sys.stdin, name="standard input", done=lambda _: step(""))
        else:
            taken = book.import_file(Path(file), done=lambda _: step(""))
    if not quiet:
        typer.echo(
            f"{taken.new} new sessions, {taken.extended} extended, {taken.already_there} already there"
        )
