"""From grade sheets into the logbook: saved ones, a file or a folder of them, and one that is typed in."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

from analyser.errors import LogbookError, SettingsError, UsageError
from analyser.logbook.book import Logbook
from analyser.logbook.items import title_of
from analyser.logbook.marks import item_points
from analyser.logbook.names import clean_name, storable
from analyser.logbook.record import now
from analyser.logbook.sessions import Session
from analyser.logbook.sheet import Given, Sheet, check_remarks, grades_of, is_sheet, read_sheet
from analyser.rules.scales import Scale, load_scale, scale_names

#: Clocks that differ by less are told nothing about.
_CLOCK_SLACK = timedelta(minutes=5)


@dataclass(frozen=True)
class KeptSheet:
    """What came of a sheet: how many grades were new, none where it was there already; and what to tell of it."""

    count: int
    note: str = ""


def sheets_in(paths: Sequence[Path]) -> Iterator[Path]:
    """Go through saved sheets, in folders those among other files; by name."""
    for path in paths:
        if path.is_dir():
            yield from (one for one in sorted(path.glob("*.json")) if is_sheet(one))
        else:
            yield path


def keep_sheet(book: Logbook, path: Path, *, own_scale: str = "evidence-1-5") -> KeptSheet:
    """Put a grade sheet, as a debrief page saves it, into the logbook.

    Parameters
    ----------
    own_scale : str
        Name or path of the scale, where the sheet's is none that comes with the program.

    Raises
    ------
    SettingsError
        The file is no grade sheet, or something in it is wrong.
    UsageError, LogbookError
        It does not fit the logbook; nothing was kept.
    """
    sheet = read_sheet(path)
    scale = _scale(sheet, own_scale, str(path))
    given = grades_of(sheet)
    if not given:
        raise UsageError("the sheet holds no grade", file=str(path), mend="fill it in on the page")
    try:
        check_remarks(given)
        session = _session(book, sheet)
        count = book.grade(
            session.key,
            given,
            propose=scale.propose_place,
            graded=sheet.saved_utc,
            device=sheet.device.strip() or None,
            lesson=sheet.lesson.strip() or None,
        )
    except (UsageError, LogbookError) as fault:
        mend = fault.mend
        if "no session" in fault.what:
            mend = f"put the debrief of {sheet.log_name} into the logbook first, with --pilot"
        raise type(fault)(fault.what, file=str(path), place=fault.place, mend=mend) from fault
    return KeptSheet(count, _clock_note(sheet.saved_utc))


def _clock_note(saved: datetime) -> str:
    if saved <= now() + _CLOCK_SLACK:
        return ""
    return (
        f"saved at {saved:%Y-%m-%d %H:%M} UTC, which is still to come: the clock of that computer is wrong; "
        "grades count in the order in which they arrive here"
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
            f"it is filled in on the scale '{sheet.scale}' ({', '.join(sheet.levels)})",
            file=file,
            place="key 'scale'",
            mend="give that scale's TOML file with --scale",
        )
    return scale


@dataclass
class TypedSheet:
    """One hold of a session, counted from 1, about to be graded.

    ``scale_name`` may be a path; without ``required_name`` the scale's level is asked for; an empty ``instructor`` is
    the session's.
    """

    session: Session
    hold: int
    scale_name: str
    required_name: str | None
    instructor: str
    scale: Scale = field(init=False)
    points: dict[str, float | None] = field(init=False)

    def __post_init__(self) -> None:
        self.scale = load_scale(self.scale_name)
        self.required = self.scale.level(self.required_name or self.scale.required)
        if not 1 <= self.hold <= len(self.session.holds):
            what = f"session {self.session.reference} has {len(self.session.holds)} holds"
            raise UsageError(what, place="--hold", mend="give the number of one of them")
        self.points = item_points(self.session.holds[self.hold - 1])

    def heading(self) -> str:
        """Say what is graded, and on which scale."""
        levels = ", ".join(level.title for level in self.scale.levels)
        one = self.session
        return f"{one.reference}: {one.log_name}, hold {self.hold}, flown by {one.pilot}\nScale: {levels}"

    def lines(self) -> Iterator[tuple[str, str]]:
        """Go through the items."""
        for key, points in self.points.items():
            proposed = self.scale.propose(points)
            said = "not judged" if proposed is None else f"{points:.0f} points, proposed {proposed.title}"
            yield key, f"{title_of(key)} ({said})"

    def given(self, said: str, *, own: bool) -> Given:
        """Read one grade, ``ITEM=GRADE`` or ``ITEM=GRADE:remark``; ``own`` is the pilot's own.

        Raises
        ------
        UsageError
            No such item or grade, or not of that form.
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
        return Given(
            hold=self.hold,
            item=key,
            given_as="pilot" if own else "instructor",
            grader=grader,
            scale=self.scale.key,
            level=found.key,
            place=self.scale.place(found.key),
            required=self.required.key,
            required_place=self.scale.place(self.required.key),
            remark=remark.strip(),
        )

    def keep(self, book: Logbook, given: Sequence[Given]) -> int:
        """Put the grades into the logbook; return how many were new.

        Raises
        ------
        UsageError
            None was given, or one below standard has no remark.
        LogbookError
            They were not kept.
        """
        if not given:
            raise UsageError("no grade is given", mend="give one at least")
        check_remarks(given)
        return book.grade(self.session.key, given, propose=self.scale.propose_place)
