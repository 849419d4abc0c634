"""Wind and true airspeed from ground velocities: the circle fit, done as generalised least squares.

At constant true airspeed V the tips of the ground-velocity vectors lie on a circle round the wind w:
|v − w| = V. Four refinements make it an instrument:

- V follows the air's density (a constant indicated airspeed is what a pilot holds), or a logged airspeed
  where there is one that proves better than "constant";
- who slows down on his way into the hold changes V, evenly, where that is much likelier than one speed;
- what is left over wanders with a memory (:mod:`analyser.motion.noise_model`); its sigma and memory are taken
  from the flight itself by maximum likelihood;
- the wind may change along the hold, with time and with height: it is a chain of straight pieces whose
  stiffness the flight's own likelihood chooses.

Where the log has a heading, it is heard as well. The circle hears only the length of the air velocity; a heading tells
its direction. Across the nose the air moves at nothing at all, so ``(v − w)·n = 0`` with ``n`` to the right of the
heading, but for a constant error of the compass and, in a bank, for the angle of attack, which points the nose off the
air track. Both are estimated with the wind; neither can be mistaken for one, since they do not turn with the aircraft.

See ``analyser/motion/README.md`` for the model, its limits and the references.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analyser.frozen import dataclass
from analyser.logs.track import FloatArray
from analyser.motion.circle import circle_fit
from analyser.motion.motion_thresholds import WIND
from analyser.motion.noise_model import CorrelatedNoise, whiten
from analyser.motion.path import VelocityErrors
from analyser.motion.windlikelihood import WindProblem, hats, most_likely, wind_prior


@dataclass(frozen=True)
class WindFit:
    """Wind and airspeed over a stretch, with the covariance to ask any mean of it."""

    #: (k,) Times at which the wind's chain of straight pieces bends.
    knots_s: FloatArray
    #: (m,) Of the ground velocities.
    time_s: FloatArray
    #: (m,) Heights, thousands of feet, that go with ``time_s``, about their mean.
    height_kft: FloatArray
    #: (2k + 3 + c,) East winds at the knots, north winds, shear east and north, airspeed, its changes.
    parameters: FloatArray
    #: (2k + 3 + c, 2k + 3 + c)
    covariance: FloatArray
    #: Of the airspeed about its reference, knots.
    speed_noise: CorrelatedNoise
    #: Sigma of the wind's change from knot to knot that was chosen.
    change_kt: float
    #: Sigma per axis, beside what the fit knows of itself, of a wind that two ways of fitting see differently.
    doubt_kt: float = 0.0
    #: Of what is left of the airspeed about its reference this share may be gusts.
    gust_share: float = WIND.gust_share

    def rows(self, time_s: FloatArray) -> FloatArray:
        """Return the design of one axis of the wind at given times: (n, k + 1)."""
        height = np.interp(time_s, self.time_s, self.height_kft)
        return np.column_stack([hats(time_s, self.knots_s), height])

    def _told(self, rows: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return the wind that a design asks for, east and north, and its sigma per axis: (n,) each."""
        count = self.knots_s.size
        axes = [np.append(np.arange(count) + count * axis, 2 * count + axis) for axis in (0, 1)]
        variance = sum(
            ((rows @ self.covariance[np.ix_(axis, axis)]) * rows).sum(axis=1) / 2.0 for axis in axes
        )
        east, north = (rows @ self.parameters[axis] for axis in axes)
        return east, north, np.sqrt(variance + WIND.receiver_kt**2 + self.doubt_kt**2)

    def wind(self, time_s: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return the wind along time, TOWARDS east and north, and its sigma per axis (knots)."""
        return self._told(self.rows(np.asarray(time_s, float)))

    def mean_wind(self, start_s: float, end_s: float) -> tuple[float, float, float]:
        """Return the mean wind over a span, TOWARDS east and north, and its sigma per axis (knots)."""
        told = self._told(self.rows(np.linspace(start_s, end_s, 41)).mean(axis=0, keepdims=True))
        return float(told[0][0]), float(told[1][0]), float(told[2][0])


def fit_wind(
    time_s: FloatArray,
    east_kt: FloatArray,
    north_kt: FloatArray,
    *,
    factor: FloatArray | None = None,
    reference_kt: FloatArray | None = None,
    height_kft: FloatArray | None = None,
    errors: VelocityErrors | None = None,
    fed: bool = False,
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
    errors : VelocityErrors, optional
        How the velocities err, where the log is untidy.
    fed : bool
        True where a feed made rows up between true samples.
    quick : bool
        Take the usual noise instead of searching for the likeliest: good enough to infer a hold by.
    """
    ones, zeros = np.ones_like(time_s), np.zeros_like(time_s)
    height = zeros if height_kft is None else height_kft
    pieces = min(max(1, int(np.ceil((time_s[-1] - time_s[0]) / WIND.piece_s))), WIND.most_pieces)
    knots = np.linspace(time_s[0], time_s[-1], pieces + 1)
    rows = np.column_stack([hats(time_s, knots), height])
    base = zeros if reference_kt is None else reference_kt
    scale = ones if factor is None or reference_kt is not None else factor
    unchanged = np.empty((time_s.size, 0))
    problem = WindProblem(time_s, east_kt, north_kt, scale, base, rows, knots.size, unchanged)
    start = circle_fit(east_kt, north_kt)
    bias = start[2] - float(np.mean(base))
    parameters = np.concatenate(
        [np.full(knots.size, start[0]), np.full(knots.size, start[1]), [0.0, 0.0, bias]]
    )
    best = most_likely(problem, parameters, errors=errors, fed=fed, quick=quick)
    fit = WindFit(
        knots,
        time_s,
        height,
        best.parameters,
        best.covariance,
        best.speed_noise,
        best.change_kt,
        gust_share=WIND.gust_share if reference_kt is None else 1.0,
    )
    steady = best.problem.at_one_speed(best.parameters)
    plain = circle_fit(steady.east_kt, steady.north_kt)
    east_mean, north_mean, sd = fit.mean_wind(float(time_s[0]), float(time_s[-1]))
    apart = float(np.hypot(east_mean - plain[0], north_mean - plain[1]))
    if fed:
        return replace(fit, doubt_kt=WIND.feed_doubt_share * apart)
    parts = errors is None and reference_kt is None and apart > WIND.doubt_sd * sd + WIND.doubt_kt
    return replace(fit, doubt_kt=apart) if parts else fit


def with_heading(
    fit: WindFit,
    time_s: FloatArray,
    velocity_kt: FloatArray,
    heading_deg: FloatArray,
    bank_deg: FloatArray,
) -> WindFit | None:
    """Let a logged heading sharpen a wind fit.

    Parameters
    ----------
    fit : WindFit
        From the circle.
    time_s : (n,) float array
    velocity_kt : (n, 2) float array
        Ground velocity towards east and north.
    heading_deg, bank_deg : (n,) float array
        Logged heading on the map, and bank.

    Returns
    -------
    WindFit or None
        None where the heading does not prove good enough to help.
    """
    knots = fit.knots_s.size
    east, north = np.sin(np.radians(heading_deg)), np.cos(np.radians(heading_deg))
    rows = fit.rows(time_s)
    air = velocity_kt - np.column_stack(fit.wind(time_s)[:2])
    speed = np.maximum(np.hypot(air[:, 0], air[:, 1]), 1.0)
    right = np.column_stack([north, -east])
    wanted = (velocity_kt * right).sum(axis=1)
    design = np.column_stack(
        [
            right[:, :1] * rows[:, :knots],
            right[:, 1:] * rows[:, :knots],
            right[:, :1] * rows[:, knots:],
            right[:, 1:] * rows[:, knots:],
            -np.radians(1.0) * speed,
            np.radians(1.0) * speed * np.sin(np.radians(bank_deg)),
        ]
    )
    own = np.zeros((2 * knots + 4, 2 * knots + 4))
    shared = wind_prior(knots, fit.change_kt)[:-1, :-1]
    own[:-2, :-2] = shared
    own[-2, -2], own[-1, -1] = WIND.heading_error_deg**-2, WIND.attack_deg**-2
    tried = [_solve_across(time_s, design, wanted, own, memory) for memory in WIND.memories_s]
    _, parameters, covariance, sigma = max(tried, key=lambda t: t[0])
    if sigma > WIND.worst_wander_kt:
        return None
    return _with_across(fit, parameters, covariance, shared)


def _solve_across(
    time_s: FloatArray, design: FloatArray, wanted: FloatArray, prior: FloatArray, memory_s: float
) -> tuple[float, FloatArray, FloatArray, float]:
    white, log_det = whiten(time_s, np.column_stack([design, wanted]), memory_s)
    gram, right = white[:, :-1].T @ white[:, :-1], white[:, :-1].T @ white[:, -1]
    square = float(white[:, -1] @ white[:, -1])
    variance = 1.0
    for _ in range(4):
        precision = gram / variance + prior
        parameters = np.asarray(np.linalg.solve(precision, right / variance), dtype=np.float64)
        left = float(square - 2 * parameters @ right + parameters @ gram @ parameters)
        used = float(np.trace(np.linalg.solve(precision, gram / variance)))
        variance = max(left / max(time_s.size - used, 4.0), 1e-3)
    precision = gram / variance + prior
    evidence = -0.5 * (time_s.size * np.log(variance) + log_det + float(np.linalg.slogdet(precision)[1]))
    return evidence, parameters, np.asarray(np.linalg.inv(precision), float), float(np.sqrt(variance))


def _with_across(fit: WindFit, parameters: FloatArray, covariance: FloatArray, prior: FloatArray) -> WindFit:
    """Add the two fits' information about the wind; their noises, along and across the nose, are strangers."""
    count = prior.shape[0]
    first = np.linalg.inv(fit.covariance[:count, :count])
    second = np.linalg.inv(covariance[:count, :count])
    both = np.linalg.inv(first + second - prior)
    wind = both @ (first @ fit.parameters[:count] + second @ parameters[:count])
    joined = fit.covariance.copy()
    # The airspeed keeps what the circle says of it; only its tie to the wind is renewed.
    tie = fit.covariance[count:, :count] @ first
    joined[:count, :count] = both
    joined[count:, :count] = tie @ both
    joined[:count, count:] = joined[count:, :count].T
    return replace(fit, parameters=np.concatenate([wind, fit.parameters[count:]]), covariance=joined)
