"""Options that several commands share: one spelling, one explanation; and how what they say is read."""

from __future__ import annotations

import inspect
import sys
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, ExitStack, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, get_type_hints

import typer

from analyser.errors import UsageError

if TYPE_CHECKING:
    from analyser.collection.files import HoldFiles
    from analyser.inspection.small_plan import PlanPoints
    from analyser.logbook.book import Logbook
    from analyser.logs.raw import ReadOptions
    from analyser.work.job import Job, Recording


def optional(explained: str, *names: str, **more: Any) -> Any:
    """Describe an option that need not be given; nothing is shown as its default."""
    return typer.Option(*names, help=explained, show_default=False, **more)


def argument(explained: str, **more: Any) -> Any:
    """Describe an argument, of which no default is shown."""
    return typer.Argument(help=explained, show_default=False, **more)


#: The folder of pages where none is named.
REPORTS = "reports"
#: The first powered, controlled flight; a date before it is a slip of the pen.
_FIRST_FLIGHT = datetime(1903, 12, 17, tzinfo=UTC)

Rules = Annotated[
    str, typer.Option(help="Whose rules: icao (international) or faa (United States).", metavar="icao|faa")
]
Standard = Annotated[str | None, optional("Test standard: a name, or a TOML file of your own.")]
Obstacles = Annotated[
    Path | None, optional("Obstacles (CSV or GeoJSON): work out the lowest level over them.")
]
HighTerrain = Annotated[bool, typer.Option("--high-terrain", help="Ask for the clearance of high terrain.")]
FlightDirector = Annotated[
    bool, typer.Option("--flight-director", help="Flown with one: the FAA's 25° bank limit.")
]
Turbulence = Annotated[
    bool,
    typer.Option("--turbulence", help="Cleared for the speed in turbulence, where the rules name one."),
]
Instructor = Annotated[str | None, optional("Who instructed.")]
Device = Annotated[str | None, optional("Aircraft or device.")]
Lesson = Annotated[str | None, optional("Name of the lesson.")]
Log = Annotated[Path, argument("Log file.", metavar="LOG")]
Force = Annotated[bool, typer.Option("--force", help="Replace a file that is there.")]
Show = Annotated[bool, typer.Option("--open", help="Open the page.")]
Plan = Annotated[bool, typer.Option(help="Draw it in the terminal.")]
HoldNumber = Annotated[int, typer.Option("--hold", help="Which hold of the log.")]
OnlyInstructor = Annotated[str | None, optional("Only sessions with this instructor.", "--instructor")]
#: The address may hold a password, which belongs into the environment and not into the list of processes.
Place = Annotated[
    str | None,
    optional(
        "Logbook: a file, or postgresql://user@host/database. By default in the user's data folder.",
        "--logbook",
        envvar="ANALYSER_LOGBOOK",
    ),
]
Out = Annotated[Path, typer.Option(help="Folder for the pages.")]
ScaleName = Annotated[str, typer.Option("--scale", help="Grade scale: a name, or a TOML file of your own.")]
Quiet = Annotated[bool, typer.Option("--quiet", help="Print errors only.")]
By = Annotated[str | None, optional("Who makes this change, by default the user of this computer.")]


def warn(message: object) -> None:
    """Say on standard error what went wrong or what the person should know, as the program always says it."""
    from analyser.summary import plain

    # What is quoted from a file must not command the terminal.
    typer.echo("\n".join(plain(line) for line in f"analyser: {message}".split("\n")), err=True)


def with_options_of(**groups: Callable[..., Any]) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Give a command the options of what makes a parameter in that parameter's place, and what is made of them.

    So a group of options that several commands share is spelt out once. ``groups`` is who makes each parameter: its
    value, or a context that gives it while the command runs. Parameters are by keyword; groups may hold groups.
    """

    def widened(command: Callable[..., Any]) -> Callable[..., Any]:
        options = {name: _options(by) for name, by in groups.items()}
        every = [more for one in _options(command, *groups) for more in options.get(one.name, [one])]

        @wraps(command)
        def called(**said: Any) -> Any:
            with ExitStack() as stack:
                for name, by in groups.items():
                    made = by(**{one.name: said.pop(one.name) for one in options[name]})
                    held = isinstance(made, AbstractContextManager)
                    said[name] = stack.enter_context(made) if held else made
                return command(**said)

        called.__signature__, called.__annotations__ = inspect.Signature(every), {}  # type: ignore[attr-defined]
        return called

    return widened


def _options(of: Callable[..., Any], *made: str) -> list[inspect.Parameter]:
    """Return the parameters of a command or a group, with their types but for those that are ``made``."""
    kinds = of.__annotations__
    # Of what is made and returned the type is for the reader only, and its module is not loaded for it.
    unknown = {kinds[name]: object for name in ("return", *made) if name in kinds}
    hints = get_type_hints(of, None, unknown, include_extras=True)
    every = inspect.signature(of).parameters.values()
    return [
        one.replace(annotation=hints.get(one.name, one.annotation), kind=one.KEYWORD_ONLY) for one in every
    ]


def read_options(
    columns: Annotated[
        str, optional("Which column of a table is what: time=When,lat=3 (its heading or its number).")
    ] = "",
    units: Annotated[
        str,
        optional(
            "Units of a table's columns: alt=m,gs=km/h; what times count: time=gps; order of dates: date=dmy."
        ),
    ] = "",
) -> ReadOptions:
    """Put together what ``--columns`` and ``--units`` say of a table.

    Raises UsageError if they say it in another form than ``name=value,name=value``.
    """
    from analyser.logs.raw import ReadOptions

    return ReadOptions(
        _pairs(columns, "--columns", "time=When,lat=3"), _pairs(units, "--units", "alt=m,gs=km/h")
    )


def given_holds(
    hold: Annotated[
        list[Path] | None,
        optional(
            "Hold file (TOML), or a folder of them; may be repeated. The one that fits is taken. By default "
            "your own collection (analyser hold list).",
            "--hold",
        ),
    ] = None,
    infer: Annotated[
        bool, typer.Option("--infer", help="Use no hold file: infer the hold from the track.")
    ] = False,
) -> HoldFiles:
    """Return the hold files that were named, else those of the collection; what was left out is said."""
    from analyser.collection.files import collect

    holds = collect(hold or (), infer=infer)
    for fault in holds.left_out:
        warn(fault)
    return holds


@with_options_of(holds=given_holds, reading=read_options)
def asked_job(
    *,
    holds: HoldFiles,
    rules: Rules = "icao",
    standard: Standard = None,
    reading: ReadOptions,
    obstacles: Obstacles = None,
    high_terrain: HighTerrain = False,
    flight_director: FlightDirector = False,
    turbulence: Turbulence = False,
    scoring: Annotated[
        Path | None, optional("How points, severities and caps are given: a TOML file of your own.")
    ] = None,
    scale: Annotated[
        list[str] | None,
        optional("Grade scale that the page offers: a name, or a TOML file of your own; may be repeated."),
    ] = None,
) -> Job:
    """Put together the job: how logs are to be debriefed, into the usual folder."""
    from analyser.work.job import Job

    return Job(
        Path(REPORTS),
        holds,
        rules,
        standard,
        reading,
        obstacles=obstacles,
        high_terrain=high_terrain,
        scales=tuple(scale or ()),
        flight_director=flight_director,
        turbulence=turbulence,
        scoring=scoring,
    )


@dataclass(frozen=True)
class RecordingOptions:
    """Whose flights the logs are, as it was said, and where they are recorded."""

    pilot: Annotated[str | None, optional("Record each debrief in the logbook for this pilot.")] = None
    pilot_folders: Annotated[
        bool,
        typer.Option("--pilot-folders", help="Each pilot has a folder of logs: its name is the pilot's."),
    ] = False
    instructor: Instructor = None
    device: Device = None
    lesson: Lesson = None
    logbook: Place = None

    def recording(self, schools: tuple[Path, ...] = ()) -> Recording | None:
        """Put together what was said; None where nothing is to be recorded.

        ``schools`` are folders that hold one for each pilot. Raises UsageError if something is said of a session
        without a pilot, the pilot is said twice, or a name cannot be one.
        """
        if self.pilot is not None and self.pilot_folders:
            raise UsageError("a pilot and folders of pilots are given", mend="give one of them")
        about = {"instructor": self.instructor, "device": self.device, "lesson": self.lesson}
        if self.pilot is None and not self.pilot_folders:
            for what, said in about.items():
                if said is not None:
                    mend = "say whose flight it is with --pilot or --pilot-folders"
                    raise UsageError("nothing is recorded without a pilot", place=f"--{what}", mend=mend)
            return None
        from analyser.logbook.names import clean_name, clean_or_none
        from analyser.work.job import Recording

        pilot = None if self.pilot is None else clean_name(self.pilot)
        cleaned = {what: clean_or_none(said, what=what) for what, said in about.items()}
        return Recording(pilot, **cleaned, logbook=self.logbook, schools=schools)


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


def named_after(log: Path, ending: str) -> Path:
    """Name a file, here, after a log, whose endings go: flight.gpx.gz gives flight.kml."""
    return Path(f"{log.name.split('.')[0] or 'flight'}.{ending}")


def plan_drawn(points: PlanPoints) -> str:
    """Draw a plan in the signs that standard output can show."""
    from analyser.inspection.small_plan import plan_text

    return plan_text(points, braille=sys.stdout.encoding.lower().startswith("utf"))


@contextmanager
def open_book(logbook: str | None, *, create: bool = False) -> Iterator[Logbook]:
    """Open the logbook for a command, and say where a copy was made of one of an older form."""
    from analyser.logbook.book import Logbook

    with Logbook.open(logbook, create=create) as book:
        if book.copy_note:
            warn(book.copy_note)
        yield book


def who(by: str | None) -> str:
    """Return who is at the keyboard: as said, or the computer's word for its user."""
    import getpass

    try:
        return by or getpass.getuser()
    except (OSError, KeyError, ImportError):
        return "somebody"


def first_instant(day: str | None, option: str) -> datetime | None:
    """Read a day; return its first instant in UTC. ``option`` is what it was given to, for the message.

    Raises UsageError if it is no day.
    """
    if day is None:
        return None
    try:
        return datetime.strptime(day.strip(), "%Y-%m-%d").replace(tzinfo=UTC)
    except ValueError:
        raise UsageError(f"'{day}' is no day", place=option, mend="write 2026-03-14") from None


def flight_instant(text: str, option: str) -> datetime:
    """Read the day of a flight, or day and time of day, UTC where no zone is said.

    Raises UsageError if it is no instant, or none at which a flight can have been flown.
    """
    try:
        read = datetime.fromisoformat(text.strip())
        flown = read.astimezone(UTC) if read.tzinfo else read.replace(tzinfo=UTC)
    except (ValueError, OverflowError):
        mend = "write 2026-03-14 or 2026-03-14T18:30"
        raise UsageError(f"'{text}' is no day", place=option, mend=mend) from None
    if flown > datetime.now(UTC) + timedelta(days=1):
        raise UsageError(f"{flown:%Y-%m-%d} is still to come", mend="give the day on which it was flown")
    if flown < _FIRST_FLIGHT:
        raise UsageError(f"{flown.date()} is before the first powered flight", mend="write 2026-03-14")
    return flown


def period(
    since: Annotated[str | None, optional("First day, 2026-03-14 (UTC).")] = None,
    until: Annotated[str | None, optional("Last day, 2026-03-14 (UTC).")] = None,
) -> tuple[datetime | None, datetime | None]:
    """Return the first instant of a period in UTC and its last second, each where it is said.

    Raises UsageError if one is no day.
    """
    last = first_instant(until, "--until")
    return first_instant(since, "--since"), None if last is None else last + timedelta(days=1, seconds=-1)
