"""Samples as a reader meets them, one after another, kept as numbers: a long log never stands in memory as text."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analyser.logs.limits import check_samples
from analyser.logs.raw import FloatArray
from analyser.logs.times import iso_seconds, to_floats, zone_notice
from analyser.logs.track import Notice

#: So many values are turned into numbers at once.
_BLOCK = 8_192

Convert = Callable[[Sequence[Any]], NDArray[Any]]


class IsoTimes:
    """Turn written times into POSIX seconds, and count the ones without a zone."""

    def __init__(self) -> None:
        self._without_zone = self._all = 0

    def __call__(self, written: Sequence[str | None]) -> FloatArray:
        """Read a block of times."""
        seconds, without_zone = iso_seconds(written)
        self._without_zone += without_zone
        self._all += len(written)
        return seconds

    def notices(self) -> tuple[Notice, ...]:
        """Say that times carried no zone."""
        return zone_notice(self._without_zone, self._all)


class Column:
    """One growing list of values, turned into numbers a block at a time.

    Parameters
    ----------
    convert : callable
        Takes written values and returns an array with one number, or one row of numbers, for each.
    """

    def __init__(self, convert: Convert = to_floats) -> None:
        self._convert = convert
        self._written: list[Any] = []
        self._blocks: list[FloatArray] = []
        self._done = 0

    def append(self, value: object) -> None:
        """Add one value as it is written."""
        self._written.append(value)
        if len(self._written) >= _BLOCK:
            self._turn()

    def _turn(self) -> None:
        self._blocks.append(self._convert(self._written))
        self._done += len(self._written)
        check_samples(self._done)
        self._written = []

    def __len__(self) -> int:
        return self._done + len(self._written)

    def values(self) -> FloatArray:
        """Return everything so far as numbers."""
        if self._written or not self._blocks:
            self._turn()
        self._blocks = [np.concatenate(self._blocks)]
        return self._blocks[0]


class Samples:
    """Samples that say different things: each is a mapping of names to written values.

    Parameters
    ----------
    converts : mapping of str to callable
        How the values of a name are read, where they are not read as the others.
    convert : callable
        How the others are read.
    most_names : int
        Further names are passed over.
    """

    def __init__(
        self,
        converts: Mapping[str, Convert] | None = None,
        convert: Convert = to_floats,
        most_names: int = 60,
    ) -> None:
        self._converts, self._convert = converts or {}, convert
        self._most_names = most_names
        self._rows: list[dict[str, Any]] = []
        self._blocks: dict[str, list[NDArray[Any]]] = {}
        self._done = 0

    def add(self, row: dict[str, Any]) -> None:
        """Add one sample."""
        self._rows.append(row)
        if len(self._rows) >= _BLOCK:
            self._turn()

    def _turn(self) -> None:
        for name in dict.fromkeys(name for row in self._rows for name in row):
            if name not in self._blocks:
                if len(self._blocks) >= self._most_names:
                    continue
                self._blocks[name] = [np.full(self._done, np.nan)] if self._done else []
            convert = self._converts.get(name, self._convert)
            self._blocks[name].append(convert([row.get(name) for row in self._rows]))
        self._done += len(self._rows)
        check_samples(self._done)
        for blocks in self._blocks.values():
            missing = self._done - sum(block.size for block in blocks)
            if missing:
                blocks.append(np.full(missing, np.nan))
        self._rows = []

    def __len__(self) -> int:
        return self._done + len(self._rows)

    def columns(self) -> dict[str, NDArray[Any]]:
        """Return each name's values, NaN where a sample lacks it, in the order the names were met."""
        if self._rows:
            self._turn()
        for name, blocks in self._blocks.items():
            self._blocks[name] = [_joined(blocks)]
        return {name: blocks[0] for name, blocks in self._blocks.items()}


def _joined(blocks: list[NDArray[Any]]) -> NDArray[Any]:
    if len({block.dtype for block in blocks}) == 1:
        return blocks[0] if len(blocks) == 1 else np.concatenate(blocks)
    # Numbers here and text there: all of it is text, and no number stays nothing.
    return np.concatenate([block if block.dtype == object else _as_text(block) for block in blocks])


def _as_text(values: FloatArray) -> NDArray[Any]:
    return np.array([None if np.isnan(value) else repr(value) for value in values.tolist()], dtype=object)
