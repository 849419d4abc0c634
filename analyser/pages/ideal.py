"""The exact circuits as paths on the map of the page."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.flown import Circuit, FlownHold
from analyser.holds.circuit_path import to_east_north
from analyser.holds.exact import ExactCircuit
from analyser.holds.target import ideal_circuit
from analyser.rules.load import load_regime

FloatArray = NDArray[np.float64]
Path = tuple[FloatArray, FloatArray]


def exact_circuits(flown: FlownHold, rules: str) -> dict[int, ExactCircuit]:
    """Solve the exact circuit for the wind and airspeed of each flown one.

    Parameters
    ----------
    flown : FlownHold
    rules : "icao" or "faa"

    Returns
    -------
    dict of circuit number to ExactCircuit
        Only those that close; a hold in which none closes gives an empty dict.
    """
    found = {circuit.number: _exact(flown, circuit, rules) for circuit in flown.circuits}
    return {number: exact for number, exact in found.items() if exact.closes}


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


def _exact(flown: FlownHold, circuit: Circuit, rules: str) -> ExactCircuit:
    motion = flown.motion
    altitude = motion.altitude_ft[motion.span(circuit.start_s, circuit.end_s)]
    known = altitude[~np.isnan(altitude)]
    return ideal_circuit(
        flown.hold,
        load_regime(rules),
        tas_kt=circuit.tas_kt,
        # Without any altitude in the log the leg time for low levels is taken.
        altitude_ft=float(np.median(known)) if known.size else 0.0,
        wind_east_kt=circuit.wind_east_kt,
        wind_north_kt=circuit.wind_north_kt,
    )
