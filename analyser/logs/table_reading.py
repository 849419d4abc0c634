"""What is collected while a table's columns are gone through, and where each column's unit comes from."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from analyser.errors import LogError
from analyser.logs.meaning import Meaning
from analyser.logs.raw import Content, FloatArray, Undecided
from analyser.logs.table_layout import Layout
from analyser.logs.text import shown
from analyser.logs.track import Notice, Source
from analyser.logs.units import Unit, unit_of
from analyser.logs.vocabulary import concept_named

if TYPE_CHECKING:
    from pandas import DataFrame

#: Column index, meaning and standing of what was chosen, by the concept's short name.
Chosen = dict[str, tuple[int, Meaning, str]]

_UNIT_HELP = (
    "lengths: m, ft; speeds: kt, km/h, mph, m/s; climb: fpm, m/s; angles: deg, rad; temperature: C, F, K"
)


@dataclass
class Reading:
    """The table and what has been found in it so far.

    Attributes
    ----------
    content : Content
    layout : Layout
    frame : DataFrame
        Its columns are numbered as the layout's headers.
    decimal : str
        The table's decimal mark.
    other_times : list of (int, Meaning)
        Time columns beside the chosen one.
    sources, notices, channels, undecided
        As in :class:`~analyser.logs.raw.RawFlight`.
    """

    content: Content
    layout: Layout
    frame: DataFrame
    decimal: str = "."
    other_times: list[tuple[int, Meaning]] = field(default_factory=list)
    sources: list[Source] = field(default_factory=list)
    notices: list[Notice] = field(default_factory=list)
    channels: dict[str, FloatArray] = field(default_factory=dict)
    undecided: list[Undecided] = field(default_factory=list)

    def note(self, place: int, channel: str, unit: str, standing: str, why: str = "") -> None:
        """Say what became of a column."""
        self.sources.append(Source(shown(self.layout.headers[place]), channel, unit, standing, why))

    def stated_unit(self, place: int, meaning: Meaning) -> tuple[Unit | None, str]:
        """Return the unit the person, the header or the units row gives, and whether it was told."""
        kind, header, units = meaning.concept.kind, self.layout.headers[place], self.content.options.units
        for name, text in units.items():
            concept = concept_named(name)
            if name.strip().casefold() == header.casefold() or (
                concept is not None and concept == meaning.concept
            ):
                unit = unit_of(text, kind)
                if unit is None:
                    raise LogError(
                        f"'{text}' is no unit for '{name}'",
                        file=self.content.name,
                        place="--units",
                        mend=_UNIT_HELP,
                    )
                return unit, "told"
        if meaning.unit is not None:
            return meaning.unit, "recognised"
        words = self.layout.units[place].split()
        found = next((u for text in (self.layout.units[place], *words) if (u := unit_of(text, kind))), None)
        return found, "recognised"
