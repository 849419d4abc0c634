"""Values that a format carries beside its own, under names of somebody's choice: read as a table's columns are."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from analyser.logs.meaning import meaning_of
from analyser.logs.raw import FloatArray, ReadOptions, Undecided
from analyser.logs.text import shown
from analyser.logs.track import Source
from analyser.logs.units import unit_of


@dataclass
class ExtensionFields:
    """What was found: channels in the program's units, columns whose unit is open, what became of each."""

    channels: dict[str, FloatArray] = field(default_factory=dict)
    undecided: list[Undecided] = field(default_factory=list)
    sources: list[Source] = field(default_factory=list)


def extension_fields(
    values: Mapping[str, FloatArray], options: ReadOptions, taken: Mapping[str, FloatArray] | None = None
) -> ExtensionFields:
    """Read named lists of numbers; names are untrusted.

    Channels that the format itself gives (``taken``) come first.
    """
    found = ExtensionFields()
    taken = taken or {}
    for name, numbers in values.items():
        meaning = meaning_of(name) or (meaning_of(name[:-1]) if name.endswith("s") else None)
        if meaning is None or not meaning.concept.channel:
            found.sources.append(Source(shown(name), "", "", "ignored", "means nothing the program uses"))
            continue
        concept = meaning.concept
        if concept.channel in taken:
            reason = "the format's own element gives this"
        elif not np.isfinite(numbers).any():
            reason = "it holds no number"
        elif concept.channel in found.channels:
            reason = "another field before it gives this"
        else:
            reason = ""
        if reason:
            found.sources.append(Source(shown(name), "", "", "ignored", reason))
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
