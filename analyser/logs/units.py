"""Units as logs write them, and what they are in the program's own; the list is ``units.toml``."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from analyser.earth.constants import DAY_S, METRES_PER_FOOT, METRES_PER_NM
from analyser.frozen import dataclass

FEET_PER_METRE = 1.0 / METRES_PER_FOOT
KNOTS_PER_KILOMETRE_PER_HOUR = 1000.0 / METRES_PER_NM
FPM_PER_METRE_PER_SECOND = 60.0 * FEET_PER_METRE


@dataclass(frozen=True)
class Unit:
    """One unit: canonical = value · factor + offset; canonical is ft, kt, fpm, degrees, °C, s."""

    #: As shown.
    name: str
    #: ``"length"``, ``"speed"``, ``"climb"``, ``"angle"``, ``"temperature"`` or ``"time"``.
    kind: str
    factor: float
    #: Lower-case, parted by blanks.
    spellings: str
    offset: float = 0.0
    #: Whether it counts time from a known day: POSIX seconds are what it gives.
    dated: bool = False


def _units(listed: dict[str, Any]) -> Iterator[Unit]:
    for kind in ("length", "speed", "climb", "angle", "temperature", "time"):
        for name, unit in listed[kind].items():
            (top, bottom), (more, by) = unit["is"], unit.get("offset", (0.0, 1.0))
            yield Unit(name, kind, top / bottom, unit["spelled"], more / by)


def _epochs(listed: dict[str, Any]) -> Iterator[Unit]:
    for day, epoch in listed["epochs"].items():
        for unit in epoch["units"].split(", "):
            ends = {"s": [""], "100 ns": [""], "µs": ["µs", "us"]}.get(unit, [unit])
            spellings = " ".join(f"{word}{end}" for word in epoch["spelled"].split() for end in ends)
            top, bottom = listed["time"][unit]["is"]
            yield Unit(f"{unit} since {day}", "time", top / bottom, spellings, epoch["offset"], dated=True)
    for name, count in listed["days"].items():
        yield Unit(name, "time", DAY_S, count["spelled"], count["begins"] * DAY_S, dated=True)


_LISTED = tomllib.loads(Path(__file__).with_name("units.toml").read_text(encoding="utf-8"))
UNITS = tuple(_units(_LISTED))
#: What counts of time begin at, the more usual one first: POSIX seconds = value · factor + offset.
EPOCHS = tuple(_epochs(_LISTED))
#: The day that most counts begin at.
POSIX = EPOCHS[0]
GPS = next(unit for unit in EPOCHS if "(GPS)" in unit.name)
#: What a bare number may count from the log's own start, in the order tried: seconds, as most do, first.
ELAPSED = tuple(
    next(unit for unit in UNITS if unit.kind == "time" and unit.name == name)
    for name in ("s", "ms", "min", "h", "µs", "ns", "days", "100 ns")
)
SECONDS = ELAPSED[0]
#: What it may count where none of those makes a flight of it.
TICKS = tuple(unit for unit in UNITS if unit.kind == "time" and unit not in ELAPSED)

_BY_SPELLING: dict[tuple[str, str], Unit] = {
    (spelling, unit.kind): unit for unit in (*EPOCHS, *UNITS) for spelling in unit.spellings.split()
}
_SHORT = {
    **dict.fromkeys(("kilometres", "kilometers"), "km"),
    **dict.fromkeys(("metres", "meters", "metre", "meter"), "m"),
    **dict.fromkeys(("feet", "foot"), "ft"),
    **dict.fromkeys(("nauticalmiles", "nauticalmile"), "nm"),
    **dict.fromkeys(("statutemiles", "statutemile", "miles", "mile"), "mi"),
    **{"per": "/", "hour": "h", "minute": "min", "second": "s"},
}
_LONG_WORDS = re.compile("|".join(_SHORT))
_MULTIPLE = re.compile(r"(\d{1,4}(?:\.\d{1,6})?)(?:/(\d{1,6}))?/?(s|sec|ms|msec|µs|us|ns)")
_SPELLINGS = {spelling for unit in UNITS for spelling in unit.spellings.split()}


def normal(text: str) -> str:
    """Bring a unit's spelling into one form: lower-case, no blanks or brackets."""
    folded = unicodedata.normalize("NFC", text).lower().replace("μ", "µ")
    folded = re.sub(r"[\s\[\](){}<>\"]+", "", folded)
    if "per" in folded:
        # Metres per second, nautical miles per hour.
        folded = _LONG_WORDS.sub(lambda word: _SHORT[word[0]], folded)
    return folded if folded == "deg_c" else folded.replace("_", "")


def unit_of(text: str, kind: str) -> Unit | None:
    """Find a unit of a kind (:class:`Unit`) by its spelling."""
    spelled = normal(text)
    return _BY_SPELLING.get((spelled, kind)) or (_multiple(spelled) if kind == "time" else None)


def _multiple(spelled: str) -> Unit | None:
    """Read a count of so many of a unit of time, or of a fraction of it: ``10ms``, ``0.1s``, ``1/64s``.

    A header is cut at its signs: there 0.1 stands as 0/1.
    """
    match = _MULTIPLE.fullmatch(spelled)
    if match is None:
        return None
    number, of, unit = match.groups()
    size = float(f"{number}.{of}") if float(number) == 0.0 and of else float(number) / float(of or 1)
    one = _BY_SPELLING[unit, "time"]
    return Unit(f"{size:g} {one.name}", "time", size * one.factor, "") if size > 0.0 else None


def is_unit(text: str) -> bool:
    """Tell whether a word is the spelling of any unit."""
    return normal(text) in _SPELLINGS
