"""Watching a folder: a log is handed on when its writing has stopped, once, and again if it grows."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from analyser.commands.watch import _grade
from analyser.logbook.book import Logbook
from analyser.work import watching
from analyser.work.watching import Watcher, watch, watcher_of_sheets
from tests.logbook_documents import document
from tests.test_logbook_grade_sheet import filled

ENDINGS = frozenset({".gpx", ".csv"})


@pytest.fixture
def watcher(tmp_path: Path) -> Watcher:
    return Watcher(tmp_path, ENDINGS, settle_s=3.0, leave_out=(tmp_path / "reports",))


def write(path: Path, text: str) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


def test_a_log_is_handed_on_when_its_writing_has_stopped(watcher: Watcher, tmp_path: Path) -> None:
    log = write(tmp_path / "a.gpx", "1")
    assert watcher.ready(0.0) == []
    for second in range(1, 10):
        with log.open("a", encoding="utf-8") as stream:
            stream.write("more")
        assert watcher.ready(float(second)) == [], "still being written"
    assert watcher.ready(11.9) == []
    assert watcher.ready(12.0) == [log]
    assert watcher.ready(100.0) == [], "once is enough"


def test_a_log_that_grows_later_comes_again(watcher: Watcher, tmp_path: Path) -> None:
    log = write(tmp_path / "a.gpx", "1")
    watcher.ready(0.0)
    assert watcher.ready(3.0) == [log]
    write(log, "12")
    assert watcher.ready(4.0) == []
    assert watcher.ready(7.0) == [log]


def test_a_change_of_the_same_length_counts_as_one(watcher: Watcher, tmp_path: Path) -> None:
    log = write(tmp_path / "a.gpx", "1")
    watcher.ready(0.0)
    os.utime(log, ns=(1, 2))
    assert watcher.ready(3.0) == []
    assert watcher.ready(6.0) == [log]


def test_what_was_there_before_is_left_in_peace(watcher: Watcher, tmp_path: Path) -> None:
    write(tmp_path / "old.gpx", "1")
    assert watcher.take_as_done() == 1
    new = write(tmp_path / "deeper" / "new.CSV", "1")
    watcher.ready(0.0)
    assert watcher.ready(5.0) == [new]


def test_reports_hidden_empty_and_foreign_files_are_not_logs(watcher: Watcher, tmp_path: Path) -> None:
    for name in ("reports/a.csv", ".hidden.gpx", ".folder/a.gpx", "a.txt.part", "notes.pdf"):
        write(tmp_path / name, "1")
    write(tmp_path / "empty.gpx", "")
    watcher.ready(0.0)
    assert watcher.ready(10.0) == []


def test_a_log_that_vanishes_and_comes_back_starts_anew(watcher: Watcher, tmp_path: Path) -> None:
    log = write(tmp_path / "a.gpx", "1")
    watcher.ready(0.0)
    log.unlink()
    assert watcher.ready(3.0) == []
    write(log, "1")
    assert watcher.ready(4.0) == []
    assert watcher.ready(7.0) == [log]


def test_several_logs_come_by_name(watcher: Watcher, tmp_path: Path) -> None:
    made = [write(tmp_path / name, "1") for name in ("c.gpx", "a.gpx", "b.csv")]
    watcher.ready(0.0)
    assert watcher.ready(3.0) == sorted(made)


@pytest.fixture
def watched_for(monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """Watch folders for so many seconds of a clock that only sleeping moves, and end it by Ctrl-C."""

    def run(seconds: float, folders: list[Any]) -> None:
        clock = [1000.0]

        def sleep(pause_s: float) -> None:
            clock[0] += pause_s
            if clock[0] > 1000.0 + seconds:
                raise KeyboardInterrupt

        monkeypatch.setattr(watching, "time", SimpleNamespace(monotonic=lambda: clock[0], sleep=sleep))
        with pytest.raises(KeyboardInterrupt):
            watch(folders)

    return run


def test_watching_looks_again_and_again(tmp_path: Path, watched_for: Callable[..., None]) -> None:
    log = write(tmp_path / "a.gpx", "1")
    handed: list[list[Path]] = []
    watched_for(2.5, [(Watcher(tmp_path, ENDINGS, 3.0), handed.append)])
    assert handed == []
    watched_for(3.5, [(Watcher(tmp_path, ENDINGS, 3.0), handed.append)])
    assert handed == [[log]]


def test_each_folder_is_looked_at_once_a_second(watched_for: Callable[..., None]) -> None:
    looked: list[str] = []
    watched_for(
        2.5, [(SimpleNamespace(ready=lambda _, name=name: looked.append(name) or []), None) for name in "ab"]
    )
    assert looked == ["a", "b"] * 3


def test_grade_sheets_saved_by_the_browser_go_into_the_logbook(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], watched_for: Callable[..., None]
) -> None:
    """Among other downloads, once, and what cannot be kept ends nothing."""
    book, saved = tmp_path / "logbook.sqlite", tmp_path / "downloads"
    with Logbook.open(book) as opened:
        opened.record(document(), pilot="Ada Vane")
    for name, content in (
        ("lesson-hold1-grades.json", json.dumps(filled())),
        ("other-grades.json", json.dumps(filled(log_sha256="f" * 64))),
        ("something.json", "{}"),
        ("deeper/lesson-hold1-grades.json", json.dumps(filled())),
        ("broken.json", "{"),
    ):
        write(saved / name, content)
    logs = Watcher(tmp_path / "logs", ENDINGS, settle_s=3.0), lambda _: None
    sheets = watcher_of_sheets(saved, 3.0), lambda files: _grade(files, str(book), quiet=False)
    watched_for(8.0, [logs, sheets])
    told = capsys.readouterr()
    assert told.out.count("5 grades kept") == 1 and "something" not in told.out + told.err
    assert told.err.count("with --pilot") == 1 and "broken" not in told.err
    with Logbook.open(book) as opened:
        assert len(opened.session("last").grades) == 5
