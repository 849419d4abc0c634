"""What speaks for one reading of a chain of turns against the other: how it closes, how it was joined and left."""

from __future__ import annotations

import numpy as np

from analyser.circuits.racetrack import M_PER_NM, Racetrack, closing_nm, point_m
from analyser.circuits.survey_turns import TurnRun, ending_within
from analyser.circuits.thresholds import RACETRACK, SCORING
from analyser.earth.angles import wrap180
from analyser.motion.survey import Survey


def reasons_for(survey: Survey, racetrack: Racetrack) -> list[tuple[float, str]]:
    """Weigh what speaks for the first turn of each lap being the one that begins over the fix.

    Parameters
    ----------
    survey : Survey
    racetrack : Racetrack
        Its ``turned_back`` known, its score not yet.

    Returns
    -------
    list of (points, why)
        Points add up to the score; words are for whoever looks into a reading.
    """
    tolerance = max(closing_nm(survey, lap) for lap in racetrack.laps)
    # Leaving over the fix with one more turn gives the wrong reading a lap that only just comes back, while the
    # right one comes back over its fix every time. But a lap badly met is a lap: it must not count against the rest.
    misses = np.array([lap.miss_nm for lap in racetrack.laps])
    close = 1.0 / (1.0 + (misses / (SCORING.half_miss_share * tolerance)) ** 2)
    reasons = [
        (SCORING.lap_points * float((1.0 - SCORING.close_share + SCORING.close_share * close).sum()), "laps")
    ]
    points = [lap.fix_m for lap in racetrack.laps]
    if (
        racetrack.after
        and np.hypot(*(point_m(survey, racetrack.after.start) - racetrack.fix_m)) / M_PER_NM < 1.5 * tolerance
    ):
        points.append(point_m(survey, racetrack.after.start))
    if len(points) > 1:
        scatter = (
            float(np.sqrt(((np.array(points) - np.median(points, axis=0)) ** 2).sum(axis=1).mean()))
            / M_PER_NM
        )
        reasons.append((-2.0 * min(scatter / tolerance, 1.0), "scatter of the turns' beginnings"))
    reasons.append((-1.5 * min(float(misses.mean()) / (0.5 * tolerance), 1.6), "misses on the way back"))
    reasons.append(_arrival_reason(survey, racetrack))
    reasons.append(_departure_reason(survey, racetrack))
    return reasons


def turned_back(racetrack: Racetrack, runs: list[TurnRun]) -> TurnRun | None:
    """Return the last great turn of the other hand before the first lap, or before the turn before it.

    Parameters
    ----------
    racetrack : Racetrack
    runs : list of TurnRun
        All turning of the flight, in order.

    Returns
    -------
    TurnRun or None
    """
    until = (racetrack.before.start if racetrack.before else racetrack.start) + 5
    great = [
        run
        for run in ending_within(runs, until - SCORING.parallel_back_s, until)
        if run.side != racetrack.side and abs(run.change_deg) >= RACETRACK.least_turn_deg
    ]
    return great[-1] if great else None


def fits_entry(survey: Survey, racetrack: Racetrack) -> bool:
    """Tell whether the way to the first lap fits an entry: the direct sector with a good margin, or a turn before.

    Parameters
    ----------
    survey : Survey
    racetrack : Racetrack

    Returns
    -------
    bool
    """
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
        / M_PER_NM
    )
    if not away.size or away.min() >= SCORING.offset_met_nm:
        return False
    out = _way_out_deg(survey, early.start + int(np.argmin(away)), back.start)
    return abs(wrap180(out - racetrack.course_deg - 180.0)) <= SCORING.parallel_within_deg


def _way_out_deg(survey: Survey, passed: int, back: int) -> float:
    """Return where an entry's way out led: by its second half, for the first may still be the turn over the fix."""
    leg = point_m(survey, back) - point_m(survey, (passed + back) // 2)
    return float(np.degrees(np.arctan2(leg[0], leg[1])))


def _arrival_reason(survey: Survey, racetrack: Racetrack) -> tuple[float, str]:
    if racetrack.before is not None:
        return _offset_reason(survey, racetrack, racetrack.before)
    if racetrack.start < SCORING.log_begins_s:
        return 0.0, "the log begins here"
    if _fits_parallel(survey, racetrack):
        return 2.2, "arrival fits a parallel entry"
    # Direct sector, and a good margin: an arrival from outside it joins otherwise.
    fits = fits_entry(survey, racetrack)
    return (0.8, "arrival fits a direct entry") if fits else (-0.4, "arrival fits no direct entry")


def _offset_reason(survey: Survey, racetrack: Racetrack, before: TurnRun) -> tuple[float, str]:
    # A turn of the same hand before the first lap: an offset entry's inbound turn, if the way to it led over the fix.
    early = slice(max(0, before.start - 240), max(0, before.start - 15))
    away = (
        np.hypot(survey.east_m[early] - racetrack.fix_m[0], survey.north_m[early] - racetrack.fix_m[1])
        / M_PER_NM
    )
    if not away.size:
        return 0.0, "the log begins inside the hold"
    nearest = int(np.argmin(away))
    out = _way_out_deg(survey, early.start + nearest, before.start)
    off = racetrack.side * wrap180(out - racetrack.course_deg - 180.0)
    straight = racetrack.turned_back is None or racetrack.turned_back.end <= early.start + nearest
    if straight and away[nearest] < SCORING.offset_met_nm and -75.0 <= off <= SCORING.offset_least_lean_deg:
        arrival = racetrack.side * wrap180(
            _heading_at(survey, early.start + nearest - 5) - racetrack.course_deg - 180.0
        )
        if -85.0 <= arrival <= 15.0:
            return 2.2, "arrival fits an offset entry"
        return 0.3, "arrival over the fix, but from no sector for an offset entry"
    return -1.5, "a turn before the first lap that is no entry"


def _departure_reason(survey: Survey, racetrack: Racetrack) -> tuple[float, str]:
    if racetrack.after is None:
        return 0.8, "left after an inbound turn"
    return -0.2, "left after an outbound turn"


def _heading_at(survey: Survey, index: int) -> float:
    i = min(max(index, 0), survey.time_s.size - 1)
    return float(np.degrees(np.arctan2(survey.east_mps[i], survey.north_mps[i])) % 360.0)
