"""What all readers know of times: ISO 8601, midnights, and zones as offsets from UTC."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np

from analyser.earth.constants import DAY_S
from analyser.logs.log_thresholds import TIMES
from analyser.logs.track import FloatArray, Notice
from analyser.logs.units import Unit

if TYPE_CHECKING:
    from pandas import Series

    TextOrNumbers = Series[float] | Series[str]

#: For times with a zone, and without one.
_EPOCHS = (datetime(1970, 1, 1, tzinfo=UTC), datetime(1970, 1, 1))


def midnight_s(year: int, month: int, day: int) -> float:
    """Return the POSIX seconds of a day's midnight, NaN for no day; a year of two digits is one from 1980 on."""
    year += 2000 if year < TIMES.first_short_year else 1900 if year < 100 else 0
    try:
        return datetime(year, month, day, tzinfo=UTC).timestamp()
    except ValueError:
        return float("nan")


def unroll_days(time_of_day_s: FloatArray, day_s: float = DAY_S) -> FloatArray:
    """Carry a time of day, in file order, on over midnight: seconds since the first midnight.

    ``day_s`` is what the clock counts to before it begins again: a day, or a week, or an hour.
    """
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


def _moment(text: Any) -> datetime:
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        # It may have blanks round it or slashes in its date.
        return datetime.fromisoformat(text.strip().replace(" Z", "Z").replace("/", "-").upper())


class IsoTimes:
    """Reads ISO 8601 times, and counts the ones without a zone, which are read as UTC."""

    def __init__(self) -> None:
        self._without_zone = self._all = 0

    def __call__(self, written: Sequence[Any]) -> FloatArray:
        """Read a block of times: POSIX seconds, NaN where missing or unreadable."""
        self._all += len(written)
        return np.fromiter(map(self._seconds, written), float, len(written))

    def _seconds(self, text: Any) -> float:
        try:
            moment = _moment(text)
            seconds = (moment - _EPOCHS[moment.tzinfo is None]).total_seconds()
        except (ValueError, TypeError, OverflowError):
            return float("nan")
        self._without_zone += moment.tzinfo is None
        return seconds

    def notices(self) -> tuple[Notice, ...]:
        """Say how many times carried no zone."""
        if not self._without_zone:
            return ()
        few = f"{self._without_zone} of {self._all} times carry"
        which = "The times carry" if self._without_zone == self._all else few
        return (Notice("time-zone-assumed", f"{which} no time zone; read as UTC."),)


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


def header_zone(header: str) -> tuple[str, float]:
    """Return a header without the zone that it names, and that zone's offset from UTC in seconds; NaN for none."""
    match = _HEADER_ZONE.search(header)
    return (
        (_HEADER_ZONE.sub(" ", header).strip(), zone_offset_s(match[1])) if match else (header, float("nan"))
    )


def offset_seconds(column: TextOrNumbers | str, unit: Unit | None, local_s: FloatArray) -> FloatArray:
    """Read a column of offsets from UTC: ``+02:00``, ``-0800``, ``UTC+2``, ``CEST``, ``Europe/Berlin``, or a number.

    A number is in the unit that the header gives, or else in the one in which it is an offset. ``local_s`` are the
    times beside them, and one text stands for all of those. Seconds to subtract from local time; NaN where unreadable.
    """
    cells = [column] * local_s.size if isinstance(column, str) else column
    texts = [f"{cell:g}" if isinstance(cell, float) else str(cell).strip() for cell in cells]
    read = {text: zone_offset_s(text, unit) for text in set(texts)}
    places = {text: _offsets_of_place(text, local_s) for text, offset in read.items() if np.isnan(offset)}
    return np.array([places[text][row] if text in places else read[text] for row, text in enumerate(texts)])


def zone_offset_s(text: str, unit: Unit | None = None) -> float:
    """Read one offset from UTC, as :func:`offset_seconds`; NaN also for a place's."""
    folded = text.upper().replace("−", "-")
    if folded in _ZONES:
        return _ZONES[folded] * 3600.0
    folded = folded.replace("UTC", "").replace("GMT", "").replace(" ", "")
    match = re.match(r"^([+-]?)(?:(\d{1,2}):(\d{2})(?::\d{2})?|(\d+(?:\.\d+)?))$", folded)
    if match is None:
        return float("nan")
    by_colon = int(match[2] or 0) * 3600.0 + int(match[3] or 0) * 60.0
    seconds = by_colon if match[4] is None else _offset_of_number(match[4], unit)
    return float("nan") if seconds > TIMES.farthest_offset_s else -seconds if match[1] == "-" else seconds


def _offset_of_number(digits: str, unit: Unit | None) -> float:
    """Read ``2``, ``5.5`` (hours), ``0200``, ``0530`` (hours and minutes), ``120`` (minutes), ``7200`` (seconds)."""
    value = float(digits)
    if unit is not None:
        return value * unit.factor
    run_together = (value // 100.0) * 3600.0 + value % 100.0 * 60.0
    readings = [value * 3600.0, value * 60.0, run_together, value]
    if len(digits) == 4 and digits.isdigit():
        readings.insert(0, run_together)
    offsets = (one for one in readings if one <= TIMES.farthest_offset_s and one % TIMES.quarter_s == 0.0)
    return next(offsets, float("nan"))


def _offsets_of_place(name: str, local_s: FloatArray) -> FloatArray:
    """Look a zone up by its place, such as Europe/Berlin, in the system's tables; NaN where it is in none.

    Where the clocks were set back, the hour that comes twice is of summer time until the times fall back in it.
    """
    import pandas as pd

    known, offsets = np.flatnonzero(np.isfinite(local_s)), np.full(local_s.size, np.nan)
    summer = np.cumsum(np.diff(local_s[known], prepend=local_s[known[:1]]) < -TIMES.quarter_s) == 0
    local = pd.DatetimeIndex(pd.to_datetime(local_s[known], unit="s", errors="coerce"))
    try:
        zone = ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return offsets
    in_utc = local.tz_localize(zone, ambiguous=summer, nonexistent="NaT").tz_convert(None)
    offsets[known] = (local - in_utc).total_seconds()
    return offsets
