"""Slips of users at the logbook's commands: each is told what is wrong and what to do, and nothing is changed."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from typer.testing import CliRunner

from analyser.cli import app
from analyser.commands.options import period
from analyser.errors import UsageError
from analyser.logbook.book import Logbook
from analyser.logbook.sheet import keep_sheet
from analyser.work.job import Recording
from analyser.work.run import Recorder
from tests.logbook_documents import document
from tests.old_logbooks import lay_old
from tests.test_logbook_book import SCALE, one_grade
from tests.test_logbook_grade_sheet import filled


@pytest.fixture(name="path")
def a_path(tmp_path: Path) -> Path:
    path = tmp_path / "school.sqlite"
    with Logbook.open(path) as book:
        for mark, (pilot, instructor) in enumerate([("Ada Vane", "Ilja Moor"), ("Bo Lund", None)]):
            key = book.record(document(mark), pilot=pilot, instructor=instructor).session
            book.grade(key, [one_grade("bank", "3", given_as="pilot")], scale=SCALE)
    return path


def said(path: Path, *words: str) -> str:
    """What a command says where it refuses, with nothing changed."""
    with Logbook.open(path) as book:
        before = (book.sessions(), book.trail())
    done = CliRunner().invoke(app, words, env={"ANALYSER_LOGBOOK": str(path)})
    assert isinstance(done.exception, UsageError), done.output
    with Logbook.open(path) as book:
        assert (book.sessions(), book.trail()) == before
    return str(done.exception)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        # What is so already: otherwise the pilot's own grades would be withdrawn, and the trail would tell of nothing.
        (("move", "last", "--pilot", "bo lund"), "is Bo Lund's already"),
        (("rename", "Bo Lund", "Bo Lund"), "would change nothing"),
        (("set", "{first}", "--instructor", "Ilja Moor"), "would change nothing"),
        # Days on which nobody can have flown it; with a year of three digits every later command ended in a traceback.
        (("date", "last", "2999-01-01"), "still to come"),
        (("date", "last", "0026-05-06"), "0026-05-06 is before the first powered flight"),
        (("date", "last", "9999-12-31T23:59-10:00"), "is no day"),
        # Misspelt names.
        (
            ("list", "--pilot", "Ada Vain"),
            "no session of 'Ada Vain' is in the logbook (did you mean Ada Vane?)",
        ),
        (
            ("list", "--instructor", "Ilja Mor"),
            "no session with instructor 'Ilja Mor' is in the logbook (did you",
        ),
        (("forget", "Bo Lind", "--yes"), "nobody called 'Bo Lind' is in the logbook (did you mean Bo Lund?)"),
        (("forget", "Bo Lind"), "did you mean Bo Lund?"),
    ],
)
def test_a_slip_is_told_and_changes_nothing(path: Path, words: tuple[str, ...], told: str) -> None:
    first = str(document(0)["log"]["sha256"])[:8]
    assert told in said(path, "logbook", *(one.format(first=first) for one in words))


def test_a_grade_without_an_instructor_says_how_to_name_one(path: Path) -> None:
    assert "--by NAME" in said(path, "grade", "last", "--item", "bank=4")


def test_the_last_session_is_the_one_that_came_last_also_after_the_clock_was_set_back(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("analyser.logbook.book.now", lambda: datetime(2001, 1, 1, tzinfo=UTC))
    with Logbook.open(path) as book:
        book.record(document(2), pilot="Cy Holt")
        assert book.session("last").pilot == "Cy Holt"


def test_a_session_without_a_hold_has_nothing_to_grade(path: Path) -> None:
    with Logbook.open(path) as book:
        book.record(document(2) | {"holds": []}, pilot="Ada Vane")
    assert "nothing to grade" in said(path, "grade", "last", "--item", "overall=4", "--by", "Kim Ost")


def test_a_day_until_tomorrow_is_one_somewhere(path: Path) -> None:
    """It is tomorrow in the east while it is today in UTC; and an early flight stays as it was given."""
    soon = datetime.now(UTC).replace(microsecond=0) + timedelta(hours=20)
    for flown in (soon, datetime(1904, 1, 2, tzinfo=UTC)):
        words = ["logbook", "date", "last", flown.isoformat(), "--logbook", str(path), "--quiet"]
        assert CliRunner().invoke(app, words).exit_code == 0
        with Logbook.open(path) as book:
            assert book.session("last").flown == flown


def test_who_is_new_and_called_much_like_another_is_asked_about(path: Path) -> None:
    with Logbook.open(path) as book:
        told = book.record(document(7), pilot="Ada Vain").message
        assert "Ada Vain, who is new to it; if Ada Vane flew it: analyser logbook move" in told
        assert '--pilot "Ada Vane"' in told
        reference = told.split("move ")[1].split()[0]
        book.corrected(by="Kim Ost").move(reference, pilot="Ada Vane")
        # Known by now, and another name altogether: nothing to ask.
        assert book.record(document(8), pilot="ada vain").message.endswith("a new session of Ada Vain")
        assert book.record(document(9), pilot="Cy Holt").message.endswith("a new session of Cy Holt")


def test_what_is_undone_twice_is_said_to_be_done_again(path: Path) -> None:
    with Logbook.open(path) as book:
        book.corrected(by="Kim Ost").rename("Bo Lund", "Bo Holm")
        assert book.corrected(by="Kim Ost").undo(1).startswith("undone: change 1 (Bo Lund is called Bo Holm")
        assert (
            book.corrected(by="Kim Ost").undo(2).startswith("done again: change 1 (Bo Lund is called Bo Holm")
        )


def test_the_last_session_of_an_empty_logbook(tmp_path: Path) -> None:
    with Logbook.open(tmp_path / "new.sqlite") as book, pytest.raises(UsageError, match="no session is in"):
        book.session("last")


def test_an_import_that_keeps_nothing_makes_no_logbook(tmp_path: Path, path: Path) -> None:
    new = tmp_path / "new.sqlite"
    with Logbook.open(path) as book:
        book.export(tmp_path / "all.jsonl")
    for words in (("no.jsonl",), (str(tmp_path / "all.jsonl"), "--dry-run")):
        done = CliRunner().invoke(app, ["logbook", "import", *words], env={"ANALYSER_LOGBOOK": str(new)})
        assert done.exit_code and not new.exists()


def test_the_copy_of_an_older_logbook_is_told_of_and_found_again(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Whoever erases a name learns of the copy, even where the logbook has been given another name since."""
    old = tmp_path / "old.sqlite"
    lay_old(str(old))
    recorder = Recorder(Recording(pilot="Ada Vane", logbook=str(old)))
    (note,) = recorder.notes
    assert "a copy of it, names included, is in" in note
    copy = note.split(" is in ")[1].split(" (erase")[0]
    assert Path(copy).is_file()
    with Logbook.open(old) as book:
        assert book.forget("Ada Vane").files == ()
        book.record(document(), pilot="Bo Lund")
    moved = old.rename(tmp_path / "2026.sqlite")
    with Logbook.open(moved) as book:
        erased = book.forget("Bo Lund")
        assert erased.copies == () and erased.files == (copy,)


def test_a_sheet_that_was_taken_over_is_told_of_to_who_erases_a_name(path: Path, tmp_path: Path) -> None:
    sheet = tmp_path / "a-grades.json"
    sheet.write_text(json.dumps(filled()), encoding="utf-8")
    with Logbook.open(path) as book:
        assert keep_sheet(book, sheet).count
        assert book.forget("Bo Lund").files == ()
        assert book.forget("Ilja Moor").files == (str(sheet),), "the instructor's name stands in it too"


@pytest.mark.skipif(shutil.which("sh") is None, reason="closes streams with a shell")
@pytest.mark.parametrize(
    ("command", "status"),
    [
        ("logbook list >&-", 0),
        pytest.param("logbook forget 'Bo Lund' <&- 2>&1", 2, marks=pytest.mark.slow),
        pytest.param("logbook export - >&- 2>&1", 2, marks=pytest.mark.slow),
    ],
)
def test_a_closed_stream_is_no_traceback(path: Path, command: str, status: int) -> None:
    done = subprocess.run(
        ["sh", "-c", f'"{sys.executable}" -m analyser {command}'],
        env={**os.environ, "ANALYSER_LOGBOOK": str(path)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == status and "Traceback" not in done.stdout + done.stderr, done.stderr


def test_who_is_forgotten_takes_along_an_instructor_nobody_else_names(path: Path) -> None:
    with Logbook.open(path) as book:
        book.forget("Ada Vane")
    assert b"Ilja Moor" not in path.read_bytes()


def test_a_move_is_undone_although_somebody_was_forgotten_since(path: Path) -> None:
    with Logbook.open(path) as book:
        key = book.record(document(5), pilot="Cy Holt").session
        book.corrected(by="Kim Ost").move(key, pilot="Bo Lund")
        book.forget("Ada Vane")
        book.corrected(by="Kim Ost").undo(1)
        assert book.session(key).pilot == "Cy Holt"


def test_a_day_ends_with_its_last_second() -> None:
    assert period(until="2026-03-14")[1] == datetime(2026, 3, 14, 23, 59, 59, tzinfo=UTC)
