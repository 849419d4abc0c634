"""What is known of a turn, a course and a fix, and how well: against closed forms, and other sums of the same.

Flights are drawn by hand in still air, or only what is asked of them is laid down. What the limits are stands here in
words of the trade, not read from the table.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from analyser.circuits.circuit_cutting import _doubted, _from_fix
from analyser.circuits.course_estimation import CourseMet
from analyser.circuits.flown import Turn
from analyser.circuits.hold_inference import (
    _arrival_way,
    _by_laps,
    _leg_end,
    _outbound_flown,
    _ways_in,
    fix_along,
    with_arrival,
)
from analyser.circuits.turn_detection import (
    _crossing,
    _doubted_by_holes,
    _edge,
    _mean_bank_sd,
    _one_turn,
    _wander_deg,
    turn_in_span,
)
from analyser.motion.roll_response import RollResponse
from tests.drawn_flights import straight, turn
from tests.test_circuits_cutting import a_turn
from tests.test_circuits_given_borders import bare
from tests.test_motion_speeds import motion


def test_who_did_not_see_a_turns_end_knows_it_to_six_seconds_or_a_seventh_of_the_hole() -> None:
    def doubted(hole: slice, end_s: float = 160.0) -> Turn:
        lost = np.zeros(400, dtype=bool)
        lost[hole] = True
        return _doubted_by_holes(motion(np.full(400, 110.0), in_hole=lost), replace(a_turn(), end_s=end_s))

    assert doubted(slice(300, 320)) == a_turn()
    near = doubted(slice(155, 175))
    assert (near.start_sd_s, near.end_sd_s) == (0.5, 6.0)
    far = doubted(slice(155, 255))
    assert far.end_sd_s == pytest.approx(0.15 * 100.0)
    # So near beside it that it may as well lie in it.
    assert doubted(slice(166, 266)).end_sd_s == pytest.approx(15.0)
    assert doubted(slice(168, 268)) == a_turn()
    # A tenth of the turn was not seen: three tenths of that share of 18° of bank.
    assert near.bank_mean_sd_deg == pytest.approx(np.hypot(0.2, 0.3 * 18.0 * 6.0 / 61.0), rel=0.01)


@pytest.mark.parametrize(("seen_deg", "lacking_s"), [(155.0, 0.0), (120.0, 10.0)])
def test_between_chords_what_a_turn_lacks_of_half_a_circle_was_flown_unseen(
    seen_deg: float, lacking_s: float
) -> None:
    one = replace(a_turn(), heading_change_deg=seen_deg)
    assert _doubted(one).end_sd_s == pytest.approx(np.hypot(0.5, lacking_s))
    # At its own rate, but no slower than half a degree a second.
    slow = replace(one, rate_mean_dps=0.2)
    assert _doubted(slow).start_sd_s == pytest.approx(np.hypot(0.5, 6.0 * lacking_s))


@pytest.mark.parametrize(
    ("before_s", "off_deg", "degrees", "cut"),
    [
        (9.0, 25.0, 210.0, True),
        (7.0, 25.0, 210.0, False),
        (9.0, 18.0, 210.0, False),
        (9.0, 25.0, 200.0, False),
    ],
)
def test_a_turn_that_was_still_meeting_the_course_at_the_fix_begins_there(
    before_s: float, off_deg: float, degrees: float, cut: bool
) -> None:
    one = motion(
        np.full(300, 110.0), ground_east_kt=np.full(300, 110.0 * np.sin(np.radians(off_deg))),
        ground_north_kt=np.full(300, 110.0 * np.cos(np.radians(off_deg))),
    )  # fmt: skip
    turned = replace(a_turn(), heading_change_deg=degrees)
    found = _from_fix(one, turned, 100.0 + before_s, 0.0)
    assert found.start_s == (100.0 + before_s if cut else 100.0)


@pytest.mark.parametrize("roll_s", [2.0, 5.0, 8.0])
def test_a_turn_begins_where_its_bank_passes_two_degrees_however_it_is_rolled(roll_s: float) -> None:
    """From level at 20.0 s to 24° evenly: two degrees are a twelfth of the roll. Seen without any smoothing."""
    time_s = np.arange(0.0, 120.0)
    bank = 24.0 * np.clip((time_s - 20.0) / roll_s, 0.0, 1.0) * np.clip((90.0 - time_s) / roll_s, 0.0, 1.0)
    seen = RollResponse(np.array([0.0, 20.0]), np.array([0.0, 10.0]))
    on = np.flatnonzero(bank > 8.0)
    begun = _edge(time_s, bank, int(on[0]), int(on[-1]), seen, forward=True)
    ended = _edge(time_s, bank, int(on[0]), int(on[-1]), seen, forward=False)
    assert begun.instant_s == pytest.approx(20.0 + roll_s / 12.0, abs=0.3)
    assert ended.instant_s == pytest.approx(90.0 - roll_s / 12.0, abs=0.3)
    assert begun.roll_s == pytest.approx(roll_s, rel=0.12)
    assert begun.sd_s == 0.35
    # The bank's own crossing of half of it lies in the middle of the roll.
    assert _crossing(time_s, bank, int(on[0]), 1, 12.0) == pytest.approx(20.0 + 0.5 * roll_s, abs=0.1)


@pytest.mark.parametrize(
    ("first_deg", "pause_s", "toward_deg", "pieces"),
    [
        (120.0, 24, 200.0, 2),  # not round yet, and soon enough after it
        (120.0, 26, 200.0, 1),
        (130.0, 3, 200.0, 2),  # most of a half circle: level for a moment only
        (130.0, 6, 200.0, 1),
        (120.0, 10, 165.0, 1),  # within 50° of its leg it has ended
        (120.0, 10, 175.0, 2),
    ],
)
def test_pieces_are_one_turn_until_it_has_come_round_to_its_leg(
    first_deg: float, pause_s: int, toward_deg: float, pieces: int
) -> None:
    rates = [*turn(first_deg), *straight(pause_s), *turn(60.0), *straight(50)]
    heading = np.cumsum(rates)
    first, second = round(first_deg / 3.0), 20
    spans = [(0, first), (first + pause_s, first + pause_s + second)]
    assert len(_one_turn(spans, heading, toward_deg)) == pieces


def test_an_arrival_over_the_laps_own_fix_agrees_with_it_and_one_far_beside_it_says_nothing() -> None:
    """Nine in ten arrive over the fix, to 0.02 NM; three in ten laps are set aside, by half a mile; else 1.5 NM."""
    square, known = np.array([0.0, 1.0]), np.diag([0.05**2, 0.03**2])

    def normal(off: float, variance: float) -> float:
        return float(np.exp(-0.5 * off**2 / variance) / np.sqrt(2.0 * np.pi * variance))

    for apart in (0.0, 0.05, 0.2, 0.6, 2.0):
        doubt, by, aside = 0.03**2, 0.02**2, 0.5**2
        chances = np.array([
            0.9 * 0.7 * normal(apart, doubt + by), 0.9 * 0.3 * normal(apart, doubt + aside + by),
            0.1 * normal(apart, 1.5**2),
        ])  # fmt: skip
        chances /= chances.sum()
        shift, _, chance = with_arrival(apart, square, known)
        assert chance == pytest.approx(chances[1])
        own = chances[0] * doubt / (doubt + by) + chances[1] * (1.0 - by / (doubt + aside + by))
        assert shift == pytest.approx([0.0, apart * own])


@pytest.mark.parametrize(("ago_s", "seen"), [(410.0, True), (430.0, False)])
def test_an_arrival_is_looked_for_over_seven_minutes(ago_s: float, seen: bool) -> None:
    time_s = np.arange(0.0, 600.0)
    # Over the fix once, and then away from it for good, half a mile in seven minutes.
    north = np.where(time_s < 550.0 - ago_s, 0.0, 3.0)
    east = np.where(time_s == 550.0 - ago_s - 1.0, 0.06, 4.0)
    one = motion(np.full(600, 110.0), time_s=time_s, east_nm=east, north_nm=north)
    met: Any = bare(course_deg=0.0)
    found = _arrival_way(one, 550.0, met, np.zeros(2))
    assert found is not None
    assert (found[0] == pytest.approx(0.06)) == seen


def late_turns(begun_s: tuple[float, ...]) -> tuple[float, float]:
    """Tell where the fix lies by summing over kinds of pilot, on a grid of its own (a closed form there is none)."""
    fix = np.arange(min(begun_s) - 30.0, max(begun_s) + 5.0, 0.25)
    late = np.arange(0.125, 30.0, 0.25)
    total = np.zeros(fix.size)
    for mean in (0.5, 1.0, 2.0, 4.0, 8.0, 16.0):
        for shape in (1.0, 3.0, 10.0):
            density = late ** (shape - 1.0) * np.exp(-late * shape / mean)
            density /= density.sum()
            each = np.full(fix.size, np.exp(-0.5 * (np.log(mean / 1.5) / np.log(2.7)) ** 2))
            for at in begun_s:
                off = at - fix
                seen = (
                    np.exp(-0.5 * ((off[:, None] - late) / 1.2) ** 2) / (1.2 * np.sqrt(2.0 * np.pi)) @ density
                )
                each = each * (seen + np.where(off > 0.0, 0.1, 0.02) / 60.0)
            total += each
    total /= total.sum()
    middle = float(np.interp(0.5, np.cumsum(total) - 0.5 * total, fix))
    order = np.argsort(np.abs(fix - middle))
    return middle, 0.5 * float(np.interp(0.954, np.cumsum(total[order]), np.abs(fix - middle)[order]))


@pytest.mark.parametrize("begun_s", [(0.0, 1.0, 3.0), (5.0, 5.5, 4.8), (0.0, 12.0, 1.0), (0.0, 25.0)])
def test_the_fix_lies_where_all_kinds_of_pilot_together_may_have_seen_it_pass(
    begun_s: tuple[float, ...],
) -> None:
    """Turns begin a second and a half late, give or take a factor of 2.7; one in ten for another reason, later."""
    found = fix_along(np.array(begun_s), np.full(len(begun_s), 1.2))
    assert found == pytest.approx(late_turns(begun_s), abs=0.25)


def led(rate_dps: float) -> Any:
    """Fly over two minutes, the way turning so much all along; a hundred knots."""
    time_s = np.arange(0.0, 121.0)
    way = np.radians(rate_dps * (time_s - 60.0))
    east, north = np.cumsum(np.sin(way)) / 36.0, np.cumsum(np.cos(way)) / 36.0
    return motion(
        np.full(121, 100.0), time_s=time_s, east_nm=east - east[-1], north_nm=north - north[-1],
        ground_east_kt=100.0 * np.sin(way), ground_north_kt=100.0 * np.cos(way), heading_deg=np.degrees(way) % 360.0,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("leg_s", "sd_deg"),
    [(100.0, 0.8), (76.0, 0.8), (74.0, 1.0), (50.0, 1.8), (40.0, 3.5), (25.0, 6.0), (12.0, 6.0)],
)
def test_the_longer_a_legs_straight_end_the_better_it_tells_the_course(leg_s: float, sd_deg: float) -> None:
    found = _leg_end(led(0.0), 120.0 - leg_s, 120.0)
    assert (found.straight_deg, found.straight_sd_deg) == pytest.approx((0.0, sd_deg), abs=1e-6)
    assert found.rollout_heading_deg == 0.0


def test_of_a_leg_that_bends_the_longest_part_counts_that_bends_by_four_degrees_at_most() -> None:
    """From the chord of its first five seconds to that of its last."""
    for rate_dps, window_s, sd_deg in ((0.07, 60, 0.8), (0.1, 45, 1.0), (0.104, 35, 1.8)):
        found = _leg_end(led(rate_dps), 20.0, 120.0)
        bend_deg = rate_dps * (window_s - 6)
        assert found.straight_sd_deg == pytest.approx(np.hypot(sd_deg, 0.8 * bend_deg), rel=0.01)
        assert found.straight_deg == pytest.approx(rate_dps * (59.5 - 0.5 * window_s), abs=0.1)
        # Three seconds after its beginning the wings are level.
        assert found.rollout_heading_deg == pytest.approx((rate_dps * (23.0 - 60.0)) % 360.0)


def turned_at(start_s: float, end_s: float) -> Turn:
    return replace(a_turn(), start_s=start_s, end_s=end_s)


def test_a_way_in_counts_from_ten_seconds_on_and_an_entrys_from_twenty_five_that_agree() -> None:
    flight = led(0.0)
    laps_ = [(turned_at(40.0, 45.0), turned_at(50.0, 60.0)), (turned_at(71.0, 75.0), turned_at(80.0, 90.0))]

    def ways(
        back: Turn | None = None, course_deg: float = 0.0, second_s: float = 71.0
    ) -> list[tuple[float, float]]:
        each = [laps_[0], (turned_at(second_s, 75.0), laps_[1][1])]
        return _ways_in(flight, each, back, 120.0, course_deg)

    assert ways() == [(60.0, 71.0), (90.0, 120.0)]
    assert ways(second_s=69.0) == [(90.0, 120.0)]
    # The last counts, however short it was.
    assert _ways_in(flight, laps_[1:], None, 95.0, 0.0) == [(90.0, 100.0)]
    assert ways(turned_at(5.0, 14.0)) == [(60.0, 71.0), (90.0, 120.0), (14.0, 40.0)]
    assert ways(turned_at(5.0, 16.0)) == ways() == ways(turned_at(5.0, 14.0), course_deg=16.0)
    assert len(ways(turned_at(5.0, 14.0), course_deg=14.0)) == 3


def test_an_outbound_leg_has_a_heading_from_nine_seconds_on_without_its_rolls() -> None:
    flight = led(0.5)
    found_ = _outbound_flown(flight, [(20.0, 60.0), (70.0, 78.0), (80.0, 90.0)])
    assert found_ is not None
    # Its middle, whatever three seconds at either end had.
    assert found_.heading_deg == pytest.approx([0.5 * (40.0 - 60.0) % 360.0, 0.5 * 25.0], abs=0.3)
    assert _outbound_flown(flight, [(70.0, 78.0)]) is None


@pytest.mark.parametrize(("sample_s", "seen_s"), [(11.0, 0.0), (20.0, 2.9)])
def test_between_chords_all_turns_begin_alike_somewhere_near_the_corner(
    sample_s: float, seen_s: float
) -> None:
    """To a seventh of what lies between samples, however many laps there are."""
    flight = replace(led(0.0), sample_s=sample_s)
    met = CourseMet(0.0, 1.0, 0.02, 0.03, 0.0)
    ends = [_leg_end(flight, 60.0, 120.0)] * 3
    begun = [turned_at(100.0, 160.0)] * 3
    place, covariance, seen_nm, speed_nm_s = _by_laps(flight, begun, ends, met, 60.0)
    assert speed_nm_s == pytest.approx(100.0 / 3600.0)
    assert seen_nm == pytest.approx(seen_s * speed_nm_s)
    sd_s = np.full(3, np.hypot(0.7, 0.5)) if sample_s < 12.0 else np.full(3, 0.7)
    along_s, along_sd_s = fix_along(np.full(3, float(flight.at("north_nm", 100.0)) / speed_nm_s), sd_s)
    assert place == pytest.approx([along_s * speed_nm_s, 0.02])
    assert covariance == pytest.approx(
        np.diag([(along_sd_s**2 + seen_s**2) * speed_nm_s**2, 0.03**2]), abs=1e-9
    )
    # Who held what he rolled out on is set aside by the wind on the way: 5° of a minute at 100 kt.
    aside = _by_laps(flight, begun, ends, replace(met, passed_aside_deg=5.0), 60.0)[1]
    assert aside[1, 1] == pytest.approx(0.03**2 + (np.sin(np.radians(5.0)) * 100.0 / 60.0) ** 2)


def bank_sd(
    bank_deg: np.ndarray, *, hole: float = 0.0, gust_kt: float = 0.0, blur_s: float = 0.0, logged: bool = False,
    heading_sd_deg: float | None = None, clock: float = 0.0,
) -> float:  # fmt: skip
    """Ask what is known of the mean bank of forty seconds at 110 kt."""
    lost = np.arange(200) < round(hole * 41)
    flight = motion(
        np.full(200, 110.0), in_hole=lost, bank_sd_deg=np.full(200, 3.0),
        heading_sd_deg=np.full(200, heading_sd_deg or 0.0), obtained={"bank": "logged" if logged else "derived"},
    )  # fmt: skip
    measured: Any = bare(
        motion=flight, chorded=False, velocity_errors=None if heading_sd_deg is None else "known",
        wind=bare(gust_share=0.5, speed_noise=bare(sigma=gust_kt)), rolls=bare(blur_s=blur_s),
        clock_sd=lambda a, b: clock,
    )  # fmt: skip
    return _mean_bank_sd(measured, bank_deg, 0.0, 40.0)


def test_no_mean_bank_is_known_better_than_the_ball_of_a_real_aircraft_is_in_its_middle() -> None:
    assert bank_sd(np.full(41, 18.0)) == pytest.approx(0.09)


def test_a_mean_bank_is_doubted_by_gusts_rolls_swings_and_holes_each_for_itself() -> None:
    level, upright = np.full(41, 18.0), np.cos(np.radians(18.0)) ** 2
    # Gusts that differ from one end of it to the other: √2 of half of 4 kt's variance, over 40 s of gravity.
    gusts = np.degrees(np.sqrt(2.0) * np.sqrt(0.5) * 4.0 * 0.514444 / (9.80665 * 40.0)) * upright
    assert bank_sd(level, gust_kt=4.0) == pytest.approx(np.hypot(gusts, 0.09), rel=1e-4)
    assert bank_sd(level, blur_s=3.0) == pytest.approx(np.hypot(9.0 / 40.0 * 0.03 * 18.0, 0.09))
    swinging = 18.0 + 3.0 * np.where(np.arange(41) % 2 == 0, 1.0, -1.0)
    swing = 0.25 * swinging.std() * np.sqrt(4.0 / 40.0)
    assert bank_sd(swinging) == pytest.approx(np.hypot(swing, 0.09), rel=0.01)
    for hole, unseen in ((0.3, 0.21), (0.6, 0.42), (0.8, 4.21), (1.0, 8.0)):
        share = round(hole * 41) / 41.0
        table = np.interp(share, [0.0, 0.6, 1.0], [0.0, 0.42, 8.0])
        assert table == pytest.approx(unseen, abs=0.25)
        assert bank_sd(level, hole=hole) == pytest.approx(np.hypot(table, 0.09))
    # A bank taken up by and by: the middle half differs from the whole by more than five times what its swings do.
    slowly = 18.0 + 8.0 * np.minimum(np.abs(np.arange(41) - 20.0) / 20.0, 1.0) ** 8
    swing = 0.25 * slowly.std() * np.sqrt(4.0 / 40.0)
    part = abs(slowly[10:31].mean() - slowly.mean()) - 5.0 * swing
    assert part > 0.2
    assert bank_sd(slowly) == pytest.approx(np.linalg.norm([swing, part, 0.09]), rel=1e-6)


def test_of_an_untidy_log_the_headings_at_a_turns_two_ends_and_its_clock_tell_its_mean_bank() -> None:
    """φ = arctan(V ω / g): its change with the rate, and with the clock in which that is counted."""
    level, upright = np.full(41, 18.0), np.cos(np.radians(18.0)) ** 2
    rate_sd = np.hypot(np.radians(2.0), np.radians(2.0)) / 40.0
    by_rate = np.degrees(110.0 * 0.514444 * rate_sd / 9.80665) * upright
    by_clock = 0.5 * np.degrees(np.sin(np.radians(36.0))) * 0.03
    assert bank_sd(level, heading_sd_deg=2.0, clock=0.03) == pytest.approx(
        np.linalg.norm([by_rate, by_clock, 0.09]), rel=1e-4
    )
    # An instrument's bank has its own errors only, neither gusts nor smoothing.
    assert bank_sd(level, logged=True, gust_kt=9.0, blur_s=9.0) == pytest.approx(np.hypot(3.0, 0.09))


def test_a_banks_wander_is_freed_of_what_the_log_itself_makes_of_it() -> None:
    swinging = 18.0 + 5.0 * np.where(np.arange(41) % 2 == 0, 1.0, -1.0)
    flight = motion(np.full(200, 110.0), bank_sd_deg=np.full(200, 3.0), obtained={"bank": "derived"})
    tidy: Any = bare(motion=flight, velocity_errors=None)
    untidy: Any = bare(motion=flight, velocity_errors="known")
    assert _wander_deg(tidy, swinging, 0.0, 40.0) == pytest.approx(5.0, rel=0.01)
    assert _wander_deg(untidy, swinging, 0.0, 40.0) == pytest.approx(4.0, rel=0.02)


def test_where_the_smoothing_spreads_a_roll_its_slope_tells_little_and_the_usual_rate_more() -> None:
    """Five degrees a second is usual; a blur of four seconds leaves a fifth of the trust."""
    time_s = np.arange(0.0, 120.0)
    bank = 24.0 * np.clip((time_s - 20.0) / 5.0, 0.0, 1.0) * np.clip((90.0 - time_s) / 5.0, 0.0, 1.0)
    seen = RollResponse(np.array([0.0, 20.0]), np.array([4.0, 14.0]))
    on = np.flatnonzero(bank > 8.0)
    begun = _edge(time_s, bank, int(on[0]), int(on[-1]), seen, forward=True)
    assert begun.roll_s == pytest.approx(0.8 * 24.0 / 5.0)
    assert begun.sd_s == pytest.approx(np.hypot(0.35, 1.2))
    assert begun.instant_s == pytest.approx(22.5 - 3.84 * (0.5 - 2.0 / 24.0), abs=0.1)


def banked(*pieces: tuple[float, float, float], seconds: int = 300) -> Any:
    """Bank by so many degrees between two instants each, rolled at five degrees a second; 110 kt, the bank logged."""
    at_s = np.arange(float(seconds))
    bank = np.zeros(seconds)
    for first, last, degrees in pieces:
        roll_s = abs(degrees) / 5.0
        part = np.clip((at_s - first) / roll_s, 0.0, 1.0) * np.clip((last - at_s) / roll_s, 0.0, 1.0)
        bank += degrees * part
    rate = np.degrees(9.80665 * np.tan(np.radians(bank)) / (110.0 * 0.514444))
    heading = np.concatenate([[0.0], np.cumsum(0.5 * (rate[1:] + rate[:-1]))])
    flight = motion(
        np.full(seconds, 110.0), time_s=at_s, bank_deg=bank, heading_deg=heading % 360.0, turn_rate_dps=rate,
        bank_sd_deg=np.full(seconds, 0.5), obtained={"bank": "logged"},
    )  # fmt: skip
    return bare(
        motion=flight, rolls=bare(blur_s=0.0), velocity_errors=None, time_jitter_s=0.3, chorded=False,
        wind=bare(gust_share=0.5, speed_noise=bare(sigma=1.0)),
    )  # fmt: skip


#: g tan 18° / V: three degrees a second at 110 kt are 17.1° of bank.
RATE_DPS = float(np.degrees(9.80665 * np.tan(np.radians(18.0)) / (110.0 * 0.514444)))


@pytest.mark.parametrize("side", [1, -1])
def test_a_turn_is_measured_from_leaving_level_to_wings_level(side: int) -> None:
    """Rolled at 5° a second from 100 s on, two degrees are passed at 100.4 s; level again by two at 159.6 s."""
    found = turn_in_span(banked((100.0, 160.0, 18.0 * side)), 103.0, 157.0, side, side * 175.0)
    assert found is not None
    assert (found.start_s, found.end_s) == pytest.approx((100.4, 159.6), abs=0.35)
    assert (found.start_sd_s, found.end_sd_s) == pytest.approx((np.hypot(0.35, 0.3),) * 2, abs=0.01)
    # Two rolls of 3.6 s turn through about half of what they would at full bank.
    assert found.heading_change_deg == pytest.approx(side * RATE_DPS * (60.0 - 3.6), rel=0.01)
    assert (found.bank_mean_deg, found.bank_max_deg) == pytest.approx((side * 18.0,) * 2, abs=0.02)
    assert found.rate_mean_dps == pytest.approx(side * RATE_DPS, rel=1e-3)
    assert found.bank_wander_deg < 0.1
    assert 103.0 <= found.established_start_s <= 106.0 and 154.0 <= found.established_end_s <= 157.0
    # To the other side there was none, nor where nothing was turned.
    assert turn_in_span(banked((100.0, 160.0, 18.0 * side)), 103.0, 157.0, -side, 0.0) is None
    assert turn_in_span(banked((100.0, 160.0, 18.0 * side)), 200.0, 260.0, side, 0.0) is None


@pytest.mark.parametrize(
    ("gap_s", "low_deg", "parts"),
    [
        # A dip of the bank for a few seconds parts no turn, nor do wings level for a dozen before it came round.
        (6.0, 9.0, 1),
        (12.0, 0.0, 1),
        # Half a minute with level wings is a leg.
        (40.0, 0.0, 2),
    ],
)
def test_a_pause_within_a_turn_is_part_of_it_and_a_leg_is_not(
    gap_s: float, low_deg: float, parts: int
) -> None:
    first, second = (100.0, 100.0 + 30.0, 18.0), (130.0 + gap_s, 160.0 + gap_s, 18.0)
    between = [(128.0, 132.0 + gap_s, low_deg)] if low_deg else []
    measured = banked(first, *between, second)
    found = turn_in_span(measured, 103.0, 157.0 + gap_s, 1, 175.0)
    assert found is not None
    whole = found.end_s - found.start_s > 58.0 + gap_s - 4.0
    assert whole == (parts == 1)


def test_a_turn_that_runs_on_past_its_leg_ends_where_the_wings_came_level_near_it() -> None:
    """Half a circle, four seconds level on the leg, and on round by 60°: the first piece came round."""
    found = turn_in_span(banked((100.0, 163.0, 18.0), (172.0, 196.0, 18.0)), 103.0, 190.0, 1, 190.0)
    assert found is not None
    assert found.end_s == pytest.approx(162.6, abs=0.5)
