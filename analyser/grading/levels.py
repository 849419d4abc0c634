"""Which altitude was to be held when: the one given, or the level flown, with cleared moves between levels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.flown import FlownHold
from analyser.rules.scoring import Levels

FloatArray = NDArray[np.float64]

#: The rate of climb is read over this many seconds, so that a bump is no climb.
_RATE_OVER_S = 20.0
#: Two moves with less level flight than this between them are one.
_SHORTEST_LEVEL_S = 30.0


@dataclass(frozen=True)
class LevelPlan:
    """The altitude to hold along the motion's time grid.

    Attributes
    ----------
    reference_ft : (n,) float array
        NaN while moving between levels, and everywhere where the log has no altitude.
    known : bool
        Whether the log has altitude at all.
    given : bool
        Whether the hold file gave the altitude.
    moved : bool
        Whether there was a move between levels.
    """

    reference_ft: FloatArray
    known: bool
    given: bool
    moved: bool


def level_plan(flown: FlownHold, rule: Levels) -> LevelPlan:
    """Find the altitude to hold.

    Parameters
    ----------
    flown : FlownHold
    rule : Levels
        What counts as a move between levels.

    Returns
    -------
    LevelPlan
    """
    motion, given = flown.motion, flown.hold.altitude_ft
    reference = np.full(motion.time_s.size, np.nan)
    inside = motion.span(flown.start_s, flown.end_s)
    altitude = motion.altitude_ft[inside]
    if altitude.size < 2 or not np.isfinite(altitude).any():
        return LevelPlan(reference, False, given is not None, False)
    time_s = motion.time_s[inside]
    moving = _moving(time_s, altitude, rule)
    held = np.full(altitude.size, np.nan)
    for first, last in _runs(~moving):
        level = float(np.nanmedian(altitude[first:last]))
        # A level far from the one given is one that was cleared later.
        near = given is not None and abs(level - given) < rule.change_ft
        held[first:last] = given if near and given is not None else level
    reference[inside] = held
    return LevelPlan(reference, True, given is not None, bool(moving.any()))


def _moving(time_s: FloatArray, altitude_ft: FloatArray, rule: Levels) -> NDArray[np.bool_]:
    """Mark moves that begin at one level and end at another."""
    half = 0.5 * _RATE_OVER_S
    later = np.interp(time_s + half, time_s, altitude_ft)
    earlier = np.interp(time_s - half, time_s, altitude_ft)
    fast = np.abs(later - earlier) * 60.0 / _RATE_OVER_S > rule.rate_fpm
    moving = np.zeros(time_s.size, bool)
    for first, last in _joined(_runs(fast), time_s):
        change = altitude_ft[min(last, time_s.size - 1)] - altitude_ft[max(first - 1, 0)]
        if abs(change) >= rule.change_ft:
            moving[first:last] = True
    return moving


def _joined(runs: list[tuple[int, int]], time_s: FloatArray) -> list[tuple[int, int]]:
    joined: list[tuple[int, int]] = []
    for first, last in runs:
        if joined and time_s[first] - time_s[joined[-1][1] - 1] < _SHORTEST_LEVEL_S:
            joined[-1] = (joined[-1][0], last)
        else:
            joined.append((first, last))
    return joined


def _runs(mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return the half-open index ranges over which a mask is True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(int)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
