"""Values that a format carries beside its own, under names of somebody's choice: read as a table's columns are."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from analyser.logs.meaning import meaning_of
from analyser.logs.raw import FloatArray, ReadOptions, Undecided
from analyser.logs.text import shown
from analyser.logs.track import Source
from analyser.logs.units import unit_of


@dataclass
class NamedChannels:
    """What was found.

    Attributes
    ----------
    channels : dict of str to (n,) float array
    undecided : list of Undecided
    sources : list of Source
    """

    channels: dict[str, FloatArray] = field(default_factory=dict)
    undecided: list[Undecided] = field(default_factory=list)
    sources: list[Source] = field(default_factory=list)


def named_channels(values: Mapping[str, Sequence[object]], options: ReadOptions) -> NamedChannels:
    """Read named lists of numbers.

    Parameters
    ----------
    values : mapping of str to sequence of length n
        Names are untrusted.
    options : ReadOptions
        Units that the person said.

    Returns
    -------
    NamedChannels
    """
    found = NamedChannels()
    for name, written in values.items():
        meaning = meaning_of(name) or (meaning_of(name[:-1]) if name.endswith("s") else None)
        if meaning is None or not meaning.concept.channel:
            found.sources.append(Source(shown(name), "", "", "ignored", "means nothing the program uses"))
            continue
        concept = meaning.concept
        numbers = np.array([_number(value) for value in written], dtype=float)
        if concept.channel in found.channels or not np.isfinite(numbers).any():
            found.sources.append(Source(shown(name), "", "", "ignored", "empty, or another says the same"))
            continue
        told = options.units.get(concept.name) or options.units.get(name)
        unit = unit_of(told, concept.kind) if told else meaning.unit
        if unit is None and concept.kind == "angle" and np.nanmax(np.abs(numbers)) > 6.3:
            unit = unit_of("deg", "angle")
        if unit is None:
            found.undecided.append(Undecided(concept.name, concept.kind, concept.channel, name, numbers))
            continue
        found.channels[concept.channel] = numbers * unit.factor + unit.offset
        standing = "told" if told else "recognised"
        found.sources.append(Source(shown(name), concept.channel, unit.name, standing))
    return found


def _number(value: object) -> float:
    if isinstance(value, bool) or value is None:
        return float("nan")
    try:
        return float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError, OverflowError):
        return float("nan")
