"""The command line: words in, one function called, results printed. Nothing is computed here."""

from __future__ import annotations

import io
import os
import sys

import typer

from analyser import __version__
from analyser.commands.group import Commands
from analyser.errors import AnalyserError
from analyser.process_settings import collect_rarely, use_one_thread

app = typer.Typer(
    name="analyser",
    help="Debrief flown holding patterns from recorded flight logs. A training aid: not for navigation, "
    "not for obstacle clearance.",
    epilog="Exit status: 0 all done; 1 some log could not be read or some report not written; 2 wrong usage.",
    cls=Commands,
    no_args_is_help=True,
    context_settings={"help_option_names": ["--help", "-h"]},
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


def _version(asked: bool) -> None:
    if asked:
        typer.echo(f"analyser {__version__}")
        raise typer.Exit


@app.callback()
def _options(
    version: bool = typer.Option(
        False, "--version", callback=_version, is_eager=True, help="Print the version and stop."
    ),
) -> None:
    pass


def main() -> None:
    """Run the program; a fault that a person can mend is a message and an exit status, never a traceback."""
    use_one_thread()
    collect_rarely()
    for name, how in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        # A program may be started with its streams closed: then there is nothing to read and nothing to write to.
        if getattr(sys, name) is None:
            setattr(sys, name, os.fdopen(os.open(os.devnull, os.O_RDWR), how, encoding="utf-8"))
    for stream in (sys.stdout, sys.stderr):
        # A terminal that has no degree sign, or a file name that is no text, must not end the program.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    try:
        try:
            app()
        finally:
            # What is still held back is written now, while a full disk can be told in words.
            sys.stdout.flush()
    except AnalyserError as error:
        from analyser.commands.options import warn

        warn(error)
        sys.exit(error.exit_status)
    except OSError as error:
        if error.filename is not None:
            raise
        # Python would try once more at its end, and complain in its own way.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        why = (error.strerror or str(error)).lower()
        typer.echo(
            f"analyser: standard output cannot be written to: {why} (make room, or write a file)", err=True
        )
        sys.exit(1)
