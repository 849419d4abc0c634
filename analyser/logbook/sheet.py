"""Grade sheets: the file that a debrief page saves, a folder of them, or one that is typed in; into the logbook."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analyser.errors import LogbookError, SettingsError, UsageError
from analyser.frozen import dataclass
from analyser.logbook.documents import iso_utc, now
from analyser.logbook.marks import item_points, proposable, title_of
from analyser.logbook.names import clean_name, counted, name_key, storable
from analyser.logbook.sessions import Given, GivenAs, Session
from analyser.rules.scales import Scale, load_scale, scale_names
from analyser.rules.toml_data import RuleTable, fill

if TYPE_CHECKING:
    from analyser.logbook.book import Logbook

KIND = "holding grade sheet"
SCHEMA = 1
_LARGEST_BYTES = 1_000_000
_GIVE = "give the file that a debrief page's grade sheet saves"
#: Clocks that differ by less are told nothing about.
_CLOCK_SLACK = timedelta(minutes=5)


class SheetItem(RuleTable):
    """One line of a grade sheet; a grade that was not given is None."""

    item: str
    computed_points: float | None
    proposed: str | None
    pilot: str | None
    instructor: str | None
    required: str | None
    remark: str = ""


class Sheet(RuleTable):
    """A filled-in grade sheet for one hold, counted from 1, of the log that was debriefed.

    ``levels`` are the keys of the scale's, lowest first: a sheet can be read without the scale's own file. ``date`` is
    as written on the sheet, ISO; names, device and lesson may be empty.
    """

    kind: str
    schema: int
    log_sha256: str
    log_name: str
    hold: int
    scale: str
    levels: tuple[str, ...]
    date: str
    saved_utc: datetime
    pilot: str
    instructor: str
    device: str = ""
    lesson: str = ""
    items: tuple[SheetItem, ...]


def read_sheet(path: Path) -> Sheet:
    """Read a grade sheet's file.

    Raises SettingsError if it cannot be read, is no grade sheet, or something in it is wrong (all of it named).
    """
    data = _read_json(path)
    if data.get("kind") != KIND:
        raise SettingsError("is not a grade sheet", file=str(path), mend=_GIVE)
    if data.get("schema") != SCHEMA:
        raise SettingsError(
            f"has schema {data.get('schema')!r:.40}, this program reads {SCHEMA}",
            file=str(path),
            place="key 'schema'",
            mend="use the program version that made the page",
        )
    sheet = fill(Sheet, data, file=str(path), error=SettingsError)
    _check_levels(sheet, str(path))
    try:
        # A sheet that somebody edited may have lost its zone, and the first and last days of the calendar have no UTC.
        sheet = replace(sheet, saved_utc=datetime.fromisoformat(iso_utc(sheet.saved_utc)))
    except OverflowError as fault:
        what = "is no instant that can be written in UTC"
        raise SettingsError(what, file=str(path), place="key 'saved_utc'") from fault
    if not re.fullmatch("[0-9a-f]{64}", sheet.log_sha256):
        # A shorter word would be looked up as the reference of some session.
        raise SettingsError("is not the SHA-256 of a log", file=str(path), place="key 'log_sha256'")
    return sheet


def is_sheet(path: Path) -> bool:
    """Tell a grade sheet's file from other files of a folder: debriefs and downloads are JSON too.

    A file with the name of one that cannot be read counts: nobody would miss what is passed over in silence.
    """
    try:
        return _read_json(path).get("kind") == KIND
    except SettingsError:
        return "-grades" in path.stem


def _read_json(path: Path) -> Mapping[str, Any]:
    try:
        content = path.read_bytes()
        if len(content) > _LARGEST_BYTES:
            raise SettingsError("is too large for a grade sheet", file=str(path), mend=_GIVE)
        data = json.loads(content.decode("utf-8-sig"))
        # JSON can name half a character, and neither a message nor a database can hold it.
        json.dumps(data, ensure_ascii=False).encode("utf-8")
    except OSError as fault:
        what = (fault.strerror or "cannot be read").lower()
        raise SettingsError(what, file=str(path), mend="check the name and the path") from fault
    except (UnicodeDecodeError, ValueError, RecursionError) as fault:
        raise SettingsError(f"is not JSON: {fault}", file=str(path), mend=_GIVE) from fault
    return data if isinstance(data, Mapping) else {}


def _check_levels(sheet: Sheet, file: str) -> None:
    for number, line in enumerate(sheet.items, start=1):
        for said in (line.pilot, line.instructor, line.required):
            if said is not None and said not in sheet.levels:
                what = f"'{said:.40}' is no grade of the scale '{sheet.scale:.40}'"
                raise SettingsError(what, file=file, place=f"line {number} ('{line.item}')")


def grades_of(sheet: Sheet) -> list[Given]:
    """Take the grades off a sheet: the pilot's own and the instructor's.

    The remark goes with the instructor's grade, or with the pilot's where there is no other. Raises UsageError: a
    name that cannot be one.
    """
    pilot = clean_name(sheet.pilot) if sheet.pilot.strip() else ""
    instructor = clean_name(sheet.instructor, what="instructor") if sheet.instructor.strip() else ""
    given = []
    for line in sheet.items:
        about, remark = (sheet.hold, line.item), line.remark.strip()
        if line.pilot is not None:
            own = remark if line.instructor is None else ""
            given.append(Given(*about, "pilot", pilot, line.pilot, line.required, own))
        if line.instructor is not None:
            given.append(Given(*about, "instructor", instructor, line.instructor, line.required, remark))
    return given


def unexplained(one: Given, scale: Scale) -> bool:
    """Whether a grade is below the one asked for, and no remark says why."""
    return not one.remark and one.required is not None and scale.place(one.level) < scale.place(one.required)


def _check_remarks(given: Sequence[Given], scale: Scale) -> None:
    """See that each item below standard has a remark: by the instructor's grade, else by the pilot's own."""
    deciding: dict[tuple[int, str], Given] = {}
    for one in given:
        if (one.hold, one.item) not in deciding or one.given_as == "instructor":
            deciding[one.hold, one.item] = one
    bare = [one.item.replace("_", " ") for one in deciding.values() if unexplained(one, scale)]
    if bare:
        raise UsageError(
            "below the required grade, and no remark says why: " + ", ".join(bare),
            mend="add a remark to each",
        )


@dataclass(frozen=True)
class KeptSheet:
    """What came of a sheet: how many grades were new, none where it was there already; and what to tell of it."""

    count: int
    note: str = ""


def sheets_in(paths: Sequence[Path]) -> Iterator[Path]:
    """Go through saved sheets, in folders those among other files, as they were saved."""
    for path in paths:
        if path.is_dir():
            yield from as_saved(one for one in sorted(path.glob("*.json")) if is_sheet(one))
        else:
            yield path


def as_saved(sheets: Iterable[Path]) -> list[Path]:
    """Put sheets that arrive together in the order in which they were saved: what was corrected comes last.

    Their names do not tell it: a browser calls the second one ``… (1).json``. A sheet whose own time is later than
    its file's comes from a clock that runs ahead; then the file's time counts.
    """

    def saved(path: Path) -> tuple[datetime, str]:
        try:
            changed = datetime.fromtimestamp(path.stat().st_mtime, UTC)
            return min(read_sheet(path).saved_utc, changed), path.name
        except (SettingsError, OSError):
            return datetime.max.replace(tzinfo=UTC), path.name

    return sorted(sheets, key=saved)


def keep_sheet(book: Logbook, path: Path, *, own_scale: str = "evidence-1-5") -> KeptSheet:
    """Put a grade sheet, as a debrief page saves it, into the logbook.

    ``own_scale`` is the name or path of the scale, where the sheet's is none that comes with the program. Raises
    SettingsError if the file is no grade sheet, or something in it is wrong. Raises UsageError or LogbookError if it
    does not fit the logbook; nothing was kept.
    """
    sheet = read_sheet(path)
    scale = _scale(sheet, own_scale, str(path))
    try:
        given = grades_of(sheet)
        if not given:
            raise UsageError("the sheet holds no grade", mend="fill it in on the page")
        _check_remarks(given, scale)
        session = _session(book, sheet)
        count = book.grade(
            session.key,
            given,
            scale=scale,
            graded=sheet.saved_utc,
            device=sheet.device.strip() or None,
            lesson=sheet.lesson.strip() or None,
            flown=_day(sheet.date),
        )
    except (UsageError, LogbookError) as fault:
        mend = fault.mend
        if "no session" in fault.what:
            mend = f"put the debrief of {sheet.log_name} into the logbook first, with --pilot"
        raise type(fault)(fault.what, file=str(path), place=fault.place, mend=mend) from fault
    # The names stand in this file too: whoever erases a person is told of it.
    book.note_files([(path, session.pilot)])
    return KeptSheet(
        count, "; ".join(filter(None, (_clock_note(sheet.saved_utc), _pilot_note(sheet, session))))
    )


def _day(written: str) -> datetime | None:
    """Read the day that was written on a sheet; None where it is none, or still to come."""
    try:
        day = datetime.strptime(written.strip(), "%Y-%m-%d").replace(tzinfo=UTC)
    except ValueError:
        return None
    return day if day <= now() + timedelta(days=1) else None


def _clock_note(saved: datetime) -> str:
    if saved <= now() + _CLOCK_SLACK:
        return ""
    return (
        f"saved at {saved:%Y-%m-%d %H:%M} UTC, which is still to come: the clock of that computer is wrong; "
        "grades count in the order in which they arrive here"
    )


def _pilot_note(sheet: Sheet, session: Session) -> str:
    """Say that another pilot is named; the pilot's own grades would have been refused, an instructor's may be right."""
    if not sheet.pilot.strip() or name_key(clean_name(sheet.pilot)) == name_key(session.pilot):
        return ""
    return (
        f"the sheet names {clean_name(sheet.pilot)}, but this log was flown by {session.pilot}: "
        f"if that is wrong: analyser logbook move {session.reference} --pilot NAME"
    )


def _session(book: Logbook, sheet: Sheet) -> Session:
    """Find the sheet's session; of several flights in one log, the one of the sheet's name."""
    found = book.flights(sheet.log_sha256)
    named = [one for one in found if one.log_name == storable(sheet.log_name)]
    return (named or found or [book.session(sheet.log_sha256)])[0]


def _scale(sheet: Sheet, own_scale: str, file: str) -> Scale:
    scale = load_scale(sheet.scale if sheet.scale in scale_names() else own_scale)
    levels = tuple(level.key for level in scale.levels)
    if scale.key != sheet.scale or levels != sheet.levels:
        raise SettingsError(
            f"it is filled in on the scale '{sheet.scale:.40}' ({', '.join(sheet.levels):.120})",
            file=file,
            place="key 'scale'",
            mend="give that scale's TOML file with --scale",
        )
    return scale


class TypedSheet:
    """One hold of a session, counted from 1, about to be graded.

    The scale's name may be a path; without ``required`` the scale's level is asked for; an empty ``instructor`` is the
    session's.
    """

    def __init__(
        self, session: Session, hold: int, scale_name: str, required: str | None, instructor: str
    ) -> None:
        self.session, self.hold, self.instructor = session, hold, instructor
        self.scale = load_scale(scale_name)
        self.required = self.scale.level(required or self.scale.required)
        if not 1 <= hold <= len(session.holds):
            what = f"session {session.reference} has {counted(len(session.holds), 'hold')}"
            mend = "give the number of one of them" if session.holds else "there is nothing to grade in it"
            raise UsageError(what, place="--hold", mend=mend)
        self.points = item_points(session.holds[hold - 1])

    def heading(self) -> str:
        """Say what is graded, and on which scale."""
        levels = ", ".join(level.title for level in self.scale.levels)
        one = self.session
        return f"{one.reference}: {one.log_name}, hold {self.hold}, flown by {one.pilot}\nScale: {levels}"

    def lines(self) -> Iterator[tuple[str, str]]:
        """Go through the items."""
        for key, points in self.points.items():
            grade = self.session.holds[self.hold - 1].grade
            proposed = self.scale.propose(proposable(key, points, grade))
            worth = "no grade is proposed" if proposed is None else f"proposed {proposed.title}"
            said = "not judged" if points is None else f"{points:.0f} points, {worth}"
            yield key, f"{title_of(key)} ({said})"

    def given(self, said: str, *, own: bool) -> Given:
        """Read one grade, ``ITEM=GRADE`` or ``ITEM=GRADE:remark``; ``own`` is the pilot's own.

        Raises UsageError: no such item or grade, or not of that form.
        """
        key, equals, rest = said.partition("=")
        level, _, remark = rest.partition(":")
        if not equals or not level.strip():
            raise UsageError(
                f"'{said}' is not of the form ITEM=GRADE", mend="write altitude=3, or altitude=2:why"
            )
        key = key.strip().lower().replace(" ", "_")
        if key not in self.points:
            raise UsageError(f"there is no item '{key}'", mend="use one of: " + ", ".join(self.points))
        found = self.scale.level(level)
        grader = clean_name(self.instructor, what="instructor") if self.instructor and not own else ""
        role: GivenAs = "pilot" if own else "instructor"
        return Given(self.hold, key, role, grader, found.key, self.required.key, remark.strip())

    def keep(self, book: Logbook, given: Sequence[Given]) -> int:
        """Put the grades into the logbook; return how many were new.

        Raises UsageError if none was given, or one below standard has no remark. Raises LogbookError if they were not
        kept.
        """
        if not given:
            raise UsageError("no grade is given", mend="give one at least")
        _check_remarks(given, self.scale)
        return book.grade(self.session.key, given, scale=self.scale)
