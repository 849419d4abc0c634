"""``analyser export``: the cleaned track with its phases, in an open format."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from analyser.commands import options


def export(
    log: options.Log,
    to: Annotated[str, options.optional("Format.", metavar="gpx|kml|geojson|csv")],
    out: Annotated[
        Path | None, options.optional("File to write; by default the log's name with the new ending, here.")
    ] = None,
    hold: options.Holds = None,
    infer: options.Infer = False,
    columns: options.Columns = "",
    units: options.Units = "",
    force: options.Force = False,
) -> None:
    """Write the cleaned track with its holds' fixes and phases, for an earth viewer, a GIS or a spreadsheet."""
    from analyser.work.exported import export_log

    holds = options.given_holds(hold, infer)
    said = options.read_options(columns, units)
    # The log's endings go: flight.gpx.gz gives flight.
    target = out or Path(f"{log.name.split('.')[0] or 'track'}.{to}")
    for path in export_log(log, to, target, said, holds, force=force):
        typer.echo(str(path))
