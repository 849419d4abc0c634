"""What the laps tell of an unknown hold: the ways in to the fix, the turns over it, the arrival."""

from __future__ import annotations

import numpy as np

from analyser.circuits.flown import Circuit, Turn
from analyser.circuits.hold_inference import InboundPath, Inferred, infer_fix
from analyser.circuits.thresholds import ENTRY, WAYS_IN
from analyser.circuits.turn_matching import LapTurns
from analyser.earth.angles import wrap180
from analyser.logs.track import FloatArray
from analyser.motion.estimate import Measured
from analyser.motion.motion import Motion


def infer_hold(measured: Measured, turns: list[Turn], laps: list[LapTurns], course_deg: float) -> Inferred:
    """Infer fix and course from measured laps.

    Parameters
    ----------
    measured : Measured
    turns : list of Turn
        All turns of the stretch.
    laps : list of LapTurns
    course_deg : float
        As first seen.

    Returns
    -------
    Inferred
    """
    starts = [lap.outbound for lap in laps]
    following: list[float | None] = [t.start_s for t in starts[1:]]
    paths = [
        InboundPath(lap.inbound.end_s, end)
        for lap, end in zip(laps, [*following, None], strict=True)
        if lap.inbound and end is not None and end - lap.inbound.end_s > 10.0
    ]
    last = laps[-1].inbound
    if last is not None:
        passed_s = _last_passage(measured, laps[0].outbound, last)
        # Whoever turns away has left: what he flies then is no way in.
        away_s = [
            t.start_s
            for t in turns
            if t.start_s > last.end_s and abs(t.heading_change_deg) > WAYS_IN.leaves_deg
        ]
        paths.append(InboundPath(last.end_s, max(min([passed_s, *away_s]), last.end_s + 12.0)))
    back = _entry_turn_back(turns, starts[0])
    if back is not None and starts[0].start_s - back.end_s > WAYS_IN.least_way_in_s:
        way_in = InboundPath(back.end_s, starts[0].start_s)
        if abs(wrap180(_direction(measured.motion, way_in) - course_deg)) < WAYS_IN.like_deg:
            paths.append(way_in)
    arrival_until = back.start_s if back else starts[0].start_s
    away = [(lap.outbound.end_s, lap.inbound.start_s) for lap in laps if lap.inbound is not None]
    return infer_fix(measured.motion, paths, starts, course_deg, arrival_until, away)


def _entry_turn_back(turns: list[Turn], first: Turn) -> Turn | None:
    """Return the great turn that brought an entry back towards the fix, before the first circuit."""
    earlier = [t for t in turns if first.start_s - ENTRY.longest_entry_s < t.end_s < first.start_s - 15.0]
    great = [t for t in earlier if abs(t.heading_change_deg) > ENTRY.least_turn_back_deg]
    return great[-1] if great else None


def _direction(motion: Motion, path: InboundPath) -> float:
    middle = 0.5 * (path.start_s + path.end_s)
    east = motion.at("east_nm", path.end_s) - motion.at("east_nm", middle)
    north = motion.at("north_nm", path.end_s) - motion.at("north_nm", middle)
    return float(np.degrees(np.arctan2(east, north)))


def _last_passage(measured: Measured, first: Turn, last: Turn) -> float:
    """Return when the way back after the last turn passes where the first lap began."""
    motion = measured.motion
    span = motion.span(last.end_s, last.end_s + 300.0)
    if motion.time_s[span].size == 0:
        return last.end_s
    east, north = motion.at("east_nm", first.start_s), motion.at("north_nm", first.start_s)
    away = np.hypot(motion.east_nm[span] - east, motion.north_nm[span] - north)
    return float(motion.time_s[span][int(np.argmin(away))])


def inbound_lengths_nm(motion: Motion, circuits: list[Circuit]) -> FloatArray:
    """Return how long the inbound legs of whole circuits are over the ground.

    Parameters
    ----------
    motion : Motion
    circuits : list of Circuit

    Returns
    -------
    (n,) float array
        Nautical miles.
    """
    legs = [c.inbound_leg for c in circuits if c.complete and c.inbound_leg is not None]
    ends = [[(motion.at("east_nm", t), motion.at("north_nm", t)) for t in (g.start_s, g.end_s)] for g in legs]
    return np.array([np.hypot(b[0] - a[0], b[1] - a[1]) for a, b in ends], dtype=np.float64)
