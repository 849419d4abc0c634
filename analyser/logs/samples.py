"""Samples as a reader meets them, kept as numbers: a long log never stands in memory as text; and flights made of them.

Values that a format carries beside its own, under names of somebody's choice, are read as a table's columns are.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analyser.logs.limits import check_samples
from analyser.logs.log_thresholds import LOOK
from analyser.logs.meaning import Concept, meaning_of
from analyser.logs.raw import Content, FloatArray, RawFlight, ReadOptions, Undecided
from analyser.logs.text import shown
from analyser.logs.track import Notice, Source
from analyser.logs.units import FEET_PER_METRE, Unit, unit_of

#: Names of values that are no field of the format begin so.
EXTENSION = "+"
_RADIANS_UP_TO = 6.3


@dataclass
class FoundChannels:
    """What was found: channels in the program's units, columns whose unit is open, what became of each."""

    channels: dict[str, FloatArray] = field(default_factory=dict)
    undecided: dict[Undecided, FloatArray] = field(default_factory=dict)
    sources: list[Source] = field(default_factory=list)

    def take(self, name: str, concept: Concept, values: FloatArray, unit: Unit | None, standing: str) -> None:
        """Take values of a name, which is untrusted, into their channel, or leave their unit to be settled."""
        # Angles with no unit are in degrees unless they are small enough for radians.
        if unit is None and concept.kind == "angle" and np.nanmax(np.abs(values)) > _RADIANS_UP_TO:
            unit = unit_of("deg", "angle")
        if unit is None:
            self.undecided[Undecided(concept.name, concept.kind, concept.channel, name)] = values
            return
        plain = unit.factor == 1.0 and unit.offset == 0.0
        self.channels[concept.channel] = values if plain else values * unit.factor + unit.offset
        self.sources.append(Source(shown(name), concept.channel, unit.name, standing))


@dataclass(frozen=True)
class Field:
    """A value that a format names itself."""

    #: In the columns, and in the list of sources.
    name: str
    channel: str
    unit: str
    #: The channel's unit is so many of it.
    factor: float = 1.0
    #: What is said of an altitude that is read from it.
    datum: str = ""
    #: Why it is not used beside a field before it that fills the same channel.
    beside: str = "another field gives this"
    #: Whether an extension for the same channel comes before it.
    weak: bool = False


def height(name: str, what: str, **more: Any) -> Field:
    """Name a height in metres that no altimeter showed, and say what it is."""
    differs = "differs from the indicated altitude by the day's pressure and temperature error"
    datum = f"{what}, not an altimeter's: it {differs}."
    return Field(name, "altitude_ft", "m", FEET_PER_METRE, datum, **more)


#: How most formats call a point's place and time.
_POINT = (Source("lat, lon", "position", "deg", "recognised"), Source("time", "time", "", "recognised"))


def flight_of(
    columns: Mapping[str, FloatArray],
    fields: Sequence[Field],
    content: Content,
    point: Sequence[Source] = _POINT,
    notices: tuple[Notice, ...] = (),
    **more: Any,
) -> RawFlight:
    """Make a flight of a reader's columns: ``time``, ``lat``, ``lon``, the format's fields, and extensions.

    Of two fields that fill one channel the first with values counts. ``more`` are other parts of the flight.
    """
    there = [one for one in fields if one.name in columns and np.isfinite(columns[one.name]).any()]
    found = _extensions(columns, content.options, {one.channel for one in there if not one.weak})
    channels: dict[str, FloatArray] = {}
    sources = list(point)
    for one in there:
        if one.channel in channels:
            sources.append(Source(one.name, "", one.unit, "ignored", one.beside))
        elif one.channel not in found.channels:
            channels[one.channel] = columns[one.name] * one.factor
            sources.append(Source(one.name, one.channel, one.unit, "recognised"))
            notices += (Notice("altitude-datum", one.datum),) if one.datum else ()
    return RawFlight(
        columns.get("time", np.full(columns["lat"].size, np.nan)),
        columns["lat"],
        columns["lon"],
        channels=found.channels | channels,
        notices=notices,
        sources=(*sources, *found.sources),
        undecided={one: it for one, it in found.undecided.items() if one.channel not in channels},
        **more,
    )


def _extensions(
    columns: Mapping[str, FloatArray], options: ReadOptions, taken: Collection[str]
) -> FoundChannels:
    """Read the values of names that are no field's and are untrusted; ``taken`` channels are the format's own."""
    found = FoundChannels()
    named = [name for name in columns if name.startswith(EXTENSION)]
    for name, values in ((name.removeprefix(EXTENSION), columns[name]) for name in named):
        meaning = meaning_of(name) or (meaning_of(name[:-1]) if name.endswith("s") else None)
        reason = ""
        if meaning is None or not meaning.concept.channel:
            reason = "means nothing the program uses"
        elif meaning.concept.channel in taken:
            reason = "the format's own element gives this"
        elif not np.isfinite(values).any():
            reason = "it holds no number"
        elif meaning.concept.channel in found.channels:
            reason = "another field before it gives this"
        if meaning is None or reason:
            found.sources.append(Source(shown(name), "", "", "ignored", reason))
            continue
        told = options.units.get(meaning.concept.name) or options.units.get(name)
        unit = unit_of(told, meaning.concept.kind) if told else meaning.unit
        found.take(name, meaning.concept, values, unit, "told" if told else "recognised")
    return found


#: So many values are turned into numbers at once.
_BLOCK = 8_192

Convert = Callable[[Sequence[Any]], NDArray[Any]]


def to_floats(written: Sequence[str | None]) -> FloatArray:
    """Read decimal numbers; NaN where missing or unreadable."""
    try:
        return np.array(written, dtype=float)
    except (ValueError, TypeError):
        return np.array([to_float(text) for text in written], dtype=float)


def to_float(text: str | None) -> float:
    """Read a decimal number; NaN where it is none."""
    try:
        # float() also reads "1_000"; no log means that. A lone comma is a decimal mark.
        return float("nan") if text is None or "_" in text else float(text.replace(",", "."))
    except ValueError:
        return float("nan")


class Column:
    """One growing list of values, turned a block at a time into numbers, or into rows of them, by ``convert``.

    It may begin with some that are missing.
    """

    def __init__(self, convert: Convert = to_floats, missing: int = 0) -> None:
        self._convert = convert
        self._written: list[Any] = []
        self._blocks: list[NDArray[Any]] = [np.full(missing, np.nan)] if missing else []
        self._done = missing

    def append(self, value: object) -> None:
        """Add one value as it is written."""
        self._written.append(value)
        if len(self._written) >= _BLOCK:
            self._turn()

    def _turn(self) -> None:
        self.extend(self._written)
        self._written = []

    def extend(self, written: list[Any]) -> None:
        """Add a block of values behind those turned before."""
        self._blocks.append(self._convert(written))
        self._done += len(written)
        check_samples(self._done)

    def __len__(self) -> int:
        return self._done + len(self._written)

    def values(self) -> NDArray[Any]:
        """Return everything so far as numbers."""
        if self._written or not self._blocks:
            self._turn()
        self._blocks = [np.concatenate(self._blocks) if len(self._blocks) > 1 else self._blocks[0]]
        return self._blocks[0]


class Samples:
    """Samples that say different things: each is a mapping of names to written values.

    ``converts`` read the values of some names, ``convert`` those of the others; names beyond ``most_names`` are passed
    over.
    """

    def __init__(
        self,
        converts: Mapping[str, Convert] | None = None,
        convert: Convert = to_floats,
        most_names: int = 60,
    ) -> None:
        self._converts, self._convert = converts or {}, convert
        self._most_names = most_names
        self.clear()

    def clear(self) -> None:
        """Keep nothing."""
        self._rows: list[dict[str, Any]] = []
        self._columns: dict[str, Column] = {}
        self._done = 0

    def add(self, row: dict[str, Any]) -> None:
        """Add one sample."""
        self._rows.append(row)
        if len(self._rows) >= _BLOCK:
            self._turn()

    def _turn(self) -> None:
        for name, count in Counter(name for row in self._rows for name in row).items():
            # A name that hardly ever comes again holds no channel, and there may be one in every sample.
            rare = count < LOOK.often_named and len(self._columns) >= LOOK.first_names
            if name not in self._columns and not rare and len(self._columns) < self._most_names:
                self._columns[name] = Column(self._converts.get(name, self._convert), self._done)
        for name, column in self._columns.items():
            column.extend([row.get(name) for row in self._rows])
        self._done += len(self._rows)
        check_samples(self._done)
        self._rows = []

    def __len__(self) -> int:
        return self._done + len(self._rows)

    def columns(self) -> dict[str, NDArray[Any]]:
        """Return each name's values, NaN where a sample lacks it, in the order the names were met."""
        if self._rows:
            self._turn()
        return {name: column.values() for name, column in self._columns.items()}
