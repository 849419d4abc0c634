"""What the person should know besides the result: which hold file fitted nothing, what of the log is not there."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from analyser.collection.files import HoldFiles, HoldsForFlight

#: Notices of a log that are said on the terminal: something of it is not there, or was left to a guess that the
#: person can settle. The rest stand on the page.
_SAID = frozenset(
    {
        "file-cut-off",
        "archive-damaged",
        "member-skipped",
        "flight-left-out",
        "aircraft-mixed",
        "altitude-missing",
        "date-ambiguous",
        "date-impossible",
        "option-unused",
        "unit-unknown",
    }
)
#: Codes of a file that was taken for a hold of the flight, or would have done as well.
_TAKEN, _ALIKE = "flown", "flown-alike"


def told_fits(
    fits: list[dict[str, Any]], given: HoldsForFlight, collected: HoldFiles
) -> list[dict[str, Any]]:
    """Add to how the given holds fit which files were named by themselves, and those that no hold is like."""
    named = {file.name for file in collected.named}
    sentence = "No hold of this flight is of this hand and about this course."
    unlike: dict[str, Any] = {
        "name": "",
        "code": "unlike",
        "sentence": sentence,
        "nearest_nm": None,
        "holds": [],
        "named": True,
    }
    return [
        *({**fit, "named": fit["file"] in named} for fit in fits),
        *({"file": file, **unlike} for file in given.unlike),
    ]


def notes_of(document: Mapping[str, Any], log: Path, given: HoldFiles) -> list[str]:
    """Say what is to be said of one debrief.

    Parameters
    ----------
    document : mapping
        The debrief document.
    log : Path
    given : HoldFiles
        What it was held against.
    """
    said = [f"{log}: {one['message']}" for one in document["log"]["notices"] if one["code"] in _SAID]
    return said + _fit_notes(document, log, given)


def _fit_notes(document: Mapping[str, Any], log: Path, given: HoldFiles) -> list[str]:
    """Say which hold files fitted no hold of a flight, and which fitted one as well as the one that was taken."""
    fits: list[Mapping[str, Any]] = document.get("definition_fit") or []
    taken = {fit["file"] for fit in fits if fit["code"] == _TAKEN}
    notes = []
    for fit in fits:
        file = fit["file"]
        if fit["code"] == _ALIKE:
            notes.append(f"{log}: {file} fits as well as the hold file that was taken. {fit['sentence']}")
        elif fit["named"] and file not in taken:
            notes.append(f"{log}: {file} fits no hold of this flight. {fit['sentence']}")
    if document["holds"] and given.files and not given.named and not taken:
        count = len(given.files)
        said = "the hold file does not fit" if count == 1 else f"none of the {count} hold files fits"
        notes.append(f"{log}: {said}, so the hold is inferred from the track")
    return list(dict.fromkeys(notes))
