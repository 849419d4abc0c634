"""``analyser logbook …``: what is in the logbook; putting it right, erasing from it, and carrying it elsewhere."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal, NamedTuple

import typer

from analyser.commands import options
from analyser.errors import LogbookError, UsageError
from analyser.logbook.names import JOINERS, counted

if TYPE_CHECKING:
    from analyser.logbook.corrections import Corrections
    from analyser.logbook.documents import LoggedHold
    from analyser.logbook.exchange import Imported
    from analyser.logbook.sessions import GivenAs
    from analyser.logbook.sessions import Session as KeptSession

app = typer.Typer(
    name="logbook",
    help="See, put right, erase, export and import what has been recorded. Nothing leaves this machine.",
    no_args_is_help=True,
    rich_markup_mode=None,
    add_completion=False,
)
Pilot = Annotated[str | None, options.optional("Only this pilot's.")]
Session = Annotated[str, options.argument("Its reference, or 'last'.")]
File = Annotated[str, options.argument("A file, or - for the standard stream.")]
#: One long name must not push everybody's holds off the screen.
_LONGEST_NAME = 26
#: What is said after a change, so that it can be taken back.
_UNDO = "analyser logbook trail shows this change, analyser logbook undo takes it back"


@app.command("list")
@options.with_options_of(period=options.period)
def list_sessions(
    *,
    pilot: Pilot = None,
    instructor: options.OnlyInstructor = None,
    period: tuple[datetime | None, datetime | None],
    logbook: options.Place = None,
) -> None:
    """List the sessions: reference, day, pilot, holds and points."""
    with options.open_book(logbook) as book:
        pilots = None if pilot is None else [pilot]
        found = book.sessions(pilots=pilots, instructor=instructor, since=period[0], until=period[1])
    for line in _listing(found):
        typer.echo(line)


def _listing(sessions: Sequence[KeptSession]) -> Iterator[str]:
    if not sessions:
        yield "no sessions"
    width = min(_LONGEST_NAME, max((len(one.pilot) for one in sessions), default=0))
    for one in sessions:
        day = f"{one.when:%Y-%m-%d}" + (" " if one.flown else "?")
        holds = "; ".join(_hold(hold) for hold in one.holds) or "no hold"
        graded = len({(hold, item) for hold, item, _ in one.standing_grades()})
        extra = f"; {counted(graded, 'item')} graded" if graded else ""
        again = f"; {counted(len(one.earlier), 'earlier debrief')} kept" if one.earlier else ""
        line = f"{one.reference}  {day}  {one.pilot:<{width}}  {one.log_name}: {holds}{extra}{again}"
        yield _printable(line)


def _hold(hold: LoggedHold) -> str:
    said = "not judged" if hold.points is None else f"{hold.points:.0f} points"
    return f"hold {hold.number} {hold.name}".rstrip() + f", {counted(len(hold.circuits), 'circuit')}, {said}"


def _printable(line: str) -> str:
    return "".join(sign if sign.isprintable() or sign in JOINERS else "\ufffd" for sign in line)


@app.command()
def where(logbook: options.Place = None) -> None:
    """Print where the logbook is."""
    from analyser.logbook.engine import find_place

    typer.echo(find_place(logbook).shown)


@app.command()
def trail(
    session: Annotated[str | None, options.argument("Only of this session.")] = None,
    logbook: options.Place = None,
) -> None:
    """Print what was changed by hand: number, when, by whom, what stood before, and why."""
    with options.open_book(logbook) as book:
        found = book.trail(session)
    if not found:
        typer.echo("no changes")
    for one in found:
        about = f"  {one.session}" if one.session else ""
        why = f" ({one.why})" if one.why else ""
        undone = "  [undone]" if one.undone else ""
        by = one.by or "somebody erased"
        line = f"{one.number:>4}  {one.changed:%Y-%m-%d %H:%M}  {by}{about}  {one.said}{why}{undone}"
        typer.echo(_printable(line))


class _Change(NamedTuple):
    """A change that somebody makes by hand."""

    put: Corrections
    quiet: bool

    def tell(self, said: str) -> None:
        if not self.quiet:
            typer.echo(said)
            typer.echo(_UNDO, err=True)


@contextmanager
def _change(
    by: options.By = None,
    why: Annotated[str, options.optional("Why, for the trail.")] = "",
    logbook: options.Place = None,
    quiet: options.Quiet = False,
) -> Iterator[_Change]:
    with options.open_book(logbook) as book:
        yield _Change(book.corrected(by=options.who(by), why=why), quiet)


@app.command()
@options.with_options_of(change=_change)
def move(
    *,
    session: Session,
    pilot: Annotated[str, options.optional("Who flew it.")],
    own_grades: Annotated[
        Literal["withdraw", "carry"],
        typer.Option(help="What becomes of the grades that the first pilot gave as the one who flew."),
    ] = "withdraw",
    change: _Change,
) -> None:
    """Say that another pilot flew a session."""
    change.tell(change.put.move(session, pilot=pilot, carry_own=own_grades == "carry"))


@app.command("set")
@options.with_options_of(change=_change)
def set_about(
    *,
    session: Session,
    instructor: options.Instructor = None,
    device: options.Device = None,
    lesson: options.Lesson = None,
    change: _Change,
) -> None:
    """Say anew who instructed a session, on what, and which lesson it was."""
    change.tell(change.put.set_about(session, instructor=instructor, device=device, lesson=lesson))


@app.command()
@options.with_options_of(change=_change)
def date(
    *,
    session: Session,
    day: Annotated[str, options.argument("2026-03-14, or 2026-03-14T18:30 (UTC).")],
    change: _Change,
) -> None:
    """Say when a session was flown, where its log has no date."""
    change.tell(change.put.date(session, options.flight_instant(day, "DAY")))


@app.command()
@options.with_options_of(change=_change)
def rename(
    *,
    name: Annotated[str, options.argument("A pilot or an instructor.")],
    to: Annotated[str, options.argument("The right name.")],
    merge: Annotated[
        bool, typer.Option("--merge", help="Both names are one person: make one of the two.")
    ] = False,
    change: _Change,
) -> None:
    """Put a name right, once for all places."""
    change.tell(change.put.rename(name, to, merge=merge))


@app.command()
@options.with_options_of(change=_change)
def withdraw(
    *,
    session: Session,
    item: Annotated[
        list[str], typer.Option(help="Item whose grade is withdrawn, or 'all'; may be repeated.")
    ],
    hold: options.HoldNumber = 1,
    own: Annotated[bool, typer.Option("--own", help="The pilot's own grade.")] = False,
    grader: Annotated[str | None, options.optional("Whose grade, by default the one that stands.")] = None,
    change: _Change,
) -> None:
    """Take back a grade. It is kept and no longer counts; the one before it stands again."""
    given_as: GivenAs = "pilot" if own else "instructor"
    for said in item:
        key = said.strip().lower().replace(" ", "_")
        change.tell(change.put.withdraw(session, key, hold=hold, given_as=given_as, grader=grader))


@app.command()
@options.with_options_of(change=_change)
def delete(*, session: Session, change: _Change) -> None:
    """Take a session out of the logbook. It can be put back; 'forget' erases for good."""
    change.tell(change.put.take_out(session))


@app.command()
@options.with_options_of(change=_change)
def undo(
    *, number: Annotated[int, options.argument("Number of the change in the trail.")], change: _Change
) -> None:
    """Put back what a change replaced."""
    said = change.put.undo(number)
    if not change.quiet:
        typer.echo(said)


@app.command()
def forget(
    pilot: Annotated[str, options.argument("Whom to erase.")],
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask.")] = False,
    copies: Annotated[
        bool, typer.Option("--copies", help="Erase the copies of older logbooks too (all they hold).")
    ] = False,
    logbook: options.Place = None,
    quiet: options.Quiet = False,
) -> None:
    """Erase a person: every session that the person flew, and the name wherever else it stands in the logbook."""
    with options.open_book(logbook) as book:
        name, count = book.person(pilot)
        if not yes:
            if not sys.stdin.isatty():
                raise UsageError("erasing cannot be undone", mend="say --yes if it is meant")
            flown = counted(count, "session")
            question = f"Erase {name} and {flown} from {book.place.shown}? This cannot be undone."
            typer.confirm(question, abort=True)
        erased = book.forget(pilot)
        gone = book.erase_copies() if copies else ()
    if not quiet:
        places = counted(erased.elsewhere, "other place")
        typer.echo(f"erased: {counted(erased.sessions, 'session')}; the name in {places}")
        for one in gone:
            typer.echo(f"erased: {one}")
    for one in erased.copies if not copies else ():
        said = "this copy of an older logbook may still hold the name (--copies erases it)"
        options.warn(f"{one}: {said}")
    for one in erased.files:
        options.warn(f"{one}: this file may hold the name; erase it by hand, or write it anew")
    if not quiet:
        typer.echo(
            "Only the logbook was searched. The name may also stand in remarks, in debrief, progress, compare and\n"
            "record pages, in tables and exports, in saved grade sheets and in logs: those that were copied, moved,\n"
            "written elsewhere or by a program older than this logbook's form are not known here.",
            err=True,
        )


@app.command("export")
def export_lines(file: File, logbook: options.Place = None, quiet: options.Quiet = False) -> None:
    """Write the whole logbook as JSON lines; nothing is lost by it."""
    from analyser.commands.screen import steps

    with options.open_book(logbook) as book, steps("exporting", book.count(), quiet=quiet) as step:
        if file == "-" and sys.__stdout__ is None:
            raise UsageError("standard output is closed", mend="give a file")
        count = book.export(sys.stdout if file == "-" else Path(file), done=step)
    if not quiet:
        typer.echo(f"{counted(count, 'session')} written to {file}", err=file == "-")


@app.command("import")
def import_lines(
    file: File,
    prefer: Annotated[
        Literal["here", "there"] | None,
        typer.Option(help="Whose word counts where the two differ; by default such a session is left."),
    ] = None,
    only_new: Annotated[
        bool, typer.Option("--only-new", help="Leave every session that is here already.")
    ] = False,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Only say what would become of it.")] = False,
    by: options.By = None,
    logbook: options.Place = None,
    quiet: options.Quiet = False,
) -> None:
    """Take over an export; a session that is here already is completed, never doubled."""
    from analyser.commands.screen import steps

    if file != "-" and not Path(file).is_file():
        raise LogbookError("there is no such file", file=file, mend="check the path")
    # A dry run leaves nothing behind, not even a new logbook.
    with (
        options.open_book(logbook, create=not dry_run) as book,
        steps("importing", None, quiet=quiet) as step,
    ):
        taken = book.import_(
            sys.stdin if file == "-" else Path(file),
            name="standard input",
            by=options.who(by),
            prefer=prefer,
            only_new=only_new,
            dry_run=dry_run,
            done=step,
        )
    _tell_import(taken, prefer, dry_run=dry_run, quiet=quiet)


def _tell_import(taken: Imported, prefer: str | None, *, dry_run: bool, quiet: bool) -> None:
    for conflict in taken.conflicts:
        options.warn(_printable(str(conflict)))
    for fault in taken.faults:
        options.warn(_printable(str(fault)))
    if not quiet:
        said = f"{counted(taken.new, 'new session')}, {taken.extended} extended, {taken.already_there} already there"
        left = f", {taken.left} left alone" if taken.left else ""
        differ = f"; {counted(len(taken.conflicts), 'difference')}" if taken.conflicts else ""
        wrong = f"; {counted(len(taken.faults), 'fault')}" if taken.faults else ""
        typer.echo(("dry run, nothing was kept: " if dry_run else "") + said + left + differ + wrong)
        if taken.conflicts and prefer is None:
            options.warn("--prefer here or --prefer there settles the differences")
    if taken.faults or (taken.conflicts and prefer is None):
        raise typer.Exit(1)
