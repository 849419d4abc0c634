"""The wind fit as a linear problem, and its solution: noise and stiffness weighed by the flight's own likelihood."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analyser.earth.constants import MPS_PER_KT
from analyser.frozen import dataclass
from analyser.logs.track import FloatArray
from analyser.motion.linear_solvers import solve_triangular
from analyser.motion.motion_thresholds import LIKELIHOOD, NOISE
from analyser.motion.noise_model import CorrelatedNoise, Mixture, Moments
from analyser.motion.path import VelocityErrors


@dataclass(frozen=True)
class WindProblem:
    """Everything that stays the same while hyper-parameters are tried."""

    time_s: FloatArray
    east_kt: FloatArray
    north_kt: FloatArray
    factor: FloatArray
    reference_kt: FloatArray
    wind_rows: FloatArray
    knots: int
    #: (n, c) How far each change of the speed held had come, from nothing to all of it.
    changes: FloatArray

    def air(self, parameters: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the air's speed past the aircraft, (n,), and its direction, unit vectors east and north: (n, 2)."""
        k = self.knots
        east = self.east_kt - self.wind_rows @ np.append(parameters[:k], parameters[2 * k])
        north = self.north_kt - self.wind_rows @ np.append(parameters[k : 2 * k], parameters[2 * k + 1])
        speed = np.maximum(np.hypot(east, north), 1e-6)
        return speed, np.column_stack([east, north]) / speed[:, None]

    def linearised(self, parameters: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the design of the residual |v − w| − V and the observation it is fitted to."""
        k = self.knots
        speed, unit = self.air(parameters)
        unit_east, unit_north = unit[:, :1], unit[:, 1:]
        # d|v − w|/dw = −u; moved to the other side the wind's column is +u and the airspeed's +factor.
        design = np.column_stack(
            [
                unit_east * self.wind_rows[:, :k],
                unit_north * self.wind_rows[:, :k],
                unit_east * self.wind_rows[:, k:],
                unit_north * self.wind_rows[:, k:],
                self.held,
            ]
        )
        residual = speed - self.reference_kt - self.held @ parameters[2 * k + 2 :]
        return design, residual + design @ parameters

    @property
    def held(self) -> FloatArray:
        """The airspeed about its reference: what one knot of it, and of each of its changes, makes of it."""
        return self.factor[:, None] * np.column_stack([np.ones_like(self.factor), self.changes])

    def at_one_speed(self, parameters: FloatArray) -> WindProblem:
        """Return the same as it would have been without the changes of the speed held."""
        changed = self.factor * (self.changes @ parameters[2 * self.knots + 3 :])
        east, north = (changed[:, None] * self.air(parameters)[1]).T
        return replace(
            self, east_kt=self.east_kt - east, north_kt=self.north_kt - north, changes=self.changes[:, :0]
        )

    def change(self, begun_s: float, lasted_s: float) -> FloatArray:
        """Return how far an even change had come: (n,)."""
        return np.asarray(np.clip((self.time_s - begun_s) / lasted_s, 0.0, 1.0))

    def with_change(self, begun_s: float, lasted_s: float) -> WindProblem:
        """Return the same with one more change of the speed held."""
        return replace(self, changes=np.column_stack([self.changes, self.change(begun_s, lasted_s)]))


def wind_prior(knots: int, change_kt: float, speed_changes: int = 0) -> FloatArray:
    """Return the precision of the parameters: a random walk of the wind, a mild shear, a free airspeed, its changes.

    ``change_kt`` is the sigma of the wind's change from knot to knot, per axis: (2k + 3 + c, 2k + 3 + c) for k knots.
    """
    walk = np.diff(np.eye(knots), axis=0)
    axis = walk.T @ walk / change_kt**2 + np.full(
        (knots, knots), 1.0 / (knots * LIKELIHOOD.wind_prior_kt) ** 2
    )
    precision = np.diag(np.full(2 * knots + 3 + speed_changes, LIKELIHOOD.speed_change_kt**-2))
    precision[:knots, :knots] = axis
    precision[knots : 2 * knots, knots : 2 * knots] = axis
    precision[2 * knots, 2 * knots] = precision[2 * knots + 1, 2 * knots + 1] = (
        LIKELIHOOD.shear_kt_per_kft**-2
    )
    precision[2 * knots + 2, 2 * knots + 2] = 1e-6
    return precision


def hats(time_s: FloatArray, knots_s: FloatArray) -> FloatArray:
    """Write linear interpolation between evenly spaced knots as a matrix, (n, k); held beyond the ends."""
    if knots_s.size == 1:
        return np.ones((time_s.size, 1))
    place = np.clip((time_s - knots_s[0]) / (knots_s[1] - knots_s[0]), 0.0, knots_s.size - 1.0)
    cell = np.minimum(place.astype(np.int64), knots_s.size - 2)
    rows = np.zeros((time_s.size, knots_s.size))
    index = np.arange(time_s.size)
    rows[index, cell] = 1.0 - (place - cell)
    rows[index, cell + 1] = place - cell
    return rows


def most_likely(
    problem: WindProblem,
    parameters: FloatArray,
    *,
    errors: VelocityErrors | None = None,
    fed: bool = False,
    quick: bool,
) -> Averaged:
    """Solve; the flight's own likelihood chooses the noise, and weighs how far the wind may have changed.

    Parameters
    ----------
    parameters : (p,) float array
        To start from.
    errors : VelocityErrors, optional
        How an untidy log's velocities err.
    fed : bool
        A feed made rows up, and smoothed its speeds: then their changes are its own, and one speed was held.
    quick : bool
        Take the usual noise instead of searching for the likeliest.
    """
    best = _fitted(problem, parameters, errors, quick=quick)
    for _ in range(0 if fed else LIKELIHOOD.most_speed_changes):
        changed = best.likeliest_change()
        if changed is None:
            break
        more = _fitted(changed, np.append(best.parameters, 0.0), errors, quick=quick)
        if more.evidence - best.evidence < LIKELIHOOD.speed_change_odds:
            break
        best = more
    return _averaged(best)


@dataclass(frozen=True)
class _Fitted:
    """A problem solved with the likeliest noise, for every stiffness of the wind."""

    problem: WindProblem
    noise: _Noise
    rows: FloatArray
    solved: list[_Solved]

    @property
    def best(self) -> _Solved:
        return max(self.solved, key=lambda s: s.evidence)

    @property
    def parameters(self) -> FloatArray:
        return self.best.parameters

    @property
    def evidence(self) -> float:
        """Logarithm, all stiffnesses together."""
        return float(np.logaddexp.reduce([s.evidence for s in self.solved]))

    def likeliest_change(self) -> WindProblem | None:
        """Add the change of the speed held that would explain most; None where none explains anything."""
        problem, wind = self.problem, self.solved[LIKELIHOOD.steady_wind_place]
        begun_s = np.arange(
            problem.time_s[0] - LIKELIHOOD.speed_changes_s[0],
            problem.time_s[-1],
            LIKELIHOOD.speed_change_step_s,
        )
        tried = [(at, lasted) for lasted in LIKELIHOOD.speed_changes_s for at in begun_s.tolist()]
        held = np.column_stack([problem.change(*one) for one in tried]) * problem.factor[:, None]
        rows = np.column_stack([self.rows, _binned(problem.time_s, held)[1]])
        white, count = solve_triangular(self.noise.factor, rows), self.rows.shape[1] - 1
        design, left, ramps = white[:, :count], white[:, count], white[:, count + 1 :]
        left = left - design @ wind.parameters
        shared = ramps.T @ design / wind.scale
        # What of a ramp no wind and no one airspeed can imitate, and what it is known to beforehand.
        own = (ramps**2).sum(axis=0) / wind.scale - ((shared @ wind.covariance) * shared).sum(axis=1)
        own = np.maximum(own, 0.0) + LIKELIHOOD.speed_change_kt**-2
        gain = 0.5 * (left @ ramps / wind.scale) ** 2 / own - 0.5 * np.log(
            own * LIKELIHOOD.speed_change_kt**2
        )
        best = int(np.argmax(gain))
        return problem.with_change(*tried[best]) if gain[best] > 0.0 else None


def _fitted(
    problem: WindProblem, parameters: FloatArray, errors: VelocityErrors | None, *, quick: bool
) -> _Fitted:
    whiteners = [_whitener(problem, change_kt) for change_kt in LIKELIHOOD.changes_kt]
    time_s, _ = _binned(problem.time_s, problem.factor[:, None])
    tas_kt = parameters[2 * problem.knots + 2] + problem.reference_kt.mean()
    gust_s = NOISE.gust_length_m / (abs(float(tas_kt)) * MPS_PER_KT)
    usual = Mixture(NOISE.slow_memories_s[0], gust_s, NOISE.gust_shares[1], NOISE.white_shares[1])
    receiver_kt2 = None
    if errors is not None:
        receiver_kt2 = errors.covariance(problem.time_s, problem.air(parameters)[1], _bins(problem.time_s))
        usual = replace(usual, receiver=NOISE.usual_wander_kt**-2)
    noise = _Noise(Moments(time_s, receiver_kt2), usual)
    stiffness = whiteners[0]
    rows: FloatArray = np.empty((0, 0))
    solved: list[_Solved] = []
    for round_number in range(4):
        rows = _binned(problem.time_s, np.column_stack(problem.linearised(parameters)))[1]
        if round_number == 2 and not quick:
            noise = noise.likeliest(rows, stiffness)
        observed = noise.observe(rows)
        solved = [_solve(observed, whitener) for whitener in whiteners]
        best = max(solved, key=lambda s: s.evidence)
        stiffness = whiteners[solved.index(best)]
        parameters = best.parameters
    return _Fitted(problem, noise, rows, solved)


@dataclass(frozen=True)
class Averaged:
    """Solutions weighed by their evidence."""

    #: (p,)
    parameters: FloatArray
    #: (p, p)
    covariance: FloatArray
    #: Of the likeliest.
    speed_noise: CorrelatedNoise
    #: Of the likeliest: sigma of the wind's change from knot to knot.
    change_kt: float
    #: With the changes of the speed held that were found.
    problem: WindProblem


def _averaged(fitted: _Fitted) -> Averaged:
    """Weigh the solutions by their evidence: rarely is one stiffness of the wind certain, and picking one costs.

    The noise's scale was itself read off as many independent stretches of wander as the span holds, less the
    three numbers fitted: Student's t in place of the normal widens the covariance accordingly.
    """
    solved, span_s = fitted.solved, float(np.ptp(fitted.problem.time_s))
    evidence = np.array([s.evidence for s in solved])
    weight = np.exp(evidence - evidence.max())
    weight /= weight.sum()
    parameters = np.asarray(
        sum(w * s.parameters for w, s in zip(weight, solved, strict=True)), dtype=np.float64
    )
    covariance = np.zeros((parameters.size, parameters.size))
    for share, one in zip(weight, solved, strict=True):
        off = one.parameters - parameters
        covariance += share * (one.covariance + np.outer(off, off))
    best = solved[int(np.argmax(weight))]
    freedom = max(span_s / (2.0 * best.speed_noise.memory_s) - 3.0, LIKELIHOOD.least_freedom)
    covariance *= freedom / (freedom - 2.0)
    return Averaged(parameters, covariance, best.speed_noise, best.change_kt, fitted.problem)


class _Noise:
    """A mixture of the noise at given times, and the search for a likelier one."""

    def __init__(self, moments: Moments, mixture: Mixture) -> None:
        self.moments, self.mixture = moments, mixture
        self.factor = moments.factor(mixture)

    def observe(self, rows: FloatArray) -> _Observed:
        white = solve_triangular(self.factor, rows)
        design, wanted = white[:, :-1], white[:, -1]
        square, log_det = float(wanted @ wanted), float(2.0 * np.log(np.diag(self.factor)).sum())
        return _Observed(self.mixture, design.T @ design, design.T @ wanted, square, log_det, len(rows))

    def likeliest(self, rows: FloatArray, stiffness: tuple[float, FloatArray]) -> _Noise:
        """Choose memory and gusts together, then the white share: the latter hardly leans on the former."""
        slow_and_gust = [
            replace(self.mixture, slow_s=slow_s, gust=gust)
            for slow_s in NOISE.slow_memories_s
            for gust in NOISE.gust_shares
        ]
        better = self._best(slow_and_gust, rows, stiffness)
        if self.mixture.receiver:
            scales = [replace(better.mixture, receiver=wander_kt**-2) for wander_kt in NOISE.wanders_kt]
            better = better._best(scales, rows, stiffness)
        return better._best(
            [replace(better.mixture, white=white) for white in NOISE.white_shares], rows, stiffness
        )

    def _best(self, mixtures: list[Mixture], rows: FloatArray, stiffness: tuple[float, FloatArray]) -> _Noise:
        tried = [self if mixture == self.mixture else _Noise(self.moments, mixture) for mixture in mixtures]
        return max(tried, key=lambda noise: _solve(noise.observe(rows), stiffness).evidence)


@dataclass(frozen=True)
class _Observed:
    """The whitened observations' normal equations, for one mixture of the noise."""

    mixture: Mixture
    gram: FloatArray
    right: FloatArray
    square: float
    log_det: float
    count: int


def _bins(time_s: FloatArray) -> NDArray[np.intp]:
    """Return the first row of every bin."""
    width = max(LIKELIHOOD.bin_s, float(time_s[-1] - time_s[0]) / LIKELIHOOD.most_bins)
    bins = np.floor((time_s - time_s[0]) / width).astype(np.int64)
    return np.flatnonzero(np.diff(bins, prepend=-1))


def _binned(time_s: FloatArray, rows: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Average linearised rows over a few seconds, in which the air heading turns by a fraction of a radian."""
    starts = _bins(time_s)
    count = np.diff(np.append(starts, time_s.size))
    return np.add.reduceat(time_s, starts) / count, np.add.reduceat(rows, starts, axis=0) / count[:, None]


@dataclass(frozen=True)
class _Solved:
    """A fit in the axes in which prior and observations are both diagonal: prior one, observations ``weight``."""

    evidence: float
    axes: FloatArray
    along: FloatArray
    precision: FloatArray
    mixture: Mixture
    scale: float
    change_kt: float

    @property
    def speed_noise(self) -> CorrelatedNoise:
        """The wander as one process, in knots: the white part is the receiver's and left out."""
        return CorrelatedNoise(float(np.sqrt(self.scale * self.mixture.variance)), self.mixture.memory_s)

    @property
    def parameters(self) -> FloatArray:
        return np.asarray(self.along @ self.axes, dtype=np.float64)

    @property
    def covariance(self) -> FloatArray:
        return np.asarray((self.axes.T / self.precision) @ self.axes, dtype=np.float64)


def _whitener(problem: WindProblem, change_kt: float) -> tuple[float, FloatArray]:
    """Return a change of the wind from knot to knot, with the inverse of its prior's Cholesky factor."""
    prior = wind_prior(problem.knots, change_kt, problem.changes.shape[1])
    return change_kt, np.asarray(np.linalg.inv(np.linalg.cholesky(prior)))


def _solve(observed: _Observed, whitener: tuple[float, FloatArray]) -> _Solved:
    """Solve for wind, airspeed and the wander's sigma.

    In axes that make prior and observations diagonal together the precision at any sigma is ``weight / σ² + 1``,
    so the search for the sigma solves no system of equations.
    """
    change_kt, root = whitener
    weight, turned = np.linalg.eigh(root @ observed.gram @ root.T)
    weight = np.maximum(weight, 0.0)
    axes = turned.T @ root
    right = axes @ observed.right
    sigma2 = 1.0
    for _ in range(4):
        along = right / (weight + sigma2)
        left = float(observed.square - 2.0 * (along @ right) + weight @ along**2)
        used = float((weight / (weight + sigma2)).sum())
        # In an untidy log the scale is the mixture's own: beside errors known in knots it is not free.
        free = max(left / max(observed.count - used, 4.0), 1e-4)
        sigma2 = 1.0 / observed.mixture.receiver if observed.mixture.receiver else free
    if observed.mixture.receiver:
        # Errors that are larger than the log's model of them widen what is said, by what is left over.
        free = max(left / max(observed.count - used, 4.0), sigma2)
        precision = weight / free + 1.0
    else:
        precision = weight / sigma2 + 1.0
    spread = float(along @ along) + float(np.log(precision).sum())
    evidence = -0.5 * (observed.count * np.log(sigma2) + observed.log_det + left / sigma2 + spread)
    if observed.mixture.receiver:
        evidence -= 0.5 * (np.log(np.sqrt(sigma2) / NOISE.usual_wander_kt) / np.log(NOISE.wander_ratio)) ** 2
    return _Solved(float(evidence), axes, along, precision, observed.mixture, sigma2, change_kt)
