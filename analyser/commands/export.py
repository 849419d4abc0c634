"""``analyser export``: the cleaned track with its phases, in an open format."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from analyser.commands import options

if TYPE_CHECKING:
    from analyser.logs.pieces import Phase
    from analyser.logs.track import Track


def export(
    log: Annotated[Path, typer.Argument(metavar="LOG", help="Log file.", show_default=False)],
    to: Annotated[str, typer.Option(help="gpx, kml, geojson or csv.", show_default=False)],
    out: Annotated[
        Path | None,
        typer.Option(
            help="File to write; by default the log's name with the new ending, here.", show_default=False
        ),
    ] = None,
    columns: options.Columns = "",
    units: options.Units = "",
    force: Annotated[bool, typer.Option("--force", help="Replace a file that is there.")] = False,
) -> None:
    """Write the cleaned track with the phases of its holds, for an earth viewer, a GIS or a spreadsheet."""
    from analyser.errors import UsageError
    from analyser.logs.export import export_track
    from analyser.logs.read import ReadOptions, read_log
    from analyser.pages.write import write_text_whole

    tracks = read_log(log, ReadOptions(options.pairs(columns, "--columns"), options.pairs(units, "--units")))
    target = out or Path(f"{_bare(log)}.{to}")
    targets = [
        target if len(tracks) == 1 else target.with_stem(f"{target.stem}-{place}")
        for place in range(1, len(tracks) + 1)
    ]
    for path, track in zip(targets, tracks, strict=True):
        if path.exists() and (not force or path.resolve() == log.resolve()):
            raise UsageError(
                "the file is there already",
                file=str(path),
                place="--out",
                mend="name another, or say --force",
            )
        write_text_whole(path, export_track(track, to, _phases(track)))
        typer.echo(str(path))


def _bare(log: Path) -> str:
    """Take a log's endings off: ``flight.gpx.gz`` gives ``flight``."""
    return log.name.split(".")[0] or "track"


def _phases(track: Track) -> list[Phase]:
    """Find the holds and name their parts."""
    from analyser.debrief import debrief_track
    from analyser.logs.pieces import Phase

    phases: list[Phase] = []
    holds = debrief_track(track).holds
    for number, hold in enumerate(holds, 1):
        flown = hold.flown
        before = f"hold {number}, " if len(holds) > 1 else ""
        if flown.entry is not None and flown.entry.end_s > flown.entry.fix_s:
            phases.append(Phase(flown.entry.fix_s, flown.entry.end_s, f"{before}entry"))
        for circuit in flown.circuits:
            for part in ("outbound_turn", "outbound_leg", "inbound_turn", "inbound_leg"):
                stretch = getattr(circuit, part)
                if stretch is not None:
                    name = f"{before}circuit {circuit.number}, {part.replace('_', ' ')}"
                    phases.append(Phase(stretch.start_s, stretch.end_s, name))
    return phases
