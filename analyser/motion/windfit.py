"""Wind and true airspeed from ground velocities: the circle fit, done as generalised least squares.

At constant true airspeed V the tips of the ground-velocity vectors lie on a circle round the wind w:
|v − w| = V. Three refinements make it an instrument:

- V follows the air's density (a constant indicated airspeed is what a pilot holds), or a logged airspeed
  where there is one that proves better than "constant";
- what is left over wanders with a memory (:mod:`analyser.motion.wander`); its sigma and memory are taken
  from the flight itself by maximum likelihood;
- the wind may change along the hold, with time and with height: it is a chain of straight pieces whose
  stiffness the flight's own likelihood chooses.

See ``analyser/motion/README.md`` for the model, its limits and the references.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analyser.earth.atmosphere import MPS_PER_KT
from analyser.motion.wander import (
    GUST_LENGTH_M,
    GUST_SHARES,
    SLOW_MEMORIES_S,
    WHITE_SHARES,
    Mixture,
    Wander,
    WhitenedBy,
)

FloatArray = NDArray[np.float64]

#: Length of one straight piece of the wind's course in time, seconds: about half a circuit.
PIECE_S = 120.0
#: Change of wind per √piece that the likelihood may choose between, knots per axis.
CHANGES_KT = (0.05, 0.4, 0.8, 1.6, 3.2)
#: Rows are averaged over this time, seconds, and over more where a hold would have more than so many bins.
BIN_S, MOST_BINS = 6.0, 420
#: Prior of a wind shear, knots per axis per 1,000 ft: common practice, two to three.
SHEAR_KT_PER_KFT = 2.5
#: Prior of the mean wind, knots per axis: what weather does (common practice). A good log outweighs it a
#: thousandfold; a bad one should not be believed when it tells of a storm.
WIND_PRIOR_KT = 25.0


#: No fit of ground velocities knows the wind better than the receiver knew the velocity: about 0.2 kt per axis
#: (NAVSTAR user equipment introduction), and it drifts too slowly to average out over a hold.
RECEIVER_KT = 0.2
#: A short hold is not given fewer degrees of freedom than this.
LEAST_FREEDOM = 6.0
#: The generalised fit is doubted where it parts from the plain circle by this many of its sigmas, and this
#: many knots besides.
DOUBT_SD, DOUBT_KT = 4.0, 1.5


@dataclass(frozen=True)
class WindFit:
    """Wind and airspeed over a stretch, with the covariance to ask any mean of it.

    Attributes
    ----------
    knots_s : (k,) float array
        Times at which the wind's chain of straight pieces bends.
    height_kft : (m,) float array
        Heights, thousands of feet, that go with ``time_s``, about their mean.
    time_s : (m,) float array
    parameters : (2k + 3,) float array
        East winds at the knots, north winds, shear east and north, airspeed.
    covariance : (2k + 3, 2k + 3) float array
    wander : Wander
        Of the airspeed about its reference, knots.
    change_kt : float
        Sigma of the wind's change from knot to knot that was chosen.
    """

    knots_s: FloatArray
    time_s: FloatArray
    height_kft: FloatArray
    parameters: FloatArray
    covariance: FloatArray
    wander: Wander
    change_kt: float

    def rows(self, time_s: FloatArray) -> FloatArray:
        """Return the design of one axis of the wind at given times: (n, k + 1)."""
        height = np.interp(time_s, self.time_s, self.height_kft)
        return np.column_stack([_hats(time_s, self.knots_s), height])

    def _axes(self) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        count = self.knots_s.size
        east = np.append(np.arange(count), 2 * count)
        north = np.append(np.arange(count) + count, 2 * count + 1)
        return east, north

    def wind(self, time_s: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return the wind along time, TOWARDS east and north, and its sigma per axis (knots)."""
        rows = self.rows(np.asarray(time_s, float))
        east, north = self._axes()
        variance = sum(
            np.einsum("ij,jk,ik->i", rows, self.covariance[np.ix_(axis, axis)], rows)
            for axis in (east, north)
        )
        return (
            rows @ self.parameters[east],
            rows @ self.parameters[north],
            np.hypot(np.sqrt(variance / 2.0), RECEIVER_KT),
        )

    def mean_wind(self, start_s: float, end_s: float) -> tuple[float, float, float]:
        """Return the mean wind over a span, TOWARDS east and north, and its sigma per axis (knots)."""
        row = self.rows(np.linspace(start_s, end_s, 41)).mean(axis=0)
        east, north = self._axes()
        variance = sum(float(row @ self.covariance[np.ix_(axis, axis)] @ row) for axis in (east, north)) / 2.0
        return (
            float(row @ self.parameters[east]),
            float(row @ self.parameters[north]),
            float(np.hypot(np.sqrt(variance), RECEIVER_KT)),
        )


def _hats(time_s: FloatArray, knots_s: FloatArray) -> FloatArray:
    """Linear interpolation between knots as a matrix; held beyond the ends."""
    if knots_s.size == 1:
        return np.ones((time_s.size, 1))
    place = np.clip((time_s - knots_s[0]) / (knots_s[1] - knots_s[0]), 0.0, knots_s.size - 1.0)
    cell = np.minimum(place.astype(np.int64), knots_s.size - 2)
    rows = np.zeros((time_s.size, knots_s.size))
    index = np.arange(time_s.size)
    rows[index, cell] = 1.0 - (place - cell)
    rows[index, cell + 1] = place - cell
    return rows


def circle_fit(east_kt: FloatArray, north_kt: FloatArray, *, rounds: int = 30) -> tuple[float, float, float]:
    """Fit a circle to ground velocities by least squares of the radial distance.

    Parameters
    ----------
    east_kt, north_kt : (n,) float array
        Ground velocities; they should cover a good part of the circle.
    rounds : int
        Gauss–Newton steps at most.

    Returns
    -------
    wind_east_kt, wind_north_kt, tas_kt : float
        Centre (the wind TOWARDS) and radius.

    References
    ----------
    Al-Sharadqah & Chernov, "Error analysis for circle fitting algorithms", Electronic Journal of Statistics 3
    (2009) 886–911: geometric fits and the better algebraic ones share their leading covariance; Kåsa's fit,
    used here for the start only, is biased on short arcs.
    """
    design = np.column_stack([2 * east_kt, 2 * north_kt, np.ones_like(east_kt)])
    a, b, c = np.linalg.lstsq(design, east_kt**2 + north_kt**2, rcond=None)[0]
    centre = np.array([a, b, np.sqrt(max(c + a * a + b * b, 1.0))])
    for _ in range(rounds):
        air_east, air_north = east_kt - centre[0], north_kt - centre[1]
        speed = np.maximum(np.hypot(air_east, air_north), 1e-6)
        jacobian = np.column_stack([air_east / speed, air_north / speed, np.ones_like(speed)])
        step = np.linalg.lstsq(jacobian, speed - centre[2], rcond=None)[0]
        centre = centre + step
        if np.abs(step).max() < 1e-6:
            break
    return float(centre[0]), float(centre[1]), float(centre[2])


@dataclass(frozen=True)
class _Problem:
    """Everything that stays the same while hyper-parameters are tried."""

    time_s: FloatArray
    east_kt: FloatArray
    north_kt: FloatArray
    factor: FloatArray
    reference_kt: FloatArray
    wind_rows: FloatArray
    knots: int

    def linearised(self, parameters: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the design of the residual |v − w| − V and the observation it is fitted to."""
        k = self.knots
        east = self.wind_rows @ np.append(parameters[:k], parameters[2 * k])
        north = self.wind_rows @ np.append(parameters[k : 2 * k], parameters[2 * k + 1])
        air_east, air_north = self.east_kt - east, self.north_kt - north
        speed = np.maximum(np.hypot(air_east, air_north), 1e-6)
        unit_east, unit_north = (air_east / speed)[:, None], (air_north / speed)[:, None]
        # d|v − w|/dw = −u; moved to the other side the wind's column is +u and the airspeed's +factor.
        design = np.column_stack(
            [
                unit_east * self.wind_rows[:, :k],
                unit_north * self.wind_rows[:, :k],
                unit_east * self.wind_rows[:, k:],
                unit_north * self.wind_rows[:, k:],
                self.factor,
            ]
        )
        residual = speed - self.reference_kt - self.factor * parameters[-1]
        return design, residual + design @ parameters


def wind_prior(knots: int, change_kt: float) -> FloatArray:
    """Return the precision of the parameters: a random walk of the wind, a mild shear, a free airspeed.

    Parameters
    ----------
    knots : int
    change_kt : float
        Sigma of the wind's change from knot to knot, per axis.

    Returns
    -------
    (2k + 3, 2k + 3) float array
    """
    walk = np.diff(np.eye(knots), axis=0)
    axis = walk.T @ walk / change_kt**2 + np.full((knots, knots), 1.0 / (knots * WIND_PRIOR_KT) ** 2)
    precision = np.zeros((2 * knots + 3, 2 * knots + 3))
    precision[:knots, :knots] = axis
    precision[knots : 2 * knots, knots : 2 * knots] = axis
    precision[2 * knots, 2 * knots] = precision[2 * knots + 1, 2 * knots + 1] = SHEAR_KT_PER_KFT**-2
    precision[-1, -1] = 1e-6
    return precision


@dataclass(frozen=True)
class _Observed:
    """The whitened observations' normal equations, for one mixture of the noise."""

    mixture: Mixture
    gram: FloatArray
    right: FloatArray
    square: float
    log_det: float
    count: int


def _binned(time_s: FloatArray, rows: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Average linearised rows over a few seconds, in which the air heading turns by a fraction of a radian."""
    width = max(BIN_S, float(time_s[-1] - time_s[0]) / MOST_BINS)
    bins = np.floor((time_s - time_s[0]) / width).astype(np.int64)
    starts = np.flatnonzero(np.diff(bins, prepend=-1))
    count = np.diff(np.append(starts, time_s.size))
    return np.add.reduceat(time_s, starts) / count, np.add.reduceat(rows, starts, axis=0) / count[:, None]


def _observe(rows: FloatArray, mixture: Mixture, whitener: WhitenedBy) -> _Observed:
    white = whitener.whiten(rows)
    design, wanted = white[:, :-1], white[:, -1]
    square = float(wanted @ wanted)
    return _Observed(mixture, design.T @ design, design.T @ wanted, square, whitener.log_det, len(rows))


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
    def wander(self) -> Wander:
        """The wander as one process, in knots: the white part is the receiver's and left out."""
        return Wander(float(np.sqrt(self.scale * self.mixture.variance)), self.mixture.memory_s)

    @property
    def parameters(self) -> FloatArray:
        return np.asarray(self.along @ self.axes, dtype=np.float64)

    @property
    def covariance(self) -> FloatArray:
        return np.asarray((self.axes.T / self.precision) @ self.axes, dtype=np.float64)


def _whitener(knots: int, change_kt: float) -> tuple[float, FloatArray]:
    """Return a change of the wind from knot to knot, with the inverse of its prior's Cholesky factor."""
    return change_kt, np.asarray(np.linalg.inv(np.linalg.cholesky(wind_prior(knots, change_kt))))


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
    sigma2, left = 1.0, 0.0
    along = right
    for _ in range(4):
        along = right / (weight + sigma2)
        left = float(observed.square - 2.0 * (along @ right) + weight @ along**2)
        used = float((weight / (weight + sigma2)).sum())
        sigma2 = max(left / max(observed.count - used, 4.0), 1e-4)
    precision = weight / sigma2 + 1.0
    spread = float(along @ along) + float(np.log(precision).sum())
    evidence = -0.5 * (observed.count * np.log(sigma2) + observed.log_det + left / sigma2 + spread)
    return _Solved(float(evidence), axes, along, precision, observed.mixture, sigma2, change_kt)


def fit_wind(
    time_s: FloatArray,
    east_kt: FloatArray,
    north_kt: FloatArray,
    *,
    factor: FloatArray | None = None,
    reference_kt: FloatArray | None = None,
    height_kft: FloatArray | None = None,
    quick: bool = False,
) -> WindFit:
    """Fit wind and airspeed to ground velocities.

    Parameters
    ----------
    time_s, east_kt, north_kt : (n,) float array
        Ground velocities in time order, a few seconds apart, covering at least half a circle of headings.
    factor : (n,) float array, optional
        True airspeed over its own mean at constant indicated airspeed; one everywhere when left out.
    reference_kt : (n,) float array, optional
        A logged true airspeed; what is fitted is then its bias.
    height_kft : (n,) float array, optional
        Height about its mean, thousands of feet; lets the wind shear.
    quick : bool
        Take the usual noise instead of searching for the likeliest: good enough to infer a hold by.

    Returns
    -------
    WindFit
    """
    ones, zeros = np.ones_like(time_s), np.zeros_like(time_s)
    height = zeros if height_kft is None else height_kft
    pieces = max(1, int(np.ceil((time_s[-1] - time_s[0]) / PIECE_S)))
    knots = np.linspace(time_s[0], time_s[-1], pieces + 1)
    rows = np.column_stack([_hats(time_s, knots), height])
    base = zeros if reference_kt is None else reference_kt
    scale = ones if factor is None or reference_kt is not None else factor
    problem = _Problem(time_s, east_kt, north_kt, scale, base, rows, knots.size)
    start = circle_fit(east_kt, north_kt)
    bias = start[2] if reference_kt is None else start[2] - float(np.mean(base))
    parameters = np.concatenate(
        [np.full(knots.size, start[0]), np.full(knots.size, start[1]), [0.0, 0.0, bias]]
    )
    best = _most_likely(problem, parameters, quick=quick)
    fit = WindFit(knots, time_s, height, best.parameters, best.covariance, best.wander, best.change_kt)
    east_mean, north_mean, sd = fit.mean_wind(float(time_s[0]), float(time_s[-1]))
    apart = float(np.hypot(east_mean - start[0], north_mean - start[1]))
    if reference_kt is None and apart > DOUBT_SD * sd + DOUBT_KT:
        return _plain_fit(problem, height, start)
    return fit


def _most_likely(problem: _Problem, parameters: FloatArray, *, quick: bool) -> _Averaged:
    """Solve; the flight's own likelihood chooses the noise, and weighs how far the wind may have changed."""
    whiteners = [_whitener(problem.knots, change_kt) for change_kt in CHANGES_KT]
    time_s, _ = _binned(problem.time_s, problem.factor[:, None])
    gust_s = GUST_LENGTH_M / (abs(float(parameters[-1] + problem.reference_kt.mean())) * MPS_PER_KT)
    noise = _Noise(time_s, Mixture(SLOW_MEMORIES_S[0], gust_s, GUST_SHARES[1], WHITE_SHARES[1]))
    stiffness, solved = whiteners[0], []
    for round_number in range(4):
        rows = _binned(problem.time_s, np.column_stack(problem.linearised(parameters)))[1]
        if round_number == 2 and not quick:
            noise = noise.likeliest(rows, stiffness)
        observed = noise.observe(rows)
        solved = [_solve(observed, whitener) for whitener in whiteners]
        best = max(solved, key=lambda s: s.evidence)
        stiffness = whiteners[solved.index(best)]
        parameters = best.parameters
    return _averaged(solved, float(np.ptp(problem.time_s)))


@dataclass(frozen=True)
class _Averaged:
    parameters: FloatArray
    covariance: FloatArray
    wander: Wander
    change_kt: float


def _averaged(solved: list[_Solved], span_s: float) -> _Averaged:
    """Weigh the solutions by their evidence: rarely is one stiffness of the wind certain, and picking one costs.

    The noise's scale was itself read off as many independent stretches of wander as the span holds, less the
    three numbers fitted: Student's t in place of the normal widens the covariance accordingly.
    """
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
    freedom = max(span_s / (2.0 * best.wander.memory_s) - 3.0, LEAST_FREEDOM)
    covariance *= freedom / (freedom - 2.0)
    return _Averaged(parameters, covariance, best.wander, best.change_kt)


class _Noise:
    """A mixture of the noise at given times, and the search for a likelier one."""

    def __init__(self, time_s: FloatArray, mixture: Mixture) -> None:
        self.time_s, self.mixture = time_s, mixture
        self.whitener = WhitenedBy.mixture(time_s, mixture)

    def observe(self, rows: FloatArray) -> _Observed:
        return _observe(rows, self.mixture, self.whitener)

    def likeliest(self, rows: FloatArray, stiffness: tuple[float, FloatArray]) -> _Noise:
        """Choose memory and gusts together, then the white share: the latter hardly leans on the former."""
        slow_and_gust = [
            replace(self.mixture, slow_s=slow_s, gust=gust)
            for slow_s in SLOW_MEMORIES_S
            for gust in GUST_SHARES
        ]
        better = self._best(slow_and_gust, rows, stiffness)
        return better._best([replace(better.mixture, white=white) for white in WHITE_SHARES], rows, stiffness)

    def _best(self, mixtures: list[Mixture], rows: FloatArray, stiffness: tuple[float, FloatArray]) -> _Noise:
        tried = [self if mixture == self.mixture else _Noise(self.time_s, mixture) for mixture in mixtures]
        return max(tried, key=lambda noise: _solve(noise.observe(rows), stiffness).evidence)


def _plain_fit(problem: _Problem, height: FloatArray, circle: tuple[float, float, float]) -> WindFit:
    """Fall back on the plain circle, its sigma taken from how its own residuals hang together.

    The two fits weigh slow and quick changes differently. Where the noise is what the model says they agree;
    where they part, the log's speeds and directions do not belong to the same instants (a source that
    smoothed or joined its positions), and the fit that trusts quick changes is the one misled.
    """
    east, north, tas = circle
    one_knot = _Problem(
        problem.time_s,
        problem.east_kt,
        problem.north_kt,
        np.ones_like(problem.time_s),
        np.zeros_like(problem.time_s),
        np.column_stack([np.ones_like(problem.time_s), np.zeros_like(problem.time_s)]),
        1,
    )
    parameters = np.array([east, north, 0.0, 0.0, tas])
    design, wanted = one_knot.linearised(parameters)
    residual = wanted - design @ parameters
    wander = Wander(float(np.std(residual)), _memory_s(problem.time_s, residual))
    every = max(1, problem.time_s.size // 500)
    rows, time_s = design[::every][:, [0, 1, 4]], problem.time_s[::every]
    noise = wander.sigma**2 * np.exp(-np.abs(time_s[:, None] - time_s[None, :]) / wander.memory_s)
    solver = np.linalg.pinv(rows)
    covariance = np.zeros((5, 5))
    covariance[np.ix_([0, 1, 4], [0, 1, 4])] = solver @ noise @ solver.T
    return WindFit(problem.time_s[:1], problem.time_s, height, parameters, covariance, wander, CHANGES_KT[0])


def _memory_s(time_s: FloatArray, residual: FloatArray) -> float:
    """Read a correlation time off the residuals: where their autocorrelation has fallen to 1/e."""
    centred = residual - residual.mean()
    step = float(np.median(np.diff(time_s)))
    for lag in range(1, min(centred.size // 2, 200)):
        if float(centred[lag:] @ centred[:-lag]) < float(centred @ centred) / np.e:
            return lag * step
    return 60.0
