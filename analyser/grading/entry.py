"""Judging the entry: the right sector, and how well it was flown."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.flown import FlownHold, Turn
from analyser.earth.angles import wrap180
from analyser.grading.entry_judged import EntryCase, EntryVerdict, JudgedEntry
from analyser.grading.entry_technique import arrival, interception, judge_angle, judge_time, off_side_nm
from analyser.grading.score import mean_points
from analyser.holds.entries import EntryName, entry_path, entry_plan, sectors_allowed
from analyser.holds.kinematics import to_east_north
from analyser.logs.track import Notice
from analyser.rules.regime import Regime

FloatArray = NDArray[np.float64]


def with_entry_begun(flown: FlownHold, regime: Regime) -> FlownHold:
    """Take a first lap for the parallel entry that it was: onto its leg against the hold's hand, and back with it.

    Turned back to the wrong side, the entry comes round to the fix as a circuit does.
    """
    entry, hold = flown.entry, flown.hold
    if entry is None or entry.flown != "direct" or len(flown.circuits) < 2:
        return flown
    first, *others = flown.circuits
    out, leg, back = first.outbound_turn, first.outbound_leg, first.inbound_turn
    if out is None or leg is None or back is None or back.heading_change_deg * hold.side < 0.0:
        return flown
    course = hold.inbound_course_true_deg
    asked = sectors_allowed(
        entry.arrival_heading_deg, course, hold.turns, rule=regime.entry, way=hold.arrival
    )
    against = -_LEG_TURN_DEG < out.heading_change_deg * hold.side < 0.0
    lean = abs(wrap180(leg.track_deg - hold.outbound_course_true_deg))
    if asked != ("parallel",) or not against or lean > _LEG_WITHIN_DEG:
        return flown
    return replace(
        flown,
        entry=replace(entry, end_s=first.end_s, flown="other", leg=leg, turns=(out, back)),
        circuits=tuple(replace(one, number=number) for number, one in enumerate(others, start=1)),
        notices=tuple(_renumbered(one) for one in flown.notices if not one.message.startswith("circuit 1:")),
    )


def _renumbered(notice: Notice) -> Notice:
    """Name the circuits after a first lap that was the entry one number lower."""
    lower = re.sub(r"circuit (\d+)", lambda said: f"circuit {max(int(said[1]) - 1, 1)}", notice.message)
    return replace(notice, message=lower)


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
    verdict, recommended, note = _verdict(case, allowed)
    angle, time = judge_angle(case), judge_time(case)
    away = _turned_away(case, allowed)
    meant = away[0] if away else None
    kind = meant or entry.flown
    back = entry.turns[-1] if entry.turns and kind in ("parallel", "offset") else None
    back = away[1] if away else back
    wanted = hold.side if kind == "offset" else -hold.side
    if meant is not None:
        # Its leg was that of the entry begun, its turn that of another: neither rule holds for it.
        angle = time = None
        verdict, recommended, note = "incorrect", True, f"{meant} entry, turned back to the wrong side"
    weights = case.scoring.entry
    sector_points = {"correct": 100.0, "incorrect": 0.0, "not judged": None}[verdict]
    if not recommended:
        sector_points = weights.not_recommended_points
    east, north = _ideal(case, allowed[0])
    return JudgedEntry(
        entry,
        allowed,
        verdict,
        recommended,
        mean_points(
            [
                (sector_points, weights.sector_weight),
                (angle.points if angle else None, weights.angle_weight),
                (time.points if time else None, weights.time_weight),
            ]
        ),
        angle,
        time,
        off_side_nm(case),
        back.heading_change_deg if back else None,
        back.heading_change_deg * wanted > 0.0 if back else None,
        meant,
        interception(case),
        arrival(case),
        east,
        north,
        note,
    )


def _turned_away(case: EntryCase, allowed: tuple[EntryName, ...]) -> tuple[EntryName, Turn] | None:
    """Return the entry that was begun rightly and turned back to the wrong side, and that turn; None where none was.

    A parallel entry that turns back away from the holding side, or an offset one that turns back across the course,
    is seen by its leg: that of the entry asked for, with the turn of the other.
    """
    entry, hold = case.entry, case.flown.hold
    leg, turns = entry.leg, entry.turns
    if leg is None or not turns or len(allowed) > 1:
        return None
    lean = -hold.side * wrap180(leg.track_deg - hold.outbound_course_true_deg)
    along_offset = lean >= 0.5 * case.regime.entry.offset_angle_deg
    with_hold = turns[-1].heading_change_deg * hold.side > 0.0
    if allowed[0] == "offset" and along_offset and not with_hold:
        return "offset", turns[-1]
    if allowed[0] == "parallel" and abs(lean) <= _LEG_WITHIN_DEG and not along_offset and with_hold:
        return "parallel", turns[-1]
    return None


#: A parallel entry's leg lies within this of the outbound course, however badly tracked, and is turned onto through
#: less than that, degrees.
_LEG_WITHIN_DEG, _LEG_TURN_DEG = 45.0, 130.0


def _verdict(case: EntryCase, allowed: tuple[EntryName, ...]) -> tuple[EntryVerdict, bool, str]:
    """Say whether the entry was right and the one recommended, unless the heading is too uncertain to tell."""
    entry, hold, rule = case.entry, case.flown.hold, case.regime.entry
    if case.flown.other_end is not None:
        return "not judged", True, "which end of the racetrack is the fix cannot be told"
    course_sd = case.flown.course_sd_deg or 0.0
    sd = math.hypot(entry.arrival_heading_sd_deg, course_sd)

    def sectors(off_deg: float, wider_deg: float = 0.0) -> tuple[EntryName, ...]:
        heading = entry.arrival_heading_deg + off_deg
        zone = rule.zone_deg + wider_deg
        return sectors_allowed(heading, hold.inbound_course_true_deg, hold.turns, zone, rule, hold.arrival)

    unsure: tuple[EntryVerdict, bool, str] = (
        "not judged",
        True,
        f"the heading against the course is known to ±{2.0 * sd:.0f}° only, and the boundary is nearer",
    )
    if entry.flown in allowed:
        # Right on the inferred course, and wrong on one that may as well be the true one: nobody knows.
        if not all(entry.flown in sectors(off) for off in (-2.0 * course_sd, 2.0 * course_sd)):
            return unsure
        beside = " (within the zone beside its boundary)" if entry.flown != allowed[0] else ""
        return "correct", True, f"{rule.word(entry.flown)} entry{beside}"
    if entry.flown in sectors(0.0, 2.0 * sd):
        return unsure
    wanted = " or ".join(map(rule.word, allowed))
    flown = "none of the three" if entry.flown == "other" else rule.word(entry.flown)
    if rule.binding == "recommended":
        return (
            "correct",
            False,
            f"{wanted} was recommended, {flown} was flown: entries are recommended, not mandatory",
        )
    return "incorrect", True, f"{wanted} was asked for, {flown} was flown"


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
