"""Racetracks: two like turns of about half a circle, the same way, a leg between, back over one point.

From the runs of turning come chains of turns of one hand. In a chain every other turn may be the outbound one, which
begins over the fix: both readings are tried, laps that do not come back over their own beginning are dropped
(:mod:`analyser.circuits.lap_grouping`), and both are weighed against each other, the doubt kept
(:mod:`analyser.circuits.candidate_scoring`).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.search_result import Objection
from analyser.circuits.survey_turns import TurnRun
from analyser.circuits.thresholds import RACETRACK
from analyser.earth.constants import METRES_PER_NM
from analyser.frozen import dataclass
from analyser.motion.survey import Survey

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class RacetrackLap:
    """One lap of a racetrack in a survey.

    Attributes
    ----------
    outbound, inbound : TurnRun
        Its two turns; the outbound turn begins at the fix.
    fix_m : (2,) float array
        Where the outbound turn begins, unrolled metres east and north.
    course_deg : float
        Ground track when coming back towards the fix.
    miss_nm : float
        Distance at which the way back passes ``fix_m``.
    passage : int
        Grid point of that passage.
    """

    outbound: TurnRun
    inbound: TurnRun
    fix_m: FloatArray
    course_deg: float
    miss_nm: float
    passage: int

    @property
    def legs(self) -> tuple[tuple[int, int], tuple[int, int]]:
        """Where the outbound and the inbound leg begin and end, grid points."""
        return (self.outbound.end, self.inbound.start), (self.inbound.end, self.passage)


class Reasons(NamedTuple):
    """What speaks for the first turn of each lap being the one that begins over the fix, in points."""

    laps: float = 0.0
    scatter: float = 0.0
    misses: float = 0.0
    arrival: float = 0.0
    departure: float = 0.0


NO_REASONS = Reasons()


@dataclass(frozen=True)
class Racetrack:
    """A chain of laps over one fix, as first seen.

    Attributes
    ----------
    side : int
        +1 right, -1 left.
    laps : tuple of RacetrackLap
    fix_m : (2,) float array
        Mean of the laps' fixes.
    course_deg : float
        Mean inbound ground track.
    before, after : TurnRun or None
        The turn of the same hand before the first lap (an offset entry's, perhaps) and after the last.
    score : float
        How much better this reading fits than nothing; compared between readings of one chain.
    scale_s : float
        Smoothing at which it was seen.
    objection : Objection or None
        The first thing that speaks against its being a hold.
    reasons : Reasons
        What the score is made of.
    arrives : bool
        Whether the way to the first lap fits an entry.
    turned_back : TurnRun or None
        The great turn of the other hand just before the first lap (a parallel entry's, perhaps) or before ``before``.
    """

    side: int
    laps: tuple[RacetrackLap, ...]
    fix_m: FloatArray
    course_deg: float
    before: TurnRun | None
    after: TurnRun | None
    score: float
    scale_s: float
    objection: Objection | None = None
    reasons: Reasons = NO_REASONS
    arrives: bool = True
    turned_back: TurnRun | None = None

    @property
    def has_halves(self) -> bool:
        """True where a whole circle was taken apart to read it."""
        return any(turn.half for lap in self.laps for turn in (lap.outbound, lap.inbound))

    @property
    def start(self) -> int:
        """First grid point of the first lap."""
        return self.laps[0].outbound.start

    @property
    def end(self) -> int:
        """Last grid point: the last return to the fix."""
        return self.laps[-1].passage


def point_m(survey: Survey, index: int) -> FloatArray:
    """Return where the flight was at a grid point, or at the nearest there is: metres east and north.

    Returns
    -------
    (2,) float array
    """
    i = min(max(index, 0), survey.time_s.size - 1)
    return np.array([survey.east_m[i], survey.north_m[i]])


def distance_nm(survey: Survey, a: int, b: int) -> float:
    """Return how far apart the flight was at two grid points.

    Returns
    -------
    float
        Nautical miles.
    """
    return float(np.hypot(*(point_m(survey, b) - point_m(survey, a)))) / METRES_PER_NM


def closing_nm(survey: Survey, lap: RacetrackLap) -> float:
    """Return how near a lap must come back to its beginning: in proportion to its size, for jets turn wide.

    Returns
    -------
    float
        Nautical miles.
    """
    return max(
        RACETRACK.closing_nm,
        RACETRACK.closing_share * distance_nm(survey, lap.outbound.start, lap.outbound.end),
    )
