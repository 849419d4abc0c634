"""The exact circuits as paths on the map of the page."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from analyser.holds.exact import ExactCircuit
from analyser.holds.kinematics import to_east_north

if TYPE_CHECKING:
    from analyser.grading.judged import JudgedHold

FloatArray = NDArray[np.float64]
Path = tuple[FloatArray, FloatArray]


def exact_circuits(judged: JudgedHold) -> dict[int, ExactCircuit]:
    """Take the exact circuits by which the flown ones were judged.

    Parameters
    ----------
    judged : JudgedHold

    Returns
    -------
    dict of circuit number to ExactCircuit
        Only those that close; a hold in which none closes gives an empty dict.
    """
    exact = {one.circuit.number: one.ideal.circuit for one in judged.circuits}
    return {number: circuit for number, circuit in exact.items() if circuit.closes}


def path_on_map(exact: ExactCircuit) -> Path:
    """Lay an exact circuit on the map, from the fix round to the fix.

    Parameters
    ----------
    exact : ExactCircuit

    Returns
    -------
    east_nm, north_nm : (n,) float array
    """
    path = exact.path(2.0)
    return to_east_north(path.along_nm, path.cross_nm, exact.inbound_course_deg)


def ideal_entry_path(document: Mapping[str, Any]) -> Path | None:
    """Take the ideal entry's path from the hold's document; None where none can be drawn."""
    path = (document["entry"] or {}).get("ideal_path")
    return None if path is None else (np.asarray(path["east_nm"], float), np.asarray(path["north_nm"], float))
