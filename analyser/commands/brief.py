"""``analyser brief``: the kneeboard card of a hold, before flying it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from analyser.commands import options
from analyser.errors import UsageError


def brief(
    hold: Annotated[Path, options.optional("Hold file (TOML).", metavar="FILE")],
    tas: Annotated[float | None, options.optional("True airspeed, kt.")] = None,
    ias: Annotated[
        float | None, options.optional("Indicated airspeed, kt; by default the hold file's.")
    ] = None,
    altitude: Annotated[float | None, options.optional("Altitude, ft; by default the hold file's.")] = None,
    isa_deviation: Annotated[float, typer.Option(help="Warmer (+) or colder (-) than standard, °C.")] = 0.0,
    wind: Annotated[str | None, options.optional("Forecast wind, degrees true and kt: 240/22.")] = None,
    heading: Annotated[float | None, options.optional("Heading on arrival over the fix, magnetic.")] = None,
    true: Annotated[
        bool, typer.Option("--true", help="--heading is true, and the card's directions are too.")
    ] = False,
    rules: options.Rules = "icao",
    category: Annotated[
        str | None, options.optional("Aircraft category for the speed limit: A to E, H.")
    ] = None,
    flight_director: options.FlightDirector = False,
    turbulence: options.Turbulence = False,
    fix_dme: Annotated[
        float | None, options.optional("DME reading at the fix, NM: the card gives that of the outbound end.")
    ] = None,
    from_station: Annotated[
        bool, typer.Option("--from-station", help="The inbound course leads away from that station.")
    ] = False,
    leave_at: Annotated[
        str,
        typer.Option(
            help="When to leave, comma between: +7:30 is minutes:seconds after passing the fix; 18:30 is UTC where "
            "--over-at says when the fix is passed."
        ),
    ] = "",
    over_at: Annotated[str | None, options.optional("UTC of passing the fix, 18:21:30.")] = None,
    date: Annotated[str | None, options.optional("Day of the flight, for the variation: 2026-03-14.")] = None,
    obstacles: options.Obstacles = None,
    high_terrain: options.HighTerrain = False,
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
    made = make_card(
        hold,
        rules=rules,
        flight_director=flight_director,
        turbulence=turbulence,
        date=date,
        tas_kt=tas,
        ias_kt=ias,
        altitude_ft=altitude,
        isa_deviation_c=isa_deviation,
        wind=wind,
        arrival_heading_deg=heading,
        magnetic=not true,
        category=category,
        fix_dme_nm=fix_dme,
        inbound_towards_station=not from_station,
        leave_at=leave_at,
        over_at=over_at,
        obstacles=obstacles,
        high_terrain=high_terrain,
    )
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
