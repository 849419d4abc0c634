"""A table's columns: what was found in them so far, where each one's unit comes from, and cells to channels."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from analyser.logs.meaning import Meaning
from analyser.logs.number_text import numbers
from analyser.logs.raw import Content, FloatArray, Undecided
from analyser.logs.table_layout import Layout
from analyser.logs.text import left_out, shown
from analyser.logs.track import PRESSURE_DATUM, Notice, Source
from analyser.logs.units import Unit, unit_of
from analyser.logs.vocabulary import concept_named

if TYPE_CHECKING:
    from pandas import Series

#: Column index, meaning and standing of what was chosen, by the concept's short name.
Chosen = dict[str, tuple[int, Meaning, str]]

#: What a person may say about dates in place of a unit.
DATE_ORDERS = ("dmy", "mdy", "ymd")
_DATE_PATTERN = re.compile(r"\b(?:[dmy]{1,4}[-/. ]?){2}[dmy]{1,4}\b")
_UNIT_HELP = (
    "lengths: m, ft; speeds: kt, km/h, mph, m/s; climb: fpm, m/s; angles: deg, rad, semicircles; temperature: C, F, K; "
    "times: s, ms, min, h, days, unix, gps, 2001, 1904; dates: dmy, mdy, ymd"
)


#: A column of angles with no unit is in degrees unless its values are small enough for radians.
_RADIANS_UP_TO = 6.3
_LEVELS = unit_of("FL", "length")


@dataclass
class Reading:
    """The table and what has been found in it so far.

    Attributes
    ----------
    content : Content
    layout : Layout
    columns : mapping of int to Series
        By their places among the layout's headers.
    decimal : str
        The table's decimal mark.
    other_times : list of (int, Meaning)
        Time columns beside the chosen one.
    sources, notices, channels, undecided
        As in :class:`~analyser.logs.raw.RawFlight`.
    """

    content: Content
    layout: Layout
    columns: Mapping[int, Series[Any]]
    decimal: str = "."
    other_times: list[tuple[int, Meaning]] = field(default_factory=list)
    sources: list[Source] = field(default_factory=list)
    notices: list[Notice] = field(default_factory=list)
    channels: dict[str, FloatArray] = field(default_factory=dict)
    undecided: list[Undecided] = field(default_factory=list)

    def note(self, place: int, channel: str, unit: str, standing: str, why: str = "") -> None:
        """Say what became of a column."""
        self.sources.append(Source(shown(self.layout.headers[place]), channel, unit, standing, why))

    def date_order(self, name: str, place: int) -> str:
        """Return how the person or the header says that dates are written: one of the orders, or ``""``."""
        units, header = self.content.options.units, self.layout.headers[place]
        text = units.get(name) or units.get(header) or ""
        if text in DATE_ORDERS:
            return text
        pattern = _DATE_PATTERN.search(f"{header} {self.layout.units[place]}".lower())
        order = "".join(dict.fromkeys(letter for letter in pattern[0] if letter in "dmy")) if pattern else ""
        return order if order in DATE_ORDERS else ""

    def stated_unit(self, place: int, meaning: Meaning) -> tuple[Unit | None, str]:
        """Return the unit the person, the header or the units row gives, and whether it was told."""
        kind, header, units = meaning.concept.kind, self.layout.headers[place], self.content.options.units
        for name, text in units.items():
            concept = concept_named(name)
            if name.strip().casefold() == header.casefold() or (
                concept is not None and concept == meaning.concept
            ):
                unit = unit_of(text, kind)
                if text in DATE_ORDERS:
                    continue
                if unit is None:
                    raise self.content.refusal(f"'{text}' is no unit for '{name}'", "--units", _UNIT_HELP)
                return unit, "told"
        if meaning.unit is not None:
            return meaning.unit, "recognised"
        words = self.layout.units[place].split()
        found = next((u for text in (self.layout.units[place], *words) if (u := unit_of(text, kind))), None)
        return found, "recognised"


def table_channel(reading: Reading, name: str, place: int, meaning: Meaning, standing: str) -> None:
    """Read one column into its channel, or leave its unit to be decided."""
    values, written = numbers(reading.columns[place], reading.decimal)
    concept = meaning.concept
    if not np.isfinite(values).any():
        reading.note(place, "", "", "ignored", "no cell holds a number")
        return
    unit, told = reading.stated_unit(place, meaning)
    if written:
        before = int(np.isfinite(values).sum())
        values, unit = _in_one_unit(values, written, unit, concept.kind)
        lost = before - int(np.isfinite(values).sum())
        if lost:
            header = shown(reading.layout.headers[place])
            message = left_out(
                lost,
                f"cell of column '{header}' gives no unit that fits beside others that do",
                f"cells of column '{header}' give no unit that fits beside others that do",
            )
            reading.notices.append(Notice("unit-unknown", message))
    if written and not np.isfinite(values).any():
        reading.note(place, "", "", "ignored", "its cells carry units that do not fit it")
        return
    if (
        unit is None
        and concept.kind == "angle"
        and np.abs(values[np.isfinite(values)]).max() > _RADIANS_UP_TO
    ):
        unit = unit_of("deg", "angle")
    if unit is None:
        reading.undecided.append(
            Undecided(name, concept.kind, concept.channel, reading.layout.headers[place], values)
        )
        return
    reading.note(place, concept.channel, unit.name, "told" if "told" in (told, standing) else standing)
    plain = unit.factor == 1.0 and unit.offset == 0.0
    reading.channels[concept.channel] = values if plain else values * unit.factor + unit.offset
    if concept.name == "alt":
        levels = any(unit_of(text, "length") == _LEVELS for text in set(written))
        reading.notices.extend(_datum(set(meaning.words) | ({"level"} if levels else set())))


def _in_one_unit(
    values: FloatArray, written: list[str], stated: Unit | None, kind: str
) -> tuple[FloatArray, Unit | None]:
    """Bring cells that carry units to one: a cell's own unit counts for it, the column's for bare cells.

    Bare cells beside ones with a unit share it, unless it is flight levels: 4500 beside FL150 is no level.
    """
    units = {text: unit_of(text, kind) for text in set(written) - {""}}
    known = [unit for text in written if text and (unit := units[text]) is not None]
    if not known:
        return values, stated
    to = stated or known[0]
    alone = len({unit.name for unit in known}) == 1 and known[0] != _LEVELS
    bare = stated or (known[0] if alone else None)
    cells: list[Unit | None] = [units[text] if text else bare for text in written]
    factor = np.array([unit.factor if unit is not None else np.nan for unit in cells])
    offset = np.array([unit.offset if unit is not None else np.nan for unit in cells])
    return (values * factor + offset - to.offset) / to.factor, to


def _datum(words: set[str]) -> list[Notice]:
    if words & {"gps", "gnss", "geometric", "geom", "geo", "wgs84", "hae", "ellipsoid", "wgs"}:
        datum = "a receiver's height, not an altimeter's: it differs from the indicated altitude by the day's error"
    elif words & {"pressure", "pres", "press", "fl", "level", "standard", "std", "qne"}:
        datum = PRESSURE_DATUM
    else:
        return []
    return [Notice("altitude-datum", f"The altitude column is {datum}.")]
