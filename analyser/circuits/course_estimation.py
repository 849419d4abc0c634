"""How the inbound course was met tells the course.

Whoever is beside a course turns towards it, the more the further away, and less as it comes nearer; nobody
turns away from a course to meet it. So the turning seen on the inbound legs, all of them together, says where
the line lies and which way it runs, even where no leg was settled on it before the fix. The pilot is taken as a
proportional one with a lag::

    d(track)/dt = (aim − (track − course)) / lag,    aim = −gain · cross, no more than the largest intercept

the usual first model of a human tracking a line [1]_. Gain, lag, largest intercept and the hand's steadiness are the
pilot's own and unknown: the likelihood is summed over a few of each. To it comes what the straight end of each leg
says, each with a chance of having been flown on an intercept to the very end.

Not every pilot does that. Some keep the nose on the fix, and their turning tells where it lies but not the course;
some hold what they rolled out on, the more easily the shorter the leg. Where the wind blows across, the nose tells
them apart: on the fix, or off it by the drift. They are kinds of pilot like the others, so that a track that may be
theirs leaves the course open, with as many peaks as it allows. Of all kinds the outbound legs tell something, for a
pilot flies the reciprocal, corrected by up to three times the drift, and so does the heading rolled out on: the
course's, or one that cuts it.

References
----------
.. [1] D. T. McRuer and H. R. Jex, "A review of quasi-linear pilot models", IEEE Trans. Human Factors in
   Electronics, HFE-8, 1967: near crossover the human acts as a gain and a lag. (Cited from memory.)
"""

from __future__ import annotations

import numpy as np

from analyser.circuits.thresholds import COURSE
from analyser.earth.angles import wrap180
from analyser.frozen import dataclass
from analyser.logs.track import FloatArray


@dataclass(frozen=True)
class LegEnd:
    """One inbound leg as it was flown, every second from wings level to the outbound turn: (n,), at least one point.

    ``straight_deg`` is the track of its straight end, with how well that tells the course; ``rollout_heading_deg``
    is as the wings came level.
    """

    east_nm: FloatArray
    north_nm: FloatArray
    track_deg: FloatArray
    straight_deg: float
    straight_sd_deg: float
    rollout_heading_deg: float


@dataclass(frozen=True)
class OutboundFlown:
    """The headings of the outbound legs, (n,), at least one, and the air they were flown in: wind TOWARDS."""

    heading_deg: FloatArray
    wind_east_kt: float
    wind_north_kt: float
    tas_kt: float

    @property
    def greatest_drift_deg(self) -> float:
        """Drift where this wind blows straight across."""
        wind = float(np.hypot(self.wind_east_kt, self.wind_north_kt))
        return float(np.degrees(np.arcsin(min(wind / self.tas_kt, 1.0))))

    def track_deg(self, heading_deg: FloatArray) -> FloatArray:
        """Return the track that each heading makes good."""
        way = np.radians(heading_deg)
        east, north = (
            self.tas_kt * np.sin(way) + self.wind_east_kt,
            self.tas_kt * np.cos(way) + self.wind_north_kt,
        )
        return np.asarray(np.degrees(np.arctan2(east, north)))

    def drift_correction_deg(self, track_deg: FloatArray) -> FloatArray:
        """Return the correction that holds each track, positive right."""
        toward = np.radians(track_deg)
        across = self.wind_east_kt * np.cos(toward) - self.wind_north_kt * np.sin(toward)
        return np.asarray(-np.degrees(np.arcsin(np.clip(across / self.tas_kt, -1.0, 1.0))))


@dataclass(frozen=True)
class _LegSteps:
    """A leg at every step, its place from the fix (miles) and its track unrolled; (n,) each."""

    east_nm: FloatArray
    north_nm: FloatArray
    track_deg: FloatArray

    @classmethod
    def of(cls, leg: LegEnd, fix: FloatArray) -> _LegSteps:
        """Pick the steps, the last one at the leg's end; ``fix`` is east and north."""
        last = leg.track_deg.size - 1
        pick = np.arange(last, max(last - COURSE.last_s, -1), -COURSE.step_s)[::-1]
        track = np.unwrap(leg.track_deg, period=360.0)[pick]
        return cls(leg.east_nm[pick] - fix[0], leg.north_nm[pick] - fix[1], track)

    @property
    def bearing_deg(self) -> float:
        """From its beginning to the fix; of a leg of one step, its track."""
        if self.track_deg.size == 1:
            return float(self.track_deg[0])
        return float(np.degrees(np.arctan2(-self.east_nm[0], -self.north_nm[0])))

    def cross_nm(self, course_deg: FloatArray) -> FloatArray:
        """Return the distance right of lines through the fix, (courses, steps)."""
        toward = np.radians(course_deg)[:, None]
        return np.asarray(self.east_nm * np.cos(toward) - self.north_nm * np.sin(toward))


@dataclass(frozen=True)
class CourseMet:
    """The course that the legs met, [0, 360).

    ``cross_nm`` says where its line lies: the distance right of a parallel to it through the legs' own origin. The wind
    sets whoever does not keep to the course off it to the same side each lap: who homes comes to the fix all the same,
    who holds what he rolled out on passes it off the way he flew by an angle of about ``passed_aside_deg`` (sigma).
    """

    course_deg: float
    sd_deg: float
    cross_nm: float
    cross_sd_nm: float
    passed_aside_deg: float


def course_met(legs: list[LegEnd], first_idea_deg: float, outbound: OutboundFlown | None = None) -> CourseMet:
    """Tell the inbound course from how the legs met it.

    Parameters
    ----------
    legs : list of LegEnd
        At least one.
    first_idea_deg : float
        Within 60° of the course.
    """
    fix = np.median([[leg.east_nm[-1], leg.north_nm[-1]] for leg in legs], axis=0)
    steps = [_LegSteps.of(leg, fix) for leg in legs]
    wide = first_idea_deg + np.arange(-COURSE.coarse_deg, COURSE.coarse_deg + 0.1, COURSE.coarse_step_deg)
    coarse = _chances(legs, steps, outbound, wide, _lies(COURSE.coarse_cross_step_nm))
    chance = coarse.both.sum(axis=1)
    # The best few degrees together, not the highest single point.
    best = float(wide[int(np.argmax(np.convolve(chance, np.ones(3), "same")))])
    narrow = best + np.arange(-COURSE.fine_deg, COURSE.fine_deg + 0.1, COURSE.fine_step_deg)
    lies_nm = _lies(COURSE.fine_cross_step_nm)
    both = _chances(legs, steps, outbound, narrow, lies_nm).both
    lying = both.sum(axis=0)
    lie = float(lying @ lies_nm)
    near = np.abs(wide - best) <= COURSE.fine_deg
    degrees = np.concatenate([wide[~near], narrow])
    weight = np.concatenate([chance[~near], both.sum(axis=1) * chance[near].sum()])
    course, sd = middle_and_sd(degrees, weight)
    drift_deg = 0.0 if outbound is None else outbound.greatest_drift_deg
    # No lap shows how far it sets them aside.
    aside_deg = [
        COURSE.set_aside_share * share**COURSE.set_aside_power * drift_deg
        for share in (coarse.astray, coarse.holds_on)
    ]
    toward = np.radians(course)
    return CourseMet(
        course_deg=course % 360.0,
        sd_deg=float(np.hypot(sd, aside_deg[0])),
        cross_nm=float(fix[0] * np.cos(toward) - fix[1] * np.sin(toward)) + lie,
        cross_sd_nm=float(np.sqrt(lying @ (lies_nm - lie) ** 2 + COURSE.fine_cross_step_nm**2 / 12.0)),
        passed_aside_deg=aside_deg[1],
    )


def middle_and_sd(degrees: FloatArray, weight: FloatArray) -> tuple[float, float]:
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


@dataclass(frozen=True)
class _Chances:
    """How likely each course and lie of its line is, (courses, lies), over all kinds of pilot.

    And the share in it of those that do not keep to the course, and of those among them who hold on.
    """

    both: FloatArray
    astray: float
    holds_on: float


def _chances(
    legs: list[LegEnd],
    steps: list[_LegSteps],
    outbound: OutboundFlown | None,
    course_deg: FloatArray,
    lies_nm: FloatArray,
) -> _Chances:
    pilots = [
        (g, i, s)
        for g in COURSE.gains_deg_per_nm
        for i in COURSE.largest_intercepts_deg
        for s in COURSE.lags_s
    ]
    trackers, prior = len(pilots), _prior(legs, len(pilots), told_apart=outbound is not None)
    # Each kind of pilot with each steadiness of the hand: the turning is known the better the steadier it is.
    hands = np.array(COURSE.track_sds_deg)
    log = np.zeros((hands.size, prior.size, course_deg.size, lies_nm.size)) + np.log(prior)[:, None, None]
    # What a pilot does that no law here knows, he does on every leg: the turning of many tells less than their number.
    count = 1.0 / (1.0 + COURSE.alike * (len(legs) - 1))
    log[:, :trackers] += _straight_ends(legs, course_deg)[:, None]
    passing = np.zeros((len(COURSE.passing_sds_nm), course_deg.size, lies_nm.size))
    for step in steps:
        cross = step.cross_nm(course_deg)[:, None, :] - lies_nm[None, :, None]
        passing += [_passing(cross[:, :, -1], sd) for sd in COURSE.passing_sds_nm]
        off = wrap180(step.track_deg[None, :] - course_deg[:, None])[:, None, :-1]
        turned = np.diff(step.track_deg)
        for place, pilot in enumerate(pilots):
            log[:, place] += count * _tracking(cross[:, :, :-1], off, turned, hands, *pilot)
        if outbound is not None:
            for place, lag_s in enumerate(COURSE.homing_lags_s, start=trackers):
                log[:, place] += count * _homing(step, turned, hands, lag_s, outbound)[:, None, None]
            log[:, -1] += count * _still(turned, hands)[:, None, None]
    log += np.logaddexp.reduce(passing)
    if outbound is not None:
        bearings, ends = [step.bearing_deg for step in steps], [leg.straight_deg for leg in legs]
        log[:, trackers:-1] += _beside(bearings, course_deg, COURSE.homing_beside_sd_deg)[:, None]
        log[:, trackers:-1] += count * sum(_nose_on_the_fix(step, outbound) for step in steps)
        log[:, -1] += _beside(ends, course_deg, COURSE.cut_sd_deg)[:, None]
        log += _outbound_headings(outbound, course_deg)[:, None]
        log += _rollout_headings(legs, outbound, course_deg)[:, None]
    each = np.exp(log - log.max()).sum(axis=0)
    each /= each.sum()
    return _Chances(each.sum(axis=0), float(each[trackers:].sum()), float(each[-1].sum()))


# Natural logarithms of likelihoods follow; those of the turning leave out one constant that they share, so that kinds
# of pilot compare.


def _passing(cross_nm: FloatArray, sd_nm: float) -> FloatArray:
    """Return the log likelihood of how far beside the line each leg ends, of one who passes a fix so closely."""
    return _log_t(cross_nm / sd_nm) - float(np.log(sd_nm))


def _straight_ends(legs: list[LegEnd], course_deg: FloatArray) -> FloatArray:
    """Return the log likelihood of the straight ends of the legs, each maybe an intercept to the very end."""
    off = wrap180(np.array([leg.straight_deg for leg in legs])[:, None] - course_deg[None, :])
    # Whoever still meets the course at the fix does so from the same side on every leg.
    share = COURSE.end_sd_share * float(np.sqrt(1.0 + COURSE.ends_alike * (len(legs) - 1)))
    met = normal_density(off, share * np.array([leg.straight_sd_deg for leg in legs])[:, None])
    each = np.log((1.0 - COURSE.never_met) * met + COURSE.never_met / COURSE.never_met_range_deg)
    return np.asarray(each.sum(axis=0))


def _tracking(
    cross_nm: FloatArray,
    off_deg: FloatArray,
    turned_deg: FloatArray,
    hands_deg: FloatArray,
    gain: float,
    largest_deg: float,
    lag_s: float,
) -> FloatArray:
    """Return the log likelihood of the turning seen, by one kind of pilot, (hands, courses, lies)."""
    aim = np.clip(-gain * cross_nm, -largest_deg, largest_deg)
    due = (1.0 - np.exp(-COURSE.step_s / lag_s)) * (aim - off_deg)
    square = (turned_deg - due) ** 2
    return np.stack([_turning(square, sd) for sd in hands_deg])


def _homing(
    steps: _LegSteps, turned_deg: FloatArray, hands_deg: FloatArray, lag_s: float, air: OutboundFlown
) -> FloatArray:
    """Return the log likelihood of the turning seen, by a pilot who keeps the nose on the fix, (hands,)."""
    east, north = -steps.east_nm[:-1], -steps.north_nm[:-1]
    away_nm = np.hypot(east, north)
    aim = air.track_deg(np.degrees(np.arctan2(east, north)))
    share = 1.0 - np.exp(-COURSE.step_s / lag_s)
    most = COURSE.homing_most_dps * COURSE.step_s
    due = np.clip(share * wrap180(aim - steps.track_deg[:-1]), -most, most)
    # Close in, where the fix lies a little beside tells on its bearing.
    doubt = share * np.degrees(np.arctan2(COURSE.homing_passing_nm, away_nm))
    square = (turned_deg - due) ** 2
    return np.array([_turning(square, np.hypot(sd, np.minimum(doubt, 0.5 * most))) for sd in hands_deg])


def _nose_on_the_fix(steps: _LegSteps, air: OutboundFlown) -> float:
    """Return the log of how much likelier the heading is of a pilot who keeps the nose on the fix than of others.

    In a wind across the leg whoever tracks the course crabs and whoever homes does not, which turning does not show.
    """
    east, north = -steps.east_nm, -steps.north_nm
    seen = np.hypot(east, north) > COURSE.nose_least_nm
    seen[: COURSE.nose_after_s // COURSE.step_s] = False
    if not seen.any():
        return 0.0
    track = steps.track_deg[seen]
    heading = track + air.drift_correction_deg(track)
    off = float(np.median(wrap180(heading - np.degrees(np.arctan2(east[seen], north[seen])))))
    any_way = normal_density(off, COURSE.nose_any_sd_deg)
    on_it = (1.0 - COURSE.nose_other) * normal_density(off, COURSE.nose_sd_deg) + COURSE.nose_other * any_way
    return float(np.log(on_it / any_way))


def _beside(ways_deg: list[float], course_deg: FloatArray, sd_deg: float) -> FloatArray:
    """Return the log likelihood of legs that were flown beside the course to the fix: of one habit, so one vote."""
    ends = np.unwrap(ways_deg, period=360.0)
    off = wrap180(float(np.mean(ends)) - course_deg)
    apart = sum(
        float(np.log(normal_density(end - float(np.mean(ends)), COURSE.beside_apart_deg))) for end in ends[1:]
    )
    return np.asarray(np.log(normal_density(off, sd_deg)) + apart)


def _outbound_headings(flown: OutboundFlown, course_deg: FloatArray) -> FloatArray:
    """Return the log likelihood of the outbound headings; all legs are one pilot's habit, so they are one vote."""
    reciprocal = course_deg[:, None] + 180.0
    off = wrap180(flown.heading_deg[None, :] - reciprocal)[:, :, None]
    aim = flown.drift_correction_deg(reciprocal)[:, :, None] * np.array(COURSE.drift_multiples)
    near = np.exp(-0.5 * (wrap180(off - aim) / COURSE.outbound_sd_deg) ** 2).mean(axis=-1)
    near /= COURSE.outbound_sd_deg * np.sqrt(2.0 * np.pi)
    return np.asarray(
        np.log((1.0 - COURSE.other_outbound) * near + COURSE.other_outbound / 360.0).mean(axis=-1)
    )


def _rollout_headings(legs: list[LegEnd], air: OutboundFlown, course_deg: FloatArray) -> FloatArray:
    """Return the log likelihood of the headings rolled out on, one habit and so one vote."""
    correction = air.drift_correction_deg(course_deg)[:, None]
    off = wrap180(
        np.array([leg.rollout_heading_deg for leg in legs])[None, :] - course_deg[:, None] - correction
    )
    onto = (1.0 - COURSE.cuts) * normal_density(off, COURSE.rollout_sd_deg)
    return np.asarray(np.log(onto + COURSE.cuts * normal_density(off, COURSE.cut_sd_deg)).mean(axis=-1))


def _log_t(residual: FloatArray) -> FloatArray:
    """Return the logarithm of Student's t, but for a constant, of residuals in units of sigma."""
    return np.asarray(-0.5 * (COURSE.freedom + 1.0) * np.log1p(residual**2 / COURSE.freedom))


def normal_density(off: FloatArray | float, sd: FloatArray | float) -> FloatArray:
    """Return the density of a normal distribution with this sigma, so far off its mean."""
    return np.asarray(np.exp(-0.5 * (np.asarray(off) / sd) ** 2) / (sd * np.sqrt(2.0 * np.pi)))


def _still(turned_deg: FloatArray, hands_deg: FloatArray) -> FloatArray:
    """Return the log likelihood of the turning seen, by a pilot who holds what was rolled out on, (hands,)."""
    return np.array([_turning(turned_deg**2, sd) for sd in hands_deg])


def _turning(square_deg2: FloatArray, sd_deg: FloatArray | float) -> FloatArray:
    """Return the log likelihood of turning whose square off what was due this is, all steps together, (…).

    It is that of ``_log_t``, but one logarithm is taken of a product in place of as many as there are steps: of so few
    the product comes nowhere near overflowing.
    """
    far = np.prod(1.0 + square_deg2 * (1.0 / (COURSE.freedom * sd_deg**2)), axis=-1)
    scale = np.log(sd_deg) * np.ones(square_deg2.shape[-1])
    return np.asarray(COURSE.independent_share * (-0.5 * (COURSE.freedom + 1.0) * np.log(far) - scale.sum()))
