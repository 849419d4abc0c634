"""The list of notice codes is kept true: every code in the room is on it, and nothing else is."""

from __future__ import annotations

import re
from pathlib import Path

import analyser.logs

ROOM = Path(analyser.logs.__file__).parent


def test_every_notice_code_is_described() -> None:
    said: set[str] = set()
    for module in ROOM.glob("*.py"):
        text = module.read_text()
        said |= set(re.findall(r'Notice\(\s*"([a-z0-9-]+)"', text))
        # drop_impossible makes its notices from a table of codes.
        said |= set(re.findall(r'^\s*\("([a-z]+(?:-[a-z]+)+)", int\(', text, re.MULTILINE))
        said |= set(re.findall(r'^\s*"((?:time|position)-[a-z-]+)",$', text, re.MULTILINE))
    readme = (ROOM / "README.md").read_text()
    table = readme[readme.index("| code |") : readme.index("## Limits")]
    described = {
        code
        for line in table.splitlines()
        for code in re.findall(r"`([a-z0-9-]+)`", line.split("|")[1] if "|" in line else "")
    }
    assert said == described
