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


@options.with_options_of(options.asked_job, "job")
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
    pilot: options.Pilot = None,
    pilot_folders: options.PilotFolders = False,
    instructor: options.Instructor = None,
    device: options.Device = None,
    lesson: options.Lesson = None,
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
    logbook: options.Place = None,
    quiet: options.Quiet = False,
) -> None:
    """Debrief each new log of a folder when its writing has stopped. Ctrl-C ends it."""
    from analyser.work.job import recording_of
    from analyser.work.watching import Watched, remember, remembered, watcher_of, watcher_of_sheets
    from analyser.work.watching import watch as watch_folders

    if folder is None:
        last = remembered()
        folder, out = Path(last.folder), out or Path(last.out)
        if pilot is None and not pilot_folders:
            pilot, pilot_folders = last.pilot, last.pilot_folders
        instructor, device = instructor or last.instructor, device or last.device
        # A download folder that is gone since is nothing that was asked for now.
        sheets = sheets or (Path(last.sheets) if last.sheets and Path(last.sheets).is_dir() else None)
    pages = (out or job.out).absolute()
    if not folder.is_dir():
        raise UsageError("there is no such folder", file=str(folder), mend="check the path")
    if sheets is not None and not sheets.is_dir():
        raise UsageError("there is no such folder", file=str(sheets), place="--sheets", mend="check the path")
    if settle <= 0:
        raise UsageError("must be above zero", place="--settle")
    recording = recording_of(pilot, instructor, device, lesson, logbook, folders=pilot_folders)
    if recording is not None:
        recording = replace(recording, schools=(folder,))
    job = replace(job, out=pages, recording=recording)
    # What is wrong with the rules, a scale or the hold file is said now, not an hour later.
    job.refuse_impossible()
    saved_to = str(sheets.absolute()) if sheets else None
    remember(Watched(str(folder.absolute()), str(pages), pilot, pilot_folders, instructor, device, saved_to))
    watcher = watcher_of(folder, settle, pages)
    there = (
        "what is there comes first" if existing else f"{counted(watcher.take_as_done(), 'log')} there already"
    )
    if not quiet:
        also = f", and {sheets} for grade sheets" if sheets else ""
        typer.echo(f"watching {folder} ({there}){also}; Ctrl-C ends it", err=True)
    folders = [(watcher, lambda logs: _debrief(logs, job, show=show, quiet=quiet))]
    if sheets:
        saved = watcher_of_sheets(sheets, settle)
        if not existing:
            saved.take_as_done()
        folders.append((saved, lambda files: _grade(files, logbook, quiet=quiet)))
    try:
        watch_folders(folders)
    except KeyboardInterrupt:
        if not quiet:
            typer.echo("ended; what was finished is kept", err=True)


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
