"""A table's clock: which columns give the time, and how it is written."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from analyser.logs.times import unroll_days
from analyser.logs.track import Notice

if TYPE_CHECKING:
    from pandas import Series

    TextOrNumbers = Series[float] | Series[str]

FloatArray = NDArray[np.float64]

_CLOCK = re.compile(
    r"^(?P<h>\d{1,2})[:.h](?P<m>\d{2})(?:[:.m](?P<s>\d{2}(?:[.,]\d+)?)s?)?\s*(?P<half>[AaPp]\.?[Mm]\.?)?"
    r"\s*(?P<zone>Z|UTC|GMT|[+-]\d{2}:?\d{2})?$"
)
_MOMENT = re.compile(r"^\s*\d{4}-?\d{2}-?\d{2}[T ]")
_MINUTES = re.compile(r"^(\d{1,3}):(\d{2}[.,]\d+)$")
_WEEKDAY = re.compile(r"^\s*(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*[,.]?\s+", re.IGNORECASE)
_COMPACT = re.compile(r"^(\d{2})(\d{2})(\d{2}(?:\.\d+)?)Z?$")
_DATE = re.compile(r"^(\d{1,4})([-/. ])(\d{1,2}|[A-Za-z]{3,9})\2(\d{1,4})$")
_COMPACT_DATE = re.compile(r"^(\d{4})(\d{2})(\d{2})$")
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")


@dataclass(frozen=True)
class Clock:
    """A table's times.

    Attributes
    ----------
    time_s : (n,) float array
        POSIX seconds where ``dated``, otherwise seconds of any origin.
    dated : bool
    unit : str
        As read, for the list of sources.
    assumed : str
        Why the unit or form was assumed; empty where the file says it.
    notices : tuple of Notice
    scale_open : bool
        True where a bare number's unit is not said and must be settled by how fast the aircraft moved.
    """

    time_s: FloatArray
    dated: bool
    unit: str = ""
    assumed: str = ""
    notices: tuple[Notice, ...] = ()
    scale_open: bool = False


def begins_with_moment(column: Series[str]) -> bool:
    """Tell whether the first filled cell holds date and time as ISO 8601 writes them.

    Parameters
    ----------
    column : pandas Series of str

    Returns
    -------
    bool
    """
    return _MOMENT.match(_first_filled(column)) is not None


def _first_filled(column: Series[str]) -> str:
    return next((text for text in column.head(200) if isinstance(text, str) and text.strip()), "")


def text_clock(column: Series[str], *, local: bool) -> Clock:
    """Read times that are written out: ISO, date and clock, or the clock alone, 24 or 12 hours.

    Parameters
    ----------
    column : pandas Series of str
    local : bool
        Whether the header calls the time local.

    Returns
    -------
    Clock
    """
    first = _first_filled(column)
    if _MOMENT.match(first):
        time_s = _posix(_moments(column))
        if np.isfinite(time_s).mean() > 0.5:
            zoned = bool(re.search(r"(Z|UTC|[+-]\d{2}:?\d{2})\s*$", first))
            return Clock(time_s, True, "ISO 8601", notices=() if zoned else no_zone(local=local))
    if _MINUTES.match(first.strip()):
        return _minutes_clock(column.to_list())
    return _by_pattern([_WEEKDAY.sub("", text) if isinstance(text, str) else text for text in column], local)


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


def _minutes_clock(written: Sequence[object]) -> Clock:
    """Read minutes and seconds, ``59:58.5``, which spreadsheets begin again at each hour."""
    matches = [_MINUTES.match(text.strip()) if isinstance(text, str) else None for text in written]
    seconds = np.array([int(m[1]) * 60.0 + float(m[2].replace(",", ".")) if m else np.nan for m in matches])
    known = np.flatnonzero(np.isfinite(seconds))
    hours = np.concatenate([[0], np.cumsum(np.diff(seconds[known]) < -1800.0)])
    seconds[known] += hours * 3600.0
    return Clock(seconds, False, "minutes and seconds")


def _posix(moments: NDArray[np.datetime64]) -> FloatArray:
    seconds = moments.astype(np.int64) / 1e6
    seconds[np.isnat(moments)] = np.nan
    return np.asarray(seconds, dtype=float)


def no_zone(*, local: bool) -> tuple[Notice, ...]:
    """Say that no zone is given.

    Parameters
    ----------
    local : bool
        Whether the header calls the times local.

    Returns
    -------
    tuple of Notice
    """
    said = "The times are local and no offset from UTC is given" if local else "The times carry no time zone"
    return (Notice("time-zone-assumed", f"{said}; read as UTC."),)


def _by_pattern(written: Sequence[object], local: bool) -> Clock:
    clock_s, day_s, zoned = np.full(len(written), np.nan), np.full(len(written), np.nan), False
    order = _date_order([str(text).strip() for text in written if text is not None])
    for place, item in enumerate(written):
        if not isinstance(item, str):
            continue
        date_part, clock_part = _split(item.strip())
        clock_s[place], zone = _clock(clock_part)
        zoned = zoned or zone
        if date_part:
            day_s[place] = date_seconds(date_part, order)
    if np.isfinite(day_s).any():
        return Clock(clock_s + day_s, True, "date and time", notices=() if zoned else no_zone(local=local))
    unrolled, _ = unroll_days(clock_s)
    notices = (
        Notice("date-ambiguous", "The dates can be read day first or month first; the date is left open."),
    )
    return Clock(unrolled, False, "time of day", notices=notices if order == "?" else ())


def _split(text: str) -> tuple[str, str]:
    """Cut a written moment into its date and its clock time; either may be missing."""
    match = re.match(r"^(\d{1,4}([-/.])(?:\d{1,2}|[A-Za-z]{3,9})\2\d{1,4}|\d{8})[T ,]+(.+)$", text)
    if match:
        return match.group(1), match.group(3)
    match = re.match(r"^(\d{1,2} [A-Za-z]{3,9} \d{4})[ ,]+(.+)$", text)
    return (match.group(1), match.group(2)) if match else ("", text)


def _clock(text: str) -> tuple[float, bool]:
    match = _CLOCK.match(text)
    if match is None:
        compact = _COMPACT.match(text)
        if compact is None:
            return float("nan"), False
        hour, minute, second = int(compact[1]), int(compact[2]), float(compact[3])
        return (_seconds(hour, minute, second), False)
    hour, minute = int(match["h"]), int(match["m"])
    second = float((match["s"] or "0").replace(",", "."))
    half = (match["half"] or "").lower()
    if half:
        if not 1 <= hour <= 12:
            return float("nan"), False
        hour = hour % 12 + (12 if half.startswith("p") else 0)
    zone = match["zone"] or ""
    shift = _offset(zone) if zone[:1] in ("+", "-") else 0.0
    return _seconds(hour, minute, second) - shift, bool(zone)


def _seconds(hour: int, minute: int, second: float) -> float:
    if hour > 24 or minute > 59 or second >= 61.0:
        return float("nan")
    return hour * 3600.0 + minute * 60.0 + second


def _date_order(written: list[str]) -> str:
    """Return ``"dmy"``, ``"mdy"``, or ``"?"`` where slashes leave it open; dots and words are day first."""
    slashed = [re.match(r"^(\d{1,2})([-/])(\d{1,2})\2\d{2,4}", text) for text in written]
    firsts = [int(match[1]) for match in slashed if match]
    seconds = [int(match[3]) for match in slashed if match]
    if not firsts or max(firsts) > 12:
        return "dmy"
    if max(seconds) > 12:
        return "mdy"
    return "dmy" if all(a == b for a, b in zip(firsts, seconds, strict=True)) else "?"


def date_seconds(text: str, order: str) -> float:
    """Read a calendar date.

    Parameters
    ----------
    text : str
    order : str
        ``"dmy"``, ``"mdy"`` or ``"?"`` (see :func:`date_column`).

    Returns
    -------
    float
        POSIX seconds of its midnight; NaN where unreadable or open.
    """
    compact, match = _COMPACT_DATE.match(text), _DATE.match(text)
    if compact:
        year, month, day = int(compact[1]), int(compact[2]), int(compact[3])
    elif match is None:
        return float("nan")
    elif match[3].isalpha():
        month = 1 + _MONTHS.index(match[3][:3].lower()) if match[3][:3].lower() in _MONTHS else 0
        day, year = (int(match[1]), int(match[4])) if len(match[1]) < 4 else (int(match[4]), int(match[1]))
    elif len(match[1]) == 4:
        year, month, day = int(match[1]), int(match[3]), int(match[4])
    elif order == "?" and match[2] in "-/":
        return float("nan")
    else:
        day, month, year = int(match[1]), int(match[3]), int(match[4])
        if order == "mdy" and match[2] in "-/":
            day, month = month, day
    year += 2000 if year < 80 else 1900 if year < 100 else 0
    try:
        return datetime(year, month, day, tzinfo=UTC).timestamp()
    except ValueError:
        return float("nan")


def date_column(column: TextOrNumbers) -> tuple[FloatArray, tuple[Notice, ...]]:
    """Read a column of dates.

    Parameters
    ----------
    column : pandas Series

    Returns
    -------
    (n,) float array
        POSIX seconds of each midnight; NaN where unreadable or left open.
    tuple of Notice
    """
    if column.dtype.kind in "fiu":
        texts = [
            "" if not np.isfinite(v) else str(int(v)).zfill(8 if v > 999_999 else 6)
            for v in np.array(column, float)
        ]
        texts = [text if len(text) == 8 else "" for text in texts]
    else:
        texts = [text.strip() if isinstance(text, str) else "" for text in column]
    # Dates repeat from row to row: each is read once.
    distinct = sorted(set(texts))
    order = _date_order(distinct)
    days = {
        text: date_seconds(text.split("T")[0].split(" ")[0] if "-" in text else text, order)
        for text in distinct
    }
    notices: tuple[Notice, ...] = ()
    if order == "?":
        notices = (
            Notice(
                "date-ambiguous", "The dates can be read day first or month first, so the date is left open."
            ),
        )
    return np.array([days[text] for text in texts]), notices


def offset_seconds(column: TextOrNumbers) -> FloatArray:
    """Read a column of offsets from UTC: ``+02:00``, ``-0800``, ``UTC+2``, hours, or minutes beyond ±15.

    Parameters
    ----------
    column : pandas Series

    Returns
    -------
    (n,) float array
        Seconds to subtract from local time; NaN where unreadable.
    """
    if column.dtype.kind in "fiu":
        values = np.array(column, float)
        return np.where(np.abs(values) <= 15.0, values * 3600.0, values * 60.0)
    texts = [text.strip() if isinstance(text, str) else "" for text in column]
    read = {text: _offset(text) for text in set(texts)}
    return np.array([read[text] for text in texts])


def _offset(text: str) -> float:
    folded = text.upper().replace("UTC", "").replace("GMT", "").replace("−", "-").strip()
    if folded in ("Z", ""):
        return 0.0 if text else float("nan")
    match = re.match(r"^([+-]?)(\d{1,2}):?(\d{2})?(?::\d{2})?$", folded)
    if match is None:
        return float("nan")
    seconds = int(match[2]) * 3600.0 + int(match[3] or 0) * 60.0
    return -seconds if match[1] == "-" else seconds
