"""Times that are bare numbers: counts since a known day, elapsed time, a spreadsheet's days, digits that are a clock.

References
----------
Days that counts begin at: POSIX 1970-01-01 (IEEE Std 1003.1); GPS 1980-01-06, 18 s ahead of UTC since 2017 (interface
specification IS-GPS-200; leap seconds of IERS Bulletin C); NTP 1900-01-01 (RFC 5905); the FIT protocol 1989-12-31;
100 ns since 1601-01-01 and since 0001-01-01, and seconds since 1904, 2000 and 2001, common practice of operating
systems and libraries; spreadsheets 1899-12-30; Julian day 2440587.5 and modified Julian day 40587 at 1970-01-01.
"""

from __future__ import annotations

import re
import time
from collections.abc import Collection
from dataclasses import replace
from datetime import UTC, datetime
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from analyser.earth.constants import DAY_S
from analyser.frozen import dataclass
from analyser.logs.log_thresholds import LOOK, TIMES
from analyser.logs.meaning import vocabulary
from analyser.logs.movement import is_flying_speed
from analyser.logs.raw import FloatArray
from analyser.logs.time_text import Clock, SpeedOf, by_pattern, date_column
from analyser.logs.times import unroll_days
from analyser.logs.units import ELAPSED, EPOCHS, POSIX, Unit, unit_of

#: Hours, minutes and seconds run together, and with tenths, hundredths or thousandths behind them.
_CLOCK_SCALES = (1.0, 10.0, 100.0, 1000.0)
#: The same with a point behind the hours, 9.5959, or behind a date, 20260314.095959; or date and clock to the minute.
_OTHER_SCALES = (1e-4, 1e-6, 1e-2)
#: Hours and minutes, or minutes and seconds, before and behind a point, 9.59, or run together, 959.
_SIXTIETHS = (1.0, 100.0)


def number_clock(
    values: FloatArray,
    unit: Unit | None,
    words: Collection[str],
    speed_of: SpeedOf,
    order: str = "",
    *,
    beside_a_date: bool = False,
) -> Clock:
    """Read times that are bare numbers; unit and words are the header's or the person's.

    ``speed_of`` holds a reading against how fast the aircraft moves; ``order`` is that of the parts of a date.
    """
    if not np.isfinite(values).any():
        return Clock(values, False)
    if unit is not None and unit.dated:
        return _counted(values, unit)
    numbers = _Numbers(values, unit, frozenset(words), speed_of, order)
    readings = [numbers.since_a_known_day]
    if unit is None:
        readings += [numbers.with_fractions, numbers.as_date_and_clock]
    if unit is None or unit.name in ("h", "min"):
        readings.append(numbers.as_hours_and_minutes)
    if beside_a_date:
        readings.append(numbers.of_the_day)
    # The first reading that makes sense counts; the last always does.
    clock = next((found for reading in readings if (found := reading()) is not None), None)
    if clock is not None:
        return clock
    return (
        Clock(values * unit.factor, False, unit.name) if unit else Clock(values, False, "s", scale_open=True)
    )


#: ``hours since 1900-01-01 00:00``, as tables write the units of a time (CF conventions, 4.4: in UTC unless said).
_SINCE = re.compile(r"([a-zµμ]+)\.?\s+since\s+(\S*\d[^\])}]*)[\])}]?\s*$", re.IGNORECASE)


@lru_cache(maxsize=1024)
def counted_since(text: str) -> tuple[str, Unit] | None:
    """Read what a header says of a count since a day: the words before it, and its unit; None where it names no day."""
    match = _SINCE.search(text[: LOOK.header_letters])
    unit = unit_of(match[1], "time") if match is not None else None
    if match is None or unit is None:
        return None
    before, day = text[: match.start()], match[2].strip()
    # Where a day may be the month and the month the day, nobody knows.
    moments = {_moment(day, order) for order in ("dmy", "mdy")}
    begins = moments.pop()
    if moments or not np.isfinite(begins):
        return None
    for epoch in EPOCHS if begins % DAY_S == 0.0 else ():
        named_utc = "GPS" in epoch.name and "utc" in day.lower()
        if epoch.factor == unit.factor and f"since {day[:10]}" in epoch.name and not named_utc:
            return before, epoch
    return before, Unit(f"{unit.name} since {day}", "time", unit.factor, "", begins, dated=True)


def _moment(text: str, order: str) -> float:
    clock = by_pattern([text], order)
    clock = clock if clock.dated else by_pattern([f"{text} 00:00"], order)
    return float(clock.time_s[0]) if clock.dated else float("nan")


def _counted(values: FloatArray, epoch: Unit) -> Clock:
    """Count from a known day; a spreadsheet's days are those of the clock on its wall."""
    zone = "" if epoch in EPOCHS and epoch.name.startswith("days since") else "said"
    return Clock(values * epoch.factor + epoch.offset, True, epoch.name, zone=zone)


@dataclass(frozen=True)
class _Numbers:
    """A column of numbers that are times, and what is known of it; its methods are what the numbers may be."""

    values: FloatArray
    unit: Unit | None
    words: frozenset[str]
    speed_of: SpeedOf
    order: str

    @cached_property
    def known(self) -> FloatArray:
        """Those that are there, without a few far from all others: a cell may be cut off."""
        there = self.values[np.isfinite(self.values)]
        low, high = np.percentile(there, [TIMES.stray_percent, 100.0 - TIMES.stray_percent])
        near = np.abs(there - 0.5 * (low + high)) <= TIMES.stray_far_ratio * (high - low)
        return there[near] if high > low else there

    @property
    def from_start(self) -> bool:
        """Whether the header says that they count from the log's own start."""
        return bool(vocabulary().since_start & self.words)

    def flies(self, time_s: FloatArray) -> bool:
        """Tell whether with these times the aircraft moves at a flying speed."""
        return is_flying_speed(self.speed_of(time_s))

    def since_a_known_day(self) -> Clock | None:
        """Read a count since a day that recorders count from; where two days fit, say so."""
        if self.from_start:
            return None
        middle, latest = float(np.median(self.known)), time.time() + TIMES.ahead_s
        paced = [epoch for epoch in EPOCHS if self._may_be(epoch)]
        fits = [one for one in paced if TIMES.earliest_s <= middle * one.factor + one.offset <= latest]
        posix = [one for one in paced if one.offset == POSIX.offset]
        posix = [one for one in posix if TIMES.oldest_s <= middle * one.factor <= TIMES.last_s]
        fits = fits or posix[:1]
        flying = [epoch for epoch in fits if self.flies(self.values * epoch.factor)]
        # A count of milliseconds since a start may look like seconds since a day.
        if fits and not flying and any(self.flies(self.values * unit.factor) for unit in ELAPSED):
            return None
        fits = flying or fits
        if not fits:
            return None
        named_gps = bool({"gps", "gnss", "gpst"} & self.words)
        fits.sort(key=lambda epoch: (named_gps and "GPS" not in epoch.name, EPOCHS.index(epoch)))
        if {"unix", "posix", "epoch"} & self.words:
            fits = posix or fits
        chosen, others = fits[0], fits[1:]
        clock = _counted(self.values, chosen)
        if not others and (chosen.offset == POSIX.offset or chosen.name.startswith("days since 1899")):
            # It can be nothing else.
            return clock
        moments = [datetime.fromtimestamp(middle * epoch.factor + epoch.offset, UTC) for epoch in fits]
        why = f"so the flight is of {moments[0]:%Y-%m-%d}"
        message = f"The times are bare numbers: read as {chosen.name}, {why}."
        listed = [
            f"{moment:%Y-%m-%d} if {one.name} (--units time={one.spellings.split()[0]})"
            for moment, one in zip(moments[1:], others, strict=True)
        ]
        message += f" It would be of {', '.join(listed)}." if listed else ""
        return clock.saying("time-epoch-assumed", message, assumed=why)

    def _may_be(self, epoch: Unit) -> bool:
        """Tell whether a count is in the unit that is said, and samples follow one another as in a flight.

        A receiver's microseconds may look like a date.
        """
        unit, known = self.unit, self.known
        if unit is not None and unit.factor != epoch.factor and (unit.name != "s" or epoch.factor >= 1.0):
            return False
        if epoch.factor == DAY_S and (np.ptp(known) > TIMES.flight_days or np.all(known == np.round(known))):
            return False
        return known.size < 3 or float(np.median(np.abs(np.diff(known)))) * epoch.factor < TIMES.slowest_s

    def with_fractions(self) -> Clock | None:
        """Read years, and days of the year, whose fractions tell the time."""
        known = self.known
        if TIMES.years[0] < known.min() and known.max() < TIMES.years[1]:
            # A leap year's fraction is of more days.
            years = np.floor(np.nan_to_num(self.values, nan=TIMES.years[0])).astype(int)
            start, end = (_new_year_s(years + step) for step in (0, 1))
            seconds = np.asarray(start + (self.values - years) * (end - start))
            if self.flies(seconds):
                return Clock(seconds, True, "decimal years")
        return Clock((self.values - 1.0) * DAY_S, False, "day of the year") if "doy" in self.words else None

    def as_date_and_clock(self) -> Clock | None:
        """Read hours, minutes and seconds run together, alone or behind a date; both must show themselves.

        A date is before a clock in 20260314120000 and 260314120000; the day of the month alone gives none.
        """
        for scale in (*_CLOCK_SCALES, *_OTHER_SCALES):
            values, known = np.round(self.values / scale, 3), np.round(self.known / scale, 3)
            first, last, of_day = known.min() // 1e6, known.max() // 1e6, known % 1e6
            whole_date = TIMES.years[0] * 1e4 < first and last < TIMES.years[1] * 1e4
            if first >= 1.0 and (_is_hhmmss(of_day) or (whole_date and _are_clock_digits(of_day))):
                day, clock = np.divmod(values, 1e6)
                days, notices = date_column(day, self.order)
                if np.isfinite(days).any():
                    return Clock(days + _of_digits(clock), True, "date and clock", notices=notices)
                why = "the numbers' last six digits step from 59 to 100, as hours, minutes and seconds do"
                return replace(_time_of_day(_of_digits(clock), why, "hhmmss"), notices=notices)
            told = scale == 1.0 and ("hhmmss" in self.words or {"hh", "mm", "ss"} <= self.words)
            if _is_hhmmss(known) or (told and _are_clock_digits(known)):
                why = "" if told else "the numbers step from 59 to 100, as hours, minutes and seconds do"
                return _time_of_day(_of_digits(values), why, "hhmmss")
        return None

    def as_hours_and_minutes(self) -> Clock | None:
        """Read hours and minutes such as 9.59, which 10.00 follows, or minutes and seconds, as the aircraft flies.

        Where no full hour is passed only the header, ``time (hh.mm)``, tells them from hours with decimals, which
        hardly ever have two alone.
        """
        told = {"hh", "mm"} <= self.words or "hhmm" in self.words
        for scale in _SIXTIETHS:
            run = np.round(self.values / scale * 100.0, 3)
            digits = run[np.isfinite(run)]
            none = (digits < 0.0) | (digits >= 10_000.0) | (digits % 1.0 != 0.0) | (digits % 100.0 > 59.0)
            if none.any() or not digits.size:
                continue
            steps = np.diff(digits)
            steps = steps[steps != 0.0]
            shown = _seams(steps, TIMES.slowest_s / 60.0)
            by_minutes = steps.size > 3 and bool(((steps == 1.0) | (steps <= -2300.0)).all())
            by_minutes = by_minutes and not self.from_start and (scale == 1.0 or digits.min() >= 100.0)
            if told or shown or by_minutes:
                said = "" if told or shown else " If that is wrong, say --units time={}."
                # Few whole seconds have no digits above 59 either.
                return self._two_digits_each(run, digits, said, told or shown or scale == 1.0)
        return None

    def _two_digits_each(self, run: FloatArray, digits: FloatArray, said: str, sure: bool) -> Clock | None:
        whole, rest = np.divmod(run, 100.0)
        of_day, elapsed_s = unroll_days(whole * 3600.0 + rest * 60.0), whole * 60.0 + rest
        why = "the numbers' last two digits end at 59, and so the aircraft moves at a flying speed"
        message = f"The times are read as {{}}, such as {digits[0] / 100.0:.2f}: {why}."
        if digits.max() < 2400.0 and self.flies(of_day):
            message = message.format("hours and minutes") + said.format("h")
            return Clock(of_day, False, "time of day", why).saying("time-unit-assumed", message)
        if sure and self.flies(elapsed_s):
            message = message.format("minutes and seconds") + said.format("min")
            return Clock(elapsed_s, False, "s", why).saying("time-unit-assumed", message)
        return None

    def of_the_day(self) -> Clock | None:
        """Read what stands beside a date: seconds of the day, hours, a spreadsheet's fractions of one, or hhmmss.

        Seconds may count from the log's own start; they are of the day where the header says so, or where they begin
        again at midnight.
        """
        scale_open, factor = self.unit is None, self.unit.factor if self.unit is not None else 1.0
        time_s, known = self.values * factor, self.known * factor
        if known.min() < 0.0:
            return None
        says_so = bool({"day", "midnight", "sod"} & self.words)
        if {"utc", "zulu", "gmt"} & self.words and known.min() > 60.0:
            # What counts from the log's own start begins at nothing; and 120059 may be a clock.
            says_so = says_so or not (scale_open and _are_clock_digits(known))
        again = known.size > 1 and float(np.diff(known).min()) < -0.5 * DAY_S
        if known.max() < DAY_S and (says_so or again):
            why = "" if says_so else "they begin again at midnight, as seconds of the day do"
            return _time_of_day(time_s, why)
        for unit in (one for one in ELAPSED if one.name in ("h", "min") and self.unit in (None, one)):
            scale = unit.factor / factor
            # What counts from the log's own start begins at nothing.
            late = known[0] * scale > TIMES.no_start_s and not self.from_start
            if late and known.max() * scale < DAY_S and self.flies(time_s * scale):
                why = "beside a date and so far from nothing, they are of the day"
                begins = f"from {known[0] * scale / 3600.0:.2f} h on"
                said = f"The times are read as the time of day, {begins}: {why}."
                return _time_of_day(time_s * scale, why).saying("time-unit-assumed", said)
        if scale_open and known.max() < 1.0 and np.ptp(known) > 0.0:
            why = "beside a date, fractions of one are a spreadsheet's times of day"
            return _time_of_day(time_s * DAY_S, why)
        # Seconds of a day end at 86,400; hours, minutes and seconds run together go on to 235,959.
        for scale in _CLOCK_SCALES if scale_open else ():
            # Within one minute no step shows them.
            one_minute = scale == 1.0 and np.ptp(known) < 60.0 and known.min() >= 1e4
            if (
                (one_minute or known.max() / scale >= DAY_S)
                and not self.from_start
                and _are_clock_digits(known / scale)
            ):
                why = "beside a date, such numbers are hours, minutes and seconds"
                clock = _time_of_day(_of_digits(time_s / scale), why, "hhmmss")
                said = f"The times are read as hours, minutes and seconds, such as {known[0]:06.0f}: {why}."
                return clock if known.max() / scale >= DAY_S else clock.saying("time-unit-assumed", said)
        return None


def _time_of_day(time_s: FloatArray, why: str, unit: str = "time of day") -> Clock:
    return Clock(unroll_days(time_s), False, unit, why)


def _new_year_s(years: NDArray[np.intp]) -> FloatArray:
    """Return the POSIX seconds at which years begin."""
    return (years - 1970).astype("datetime64[Y]").astype("datetime64[s]").astype(float)


def _of_digits(values: FloatArray) -> FloatArray:
    """Read numbers such as 125959 as hours, minutes and seconds: seconds of the day."""
    return values // 10_000.0 * 3600.0 + values // 100.0 % 100.0 * 60.0 + values % 100.0


def _are_clock_digits(known: FloatArray) -> bool:
    """Tell whether every number could be hours, minutes and seconds run together."""
    inside = known.min() >= 0.0 and known.max() < 240_000.0
    return bool(inside and (known % 100.0 < 60.0).all() and ((known // 100.0) % 100.0 < 60.0).all())


def _is_hhmmss(known: FloatArray) -> bool:
    """Tell ``125959 → 130000`` from a count of seconds: no digits above 59, and steps that show the seam."""
    if known.size < TIMES.seam_numbers or not _are_clock_digits(known):
        return False
    steps = np.diff(known)
    # Over midnight the numbers fall back once: what is left runs on.
    return _seams(steps[steps > -120_000.0])


def _seams(steps: FloatArray, most: float = np.inf) -> bool:
    """Tell whether some steps, usually of less than ``most``, are 40 more than others: from 59 on to 100.

    At a full hour, from 5959 on to 10000, one is 4,040 more.
    """
    usual = float(np.median(steps)) if steps.size else 0.0
    tolerance = min(max(0.5, TIMES.uneven_share * usual), TIMES.most_uneven)
    shown = any((np.abs(steps - usual - more) < tolerance).any() for more in (40.0, 4040.0))
    return 0.0 < usual < most and shown
