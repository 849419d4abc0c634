"""Which altitude was to be held when: the one given, whatever was flown; else the levels flown, with moves between."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.flown import FlownHold
from analyser.grading.keeping import runs
from analyser.rules.scoring import Levels

FloatArray = NDArray[np.float64]

#: The rate of climb is read over this many seconds, so that a bump is no climb.
_RATE_OVER_S = 20.0
#: How long after the hold a move that began in it may go on, seconds.
_WAY_OUT_S = 120.0
#: Two moves with less level flight than this between them are one.
_SHORTEST_LEVEL_S = 30.0


@dataclass(frozen=True)
class LevelPlan:
    """The altitude to hold along the motion's time grid.

    Attributes
    ----------
    reference_ft : (n,) float array
        NaN while moving between cleared levels, and everywhere where the log has no altitude.
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

    def level_ft(self, start_s: float, end_s: float, time_s: FloatArray) -> float | None:
        """Return the altitude to hold within a span: its median; None where there was none."""
        inside = self.reference_ft[(time_s >= start_s) & (time_s <= end_s)]
        inside = inside[np.isfinite(inside)]
        return float(np.median(inside)) if inside.size else None


def level_plan(flown: FlownHold, rule: Levels) -> LevelPlan:
    """Find the altitude to hold.

    Parameters
    ----------
    rule : Levels
        What counts as a move between levels, and how fast one is expected to be.

    Returns
    -------
    LevelPlan
        A level given in the hold file is the level, whatever was flown; it changes only where the file says so.
        Without one the levels that were flown are taken, and moves from one to another are left out.
    """
    motion, given = flown.motion, flown.hold.altitude_ft is not None
    reference = np.full(motion.time_s.size, np.nan)
    inside = motion.span(flown.start_s, flown.end_s)
    altitude = motion.altitude_ft[inside]
    if altitude.size < 2 or not np.isfinite(altitude).any():
        return LevelPlan(reference, False, given, False)
    time_s = motion.time_s[inside]
    if given:
        held, moved = _cleared(flown, time_s, altitude, rule)
        reference[inside] = held
        return LevelPlan(reference, True, True, moved)
    # A descent that began before the last passage of the fix ends after it: it is looked for beyond the hold.
    wider = motion.span(flown.start_s, flown.end_s + _WAY_OUT_S)
    moving = _moving(motion.time_s[wider], motion.altitude_ft[wider], rule)[: altitude.size]
    held = np.full(altitude.size, np.nan)
    for first, last in runs(~moving):
        held[first:last] = float(np.nanmedian(altitude[first:last]))
    reference[inside] = held
    return LevelPlan(reference, True, False, bool(moving.any()))


def _cleared(
    flown: FlownHold, time_s: FloatArray, altitude_ft: FloatArray, rule: Levels
) -> tuple[FloatArray, bool]:
    """Lay out the levels that the hold file clears, each with the time that the way to it may take."""
    hold = flown.hold
    assert hold.altitude_ft is not None
    held = np.full(time_s.size, hold.altitude_ft)
    starts = {circuit.number: circuit.start_s for circuit in flown.circuits}
    level_ft, moved = hold.altitude_ft, False
    for change in hold.levels:
        begins_s = change.from_s if change.from_s is not None else starts.get(change.from_circuit or 0)
        if begins_s is None or change.level_ft == level_ft:
            continue
        after = time_s >= begins_s
        held[after] = change.level_ft
        # On the way: until the new level is met, and no longer than the slowest climb that counts as one.
        longest_s = 60.0 * abs(change.level_ft - level_ft) / rule.rate_fpm
        met = np.flatnonzero(after & (np.abs(altitude_ft - change.level_ft) <= rule.met_within_ft))
        until_s = min(float(time_s[met[0]]) if met.size else np.inf, begins_s + longest_s)
        held[after & (time_s < until_s)] = np.nan
        level_ft, moved = change.level_ft, True
    return held, moved


def _moving(time_s: FloatArray, altitude_ft: FloatArray, rule: Levels) -> NDArray[np.bool_]:
    """Mark moves that begin at one level and end at another."""
    half = 0.5 * _RATE_OVER_S
    later = np.interp(time_s + half, time_s, altitude_ft)
    earlier = np.interp(time_s - half, time_s, altitude_ft)
    fast = np.abs(later - earlier) * 60.0 / _RATE_OVER_S > rule.rate_fpm
    moving = np.zeros(time_s.size, bool)
    for first, last in _joined(runs(fast), time_s):
        change = altitude_ft[min(last, time_s.size - 1)] - altitude_ft[max(first - 1, 0)]
        if abs(change) >= rule.change_ft:
            moving[first:last] = True
    return moving


def _joined(spans: list[tuple[int, int]], time_s: FloatArray) -> list[tuple[int, int]]:
    joined: list[tuple[int, int]] = []
    for first, last in spans:
        if joined and time_s[first] - time_s[joined[-1][1] - 1] < _SHORTEST_LEVEL_S:
            joined[-1] = (joined[-1][0], last)
        else:
            joined.append((first, last))
    return joined
