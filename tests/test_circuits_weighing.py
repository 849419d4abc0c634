"""What speaks for one reading of a lap and against another, each weight against its closed form (derived).

Weights are logarithms of odds. What they stand for is said here in words of the trade, not read from the table.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations, pairwise
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy.special import logsumexp

from analyser.circuits.fix_passages import (
    Passage,
    _again,
    _best_passages,
    _Circle,
    _fits,
    _gain,
    _likeliest,
    _SeenPassage,
    _spans,
    _ways_inbound,
    arrivals_over,
)
from analyser.circuits.laps_and_entries import (
    LapPhases,
    _chance_of_hand,
    _leg_fits,
    _prior,
    _turning,
    arrival_heading,
)
from analyser.circuits.loops import (
    Loop,
    _end_log_odds,
    _led_over,
    _off_the_minute,
    _scatter_along_nm,
    _wander_dps,
)
from analyser.circuits.racetrack import RacetrackLap, TurnRun
from analyser.circuits.thresholds import GIVEN
from tests.test_circuits_rules import TWO, racetrack
from tests.test_motion_speeds import motion

NM = 1852.0
STEADY = _Circle(once_s=120.0, width_nm=1.2, usual=1.0, slowest=0.44, hidden_share=0.0)


# One circle, or two turns that run into each other


@pytest.mark.parametrize(
    ("other", "odds"),
    [
        ({}, 0.0),
        # One more for each 0.08 of the hold's usual turning, and three at most.
        ({"slowest": 0.36}, 1.0),
        ({"slowest": 0.52}, -1.0),
        ({"slowest": 0.0}, 3.0),
        ({"slowest": 1.0}, -3.0),
        # At less than six tenths of the usual turning it is steady by its own, and hardly two turns.
        ({"usual": 0.61}, 0.0),
        ({"usual": 0.59, "slowest": 0.44 * 0.59}, -2.5),
        # Of what nobody saw it is open.
        ({"slowest": 1.0, "hidden_share": 0.5}, float(np.log(0.5 * np.exp(-3.0) + 0.5))),
    ],
)
def test_the_slowest_of_its_turning_tells_a_circle_from_two_turns(
    other: dict[str, float], odds: float
) -> None:
    assert replace(STEADY, **other).odds == pytest.approx(odds, abs=1e-9)


@pytest.mark.parametrize(
    ("nearest_nm", "crosses", "usual_miss_nm", "gain"),
    [
        (0.0, True, 0.0, GIVEN.circle_met_odds),
        # One sigma is 0.15 of its width.
        (0.15 * 1.2, True, 0.0, GIVEN.circle_met_odds * np.exp(-0.5)),
        (0.9, True, 0.0, 0.0),
        # Beyond a mile and a half it was lost; unless his others lie half as far beside it.
        (1.45, True, 0.0, 0.0),
        (1.55, True, 0.0, -GIVEN.circle_lost_odds),
        (1.55, True, 0.8, 0.0),
        (1.55, True, 0.77, -GIVEN.circle_lost_odds),
        # It never crossed the perpendicular.
        (0.0, False, 0.0, -GIVEN.circle_short_odds),
    ],
)
def test_a_circle_over_the_fix_may_end_a_lap_and_one_beside_it_hardly(
    nearest_nm: float, crosses: bool, usual_miss_nm: float, gain: float
) -> None:
    seen = _SeenPassage(Passage(0, nearest_nm), nearest_nm, crosses, STEADY)
    assert _gain(seen, usual_miss_nm) == pytest.approx(gain, abs=1e-4)
    assert _gain(replace(seen, circle=None), usual_miss_nm) == 0.0


def test_laps_of_one_pilot_take_about_as_long() -> None:
    """A ninth part or two of them, one sigma; no lap speaks against it by more than so much."""
    assert _fits(200.0, 200.0, 0.18) == 0.0
    assert _fits(200.0, 200.0, 0.09) == pytest.approx(np.log(2.0))
    for sigmas in (1.0, -1.5):
        took_s = 200.0 * np.exp(0.09 * sigmas)
        assert _fits(took_s, 200.0, 0.09) == pytest.approx(np.log(2.0) - 0.5 * sigmas**2)
    assert _fits(900.0, 200.0, 0.18) == -GIVEN.rhythm_most
    # In less than a minute nobody flies a lap.
    assert _fits(61.0, 61.0, 0.18) == 0.0 and _fits(59.0, 59.0, 0.18) == -2.0 * GIVEN.rhythm_most


def test_a_second_circle_is_so_much_more_rare() -> None:
    assert [_again(n, circled=False) for n in range(4)] == [0.0, 0.0, 2.5, 5.0]
    assert [_again(n, circled=True) for n in range(3)] == [0.0, 2.5, 5.0]


def test_a_lap_leads_from_passage_to_passage_over_three_circles_at_most() -> None:
    sure = _SeenPassage(Passage(0, 0.0), 0.0, True, None)
    circle = replace(sure, circle=STEADY)
    assert set(_spans([sure, circle, sure])) == {(0, 1), (1, 2), (0, 2)}
    assert [first for first, last in _spans([sure, sure, sure]) if last == 2] == [1]
    assert min(first for first, last in _spans([sure, *[circle] * 4, sure]) if last == 5) == 1


@pytest.mark.parametrize("seed", range(12))
def test_of_all_choices_of_passages_the_one_is_taken_for_which_most_speaks(seed: int) -> None:
    """Every choice is weighed: its laps' times, the circles that end its laps, those left out, and those after it."""
    random = np.random.default_rng(seed)
    at = np.cumsum(random.choice([70, 120, 130, 240, 260], 7))
    seen = [
        _SeenPassage(
            Passage(int(one), 0.1), 0.1, bool(random.random() < 0.8),
            replace(STEADY, slowest=random.uniform(0.3, 0.6)) if random.random() < (1.0, 0.6)[seed % 3 > 0] else None,
        )
        for one in at
    ]  # fmt: skip
    usual_s = float(random.choice([120.0, 240.0]))
    surely = [i for i, one in enumerate(seen) if one.circle is None]

    def speaks(choice: tuple[int, ...], spread: float) -> float:
        left_out = [i for i in range(choice[-1]) if i not in choice]
        if not set(surely) <= set(choice) or max(np.diff(choice), default=1) > 4:
            return -np.inf
        # One lap alone is like no other: of its time the wider spread is thought.
        total = np.log(spread / 0.18) + sum(_gain(seen[i], 0.1 if surely else 0.0) for i in choice)
        for a, b in pairwise(choice):
            circles_s = sum(120.0 for i in left_out if a < i < b)
            total += _fits(float(at[b] - at[a]) - circles_s, usual_s, spread)
        return float(
            total
            - _again(len(left_out), circled=False)
            - GIVEN.circle_after_odds * (len(seen) - 1 - choice[-1])
        )

    choices = [c for many in range(1, 8) for c in combinations(range(7), many)]
    for spread in (0.09, 0.18):
        told, kept = _best_passages(seen, usual_s, spread)
        most = max(speaks(one, spread) for one in choices)
        assert told == pytest.approx(most)
        assert speaks(tuple(seen.index(one) for one in kept), spread) == pytest.approx(most)


def test_a_circle_within_a_leg_ends_no_lap_and_laps_without_legs_are_laps() -> None:
    def passed(*times: int, circles: tuple[int, ...]) -> list[int]:
        seen = [_SeenPassage(Passage(t, 0.6), 0.6, True, STEADY if t in circles else None) for t in times]
        return [one.passage.index for one in _likeliest(seen)]

    # Every four minutes, and once in six, of which two were a circle.
    assert passed(0, 240, 540, 600, 840, circles=(540,)) == [0, 240, 600, 840]
    assert passed(0, 120, 240, 360, 480, circles=(120, 240, 360, 480)) == [0, 120, 240, 360, 480]
    # In half a minute nobody flies a lap.
    assert len(passed(0, 31, 62, circles=(0, 31, 62))) < 3


def test_a_way_leads_inbound_within_65_degrees_and_keeps_its_name_across() -> None:
    def ways(*off_deg: float) -> list[tuple[int, int]]:
        return _ways_inbound(np.repeat(np.array(off_deg), 10))

    assert ways(180.0, 95.0, 64.0, 95.0, 180.0) == [(20, 40)]
    assert ways(180.0, 66.0, 180.0) == []
    # It ends where it leads outbound by as much.
    assert ways(0.0, 114.0, 0.0) == [(0, 30)] and ways(0.0, 116.0, 0.0) == [(0, 10), (20, 30)]
    # It begins where it stopped leading outbound: within the last of the turn.
    assert ways(180.0, 80.0, 0.0) == [(10, 30)] and ways(180.0, 91.0, 0.0) == [(20, 30)]


@pytest.mark.parametrize(("away_nm", "visits"), [(0.25, 1), (0.35, 2)])
def test_between_two_visits_to_a_fix_lies_a_third_of_a_mile(away_nm: float, visits: int) -> None:
    way = np.interp(np.arange(0, 90), [0, 20, 40, 60, 89], [5.0, 0.1, 0.1 + away_nm, 0.1, 5.0])
    view: Any = SimpleNamespace(away_nm=way)
    assert len(arrivals_over(view, 0, 90)) == visits


@pytest.mark.parametrize(("nearest_nm", "visits"), [(1.45, 1), (1.55, 0)])
def test_an_arrival_comes_within_a_mile_and_a_half(nearest_nm: float, visits: int) -> None:
    view: Any = SimpleNamespace(away_nm=nearest_nm + np.abs(np.arange(-50.0, 50.0)) / 30.0)
    assert len(arrivals_over(view, 0, 100)) == visits


# An entry, or a lap


# Common practice: of those who come from a sector so many fly each entry; 5° of a border are open (Doc 8168).
FROM_OFFSET = {"offset": 0.68, "direct": 0.12, "parallel": 0.12, "other": 0.08}
FROM_PARALLEL = {"offset": 0.1, "direct": 0.12, "parallel": 0.75, "other": 0.03}
FROM_DIRECT = {"offset": 0.015, "direct": 0.9, "parallel": 0.08, "other": 0.005}


@pytest.mark.parametrize(
    ("short_deg", "shares"),
    [
        (35.0, (1.0, 0.0, 0.0)),
        (-55.0, (0.0, 1.0, 0.0)),
        (180.0, (0.0, 0.0, 1.0)),
        # US Navy P-821, figure 3-8: the sectors meet 70° short of the outbound course, on it, and 110° beyond it.
        (70.0, (0.5, 0.0, 0.5)),
        (0.0, (0.5, 0.5, 0.0)),
        (-110.0, (0.0, 0.5, 0.5)),
        # One sigma of the normal distribution beyond the border (tables of it).
        (75.0, (0.15866, 0.0, 0.84134)),
    ],
)
def test_the_sector_that_the_heading_lies_in_is_evidence(
    short_deg: float, shares: tuple[float, float, float]
) -> None:
    found = _prior(short_deg)
    for kind, chance in found.items():
        each = (FROM_OFFSET[kind], FROM_PARALLEL[kind], FROM_DIRECT[kind])
        assert np.exp(chance) == pytest.approx(np.dot(shares, each), abs=1e-4)


def leaning(lean_deg: float, drift_deg: float, leg_s: int = 60, turn_s: int = 30) -> tuple[Any, LapPhases]:
    """Fly a leg so far to the right of the reciprocal, in a wind that drifts it by so much to the right."""
    first, last = 100 + turn_s, 100 + turn_s + leg_s
    way = LapPhases(100, last + 120, TurnRun(100, first, 180.0), TurnRun(last, last + 60, 180.0), ())
    off = np.full(500, 180.0 - lean_deg)
    return SimpleNamespace(air_off_deg=off, time_s=np.arange(500.0), drift_deg=lambda off_deg: drift_deg), way


def weights(drift_deg: float, legs_deg: tuple[float, ...] = ()) -> tuple[np.ndarray, np.ndarray, float]:
    """Weigh the multiples of the drift by how usual they are and by the laps' legs; return where each leads, too."""
    multiples = np.arange(-3.0, 3.01, 0.25)
    usual = -0.5 * ((multiples - 1.2) / 0.9) ** 2
    usual[multiples < 0.0] = np.maximum(usual[multiples < 0.0], np.log(0.01))
    laid = np.clip(multiples * drift_deg, -50.0, 50.0)
    for leg_deg in legs_deg:
        usual = usual + np.log(np.exp(-0.5 * ((leg_deg - laid) / 8.0) ** 2) + 0.01)
    explained = float(logsumexp(usual))
    return np.exp(usual - explained), laid, explained


@pytest.mark.parametrize("lean_deg", [0.0, 10.0, 30.0, 45.0])
@pytest.mark.parametrize("drift_deg", [0.0, 12.0, 20.0])
def test_a_legs_heading_tells_an_offset_entry_from_the_reciprocal_however_the_drift_is_laid_off(
    lean_deg: float, drift_deg: float
) -> None:
    view, way = leaning(lean_deg, drift_deg)
    on_laps, laid, explained = weights(drift_deg)
    multiples = laid / drift_deg if drift_deg else np.arange(-3.0, 3.01, 0.25)
    # Half fly the 30° as they were taught: as a heading or as a track.
    taught = 0.5 * np.isclose(multiples, 0.0) + 0.5 * np.isclose(multiples, 1.0)

    def fit(lean: float, share: np.ndarray) -> float:
        near = np.exp(-0.5 * ((lean_deg - lean - laid) / 8.0) ** 2)
        return explained + float(np.log((share * near).sum() + 0.01))

    found = _leg_fits(view, way, 1, [], 0.0)
    assert found == pytest.approx((fit(0.0, on_laps), fit(30.0, 0.5 * taught + 0.5 * on_laps)))


@pytest.mark.parametrize("side", [1, -1])
def test_an_offset_entrys_drift_is_that_on_the_holding_side(side: int) -> None:
    view, way = leaning(side * 24.0, side * 12.0)
    view.drift_deg = lambda off_deg: side * 12.0 if side * (180.0 - off_deg) >= 0.0 else 0.0
    assert _leg_fits(view, way, side, [], 0.0) == pytest.approx(_leg_fits(*leaning(24.0, 12.0), 1, [], 0.0))


def test_the_legs_of_the_laps_tell_how_their_pilot_lays_off_drift() -> None:
    view, way = leaning(24.0, 12.0)
    assert _leg_fits(view, way, 1, [way], 0.0)[0] == pytest.approx(
        weights(12.0, (24.0,))[2]
        + np.log(
            (weights(12.0, (24.0,))[0] * np.exp(-0.5 * ((24.0 - weights(12.0)[1]) / 8.0) ** 2)).sum() + 0.01
        )
    )
    # A leg of less than a dozen seconds tells nothing of it.
    short = leaning(24.0, 12.0, leg_s=11)[1]
    assert _leg_fits(view, way, 1, [short], 0.0) == _leg_fits(view, way, 1, [], 0.0)


def test_an_entry_lacks_its_leg_ten_times_as_rarely_as_a_lap() -> None:
    # Turned back within 40 s of the fix: half a minute, and the turn onto it.
    for turn_s, less in ((30, np.log(0.1)), (45, 0.0)):
        lap, entry = _leg_fits(*leaning(0.0, 0.0, leg_s=8, turn_s=turn_s), 1, [], 0.0)
        assert entry - lap == pytest.approx(less)


@pytest.mark.parametrize(("side", "chance"), [(1, 0.997), (-1, 0.003)])
def test_the_hand_of_a_turn_is_misread_three_times_in_a_thousand(side: int, chance: float) -> None:
    view: Any = SimpleNamespace(seen=np.ones(500, dtype=bool), rate_dps=np.full(500, 3.0))
    assert _chance_of_hand(view, leaning(0.0, 0.0)[1], side) == pytest.approx(chance)


def test_a_second_is_the_more_turn_the_more_of_the_usual_rate_it_has() -> None:
    """As much turn as leg at four tenths of it; a quarter more or less counts fully, and half as much again at most."""
    found = _turning(np.array([0.4, 0.65, 0.15, 1.2, -1.0]))
    assert found == pytest.approx([0.0, 1.0, -1.0, 1.5, -1.5])


@pytest.mark.parametrize(("turn_s", "heading_deg"), [(105.0, 20.0), (96.0, 10.0)])
def test_the_heading_over_the_fix_is_that_of_five_seconds_before_the_turn_begins(
    turn_s: float, heading_deg: float
) -> None:
    """From seven to two seconds before the fix, or as long before the turn where that begins sooner."""
    at_s = np.arange(200.0)
    heading = np.where(at_s < 90.0, 0.0, np.where(at_s < 93.0, 10.0, np.where(at_s <= 98.0, 20.0, 60.0)))
    if turn_s < 100.0:
        heading = np.where((at_s >= 90.0) & (at_s <= 95.0), 10.0, 60.0)
    flown = motion(np.full(200, 100.0), heading_deg=heading, heading_sd_deg=np.full(200, 2.0))
    measured: Any = SimpleNamespace(motion=flown)
    # What is known of it: its sigma, and a degree.
    assert arrival_heading(measured, 100.0, turn_s) == pytest.approx((heading_deg, np.sqrt(5.0)))


# Which end is the fix


def test_how_far_the_usual_leg_is_from_a_minute() -> None:
    assert _off_the_minute([(0, 60)]) == 0.0
    assert _off_the_minute([(0, 45), (0, 90), (0, 300)]) == pytest.approx(np.log(1.5))
    # Half or twice a minute was not timed to be one: from there on all are alike.
    assert _off_the_minute([(0, 20)]) == _off_the_minute([(0, 300)]) == 0.7


def test_how_far_along_the_course_turns_begin() -> None:
    survey, found = racetrack([(60, 60)] * 3)
    begun = [lap.outbound.start for lap in found.laps]
    # Still air: all begin at one place, moved here by so many seconds of 110 kt along the course, which is east.
    off_s = np.array([0, -10, -20])
    scatter = np.sqrt(((off_s + 10) ** 2).mean()) * 110.0 / 3600.0
    moved = [at + int(off) for at, off in zip(begun, off_s, strict=True)]
    assert _scatter_along_nm(survey, 90.0, begun) < 0.01
    heading = np.degrees(np.arctan2(survey.east_mps[begun[0] - 30], survey.north_mps[begun[0] - 30]))
    assert _scatter_along_nm(survey, float(heading), moved) == pytest.approx(scatter, rel=0.05)


def test_how_much_a_leg_turns_hither_and_thither() -> None:
    survey, _ = racetrack(TWO)
    rate = np.zeros(survey.time_s.size)
    # A steady swing of 0.5° a second either way is one of 0.5 rms; within a second it is none.
    rate[100:200] = np.where((np.arange(100) // 25) % 2 == 0, 0.5, -0.5)
    swinging = replace(survey, turn_rate_dps=rate)
    # From five seconds after a leg's beginning to four before its end, over at least eight.
    assert _wander_dps(swinging, [(100, 122)]) == pytest.approx(0.5)
    assert _wander_dps(swinging, [(94, 108)]) is None and _wander_dps(swinging, [(94, 112)]) is not None
    rate[100:200] = np.where(np.arange(100) % 2 == 0, 0.5, -0.5)
    assert _wander_dps(replace(survey, turn_rate_dps=rate), [(100, 200)]) == pytest.approx(0.1)


def test_what_speaks_for_an_end_is_weighed_and_no_one_thing_decides_alone() -> None:
    """Points for laps, arrival and departure count 0.8, 0.3 and 0.7 each, six of them at most."""
    survey, found = racetrack(TWO)

    def odds(**points: float) -> float:
        return _end_log_odds(survey, replace(found, reasons=found.reasons._replace(**points)), found)

    assert odds() == 0.0
    assert odds(laps=found.reasons.laps + 2.0) == pytest.approx(1.6)
    assert odds(arrival=found.reasons.arrival - 2.0) == pytest.approx(-0.6)
    assert odds(departure=found.reasons.departure + 1.0) == pytest.approx(0.7)
    assert odds(laps=found.reasons.laps + 60.0) == pytest.approx(4.8)


def test_the_arrival_led_over_one_end_or_the_other() -> None:
    """0.15 NM is as near as anybody passes; what comes after the end that it met first says nothing."""
    survey, found = racetrack(TWO)
    # Two minutes straight at 110 kt lead to the first turn; the other end lies so far beside the way.
    start = found.laps[0].outbound.start
    survey = replace(
        survey, **{name: np.concatenate([[getattr(survey, name)[0]] * 100, getattr(survey, name)])
                   for name in ("east_m", "north_m", "east_mps", "north_mps", "turn_rate_dps", "altitude_ft")},
        time_s=np.arange(survey.time_s.size + 100.0),
    )  # fmt: skip

    def later(lap: RacetrackLap) -> RacetrackLap:
        moved = [replace(t, start=t.start + 100, end=t.end + 100) for t in (lap.outbound, lap.inbound)]
        return replace(lap, outbound=moved[0], inbound=moved[1], passage=lap.passage + 100)

    one = replace(found, laps=tuple(map(later, found.laps)))
    over = np.array([survey.east_m[start + 100], survey.north_m[start + 100]])
    beside = over + NM * np.array([-0.5, 0.0])
    far = (
        np.hypot(*(np.array([survey.east_m, survey.north_m])[:, : start + 105] - beside[:, None])).min() / NM
    )
    led = _led_over(survey, replace(one, fix_m=over), replace(one, fix_m=beside))
    assert led == pytest.approx(np.log((far**2 + 0.15**2) / 0.15**2), abs=0.02)
    assert _led_over(survey, replace(one, fix_m=beside), replace(one, fix_m=over)) == pytest.approx(-led)
    # In less than two minutes before the first turn no arrival is seen.
    assert _led_over(replace(survey), found, found) == 0.0


# Circling


LOOP = Loop(start=0, end=100, course_deg=0.0, side=1, laps=1, miss_nm=0.1, straight_share=0.3, rate_dps=3.0)


@pytest.mark.parametrize(
    ("lap_s", "straight_share", "circling"),
    [(77, 0.45, True), (77, 0.55, False), (79, 0.45, False), (300, 0.04, True), (300, 0.06, False)],
)
def test_round_quickly_with_little_of_it_straight_is_circling(
    lap_s: int, straight_share: float, circling: bool
) -> None:
    assert replace(LOOP, end=lap_s, straight_share=straight_share).is_circling == circling
    assert replace(LOOP, end=2 * lap_s, laps=2, straight_share=straight_share).is_circling == circling


@pytest.mark.parametrize(
    ("lap_s", "rate_dps", "laps", "steep", "thermal"),
    [
        (77, 4.6, 1, True, False),
        (77, 4.4, 1, False, False),
        (79, 4.6, 1, False, False),
        (77, 4.6, 2, False, False),
        (70, 6.2, 1, True, False),
        (72, 6.2, 1, True, True),
    ],
)
def test_once_round_too_fast_for_a_hold_is_airwork_and_more_than_once_round_in_the_time_a_thermal(
    lap_s: int, rate_dps: float, laps: int, steep: bool, thermal: bool
) -> None:
    loop = replace(LOOP, end=lap_s * laps, laps=laps, rate_dps=rate_dps)
    assert (loop.is_steep, loop.is_thermal) == (steep, thermal)
