"""Judging one flown hold: measures, scores, what cost what, advice, verdict."""

from __future__ import annotations

import numpy as np

from analyser.circuits.flown import Circuit, FlownHold
from analyser.circuits.frame import HoldFrame, hold_frame
from analyser.grading.advice import Share, weight_nm, with_advice
from analyser.grading.bank import judge_bank, judge_steadiness
from analyser.grading.budget import error_budget
from analyser.grading.entry import judge_entry
from analyser.grading.entry_judged import EntryCase, JudgedEntry
from analyser.grading.findings import concluded
from analyser.grading.holding_level import SpeedPlan, judge_altitude, judge_speed, speed_plan
from analyser.grading.ideal import ideal_for
from analyser.grading.judged import JudgedCircuit, JudgedHold
from analyser.grading.lap import Lap
from analyser.grading.learning import lessons
from analyser.grading.leaving import judge_leaving
from analyser.grading.levels import LevelPlan, level_plan
from analyser.grading.measures import measure
from analyser.grading.parts import parts_of, points_of
from analyser.grading.score import Score, mean_points
from analyser.grading.timing import judge_timing
from analyser.grading.tracking import judge_track
from analyser.grading.wind_correction import judge_inbound_correction, judge_wind_correction
from analyser.rules.regime import Regime
from analyser.rules.scoring import Scoring, load_scoring
from analyser.rules.standard import Standard

#: Taken where neither log nor hold file tells the altitude: all rules are the same from here to 6,000 ft.
_USUAL_FT = 5000.0


def judge_hold(
    flown: FlownHold,
    regime: Regime,
    standard: Standard,
    *,
    leave_at_s: float | None = None,
    scoring: Scoring | None = None,
    variation_deg: float | None = None,
) -> JudgedHold:
    """Judge a hold.

    Parameters
    ----------
    flown : FlownHold
    regime : Regime
        Whose clock, targets and limits apply.
    standard : Standard
        Whose tolerances apply.
    leave_at_s : float, optional
        When the fix was to be left, seconds from the log's first sample.
    scoring : Scoring, optional
        How points are given; the house's where left out.
    variation_deg : float, optional
        Magnetic variation for the words of the findings; the hold's own where left out.

    Returns
    -------
    JudgedHold
    """
    scoring = scoring or load_scoring()
    variation = flown.hold.variation_deg if variation_deg is None else variation_deg
    frame = hold_frame(flown.motion, flown.hold.inbound_course_true_deg)
    levels, speeds = level_plan(flown, scoring.levels), speed_plan(flown)
    laps = _laps(flown, frame, regime, standard, scoring, leave_at_s)
    circuits = tuple(_judge_circuit(lap, levels, speeds) for lap in laps)
    entry = _entry(flown, frame, laps, regime, standard, scoring, speeds)
    leaving = judge_leaving(laps, leave_at_s) if leave_at_s is not None and laps else None
    learning = lessons(laps, [one.measures for one in circuits])
    parts = parts_of(
        [(one.circuit.number, one.points, one.scores) for one in circuits], entry, leaving, scoring
    )
    points = points_of(parts, scoring)
    advice = _worst(circuits, entry, scoring)
    judged = JudgedHold(
        entry,
        circuits,
        points,
        None,
        advice,
        learning,
        leaving,
        levels,
        _median_altitude_ft(flown, flown.start_s, flown.end_s),
        scoring,
        variation,
        parts,
    )
    return concluded(judged)


def _laps(
    flown: FlownHold,
    frame: HoldFrame,
    regime: Regime,
    standard: Standard,
    scoring: Scoring,
    leave_at_s: float | None,
) -> list[Lap]:
    last = len(flown.circuits) - 1
    return [
        Lap(
            flown,
            circuit,
            frame,
            ideal_for(flown.hold, regime, circuit, _altitude_ft(flown, circuit)),
            regime,
            standard,
            scoring,
            first=k == 0 and flown.entry is not None,
            # Only the last circuit can be fitted to the minute, and only if somebody asked for one.
            cut_short=leave_at_s is not None and k == last,
        )
        for k, circuit in enumerate(flown.circuits)
    ]


def _judge_circuit(lap: Lap, levels: LevelPlan, speeds: SpeedPlan) -> JudgedCircuit:
    measures = measure(lap)
    altitude = _altitude_ft(lap.flown, lap.circuit)
    scores = {
        "timing": judge_timing(lap, measures, altitude),
        "bank": judge_bank(lap),
        "steadiness": judge_steadiness(lap),
        "wind_correction": judge_wind_correction(lap, measures),
        "track": judge_track(lap, measures),
        "altitude": judge_altitude(lap, levels),
        "speed": judge_speed(lap, speeds, altitude),
    }
    budget = error_budget(lap)
    split = None if isinstance(budget, str) else budget
    return JudgedCircuit(
        lap.circuit,
        measures,
        lap.ideal,
        _median_altitude_ft(lap.flown, lap.circuit.start_s, lap.circuit.end_s),
        scores,
        judge_inbound_correction(lap, measures),
        circuit_points(scores, lap.scoring),
        split,
        budget if isinstance(budget, str) else "",
        () if split is None else with_advice(lap, split),
    )


def circuit_points(scores: dict[str, Score], scoring: Scoring) -> float | None:
    """Return a circuit's points: the weighted mean of the items that were judged.

    Parameters
    ----------
    scores : dict of str to Score
    scoring : Scoring

    Returns
    -------
    float or None
        None where too little was judged.
    """
    parts = [(score.points, getattr(scoring.weights, item)) for item, score in scores.items()]
    return mean_points(parts, scoring.parts.least_judged)


def _worst(
    circuits: tuple[JudgedCircuit, ...], entry: JudgedEntry | None, scoring: Scoring
) -> tuple[Share, ...]:
    """Pick the most costly advice over all circuits, each cause once, from where it cost most.

    The measuring circuit counts less here too: it is flown as if there were no wind, to learn from.
    """
    found: dict[str, tuple[float, Share]] = {}
    totals: dict[str, float] = {}
    for k, circuit in enumerate(circuits):
        speed = circuit.ideal.circuit.inbound_ground_speed_kt
        counts = scoring.parts.measuring_circuit if k == 0 and entry is not None else scoring.parts.circuit
        for share in circuit.advised:
            cause, weight = share.cost.cause, counts * weight_nm(share.cost, speed)
            totals[cause] = totals.get(cause, 0.0) + weight
            if cause not in found or weight > found[cause][0]:
                found[cause] = (weight, share)
    order = sorted(found, key=lambda cause: -totals[cause])[: scoring.advice.at_most]
    return tuple(found[cause][1] for cause in order)


def _entry(
    flown: FlownHold,
    frame: HoldFrame,
    laps: list[Lap],
    regime: Regime,
    standard: Standard,
    scoring: Scoring,
    speeds: SpeedPlan,
) -> JudgedEntry | None:
    if flown.entry is None:
        return None
    exact = laps[0].ideal.circuit if laps else None
    altitude = flown.motion.at("altitude_ft", flown.entry.fix_s)
    speed = speeds.reference_kt if speeds.name == "ias_kt" else float("nan")
    return judge_entry(
        EntryCase(
            flown,
            flown.entry,
            frame,
            exact if exact is not None and exact.closes else None,
            regime,
            standard,
            scoring,
            altitude if np.isfinite(altitude) else flown.hold.altitude_ft or _USUAL_FT,
            speed,
        )
    )


def _median_altitude_ft(flown: FlownHold, start_s: float, end_s: float) -> float | None:
    altitude = flown.motion.altitude_ft[flown.motion.span(start_s, end_s)]
    altitude = altitude[np.isfinite(altitude)]
    return float(np.median(altitude)) if altitude.size else None


def _altitude_ft(flown: FlownHold, circuit: Circuit) -> float:
    """Altitude for leg time and speed limit: measured, else as given, else an ordinary one."""
    measured = _median_altitude_ft(flown, circuit.start_s, circuit.end_s)
    if measured is not None:
        return measured
    return flown.hold.altitude_ft if flown.hold.altitude_ft is not None else _USUAL_FT
