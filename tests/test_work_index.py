"""The list of all debriefs of a folder: complete, newest first, and nobody's page is lost to it."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import typing
from collections.abc import Mapping
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from analyser.pages import index
from analyser.pages.index import first_sentence, index_path, update_index
from analyser.schema.debrief_file import WrittenCircuit, WrittenDebrief, WrittenHold, WrittenLog
from analyser.schema.plain_data import FilePart
from analyser.work.job import Job
from analyser.work.report_names import Names
from analyser.work.run import run
from tests.work_flights import flight, write_gpx

HEAD = '{\n "schema": 1,\n "caution": "…",'


def unknown(kind: type[FilePart], **known: Any) -> dict[str, Any]:
    """A part of a debrief file in which nothing else is known; also what is not needed is left out."""
    part = {}
    for key, hint in typing.get_type_hints(kind).items():
        if not hasattr(kind, key):
            optional = type(None) in typing.get_args(hint)
            one = typing.get_origin(hint) or hint
            part[key] = None if optional else unknown(one) if issubclass(one, FilePart) else _NOTHING[one]
    return part | known


_NOTHING = {str: "", int: 0, float: 0.0, bool: False, tuple: [], Mapping: {}}


def debrief(
    out: Path, stem: str, *, when="2026-03-14T12:00:00Z", name=None, points=82.0, said="All went well."
):
    """Write a debrief file of the first schema, and a page beside it."""
    out.mkdir(parents=True, exist_ok=True)
    hold = unknown(
        WrittenHold,
        name="Invented hold",
        definition="given",
        turns="right",
        inbound_course_true=263.04,
        inbound_course_magnetic=273.5,
        circuits=[unknown(WrittenCircuit), unknown(WrittenCircuit)],
        points=points,
        grade_word=None if points is None else "effective",
        verdict=f"Two circuits. {said} More is said on the page.",
        flown_path={"time_s": [0, 1, 2], "east_nm": [0, 1, 0], "north_nm": [0, 2, None]},
    )
    log = unknown(WrittenLog, name=name or f"{stem}.gpx", start_utc=when)
    document = {"schema": 1, "caution": "…", **unknown(WrittenDebrief, caution="…", log=log, holds=[hold])}
    (out / f"{stem}.html").write_text("page of its own")
    (out / f"{stem}.json").write_text(json.dumps(document), encoding="utf-8")


def listed(page: Path) -> list[str]:
    return re.findall(r'<h2><a href="([^"]*)">', page.read_text(encoding="utf-8"))


def test_newest_first_and_without_a_date_last(tmp_path):
    debrief(tmp_path, "old", when="2025-01-01T10:00:00Z")
    debrief(tmp_path, "undated", when=None)
    debrief(tmp_path, "new", when="2026-05-01T10:00:00Z")
    update_index(tmp_path)
    assert listed(tmp_path / "index.html") == ["new.html", "old.html", "undated.html"]
    text = (tmp_path / "index.html").read_text(encoding="utf-8")
    for said in (
        "01 May 2026, 10:00 UTC",
        "no date in the log",
        "Invented hold",
        "274°M",
        "<strong>82</strong>",
    ):
        assert said in text
    assert "All went well." in text and "Two circuits." not in text
    assert text.count("<polyline") == 3
    assert "not for navigation" in text


def test_not_judged_is_said(tmp_path):
    debrief(tmp_path, "coarse", points=None)
    update_index(tmp_path)
    assert "not judged" in (tmp_path / "index.html").read_text(encoding="utf-8")


def test_only_what_changed_is_read_again(tmp_path, monkeypatch):
    for stem in ("a", "b"):
        debrief(tmp_path, stem)
    update_index(tmp_path)
    read = []
    plain = Path.read_text
    monkeypatch.setattr(
        Path, "read_text", lambda path, *a, **k: (read.append(path.name), plain(path, *a, **k))[1]
    )
    update_index(tmp_path)
    assert read == ["index.html"]
    debrief(tmp_path, "c", when="2027-01-01T10:00:00Z")
    (tmp_path / "notes.json").write_text("[]")
    read.clear()
    update_index(tmp_path)
    assert sorted(set(read)) == ["c.json", "index.html", "notes.json"]
    read.clear()
    update_index(tmp_path)
    assert read == ["index.html"]
    assert listed(tmp_path / "index.html") == ["c.html", "a.html", "b.html"]


def test_what_is_gone_is_listed_no_more_and_what_is_new_again(tmp_path):
    debrief(tmp_path, "a")
    debrief(tmp_path, "b")
    update_index(tmp_path)
    (tmp_path / "a.json").unlink()
    debrief(tmp_path, "b", said="Something else now.")
    update_index(tmp_path)
    assert listed(tmp_path / "index.html") == ["b.html"]
    assert "Something else now." in (tmp_path / "index.html").read_text(encoding="utf-8")


def test_a_folder_without_debriefs_gets_no_list(tmp_path):
    update_index(tmp_path)
    update_index(tmp_path / "nowhere")
    assert list(tmp_path.iterdir()) == []


def test_foreign_and_damaged_files_do_no_harm(tmp_path):
    debrief(tmp_path, "good")
    (tmp_path / "table.json").write_text("[1, 2]")
    (tmp_path / "half.json").write_text(f"{HEAD} ")
    (tmp_path / "other.json").write_text(HEAD + '"log": {}}')
    update_index(tmp_path)
    assert listed(tmp_path / "index.html") == ["good.html"]


def test_text_from_a_log_is_escaped_and_names_lead_to_their_pages(tmp_path):
    stem = 'a&b "c" <d> #1 ü'
    debrief(tmp_path, stem, name="<script>alert(1)</script>.gpx", said="A <b>bold</b> claim.")
    update_index(tmp_path)
    text = (tmp_path / "index.html").read_text(encoding="utf-8")
    assert "<script" not in text and "<b>" not in text
    assert listed(tmp_path / "index.html") == ["a%26b%20%22c%22%20%3Cd%3E%20%231%20%C3%BC.html"]
    # Its name in the page's own memory is the file's, so that it is not read again.
    before = (tmp_path / "index.html").stat().st_mtime_ns
    update_index(tmp_path)
    assert (tmp_path / "index.html").stat().st_mtime_ns == before


def test_a_file_name_that_is_no_text(tmp_path):
    stem = os.fsdecode(b"caf\xe9")
    debrief(tmp_path, stem)
    update_index(tmp_path)
    assert listed(tmp_path / "index.html") == ["caf%E9.html"]


def test_no_log_takes_the_lists_name(tmp_path):
    (tmp_path / "index.gpx").write_text("x")
    (tmp_path / "INDEX.csv").write_text("y")
    names = Names(tmp_path / "reports")
    assert names.claim(tmp_path / "index.gpx").stem == "index-1"
    assert names.claim(tmp_path / "INDEX.csv").stem not in ("index", "INDEX", "index-1")


def test_a_page_that_has_the_name_already_keeps_it(tmp_path):
    debrief(tmp_path, "index")
    debrief(tmp_path, "b")
    assert index_path(tmp_path) == tmp_path / "all-debriefs.html"
    update_index(tmp_path)
    assert (tmp_path / "index.html").read_text() == "page of its own"
    assert set(listed(tmp_path / "all-debriefs.html")) == {"index.html", "b.html"}


WRITER = """
import sys
from pathlib import Path
sys.path.insert(0, {root!r})
from tests.test_work_index import debrief
from analyser.pages.index import update_index
out = Path({out!r})
for number in range(12):
    debrief(out, f"{{sys.argv[1]}}-{{number}}")
    update_index(out)
"""


def test_several_writers_at_once_lose_nothing(tmp_path):
    root = str(Path(__file__).parent.parent)
    code = WRITER.format(root=root, out=str(tmp_path))
    writers = [subprocess.Popen([sys.executable, "-c", code, name], cwd=root) for name in "abc"]
    assert [writer.wait(60) for writer in writers] == [0, 0, 0]
    assert len(listed(tmp_path / "index.html")) == 36
    assert not [path for path in tmp_path.iterdir() if path.suffix == ".part"]


@pytest.mark.parametrize(
    ("verdict", "first"),
    [
        ("Two circuits. Your entry was right.", "Your entry was right."),
        ("Fly 122°M. Then 3.5 NM out.", "Fly 122°M."),
        ("One circuit.", "One circuit."),
        ("You were 0.4 NM left of it", "You were 0.4 NM left of it"),
    ],
)
def test_the_first_sentence(verdict, first):
    assert first_sentence(SimpleNamespace(findings=(), verdict=verdict)) == first


def test_the_first_sentence_is_the_worst_finding_as_the_page_opens_with_it():
    found = [
        SimpleNamespace(sentence=said) for said in ("You banked 12° in both turns.", "Your entry was right.")
    ]
    verdict = "Two circuits. Your entry was right."
    assert first_sentence(SimpleNamespace(findings=found, verdict=verdict)) == "You banked 12° in both turns."
    assert first_sentence(SimpleNamespace(findings=(), verdict=verdict)) == "Your entry was right."


def test_what_was_debriefed_while_the_list_was_written_is_listed_too(tmp_path, monkeypatch):
    """Another run finishes a debrief between this one's look and its writing."""
    debrief(tmp_path, "a")
    plain = index.write_text_whole
    late = iter(["b"])

    def write(path, entries):
        plain(path, entries)
        for name in late:
            debrief(tmp_path, name)

    monkeypatch.setattr(index, "write_text_whole", write)
    update_index(tmp_path)
    assert sorted(listed(tmp_path / "index.html")) == ["a.html", "b.html"]


def test_the_thumbnail_shows_the_whole_path_in_its_proportions(tmp_path):
    debrief(tmp_path, "a")
    update_index(tmp_path)
    text = (tmp_path / "index.html").read_text(encoding="utf-8")
    (drawn,) = re.findall(r'<polyline points="([^"]*)"', text)
    (fix,) = re.findall(r'<circle cx="([^"]*)" cy="([^"]*)"', text)
    points = [tuple(map(float, point.split(","))) for point in drawn.split()]
    # From (0, 0) at the fix to one mile east and two north; what has no place is left out. North is up.
    (x0, y0), (x1, y1) = points
    assert (x0, y0) == tuple(map(float, fix))
    assert y0 - y1 == pytest.approx(2.0 * (x1 - x0), abs=0.2)
    # Two miles fill the height between the margins, and the middle is the picture's.
    assert (y1, y0) == pytest.approx((6.0, 78.0), abs=0.1)
    assert 0.5 * (x0 + x1) == pytest.approx(60.0, abs=0.1)


def test_one_circuit_is_one(tmp_path):
    debrief(tmp_path, "a")
    update_index(tmp_path)
    assert ", 2 circuits<" in (tmp_path / "index.html").read_text(encoding="utf-8")


def test_what_a_run_has_just_written_is_not_read_again(tmp_path, monkeypatch):
    log = write_gpx(flight(1300), tmp_path / "a.gpx")
    read = []
    plain = Path.read_text
    monkeypatch.setattr(
        Path, "read_text", lambda path, *a, **k: (read.append(path.name), plain(path, *a, **k))[1]
    )
    with run([log], Job(tmp_path / "out")) as running:
        list(running.results)
    assert "a.json" not in read
    handed_on = running.index.read_bytes()
    assert listed(running.index) == ["a.html"]
    # Read from the file it is the very same entry.
    running.index.unlink()
    update_index(tmp_path / "out")
    assert running.index.read_bytes() == handed_on
