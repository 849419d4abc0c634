"""A table's time of each row: time, date and offset columns put together."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np

from analyser.logs.clock_faults import ROLLOVER_S
from analyser.logs.movement import is_flying_speed, usual_speed_kt
from analyser.logs.number_text import numbers
from analyser.logs.raw import FloatArray, Undecided
from analyser.logs.table_columns import Chosen, Reading
from analyser.logs.text import shown
from analyser.logs.time_numbers import beside_a_date, number_clock
from analyser.logs.time_text import (
    Clock,
    SpeedOf,
    begins_with_moment,
    date_column,
    date_seconds,
    no_zone,
    text_clock,
)
from analyser.logs.times import DAY_S, header_zone, offset_seconds, unroll_days
from analyser.logs.track import Notice
from analyser.logs.units import GPS, Unit, unit_of

_WEEK_S = 7 * DAY_S
#: Fewer rows of one minute may as well be other aircraft's.
_FEWEST_IN_A_MINUTE = 6


def table_clock(reading: Reading, chosen: Chosen, lat: FloatArray, lon: FloatArray) -> Clock:
    """Read the time of each row; ``lat`` and ``lon``, in degrees, are what the times must make a flight of.

    LogError where no column gives the time or it cannot be read.
    """
    speed_of = _speed_of(lat, lon)
    if "hour" in chosen and "minute" in chosen:
        return _with_offset(reading, chosen, _with_date(reading, chosen, _from_parts(reading, chosen)))
    if "time" not in chosen:
        chosen = _time_within_a_date(reading, chosen)
    if "time" not in chosen and "gps_seconds" in chosen:
        if "gps_week" in chosen:
            return _gps_weeks(reading, chosen, speed_of)
        chosen = {**chosen, "time": chosen["gps_seconds"]}
    if "time" not in chosen:
        raise reading.content.refusal(
            "no column gives the time",
            f"line {reading.layout.first_line}",
            "say which: --columns time=…; positions without times cannot be timed",
        )
    place, meaning, standing = chosen["time"]
    unit, told = reading.stated_unit(place, meaning)
    words = ("doy",) if meaning.concept.name == "day_of_year" else meaning.words
    clock = _read_clock(reading, place, unit, words, speed_of)
    if "date" in chosen or _has_day(chosen):
        clock = beside_a_date(clock, meaning.words)
    if not np.isfinite(clock.time_s).any():
        raise reading.content.refusal(
            "the times cannot be read",
            f"column '{shown(reading.layout.headers[place])}'",
            "write them as ISO 8601 (2026-03-14T12:00:00Z) or as seconds",
        )
    standing = "assumed" if clock.assumed else "told" if "told" in (standing, told) else standing
    reading.note(place, "time", clock.unit, standing, clock.assumed)
    if clock.scale_open:
        reading.undecided.append(Undecided("time", "time", "", reading.layout.headers[place], clock.time_s))
    clock = _with_offset(
        reading, chosen, _with_date(reading, chosen, _with_milliseconds(reading, chosen, clock))
    )
    return _spread(_refined(reading, clock, place))


def _time_within_a_date(reading: Reading, chosen: Chosen) -> Chosen:
    """Take a year, a date or a day of the year for the time where it has the fractions of one."""
    for name in ("day_of_year", "year", "date"):
        if name in chosen and reading.columns[chosen[name][0]].dtype.kind == "f":
            values = numbers(reading.columns[chosen[name][0]])[0]
            if (np.nan_to_num(values) % 1.0).any():
                rest = {other: one for other, one in chosen.items() if other != name}
                return rest | {"time": chosen[name]} | ({name: chosen[name]} if name == "day_of_year" else {})
    return chosen


def _from_parts(reading: Reading, chosen: Chosen) -> Clock:
    """Put a time of day together from a column for each of its parts."""
    parts: dict[str, FloatArray] = {}
    for name in ("hour", "minute", "second"):
        source = chosen.get(name, chosen.get("time") if name == "second" else None)
        if source is not None:
            parts[name] = numbers(reading.columns[source[0]], reading.decimal)[0]
            reading.note(source[0], "time", name, source[2])
    seconds = parts["hour"] * 3600.0 + parts["minute"] * 60.0 + parts.get("second", 0.0)
    return _with_milliseconds(reading, chosen, Clock(unroll_days(seconds), False, "time of day"))


def _with_milliseconds(reading: Reading, chosen: Chosen, clock: Clock) -> Clock:
    """Add a column of milliseconds to a clock that gives whole seconds, where that makes it run more evenly.

    Anything may be counted in milliseconds: how long a recorder took, for one.
    """
    if "millisecond" not in chosen or clock.scale_open:
        return clock
    place, _, standing = chosen["millisecond"]
    more = numbers(reading.columns[place], reading.decimal)[0]
    finer = clock.time_s + np.nan_to_num(more) * 1e-3
    before, after = (float(np.nanstd(np.diff(time_s))) for time_s in (clock.time_s, finer))
    inside = np.isfinite(more).any() and np.nanmin(more) >= 0.0 and np.nanmax(more) < 1000.0
    if not inside or (np.nan_to_num(clock.time_s) % 1.0).any() or after > before + 1e-3:
        reading.note(place, "", "", "ignored", "no milliseconds of the time beside it")
        return clock
    reading.note(place, "time", "ms", standing)
    return replace(clock, time_s=finer)


def _gps_weeks(reading: Reading, chosen: Chosen, speed_of: SpeedOf) -> Clock:
    """Put weeks of GPS time and seconds within them together; receivers that count weeks to 1,024 leave some out.

    IS-GPS-200: weeks begin on 1980-01-06, and the week's number is sent in ten bits.
    """
    columns = []
    for name in ("gps_week", "gps_seconds"):
        place, _, standing = chosen[name]
        columns.append(numbers(reading.columns[place], reading.decimal)[0])
        reading.note(place, "time", name.replace("_", " "), standing)
    week, seconds = columns
    unit, _ = reading.stated_unit(*chosen["gps_seconds"][:2])
    if unit is not None:
        seconds = seconds * unit.factor
    elif not is_flying_speed(speed_of(seconds)) and is_flying_speed(speed_of(seconds * 1e-3)):
        seconds = seconds * 1e-3
    # A week's number that is not counted on at its end would send the flight back by a week.
    same_week = np.nanmax(week) == np.nanmin(week)
    time_s = week * _WEEK_S + (unroll_days(seconds, _WEEK_S) if same_week else seconds) + GPS.offset
    notices: tuple[Notice, ...] = ()
    cycles = np.floor((time.time() - np.nanmedian(time_s)) / ROLLOVER_S) if np.nanmedian(week) < 1024 else 0.0
    if cycles > 0.0:
        message = (
            f"The weeks of GPS time count to 1,024 only: {cycles:.0f} times 1,024 weeks were added, which makes the "
            "flight one of recent years."
        )
        notices = (Notice("time-epoch-assumed", message),)
    return Clock(time_s + cycles * ROLLOVER_S, True, GPS.name, notices=notices)


def _has_day(chosen: Chosen) -> bool:
    return any({"year", *day} <= set(chosen) for day in (("month", "day"), ("day_of_year",)))


def _days(reading: Reading, chosen: Chosen) -> tuple[FloatArray, tuple[Notice, ...]]:
    """Read the midnight of each row's date, from one column or from three."""
    if "date" in chosen:
        place, _, standing = chosen["date"]
        days, notices = date_column(reading.columns[place], reading.date_order("date", place))
        if np.isfinite(days).any():
            reading.note(place, "date", "", standing)
        else:
            reading.note(place, "", "", "ignored", "the date cannot be read for certain")
        return days, notices
    parts = []
    whole = ("year", "month", "day") if {"month", "day"} <= set(chosen) else ("year", "day_of_year")
    for name in whole:
        place, _, standing = chosen[name]
        parts.append(numbers(reading.columns[place], reading.decimal)[0].tolist())
        reading.note(place, "time", name, standing)
    form = "{:.0f}-{:.0f}-{:.0f}" if len(parts) == 3 else "{:.0f}-{:03.0f}"
    written = [
        form.format(*map(np.floor, row)) if sum(row) < 10_000 else "" for row in zip(*parts, strict=True)
    ]
    midnights = {text: date_seconds(text, "ymd") for text in set(written)}
    return np.array([midnights[text] for text in written]), ()


def _spread(clock: Clock) -> Clock:
    """Spread rows evenly over the minute that they all carry: spreadsheets show no seconds unless they are asked to.

    Only where minute after minute holds as many rows.
    """
    if (np.nan_to_num(clock.time_s[:100]) % 60.0).any():
        return clock
    known = np.flatnonzero(np.isfinite(clock.time_s))
    minutes, first, rows = np.unique(clock.time_s[known], return_index=True, return_counts=True)
    if minutes.size < 4 or (minutes % 60.0 != 0.0).any() or (np.diff(first) <= 0).any():
        return clock
    usual, inner = int(np.median(rows[1:-1])), rows[1:-1]
    if (
        usual < _FEWEST_IN_A_MINUTE
        or np.abs(inner - usual).max() > max(1.0, 0.05 * usual)
        or rows.max() > usual + 1
    ):
        return clock
    within = np.arange(known.size) - np.repeat(first, rows)
    # The first minute may have begun before the log did.
    within[: rows[0]] += max(usual - int(rows[0]), 0)
    time_s = clock.time_s.copy()
    time_s[known] += within * (60.0 / np.maximum(np.repeat(rows, rows), usual))
    message = (
        f"The times give whole minutes only, for {usual} rows each; the rows were spread evenly over them."
    )
    return replace(clock, time_s=time_s, notices=(*clock.notices, Notice("time-coarse", message)))


def _refined(reading: Reading, clock: Clock, place: int) -> Clock:
    """Let a finer time column count where the chosen one repeats from row to row."""
    coarse = bool(reading.other_times) and _repeats(clock.time_s) > 0.3
    for other, meaning in reading.other_times:
        column = reading.columns[other]
        fine = number_clock(np.array(column, float), meaning.unit) if column.dtype.kind in "fiu" else None
        if coarse and fine is not None and not fine.scale_open and _repeats(fine.time_s) < 0.05:
            shift = clock.time_s - fine.time_s
            reading.note(other, "time", fine.unit, "recognised", "finer than the other time column")
            message = "Times of day repeat from row to row; the finer time column counts between them."
            reading.notices.append(Notice("time-refined", message))
            # The coarse clock cuts its fractions off, so the largest difference is nearest the truth.
            clock, coarse = replace(clock, time_s=fine.time_s + float(np.nanmax(shift))), False
        else:
            header = shown(reading.layout.headers[place])
            reading.note(other, "", "", "ignored", f"'{header}' gives the time")
    return clock


def _repeats(time_s: FloatArray) -> float:
    """Return the share of rows that repeat the time before them."""
    known = time_s[np.isfinite(time_s)]
    return float(np.mean(np.diff(known) == 0.0)) if known.size > 1 else 0.0


def _speed_of(lat: FloatArray, lon: FloatArray) -> SpeedOf:
    """Return what holds times against the positions: a few thousand rows tell."""

    def speed_of(time_s: FloatArray) -> float:
        placed = np.flatnonzero(np.isfinite(lat) & np.isfinite(lon))
        some = placed[:: max(1, placed.size // 2000)]
        use = some[np.isfinite(time_s[some])]
        return usual_speed_kt(time_s[use], lat[use], lon[use]) if use.size > 2 else 0.0

    return speed_of


def _read_clock(
    reading: Reading, place: int, unit: Unit | None, words: tuple[str, ...], speed_of: SpeedOf
) -> Clock:
    column = reading.columns[place]
    local, order = "local" in words, reading.date_order("time", place)
    if column.dtype.kind in "fiu":
        return number_clock(np.array(column, float), unit, words, speed_of, order)
    if begins_with_moment(column):
        return text_clock(column, speed_of, local=local, order=order)
    # A few cells tell numbers that are written oddly from times that are written out.
    written = column.dropna()
    few = written.iloc[:: max(1, len(written) // 50)].reset_index(drop=True)
    if float(np.isfinite(numbers(few)[0]).mean()) > 0.5:
        values, written_units = numbers(column, reading.decimal)
        units = set(written_units) - {""}
        cell_unit = unit_of(units.pop(), "time") if len(units) == 1 else None
        return number_clock(values, unit or cell_unit, words, speed_of, order)
    return text_clock(column, speed_of, local=local, order=order)


def _with_date(reading: Reading, chosen: Chosen, clock: Clock) -> Clock:
    """Add the date column to a time of day."""
    if "date" not in chosen and not _has_day(chosen):
        return clock
    if clock.unit == "day of the year":
        clock = replace(clock, time_s=unroll_days(clock.time_s % DAY_S), unit="time of day")
    if clock.dated or clock.unit not in ("time of day", "hhmmss"):
        why = "the time column carries the date" if clock.dated else "the times are no times of day"
        for name in ("date", "year", "month", "day", "day_of_year"):
            if name in chosen and chosen[name] != chosen.get("time"):
                reading.note(chosen[name][0], "", "", "ignored", why)
        return clock
    days, notices = _days(reading, chosen)
    if not np.isfinite(days).any():
        return replace(clock, notices=(*clock.notices, *notices))
    days, of_another = _in_utc(reading, chosen, clock, days)
    notices += of_another
    first = int(np.flatnonzero(np.isfinite(days))[0])
    # The day of each row comes from the clock's own midnights: recorders change the date a row early or late,
    # and a column that never changes would send the flight back by a day.
    start_day = days[first] - np.floor(np.nan_to_num(clock.time_s[first]) / DAY_S) * DAY_S
    stepped = np.nan_to_num(np.nanmax(days) - np.nanmin(days)) > 1.5 * DAY_S
    of_day = clock.time_s % DAY_S
    time_s = days + of_day if stepped else start_day + unroll_days(of_day)
    notices = (*clock.notices, *notices, *_zone_notice(chosen))
    return replace(clock, time_s=time_s, dated=True, notices=notices)


def _in_utc(
    reading: Reading, chosen: Chosen, clock: Clock, days: FloatArray
) -> tuple[FloatArray, tuple[Notice, ...]]:
    """Bring local dates beside times in UTC to UTC by the offset column; without one, say that they may be off."""
    local, utc = ("date" in chosen and "local" in chosen["date"][1].words), _says_utc(chosen)
    if not (local and utc):
        return days, ()
    if "utc_offset" in chosen:
        place, meaning, _ = chosen["utc_offset"]
        offset = offset_seconds(
            reading.columns[place], reading.stated_unit(place, meaning)[0], days + clock.time_s
        )
        if np.isfinite(offset).any():
            return days - np.floor((clock.time_s % DAY_S + offset) / DAY_S) * DAY_S, ()
    message = "The dates are local and the times UTC: near midnight the day may be one off."
    return days, (Notice("date-ambiguous", message),)


def _says_utc(chosen: Chosen) -> bool:
    words = {word for name in ("time", "date", "hour") if name in chosen for word in chosen[name][1].words}
    return bool(words & {"utc", "zulu", "gmt", "z"})


def _zone_notice(chosen: Chosen) -> tuple[Notice, ...]:
    """Say that no zone is given, unless a header or an offset column gives it."""
    if _says_utc(chosen) or "utc_offset" in chosen:
        return ()
    return no_zone(local=any("local" in chosen[name][1].words for name in ("time", "date") if name in chosen))


def _with_offset(reading: Reading, chosen: Chosen, clock: Clock) -> Clock:
    """Take local time back to UTC by the offset column."""
    if "utc_offset" not in chosen:
        return _with_header_zone(reading, chosen, clock)
    place, meaning, standing = chosen["utc_offset"]
    if (
        not clock.dated
        or (clock.unit == "ISO 8601" and not clock.notices)
        or "since" in clock.unit
        or _says_utc(chosen)
    ):
        reading.note(place, "", "", "ignored", "the times are UTC already or have no date")
        return clock
    unit, _ = reading.stated_unit(place, meaning)
    offset = offset_seconds(reading.columns[place], unit, clock.time_s)
    known = offset[np.isfinite(offset)]
    if known.size == 0:
        reading.note(place, "", "", "ignored", "no offset can be read")
        return replace(clock, notices=(*_without_zone_notice(clock), *no_zone(local=True)))
    reading.note(place, "time", "offset from UTC", standing)
    time_s = clock.time_s - np.where(np.isfinite(offset), offset, known[0])
    return replace(clock, time_s=time_s, notices=_without_zone_notice(clock))


def _without_zone_notice(clock: Clock) -> tuple[Notice, ...]:
    return tuple(notice for notice in clock.notices if notice.code != "time-zone-assumed")


def _with_header_zone(reading: Reading, chosen: Chosen, clock: Clock) -> Clock:
    """Take times back to UTC whose header names their zone: ``Time (UTC+2)``; ``Time UTC`` names it too."""
    headers = [reading.layout.headers[chosen[name][0]] for name in ("time", "hour", "date") if name in chosen]
    offset = next((shift for header in headers if np.isfinite(shift := header_zone(header)[1])), 0.0)
    said = _without_zone_notice(clock)
    if not clock.dated or len(said) == len(clock.notices) or not (offset or _says_utc(chosen)):
        return clock
    return replace(clock, time_s=clock.time_s - offset, notices=said)
