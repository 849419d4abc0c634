"""Judging legs and turns: times, bank against rate one, drift laid off, the inbound course; and leaving on time.

Timed is the leg that the rules limit: outbound by ICAO, inbound by the FAA, or a length. The outbound heading is judged
for the wind met, the inbound leg by the needle.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from analyser.circuits.flown import FlownHold, Turn
from analyser.earth.constants import GRAVITY, METRES_PER_NM
from analyser.frozen import dataclass
from analyser.grading.grading_thresholds import LEG
from analyser.grading.keeping import Excursion, excursions, read
from analyser.grading.lap import Lap, Measures
from analyser.grading.score import Gauge, Score
from analyser.grading.terms import LEG_UNKNOWN, OTHER_HAND
from analyser.holds.exact import ExactCircuit
from analyser.holds.leaving_plan import LeavePlan, plan_leaving, turn_in_table


def judge_timing(lap: Lap, measures: Measures) -> Score:
    """Judge the timing by the terms' own clock and target: seconds, or nautical miles for a distance leg."""
    timed = lap.terms.timed
    if timed == "not judged":
        return Gauge(lap.scoring, "NM" if lap.terms.minutes is None else "s", None).unjudged(
            lap.terms.untimed
        )
    if timed == "length":
        return _length(lap, measures)
    score = _inbound(lap, measures) if timed == "inbound" else _outbound(lap, measures)
    by_the_fix = timed == "inbound" or lap.terms.clock == "abeam"
    return _unless_late(lap, score) if by_the_fix and lap.flown.fix_sd_nm is not None else score


def _unless_late(lap: Lap, score: Score) -> Score:
    """Hold nothing against a pilot that a late outbound turn explains.

    A fix that was inferred from where the outbound turns began lies as far on as they began late, on every circuit
    alike: legs timed by it seem that much longer, or shorter, than they were.
    """
    if score.verdict != "outside" or score.deviation is None or score.tolerance is None:
        return score
    allowed = lap.regime.allowances
    late_s = allowed.reaction_s + allowed.bank_establishment_s
    sd = math.hypot(score.sd or 0.0, 0.5 * late_s)
    if abs(score.deviation) <= score.tolerance + late_s:
        return replace(score, points=None, verdict="not judged", sd=sd, note=_BY_LATE_TURNS)
    return replace(score, sd=sd)


#: Why a time outside its tolerance is not held against the pilot.
_BY_LATE_TURNS = (
    "the fix was inferred from where the outbound turns began, and turns begun late would look the same: "
    "a hold file settles it"
)


#: Why what lies across a pause has no time.
_PAUSED = "the recording was paused on this leg, or its time ran at another rate"


def _outbound(lap: Lap, measures: Measures) -> Score:
    """Judge the outbound time: against the exact one, or the standard one where it is the hold's first by the FAA."""
    terms, ideal = lap.terms, lap.ideal
    standard = terms.timed == "first outbound"
    source = lap.regime.clock.source if standard else lap.regime.wind.source
    gauge = Gauge(lap.scoring, "s", terms.timing_tolerance_s, f"{source}; {terms.timing_source}", "derived")
    if measures.timed_s is None or measures.timed_sd_s is None:
        return gauge.unjudged("no outbound leg that ended in a turn")
    turn = lap.circuit.inbound_turn
    if turn is not None and lap.flown.motion.has_seam(turn.start_s - measures.timed_s, turn.start_s):
        return gauge.unjudged(_PAUSED, measures.timed_s)
    if standard:
        assert terms.still_air_s is not None
        target, target_sd = terms.still_air_s, 0.0
        note = "first circuit: the outbound leg is flown for the standard time; later ones are judged by the inbound"
    elif not ideal.circuit.closes:
        return gauge.unjudged(ideal.circuit.why_not, measures.timed_s)
    else:
        target, target_sd = ideal.outbound_s(terms.clock)
        note = _with_why(lap, f"outbound time from {SINCE[terms.clock]}")
    return gauge.score(measures.timed_s, target, math.hypot(measures.timed_sd_s, target_sd), note)


#: Where each clock starts, in words.
SINCE = {"abeam": "abeam the fix", "wings level": "wings level (abeam was not met)"}


def _inbound(lap: Lap, measures: Measures) -> Score:
    terms, exact = lap.terms, lap.ideal.circuit
    rule = f"{terms.leg_source}; {terms.timing_source}"
    gauge = Gauge(lap.scoring, "s", terms.timing_tolerance_s, rule, "derived")
    duration, sd = measures.inbound_duration_s, measures.inbound_duration_sd_s
    if duration is None or sd is None:
        return gauge.unjudged("no inbound leg flown to the fix")
    if lap.flown.motion.has_seam(lap.circuit.end_s - duration, lap.circuit.end_s):
        return gauge.unjudged(_PAUSED, duration)
    if not exact.closes:
        return gauge.unjudged(exact.why_not, duration)
    note = _with_why(lap, "inbound time from wings level to the fix")
    return gauge.score(duration, exact.inbound_time_s, sd, note)


def _length(lap: Lap, measures: Measures) -> Score:
    length, leg = lap.scoring.length, lap.flown.hold.leg
    rule = f"{lap.regime.distance_leg.source}; tolerance: {length.source}"
    gauge = Gauge(lap.scoring, "NM", length.tolerance_nm, rule, "derived")
    if leg is None or leg.distance_nm is None or measures.turn_in_nm is None:
        return gauge.unjudged("no outbound leg that ended in a turn")
    beyond, allowed = measures.beyond_radial_deg, lap.scoring.limiting_radial.tolerance_deg
    if beyond is not None and beyond >= -allowed and measures.turn_in_nm < leg.distance_nm:
        return gauge.unjudged(
            "the limiting radial came before the distance", measures.turn_in_nm, leg.distance_nm
        )
    note = "how far out the inbound turn began, whatever inbound leg results"
    return gauge.score(measures.turn_in_nm, leg.distance_nm, lap.flown.fix_along_sd_nm, note)


def _with_why(lap: Lap, note: str) -> str:
    return note if lap.ideal.circuit.exists else f"{note}; {lap.ideal.circuit.why_not}"


@dataclass(frozen=True)
class Departure:
    """The plan from one passage of the fix."""

    #: The passage, seconds from the log's first sample.
    fix_s: float
    #: How to be back over the fix at the wanted instant.
    plan: LeavePlan
    #: When to begin its first inbound turn, seconds from the log's first sample; None where it has none.
    turn_in_s: float | None


@dataclass(frozen=True)
class Leaving:
    """How the hold was left."""

    #: The wanted instant over the fix, seconds from the log's first sample.
    leave_at_s: float
    #: The last passage of the fix.
    left_s: float | None
    #: Error in seconds, positive late.
    score: Score
    #: From each passage of the fix before the wanted instant, the earliest first.
    plans: tuple[Departure, ...]
    #: For the last circuit's wind: when to turn in, and when that leads back over the fix.
    turn_in: tuple[ExactCircuit, ...]


def judge_leaving(laps: list[Lap], leave_at_s: float) -> Leaving:
    """Judge the leaving against an instant on the clock of the log, and plan it from each passage of the fix."""
    last = laps[-1]
    scoring, regime = last.scoring, last.regime
    left_s = last.circuit.end_s if last.circuit.complete else None
    rule = f"{regime.leaving.source}; tolerance: {scoring.leaving.source}"
    late_s = math.nan if left_s is None else left_s - leave_at_s
    gauge = Gauge(scoring, "s", scoring.leaving.tolerance_s, rule, "derived")
    # An inferred fix is passed within its sigma, a given one to half a second.
    sd_s = math.hypot(0.5, last.flown.fix_along_sd_s(last.circuit))
    score = gauge.score(late_s, 0.0, sd_s, "seconds late over the fix")
    departures = tuple(
        _departure(lap, leave_at_s)
        for lap in laps
        if lap.circuit.start_s <= leave_at_s and lap.ideal.circuit.closes
    )
    least_s = regime.allowances.least_inbound_s
    table = turn_in_table(last.ideal.circuit, least_inbound_s=least_s) if last.ideal.circuit.closes else ()
    return Leaving(leave_at_s, left_s, score, departures, table)


def _departure(lap: Lap, leave_at_s: float) -> Departure:
    exact = lap.ideal.circuit
    least_s = lap.regime.allowances.least_inbound_s
    plan = plan_leaving(exact, leave_at_s - lap.circuit.start_s, least_inbound_s=least_s)
    following = exact if plan.full_circuits else plan.shortened[0] if plan.shortened else None
    turn_in = None
    if following is not None:
        turn_in = lap.circuit.start_s + following.first_turn_s + following.outbound_time_s
    return Departure(lap.circuit.start_s, plan, turn_in)


_STEERED = "the lesser bank that a flight director is limited to counts as right"


def judge_bank(lap: Lap) -> Score:
    """Judge the mean bank of both turns against rate one or the bank limit, whichever is less.

    Points are for the rms of both turns' errors, so that one turn too steep does not make good another too shallow.
    """
    tolerance = lap.scoring.bank
    rule = f"{lap.regime.turns.source}; tolerance: {tolerance.source}"
    gauge, turns = Gauge(lap.scoring, "°", tolerance.tolerance_deg, rule, lap.how("bank")), _recorded(lap)
    if not turns:
        return gauge.unjudged("no turn recorded well enough")
    target, target_sd = _target_deg(lap)
    banks = [abs(turn.bank_mean_deg) for turn in turns]
    off = [bank_off_deg(lap, bank) for bank in banks]
    steered = any(abs(one) < abs(bank - target) for one, bank in zip(off, banks, strict=True))
    notes = ["one turn only"] * (len(turns) < 2) + [_STEERED] * steered
    spread = math.hypot(*(turn.bank_mean_sd_deg for turn in turns)) / len(turns)
    sd, off_deg = math.hypot(spread, target_sd), math.sqrt(sum(one**2 for one in off) / len(off))
    return gauge.score(sum(banks) / len(banks), target, sd, "; ".join(notes), deviation=off_deg)


def judge_turns(lap: Lap) -> dict[str, Score]:
    """Judge the mean bank of each turn flown by itself; shown, and spoken of, but given no weight of its own."""
    target, target_sd = _target_deg(lap)
    recorded, found = _recorded(lap), {}
    tolerance_deg = lap.scoring.bank.tolerance_deg
    for name in ("outbound_turn", "inbound_turn"):
        turn: Turn | None = getattr(lap.circuit, name)
        if turn is None:
            continue
        gauge = Gauge(lap.scoring, "°", tolerance_deg, how=lap.how("bank"))
        if turn not in recorded:
            found[name] = gauge.unjudged("not recorded well enough")
            continue
        bank, sd = abs(turn.bank_mean_deg), math.hypot(turn.bank_mean_sd_deg, target_sd)
        found[name] = gauge.score(bank, target, sd, deviation=bank_off_deg(lap, bank))
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
    tolerance, how = lap.scoring.steadiness, lap.how("bank")
    gauge = Gauge(lap.scoring, "°", tolerance.tolerance_deg, tolerance.source, how)
    turns = [turn for turn in _recorded(lap) if math.isfinite(turn.bank_wander_deg)]
    if not turns:
        return gauge.unjudged("no turn recorded well enough")
    wander = math.sqrt(sum(turn.bank_wander_deg**2 for turn in turns) / len(turns))
    note = "" if how == "logged" else "derived from positions, quick wandering is smoothed away"
    return gauge.score(wander, 0.0, max(turn.bank_mean_sd_deg for turn in turns), note)


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


def judge_track(lap: Lap, measures: Measures) -> Score:
    """Judge the rms distance off the inbound course.

    In degrees as seen from the fix on a leg limited by time, in miles on one limited by distance.
    """
    angular = lap.terms.needle
    unit = "°" if angular else "NM"
    tolerance = lap.standard.track_angular_deg if angular else lap.standard.track_linear_nm
    value = measures.off_course_rms_deg if angular else measures.cross_track_rms_nm
    gauge = Gauge(lap.scoring, unit, tolerance, lap.standard.track.source, "logged")
    leg = lap.circuit.inbound_leg
    if leg is not None and lap.in_hole(leg.start_s, leg.end_s):
        return gauge.unjudged("the log has a hole on the inbound leg")
    if leg is None or value is None:
        return gauge.unjudged("no inbound leg long enough to read")
    note = "rms from roll-out to the fix"
    # Places beside the course are known by receiver, inferred fix, and what samples do not show.
    sd = math.hypot(LEG.position_sd_nm, lap.flown.fix_sd_nm or 0.0, unseen_sd_nm(lap.flown))
    if angular:
        note += f"; without the last {lap.scoring.track.exclude_within_nm:g} NM, taken as a radio aid"
        # Half-way down the leg.
        middle_nm = max(0.5 * abs(measures.rollout_along_nm or 1.0), lap.scoring.track.exclude_within_nm)
        sd = math.hypot(lap.flown.course_sd_deg or 0.0, math.degrees(math.atan2(sd, middle_nm)))
    if not lap.flown.given:
        note += "; fix and course are inferred from this flight, so a constant error does not show"
    return gauge.score(value, 0.0, sd, note)


def left_track(lap: Lap, score: Score) -> tuple[Excursion, ...]:
    """Find each time that the inbound leg lay farther off the course than was judged by, positive right of it.

    Not within the last stretch, where degrees mean nothing; nothing where the circuit's track was not judged.
    """
    leg, motion = lap.circuit.inbound_leg, lap.flown.motion
    if score.points is None or score.tolerance is None or leg is None:
        return ()
    span = motion.span(leg.start_s, leg.end_s)
    along, cross = lap.frame.along_nm[span], lap.frame.cross_nm[span]
    far = along < -lap.scoring.track.exclude_within_nm
    if score.unit == "°":
        tolerance = np.maximum(-along, 1e-3) * math.tan(math.radians(score.tolerance))
    else:
        tolerance, far = np.full(along.shape, score.tolerance), np.ones(along.shape, dtype=bool)
    if along.size < 2:
        return ()
    off_leg = motion.in_hole[span] | lap.circuit.circled(motion.time_s[span])
    error = np.where(far & ~off_leg, cross, np.nan)
    return excursions((lap.circuit,), motion.time_s[span], error, np.zeros(along.shape), tolerance)


def unseen_sd_nm(flown: FlownHold) -> float:
    """Return how far off a place may be that lies between two samples, one sigma.

    An arc between them stands off its chord by a·t²/8; half of that is taken.
    """
    across_mps2 = GRAVITY * math.tan(math.radians(LEG.hidden_bank_deg))
    return 0.5 * across_mps2 * flown.motion.sample_s**2 / 8.0 / METRES_PER_NM


def judge_wind_correction(lap: Lap, measures: Measures) -> Score:
    """Judge the outbound heading minus the reciprocal of the inbound course, positive right."""
    exact, leg, laid_off = lap.ideal.circuit, lap.circuit.outbound_leg, measures.outbound_correction_deg
    gauge = _by_heading(lap, "exact circuit for the wind met")
    if leg is None or laid_off is None:
        return gauge.unjudged("no outbound leg")
    if lap.circuit.inbound_turn is None:
        # Nobody knows whether this was still the hold or already the way out of it.
        return gauge.unjudged("broken off before the way back inbound")
    if lap.in_hole(leg.start_s, leg.end_s):
        return gauge.unjudged("the log has a hole on the outbound leg")
    # The longer the leg, the less correction is right on it.
    unknown = "" if lap.flown.leg_known else LEG_UNKNOWN
    unknown = OTHER_HAND if lap.terms.untimed == OTHER_HAND else unknown
    if why := unknown if exact.closes else exact.why_not:
        return gauge.unjudged(why, laid_off)
    sd = math.hypot(leg.heading_sd_deg, lap.ideal.outbound_heading_sd_deg)
    return gauge.score(laid_off, exact.outbound_correction_deg, sd, "" if exact.exists else exact.why_not)


def judge_inbound_correction(lap: Lap, measures: Measures) -> Score:
    """Compare the mean inbound heading, minus the course, with what holds the course.

    Positive right; shown, but given no weight.
    """
    exact, leg, laid_off = lap.ideal.circuit, lap.circuit.inbound_leg, measures.inbound_correction_deg
    gauge = _by_heading(lap, "wind triangle on the inbound course")
    if leg is None or laid_off is None:
        return gauge.unjudged("no inbound leg")
    if lap.in_hole(leg.start_s, leg.end_s):
        return gauge.unjudged("the log has a hole on the inbound leg")
    if not exact.closes:
        return gauge.unjudged(exact.why_not, laid_off)
    drift_sd = math.degrees(lap.circuit.wind_sd_kt / max(lap.circuit.tas_kt, 1.0))
    sd = math.hypot(leg.heading_sd_deg, drift_sd, lap.flown.course_sd_deg or 0.0)
    note = "includes the heading changes that met the course again"
    return gauge.score(laid_off, exact.inbound_drift_correction_deg, sd, note)


def _by_heading(lap: Lap, rule: str) -> Gauge:
    tolerance = lap.standard.heading
    rule = f"{rule}; tolerance: {tolerance.source}"
    return Gauge(lap.scoring, "°", tolerance.tolerance_deg, rule, lap.how("heading"))
