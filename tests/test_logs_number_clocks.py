"""Columns of bare numbers that are times: each way of writing them, just recognised and just not.

An aircraft at 120 kt moves the same way from row to row, whatever its clock is taken to say.
"""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
import pytest

from analyser.logs.movement import usual_speed_kt
from analyser.logs.time_numbers import number_clock
from analyser.logs.time_text import Clock
from analyser.logs.units import unit_of


def read(
    values: Collection[float] | np.ndarray,
    words: str = "",
    *,
    unit: str = "",
    beside_a_date: bool = False,
    row_s: float = 1.0,
) -> Clock:
    """Read numbers that stand under a header of some words, a row each so many seconds."""
    rows = np.array(values, float)
    lat = 48.0 + 120.0 / 3600.0 / 60.0 * row_s * np.arange(rows.size)
    return number_clock(
        rows, unit_of(unit, "time") if unit else None, words.split(),
        lambda time_s: usual_speed_kt(time_s, lat, np.full(rows.size, 11.0)), beside_a_date=beside_a_date,
    )  # fmt: skip


def sixtieths(first_s: int, rows: int, every_s: int = 1) -> np.ndarray:
    """Write instants as hours, minutes and seconds run together, 125959."""
    at = (first_s + every_s * np.arange(rows)) % 86_400
    return np.array(at // 3600 * 10_000 + at // 60 % 60 * 100 + at % 60, float)


def minutes(first_min: int, rows: int, each: int = 1) -> np.ndarray:
    """Write minutes of a day as hours and minutes run together, 959, each so many times."""
    at = np.repeat((first_min + np.arange(rows)) % 1440, each)
    return np.array(at // 60 * 100 + at % 60, float)


NOON_S = 43_200


# Hours, minutes and seconds run together


@pytest.mark.parametrize(("rows", "clock"), [(20, True), (19, False)])
def test_twenty_numbers_that_step_from_59_to_100_are_a_clock(rows: int, clock: bool) -> None:
    found = read(sixtieths(NOON_S + 3590, rows))
    assert found.time_s[0] == (NOON_S + 3590 if clock else 125_950.0)
    assert (np.diff(found.time_s).max() == 1.0) == clock


@pytest.mark.parametrize("scale", [1.0, 10.0, 100.0, 1000.0, 1e-4])
def test_a_clock_may_be_written_in_tenths_or_behind_a_point(scale: float) -> None:
    found = read(sixtieths(NOON_S + 3590, 40) * scale)
    np.testing.assert_allclose(found.time_s, NOON_S + 3590 + np.arange(40.0), atol=1e-6)
    assert not found.dated


def test_a_clock_falls_back_once_at_midnight() -> None:
    found = read(sixtieths(86_350, 120))
    np.testing.assert_allclose(found.time_s, 86_350 + np.arange(120.0))


@pytest.mark.parametrize(
    "values",
    [
        # No minute or second 60, nothing below nothing.
        sixtieths(NOON_S + 3530, 40) + np.where(np.arange(40) == 20, 60.0, 0.0),
        sixtieths(NOON_S + 3590, 40) - 130_005.0,
    ],
)
def test_what_no_clock_shows_is_a_count_of_seconds(values: np.ndarray) -> None:
    found = read(values)
    np.testing.assert_allclose(found.time_s, values)
    assert found.scale_open


@pytest.mark.parametrize(
    ("words", "clock"), [("hhmmss", True), ("time hh mm ss", True), ("time hh mm", False), ("ss", False)]
)
def test_within_one_minute_the_header_tells_a_clock(words: str, clock: bool) -> None:
    found = read(sixtieths(NOON_S, 50), words)
    assert found.time_s[0] == (NOON_S if clock else 120_000.0)


@pytest.mark.parametrize("first", [120_055.0, 126_005.0, 240_005.0])
def test_a_header_alone_makes_no_clock_of_numbers_that_no_clock_shows(first: float) -> None:
    """Seconds and minutes end at 59, hours at 23."""
    values = first + np.arange(40.0)
    np.testing.assert_allclose(read(values, "hhmmss").time_s, values)


# A date before it


@pytest.mark.parametrize(("date", "starts"), [(20260314, "2026-03-14"), (260314, "2026-03-14")])
def test_a_date_stands_before_the_clock(date: int, starts: str) -> None:
    found = read(date * 1e6 + sixtieths(NOON_S + 3590, 40))
    assert found.dated
    begins = (np.datetime64(starts) - np.datetime64("1970-01-01")) / np.timedelta64(1, "s")
    np.testing.assert_allclose(found.time_s, begins + NOON_S + 3590 + np.arange(40.0))


def test_the_day_of_the_month_before_a_clock_gives_no_date() -> None:
    found = read(14e6 + sixtieths(NOON_S + 3590, 40))
    assert not found.dated
    np.testing.assert_allclose(found.time_s, NOON_S + 3590 + np.arange(40.0))


@pytest.mark.parametrize(("year", "clock"), [(1989, False), (1990, True), (2099, True), (2101, False)])
def test_within_one_minute_a_whole_date_of_these_years_tells_a_clock(year: int, clock: bool) -> None:
    found = read((year * 1e4 + 314) * 1e6 + sixtieths(NOON_S, 50))
    assert found.dated == clock
    if clock:
        begins = (np.datetime64(f"{year}-03-14") - np.datetime64("1970-01-01")) / np.timedelta64(1, "s")
        np.testing.assert_allclose(found.time_s, begins + NOON_S + np.arange(50.0))


# Hours and minutes, minutes and seconds


@pytest.mark.parametrize("scale", [1.0, 0.01])
@pytest.mark.parametrize("first", [9 * 60 + 30, 9 * 60 + 10, 22 * 60 + 50])
def test_hours_and_minutes_three_rows_a_minute(first: int, scale: float) -> None:
    found = read(minutes(first, 40, each=3) * scale, row_s=20.0)
    np.testing.assert_allclose(found.time_s, 60.0 * (first + np.repeat(np.arange(40.0), 3)), atol=1e-6)
    assert not found.scale_open


@pytest.mark.parametrize("each", [1, 4])
def test_minutes_and_seconds_behind_a_point(each: int) -> None:
    found = read(minutes(8 * 60 + 30, 60, each) * 0.01, row_s=1.0 / each)
    np.testing.assert_allclose(found.time_s, 8 * 60 + 30 + np.repeat(np.arange(60.0), each), atol=1e-6)


@pytest.mark.parametrize(
    ("values", "row_s"),
    [
        # No digit above 59, no third one behind the point, no four before it, none below nothing.
        (9.3 + 0.01 * np.arange(60.0), 60.0),
        (9.305 + 0.01 * np.arange(20.0), 60.0),
        (100.05 + 0.01 * np.arange(20.0), 60.0),
        (-9.30 + 0.01 * np.arange(20.0), 60.0),
        # Three steps may be chance.
        (9.30 + 0.01 * np.arange(4.0), 60.0),
        # Nor does a step of two tell.
        (9.10 + 0.02 * np.arange(20.0), 120.0),
        # Run together, few whole numbers count seconds.
        (810.0 + np.arange(40.0), 1.0),
        (10.0 + np.arange(40.0), 60.0),
        # No hour 24.
        (24.05 + 0.01 * np.arange(20.0), 60.0),
    ],
)
def test_what_is_no_hours_and_minutes(values: np.ndarray, row_s: float) -> None:
    found = read(values, row_s=row_s)
    assert found.time_s[1] - found.time_s[0] != pytest.approx(60.0)


@pytest.mark.parametrize(("words", "told"), [("time hh mm", True), ("hhmm", True), ("hh", False)])
def test_a_header_tells_hours_and_minutes(words: str, told: bool) -> None:
    found = read(9.10 + 0.02 * np.arange(20.0), words, row_s=120.0)
    assert (found.time_s[1] - found.time_s[0] == pytest.approx(120.0)) == told


def test_what_counts_from_the_start_in_whole_numbers_is_no_hours_and_minutes() -> None:
    assert read(910.0 + np.arange(40.0), "elapsed", row_s=60.0).time_s[0] != pytest.approx(33_000.0)
    assert read(910.0 + np.arange(40.0), row_s=60.0).time_s[0] == pytest.approx(33_000.0)


# Beside a date


def beside(values: np.ndarray, words: str = "", **more: object) -> Clock:
    return read(values, words, beside_a_date=True, **more)  # type: ignore[arg-type]


ROWS = np.arange(40.0)


@pytest.mark.parametrize(
    ("values", "words", "of_day"),
    [
        (34_000.0 + ROWS, "sod", True),
        (34_000.0 + ROWS, "seconds of day", True),
        (34_000.0 + ROWS, "midnight", True),
        (34_030.0 + ROWS, "", False),
        # What counts from the log's own start begins at nothing.
        (70.0 + ROWS, "utc", True),
        (50.0 + ROWS, "utc", False),
        # They begin again at midnight, and not before.
        (np.append(86_390.0 + ROWS[:10], ROWS[:30]), "", True),
        (np.append(43_190.0 + ROWS[:10], ROWS[:30]), "", False),
        # No day has more seconds.
        (86_390.0 + ROWS, "sod", False),
    ],
)
def test_seconds_beside_a_date_are_of_the_day(values: np.ndarray, words: str, of_day: bool) -> None:
    found = beside(values, words)
    assert found.scale_open != of_day
    if of_day:
        np.testing.assert_allclose(found.time_s, values[0] + ROWS)


@pytest.mark.parametrize(
    ("values", "unit", "first_s"),
    [
        (9.5 + ROWS / 3600.0, "", 34_200.0),
        (9.5 + ROWS / 3600.0, "h", 34_200.0),
        (570.0 + ROWS / 60.0, "", 34_200.0),
        (570.0 + ROWS / 60.0, "min", 34_200.0),
        # Half an hour: a log's own clock begins no later.
        (0.55 + ROWS / 3600.0, "h", 1_980.0),
        (0.45 + ROWS / 3600.0, "h", None),
        # No day has 24.5 hours.
        (24.5 + ROWS / 3600.0, "h", None),
    ],
)
def test_hours_and_minutes_with_decimals_beside_a_date_are_of_the_day(
    values: np.ndarray, unit: str, first_s: float | None
) -> None:
    found = beside(values, unit=unit)
    of_day = any(notice.code == "time-unit-assumed" for notice in found.notices)
    assert of_day == (first_s is not None)
    if first_s is not None:
        np.testing.assert_allclose(found.time_s, first_s + ROWS, atol=1e-3)
        (said,) = found.notices
        assert f"from {first_s / 3600.0:.2f} h on" in said.message


@pytest.mark.parametrize(
    ("values", "of_day"),
    [(0.4 + ROWS / 86_400.0, True), (0.9999, False), (1.4 + ROWS / 86_400.0, False)],
)
def test_fractions_of_a_day_beside_a_date(values: np.ndarray | float, of_day: bool) -> None:
    values = np.zeros(40) + values
    found = beside(values)
    assert (found.time_s[0] == pytest.approx(0.4 * 86_400.0)) == of_day


@pytest.mark.parametrize(
    ("values", "first_s", "assumed"),
    [
        # Above 86,400 no second of a day is.
        (sixtieths(NOON_S, 10), NOON_S, False),
        (10.0 * sixtieths(NOON_S, 10), NOON_S, False),
        (sixtieths(30_000, 10), 30_000, True),
        # Below 10,000 it may count seconds; and over more than a minute too.
        (sixtieths(1_250, 10), None, False),
        (sixtieths(30_000, 10, every_s=7), None, False),
    ],
)
def test_a_clock_run_together_beside_a_date(values: np.ndarray, first_s: float | None, assumed: bool) -> None:
    found = beside(values, row_s=float(np.median(np.diff(values))))
    assert any(notice.code == "time-unit-assumed" for notice in found.notices) == assumed
    assert found.time_s[0] == (values[0] if first_s is None else first_s)
