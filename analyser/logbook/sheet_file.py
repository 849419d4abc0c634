"""From a grade sheet's file into the logbook."""

from __future__ import annotations

from pathlib import Path

from analyser.errors import LogbookError, SettingsError, UsageError
from analyser.logbook.book import Logbook
from analyser.logbook.names import storable
from analyser.logbook.sessions import Session
from analyser.logbook.sheet import Sheet, check_remarks, grades_of, read_sheet
from analyser.rules.scales import Scale, load_scale, scale_names


def keep_sheet(book: Logbook, path: Path, *, own_scale: str = "evidence-1-5") -> int:
    """Put a grade sheet into the logbook.

    Parameters
    ----------
    book : Logbook
    path : Path
        As saved by a debrief page.
    own_scale : str
        Name or path of the scale, where the sheet's is none that comes with the program.

    Returns
    -------
    int
        How many grades were new; 0 where the sheet was there already.

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
        return book.grade(
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
