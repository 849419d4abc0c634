"""Written times and dates to seconds: ISO 8601, and calendar dates in the one order of their parts that fits all."""

from __future__ import annotations

import re
import time
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from analyser.logs.text import without_accents
from analyser.logs.track import Notice

if TYPE_CHECKING:
    from pandas import Series

    TextOrNumbers = Series[float] | Series[str]

FloatArray = NDArray[np.float64]

#: A day in seconds; logs without a date start again from zero after it.
DAY_S = 86_400.0

_EPOCH = datetime(1970, 1, 1)
_EPOCH_UTC = datetime(1970, 1, 1, tzinfo=UTC)


_DATE = re.compile(r"^(\d{1,4})([-/. :])(\d{1,2}|[^\W\d_]{3,9})\2(\d{1,4})$")
#: The day of the year (ISO 8601), and a month's name before the day.
_ORDINAL = re.compile(r"^(\d{4})[-:]?(\d{3})$")
_MONTH_FIRST = re.compile(r"^([^\W\d_]{3,9})\.? +(\d{1,2}),? (\d{4})$")
_COMPACT_DATE = re.compile(r"^(\d{4})(\d{2})(\d{2})$")
#: Months by the first letters of their names, in English, German, French, Spanish, Italian and Portuguese.
_MONTHS = {
    beginning: month
    for month, beginnings in enumerate(
        (
            *("jan ene gen", "feb fev", "mar", "apr abr avr", "may mai mag", "jun giu juin", "jul lug juil"),
            *("aug ago aou", "sep set", "oct okt ott out", "nov", "dec dez dic"),
        ),
        1,
    )
    for beginning in beginnings.split()
}
_SHORT_DATE = re.compile(r"^(\d{1,2})([-/. ])(\d{1,2})\2(\d{2}|\d{4})(?:\D|$)")
#: 1970-01-01 as spreadsheets number days, from 1899-12-30.
_SPREADSHEET_1970 = 25_569.0
#: No log is older (1990-01-01), and none lasts longer.
_EARLIEST_S, _LONGEST_LOG_S = 631_152_000.0, 60 * DAY_S


def midnight_s(year: int, month: int, day: int) -> float:
    """Return the POSIX seconds of a day's midnight, NaN for no day; a year of two digits is one from 1980 on."""
    year += 2000 if year < 80 else 1900 if year < 100 else 0
    try:
        return datetime(year, month, day, tzinfo=UTC).timestamp()
    except ValueError:
        return float("nan")


def iso_seconds(written: Iterable[str | None]) -> tuple[FloatArray, int]:
    """Read ISO 8601 times: POSIX seconds, NaN where missing or unreadable, and how many carried no zone.

    Those are read as UTC.
    """
    seconds: list[float] = []
    without_zone = 0
    read = datetime.fromisoformat
    for text in written:
        try:
            moment = read(text)  # type: ignore[arg-type]
            if moment.tzinfo is None:
                without_zone += 1
                seconds.append((moment - _EPOCH).total_seconds())
            else:
                seconds.append((moment - _EPOCH_UTC).total_seconds())
        except (ValueError, TypeError, OverflowError):
            seconds.append(_trimmed(text) if text else np.nan)
    return np.array(seconds, dtype=float), without_zone


def _trimmed(text: str) -> float:
    """Read a time that has blanks round it or slashes in its date."""
    try:
        moment = datetime.fromisoformat(text.strip().replace(" Z", "Z").replace("/", "-").upper())
    except (ValueError, OverflowError):
        return float("nan")
    zone = _EPOCH if moment.tzinfo is None else _EPOCH_UTC
    return (moment - zone).total_seconds()


def zone_notice(without_zone: int, of: int) -> tuple[Notice, ...]:
    """Say that so many of all times carried no zone; nothing for none."""
    if not without_zone:
        return ()
    which = "The times carry" if without_zone == of else f"{without_zone} of {of} times carry"
    return (Notice("time-zone-assumed", f"{which} no time zone; read as UTC."),)


def untimed_notice(lines: int) -> tuple[Notice, ...]:
    """Say that lines without times stand beside timed ones; nothing for none."""
    if not lines:
        return ()
    count = "1 line without times was" if lines == 1 else f"{lines:,} lines without times were"
    return (Notice("line-untimed", f"{count} left out: nothing on it can be timed."),)


def unroll_days(time_of_day_s: FloatArray, day_s: float = DAY_S) -> FloatArray:
    """Carry a time of day, in file order, on over midnight: seconds since the first midnight; or one of the week."""
    known = np.flatnonzero(np.isfinite(time_of_day_s))
    if known.size < 2:
        return time_of_day_s
    # A step back by more than half a day is midnight; a smaller one is a clock fault, left for the cleaner.
    step = np.diff(time_of_day_s[known])
    days = np.concatenate([[0], np.cumsum((step < -day_s / 2).astype(int) - (step > day_s / 2).astype(int))])
    days = np.maximum(days - min(int(days.min()), 0), 0)
    unrolled = time_of_day_s.copy()
    unrolled[known] += days * day_s
    return unrolled


def read_dates(written: Sequence[str], order: str) -> tuple[dict[str, float], tuple[Notice, ...]]:
    """Read distinct dates in the one order that fits them all; where several fit, say so.

    Each gives POSIX seconds of its midnight; NaN where unreadable or left open.
    """
    orders = [order] if order else _orders(written)
    readings = {name: {text: date_seconds(text, name) for text in written} for name in orders}
    firsts = {name: min(days.values(), default=np.nan) for name, days in readings.items()}
    if len(set(firsts.values())) <= 1:
        return readings[orders[0]], ()
    if {"dmy", "mdy"} <= set(orders):
        message = "The dates can be read day first or month first; the date is left open (say --units date=dmy or mdy)."
        return dict.fromkeys(written, float("nan")), (Notice("date-ambiguous", message),)
    # The year stands first or last: a flight that is debriefed is more likely this year's than one of years ago.
    best, *others = sorted(orders, key=lambda name: -firsts[name])
    listed = " or ".join(f"{_shown_day(firsts[name])} (--units date={name})" for name in others)
    day = _shown_day(firsts[best])
    message = f"The dates give the year in two digits: read as {day}, but {listed} is possible too."
    return readings[best], (Notice("date-ambiguous", message),)


def _shown_day(seconds: float) -> str:
    return f"{datetime.fromtimestamp(seconds, UTC):%Y-%m-%d}"


def _orders(written: Sequence[str]) -> list[str]:
    """Return the orders of day, month and year in which every date is one; dots and words are day first."""
    short = [match for text in written if (match := _SHORT_DATE.match(text))]
    if not short or any(match[2] in ". " for match in short):
        return ["dmy"]
    latest = time.time() + 2 * DAY_S
    names = ["dmy", "mdy", *(["ymd"] if all(len(m[1]) == len(m[4]) == 2 for m in short) else [])]
    sound = []
    for name in names:
        days = [date_seconds(match[0].rstrip("T ,"), name) for match in short]
        if all(_EARLIEST_S <= day <= latest for day in days) and max(days) - min(days) < _LONGEST_LOG_S:
            sound.append(name)
    return sound or ["dmy"]


def date_seconds(text: str, order: str) -> float:
    """Read a calendar date: POSIX seconds of its midnight; NaN where unreadable.

    The order (``"dmy"``, ``"mdy"`` or ``"ymd"``) is for dates with signs between numbers; others say it themselves.
    """
    ordinal = _ORDINAL.match(text)
    if ordinal:
        return midnight_s(int(ordinal[1]), 1, 1) + (int(ordinal[2]) - 1) * DAY_S
    text = _MONTH_FIRST.sub(r"\2 \1 \3", text).replace(". ", " ")
    compact, match = _COMPACT_DATE.match(text), _DATE.match(text)
    if compact:
        year, month, day = int(compact[1]), int(compact[2]), int(compact[3])
    elif match is None:
        return float("nan")
    elif match[3].isalpha():
        name = without_accents(match[3].lower())
        month = _MONTHS.get(name[:4]) or _MONTHS.get(name[:3]) or 0
        day, year = (int(match[1]), int(match[4])) if len(match[1]) < 4 else (int(match[4]), int(match[1]))
    elif len(match[1]) == 4 or (order == "ymd" and len(match[4]) == 2):
        year, month, day = int(match[1]), int(match[3]), int(match[4])
    else:
        day, month, year = int(match[1]), int(match[3]), int(match[4])
        if order == "mdy" and match[2] in "-/":
            day, month = month, day
    return midnight_s(year, month, day)


def date_column(column: TextOrNumbers | FloatArray, order: str = "") -> tuple[FloatArray, tuple[Notice, ...]]:
    """Read a column of dates: POSIX seconds of each midnight; NaN where unreadable or left open."""
    if column.dtype.kind in "fiu":
        values = np.array(column, float)
        texts = [_date_digits(value) for value in values.tolist()]
    else:
        texts = [text.strip() if isinstance(text, str) else "" for text in column]
    distinct = {text: text.split("T")[0].split(" ")[0] if "-" in text else text for text in set(texts)}
    days, notices = read_dates(sorted({date for date in distinct.values() if date}), order)
    found = np.array([days.get(distinct[text], np.nan) for text in texts])
    if column.dtype.kind in "fiu" and not np.isfinite(found).any() and not notices:
        serial = (np.array(column, float) - _SPREADSHEET_1970) * DAY_S
        found = np.where((serial >= _EARLIEST_S) & (serial <= time.time() + 2 * DAY_S), serial, np.nan)
    return found, notices


def _date_digits(value: float) -> str:
    """Write a number such as 20260314 or 140326 as the date that its digits may be."""
    if value != np.floor(value) or not 10_100.0 < value < 1e8:
        return ""
    digits = f"{value:.0f}".zfill(6)
    if len(digits) in (7, 8):
        # Year and day of the year, or year, month and day.
        return digits
    return f"{digits[:2]}/{digits[2:4]}/{digits[4:]}" if len(digits) == 6 else ""
