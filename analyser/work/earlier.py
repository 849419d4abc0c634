"""What an earlier run left in the folder of reports, read from the first lines of each file."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from analyser import __version__

#: The description of log and program comes first in every debrief file; the judging after it may be long.
_HEAD_CHARACTERS = 32_000
_AFTER_LOG = '\n "rules":'


@dataclass(frozen=True)
class Earlier:
    """One debrief file that is there already.

    Attributes
    ----------
    stem : str
        Its name without ending.
    sha256 : str
        Of the log it speaks of; empty for a file that is no debrief of ours.
    fingerprint : str or None
        Of the job that made it; None where that is not known or something was left undone.
    version : str or None
        Of the program that made it.
    stems : tuple of str
        Names of the debriefs of all flights in the log, this one first.
    """

    stem: str
    sha256: str
    fingerprint: str | None = None
    version: str | None = None
    stems: tuple[str, ...] = ()

    def stands(self, out: Path, fingerprint: str) -> bool:
        """Tell whether nothing would change if the log were debriefed again by this program.

        Parameters
        ----------
        out : Path
            Folder of reports.
        fingerprint : str
            Of the job in hand.

        """
        same = (self.fingerprint, self.version) == (fingerprint, __version__)
        files = (out / f"{stem}.{ending}" for stem in self.stems for ending in ("html", "json"))
        return same and bool(self.stems) and all(file.is_file() for file in files)


def program_block(fingerprint: str | None, stems: Sequence[str]) -> dict[str, Any]:
    """Return what a debrief file says of its own making.

    Parameters
    ----------
    fingerprint : str or None
        Of the job; None where another flight of the same log could not be written, so that it is tried again.
    stems : sequence of str
        Names of the debriefs of all flights in the log; only the first file of a log tells.

    """
    return {"version": __version__, "job": fingerprint, "files": list(stems)}


def read_earlier(data: Path) -> Earlier:
    """Read whose debrief a file is.

    Parameters
    ----------
    data : Path
        An existing JSON file.

    Returns
    -------
    Earlier
        Without a hash where it is no debrief.
    """
    try:
        with data.open(encoding="utf-8") as file:
            head = file.read(_HEAD_CHARACTERS)
            document = _document(head, file.read) if is_debrief(head) else {}
        log, program = document["log"], document.get("program") or {}
        stems = tuple(map(str, program.get("files") or ()))
        return Earlier(data.stem, str(log["sha256"]), program.get("job"), program.get("version"), stems)
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return Earlier(data.stem, "")


def is_debrief(head: str) -> bool:
    """Tell from its first characters whether a text is a debrief file of this program."""
    return '"schema":' in head[:40] and '"caution":' in head[:80]


def _document(head: str, rest: Any) -> Mapping[str, Any]:
    first, found, _ = head.partition(_AFTER_LOG)
    document: Mapping[str, Any]
    if found:
        try:
            document = json.loads(first.rstrip().rstrip(",") + "}")
        except ValueError:
            pass
        else:
            return document
    document = json.loads(head + rest())
    return document
