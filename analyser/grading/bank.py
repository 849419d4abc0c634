"""Judging the turns: how steep against rate one or the limit, and how steadily."""

from __future__ import annotations

import math

import numpy as np

from analyser.circuits.flown import Turn
from analyser.grading.keeping import Excursion, excursions, read
from analyser.grading.lap import Lap
from analyser.grading.score import Score, not_judged, scored

_STEERED = "the lesser bank that a flight director is limited to counts as right"


def judge_bank(lap: Lap) -> Score:
    """Judge the mean bank of both turns against rate one or the bank limit, whichever is less.

    Points are for the rms of both turns' errors, so that one turn too steep does not make good another too shallow.
    """
    tolerance = lap.scoring.bank
    rule = f"{lap.regime.turns.source}; tolerance: {tolerance.source}"
    turns = _recorded(lap)
    if not turns:
        why = "no turn recorded well enough"
        return not_judged(why, unit="°", tolerance=tolerance.tolerance_deg, rule=rule)
    target, target_sd = _target_deg(lap)
    banks = [abs(turn.bank_mean_deg) for turn in turns]
    off = [bank_off_deg(lap, bank) for bank in banks]
    steered = any(abs(one) < abs(bank - target) for one, bank in zip(off, banks, strict=True))
    notes = ["one turn only"] * (len(turns) < 2) + [_STEERED] * steered
    spread = math.hypot(*(turn.bank_mean_sd_deg for turn in turns)) / len(turns)
    return scored(
        lap.scoring,
        value=sum(banks) / len(banks),
        target=target,
        tolerance=tolerance.tolerance_deg,
        unit="°",
        sd=math.hypot(spread, target_sd),
        deviation=math.sqrt(sum(one**2 for one in off) / len(off)),
        how=lap.how("bank"),
        rule=rule,
        note="; ".join(notes),
    )


def judge_turns(lap: Lap) -> dict[str, Score]:
    """Judge the mean bank of each turn flown by itself; shown, and spoken of, but given no weight of its own."""
    target, target_sd = _target_deg(lap)
    recorded, found = _recorded(lap), {}
    for name in ("outbound_turn", "inbound_turn"):
        turn: Turn | None = getattr(lap.circuit, name)
        if turn is None:
            continue
        if turn not in recorded:
            found[name] = not_judged(
                "not recorded well enough", unit="°", tolerance=lap.scoring.bank.tolerance_deg
            )
            continue
        bank = abs(turn.bank_mean_deg)
        found[name] = scored(
            lap.scoring,
            value=bank,
            target=target,
            tolerance=lap.scoring.bank.tolerance_deg,
            unit="°",
            sd=math.hypot(turn.bank_mean_sd_deg, target_sd),
            deviation=bank_off_deg(lap, bank),
            how=lap.how("bank"),
        )
    return found


def _target_deg(lap: Lap) -> tuple[float, float]:
    """Return the bank to hold and its sigma: bank against rate one is bank against airspeed."""
    target = lap.regime.turn_bank_deg(lap.circuit.tas_kt)
    return target, lap.regime.turn_bank_deg(lap.circuit.tas_kt + lap.circuit.tas_sd_kt) - target


def bank_off_deg(lap: Lap, bank_deg: float) -> float:
    """Return by how much a bank, positive, is off the one to hold, positive too steep.

    The log does not say whether there was a flight director, and with one the rules may ask for less: whatever lies
    between the two limits is right.
    """
    most = lap.regime.turn_bank_deg(lap.circuit.tas_kt)
    least = lap.regime.under(flight_director=True).turn_bank_deg(lap.circuit.tas_kt)
    return bank_deg - min(max(bank_deg, least), most)


def judge_steadiness(lap: Lap) -> Score:
    """Judge how steadily the bank was held in the established turns: rms about each mean, both turns together."""
    tolerance = lap.scoring.steadiness
    turns = [turn for turn in _recorded(lap) if math.isfinite(turn.bank_wander_deg)]
    if not turns:
        why = "no turn recorded well enough"
        return not_judged(why, unit="°", tolerance=tolerance.tolerance_deg, rule=tolerance.source)
    wander = math.sqrt(sum(turn.bank_wander_deg**2 for turn in turns) / len(turns))
    return scored(
        lap.scoring,
        value=wander,
        target=0.0,
        tolerance=tolerance.tolerance_deg,
        unit="°",
        sd=max(turn.bank_mean_sd_deg for turn in turns),
        how=lap.how("bank"),
        rule=tolerance.source,
        note="derived from positions, quick wandering is smoothed away"
        if lap.how("bank") != "logged"
        else "",
    )


def left_bank(lap: Lap, score: Score) -> tuple[Excursion, ...]:
    """Find each time that the bank of an established turn was outside what was judged by; rolling is no fault.

    Positive to the right, as the bank is; nothing where the circuit's bank was not judged.
    """
    found: list[Excursion] = []
    if score.points is None or score.target is None or score.tolerance is None:
        return ()
    motion = lap.flown.motion
    for turn in _recorded(lap):
        span = motion.span(turn.established_start_s, turn.established_end_s)
        if span.stop - span.start < 2:
            continue
        held = np.full(span.stop - span.start, math.copysign(score.target, turn.heading_change_deg))
        error = np.where(motion.in_hole[span], np.nan, read(motion.bank_deg[span] - held))
        found += excursions((lap.circuit,), motion.time_s[span], error, held, score.tolerance)
    return tuple(found)


def _recorded(lap: Lap) -> list[Turn]:
    turns = [turn for turn in (lap.circuit.outbound_turn, lap.circuit.inbound_turn) if turn is not None]
    return [
        turn
        for turn in turns
        if math.isfinite(turn.bank_mean_deg) and not lap.in_hole(turn.start_s, turn.end_s)
    ]
