"""The decisions of one circuit: as the pilot took them, read from the measured flight, and as they should be."""

from __future__ import annotations

from analyser.circuits.flown import Turn
from analyser.grading.axes import Axes
from analyser.grading.decisions import Decisions, FlownDecisions
from analyser.grading.lap import Lap
from analyser.grading.replay import Instants
from analyser.holds.kinematics import SteadyFlight

#: A hold's turn is never shorter than this, nor slower.
_LEAST_TURN_DEG = 30.0
_LEAST_RATE_DPS = 0.3


def instants_of(lap: Lap) -> Instants | str:
    """Read the instants of a circuit.

    Returns
    -------
    Instants or str
        Why its error cannot be split, in words, where parts are missing or not measured well enough.
    """
    circuit = lap.circuit
    first, second = circuit.outbound_turn, circuit.inbound_turn
    if first is None or second is None or circuit.outbound_leg is None:
        return "the circuit has no outbound leg between two turns"
    if second.start_s - first.end_s < 1.0:
        return "there was no outbound leg between the turns"
    if lap.in_hole(circuit.start_s, second.end_s):
        return "the log has a hole between the fix and the roll-out"
    fault = _turn_fault(lap, first) or _turn_fault(lap, second)
    return fault or Instants(circuit.start_s, first.start_s, first.end_s, second.start_s, second.end_s)


def _turn_fault(lap: Lap, turn: Turn) -> str:
    """Say why a turn cannot be reckoned with; empty where it can."""
    if turn.heading_change_deg * lap.flown.hold.side <= 0.0:
        return "a turn went the other way than the hold's"
    if not turn.bank_mean_sd_deg <= lap.scoring.bank.tolerance_deg:
        return "the turns are too coarsely recorded"
    if not abs(turn.rate_mean_dps) >= _LEAST_RATE_DPS or abs(turn.heading_change_deg) < _LEAST_TURN_DEG:
        return "one of the turns is too wide or too short to be a hold's"
    return ""


def _flight(lap: Lap, axes: Axes) -> SteadyFlight:
    circuit = lap.circuit
    wind_kt = axes.vector(circuit.wind_east_kt, circuit.wind_north_kt)
    return SteadyFlight(circuit.tas_kt, wind_kt, lap.ideal.circuit.roll_s)


def as_taken(lap: Lap, axes: Axes, at: Instants) -> FlownDecisions:
    """Read the decisions off the measured circuit."""
    circuit, motion = lap.circuit, lap.flown.motion
    assert circuit.outbound_turn and circuit.inbound_turn and circuit.outbound_leg
    times = {
        "length": axes.at(at.turn_in_s).real,
        "abeam": at.turn_in_s - max(circuit.abeam_s or 0.0, at.fix_s),
        "wings level": at.turn_in_s - at.level_s,
    }
    taken = Decisions(
        axes.at(at.fix_s),
        axes.heading(motion.at("heading_deg", at.turn_s), 0.0),
        at.turn_s - at.fix_s,
        abs(circuit.outbound_turn.rate_mean_dps),
        axes.heading(circuit.outbound_leg.heading_deg, 180.0),
        times[lap.terms.clock],
        abs(circuit.inbound_turn.rate_mean_dps),
        axes.heading(motion.at("heading_deg", at.rollout_s), 360.0),
    )
    return FlownDecisions(taken, _flight(lap, axes), lap.terms.clock)


def as_right(lap: Lap, axes: Axes) -> FlownDecisions:
    """Read the decisions off the exact circuit, by the same clock.

    Parameters
    ----------
    lap : Lap
        With an exact circuit that closes.
    """
    exact = lap.ideal.circuit
    times = {
        "length": exact.outbound_end_along_nm,
        "abeam": exact.outbound_timed_s,
        "wings level": exact.outbound_time_s,
    }
    right = Decisions(
        0j,
        exact.side * exact.inbound_drift_correction_deg,
        0.0,
        exact.turn_rate_dps,
        axes.heading(exact.outbound_heading_deg, 180.0),
        times[lap.terms.clock],
        exact.turn_rate_dps,
        360.0 + exact.side * exact.inbound_drift_correction_deg,
    )
    return FlownDecisions(right, _flight(lap, axes), lap.terms.clock)
