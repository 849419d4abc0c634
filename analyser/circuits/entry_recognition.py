"""The entry: what was flown between the first passage of the fix and the first circuit."""

from __future__ import annotations

import numpy as np

from analyser.circuits.circuit_cutting import leg
from analyser.circuits.flown import Entry, EntryFlown, Turn
from analyser.circuits.frame import HoldFrame, nearest_passage
from analyser.circuits.thresholds import ENTRY
from analyser.circuits.turn_detection import mean_direction
from analyser.earth.angles import wrap180
from analyser.motion.estimate import Measured


def find_entry(
    measured: Measured,
    frame: HoldFrame,
    turns: list[Turn],
    first: Turn,
    start_s: float,
    lap_leg_s: float,
    log_begins_s: float,
    course_deg: float,
    side: int,
) -> Entry | None:
    """Recognise the entry.

    Parameters
    ----------
    measured : Measured
    frame : HoldFrame
    turns : list of Turn
        All turns of the stretch, in time order.
    first : Turn
        The first circuit's outbound turn.
    start_s : float
        Passage of the fix at which the first circuit begins.
    lap_leg_s : float
        How long the first circuit's outbound leg lasted.
    log_begins_s : float
        Where the log, or this stretch of it after a long hole, begins.
    course_deg : float
        Inbound course.
    side : int
        +1 right, -1 left.

    Returns
    -------
    Entry or None
        None where the log begins inside the hold.
    """
    # The turn back may still be going on when the fix is passed; what began before the first circuit's turn and
    # ended before it is the entry's.
    earlier = [
        t for t in turns if start_s - ENTRY.longest_entry_s < t.start_s and t.end_s < first.start_s + 2.0
    ]
    back = _turn_back(earlier)
    if back is not None:
        entry = _with_turn_back(measured, frame, earlier, back, start_s, lap_leg_s, course_deg, side)
        if entry is not None and entry.fix_s > log_begins_s + 1.0:
            return entry
        if entry is not None and entry.flown != "other":
            # Nearest where the log begins: the aircraft was flying away, and nobody saw how it came to the fix.
            return None
    if measured.motion.time_s[0] > start_s - ENTRY.heading_from_s - 3.0:
        return None
    heading, sd = arrival_heading(measured, start_s, first.start_s)
    return Entry(start_s, start_s, heading, sd, "direct", None, ())


def _turn_back(earlier: list[Turn]) -> Turn | None:
    """Return the last great turn before the first circuit: it brought the aircraft back towards the fix."""
    great = [t for t in earlier if abs(t.heading_change_deg) >= ENTRY.least_turn_back_deg]
    return great[-1] if great else None


def _with_turn_back(
    measured: Measured,
    frame: HoldFrame,
    earlier: list[Turn],
    back: Turn,
    start_s: float,
    lap_leg_s: float,
    course_deg: float,
    side: int,
) -> Entry | None:
    """Read an entry with an outbound leg and a turn back; None where the aircraft never met the fix before it."""
    fix_s, distance_nm = _passage_before(frame, back.start_s)
    diameter_nm = 2.0 * measured.motion.tas_mean_kt / 3600.0 / np.radians(max(abs(back.rate_mean_dps), 1.0))
    if not np.isfinite(fix_s) or distance_nm > max(ENTRY.fix_met_nm, 0.4 * diameter_nm):
        return None
    first_turns = [
        t for t in earlier if t.end_s > fix_s - 2.0 and t.end_s < back.start_s - ENTRY.shortest_leg_s
    ]
    begun = max([fix_s, *(t.end_s for t in first_turns)])
    outbound = leg(measured, begun, back.start_s)
    if outbound.duration_s > max(
        ENTRY.least_limit_s, ENTRY.longest_leg_share * lap_leg_s + ENTRY.longer_leg_s
    ):
        return None
    # Which side of the outbound course the leg leads to; the holding side is positive.
    lean = -side * wrap180(outbound.track_deg - course_deg - 180.0)
    lean_heading = -side * wrap180(outbound.heading_deg - course_deg - 180.0)
    flown = _kind(lean, lean_heading, same_hand=back.heading_change_deg * side > 0)
    heading, sd = arrival_heading(measured, fix_s, min([t.start_s for t in first_turns] or [fix_s + 60.0]))
    own = tuple(t for t in earlier if t.end_s > fix_s - 2.0 and t.start_s <= back.start_s)
    return Entry(fix_s, start_s, heading, sd, flown, outbound, own)


def _passage_before(frame: HoldFrame, back_s: float) -> tuple[float, float]:
    """Return when the fix was passed before a turn back, and how near; longer ago only where it is not seen sooner."""
    fix_s, distance_nm = float("nan"), float("inf")
    for look_s in ENTRY.looks_s:
        look_from = max(float(frame.time_s[0]), back_s - look_s)
        fix_s, distance_nm = nearest_passage(frame, look_from, back_s - ENTRY.shortest_leg_s)
        if fix_s > look_from + 1.0:
            break
    return fix_s, distance_nm


def _kind(lean_deg: float, lean_heading_deg: float, *, same_hand: bool) -> EntryFlown:
    """Name an entry by its leg and the hand of its turn back.

    A parallel entry turns back towards the holding side, against the hold's own turns; an offset entry is
    already on that side and turns back with them.
    """
    if min(abs(lean_deg), abs(lean_heading_deg)) > ENTRY.widest_leg_deg:
        return "other"
    if not same_hand:
        return "parallel"
    return "offset" if max(lean_deg, lean_heading_deg) >= ENTRY.least_offset_deg else "other"


def arrival_heading(measured: Measured, fix_s: float, turn_s: float) -> tuple[float, float]:
    """Read the heading over the fix before the turn there began."""
    motion = measured.motion
    until = min(fix_s - ENTRY.heading_to_s, turn_s - 1.0)
    before = motion.span(until - (ENTRY.heading_from_s - ENTRY.heading_to_s), until)
    heading = mean_direction(motion.heading_deg[before])
    if not np.isfinite(heading):
        heading = motion.at("heading_deg", fix_s)
    sd = float(np.median(motion.heading_sd_deg[before])) if before.stop > before.start else 5.0
    return heading, float(np.hypot(sd, 1.0))
