"""The likelihoods by which a course is told, each against its closed form (derived), and posteriors against theirs."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from analyser.circuits.course_estimation import (
    LegEnd,
    OutboundFlown,
    _beside,
    _homing,
    _LegSteps,
    _nose_on_the_fix,
    _outbound_headings,
    _passing,
    _rollout_headings,
    _still,
    _straight_ends,
    _tracking,
    _turning,
    course_met,
    middle_and_sd,
    normal_density,
)

#: 20 kt towards the east at 100 kt: a drift of 11.5° where it blows across.
AIR = OutboundFlown(np.array([180.0]), 20.0, 0.0, 100.0)
DRIFT_DEG = float(np.degrees(np.arcsin(0.2)))


def test_a_posterior_has_its_middle_and_half_of_what_holds_two_sigmas() -> None:
    degrees = np.arange(-60.0, 60.25, 0.25)
    middle, sd = middle_and_sd(degrees, stats.norm.pdf(degrees, 7.0, 5.0))
    assert (middle, sd) == (pytest.approx(7.0, abs=0.01), pytest.approx(5.0, rel=0.02))
    # In any order, whatever it sums to; of two equal peaks the sigma reaches both.
    order = np.random.default_rng(3).permutation(degrees.size)
    again = middle_and_sd(degrees[order], 40.0 * stats.norm.pdf(degrees, 7.0, 5.0)[order])
    assert again == pytest.approx((middle, sd))
    two = stats.norm.pdf(degrees, -30.0, 2.0) + stats.norm.pdf(degrees, 30.0, 2.0)
    assert middle_and_sd(degrees, two)[1] > 15.0


def test_turning_is_as_likely_as_students_t_has_it() -> None:
    """Three degrees of freedom; of the steps a share of 0.35 counts, for one bump tells on several."""
    off = np.array([[0.5, -2.0, 7.0], [1.0, 0.0, 0.0]])

    def student(sd: float) -> np.ndarray:
        return np.asarray((stats.t.logpdf(off / sd, 3.0) - np.log(sd)).sum(axis=-1))

    for sd in (1.8, 2.5):
        found = _turning(off**2, sd)
        # But for a constant that all kinds of pilot share.
        assert found[1] - found[0] == pytest.approx(0.35 * (student(sd)[1] - student(sd)[0]))
    between = _turning(off**2, 2.5) - _turning(off**2, 1.8)
    assert between == pytest.approx(0.35 * (student(2.5) - student(1.8)))
    assert _still(off[0], np.array([1.8, 2.5])) == pytest.approx(
        [_turning(off**2, sd)[0] for sd in (1.8, 2.5)]
    )


def test_how_far_beside_the_line_a_leg_ends_is_students_too() -> None:
    cross = np.array([0.0, 0.05, -0.2])
    wide, narrow = _passing(cross, 0.1), _passing(cross, 0.025)
    closed = [stats.t.logpdf(cross / sd, 3.0) - np.log(sd) for sd in (0.1, 0.025)]
    assert wide - narrow == pytest.approx(closed[0] - closed[1])
    assert normal_density(3.0, 2.0) == pytest.approx(stats.norm.pdf(3.0, 0.0, 2.0))


def leg(track_deg: float, straight_sd_deg: float = 1.0, rollout_deg: float | None = None) -> LegEnd:
    """Fly a minute and a half straight to the origin at 100 kt over the ground."""
    back_nm = np.arange(90.0, -1.0, -1.0) / 36.0
    way = np.radians(track_deg)
    return LegEnd(
        -back_nm * np.sin(way), -back_nm * np.cos(way), np.full(91, track_deg), track_deg, straight_sd_deg,
        track_deg if rollout_deg is None else rollout_deg,
    )  # fmt: skip


def test_a_straight_end_tells_the_course_unless_it_was_an_intercept_to_the_very_end() -> None:
    courses = np.array([0.0, 2.0, 60.0])
    (one,) = _straight_ends([leg(0.0, 2.0)], courses)[None]
    # Seven in ten have met it, with 1.1 of its sigma; three in ten are anywhere within 90°.
    expected = np.log(0.7 * stats.norm.pdf(courses, 0.0, 2.2) + 0.3 / 90.0)
    assert one == pytest.approx(expected)
    # Three legs are flown by one pilot: each tells as with √1.5 of its sigma.
    three = _straight_ends([leg(0.0, 2.0)] * 3, courses)
    assert three == pytest.approx(
        3.0 * np.log(0.7 * stats.norm.pdf(courses, 0.0, 2.2 * np.sqrt(1.5)) + 0.3 / 90.0)
    )


def test_who_tracks_the_course_turns_towards_it_by_his_gain_and_his_lag() -> None:
    """A tenth of a mile right of it, along it: 60 degrees a mile aim 6° to the left, 63 % of them in a lag."""
    due = -(1.0 - np.exp(-4.0 / 5.0)) * 6.0

    def likelihood(turned: float) -> float:
        found = _tracking(
            np.array([[[0.1]]]), np.array([[[0.0]]]), np.array([turned]), np.array([1.8]), 60.0, 30.0, 5.0
        )
        return float(found[0, 0, 0])

    assert likelihood(due) > likelihood(due + 0.5) == pytest.approx(likelihood(due - 0.5))
    # No intercept is larger than the largest: a mile off aims no farther than 30°.
    far = [
        float(
            _tracking(
                np.array([[[1.0]]]), np.array([[[0.0]]]), np.array([t]), np.array([1.8]), 60.0, 30.0, 5.0
            )[0, 0, 0]
        )
        for t in (-(1.0 - np.exp(-0.8)) * 30.0, -(1.0 - np.exp(-0.8)) * 60.0)
    ]
    assert far[0] > far[1]


def test_who_homes_turns_to_the_fix_and_has_his_nose_on_it() -> None:
    fix = np.zeros(2)
    steps = _LegSteps.of(leg(0.0), fix)
    # Every four seconds of the last minute and a half, the last at the leg's end.
    assert np.diff(steps.north_nm) == pytest.approx(np.full(steps.north_nm.size - 1, 4.0 / 36.0))
    assert (steps.north_nm[-1], steps.bearing_deg) == (0.0, pytest.approx(0.0))
    assert steps.track_deg.size == 23
    still = OutboundFlown(np.array([180.0]), 0.0, 0.0, 100.0)
    straight = _homing(steps, np.zeros(22), np.array([1.8]), 4.0, still)
    turning = _homing(steps, np.full(22, 3.0), np.array([1.8]), 4.0, still)
    # In still air who flies straight to the fix homes.
    assert straight[0] > turning[0]
    # In a wind across, the nose is off the fix by the drift: 11.5° are 3.3 sigmas of 3.5° …
    crabbing, homing = _nose_on_the_fix(steps, AIR), _nose_on_the_fix(steps, still)
    any_way = stats.norm.pdf(DRIFT_DEG, 0.0, 12.0)
    on_it = 0.97 * stats.norm.pdf(DRIFT_DEG, 0.0, 3.5) + 0.03 * any_way
    assert crabbing == pytest.approx(np.log(on_it / any_way))
    # … and in still air it lies on it: 12 / 3.5 times as likely as anywhere.
    assert homing == pytest.approx(np.log(0.97 * 12.0 / 3.5 + 0.03))
    short = LegEnd(*(np.zeros(1),) * 3, 0.0, 1.0, 0.0)
    assert _nose_on_the_fix(_LegSteps.of(short, fix), AIR) == 0.0


def test_distance_right_of_a_line_is_positive() -> None:
    steps = _LegSteps.of(leg(0.0), np.array([-0.5, 0.0]))
    assert steps.cross_nm(np.array([0.0, 180.0])) == pytest.approx(np.array([[0.5], [-0.5]]) * np.ones(23))
    assert steps.cross_nm(np.array([90.0]))[0] == pytest.approx(-steps.north_nm)


def test_outbound_the_reciprocal_is_flown_corrected_by_up_to_triple_drift_and_more() -> None:
    courses = np.array([0.0, 40.0, 180.0])
    # Outbound south in an easterly setting wind: the correction is to the right, into it, west.
    assert AIR.drift_correction_deg(np.array([180.0, 0.0])) == pytest.approx([DRIFT_DEG, -DRIFT_DEG])
    assert AIR.greatest_drift_deg == pytest.approx(DRIFT_DEG)
    assert AIR.track_deg(np.array([180.0 + DRIFT_DEG])) % 360.0 == pytest.approx([180.0])
    found = {
        multiple: _outbound_headings(
            OutboundFlown(np.array([180.0 + multiple * DRIFT_DEG]), 20.0, 0.0, 100.0), courses
        )
        for multiple in (0.0, 2.0, 3.5, 6.0)
    }
    for multiple in (0.0, 2.0, 3.5):
        assert found[multiple][0] > found[multiple][2] + 2.0
    # Beyond that, or the other way, it was for another reason: one in ten, anywhere.
    assert found[6.0][0] == pytest.approx(np.log(0.1 / 360.0), abs=0.05)
    aims = np.arange(0.0, 3.6, 0.5) * DRIFT_DEG
    near = stats.norm.pdf(aims, 0.0, 6.0).mean()
    assert found[0.0][0] == pytest.approx(np.log(0.9 * near + 0.1 / 360.0))


def test_rolled_out_is_on_the_courses_heading_or_on_one_that_cuts_it() -> None:
    courses = np.array([0.0])
    # The heading that holds 000° in a wind setting east is west of it.
    for off in (0.0, 10.0, -30.0):
        found = _rollout_headings([leg(0.0, rollout_deg=-DRIFT_DEG + off)], AIR, courses)
        expected = np.log(0.5 * stats.norm.pdf(off, 0.0, 6.0) + 0.5 * stats.norm.pdf(off, 0.0, 22.0))
        assert found == pytest.approx(expected)
    # One habit and one vote: two legs tell their mean.
    both = _rollout_headings(
        [leg(0.0, rollout_deg=-DRIFT_DEG), leg(0.0, rollout_deg=10.0 - DRIFT_DEG)], AIR, courses
    )
    each = [
        _rollout_headings([leg(0.0, rollout_deg=off - DRIFT_DEG)], AIR, courses)[0] for off in (0.0, 10.0)
    ]
    assert both[0] == pytest.approx(np.mean(each))


def test_legs_beside_the_course_are_one_vote_and_lie_beside_it_alike() -> None:
    courses = np.array([0.0, 20.0])
    found = _beside([350.0, 10.0], courses, 15.0)
    expected = stats.norm.logpdf(courses, 0.0, 15.0) + stats.norm.logpdf(10.0, 0.0, 10.0)
    assert found == pytest.approx(expected)


def met(
    course_deg: float = 0.0, hand: int = 1, *, converges_nm: float = 0.3, legs: int = 3, wind_kt: float = 12.0
):
    """Fly inbound legs of a minute and a half that begin beside the course and converge on it, in a wind across."""
    back_s = np.arange(90.0, -1.0, -1.0)
    flown = []
    for number in range(legs):
        along = -back_s / 36.0
        cross = hand * converges_nm * (0.6 + 0.2 * number) * (1.0 - np.exp(-back_s / 40.0))
        track = np.degrees(np.arctan2(np.gradient(cross), np.gradient(along)))
        toward = np.radians(course_deg)
        east = along * np.sin(toward) + cross * np.cos(toward)
        north = along * np.cos(toward) - cross * np.sin(toward)
        end = float(track[-30:].mean()) + course_deg
        drift = -hand * np.degrees(np.arcsin(wind_kt / 100.0))
        flown.append(
            LegEnd(east, north, (track + course_deg) % 360.0, end, 1.5, float(track[0]) + course_deg + drift)
        )
    toward = np.radians(course_deg)
    # From the left of a right-hand hold: it sets to the right.
    wind = hand * wind_kt * np.cos(toward), -hand * wind_kt * np.sin(toward)
    out = (course_deg + 180.0 + hand * 2.0 * np.degrees(np.arcsin(wind_kt / 100.0))) % 360.0
    return course_met(flown, course_deg + hand * 8.0, OutboundFlown(np.array([out] * legs), *wind, 100.0))


def test_legs_that_converge_on_a_line_tell_its_course_which_way_it_lies_and_to_whatever_hand() -> None:
    one = met()
    assert (one.course_deg + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=2.0 * one.sd_deg)
    assert one.sd_deg < 6.0 and abs(one.cross_nm) < 0.05
    off = (one.course_deg + 180.0) % 360.0 - 180.0
    for course_deg in (47.0, 130.0, 251.0, 359.0):
        turned = met(course_deg)
        assert (turned.course_deg - course_deg + 180.0) % 360.0 - 180.0 == pytest.approx(off, abs=0.05)
        assert (turned.sd_deg, turned.cross_nm, turned.cross_sd_nm, turned.passed_aside_deg) == pytest.approx(
            (one.sd_deg, one.cross_nm, one.cross_sd_nm, one.passed_aside_deg), rel=0.02, abs=1e-4
        )
    mirrored = met(0.0, -1)
    assert (mirrored.course_deg + 180.0) % 360.0 - 180.0 == pytest.approx(-off, abs=0.05)
    assert mirrored.cross_nm == pytest.approx(-one.cross_nm, abs=2e-3)
    assert mirrored.sd_deg == pytest.approx(one.sd_deg, rel=0.02)
    # Legs on the line itself tell it better.
    assert one.sd_deg > met(converges_nm=0.0).sd_deg


def test_what_sets_aside_whoever_does_not_keep_the_course_is_the_winds_drift() -> None:
    calm, windy = met(wind_kt=0.0, converges_nm=0.0), met(wind_kt=25.0, converges_nm=0.0)
    assert calm.passed_aside_deg == 0.0
    assert 0.0 < windy.passed_aside_deg < np.degrees(np.arcsin(0.25))


def test_who_homes_turns_no_faster_than_he_does_and_by_his_lag() -> None:
    """The fix lies 40° to the right: of that 63 % in a lag of four seconds, but no faster than 1.8° a second."""
    still = OutboundFlown(np.array([180.0]), 0.0, 0.0, 100.0)
    for aim_deg, due in ((5.0, (1.0 - np.exp(-1.0)) * 5.0), (40.0, 1.8 * 4.0), (-40.0, -1.8 * 4.0)):
        away = 4.0
        at = np.array([-away * np.sin(np.radians(aim_deg)), -away * np.cos(np.radians(aim_deg))])
        steps = _LegSteps(np.array([at[0]] * 2), np.array([at[1]] * 2), np.zeros(2))

        def likelihood(turned: float, steps: _LegSteps = steps) -> float:
            return float(_homing(steps, np.array([turned]), np.array([1.8]), 4.0, still)[0])

        assert likelihood(due) > max(likelihood(due + 0.4), likelihood(due - 0.4))
        assert likelihood(due + 0.4) == pytest.approx(likelihood(due - 0.4), abs=1e-6)
    # Close in, where the fix lies a little beside tells on its bearing: turning says less.
    near = _LegSteps(np.array([0.0, 0.0]), np.array([-0.1, -0.1]), np.zeros(2))
    far = _LegSteps(np.array([0.0, 0.0]), np.array([-4.0, -4.0]), np.zeros(2))
    falls = [
        float((_homing(one, np.array([0.0]), np.array([1.8]), 4.0, still)
               - _homing(one, np.array([6.0]), np.array([1.8]), 4.0, still))[0]) for one in (near, far)
    ]  # fmt: skip
    assert falls[0] < 0.4 * falls[1]
