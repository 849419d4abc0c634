"""Times and dates that are written out: ISO 8601, dates in any order, clocks of 24 and 12 hours, offsets from UTC."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from analyser.logs.date_text import read_dates
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
    """Tell whether the first filled cell holds date and time as ISO 8601 writes them."""
    return _MOMENT.match(_first_filled(column)) is not None


def _first_filled(column: Series[str]) -> str:
    return next((text for text in column.iloc[:200].tolist() if isinstance(text, str) and text.strip()), "")


def text_clock(column: Series[str], *, local: bool, order: str = "") -> Clock:
    """Read times that are written out: ISO, date and clock, or the clock alone, 24 or 12 hours.

    ``local``: the header calls the time local; ``order``: ``"dmy"``, ``"mdy"`` or ``"ymd"`` where the person says it.
    """
    first = _first_filled(column)
    if _MOMENT.match(first):
        time_s = _posix(_moments(column))
        if np.isfinite(time_s).mean() > 0.5:
            zoned = bool(re.search(r"(Z|UTC|[+-]\d{2}:?\d{2})\s*$", first))
            return Clock(time_s, True, "ISO 8601", notices=() if zoned else no_zone(local=local))
    if _MINUTES.match(first.strip()):
        return _minutes_clock(column.to_list())
    written = [_WEEKDAY.sub("", text) if isinstance(text, str) else text for text in column]
    return _by_pattern(written, local, order)


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
    """Say that no zone is given."""
    message = (
        "The times are local and no offset from UTC is given" if local else "The times carry no time zone"
    )
    return (Notice("time-zone-assumed", f"{message}; read as UTC."),)


def _by_pattern(written: Sequence[object], local: bool, order: str) -> Clock:
    parts = [_split(item.strip()) if isinstance(item, str) else ("", "") for item in written]
    # Dates repeat from row to row: each is read once.
    dates = sorted({date for date, _ in parts if date})
    days, notices = read_dates(dates, order)
    clocks = [_clock(clock) for _, clock in parts]
    clock_s = np.array([seconds for seconds, _ in clocks])
    day_s = np.array([days.get(date, np.nan) for date, _ in parts])
    if np.isfinite(day_s).any():
        zone = () if any(zoned for _, zoned in clocks) else no_zone(local=local)
        return Clock(clock_s + day_s, True, "date and time", notices=(*notices, *zone))
    unrolled, _ = unroll_days(clock_s)
    return Clock(unrolled, False, "time of day", notices=notices)


def _split(text: str) -> tuple[str, str]:
    """Cut a written moment into its date and its clock time; either may be missing."""
    match = re.match(r"^(\d{1,4}([-/.])(?:\d{1,2}|[^\W\d_]{3,9})\2\d{1,4}|\d{8})[T ,]+(.+)$", text)
    if match:
        return match.group(1), match.group(3)
    match = re.match(r"^(\d{1,2} [^\W\d_]{3,9} \d{4})[ ,]+(.+)$", text)
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


def offset_seconds(column: TextOrNumbers) -> FloatArray:
    """Read a column of offsets from UTC: ``+02:00``, ``-0800``, ``UTC+2``, hours, or minutes beyond ±15.

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
