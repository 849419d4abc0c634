"""The commands as they are typed: switches, how far long work is, what a session may be called, what stays listed."""

from __future__ import annotations

import inspect
import io
import itertools
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from typer.main import get_command

from analyser.cli import app
from analyser.commands import options, screen
from analyser.logbook.book import Logbook
from analyser.work.job import Job
from analyser.work.task import Finished
from tests import program
from tests.logbook_documents import document


def switches(command: Any, path: str) -> Iterator[tuple[str, Any]]:
    """Yield every on-and-off option of a command and those within it, with the words that lead to it."""
    for one in command.params:
        if getattr(one, "is_flag", False) and one.name not in ("help", "version"):
            yield path, one
    if hasattr(command, "list_commands"):
        for name in command.list_commands(None):
            yield from switches(command.get_command(None, name), f"{path} {name}".strip())


def test_a_switch_is_off_unless_it_has_a_word_to_turn_it_off() -> None:
    found = list(switches(get_command(app), ""))
    assert len({path for path, _ in found}) > 15 and len(found) > 40
    for path, one in found:
        assert bool(one.default) == bool(one.secondary_opts), f"{path} {one.opts[0]}"
        assert all(word.startswith("--no-") for word in one.secondary_opts)


def test_what_is_not_said_of_a_job_is_as_a_job_has_it() -> None:
    usual = {name: one.default for name, one in inspect.signature(options.asked_job).parameters.items()}
    assert options.asked_job(**{**usual, "infer": True}) == Job(Path("reports"))


@pytest.mark.parametrize(("total", "of"), [(40, " of 40"), (None, "")])
def test_into_a_pipe_long_work_says_every_five_seconds_how_far_it_is(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], total: int | None, of: str
) -> None:
    """Forty steps of a second each, begun at nought: at 5, 10 … 40 s; and the last, where it is known to be that."""
    seconds = itertools.count()
    monkeypatch.setattr(screen.time, "monotonic", lambda: float(next(seconds)))
    with screen.steps("reading", total) as step:
        for _ in range(1, 40):
            step()
        monkeypatch.setattr(screen.time, "monotonic", lambda: 39.5)
        step()
    said = [f"reading: {number}{of}" for number in range(5, 40, 5)]
    assert capsys.readouterr().err.splitlines() == said + ["reading: 40 of 40"] * (total is not None)
    with screen.steps("reading", 1, quiet=True) as step:
        step()
    assert capsys.readouterr().err == ""


class Terminal(io.StringIO):
    """Somebody is watching."""

    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize(("logs", "bar"), [(1, False), (2, True), (7, True)])
def test_on_a_terminal_several_logs_have_a_bar_that_counts_them(
    monkeypatch: pytest.MonkeyPatch, logs: int, bar: bool
) -> None:
    seen = Terminal()
    monkeypatch.setattr(sys, "stderr", seen)
    monkeypatch.setenv("TERM", "xterm")
    with screen.Screen(logs, quiet=False) as shown:
        for number in range(logs):
            shown.show(Finished(Path(f"{number}.gpx"), faults=(f"log {number} is bad",)))
    assert shown.faults == logs and all(f"log {number} is bad" in seen.getvalue() for number in range(logs))
    assert (f"{logs}/{logs}" in seen.getvalue()) == bar
    with screen.Screen(logs, quiet=True) as shown:
        before = seen.getvalue()
        shown.show(Finished(Path("a.gpx"), notes=("by the way",)))
    assert seen.getvalue() == before


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("last",), "no grade is given"),
        (("00ff-1",), "no session"),
        (("FFFF",), "no session"),
        (("lesson",), "is no file or folder, and no session's reference"),
        (("ffg",), "is no file or folder, and no session's reference"),
        (("last", "last"), "more than one session is named"),
        (("sheet.json", "last"), "sheets and a session are named together"),
    ],
)
def test_what_cannot_be_graded_is_said(tmp_path: Path, words: tuple[str, ...], said: str) -> None:
    place = tmp_path / "logbook.sqlite"
    with Logbook.open(place) as book:
        book.record(document(), pilot="Ada Vane", instructor="Ilja Moor")
    ended = program.run("grade", *words, environment={"ANALYSER_LOGBOOK": str(place)}, text="")
    assert ended.returncode == 2 and said in ended.stderr


def test_the_pages_of_all_are_known_by_whose_they_are(tmp_path: Path) -> None:
    """Whoever is forgotten may stand on pages of his own and on those of all, and on nobody else's."""
    place = {"ANALYSER_LOGBOOK": str(tmp_path / "logbook.sqlite")}
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        book.record(document(), pilot="Ada Vane")
        book.record(document(5), pilot="Bo Lund")
    done = program.run("progress", "--all", "--out", tmp_path, environment=place)
    assert done.returncode == 0 and "pilots: 2 of 2" in done.stderr
    gone = program.run("logbook", "forget", "Bo Lund", "--yes", environment=place).stderr
    for name, listed in {
        "progress-Bo_Lund": True,
        "record-Bo_Lund": True,
        "class": True,
        "progress-Ada_Vane": False,
    }.items():
        assert (f"{tmp_path / name}.html: this file may hold the name" in gone) == listed


@pytest.mark.parametrize("prefer", [None, "here", "there"])
def test_differences_are_settled_or_left_open_with_a_word(tmp_path: Path, prefer: str | None) -> None:
    here, lines = tmp_path / "here.sqlite", tmp_path / "lines.jsonl"
    with Logbook.open(tmp_path / "there.sqlite") as book:
        book.record(document(), pilot="Bo Lund")
        book.export(lines)
    with Logbook.open(here) as book:
        book.record(document(), pilot="Ada Vane")
    chosen = ("--prefer", prefer, "--by", "Kim Ost") if prefer else ()
    done = program.run("logbook", "import", lines, *chosen, environment={"ANALYSER_LOGBOOK": str(here)})
    assert done.returncode == (0 if prefer else 1)
    assert ("--prefer here or --prefer there settles" in done.stderr) == (prefer is None)
    with Logbook.open(here) as book:
        assert book.pilots() == {"Bo Lund" if prefer == "there" else "Ada Vane": 1}


@pytest.mark.parametrize(
    ("words", "page"),
    [
        (("progress", "Ada Vane"), "progress-Ada_Vane.html"),
        (("record", "Ada Vane"), "record-Ada_Vane.html"),
        (("compare",), "compare.html"),
    ],
)
def test_a_page_is_told_and_opened_where_that_is_asked_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], page: str
) -> None:
    place, opened = {"ANALYSER_LOGBOOK": str(tmp_path / "logbook.sqlite")}, list[str]()
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        book.record(document(), pilot="Ada Vane")
    monkeypatch.setattr("typer.launch", opened.append)
    ended = program.run(*words, "--out", tmp_path, "--open", environment=place)
    assert ended.returncode == 0 and str(tmp_path / page) in ended.stdout.splitlines()
    assert opened == [str(tmp_path / page)]
    if words[0] == "record":
        quiet = program.run(*words, "--out", tmp_path, "--quiet", environment=place)
        assert (quiet.returncode, quiet.stdout, len(opened)) == (0, "", 1)
