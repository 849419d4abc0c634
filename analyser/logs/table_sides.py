"""Columns of N and S, E and W beside positions without signs: south and west are negative.

Passed over, they would put a flight on the other side of the globe and turn its right turns into left ones.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analyser.logs.meaning import Meaning
from analyser.logs.raw import FloatArray
from analyser.logs.table_reading import Chosen, Reading
from analyser.logs.vocabulary import concept_named

#: What a cell may say, lower-case: the positive side first.
_SAYS = {
    "lat": (("n", "north", "+", "1"), ("s", "south", "-", "-1")),
    "lon": (("e", "east", "+", "1"), ("w", "west", "-", "-1")),
}
_LETTERS = {"lat": {"n", "s", "north", "south"}, "lon": {"e", "w", "east", "west"}}


def unnamed_sides(
    rows: Sequence[Sequence[str]], found: dict[int, tuple[Meaning, str]]
) -> dict[int, tuple[Meaning, str]]:
    """Find columns beside latitude and longitude whose header says nothing and whose cells are N and S, E and W.

    Parameters
    ----------
    rows : sequence of sequence of str
        Cells of the first rows.
    found : dict of int to (Meaning, str)
        Column index to meaning and standing.

    Returns
    -------
    dict of int to (Meaning, str)
        Those columns.
    """
    names = {meaning.concept.name: place for place, (meaning, _) in found.items()}
    sides: dict[int, tuple[Meaning, str]] = {}
    for name, letters in _LETTERS.items():
        concept = concept_named(f"{name}_side")
        if name not in names or f"{name}_side" in names or concept is None:
            continue
        for place in (names[name] + 1, names[name] - 1):
            said = {row[place].lower() for row in rows if 0 <= place < len(row) and row[place]}
            if said and said <= letters and place not in found:
                sides[place] = (Meaning(concept, 0, None, ()), "recognised")
                break
    return sides


def on_its_side(reading: Reading, chosen: Chosen, name: str, degrees: FloatArray) -> FloatArray:
    """Put positions without a sign on the side that their column of letters says.

    Parameters
    ----------
    reading : Reading
    chosen : Chosen
    name : "lat" or "lon"
    degrees : (n,) float array

    Returns
    -------
    (n,) float array
    """
    side = f"{name}_side"
    if side not in chosen:
        return degrees
    place, _, standing = chosen[side]
    said = reading.frame[place].astype(str).str.strip().str.lower()
    positive, negative = _SAYS[name]
    if not said[reading.frame[place].notna()].isin((*positive, *negative)).any():
        reading.note(place, "", "", "ignored", "its cells name no side")
        return degrees
    reading.note(place, "position", "", standing)
    return np.where(said.isin(negative), -np.abs(degrees), degrees)
