"""How stretches are read: which way leads in, which stays are one, what was left: limits and closed forms.

Flights are drawn by hand in still air, or only what is asked of them is laid down.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from analyser.circuits.circuit_cutting import _leg, _leg_end
from analyser.circuits.evidence import _is_parallel_entry, _offset_arrival
from analyser.circuits.find import _is_of_one_stay
from analyser.circuits.fix_passages import _circle, nearest_way_back_nm
from analyser.circuits.given_fit import _laps_outside, stays_at
from analyser.circuits.given_hold import _flown_side, _is_journey, _was_left
from analyser.circuits.laps_and_entries import LapPhases, _lies_off_s, most_likely_entry, perhaps_as_well
from analyser.circuits.loops import _end_log_odds, _hypotheses, _is_like, _is_plain, likelier_end
from analyser.circuits.racetrack import TurnRun, _course
from analyser.circuits.turn_detection import _crossing
from analyser.earth.plane import LocalPlane
from analyser.motion.survey import survey_flight
from tests.drawn_flights import COURSE_DEG, FIX, drawn, laps, straight, turn
from tests.test_circuits_cutting import RADIUS_NM, a_turn, view_of
from tests.test_circuits_found_borders import arriving
from tests.test_circuits_given import AWAY, GIVEN, WAY_IN, lap
from tests.test_circuits_given_borders import bare, reading_at
from tests.test_circuits_laps import survey
from tests.test_circuits_rules import ONE, TWO, racetrack
from tests.test_circuits_weighing import leaning
from tests.test_motion_speeds import motion

NM = 1852.0


@pytest.mark.parametrize(
    ("arrival_deg", "lean_deg", "points"),
    [
        # Over the fix on the outbound heading, or up to 85° short of it, and thirty degrees to the holding side.
        (0.0, 30.0, 2.2),
        (-83.0, 30.0, 2.2),
        (13.0, 30.0, 2.2),
        # From no sector for it, over the fix all the same, it says little.
        (-87.0, 30.0, 0.3),
        (17.0, 30.0, 0.3),
        # Hardly to the holding side, or right across: a turn before the first lap that is no entry.
        (0.0, 7.0, 2.2),
        (0.0, 3.0, -1.5),
        (0.0, 73.0, 2.2),
        (0.0, 77.0, -1.5),
    ],
)
def test_a_turn_before_the_first_lap_is_an_offset_entrys_where_the_way_to_it_was_one(
    arrival_deg: float, lean_deg: float, points: float
) -> None:
    onto = turn(-lean_deg - arrival_deg)
    flown, one = arriving([*straight(100), *onto, *straight(60), *turn(180.0 + lean_deg), *straight(70)])
    begun = 160 + len(onto)
    before = TurnRun(begun, begun + round((180.0 + lean_deg) / 3.0), 180.0 + lean_deg)
    fix = np.array([flown.east_m[100], flown.north_m[100]])
    over = replace(one, fix_m=fix, before=before)
    assert _offset_arrival(flown, over, before) == points
    # Six tenths of a mile beside the fix it was not over it; what turned back the other way before came from there.
    beside = replace(over, fix_m=fix - np.array([0.65 * NM, 0.0]))
    assert points < 0.0 or _offset_arrival(flown, beside, before) in (-1.5, points)
    back = replace(over, turned_back=TurnRun(105, 150, -180.0))
    assert _offset_arrival(flown, back, before) == -1.5


@pytest.mark.parametrize(
    ("more_deg", "after_s", "away_nm", "entry"),
    [
        (45.0, 60, 3.0, True),
        (35.0, 60, 3.0, False),
        (45.0, 80, 3.0, False),
        (45.0, -70, 3.0, True),
        (45.0, 60, 3.7, False),
    ],
)
def test_one_lopsided_lap_before_a_hold_of_the_other_hand_is_its_parallel_entry(
    more_deg: float, after_s: int, away_nm: float, entry: bool
) -> None:
    _, one = racetrack(ONE)
    first = one.laps[0]
    lopsided = replace(
        one, laps=(replace(first, inbound=replace(first.inbound, change_deg=180.0 + more_deg)),)
    )
    begun = one.end + after_s
    later = replace(first, outbound=TurnRun(begun, begun + 60, -180.0))
    other = replace(one, side=-1, laps=(later,), fix_m=one.fix_m + np.array([away_nm * NM, 0.0]))
    assert _is_parallel_entry(lopsided, other) == entry
    assert not _is_parallel_entry(lopsided, replace(other, side=1))


@pytest.mark.parametrize(
    ("apart_s", "apart_nm", "turned_deg", "turns", "one"),
    [
        (1190.0, 0.0, 0.0, "right", True),
        (1210.0, 0.0, 0.0, "right", False),
        (60.0, 0.95, 0.0, "right", True),
        (60.0, 1.05, 0.0, "right", False),
        (60.0, 0.0, -39.0, "right", True),
        (60.0, 0.0, 41.0, "right", False),
        (60.0, 0.0, 0.0, "left", False),
    ],
)
def test_holds_soon_after_each_other_round_one_fix_are_one_stay(
    apart_s: float, apart_nm: float, turned_deg: float, turns: Any, one: bool
) -> None:
    before = bare(hold=GIVEN, start_s=0.0, end_s=500.0, other_end=None)
    elsewhere = replace(
        GIVEN,
        turns=turns,
        fix_lat_deg=FIX[0] + apart_nm / 60.0,
        inbound_course_true_deg=COURSE_DEG + turned_deg,
    )
    after = bare(hold=elsewhere, start_s=500.0 + apart_s, end_s=2000.0, other_end=None)
    assert _is_of_one_stay(before, after, before, after) == one
    # Or where the end of which it is in doubt lies there.
    end = bare(fix_lat_deg=FIX[0], fix_lon_deg=FIX[1], inbound_course_true_deg=COURSE_DEG)
    doubtful = bare(**{**vars(after), "other_end": end})
    assert _is_of_one_stay(before, doubtful, before, doubtful) == (apart_s < 1200.0 and turns == "right")


def test_of_a_stay_the_laps_before_and_after_another_are_left() -> None:
    stay = reading_at((0.0,) * 7, 0.0)
    passed = [10.0 + 240.0 * k for k in range(7)]
    other = bare(start_s=passed[2] + 5.0, end_s=passed[3] + 5.0)
    before, after = _laps_outside(stay, other)
    assert [p.index for p in before.passages] == passed[:3] and len(before.laps) == 2
    assert [p.index for p in after.passages] == passed[4:] and len(after.laps) == 2
    assert after.arrival == after.passages[0] and after.entry is None and before.broken is None
    assert _laps_outside(stay, bare(start_s=0.0, end_s=5000.0)) == []


@pytest.mark.parametrize(
    ("off_deg", "across_s", "outbound_deg", "left"),
    [
        (90.0, 62, 180.0, True),
        (90.0, 58, 180.0, False),
        (52.0, 70, 180.0, True),
        (48.0, 70, 180.0, False),
        (123.0, 70, 180.0, True),
        (127.0, 70, 180.0, False),
        # Of an entry it may have been its leg, with the drift laid off: nearer to outbound it is none.
        (98.0, 70, 100.0, True),
        (102.0, 70, 100.0, False),
    ],
)
def test_a_lap_was_left_where_its_way_out_led_across_for_a_minute(
    off_deg: float, across_s: int, outbound_deg: float, left: bool
) -> None:
    off = np.concatenate([np.full(30, 180.0), np.full(across_s, off_deg), np.zeros(100)])
    one = LapPhases(0, off.size, TurnRun(0, 0, 0.0, hand=1), TurnRun(off.size - 60, off.size - 50, 90.0), ())
    level = bare(off_deg=off, air_off_deg=off, turning=np.zeros(off.size))
    assert _was_left(level, one, outbound_deg) == left
    # Not by heading as well as over the ground, or turning: that is no leg across.
    assert not _was_left(bare(**{**vars(level), "air_off_deg": off + 90.0}), one, outbound_deg)
    assert not _was_left(bare(**{**vars(level), "turning": np.full(off.size, 0.5)}), one, outbound_deg)


@pytest.mark.parametrize(
    ("took_s", "odd_s", "away_nm", "journey"),
    [
        # 1.6 times as long as the others, of which two minutes are explained by no turn and no leg.
        (395, 125, 2.0, True),
        (375, 125, 2.0, False),
        (395, 115, 2.0, False),
        # From the fix to the fix, three tenths of it at least.
        (600, 175, 1.4, False),
        (600, 185, 1.4, True),
        (600, 175, 1.6, True),
    ],
)
def test_a_lap_far_longer_than_the_others_that_little_explains_was_a_journey(
    took_s: int, odd_s: int, away_nm: float, journey: bool
) -> None:
    turning = np.zeros(took_s + 1)
    turning[:60] = turning[-120:-60] = 1.0
    # Turning on the way out.
    turning[80 : 80 + odd_s] = 0.5
    off = np.concatenate([np.full(took_s - 100, 180.0), np.zeros(101)])
    one = LapPhases(0, took_s, TurnRun(0, 60, 180.0), TurnRun(took_s - 119, took_s - 59, 180.0), ())
    view = bare(
        turning=turning, off_deg=off, air_off_deg=off, time_s=np.arange(took_s + 1.0), given=True,
        away_nm=np.full(took_s + 1, away_nm),
    )  # fmt: skip
    others = [replace(one, end=240)] * 2
    assert _is_journey(view, one, others, first=False) == journey
    # Nothing is longer than usual where there is nothing to compare with.
    assert not _is_journey(view, one, [], first=False)


def entry_read(lean_deg: float, short_deg: float = 35.0) -> tuple[str, str | None]:
    """Read a first way round whose leg leads so far to the holding side, from a heading so far short of outbound."""
    view, way = leaning(lean_deg, 0.0)
    view.air_off_deg[:100] = 180.0 - short_deg
    leg = slice(*way.legs[0])
    at_s, led = np.arange(500.0), np.radians(180.0 - lean_deg)
    known = bare(
        **vars(view), along_nm=np.cos(led) * at_s / 36.0, cross_nm=np.sin(led) * at_s / 36.0, course_sd_deg=0.0,
        seen=np.ones(500, dtype=bool), rate_dps=np.where((at_s < leg.start) | (at_s > leg.stop), 3.0, 0.0),
    )  # fmt: skip
    return most_likely_entry(known, way, 1, [way]), perhaps_as_well(known, way, 1, [way])


@pytest.mark.parametrize(
    ("lean_deg", "kind", "perhaps"),
    [
        # From the offset sector (0.68 against 0.12), by how well the leg fits 30° and 0° with a sigma of 8°, one in a
        # hundred for another reason: log odds of offset against direct of -2.1, -1.9, 0.85, 1.3.
        (5.0, "direct", None),
        (6.0, "direct", "offset"),
        (13.0, "direct", "offset"),
        (14.0, "offset", "direct"),
        # Half way to thirty degrees, it was led off.
        (14.9, "offset", "direct"),
        (15.1, "offset", None),
        (30.0, "offset", None),
    ],
)
def test_an_offset_entry_hardly_led_off_may_have_been_a_lap(
    lean_deg: float, kind: str, perhaps: str | None
) -> None:
    assert entry_read(lean_deg) == (kind, perhaps)
    # From the direct sector (0.9 against 0.015) no less than the taught 30° makes it one.
    assert (entry_read(lean_deg, 150.0)[0] == "offset") == (lean_deg == 30.0)


def test_where_a_hole_ends_tells_the_hand_of_the_turn_in_it() -> None:
    """A turn to the other hand leads twice a turn's width aside: 4 V / ω, which takes 4 / ω = 76 s to fly."""
    view = view_of(drawn(WAY_IN, [*laps(2, 1), *AWAY]))
    for first, last in ((310, 390), (290, 410), (300, 385)):
        assert _lies_off_s(view, first, last, 1) < 3.0
        assert _lies_off_s(view, first, last, -1) == pytest.approx(4.0 / np.radians(3.0), abs=4.0)
    # Too short a hole for the turn: what is missing of it counts too.
    assert _lies_off_s(view, 335, 365, 1) < 6.0


def test_a_circle_has_its_time_its_width_and_its_turning_by_geometry() -> None:
    def circle(way: list[float], first: int, last: int) -> Any:
        return _circle(
            view_of(drawn(WAY_IN, [*way, *laps(2, 1), *AWAY])), first, last, inbound=True, alone=True
        )

    steady = circle(turn(360.0), 199, 319)
    assert steady.once_s == pytest.approx(120.0, abs=2.0)
    assert steady.width_nm == pytest.approx(2.0 * RADIUS_NM, rel=0.02)
    assert (steady.usual, steady.slowest, steady.hidden_share) == pytest.approx((1.0, 1.0, 0.0), abs=0.01)
    # Wings level for three seconds half way, smoothed over as many: its slowest turning is some six tenths.
    paused = circle([*turn(180.0), *straight(3), *turn(180.0)], 199, 322)
    assert 0.5 < paused.slowest < 0.75 and paused.usual == pytest.approx(1.0, abs=0.01)
    # Level for longer than a seventh of the time it is two turns.
    assert circle([*turn(180.0), *straight(30), *turn(180.0)], 199, 349) is None


def test_who_never_came_back_within_the_gate_came_back_so_far_beside() -> None:
    for across_s, beside_nm in ((100, 100 * 110.0 / 3600.0), (400, 400 * 110.0 / 3600.0)):
        way = [*turn(180.0), *straight(60), *turn(90.0), *straight(across_s), *turn(90.0), *straight(200)]
        view = view_of(drawn(WAY_IN, way))
        assert nearest_way_back_nm(view, bare(left=199)) == pytest.approx(beside_nm, abs=0.05)
    assert nearest_way_back_nm(view_of(drawn(WAY_IN, [*turn(180.0), *straight(300)])), bare(left=199)) is None


@pytest.mark.parametrize(("turns_off_s", "end_s"), [(30, 70.0), (149, 189.0), (400, 190.0)])
def test_a_leg_broken_off_is_followed_until_it_leads_sixty_degrees_aside_or_for_two_and_a_half_minutes(
    turns_off_s: int, end_s: float
) -> None:
    time_s = np.arange(600.0)
    way = np.radians(
        np.where(time_s < 40 + turns_off_s, 210.0, np.where(time_s < 45 + turns_off_s, 241.0, 300.0))
    )
    one = motion(np.full(600, 100.0), ground_east_kt=np.sin(way), ground_north_kt=np.cos(way))
    measured: Any = bare(motion=one)
    assert _leg_end(measured, replace(a_turn(), end_s=40.0), 180.0) == end_s


# Loops


@pytest.mark.parametrize(
    ("legs_s", "plain"), [(((14, 14), (14, 14)), True), (((11, 11), (11, 11)), False), (((60, 60), (150, 150)), True),
                          (((60, 60), (180, 180)), False)]
)  # fmt: skip
def test_a_loop_is_plainly_a_hold_with_legs_and_laps_alike(
    legs_s: tuple[tuple[int, int], ...], plain: bool
) -> None:
    (stay, *_) = stays_at(drawn(WAY_IN, [*(s for legs in legs_s for s in lap(*legs)), *AWAY]), GIVEN)
    assert len(stay.laps) == 2
    assert _is_plain(stay) == plain
    assert not _is_plain(replace(stay, laps=stay.laps[:1], passages=stay.passages[:2]))


@pytest.mark.parametrize("side", [1, -1])
def test_a_hold_is_thought_of_wherever_a_straight_way_ends_in_a_turn_to_its_hand(side: int) -> None:
    track = drawn(WAY_IN, [*laps(3, side), *straight(100)])
    (flown,) = survey_flight(track)
    tried = _hypotheses(track, flown, 440, 240, side)
    plane = LocalPlane(*FIX)
    at = [(*plane.to_plane(np.array([h.fix_lat_deg]), np.array([h.fix_lon_deg]))[:2], h) for h in tried]
    near = [h for east, north, h in at if np.hypot(east, north)[0] < 0.5]
    assert near and all(abs(h.inbound_course_true_deg - COURSE_DEG) < 6.0 for h in near)
    # At the ends of legs only: on the course, or on the reciprocal.
    off = [abs((h.inbound_course_true_deg - COURSE_DEG + 90.0) % 180.0 - 90.0) for h in tried]
    assert max(off) < 13.0
    assert {h.turns for h in tried} == {"right" if side > 0 else "left"}
    assert not _hypotheses(track, flown, 440, 240, -side)


def test_the_other_end_is_as_likely_as_the_odds_say() -> None:
    """The chance that it is there after all is 1 / (1 + e^odds)."""
    track = drawn(WAY_IN, [*laps(3, 1), *AWAY])
    (stay,) = stays_at(track, GIVEN)
    kept, chance = likelier_end(track, stay, stay.start_s, stay.end_s)
    assert kept.view.hold == GIVEN and chance < 0.05
    flown, made = racetrack(TWO)
    odds = _end_log_odds(flown, replace(made, reasons=made.reasons._replace(departure=1.0)), made)
    assert 1.0 / (1.0 + np.exp(odds)) == pytest.approx(0.3318, abs=1e-4)


# Legs


def leg_of(seconds: float, circles_s: tuple[tuple[float, float], ...] = ()) -> Any:
    """Measure a leg whose heading still comes round to 020° as it begins, and leaves it as it ends."""
    at_s = np.arange(400.0)
    ends = np.exp(-(at_s - 100.0) / 2.0) + np.exp((at_s - 100.0 - seconds) / 2.0)
    inside = (at_s >= 100.0) & (at_s <= 100.0 + seconds)
    heading = np.where(inside, 20.0 + 12.0 * np.clip(ends, 0.0, 1.0), 200.0)
    for first, last in circles_s:
        heading[(at_s >= first) & (at_s <= last)] = 30.0
    one = motion(np.full(400, 100.0), heading_deg=heading, east_nm=at_s / 36.0, north_nm=2.0 * at_s / 36.0)
    measured: Any = bare(
        motion=one, wind=bare(mean_wind=lambda a, b: (0.0, 0.0, 2.0)), mean_tas=lambda a, b: (100.0, 1.0)
    )
    return _leg(measured, 100.0, 100.0 + seconds, circles_s), heading


@pytest.mark.parametrize(("seconds", "settles_s"), [(60.0, 3.0), (10.0, 2.0)])
def test_a_legs_heading_is_the_mean_of_what_lies_between_its_settling_and_its_end(
    seconds: float, settles_s: float
) -> None:
    """Three seconds at either end are left out, or a fifth of a short leg."""
    found, heading = leg_of(seconds)
    first, last = int(100 + settles_s), int(100 + seconds - settles_s)
    assert found.heading_deg == pytest.approx(heading[first : last + 1].mean(), abs=1e-6)
    # Twice as far north as east; two knots of wind at 100 kt, and 0.3°.
    assert found.track_deg == pytest.approx(np.degrees(np.arctan(0.5)))
    assert found.heading_sd_deg == pytest.approx(np.hypot(np.degrees(0.02), 0.3))
    assert found.duration_s == seconds


def test_a_circle_within_a_leg_has_no_part_in_its_heading_nor_what_is_near_it() -> None:
    found, heading = leg_of(60.0, ((120.0, 140.0),))
    there = np.r_[103:117, 144:158]
    assert found.heading_deg == pytest.approx(heading[there].mean(), abs=1e-6)


@pytest.mark.parametrize(("leg_s", "left_out_s"), [(15, 5), (23, 7), (60, 8)])
def test_of_the_direction_of_a_short_leg_the_first_third_is_left_out(leg_s: int, left_out_s: int) -> None:
    flown = survey([90.0, *straight(left_out_s), -90.0, *straight(leg_s)])
    assert _course(flown, 0, leg_s) == pytest.approx(0.0, abs=1e-6)
    # Two seconds later it would still have led aside.
    later = survey([90.0, *straight(left_out_s + 1), -90.0, *straight(leg_s)])
    assert _course(later, 0, leg_s) > 0.5


def test_a_bank_that_never_fell_below_a_level_crossed_it_where_it_is_first_seen() -> None:
    bank, time_s = np.array([12.0, 15.0, 18.0, 18.0, 9.0, 0.0]), np.arange(10.0, 16.0)
    assert _crossing(time_s, bank, 2, 1, 10.0) == 10.0
    assert _crossing(time_s, bank, 2, 1, 13.0) == pytest.approx(10.0 + 1.0 / 3.0)
    assert _crossing(time_s, bank, 3, -1, 6.0) == pytest.approx(14.0 + 1.0 / 3.0)
    # From below the level it is walked into the turn first.
    assert _crossing(time_s, bank, 0, 1, 13.0) == pytest.approx(10.0 + 1.0 / 3.0)


@pytest.mark.parametrize(
    ("turned_deg", "apart_nm", "width_nm", "like"),
    [
        (73.0, 0.0, 1.2, True),
        (-77.0, 0.0, 1.2, False),
        # Within a mile of its fix, or half of its turns' width.
        (0.0, 0.95, 1.2, True),
        (0.0, 1.05, 1.2, False),
        (0.0, 1.45, 3.0, True),
        (0.0, 1.55, 3.0, False),
    ],
)
def test_a_hypothesis_near_a_holds_fix_and_course_may_be_that_hold_read_better(
    turned_deg: float, apart_nm: float, width_nm: float, like: bool
) -> None:
    one = motion(np.full(300, 100.0), east_nm=np.linspace(0.0, 3.0 * width_nm, 300))
    # A third of the way is what the first turn leads across.
    turned: Any = bare(start_s=100.0, end_s=100.0 + 299.0 / 3.0)
    flown: Any = bare(hold=GIVEN, motion=one, circuits=[bare(outbound_turn=turned)])
    hold = replace(
        GIVEN, inbound_course_true_deg=COURSE_DEG + turned_deg, fix_lat_deg=FIX[0] + apart_nm / 60.0
    )
    assert _is_like(hold, flown) == like
    assert not _is_like(hold, bare(**{**vars(flown), "circuits": [bare(outbound_turn=None)]}))


def lap_turned(out_deg: float, in_deg: float) -> LapPhases:
    return LapPhases(100, 340, TurnRun(100, 160, out_deg), TurnRun(220, 280, in_deg), ())


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize(
    ("turns", "arrived_deg", "other"),
    [
        # One lap with both turns to the other hand, from the course, the first of them half a circle.
        ([(-180.0, -180.0)], 0.0, True),
        ([(-180.0, -180.0)], 60.0, True),
        ([(-180.0, -180.0)], 70.0, False),
        ([(-95.0, -180.0)], 0.0, False),
        ([(-105.0, -180.0)], 0.0, True),
        ([(-180.0, 180.0)], 0.0, False),
        ([(180.0, 180.0)], 0.0, False),
        # Of several more than half, and none but the first the hold's way.
        ([(-180.0, -180.0), (-180.0, -180.0)], 0.0, True),
        ([(180.0, 180.0), (-180.0, -180.0), (-180.0, -180.0)], 0.0, True),
        ([(-180.0, -180.0), (180.0, 180.0), (-180.0, -180.0)], 0.0, False),
        ([(180.0, 180.0), (-180.0, -180.0)], 0.0, False),
        # A lap of both hands is of the one it turned more to.
        ([(-180.0, -180.0), (-200.0, 100.0)], 0.0, True),
        ([(-180.0, -180.0), (-100.0, 200.0)], 0.0, False),
    ],
)
def test_the_hand_of_a_hold_is_the_other_where_all_that_was_flown_says_so(
    turns: list[tuple[float, float]], arrived_deg: float, other: bool, side: int
) -> None:
    view: Any = bare(hold=bare(side=side), met_deg=lambda _: arrived_deg)
    pieces = [lap_turned(side * out, side * back) for out, back in turns]
    assert _flown_side(view, pieces) == (-side if other else side)
