"""Written times to seconds: ISO 8601 as the open formats use it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from analyser.logs.track import Notice

FloatArray = NDArray[np.float64]

#: A day in seconds; logs without a date start again from zero after it.
DAY_S = 86_400.0

_EPOCH = datetime(1970, 1, 1)
_EPOCH_UTC = datetime(1970, 1, 1, tzinfo=UTC)


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


def unroll_days(time_of_day_s: FloatArray) -> tuple[FloatArray, int]:
    """Carry a time of day, in file order, on over midnight: seconds since the first midnight, and midnights passed."""
    known = np.flatnonzero(np.isfinite(time_of_day_s))
    if known.size < 2:
        return time_of_day_s, 0
    # A step back by more than half a day is midnight; a smaller one is a clock fault, left for the cleaner.
    step = np.diff(time_of_day_s[known])
    days = np.concatenate([[0], np.cumsum((step < -DAY_S / 2).astype(int) - (step > DAY_S / 2).astype(int))])
    days = np.maximum(days - min(int(days.min()), 0), 0)
    unrolled = time_of_day_s.copy()
    unrolled[known] += days * DAY_S
    return unrolled, int(days.max())


def to_floats(written: Sequence[str | None]) -> FloatArray:
    """Read decimal numbers; NaN where missing or unreadable."""
    try:
        return np.array(written, dtype=float)
    except (ValueError, TypeError):
        return np.array([_float(text) for text in written], dtype=float)


def _float(text: str | None) -> float:
    try:
        # float() also reads "1_000"; no log means that. A lone comma is a decimal mark.
        return float("nan") if text is None or "_" in text else float(text.replace(",", "."))
    except ValueError:
        return float("nan")
