"""``analyser inspect``: what a log holds, before anything is judged."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from analyser.commands import options


def inspect(
    log: Annotated[Path, typer.Argument(metavar="LOG", help="Log file.", show_default=False)],
    columns: options.Columns = "",
    units: options.Units = "",
    svg: Annotated[
        Path | None, typer.Option(help="Also draw the track into this SVG file.", show_default=False)
    ] = None,
    plan: Annotated[bool, typer.Option(help="Draw the track in the terminal.")] = True,
) -> None:
    """Say what a log holds: samples, span, holes, channels, what was recognised, assumed and ignored."""
    import sys

    from analyser.inspection.contents import inspect_track, inspection_text
    from analyser.inspection.plan_points import plan_points
    from analyser.inspection.plan_text import plan_text
    from analyser.logs.read import ReadOptions, read_log

    said = ReadOptions(options.pairs(columns, "--columns"), options.pairs(units, "--units"))
    tracks = read_log(log, said)
    braille = (sys.stdout.encoding or "").lower().startswith("utf")
    for place, track in enumerate(tracks):
        points = plan_points(track)
        picture = plan_text(points, braille=braille) if plan else ""
        typer.echo(("\n" if place else "") + inspection_text(inspect_track(track), picture))
        if svg is not None:
            from analyser.inspection.plan_svg import plan_svg
            from analyser.pages.write import write_text_whole

            target = svg if len(tracks) == 1 else svg.with_stem(f"{svg.stem}-{place + 1}")
            write_text_whole(target, plan_svg(points, track.name))
            typer.echo(f"  drawn      {target}")
