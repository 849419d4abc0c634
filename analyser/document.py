"""A debrief as it is written: the JSON file that programs read, and the page's source.

The parts are types of :mod:`analyser.schema.debrief_file`, and take from an object what is called alike there; here
stands what is called or worked out otherwise. What this log cannot tell is None.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from analyser import CAUTION
from analyser.airspace.describe import written_airspace
from analyser.circuits.flown import FlownHold, Turn
from analyser.earth.angles import wrap180
from analyser.earth.wind import wind_from
from analyser.grading.budget import Budget, Cost
from analyser.grading.judged import JudgedCircuit, JudgedEntry, JudgedHold
from analyser.grading.keeping import Excursion
from analyser.grading.legs_and_turns import Leaving
from analyser.grading.next_time import NextTime
from analyser.grading.replay import DECISIONS
from analyser.grading.score import Score
from analyser.holds.definition import Hold
from analyser.holds.rules_of_thumb import compared_with_thumb
from analyser.logs.track import Track
from analyser.rules.regime import Regime
from analyser.rules.scoring import Scoring
from analyser.schema.debrief_file import (
    WrittenAdvice,
    WrittenCircuit,
    WrittenCircuitWind,
    WrittenDebrief,
    WrittenEntry,
    WrittenExcursion,
    WrittenFit,
    WrittenFix,
    WrittenFlownPath,
    WrittenHold,
    WrittenIdeal,
    WrittenInboundLeg,
    WrittenInboundTurn,
    WrittenInferred,
    WrittenLeaving,
    WrittenLeg,
    WrittenLog,
    WrittenOtherEnd,
    WrittenOutboundLeg,
    WrittenPath,
    WrittenPlan,
    WrittenPossibleHold,
    WrittenReflown,
    WrittenRollout,
    WrittenScorePart,
    WrittenScoring,
    WrittenShare,
    WrittenThumb,
    WrittenTurn,
    WrittenTurnIn,
    WrittenVerdict,
    WrittenWind,
)
from analyser.schema.plain_data import number, thousandths

if TYPE_CHECKING:
    from analyser.debrief import Debrief, HoldDebrief

#: A turn at three degrees a second is still round with a point every three seconds; a long hold has no more than so
#: many points.
_PATH_STEP_S, _PATH_POINTS = 3.0, 1500
#: Channels of a track → names of channels in the file.
_CHANNELS = {
    "altitude_ft": "altitude",
    "ground_speed_kt": "ground_speed",
    "track_true_deg": "track",
    "heading_true_deg": "heading",
    "heading_magnetic_deg": "heading",
    "bank_deg": "bank",
    "pitch_deg": "pitch",
    "ias_kt": "ias",
    "tas_kt": "tas",
    "wind_from_true_deg": "wind",
    "wind_speed_kt": "wind",
    "outside_air_temperature_c": "temperature",
    "vertical_speed_fpm": "vertical_speed",
}


def document(debrief: Debrief) -> dict[str, Any]:
    """Write a debrief as plain data, ready for ``json.dumps(…, allow_nan=False)``."""
    return written_debrief(debrief).plain()


def written_debrief(debrief: Debrief) -> WrittenDebrief:
    """Write a debrief: once, for the file, the page and the terminal."""
    return WrittenDebrief.of(
        debrief,
        caution=CAUTION,
        log=_log(debrief.track),
        rules=debrief.regime,
        possible_holds=[WrittenPossibleHold.of(one, fix=one) for one in debrief.possible],
        dropped=debrief.reasons,
        definition_fit=[
            WrittenFit.of(one, one.hold, holds=(place + 1 for place in one.flown), named=True)
            for one in debrief.fits
        ],
        holds=[_hold(one, debrief) for one in debrief.holds],
    )


def _log(track: Track) -> WrittenLog:
    present = [
        name
        for key, name in _CHANNELS.items()
        if key in track.channels and np.isfinite(track.channels[key]).any()
    ]
    return WrittenLog.of(
        track,
        duration_s=track.duration_s if track.samples else None,
        interval_s=track.interval_s if track.samples > 1 else None,
        start_utc=track.start_utc.isoformat().replace("+00:00", "Z") if track.start_utc else None,
        channels=("position", *dict.fromkeys(present)),
    )


def _hold(one: HoldDebrief, debrief: Debrief) -> WrittenHold:
    flown, judged = one.flown, one.judged
    hold, regime, motion = flown.hold, debrief.regime, flown.motion
    variation, course, other = judged.variation_deg, hold.inbound_course_true_deg, flown.other_end
    given_ft = judged.given.altitude_ft
    return WrittenHold.of(
        judged,
        flown,
        hold,
        definition=("given" if hold.fix_given else "partly given") if flown.given else "inferred",
        definition_file=hold.file if flown.given else None,
        fix=WrittenFix.of(hold, sd_nm=flown.fix_sd_nm),
        inbound_course_magnetic=None if variation is None else course - variation,
        inbound_course_sd=flown.course_sd_deg,
        other_end=None if other is None else WrittenOtherEnd.of(other, fix=other),
        turns_flown=judged.flown.hold.turns,
        leg=_leg(hold, judged.leg_minutes),
        rules=regime.key,
        wind=_wind(flown),
        tas_kt=motion.tas_mean_kt,
        tas_sd_kt=motion.tas_mean_sd_kt,
        tas_wander_kt=motion.tas_wander_kt,
        level_ft=given_ft if given_ft is not None else judged.altitude_ft,
        entry=written_entry(judged.entry),
        flown_path=_flown_path(flown),
        circuits=[_circuit(circuit, hold, regime, judged.scoring, variation) for circuit in judged.circuits],
        grade=judged.grade.grade if judged.grade else None,
        grade_word=judged.grade.word if judged.grade else None,
        excursions=_excursions(judged),
        verdict=" ".join(judged.verdict),
        verdict_parts=WrittenVerdict(first=" ".join(judged.said.first), rest=" ".join(judged.said.rest)),
        work_on_first=judged.work_on_first.advice if judged.work_on_first else None,
        advice=_advice(judged.next_time, variation),
        leaving=written_leaving(judged.leaving),
        scoring=_scoring(judged, regime),
        airspace=None if one.airspace is None else written_airspace(one.airspace, hold, rules=regime.key),
        inferred=None if flown.inferred is None else WrittenInferred.of(flown.inferred, fix=flown.inferred),
        notices=(*flown.notices, *motion.notices),
    )


def _flown_path(flown: FlownHold) -> WrittenFlownPath:
    """Write the flown path from the arrival at the fix to the last passage of it, thinned for drawing."""
    motion = flown.motion
    inside = np.flatnonzero((motion.time_s >= flown.start_s) & (motion.time_s <= flown.end_s))
    since = motion.time_s[inside] - flown.start_s
    step_s = max(_PATH_STEP_S, (flown.end_s - flown.start_s) / _PATH_POINTS)
    first_of_step = np.diff(np.floor(since / step_s), prepend=-1.0) > 0
    first_of_step[-1:] = True
    chosen = inside[first_of_step]
    return WrittenFlownPath(
        time_s=tuple(number(float(one), 1) for one in motion.time_s[chosen]),
        east_nm=thousandths(motion.east_nm[chosen]),
        north_nm=thousandths(motion.north_nm[chosen]),
    )


def _advice(plan: NextTime | None, variation_deg: float | None) -> list[WrittenAdvice]:
    if plan is None:
        return []
    return [
        WrittenAdvice.of(
            change,
            change.advice,
            cause=change.causes[0],
            first=change in plan.first,
            advice=change.advice.said(variation_deg),
        )
        for change in plan.all
    ]


def _scoring(judged: JudgedHold, regime: Regime) -> WrittenScoring:
    return WrittenScoring.of(
        judged.scoring,
        points_by_tolerances=judged.scoring.points.knots,
        clock=regime.clock,
        parts=[WrittenScorePart.of(part, part=part.kind) for part in judged.parts],
    )


def _wind(flown: FlownHold) -> WrittenWind:
    motion = flown.motion
    east_kt, north_kt = motion.wind_mean_east_kt, motion.wind_mean_north_kt
    from_true, speed_kt = wind_from(east_kt, north_kt)
    obtained = motion.obtained.get("wind", "derived")
    return WrittenWind(
        from_true=from_true,
        speed_kt=speed_kt,
        east_kt=east_kt,
        north_kt=north_kt,
        sd_kt=motion.wind_mean_sd_kt,
        source={"logged": "air data", "derived": "turns"}.get(obtained, obtained),
    )


def _leg(hold: Hold, minutes: float | None) -> WrittenLeg:
    """Write what ends the leg: minutes, or a distance where there are none."""
    if minutes is None and hold.leg is not None:
        return WrittenLeg(distance_nm=hold.leg.distance_nm)
    return WrittenLeg(minutes=minutes)


def _circuit(
    judged: JudgedCircuit, hold: Hold, regime: Regime, scoring: Scoring, variation_deg: float | None
) -> WrittenCircuit:
    """Write one circuit, the directions in its advice by the variation."""
    circuit, exact, bank = judged.circuit, judged.ideal.circuit, judged.turns
    turn = _turn(circuit.inbound_turn, bank.get("inbound_turn"))
    # The costs whose advice is given come first, then by size.
    costs = sorted(
        judged.budget.costs if judged.budget else (), key=lambda cost: (cost.rank or 99, -cost.size_nm)
    )
    return WrittenCircuit.of(
        judged,
        judged.measures,
        circuit,
        leg=_leg(hold, judged.terms.minutes),
        timed=judged.terms.timed,
        outbound_turn=_turn(circuit.outbound_turn, bank.get("outbound_turn")),
        outbound_leg=_outbound_leg(judged),
        inbound_turn=None if turn is None else WrittenInboundTurn.of(turn, judged.measures),
        inbound_leg=_inbound_leg(judged),
        altitude_error_max_ft=judged.scores["altitude"].value,
        speed_error_max_kt=judged.scores["speed"].value,
        wind=WrittenCircuitWind(
            east_kt=circuit.wind_east_kt, north_kt=circuit.wind_north_kt, sd_kt=circuit.wind_sd_kt
        ),
        ideal=WrittenIdeal.of(
            exact,
            rate=exact.turn_rate_dps,
            inbound_correction=exact.inbound_drift_correction_deg,
            gate_bearing=wrap180(exact.gate_bearing_deg) if exact.closes else None,
        ),
        error_budget=[_share(cost, variation_deg) for cost in costs],
        error=judged.budget,
        error_budget_missing=judged.no_budget,
        reflown=_reflown(judged.budget, scoring.advice.least_nm),
        rules_of_thumb=_thumbs(judged, regime),
    )


def _thumbs(judged: JudgedCircuit, regime: Regime) -> list[WrittenThumb]:
    exact, still_air_s = judged.ideal.circuit, judged.terms.still_air_s
    if not exact.closes:
        return []
    outbound_s = exact.outbound_timed_s if still_air_s is None else still_air_s
    return [
        WrittenThumb.of(one, one.thumb, one.thumb.rule, rule=one.thumb.rule.name)
        for one in compared_with_thumb(exact, still_air_s=outbound_s, allowances=regime.allowances)
        # Without a prescribed time there is nothing that a rule of thumb could correct.
        if still_air_s is not None or one.what != "outbound time"
    ]


def _turn(turn: Turn | None, bank: Score | None) -> WrittenTurn | None:
    if turn is None:
        return None
    verdict = bank.verdict if bank else "not judged"
    return WrittenTurn.of(turn, bank_target=bank.target if bank else None, bank_verdict=verdict)


def _outbound_leg(judged: JudgedCircuit) -> WrittenOutboundLeg | None:
    leg, measures = judged.circuit.outbound_leg, judged.measures
    if leg is None:
        return None
    exact, known = judged.ideal.circuit, judged.ideal.circuit.closes
    target, target_sd = judged.outbound_target_s
    return WrittenOutboundLeg.of(
        leg,
        measures,
        abeam_s=judged.circuit.abeam_s,
        clock=None if judged.terms.clock == "length" or measures.timed_s is None else judged.terms.clock,
        correction=measures.outbound_correction_deg,
        ideal_heading_true=exact.outbound_heading_deg if known else None,
        ideal_heading_sd=judged.ideal.outbound_heading_sd_deg,
        ideal_timed_s=target if known else None,
        ideal_timed_sd_s=target_sd,
        ideal_timed_wings_s=exact.outbound_time_s if known else None,
    )


def _inbound_leg(judged: JudgedCircuit) -> WrittenInboundLeg | None:
    leg, measures = judged.circuit.inbound_leg, judged.measures
    if leg is None:
        return None
    exact, known = judged.ideal.circuit, judged.ideal.circuit.closes
    return WrittenInboundLeg.of(
        measures,
        leg,
        duration_s=measures.inbound_duration_s,
        duration_sd_s=measures.inbound_duration_sd_s,
        ideal_duration_s=exact.inbound_time_s if known else None,
        ideal_duration_sd_s=judged.ideal.inbound_time_sd_s,
        correction=measures.inbound_correction_deg,
        ideal_heading_true=exact.inbound_heading_deg if known else None,
    )


def _share(cost: Cost, variation_deg: float | None) -> WrittenShare:
    told = cost.advice if cost.rank is not None else None
    if told is None:
        return WrittenShare.of(cost, advice=None, fly=None, flown=None)
    return WrittenShare.of(cost, told, advice=told.said(variation_deg))


def _reflown(budget: Budget | None, least_nm: float) -> list[WrittenReflown]:
    """Give the path for each fault worth it, and for all together; smaller ones than ``least_nm`` are left out."""
    faults = budget.faults(least_nm) if budget is not None else ()
    if budget is None or not faults:
        return []
    made = []
    for cause, causes in (*((fault, (fault,)) for fault in faults), ("all", DECISIONS)):
        east, north = map(thousandths, budget.reflown(causes))
        right_nm, along_nm = budget.rollout(causes)
        ends = WrittenRollout(cross_track_nm=right_nm, along_nm=along_nm)
        made.append(WrittenReflown(cause=cause, east_nm=east, north_nm=north, rollout=ends))
    return made


def written_entry(judged: JudgedEntry | None) -> WrittenEntry | None:
    """Write the entry; None where the log begins inside the hold."""
    if judged is None:
        return None
    path = WrittenPath(east_nm=thousandths(judged.ideal_east_nm), north_nm=thousandths(judged.ideal_north_nm))
    return WrittenEntry.of(judged, judged.entry, ideal_path=path if path.east_nm else None)


def written_leaving(leaving: Leaving | None) -> WrittenLeaving | None:
    """Write the leaving; None where no time was given."""
    if leaving is None:
        return None
    plans = [
        WrittenPlan.of(one, one.plan, to_go_s=one.plan.wanted_s, leaves_s=one.fix_s + one.plan.leaves_s)
        for one in leaving.plans
    ]
    table = [
        WrittenTurnIn.of(one, outbound_timed_wings_s=one.outbound_time_s, back_after_s=one.total_s)
        for one in leaving.turn_in
    ]
    return WrittenLeaving.of(leaving, plans=plans, turn_in=table)


def _excursions(judged: JudgedHold) -> list[WrittenExcursion]:
    """Write each time that altitude, speed, bank or track left its tolerance."""
    kept = {"altitude": judged.altitude_kept, "speed": judged.speed_kept}
    left: dict[str, Sequence[Excursion]] = {item: one.excursions if one else () for item, one in kept.items()}
    left |= {item: [one for lap in judged.circuits for one in lap.left[item]] for item in ("bank", "track")}
    decimals = {"altitude": 1, "speed": 2, "bank": 2, "track": 4}
    return [
        WrittenExcursion.of(
            one,
            item=item,
            worst=number(one.worst, decimals[item]),
            reference=number(one.reference, decimals[item]),
        )
        for item, found in left.items()
        for one in found
    ]
