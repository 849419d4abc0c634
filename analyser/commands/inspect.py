"""``analyser inspect``: what a log holds, before anything is judged."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from analyser.commands import options

if TYPE_CHECKING:
    from analyser.circuits.flown import Search


def inspect(
    log: options.Log,
    columns: options.Columns = "",
    units: options.Units = "",
    svg: Annotated[Path | None, options.optional("Also draw the track into this SVG file.")] = None,
    plan: options.Plan = True,
    holds: Annotated[
        bool, typer.Option(help="Look for holds, and say what was dropped and why, with its code.")
    ] = True,
) -> None:
    """Say what a log holds: samples, span, holes, channels, what was recognised, assumed and ignored."""
    import sys

    from analyser.circuits.find import search
    from analyser.inspection.contents import inspection_text
    from analyser.inspection.small_plan import plan_points, plan_text
    from analyser.logs.read import read_log

    said = options.read_options(columns, units)
    tracks = read_log(log, said)
    braille = (sys.stdout.encoding or "").lower().startswith("utf")
    for place, track in enumerate(tracks):
        points = plan_points(track)
        picture = plan_text(points, braille=braille) if plan else ""
        typer.echo(("\n" if place else "") + inspection_text(track, picture))
        for line in _searched(search(track)) if holds else ():
            typer.echo(line)
        if svg is not None:
            from analyser.inspection.small_plan import plan_svg
            from analyser.whole_files import write_text_whole

            target = svg if len(tracks) == 1 else svg.with_stem(f"{svg.stem}-{place + 1}")
            write_text_whole(target, plan_svg(points, track.name))
            typer.echo(f"  drawn      {target}")


def _searched(found: Search) -> list[str]:
    """Say what was found without a hold file, what may be a hold, and what was dropped: each with its reasons."""
    from analyser.logs.text import clock_text, counted

    def when(start_s: float, end_s: float) -> str:
        return f"{clock_text(start_s)} to {clock_text(end_s)}"

    lines = [
        f"  hold       {when(one.start_s, one.end_s)}: {counted(len(one.circuits), 'circuit', 'circuits')}"
        for one in found.holds
    ]
    for one in found.possible:
        lines.append(f"  perhaps    {when(one.start_s, one.end_s)}: {counted(one.laps, 'lap', 'laps')}")
        lines += [f"             for: {said}" for said in one.speaks_for]
        lines += [f"             against: {said}" for said in one.speaks_against]
    lines += [
        f"  dropped    {when(one.start_s, one.end_s)}: {one.code}: {one.sentence}"
        for one in sorted(found.reasons, key=lambda one: one.start_s)
    ]
    return lines or ["  holds      none, and nothing came near one"]
