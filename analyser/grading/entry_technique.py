"""How a parallel or offset entry was flown: its track and time against the rule's, and how the course was met."""

from __future__ import annotations

import math

import numpy as np

from analyser.circuits.flown import Leg
from analyser.earth.angles import wrap180
from analyser.grading.entry_judged import EntryCase, Interception
from analyser.grading.score import Score, not_judged, scored
from analyser.grading.terms import LEG_UNKNOWN
from analyser.holds.definition import LegLimit
from analyser.holds.entries import entry_plan
from analyser.holds.sectors import EntryName

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
