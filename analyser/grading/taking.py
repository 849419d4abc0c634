"""A circuit's decisions as taken, as they should have been, and how far a sigma of each moves the roll-out."""

from __future__ import annotations

import cmath
import math
from dataclasses import replace

from analyser.circuits.flown import Turn
from analyser.grading.decisions import Decisions, FlownDecisions
from analyser.grading.lap import Lap
from analyser.grading.replay import Axes, Instants
from analyser.grading.terms import Clock
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
    if circuit.circling_s(circuit.start_s, second.end_s):
        return "a full circle was flown within the circuit"
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


def spreads(lap: Lap, taken: FlownDecisions) -> dict[str, float]:
    """Return how far the roll-out moves by one sigma of each cause.

    Returns
    -------
    dict of cause to float
        Nautical miles; infinite where nothing is known.
    """
    moved = {cause: _moved_by(taken, cause, sd) for cause, sd in _sigmas(lap, taken).items()}
    circuit = lap.circuit
    assert circuit.inbound_turn
    hours = (circuit.inbound_turn.end_s - circuit.start_s) / 3600.0
    return moved | {
        # What the mean bank does not explain is only as sure as the mean bank.
        "unsteadiness": math.hypot(moved["outbound_turn_bank"], moved["inbound_turn_bank"]),
        "airspeed": circuit.tas_sd_kt * hours,
        "wind_change": circuit.wind_sd_kt * hours,
        "measurement": 0.0,
        "inbound_leg": 0.0,
    }


def _sigmas(lap: Lap, taken: FlownDecisions) -> dict[str, complex]:
    """Return the sigma of each decision, in its own unit: of what was flown and of what it is held against."""
    circuit, motion, ideal = lap.circuit, lap.flown.motion, lap.ideal
    first, second, leg = circuit.outbound_turn, circuit.inbound_turn, circuit.outbound_leg
    assert first and second and leg
    fix_sd_nm, tas = lap.flown.fix_sd_nm or 0.0, max(circuit.tas_kt, 1.0)
    # What a heading is held against leans on the wind, and on the course where that was inferred.
    drift_sd = math.hypot(math.degrees(circuit.wind_sd_kt / tas), lap.flown.course_sd_deg or 0.0)
    return {
        "fix_crossing": complex(0.0, fix_sd_nm),
        "arrival_heading": math.hypot(motion.at("heading_sd_deg", first.start_s), drift_sd),
        "outbound_turn_start": math.hypot(first.start_sd_s, 3600.0 * fix_sd_nm / tas),
        "outbound_turn_bank": _rate_sd_dps(first, taken.decisions.outbound_turn_bank),
        "outbound_heading": math.hypot(leg.heading_sd_deg, ideal.outbound_heading_sd_deg),
        "outbound_time": _outbound_time_sd(lap, taken.clock, first, second),
        "inbound_turn_bank": _rate_sd_dps(second, taken.decisions.inbound_turn_bank),
        "rollout_heading": math.hypot(motion.at("heading_sd_deg", second.end_s), drift_sd),
    }


def _outbound_time_sd(lap: Lap, clock: Clock, first: Turn, second: Turn) -> float:
    fix_sd_nm, tas = lap.flown.fix_sd_nm or 0.0, max(lap.circuit.tas_kt, 1.0)
    if clock == "length":
        return math.hypot(fix_sd_nm, tas / 3600.0 * second.start_sd_s)
    if clock == "abeam":
        return math.hypot(second.start_sd_s, 3600.0 * fix_sd_nm / tas, lap.ideal.outbound_timed_sd_s)
    return math.hypot(first.end_sd_s, second.start_sd_s, lap.ideal.outbound_time_sd_s)


def _moved_by(taken: FlownDecisions, cause: str, sd: complex) -> float:
    if not cmath.isfinite(sd):
        return math.inf
    value = getattr(taken.decisions, cause)
    nudged = replace(taken.decisions, **{cause: value + sd})
    return abs(replace(taken, decisions=nudged).rollout - taken.rollout)


def _rate_sd_dps(turn: Turn, rate_dps: float) -> float:
    """Return the sigma of the turn rate: that of the mean bank, carried over."""
    bank = max(abs(turn.bank_mean_deg), 1.0)
    if not math.isfinite(bank):
        return math.inf
    return rate_dps * math.radians(turn.bank_mean_sd_deg) / math.sin(math.radians(2.0 * bank)) * 2.0
