"""A table's columns: what each holds, by the person, its header or its cells; its unit; one column for each meaning."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from analyser.errors import LogError
from analyser.logs.limits import some_of
from analyser.logs.log_thresholds import LOOK
from analyser.logs.meaning import TOLD, Meaning, concept_named, meaning_of, vocabulary, words_of
from analyser.logs.number_text import SIDES, numbers
from analyser.logs.raw import Content, FloatArray
from analyser.logs.samples import FoundChannels
from analyser.logs.table_layout import Layout
from analyser.logs.text import shown
from analyser.logs.time_numbers import counted_since
from analyser.logs.times import header_zone
from analyser.logs.track import Notice, Source
from analyser.logs.units import Unit, unit_of

if TYPE_CHECKING:
    from pandas import Series

#: What a person may say about dates in place of a unit.
DATE_ORDERS = ("dmy", "mdy", "ymd")
_DATE_PATTERN = re.compile(r"\b(?:[dmy]{1,4}[-/. ]?){2}[dmy]{1,4}\b")
_SIX_DIGITS = re.compile(r"\d{6}(?:[.,]\d+)?$")
UNIT_HELP = (
    "lengths: m, ft; speeds: kt, km/h, mph, m/s; climb: fpm, m/s; angles: deg, rad, semicircles; temperature: C, F, K; "
    "times: s, ms, 0.1s, min, h, days, unix, gps, 2001, 1904; dates: dmy, mdy, ymd"
)


def meanings(layout: Layout, content: Content, rows: Sequence[Sequence[str]] = ()) -> dict[int, Meaning]:
    """Give columns, by their places, their meanings: what the person said first, then what the header says.

    ``rows`` are the cells of the first rows, for columns that only their cells tell. LogError for a header or a unit's
    column that is not there.
    """
    folded = {header.casefold() for header in layout.headers}
    for name in content.options.units:
        if concept_named(name) is None and name.strip().casefold() not in folded:
            # A unit for no column would be passed over in silence.
            raise _no_column(name, "--units", layout.headers, content)
    found: dict[int, Meaning] = {}
    for name, header in content.options.columns.items():
        concept = concept_named(name)
        if concept is not None:
            place = _place(layout.headers, header, content)
            own = meaning_of(layout.headers[place])
            unit = own.unit if own is not None and own.concept.kind == concept.kind else None
            found[place] = Meaning(concept, TOLD, unit, tuple(words_of(header)))
    taken = {meaning.concept.name for meaning in found.values()}
    for place, header in enumerate(layout.headers):
        meaning = _meaning(header, layout.units[place]) if header and place not in found else None
        if meaning is not None and meaning.words == ("zone",):
            # The zones of a map's grid, 32U, are none of time, UTC+2 or CET.
            zones = _filled_cells(rows, place)
            if not zones or not all(re.match(r"[+-]\d|[A-Za-z]{2}", cell) for cell in zones):
                continue
        beside = {one.lower() for one in layout.headers[max(place - 1, 0) : place + 2]}
        if meaning is not None and meaning.words == ("mm",) and beside & {"yyyy", "dd"}:
            meaning = meaning_of("month")
        if (
            meaning is not None
            and meaning.concept.name == "time"
            and _are_six_digits(_filled_cells(rows, place))
        ):
            meaning = replace(meaning, words=(*meaning.words, "hhmmss"))
        if meaning is not None and meaning.concept.name not in taken:
            found[place] = meaning
    return _with_sides(found, rows)


def _are_six_digits(cells: Sequence[str]) -> bool:
    """Tell hours, minutes and seconds run together by a zero before them, 083000, which no count of seconds has."""
    return bool(cells) and all(map(_SIX_DIGITS.match, cells)) and any(cell[0] == "0" for cell in cells)


def _meaning(header: str, unit: str) -> Meaning | None:
    """Read a header, alone or with what its units row adds: ``AltB`` over ``ft Baro``."""
    for text in (header, unit):
        counted = counted_since(text)
        words = counted[0] if counted and text is header else header
        own = (meaning_of(words) or meaning_of(f"{words} time")) if counted else None
        if (
            counted
            and own is not None
            and own.concept.name in ("time", "date")
            and (time := concept_named("time"))
        ):
            return replace(own, concept=time, unit=counted[1])
    found = meaning_of(header) or (meaning_of(f"{header} {unit}") if len(unit.split()) > 1 else None)
    if found is None:
        zoned = meaning_of(header_zone(header)[0])
        found = zoned if zoned is not None and zoned.concept.name in ("time", "date", "hour") else None
    return found


def _with_sides(found: dict[int, Meaning], rows: Sequence[Sequence[str]]) -> dict[int, Meaning]:
    """Tell columns of letters beside positions from the positions, by their cells.

    Passed over, such a column would put a flight on the other side of the globe and turn its right turns into left
    ones. ``LATITUDE N/S`` may head letters, or whole positions such as ``31.769598N``.
    """
    concepts = {concept.name: concept for concept in vocabulary().concepts}
    for name, (positive, negative) in SIDES.items():
        letters = {word for word in (*positive, *negative, "o") if word.isalpha()}
        position, side = concepts[name], concepts[f"{name}_side"]
        at = {meaning.concept.name: place for place, meaning in found.items()}
        if name not in at and f"{name}_seconds" in at and f"{name}_minutes" not in at:
            # "Latitude (S)" heads seconds of arc only beside minutes.
            place = at[name] = at.pop(f"{name}_seconds")
            found[place] = Meaning(position, 0, None, (*found[place].words, "south"))
        if name not in at and side.name in at:
            filled = _filled_cells(rows, at[side.name])
            if sum(any(map(str.isdigit, cell)) for cell in filled) > 0.5 * len(filled) > 0:
                there = found[at[side.name]]
                found[at[side.name]] = replace(there, concept=position, rank=min(there.rank, 0), unit=None)
        elif name in at and side.name not in at:
            for place in (at[name] + 1, at[name] - 1):
                cells = {cell.lower() for cell in _filled_cells(rows, place)}
                if cells and cells <= letters and place not in found:
                    found[place] = Meaning(side, 0, None, ())
                    break
    return found


def _filled_cells(rows: Sequence[Sequence[str]], place: int) -> list[str]:
    return [row[place] for row in rows if 0 <= place < len(row) and row[place]]


def _place(headers: Sequence[str], wanted: str, content: Content) -> int:
    wanted, written = wanted.strip(), [header.strip() for header in headers]
    # One that is written alike comes before one in other letters.
    for name, names in ((wanted, written), (wanted.casefold(), [header.casefold() for header in written])):
        if name in names:
            return names.index(name)
    if wanted.isdigit() and 1 <= int(wanted) <= len(headers):
        return int(wanted) - 1
    raise _no_column(wanted, "--columns", headers, content)


def _no_column(name: str, option: str, headers: Sequence[str], content: Content) -> LogError:
    there = ", ".join(f"'{header}'" for header in headers[:40] if header)
    return content.refusal(f"there is no column '{name}'", option, f"the columns are {there}")


@dataclass(eq=False)
class FlightTable:
    """A table cut into columns, and what has been found in it so far."""

    content: Content
    layout: Layout
    #: By their places among the layout's headers.
    cells: Mapping[int, Series[Any]]
    meanings: Mapping[int, Meaning]
    #: The table's decimal mark.
    decimal: str = "."
    #: One column for each meaning, by the concept's short name.
    chosen: dict[str, TableColumn] = field(default_factory=dict)
    #: Columns that mean the same as chosen ones.
    beside: list[TableColumn] = field(default_factory=list)
    found: FoundChannels = field(default_factory=FoundChannels)
    notices: list[Notice] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Keep one column for each meaning: the person's, then the better phrase, then the one with more values."""
        columns = [TableColumn(self, place, meaning) for place, meaning in self.meanings.items()]
        alike = Counter(column.meaning.concept.name for column in columns)
        filled = {column.place: _filled(column.cells) for column in columns}
        columns.sort(
            key=lambda c: (
                not c.meaning.told,
                # An altitude that says its unit is worth more than a better altitude that does not.
                c.meaning.concept.name == "alt" and c.unit() is None,
                alike[c.meaning.concept.name] > 1 and _stands_still(c),
                c.meaning.rank,
                -filled[c.place],
                c.place,
            )
        )
        # Latitude and longitude are one sensor's, where the headers tell sensors apart.
        lat = [_sensor(c) for c in columns if c.meaning.concept.name == "lat" and filled[c.place]] or [set()]
        columns.sort(
            key=lambda c: c.meaning.concept.name == "lon" and not c.meaning.told and _sensor(c) != lat[0]
        )
        for column in columns:
            name, rows = column.meaning.concept.name, filled[column.place]
            other = self.chosen.get(name)
            if rows == 0:
                column.ignore("the column is empty")
            elif other is not None:
                self.beside.append(column)
                if name != "time":
                    column.ignore(f"'{other.header}' was used instead")
            # A better phrase with hardly any values loses to a plainer one that is filled.
            elif not (name == "time" or column.meaning.told) and any(
                c.meaning.concept.name == name and filled[c.place] > 5 * rows for c in columns
            ):
                column.ignore("nearly empty, and another column says the same")
            else:
                self.chosen[name] = column

    def words(self, *names: str) -> set[str]:
        """Return the words of the headers of some meanings' columns."""
        return {word for name in names if name in self.chosen for word in self.chosen[name].meaning.words}

    def notice(self, code: str, message: str) -> None:
        """Say something of the table."""
        self.notices.append(Notice(code, message))


def _stands_still(column: TableColumn) -> bool:
    """Tell a place that a flight may go to, or the time of the export, by its one value."""
    cells = column.cells.iloc[: LOOK.changing_rows]
    if column.meaning.concept.name not in ("lat", "lon", "time") or not cells.size:
        return False
    return bool((cells == cells.iloc[0]).all())


def _sensor(column: TableColumn) -> set[str]:
    """Return the words of a position's header that say where it comes from: ``raw``, ``filtered``."""
    return set(vocabulary().key(column.meaning.words)) - {"latitude", "longitude"}


def _filled(cells: Series[Any]) -> int:
    if cells.dtype.kind == "f":
        return cells.size - int(np.count_nonzero(np.isnan(cells.to_numpy())))
    return int(cells.count())


@dataclass(frozen=True, eq=False)
class TableColumn:
    """One column that means something."""

    table: FlightTable
    place: int
    meaning: Meaning

    @property
    def written_header(self) -> str:
        """The header as it is written. Untrusted."""
        return self.table.layout.headers[self.place]

    @property
    def header(self) -> str:
        """The header, fit to be shown."""
        return shown(self.written_header)

    @property
    def cells(self) -> Series[Any]:
        """The cells of all rows."""
        return self.table.cells[self.place]

    @property
    def holds_numbers(self) -> bool:
        """Whether most filled cells are numbers, by a few of them; a table may end with words."""
        if self.cells.dtype.kind in "fiu":
            return True
        written = self.cells.dropna()
        few = written.iloc[some_of(len(written), LOOK.number_cells)].reset_index(drop=True)
        return float(np.isfinite(numbers(few)[0]).mean()) > 0.5

    def numbers(self) -> FloatArray:
        """Read the cells as numbers, whatever units they carry; NaN where missing or unreadable."""
        return numbers(self.cells, self.table.decimal)[0]

    def unit(self) -> Unit | None:
        """Return the unit that the person, the header or the units row gives; LogError for a person's that is none."""
        told = self._told_unit() or self.meaning.unit
        row = self.table.layout.units[self.place]
        units = (unit_of(text, self.meaning.concept.kind) for text in (row, *row.split()))
        return told or next((unit for unit in units if unit is not None), None)

    def _told_unit(self) -> Unit | None:
        concept = self.meaning.concept
        for name, text in self.table.content.options.units.items():
            own = name.strip().casefold() == self.written_header.casefold() or concept_named(name) == concept
            if own and concept.kind and text not in DATE_ORDERS:
                unit = unit_of(text, concept.kind)
                if unit is None:
                    what = f"'{text}' is no unit for '{name}'"
                    raise self.table.content.refusal(what, "--units", UNIT_HELP)
                return unit
        return None

    def date_order(self, name: str) -> str:
        """Return how the person or the header says that dates are written: one of the orders, or ``""``."""
        units = self.table.content.options.units
        for told in (units.get(key, "") for key in (name, self.written_header, "date")):
            if told in DATE_ORDERS:
                return told
        pattern = _DATE_PATTERN.search(f"{self.written_header} {self.table.layout.units[self.place]}".lower())
        order = "".join(dict.fromkeys(letter for letter in pattern[0] if letter in "dmy")) if pattern else ""
        return order if order in DATE_ORDERS else ""

    @property
    def standing(self) -> str:
        """Whether the person told what it holds, or its unit, or the file did."""
        return "told" if self.meaning.told or self._told_unit() is not None else "recognised"

    def note(self, channel: str, unit: str = "", standing: str = "", why: str = "") -> None:
        """Say what the column was taken for."""
        source = Source(self.header, channel, unit, standing or self.standing, why)
        self.table.found.sources.append(source)

    def ignore(self, why: str) -> None:
        """Say why the column was not used."""
        self.note("", "", "ignored", why)
