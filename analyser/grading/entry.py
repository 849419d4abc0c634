"""Judging the entry: the right sector, and how well it was flown."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.flown import Entry, FlownHold
from analyser.circuits.frame import HoldFrame
from analyser.earth.angles import wrap180
from analyser.grading.score import Score, mean_points, not_judged, scored
from analyser.holds.circuit_path import to_east_north
from analyser.holds.entries import entry_plan
from analyser.holds.entry_path import entry_path
from analyser.holds.exact import ExactCircuit
from analyser.holds.sectors import EntryName, sectors_allowed
from analyser.rules.regime import Regime
from analyser.rules.scoring import Scoring
from analyser.rules.standard import Standard

FloatArray = NDArray[np.float64]
EntryVerdict = Literal["correct", "incorrect", "not judged"]


@dataclass(frozen=True)
class Interception:
    """How the inbound course was met after a parallel or offset entry.

    Attributes
    ----------
    rollout_cross_track_nm : float
        At the end of the turn back, positive right of the course.
    angle_deg : float
        Track against the course there, positive right.
    met_at_nm : float or None
        Distance before the fix from which the track stayed within tolerance; None where it never did.
    """

    rollout_cross_track_nm: float
    angle_deg: float
    met_at_nm: float | None


@dataclass(frozen=True)
class Arrival:
    """Speed on arrival.

    Attributes
    ----------
    speed_at_fix_kt, speed_before_kt : float or None
        Over the fix, and the time of slowing down before it; indicated.
    limit_kias : float
        Maximum holding speed.
    slowed_before_fix_s : float or None
        How long before the fix the speed had come within tolerance of the holding speed to stay;
        0 where it never had, None where the log begins later or has no airspeed.
    verdict : "within", "outside" or "not judged"
        Against the limit, over the fix.
    source : str
    """

    speed_at_fix_kt: float | None
    speed_before_kt: float | None
    limit_kias: float
    slowed_before_fix_s: float | None
    verdict: Literal["within", "outside", "not judged"]
    source: str


@dataclass(frozen=True)
class JudgedEntry:
    """The judged entry.

    Attributes
    ----------
    entry : Entry
    sectors_allowed : tuple of str
        The sector the heading lies in first, then a neighbour within the zone of flexibility.
    verdict : "correct", "incorrect" or "not judged"
    points : float or None
    angle, time : Score or None
        Of a parallel or offset entry: its track against the rule's, and its outbound time.
    off_side_nm : float or None
        Farthest onto the non-holding side between the fix and the first circuit.
    turn_back_deg : float or None
        Heading change of the turn back, positive right.
    turn_back_right_way : bool or None
    interception : Interception or None
    arrival : Arrival
    ideal_east_nm, ideal_north_nm : (n,) float array
        The ideal entry for the sector of the arrival heading; empty where none can be drawn.
    note : str
    """

    entry: Entry
    sectors_allowed: tuple[EntryName, ...]
    verdict: EntryVerdict
    points: float | None
    angle: Score | None
    time: Score | None
    off_side_nm: float | None
    turn_back_deg: float | None
    turn_back_right_way: bool | None
    interception: Interception | None
    arrival: Arrival
    ideal_east_nm: FloatArray
    ideal_north_nm: FloatArray
    note: str


@dataclass(frozen=True)
class EntryCase:
    """What judging an entry needs.

    Attributes
    ----------
    flown : FlownHold
    entry : Entry
    frame : HoldFrame
    exact : ExactCircuit or None
        For the wind of the first circuit; None where none closes.
    regime, standard, scoring
    altitude_ft : float
    speed_kt : float
        The holding speed, indicated; NaN where unknown.
    """

    flown: FlownHold
    entry: Entry
    frame: HoldFrame
    exact: ExactCircuit | None
    regime: Regime
    standard: Standard
    scoring: Scoring
    altitude_ft: float
    speed_kt: float


def judge_entry(case: EntryCase) -> JudgedEntry:
    """Judge the entry.

    Parameters
    ----------
    case : EntryCase

    Returns
    -------
    JudgedEntry
    """
    entry, hold = case.entry, case.flown.hold
    allowed = sectors_allowed(
        entry.arrival_heading_deg, hold.inbound_course_true_deg, hold.turns, rule=case.regime.entry
    )
    verdict, note = _verdict(case, allowed)
    angle, time = _angle(case), _time(case)
    back = entry.turns[-1] if entry.turns and entry.flown in ("parallel", "offset") else None
    wanted = hold.side if entry.flown == "offset" else -hold.side
    weights = case.scoring.entry
    sector_points = {"correct": 100.0, "incorrect": 0.0, "not judged": None}[verdict]
    east, north = _ideal(case, allowed[0])
    return JudgedEntry(
        entry,
        allowed,
        verdict,
        mean_points(
            [
                (sector_points, weights.sector_weight),
                (angle.points if angle else None, weights.angle_weight),
                (time.points if time else None, weights.time_weight),
            ]
        ),
        angle,
        time,
        _off_side_nm(case),
        back.heading_change_deg if back else None,
        back.heading_change_deg * wanted > 0.0 if back else None,
        _interception(case),
        _arrival(case),
        east,
        north,
        note,
    )


def _verdict(case: EntryCase, allowed: tuple[EntryName, ...]) -> tuple[EntryVerdict, str]:
    """Say whether the entry was right, unless the heading is too uncertain to tell."""
    entry, hold = case.entry, case.flown.hold
    if entry.flown in allowed:
        beside = " (within the zone beside its boundary)" if entry.flown != allowed[0] else ""
        return "correct", f"{entry.flown} entry{beside}"
    widened = sectors_allowed(
        entry.arrival_heading_deg,
        hold.inbound_course_true_deg,
        hold.turns,
        case.regime.entry.zone_deg + 2.0 * entry.arrival_heading_sd_deg,
        case.regime.entry,
    )
    if entry.flown in widened:
        sd = 2.0 * entry.arrival_heading_sd_deg
        return "not judged", f"the arrival heading is known to ±{sd:.0f}° only, and the boundary is nearer"
    return "incorrect", f"{' or '.join(allowed)} was asked for, {entry.flown} was flown"


def _lean_deg(case: EntryCase) -> float | None:
    """Track of the entry's leg against the outbound course, positive to the holding side."""
    leg, hold = case.entry.leg, case.flown.hold
    if leg is None or case.entry.flown not in ("parallel", "offset"):
        return None
    return -hold.side * wrap180(leg.track_deg - hold.outbound_course_true_deg)


def _angle(case: EntryCase) -> Score | None:
    lean, leg = _lean_deg(case), case.entry.leg
    if lean is None or leg is None:
        return None
    offset = case.entry.flown == "offset"
    return scored(
        case.scoring,
        value=lean,
        target=case.regime.entry.offset_angle_deg if offset else 0.0,
        tolerance=case.standard.heading.tolerance_deg,
        unit="°",
        sd=_leg_sd_deg(case),
        how="logged",
        rule=f"{case.regime.entry.source}; tolerance: {case.standard.heading.source}",
        note="track over the ground against the outbound course, positive to the holding side",
    )


def _leg_sd_deg(case: EntryCase) -> float:
    """Return the sigma of the leg's track: from positions, against a course that may be inferred."""
    return math.hypot(1.0, case.flown.course_sd_deg or 0.0)


def _time(case: EntryCase) -> Score | None:
    leg, entry = case.entry.leg, case.entry
    if leg is None or entry.flown not in ("parallel", "offset"):
        return None
    tolerance = case.regime.allowances.timing_s
    rule = f"{case.regime.entry_time[0].source}; tolerance: {case.regime.allowances.source}"
    if case.flown.hold.leg is not None and case.flown.hold.leg.minutes is None:
        return not_judged("the leg is limited by distance", unit="s", rule=rule)
    offset = entry.flown == "offset"
    start_s = entry.fix_s if offset else leg.start_s
    target, words = _entry_time_s(case, "offset" if offset else "parallel")
    since = "from the fix" if offset else "from wings level outbound"
    return scored(
        case.scoring,
        value=leg.end_s - start_s,
        target=target,
        tolerance=tolerance,
        unit="s",
        sd=math.hypot(1.0, 3600.0 * (case.flown.fix_sd_nm or 0.0) / 100.0) if offset else 1.0,
        how="derived",
        rule=rule,
        note=f"{since}; {words}",
    )


def _entry_time_s(case: EntryCase, kind: EntryName) -> tuple[float, str]:
    """Return the entry's time; ICAO gives it for still air, so the wind along the leg changes it."""
    still_s = 60.0 * case.regime.entry_minutes(case.altitude_ft)
    if case.regime.clock.fixes == "inbound" or case.exact is None:
        return still_s, "target by the clock"
    plan = entry_plan(kind, case.exact, case.regime, altitude_ft=case.altitude_ft)
    return plan.time_s, "target: the still-air length in this wind"


def _off_side_nm(case: EntryCase) -> float | None:
    span = case.flown.motion.span(case.entry.fix_s, case.entry.end_s)
    cross = case.flown.hold.side * case.frame.cross_nm[span]
    return float(max(0.0, -cross.min())) if cross.size > 1 else None


def _interception(case: EntryCase) -> Interception | None:
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


def _arrival(case: EntryCase) -> Arrival:
    motion, fix_s = case.flown.motion, case.entry.fix_s
    limit = case.regime.speed_limit(case.altitude_ft, case.flown.hold.category)
    limit_kias = case.regime.speed_limit_kias(case.altitude_ft, case.flown.hold.category)
    early_s = fix_s - case.scoring.entry.slow_down_within_s
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
        slowed = case.scoring.entry.slow_down_within_s
    sd = motion.at("ias_sd_kt", fix_s)
    before = float(speed[0]) if seen_all and np.isfinite(speed[0]) else None
    verdict: Literal["within", "outside"] = "outside" if at_fix - limit_kias > 2.0 * sd else "within"
    return Arrival(float(at_fix), before, limit_kias, slowed, verdict, limit.source)


def _ideal(case: EntryCase, kind: EntryName) -> tuple[FloatArray, FloatArray]:
    if case.exact is None:
        return np.empty(0), np.empty(0)
    heading = case.entry.arrival_heading_deg
    plan = entry_plan(
        kind, case.exact, case.regime, altitude_ft=case.altitude_ft, arrival_heading_deg=heading
    )
    path = entry_path(plan, case.exact, heading)
    return to_east_north(path.along_nm, path.cross_nm, case.exact.inbound_course_deg)
