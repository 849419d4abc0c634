"""``analyser debrief``: the main job."""

from __future__ import annotations

import signal
from pathlib import Path
from typing import Annotated

import typer

from analyser.commands.book_words import PilotFolders, Place, Quiet, Scales

Logs = Annotated[list[Path], typer.Argument(help="Log files, or folders of them.", show_default=False)]
#: The shell's own number for a program that Ctrl-C has ended.
INTERRUPTED = 130
STOPPED = "stopped; what is finished is kept, and the same command goes on from there"


def debrief(
    logs: Logs,
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
    columns: Annotated[
        str, typer.Option(help="Which column is what, for tables: time=…,lat=…", show_default=False)
    ] = "",
    units: Annotated[
        str,
        typer.Option(help="Units of columns, for tables: altitude=m,ground_speed=kmh", show_default=False),
    ] = "",
    leave_at: Annotated[
        str | None,
        typer.Option(
            help="When the fix was to be left, UTC: 18:32 or 2026-03-14T18:32:00Z.", show_default=False
        ),
    ] = None,
    obstacles: Annotated[
        Path | None,
        typer.Option(
            help="Obstacles (CSV or GeoJSON), to hold the altitude against the lowest level over them.",
            show_default=False,
        ),
    ] = None,
    high_terrain: Annotated[
        bool, typer.Option("--high-terrain", help="Ask for the clearance of high terrain.")
    ] = False,
    flight_director: Annotated[
        bool, typer.Option("--flight-director", help="Flown with one: the FAA's 25° bank limit.")
    ] = False,
    turbulence: Annotated[
        bool,
        typer.Option("--turbulence", help="Cleared for the speed in turbulence, where the rules name one."),
    ] = False,
    scale: Scales = None,
    table: Annotated[
        Path | None,
        typer.Option(help="Also write a table, a row per circuit: .csv or .parquet.", show_default=False),
    ] = None,
    jobs: Annotated[
        int | None, typer.Option(min=1, help="Processes to use; by default all cores.", show_default=False)
    ] = None,
    scheduler: Annotated[
        str | None,
        typer.Option(help="Let a cluster do it: address of its Dask scheduler.", show_default=False),
    ] = None,
    again: Annotated[bool, typer.Option("--again", help="Debrief anew what is done already.")] = False,
    pilot: Annotated[
        str | None,
        typer.Option(help="Record each debrief in the logbook for this pilot.", show_default=False),
    ] = None,
    pilot_folders: PilotFolders = False,
    instructor: Annotated[str | None, typer.Option(help="Who instructed.", show_default=False)] = None,
    device: Annotated[str | None, typer.Option(help="Aircraft or device.", show_default=False)] = None,
    lesson: Annotated[str | None, typer.Option(help="Name of the lesson.", show_default=False)] = None,
    logbook: Place = None,
    quiet: Quiet = False,
) -> None:
    """Read logs, find every hold in them, judge it, and write a debrief page and its JSON for each.

    A log that an earlier run has debriefed with the same settings is told again and not done again.
    """
    from analyser.commands.screen import Screen
    from analyser.commands.words import pairs
    from analyser.work.job import Job
    from analyser.work.record import session_of
    from analyser.work.run import Orders, run

    job = Job(
        out,
        hold,
        rules,
        standard,
        pairs(columns, "--columns"),
        pairs(units, "--units"),
        leave_at,
        obstacles,
        high_terrain,
        tuple(scale or ()),
        flight_director=flight_director,
        turbulence=turbulence,
    )
    session = session_of(pilot, instructor, device, lesson, logbook, folders=pilot_folders)
    orders = Orders(logs, job, jobs, scheduler, again, table, session)
    try:
        with run(orders) as running, Screen(running.logs, quiet) as screen:
            for fault in running.faults:
                screen.fault(fault)
            for finished in running.results:
                screen.show(finished)
    except KeyboardInterrupt:
        # Everything has been put away: interrupting once more would only spoil the exit status.
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        typer.echo(f"analyser: {STOPPED}", err=True)
        raise typer.Exit(INTERRUPTED) from None
    if screen.faults:
        raise typer.Exit(1)
