"""What the debrief document and the judge say in places, laid on the page's map.

Exact circuits, the ideal entry, circuits flown again, the holding area.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from analyser.frozen import dataclass
from analyser.holds.exact import ExactCircuit
from analyser.holds.kinematics import to_east_north
from analyser.pages.captions import cause_words
from analyser.pages.figures.airspace import AreaParts

if TYPE_CHECKING:
    from analyser.grading.judged import JudgedHold
    from analyser.schema.debrief_file import WrittenHold, WrittenPath, WrittenReflown

FloatArray = NDArray[np.float64]
Path = tuple[FloatArray, FloatArray]


def exact_circuits(judged: JudgedHold) -> dict[int, ExactCircuit]:
    """Take the exact circuits by which the flown ones were judged.

    Returns
    -------
    dict of circuit number to ExactCircuit
        Only those that close; a hold in which none closes gives an empty dict.
    """
    exact = {one.circuit.number: one.ideal.circuit for one in judged.circuits}
    return {number: circuit for number, circuit in exact.items() if circuit.closes}


def path_on_map(exact: ExactCircuit) -> Path:
    """Lay an exact circuit on the map, from the fix round to the fix.

    Returns
    -------
    east_nm, north_nm : (n,) float array
    """
    path = exact.path(2.0)
    return to_east_north(path.along_nm, path.cross_nm, exact.inbound_course_deg)


def ideal_entry_path(document: WrittenHold) -> Path | None:
    """Take the ideal entry's path from the hold's document; None where none can be drawn."""
    path = None if document.entry is None else document.entry.ideal_path
    return None if path is None else _path(path)


def _path(written: WrittenPath | WrittenReflown) -> Path:
    return np.asarray(written.east_nm, float), np.asarray(written.north_nm, float)


@dataclass(frozen=True)
class ReflownChoice:
    """One way to fly a circuit again: the fault's key and what the reader ticks."""

    cause: str
    words: str


def reflown_paths(document: WrittenHold) -> dict[tuple[int, str], Path]:
    """Take the re-flown paths from the hold's document.

    Returns
    -------
    dict of (circuit number, cause) to (east_nm, north_nm)
    """
    return {
        (circuit.number, way.cause): _path(way) for circuit in document.circuits for way in circuit.reflown
    }


def reflown_choices(document: WrittenHold) -> dict[int, list[ReflownChoice]]:
    """Return what the reader can tick for each circuit."""
    return {
        circuit.number: [ReflownChoice(way.cause, _words(way.cause)) for way in circuit.reflown]
        for circuit in document.circuits
    }


def _words(cause: str) -> str:
    return "all of them" if cause == "all" else cause_words(cause)


def area_parts(document: WrittenHold) -> AreaParts | None:
    """Lay the document's outlines on the map.

    Returns
    -------
    AreaParts or None
        None where the document has no airspace.
    """
    found = document.airspace
    if found is None:
        return None
    course = document.inbound_course_true

    def on_map(along_cross: Any) -> tuple[Any, Any]:
        points = np.asarray(along_cross, float).reshape(-1, 2)
        return to_east_north(points[:, 0], points[:, 1], course)

    area, deepest = found.area, found.deepest
    place = None
    if deepest is not None:
        east, north = on_map([[deepest.along_nm, deepest.cross_nm]])
        place = (float(east[0]), float(north[0]))
    return AreaParts(
        {name: on_map(outline.along_cross_nm) for name, outline in area.outlines.items()},
        [(on_map(band.outline.along_cross_nm), band.clearance_ft) for band in area.buffer],
        area.clearance_ft,
        place,
    )
