"""The first words a newcomer types: help, completion, a log alone, a command misspelt."""

from __future__ import annotations

from pathlib import Path

import pytest

from analyser.cli import main
from tests.work_flights import flight, write_gpx


@pytest.fixture
def program(monkeypatch, capsys, tmp_path):
    """Run the program in an empty folder; return its status and what it said on both streams."""
    monkeypatch.chdir(tmp_path)

    def run(*words):
        monkeypatch.setattr("sys.argv", ["analyser", *map(str, words)])
        status = 0
        try:
            main()
        except SystemExit as stopped:
            status = stopped.code or 0
        said = capsys.readouterr()
        assert "Traceback" not in said.err
        return status, said.out, said.err

    return run


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


def test_a_name_that_is_no_file_says_so(program):
    status, _, err = program("transti.gpx")
    assert status == 2
    assert "There is no file 'transti.gpx'" in err
    assert "analyser debrief LOG" in err
