"""The path through a track's true samples, weighed by how the track errs, and what its derivatives are known to.

A clean log is smoothed with one noise for both axes (:mod:`analyser.motion.spline`). Where clocks wander or rows were
interpolated, the same spline is fitted to the true samples alone, each with its own error ellipse: long along the
track, where a wrong time moves the aircraft, and narrow across it. A ground speed and track that the log reports, and
a pilot's steady airspeed, enter as measurements of the velocity. The sigmas of velocity and acceleration are those of
the solution itself.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analyser.earth.constants import KT_PER_MPS
from analyser.frozen import dataclass
from analyser.logs.track import FloatArray
from analyser.logs.track_errors import TrackErrors
from analyser.motion.linear_solvers import factor_banded, solve_banded, solve_factored
from analyser.motion.motion_thresholds import PATH, SPLINE
from analyser.motion.spline import Spline, add_penalty, basis, fit_spline

#: The error ellipse turns with the track, and the track follows from the fit: so many rounds settle it.
ROUNDS = 4
#: A smoother cannot resolve less than its samples do: the noise of a perfect fix every h seconds acts as S (h/π)⁶.
SAMPLING_LIMIT = 1.0 / np.pi


@dataclass(frozen=True)
class Velocities:
    """Measurements of the ground velocity."""

    #: (n,)
    time_s: FloatArray
    #: (n, 2) Towards east and north.
    vectors_mps: FloatArray
    #: (n, 2) Unit vectors along which the first sigma holds.
    direction: FloatArray
    #: (n,) Infinite where that component was not measured.
    along_sd_mps: FloatArray
    across_sd_mps: FloatArray


@dataclass(frozen=True)
class Path:
    """A smoothed path and what it is known to."""

    #: Metres east and north.
    spline: Spline
    #: (n,) Sigmas of the ground velocity along and across the track, on the grid.
    along_sd_kt: FloatArray
    across_sd_kt: FloatArray
    #: (n,) Sigma of the acceleration across the track, m/s².
    acceleration_sd: FloatArray
    #: Between true samples.
    interval_s: float
    #: How the velocity's errors hang together, where they are worth telling from the pilot's wandering speed.
    errors: VelocityErrors | None = None


def tidy_path(time_s: FloatArray, fixes: FloatArray, interval_s: float, grid_s: FloatArray) -> Path:
    """Smooth a track whose fixes, (n, 2) in metres, err alike on both axes; sigmas are given at a grid's instants.

    The steady-state smoother's error spectra integrate to R^½S^½/6 for the velocity and R^⅙S^⅚/3 for the acceleration,
    with S the jerk's density and R the noise's (variance times interval).
    """
    spline = fit_spline(time_s, fixes)
    density = max(spline.noise, SPLINE.noise_floor_m) ** 2 * max(interval_s, spline.step_s)
    density += SPLINE.jerk_density * (SAMPLING_LIMIT * interval_s) ** 6
    velocity = KT_PER_MPS * np.sqrt(np.sqrt(density * SPLINE.jerk_density) / 6.0)
    acceleration = np.sqrt(density ** (1 / 6) * SPLINE.jerk_density ** (5 / 6) / 3.0)
    even = np.ones(grid_s.size)
    return Path(spline, velocity * even, velocity * even, acceleration * even, interval_s)


def untidy_path(
    time_s: FloatArray,
    fixes: FloatArray,
    errors: TrackErrors,
    grid_s: FloatArray,
    velocities: Velocities | None = None,
) -> Path:
    """Smooth true samples, (n, 2) in metres, by their error model; sigmas are given at a grid's instants."""
    system, spline = _solved(time_s, fixes, errors, velocities)
    return system.with_sigmas(spline, grid_s, errors.effective_s)


def untidy_spline(
    time_s: FloatArray, fixes: FloatArray, errors: TrackErrors, velocities: Velocities | None = None
) -> Spline:
    """Smooth true samples, (n, 2) in metres, by their error model, without asking how well that tells derivatives."""
    return _solved(time_s, fixes, errors, velocities)[1]


def _solved(
    time_s: FloatArray, fixes: FloatArray, errors: TrackErrors, velocities: Velocities | None
) -> tuple[_System, Spline]:
    # Places may be rounded to more than any receiver errs by.
    ceiling_m = max(SPLINE.noise_ceiling_m, errors.position_step_m)
    across_m = float(np.clip(errors.position_noise_m, SPLINE.noise_floor_m, ceiling_m))
    spline = fit_spline(time_s, fixes, noise=max(across_m, 10.0 * errors.time_jitter_s))
    system = _System(time_s, spline.step_s)
    late_s, trust = np.zeros(time_s.size), np.ones(time_s.size)
    for _ in range(ROUNDS):
        # A sample taken late lies further along the *curve*: its error is laid off along the tangent there, not here,
        # or jitter would draw every turn too tight.
        taken_s = np.clip(time_s + late_s, time_s[0], time_s[-1])
        velocity = spline.at(taken_s, 1)
        speed = np.maximum(np.hypot(velocity[:, 0], velocity[:, 1]), 1.0)
        along_m = np.hypot(across_m, speed * errors.time_jitter_s)
        ellipses = _ellipse(velocity / speed[:, None], along_m, np.full_like(speed, across_m))
        ellipses *= trust[:, None, None]
        expected = fixes + velocity * (taken_s - time_s)[:, None]
        system.clear()
        system.observe(taken_s, expected, ellipses, 0)
        if velocities is not None:
            system.observe_velocities(velocities)
        spline = system.solve(across_m)
        off = ((fixes - spline.at(time_s)) * spline.at(time_s, 1)).sum(axis=1) / speed**2
        most_s = 3.0 * errors.time_jitter_s
        late_s = np.clip(off, -most_s, most_s)
        left = expected - spline.at(taken_s)
        away = np.sqrt(
            np.maximum(np.einsum("ni,nij,nj->n", left, ellipses / trust[:, None, None], left), 1e-12)
        )
        trust = np.minimum(1.0, PATH.far_sd / away)
    # A smoother flattens a turn a little, and with it the speed. What it left over, smoothed in its turn, gives that
    # back but for its square.
    system.right[:] = 0.0
    system.observe(taken_s, expected - spline.at(taken_s), ellipses, 0, matrix=False)
    if velocities is not None:
        system.observe_velocities(velocities, spline)
    missed = system.solve(across_m).coefficients
    return system, replace(spline, coefficients=spline.coefficients + missed)


def _ellipse(direction: FloatArray, along_sd: FloatArray, across_sd: FloatArray) -> FloatArray:
    """Return the precisions of vectors known to one sigma along a direction and another across it: (n, 2, 2)."""
    beside = np.column_stack([direction[:, 1], -direction[:, 0]])
    return np.asarray(
        direction[:, :, None] * direction[:, None, :] / along_sd[:, None, None] ** 2
        + beside[:, :, None] * beside[:, None, :] / across_sd[:, None, None] ** 2
    )


class VelocityErrors:
    """The joint errors of a path's velocities: what the normal equations leave uncertain.

    Parameters
    ----------
    system : _System
        With its observations.
    """

    def __init__(self, system: _System) -> None:
        self._system = system
        self._factor = factor_banded(system.banded)

    def solve(self, right: FloatArray) -> FloatArray:
        """Solve the normal equations for other right-hand sides: (2m, n)."""
        return solve_factored(self._factor, right)

    def covariance(self, time_s: FloatArray, direction: FloatArray, starts: NDArray[np.intp]) -> FloatArray:
        """Return the covariance of mean velocities along directions, (n, 2) unit vectors: (b, b) in kt².

        The instants of every mean begin at its place in ``starts``.
        """
        count = np.diff(np.append(starts, time_s.size))
        bins = np.repeat(np.arange(starts.size), count)
        mean = self._system.functionals(time_s, direction / count[bins][:, None], 1, bins)
        return KT_PER_MPS**2 * np.asarray(mean.T @ self.solve(mean))


class _System:
    """The normal equations of a planar spline, east and north coefficients in turn: seven diagonals on each side."""

    def __init__(self, time_s: FloatArray, step_s: float) -> None:
        self.start_s, self.step_s = float(time_s[0]), step_s
        self.count = int(np.ceil((time_s[-1] - time_s[0]) / step_s)) + 4
        self.penalty = np.zeros((4, self.count))
        add_penalty(self.penalty, 1.0 / (SPLINE.jerk_density * step_s**5))
        self.clear()

    def clear(self) -> None:
        """Forget the observations."""
        self.banded = np.zeros((8, 2 * self.count))
        for off in range(4):
            for axis in range(2):
                self.banded[2 * off, axis::2] += self.penalty[off]
        self.right = np.zeros(2 * self.count)

    def observe(
        self,
        time_s: FloatArray,
        values: FloatArray,
        precision: FloatArray,
        order: int,
        *,
        matrix: bool = True,
    ) -> None:
        """Add observations of a derivative, with their precisions; or their values only, to equations made before."""
        first, weights = basis(time_s, self.start_s, self.step_s, self.count, order)
        weighed = np.einsum("nij,nj->ni", precision, values)
        size = self.right.size
        for a in range(4):
            for p in range(2):
                row = 2 * (first + a) + p
                self.right += np.bincount(row, weights[:, a] * weighed[:, p], minlength=size)
                for b in range(a + 1 if matrix else 0):
                    for q in range(2):
                        off = 2 * (a - b) + p - q
                        if off < 0:
                            continue
                        entry = weights[:, a] * weights[:, b] * precision[:, p, q]
                        self.banded[off] += np.bincount(2 * (first + b) + q, entry, minlength=size)

    def observe_velocities(self, velocities: Velocities, less: Spline | None = None) -> None:
        """Add measured velocities within the span, or what a path left over of them."""
        end_s = self.start_s + (self.count - 4) * self.step_s
        use = (velocities.time_s >= self.start_s) & (velocities.time_s <= end_s)
        sigmas = velocities.along_sd_mps[use], velocities.across_sd_mps[use]
        precision = _ellipse(velocities.direction[use], *sigmas)
        time_s, vectors = velocities.time_s[use], velocities.vectors_mps[use]
        if less is not None:
            vectors = vectors - less.at(time_s, 1)
        self.observe(time_s, vectors, precision, 1, matrix=less is None)

    def solve(self, noise_m: float) -> Spline:
        """Solve for the path."""
        found = solve_banded(self.banded, self.right)
        return Spline(self.start_s, self.step_s, found.reshape(-1, 2), noise_m)

    def with_sigmas(self, spline: Spline, grid_s: FloatArray, interval_s: float) -> Path:
        """Read the sigmas of velocity and acceleration off the normal equations, at some instants."""
        errors = VelocityErrors(self)
        count = int(np.clip((grid_s[-1] - grid_s[0]) / PATH.probe_s, 2, PATH.most_probes))
        probes = np.linspace(grid_s[0], grid_s[-1], count)
        velocity = spline.at(probes, 1)
        along = velocity / np.maximum(np.hypot(velocity[:, 0], velocity[:, 1]), 1.0)[:, None]
        across = np.column_stack([along[:, 1], -along[:, 0]])
        wanted = [self.functionals(probes, d, order) for d, order in ((along, 1), (across, 1), (across, 2))]
        sds = []
        for functional in wanted:
            variance = (functional * errors.solve(functional)).sum(axis=0)
            sds.append(np.interp(grid_s, probes, np.sqrt(np.maximum(variance, 0.0))))
        return Path(spline, sds[0] * KT_PER_MPS, sds[1] * KT_PER_MPS, sds[2], interval_s, errors)

    def functionals(
        self, time_s: FloatArray, direction: FloatArray, order: int, columns: NDArray[np.intp] | None = None
    ) -> FloatArray:
        """Return what picks a derivative along a direction out of the coefficients: (2m, n), or sums by column."""
        first, weights = basis(time_s, self.start_s, self.step_s, self.count, order)
        columns = np.arange(time_s.size) if columns is None else columns
        picked = np.zeros((2 * self.count, int(columns[-1]) + 1))
        for a in range(4):
            for axis in range(2):
                np.add.at(picked, (2 * (first + a) + axis, columns), weights[:, a] * direction[:, axis])
        return picked
