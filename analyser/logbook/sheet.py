"""The grade sheet's file: what a debrief page saves after pilot and instructor have graded."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any, ClassVar

from analyser.errors import SettingsError, UsageError
from analyser.frozen import dataclass
from analyser.logbook.names import clean_name
from analyser.logbook.sessions import GivenAs

KIND = "holding grade sheet"
SCHEMA = 1
_LARGEST_BYTES = 1_000_000
_STRICT = {"extra": "forbid", "strict": True}


@dataclass(frozen=True, kw_only=True)
class SheetItem:
    """One line of a grade sheet; a grade that was not given is None."""

    __pydantic_config__: ClassVar = _STRICT
    item: str
    computed_points: float | None
    proposed: str | None
    pilot: str | None
    instructor: str | None
    required: str | None
    remark: str = ""


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """A filled-in grade sheet for one hold, counted from 1, of the log that was debriefed.

    ``levels`` are the keys of the scale's, lowest first: a sheet can be read without the scale's own file. ``date`` is
    as written on the sheet, ISO; names, device and lesson may be empty.
    """

    __pydantic_config__: ClassVar = _STRICT
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


@dataclass(frozen=True)
class Given:
    """One grade on its way into the logbook.

    ``grader`` is cleaned, and empty for the session's own pilot or instructor; ``place`` is that of the level on its
    scale, 1 the lowest.
    """

    hold: int
    item: str
    given_as: GivenAs
    grader: str
    scale: str
    level: str
    place: int
    required: str | None
    required_place: int | None
    remark: str

    @property
    def unexplained(self) -> bool:
        """Whether it is below the grade asked for, and no remark says why."""
        return self.required_place is not None and self.place < self.required_place and not self.remark


def read_sheet(path: Path) -> Sheet:
    """Read a grade sheet's file.

    Raises
    ------
    SettingsError
        It cannot be read, is no grade sheet, or something in it is wrong (all of it named).
    """
    from analyser.rules.toml_data import fill

    data = _read_json(path)
    if data.get("kind") != KIND:
        mend = "give the file that a debrief page's grade sheet saves"
        raise SettingsError("is not a grade sheet", file=str(path), mend=mend)
    if data.get("schema") != SCHEMA:
        raise SettingsError(
            f"has schema {data.get('schema')!r}, this program reads {SCHEMA}",
            file=str(path),
            place="key 'schema'",
            mend="use the program version that made the page",
        )
    sheet = fill(Sheet, data, file=str(path), error=SettingsError)
    _check_levels(sheet, str(path))
    if not re.fullmatch("[0-9a-f]{64}", sheet.log_sha256):
        # A shorter word would be looked up as the reference of some session.
        raise SettingsError("is not the SHA-256 of a log", file=str(path), place="key 'log_sha256'")
    return sheet


def is_sheet(path: Path) -> bool:
    """Tell a grade sheet's file from other files of a folder: debriefs and downloads are JSON too."""
    try:
        return _read_json(path).get("kind") == KIND
    except SettingsError:
        return False


def _read_json(path: Path) -> Mapping[str, Any]:
    try:
        content = path.read_bytes()
        if len(content) > _LARGEST_BYTES:
            raise SettingsError("is too large for a grade sheet", file=str(path))
        data = json.loads(content.decode("utf-8-sig"))
    except OSError as fault:
        what = (fault.strerror or "cannot be read").lower()
        raise SettingsError(what, file=str(path), mend="check the name and the path") from fault
    except (UnicodeDecodeError, ValueError, RecursionError) as fault:
        raise SettingsError(f"is not JSON: {fault}", file=str(path)) from fault
    return data if isinstance(data, Mapping) else {}


def _check_levels(sheet: Sheet, file: str) -> None:
    for number, line in enumerate(sheet.items, start=1):
        for said in (line.pilot, line.instructor, line.required):
            if said is not None and said not in sheet.levels:
                what = f"'{said}' is no grade of the scale '{sheet.scale}'"
                raise SettingsError(what, file=file, place=f"line {number} ('{line.item}')")


def grades_of(sheet: Sheet) -> list[Given]:
    """Take the grades off a sheet: the pilot's own and the instructor's.

    The remark goes with the instructor's grade, or with the pilot's where there is no other.

    Raises
    ------
    UsageError
        A name that cannot be one.
    """
    pilot = clean_name(sheet.pilot) if sheet.pilot.strip() else ""
    instructor = clean_name(sheet.instructor, what="instructor") if sheet.instructor.strip() else ""
    given = []
    for line in sheet.items:
        if line.pilot is not None:
            remark = line.remark if line.instructor is None else ""
            given.append(_given(sheet, line, "pilot", pilot, line.pilot, remark))
        if line.instructor is not None:
            given.append(_given(sheet, line, "instructor", instructor, line.instructor, line.remark))
    return given


def _given(sheet: Sheet, line: SheetItem, given_as: GivenAs, grader: str, level: str, remark: str) -> Given:
    return Given(
        hold=sheet.hold,
        item=line.item,
        given_as=given_as,
        grader=grader,
        scale=sheet.scale,
        level=level,
        place=sheet.levels.index(level) + 1,
        required=line.required,
        required_place=None if line.required is None else sheet.levels.index(line.required) + 1,
        remark=remark.strip(),
    )


def check_remarks(given: Sequence[Given]) -> None:
    """See that each item below standard on a sheet has a remark.

    The instructor's grade decides; where an item has none, the pilot's own.

    Raises
    ------
    UsageError
        Names every item that lacks its remark.
    """
    deciding: dict[tuple[int, str], Given] = {}
    for one in given:
        if (one.hold, one.item) not in deciding or one.given_as == "instructor":
            deciding[one.hold, one.item] = one
    bare = [one.item.replace("_", " ") for one in deciding.values() if one.unexplained]
    if bare:
        raise UsageError(
            "below the required grade, and no remark says why: " + ", ".join(bare),
            mend="add a remark to each",
        )
