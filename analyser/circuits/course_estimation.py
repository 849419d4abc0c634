"""How the inbound course was met tells the course.

Whoever is beside a course turns towards it, the more the further away, and less as it comes nearer; nobody
turns away from a course to meet it. So the turning seen on the inbound legs, all of them together, says where
the line lies and which way it runs, even where no leg was settled on it before the fix. The pilot is taken as a
proportional one with a lag::

    d(track)/dt = (aim − (track − course)) / lag,    aim = −gain · cross, no more than the largest intercept

the usual first model of a human tracking a line [1]_. Gain, lag and largest intercept are the pilot's own and
unknown: the likelihood is summed over a few of each. To it comes what the straight end of each leg says, each
with a chance of having been flown on an intercept to the very end.

Not every pilot does that. Some keep the nose on the fix, and their turning tells where it lies but not the course;
some hold what they rolled out on, the more easily the shorter the leg. They are kinds of pilot like the others, so
that a track that may be theirs leaves the course open, with as many peaks as it allows. Of all kinds the outbound
legs tell something, for a pilot flies the reciprocal, corrected by up to three times the drift, and so does the
heading rolled out on: the course's, or one that cuts it.

References
----------
.. [1] D. T. McRuer and H. R. Jex, "A review of quasi-linear pilot models", IEEE Trans. Human Factors in
   Electronics, HFE-8, 1967: near crossover the human acts as a gain and a lag. (Cited from memory.)
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyser.circuits.course_likelihood import (
    beside,
    homing,
    outbound_headings,
    passing,
    rollout_headings,
    still,
    straight_end,
    tracking,
)
from analyser.circuits.legs_flown import LegEnd, LegSteps, OutboundFlown
from analyser.circuits.thresholds import COURSE
from analyser.earth.angles import wrap180
from analyser.logs.track import FloatArray


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
    steps = [LegSteps.of(leg, fix) for leg in legs]
    wide = first_idea_deg + np.arange(-COURSE.coarse_deg, COURSE.coarse_deg + 0.1, COURSE.coarse_step_deg)
    coarse, astray = _chances(legs, steps, outbound, wide, _lies(COURSE.coarse_cross_step_nm))
    chance = coarse.sum(axis=1)
    # The best few degrees together, not the highest single point.
    best = float(wide[int(np.argmax(np.convolve(chance, np.ones(3), "same")))])
    narrow = best + np.arange(-COURSE.fine_deg, COURSE.fine_deg + 0.1, COURSE.fine_step_deg)
    lies_nm = _lies(COURSE.fine_cross_step_nm)
    both, _ = _chances(legs, steps, outbound, narrow, lies_nm)
    lying = both.sum(axis=0)
    lie = float(lying @ lies_nm)
    near = np.abs(wide - best) <= COURSE.fine_deg
    degrees = np.concatenate([wide[~near], narrow])
    weight = np.concatenate([chance[~near], both.sum(axis=1) * chance[near].sum()])
    course, sd = _middle(degrees, weight)
    if outbound is not None:
        # The wind sets whoever does not keep the course to the same side lap after lap, and no lap shows it.
        share = max(
            COURSE.set_aside_share * float(np.sqrt(astray)), COURSE.homing_share * _straight_share(legs)
        )
        sd = float(np.hypot(sd, share * outbound.greatest_drift_deg))
    toward = np.radians(course)
    return CourseMet(
        course_deg=course % 360.0,
        sd_deg=sd,
        cross_nm=float(fix[0] * np.cos(toward) - fix[1] * np.sin(toward)) + lie,
        cross_sd_nm=float(np.sqrt(lying @ (lies_nm - lie) ** 2)),
    )


def _straight_share(legs: list[LegEnd]) -> float:
    """Return the share of the legs that are straight all along."""
    bend = [np.ptp(np.unwrap(leg.track_deg, period=360.0)) for leg in legs]
    return float(np.mean(np.array(bend) < COURSE.homing_bend_deg))


def _middle(degrees: FloatArray, weight: FloatArray) -> tuple[float, float]:
    """Return the middle of a posterior, half of it to either side, and half of how far from it 95.4 % of it lie."""
    order = np.argsort(degrees)
    heaped = np.cumsum(weight[order]) - 0.5 * weight[order]
    middle = float(np.interp(0.5 * weight.sum(), heaped, degrees[order]))
    away = np.abs(degrees - middle)
    outward = np.argsort(away)
    within = np.cumsum(weight[outward]) / weight.sum()
    return middle, 0.5 * float(np.interp(0.954, within, away[outward]))


def _lies(step_nm: float) -> FloatArray:
    return np.arange(-COURSE.cross_nm, COURSE.cross_nm + 1e-9, step_nm)


def _prior(legs: list[LegEnd], trackers: int, *, told_apart: bool) -> FloatArray:
    """Return how likely each kind of pilot is beforehand: who track, who home, and last who holds on.

    The last two are none where no wind and no outbound leg tell them from the first.
    """
    if not told_apart:
        return np.full(trackers, 1.0 / trackers)
    homers, lasting_s = len(COURSE.homing_lags_s), float(np.median([leg.track_deg.size for leg in legs]))
    holds_on = COURSE.holds_on * float(np.exp(-lasting_s / COURSE.holds_on_s))
    tracks = 1.0 - COURSE.homes - holds_on
    shares = [[tracks / trackers] * trackers, [COURSE.homes / homers] * homers, [holds_on]]
    return np.concatenate(shares)


def _chances(
    legs: list[LegEnd],
    steps: list[LegSteps],
    outbound: OutboundFlown | None,
    course_deg: FloatArray,
    lies_nm: FloatArray,
) -> tuple[FloatArray, float]:
    """Return how likely each course and lie of its line is, (courses, lies), over all kinds of pilot.

    And the share of it of those kinds that do not keep to the course.
    """
    pilots = [
        (g, i, s)
        for g in COURSE.gains_deg_per_nm
        for i in COURSE.largest_intercepts_deg
        for s in COURSE.lags_s
    ]
    trackers, prior = len(pilots), _prior(legs, len(pilots), told_apart=outbound is not None)
    log = np.zeros((prior.size, course_deg.size, lies_nm.size)) + np.log(prior)[:, None, None]
    for leg, step in zip(legs, steps, strict=True):
        cross = step.cross_nm(course_deg)[:, None, :] - lies_nm[None, :, None]
        log += passing(cross[:, :, -1])
        off = wrap180(step.track_deg[None, :] - course_deg[:, None])[:, None, :-1]
        turned = np.diff(step.track_deg)
        straight = straight_end(leg, course_deg)[:, None]
        for place, pilot in enumerate(pilots):
            log[place] += straight + tracking(cross[:, :, :-1], off, turned, *pilot)
        if outbound is not None:
            for place, lag_s in enumerate(COURSE.homing_lags_s, start=trackers):
                log[place] += homing(step, turned, lag_s, outbound)
            log[-1] += still(turned)
    if outbound is not None:
        bearings, ends = [step.bearing_deg for step in steps], [leg.straight_deg for leg in legs]
        log[trackers:-1] += beside(bearings, course_deg, COURSE.homing_beside_sd_deg)[:, None]
        log[-1] += beside(ends, course_deg, COURSE.cut_sd_deg)[:, None]
        log += outbound_headings(outbound, course_deg)[:, None]
        log += rollout_headings(legs, outbound, course_deg)[:, None]
    each = np.exp(log - log.max())
    each /= each.sum()
    return each.sum(axis=0), float(each[trackers:].sum())
