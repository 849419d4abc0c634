"""Judging one flown hold: measures, scores, what cost what, advice, verdict."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from analyser.circuits.flown import FlownHold, Turn, is_unseen
from analyser.circuits.frame import hold_frame
from analyser.grading.budget import error_budget, with_advice
from analyser.grading.entry import EntryCase, judge_entry
from analyser.grading.finding_advice import leads_beyond_radial
from analyser.grading.findings import concluded
from analyser.grading.grading_thresholds import LAP
from analyser.grading.judged import JudgedCircuit, JudgedEntry, JudgedHold, parts_of, points_of
from analyser.grading.keeping import (
    Keeping,
    LevelPlan,
    SpeedPlan,
    altitude_sd_ft,
    judge_altitude,
    judge_speed,
    keeping,
    level_plan,
    over_limit,
    speed_plan,
)
from analyser.grading.lap import Lap, has_leg, ideal_for, measure
from analyser.grading.learning import Lesson, lessons
from analyser.grading.legs_and_turns import (
    judge_bank,
    judge_inbound_correction,
    judge_leaving,
    judge_steadiness,
    judge_timing,
    judge_track,
    judge_turns,
    judge_wind_correction,
    left_bank,
    left_track,
)
from analyser.grading.next_time import NextTime, habits_of, next_time
from analyser.grading.score import Score, mean_points
from analyser.grading.terms import HoldCase, terms_of
from analyser.holds.ideal_circuit import rules_altitude_ft
from analyser.rules.flight_test_standard import Standard
from analyser.rules.regime import Regime
from analyser.rules.scoring import ITEMS, Scoring, load_scoring


def judge_hold(
    flown: FlownHold,
    regime: Regime,
    standard: Standard,
    *,
    leave_at_s: float | None = None,
    scoring: Scoring | None = None,
    variation_deg: float | None = None,
) -> JudgedHold:
    """Judge a hold by a regime's clock, targets and limits and a standard's tolerances.

    The fix was to be left at ``leave_at_s``, seconds from the log's first sample, where given; points are given by
    the house's scoring where left out, and directions said by the hold's own variation.
    """
    scoring = scoring or load_scoring()
    given = flown.hold
    other_hand, turned_away, every = _wrong_turns(flown)
    if every:
        # What was flown is judged as what it was; that it was not what the file says is a finding of its own.
        flown = replace(flown, hold=replace(given, turns=given.other_turns))
    frame = hold_frame(flown.motion, flown.hold.inbound_course_true_deg)
    case = HoldCase(flown, frame, regime, standard, scoring)
    levels, speeds = level_plan(flown, scoring.levels), speed_plan(flown, standard.speed.tolerance_kt)
    kept = _kept(case, levels, speeds)
    laps = _laps(case, levels, leave_at_s, () if every else other_hand)
    circuits = tuple(_judge_circuit(lap, levels, speeds, kept) for lap in laps)
    entry, why = _entry(case, laps, levels, speeds), ""
    if flown.hold is not given:
        why = "it was flown to the other hand's hold"
    elif not flown.given and any(number > 1 for number in other_hand):
        why = "the hold was flown to both hands, and which is its own a hold file settles"
    if entry is not None and why:
        entry = replace(entry, verdict="not judged", points=None, note=why)
    leaving = judge_leaving(laps, leave_at_s) if leave_at_s is not None and laps else None
    shares = [(one.number, one.points, _judged_share(one, scoring)) for one in circuits]
    parts = parts_of(shares, entry, leaving, scoring)
    judged = JudgedHold(
        **vars(case),
        given=given,
        other_hand=other_hand,
        turned_away=turned_away,
        entry=entry,
        circuits=circuits,
        points=points_of(parts, scoring),
        next_time=_next_time(laps, circuits, speeds),
        learning=_judged_lessons(lessons(laps, [one.measures for one in circuits]), circuits),
        leaving=leaving,
        levels=levels,
        altitude_kept=kept[0],
        speed_kept=kept[1],
        altitude_ft=case.median_altitude_ft(flown.start_s, flown.end_s),
        variation_deg=flown.hold.variation_deg if variation_deg is None else variation_deg,
        parts=parts,
    )
    return concluded(judged)


def _judged_lessons(found: tuple[Lesson, ...], circuits: tuple[JudgedCircuit, ...]) -> tuple[Lesson, ...]:
    """Keep the lessons on what was judged, before and after: nothing is learned from what the log cannot tell."""
    item = {"outbound_time": "timing", "outbound_heading": "wind_correction"}
    scores = {one.number: one.scores for one in circuits}
    return tuple(
        one
        for one in found
        if all(
            scores[number][item[one.quantity]].points is not None for number in (one.circuit - 1, one.circuit)
        )
    )


def _wrong_turns(flown: FlownHold) -> tuple[tuple[int, ...], tuple[int, ...], bool]:
    """Return the circuits begun to the other hand than the hold's, those only turned back so, and whether all were.

    Who turned outbound the right way flew the leg on the holding side, whichever way he turned back.
    """
    begun: list[int] = []
    turned: list[int] = []
    every: list[bool] = []
    for circuit in flown.circuits:
        turns = [_is_other(flown, one) for one in (circuit.outbound_turn, circuit.inbound_turn)]
        every += [other for other in turns if other is not None]
        if any(turns):
            first = turns[1] if circuit.outbound_turn is None else turns[0]
            (begun if first else turned).append(circuit.number)
    return tuple(begun), tuple(turned), bool(every) and all(every)


def _is_other(flown: FlownHold, turn: Turn | None) -> bool | None:
    """Tell whether a turn went the other way than the hold's; None where it was a mere correction, or not seen."""
    if turn is None or abs(turn.heading_change_deg) < LAP.half_round_deg or is_unseen(flown.motion, turn):
        return None
    return turn.heading_change_deg * flown.hold.side < 0.0


def _kept(case: HoldCase, levels: LevelPlan, speeds: SpeedPlan) -> tuple[Keeping | None, Keeping | None]:
    """Follow altitude and speed over the whole hold."""
    flown, motion, standard = case.flown, case.flown.motion, case.standard
    inside = motion.span(flown.start_s, flown.end_s)
    altitude = keeping(
        flown,
        motion.altitude_ft,
        levels.reference_ft,
        tolerance=standard.altitude.tolerance_ft,
        sd=altitude_sd_ft(motion.altitude_ft[inside]),
        given=levels.given,
    )
    speed = keeping(
        flown,
        speeds.flown_kt,
        np.full(motion.time_s.size, speeds.reference_kt),
        tolerance=standard.speed.tolerance_kt,
        sd=speeds.sd_kt(getattr(motion, speeds.name.replace("_kt", "_sd_kt"))[inside]),
        given=speeds.given,
    )
    return altitude, speed


def _laps(
    case: HoldCase, levels: LevelPlan, leave_at_s: float | None, other_hand: tuple[int, ...]
) -> list[Lap]:
    flown, laps = case.flown, []
    for circuit in flown.circuits:
        altitude_ft = _rules_altitude_ft(case, levels, circuit.start_s, circuit.end_s)
        ideal = ideal_for(flown.hold, case.regime, circuit, altitude_ft, flown.course_sd_deg)
        first = circuit is flown.circuits[0] and flown.entry is not None
        # Only the last circuit can be fitted to the minute, and only if somebody asked for one.
        cut_short = leave_at_s is not None and circuit is flown.circuits[-1]
        terms = terms_of(
            case,
            circuit,
            ideal.circuit,
            altitude_ft=altitude_ft,
            first=first,
            cut_short=cut_short,
            other_hand=circuit.number in other_hand,
        )
        lap = Lap(**vars(case), circuit=circuit, ideal=ideal, terms=terms, first=first, cut_short=cut_short)
        laps.append(lap)
    return laps


def _judge_circuit(
    lap: Lap, levels: LevelPlan, speeds: SpeedPlan, kept: tuple[Keeping | None, Keeping | None]
) -> JudgedCircuit:
    measures = measure(lap)
    over_limit_s, most_kias = over_limit(lap, speeds)
    judged = {
        "timing": judge_timing(lap, measures),
        "bank": judge_bank(lap),
        "steadiness": judge_steadiness(lap),
        "wind_correction": judge_wind_correction(lap, measures),
        "track": judge_track(lap, measures),
        "altitude": judge_altitude(lap, levels, kept[0]),
        "speed": judge_speed(lap, speeds, kept[1], over_limit_s),
    }
    scores = {item: judged[item] for item in ITEMS}
    budget = error_budget(lap)
    return JudgedCircuit(
        lap.circuit,
        measures,
        lap.ideal,
        lap.terms,
        lap.median_altitude_ft(lap.circuit.start_s, lap.circuit.end_s),
        scores,
        judge_turns(lap),
        judge_inbound_correction(lap, measures),
        over_limit_s,
        most_kias,
        circuit_points(scores, lap.scoring, has_leg=has_leg(lap.circuit, lap.ideal, lap.terms)),
        None if isinstance(budget, str) else with_advice(lap, budget, _unsure(lap, scores)),
        budget if isinstance(budget, str) else "",
        {"bank": left_bank(lap, scores["bank"]), "track": left_track(lap, scores["track"])},
    )


def circuit_points(scores: dict[str, Score], scoring: Scoring, *, has_leg: bool = True) -> float | None:
    """Return a circuit's points: the weighted mean of the items judged; None where too little was.

    Where one turn was flown into the next, what could not be judged of that was not flown, and counts 0.
    """
    parts = [(score.points, scoring.weights[item]) for item, score in scores.items()]
    points = mean_points(parts, scoring.parts.least_judged)
    return points if has_leg or points is None else points * _weighed(scores, scoring)


def _weighed(scores: dict[str, Score], scoring: Scoring) -> float:
    judged = sum(scoring.weights[item] for item, score in scores.items() if score.points is not None)
    return judged / sum(scoring.weights[item] for item in scores)


def _judged_share(one: JudgedCircuit, scoring: Scoring) -> float:
    """Return how much of a circuit could be judged: one broken off after a turn counts little."""
    whole = one.points is not None and not one.has_leg
    return 1.0 if whole else _weighed(one.scores, scoring)


def _next_time(laps: list[Lap], circuits: tuple[JudgedCircuit, ...], speeds: SpeedPlan) -> NextTime | None:
    """Choose what to change on the next circuit, from the latest one that was flown whole and not cut short."""
    for lap, judged in zip(reversed(laps), reversed(circuits), strict=True):
        if judged.budget is None or lap.cut_short or not judged.circuit.complete:
            continue
        if leads_beyond_radial(lap.flown.hold, judged.ideal.circuit):
            return None
        habits = habits_of(lap, judged.budget, asked_tas_kt=_asked_tas_kt(lap, judged, speeds))
        if habits is None:
            return None
        outside = [item for item, score in judged.scores.items() if score.verdict == "outside"]
        return next_time(habits, outside, lap.scoring.advice, _unsure(lap, judged.scores))
    return None


def _unsure(lap: Lap, scores: dict[str, Score]) -> set[str]:
    """Return the items that the log cannot tell of, because the fix was inferred from the flight itself."""
    if lap.flown.fix_sd_nm is None:
        return set()
    # A fix that was inferred from where the turns began cannot say how late they began.
    return {"late turn", *(item for item, score in scores.items() if score.points is None)}


def _asked_tas_kt(lap: Lap, judged: JudgedCircuit, speeds: SpeedPlan) -> float | None:
    """Return the true airspeed that was asked for, where another was flown all the way round."""
    if not speeds.given or judged.scores["speed"].verdict != "outside":
        return None
    flown = lap.series(speeds.name, lap.circuit.start_s, lap.circuit.end_s)
    mean_kt = float(np.nanmean(flown)) if np.isfinite(flown).any() else float("nan")
    if not abs(mean_kt - speeds.reference_kt) > lap.standard.speed.tolerance_kt:
        return None
    return lap.circuit.tas_kt * speeds.reference_kt / mean_kt


def _entry(case: HoldCase, laps: list[Lap], levels: LevelPlan, speeds: SpeedPlan) -> JudgedEntry | None:
    entry = case.flown.entry
    if entry is None:
        return None
    exact = laps[0].ideal.circuit if laps else None
    return judge_entry(
        EntryCase(
            **vars(case),
            entry=entry,
            exact=exact if exact is not None and exact.closes else None,
            altitude_ft=_rules_altitude_ft(case, levels, entry.fix_s - 1.0, entry.fix_s + 1.0),
            speed_kt=speeds.reference_kt if speeds.name == "ias_kt" else math.nan,
        )
    )


def _rules_altitude_ft(case: HoldCase, levels: LevelPlan, start_s: float, end_s: float) -> float:
    """Return the level that the rules' tables are looked up for within a span."""
    motion, cleared = case.flown.motion, None
    if levels.given:
        held = levels.level_ft(start_s, end_s, motion.time_s)
        cleared = case.flown.hold.altitude_ft if held is None else held
    return rules_altitude_ft(case.regime, cleared, motion.altitude_ft[motion.span(start_s, end_s)])
