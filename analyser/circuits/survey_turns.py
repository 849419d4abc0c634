"""Runs of turning in a flight, seen from the ground: the raw material of racetracks."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from itertools import pairwise
from operator import attrgetter

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.thresholds import TURNS
from analyser.frozen import dataclass
from analyser.motion.survey import SLOWEST_FLIGHT_KT, Survey

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class TurnRun:
    """A stretch of turning one way.

    Attributes
    ----------
    start, end : int
        Grid points of the survey, end exclusive.
    change_deg : float
        Change of the ground track, positive right.
    half : bool
        True for half of a whole circle that was taken apart.
    """

    start: int
    end: int
    change_deg: float
    half: bool = False

    @property
    def side(self) -> int:
        """+1 for right, -1 for left."""
        return 1 if self.change_deg > 0 else -1


def turn_runs(survey: Survey, scale_s: float) -> list[TurnRun]:
    """Find where the aircraft was turning, at one scale of smoothing.

    Parameters
    ----------
    scale_s : float
        Sigma of the Gaussian the turn rate is smoothed with: small for well sampled tracks, larger
        where positions were joined by chords.

    Returns
    -------
    list of TurnRun
        In time order, each with at least ``TURNS.least_change_deg``.
    """
    # Smoothing the velocity, not its direction, lets a fix that jumps back and forth cancel itself.
    east, north = smooth(survey.east_mps, scale_s), smooth(survey.north_mps, scale_s)
    flying = survey.ground_speed_kt > SLOWEST_FLIGHT_KT
    angle = np.degrees(np.unwrap(np.arctan2(east, north)))
    rate = np.where(flying, smooth(np.gradient(angle), 2.0), 0.0)
    usual = _usual_rate(rate)
    turning = np.abs(rate) > np.maximum(TURNS.slowest_turn_dps, TURNS.edge_share * usual)
    sign = np.where(turning, np.sign(rate), 0.0)
    edges = np.flatnonzero(np.diff(sign)) + 1
    bounds = [0, *edges.tolist(), sign.size]
    angle = np.concatenate([[0.0], np.cumsum(rate)])
    pieces = [TurnRun(a, b, float(angle[b] - angle[a])) for a, b in pairwise(bounds) if sign[a] != 0.0]
    return [run for run in _joined(pieces, angle) if abs(run.change_deg) >= TURNS.least_change_deg]


def ending_within(runs: Sequence[TurnRun], first: int, last: int) -> Sequence[TurnRun]:
    """Return the turns that end within a stretch: a day of holds must not be gone through for each of them.

    Parameters
    ----------
    runs : sequence of TurnRun
        In time order.
    first, last : int
        Grid points, both included.
    """
    end = attrgetter("end")
    return runs[bisect_left(runs, first, key=end) : bisect_right(runs, last, key=end)]


def is_whole_circle(run: TurnRun) -> bool:
    """Tell whether a run is one whole circle, give or take the drift of a strong wind."""
    return TURNS.least_circle_deg <= abs(run.change_deg) <= TURNS.most_circle_deg


def circles_halved(survey: Survey, runs: list[TurnRun]) -> list[TurnRun]:
    """Take every whole circle apart into two half ones.

    In a strong wind a leg may be over in no time, and the inbound and the outbound turn become one: so the
    exact circuit itself asks, where the wind is too strong for the leg.

    Returns
    -------
    list of TurnRun
        The same list, circles halved where half their angle was turned.
    """
    found: list[TurnRun] = []
    for run in runs:
        if not is_whole_circle(run):
            found.append(run)
            continue
        turned = np.abs(np.cumsum(survey.turn_rate_dps[run.start : run.end]))
        middle = run.start + int(np.searchsorted(turned, 0.5 * turned[-1]))
        middle = min(max(middle, run.start + 1), run.end - 1)
        half = 0.5 * run.change_deg
        found += [TurnRun(run.start, middle, half, half=True), TurnRun(middle, run.end, half, half=True)]
    return found


def _joined(pieces: list[TurnRun], angle: FloatArray) -> list[TurnRun]:
    runs: list[TurnRun] = []
    for piece in pieces:
        # A wobble of a few degrees the other way must not part the two halves of one turn.
        if abs(piece.change_deg) < 4.0:
            continue
        last = runs[-1] if runs else None
        if last and last.side == piece.side and piece.start - last.end <= TURNS.join_s:
            runs[-1] = TurnRun(last.start, piece.end, float(angle[piece.end] - angle[last.start]))
        else:
            runs.append(piece)
    return runs


def smooth(values: FloatArray, scale: float) -> FloatArray:
    """Gaussian running mean on a grid of one second; ends are held.

    Parameters
    ----------
    values : (n,) float array
    scale : float
        Sigma, grid points.

    Returns
    -------
    (n,) float array
    """
    reach = int(np.ceil(3.5 * scale))
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / scale) ** 2)
    padded = np.pad(values, reach, mode="edge")
    smoothed: FloatArray = np.convolve(padded, kernel / kernel.sum(), mode="valid")
    return smoothed


def _usual_rate(rate: FloatArray) -> FloatArray:
    """Return the rate of the turns around each point: the strongest third in blocks of five minutes."""
    block = 300
    magnitude = np.abs(rate)
    count = int(np.ceil(rate.size / block))
    level = np.array(
        [np.percentile(magnitude[max(0, (i - 1) * block) : (i + 2) * block], 80) for i in range(count)]
    )
    centres = (np.arange(count) + 0.5) * block
    usual: FloatArray = np.interp(np.arange(rate.size), centres, level)
    return usual
