"""Which turns are a lap, which laps one hold, and what is one turn: just inside and just outside, on drawn seconds.

Nothing is flown: turns and laps are laid down as they would have been seen, so that each differs in one thing only.
"""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from analyser.circuits.racetrack import (
    RacetrackLap,
    TurnRun,
    _back_over,
    _course,
    _first_turn,
    _follows,
    _groups,
    _joined_late,
    _lap,
    _same_hold,
    _settled,
    _usual_rate,
    _without_left_lap,
    chains,
    circular_mean_deg,
    closing_nm,
    distance_nm,
    distances_nm,
    is_half_circle,
    point_m,
    smooth,
)
from analyser.circuits.turn_detection import _crossing, _hole_s, _mean_rate, _one_turn, _pieces_above
from analyser.motion.survey import Survey

NM = 1852.0
#: 108 kt is 3 NM in a hundred seconds.
MPS = 0.03 * NM


def survey(rates_dps: list[float], *, mps: float = MPS, from_deg: float = 0.0) -> Survey:
    """Fly turns second by second in still air, from the origin, first heading so."""
    rate = np.array(rates_dps)
    heading = np.radians(from_deg + np.cumsum(rate))
    east, north = mps * np.sin(heading), mps * np.cos(heading)
    return Survey(
        np.arange(float(rate.size)), np.cumsum(east) - east[0], np.cumsum(north) - north[0], east, north, rate,
        np.full(rate.size, 4000.0),
    )  # fmt: skip


def straight(seconds: int) -> list[float]:
    return [0.0] * seconds


def turn(degrees: float) -> list[float]:
    seconds = round(abs(degrees) / 3.0)
    return [degrees / seconds] * seconds


#: A racetrack of minutes, twice: out, back, out, back; then away.
LAPS = survey(
    [*straight(100), *(turn(180.0) + straight(60) + turn(180.0) + straight(60)) * 2, *straight(100)]
)
CHAIN = [TurnRun(start, start + 60, 180.0) for start in (100, 220, 340, 460)]


def test_a_lap_begins_where_it_turns_out_and_comes_back_over_that_place_on_its_course() -> None:
    lap = _lap(LAPS, CHAIN, 0)
    assert (lap.outbound, lap.inbound) == (CHAIN[0], CHAIN[1])
    assert lap.fix_m == pytest.approx(point_m(LAPS, 100))
    # Four minutes round, flown to the north: back where it began, on a course of 000°.
    assert lap.passage == pytest.approx(340, abs=2) and lap.miss_nm < 0.06
    assert abs((lap.course_deg + 180.0) % 360.0 - 180.0) < 1.0
    assert lap.legs == ((160, 220), (280, lap.passage))
    # The last of a chain is looked for as long as its leg and a minute and a half.
    last = _lap(LAPS, CHAIN, 2)
    assert last.passage == pytest.approx(580, abs=2) and last.miss_nm < 0.06


def test_the_direction_of_a_leg_leaves_its_roll_out_aside() -> None:
    """A leg that is met by a turn of 40° in its first eight seconds leads where the rest leads."""
    flown = survey([*[5.0] * 8, *straight(100)])
    assert _course(flown, 0, 100) == pytest.approx(40.0, abs=2.0)
    # Only the last minute and a half counts.
    bent = survey([*straight(60), *turn(60.0), *straight(90)])
    assert _course(bent, 0, bent.time_s.size - 1) == pytest.approx(60.0, abs=2.0)
    # Of a leg without length it is the way flown at its end.
    assert _course(survey([90.0, *straight(20)]), 5, 5) == pytest.approx(90.0)


@pytest.mark.parametrize(
    ("degrees", "half"), [(95.0, False), (105.0, True), (-105.0, True), (255.0, True), (270.0, False)]
)
def test_half_a_circle_is_one_give_or_take_the_drift_of_both_legs(degrees: float, half: bool) -> None:
    assert is_half_circle(TurnRun(0, 60, degrees)) == half


@pytest.mark.parametrize(
    ("leg_s", "side", "follows"),
    [(4, 1, False), (8, 1, True), (700, 1, True), (800, 1, False), (60, -1, False)],
)
def test_turns_follow_each_other_after_a_leg_on_the_same_hand(leg_s: int, side: int, follows: bool) -> None:
    assert _follows(TurnRun(60 + leg_s, 120 + leg_s, 180.0 * side), TurnRun(0, 60, 180.0)) == follows


def test_halves_of_one_circle_follow_without_a_leg() -> None:
    first, second = TurnRun(0, 60, 180.0, True), TurnRun(60, 120, 180.0, True)
    assert _follows(second, first) and not _follows(replace(second, half=False), first)
    assert not _follows(replace(second, change_deg=-180.0), first)


@pytest.mark.parametrize(
    ("degrees", "leg_s", "may"),
    [
        (50.0, 60, False),  # a correction
        (60.0, 60, True),  # a direct entry from the edge of its sector: 70°, and drift
        (-60.0, 60, False),
        (98.0, 60, True),
        (150.0, 60, False),  # half a circle already
        (265.0, 60, True),  # from another sector: nearly a whole circle
        (325.0, 60, True),
        (335.0, 60, False),
        (60.0, 190, True),
        (60.0, 210, False),
    ],
)
def test_a_lesser_or_a_greater_turn_may_be_the_first_of_a_direct_entry(
    degrees: float, leg_s: int, may: bool
) -> None:
    small = TurnRun(0, 30, degrees)
    assert _first_turn(small, TurnRun(30 + leg_s, 90 + leg_s, 180.0)) == may


@pytest.mark.parametrize(("correction_deg", "chained"), [(-70.0, True), (-80.0, False), (80.0, False)])
def test_a_course_regained_within_a_leg_ends_no_chain(correction_deg: float, chained: bool) -> None:
    first, last = TurnRun(0, 60, 180.0), TurnRun(130, 190, 180.0)
    found = chains([first, TurnRun(80, 100, correction_deg), last])
    assert ([first, last] in found) == chained


def test_a_lap_must_come_back_within_a_mile_or_half_of_its_turns_width() -> None:
    lap = _lap(LAPS, CHAIN, 0)
    # At 3 NM in a hundred seconds a half circle of a minute is 1.1 NM wide: a mile counts.
    assert closing_nm(LAPS, lap) == 1.0
    fast = survey(list(LAPS.turn_rate_dps), mps=4.0 * MPS)
    width = distance_nm(fast, 100, 160)
    assert width == pytest.approx(4.0 * 0.03 * 2.0 / np.radians(3.0), rel=0.01)
    assert closing_nm(fast, lap) == pytest.approx(0.5 * width)
    assert distances_nm(LAPS, slice(0, 101), point_m(LAPS, 0))[[0, 100]] == pytest.approx(
        [0.0, 3.0], rel=1e-4
    )
    assert point_m(LAPS, -5) == pytest.approx(point_m(LAPS, 0))
    assert point_m(LAPS, 10**6) == pytest.approx(point_m(LAPS, LAPS.time_s.size - 1))


def laid(
    fix_nm: tuple[float, float] = (0.0, 0.0), course_deg: float = 0.0, miss_nm: float = 0.1
) -> RacetrackLap:
    return replace(_lap(LAPS, CHAIN, 0), fix_m=np.array(fix_nm) * NM, course_deg=course_deg, miss_nm=miss_nm)


@pytest.mark.parametrize(
    ("fix_nm", "course_deg", "same"),
    [
        ((1.5, 0.0), 0.0, True),  # 1.6 times the tolerance of a mile
        ((0.0, 1.7), 0.0, False),
        ((1.0, 0.0), 38.0, True),
        ((1.0, 0.0), 322.0, True),
        ((1.0, 0.0), 42.0, False),
        # Begun at the very same point: the course may be met late, from the side.
        ((0.4, 0.0), 70.0, True),
        ((0.4, 0.0), 290.0, True),
        ((0.4, 0.0), 80.0, False),
    ],
)
def test_laps_of_one_hold_begin_near_one_point_and_come_back_on_one_course(
    fix_nm: tuple[float, float], course_deg: float, same: bool
) -> None:
    assert _same_hold(laid(), laid(fix_nm, course_deg), 1.0) == same


@pytest.mark.parametrize(
    ("misses_nm", "kept"),
    [
        ((0.1, 0.1, 0.75), 2),  # beyond 0.7 NM and five times the usual
        ((0.1, 0.1, 0.65), 3),
        ((0.2, 0.2, 0.95), 3),
        ((0.2, 0.2, 1.05), 2),
        ((3.0,), 1),
    ],
)
def test_a_last_lap_that_never_came_back_over_the_fix_was_left(
    misses_nm: tuple[float, ...], kept: int
) -> None:
    assert len(_without_left_lap([laid(miss_nm=miss) for miss in misses_nm])) == kept


def test_laps_are_parted_where_one_does_not_close_or_the_next_begins_elsewhere() -> None:
    def lengths(*laps: RacetrackLap) -> list[int]:
        return [len(group) for group in _groups(LAPS, list(laps))]

    assert lengths(laid(), laid(), laid()) == [3]
    assert lengths(laid(), laid(), laid((5.0, 0.0)), laid((5.0, 0.0))) == [2, 2]
    # One that does not close ends the hold; between like ones it was badly flown, up to two and a half times the mile.
    assert lengths(laid(), laid(miss_nm=3.0), laid((5.0, 0.0))) == [1, 1]
    assert lengths(laid(), laid(miss_nm=2.4), laid()) == [3]
    assert lengths(laid(), laid(miss_nm=2.6), laid()) == [1, 1]
    assert lengths(laid(), laid((2.4, 0.0)), laid()) == [3]
    assert lengths(laid(), laid((2.6, 0.0)), laid()) == [1, 1, 1]


@pytest.mark.parametrize(("before_s", "joined"), [(40, True), (75, False)])
def test_who_joins_from_the_side_may_fly_on_over_the_fix_for_a_minute(before_s: int, joined: bool) -> None:
    """The first turn is one of 80°; the fix lies straight before it."""
    first = TurnRun(100, 127, 80.0)
    lap = replace(_lap(LAPS, CHAIN, 0), outbound=first)
    fix_m = point_m(LAPS, 100 - before_s) + np.array([0.3 * NM, 0.0])
    # Farther than a mile from all of the last minute only where the fix lies that far back.
    fix_m = fix_m - np.array([0.0, 0.0 if joined else 0.7 * NM])
    found = _settled(LAPS, lap, fix_m)
    if joined:
        assert found.fix_m == pytest.approx(point_m(LAPS, 100 - before_s))
    else:
        assert found is lap
    assert _joined_late(LAPS, lap, fix_m).fix_m == pytest.approx(found.fix_m)


def test_a_turn_that_began_before_the_fix_is_cut_where_it_passes_it() -> None:
    """Of 240° the first 60 are the end of the way in."""
    flown = survey(
        [*straight(100), *turn(240.0), *straight(60), *turn(180.0), *straight(80), *straight(100)],
        from_deg=300.0,
    )
    merged = TurnRun(100, 180, 240.0)
    fix_m = point_m(flown, 120)
    lap = replace(_lap(flown, [merged, TurnRun(240, 300, 180.0)], 0), course_deg=0.0)
    found = _settled(flown, lap, fix_m)
    assert found.outbound.start == 120 and found.outbound.change_deg == pytest.approx(180.0, abs=3.1)
    assert found.fix_m == pytest.approx(fix_m)
    # On a turn of 200° nothing is cut, nor where the fix lies more than a mile beside the turn.
    usual = replace(lap, outbound=TurnRun(100, 167, 200.0))
    assert _settled(flown, usual, fix_m) is usual
    assert _settled(flown, lap, fix_m + np.array([-9.0 * NM, 0.0])) is lap


def test_the_way_back_is_looked_for_until_a_minute_after_it_was_first_seen() -> None:
    lap = replace(_lap(LAPS, CHAIN, 0), passage=300)
    fix_m = point_m(LAPS, 350)
    found = _back_over(LAPS, lap, fix_m)
    assert (found.passage, found.miss_nm) == (350, pytest.approx(0.0))
    # At 300 and a minute it ends: the nearest of that is its last second.
    far = _back_over(LAPS, replace(lap, passage=285), point_m(LAPS, 350))
    assert far.passage == 344


def test_a_running_mean_keeps_sums_and_ends() -> None:
    step = np.r_[np.zeros(50), np.ones(50)]
    smoothed = smooth(step, 3.0)
    assert smoothed[[0, 20, -20, -1]] == pytest.approx([0.0, 0.0, 1.0, 1.0], abs=1e-9)
    assert smoothed[49] + smoothed[50] == pytest.approx(1.0)
    # Its slope in the middle is a Gaussian's height: 1 / (σ √(2π)).
    assert smoothed[50] - smoothed[49] == pytest.approx(1.0 / (3.0 * np.sqrt(2.0 * np.pi)), rel=0.01)
    impulse = smooth(np.eye(101)[50], 4.0)
    at = np.arange(101.0) - 50.0
    assert (at**2 @ impulse) == pytest.approx(16.0, rel=0.02)
    assert circular_mean_deg(np.array([350.0, 30.0])) == pytest.approx(10.0)


def test_the_usual_rate_is_that_of_the_turns_around_and_not_of_the_legs() -> None:
    """Of ten minutes four are turned at 3°/s, the rest not at all; an hour later at 1.5°/s."""
    early = np.tile(np.r_[np.full(60, 3.0), np.zeros(90)], 8)
    late = np.tile(np.r_[np.full(60, -1.5), np.zeros(90)], 8)
    usual = _usual_rate(np.r_[early, np.zeros(2400), late])
    assert usual[300] == pytest.approx(3.0) and usual[-300] == pytest.approx(1.5)
    assert usual[2400] == pytest.approx(0.0)


def pieces(*levels: tuple[int, float]) -> list[tuple[int, int]]:
    """Lay a bank of so many seconds each, as smoothed and as it was."""
    bank = np.concatenate([np.full(seconds, degrees) for seconds, degrees in levels])
    return _pieces_above(bank, bank, 8.0, 5.0)


def test_one_turn_goes_on_over_a_gap_in_which_the_wings_hardly_came_level() -> None:
    turned, rest = (30, 20.0), (10, 0.0)
    assert pieces(rest, turned, rest) == [(10, 39)]
    # Six degrees for five seconds are bank all along; three are level wings; six for ten seconds are a pause.
    assert pieces(rest, turned, (5, 6.0), turned, rest) == [(10, 74)]
    assert pieces(rest, turned, (5, 3.0), turned, rest) == [(10, 39), (45, 74)]
    assert pieces(rest, turned, (10, 6.0), turned, rest) == [(10, 39), (50, 79)]
    # Four and a half are no bank for five seconds, and yet for two, where only nearly level wings part a turn.
    assert pieces(rest, turned, (5, 4.5), turned, rest) == [(10, 39), (45, 74)]
    assert pieces(rest, turned, (2, 4.5), turned, rest) == [(10, 71)]
    assert pieces(rest, turned, (2, 3.5), turned, rest) == [(10, 39), (42, 71)]
    assert pieces(rest, (30, -20.0), rest) == []


def parts(*turned_deg: float, pauses_s: tuple[int, ...]) -> tuple[list[tuple[int, int]], np.ndarray]:
    """Turn through angles at 3°/s, with pauses between: the pieces and the heading, from 000°."""
    rates: list[float] = []
    found = []
    for k, degrees in enumerate(turned_deg):
        first = len(rates)
        rates += turn(degrees)
        found.append((first, len(rates)))
        rates += straight(pauses_s[k] if k < len(pauses_s) else 30)
    return found, np.concatenate([[0.0], np.cumsum(rates)])


@pytest.mark.parametrize(
    ("turned_deg", "pauses_s", "toward_deg", "kept"),
    [
        ((100.0, 80.0), (10,), 180.0, (0, 2)),  # half a circle in two parts
        ((100.0, 80.0), (30,), 180.0, (0, 1)),  # too long a pause for one turn
        ((140.0, 40.0), (10,), 180.0, (0, 1)),  # round already, and level since
        ((140.0, 80.0), (10,), 230.0, (0, 1)),
        ((140.0, 80.0), (3,), 230.0, (0, 2)),  # not level for long
        ((60.0, 120.0), (10,), 180.0, (0, 2)),  # the lesser part before is needed for half a circle
        ((40.0, 140.0), (10,), 180.0, (1, 2)),  # and is not
    ],
)
def test_of_the_pieces_of_a_turn_those_count_that_lead_to_its_leg(
    turned_deg: tuple[float, ...], pauses_s: tuple[int, ...], toward_deg: float, kept: tuple[int, int]
) -> None:
    found, heading = parts(*turned_deg, pauses_s=pauses_s)
    assert _one_turn(found, heading, toward_deg) == found[slice(*kept)]


def test_a_bank_is_crossed_between_its_samples_walking_out_of_the_turn() -> None:
    time_s = np.arange(20.0)
    bank = np.clip(4.0 * (time_s - 5.0), 0.0, 20.0)
    # Begin: 10° at 7.5 s; and from an origin below it, too.
    assert _crossing(time_s, bank, 12, 1, 10.0) == pytest.approx(7.5)
    assert _crossing(time_s, bank, 6, 1, 10.0) == pytest.approx(7.5)
    # End: read backwards.
    assert _crossing(time_s, bank[::-1], 8, -1, 10.0) == pytest.approx(19.0 - 7.5)
    # A turn that the log begins in.
    assert _crossing(time_s, np.full(20, 20.0), 5, 1, 10.0) == 0.0
    assert _mean_rate(time_s, 3.0 * time_s, 2.5, 9.0) == pytest.approx(3.0)


def test_a_hole_near_an_instant_is_as_long_as_it_lasted() -> None:
    hole = np.zeros(200, bool)
    hole[80:120] = True
    time_s = np.arange(200.0)

    def span(a: float, b: float) -> slice:
        return slice(*np.searchsorted(time_s, [a, b]).tolist())

    motion: Any = SimpleNamespace(time_s=time_s, in_hole=hole, span=span)
    # Six seconds beside it still count, eight do not.
    assert [_hole_s(motion, at) for at in (100.0, 75.0, 124.0)] == pytest.approx([40.0] * 3)
    assert [_hole_s(motion, at) for at in (72.0, 128.0)] == [0.0, 0.0]
    hole[190:] = True
    assert _hole_s(motion, 195.0) == pytest.approx(9.0, abs=1.0)
