"""Findings on limits passed: bank, outbound legs of twice their time, late turns, a limiting radial, the fix."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from analyser.earth.angles import wrap180
from analyser.grading.finding import Finding, Severity, Told
from analyser.grading.finding_advice import MENDED, advised, as_on, course_advice, item_advice
from analyser.grading.grading_thresholds import FINDING
from analyser.grading.judged import JudgedCircuit, JudgedHold, on_these
from analyser.grading.keeping import read
from analyser.grading.lap import course_doubt, passed_turning
from analyser.grading.legs_and_turns import SINCE, unseen_sd_nm
from analyser.grading.wording import Number, up_to


def steep_bank(judged: JudgedHold) -> Finding | None:
    """Find bank surely beyond what is an upset, however short."""
    motion, limit_deg = judged.flown.motion, judged.scoring.unsafe.bank_deg
    span = motion.span(judged.flown.start_s, judged.flown.end_s)
    bank, sd = np.where(motion.in_hole[span], np.nan, np.abs(motion.bank_deg[span])), motion.bank_sd_deg[span]
    bank = read(bank)
    sure = np.nan_to_num(bank - 2.0 * sd) > limit_deg
    if not sure.any():
        return None
    times_s, worst = motion.time_s[span], int(np.argmax(np.where(sure, bank, 0.0)))
    where = [
        one
        for one in judged.circuits
        if (sure & (times_s >= one.circuit.start_s) & (times_s <= one.circuit.end_s)).any()
    ]
    entered = "" if where else " in the entry"
    right_deg = judged.regime.turn_bank_deg(float(np.median(motion.tas_kt[span])))
    return judged.fault(
        "steep bank",
        "unsafe",
        where,
        f"You banked as steeply as {bank[worst]:.0f}°{entered}{on_these(where)}; turns of a hold take "
        f"{right_deg:.0f}°.",
        (float(bank[worst]), right_deg, None, float(sd[worst]), "°"),
        f"{bank[worst]:.0f}° of bank{entered}",
        Told(
            f"Never bank steeper than the {right_deg:.0f}° of the turn: roll out, look at the speed, begin again."
        ),
        item="bank",
    )


def long_outbound(judged: JudgedHold) -> Finding | None:
    """Find an outbound leg of twice its time, or of twice its length."""
    long: list[tuple[float, JudgedCircuit, float, float, float]] = []
    times = judged.scoring.unsafe.outbound_multiple
    for one in judged.flown_out:
        flown, target, sd, least = _outbound(judged, one)
        if flown is not None and target is not None and flown - 2.0 * sd >= times * max(target, least):
            long.append((flown / max(target, least), one, flown, target, sd))
    if not long:
        return None
    where = [one for _, one, *_ in long]
    _, worst, flown, target, sd = max(long, key=lambda each: each[0])
    by_length = worst.terms.timed == "length"
    unit, decimals, since = ("NM", 1, "the fix") if by_length else ("s", 0, SINCE[worst.terms.clock])
    said, right = (f"{value:.{decimals}f} {unit}" for value in (flown, target))
    return judged.fault(
        "long outbound leg",
        "unsafe",
        where,
        f"{judged.on(worst)} you flew outbound for {said} from {since}; {right} was right.",
        (flown, target, None, sd, unit),
        f"outbound leg of {up_to(where)}{said} instead of {right}",
        advised(judged, "timing", where, judged.flown_out),
        item="timing",
    )


def _outbound(judged: JudgedHold, one: JudgedCircuit) -> tuple[float | None, float | None, float, float]:
    """Return outbound time or length, its target, their difference's sigma, and the least that counts as target."""
    measures, terms = one.measures, one.terms
    if terms.timed == "length":
        leg = judged.flown.hold.leg
        distance = None if leg is None else leg.distance_nm
        return measures.turn_in_nm, distance, judged.flown.fix_along_sd_nm, 0.0
    if terms.timed == "not judged" or not one.ideal.circuit.closes or terms.still_air_s is None:
        return None, None, 0.0, 0.0
    target, target_sd = one.outbound_target_s
    sd = math.hypot(measures.timed_sd_s or 0.0, target_sd)
    # Where the wind leaves hardly any outbound leg, twice hardly any is no danger: areas are designed for the leg's
    # time in any wind, and these allowances.
    allowed = judged.regime.allowances
    designed_s = terms.still_air_s + allowed.timing_s + allowed.reaction_s + allowed.bank_establishment_s
    return measures.timed_s, target, sd, designed_s / judged.scoring.unsafe.outbound_multiple


def beyond_radial(judged: JudgedHold) -> Finding | None:
    """Find inbound turns begun beyond the limiting radial."""
    hold, rule, leg = judged.flown.hold, judged.scoring.limiting_radial, judged.flown.hold.leg
    if leg is None or leg.fix_dme_nm is None or hold.limiting_radial_true_deg is None:
        return None
    beyond = []
    for one in judged.flown_out:
        off_deg, out_nm = one.measures.beyond_radial_deg, one.measures.turn_in_nm
        if off_deg is None or out_nm is None:
            continue
        from_station_nm = abs(leg.fix_dme_nm + (out_nm if leg.towards_station else -out_nm))
        across_sd_nm = math.hypot(FINDING.across_sd_nm, judged.flown.fix_sd_nm or 0.0)
        sd = math.degrees(across_sd_nm / max(from_station_nm, FINDING.across_sd_nm))
        if off_deg - 2.0 * sd > rule.tolerance_deg:
            beyond.append((off_deg, sd, one))
    if not beyond:
        return None
    off_deg, sd, worst = max(beyond, key=lambda each: each[0])
    radial = Number(hold.limiting_radial_true_deg, "°", "true").said(judged.variation_deg)
    advice = f"Turn inbound before you pass the radial of {radial}, whatever the distance."
    return judged.fault(
        "limiting radial",
        rule.severity,
        [one for *_, one in beyond],
        f"{judged.on(worst)} you turned inbound {off_deg:.0f}° beyond the limiting radial of {radial}.",
        (off_deg, 0.0, rule.tolerance_deg, sd, "°"),
        f"inbound turn {up_to(beyond)}{off_deg:.0f}° beyond the limiting radial",
        Told(advice, (hold.limiting_radial_true_deg,)),
    )


def missed_fix(judged: JudgedHold) -> Finding | None:
    """Find circuits that came back beside the fix of the hold file."""
    rule, fix_by = judged.scoring.fix_passage, judged.given.fix_by
    # Between coarse samples nobody saw how near the fix was passed.
    sd_nm = unseen_sd_nm(judged.flown)
    missed_nm = {one.number: _missed_nm(judged, one) for one in judged.circuits}
    beside = [one for one in judged.circuits if missed_nm[one.number] - 2.0 * sd_nm > rule.beside_nm]
    # A fix that was inferred lies where the circuits came back to.
    if not beside or judged.flown.fix_sd_nm is not None:
        return None
    miss_nm = max(missed_nm[one.number] for one in beside)
    overhead = fix_by is not None and fix_by.kind in ("vor", "ndb")
    missed = miss_nm - 2.0 * sd_nm > rule.missed_nm and not overhead
    lost = miss_nm - 2.0 * sd_nm > judged.scoring.unsafe.fix_missed_nm
    sides = {_side_passed(one) for one in beside}
    side = sides.pop() if len(sides) == 1 else ""
    where = f"{up_to(beside)}{miss_nm:.1f} NM {f'{side} of' if side else 'beside'} the fix"
    words = f"You came back {where}{on_these(beside)}."
    elsewhere = _at_one_place(beside) and len(beside) == len(judged.circuits)
    if elsewhere:
        words += " All of them came back to one place: if that was the fix, the file is wrong."
    found = judged.fault(
        # What may be the file's fault is said before what is judged by the file.
        "fix elsewhere" if elsewhere and not (missed or lost or overhead) else "fix passage",
        "unsafe" if lost else "below standard" if missed else "improve",
        beside,
        words,
        (miss_nm, 0.0, rule.missed_nm if missed else rule.beside_nm, max(FINDING.across_sd_nm, sd_nm), "NM"),
        where,
        course_advice(judged),
    )
    return replace(found, outside=missed or lost)


def _missed_nm(judged: JudgedHold, one: JudgedCircuit) -> float:
    """Return how far beside the fix a circuit came back: where it was passed abeam while turning, at the nearest.

    NaN where it did not come back.
    """
    miss_nm, turn, motion = one.measures.fix_miss_nm, one.circuit.inbound_turn, judged.flown.motion
    if miss_nm is None:
        return math.nan
    if turn is None or one.circuit.end_s >= turn.end_s:
        return miss_nm
    span = motion.span(turn.start_s, turn.end_s)
    return min(miss_nm, float(np.hypot(motion.east_nm[span], motion.north_nm[span]).min()))


def _side_passed(one: JudgedCircuit) -> str:
    """Say on which side of the inbound course the fix was passed; empty where it was not passed abeam."""
    miss_nm, across_nm = one.measures.fix_miss_nm, one.measures.fix_cross_track_nm
    if miss_nm is None or across_nm is None or abs(across_nm) < FINDING.abeam_share * miss_nm:
        return ""
    return "right" if across_nm > 0.0 else "left"


def _at_one_place(those: list[JudgedCircuit]) -> bool:
    across = [one.measures.fix_cross_track_nm or 0.0 for one in those]
    return (
        len(those) > 1 and all(map(_side_passed, those)) and max(across) - min(across) < FINDING.one_place_nm
    )


def late_turn(judged: JudgedHold) -> Finding | None:
    """Find outbound turns begun later than the designers of holds allow for."""
    allowed, late = judged.regime.allowances, []
    whole_s = allowed.reaction_s + allowed.bank_establishment_s
    for one, delay_s, sd in _begun(judged):
        turn = one.circuit.outbound_turn
        assert turn is not None
        established_s = turn.established_start_s - one.circuit.start_s
        if delay_s - 2.0 * sd > allowed.reaction_s and established_s - 2.0 * sd > whole_s:
            late.append((delay_s, sd, one))
    words = f"{allowed.reaction_s:.0f} s to react are allowed for."
    return _mistimed(judged, late, "late", allowed.reaction_s, words)


def early_turn(judged: JudgedHold) -> Finding | None:
    """Find outbound turns begun before the fix, by more than the designers' allowance of time."""
    allowed_s = judged.regime.allowances.timing_s
    early = []
    for one, delay_s, sd in _begun(judged):
        turn, exact = one.circuit.outbound_turn, one.ideal.circuit
        assert turn is not None
        heading_deg = judged.flown.motion.at("heading_deg", turn.start_s - FINDING.steady_s)
        off_deg = abs(wrap180(heading_deg - exact.inbound_heading_deg)) if exact.closes else math.inf
        # Where turning onto the course ran on into the outbound turn nobody can tell where one ended.
        if -delay_s - 2.0 * sd > allowed_s and off_deg < judged.scoring.advice.flyable_course_deg:
            early.append((-delay_s, sd, one))
    return _mistimed(judged, early, "early", allowed_s, "the outbound turn begins over the fix.")


def _begun(judged: JudgedHold) -> list[tuple[JudgedCircuit, float, float]]:
    """List the circuits of which it can be told how long after the fix they were begun, with that and its sigma."""
    flown, found = judged.flown, []
    if course_doubt(flown.course_sd_deg):
        return []
    for one in judged.circuits:
        turn, delay_s = one.circuit.outbound_turn, one.measures.start_delay_s
        # A fix that was inferred from where the turns began may be where they are begun early as a habit: the first
        # turn, after the arrival, is then the one that was right.
        if turn is None or delay_s is None or (flown.fix_sd_nm is not None and one is judged.circuits[0]):
            continue
        if not passed_turning(flown, one.circuit) and not _crossing_entry(judged, one):
            found.append((one, delay_s, math.hypot(turn.start_sd_s, flown.fix_along_sd_s(one.circuit))))
    return found


def _mistimed(
    judged: JudgedHold, found: list[tuple[float, float, JudgedCircuit]], word: str, allowed_s: float, why: str
) -> Finding | None:
    """Say of outbound turns that they were begun late or early, by so many seconds."""
    if not found:
        return None
    rule = judged.scoring.below_standard
    off_s, sd, worst = max(found, key=lambda each: each[0])
    often = len(found) >= rule.consistent_share * len(judged.circuits)
    far = off_s > rule.beyond_tolerances * (allowed_s + judged.regime.allowances.bank_establishment_s)
    latest = found[-1][2]
    after = [one for one, *_ in _begun(judged) if one.number > latest.number]
    severity: Severity = "below standard" if often or far or not after else "improve"
    told = item_advice(judged, "late turn", latest)
    if after:
        why += MENDED
        told = Told() if severity == "improve" else as_on("late turn", after[-1])
    return judged.fault(
        f"{word} turn",
        severity,
        [one for *_, one in found],
        f"{judged.on(worst)} you began the outbound turn {off_s:.0f} s {'after' if word == 'late' else 'before'} "
        f"the fix; {why}",
        (off_s, 0.0, allowed_s, sd, "s"),
        f"outbound turn {up_to(found)}{off_s:.0f} s {word}",
        told,
    )


def _crossing_entry(judged: JudgedHold, one: JudgedCircuit) -> bool:
    """Return whether a direct entry came across the course: then flying on a little before the turn is right."""
    if judged.entry is None or one is not judged.circuits[0] or judged.entry.entry.flown != "direct":
        return False
    course = judged.flown.hold.inbound_course_true_deg
    return abs(wrap180(judged.entry.entry.arrival_heading_deg - course)) > FINDING.along_deg
