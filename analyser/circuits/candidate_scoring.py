"""What speaks for one reading of a chain of turns against the other: how it closes, how it was joined and left."""

from __future__ import annotations

import numpy as np

from analyser.circuits.racetrack import (
    Racetrack,
    Reasons,
    TurnRun,
    closing_nm,
    ending_within,
    point_m,
)
from analyser.circuits.thresholds import ENDS, RACETRACK, SCORING
from analyser.earth.angles import wrap180
from analyser.earth.constants import METRES_PER_NM
from analyser.logs.track import FloatArray
from analyser.motion.survey import Survey


def reasons_for(survey: Survey, racetrack: Racetrack) -> Reasons:
    """Weigh what speaks for the first turn of each lap being the one that begins over the fix.

    Parameters
    ----------
    racetrack : Racetrack
        Its ``turned_back`` known, its score not yet.
    """
    tolerance = max(closing_nm(survey, lap) for lap in racetrack.laps)
    # Leaving over the fix with one more turn gives the wrong reading a lap that only just comes back, while the
    # right one comes back over its fix every time. But a lap badly met is a lap: it must not count against the rest.
    misses = np.array([lap.miss_nm for lap in racetrack.laps])
    close = 1.0 / (1.0 + (misses / (SCORING.half_miss_share * tolerance)) ** 2)
    laps = SCORING.lap_points * float((1.0 - SCORING.close_share + SCORING.close_share * close).sum())
    points = [lap.fix_m for lap in racetrack.laps]
    after = racetrack.after
    if (
        after
        and np.hypot(*(point_m(survey, after.start) - racetrack.fix_m)) / METRES_PER_NM < 1.5 * tolerance
    ):
        points.append(point_m(survey, after.start))
    scatter = _scatter_nm(points) if len(points) > 1 else 0.0
    return Reasons(
        laps=laps,
        scatter=-2.0 * min(scatter / tolerance, 1.0),
        misses=-1.5 * min(float(misses.mean()) / (0.5 * tolerance), 1.6),
        arrival=_arrival(survey, racetrack),
        departure=0.8 if after is None else -0.2,
    )


def _scatter_nm(points_m: list[FloatArray]) -> float:
    """Return the root mean square distance of points from their middle."""
    away = np.array(points_m) - np.median(points_m, axis=0)
    return float(np.sqrt((away**2).sum(axis=1).mean())) / METRES_PER_NM


def end_log_odds(survey: Survey, one: Racetrack, other: Racetrack) -> float:
    """Weigh two readings of the same laps end for end; return the log odds of the first.

    Turns begin over the fix wherever along the course it lies, while the outbound end lies wherever clock and wind put
    it; the way to it is flown by a needle, corrected again and again, the way out on a heading and by the clock; the
    arrival led over it, and so did the departure. None of that is certain, and a doubt is left where it disagrees.
    """
    apart = np.array(_end_evidence(survey, one)) - np.array(_end_evidence(survey, other))
    evidence = np.append(apart, _led_over(survey, one, other))
    most = np.array(ENDS.most)
    return float(np.clip(evidence, -most, most) @ np.array(ENDS.weights))


def _end_evidence(survey: Survey, racetrack: Racetrack) -> tuple[float, ...]:
    """Return what tells which end is the fix, in the order of the weights."""
    starts = [lap.outbound.start for lap in racetrack.laps] + [t.start for t in (racetrack.after,) if t]
    others = [lap.inbound.start for lap in racetrack.laps] + [t.start for t in (racetrack.before,) if t]
    gathered, fewest = 0.0, min(len(starts), len(others))
    if fewest > 1:
        near, far = (_scatter_along_nm(survey, racetrack.course_deg, end) for end in (starts, others))
        # Two turns at each end lie near to each other by chance as often as not.
        tells = min((fewest - 1.0) / ENDS.scatter_tells, 1.0)
        gathered = tells * float(np.log((far**2 + ENDS.scatter_nm**2) / (near**2 + ENDS.scatter_nm**2)))
    out, back = (_wander_dps(survey, [lap.legs[way] for lap in racetrack.laps]) for way in (0, 1))
    corrected = 0.0 if out is None or back is None else float(np.log((back + ENDS.dps) / (out + ENDS.dps)))
    out_off, back_off = (_off_the_minute([lap.legs[way] for lap in racetrack.laps]) for way in (0, 1))
    why = racetrack.reasons
    return why.laps, why.arrival, why.departure, gathered, corrected, back_off - out_off


def _scatter_along_nm(survey: Survey, course_deg: float, begun: list[int]) -> float:
    """Return how far along the course turns begin from their middle, root mean square."""
    toward = np.radians(course_deg)
    along = np.array([point_m(survey, i) for i in begun]) @ np.array([np.sin(toward), np.cos(toward)])
    return float(np.sqrt(((along - np.median(along)) ** 2).mean())) / METRES_PER_NM


def _led_over(survey: Survey, one: Racetrack, other: Racetrack) -> float:
    """Return how much nearer the arrival led to the fix of one reading than to the other's, as a logarithm.

    Whoever joins a hold passes its fix first; an entry then leads to the other end as well.
    """
    begun = min(one.start, other.start)
    if begun < ENDS.least_arrival_s:
        return 0.0
    way = slice(max(begun - ENDS.arrival_s, 0), begun + ENDS.arrival_ends_s)
    away = np.array(
        [np.hypot(survey.east_m[way] - r.fix_m[0], survey.north_m[way] - r.fix_m[1]) for r in (one, other)]
    )
    met = np.flatnonzero(away.min(axis=0) < ENDS.arrival_met_nm * METRES_PER_NM)
    until = met[0] + ENDS.arrival_passes_s if met.size else away.shape[1]
    near, far = away[:, :until].min(axis=1) / METRES_PER_NM
    return float(np.log((far**2 + ENDS.arrival_nm**2) / (near**2 + ENDS.arrival_nm**2)))


def _off_the_minute(legs: list[tuple[int, int]]) -> float:
    """Return how far the usual leg is from a minute, as a logarithm; from some way off all are alike."""
    usual_s = float(np.median([max(end - start, 1) for start, end in legs]))
    return min(abs(float(np.log(usual_s / 60.0))), ENDS.most_off_the_minute)


def _wander_dps(survey: Survey, legs: list[tuple[int, int]]) -> float | None:
    """Return how much the usual leg turns hither and thither, its ends left out; None where legs are too short."""
    found = []
    for start, end in legs:
        rate = survey.turn_rate_dps[start + ENDS.leg_ends_s[0] : max(end - ENDS.leg_ends_s[1], 0)]
        if rate.size >= ENDS.shortest_leg_s:
            slow = np.convolve(rate, np.full(ENDS.smoothed_s, 1.0 / ENDS.smoothed_s), "valid")
            found.append(float(np.sqrt(np.mean(slow**2))))
    return float(np.median(found)) if found else None


def turned_back(racetrack: Racetrack, runs: list[TurnRun]) -> TurnRun | None:
    """Return the last great turn of the other hand before the first lap, or before the turn before it.

    Parameters
    ----------
    runs : list of TurnRun
        All turning of the flight, in order.
    """
    until = (racetrack.before.start if racetrack.before else racetrack.start) + 5
    great = [
        run
        for run in ending_within(runs, until - SCORING.parallel_back_s, until)
        if run.side != racetrack.side and abs(run.change_deg) >= RACETRACK.least_turn_deg
    ]
    return great[-1] if great else None


def fits_entry(survey: Survey, racetrack: Racetrack) -> bool:
    """Tell whether the way to the first lap fits an entry: the direct sector with a good margin, or a turn before."""
    if (
        racetrack.before is not None
        or racetrack.start < SCORING.log_begins_s
        or _fits_parallel(survey, racetrack)
    ):
        return True
    off = racetrack.side * wrap180(_heading_at(survey, racetrack.start - 3) - racetrack.course_deg)
    return SCORING.direct_from_deg <= off <= SCORING.direct_to_deg


def _fits_parallel(survey: Survey, racetrack: Racetrack) -> bool:
    """Tell whether the fix was passed, a leg flown outbound and the turn back made with the other hand."""
    back = racetrack.turned_back
    if back is None or racetrack.before is not None:
        return False
    early = slice(max(0, back.start - SCORING.parallel_leg_s), max(0, back.start - 15))
    away = (
        np.hypot(survey.east_m[early] - racetrack.fix_m[0], survey.north_m[early] - racetrack.fix_m[1])
        / METRES_PER_NM
    )
    if not away.size or away.min() >= SCORING.offset_met_nm:
        return False
    out = _way_out_deg(survey, early.start + int(np.argmin(away)), back.start)
    return abs(wrap180(out - racetrack.course_deg - 180.0)) <= SCORING.parallel_within_deg


def _way_out_deg(survey: Survey, passed: int, back: int) -> float:
    """Return where an entry's way out led: by its second half, for the first may still be the turn over the fix."""
    leg = point_m(survey, back) - point_m(survey, (passed + back) // 2)
    return float(np.degrees(np.arctan2(leg[0], leg[1])))


def _arrival(survey: Survey, racetrack: Racetrack) -> float:
    if racetrack.before is not None:
        return _offset_arrival(survey, racetrack, racetrack.before)
    if racetrack.start < SCORING.log_begins_s:
        return 0.0
    if _fits_parallel(survey, racetrack):
        return 2.2
    # Direct sector, and a good margin: an arrival from outside it joins otherwise.
    return 0.8 if fits_entry(survey, racetrack) else -0.4


def _offset_arrival(survey: Survey, racetrack: Racetrack, before: TurnRun) -> float:
    """Weigh a turn of the same hand before the first lap: an offset entry's, if the way to it led over the fix."""
    early = slice(max(0, before.start - 240), max(0, before.start - 15))
    away = (
        np.hypot(survey.east_m[early] - racetrack.fix_m[0], survey.north_m[early] - racetrack.fix_m[1])
        / METRES_PER_NM
    )
    if not away.size:
        return 0.0
    nearest = int(np.argmin(away))
    out = _way_out_deg(survey, early.start + nearest, before.start)
    off = racetrack.side * wrap180(out - racetrack.course_deg - 180.0)
    straight = racetrack.turned_back is None or racetrack.turned_back.end <= early.start + nearest
    if straight and away[nearest] < SCORING.offset_met_nm and -75.0 <= off <= SCORING.offset_least_lean_deg:
        arrival = racetrack.side * wrap180(
            _heading_at(survey, early.start + nearest - 5) - racetrack.course_deg - 180.0
        )
        # Over the fix, but from no sector for an offset entry, says little.
        return 2.2 if -85.0 <= arrival <= 15.0 else 0.3
    # A turn before the first lap that is no entry.
    return -1.5


def _heading_at(survey: Survey, index: int) -> float:
    i = min(max(index, 0), survey.time_s.size - 1)
    return float(np.degrees(np.arctan2(survey.east_mps[i], survey.north_mps[i])) % 360.0)
