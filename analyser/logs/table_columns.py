"""A table's columns: what each holds, by the person, its header or its cells; its unit; one column for each meaning."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from analyser.errors import LogError
from analyser.logs.meaning import Meaning, concept_named, meaning_of, words_of
from analyser.logs.number_text import SIDES
from analyser.logs.raw import Content, FloatArray, Undecided
from analyser.logs.table_layout import Layout
from analyser.logs.text import shown
from analyser.logs.times import header_zone
from analyser.logs.track import Notice, Source
from analyser.logs.units import Unit, unit_of

if TYPE_CHECKING:
    from pandas import Series

#: Column index, meaning and standing of what was chosen, by the concept's short name.
Chosen = dict[str, tuple[int, Meaning, str]]
#: Meaning and standing of columns, by their index.
Meanings = dict[int, tuple[Meaning, str]]
#: What a person may say about dates in place of a unit.
DATE_ORDERS = ("dmy", "mdy", "ymd")
_DATE_PATTERN = re.compile(r"\b(?:[dmy]{1,4}[-/. ]?){2}[dmy]{1,4}\b")
UNIT_HELP = (
    "lengths: m, ft; speeds: kt, km/h, mph, m/s; climb: fpm, m/s; angles: deg, rad, semicircles; temperature: C, F, K; "
    "times: s, ms, min, h, days, unix, gps, 2001, 1904; dates: dmy, mdy, ymd"
)


def meanings(layout: Layout, content: Content, rows: Sequence[Sequence[str]] = ()) -> Meanings:
    """Give each column its meaning and standing: what the person said (``"told"``) first, then what the header says.

    ``rows`` are the cells of the first rows, for columns that only their cells tell. LogError for a header or a unit's
    column that is not there.
    """
    folded = {header.casefold() for header in layout.headers}
    for name in content.options.units:
        if concept_named(name) is None and name.strip().casefold() not in folded:
            # A unit for no column would be passed over in silence.
            raise _no_column(name, "--units", layout.headers, content)
    found: Meanings = {}
    taken: set[str] = set()
    for name, header in content.options.columns.items():
        concept = concept_named(name)
        if concept is not None:
            place = _place(layout.headers, header, content)
            own = meaning_of(layout.headers[place])
            unit = own.unit if own is not None and own.concept.kind == concept.kind else None
            found[place] = (Meaning(concept, -1, unit, tuple(words_of(header))), "told")
            taken.add(concept.name)
    for place, header in enumerate(layout.headers):
        meaning = _meaning(header, layout.units[place]) if header and place not in found else None
        if meaning is not None and meaning.concept.name not in taken:
            found[place] = (meaning, "recognised")
    return _with_sides(found, rows)


def _meaning(header: str, unit: str) -> Meaning | None:
    """Read a header, alone or with what its units row adds: ``AltB`` over ``ft Baro``."""
    found = meaning_of(header) or (meaning_of(f"{header} {unit}") if len(unit.split()) > 1 else None)
    if found is None:
        zoned = meaning_of(header_zone(header)[0])
        found = zoned if zoned is not None and zoned.concept.name in ("time", "date", "hour") else None
    return found


def _with_sides(found: Meanings, rows: Sequence[Sequence[str]]) -> Meanings:
    """Tell columns of letters beside positions from the positions, by their cells.

    Passed over, such a column would put a flight on the other side of the globe and turn its right turns into left
    ones. ``LATITUDE N/S`` may head letters, or whole positions such as ``31.769598N``.
    """
    found = dict(found)
    for name, (positive, negative) in SIDES.items():
        letters = {word for word in (*positive, *negative, "o") if word.isalpha()}
        place, side = concept_named(name), concept_named(f"{name}_side")
        if place is None or side is None:
            continue
        at = {meaning.concept.name: column for column, (meaning, _) in found.items()}
        if name not in at and side.name in at and _holds_digits(rows, at[side.name]):
            meaning, standing = found[at[side.name]]
            found[at[side.name]] = (Meaning(place, 0, None, meaning.words), standing)
        elif name in at and side.name not in at:
            for column in (at[name] + 1, at[name] - 1):
                cells_ = {row[column].lower() for row in rows if 0 <= column < len(row) and row[column]}
                if cells_ and cells_ <= letters and column not in found:
                    found[column] = (Meaning(side, 0, None, ()), "recognised")
                    break
    return found


def _holds_digits(rows: Sequence[Sequence[str]], column: int) -> bool:
    filled = [row[column] for row in rows if column < len(row) and row[column]]
    return sum(any(letter.isdigit() for letter in cell) for cell in filled) > 0.5 * len(filled) > 0


def _place(headers: Sequence[str], wanted: str, content: Content) -> int:
    for fold in (str.strip, lambda text: text.strip().casefold()):
        matches = [place for place, header in enumerate(headers) if fold(header) == fold(wanted)]
        if matches:
            return matches[0]
    if wanted.strip().isdigit() and 1 <= int(wanted) <= len(headers):
        return int(wanted) - 1
    raise _no_column(wanted, "--columns", headers, content)


def _no_column(name: str, option: str, headers: Sequence[str], content: Content) -> LogError:
    there = ", ".join(f"'{header}'" for header in headers[:40] if header)
    return content.refusal(f"there is no column '{name}'", option, f"the columns are {there}")


@dataclass
class Reading:
    """The table and what has been found in it so far, as in :class:`~analyser.logs.raw.RawFlight`."""

    content: Content
    layout: Layout
    #: By their places among the layout's headers.
    columns: Mapping[int, Series[Any]]
    #: The table's decimal mark.
    decimal: str = "."
    #: Time columns beside the chosen one.
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
        told = next(
            (text for key in (name, header, "date") if (text := units.get(key, "")) in DATE_ORDERS), ""
        )
        if told:
            return told
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
                    raise self.content.refusal(f"'{text}' is no unit for '{name}'", "--units", UNIT_HELP)
                return unit, "told"
        if meaning.unit is not None:
            return meaning.unit, "recognised"
        words = self.layout.units[place].split()
        found = next((u for text in (self.layout.units[place], *words) if (u := unit_of(text, kind))), None)
        return found, "recognised"


def _filled(column: Series[Any]) -> int:
    if column.dtype.kind == "f":
        return column.size - int(np.count_nonzero(np.isnan(column.to_numpy())))
    return int(column.count())


def choose_columns(reading: Reading, found: Meanings) -> Chosen:
    """Keep one column for each meaning: the person's, then the better phrase, then the one with more values."""
    chosen: Chosen = {}
    filled = {place: _filled(reading.columns[place]) for place in found}
    # An altitude that says its unit is worth more than a better altitude that does not.
    unsaid = {
        p: found[p][0].concept.name == "alt" and reading.stated_unit(p, found[p][0])[0] is None for p in found
    }
    order = sorted(found, key=lambda p: (found[p][1] != "told", unsaid[p], found[p][0].rank, -filled[p], p))
    for place in order:
        meaning, standing = found[place]
        name = meaning.concept.name
        if filled[place] == 0:
            reading.note(place, "", "", "ignored", "the column is empty")
        elif name == "time" and name in chosen:
            reading.other_times.append((place, meaning))
        elif name in chosen:
            other = reading.layout.headers[chosen[name][0]]
            reading.note(place, "", "", "ignored", f"'{shown(other)}' was used instead")
        elif name == "time":
            chosen[name] = (place, meaning, standing)
        else:
            # A better phrase with hardly any values loses to a plainer one that is filled.
            rivals = [p for p in order if found[p][0].concept.name == name and filled[p] > 5 * filled[place]]
            if rivals and standing != "told":
                reading.note(place, "", "", "ignored", "nearly empty, and another column says the same")
            else:
                chosen[name] = (place, meaning, standing)
    return chosen
