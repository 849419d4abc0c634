"""A table's time of each row: time, date and offset columns put together."""

from __future__ import annotations

import time
from dataclasses import replace
from functools import partial

import numpy as np

from analyser.earth.constants import DAY_S
from analyser.logs.clock_faults import ROLLOVER_S
from analyser.logs.limits import some_of
from analyser.logs.log_thresholds import LOOK, TIMES
from analyser.logs.movement import is_flying_speed, usual_speed_kt
from analyser.logs.number_text import numbers
from analyser.logs.raw import FloatArray, Undecided
from analyser.logs.table_columns import FlightTable, TableColumn
from analyser.logs.text import shown
from analyser.logs.time_numbers import number_clock
from analyser.logs.time_text import Clock, SpeedOf, begins_with_moment, date_column, text_clock
from analyser.logs.times import header_zone, offset_seconds, unroll_days
from analyser.logs.units import GPS, unit_of

_WEEK_S = 7 * DAY_S
#: Times that are written as a clock shows them.
_CLOCKS = ("time of day", "hhmmss", "date and time", "ISO 8601", "date and clock")
_UTC = {"utc", "zulu", "gmt", "z"}
_DATES = ("date", "year", "month", "day", "day_of_year")


def table_clock(table: FlightTable, lat: FloatArray, lon: FloatArray) -> Clock:
    """Read the time of each row; ``lat`` and ``lon``, in degrees, are what the times must make a flight of.

    LogError where no column gives the time or it cannot be read.
    """
    chosen, speed_of = table.chosen, partial(_speed_kt, lat, lon)
    if "hour" in chosen and "minute" in chosen:
        return _in_utc(table, _with_date(table, _from_parts(table)))
    if "time" not in chosen:
        _take_time_within_a_date(table)
    if "time" not in chosen and "gps_seconds" in chosen:
        if "gps_week" in chosen:
            return _gps_weeks(table, speed_of)
        chosen["time"] = chosen["gps_seconds"]
    if "time" not in chosen:
        raise table.content.refusal(
            "no column gives the time",
            f"line {table.layout.first_line}",
            "say which: --columns time=…; positions without times cannot be timed",
        )
    column = chosen["time"]
    clock = _past_one_o_clock(_read_clock(column, speed_of))
    if not np.isfinite(clock.time_s).any():
        raise table.content.refusal(
            "the times cannot be read",
            f"column '{column.header}'",
            "write them as ISO 8601 (2026-03-14T12:00:00Z) or as seconds",
        )
    column.note("time", clock.unit, "assumed" if clock.assumed else "", clock.assumed)
    if clock.scale_open:
        table.found.undecided[Undecided("time", "time", "", column.written_header)] = clock.time_s
    clock = _in_utc(table, _with_date(table, _with_milliseconds(table, clock)))
    return _spread(_refined(table, clock, column, speed_of))


def _speed_kt(lat: FloatArray, lon: FloatArray, time_s: FloatArray) -> float:
    """Hold times against the positions."""
    placed = np.flatnonzero(np.isfinite(lat) & np.isfinite(lon))
    some = placed[some_of(placed.size)]
    use = some[np.isfinite(time_s[some])]
    # Clocks that show minutes give many rows one time.
    use = use[np.diff(time_s[use], prepend=np.nan) != 0.0]
    return usual_speed_kt(time_s[use], lat[use], lon[use]) if use.size > 2 else 0.0


def _take_time_within_a_date(table: FlightTable) -> None:
    """Take a year, a date or a day of the year for the time where it has the fractions of one, or a clock in it."""
    for name in ("day_of_year", "year", "date"):
        column = table.chosen.get(name)
        # Of a date alone two come to a flight at most.
        if column is not None and (
            (column.holds_numbers and np.nan_to_num(column.numbers() % 1.0).any())
            or (name == "date" and column.cells.nunique() > 2)
        ):
            table.chosen["time"] = column
            if name != "day_of_year":
                del table.chosen[name]
            return


def _read_clock(column: TableColumn, speed_of: SpeedOf) -> Clock:
    """Read the column of times: numbers, moments, or what is written otherwise."""
    order, cells = column.date_order("time"), column.cells
    if begins_with_moment(cells) or not column.holds_numbers:
        return text_clock(cells, speed_of, order)
    words = ("doy",) if column.meaning.concept.name == "day_of_year" else column.meaning.words
    values, written = numbers(cells, column.table.decimal)
    units = set(written.values())
    unit = column.unit() or (unit_of(units.pop(), "time") if len(units) == 1 else None)
    dated = "date" in column.table.chosen or bool(_day_parts(column.table))
    return number_clock(values, unit, words, speed_of, order, beside_a_date=dated)


def _past_one_o_clock(clock: Clock) -> Clock:
    """Carry a clock that shows 1:00 after 12:59, and says neither am nor pm, on into the afternoon."""
    if clock.unit not in _CLOCKS:
        return clock
    known = np.flatnonzero(np.isfinite(clock.time_s))
    shown_s = (clock.time_s + clock.ahead_s)[known]
    back = np.flatnonzero(np.abs(np.diff(shown_s) + 0.5 * DAY_S) < TIMES.past_noon_s)
    of_day = shown_s % DAY_S if back.size == 1 else np.zeros(1)
    if (of_day < 3600.0).any() or (of_day >= 13 * 3600.0).any():
        return clock
    time_s = clock.time_s.copy()
    time_s[known[back[0] + 1 :]] += 0.5 * DAY_S
    message = "The times go from 12:59 to 1:00 and say neither am nor pm; read as early afternoon."
    return clock.saying("time-half-assumed", message, time_s=time_s)


def _from_parts(table: FlightTable) -> Clock:
    """Put a time of day together from a column for each of its parts."""
    seconds: FloatArray | float = 0.0
    for name, length_s in (("hour", 3600.0), ("minute", 60.0), ("second", 1.0)):
        column = table.chosen.get(name, table.chosen.get("time") if name == "second" else None)
        if column is not None:
            column.note("time", name)
            seconds = seconds + column.numbers() * length_s
    return _with_milliseconds(table, Clock(unroll_days(np.asarray(seconds)), False, "time of day"))


def _with_milliseconds(table: FlightTable, clock: Clock) -> Clock:
    """Add a column of milliseconds to a clock that gives whole seconds: others may count how long a recorder took."""
    column = table.chosen.get("millisecond")
    if column is None or clock.scale_open:
        return clock
    more = column.numbers()
    finer = _with_parts(clock, np.nan_to_num(more) * 1e-3, 1.0) if np.isfinite(more).any() else None
    if finer is None:
        column.ignore("no milliseconds of the time beside it")
        return clock
    column.note("time", "ms")
    return finer


def _with_parts(clock: Clock, parts_s: FloatArray, whole_s: float) -> Clock | None:
    """Add what a column beside a clock of whole seconds, or minutes, gives of the next; None where it is no such thing.

    It begins again with each whole, so that the clock runs more evenly with it.
    """
    finer_s = clock.time_s + parts_s
    before, after = (float(np.nanstd(np.diff(time_s))) for time_s in (clock.time_s, finer_s))
    inside = np.isfinite(parts_s).any() and np.nanmin(parts_s) >= 0.0 and np.nanmax(parts_s) < whole_s
    whole = not (np.nan_to_num(clock.time_s) % whole_s).any()
    return replace(clock, time_s=finer_s) if inside and whole and after <= before + 1e-3 else None


def _gps_weeks(table: FlightTable, speed_of: SpeedOf) -> Clock:
    """Put weeks of GPS time and seconds within them together; receivers that count weeks to 1,024 leave some out.

    IS-GPS-200: weeks begin on 1980-01-06, and the week's number is sent in ten bits.
    """
    for name in ("gps_week", "gps_seconds"):
        table.chosen[name].note("time", name.replace("_", " "))
    week, seconds = table.chosen["gps_week"].numbers(), table.chosen["gps_seconds"].numbers()
    unit = table.chosen["gps_seconds"].unit()
    if unit is not None:
        seconds = seconds * unit.factor
    elif not is_flying_speed(speed_of(seconds)) and is_flying_speed(speed_of(seconds * 1e-3)):
        seconds = seconds * 1e-3
    # A week's number that is not counted on at its end would send the flight back by a week.
    same_week = np.nanmax(week) == np.nanmin(week)
    time_s = week * _WEEK_S + (unroll_days(seconds, _WEEK_S) if same_week else seconds) + GPS.offset
    clock = Clock(time_s, True, GPS.name, zone="said")
    cycles = np.floor((time.time() - np.nanmedian(time_s)) / ROLLOVER_S) if np.nanmedian(week) < 1024 else 0.0
    if cycles <= 0.0:
        return clock
    message = (
        f"The weeks of GPS time count to 1,024 only: {cycles:.0f} times 1,024 weeks were added, which makes the "
        "flight one of recent years."
    )
    return clock.saying("time-epoch-assumed", message, time_s=time_s + cycles * ROLLOVER_S)


def _day_parts(table: FlightTable) -> list[TableColumn]:
    """Return the columns of year, month and day, or of year and day of the year; none where one of them is missing."""
    wholes = (("year", "month", "day"), ("year", "day_of_year"))
    names = next((names for names in wholes if set(names) <= set(table.chosen)), ())
    return [table.chosen[name] for name in names]


def _with_date(table: FlightTable, clock: Clock) -> Clock:
    """Add the date column, or the date above the header, to a time of day."""
    if "date" not in table.chosen and not _day_parts(table) and not table.layout.date:
        return clock
    if clock.unit == "day of the year":
        clock = replace(clock, time_s=unroll_days(clock.time_s % DAY_S), unit="time of day")
    if clock.dated or clock.unit not in ("time of day", "hhmmss"):
        why = "the time column carries the date" if clock.dated else "the times are no times of day"
        for column in (table.chosen[name] for name in _DATES if name in table.chosen):
            if column is not table.chosen.get("time"):
                column.ignore(why)
        return clock
    days, clock = _days(table, clock)
    if not np.isfinite(days).any():
        return clock
    days, clock = _days_in_utc(table, clock, days)
    first = int(np.flatnonzero(np.isfinite(days))[0])
    # The day of each row comes from the clock's own midnights: recorders change the date a row early or late,
    # and a column that never changes would send the flight back by a day.
    clock_s = clock.time_s + clock.ahead_s
    start_day = days[first] - np.floor(np.nan_to_num(clock_s[first]) / DAY_S) * DAY_S
    stepped = np.nan_to_num(np.nanmax(days) - np.nanmin(days)) > DAY_S
    of_day = clock_s % DAY_S
    time_s = days + of_day if stepped else start_day + unroll_days(of_day)
    return replace(clock, time_s=time_s - clock.ahead_s, dated=True)


def _days(table: FlightTable, clock: Clock) -> tuple[FloatArray, Clock]:
    """Read the midnight of each row's date, from one column or from three; say what was odd."""
    column = table.chosen.get("date")
    if column is not None:
        days, notices = date_column(column.cells, column.date_order("date"))
        if np.isfinite(days).any():
            column.note("date")
        else:
            column.ignore("the date cannot be read for certain")
            if not notices:
                cell = shown(str(column.cells.dropna().iloc[0]), LOOK.label_letters)
                message = f"The dates in column '{column.header}', such as '{cell}', cannot be read; say 2026-03-14."
                clock = clock.saying("date-ambiguous", message)
        return days, replace(clock, notices=(*clock.notices, *notices))
    parts = _day_parts(table)
    if not parts:
        # Of a line above the header only what is a date for certain counts.
        days, notices = date_column(np.array([table.layout.date], dtype=object))
        return np.full(clock.time_s.size, np.nan if notices else days[0]), clock
    for part in parts:
        part.note("time", part.meaning.concept.name)
    # As ISO 8601 writes them: 2026-03-14, 2026-073.
    form = "{:04.0f}-{:02.0f}-{:02.0f}" if len(parts) == 3 else "{:04.0f}-{:03.0f}"
    rows = zip(*(np.floor(part.numbers()).tolist() for part in parts), strict=True)
    return date_column(np.array([form.format(*row) for row in rows], dtype=object), "ymd")[0], clock


def _days_in_utc(table: FlightTable, clock: Clock, days: FloatArray) -> tuple[FloatArray, Clock]:
    """Bring dates to the times' zone, where one is local and the other UTC, by the offset column; else say it."""
    of_date, of_time = table.words("date"), table.words("time", "hour")
    dates_local, times_local = "local" in of_date, "local" in of_time
    if not ((dates_local and of_time & _UTC) or (times_local and of_date & _UTC)):
        return days, clock
    column = table.chosen.get("utc_offset")
    if column is not None:
        offset = offset_seconds(column.cells, column.unit(), days + clock.time_s)
        if np.isfinite(offset).any():
            ahead = np.floor(((clock.time_s - offset * times_local) % DAY_S + offset) / DAY_S) * DAY_S
            return days + ahead * (1.0 if times_local else -1.0), clock
    one, other = ("UTC", "local") if times_local else ("local", "UTC")
    message = f"The dates are {one} and the times {other}: near midnight the day may be one off."
    return days, clock.saying("date-ambiguous", message)


def _in_utc(table: FlightTable, clock: Clock) -> Clock:
    """Take local time back to UTC by the offset column or by the zone that a header names; say where nothing does."""
    headers = [table.chosen[name].written_header for name in ("time", "hour", "date") if name in table.chosen]
    offset = next((shift for header in headers if np.isfinite(shift := header_zone(header)[1])), np.nan)
    of_time = table.words("time", "hour")
    of_day = of_time | table.words("date")
    if clock.zone != "said" and np.isnan(offset) and (of_time if "local" in of_time else of_day) & _UTC:
        clock = replace(clock, zone="said")
    if clock.zone != "said" and "local" in of_day:
        clock = replace(clock, zone="local")
    column = table.chosen.get("utc_offset")
    if clock.dated and clock.zone != "said":
        told = column.cells if column is not None else table.layout.zone if np.isnan(offset) else ""
        unit = column.unit() if column is not None else None
        ahead_s = np.full(clock.time_s.size, offset)
        if column is not None or told:
            ahead_s = offset_seconds(told, unit, clock.time_s)
        known = ahead_s[np.isfinite(ahead_s)]
        if known.size:
            time_s = clock.time_s - np.where(np.isfinite(ahead_s), ahead_s, known[0])
            clock = replace(clock, time_s=time_s, zone="said")
        if column is not None:
            column.note("time", "offset from UTC") if known.size else column.ignore("no offset can be read")
            clock = clock if known.size else replace(clock, zone="local")
    elif column is not None:
        column.ignore("the times are UTC already or have no date")
    if not clock.dated or clock.zone == "said":
        return clock
    local = clock.zone == "local"
    message = (
        "The times are local and no offset from UTC is given" if local else "The times carry no time zone"
    )
    return clock.saying("time-zone-assumed", f"{message}; read as UTC.")


def _spread(clock: Clock) -> Clock:
    """Spread rows evenly over the minute that they all carry: spreadsheets show no seconds unless they are asked to.

    Only where minute after minute holds as many rows.
    """
    if (np.nan_to_num(clock.time_s[: LOOK.first_rows]) % 60.0).any():
        return clock
    known = np.flatnonzero(np.isfinite(clock.time_s))
    minutes, first, rows = np.unique(clock.time_s[known], return_index=True, return_counts=True)
    if minutes.size < TIMES.least_minutes or (minutes % 60.0 != 0.0).any() or (np.diff(first) <= 0).any():
        return clock
    usual, inner = int(np.median(rows[1:-1])), rows[1:-1]
    uneven = np.abs(inner - usual).max() > max(1.0, TIMES.uneven_rows_share * usual) or rows.max() > usual + 1
    if usual < TIMES.least_in_a_minute or uneven:
        return clock
    within = np.arange(known.size) - np.repeat(first, rows)
    # The first minute may have begun before the log did.
    within[: rows[0]] += max(usual - int(rows[0]), 0)
    time_s = clock.time_s.copy()
    time_s[known] += within * (60.0 / np.maximum(np.repeat(rows, rows), usual))
    message = (
        f"The times give whole minutes only, for {usual} rows each; the rows were spread evenly over them."
    )
    return clock.saying("time-coarse", message, time_s=time_s)


def _refined(table: FlightTable, clock: Clock, coarse: TableColumn, speed_of: SpeedOf) -> Clock:
    """Let a finer time column count where the chosen one repeats from row to row."""
    others = [other for other in table.beside if other.meaning.concept.name == "time"]
    repeats = bool(others) and _repeats(clock.time_s) > TIMES.coarse_share
    for other in others:
        if not (repeats and other.holds_numbers):
            other.ignore(f"'{coarse.header}' gives the time")
            continue
        values = other.numbers()
        fine = number_clock(values, other.meaning.unit, other.meaning.words, speed_of)
        if (with_seconds := _with_parts(clock, values, 60.0)) is not None:
            other.note("time", "second")
            clock, repeats = with_seconds, False
        elif not fine.scale_open and _repeats(fine.time_s) < TIMES.fine_share:
            other.note("time", fine.unit, "recognised", "finer than the other time column")
            message = "Times of day repeat from row to row; the finer time column counts between them."
            table.notice("time-refined", message)
            # The coarse clock cuts its fractions off, so the largest difference is nearest the truth.
            shift_s = float(np.nanmax(clock.time_s - fine.time_s))
            clock, repeats = replace(clock, time_s=fine.time_s + shift_s), False
        else:
            other.ignore(f"'{coarse.header}' gives the time")
    return clock


def _repeats(time_s: FloatArray) -> float:
    """Return the share of rows that repeat the time before them."""
    known = time_s[np.isfinite(time_s)]
    return float(np.mean(np.diff(known) == 0.0)) if known.size > 1 else 0.0
