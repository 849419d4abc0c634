"""A measured circuit flown again with some of its faults put right, as a path to draw."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
from numpy.typing import NDArray

from analyser.earth.angles import wrap180
from analyser.grading.budget import Budget
from analyser.grading.judged import JudgedCircuit
from analyser.grading.replay import DECISIONS, FlownDecisions
from analyser.holds.kinematics import Trajectory, TurnPath

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

#: Points drawn: fix to turn, outbound turn, outbound leg, inbound turn, inbound leg.
POINTS = (3, 24, 12, 24, 24)


def reflown(circuit: JudgedCircuit, causes: Collection[str]) -> tuple[FloatArray, FloatArray]:
    """Fly a measured circuit again with some of :data:`DECISIONS` put right; other causes are nobody's and stay.

    East and north of the fix, (n,) each, from passing the fix round to the end of the circuit.

    Raises ValueError if the circuit has no budget.
    """
    budget = _budget_of(circuit)
    righted = budget.righted(causes)
    before, after = _phases(budget.flown), _phases(righted)
    at = budget.instants
    corners = (at.fix_s, at.turn_s, at.level_s, at.turn_in_s, at.rollout_s)
    path = [
        _measured(budget, start, end, old.size) + new - old
        for start, end, old, new in zip(corners, corners[1:], before, after, strict=False)
    ]
    if circuit.circuit.end_s > at.rollout_s + 1.0:
        path.append(
            _homeward(righted, complex(path[-1][-1]))
            if any(cause in DECISIONS for cause in causes)
            else _measured(budget, at.rollout_s, circuit.circuit.end_s, POINTS[4])
        )
    return budget.axes.on_map(np.concatenate(path))


def faults_of(circuit: JudgedCircuit, least_nm: float) -> tuple[str, ...]:
    """Name the faults that moved the roll-out by so much, to be put right on paper, the most costly first."""
    costs = [share.cost for share in circuit.shares if share.cost.cause in DECISIONS]
    costs.sort(key=lambda cost: -cost.size_nm)
    return tuple(cost.cause for cost in costs if cost.size_nm >= least_nm)


def rollout(circuit: JudgedCircuit, causes: Collection[str]) -> tuple[float, float]:
    """Return where such a circuit rolls out: right of the inbound course and along it, nautical miles.

    Raises ValueError if the circuit has no budget.
    """
    budget = _budget_of(circuit)
    there = budget.axes.at(budget.instants.rollout_s) + budget.righted(causes).rollout - budget.flown.rollout
    return budget.axes.side * there.imag, there.real


def _budget_of(circuit: JudgedCircuit) -> Budget:
    if circuit.budget is None:
        raise ValueError("this circuit has no error budget")
    return circuit.budget


def _homeward(circuit: FlownDecisions, rollout: complex) -> ComplexArray:
    """Meet the inbound course from the new roll-out, at the usual angle, and track it to the fix."""
    decisions = circuit.decisions
    heading_deg = wrap180(decisions.rollout_heading)
    way = Trajectory(circuit.flight, decisions.inbound_turn_bank, heading_deg, rollout)
    if not way.meet_course(None, (0, 0, 0)):
        # Too near the fix to meet the course before it: straight to the fix.
        return np.asarray(np.linspace(rollout, 0j, POINTS[4]), complex)
    points = way.points()
    at_s = np.linspace(0.0, points.time_s[-1], POINTS[4])
    return np.asarray(np.interp(at_s, points.time_s, points.along_nm + 1j * points.cross_nm))


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
    return circuit.flight.in_turn_nm(turn, heading_deg, np.linspace(0.0, turn.duration_s, points))
