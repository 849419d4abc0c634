"""Nothing that is written lands on a database, and where nothing can be written a message says so."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from analyser.cli import app
from analyser.errors import AnalyserError, ReportError, UsageError
from analyser.logbook.book import Logbook
from tests.logbook_documents import document

ROOT = Path(__file__).parent.parent
LOG = ROOT / "sample_logs" / "first_lesson.gpx"


@pytest.fixture(name="book")
def a_book(tmp_path: Path) -> Path:
    path = tmp_path / "club.sqlite"
    with Logbook.open(path) as opened:
        opened.record(document(), pilot="Ada Vane", instructor="Ilja Moor")
    return path


OUTPUTS = {
    "compare --csv": ["compare", "--csv", "{here}", "--out", "{out}"],
    "logbook export": ["logbook", "export", "{here}"],
    "export": ["export", str(LOG), "--to", "csv", "--out", "{here}", "--force"],
}


@pytest.mark.parametrize("what", OUTPUTS)
@pytest.mark.parametrize("how", ["itself", "another", "link", "dots"])
def test_a_database_is_never_an_output(book: Path, tmp_path: Path, what: str, how: str) -> None:
    here = {
        "itself": book,
        "another": tmp_path / "other.csv",
        "link": tmp_path / "link.csv",
        "dots": tmp_path / "x" / ".." / "club.sqlite",
    }[how]
    (tmp_path / "x").mkdir()
    if how == "another":
        shutil.copy(book, here)
    if how == "link":
        here.symlink_to(book)
    before = book.read_bytes()
    words = [one.format(here=here, out=tmp_path) for one in OUTPUTS[what]]
    done = CliRunner().invoke(app, words, env={"ANALYSER_LOGBOOK": str(book)})
    assert isinstance(done.exception, UsageError) and "not written over" in str(done.exception), done.output
    assert here.read_bytes() == book.read_bytes()
    assert len(before) <= len(book.read_bytes())
    with Logbook.open(book) as kept:
        assert len(kept.sessions()) == 1


def test_a_table_is_not_written_over_a_logbook_begun_in_the_same_run(tmp_path: Path) -> None:
    here = tmp_path / "both.csv"
    words = ["debrief", LOG, "--out", tmp_path, "--pilot", "Ada Vane", "--logbook", here, "--table", here]
    done = CliRunner().invoke(app, [*map(str, words), "--jobs", "1"])
    assert isinstance(done.exception, UsageError), done.output
    with Logbook.open(here) as kept:
        assert len(kept.sessions()) == 1


IMPOSSIBLE = [
    "{book}/below.jsonl",
    "/proc/nothing.jsonl",
    "{tmp}/" + "x" * 300,
    "{tmp}",
]


@pytest.mark.parametrize("where", IMPOSSIBLE)
def test_an_export_to_an_impossible_place_is_said(book: Path, tmp_path: Path, where: str) -> None:
    path = Path(where.format(book=book, tmp=tmp_path))
    with Logbook.open(book) as opened, pytest.raises(AnalyserError) as caught:
        opened.export(path)
    assert isinstance(caught.value, ReportError) and str(path)[:40] in str(caught.value)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs the device that is always full")
def test_an_export_to_a_full_device_is_said_and_leaves_the_device(book: Path) -> None:
    with Logbook.open(book) as opened, pytest.raises(ReportError, match=r"/dev/full.*No space"):
        opened.export(Path("/dev/full"))
    assert Path("/dev/full").is_char_device()


def test_an_export_makes_its_folder_as_every_output_does(book: Path, tmp_path: Path) -> None:
    with Logbook.open(book) as opened:
        assert opened.export(tmp_path / "new" / "folder" / "a.jsonl") == opened.count()


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs the device that is always full")
@pytest.mark.parametrize("words", [["logbook", "list"], ["logbook", "export", "-", "--quiet"], ["--help"]])
def test_a_full_standard_output_is_said(book: Path, words: list[str]) -> None:
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "analyser", *words],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            cwd=ROOT,
            env={**os.environ, "ANALYSER_LOGBOOK": str(book)},
            check=False,
        )
    assert done.returncode == 1 and "standard output" in done.stderr and "Traceback" not in done.stderr, (
        done.stderr
    )
    assert "Exception ignored" not in done.stderr
