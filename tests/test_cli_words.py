"""The first words a newcomer types: help, completion, a log alone, a command misspelt."""

from __future__ import annotations

import json
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from analyser.commands.single_log import _searched
from analyser.schema.debrief_file import WrittenDebrief
from analyser.summary import summary
from tests.work_flights import flight, write_gpx

SAMPLES = Path(__file__).parent.parent / "sample_logs"


@pytest.fixture(autouse=True)
def empty_folder(monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)


@pytest.mark.parametrize("words", [("-h",), ("debrief", "-h"), ("logbook", "-h"), ("logbook", "list", "-h")])
def test_help_has_a_short_name_everywhere(program, words):
    short, long = program(*words), program(*words[:-1], "--help")
    assert short == long
    assert short[0] == 0
    assert "Usage:" in short[1]


def test_no_line_of_the_commands_is_cut_short(program):
    assert "..." not in program("--help")[1].partition("Commands:")[2]


@pytest.mark.parametrize(
    ("wrong", "right"), [("debreif", "debrief"), ("inspekt", "inspect"), ("progres", "progress")]
)
def test_a_near_miss_is_suggested(program, wrong, right):
    status, _, err = program(wrong, "x.gpx")
    assert status == 2
    assert f"Did you mean '{right}'" in err


def test_completion_is_the_librarys_own(program):
    _, out, _ = program("--help")
    assert "--install-completion" in out
    assert "--show-completion" in out


def test_a_log_without_a_command_is_debriefed(program):
    write_gpx(flight(290), Path("transit.gpx"))
    status, out, _ = program("transit.gpx", "--out", "pages")
    assert status == 0
    assert "transit.gpx: no hold found" in out
    assert Path("pages/transit.html").exists()


def test_what_was_dropped_is_told_in_order_of_time():
    """Who follows it on a map reads from the beginning."""
    reasons = [
        SimpleNamespace(start_s=start_s, end_s=start_s + 60.0, code="circles", sentence="only turning")
        for start_s in (532.0, 604.0, 44.0)
    ]
    found: Any = SimpleNamespace(holds=(), possible=(), reasons=reasons)
    assert [line.split()[1] for line in _searched(found)] == ["0:44", "8:52", "10:04"]
    assert _searched(SimpleNamespace(holds=(), possible=(), reasons=())) == [  # type: ignore[arg-type]
        "  holds      none, and nothing came near one"
    ]


def test_a_folder_and_a_hold_file_are_no_logs_to_inspect(program):
    assert "this is a folder" in program("inspect", ".")[2]
    hold_file = program("inspect", str(SAMPLES / "first_lesson.toml"))[2]
    assert "look at it: analyser hold check first_lesson.toml" in hold_file


def test_a_name_that_is_no_file_says_so(program):
    status, _, err = program("transti.gpx")
    assert status == 2
    assert "There is no file 'transti.gpx'" in err
    assert "analyser debrief LOG" in err


@pytest.fixture(scope="module")
def lesson(tmp_path_factory):
    return write_gpx(flight(1000, laps=2), tmp_path_factory.mktemp("flown") / "lesson.gpx")


@pytest.mark.parametrize("columns", [50, 80, 200])
def test_a_summary_is_folded_at_the_terminals_width(program, lesson, monkeypatch, columns):
    monkeypatch.setenv("COLUMNS", str(columns))
    out = Path("a folder with a name that is long enough to be folded")
    _, said, _ = program(lesson, "--out", out)
    lines = said.splitlines()
    assert lines[-1] == f"  page: {out / 'lesson.html'}"
    assert max(map(len, lines[:-1])) <= min(columns, 96)
    assert max(map(len, lines[:-1])) > min(columns, 96) - 16


def test_a_summary_explains_its_letters_where_they_are_met_first(program, lesson):
    said = " ".join(program(lesson)[1].split())
    assert "°M (magnetic)" in said
    assert said.index("(magnetic)") == said.index("°M") + 3
    assert "TAS" not in said and "true airspeed" in said


def test_a_summary_says_the_worst_and_the_next_two_and_how_many_more_there_are(program, lesson):
    program(lesson)
    document = json.loads(Path("reports/lesson.json").read_text(encoding="utf-8"))
    hold = document["holds"][0]
    like = hold["findings"][0]
    words = ["Worst.", "Said by the advice.", "Second.", "Third.", "Fourth.", "Fifth."]
    hold["findings"] = [{**like, "sentence": one} for one in words]
    hold["work_on_first"] = "Do this. Said by the advice."
    lines = [line.strip() for line in summary(WrittenDebrief.from_json(document), "there.html").splitlines()]
    assert lines[lines.index("Worst.") :] == [
        "Worst.",
        "Second.",
        "Third.",
        "work on first: Do this. Said by the advice.",
        "and two more findings on the page",
        "page: there.html",
    ]
    hold["findings"], hold["work_on_first"] = hold["findings"][:1], None
    assert summary(WrittenDebrief.from_json(document), "there.html").splitlines()[-2:] == [
        "  Worst.",
        "  page: there.html",
    ]


def test_a_log_that_is_cut_off_is_said_on_the_terminal(program, lesson):
    text = lesson.read_text(encoding="utf-8")
    Path("cut.gpx").write_text(text[: 4 * len(text) // 5], encoding="utf-8")
    status, _, err = program("cut.gpx")
    assert status == 0
    assert err.startswith("cut.gpx: ") and "cut off" in err
    # Told again with the debrief of before; and quiet is quiet.
    assert "cut off" in program("cut.gpx")[2]
    assert program("cut.gpx", "--quiet")[2] == ""


@pytest.mark.parametrize(
    ("show", "logs", "page"), [(True, 1, "lesson.html"), (True, 2, "index.html"), (False, 1, None)]
)
def test_open_opens_one_page(program, lesson, monkeypatch, show, logs, page):
    opened: list[str] = []
    monkeypatch.setattr("typer.launch", opened.append)
    write_gpx(flight(290), Path("transit.gpx"))
    program("debrief", *[lesson, "transit.gpx"][:logs], *(["--open"] if show else []))
    assert [Path(one).name for one in opened] == ([page] if page else [])


@pytest.mark.parametrize(
    "command", ["debrief", "watch", "inspect", "export", "picture", "hold from", "hold check"]
)
def test_units_and_columns_are_spelt_alike_everywhere(program, command):
    help_text = " ".join(program(*command.split(), "--help")[1].split())
    assert "alt=m,gs=km/h" in help_text
    assert "time=When" in help_text
