"""Under which name each log is debriefed, so that no report of one log lands on another's."""

from __future__ import annotations

import hashlib
import os
import re
import unicodedata
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from itertools import count
from pathlib import Path

from analyser.work.earlier import Earlier, read_earlier

#: Room for a number, an ending and a temporary name within the 255 bytes that file systems allow.
_LONGEST_BYTES = 180
#: Kept for the list of all debriefs.
_INDEX = "index"
#: ``flight+2`` is kept for the second flight within one log.
_FLIGHT_NUMBER = re.compile(r"\+\d+$")
_NUMBERED = re.compile(r"(.+)-\d+", re.DOTALL)


@dataclass(frozen=True)
class Claim:
    """A name for one log.

    Attributes
    ----------
    stem : str
        Of its page and JSON.
    earlier : Earlier or None
        The debrief of the very same log that is there already.
    twin : Path or None
        The very same log, under the same name, met before in this run.
    """

    stem: str
    earlier: Earlier | None = None
    twin: Path | None = None


@dataclass
class _Family:
    """All that want one name: those that are on disk, and those of this run."""

    on_disk: dict[str, Earlier]
    of_run: dict[str, tuple[str, Path]] = field(default_factory=dict)
    waiting: list[tuple[str, Path]] = field(default_factory=list)
    numbers: Iterator[int] = field(default_factory=lambda: count(1))

    def is_alone(self) -> bool:
        """Tell whether nobody else has wanted the name so far."""
        return not (self.on_disk or self.of_run or self.waiting)

    def met(self, mark: str) -> tuple[str, Path] | None:
        """Return name and path of the same log in this run."""
        # The first of a name is not read before there is a second: most names are wanted once.
        while self.waiting:
            stem, log = self.waiting.pop()
            self.of_run[sha256_of(log) or str(log)] = stem, log
        return self.of_run.get(mark)


class Names:
    """Gives names out, one log after another; the order decides who gets the plain name.

    Parameters
    ----------
    out : Path
        Folder of reports.
    """

    def __init__(self, out: Path) -> None:
        self._out = out
        self._taken: set[str] = set()
        self._families: dict[str, _Family] = {}

    def claim(self, log: Path) -> Claim:
        """Give a log its name.

        Parameters
        ----------
        log : Path
            Its stem is the name that is wanted; it is read only where another log wants the same.

        """
        wanted = _usable(log.stem)
        family = self._families.get(_key(wanted)) or self._begin(wanted)
        if family.is_alone():
            stem = self._free(wanted, family)
            family.waiting.append((stem, log))
            return Claim(stem)
        # A pipe can be read once only, so it has no hash before it is debriefed: nothing is its like.
        mark = sha256_of(log) or str(log)
        twin = family.met(mark)
        if twin is not None:
            return Claim(twin[0], twin=twin[1])
        earlier = family.on_disk.get(mark)
        stem = earlier.stem if earlier is not None else self._free(wanted, family)
        self._taken.add(_key(stem))
        family.of_run[mark] = stem, log
        return Claim(stem, earlier)

    def _begin(self, wanted: str) -> _Family:
        there = [read_earlier(self._out / f"{stem}.json") for stem in self._on_disk.get(_key(wanted), ())]
        self._taken.update(_key(one.stem) for one in there)
        family = _Family({one.sha256 or one.stem: one for one in reversed(there)})
        self._families[_key(wanted)] = family
        return family

    def _free(self, wanted: str, family: _Family) -> str:
        for number in family.numbers:
            stem = wanted if number == 1 else f"{wanted}-{number}"
            # A name may also belong to the family of a longer one: "a-2" is the second "a" or the first "a-2".
            if _key(stem) not in self._taken and _key(stem) not in self._stems_on_disk:
                self._taken.add(_key(stem))
                return stem
        raise AssertionError("numbers do not end")

    @cached_property
    def _stems_on_disk(self) -> set[str]:
        return {_key(stem) for stems in self._on_disk.values() for stem in stems}

    @cached_property
    def _on_disk(self) -> dict[str, list[str]]:
        """List the debrief files by the name that they were made for, or may have been."""
        found: dict[str, list[str]] = defaultdict(list)
        for stem in sorted(_stems(self._out)):
            found[_key(stem)].append(stem)
            numbered = _NUMBERED.fullmatch(stem)
            if numbered:
                found[_key(numbered[1])].append(stem)
        return found


def _stems(out: Path) -> list[str]:
    try:
        with os.scandir(out) as entries:
            return [entry.name[:-5] for entry in entries if entry.name.endswith(".json")]
    except OSError:
        return []


def flight_stem(out: Path, stem: str, number: int, sha256: str) -> str:
    """Name the debrief of one flight of a log that holds several.

    Parameters
    ----------
    out : Path
    stem : str
        The log's.
    number : int
        Of the flight, from 1.
    sha256 : str
        Of the log; a debrief of the same flight is replaced, another log's never.

    Returns
    -------
    str
        ``flight``, ``flight+2``, ``flight+3`` …
    """
    if number == 1:
        return stem
    for again in count(1):
        wanted = f"{stem}+{number}" if again == 1 else f"{stem}+{number}-{again}"
        data = out / f"{wanted}.json"
        if not data.exists() or read_earlier(data).sha256 == sha256:
            return wanted
    raise AssertionError("numbers do not end")


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
    # Some file systems take Track and track, or two spellings of ü, for one name; nothing may hang on that.
    return unicodedata.normalize("NFC", stem).casefold()
