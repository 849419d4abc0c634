"""``analyser grade``: grades into the logbook, from a page's grade sheet or typed in."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from analyser.commands import options
from analyser.errors import AnalyserError, UsageError
from analyser.logbook.names import counted

if TYPE_CHECKING:
    from analyser.logbook.book import Logbook
    from analyser.logbook.sessions import Given
    from analyser.logbook.sheet import TypedSheet

What = Annotated[
    list[str],
    options.argument(
        "Grade sheets saved from a debrief page (JSON files), or a folder of them; or one session: its "
        "reference, or 'last'."
    ),
]


def grade(
    what: What,
    by: Annotated[str | None, options.optional("Instructor, by default the session's.")] = None,
    own: Annotated[
        bool, typer.Option("--own", help="The grades given with --item are the pilot's own.")
    ] = False,
    item: Annotated[
        list[str] | None, options.optional("ITEM=GRADE, or ITEM=GRADE:remark; may be repeated.")
    ] = None,
    hold: options.HoldNumber = 1,
    scale: options.ScaleName = "evidence-1-5",
    required: Annotated[str | None, options.optional("Grade asked for, by default the scale's.")] = None,
    logbook: options.Place = None,
    quiet: options.Quiet = False,
) -> None:
    """Put grades into the logbook. The computed points stay as they are, earlier grades too."""
    from analyser.logbook.sheet import TypedSheet

    files = [Path(one) for one in what if one.lower().endswith(".json") or Path(one).exists()]
    if files and len(files) != len(what):
        raise UsageError("sheets and a session are named together", mend="name files, or one session")
    if not files and len(what) != 1:
        raise UsageError("more than one session is named", mend="grade one at a time")
    if not files and what[0] != "last" and not set(what[0].lower()) <= set("0123456789abcdef-"):
        what_is = "is no file or folder, and no session's reference"
        raise UsageError(
            what_is, file=what[0], mend="check the path; analyser logbook list shows the sessions"
        )
    with options.open_book(logbook) as book:
        if files:
            _files(book, files, scale, quiet=quiet)
            return
        sheet = TypedSheet(book.session(what[0]), hold, scale, required, by or "")
        if item:
            given = [sheet.given(one, own=own) for one in item]
        elif sys.stdin.isatty():
            given = _asked(sheet)
        else:
            raise UsageError("no grade is given", mend="say --item ITEM=GRADE, or run it in a terminal")
        count = sheet.keep(book, given)
    if not quiet:
        typer.echo(f"{sheet.session.reference}: {counted(count, 'grade')} kept")


def _files(book: Logbook, files: list[Path], scale: str, *, quiet: bool) -> None:
    from analyser.logbook.sheet import sheets_in

    found = list(sheets_in(files))
    if not found:
        mend = "a debrief page saves them as ...-grades.json"
        raise UsageError("there is no grade sheet", file=", ".join(map(str, files)), mend=mend)
    if keep_files(book, found, scale, quiet=quiet):
        raise typer.Exit(1)


def keep_files(book: Logbook, files: list[Path], scale: str = "evidence-1-5", *, quiet: bool = False) -> int:
    """Put saved sheets into the logbook and say what came of each; return how many could not be kept."""
    from analyser.logbook.sheet import keep_sheet

    failed = 0
    for path in files:
        try:
            kept = keep_sheet(book, path, own_scale=scale)
        except AnalyserError as fault:
            options.warn(fault if fault.file else f"{path}: {fault}")
            failed += 1
            continue
        if kept.note:
            options.warn(f"{path}: {kept.note}")
        if not quiet:
            said = f"{counted(kept.count, 'grade')} kept" if kept.count else "in the logbook already"
            typer.echo(f"{path}: {said}")
    return failed


def _asked(sheet: TypedSheet) -> list[Given]:
    """Ask for the pilot's grades first, then for the instructor's."""
    from analyser.logbook.sheet import unexplained

    typer.echo(sheet.heading())
    given: list[Given] = []
    for own in (True, False):
        typer.echo("Pilot's own grades (Enter leaves one out):" if own else "Instructor's grades:")
        for key, told in sheet.lines():
            while True:
                said = typer.prompt(f"  {told}", default="", show_default=False).strip()
                if not said:
                    break
                try:
                    one = sheet.given(f"{key}={said}", own=own)
                except UsageError as fault:
                    typer.echo(f"  {fault}")
                    continue
                if unexplained(one, sheet.scale):
                    why = typer.prompt("    below the grade asked for; why")
                    one = replace(one, remark=why.strip())
                given.append(one)
                break
    return given
