"""A grade sheet's file: read strictly, kept once, with a remark where it is needed."""

from __future__ import annotations

import copy
import json
import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from analyser.errors import AnalyserError, SettingsError, UsageError
from analyser.logbook.book import Logbook
from analyser.logbook.documents import logged_holds
from analyser.logbook.marks import item_points
from analyser.logbook.progress import progress_of
from analyser.logbook.sheet import TypedSheet, keep_sheet, read_sheet, sheets_in
from analyser.pages.grades import grades_by_session, remark_rows, sheet_view, told
from analyser.pages.pilot_pages import record_page
from analyser.rules.scales import Scale, load_scale, load_scales
from tests.logbook_documents import document
from tests.pages_fixture import debriefed, typed
from tests.test_logbook_scales import OWN

DOCUMENT = document()
DEBRIEFED = debriefed()[1]


def view_of(plain: dict[str, Any], scales: Sequence[Scale] = ()) -> dict[str, Any]:
    """What the page's sheet offers for the first hold."""
    found = typed(plain)
    return sheet_view(found.holds[0], 1, found.log, scales)


def filled(**changes: Any) -> dict[str, Any]:
    """What the page saves; its own tests compare it with this shape in a browser."""
    made = {
        "kind": "holding grade sheet",
        "schema": 1,
        "log_sha256": DOCUMENT["log"]["sha256"],
        "log_name": "invented.gpx",
        "hold": 1,
        "scale": "evidence-1-5",
        "levels": ["1", "2", "3", "4", "5"],
        "date": "2026-03-14",
        "saved_utc": "2026-03-14T19:00:00Z",
        "pilot": "Ada Vane",
        "instructor": "Ilja Moor",
        "device": "trainer 1",
        "lesson": "IR 7",
        "items": [
            line("altitude", pilot="4", instructor="2", remark="200 ft low in the turn"),
            line("bank", pilot="3", instructor="4"),
            line("track", pilot="2", remark="late"),
        ],
    }
    return made | changes


def line(
    item: str, *, pilot: str | None = None, instructor: str | None = None, remark: str = ""
) -> dict[str, Any]:
    return {
        "item": item,
        "computed_points": 50.0,
        "proposed": "2",
        "pilot": pilot,
        "instructor": instructor,
        "required": "3",
        "remark": remark,
    }


@pytest.fixture
def book(tmp_path: Path):  # type: ignore[no-untyped-def]
    with Logbook.open(tmp_path / "logbook.sqlite") as opened:
        opened.record(DOCUMENT, pilot="Ada Vane")
        yield opened


def saved(tmp_path: Path, sheet: object) -> Path:
    path = tmp_path / "sheet.json"
    path.write_text(json.dumps(sheet), encoding="utf-8")
    return path


def test_a_sheet_goes_in_once_with_who_graded_what_and_when(book: Logbook, tmp_path: Path) -> None:
    path = saved(tmp_path, filled())
    assert keep_sheet(book, path).count == 5
    assert keep_sheet(book, path).count == 0
    back = book.session("last")
    standing = back.standing_grades()
    altitude = standing[1, "altitude", "instructor"]
    assert (altitude.grader, altitude.level, altitude.remark) == ("Ilja Moor", "2", "200 ft low in the turn")
    assert standing[1, "altitude", "pilot"].level == "4"
    assert f"{altitude.graded:%Y-%m-%d %H:%M}" == "2026-03-14 19:00"
    # What was computed is the logbook's own figure, whatever the sheet says.
    assert altitude.computed_points == item_points(logged_holds(DOCUMENT)[0])["altitude"]
    assert (back.device, back.lesson) == ("trainer 1", "IR 7")


def test_a_clock_that_runs_ahead_is_told_and_makes_no_grade_unbeatable(book: Logbook, tmp_path: Path) -> None:
    ahead = filled(saved_utc="2099-01-01T00:00:00Z", items=[line("bank", instructor="5")])
    first = keep_sheet(book, saved(tmp_path, ahead))
    assert "2099-01-01" in first.note and "clock" in first.note
    (given,) = book.session("last").grades
    assert told(given, load_scale())["graded"] == f"{given.recorded:%Y-%m-%d}", (
        "no page dates it in the future"
    )
    later = filled(saved_utc="2026-03-14T20:00:00Z", items=[line("bank", instructor="3")])
    second = keep_sheet(book, saved(tmp_path, later))
    assert (first.count, second.count, second.note) == (1, 1, "")
    assert book.session("last").standing_grades()[1, "bank", "instructor"].level == "3"


def test_of_sheets_that_arrive_together_the_corrected_one_stands(book: Logbook, tmp_path: Path) -> None:
    """A browser calls the second one "… (1).json", which comes first by name."""
    names = {"lesson-hold1-grades.json": ("19:00", "2"), "lesson-hold1-grades (1).json": ("19:05", "4")}
    for name, (at, level) in names.items():
        given = [line("bank", instructor=level, remark="why")]
        sheet = filled(saved_utc=f"2026-03-14T{at}:00Z", items=given)
        (tmp_path / name).write_text(json.dumps(sheet), encoding="utf-8")
    for path in sheets_in([tmp_path]):
        assert keep_sheet(book, path).count == 1
    assert book.session("last").standing_grades()[1, "bank", "instructor"].level == "4"


def test_an_instructors_sheet_that_names_another_pilot_is_told(book: Logbook, tmp_path: Path) -> None:
    given = [line("bank", instructor="5")]
    for pilot in ("Bo Lund", "", "ada vane"):
        kept = keep_sheet(book, saved(tmp_path, filled(pilot=pilot, items=given, instructor=f"Cy {pilot}")))
        assert kept.count == 1
        assert ("the sheet names Bo Lund, but this log was flown by Ada Vane" in kept.note) == (
            pilot == "Bo Lund"
        )


def test_a_clock_that_runs_ahead_puts_no_sheet_last(tmp_path: Path) -> None:
    """Its file's time counts then: that of the computer on which the sheets arrive."""
    for name, saved_utc, changed in (
        ("ahead", "2099-01-01T00:00:00Z", 1e9),
        ("right", "2026-03-14T19:00:00Z", 2e9),
    ):
        path = tmp_path / f"{name}-grades.json"
        path.write_text(json.dumps(filled(saved_utc=saved_utc)), encoding="utf-8")
        os.utime(path, (changed, changed))
    assert [one.stem for one in sheets_in([tmp_path])] == ["ahead-grades", "right-grades"]


def test_a_sheet_that_was_cut_is_not_passed_over_in_silence(tmp_path: Path) -> None:
    whole = json.dumps(filled())
    for name, text in (
        ("a-grades.json", whole),
        ("b-grades (2).json", whole[:200]),
        ("c.json", "{"),
        ("d.json", "5"),
    ):
        (tmp_path / name).write_text(text, encoding="utf-8")
    assert [one.name for one in sheets_in([tmp_path])] == ["a-grades.json", "b-grades (2).json"]


@pytest.mark.parametrize(
    ("written", "flown"),
    [("2026-03-20", "2026-03-20"), ("20.3.26", None), ("", None), ("2999-01-01", None)],
)
def test_the_day_on_the_sheet_dates_a_log_without_a_date(
    tmp_path: Path, written: str, flown: str | None
) -> None:
    undated = document()
    undated["log"]["start_utc"] = None
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        book.record(undated, pilot="Ada Vane")
        keep_sheet(book, saved(tmp_path, filled(date=written)))
        found = book.session("last").flown
    assert (f"{found:%Y-%m-%d}" if found else None) == flown


def test_the_day_on_the_sheet_is_no_better_than_the_logs(book: Logbook, tmp_path: Path) -> None:
    before = book.session("last").flown
    keep_sheet(book, saved(tmp_path, filled(date="2026-01-01")))
    assert before is not None and book.session("last").flown == before


def test_items_below_standard_need_a_remark(book: Logbook, tmp_path: Path) -> None:
    bare = filled(
        items=[
            line("altitude", instructor="2"),
            line("track", pilot="2"),
            line("bank", pilot="2", instructor="4"),
        ]
    )
    with pytest.raises(UsageError, match="altitude, track"):
        keep_sheet(book, saved(tmp_path, bare))
    assert book.session("last").grades == ()


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"kind": "something"}, "not a grade sheet"),
        ({"schema": 2}, "schema 2"),
        ({"hold": "1"}, "key 'hold'"),
        ({"hold": 7}, "none is number 7"),
        ({"extra": 1}, "key 'extra'"),
        ({"pilot": "Bo Lund"}, "flown by Ada Vane"),
        ({"pilot": "a\u202eb"}, "control characters"),
        ({"log_sha256": "f" * 64}, "with --pilot"),
        ({"log_sha256": "%"}, "not the SHA-256"),
        ({"log_sha256": "last"}, "not the SHA-256"),
        ({"instructor": ""}, "no instructor"),
        ({"items": []}, "no grade"),
        ({"items": [line("altitude", pilot="9")]}, "no grade of the scale"),
        ({"items": [line("juggling", pilot="4")]}, "no item 'juggling'"),
        ({"scale": "stars"}, "--scale"),
        ({"levels": ["1", "2", "3"], "items": [line("bank", pilot="3")]}, "--scale"),
    ],
)
def test_a_sheet_that_does_not_fit_says_why_and_keeps_nothing(
    book: Logbook, tmp_path: Path, change: dict[str, Any], says: str
) -> None:
    with pytest.raises(AnalyserError, match=says) as caught:
        keep_sheet(book, saved(tmp_path, filled(**change)))
    assert "sheet.json" in str(caught.value) or says == "control characters"
    assert book.session("last").grades == ()


@pytest.mark.parametrize("content", [b"", b"\xff\xfe", b"[1]", b"{", b"[" * 100_000, b"null"])
def test_what_is_no_json_is_said(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "sheet.json"
    path.write_bytes(content)
    with pytest.raises(SettingsError):
        read_sheet(path)


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"saved_utc": "0001-01-01T00:00:00+14:00"}, "key 'saved_utc'.*no instant"),
        ({"pilot": "Ada\ud800"}, "is not JSON"),
        ({"pilot": "Ada\u202e"}, "control characters"),
        ({"schema": "x" * 5000}, "has schema"),
        ({"levels": ["x" * 5000], "items": []}, "filled in on the scale"),
        ({"hold": "x" * 5000}, "must be a valid integer"),
    ],
)
def test_a_sheet_edited_by_hand_is_refused_in_a_line_that_names_it(
    book: Logbook, tmp_path: Path, changes: dict[str, Any], says: str
) -> None:
    path = saved(tmp_path, filled(**changes))
    with pytest.raises(AnalyserError, match=says) as caught:
        keep_sheet(book, path)
    assert str(path) in str(caught.value) and len(str(caught.value)) < 500


def test_a_sheet_whose_time_has_lost_its_zone_counts_as_utc(book: Logbook, tmp_path: Path) -> None:
    keep_sheet(book, saved(tmp_path, filled(saved_utc="2026-03-14T19:00:00")))
    assert {f"{one.graded:%H:%M %Z}" for one in book.sessions()[0].grades} == {"19:00 UTC"}


def test_the_page_offers_what_the_logbook_takes(book: Logbook, tmp_path: Path) -> None:
    book.record(DEBRIEFED, pilot="Ada Vane")
    view = view_of(DEBRIEFED)
    told = json.loads(view["data"])
    assert [one["key"] for one in told["scales"]] == ["evidence-1-5", "learner-centred"]
    for scale in told["scales"]:
        sheet = filled(
            log_sha256=told["log_sha256"],
            scale=scale["key"],
            levels=[level["key"] for level in scale["levels"]],
            items=[
                line(one["key"], pilot=scale["levels"][-1]["key"]) | {"required": None}
                for one in told["items"]
            ],
        )
        assert keep_sheet(book, saved(tmp_path, sheet)).count == len(told["items"])


def test_a_sheet_on_a_school_s_own_scale_needs_its_file(book: Logbook, tmp_path: Path) -> None:
    own = tmp_path / "three.toml"
    own.write_text(OWN, encoding="utf-8")
    view = view_of(DEBRIEFED, load_scales([str(own)]))
    (offered,) = json.loads(view["data"])["scales"]
    levels = [level["key"] for level in offered["levels"]]
    items = [line("altitude", pilot="fine", instructor="good") | {"required": "good"}]
    path = saved(tmp_path, filled(scale=offered["key"], levels=levels, items=items))
    with pytest.raises(SettingsError, match="give that scale's TOML file with --scale"):
        keep_sheet(book, path)
    assert keep_sheet(book, path, own_scale=str(own)).count == 2
    kept = book.session("last").standing_grades()[1, "altitude", "instructor"]
    assert (kept.scale, kept.level) == ("three", "good")


def test_an_item_that_was_not_judged_has_no_proposal() -> None:
    plain = copy.deepcopy(DEBRIEFED)
    for circuit in plain["holds"][0]["circuits"]:
        circuit["scores"]["speed"] |= {"points": None, "verdict": "not judged"}
    lines = {one["key"]: one for one in view_of(plain)["lines"]}
    assert lines["speed"]["points"] is None and lines["speed"]["proposed"]["evidence-1-5"] is None


@pytest.mark.parametrize(
    ("points", "grade", "proposed"),
    [
        # Capped lower than the points are worth; as the points are worth; none, though there are points.
        (79.0, 2, ("2", "explain")),
        (79.0, 3, ("3", "practise")),
        (96.0, 5, ("5", "perform")),
        (93.0, None, (None, None)),
        # A school's own points for the grades: the page's grade stands.
        (65.0, 3, ("3", "practise")),
    ],
)
def test_the_sheet_proposes_for_the_whole_hold_what_the_page_does(
    tmp_path: Path, points: float, grade: int | None, proposed: tuple[str | None, str | None]
) -> None:
    plain = copy.deepcopy(DEBRIEFED)
    plain["holds"][0] |= {"points": points, "grade": grade}
    whole = {one["key"]: one for one in view_of(plain)["lines"]}["overall"]
    assert whole["points"] == points and tuple(whole["proposed"].values()) == proposed
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        book.record(plain, pilot="Ada Vane", instructor="Ilja Moor")
        sheet = TypedSheet(book.session("last"), 1, "evidence-1-5", None, "")
        said = dict(sheet.lines())["overall"]
        title = (
            "no grade is proposed"
            if proposed[0] is None
            else f"proposed {load_scale().level(proposed[0]).title}"
        )
        assert said == f"Overall ({points:.0f} points, {title})"
        sheet.keep(book, [sheet.given("overall=4", own=False)])
        (given,) = book.session("last").grades
        assert (given.computed_points, given.proposed) == (points, proposed[0])


def test_typed_grades_follow_the_same_rules(book: Logbook) -> None:
    sheet = TypedSheet(book.session("last"), 1, "learner-centred", None, "Ilja Moor")
    given = [
        sheet.given("Altitude = practise : gone in the turn", own=False),
        sheet.given("bank=perform", own=True),
    ]
    assert sheet.keep(book, given) == 2
    assert {(one.given_as, one.level) for one in book.session("last").grades} == {
        ("instructor", "practise"),
        ("pilot", "perform"),
    }
    with pytest.raises(UsageError, match="remark"):
        sheet.keep(book, [sheet.given("bank=explain", own=False)])
    for wrong in ("bank", "bank=", "bnak=perform", "bank=good"):
        with pytest.raises(UsageError):
            sheet.given(wrong, own=False)
    with pytest.raises(UsageError, match="has 1 hold"):
        TypedSheet(book.session("last"), 2, "learner-centred", None, "")
    assert load_scale("learner-centred").required == "perform"


def test_the_record_shows_every_grade_by_session_and_says_more_where_there_is_more(
    book: Logbook, tmp_path: Path
) -> None:
    """Also what only the pilot graded, as one who flies alone does; grades without a word are in the table alone."""
    keep_sheet(book, saved(tmp_path, filled()))
    given = [line("bank", instructor="5"), line("altitude", instructor="2", remark="agreed")]
    keep_sheet(book, saved(tmp_path, filled(instructor="Kim Ost", items=given)))
    sessions, scale = book.sessions(), load_scale()
    table = grades_by_session(sessions, scale)
    (row,) = table["rows"]
    cells = dict(zip(table["columns"], row["cells"], strict=True))
    assert (cells["Bank"]["level"], cells["Bank"]["own"], cells["Bank"]["beside"]) == ("4", "3", "5")
    assert (cells["Alt"]["level"], cells["Alt"]["met"], cells["Alt"]["beside"]) == ("2", False, "")
    assert (cells["Track"]["level"], cells["Track"]["own"], cells["Track"]["met"]) == (None, "2", True)
    assert [name for name, _ in row["by"]] == ["Ada Vane", "Ilja Moor"]
    rows = {one["item"]: one for one in remark_rows(sessions, scale)}
    assert set(rows) == {"Altitude", "Bank in the turns", "Inbound track"}
    track = rows["Inbound track"]
    assert (track["level"], track["own"]["remark"]) == ("", "late")
    assert track["required"] == scale.level("3").title, "asked for also where only the pilot has graded"
    assert [one["remark"] for one in rows["Altitude"]["beside"]] == ["agreed"]
    found = progress_of("Ada Vane", sessions, scale=scale, on=sessions[0].when.date())
    page = " ".join(record_page(found, sessions, []).split())
    assert "pilot: late" in page and "but 5" in page and "own 2" in page


def test_grades_as_asked_for_without_a_word_need_no_row_of_remarks(book: Logbook, tmp_path: Path) -> None:
    keep_sheet(book, saved(tmp_path, filled(items=[line("bank", pilot="2", instructor="3")])))
    assert len(grades_by_session(book.sessions(), load_scale())["rows"]) == 1
    assert remark_rows(book.sessions(), load_scale()) == []


def test_of_two_flights_in_one_log_the_sheet_goes_to_its_own(tmp_path: Path) -> None:
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        for flight, name in ((1, "day flight 1"), (2, "day flight 2")):
            book.record(document(name=name), pilot="Ada Vane", flight=flight)
        keep_sheet(book, saved(tmp_path, filled(log_name="day flight 2")))
        assert [len(one.grades) for one in book.flights(DOCUMENT["log"]["sha256"])] == [0, 5]


@pytest.mark.parametrize("said", ["altitude", "altitude=", "altitude= :why", "=3"])
def test_a_grade_that_is_typed_in_half_is_refused(book: Logbook, said: str) -> None:
    sheet = TypedSheet(book.session("last"), 1, "evidence-1-5", None, "Ilja Moor")
    with pytest.raises(UsageError, match=r"ITEM=GRADE|no item"):
        sheet.given(said, own=False)
