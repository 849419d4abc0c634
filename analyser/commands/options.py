"""Options that several commands share: one spelling, one explanation."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from analyser.errors import UsageError

if TYPE_CHECKING:
    from analyser.collection.files import HoldFiles
    from analyser.logs.read import ReadOptions

Holds = Annotated[
    list[Path] | None,
    typer.Option(
        "--hold",
        help="Hold file (TOML), or a folder of them; may be repeated. The one that fits is taken. By default your "
        "own collection (analyser hold list).",
        show_default=False,
    ),
]
Infer = Annotated[bool, typer.Option("--infer", help="Use no hold file: infer the hold from the track.")]
Rules = Annotated[
    str, typer.Option(help="Whose rules: icao (international) or faa (United States).", metavar="icao|faa")
]
Standard = Annotated[
    str | None,
    typer.Option(help="Test standard: a name, or a TOML file of your own.", show_default=False),
]
Scoring = Annotated[
    Path | None,
    typer.Option(
        help="How points, severities and caps are given: a TOML file of your own.", show_default=False
    ),
]
Pages = Annotated[Path, typer.Option("--out", help="Folder for the pages and their JSON.")]
Open = Annotated[
    bool, typer.Option("--open", help="Open the page in the browser; of several, the list of all.")
]
Columns = Annotated[
    str,
    typer.Option(
        help="Which column of a table is what: time=When,lat=3 (its heading or its number).",
        show_default=False,
    ),
]
Units = Annotated[
    str,
    typer.Option(
        help="Units of a table's columns: alt=m,gs=km/h; what times count: time=gps; order of dates: date=dmy.",
        show_default=False,
    ),
]
Obstacles = Annotated[
    Path | None,
    typer.Option(
        help="Obstacles (CSV or GeoJSON): work out the lowest level over them.",
        show_default=False,
    ),
]
HighTerrain = Annotated[bool, typer.Option("--high-terrain", help="Ask for the clearance of high terrain.")]
FlightDirector = Annotated[
    bool, typer.Option("--flight-director", help="Flown with one: the FAA's 25° bank limit.")
]
Turbulence = Annotated[
    bool,
    typer.Option("--turbulence", help="Cleared for the speed in turbulence, where the rules name one."),
]
Pilot = Annotated[
    str | None,
    typer.Option(help="Record each debrief in the logbook for this pilot.", show_default=False),
]
Instructor = Annotated[str | None, typer.Option(help="Who instructed.", show_default=False)]
Device = Annotated[str | None, typer.Option(help="Aircraft or device.", show_default=False)]
Lesson = Annotated[str | None, typer.Option(help="Name of the lesson.", show_default=False)]


def read_options(columns: str, units: str) -> ReadOptions:
    """Put together what ``--columns`` and ``--units`` say of a table.

    Raises
    ------
    UsageError
        They say it in another form than ``name=value,name=value``.
    """
    from analyser.logs.read import ReadOptions

    return ReadOptions(
        _pairs(columns, "--columns", "time=When,lat=3"), _pairs(units, "--units", "alt=m,gs=km/h")
    )


def _pairs(text: str, option: str, example: str) -> dict[str, str]:
    found: dict[str, str] = {}
    for part in filter(None, (piece.strip() for piece in text.split(","))):
        name, equals, value = (piece.strip() for piece in part.partition("="))
        if not (name and equals and value):
            raise UsageError(
                f"'{part}' is not of the form name=value", place=option, mend=f"write it like {example}"
            )
        found[name] = value
    return found


def given_holds(hold: list[Path] | None, infer: bool) -> HoldFiles:
    """Return the hold files that were named, else those of the collection; what was left out is said."""
    from analyser.collection.files import collect

    holds, left_out = collect(hold or (), infer=infer)
    for fault in left_out:
        typer.echo(f"analyser: {fault}", err=True)
    return holds
