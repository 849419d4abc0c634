"""What a racetrack looks like in a survey: its stretch, its heights, how a leg swings and a turn pauses."""

from __future__ import annotations

import numpy as np

from analyser.circuits.racetrack import Racetrack
from analyser.circuits.survey_turns import TurnRun, smooth
from analyser.circuits.thresholds import REJECTION
from analyser.motion.survey import Survey


def span(racetrack: Racetrack) -> slice:
    """Return the samples of a racetrack, from its first turn to its last passage.

    Parameters
    ----------
    racetrack : Racetrack

    Returns
    -------
    slice
    """
    return slice(racetrack.start, racetrack.end + 1)


def is_blind(survey: Survey, racetrack: Racetrack) -> bool:
    """Tell whether a racetrack's heights are not all known.

    Parameters
    ----------
    survey : Survey
    racetrack : Racetrack

    Returns
    -------
    bool
    """
    return not bool(np.isfinite(survey.altitude_ft[span(racetrack)]).all())


def is_fine(racetrack: Racetrack) -> bool:
    """Tell whether a racetrack was read finely enough to see a turn pause, and where it began.

    Parameters
    ----------
    racetrack : Racetrack

    Returns
    -------
    bool
    """
    return racetrack.scale_s <= REJECTION.fine_scale_s


def swing_deg(survey: Survey, first: int, last: int) -> float:
    """Return through how much the way over the ground swings.

    Parameters
    ----------
    survey : Survey
    first, last : int
        Samples of it.

    Returns
    -------
    float
        Degrees; 0 where it is too short, or too slow over the ground, to tell.
    """
    leg = slice(first, max(last, first))
    east, north = survey.east_mps[leg], survey.north_mps[leg]
    moving = survey.ground_speed_kt[leg] > REJECTION.slow_kt
    if int(moving.sum()) < REJECTION.shortest_swing_s:
        return 0.0
    way_deg = np.degrees(np.unwrap(np.arctan2(east[moving], north[moving])))
    return float(np.ptp(smooth(way_deg, 2.0)))


def pauses(survey: Survey, turn: TurnRun) -> bool:
    """Tell whether a turn pauses half way.

    Parameters
    ----------
    survey : Survey
    turn : TurnRun

    Returns
    -------
    bool
    """
    rate = np.abs(smooth(survey.turn_rate_dps[turn.start : turn.end], 1.5))
    quarter = rate.size // 4
    inner = rate[quarter : rate.size - quarter]
    return int((inner < REJECTION.pause_share * float(np.percentile(rate, 75))).sum()) >= REJECTION.pause_s
