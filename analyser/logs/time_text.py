"""Times and dates that are written out: ISO 8601, dates in any order, clocks of 24 and 12 hours, offsets from UTC."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np
from numpy.typing import NDArray

from analyser.frozen import dataclass
from analyser.logs.movement import is_flying_speed
from analyser.logs.raw import FloatArray
from analyser.logs.times import read_dates, unroll_days
from analyser.logs.track import Notice
from analyser.logs.units import Unit

if TYPE_CHECKING:
    from pandas import Series

    TextOrNumbers = Series[float] | Series[str]

_CLOCK = re.compile(
    r"^(?P<h>\d{1,2})[:.h](?P<m>\d{2}|\d(?=:))(?:[:.m](?P<s>\d{1,2}(?:[.,]\d+)?)s?)?\s*(?P<half>[AaPp]\.?[Mm]\.?)?"
    r"\s*(?P<zone>[Zz]|[A-Z]{3,4}|(?:UTC|GMT)?[+-]\d{1,2}(?::?\d{2})?)?$"
)
_MOMENT = re.compile(r"^\s*\d{4}-?\d{2}-?\d{2}[T ]")
_MINUTES = re.compile(r"^(\d{1,3}):(\d{2}(?:[.,]\d+)?)$")
#: What stands round a moment and says nothing of it: brackets, a weekday, the German word for a clock, a zone's place.
_AROUND = re.compile(
    r"^[\s\[(]+|^\s*(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*[,.]?\s+|\s*Uhr\s*$|\[[\w/+-]+\]\s*$|[\])\s]+$",
    re.IGNORECASE,
)
_NAME = r"[^\W\d_]{3,9}"
#: Date and clock, however they are joined; the clock comes last but for one form, of C's library.
_JOINED = re.compile(
    rf"^(?P<date>\d{{1,4}}([-/.])(?:\d{{1,2}}|{_NAME})\2\d{{1,4}}|\d{{4}}:\d{{2}}:\d{{2}}|\d{{4}}[-:]?\d{{3}}|\d{{8}}"
    rf"|\d{{1,2}}\.? {_NAME}\.? \d{{4}}|{_NAME}\.? \d{{1,2}},? \d{{4}})(?:[Tt_:]| ?[ ,-] ?)\s*(?P<clock>\d.*)$"
)
_CLOCK_INSIDE = re.compile(rf"^({_NAME} +\d{{1,2}}) (\d{{1,2}}:\d{{2}}:\d{{2}}) (\d{{4}})$")
_COMPACT = re.compile(r"^(\d{2})(\d{2})(\d{2}(?:\.\d+)?)[Zz]?$")
#: A day of the year without its year, before the clock.
_BARE_DAY = re.compile(r"^[0-3]\d{2}[:/ ](?=\d{2}:\d{2}:\d{2})")
#: Hours east of Greenwich of zones that have names: RFC 5322 (4.3), and the names that Europe's clocks use.
_ZONES = {
    "Z": 0, "UT": 0, "UTC": 0, "GMT": 0, "EST": -5, "EDT": -4, "CST": -6, "CDT": -5, "MST": -7, "MDT": -6, "PST": -8,
    "PDT": -7, "WET": 0, "WEST": 1, "CET": 1, "CEST": 2, "EET": 2, "EEST": 3, "MEZ": 1, "MESZ": 2,
}  # fmt: skip
#: A zone in a header, such as "Time (UTC+2)" or "time CEST"; a name in small letters may be another word.
_HEADER_ZONE = re.compile(
    rf"[\s_(\[]*(?:\b|_)((?:UTC|GMT)\s*[+-]\s*\d{{1,2}}(?::?\d{{2}})?"
    rf"|{'|'.join(zone for zone, hours in _ZONES.items() if hours)})(?![A-Za-z])[)\]]?"
)
#: Offsets from UTC are so many seconds at most, and a quarter of an hour at least.
_FARTHEST_S, _QUARTER_S = 14 * 3600.0, 900.0
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


def begins_with_moment(column: Series[str]) -> bool:
    """Tell whether the first filled cell holds date and time as ISO 8601 writes them."""
    return _MOMENT.match(_first_filled(column)) is not None


def _first_filled(column: Series[str]) -> str:
    return next((text for text in column.iloc[:200].tolist() if isinstance(text, str) and text.strip()), "")


def text_clock(column: Series[str], speed_of: SpeedOf, *, local: bool, order: str = "") -> Clock:
    """Read times that are written out: ISO, date and clock, or the clock alone, 24 or 12 hours.

    ``speed_of`` tells minutes and seconds from hours and minutes; ``local``: the header calls the time local;
    ``order``: ``"dmy"``, ``"mdy"`` or ``"ymd"`` where the person or the header says it.
    """
    first = _first_filled(column)
    if _MOMENT.match(first):
        moments = _moments(column)
        time_s = np.where(np.isnat(moments), np.nan, moments.astype(np.int64) / 1e6)
        if np.isfinite(time_s).mean() > 0.5:
            zoned = bool(re.search(r"(Z|UTC|\d[+-]\d{2}(:?\d{2})?)\s*$", first.strip()[10:]))
            return Clock(time_s, True, "ISO 8601", notices=() if zoned else no_zone(local=local))
    written = [_AROUND.sub("", text) if isinstance(text, str) else "" for text in column]
    clock = _by_pattern(written, local, order)
    if _MINUTES.match(first.strip()):
        short = _minutes_clock(written)
        in_hours = not clock.dated and is_flying_speed(speed_of(clock.time_s))
        if not in_hours and np.isfinite(short.time_s).mean() > 0.5:
            return short
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
    known = np.flatnonzero(np.isfinite(seconds))
    hours = np.concatenate([[0], np.cumsum(np.diff(seconds[known]) < -1800.0)])
    seconds[known] += hours * 3600.0
    return Clock(seconds, False, "minutes and seconds")


def no_zone(*, local: bool) -> tuple[Notice, ...]:
    """Say that no zone is given."""
    message = (
        "The times are local and no offset from UTC is given" if local else "The times carry no time zone"
    )
    return (Notice("time-zone-assumed", f"{message}; read as UTC."),)


def _by_pattern(written: Sequence[str], local: bool, order: str) -> Clock:
    parts = [_split(text) for text in written]
    # Dates repeat from row to row: each is read once.
    dates = sorted({date for date, _ in parts if date})
    days, notices = read_dates(dates, order)
    clocks = [_clock(clock) for _, clock in parts]
    clock_s = np.array([seconds for seconds, _ in clocks])
    day_s = np.array([days.get(date, np.nan) for date, _ in parts])
    if np.isfinite(day_s).any():
        zone = () if any(zoned for _, zoned in clocks) else no_zone(local=local)
        return Clock(clock_s + day_s, True, "date and time", notices=(*notices, *zone))
    unrolled = unroll_days(clock_s)
    return Clock(unrolled, False, "time of day", notices=notices)


def _split(text: str) -> tuple[str, str]:
    """Cut a written moment into its date and its clock time; either may be missing."""
    match = _JOINED.match(text)
    if match:
        return match["date"], match["clock"]
    match = _CLOCK_INSIDE.match(text)
    return (f"{match[1]} {match[3]}", match[2]) if match else ("", _BARE_DAY.sub("", text))


def _clock(text: str) -> tuple[float, bool]:
    match, compact = _CLOCK.match(text), _COMPACT.match(text)
    if compact is not None:
        return _seconds(int(compact[1]), int(compact[2]), float(compact[3])), text[-1] in "Zz"
    if match is None:
        return float("nan"), False
    hour, minute = int(match["h"]), int(match["m"])
    second = float((match["s"] or "0").replace(",", "."))
    half = (match["half"] or "").lower()
    if half:
        if not 1 <= hour <= 12:
            return float("nan"), False
        hour = hour % 12 + (12 if half.startswith("p") else 0)
    zone = match["zone"] or ""
    return _seconds(hour, minute, second) - (_offset(zone) if zone else 0.0), bool(zone)


def _seconds(hour: int, minute: int, second: float) -> float:
    if hour > 24 or minute > 59 or second >= 61.0:
        return float("nan")
    return hour * 3600.0 + minute * 60.0 + second


def header_zone(header: str) -> tuple[str, float]:
    """Return a header without the zone that it names, and that zone's offset from UTC in seconds; NaN for none."""
    match = _HEADER_ZONE.search(header)
    return (_HEADER_ZONE.sub(" ", header).strip(), _offset(match[1])) if match else (header, float("nan"))


def offset_seconds(column: TextOrNumbers, unit: Unit | None, local_s: FloatArray) -> FloatArray:
    """Read a column of offsets from UTC: ``+02:00``, ``-0800``, ``UTC+2``, ``CEST``, ``Europe/Berlin``, or a number.

    A number is in the unit that the header gives, or else in the one in which it is an offset. ``local_s`` are the
    times beside them. Seconds to subtract from local time; NaN where unreadable.
    """
    texts = [f"{cell:g}" if isinstance(cell, float) else str(cell).strip() for cell in column]
    first = next((float(when) for when in local_s if np.isfinite(when)), 0.0)
    read = {text: _offset(text, unit, first) for text in set(texts)}
    return np.array([read[text] for text in texts])


def _offset(text: str, unit: Unit | None = None, local_s: float = 0.0) -> float:
    folded = text.upper().replace("−", "-")
    if folded in _ZONES:
        return _ZONES[folded] * 3600.0
    folded = folded.replace("UTC", "").replace("GMT", "").replace(" ", "")
    match = re.match(r"^([+-]?)(?:(\d{1,2}):(\d{2})(?::\d{2})?|(\d+(?:\.\d+)?))$", folded)
    if match is None:
        return _zone_offset(text, local_s)
    by_colon = int(match[2] or 0) * 3600.0 + int(match[3] or 0) * 60.0
    seconds = by_colon if match[4] is None else _offset_of_number(match[4], unit)
    return float("nan") if seconds > _FARTHEST_S else -seconds if match[1] == "-" else seconds


def _offset_of_number(digits: str, unit: Unit | None) -> float:
    """Read ``2``, ``5.5`` (hours), ``0200``, ``0530`` (hours and minutes), ``120`` (minutes), ``7200`` (seconds)."""
    value = float(digits)
    if unit is not None:
        return value * unit.factor
    run_together = (value // 100.0) * 3600.0 + value % 100.0 * 60.0
    readings = [value * 3600.0, value * 60.0, run_together, value]
    if len(digits) == 4 and digits.isdigit():
        readings.insert(0, run_together)
    return next(
        (seconds for seconds in readings if seconds <= _FARTHEST_S and seconds % _QUARTER_S == 0.0),
        float("nan"),
    )


def _zone_offset(name: str, local_s: float) -> float:
    """Look a zone up by its place, such as Europe/Berlin, in the system's tables; NaN where it is in none."""
    try:
        offset = ZoneInfo(name).utcoffset(datetime.fromtimestamp(local_s, UTC).replace(tzinfo=None))
    except (ZoneInfoNotFoundError, ValueError, OSError, OverflowError):
        return float("nan")
    return offset.total_seconds() if offset is not None else float("nan")
