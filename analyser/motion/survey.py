"""A first look over a whole flight: where it went and how it turned, over the ground, second by second.

Nothing here is judged; it only has to be fast, right at any place on earth, and undisturbed by holes.
"""

from __future__ import annotations

from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from analyser.earth.constants import KT_PER_MPS
from analyser.frozen import dataclass
from analyser.logs.movement import unroll
from analyser.logs.track import Track
from analyser.logs.track_errors import true_samples
from analyser.motion.motion_thresholds import STRETCH
from analyser.motion.path import untidy_spline
from analyser.motion.spline import fit_spline

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Survey:
    """A stretch of flight without long holes, on a grid of one second."""

    #: (n,)
    time_s: FloatArray
    #: (n,) Path unrolled from the stretch's first fix; true north everywhere, so shapes are right within a hold while
    #: distances across hours are only nearly so.
    east_m: FloatArray
    north_m: FloatArray
    #: (n,)
    east_mps: FloatArray
    north_mps: FloatArray
    #: (n,) Rate of change of the ground track, positive right; zero while not flying.
    turn_rate_dps: FloatArray
    #: (n,) NaN where unknown.
    altitude_ft: FloatArray
    #: Seconds between the log's true samples.
    sample_s: float = 1.0
    #: From when to when nothing was recorded: the path there is a guess.
    holes_s: tuple[tuple[float, float], ...] = ()

    @cached_property
    def hole_s(self) -> FloatArray:
        """How long the hole lasted that each instant lies in, seconds; 0 where it was recorded: (n,) float array."""
        lasted = np.zeros(self.time_s.size)
        for begun_s, ended_s in self.holes_s:
            lasted[(self.time_s > begun_s) & (self.time_s < ended_s)] = ended_s - begun_s
        return lasted

    # Kept once worked out: every reading of the flight as a racetrack asks for it.
    @cached_property
    def ground_speed_kt(self) -> FloatArray:
        """Speed over the ground, knots."""
        speed: FloatArray = np.hypot(self.east_mps, self.north_mps) * KT_PER_MPS
        return speed


def survey_flight(track: Track, *, longest_hole_s: float = STRETCH.longest_hole_s) -> list[Survey]:
    """Cut a flight at its long holes and look over each stretch that has room for a hold, in time order.

    Holes up to ``longest_hole_s`` are bridged, and longer ones that were flown straight through or with one turn.
    """
    edges = np.flatnonzero(np.diff(track.time_s) > longest_hole_s) + 1
    edges = edges[[not _flown_on(track, int(edge)) for edge in edges]] if edges.size else edges
    bounds = [0, *edges.tolist(), track.samples]
    return [
        _look_over(track, slice(a, b))
        for a, b in pairwise(bounds)
        if b - a >= STRETCH.fewest_samples
        and track.time_s[b - 1] - track.time_s[a] >= STRETCH.shortest_stretch_s
    ]


def _flown_on(track: Track, after: int) -> bool:
    """Tell whether place and time after a hole are those of one straight leg or of one turn: from row ``after`` on."""
    steps = _steps_at(track, after)
    if steps is None or steps.hole_s > STRETCH.longest_straight_s:
        return False
    moved, speed = steps.moved, steps.speed
    aside = np.abs(np.degrees(np.angle(moved[[0, 2]] * np.conj(moved[1]))))
    straight = aside.max() <= STRETCH.straight_deg and np.ptp(speed) <= STRETCH.straight_share * speed[1]
    return bool(straight or _way_round(steps) is not None)


@dataclass(frozen=True)
class _Steps:
    """What a flight moved in the seconds before a hole, in it and after it: metres, east + 1j north, and m/s."""

    moved: NDArray[np.complex128]
    speed: FloatArray
    hole_s: float


def _steps_at(track: Track, after: int) -> _Steps | None:
    time_s = track.time_s
    first = int(np.searchsorted(time_s, time_s[after - 1] - STRETCH.straight_over_s, side="right")) - 1
    last = int(np.searchsorted(time_s, time_s[after] + STRETCH.straight_over_s))
    if first < 0 or last >= time_s.size or first == after - 1:
        return None
    rows = np.array([first, after - 1, after, last])
    east, north = unroll(track.lat_deg[rows], track.lon_deg[rows])
    moved, took = np.diff(east) + 1j * np.diff(north), np.diff(time_s[rows])
    speed = np.abs(moved) / took
    if took.max() != took[1] or speed[[0, 2]].min() * KT_PER_MPS < STRETCH.slowest_flight_kt:
        return None
    return _Steps(moved, speed, float(took[1]))


def _way_round(steps: _Steps) -> NDArray[np.complex128] | None:
    """Lay a straight, a turn and a straight across a hole, as long as its time allows at the speed beside it.

    Metres from the hole's beginning, (n,) complex, at even times within it; None where no such way leads across.
    """
    if not STRETCH.turn_hole_s[0] < steps.hole_s <= STRETCH.turn_hole_s[1]:
        return None
    came, goes = (steps.moved[i] / abs(steps.moved[i]) for i in (0, 2))
    speed = 0.5 * float(steps.speed[0] + steps.speed[2])
    across, flown_m = steps.moved[1] * np.conj(came), speed * steps.hole_s
    for side in (1.0, -1.0):
        turn = float(np.angle(goes * np.conj(came))) * side % (2.0 * np.pi)
        if not STRETCH.turn_deg[0] <= np.degrees(turn) <= STRETCH.turn_deg[1]:
            continue
        # How long the first leg, the last one and the turn's radius are: they add up to the step and to the way.
        parts = np.array([1.0, np.exp(1j * side * turn), (np.exp(1j * side * turn) - 1.0) / (1j * side)])
        first, last, radius = np.linalg.solve(
            np.array([parts.real, parts.imag, [1.0, 1.0, turn]]), [across.real, across.imag, flown_m]
        )
        rate_dps = np.degrees(speed / max(radius, 1.0))
        if (
            min(first, last) < -STRETCH.turn_share * flown_m
            or not STRETCH.turn_dps[0] <= rate_dps <= STRETCH.turn_dps[1]
        ):
            continue
        first, last = max(first, 0.0), max(last, 0.0)
        share = np.arange(1.0, steps.hole_s // STRETCH.laid_out_s) * STRETCH.laid_out_s / steps.hole_s
        way = share * (first + radius * turn + last)
        angle = np.clip((way - first) / radius, 0.0, turn)
        place = np.minimum(way, first) + radius * (np.exp(1j * side * angle) - 1.0) / (1j * side)
        place = place + parts[1] * np.maximum(way - first - radius * turn, 0.0)
        missed = across - (parts @ np.array([first, last, radius]))
        return np.asarray((place + share * missed) * came)
    return None


def _laid_across(
    track: Track, part: slice, time_s: FloatArray, fixes: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Add what was probably flown in long holes with a turn in them: a path that only bends gently would cut it."""
    rows = np.flatnonzero(np.diff(track.time_s[part]) > STRETCH.turn_hole_s[0]) + part.start + 1
    for after in rows.tolist():
        steps = _steps_at(track, after)
        way = None if steps is None else _way_round(steps)
        if way is None:
            continue
        begun_s = float(track.time_s[after - 1])
        base = np.array([np.interp(begun_s, time_s, fixes[:, axis]) for axis in range(2)])
        at_s = begun_s + STRETCH.laid_out_s * np.arange(1.0, way.size + 1.0)
        order = np.argsort(np.concatenate([time_s, at_s]), kind="stable")
        fixes = np.concatenate([fixes, base + np.column_stack([way.real, way.imag])])[order]
        time_s = np.concatenate([time_s, at_s])[order]
    return time_s, fixes


def _look_over(track: Track, part: slice) -> Survey:
    time_s = track.time_s[part]
    grid = np.arange(np.ceil(time_s[0]), time_s[-1] + 1e-9)
    errors = track.errors
    time_s, lat, lon = true_samples(
        errors, track.time_s, track.lat_deg, track.lon_deg, float(time_s[0]), float(time_s[-1])
    )
    time_s, fixes = _laid_across(track, part, time_s, np.stack(unroll(lat, lon), axis=1))
    spline = untidy_spline(time_s, fixes, errors) if errors.untidy else fit_spline(*thin(time_s, fixes))
    position, velocity, acceleration = (spline.at(grid, order) for order in range(3))
    speed_squared = np.maximum((velocity**2).sum(axis=1), 1e-6)
    turning = velocity[:, 1] * acceleration[:, 0] - velocity[:, 0] * acceleration[:, 1]
    flying = np.sqrt(speed_squared) * KT_PER_MPS > STRETCH.slowest_flight_kt
    return Survey(
        time_s=grid,
        east_m=position[:, 0],
        north_m=position[:, 1],
        east_mps=velocity[:, 0],
        north_mps=velocity[:, 1],
        turn_rate_dps=np.where(flying, np.degrees(turning / speed_squared), 0.0),
        altitude_ft=on_grid(track.time_s[part], track.channel("altitude_ft")[part], grid),
        sample_s=errors.effective_s,
        holes_s=_holes_s(track.time_s[part], max(STRETCH.least_hole_s, 3.0 * errors.effective_s)),
    )


def _holes_s(time_s: FloatArray, longer_than_s: float) -> tuple[tuple[float, float], ...]:
    before = np.flatnonzero(np.diff(time_s) > longer_than_s).tolist()
    return tuple((float(time_s[i]), float(time_s[i + 1])) for i in before)


def thin(time_s: FloatArray, values: FloatArray, *, to_s: float = 0.5) -> tuple[FloatArray, FloatArray]:
    """Average fast sampling of (n, d) values down to two fixes a second: derivatives of a path need no more.

    Returns the mean times of the bins that hold samples, (m,), and their values, (m, d).
    """
    if time_s.size < 3 or np.median(np.diff(time_s)) > 0.7 * to_s:
        return time_s, values
    bins = np.floor((time_s - time_s[0]) / to_s).astype(np.int64)
    starts = np.flatnonzero(np.diff(bins, prepend=-1))
    count = np.diff(np.append(starts, time_s.size))
    mean = np.add.reduceat(values, starts, axis=0) / count[:, None]
    return np.add.reduceat(time_s, starts) / count, mean


def on_grid(time_s: FloatArray, values: FloatArray, grid_s: FloatArray) -> FloatArray:
    """Interpolate a channel that may have blanks onto a grid: (m,), all NaN where it has no value at all."""
    known = np.isfinite(values)
    if not known.any():
        return np.full(grid_s.shape, np.nan)
    return np.interp(grid_s, time_s[known], values[known])
