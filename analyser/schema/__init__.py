"""The published shape of the debrief file, as JSON Schema 2020-12."""

from __future__ import annotations

import json
import re
from functools import lru_cache
from pathlib import Path
from typing import Any

PATH = Path(__file__).parent / "debrief.schema.json"


@lru_cache(maxsize=1)
def load_schema() -> dict[str, Any]:
    """Load the JSON Schema that every debrief file is valid against."""
    schema: dict[str, Any] = json.loads(PATH.read_text(encoding="utf-8"))
    return schema


def is_debrief(head: str) -> bool:
    """Tell from its first characters whether a text is a debrief file of this program."""
    return re.match(r'\s*\{\s*"schema":\s*\d+,\s*"caution":', head) is not None
