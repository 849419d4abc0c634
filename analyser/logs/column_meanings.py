"""What each column of a table holds: what the person said first, then what its header says, then its cells."""

from __future__ import annotations

from collections.abc import Sequence

from analyser.logs.meaning import Meaning, meaning_of, words_of
from analyser.logs.raw import Content
from analyser.logs.table_layout import Layout
from analyser.logs.time_text import header_zone
from analyser.logs.vocabulary import concept_named


def meanings(
    layout: Layout, content: Content, rows: Sequence[Sequence[str]] = ()
) -> dict[int, tuple[Meaning, str]]:
    """Give each column its meaning: what the person said first, then what the header says.

    ``rows`` are the cells of the first rows, for columns that only their cells tell. Each column's index gives its
    meaning and standing (``"told"`` or ``"recognised"``).

    Raises
    ------
    LogError
        For a header that is not there.
    """
    _check_units(layout, content)
    found: dict[int, tuple[Meaning, str]] = {}
    taken: set[str] = set()
    for name, header in content.options.columns.items():
        concept = concept_named(name)
        if concept is None:
            continue
        place = _place(layout.headers, header, content)
        unit = meaning_of(layout.headers[place])
        keeps = unit.unit if unit is not None and unit.concept.kind == concept.kind else None
        found[place] = (Meaning(concept, -1, keeps, tuple(words_of(header))), "told")
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


#: What cells say beside positions without signs.
_SIDES = {"lat": {"n", "s", "north", "south"}, "lon": {"e", "w", "east", "west"}}


def _with_sides(
    found: dict[int, tuple[Meaning, str]], rows: Sequence[Sequence[str]]
) -> dict[int, tuple[Meaning, str]]:
    """Tell columns of letters beside positions from the positions, by their cells.

    Passed over, such a column would put a flight on the other side of the globe and turn its right turns into left
    ones. ``LATITUDE N/S`` may head letters, or whole positions such as ``31.769598N``.
    """
    found = dict(found)
    for name, letters in _SIDES.items():
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


def _check_units(layout: Layout, content: Content) -> None:
    """Refuse a unit for a column that is not there: it would be passed over in silence."""
    folded = {header.casefold() for header in layout.headers}
    for name in content.options.units:
        if concept_named(name) is None and name.strip().casefold() not in folded:
            listed = ", ".join(f"'{header}'" for header in layout.headers[:40] if header)
            raise content.refusal(f"there is no column '{name}'", "--units", f"the columns are {listed}")


def _place(headers: Sequence[str], wanted: str, content: Content) -> int:
    for fold in (str.strip, lambda text: text.strip().casefold()):
        matches = [place for place, header in enumerate(headers) if fold(header) == fold(wanted)]
        if matches:
            return matches[0]
    if wanted.strip().isdigit() and 1 <= int(wanted) <= len(headers):
        return int(wanted) - 1
    listed = ", ".join(f"'{header}'" for header in headers[:40] if header)
    raise content.refusal(f"there is no column '{wanted}'", "--columns", f"the columns are {listed}")
