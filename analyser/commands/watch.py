"""``analyser watch``: after a session nothing needs typing."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from analyser.commands import options
from analyser.errors import AnalyserError, UsageError
from analyser.logbook.names import counted

if TYPE_CHECKING:
    from analyser.work.job import Job
    from analyser.work.watching import Watched


@options.with_options_of(job=options.asked_job, session=options.RecordingOptions)
def watch(
    *,
    folder: Annotated[
        Path | None,
        options.argument(
            "Where the recorder writes its logs; by default the folder that was watched last.",
            metavar="[FOLDER]",
        ),
    ] = None,
    job: Job,
    out: Annotated[
        Path | None, options.optional(f"Folder for the pages and their JSON.  [default: {options.REPORTS}]")
    ] = None,
    session: options.RecordingOptions,
    sheets: Annotated[
        Path | None,
        options.optional("Where the browser saves files: grade sheets saved there go into the logbook."),
    ] = None,
    # Recorders write every second or so.
    settle: Annotated[float, typer.Option(help="Seconds without a change after which a log is whole.")] = 3.0,
    existing: Annotated[
        bool, typer.Option("--existing", help="Begin with the logs that are there already.")
    ] = False,
    show: Annotated[
        bool,
        typer.Option("--open/--no-open", help="Open the page; of several logs at once, the list of all."),
    ] = True,
    quiet: options.Quiet = False,
) -> None:
    """Debrief each new log of a folder when its writing has stopped. Ctrl-C ends it."""
    from analyser.work import watching

    if folder is None:
        last = watching.remembered()
        folder, out, session = Path(last.folder), out or Path(last.out), _as_before(session, last)
        # A download folder that is gone since is nothing that was asked for now.
        sheets = sheets or (Path(last.sheets) if last.sheets and Path(last.sheets).is_dir() else None)
    for asked, place in ((folder, ""), (sheets, "--sheets")):
        if asked is not None and not asked.is_dir():
            raise UsageError("there is no such folder", file=str(asked), place=place, mend="check the path")
    if settle <= 0:
        raise UsageError("must be above zero", place="--settle")
    job = replace(job, out=(out or job.out).absolute(), recording=session.recording((folder,)))
    # What is wrong with the rules, a scale or the hold file is said now, not an hour later.
    job.refuse_impossible()
    watching.remember(_watched(folder, job.out, sheets, session))
    logs = watching.watcher_of(folder, settle, job.out)
    folders = [(logs, lambda found: _debrief(found, job, show=show, quiet=quiet))]
    if sheets:
        saved = watching.watcher_of_sheets(sheets, settle)
        folders.append((saved, lambda files: _grade(files, session.logbook, quiet=quiet)))
    there = [0 if existing else watcher.take_as_done() for watcher, _ in folders]
    if not quiet:
        known = "what is there comes first" if existing else f"{counted(there[0], 'log')} there already"
        also = f", and {sheets} for grade sheets" if sheets else ""
        typer.echo(f"watching {folder} ({known}){also}; Ctrl-C ends it", err=True)
    try:
        watching.watch(folders)
    except KeyboardInterrupt:
        if not quiet:
            typer.echo("ended; what was finished is kept", err=True)


def _as_before(session: options.RecordingOptions, last: Watched) -> options.RecordingOptions:
    """Take what is not said of a session as it was the last time."""
    if session.pilot is None and not session.pilot_folders:
        session = replace(session, pilot=last.pilot, pilot_folders=last.pilot_folders)
    return replace(
        session,
        instructor=session.instructor or last.instructor,
        device=session.device or last.device,
    )


def _watched(folder: Path, out: Path, sheets: Path | None, session: options.RecordingOptions) -> Watched:
    from analyser.work.watching import Watched

    saved_to = str(sheets.absolute()) if sheets else None
    about = (session.pilot, session.pilot_folders, session.instructor, session.device)
    return Watched(str(folder.absolute()), str(out), *about, saved_to)


def _grade(files: list[Path], logbook: str | None, *, quiet: bool) -> None:
    """Put saved grade sheets into the logbook; what cannot be kept is said, and watching goes on."""
    from analyser.commands.grade import keep_files
    from analyser.logbook.sheet import as_saved, is_sheet

    found = as_saved(one for one in files if is_sheet(one))
    if not found:
        return
    try:
        with options.open_book(logbook) as book:
            keep_files(book, found, quiet=quiet)
    except AnalyserError as fault:
        options.warn(fault)


def _debrief(logs: list[Path], job: Job, *, show: bool, quiet: bool) -> None:
    from analyser.commands.screen import Screen
    from analyser.work.run import run

    with Screen(len(logs), quiet) as screen:
        try:
            # A log that has grown since is debriefed again, one that has not is told again.
            with run(logs, job) as running:
                screen.follow(running)
        except AnalyserError as fault:
            # The next log may fare better: a folder is watched until somebody ends it.
            screen.fault(str(fault))
            return
    if show:
        screen.open_page(running.index)
