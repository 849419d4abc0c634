"""Under which name each log is debriefed, so that no report lands on another's; and what an earlier run left."""

from __future__ import annotations

import hashlib
import os
import re
import time
import unicodedata
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import count
from pathlib import Path
from typing import Any

import analyser
from analyser import __version__
from analyser.schema.file_text import read_description

#: Room for a number, an ending and a temporary name within the 255 bytes that file systems allow.
_LONGEST_BYTES = 180
#: Kept for the list of all debriefs.
_INDEX = "index"
#: ``flight+2`` is kept for the second flight within one log.
_FLIGHT_NUMBER = re.compile(r"\+\d+$")
_NUMBERED = re.compile(r"(.+)-\d+", re.DOTALL)


@dataclass(frozen=True)
class Earlier:
    """One debrief file that is there already.

    ``sha256`` is that of its log, empty for a file that is no debrief of ours; ``fingerprint`` that of the job that
    made it, None where it is not known or something was left undone; ``version`` the program's. ``stems`` are the
    names of the debriefs of all flights in the log, this one first.
    """

    stem: str
    sha256: str
    fingerprint: str | None = None
    version: str | None = None
    stems: tuple[str, ...] = ()

    def stands(self, out: Path, fingerprint: str) -> bool:
        """Tell whether nothing would change if this program debriefed the log again by a job of this fingerprint.

        Of another version it is not held, nor of this one where a file of the program is newer than the reports.
        """
        if (self.fingerprint, self.version) != (fingerprint, __version__) or not self.stems:
            return False
        files = (out / f"{stem}.{ending}" for stem in self.stems for ending in ("html", "json"))
        try:
            return min(file.stat().st_mtime_ns for file in files) > _program_changed_ns()
        except OSError:
            return False


@lru_cache(maxsize=1)
def _program_changed_ns() -> int:
    """Return when a file of the program was changed last, ns: whoever mends it need not count its version up.

    A time still to come tells nothing: the file was unpacked, or the clock set, by another clock.
    """
    own = (
        Path(folder, name).stat().st_mtime_ns
        for folder, _, names in os.walk(Path(analyser.__file__).parent)
        if not folder.endswith("__pycache__")
        for name in names
    )
    return max((changed for changed in own if changed <= time.time_ns()), default=0)


def program_block(fingerprint: str | None, stems: Sequence[str]) -> dict[str, Any]:
    """Return what a debrief file says of its own making: the job, and the names of all debriefs of its log.

    Without a fingerprint it is tried again: another flight of the log could not be written. Only the first file of a
    log tells the names.
    """
    return {"version": __version__, "job": fingerprint, "files": list(stems)}


def read_earlier(data: Path) -> Earlier:
    """Read whose debrief an existing JSON file is; without a hash where it is none."""
    try:
        document = read_description(data)
        log, program = document["log"], document.get("program") or {}
        stems = tuple(map(str, program.get("files") or ()))
        return Earlier(data.stem, str(log["sha256"]), program.get("job"), program.get("version"), stems)
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return Earlier(data.stem, "")


@dataclass(frozen=True)
class Claim:
    """A name for the page and JSON of one log.

    ``earlier`` is the debrief of the very same log that is there already; ``twin`` the very same log, under the same
    name, met before in this run.
    """

    stem: str
    earlier: Earlier | None = None
    twin: Path | None = None


class Names:
    """Gives names out in a folder of reports, one log after another; the order decides who gets the plain name."""

    def __init__(self, out: Path) -> None:
        self._out = out
        #: By the name that they were made for, or may have been: "a-2" is the second "a" or the first "a-2".
        self._on_disk: dict[str, list[str]] = defaultdict(list)
        for stem in sorted(one.stem for one in out.glob("*.json")):
            self._on_disk[_key(stem)].append(stem)
            numbered = _NUMBERED.fullmatch(stem)
            if numbered:
                self._on_disk[_key(numbered[1])].append(stem)
        self._taken = {_key(stem) for stems in self._on_disk.values() for stem in stems}
        self._given: dict[str, dict[Path, str]] = defaultdict(dict)
        self._numbers: dict[str, Iterator[int]] = defaultdict(lambda: count(1))
        self._earlier = cache(self._read_earlier)
        # A pipe can be read once only, so it has no hash before it is debriefed: nothing is its like.
        self._mark = cache(lambda log: sha256_of(log) or str(log))

    def claim(self, log: Path) -> Claim:
        """Give a log its name: its stem where that is free; it is read only where another log wants the same."""
        wanted = _usable(log.stem)
        given, there = self._given[_key(wanted)], self._earlier(_key(wanted))
        earlier = None
        if given or there:
            for one, stem in given.items():
                if self._mark(one) == self._mark(log):
                    return Claim(stem, twin=one)
            earlier = there.get(self._mark(log))
        given[log] = stem = self._free(wanted) if earlier is None else earlier.stem
        return Claim(stem, earlier)

    def _read_earlier(self, key: str) -> dict[str, Earlier]:
        there = [read_earlier(self._out / f"{stem}.json") for stem in self._on_disk.get(key, ())]
        return {one.sha256 or one.stem: one for one in reversed(there)}

    def _free(self, wanted: str) -> str:
        numbered = (wanted if number == 1 else f"{wanted}-{number}" for number in self._numbers[_key(wanted)])
        stem = next(one for one in numbered if _key(one) not in self._taken)
        self._taken.add(_key(stem))
        return stem


def flight_stem(out: Path, stem: str, number: int, sha256: str) -> str:
    """Name the debrief of one flight of a log that holds several: ``flight``, ``flight+2`` and so on.

    A debrief of the same flight, known by the log's SHA-256, is replaced, another log's never.
    """
    if number == 1:
        return stem
    numbered = (f"{stem}+{number}" if again == 1 else f"{stem}+{number}-{again}" for again in count(1))
    return next(one for one in numbered if _is_open_to(out / f"{one}.json", sha256))


def _is_open_to(data: Path, sha256: str) -> bool:
    return not data.exists() or read_earlier(data).sha256 == sha256


def sha256_of(log: Path) -> str:
    """Return the SHA-256 of a file; empty for what is no ordinary file, or cannot be read."""
    try:
        if not log.is_file():
            return ""
        with log.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return ""


def _usable(stem: str) -> str:
    """Make a stem fit for three more endings; two kinds of names are kept for other things."""
    encoded = os.fsencode(stem)
    if len(encoded) > _LONGEST_BYTES:
        stem = encoded[:_LONGEST_BYTES].decode("utf-8", "ignore")
    return f"{stem}-1" if _FLIGHT_NUMBER.search(stem) or _key(stem) == _INDEX else stem


def _key(stem: str) -> str:
    # Some file systems take Track and track, or two encodings of ü, for one name, so they count as one everywhere.
    return unicodedata.normalize("NFC", stem).casefold()
