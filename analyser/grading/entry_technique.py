"""How an entry was flown: the speed on arrival, its track and time against the rule's, and how the course was met."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np

from analyser.circuits.flown import Leg
from analyser.earth.angles import wrap180
from analyser.grading.entry_judged import Arrival, EntryCase, Interception
from analyser.grading.score import Score, not_judged, scored
from analyser.grading.terms import LEG_UNKNOWN
from analyser.holds.definition import LegLimit
from analyser.holds.entries import EntryName, entry_plan

#: How long before the fix the slowing down is looked at: what the FAA asks (AIM 5-3-8 j.8(a)), for all.
_LOOKED_AT_S = 180.0


def arrival(case: EntryCase) -> Arrival:
    """Judge the speed on arrival."""
    motion, fix_s = case.flown.motion, case.entry.fix_s
    hold = case.flown.hold
    limit = case.regime.speed_limit(case.altitude_ft, hold.category, hold.max_kias)
    limit_kias = case.regime.speed_limit_kias(case.altitude_ft, hold.category, hold.max_kias)
    early_s = fix_s - _LOOKED_AT_S
    span = motion.span(early_s, fix_s)
    speed, time_s = motion.ias_kt[span], motion.time_s[span]
    at_fix = motion.at("ias_kt", fix_s)
    if not np.isfinite(at_fix) or speed.size == 0:
        return Arrival(None, None, limit_kias, None, "not judged", limit.source)
    seen_all = bool(motion.time_s[0] <= early_s + 1.0)
    off = np.flatnonzero(np.abs(speed - case.speed_kt) > case.standard.speed.tolerance_kt)
    slowed = None
    if off.size:
        slowed = float(fix_s - time_s[off[-1]])
        slowed = 0.0 if off[-1] == speed.size - 1 else slowed
    elif seen_all:
        slowed = _LOOKED_AT_S
    sd = motion.at("ias_sd_kt", fix_s)
    before = float(speed[0]) if seen_all and np.isfinite(speed[0]) else None
    verdict: Literal["within", "outside"] = "outside" if at_fix - limit_kias > 2.0 * sd else "within"
    slow_down = _slow_down(case, limit_kias)
    after = motion.over_ias(motion.span(fix_s, case.entry.end_s), limit_kias)
    most_kias = at_fix if after.most_kt is None else max(after.most_kt, at_fix)
    return Arrival(
        float(at_fix),
        before,
        limit_kias,
        slowed,
        verdict,
        limit.source,
        slow_down,
        after.over_s,
        float(most_kias),
    )


def _slow_down(case: EntryCase, limit_kias: float) -> Score | None:
    """Judge how long before the fix the speed had come down to the limit to stay; None without such a rule."""
    rule, tolerance = case.regime.slow_down, case.regime.allowances
    if rule is None:
        return None
    motion, fix_s, asked_s = case.flown.motion, case.entry.fix_s, rule.before_fix_s
    span = motion.span(fix_s - asked_s, fix_s)
    time_s = motion.time_s[span]
    source = f"{rule.source}; tolerance: {tolerance.source}"
    over = np.flatnonzero(motion.surely_over_ias(span, limit_kias) & (motion.ias_kt[span] > limit_kias))
    if not over.size and not motion.time_s[0] <= fix_s - asked_s + 1.0:
        seen_s = fix_s - float(motion.time_s[0])
        why = f"the log begins {seen_s:.0f} s before the fix"
        return not_judged(why, unit="s", target=asked_s, tolerance=tolerance.timing_s, rule=source)
    held_s = asked_s if not over.size else float(fix_s - time_s[over[-1]])
    verdict: Literal["within", "outside"] = "within" if held_s >= asked_s - tolerance.timing_s else "outside"
    return Score(
        None,
        held_s,
        asked_s,
        tolerance.timing_s,
        verdict,
        "s",
        sd=_slowing_sd_s(case, limit_kias, held_s) if over.size else 0.0,
        deviation=min(0.0, held_s - asked_s),
        how=case.flown.motion.obtained.get("ias", "derived"),
        rule=source,
        note="before the fix, at or below the maximum holding speed; where notice allows",
    )


def _slowing_sd_s(case: EntryCase, limit_kias: float, held_s: float) -> float:
    """Return the sigma of when the speed came below the limit: half from surely above it to below it as read."""
    motion, fix_s = case.flown.motion, case.entry.fix_s
    span = motion.span(fix_s - held_s, fix_s)
    below = np.flatnonzero(motion.ias_kt[span] <= limit_kias)
    until_s = float(motion.time_s[span][below[0]]) if below.size else fix_s
    return 0.5 * (until_s - (fix_s - held_s))


#: Sigma of a leg's track from positions, degrees.
_TRACK_SD_DEG = 1.0


def _lean_deg(case: EntryCase) -> float | None:
    """Track, or heading, of the entry's leg against the outbound course, positive to the holding side."""
    leg, hold = case.entry.leg, case.flown.hold
    if leg is None or case.entry.flown not in ("parallel", "offset"):
        return None
    flown_deg = leg.heading_deg if case.regime.entry.angles_are == "headings" else leg.track_deg
    return -hold.side * wrap180(flown_deg - hold.outbound_course_true_deg)


def judge_angle(case: EntryCase) -> Score | None:
    """Judge the entry's leg: its track by ICAO, its heading by the FAA; None for an entry without one."""
    lean, leg = _lean_deg(case), case.entry.leg
    if lean is None or leg is None:
        return None
    offset, by_heading = case.entry.flown == "offset", case.regime.entry.angles_are == "headings"
    rule = f"{case.regime.entry.source}; tolerance: {case.standard.heading.source}"
    beyond = case.flown.hold.beyond_radial_deg(*case.frame.at(leg.end_s))
    if beyond is not None and beyond >= -case.scoring.limiting_radial.tolerance_deg:
        return not_judged(
            "the limiting radial was met, and it is flown along from there", unit="°", value=lean, rule=rule
        )
    return scored(
        case.scoring,
        value=lean,
        target=case.regime.entry.offset_angle_deg if offset else 0.0,
        tolerance=case.standard.heading.tolerance_deg,
        unit="°",
        sd=math.hypot(leg.heading_sd_deg if by_heading else _TRACK_SD_DEG, case.flown.course_sd_deg or 0.0),
        how=case.flown.motion.obtained.get("heading", "derived") if by_heading else "logged",
        rule=rule,
        note=f"{'heading' if by_heading else 'track over the ground'} against the outbound course, positive to the "
        "holding side",
    )


def judge_time(case: EntryCase) -> Score | None:
    """Judge the time of the entry's leg, or where a distance ends it; None for an entry without one."""
    leg, entry = case.entry.leg, case.entry
    if leg is None or entry.flown not in ("parallel", "offset"):
        return None
    tolerance = case.regime.allowances.timing_s
    minutes = case.regime.entry_minutes(case.altitude_ft)
    source = next(step.source for step in case.regime.entry_time if step.minutes == minutes)
    rule = f"{source}; tolerance: {case.regime.allowances.source}"
    if case.flown.hold.leg is not None and case.flown.hold.leg.distance_nm is not None:
        return _length(case, case.flown.hold.leg, leg.end_s)
    offset = entry.flown == "offset"
    start_s, start_sd_s = _on_heading_s(case, leg)
    target, words = entry_time_s(case, "offset" if offset else "parallel")
    by_fix = offset and abs(leg.end_s - entry.fix_s - target) <= abs(leg.end_s - start_s - target)
    start_s, start_sd_s = (entry.fix_s, 1.0) if by_fix else (start_s, start_sd_s)
    since = "from the fix" if by_fix else "from wings level outbound"
    if offset:
        words += "; no rule read says where this clock starts, so the nearer of fix and wings level counts"
    return scored(
        case.scoring,
        value=leg.end_s - start_s,
        target=target,
        tolerance=tolerance,
        unit="s",
        sd=math.hypot(start_sd_s, 3600.0 * (case.flown.fix_sd_nm or 0.0) / 100.0) if by_fix else start_sd_s,
        how="derived",
        rule=rule,
        note=f"{since}; {words}",
    )


#: A leg's heading is flown from when it is met within this, degrees; and how well that instant is known, seconds.
_ON_HEADING_DEG, _ON_HEADING_SD_S = 6.0, 2.0


def _on_heading_s(case: EntryCase, leg: Leg) -> tuple[float, float]:
    """Return when a parallel entry's leg began, wings level on its heading, and the sigma of that.

    A first turn too small to be cut as one still takes its time: then the heading tells when it was done.
    """
    if leg.start_s > case.entry.fix_s + 1.0:
        return leg.start_s, 1.0
    motion = case.flown.motion
    span = motion.span(leg.start_s, 0.5 * (leg.start_s + leg.end_s))
    off = np.abs(wrap180(motion.heading_deg[span] - leg.heading_deg)) > _ON_HEADING_DEG
    turning = np.flatnonzero(off)
    return (float(motion.time_s[span][turning[-1]]) if turning.size else leg.start_s), _ON_HEADING_SD_S


def _length(case: EntryCase, limit: LegLimit, end_s: float) -> Score:
    length = case.scoring.length
    if not case.flown.leg_known:
        return not_judged(LEG_UNKNOWN, unit="NM", value=limit.out_nm(*case.frame.at(end_s)))
    return scored(
        case.scoring,
        value=limit.out_nm(*case.frame.at(end_s)),
        target=limit.distance_nm or math.nan,
        tolerance=length.tolerance_nm,
        unit="NM",
        sd=case.flown.fix_sd_nm or 0.0,
        how="derived",
        rule=f"{case.regime.distance_leg.source}; tolerance: {length.source}",
        note="how far out the leg ended",
    )


def entry_time_s(case: EntryCase, kind: EntryName) -> tuple[float, str]:
    """Return the entry's time; ICAO gives it for still air, so the wind along the leg changes it."""
    rule_s = 60.0 * case.regime.entry_minutes(case.altitude_ft)
    if case.regime.clock.fixes == "inbound" or case.exact is None:
        return rule_s, "target by the clock"
    plan = entry_plan(kind, case.exact, case.regime, altitude_ft=case.altitude_ft)
    return plan.time_s, "target: the still-air length in this wind"


def off_side_nm(case: EntryCase) -> float | None:
    """Measure how far the entry strayed onto the non-holding side."""
    span = case.flown.motion.span(case.entry.fix_s, case.entry.end_s)
    cross = case.flown.hold.side * case.frame.cross_nm[span]
    return float(max(0.0, -cross.min())) if cross.size > 1 else None


def interception(case: EntryCase) -> Interception | None:
    """Measure how the inbound course was met; None for an entry without a turn back."""
    entry, course = case.entry, case.flown.hold.inbound_course_true_deg
    if not entry.turns or entry.flown not in ("parallel", "offset"):
        return None
    end_s = entry.turns[-1].end_s
    span = case.flown.motion.span(end_s, entry.end_s)
    along, cross = case.frame.along_nm[span], case.frame.cross_nm[span]
    if along.size < 2:
        return None
    before = along < -case.scoring.track.exclude_within_nm
    off = np.degrees(np.arctan2(cross, -along))
    out = np.flatnonzero((np.abs(off) > case.standard.track_angular_deg) & before)
    first = int(out[-1]) + 1 if out.size else 0
    met = float(-along[first]) if first < along.size and before[min(first, before.size - 1)] else None
    angle = wrap180(case.flown.motion.at("track_deg", end_s) - course)
    return Interception(case.frame.at(end_s)[1], angle, met)
