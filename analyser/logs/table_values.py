"""A table's channels: cells to numbers in the program's units, or columns whose unit is still open."""

from __future__ import annotations

import numpy as np

from analyser.logs.meaning import Meaning
from analyser.logs.raw import FloatArray, Undecided
from analyser.logs.table_cells import numbers
from analyser.logs.table_reading import Reading
from analyser.logs.text import left_out, shown
from analyser.logs.track import Notice
from analyser.logs.units import Unit, unit_of

#: A column of angles with no unit is in degrees unless its values are small enough for radians.
_RADIANS_UP_TO = 6.3
_LEVELS = unit_of("FL", "length")


def table_channel(reading: Reading, name: str, place: int, meaning: Meaning, standing: str) -> None:
    """Read one column into its channel, or leave its unit to be decided.

    Parameters
    ----------
    reading : Reading
        Gets the channel and what became of the column.
    name : str
        The concept's short name.
    place : int
        Column.
    meaning : Meaning
    standing : str
    """
    values, written = numbers(reading.frame[place], reading.decimal)
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
            said = left_out(
                lost,
                f"cell of column '{header}' gives no unit that fits beside others that do",
                f"cells of column '{header}' give no unit that fits beside others that do",
            )
            reading.notices.append(Notice("unit-unknown", said))
    known = np.isfinite(values)
    if not known.any():
        reading.note(place, "", "", "ignored", "its cells carry units that do not fit it")
        return
    if unit is None and concept.kind == "angle" and np.abs(values[known]).max() > _RADIANS_UP_TO:
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
        said = "a receiver's height, not an altimeter's: it differs from the indicated altitude by the day's error"
    elif words & {"pressure", "pres", "press", "fl", "level", "standard", "std", "qne"}:
        said = "pressure altitude on 1013.25 hPa: below the transition level it differs from the indicated altitude"
    else:
        return []
    return [Notice("altitude-datum", f"The altitude column is {said}.")]
