"""``analyser inspect``, ``export``, ``picture``: what one log holds, written in an open format, drawn to take away."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from analyser.commands import options
from analyser.errors import UsageError

if TYPE_CHECKING:
    from analyser.circuits.flown import Search
    from analyser.collection.files import HoldFiles
    from analyser.logs.raw import ReadOptions


@options.with_options_of(reading=options.read_options)
def inspect(
    *,
    log: options.Log,
    reading: ReadOptions,
    svg: Annotated[Path | None, options.optional("Also draw the track into this SVG file.")] = None,
    plan: options.Plan = True,
    holds: Annotated[
        bool, typer.Option(help="Look for holds, and say what was dropped and why, with its code.")
    ] = True,
) -> None:
    """Say what a log holds: samples, span, holes, channels, what was recognised, assumed and ignored."""
    from analyser.circuits.find import search
    from analyser.inspection.contents import inspection_text
    from analyser.inspection.small_plan import plan_points, plan_svg
    from analyser.logs.read import read_log
    from analyser.whole_files import named_for_each, write_text_whole

    tracks = read_log(log, reading)
    drawings = [] if svg is None else named_for_each(svg, len(tracks))
    for place, track in enumerate(tracks):
        points = plan_points(track)
        picture = options.plan_drawn(points) if plan else ""
        typer.echo(("\n" if place else "") + inspection_text(track, picture))
        for line in _searched(search(track)) if holds else ():
            typer.echo(line)
        if drawings:
            write_text_whole(drawings[place], plan_svg(points, track.name))
            typer.echo(f"  drawn      {drawings[place]}")


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


@options.with_options_of(given=options.given_holds, reading=options.read_options)
def export(
    *,
    log: options.Log,
    to: Annotated[str, options.optional("Format.", metavar="gpx|kml|geojson|csv")],
    out: Annotated[
        Path | None, options.optional("File to write; by default the log's name with the new ending, here.")
    ] = None,
    given: HoldFiles,
    reading: ReadOptions,
    force: options.Force = False,
) -> None:
    """Write the cleaned track with its holds' fixes and phases, for an earth viewer, a GIS or a spreadsheet."""
    from analyser.exports.log_export import export_log

    target = out or options.named_after(log, to)
    for path in export_log(log, to, target, reading, given, force=force):
        typer.echo(str(path))


@options.with_options_of(given=options.given_holds, reading=options.read_options)
def picture(
    *,
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
    given: HoldFiles,
    rules: options.Rules = "icao",
    standard: options.Standard = None,
    reading: ReadOptions,
    force: options.Force = False,
    logbook: options.Place = None,
    quiet: options.Quiet = False,
) -> None:
    """Draw a debrief's plan, wind, strips of items or error budget, or a pilot's progress, as a picture."""
    from analyser.picture_files.picture import picture_of
    from analyser.whole_files import write_bytes_whole
    from analyser.work.job import Job

    if to.exists() and not force:
        raise UsageError("the file is there already", file=str(to), mend="name another, or say --force")
    job = Job(Path(), given, rules, standard, reading)
    ending = to.suffix.lower().removeprefix(".")
    drawn = picture_of(source, kind, ending, job, number=number, circuit=circuit, logbook=logbook)
    write_bytes_whole(to, drawn)
    if not quiet:
        typer.echo(str(to))
