"""``analyser brief``: the kneeboard card of a hold, before flying it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import typer

from analyser.commands import options
from analyser.errors import UsageError


@dataclass(frozen=True)
class _Asked:
    """What a card is worked out for, in the words of :func:`analyser.brief.make_card`."""

    hold_file: Annotated[Path, options.optional("Hold file (TOML).", "--hold", metavar="FILE")]
    tas_kt: Annotated[float | None, options.optional("True airspeed, kt.", "--tas")] = None
    ias_kt: Annotated[
        float | None, options.optional("Indicated airspeed, kt; by default the hold file's.", "--ias")
    ] = None
    altitude_ft: Annotated[
        float | None, options.optional("Altitude, ft; by default the hold file's.", "--altitude")
    ] = None
    isa_deviation_c: Annotated[
        float, typer.Option("--isa-deviation", help="Warmer (+) or colder (-) than standard, °C.")
    ] = 0.0
    wind: Annotated[str | None, options.optional("Forecast wind, degrees true and kt: 240/22.")] = None
    arrival_heading_deg: Annotated[
        float | None, options.optional("Heading on arrival over the fix, magnetic.", "--heading")
    ] = None
    true: Annotated[
        bool, typer.Option("--true", help="--heading is true, and the card's directions are too.")
    ] = False
    rules: options.Rules = "icao"
    category: Annotated[str | None, options.optional("Aircraft category for the speed limit: A to E, H.")] = (
        None
    )
    flight_director: options.FlightDirector = False
    turbulence: options.Turbulence = False
    fix_dme_nm: Annotated[
        float | None,
        options.optional("DME reading at the fix, NM: the card gives that of the outbound end.", "--fix-dme"),
    ] = None
    from_station: Annotated[
        bool, typer.Option("--from-station", help="The inbound course leads away from that station.")
    ] = False
    leave_at: Annotated[
        str,
        typer.Option(
            help="When to leave, comma between: +7:30 is minutes:seconds after passing the fix; 18:30 is UTC where "
            "--over-at says when the fix is passed."
        ),
    ] = ""
    over_at: Annotated[str | None, options.optional("UTC of passing the fix, 18:21:30.")] = None
    date: Annotated[str | None, options.optional("Day of the flight, for the variation: 2026-03-14.")] = None
    obstacles: options.Obstacles = None
    high_terrain: options.HighTerrain = False


@options.with_options_of(asked=_Asked)
def brief(
    *,
    asked: _Asked,
    out: Annotated[Path | None, options.optional("Write the card as an HTML page to print.")] = None,
    paper: Annotated[
        str, typer.Option(help="What the card is to be printed on: a5 or a6.", metavar="a5|a6")
    ] = "a5",
    show: options.Show = False,
    json: Annotated[bool, typer.Option("--json", help="Print the numbers as JSON.")] = False,
    quiet: options.Quiet = False,
) -> None:
    """Work out a hold before flying it: headings, times, entry, gate, leaving on time, on one card."""
    from analyser.brief import make_card

    size = paper.lower()
    if size not in ("a5", "a6"):
        raise UsageError(
            f"{paper!r} is no size the card is laid out for", place="--paper", mend="say a5 or a6"
        )
    if show and out is None:
        raise UsageError("there is no page to open", place="--open", mend="say with --out where to write it")
    made = make_card(**vars(asked))
    if out is not None:
        made.write(out, "a6" if size == "a6" else "a5")
        if show:
            typer.launch(str(out))
    if quiet:
        return
    for note in made.notes:
        options.warn(note)
    for line in made.json_lines() if json else made.lines():
        typer.echo(line)
