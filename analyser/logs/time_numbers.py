"""Times that are bare numbers: counts since a known day, elapsed time, a spreadsheet's days, digits that are a clock.

References
----------
Days that counts begin at: POSIX 1970-01-01 (IEEE Std 1003.1); GPS 1980-01-06, 18 s ahead of UTC since 2017 (interface
specification IS-GPS-200; leap seconds of IERS Bulletin C); NTP 1900-01-01 (RFC 5905); the FIT protocol 1989-12-31;
100 ns since 1601-01-01 and since 0001-01-01, and seconds since 1904, 2000 and 2001, common practice of operating
systems and libraries; spreadsheets 1899-12-30; Julian day 2440587.5 and modified Julian day 40587 at 1970-01-01.
"""

from __future__ import annotations

import time
from collections.abc import Collection
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np

from analyser.logs.meaning import vocabulary
from analyser.logs.movement import is_flying_speed
from analyser.logs.raw import FloatArray
from analyser.logs.time_text import Clock, SpeedOf, date_column
from analyser.logs.times import DAY_S, midnight_s, unroll_days
from analyser.logs.units import ELAPSED, EPOCHS, POSIX, Unit

#: POSIX seconds of 1990 and 2100: a count since 1970 between them is a date.
_DATES = (631_152_000.0, 4_102_444_800.0)
#: Any other count must give a date from 2005 on: older logs of such recorders are not expected.
_EARLIEST_S = 1_104_537_600.0
#: No log is written more slowly, seconds.
_SLOWEST_S = 3600.0
#: No count of hours or minutes from a log's own start begins so late, seconds.
_NO_START_S = 1800.0
#: What times of day are counted in.
_OF_DAY = ("s", "ms", "min", "h", "µs", "ns")
#: Hours, minutes and seconds run together, and with tenths, hundredths or thousandths behind them.
_CLOCK_SCALES = (1.0, 10.0, 100.0, 1000.0)
#: The same with a point behind the hours, 9.5959, or behind a date, 20260314.095959; or date and clock to the minute.
_OTHER_SCALES = (1e-4, 1e-6, 1e-2)
#: Hours and minutes, or minutes and seconds, before and behind a point, 9.59, or run together, 959.
_SIXTIETHS = (1.0, 100.0)


def number_clock(
    values: FloatArray,
    unit: Unit | None,
    words: Collection[str] = (),
    speed_of: SpeedOf | None = None,
    order: str = "",
) -> Clock:
    """Read times that are bare numbers; unit and words are the header's or the person's.

    ``speed_of`` holds a reading against how fast the aircraft moves; ``order`` is that of the parts of a date.
    """
    known = values[np.isfinite(values)]
    if known.size == 0:
        return Clock(values, False)
    if unit is not None and unit in EPOCHS:
        return _counted(values, unit)
    from_start = bool(vocabulary().since_start & set(words))
    counted = None if from_start else _since_a_known_day(values, known, unit, words, speed_of)
    if counted is not None:
        return counted
    by_digits = None
    if unit is None:
        by_digits = _with_fractions(values, known, words, speed_of) or _written_as_number(
            values, known, order
        )
    if by_digits is None and (unit is None or unit.name in ("h", "min")):
        by_digits = _sixtieths(values, words, speed_of)
    if by_digits is not None:
        return by_digits
    return (
        Clock(values * unit.factor, False, unit.name) if unit else Clock(values, False, "s", scale_open=True)
    )


def _with_fractions(
    values: FloatArray, known: FloatArray, words: Collection[str], speed_of: SpeedOf | None
) -> Clock | None:
    """Read years, and days of the year, whose fractions tell the time."""
    if known.min() > 1990.0 and known.max() < 2100.0 and float(np.ptp(known)) < 0.1:
        seconds = _decimal_years(values)
        if (known % 1.0 != 0.0).mean() > 0.5 and (speed_of is None or is_flying_speed(speed_of(seconds))):
            return Clock(seconds, True, "decimal years")
    return Clock((values - 1.0) * DAY_S, False, "day of the year") if "doy" in words else None


def _decimal_years(values: FloatArray) -> FloatArray:
    """Read years with a fraction of their own length, which a leap year has more of."""
    years = np.floor(np.nan_to_num(values, nan=2000.0)).astype(int)
    begins = {year: midnight_s(year, 1, 1) for year in range(int(years.min()), int(years.max()) + 2)}
    start, end = (np.array([begins[year + step] for year in years.tolist()]) for step in (0, 1))
    return np.asarray(start + (values - years) * (end - start))


def _since_a_known_day(
    values: FloatArray, known: FloatArray, unit: Unit | None, words: Collection[str], speed_of: SpeedOf | None
) -> Clock | None:
    """Read a count since a day that recorders count from; where two days fit, say so."""
    middle = float(np.median(known))
    latest = time.time() + 2 * DAY_S
    paced = [epoch for epoch in EPOCHS if _may_be(epoch, unit, known)]
    fits = [epoch for epoch in paced if _EARLIEST_S <= middle * epoch.factor + epoch.offset <= latest]
    posix = [e for e in paced if e.offset == POSIX.offset and _DATES[0] <= middle * e.factor <= _DATES[1]]
    fits = fits or posix[:1]
    if speed_of is not None and fits:
        flying = [epoch for epoch in fits if is_flying_speed(speed_of(values * epoch.factor))]
        # A count of milliseconds since a start may look like seconds since a day.
        if not flying and any(is_flying_speed(speed_of(values * unit.factor)) for unit in ELAPSED):
            return None
        fits = flying or fits
    if not fits:
        return None
    named_gps = bool({"gps", "gnss", "gpst"} & set(words))
    fits.sort(key=lambda epoch: (named_gps and "GPS" not in epoch.name, EPOCHS.index(epoch)))
    if {"unix", "posix", "epoch"} & set(words):
        fits = [epoch for epoch in fits if epoch.offset == POSIX.offset] or fits
    chosen, others = fits[0], fits[1:]
    clock = _counted(values, chosen)
    if not others and (chosen.offset == POSIX.offset or chosen.name.startswith("days since 1899")):
        # It can be nothing else.
        return clock

    def day(epoch: Unit) -> str:
        return f"{datetime.fromtimestamp(middle * epoch.factor + epoch.offset, UTC):%Y-%m-%d}"

    message = f"The times are bare numbers: read as {chosen.name}, so the flight is of {day(chosen)}."
    if others:
        listed = (
            f"{day(epoch)} if {epoch.name} (--units time={epoch.spellings.split()[0]})" for epoch in others
        )
        message += f" It would be of {', '.join(listed)}."
    return clock.saying("time-epoch-assumed", message, assumed=f"so the flight is of {day(chosen)}")


def _counted(values: FloatArray, epoch: Unit) -> Clock:
    """Count from a known day; a spreadsheet's days are those of the clock on its wall."""
    zone = "" if epoch.name.startswith("days since") else "said"
    return Clock(values * epoch.factor + epoch.offset, True, epoch.name, zone=zone)


def _may_be(epoch: Unit, unit: Unit | None, known: FloatArray) -> bool:
    """Tell whether a count is in the unit that is said, and samples follow one another as in a flight.

    A receiver's microseconds may look like a date.
    """
    if unit is not None and unit.factor != epoch.factor and (unit.name != "s" or epoch.factor >= 1.0):
        return False
    if epoch.factor == DAY_S and (np.ptp(known) > 3.0 or np.all(known == np.round(known))):
        return False
    return known.size < 3 or float(np.median(np.abs(np.diff(known)))) * epoch.factor < _SLOWEST_S


def _sixtieths(values: FloatArray, words: Collection[str], speed_of: SpeedOf | None) -> Clock | None:
    """Read hours and minutes such as 9.59, which 10.00 follows, or minutes and seconds: by which the aircraft flies.

    Where no full hour is passed only the header, ``time (hh.mm)``, tells them from hours with decimals, which hardly
    ever have two alone.
    """
    told = {"hh", "mm"} <= set(words) or "hhmm" in words
    for scale in _SIXTIETHS:
        run = np.round(values / scale * 100.0, 3)
        digits = run[np.isfinite(run)]
        if digits.size < 3 or digits.min() < 0.0 or digits.max() >= 10_000.0 or (digits % 1.0).any():
            continue
        if (digits % 100.0 > 59.0).any():
            continue
        steps = np.diff(digits)
        steps = steps[steps != 0.0]
        usual = float(np.median(steps)) if steps.size else 0.0
        seam = 0.0 < usual < 30.0 and bool((np.abs(steps - usual - 40.0) < 0.5).any())
        by_minutes = (
            steps.size > 3
            and bool(((steps == 1.0) | (steps <= -2300.0)).all())
            and not vocabulary().since_start & set(words)
        )
        if not (told or seam or by_minutes):
            continue
        whole, rest = np.divmod(run, 100.0)
        for length_s, unit, form in (
            (3600.0, "time of day", "hours and minutes"),
            (60.0, "s", "minutes and seconds"),
        ):
            time_s = whole * length_s + rest * length_s / 60.0
            if (
                (unit == "s" or digits.max() < 2400.0)
                and speed_of is not None
                and is_flying_speed(speed_of(time_s))
            ):
                why = "the numbers' last two digits end at 59, and so the aircraft moves at a flying speed"
                message = f"The times are read as {form}, such as {digits[0] / 100.0:.2f}: {why}."
                if not (told or seam):
                    message += f" If they have decimals, say --units time={'min' if unit == 's' else 'h'}."
                return Clock(unroll_days(time_s) if unit != "s" else time_s, False, unit, why).saying(
                    "time-unit-assumed", message
                )
    return None


def _written_as_number(values: FloatArray, known: FloatArray, order: str) -> Clock | None:
    """Read numbers whose digits are a date or a clock."""
    for scale in (*_CLOCK_SCALES, *_OTHER_SCALES):
        dated = _dated_digits(np.round(values / scale, 3), np.round(known / scale, 3), order)
        if dated is not None:
            return dated
        if _is_hhmmss(np.round(known / scale, 3)):
            why = "the numbers step from 59 to 100, as hours, minutes and seconds do"
            return Clock(unroll_days(_of_digits(np.round(values / scale, 3))), False, "hhmmss", why)
    return None


def _dated_digits(values: FloatArray, known: FloatArray, order: str) -> Clock | None:
    """Read a date and a clock run together: 20260314120000, or 260314120000, whose clock must show itself.

    The day of the month alone before the clock gives no date.
    """
    first, last = known.min() // 1e6, known.max() // 1e6
    if first < 1.0 or not _are_clock_digits(known % 1e6):
        return None
    if not (first > 19_900_100.0 and last < 21_000_101.0) and not _is_hhmmss(known % 1e6):
        return None
    day, of_day = np.divmod(values, 1e6)
    days, notices = date_column(day, order)
    if not np.isfinite(days).any():
        why = "the numbers' last six digits step from 59 to 100, as hours, minutes and seconds do"
        return Clock(unroll_days(_of_digits(of_day)), False, "hhmmss", why, notices)
    return Clock(days + _of_digits(of_day), True, "date and clock", notices=notices)


def _of_digits(values: FloatArray) -> FloatArray:
    """Read numbers such as 125959 as hours, minutes and seconds: seconds of the day."""
    return values // 10_000.0 * 3600.0 + values // 100.0 % 100.0 * 60.0 + values % 100.0


def beside_a_date(clock: Clock, words: Collection[str], speed_of: SpeedOf) -> Clock:
    """Read bare numbers beside a date as a time of day: a spreadsheet's fractions of one, hhmmss, or its seconds.

    Seconds may count from the log's own start; they are of the day where the header says so, or where they begin
    again at midnight.
    """
    known = clock.time_s[np.isfinite(clock.time_s)]
    of_day = bool({"day", "midnight", "sod"} & set(words))
    if {"utc", "zulu", "gmt"} & set(words) and known.size and known.min() > 60.0:
        # What counts from the log's own start begins at nothing; and 120059 may be a clock.
        of_day = of_day or not (clock.scale_open and _are_clock_digits(known))
    again = known.size > 1 and float(np.diff(known).min()) < -0.9 * DAY_S
    inside = known.size > 0 and known.min() >= 0.0 and known.max() < DAY_S
    if inside and (of_day or again) and clock.unit in _OF_DAY and not clock.dated:
        unrolled = unroll_days(clock.time_s)
        why = "" if of_day else "they begin again at midnight, as seconds of the day do"
        return replace(clock, time_s=unrolled, unit="time of day", assumed=why, scale_open=False)
    if known.size == 0 or known.min() < 0.0 or clock.dated:
        return clock
    factors = {"h": 3600.0, "min": 60.0} if clock.scale_open else {clock.unit: 1.0}
    for factor in (factors[name] for name in ("h", "min") if name in factors):
        # What counts from the log's own start begins at nothing.
        from_start = vocabulary().since_start & set(words) or known[0] * factor < _NO_START_S
        if (
            from_start
            or known.max() * factor >= DAY_S
            or not is_flying_speed(speed_of(clock.time_s * factor))
        ):
            continue
        why = "beside a date and so far from nothing, they are of the day"
        said = f"The times are read as the time of day, from {known[0] * factor / 3600.0:.2f} h on: {why}."
        of_a_day = Clock(clock.time_s * factor, False, "time of day", why, clock.notices)
        return of_a_day.saying("time-unit-assumed", said)
    return _digits_of_day(clock, known) if clock.scale_open else clock


def _digits_of_day(clock: Clock, known: FloatArray) -> Clock:
    """Read bare numbers beside a date as fractions of a day, or as hours, minutes and seconds run together."""
    if known.max() < 1.0 and np.ptp(known) > 0.0:
        unrolled = unroll_days(clock.time_s * DAY_S)
        why = "beside a date, fractions of one are a spreadsheet's times of day"
        return Clock(unrolled, False, "time of day", why, clock.notices)
    # Seconds of a day end at 86,400; hours, minutes and seconds run together go on to 235,959.
    for scale in _CLOCK_SCALES:
        if known.max() / scale >= DAY_S and _are_clock_digits(known / scale):
            why = "beside a date, such numbers are hours, minutes and seconds"
            return Clock(unroll_days(_of_digits(clock.time_s / scale)), False, "hhmmss", why)
    return clock


def _are_clock_digits(known: FloatArray) -> bool:
    """Tell whether every number could be hours, minutes and seconds run together."""
    inside = known.min() >= 0.0 and known.max() < 240_000.0
    return bool(inside and (known % 100.0 < 60.0).all() and ((known // 100.0) % 100.0 < 60.0).all())


def _is_hhmmss(known: FloatArray) -> bool:
    """Tell ``125959 → 130000`` from a count of seconds: no digits above 59, and steps that show the seam."""
    if known.size < 20 or not _are_clock_digits(known):
        return False
    steps = np.diff(known)
    # Over midnight the numbers fall back once: what is left runs on.
    steps = steps[steps > -120_000.0]
    usual = float(np.median(steps)) if steps.size else 0.0
    seams = np.abs(steps - usual - 40.0) < max(0.5, 0.1 * usual)
    return bool(seams.any() and steps[steps > 0.0].sum() > 60.0)
