"""``analyser debrief``: the main job."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

Logs = Annotated[list[Path], typer.Argument(help="Log files, or folders of them.", show_default=False)]


def debrief(
    logs: Logs,
    hold: Annotated[
        Path | None, typer.Option(help="Hold file (TOML). Without it the hold is inferred from the track.")
    ] = None,
    rules: Annotated[str, typer.Option(help="Whose rules: icao or faa.")] = "icao",
    standard: Annotated[
        str | None, typer.Option(help="Test standard: a name, or a TOML file of your own.")
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
        typer.Option(help="Time at which the fix was to be left, UTC: 18:32 or 2026-03-14T18:32:00Z."),
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="Print errors only.")] = False,
) -> None:
    """Read logs, find every hold in them, judge it, and write a debrief page and its JSON for each."""
    from analyser.commands.words import pairs
    from analyser.debrief import rules_in_force
    from analyser.logs.read import find_logs
    from analyser.summary import summary
    from analyser.work import Job, debrief_all, read_job_hold

    job = Job(out, hold, rules, standard, pairs(columns, "--columns"), pairs(units, "--units"), leave_at)
    rules_in_force(rules, standard)
    read_job_hold(job, None)
    files = find_logs(logs)
    failed = False
    for outcome in debrief_all(files, job):
        for report in outcome.reports:
            if not quiet:
                typer.echo(summary(report.document, str(report.page)))
        for fault in outcome.faults:
            typer.echo(f"analyser: {fault}", err=True)
        failed = failed or bool(outcome.faults)
    if failed:
        raise typer.Exit(1)
