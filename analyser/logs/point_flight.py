"""A flight from samples that name their own time, place and values: what GPX, TCX and FIT have in common."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyser.logs.extension_fields import extension_fields
from analyser.logs.raw import Content, FloatArray, RawFlight
from analyser.logs.samples import IsoTimes, Samples
from analyser.logs.text import shown
from analyser.logs.track import Notice, Source

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
    for field in fields:
        values = columns.get(field.name)
        if values is None or not np.isfinite(values).any():
            continue
        if field.channel in channels:
            sources.append(Source(field.name, "", field.unit, "ignored", "another field gives this"))
            continue
        channels[field.channel] = values * field.factor
        sources.append(Source(field.name, field.channel, field.unit, "recognised"))
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
