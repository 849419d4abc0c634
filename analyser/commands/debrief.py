"""``analyser debrief``: the main job."""

from __future__ import annotations

import signal
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from analyser.commands import options

if TYPE_CHECKING:
    from analyser.work.job import Job

Logs = Annotated[list[Path], options.argument("Log files, or folders of them.", metavar="LOG...")]
#: The shell's own number for a program that Ctrl-C has ended.
INTERRUPTED = 130
STOPPED = "stopped; what is finished is kept, and the same command goes on from there"


@options.with_options_of(job=options.asked_job, session=options.RecordingOptions)
def debrief(
    *,
    logs: Logs,
    job: Job,
    out: Annotated[Path, typer.Option(help="Folder for the pages and their JSON.")] = Path(options.REPORTS),
    show: Annotated[
        bool, typer.Option("--open", help="Open the page in the browser; of several, the list of all.")
    ] = False,
    leave_at: Annotated[
        str | None, options.optional("When the fix was to be left, UTC: 18:32 or 2026-03-14T18:32:00Z.")
    ] = None,
    table: Annotated[
        Path | None, options.optional("Also write a table, a row per circuit: .csv or .parquet.")
    ] = None,
    jobs: Annotated[int | None, options.optional("Processes to use; by default all cores.", min=1)] = None,
    scheduler: Annotated[
        str | None, options.optional("Let a cluster do it: address of its Dask scheduler.")
    ] = None,
    again: Annotated[bool, typer.Option("--again", help="Debrief anew what is done already.")] = False,
    session: options.RecordingOptions,
    quiet: options.Quiet = False,
) -> None:
    """Read logs, find every hold in them, judge it, and write a debrief page and its JSON for each.

    A log that this program has debriefed with the same settings is told again and not done again.
    """
    from analyser.commands.screen import Screen
    from analyser.work.run import run

    job = replace(job, out=out, leave_fix_at=leave_at, recording=session.recording())
    begun = run(logs, job, jobs=jobs, scheduler=scheduler, again=again, table=table)
    try:
        with begun as running, Screen(running.logs, quiet) as screen:
            screen.follow(running)
    except KeyboardInterrupt:
        # Everything has been put away: interrupting once more would only spoil the exit status.
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        options.warn(STOPPED)
        raise typer.Exit(INTERRUPTED) from None
    if show:
        screen.open_page(running.index)
    if screen.faults or job.holds.left_out:
        raise typer.Exit(1)
