"""The measured circuit with a fault put right: the flown path, moved by what the fault moved.

Phase by phase the measured path is shifted by the difference between the circuit that follows from the
decisions as taken and the one with the fault put right, at the same fraction of the phase. What no decision
explains (unsteady hands, gusts) stays as measured. After the roll-out the path is led to where the fix is met.
"""

from __future__ import annotations

import math
from collections.abc import Collection

import numpy as np
from numpy.typing import NDArray

from analyser.grading.cost import Budget
from analyser.grading.decisions import DECISIONS, FlownDecisions
from analyser.grading.judged import JudgedCircuit
from analyser.holds.turn_path import TurnPath

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

#: Points drawn: fix to turn, outbound turn, outbound leg, inbound turn, inbound leg.
POINTS = (3, 24, 12, 24, 12)


def reflown(circuit: JudgedCircuit, causes: Collection[str]) -> tuple[FloatArray, FloatArray]:
    """Fly a measured circuit again with some faults put right.

    Parameters
    ----------
    circuit : JudgedCircuit
        With a budget.
    causes : collection of str
        Of :data:`analyser.grading.decisions.DECISIONS`; other causes are nobody's decision and stay.

    Returns
    -------
    east_nm, north_nm : (n,) float array
        From passing the fix round to the end of the circuit.

    Raises
    ------
    ValueError
        The circuit has no budget.
    """
    budget = circuit.budget
    if budget is None:
        raise ValueError("this circuit has no error budget")
    righted = budget.righted(causes)
    before, after = _phases(budget.flown), _phases(righted)
    at = budget.instants
    corners = (at.fix_s, at.turn_s, at.level_s, at.turn_in_s, at.rollout_s)
    path = [
        _measured(budget, start, end, old.size) + new - old
        for start, end, old, new in zip(corners, corners[1:], before, after, strict=False)
    ]
    shift = path[-1][-1] - budget.axes.at(at.rollout_s)
    if circuit.circuit.end_s > at.rollout_s + 1.0:
        path.append(_homeward(budget, at.rollout_s, circuit.circuit.end_s, complex(shift)))
    return budget.axes.on_map(np.concatenate(path))


def faults_of(circuit: JudgedCircuit, least_nm: float) -> tuple[str, ...]:
    """Name the faults worth putting right on paper, the most costly first.

    Parameters
    ----------
    circuit : JudgedCircuit
    least_nm : float
        Faults that moved the roll-out by less are left out.

    Returns
    -------
    tuple of str
    """
    costs = [share.cost for share in circuit.shares if share.cost.cause in DECISIONS]
    costs.sort(key=lambda cost: -cost.size_nm)
    return tuple(cost.cause for cost in costs if cost.size_nm >= least_nm)


def _homeward(budget: Budget, start_s: float, end_s: float, shift: complex) -> ComplexArray:
    """Lead the measured inbound leg from its new beginning to its old end."""
    return _measured(budget, start_s, end_s, POINTS[4]) + shift * np.linspace(1.0, 0.0, POINTS[4])


def _measured(budget: Budget, start_s: float, end_s: float, points: int) -> ComplexArray:
    return np.array([budget.axes.at(time_s) for time_s in np.linspace(start_s, end_s, points)])


def _phases(circuit: FlownDecisions) -> list[ComplexArray]:
    """Lay out fix to turn, outbound turn, outbound leg, inbound turn, each at even fractions of its time."""
    taken = circuit.decisions
    waiting, out = (np.linspace(0.0, 1.0, points) for points in (POINTS[0], POINTS[2]))
    phases = (
        taken.fix_crossing + (circuit.turn_start - taken.fix_crossing) * waiting,
        circuit.turn_start + _turning(circuit, circuit.first_turn, taken.arrival_heading, POINTS[1]),
        circuit.level + (circuit.turn_in - circuit.level) * out,
        circuit.turn_in + _turning(circuit, circuit.second_turn, taken.outbound_heading, POINTS[3]),
    )
    return [np.asarray(phase, complex) for phase in phases]


def _turning(circuit: FlownDecisions, turn: TurnPath, heading_deg: float, points: int) -> ComplexArray:
    time_s = np.linspace(0.0, turn.duration_s, points)
    ahead, right = turn.moved_s(time_s)
    through_air = (ahead + 1j * right) * circuit.air.tas_kt / 3600.0
    turned = through_air * complex(math.cos(math.radians(heading_deg)), math.sin(math.radians(heading_deg)))
    return np.asarray(turned + circuit.air.wind * time_s / 3600.0, complex)
