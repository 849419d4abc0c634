"""The verdict that stands first on the page, as the debrief worded it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any


def verdict_sentences(document: Mapping[str, Any]) -> str:
    """Return the verdict in words.

    Parameters
    ----------
    document : mapping
        The hold's part of the debrief document.

    Returns
    -------
    str
        The debrief's own words; where it has none, the count of circuits and the entry's verdict.
    """
    worded = document.get("verdict")
    if isinstance(worded, str) and worded:
        return worded
    count = len(document.get("circuits") or [])
    circuits = f"{count} circuit{'' if count == 1 else 's'}."
    entry = document.get("entry")
    if not entry:
        return f"{circuits} The log starts inside the hold, so the entry was not judged."
    return f"{circuits} The {entry['flown']} entry: {entry['verdict']}."


def first_thing(document: Mapping[str, Any]) -> str | None:
    """Return the one thing to work on first, in words, or None where nothing stands out.

    Parameters
    ----------
    document : mapping
        The hold's part of the debrief document.

    Returns
    -------
    str or None
        The debrief's own words; where it has none, the advice of the latest circuit's most costly share.
    """
    worded = document.get("work_on_first")
    if isinstance(worded, str) and worded:
        return worded
    for circuit in reversed(document.get("circuits") or []):
        for share in circuit.get("error_budget") or []:
            if share.get("advice"):
                return str(share["advice"])
    return None
