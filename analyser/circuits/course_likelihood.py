"""How likely what was flown is, for each course: the turning of each kind of pilot, roll-outs, outbound headings.

All are natural logarithms; those of the turning leave out one constant that they share, so kinds of pilot compare.
"""

from __future__ import annotations

import numpy as np

from analyser.circuits.legs_flown import LegEnd, LegSteps, OutboundFlown
from analyser.circuits.thresholds import COURSE
from analyser.earth.angles import wrap180
from analyser.logs.track import FloatArray


def passing(cross_nm: FloatArray) -> FloatArray:
    """Return the log likelihood of how far beside the line each leg ends."""
    return _log_t(cross_nm / COURSE.passing_sd_nm)


def straight_end(leg: LegEnd, course_deg: FloatArray) -> FloatArray:
    """Return the log likelihood of the straight end of a leg, which may have been an intercept to the very end."""
    sd = COURSE.end_sd_share * leg.straight_sd_deg
    off = wrap180(leg.straight_deg - course_deg) / sd
    met = np.exp(-0.5 * off**2) / (sd * np.sqrt(2.0 * np.pi))
    return np.asarray(np.log((1.0 - COURSE.never_met) * met + COURSE.never_met / COURSE.never_met_range_deg))


def tracking(
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


def homing(steps: LegSteps, turned_deg: FloatArray, lag_s: float, air: OutboundFlown) -> float:
    """Return the log likelihood of the turning seen, by a pilot who keeps the nose on the fix."""
    east, north = -steps.east_nm[:-1], -steps.north_nm[:-1]
    away_nm = np.hypot(east, north)
    aim = air.track_deg(np.degrees(np.arctan2(east, north)))
    share = 1.0 - np.exp(-COURSE.step_s / lag_s)
    most = COURSE.homing_most_dps * COURSE.step_s
    due = np.clip(share * wrap180(aim - steps.track_deg[:-1]), -most, most)
    # Close in, where the fix lies a little beside tells on its bearing.
    doubt = share * np.degrees(np.arctan2(COURSE.passing_sd_nm, away_nm))
    sd = np.hypot(COURSE.track_sd_deg, np.minimum(doubt, 0.5 * most))
    each = _log_t((turned_deg - due) / sd) - np.log(sd / COURSE.track_sd_deg)
    return float(COURSE.independent_share * each.sum())


def beside(ways_deg: list[float], course_deg: FloatArray, sd_deg: float) -> FloatArray:
    """Return the log likelihood of legs that were flown beside the course to the fix: of one habit, so one vote."""
    ends = np.unwrap(ways_deg, period=360.0)
    off = wrap180(float(np.mean(ends)) - course_deg)
    apart = sum(
        float(np.log(_normal(end - float(np.mean(ends)), COURSE.beside_apart_deg))) for end in ends[1:]
    )
    return np.asarray(np.log(_normal(off, sd_deg)) + apart)


def outbound_headings(flown: OutboundFlown, course_deg: FloatArray) -> FloatArray:
    """Return the log likelihood of the outbound headings; all legs are one pilot's habit, so they are one vote."""
    reciprocal = course_deg[:, None] + 180.0
    off = wrap180(flown.heading_deg[None, :] - reciprocal)[:, :, None]
    aim = flown.drift_correction_deg(reciprocal)[:, :, None] * np.array(COURSE.drift_multiples)
    near = np.exp(-0.5 * (wrap180(off - aim) / COURSE.outbound_sd_deg) ** 2).mean(axis=-1)
    near /= COURSE.outbound_sd_deg * np.sqrt(2.0 * np.pi)
    return np.asarray(
        np.log((1.0 - COURSE.other_outbound) * near + COURSE.other_outbound / 360.0).mean(axis=-1)
    )


def rollout_headings(legs: list[LegEnd], air: OutboundFlown, course_deg: FloatArray) -> FloatArray:
    """Return the log likelihood of the headings rolled out on, one habit and so one vote."""
    correction = air.drift_correction_deg(course_deg)[:, None]
    off = wrap180(
        np.array([leg.rollout_heading_deg for leg in legs])[None, :] - course_deg[:, None] - correction
    )
    onto = (1.0 - COURSE.cuts) * _normal(off, COURSE.rollout_sd_deg)
    return np.asarray(np.log(onto + COURSE.cuts * _normal(off, COURSE.cut_sd_deg)).mean(axis=-1))


def _log_t(residual: FloatArray) -> FloatArray:
    """Return the logarithm of Student's t, but for a constant, of residuals in units of sigma."""
    return np.asarray(-0.5 * (COURSE.freedom + 1.0) * np.log1p(residual**2 / COURSE.freedom))


def _normal(off: FloatArray | float, sd: float) -> FloatArray:
    return np.asarray(np.exp(-0.5 * (np.asarray(off) / sd) ** 2) / (sd * np.sqrt(2.0 * np.pi)))


def still(turned_deg: FloatArray) -> float:
    """Return the log likelihood of the turning seen, by a pilot who holds what was rolled out on."""
    return float(COURSE.independent_share * _log_t(turned_deg / COURSE.track_sd_deg).sum())
