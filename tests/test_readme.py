"""What the README shows works: its hold file reads, its commands and options are there."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from typer.main import get_command

from analyser.cli import app
from analyser.holds.holdfile import hold_file_from
from tests.accuracy import parser

README = (Path(__file__).parent.parent / "README.md").read_text(encoding="utf-8")


def _blocks():
    return re.findall(r"(?:^ {4}.*\n)+", README, flags=re.MULTILINE)


def test_the_hold_file_reads():
    (block,) = [block for block in _blocks() if "inbound_course" in block]
    found = hold_file_from(tomllib.loads(block))
    assert (found.said.inbound_course, found.said.reference, found.said.turns) == (263.0, "magnetic", "right")
    assert found.hold(2026.0).fix_lat_deg == pytest.approx(48 + 7.4 / 60)


@pytest.mark.parametrize(
    "fix", re.findall(r'fix = ("[^"]+")', README) + re.findall(r'or ("\d+M \d+ NM from [^"]+")', README)
)
def test_each_way_of_saying_a_fix_reads(fix):
    text = f'fix = {fix}\ninbound_course = "263M"\nturns = "R"\n'
    assert abs(hold_file_from(tomllib.loads(text)).hold(2026.0).fix_lat_deg - 48.1) < 0.2


def _commands():
    program = get_command(app)
    for name in program.list_commands(None):
        command = program.get_command(None, name)
        yield name, command
        for inner, sub in getattr(command, "commands", {}).items():
            yield f"{name} {inner}", sub


COMMANDS = dict(_commands())


def test_each_command_is_in_the_table():
    table = README.partition("**Commands**")[2].partition("\n\n`")[0]
    for name in COMMANDS:
        assert re.search(rf"`(analyser )?{name.split(' ')[0]}\b", table), name


@pytest.mark.parametrize(
    "line", sorted(set(re.findall(r"analyser ((?:[a-z]+ )?[a-z]+)\b[^`\n]*?(?=`|\n)", README)))
)
def test_each_command_shown_is_one(line):
    first = line.split(" ")[0]
    assert first in {name.split(" ")[0] for name in COMMANDS} | {"flight"}, line


def test_each_option_shown_is_one():
    known = {name for command in COMMANDS.values() for one in command.params for name in one.opts}
    known |= {"--install-completion", "--help"} | {
        one for row in parser()._actions for one in row.option_strings
    }
    shown = set(re.findall(r"(?<![\w-])--[a-z][a-z-]+", README))
    assert shown <= known, shown - known
