"""How well anybody could know the wind: the bound that the program's error is held against.

The observer is told everything but the wind and the airspeed: when the hold begins and ends, the air headings,
and the noise. What it sees is the true velocity over the ground, v. At each instant

    u · v = u · w + V f + e,    e = n + u · g

with u the unit vector of the air heading, w the wind, V the airspeed at the mean height (f follows the
air's density), n the wander of the airspeed (Ornstein–Uhlenbeck, sigma and memory known) and g the gust (the
same, on each axis). This is the circle |v − w| = V in its linear form at the true headings. What is to be
known is the mean wind met: w plus the mean of g over the hold.

With the covariance C of e known, the best linear unbiased predictor of w + mean(g) (generalised least squares,
Aitken 1935, with the part of the mean gust that the residuals tell; Goldberger 1962) has the error covariance
computed here, and since all is Gaussian no unbiased estimate has less: it is the Cramér–Rao bound (Cramér 1946;
Rao 1945), in its form for quantities that are themselves random (Van Trees 1968, section 2.4).
Published worked examples of the circle and the bound for white noise are in the trade's notes, "Wind and TAS
from ground velocity"; the plain circle fit is printed beside it.

Where the wind changes along the hold, the observer knows how (linearly in time, or in height), not how much.

References
----------
A. C. Aitken, Proc. Royal Society of Edinburgh 55 (1935) 42–48. A. S. Goldberger, J. American Statistical
Association 57 (1962) 369–375. C. R. Rao, Bulletin of the Calcutta Mathematical Society 37 (1945) 81–91.
H. Cramér, Mathematical Methods of Statistics, Princeton 1946. H. L. Van Trees, Detection, Estimation, and
Modulation Theory I, Wiley 1968. A. Al-Sharadqah and N. Chernov, Electronic J. of Statistics 3 (2009) 886–911.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_factor, cho_solve
from scipy.optimize import least_squares

from tests.flights.air import MPS
from tests.flights.flight import Flight
from tests.flights.truth import TrueHold, true_ground_kt
from tests.flights.wander import FloatArray

STEP_S = 1.0


@dataclass(frozen=True)
class Bound:
    """What could be known of one hold's wind, knots."""

    sd_kt: float
    """Root of the trace of the least error covariance: rms length of the error vector."""

    circle_error_kt: float
    """Error of the plain circle fit of the same velocities, every second counted alike."""

    known_noise_error_kt: float
    """Error of the generalised fit that knows the noise."""


@dataclass(frozen=True)
class _Seen:
    time_s: FloatArray
    unit: FloatArray
    ground_kt: FloatArray
    factor: FloatArray
    height_kft: FloatArray


def bound(flight: Flight, truth: TrueHold) -> Bound:
    """Compute the bound for one hold of a generated flight, and what two estimators that know the phases make."""
    seen = _seen(flight, truth)
    design = _design(seen, truth)
    gust = _gust_covariance(flight, seen.time_s)
    noise = _covariance(
        flight, seen.time_s, float(flight.facts["tas_wander_kt"]), float(flight.facts["tas_memory_s"])
    )
    noise = noise + (seen.unit @ seen.unit.T) * gust + 1e-4 * np.eye(seen.time_s.size)
    solver = cho_factor(noise, lower=True)
    weighted = cho_solve(solver, design)
    information = design.T @ weighted
    share = seen.unit * gust.mean(axis=0)[:, None]
    told = cho_solve(solver, share)
    wanted = np.zeros((design.shape[1], 2))
    wanted[0, 0] = wanted[1, 1] = 1.0
    left = wanted - design.T @ told
    covariance = gust.mean() * np.eye(2) - share.T @ told + left.T @ np.linalg.solve(information, left)
    observed = np.einsum("ij,ij->i", seen.unit, seen.ground_kt)
    parameters = np.linalg.solve(information, weighted.T @ observed)
    known = parameters[:2] + told.T @ (observed - design @ parameters)
    true = np.array(truth.wind_kt)
    return Bound(
        sd_kt=float(np.sqrt(np.trace(covariance))),
        circle_error_kt=float(np.hypot(*(_circle(seen.ground_kt)[:2] - true))),
        known_noise_error_kt=float(np.hypot(*(known - true))),
    )


def _seen(flight: Flight, truth: TrueHold) -> _Seen:
    series = flight.series
    full_s = series["time_s"]
    time_s = np.arange(truth.fix_s, truth.end_s, STEP_S)
    east, north = true_ground_kt(series, slice(None))
    ground = np.column_stack([np.interp(time_s, full_s, v) for v in (east, north)])
    heading = np.radians(np.interp(time_s, full_s, series["heading_deg"]))
    height = np.interp(time_s, full_s, series["altitude_ft"]) / 1000.0
    # A constant equivalent airspeed: true airspeed grows by about 1.5 % a thousand feet (standard atmosphere).
    root = (1.0 - 0.0065 * height * 304.8 / 288.15) ** (-0.5 * 4.25588)
    return _Seen(
        time_s,
        np.column_stack([np.sin(heading), np.cos(heading)]),
        ground,
        root / root.mean(),
        height - height.mean(),
    )


def _design(seen: _Seen, truth: TrueHold) -> FloatArray:
    columns = [seen.unit, seen.factor[:, None]]
    if truth.wind_changes:
        along = (
            seen.height_kft if np.ptp(seen.height_kft) > 0.4 else (seen.time_s - seen.time_s.mean()) / 600.0
        )
        columns.append(seen.unit * along[:, None])
    return np.column_stack(columns)


def _covariance(flight: Flight, time_s: FloatArray, sigma: float, memory_s: float) -> FloatArray:
    return sigma**2 * np.exp(-np.abs(time_s[:, None] - time_s[None, :]) / memory_s)


def _gust_covariance(flight: Flight, time_s: FloatArray) -> FloatArray:
    memory_s = float(flight.facts["gust_length_m"]) / (float(flight.facts["tas_kt"]) * MPS)
    return _covariance(flight, time_s, float(flight.facts["gust_kt"]), memory_s)


def _circle(ground_kt: FloatArray) -> FloatArray:
    """Fit a circle by least squares of the distance from it."""

    def off(x: FloatArray) -> FloatArray:
        return np.hypot(ground_kt[:, 0] - x[0], ground_kt[:, 1] - x[1]) - x[2]

    start = np.array([*ground_kt.mean(axis=0), np.hypot(*(ground_kt - ground_kt.mean(axis=0)).T).mean()])
    return np.asarray(least_squares(off, start).x)
