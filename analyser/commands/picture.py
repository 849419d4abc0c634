"""``analyser picture``: one picture to take away, for slides and reports."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from analyser.commands import options


def picture(
    source: Annotated[
        str,
        options.argument(
            "A log, the JSON of a debrief, or for progress a pilot of the logbook.", metavar="LOG|JSON|PILOT"
        ),
    ],
    kind: Annotated[
        str, options.optional("What to draw.", "--as", metavar="plan|wind|strips|budget|progress")
    ],
    to: Annotated[Path, options.optional("File to write: .png for slides, .svg or .pdf for print.", "--to")],
    number: Annotated[int, typer.Option(help="Which hold of the flight.")] = 1,
    circuit: Annotated[int | None, options.optional("Only this circuit; for the budget the worst.")] = None,
    hold: options.Holds = None,
    infer: options.Infer = False,
    rules: options.Rules = "icao",
    standard: options.Standard = None,
    columns: options.Columns = "",
    units: options.Units = "",
    force: options.Force = False,
    logbook: options.Place = None,
    quiet: options.Quiet = False,
) -> None:
    """Draw a debrief's plan, wind, strips of items or error budget, or a pilot's progress, as a picture."""
    from analyser.errors import UsageError
    from analyser.whole_files import write_bytes_whole
    from analyser.work.job import Job
    from analyser.work.picture import picture_of

    if to.exists() and not force:
        raise UsageError("the file is there already", file=str(to), mend="name another, or say --force")
    holds = options.given_holds(hold, infer)
    job = Job(Path(), holds, rules, standard, options.read_options(columns, units))
    ending = to.suffix.lower().removeprefix(".")
    drawn = picture_of(source, kind, ending, job, number=number, circuit=circuit, logbook=logbook)
    write_bytes_whole(to, drawn)
    if not quiet:
        typer.echo(str(to))
