"""How a debrief file is laid out: what it is and how it was made comes first, and can be read without the rest."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from analyser.schema import is_debrief

#: The description of log and program stands before this; the judging after it may be long.
_AFTER_LOG = '\n "rules":'
_HEAD_CHARACTERS = 32_000


def file_text(file: Mapping[str, Any]) -> str:
    """Write a line for each part and for each hold: the library's fast writer knows no other way to break lines."""

    def line(value: Any) -> str:
        return json.dumps(value, ensure_ascii=False, allow_nan=False)

    parts = {key: line(value) for key, value in file.items() if key != "holds"}
    parts["holds"] = "[" + ",".join(f"\n  {line(hold)}" for hold in file["holds"]) + "]"
    return "{" + ",".join(f"\n {line(key)}: {text}" for key, text in parts.items()) + "\n}\n"


def read_description(data: Path) -> Mapping[str, Any]:
    """Read what a debrief file says before its judging, or more where it is laid out otherwise; {} of another file.

    Raises OSError or ValueError if it cannot be read.
    """
    with data.open(encoding="utf-8") as file:
        head = file.read(_HEAD_CHARACTERS)
        if not is_debrief(head):
            return {}
        first, found, _ = head.partition(_AFTER_LOG)
        try:
            document: Mapping[str, Any] = json.loads(first.rstrip().rstrip(",") + "}" if found else "")
        except ValueError:
            document = json.loads(head + file.read())
    return document
