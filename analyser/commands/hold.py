"""``analyser hold …``: write, correct and look at hold files."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from analyser.commands import options
from analyser.errors import UsageError

if TYPE_CHECKING:
    from analyser.logs.raw import ReadOptions

app = typer.Typer(
    name="hold",
    help="Write, correct and look at hold files. A published hold is entered once: the collection is used by "
    "debrief and watch without an option.",
    no_args_is_help=True,
    rich_markup_mode=None,
    add_completion=False,
)
To = Annotated[Path | None, options.optional("File to write; by default in your collection.", "--to")]


@app.command(short_help="Ask what a chart says, and write it as a hold file.")
def new(
    name: Annotated[str | None, options.optional("Name of the hold.")] = None,
    fix: Annotated[
        str | None, options.optional("N46°30.0' W033°00.0', or 274M 8 NM from such a place.")
    ] = None,
    course: Annotated[str | None, options.optional("Inbound course, TO the fix: 274M or 264T.")] = None,
    turns: Annotated[str | None, options.optional("R or L.")] = None,
    leg: Annotated[str | None, options.optional("1 min or 4 NM.")] = None,
    altitude: Annotated[str | None, options.optional("Cleared level: 4000 ft or FL160.")] = None,
    speed: Annotated[str | None, options.optional("Indicated airspeed: 98 kt.")] = None,
    to: To = None,
    force: options.Force = False,
) -> None:
    """Write a hold file: asks what a chart says, in its words, for whatever is not given as an option."""
    from analyser.collection.made import QUESTIONS, hold_file_of, place_for, write_new

    given = {"name": name, "fix": fix, "inbound_course": course, "turns": turns, "leg": leg}
    answers = {key: value for key, value in given.items() if value is not None}
    if sys.stdin.isatty():
        for question in QUESTIONS:
            if question.key not in answers:
                answers[question.key] = _asked(question.key, question.asked, needed=question.needed)
    options_of = {"inbound_course": "--course", "turns": "--turns"}
    lacking = [options_of[one.key] for one in QUESTIONS if one.needed and not answers.get(one.key)]
    if lacking:
        mend = (
            "say what the chart says, such as --course 274M --turns R, or run it in a terminal and be asked"
        )
        raise UsageError("without it there is no hold", place=", ".join(lacking), mend=mend)
    # A number alone has the option's own unit.
    for key, value, unit in (("altitude_ft", altitude, "ft"), ("speed_kias", speed, "kt")):
        if value is not None:
            answers[key] = f"{value} {unit}" if value.strip().isdigit() else value
    path = to or place_for(answers.get("name", ""))
    write_new({path: hold_file_of(answers)}, force=force)
    typer.echo(str(path))


def _asked(key: str, question: str, *, needed: bool) -> str:
    """Ask until the answer can be read."""
    from analyser.collection.made import checked

    while True:
        said: str = typer.prompt(question, default="", show_default=False).strip()
        if not said and not needed:
            return ""
        try:
            return checked(key, said)
        except UsageError as fault:
            typer.echo(f"  {fault.what}")


@app.command("from", short_help="Write the holds of a flight as hold files.")
@options.with_options_of(reading=options.read_options)
def from_log(
    *,
    log: options.Log,
    to: Annotated[
        Path | None, options.optional("File to write; by default the log's name with .toml, here.", "--to")
    ] = None,
    reading: ReadOptions,
    force: options.Force = False,
) -> None:
    """Write the holds that were flown as hold files, to be corrected by the chart."""
    from analyser.collection.made import flown_hold_files, write_new
    from analyser.whole_files import named_for_each

    texts = flown_hold_files(log, reading)
    paths = named_for_each(to or options.named_after(log, "toml"), len(texts))
    write_new(dict(zip(paths, texts, strict=True)), force=force)
    for path in paths:
        typer.echo(str(path))


@app.command(short_help="Draw a hold file; say what is judged, and if a log fits.")
@options.with_options_of(reading=options.read_options)
def check(
    *,
    file: Annotated[Path, options.argument("Hold file.", metavar="FILE")],
    log: Annotated[Path | None, options.argument("A flight to hold it against.", metavar="[LOG]")] = None,
    rules: options.Rules = "icao",
    reading: ReadOptions,
    plan: options.Plan = True,
) -> None:
    """Draw a hold file and say what a flight would be judged by; with a log, whether it fits."""
    from analyser.collection.checked import check as check_file

    found = check_file(file, rules, log, reading)
    for line in found.lines:
        typer.echo(line)
    if plan and found.drawing is not None:
        typer.echo(options.plan_drawn(found.drawing))


@app.command("list", short_help="List the hold files of your collection, or of folders.")
def list_files(
    folder: Annotated[
        list[Path] | None, options.argument("By default your collection.", metavar="[FOLDER]...")
    ] = None,
) -> None:
    """List the hold files of your collection, or of folders."""
    from analyser.collection.checked import listing
    from analyser.collection.files import own_folder

    folders = folder or [own_folder()]
    lines = list(listing(folders))
    for line in lines:
        typer.echo(line)
    if not lines:
        typer.echo(f"no hold files in {', '.join(map(str, folders))}; make one with: analyser hold new")
