"""A page written over an existing one is replaced whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from analyser.errors import ReportError
from analyser.whole_files import write_text_whole


def test_a_new_page_is_written_with_its_folder_and_readable_by_others(tmp_path: Path) -> None:
    page = tmp_path / "new folder" / "page.html"
    write_text_whole(page, "grüße\n")
    assert page.read_bytes() == "grüße\n".encode()
    mask = os.umask(0)
    os.umask(mask)
    assert page.stat().st_mode & 0o777 == 0o666 & ~mask


def test_an_old_page_is_replaced_and_no_part_file_stays(tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    page.write_text("old", encoding="utf-8")
    page.chmod(0o640)
    write_text_whole(page, "new")
    assert page.read_text(encoding="utf-8") == "new"
    assert page.stat().st_mode & 0o777 == 0o640
    assert [item.name for item in tmp_path.iterdir()] == ["page.html"]


@pytest.mark.parametrize("broken", ["fsync", "write"])
def test_a_full_disk_leaves_the_old_page_untouched(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, broken: str
) -> None:
    page = tmp_path / "page.html"
    page.write_text("old", encoding="utf-8")

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(*((os, "fsync") if broken == "fsync" else (Path, "write_bytes")), full)
    with pytest.raises(ReportError, match=r"page\.html.*No space left") as caught:
        write_text_whole(page, "new")
    assert caught.value.exit_status == 1
    assert page.read_text(encoding="utf-8") == "old"
    assert [item.name for item in tmp_path.iterdir()] == ["page.html"]


def test_a_folder_in_the_page_s_place_is_reported_and_kept(tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    page.mkdir()
    with pytest.raises(ReportError, match="could not be written"):
        write_text_whole(page, "new")
    assert page.is_dir()
    assert [item.name for item in tmp_path.iterdir()] == ["page.html"]


def test_a_file_where_the_folder_should_be_is_reported(tmp_path: Path) -> None:
    blocker = tmp_path / "reports"
    blocker.write_text("a file", encoding="utf-8")
    with pytest.raises(ReportError, match="reports: the folder cannot be written to: a file is in its place"):
        write_text_whole(blocker / "page.html", "new")
    assert blocker.read_text(encoding="utf-8") == "a file"


def test_a_link_stays_and_what_it_leads_to_is_replaced(tmp_path: Path) -> None:
    page, link = tmp_path / "page.html", tmp_path / "newest.html"
    page.write_text("old", encoding="utf-8")
    link.symlink_to(page.name)
    write_text_whole(link, "new")
    assert link.is_symlink() and page.read_text(encoding="utf-8") == "new"


def test_what_is_written_to_a_pipe_comes_out_of_it(tmp_path: Path) -> None:
    """A pipe or a device, ``/dev/stdout`` say, is written to and not replaced by a file."""
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    reading = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    try:
        write_text_whole(pipe, "new")
        assert os.read(reading, 10) == b"new"
    finally:
        os.close(reading)
    assert pipe.is_fifo() and [item.name for item in tmp_path.iterdir()] == ["pipe"]


def test_ctrl_c_in_the_moment_of_making_a_file_leaves_nothing(tmp_path, monkeypatch):
    """On a busy disk the signal comes while the system makes the file, and is heard when it is there."""
    touch = Path.touch

    def interrupted(path, **how):
        touch(path, **how)
        raise KeyboardInterrupt

    monkeypatch.setattr(Path, "touch", interrupted)
    with pytest.raises(KeyboardInterrupt):
        write_text_whole(tmp_path / "page.html", "new")
    assert list(tmp_path.iterdir()) == []
