"""Comparing a class: what was planted is in the table, and the CSV opens cleanly in a spreadsheet."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pandas as pd
import pytest

from analyser.errors import UsageError
from analyser.logbook.book import Logbook
from analyser.logbook.classes import Cell, Comparison, PilotRow
from analyser.logbook.classes import compare as compare_class
from analyser.logbook.sessions import Given, Session
from analyser.pages.compare import (
    COLUMNS,
    MOST_PICTURES,
    _latest_of_each,
    cell,
    compare_page,
    write_comparison,
    write_table,
)
from analyser.pages.progress_charts import thumbnail
from analyser.pages.words import points_words
from analyser.rules.scales import load_scale
from tests.club import term
from tests.club.build import filled_club
from tests.club.people import PILOTS
from tests.logbook_documents import document

SCALE = load_scale()


def compare(sessions: list[Session]) -> Comparison:
    return compare_class(sessions, SCALE)


def cell_of(found: Comparison, pilot: str, item: str) -> Cell:
    return next(row.cells[item] for row in found.rows if row.pilot == pilot)


@pytest.fixture(scope="module")
def club(tmp_path_factory: pytest.TempPathFactory) -> list[Session]:
    with Logbook.open(filled_club(tmp_path_factory.mktemp("club") / "club.sqlite")) as book:
        return book.sessions()


def test_each_pilots_weakness_is_the_lowest_in_its_row(club: list[Session]) -> None:
    found = compare(club)
    for pilot in PILOTS:
        row = {other.name: cell_of(found, other.name, pilot.weakness).allowed for other in PILOTS}
        assert min(row, key=lambda name: row[name]) == pilot.name
        one = cell_of(found, pilot.name, pilot.weakness)
        assert one.low <= one.points <= one.high and one.sessions == pilot.sessions


def test_the_same_exercise_is_found_although_fixes_and_courses_are_inferred(tmp_path: Path) -> None:
    moves = [(0.0, 0.0, 0.0), (0.004, -0.005, 3.0), (-0.004, 0.006, -2.5), (0.3, 0.0, 0.0), (0.0, 0.0, 12.0)]
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        for mark, (lat, lon, course) in enumerate(moves):
            made = document(mark)
            hold = made["holds"][0]
            hold["fix"] = {"lat": hold["fix"]["lat"] + lat, "lon": 179.999 + lon, "sd_nm": 0.1}
            hold["fix"]["lon"] = (hold["fix"]["lon"] + 180.0) % 360.0 - 180.0
            hold["inbound_course_true"] = (359.0 + course) % 360.0
            book.record(made, pilot=f"Pilot {mark}")
        ((_, flown),) = compare(book.sessions()).exercises
    assert {one.session.pilot for one in flown} == {"Pilot 0", "Pilot 1", "Pilot 2"}


def test_exercises_are_sorted_by_points_and_share_one_scale(club: list[Session]) -> None:
    found = compare(club)
    assert len(found.exercises) == 2
    for _, flown in found.exercises:
        points = [one.hold.points for one in flown]
        assert points == sorted(points, reverse=True)
        assert len({one.session.pilot for one in flown}) == 3
    page = compare_page(found, scale=SCALE)
    assert page.count('class="fig fig-thumb"') == 45
    assert len(set(re.findall(r'class="fig fig-thumb"[^>]*viewBox="([^"]*)"', page))) == 1


def graded(tmp_path: Path, steps: dict[str, list[int]]) -> list[Session]:
    """Grades that lie so many steps off the proposal, by instructor."""
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        mark = 0
        for instructor, row in steps.items():
            for step in row:
                made = document(mark)
                made["holds"][0]["points"] = 75.0
                book.record(made, pilot="Ada Vane", instructor=instructor)
                level = str(3 + step)
                own = Given(1, "overall", "pilot", "", "3", None, "")
                other = Given(1, "overall", "instructor", "", level, None, "")
                book.grade(made["log"]["sha256"], [own, other], scale=SCALE)
                mark += 1
        return book.sessions()


def test_how_an_instructor_leans_is_told_with_its_uncertainty(tmp_path: Path) -> None:
    kind, strict, odd = (
        [1, 1, 0, 1, 1, 1, 0, 1, 1, 1],
        [-1, -1, 0, -1, -1, -1, -1, -1, 0, -1],
        [1, -1, 0, 0] * 3,
    )
    sessions = graded(tmp_path, {"Kind Moor": kind, "Strict Ost": strict, "Odd Reed": odd, "One Day": [1]})
    found = {one.instructor: one for one in compare(sessions).leanings if one.item == "all"}
    assert (found["Kind Moor"].verdict, found["Strict Ost"].verdict) == ("kinder", "stricter")
    assert found["Odd Reed"].verdict == "none" and (found["Odd Reed"].higher, found["Odd Reed"].lower) == (
        3,
        3,
    )
    assert found["One Day"].verdict == "too little" and found["One Day"].grades == 1
    page = compare_page(compare(sessions), scale=SCALE)
    assert "kinder than the points, by about" in page and "stricter than the points, by about" in page
    assert "no lean can be told" in page and "too few grades to tell" in page


def test_entries_are_counted_and_not_hidden_by_a_middle(tmp_path: Path) -> None:
    """Five of fifteen entries wrong: a median of sessions would show a hundred."""
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        for mark in range(15):
            made = document(mark)
            wrong = mark % 3 == 0
            made["holds"][0]["entry"] |= {"verdict": "incorrect" if wrong else "correct"}
            made["holds"][0]["findings"] = [
                {"kind": "level", "severity": "unsafe" if mark < 2 else "good", "sentence": "500 ft low."}
            ]
            book.record(made | {"schema": 2}, pilot="Ada Vane")
        book.record(document("old"), pilot="Bo Lund")
        sessions = book.sessions()
    found = compare(sessions)
    cell = cell_of(found, "Ada Vane", "entry")
    assert (cell.right, cell.of, round(cell.allowed)) == (10, 15, 67)
    page = " ".join(compare_page(found, scale=SCALE).split())
    assert "10 of 15" in page and "2 of 15" in page
    written = write_comparison(sessions, tmp_path, scale=SCALE, since=None, until=None, table=None)
    assert "10/15" in written.said[1]
    # A debrief of the older form was never asked what was unsafe: that is not "none".
    assert [(row.unsafe, row.looked_for_unsafe) for row in found.rows] == [(2, 15), (0, 0)]


def test_two_instructors_who_differ_are_both_shown(tmp_path: Path) -> None:
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        key = book.record(document(), pilot="Ada Vane", instructor="Ilja Moor").session
        for grader, level, remark in (("Ilja Moor", "2", "low"), ("Kim Ost", "4", "fine by me")):
            one = Given(1, "altitude", "instructor", grader, level, "3", remark)
            book.grade(key, [one], scale=SCALE)
        sessions = book.sessions()
    page = " ".join(compare_page(compare(sessions), scale=SCALE).split())
    assert (
        "2 minimally acceptable" in page and "but 4 effective by <bdi>Kim Ost</bdi>" in page and "low" in page
    )
    text = io.StringIO()
    write_table(sessions, text)
    row = next(one for one in csv.DictReader(io.StringIO(text.getvalue())) if one["item"] == "altitude")
    assert (row["instructor_grade"], row["graded_by"]) == ("2", "Ilja Moor")
    assert row["other_grades"] == "4 by Kim Ost: fine by me" and row["instructor_remark"] == "low"


def test_the_table_is_not_written_where_the_page_goes(tmp_path: Path) -> None:
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        book.record(document(), pilot="Ada Vane")
        table = tmp_path / "compare.html"
        with pytest.raises(UsageError, match="the page is written here"):
            write_comparison(book.sessions(), tmp_path, scale=SCALE, since=None, until=None, table=table)
        assert not table.exists()


def test_points_that_fall_short_by_little_do_not_read_as_those_asked_for() -> None:
    said = [points_words(points, 70.0) for points in (69.4, 69.6, 69.99, 70.0, 70.4)]
    assert said == ["69", "just under 70", "just under 70", "70", "70"]


@pytest.mark.slow
def test_the_terminals_rows_fit_a_terminal_at_class_size(tmp_path: Path) -> None:
    sessions = term.sessions(class_of=term.members()[::2])
    written = write_comparison(sessions, tmp_path, scale=SCALE, since=None, until=None, table=None)
    assert len(written.said) == 31 and max(len(line) for line in written.said) <= 100
    assert all(
        line.split()[0] == row.split()[0]
        for line, row in zip(written.said[1:], sorted(written.said[1:]), strict=True)
    )


DANGEROUS = ["=1+1", "+1", "-1", "@x", "\t=1", "\r=1", "\n=1", " =1", "=cmd|' /C calc'!A0"]


@pytest.mark.parametrize("text", DANGEROUS)
def test_a_cell_that_could_run_is_kept_as_text(text: str) -> None:
    assert str(cell(text)) == "'" + text


def test_numbers_stay_numbers_and_plain_text_stays_as_it_is() -> None:
    assert [cell(-4.25), cell(0), cell(None), cell("3"), cell("O'Neil, A")] == [
        -4.25,
        0,
        "",
        "3",
        "O'Neil, A",
    ]


def test_the_csv_opens_cleanly(tmp_path: Path) -> None:
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        made = document(name="=evil.gpx")
        made["holds"][0]["name"] = 'a "b", c\nd'
        made["holds"][0]["circuits"][0]["scores"]["speed"] |= {"points": None, "value": -4.5}
        mark = book.record(made, pilot="@Zoë 李", instructor="-minus", device="+1").session
        one = Given(1, "bank", "instructor", "", "2", "3", "=SUM(A1)")
        book.grade(mark, [one], scale=SCALE)
        path = tmp_path / "class.csv"
        write_comparison(book.sessions(), tmp_path, scale=SCALE, since=None, until=None, table=path)
    raw = path.read_bytes()
    assert raw.startswith(b"\xef\xbb\xbf") and b"\r\n" in raw
    rows = list(csv.DictReader(io.StringIO(raw.decode("utf-8-sig"), newline="")))
    holds = made["holds"][0]
    assert len(rows) == 1 + sum(len(one["scores"]) for one in holds["circuits"])
    assert list(rows[0]) == list(COLUMNS)
    assert (
        rows[0]["pilot"] == "'@Zoë 李"
        and rows[0]["instructor"] == "'-minus"
        and rows[0]["log"] == "'=evil.gpx"
    )
    assert rows[0]["hold_name"] == holds["name"]
    for row in rows:
        assert datetime.fromisoformat(row["flown_utc"]).tzinfo is not None
        assert not any(str(text).startswith(("=", "+", "@")) for text in row.values())
    bank = next(row for row in rows if row["item"] == "bank")
    assert (bank["instructor_grade"], bank["instructor_remark"]) == ("2", "'=SUM(A1)")
    assert bank["graded_by"] == "'-minus" and bank["graded_utc"] and bank["own_remark"] == ""
    table = pd.read_csv(path)
    assert table["value"].dtype.kind == "f" and table["points"].dtype.kind == "f"
    assert table.loc[(table["item"] == "speed") & (table["circuit"] == 1), "value"].item() == -4.5


def test_a_thumbnail_shows_where_the_fix_is() -> None:
    picture = thumbnail([(0.0, 0.0, 0.0), (60.0, 2.0, 1.0)], (-1.0, 3.0, -1.0, 2.2), "flown")
    triangle = re.search(r'data-layer="fix"><path[^>]* d="M([\d.]+) ?([\d.]+)', str(picture))
    # The tip stands above the fix, which lies a quarter across of 150 and 2.2 of 3.2 down of 120.
    assert triangle and float(triangle[1]) == pytest.approx(37.5, abs=0.1)
    assert 82.5 - 15.0 < float(triangle[2]) < 82.5


def test_the_class_page_says_first_who_flew_something_unsafe_and_what_most_are_below_in() -> None:
    def pilot(name: str, unsafe: int, **points: float) -> PilotRow:
        cells = {key: Cell(worth, worth, worth, worth, 3, 0, 3) for key, worth in points.items()}
        return PilotRow(name, 3, cells, unsafe, 3, ())

    rows = (pilot("Ada", 0, bank=50.0, track=90.0, overall=60.0), pilot("Bo", 2, bank=69.9, track=40.0))
    found = Comparison((), rows, ("bank", "track", "overall"), 0.1, (), ())
    said = re.findall(r'<p class="(verdict|lead)">([^<]*)', compare_page(found, scale=SCALE))
    assert said == [
        ("verdict", "Something unsafe was flown by Bo."),
        (
            "lead",
            "Below what is asked for, most pilots first: bank in the turns (2 pilots), inbound track (1 pilot).",
        ),
    ]
    good = replace(found, rows=(pilot("Ada", 0, bank=70.0),))
    assert "No item that was judged is below what is asked for." in compare_page(good, scale=SCALE)


def test_every_measure_of_the_class_is_in_the_csv(club: list[Session]) -> None:
    text = io.StringIO()
    count = write_table(club, text)
    expected = sum(1 + len(one.holds[0].circuits) * 6 for one in club)
    assert count == expected == len(list(csv.reader(io.StringIO(text.getvalue())))) - 1


def test_a_large_class_keeps_the_page_readable(club: list[Session]) -> None:
    many = [one for one in club for _ in range(4)]
    page = compare_page(compare(many), scale=SCALE, since=date(2026, 1, 1))
    assert page.count('class="fig fig-thumb"') <= 2 * MOST_PICTURES
    assert "are left out" in page and "2026-01-01" in page


@pytest.mark.parametrize(("pilots", "each", "shown"), [(3, 20, 20), (3, 21, 20), (7, 40, 8), (61, 2, 1)])
def test_of_many_flights_the_latest_of_each_pilot_are_shown_in_fair_shares(
    pilots: int, each: int, shown: int
) -> None:
    """Sixty pictures at most, but one of each pilot; fewer than that are all shown."""
    flown: list[Any] = [
        SimpleNamespace(
            session=SimpleNamespace(pilot=f"pilot {pilot}", when=(11 * number) % each), number=number
        )
        for number in range(each)
        for pilot in range(pilots)
    ]
    kept = _latest_of_each(flown)
    for pilot in range(pilots):
        latest = [one.session.when for one in kept if one.session.pilot == f"pilot {pilot}"]
        assert sorted(latest) == list(range(each - shown, each))
    assert [one.number for one in kept] == sorted(one.number for one in kept)


def test_a_session_without_a_path_says_so(tmp_path: Path) -> None:
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        book.record(document(1), pilot="Ada Vane")
        book.record(document(2), pilot="Bo <b>Lund", flown=datetime(2026, 1, 1, tzinfo=UTC))
        page = compare_page(compare(book.sessions()), scale=SCALE)
    assert page.count("no path kept") == 2 and "<b>Lund" not in page and "<script" not in page
    assert "No instructor's grade" in page.replace("&#39;", "'")


def test_nothing_to_compare_is_said(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="no such session"):
        write_comparison([], tmp_path, scale=SCALE, since=None, until=None, table=None)
