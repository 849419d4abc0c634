"""``analyser watch``: after a session nothing needs typing."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from analyser.commands.book_words import PilotFolders, Place, Quiet, Scales
from analyser.errors import AnalyserError, UsageError

if TYPE_CHECKING:
    from analyser.work import Job, Report


def watch(
    folder: Annotated[Path, typer.Argument(help="Where the recorder writes its logs.", show_default=False)],
    hold: Annotated[
        Path | None,
        typer.Option(help="Hold file (TOML). Without it the hold is inferred.", show_default=False),
    ] = None,
    rules: Annotated[str, typer.Option(help="Whose rules: icao or faa.")] = "icao",
    standard: Annotated[
        str | None,
        typer.Option(help="Test standard: a name, or a TOML file of your own.", show_default=False),
    ] = None,
    out: Annotated[Path, typer.Option(help="Folder for the pages and their JSON.")] = Path("reports"),
    scale: Scales = None,
    pilot: Annotated[
        str | None,
        typer.Option(help="Record each debrief in the logbook for this pilot.", show_default=False),
    ] = None,
    pilot_folders: PilotFolders = False,
    instructor: Annotated[str | None, typer.Option(help="Who instructs.", show_default=False)] = None,
    device: Annotated[str | None, typer.Option(help="Aircraft or device.", show_default=False)] = None,
    settle: Annotated[float, typer.Option(help="Seconds without a change after which a log is whole.")] = 3.0,
    existing: Annotated[
        bool, typer.Option("--existing", help="Begin with the logs that are there already.")
    ] = False,
    show: Annotated[bool, typer.Option("--open/--no-open", help="Open each page.")] = True,
    logbook: Place = None,
    quiet: Quiet = False,
) -> None:
    """Debrief each new log of a folder when its writing has stopped. Ctrl-C ends it."""
    from analyser.logs.formats import FORMATS
    from analyser.work import Job
    from analyser.work.run import refuse_impossible
    from analyser.work.watching import Watcher
    from analyser.work.watching import watch as watch_folder

    if not folder.is_dir():
        raise UsageError("there is no such folder", file=str(folder), mend="check the path")
    if pilot and pilot_folders:
        raise UsageError("a pilot and folders of pilots are given", mend="give one of them")
    if settle <= 0:
        raise UsageError("must be above zero", place="--settle")
    job = Job(out=out, hold_file=hold, rules=rules, standard=standard, scales=tuple(scale or ()))
    # What is wrong with the rules, a scale or the hold file is said now, not an hour later.
    refuse_impossible(job)
    # A debrief and a saved grade sheet are .json too; no recorder writes its logs under that ending.
    endings = {ending for form in FORMATS for ending in form.suffixes} - {".json"} | {".gz", ".zip"}
    left_out = (out if out.is_absolute() else Path.cwd() / out,)
    watcher = Watcher(folder.absolute(), frozenset(endings), settle, leave_out=left_out)
    known = 0 if existing else watcher.take_as_done()
    if not quiet:
        typer.echo(f"watching {folder} ({known} logs there already); Ctrl-C ends it", err=True)
    keep = _Keeper(pilot, pilot_folders, instructor, device, logbook)
    try:
        watch_folder(watcher, lambda log: _debrief(log, job, keep, show=show, quiet=quiet))
    except KeyboardInterrupt:
        if not quiet:
            typer.echo("ended; what was finished is kept", err=True)


class _Keeper:
    """Records debriefs for the pilot who was named, or whose folder it is."""

    def __init__(
        self,
        pilot: str | None,
        folders: bool,
        instructor: str | None,
        device: str | None,
        logbook: str | None,
    ) -> None:
        self.pilot, self.folders = pilot, folders
        self.instructor, self.device, self.logbook = instructor, device, logbook

    def keep(self, log: Path, report: Report) -> str:
        """Record one report; return what to say, nothing where no pilot is known."""
        from analyser.logbook.entry import pilot_from_folder, record_debrief

        pilot = pilot_from_folder(log) if self.folders else self.pilot
        if not pilot:
            return ""
        return record_debrief(
            report.document,
            pilot=pilot,
            instructor=self.instructor,
            device=self.device,
            trace=report.trace,
            flight=report.flight,
            logbook=self.logbook,
        ).message


def _debrief(log: Path, job: Job, keep: _Keeper, *, show: bool, quiet: bool) -> None:
    from analyser.summary import summary
    from analyser.work import debrief_file

    outcome = debrief_file(log, job)
    for fault in outcome.faults:
        typer.echo(f"analyser: {fault}", err=True)
    for report in outcome.reports:
        if not quiet:
            typer.echo(summary(report.document, str(report.page)))
        try:
            said = keep.keep(log, report)
        except AnalyserError as fault:
            typer.echo(f"analyser: {fault}", err=True)
        else:
            if said and not quiet:
                typer.echo(said)
        if show:
            typer.launch(str(report.page))
