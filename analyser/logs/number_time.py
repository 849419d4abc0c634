"""Times that are bare numbers: counts since 1970, elapsed time, a spreadsheet's days, digits that are a clock."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analyser.logs.table_time import Clock, date_seconds, no_zone
from analyser.logs.times import DAY_S, unroll_days
from analyser.logs.units import Unit

FloatArray = NDArray[np.float64]

#: POSIX seconds of 1990 and 2100: a bare number between them is a date.
_EPOCHS = (631_152_000.0, 4_102_444_800.0)
#: No log is written more slowly, seconds.
_SLOWEST_S = 3600.0
#: Days from 1899-12-30, the spreadsheet's day zero, to 1970-01-01.
_SPREADSHEET_EPOCH_DAYS = 25_569.0


def number_clock(values: FloatArray, unit: Unit | None) -> Clock:
    """Read times that are bare numbers.

    Parameters
    ----------
    values : (n,) float array
    unit : Unit or None
        From the header or the person.

    Returns
    -------
    Clock
    """
    known = values[np.isfinite(values)]
    if known.size == 0:
        return Clock(values, False)
    middle = float(np.median(known))
    if unit is None or unit.factor < 1.0 or unit.name == "s":
        for name, scale in (("s", 1.0), ("ms", 1e-3), ("µs", 1e-6), ("ns", 1e-9)):
            if _EPOCHS[0] <= middle * scale <= _EPOCHS[1] and _agrees(unit, scale) and _paced(known, scale):
                return Clock(values * scale, True, f"{name} since 1970-01-01")
    if unit is not None:
        return Clock(values * unit.factor, False, unit.name)
    return _written_as_number(values, known, middle)


def _written_as_number(values: FloatArray, known: FloatArray, middle: float) -> Clock:
    """Read numbers whose digits are a date or a clock, or else count them in a unit still open."""
    if 30_000.0 < middle < 75_000.0 and np.ptp(known) < 3.0 and not np.all(known == np.round(known)):
        return Clock(
            (values - _SPREADSHEET_EPOCH_DAYS) * DAY_S,
            True,
            "days since 1899-12-30",
            "numbers of this size with day fractions are a spreadsheet's dates",
        )
    if _is_written_date(known):
        return _written_dates(values)
    if _is_hhmmss(known):
        hours, rest = np.divmod(values, 10_000.0)
        minutes, seconds = np.divmod(rest, 100.0)
        unrolled, _ = unroll_days(hours * 3600.0 + minutes * 60.0 + seconds)
        why = "the numbers step from 59 to 100, as hours, minutes and seconds do"
        return Clock(unrolled, False, "hhmmss", why)
    return Clock(values, False, "s", "", scale_open=True)


def day_fractions(clock: Clock) -> Clock:
    """Read bare fractions beside a date as a spreadsheet's times of day.

    Parameters
    ----------
    clock : Clock

    Returns
    -------
    Clock
        As it was where it holds no fractions of one.
    """
    known = clock.time_s[np.isfinite(clock.time_s)]
    inside = known.size > 0 and known.min() >= 0.0 and known.max() < 1.0 and np.ptp(known) > 0.0
    if not (clock.scale_open and inside):
        return clock
    unrolled, _ = unroll_days(clock.time_s * DAY_S)
    why = "beside a date, fractions of one are a spreadsheet's times of day"
    return Clock(unrolled, False, "time of day", why, clock.notices)


def _agrees(unit: Unit | None, scale: float) -> bool:
    return unit is None or unit.name == "s" or abs(unit.factor / scale - 1.0) < 1e-9


def _paced(known: FloatArray, scale: float) -> bool:
    """Tell whether samples follow one another as in a flight: a receiver's microseconds may look like a date."""
    return known.size < 3 or float(np.median(np.abs(np.diff(known)))) * scale < _SLOWEST_S


def _is_written_date(known: FloatArray) -> bool:
    """Tell ``20260314120000``: fourteen digits that make a date and a time of day."""
    if not (known.min() > 19_900_101_000_000.0 and known.max() < 21_000_101_000_000.0):
        return False
    day, clock = np.divmod(known, 1_000_000.0)
    month, of_month = (day // 100.0) % 100.0, day % 100.0
    sound = (month >= 1) & (month <= 12) & (of_month >= 1) & (of_month <= 31) & (clock % 100.0 < 60.0)
    return bool(sound.all() and ((clock // 100.0) % 100.0 < 60.0).all())


def _written_dates(values: FloatArray) -> Clock:
    day, clock = np.divmod(values, 1_000_000.0)
    midnights = {d: date_seconds(f"{int(d)}", "dmy") for d in np.unique(day[np.isfinite(day)]).tolist()}
    start = np.array([midnights.get(d, np.nan) for d in day.tolist()])
    seconds = (clock // 10_000.0) * 3600.0 + (clock // 100.0 % 100.0) * 60.0 + clock % 100.0
    return Clock(start + seconds, True, "yyyymmddhhmmss", notices=no_zone(local=False))


def _is_hhmmss(known: FloatArray) -> bool:
    """Tell ``125959 → 130000`` from a count of seconds: no digits above 59, and steps that show the seam."""
    if known.size < 20 or known.max() >= 240_000.0 or known.min() < 0.0:
        return False
    seconds, minutes = known % 100.0, (known // 100.0) % 100.0
    if (seconds >= 60.0).any() or (minutes >= 60.0).any():
        return False
    steps = np.diff(known)
    usual = float(np.median(steps))
    seams = np.abs(steps - usual - 40.0) < max(0.5, 0.1 * usual)
    return bool(seams.any() and known[-1] - known[0] > 60.0)
