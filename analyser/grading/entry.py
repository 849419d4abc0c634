"""Judging the entry: the right sector, and how well it was flown."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.flown import Entry, FlownHold, Leg, Turn, is_unseen
from analyser.earth.angles import wrap180
from analyser.frozen import dataclass
from analyser.grading.grading_thresholds import JOINING
from analyser.grading.judged import Arrival, EntryVerdict, Interception, JudgedEntry
from analyser.grading.lap import course_doubt
from analyser.grading.score import Gauge, Score, mean_points
from analyser.grading.terms import LEG_UNKNOWN, HoldCase, speed_limit_of
from analyser.grading.wording import with_article
from analyser.holds.definition import Hold, LegLimit
from analyser.holds.entries import EntryName, entry_path, entry_plan, sectors_allowed
from analyser.holds.exact import ExactCircuit
from analyser.holds.kinematics import to_east_north
from analyser.logs.track import Notice
from analyser.rules.regime import Regime
from analyser.rules.scoring import Scoring

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class EntryCase(HoldCase):
    """What judging an entry needs."""

    entry: Entry
    #: For the wind of the first circuit; None where none closes.
    exact: ExactCircuit | None
    altitude_ft: float
    #: The holding speed, indicated; NaN where unknown.
    speed_kt: float


def arrival(case: EntryCase) -> Arrival:
    """Judge the speed on arrival."""
    motion, fix_s = case.flown.motion, case.entry.fix_s
    limit, limit_kias = speed_limit_of(case.flown.hold, case.regime, case.altitude_ft)
    early_s = fix_s - JOINING.looked_at_s
    span = motion.span(early_s, fix_s)
    speed, time_s = motion.ias_kt[span], motion.time_s[span]
    at_fix = motion.at("ias_kt", fix_s)
    if not np.isfinite(at_fix) or speed.size == 0:
        return Arrival(None, None, limit_kias, None, "not judged", limit.source)
    seen_all = bool(motion.time_s[0] <= early_s + 1.0)
    off = np.flatnonzero(np.abs(speed - case.speed_kt) > case.standard.speed.tolerance_kt)
    slowed = JOINING.looked_at_s if seen_all else None
    if off.size:
        slowed = 0.0 if off[-1] == speed.size - 1 else float(fix_s - time_s[off[-1]])
    over = at_fix - limit_kias > 2.0 * motion.at("ias_sd_kt", fix_s)
    after = motion.over_ias(motion.span(fix_s, case.entry.end_s), limit_kias)
    return Arrival(
        float(at_fix),
        float(speed[0]) if seen_all and np.isfinite(speed[0]) else None,
        limit_kias,
        slowed,
        "outside" if over else "within",
        limit.source,
        _slow_down(case, limit_kias),
        after.over_s,
        float(at_fix if after.most_kt is None else max(after.most_kt, at_fix)),
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
        return Gauge(case.scoring, "s", tolerance.timing_s, source).unjudged(why, target=asked_s)
    held_s = asked_s if not over.size else float(fix_s - time_s[over[-1]])
    sd_s = 0.0
    if over.size:
        # Half from where the speed was surely above the limit to where it was below it as read.
        last = motion.span(fix_s - held_s, fix_s)
        below = np.flatnonzero(motion.ias_kt[last] <= limit_kias)
        until_s = float(motion.time_s[last][below[0]]) if below.size else fix_s
        sd_s = 0.5 * (until_s - (fix_s - held_s))
    return Score(
        None,
        held_s,
        asked_s,
        tolerance.timing_s,
        "within" if held_s >= asked_s - tolerance.timing_s else "outside",
        "s",
        sd=sd_s,
        deviation=min(0.0, held_s - asked_s),
        how=case.how("ias"),
        rule=source,
        note="before the fix, at or below the maximum holding speed; where notice allows",
    )


def _lean_deg(hold: Hold, direction_deg: float) -> float:
    """Lean of a direction against the outbound course, positive to the holding side."""
    return -hold.side * wrap180(direction_deg - hold.outbound_course_true_deg)


def judge_angle(case: EntryCase) -> Score | None:
    """Judge the entry's leg: its track by ICAO, its heading by the FAA; None for an entry without one."""
    leg, entry, standard = case.entry.leg, case.regime.entry, case.standard.heading
    if leg is None or case.entry.flown not in ("parallel", "offset"):
        return None
    what, how, flown_deg, sd_deg = "track over the ground", "logged", leg.track_deg, JOINING.track_sd_deg
    if entry.angles_are == "headings":
        what, how, flown_deg, sd_deg = "heading", case.how("heading"), leg.heading_deg, leg.heading_sd_deg
    rule = f"{entry.source}; tolerance: {standard.source}"
    gauge = Gauge(case.scoring, "°", standard.tolerance_deg, rule, how)
    lean, beyond = (
        _lean_deg(case.flown.hold, flown_deg),
        case.flown.hold.beyond_radial_deg(*case.frame.at(leg.end_s)),
    )
    if case.in_hole(leg.start_s, leg.end_s):
        return replace(gauge, tolerance=None).unjudged(_UNSEEN_LEG, lean)
    if beyond is not None and beyond >= -case.scoring.limiting_radial.tolerance_deg:
        why = "the limiting radial was met, and it is flown along from there"
        return replace(gauge, tolerance=None).unjudged(why, lean)
    target = entry.offset_angle_deg if case.entry.flown == "offset" else 0.0
    note = f"{what} against the outbound course, positive to the holding side"
    return gauge.score(lean, target, math.hypot(sd_deg, case.flown.course_sd_deg or 0.0), note)


def judge_time(case: EntryCase) -> Score | None:
    """Judge the time of the entry's leg, or where a distance ends it; None for an entry without one."""
    leg, entry = case.entry.leg, case.entry
    if leg is None or entry.flown not in ("parallel", "offset"):
        return None
    tolerance = case.regime.allowances.timing_s
    minutes = case.regime.entry_minutes(case.altitude_ft)
    source = next(step.source for step in case.regime.entry_time if step.minutes == minutes)
    rule = f"{source}; tolerance: {case.regime.allowances.source}"
    gauge, ends = Gauge(case.scoring, "s", tolerance, rule, "derived"), (leg.start_s, leg.end_s)
    if any(case.in_hole(end_s - _EDGE_S, end_s + _EDGE_S) for end_s in ends):
        return gauge.unjudged(_UNSEEN_LEG)
    if case.flown.hold.leg is not None and case.flown.hold.leg.distance_nm is not None:
        return _length(case, case.flown.hold.leg, leg.end_s)
    offset = entry.flown == "offset"
    start_s, start_sd_s = _on_heading_s(case, leg)
    target, words = 60.0 * minutes, "target by the clock"
    if case.regime.clock.fixes != "inbound" and case.exact is not None:
        # ICAO gives the time for still air, so the wind along the leg changes it.
        kind: EntryName = "offset" if offset else "parallel"
        target = entry_plan(kind, case.exact, case.regime, altitude_ft=case.altitude_ft).time_s
        words = "target: the still-air length in this wind"
    by_fix = offset and abs(leg.end_s - entry.fix_s - target) <= abs(leg.end_s - start_s - target)
    start_s, start_sd_s = (entry.fix_s, 1.0) if by_fix else (start_s, start_sd_s)
    since = "from the fix" if by_fix else "from wings level outbound"
    if offset:
        words += "; no rule read says where this clock starts, so the nearer of fix and wings level counts"
    fix_sd_s = 3600.0 * (case.flown.fix_sd_nm or 0.0) / 100.0
    sd = math.hypot(start_sd_s, fix_sd_s) if by_fix else start_sd_s
    return gauge.score(leg.end_s - start_s, target, sd, f"{since}; {words}")


#: Why an entry's leg is not judged; and how near to its ends the log may have no hole, seconds.
_UNSEEN_LEG, _EDGE_S = "the log has a hole on the entry's leg", 5.0


def _on_heading_s(case: EntryCase, leg: Leg) -> tuple[float, float]:
    """Return when a parallel entry's leg began, wings level on its heading, and the sigma of that.

    A first turn too small to be cut as one still takes its time: then the heading tells when it was done.
    """
    if leg.start_s > case.entry.fix_s + 1.0:
        return leg.start_s, 1.0
    motion = case.flown.motion
    span = motion.span(leg.start_s, 0.5 * (leg.start_s + leg.end_s))
    off = np.abs(wrap180(motion.heading_deg[span] - leg.heading_deg)) > JOINING.on_heading_deg
    turning = np.flatnonzero(off)
    return (float(motion.time_s[span][turning[-1]]) if turning.size else leg.start_s), JOINING.on_heading_sd_s


def _length(case: EntryCase, limit: LegLimit, end_s: float) -> Score:
    length, out_nm = case.scoring.length, limit.out_nm(*case.frame.at(end_s))
    if not case.flown.leg_known:
        return Gauge(case.scoring, "NM", None).unjudged(LEG_UNKNOWN, out_nm)
    rule = f"{case.regime.distance_leg.source}; tolerance: {length.source}"
    gauge = Gauge(case.scoring, "NM", length.tolerance_nm, rule, "derived")
    sd = case.flown.fix_sd_nm or 0.0
    return gauge.score(out_nm, limit.distance_nm or math.nan, sd, "how far out the leg ended")


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


def with_entry_begun(flown: FlownHold, regime: Regime) -> FlownHold:
    """Take a first lap for the parallel entry that it was: onto its leg against the hold's hand, and back with it.

    Turned back to the wrong side, the entry comes round to the fix as a circuit does. And one that may have been an
    offset entry is held against nobody as a circuit.
    """
    entry, hold = flown.entry, flown.hold
    if entry is None or entry.flown != "direct" or len(flown.circuits) < 2:
        return flown
    first = flown.circuits[0]
    out, leg, back = first.outbound_turn, first.outbound_leg, first.inbound_turn
    if out is None or leg is None or back is None or back.heading_change_deg * hold.side < 0.0:
        return flown
    if entry.perhaps == "offset":
        return _begun_later(
            flown, replace(entry, flown="offset", perhaps="direct", leg=leg, turns=(out, back))
        )
    course = hold.inbound_course_true_deg
    asked = sectors_allowed(
        entry.arrival_heading_deg, course, hold.turns, rule=regime.entry, way=hold.arrival
    )
    against = -JOINING.leg_turn_deg < out.heading_change_deg * hold.side < 0.0
    if asked != ("parallel",) or not against or abs(_lean_deg(hold, leg.track_deg)) > JOINING.leg_within_deg:
        return flown
    return _begun_later(flown, replace(entry, flown="other", perhaps=None, leg=leg, turns=(out, back)))


def _begun_later(flown: FlownHold, entry: Entry) -> FlownHold:
    first, *others = flown.circuits

    def renumbered(notice: Notice) -> Notice:
        """Name the circuits after a first lap that was the entry one number lower."""
        lower = re.sub(r"circuit (\d+)", lambda said: f"circuit {max(int(said[1]) - 1, 1)}", notice.message)
        return replace(notice, message=lower)

    return replace(
        flown,
        entry=replace(entry, end_s=first.end_s),
        circuits=tuple(replace(one, number=number) for number, one in enumerate(others, start=1)),
        notices=tuple(renumbered(one) for one in flown.notices if not one.message.startswith("circuit 1:")),
    )


def judge_entry(case: EntryCase) -> JudgedEntry:
    """Judge the entry."""
    entry, hold = case.entry, case.flown.hold
    allowed = sectors_allowed(
        entry.arrival_heading_deg,
        hold.inbound_course_true_deg,
        hold.turns,
        rule=case.regime.entry,
        way=hold.arrival,
    )
    # With the fix perhaps at the other end nothing of the way to it can be held against anybody.
    open_end = case.flown.other_end is not None
    # Nor can the leg of what may have been a first lap be held against an entry's.
    unknown = open_end or entry.perhaps is not None or _turned_unseen(case)
    angle, time = (None, None) if unknown else (judge_angle(case), judge_time(case))
    verdict, recommended, note = ruled = _verdict(case, allowed)
    if not case.flown.given and time is not None and is_twice(time, case.scoring):
        ruled = "not judged", True, "so long a leg may be no entry's: it may lead from elsewhere"
    meant, back = _turned_away(case, allowed) or (None, entry.turns[-1] if entry.turns else None)
    kind = meant or entry.flown
    if kind not in ("parallel", "offset") or (back is not None and case.in_hole(back.start_s, back.end_s)):
        back = None
    wanted = hold.side if kind == "offset" else -hold.side
    if meant is not None:
        # Its leg was that of the entry begun, its turn that of another: neither rule holds for it.
        ruled = "incorrect", True, f"{meant} entry, turned back to the wrong side"
    surely_another = ruled[0] == "incorrect" or not ruled[1]
    may_be_circuit = meant is None and surely_another and _is_like_a_circuit(case.flown, entry)
    if may_be_circuit:
        why = (
            "a parallel entry, which was not asked for, or a first circuit to the wrong hand: they look alike"
        )
        ruled = "not judged", True, why
    if ruled != (verdict, recommended, note):
        angle = time = None
    verdict, recommended, note = ruled
    cross = hold.side * case.frame.cross_nm[case.flown.motion.span(entry.fix_s, entry.end_s)]
    weights = case.scoring.entry
    sector_points = {"correct": 100.0, "incorrect": 0.0, "not judged": None}[verdict]
    if not recommended:
        sector_points = weights.not_recommended_points
    weighed = [
        (sector_points, weights.sector_weight),
        (angle.points if angle else None, weights.angle_weight),
        (time.points if time else None, weights.time_weight),
    ]
    return JudgedEntry(
        entry,
        allowed,
        verdict,
        recommended,
        mean_points(weighed),
        angle,
        time,
        float(max(0.0, -cross.min())) if cross.size > 1 else None,
        back.heading_change_deg if back else None,
        back.heading_change_deg * wanted > 0.0 if back else None,
        meant,
        None if open_end else interception(case),
        arrival(case),
        *_ideal(case, allowed[0]),
        note,
        may_be_circuit,
    )


def is_twice(time: Score, scoring: Scoring) -> bool:
    """Tell whether an entry's leg was surely flown for so many times its time that it is unsafe."""
    if time.value is None or time.target is None:
        return False
    return time.value - 2.0 * (time.sd or 0.0) >= scoring.unsafe.outbound_multiple * time.target


def _is_like_a_circuit(flown: FlownHold, entry: Entry) -> bool:
    """Tell whether what looks like a parallel entry is as well a first circuit to the wrong hand: by both turns."""
    return (
        entry.flown == "parallel"
        and len(entry.turns) > 1
        and all(
            -turn.heading_change_deg * flown.hold.side >= JOINING.leg_turn_deg
            and not is_unseen(flown.motion, turn)
            for turn in entry.turns
        )
    )


def _turned_away(case: EntryCase, allowed: tuple[EntryName, ...]) -> tuple[EntryName, Turn] | None:
    """Return the entry that was begun rightly and turned back to the wrong side, and that turn; None where none was.

    A parallel entry that turns back away from the holding side, or an offset one that turns back across the course,
    is seen by its leg: that of the entry asked for, with the turn of the other. Which way a turn went that the log does
    not show nobody knows.
    """
    entry, hold = case.entry, case.flown.hold
    leg, turns = entry.leg, entry.turns
    if leg is None or not turns or len(allowed) > 1:
        return None
    if case.in_hole(turns[-1].start_s, turns[-1].end_s):
        return None
    lean = _lean_deg(hold, leg.track_deg)
    along_offset = lean >= 0.5 * case.regime.entry.offset_angle_deg
    with_hold = turns[-1].heading_change_deg * hold.side > 0.0
    if allowed[0] == "offset" and along_offset and not with_hold:
        return "offset", turns[-1]
    if allowed[0] == "parallel" and abs(lean) <= JOINING.leg_within_deg and not along_offset and with_hold:
        return "parallel", turns[-1]
    return None


def _verdict(case: EntryCase, allowed: tuple[EntryName, ...]) -> tuple[EntryVerdict, bool, str]:
    """Say whether the entry was right and the one recommended, unless nobody can tell."""
    entry, rule = case.entry, case.regime.entry
    if doubt := _doubt(case, allowed):
        return "not judged", True, doubt
    if entry.flown in allowed:
        beside = " (within the zone beside its boundary)" if entry.flown != allowed[0] else ""
        return "correct", True, f"{rule.word(entry.flown)} entry{beside}"
    wanted = " or ".join(map(rule.word, allowed))
    flown = "none of the three" if entry.flown == "other" else rule.word(entry.flown)
    flown += f" or {rule.word(entry.perhaps)}" if entry.perhaps is not None else ""
    if rule.binding == "recommended":
        why = "entries are recommended, not mandatory"
        return "correct", False, f"{wanted} was recommended, {flown} was flown: {why}"
    return "incorrect", True, f"{wanted} was asked for, {flown} was flown"


def _turned_unseen(case: EntryCase) -> bool:
    """Tell whether a hole hides the turn back: by its leg alone an entry may be another, or a first circuit."""
    turns = case.entry.turns
    return case.entry.flown != "direct" and bool(turns) and is_unseen(case.flown.motion, turns[-1])


def _doubt(case: EntryCase, allowed: tuple[EntryName, ...]) -> str:
    """Say why nobody can tell whether the entry was right; empty where it can be told."""
    entry, hold, rule = case.entry, case.flown.hold, case.regime.entry
    if case.flown.other_end is not None:
        return course_doubt(case.flown.course_sd_deg)
    if _turned_unseen(case):
        return "the log has a hole where you turned back, and which way you turned cannot be told"
    if entry.perhaps is not None and (entry.flown in allowed) != (entry.perhaps in allowed):
        either = f"{with_article(rule.word('offset'))} entry hardly led off"
        return f"{either} and a first circuit look the same here, and only one of them is right"
    course_sd = case.flown.course_sd_deg or 0.0
    sd = math.hypot(entry.arrival_heading_sd_deg, course_sd)

    def sectors(off_deg: float, wider_deg: float = 0.0) -> tuple[EntryName, ...]:
        heading = entry.arrival_heading_deg + off_deg
        zone = rule.zone_deg + wider_deg
        return sectors_allowed(heading, hold.inbound_course_true_deg, hold.turns, zone, rule, hold.arrival)

    if entry.flown in allowed:
        # Right on the inferred course, and wrong on one that may as well be the true one: nobody knows.
        near = not all(entry.flown in sectors(off) for off in (-2.0 * course_sd, 2.0 * course_sd))
    else:
        near = entry.flown in sectors(0.0, 2.0 * sd)
    if near:
        return f"the heading against the course is known to ±{2.0 * sd:.0f}° only, and the boundary is nearer"
    if entry.flown in allowed:
        # With a course so badly known the laps may as well be another hold's, or this one's read from its other end.
        return course_doubt(course_sd)
    # Entries differ by the angle of an offset one; what is none of the three must leave no doubt at all.
    return course_doubt(course_sd, rule.zone_deg if entry.flown == "other" else 0.5 * rule.offset_angle_deg)


def _ideal(case: EntryCase, kind: EntryName) -> tuple[FloatArray, FloatArray]:
    heading = case.entry.arrival_heading_deg
    if case.exact is None or not math.isfinite(heading):
        return np.empty(0), np.empty(0)
    plan = entry_plan(
        kind,
        case.exact,
        case.regime,
        altitude_ft=case.altitude_ft,
        leg=case.flown.hold.leg,
        arrival_heading_deg=heading,
    )
    path = entry_path(plan, case.exact, heading)
    return to_east_north(path.along_nm, path.cross_nm, case.exact.inbound_course_deg)
