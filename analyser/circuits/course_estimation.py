"""How the inbound course was met tells the course.

Whoever is beside a course turns towards it, the more the further away, and less as it comes nearer; nobody
turns away from a course to meet it. So the turning seen on the inbound legs, all of them together, says where
the line lies and which way it runs, even where no leg was settled on it before the fix. The pilot is taken as a
proportional one with a lag::

    d(track)/dt = (aim − (track − course)) / lag,    aim = −gain · cross, no more than the largest intercept

the usual first model of a human tracking a line [1]_. Gain, lag and largest intercept are the pilot's own and
unknown: the likelihood is summed over a few of each. To it comes what the straight end of each leg says, each
with a chance of having been flown on an intercept to the very end; and the outbound legs, for a pilot flies the
reciprocal, corrected by up to three times the drift, and no heading that has nothing to do with the course.

References
----------
.. [1] D. T. McRuer and H. R. Jex, "A review of quasi-linear pilot models", IEEE Trans. Human Factors in
   Electronics, HFE-8, 1967: near crossover the human acts as a gain and a lag. (Cited from memory.)
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyser.circuits.thresholds import COURSE
from analyser.earth.angles import wrap180
from analyser.logs.track import FloatArray


@dataclass(frozen=True)
class LegEnd:
    """One inbound leg as it was flown.

    Attributes
    ----------
    east_nm, north_nm, track_deg : (n,) float array
        Every second, wings level to the beginning of the outbound turn; at least one point.
    straight_deg, straight_sd_deg : float
        Track of its straight end, and how well that tells the course.
    """

    east_nm: FloatArray
    north_nm: FloatArray
    track_deg: FloatArray
    straight_deg: float
    straight_sd_deg: float


@dataclass(frozen=True)
class OutboundFlown:
    """The outbound legs, and the air they were flown in.

    Attributes
    ----------
    heading_deg : (n,) float array
        Of each leg; at least one.
    wind_east_kt, wind_north_kt : float
        TOWARDS.
    tas_kt : float
    """

    heading_deg: FloatArray
    wind_east_kt: float
    wind_north_kt: float
    tas_kt: float

    @property
    def greatest_drift_deg(self) -> float:
        """Drift where this wind blows straight across."""
        wind = float(np.hypot(self.wind_east_kt, self.wind_north_kt))
        return float(np.degrees(np.arcsin(min(wind / self.tas_kt, 1.0))))

    def drift_correction_deg(self, track_deg: FloatArray) -> FloatArray:
        """Return the correction that holds each track, positive right."""
        toward = np.radians(track_deg)
        across = self.wind_east_kt * np.cos(toward) - self.wind_north_kt * np.sin(toward)
        return np.asarray(-np.degrees(np.arcsin(np.clip(across / self.tas_kt, -1.0, 1.0))))


@dataclass(frozen=True)
class CourseMet:
    """The course that the legs met.

    Attributes
    ----------
    course_deg : float
        [0, 360).
    sd_deg : float
    cross_nm, cross_sd_nm : float
        Where its line lies: the distance right of a parallel to it through the legs' own origin.
    """

    course_deg: float
    sd_deg: float
    cross_nm: float
    cross_sd_nm: float


def course_met(legs: list[LegEnd], first_idea_deg: float, outbound: OutboundFlown | None = None) -> CourseMet:
    """Tell the inbound course from how the legs met it.

    Parameters
    ----------
    legs : list of LegEnd
        At least one.
    first_idea_deg : float
        Within 60° of the course.
    outbound : OutboundFlown, optional

    Returns
    -------
    CourseMet
    """
    fix = np.median([[leg.east_nm[-1], leg.north_nm[-1]] for leg in legs], axis=0)
    steps = [_Steps.of(leg, fix) for leg in legs]
    wide = first_idea_deg + np.arange(-COURSE.coarse_deg, COURSE.coarse_deg + 0.1, COURSE.coarse_step_deg)
    chance = _chances(legs, steps, outbound, wide, _lies(COURSE.coarse_cross_step_nm)).sum(axis=1)
    # The best few degrees together, not the highest single point.
    best = float(wide[int(np.argmax(np.convolve(chance, np.ones(3), "same")))])
    narrow = best + np.arange(-COURSE.fine_deg, COURSE.fine_deg + 0.1, COURSE.fine_step_deg)
    lies_nm = _lies(COURSE.fine_cross_step_nm)
    both = _chances(legs, steps, outbound, narrow, lies_nm)
    fine, lying = both.sum(axis=1), both.sum(axis=0)
    course, lie = float(fine @ narrow), float(lying @ lies_nm)
    variance = float(fine @ (narrow - course) ** 2)
    outside = np.abs(wide - best) > COURSE.fine_deg
    elsewhere = float(chance[outside] @ (wide[outside] - course) ** 2)
    homing = 0.0 if outbound is None else _homing_sd_deg(legs, outbound)
    toward = np.radians(course)
    return CourseMet(
        course_deg=course % 360.0,
        sd_deg=float(np.sqrt(variance + elsewhere + homing**2)),
        cross_nm=float(fix[0] * np.cos(toward) - fix[1] * np.sin(toward)) + lie,
        cross_sd_nm=float(np.sqrt(lying @ (lies_nm - lie) ** 2)),
    )


def _homing_sd_deg(legs: list[LegEnd], outbound: OutboundFlown) -> float:
    """Return how far the course may lie beside legs that are straight all along."""
    straight = np.mean(
        [np.ptp(np.unwrap(leg.track_deg, period=360.0)) < COURSE.homing_bend_deg for leg in legs]
    )
    return COURSE.homing_share * float(straight) * outbound.greatest_drift_deg


def _lies(step_nm: float) -> FloatArray:
    return np.arange(-COURSE.cross_nm, COURSE.cross_nm + 1e-9, step_nm)


@dataclass(frozen=True)
class _Steps:
    """A leg at every step, its place from the fix and its track unrolled."""

    east_nm: FloatArray
    north_nm: FloatArray
    track_deg: FloatArray

    @classmethod
    def of(cls, leg: LegEnd, fix: FloatArray) -> _Steps:
        last = leg.track_deg.size - 1
        pick = np.arange(last, max(last - COURSE.last_s, -1), -COURSE.step_s)[::-1]
        track = np.unwrap(leg.track_deg, period=360.0)[pick]
        return cls(leg.east_nm[pick] - fix[0], leg.north_nm[pick] - fix[1], track)

    def cross_nm(self, course_deg: FloatArray) -> FloatArray:
        """Return the distance right of lines through the fix, (courses, steps)."""
        toward = np.radians(course_deg)[:, None]
        return np.asarray(self.east_nm * np.cos(toward) - self.north_nm * np.sin(toward))


def _chances(
    legs: list[LegEnd],
    steps: list[_Steps],
    outbound: OutboundFlown | None,
    course_deg: FloatArray,
    lies_nm: FloatArray,
) -> FloatArray:
    """Return how likely each course and lie of its line is, (courses, lies), over all kinds of pilot."""
    pilots = [
        (g, i, s)
        for g in COURSE.gains_deg_per_nm
        for i in COURSE.largest_intercepts_deg
        for s in COURSE.lags_s
    ]
    log = np.zeros((len(pilots), course_deg.size, lies_nm.size))
    for leg, step in zip(legs, steps, strict=True):
        cross = step.cross_nm(course_deg)[:, None, :] - lies_nm[None, :, None]
        log += _passing(cross[:, :, -1])
        log += _straight(leg, course_deg)[:, None]
        off = wrap180(step.track_deg[None, :] - course_deg[:, None])[:, None, :-1]
        for place, pilot in enumerate(pilots):
            log[place] += _turning(cross[:, :, :-1], off, np.diff(step.track_deg), *pilot)
    if outbound is not None:
        log += _outbound(outbound, course_deg)[:, None]
    chance = np.exp(log - log.max()).sum(axis=0)
    return np.asarray(chance / chance.sum())


def _passing(cross_nm: FloatArray) -> FloatArray:
    return _log_t(cross_nm / COURSE.passing_sd_nm)


def _straight(leg: LegEnd, course_deg: FloatArray) -> FloatArray:
    sd = COURSE.end_sd_share * leg.straight_sd_deg
    off = wrap180(leg.straight_deg - course_deg) / sd
    met = np.exp(-0.5 * off**2) / (sd * np.sqrt(2.0 * np.pi))
    return np.asarray(np.log((1.0 - COURSE.never_met) * met + COURSE.never_met / COURSE.never_met_range_deg))


def _outbound(flown: OutboundFlown, course_deg: FloatArray) -> FloatArray:
    """Return the log likelihood of the outbound headings; all legs are one pilot's habit, so they are one vote."""
    reciprocal = course_deg[:, None] + 180.0
    off = wrap180(flown.heading_deg[None, :] - reciprocal)[:, :, None]
    aim = flown.drift_correction_deg(reciprocal)[:, :, None] * np.array(COURSE.drift_multiples)
    near = np.exp(-0.5 * (wrap180(off - aim) / COURSE.outbound_sd_deg) ** 2).mean(axis=-1)
    near /= COURSE.outbound_sd_deg * np.sqrt(2.0 * np.pi)
    return np.asarray(
        np.log((1.0 - COURSE.other_outbound) * near + COURSE.other_outbound / 360.0).mean(axis=-1)
    )


def _turning(
    cross_nm: FloatArray,
    off_deg: FloatArray,
    turned_deg: FloatArray,
    gain: float,
    largest_deg: float,
    lag_s: float,
) -> FloatArray:
    """Return the log likelihood of the turning seen, by one kind of pilot, (courses, lies)."""
    aim = np.clip(-gain * cross_nm, -largest_deg, largest_deg)
    due = (1.0 - np.exp(-COURSE.step_s / lag_s)) * (aim - off_deg)
    return np.asarray(
        COURSE.independent_share * _log_t((turned_deg - due) / COURSE.track_sd_deg).sum(axis=-1)
    )


def _log_t(residual: FloatArray) -> FloatArray:
    """Return the logarithm of Student's t, but for a constant, of residuals in units of sigma."""
    return np.asarray(-0.5 * (COURSE.freedom + 1.0) * np.log1p(residual**2 / COURSE.freedom))
