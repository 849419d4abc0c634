"""Loops: where a flight came back over one point on one course, whatever it flew between.

Turns that run into each other, positions joined by chords and legs that swing hide a racetrack from whoever looks for
two turns with a leg between. They do not hide that the flight came round to the same place again. Each such place is
a hypothesis of a hold: its fix where the ways round come nearest to each other, its course the way that leads over it.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.racetrack import M_PER_NM
from analyser.circuits.survey_turns import smooth
from analyser.circuits.thresholds import LOOPS
from analyser.logs.track import FloatArray
from analyser.motion.survey import Survey


@dataclass(frozen=True)
class Loop:
    """One hypothesis of a hold.

    Attributes
    ----------
    index : int
        Grid point at which its fix was passed first.
    last : int
        Grid point at which it was passed last.
    course_deg : float
        Ground track over the fix, [0, 360).
    side : int
        The way round, +1 right, -1 left.
    laps : int
    miss_nm : float
        How near the ways round come to the fix, usually.
    straight_share : float
        How much of the way round is no turning.
    """

    index: int
    last: int
    course_deg: float
    side: int
    laps: int
    miss_nm: float
    straight_share: float

    @property
    def lap_s(self) -> float:
        """How long once round takes."""
        return (self.last - self.index) / self.laps

    @property
    def is_circling(self) -> bool:
        """Whether it is nothing but turning, or too quick a way round to have legs."""
        quick = self.lap_s < LOOPS.circling_s and self.straight_share < LOOPS.circling_share
        return quick or self.straight_share < LOOPS.least_straight_share


def loops(survey: Survey, *, scale_s: float) -> list[Loop]:
    """Find where a stretch of flight came round to the same place, best first; none overlaps another in time.

    Parameters
    ----------
    survey : Survey
    scale_s : float
        Smoothing of the direction over the ground, seconds.
    """
    step = LOOPS.step_s
    east, north = smooth(survey.east_mps, scale_s)[::step], smooth(survey.north_mps, scale_s)[::step]
    turned = np.degrees(np.unwrap(np.arctan2(east, north)))
    place = np.column_stack([survey.east_m, survey.north_m])[::step] / M_PER_NM
    flying = survey.ground_speed_kt[::step] > LOOPS.slowest_kt
    later, miss = _next_round(place, turned, flying)
    found = [_followed(k, later, miss, turned) for k in np.flatnonzero(later > 0).tolist()]
    kept: list[tuple[int, int]] = []
    apart: list[Loop] = []
    for points in sorted(found, key=lambda p: (-min(len(p[0]), 4), p[1])):
        span = points[0][0], points[0][-1]
        # What is kept does not overlap: the last that begins before this one's end is the last to end, too.
        before = bisect_left(kept, (span[1], 0))
        if before == 0 or kept[before - 1][1] <= span[0]:
            kept.insert(before, span)
            apart.append(_loop(points, turned, step))
    return apart


def _next_round(
    place: FloatArray, turned: FloatArray, flying: NDArray[np.bool_]
) -> tuple[NDArray[np.int64], FloatArray]:
    """Return, for every point, the later point that comes nearest to it once round, and how near; 0 where none does."""
    count = turned.size
    later, miss = np.zeros(count, dtype=np.int64), np.full(count, np.inf)
    first, last = LOOPS.shortest_s // LOOPS.step_s, LOOPS.longest_s // LOOPS.step_s
    reach = np.zeros(count)
    for lag in range(1, min(last, count - 1) + 1):
        apart = np.hypot(*(place[lag:] - place[:-lag]).T)
        reach[: count - lag] = np.maximum(reach[: count - lag], apart)
        if lag < first:
            continue
        round_deg = np.abs(turned[lag:] - turned[:-lag])
        once = (round_deg >= LOOPS.round_deg[0]) & (round_deg <= LOOPS.round_deg[1])
        near = apart <= np.minimum(LOOPS.near_nm, LOOPS.near_share * reach[: count - lag])
        good = once & near & flying[:-lag] & flying[lag:] & (apart < miss[: count - lag])
        miss[: count - lag][good] = apart[good]
        later[: count - lag][good] = lag + np.flatnonzero(good)
    return later, miss


def _followed(
    first: int, later: NDArray[np.int64], miss: FloatArray, turned: FloatArray
) -> tuple[list[int], float]:
    """Follow a point round and round; return the points met, and the mean of how near."""
    points, misses, at = [first], [], first
    side = np.sign(turned[later[first]] - turned[first])
    while later[at] > 0 and np.sign(turned[later[at]] - turned[at]) == side:
        misses.append(float(miss[at]))
        at = int(later[at])
        points.append(at)
    return points, float(np.mean(misses))


def _loop(found: tuple[list[int], float], turned: FloatArray, step: int) -> Loop:
    points, miss = found
    direction = np.radians(turned[points])
    course = float(np.degrees(np.arctan2(np.sin(direction).mean(), np.cos(direction).mean())) % 360.0)
    side = 1 if turned[points[1]] > turned[points[0]] else -1
    rate = np.abs(np.gradient(turned[points[0] : points[-1] + 1]))
    straight = float(np.mean(rate < LOOPS.straight_rate_share * np.percentile(rate, 80)))
    return Loop(points[0] * step, points[-1] * step, course, side, len(points) - 1, miss, straight)
