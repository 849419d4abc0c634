"""Wind from a logged heading: what the nose points at and what the ground sees differ by the drift.

The circle fit hears only the length of the air velocity; a heading tells its direction. Across the nose the
air moves at nothing at all, so ``(v − w)·n = 0`` with ``n`` to the right of the heading, but for a constant
error of the compass and, in a bank, for the angle of attack, which points the nose off the air track. Both are
estimated with the wind; neither can be mistaken for one, since they do not turn with the aircraft.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analyser.logs.track import FloatArray
from analyser.motion.noise_model import whiten
from analyser.motion.windfit import WindFit
from analyser.motion.windproblem import wind_prior

#: Memories of the remainder that the likelihood may choose between, seconds.
MEMORIES_S = (6.0, 12.0, 20.0, 30.0, 45.0, 70.0)
#: Prior of a logged heading's constant error, degrees: the magnetic variation may be in it.
HEADING_ERROR_DEG = 20.0
#: Prior of the angle of attack that shows in a bank, degrees.
ATTACK_DEG = 6.0
#: A heading whose remainder across the nose wanders more than this is not used, knots.
WORST_WANDER_KT = 12.0


def with_heading(
    fit: WindFit,
    time_s: FloatArray,
    velocity_kt: FloatArray,
    heading_deg: FloatArray,
    bank_deg: FloatArray,
) -> tuple[WindFit, float, float] | None:
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
    WindFit, error_deg, wander_kt
        The sharpened fit, the compass's constant error (logged minus true) and the remainder's sigma;
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
    own[-2, -2], own[-1, -1] = HEADING_ERROR_DEG**-2, ATTACK_DEG**-2
    tried = [_solve(time_s, design, wanted, own, memory) for memory in MEMORIES_S]
    _, parameters, covariance, sigma = max(tried, key=lambda t: t[0])
    if sigma > WORST_WANDER_KT:
        return None
    return _combined(fit, parameters, covariance, shared), float(parameters[-2]), sigma


def _solve(
    time_s: FloatArray, design: FloatArray, wanted: FloatArray, prior: FloatArray, memory_s: float
) -> tuple[float, FloatArray, FloatArray, float]:
    white, log_det = whiten(time_s, np.column_stack([design, wanted]), memory_s)
    gram, right = white[:, :-1].T @ white[:, :-1], white[:, :-1].T @ white[:, -1]
    square = float(white[:, -1] @ white[:, -1])
    variance, left = 1.0, square
    parameters: FloatArray = np.zeros(design.shape[1])
    for _ in range(4):
        precision = gram / variance + prior
        parameters = np.asarray(np.linalg.solve(precision, right / variance), dtype=np.float64)
        left = float(square - 2 * parameters @ right + parameters @ gram @ parameters)
        used = float(np.trace(np.linalg.solve(precision, gram / variance)))
        variance = max(left / max(time_s.size - used, 4.0), 1e-3)
    precision = gram / variance + prior
    evidence = -0.5 * (time_s.size * np.log(variance) + log_det + float(np.linalg.slogdet(precision)[1]))
    return evidence, parameters, np.asarray(np.linalg.inv(precision), float), float(np.sqrt(variance))


def _combined(fit: WindFit, parameters: FloatArray, covariance: FloatArray, prior: FloatArray) -> WindFit:
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
