"""Putting the logbook right: renamed, moved, withdrawn, taken out, each with its trail, each to be undone."""

from __future__ import annotations

import io
from datetime import UTC, datetime
from pathlib import Path

import pytest

from analyser.errors import LogbookError, UsageError
from analyser.logbook.book import Logbook
from tests.logbook_documents import document
from tests.logbook_places import a_place  # noqa: F401
from tests.test_logbook_book import SCALE, one_grade

DAYS = [datetime(2026, 3, day, tzinfo=UTC) for day in range(1, 9)]


@pytest.fixture(name="book")
def a_book(place: str):  # type: ignore[no-untyped-def]
    """Two pilots, two instructors, one graded session of each."""
    with Logbook.open(place) as opened:
        for mark, (pilot, instructor) in enumerate([("Ada Vane", "Ilja Moor"), ("Bo Lund", "Ada Vane")]):
            key = opened.record(document(mark), pilot=pilot, instructor=instructor, flown=DAYS[mark]).session
            given = [
                one_grade("bank", "4", given_as="pilot"),
                one_grade("bank", "3"),
                one_grade("track", "2"),
            ]
            opened.grade(key, given, scale=SCALE, graded=DAYS[mark])
        yield opened


def key(mark: int) -> str:
    return str(document(mark)["log"]["sha256"])


def test_a_name_is_put_right_in_all_places_and_back(book: Logbook) -> None:
    before = book.sessions()
    said = book.corrected(by="Kim Ost", why="married").rename("ada vane", "Ada Holm")
    assert "Ada Vane" in said and "Ada Holm" in said
    one, other = book.sessions()
    assert (one.pilot, other.instructor) == ("Ada Holm", "Ada Holm")
    assert {each.grader for each in one.grades} == {"Ada Holm", "Ilja Moor"}
    (change,) = book.trail()
    assert (change.by, change.why, change.kind, change.undone) == ("Kim Ost", "married", "rename", False)
    book.corrected(by="Kim Ost").undo(change.number)
    assert book.sessions() == before
    assert [each.undone for each in book.trail()] == [True, False]


def test_two_spellings_of_one_person_are_merged_only_when_said(book: Logbook) -> None:
    before = book.sessions()
    with pytest.raises(UsageError, match="--merge"):
        book.corrected(by="Kim Ost").rename("Bo Lund", "Ada Vane")
    book.corrected(by="Kim Ost").rename("Bo Lund", "Ada Vane", merge=True)
    assert book.pilots() == {"Ada Vane": 2}
    book.corrected(by="Kim Ost").undo(book.trail()[0].number)
    assert book.sessions() == before


def test_a_name_that_nobody_bears_names_those_alike(book: Logbook) -> None:
    with pytest.raises(UsageError, match="did you mean Ada Vane"):
        book.corrected(by="Kim Ost").rename("Ada Vain", "Ada Holm")
    with pytest.raises(UsageError, match=r"'Boo Lund'.*did you mean Bo Lund"):
        book.sessions(pilots=["Ada Vane", "Boo Lund"])


@pytest.mark.parametrize("carry", [False, True])
def test_a_session_of_the_wrong_pilot_is_moved_with_its_own_grades_handled(
    book: Logbook, carry: bool
) -> None:
    before = book.session(key(0))
    said = book.corrected(by="Kim Ost").move(key(0), pilot="Cy Holt", carry_own=carry)
    moved = book.session(key(0))
    assert moved.pilot == "Cy Holt" and "before: Ada Vane" in said
    standing = moved.standing_grades()
    assert standing[1, "bank", "instructor"].level == "3"
    if carry:
        assert standing[1, "bank", "pilot"].grader == "Cy Holt"
    else:
        assert (1, "bank", "pilot") not in standing and moved.grades[0].withdrawn is not None
    book.corrected(by="Kim Ost").undo(book.trail(key(0))[0].number)
    assert book.session(key(0)) == before
    assert set(book.pilots()) == {"Ada Vane", "Bo Lund"}


def test_a_withdrawn_grade_lets_the_one_before_stand_again(book: Logbook) -> None:
    book.grade(key(0), [one_grade("bank", "5")], scale=SCALE, graded=DAYS[5])
    assert book.session(key(0)).standing_grades()[1, "bank", "instructor"].level == "5"
    said = book.corrected(by="Kim Ost", why="wrong sheet").withdraw(key(0), "bank")
    assert "5 by Ilja Moor" in said
    back = book.session(key(0))
    assert back.standing_grades()[1, "bank", "instructor"].level == "3"
    assert [one.level for one in back.grades if one.withdrawn] == ["5"]
    book.corrected(by="Kim Ost").undo(book.trail()[0].number)
    assert book.session(key(0)).standing_grades()[1, "bank", "instructor"].level == "5"
    book.corrected(by="Kim Ost").withdraw(key(0), "all")
    assert {one.level for one in book.session(key(0)).grades if one.withdrawn} == {"5", "2"}
    with pytest.raises(UsageError, match="no pilot's grade by Kim Ost"):
        book.corrected(by="Kim Ost").withdraw(key(0), "bank", given_as="pilot", grader="Kim Ost")


def test_a_session_taken_out_stays_out_until_it_is_put_back(book: Logbook) -> None:
    before = book.sessions()
    book.corrected(by="Kim Ost", why="not a training flight").take_out(key(0))
    assert book.pilots() == {"Bo Lund": 1} and len(book.sessions()) == 1
    outcome = book.record(document(0), pilot="Ada Vane")
    assert outcome.kind == "taken out" and "put it back" in outcome.message
    with pytest.raises(UsageError, match=r"was taken out.*logbook trail"):
        book.grade(key(0), [one_grade("bank", "5")], scale=SCALE)
    out = io.StringIO()
    assert book.export(out) == 2, "an export loses nothing, and what was taken out is not lost"
    book.corrected(by="Kim Ost").undo(book.trail(key(0))[0].number)
    assert book.sessions() == before


def test_what_was_changed_again_is_not_undone_blindly(book: Logbook) -> None:
    for pilot in ("Cy Holt", "Di Ross"):
        book.corrected(by="Kim Ost").move(key(0), pilot=pilot)
    first, second = book.trail(key(0))
    with pytest.raises(UsageError, match="changed again since"):
        book.corrected(by="Kim Ost").undo(first.number)
    book.corrected(by="Kim Ost").undo(second.number)
    book.corrected(by="Kim Ost").undo(first.number)
    assert book.session(key(0)).pilot == "Ada Vane"
    for number in (first.number, 999):
        with pytest.raises(UsageError, match=r"undone already|no change number"):
            book.corrected(by="Kim Ost").undo(number)


def test_an_undoing_is_undone_too_and_then_the_first_change_can_be_undone_again(book: Logbook) -> None:
    book.corrected(by="Kim Ost").move(key(0), pilot="Cy Holt")
    before = book.session(key(0)).grades
    (moved,) = book.trail(key(0))
    for _ in range(2):
        book.corrected(by="Kim Ost").undo(moved.number)
        undoing = book.trail(key(0))[-1]
        assert book.session(key(0)).pilot == "Ada Vane" and book.trail(key(0))[0].undone
        book.corrected(by="Kim Ost").undo(undoing.number)
        again = book.trail(key(0))
        assert book.session(key(0)).pilot == "Cy Holt" and book.session(key(0)).grades == before
        assert not again[0].undone and again[-2].undone and again[-1].kind == "redo"
        with pytest.raises(UsageError, match="undo the change that it names"):
            book.corrected(by="Kim Ost").undo(again[-1].number)


def test_instructor_device_and_lesson_are_set_with_their_trail_and_not_by_a_second_debrief(
    book: Logbook,
) -> None:
    again = document(0)
    again["holds"][0]["points"] = 12.0
    said = book.record(
        again, pilot="Ada Vane", instructor="Kim Ost", device="club trainer", rules="new"
    ).message
    one = book.session(key(0))
    assert (one.instructor, one.device) == ("Ilja Moor", "club trainer")
    assert "kept as it was: instructor Ilja Moor" in said and "logbook set" in said
    book.corrected(by="Kim Ost").set_about(key(0), instructor="Kim Ost", lesson="IR 7")
    one = book.session(key(0))
    assert (one.instructor, one.lesson) == ("Kim Ost", "IR 7")
    assert "before: Ilja Moor" in book.trail()[0].said
    with pytest.raises(UsageError, match="nothing to set"):
        book.corrected(by="Kim Ost").set_about(key(0))


def test_all_grades_are_kept_and_the_sessions_own_instructors_stands(book: Logbook) -> None:
    early = one_grade("bank", "5", grader="Kim Ost", remark="")
    book.grade(key(0), [early], scale=SCALE, graded=DAYS[6])
    one = book.session(key(0))
    counting = one.counting_grades()[1, "bank", "instructor"]
    assert [(each.grader, each.level) for each in counting] == [("Ilja Moor", "3"), ("Kim Ost", "5")]
    assert one.standing_grades()[1, "bank", "instructor"].grader == "Ilja Moor"
    # Where the session's instructor has not graded, whoever graded first stands, and goes on standing.
    for grader, level in (("Kim Ost", "4"), ("Lea Fox", "2"), ("Kim Ost", "3")):
        book.grade(key(1), [one_grade("speed", level, grader=grader)], scale=SCALE, graded=DAYS[7])
    counting = book.session(key(1)).counting_grades()[1, "speed", "instructor"]
    assert [(each.grader, each.level) for each in counting] == [("Kim Ost", "3"), ("Lea Fox", "2")]


def test_two_instructors_who_grade_alike_in_the_same_second_are_both_kept(book: Logbook) -> None:
    for grader in ("Kim Ost", "Lea Fox", "Kim Ost"):
        book.grade(key(0), [one_grade("speed", "4", grader=grader)], scale=SCALE, graded=DAYS[3])
    assert {one.grader for one in book.session(key(0)).grades if one.item == "speed"} == {
        "Kim Ost",
        "Lea Fox",
    }


def test_the_order_of_arrival_decides_and_not_a_clock_that_runs_ahead(book: Logbook) -> None:
    future = datetime(2099, 1, 1, tzinfo=UTC)
    book.grade(key(0), [one_grade("bank", "5")], scale=SCALE, graded=future)
    book.grade(key(0), [one_grade("bank", "2")], scale=SCALE, graded=DAYS[0])
    standing = book.session(key(0)).standing_grades()[1, "bank", "instructor"]
    assert standing.level == "2" and standing.graded == DAYS[0]


def test_forgetting_goes_through_the_trail_too(book: Logbook, tmp_path: Path) -> None:
    book.corrected(by="Kim Ost").move(key(1), pilot="Ada Vane")
    book.corrected(by="Ada Vane").rename("Kim Ost", "Kim Quagga")
    book.corrected(by="Kim Quagga").rename("Ada Vane", "Ada Holm")
    page, gone = tmp_path / "progress.html", tmp_path / "gone.html"
    page.write_text("Ada", encoding="utf-8")
    book.note_files([(page, "Ada Holm"), (gone, "Ada Holm"), (tmp_path / "compare.html", None)])
    (tmp_path / "compare.html").write_text("Ada", encoding="utf-8")
    erased = book.forget("Ada Holm")
    assert erased.sessions == 2 and erased.files == (str(tmp_path / "compare.html"), str(page))
    assert book.sessions() == [] and not any("Ada" in one.said for one in book.trail())
    assert all(one.by != "Ada Holm" for one in book.trail())


def test_who_is_forgotten_is_so_under_every_former_name_and_nobody_else_is(
    book: Logbook, tmp_path: Path
) -> None:
    """Also in a trail that came with an export, and under a name that is part of other words."""
    book.corrected(by="Kim Ost").withdraw(key(0), "track")
    book.corrected(by="Kim Ost").rename("Ilja Moor", "Ilja Quagga")
    book.corrected(by="Kim Ost").rename("Ilja Quagga", "Al")
    book.corrected(by="Kim Ost").set_about(key(1), device="altitude trainer")
    text = io.StringIO()
    book.export(text)
    with Logbook.open(tmp_path / "copy.sqlite") as copy:
        copy.import_(text.getvalue().splitlines())
        for one in (book, copy):
            one.forget("al")
            assert [each.said for each in one.trail()] == ["device altitude trainer, before: none"]


def test_who_is_forgotten_may_stand_in_the_pages_of_those_whom_the_person_taught(
    book: Logbook, tmp_path: Path
) -> None:
    pages = [tmp_path / f"record-{name}.html" for name in ("Ada", "Bo")]
    for page, pilot in zip(pages, ("Ada Vane", "Bo Lund"), strict=True):
        page.write_text(pilot, encoding="utf-8")
        book.note_files([(page, pilot)])
    assert book.forget("Ilja Moor").files == (str(pages[0]),), "the instructor's name is in Ada's record"
    book.grade(key(1), [one_grade("speed", "4", grader="Cy Holt")], scale=SCALE)
    assert book.forget("Cy Holt").files == (str(pages[1]),), "one grade is enough"


def test_the_trail_travels_with_an_export(book: Logbook, tmp_path: Path) -> None:
    book.corrected(by="Kim Ost", why="the wrong folder").move(key(0), pilot="Cy Holt")
    book.corrected(by="Kim Ost").rename("Bo Lund", "Bo Berg")
    book.corrected(by="Kim Ost").take_out(key(1))
    out, again = io.StringIO(), io.StringIO()
    book.export(out)
    with Logbook.open(tmp_path / "copy.sqlite") as copy:
        assert copy.import_(out.getvalue().splitlines()).faults == ()
        assert copy.sessions() == book.sessions()
        copy.export(again)
        with pytest.raises(UsageError, match="cannot be undone"):
            copy.corrected(by="Kim Ost").undo(1)
    assert again.getvalue() == out.getvalue()


def test_who_changes_something_must_have_a_name(book: Logbook) -> None:
    with pytest.raises((UsageError, LogbookError), match="name"):
        book.corrected(by="a\x1b[31m").move(key(0), pilot="Cy Holt")
    assert book.trail() == [] and book.session(key(0)).pilot == "Ada Vane"


def test_erasing_one_person_leaves_those_whom_an_undoing_needs(book: Logbook) -> None:
    """Bo Lund has no session left after the move; who moved it back finds the name still there."""
    book.corrected(by="Kim Ost").move(key(1), pilot="Kai Berg")
    book.forget("Ada Vane")
    assert "Bo Lund" not in book.pilots()
    (moved,) = [one for one in book.trail() if one.kind == "move"]
    book.corrected(by="Kim Ost").undo(moved.number)
    assert book.session(key(1)).pilot == "Bo Lund"
