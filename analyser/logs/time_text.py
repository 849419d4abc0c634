"""Times and dates that are written out: clocks of 24 and 12 hours, and dates in the one order that fits them all."""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from analyser.earth.constants import DAY_S
from analyser.frozen import dataclass
from analyser.logs.log_thresholds import LOOK, TIMES
from analyser.logs.meaning import vocabulary
from analyser.logs.movement import is_flying_speed
from analyser.logs.number_text import plain_numbers
from analyser.logs.raw import FloatArray
from analyser.logs.text import without_accents
from analyser.logs.times import midnight_s, unroll_days, zone_offset_s
from analyser.logs.track import Notice

if TYPE_CHECKING:
    from pandas import Series

    TextOrNumbers = Series[float] | Series[str]

_CLOCK = re.compile(
    r"^(?:T ?)?(?P<sign>[-+−]?)(?P<h>\d{1,2})[:.h](?P<m>\d{2}|\d(?=:))"
    r"(?:[:.m](?P<s>\d{1,2}(?:[.,]\d+|:\d{3}(?!\d))?)s?)?\s*(?P<half>[AaPp](?:\.? ?[Mm]\.?)?(?![A-Za-z]))?"
    r"\s*(?P<zone>[Zz]|[A-Z]{3,4}|(?:UTC|GMT)?[+-]\d{1,2}(?::?\d{2})?)?$"
)
_MOMENT = re.compile(r"^\s*\d{4}-?\d{2}-?\d{2}[T ]")
_MINUTES = re.compile(r"^(\d{1,3}):(\d{2}(?:[.,]\d+)?)$")
#: What stands round a moment and says nothing of it: brackets, a weekday, the German word for a clock, a zone's place
#: or its long name.
_AROUND = re.compile(
    r"^[\s\[(]+|^\s*(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*[,.]?\s+|\s*Uhr\s*$|\[[\w/+-]+\]\s*$|(?<=\s)\([^\d)]*\)\s*$"
    r"|[\])\s]+$",
    re.IGNORECASE,
)
_NAME = r"[^\W\d_]{3,12}"
#: Date and clock, however they are joined, with the clock last; and a clock anywhere else, with its zone.
_JOINED = re.compile(
    rf"^(?P<date>\d{{1,4}}([-/._])(?:\d{{1,2}}|{_NAME})\2\d{{1,4}}|\d{{4}}:\d{{2}}:\d{{2}}|\d{{4}}[-:]?\d{{3}}|\d{{8}}|\d{{6}}"
    rf"|\d{{1,2}}\.? {_NAME}\.? \d{{4}}|{_NAME}\.? \d{{1,2}},? \d{{4}})(?:[Tt_:]| ?[ ,-] ?)\s*(?P<clock>\d.*)$"
)
_CLOCK_INSIDE = re.compile(
    r"(?<!\d)\d{1,2}:\d{2}:\d{2}(?:[.,]\d+)?(?: ?[AaPp]\.? ?[Mm]\b\.?)?"
    r"(?: ?(?:UTC|GMT)?[+-]\d{2}:?\d{2}| ?(?:Z|[A-Z]{3,4})\b)?"
)
_COMPACT = re.compile(r"^(\d{2})(\d{2})(\d{2}(?:\.\d+)?[Zz]?)$")
#: Behind a date, as in names of files.
_FILE_NAME_CLOCK = re.compile(r"^(\d{2})-(\d{2})-(\d{2})(?!\d)")
_SIX_DIGITS = re.compile(r"^(\d{2})(\d{2})(\d{2})$")
#: A day of the year without its year, before the clock.
_BARE_DAY = re.compile(r"^[0-3]\d{2}[:/ ](?=\d{2}:\d{2}:\d{2})")
#: Takes times in seconds and returns the usual speed over the ground in knots, 0 where it is not known.
SpeedOf = Callable[[FloatArray], float]


@dataclass(frozen=True)
class Clock:
    """A table's times."""

    #: POSIX seconds where ``dated``, otherwise seconds of any origin.
    time_s: FloatArray
    dated: bool
    #: As read, for the list of sources.
    unit: str = ""
    #: Why the unit or form was assumed; empty where the file says it.
    assumed: str = ""
    notices: tuple[Notice, ...] = ()
    #: Whether a bare number's unit is not said and must be settled by how fast the aircraft moved.
    scale_open: bool = False
    #: What is known of the zone: ``"said"``, ``"local"`` or ``""``.
    zone: str = ""
    #: How far ahead of UTC the clocks were from which a time of day was taken: a date beside them is of their zone.
    ahead_s: FloatArray | float = 0.0

    def saying(self, code: str, message: str, **changes: Any) -> Clock:
        """Return the clock with one more notice, and with other fields as given."""
        return replace(self, notices=(*self.notices, Notice(code, message)), **changes)


def begins_with_moment(column: Series[str]) -> bool:
    """Tell whether the first filled cell holds date and time as ISO 8601 writes them."""
    return _MOMENT.match(_first_filled(column)) is not None


def _first_filled(column: Series[str]) -> str:
    return next(
        (text for text in column.iloc[: LOOK.first_rows].tolist() if isinstance(text, str) and text.strip()),
        "",
    )


def text_clock(column: Series[str], speed_of: SpeedOf, order: str = "") -> Clock:
    """Read times that are written out: ISO, date and clock, or the clock alone, 24 or 12 hours.

    ``speed_of`` tells minutes and seconds from hours and minutes; ``order`` is ``"dmy"``, ``"mdy"`` or ``"ymd"`` where
    the person or the header says it.
    """
    first = _first_filled(column).strip()
    if _MOMENT.match(first):
        moments = _moments(column)
        time_s = np.where(np.isnat(moments), np.nan, moments.astype(np.int64) / 1e6)
        if np.isfinite(time_s).mean() > 0.5:
            zoned = re.search(r"(Z|UTC|\d[+-]\d{2}(:?\d{2})?)$", first[10:])
            return Clock(time_s, True, "ISO 8601", zone="said" if zoned else "")
    texts = (text[: LOOK.moment_letters] if isinstance(text, str) else "" for text in column)
    written = [_AROUND.sub("", text).strip() for text in texts]
    clock = by_pattern(written, order)
    if _MINUTES.match(first) and (clock.dated or not is_flying_speed(speed_of(clock.time_s))):
        short = _minutes_clock(written)
        return short if np.isfinite(short.time_s).mean() > 0.5 else clock
    return clock


def _moments(column: Series[str]) -> NDArray[np.datetime64]:
    """Read ISO 8601, in UTC; what cannot be read is not a time."""
    import pandas as pd

    if isinstance(column.dtype, pd.StringDtype) and column.dtype.storage == "pyarrow":
        # Where pandas keeps its text in Arrow, that reads it seven times as fast, but only if every cell is whole.
        in_arrow: Any = column
        try:
            moments = in_arrow.astype("timestamp[us, UTC][pyarrow]").to_numpy(dtype="datetime64[us]")
            return np.asarray(moments)
        except ValueError:
            pass
    read = pd.to_datetime(column, format="ISO8601", utc=True, errors="coerce")
    return np.asarray(read.dt.tz_localize(None), dtype="datetime64[us]")


def _minutes_clock(written: Sequence[str]) -> Clock:
    """Read minutes and seconds, ``59:58.5``, which spreadsheets begin again at each hour."""
    matches = [_MINUTES.match(text) for text in written]
    seconds = np.array([int(m[1]) * 60.0 + float(m[2].replace(",", ".")) if m else np.nan for m in matches])
    return Clock(unroll_days(seconds, 3600.0), False, "minutes and seconds")


def by_pattern(written: Sequence[str], order: str) -> Clock:
    """Read dates and clocks, or clocks alone; the order of a date's parts is empty where nobody says it."""
    parts = [_split(text) for text in written]
    # Dates repeat from row to row: each is read once.
    days, notices = read_dates(sorted({date for date, _ in parts if date}), order)
    clocks = [_clock(clock) for _, clock in parts]
    clock_s = np.array([seconds for seconds, _ in clocks])
    day_s = np.array([days.get(date, np.nan) for date, _ in parts])
    zone = "said" if any(ahead is not None for _, ahead in clocks) else ""
    ahead_s = np.array([ahead or 0.0 for _, ahead in clocks])
    dated = bool(np.isfinite(day_s).any())
    time_s = clock_s + day_s if dated else unroll_days(clock_s)
    unit = "date and time" if dated else "time of day"
    return Clock(time_s - ahead_s, dated, unit, "", notices, zone=zone, ahead_s=0.0 if dated else ahead_s)


def _split(text: str) -> tuple[str, str]:
    """Cut a written moment into its date and its clock time; either may be missing."""
    if match := _JOINED.match(text):
        return _SIX_DIGITS.sub(r"\1/\2/\3", match["date"]), _FILE_NAME_CLOCK.sub(r"\1:\2:\3", match["clock"])
    if match := _CLOCK_INSIDE.search(text):
        date = _CLOCK_INSIDE.sub(" ", text).strip("T ,:_")
        # A date behind the clock has letters in it, or three numbers; a day's number alone is none.
        if _DATE.match(date) or (any(map(str.isdigit, date)) and any(map(str.isalpha, date))):
            return date, match[0]
    return "", _BARE_DAY.sub("", text)


def _clock(text: str) -> tuple[float, float | None]:
    """Read a clock: seconds of its day, and how far it says to be ahead of UTC, None where it does not say."""
    match = _CLOCK.match(_COMPACT.sub(r"\1:\2:\3", text))
    if match is None:
        return float("nan"), None
    hour, minute, half = int(match["h"]), int(match["m"]), (match["half"] or "").lower()
    second = float(re.sub("[,:]", ".", match["s"] or "0"))
    if hour > 24 or minute > 59 or second >= 61.0 or (half and not 1 <= hour <= 12):
        return float("nan"), None
    hour = hour % 12 + 12 * half.startswith("p") if half else hour
    seconds = (hour * 3600.0 + minute * 60.0 + second) * (-1.0 if match["sign"] in ("-", "−") else 1.0)
    return seconds, zone_offset_s(match["zone"]) if match["zone"] else None


_DATE = re.compile(r"^(\d{1,4})([-/. :_])(\d{1,2})\2(\d{1,4})$")
#: The day of the year, and of the week (ISO 8601).
_ORDINAL, _OF_WEEK = re.compile(r"^(\d{4})[-:]?(\d{3})$"), re.compile(r"^(\d{4})-?W(\d{2})-?([1-7])$")
_COMPACT_DATE = re.compile(r"^(\d{4})()(\d{2})(\d{2})$")
_SHORT_DATE = re.compile(r"^(\d{1,2})([-/. _])(\d{1,2})\2(\d{2}|\d{4})(?:\D|$)")
#: 1970-01-01 as spreadsheets number days, from 1899-12-30.
_SPREADSHEET_1970 = 25_569.0


def read_dates(written: Sequence[str], order: str) -> tuple[dict[str, float], tuple[Notice, ...]]:
    """Read distinct dates in the one order that fits them all; where several fit, say so.

    Each gives POSIX seconds of its midnight; NaN where unreadable or left open.
    """
    orders = [order] if order else _orders(written)
    readings = {name: {text: date_seconds(text, name) for text in written} for name in orders}
    known = {name: [day for day in days.values() if np.isfinite(day)] for name, days in readings.items()}
    # An order in which no date is one is none.
    firsts = {name: min(days) for name, days in known.items() if days}
    if len(set(firsts.values())) <= 1:
        return readings[next(iter(firsts), orders[0])], ()
    if {"dmy", "mdy"} <= set(firsts):
        message = "The dates can be read day first or month first; the date is left open (say --units date=dmy or mdy)."
        return dict.fromkeys(written, float("nan")), (Notice("date-ambiguous", message),)
    # The year stands first or last: a flight that is debriefed is more likely this year's than one of years ago.
    best, *others = sorted(firsts, key=lambda name: -firsts[name])
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
    latest = time.time() + TIMES.ahead_s
    names = ["dmy", "mdy", *(["ymd"] if all(len(m[1]) == len(m[4]) == 2 for m in short) else [])]
    sound = []
    for name in names:
        days = [date_seconds(match[0].rstrip("T ,"), name) for match in short]
        if (
            all(TIMES.oldest_s <= day <= latest for day in days)
            and max(days) - min(days) < TIMES.longest_log_s
        ):
            sound.append(name)
    return sound or ["dmy"]


def date_seconds(text: str, order: str) -> float:
    """Read a calendar date: POSIX seconds of its midnight; NaN where unreadable.

    The order (``"dmy"``, ``"mdy"`` or ``"ymd"``) is for dates with signs between numbers; others say it themselves.
    """
    named = _with_a_month(text)
    if named is not None:
        return midnight_s(*named)
    if ordinal := _ORDINAL.match(text):
        return midnight_s(int(ordinal[1]), 1, 1) + (int(ordinal[2]) - 1) * DAY_S
    if of_week := _OF_WEEK.match(text):
        try:
            return datetime.fromisocalendar(*map(int, of_week.groups())).replace(tzinfo=UTC).timestamp()
        except ValueError:
            return float("nan")
    match = _COMPACT_DATE.match(text) or _DATE.match(text.replace(". ", "."))
    if match is None:
        return float("nan")
    first, sign, second, third = match.groups()
    if len(first) == 4 or (order == "ymd" and len(third) == 2):
        parts = first, second, third
    elif order == "mdy" and sign in "-/_":
        parts = third, first, second
    else:
        parts = third, second, first
    return midnight_s(*map(int, parts))


def _with_a_month(text: str) -> tuple[int, int, int] | None:
    """Read the year, month and day of a date that names its month, in any order: ``Saturday, March 14th, 2026``.

    A weekday's name may begin as a month's does, and stands before it: ``martes, 14 de abril de 2026``.
    """
    words = re.findall(r"[^\W\d_]{3,}", without_accents(text.lower()))
    months, numbers = vocabulary().months, re.findall(r"\d+", text)
    named = [months.get(word[:4]) or months.get(word[:3]) for word in words]
    month = next((one for one in reversed(named) if one), None)
    if month is None or len(numbers) != 2 or max(map(len, numbers)) > 4:
        return None
    day, year = numbers if len(numbers[0]) < 4 else numbers[::-1]
    return int(year), month, int(day)


def date_column(
    column: TextOrNumbers | NDArray[Any], order: str = ""
) -> tuple[FloatArray, tuple[Notice, ...]]:
    """Read a column of dates: POSIX seconds of each midnight; NaN where unreadable or left open."""
    import pandas as pd

    # Dates repeat from row to row: each is read once.
    place, distinct = pd.factorize(np.asarray(column))
    values, _ = plain_numbers(pd.Series(distinct))
    texts = [
        _date_digits(value) if np.isfinite(value) else str(cell)[: LOOK.moment_letters].strip()
        for value, cell in zip(values.tolist(), distinct, strict=True)
    ]
    # A date may have a clock beside it that says nothing.
    texts = [_split(text)[0] or text for text in texts]
    days, notices = read_dates(sorted({*texts} - {""}), order)
    found = np.array([days.get(text, np.nan) for text in texts])
    if not np.isfinite(found).any() and not notices:
        serial = (values - _SPREADSHEET_1970) * DAY_S
        found = np.where((serial >= TIMES.oldest_s) & (serial <= time.time() + TIMES.ahead_s), serial, np.nan)
    # What is missing has the place −1.
    return np.append(found, np.nan)[place], notices


def _date_digits(value: float) -> str:
    """Write a number such as 20260314 or 140326 as the date that its digits may be."""
    if value != np.floor(value) or not 10_100.0 < value < 1e8:
        return ""
    digits = f"{value:.0f}".zfill(6)
    if len(digits) in (7, 8):
        # Year and day of the year, or year, month and day.
        return digits
    return f"{digits[:2]}/{digits[2:4]}/{digits[4:]}" if len(digits) == 6 else ""
