"""The list of notice codes is kept true: every code in the room is on it, and nothing else is."""

from __future__ import annotations

import ast
import codecs
import re
from pathlib import Path

import analyser.logs

ROOM = Path(analyser.logs.__file__).parent
#: A code is words joined by hyphens, or one of these.
_CODE = re.compile(r"[a-z]+(?:-[a-z]+)+|hole")


def _is_charset(text: str) -> bool:
    try:
        codecs.lookup(text)
    except LookupError:
        return False
    return True


def test_every_notice_code_is_described() -> None:
    said = {
        node.value
        for module in ROOM.glob("*.py")
        for node in ast.walk(ast.parse(module.read_text(encoding="utf-8")))
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and _CODE.fullmatch(node.value)
    }
    said = {code for code in said if not _is_charset(code)}
    readme = (ROOM / "README.md").read_text(encoding="utf-8")
    table = readme[readme.index("| code |") : readme.index("## Limits")]
    described = {
        code
        for line in table.splitlines()
        for code in re.findall(r"`([a-z0-9-]+)`", line.split("|")[1] if "|" in line else "")
    }
    assert said == described
