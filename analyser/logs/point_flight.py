"""A flight from samples that name their own time, place and values: what GPX, TCX and FIT have in common.

Values that a format carries beside its own, under names of somebody's choice, are read as a table's columns are.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from analyser.logs.meaning import meaning_of
from analyser.logs.raw import Content, FloatArray, RawFlight, ReadOptions, Undecided
from analyser.logs.samples import IsoTimes, Samples
from analyser.logs.text import shown
from analyser.logs.track import Notice, Source
from analyser.logs.units import unit_of

#: Names of values that are no field of the format begin so.
EXTENSION = "+"


@dataclass(frozen=True)
class Field:
    """A value that a format names itself.

    Attributes
    ----------
    name : str
        In the samples, and in the list of sources.
    channel : str
    unit : str
    factor : float
        The program's unit is so many of it.
    """

    name: str
    channel: str
    unit: str
    factor: float = 1.0


class Points:
    """The points of one track: samples with ``time``, ``lat``, ``lon``, the format's fields, and extensions."""

    def __init__(self, *, iso_times: bool = True) -> None:
        self.label = ""
        self.times = IsoTimes()
        self.samples = Samples({"time": self.times} if iso_times else None)


def point_flight(
    points: Points, fields: Sequence[Field], content: Content, notices: tuple[Notice, ...], datum: str
) -> RawFlight:
    """Make a flight; of two fields that fill one channel the first with values counts, datum is said of an altitude."""
    columns = points.samples.columns()
    absent = np.full(len(points.samples), np.nan)
    channels: dict[str, FloatArray] = {}
    sources = [Source("lat, lon", "position", "deg", "recognised"), Source("time", "time", "", "recognised")]
    for one in fields:
        values = columns.get(one.name)
        if values is None or not np.isfinite(values).any():
            continue
        if one.channel in channels:
            sources.append(Source(one.name, "", one.unit, "ignored", "another field gives this"))
            continue
        channels[one.channel] = values * one.factor
        sources.append(Source(one.name, one.channel, one.unit, "recognised"))
    extensions = {
        name.removeprefix(EXTENSION): values for name, values in columns.items() if name.startswith(EXTENSION)
    }
    more = extension_fields(extensions, content.options, channels)
    channels = more.channels | channels
    if datum and "altitude_ft" in channels:
        notices += (Notice("altitude-datum", datum),)
    return RawFlight(
        columns.get("time", absent),
        columns.get("lat", absent),
        columns.get("lon", absent),
        channels=channels,
        label=shown(points.label),
        notices=notices + points.times.notices(),
        sources=(*sources, *more.sources),
        undecided=tuple(one for one in more.undecided if one.channel not in channels),
    )


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
