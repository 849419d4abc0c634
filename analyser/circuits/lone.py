"""Whether one lap alone is a hold: with no second to compare with, it has to show more."""

from __future__ import annotations

import numpy as np

from analyser.circuits.racetrack import LEAST_TURN_DEG, M_PER_NM, MERGED_TURN_DEG, Lap, Racetrack, distance_nm
from analyser.circuits.shape import is_blind, is_fine, pauses, span
from analyser.motion.survey import Survey

#: It comes back within this distance of its beginning, or this share of its width; where its first turn is no half
#: circle, as where a way from the side was met late, or fixes are sparse, the beginning is known no better than the
#: third …
MISS_NM, MISS_SHARE, ROUGH_MISS_NM = 0.3, 0.35, 0.5
#: … which is looked for so long after it was passed, seconds.
MET_LATE_S = 45
#: Its turns are made at much the same rate, and at no more than half again rate one, degrees of track a second.
MOST_RATE_DPS, MOST_RATE_RATIO = 4.5, 2.0
#: One that begins with less than half a circle, as a direct entry from the side does, has to look like a hold in
#: all else: legs between these, seconds, and this much change of height at most …
LEG_S, HEIGHT_FT = (12.0, 150.0), 350.0
#: … or, where the log has no height, to come back as near as this.
BLIND_MISS_NM = 0.2


def why_not_alone(survey: Survey, racetrack: Racetrack) -> str:
    """Say why one lap is no hold, in words for the pilot; empty where nothing speaks against it.

    Parameters
    ----------
    survey : Survey
    racetrack : Racetrack

    Returns
    -------
    str
        Empty, too, where there are more laps.
    """
    if len(racetrack.laps) > 1:
        return ""
    checks = (_misses, _unmet, _merged, _hasty)
    said = next((said for check in checks if (said := check(survey, racetrack))), "")
    return said and f"it is one lap only, and {said}"


def _misses(survey: Survey, racetrack: Racetrack) -> str:
    lap = racetrack.laps[0]
    exact = _half_circle(lap) and is_fine(racetrack)
    miss_nm = _miss_nm(survey, lap)
    width_nm = distance_nm(survey, lap.outbound.start, lap.outbound.end)
    if miss_nm > max(MISS_NM if exact else ROUGH_MISS_NM, MISS_SHARE * width_nm):
        return f"comes back {miss_nm:.1f} NM beside its beginning"
    return ""


def _unmet(_survey: Survey, racetrack: Racetrack) -> str:
    return "" if racetrack.arrives else "the way to it fits no entry"


def _merged(survey: Survey, racetrack: Racetrack) -> str:
    """Ask more of a lap whose first turn is one with the way to the fix, or no turn of a hold."""
    lap = racetrack.laps[0]
    if _half_circle(lap):
        return ""
    # Between sparse fixes every turn is straight for a while.
    if is_fine(racetrack) and all(pauses(survey, turn) for turn in (lap.outbound, lap.inbound)):
        return "its turns pause half way: a rectangle"
    height = survey.altitude_ft[span(racetrack)]
    level = bool(np.isfinite(height).all()) and float(np.ptp(height)) <= HEIGHT_FT
    exact = is_blind(survey, racetrack) and _miss_nm(survey, lap) <= BLIND_MISS_NM
    if (level or exact) and all(LEG_S[0] <= b - a <= LEG_S[1] for a, b in lap.legs):
        return ""
    return "its first turn is no half circle"


def _hasty(_survey: Survey, racetrack: Racetrack) -> str:
    lap = racetrack.laps[0]
    rates = [abs(turn.change_deg) / max(turn.end - turn.start, 1) for turn in (lap.outbound, lap.inbound)]
    hasty = max(rates) > MOST_RATE_DPS or max(rates) > MOST_RATE_RATIO * min(rates)
    return "its turns are not those of a hold" if hasty else ""


def _half_circle(lap: Lap) -> bool:
    return abs(lap.outbound.change_deg) >= LEAST_TURN_DEG


def _miss_nm(survey: Survey, lap: Lap) -> float:
    """Return by how much a lap misses its beginning, which lies within the turn where the course was met late."""
    if abs(lap.outbound.change_deg) <= MERGED_TURN_DEG:
        return lap.miss_nm
    begun = slice(lap.outbound.start, lap.outbound.start + (lap.outbound.end - lap.outbound.start) // 3)
    back = slice(lap.inbound.end, lap.passage + MET_LATE_S)
    east = survey.east_m[begun, None] - survey.east_m[None, back]
    north = survey.north_m[begun, None] - survey.north_m[None, back]
    apart = np.hypot(east, north) / M_PER_NM
    return float(apart.min()) if apart.size else lap.miss_nm
