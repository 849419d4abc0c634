"""How sure each share of the error is: what one sigma of its measurement moves the roll-out by."""

from __future__ import annotations

import cmath
import math
from dataclasses import replace

from analyser.circuits.flown import Turn
from analyser.grading.decisions import FlownDecisions
from analyser.grading.lap import Lap
from analyser.grading.terms import Clock


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
