"""Small invented debrief documents for the logbook's tests."""

from __future__ import annotations

import copy
import hashlib
import random
from datetime import UTC, datetime
from typing import Any

from tests.club.people import PILOTS
from tests.club.session import make_session

_MODEL = make_session(PILOTS[0], datetime(2026, 3, 14, 17, 5, tzinfo=UTC), 0.5, 0, random.Random(1))


def document(mark: object = 0, *, name: str = "invented.gpx") -> dict[str, Any]:
    """A document of one hold; each ``mark`` stands for another log."""
    made = copy.deepcopy(_MODEL.document)
    made["log"] |= {"sha256": hashlib.sha256(str(mark).encode()).hexdigest(), "name": name}
    return made


def figures(made: dict[str, Any]) -> tuple[int, int]:
    """How many holds and measures a whole record of this document has."""
    holds = made["holds"]
    return len(holds), sum(
        bool(one["entry"]) + sum(len(c["scores"]) for c in one["circuits"]) for one in holds
    )
