"""From runs of turning to racetracks, step by step, and the words for what was no hold or may have been one.

Drawn in still air at rate one, three degrees a second (:mod:`tests.drawn_flights`): half a circle lasts a minute.
"""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from analyser.circuits import evidence
from analyser.circuits.evidence import best_readings, fits_entry, turned_back
from analyser.circuits.find import doubted, find_holds, log_ends_reason, lone_in_doubt, search
from analyser.circuits.flown import Objection
from analyser.circuits.racetrack import (
    Racetrack,
    TurnRun,
    chains,
    circles_halved,
    ending_within,
    is_chorded,
    place_on_earth,
    turn_runs,
)
from analyser.logs.track import Track
from analyser.motion.survey import Survey, survey_flight
from tests.drawn_flights import COURSE_DEG, FIX, drawn, laps, straight, turn

WAY_IN = straight(200)


def survey_of(after: list[float], before: list[float] = WAY_IN) -> Survey:
    (survey,) = survey_flight(drawn(before, after))
    return survey


def runs_of(after: list[float]) -> list[tuple[int, int, float]]:
    """Return every turn as start and end, seconds after the fix, and degrees."""
    runs = turn_runs(survey_of(after), 3.0)
    return [(r.start - 200, r.end - 200, r.change_deg) for r in runs]


def test_turns_are_found_with_their_ends_and_angles() -> None:
    found = runs_of([*laps(1, 1), *turn(-90.0), *straight(100)])
    assert [deg for _, _, deg in found] == pytest.approx([180.0, 180.0, -90.0], abs=6.0)
    assert [a for a, _, _ in found] == pytest.approx([0, 120, 240], abs=4)
    assert [b for _, b, _ in found] == pytest.approx([60, 180, 270], abs=4)


@pytest.mark.parametrize(("correction_deg", "turns"), [(20.0, 1), (45.0, 2)])
def test_a_small_change_of_heading_is_no_turn(correction_deg: float, turns: int) -> None:
    assert len(runs_of([*turn(180.0), *straight(80), *turn(correction_deg), *straight(80)])) == turns


@pytest.mark.parametrize(("level_s", "turns"), [(6, 1), (30, 2)])
def test_wings_level_for_a_moment_do_not_part_a_turn(level_s: int, turns: int) -> None:
    assert len(runs_of([*turn(90.0), *straight(level_s), *turn(90.0), *straight(80)])) == turns


def test_whole_circles_are_halved_where_half_of_them_was_turned() -> None:
    survey = survey_of([*turn(360.0), *straight(60), *turn(180.0), *straight(100)])
    circle, half = turn_runs(survey, 3.0)
    first, second, other = circles_halved(survey, [circle, half])
    assert (first.start, second.end, first.end) == (circle.start, circle.end, second.start)
    assert first.end - 200 == pytest.approx(60, abs=2)
    assert first.half and second.half and first.change_deg == second.change_deg == circle.change_deg / 2.0
    assert other == half


def test_turns_that_end_within_a_stretch_are_taken_with_both_its_ends() -> None:
    runs = [TurnRun(a, a + 10, 90.0) for a in (0, 100, 200, 300)]
    assert list(ending_within(runs, 110, 210)) == runs[1:3]


@pytest.mark.parametrize(("every_s", "chorded"), [(1, False), (20, True)])
def test_positions_joined_by_straight_lines_are_seen_to_be(every_s: int, chorded: bool) -> None:
    track = drawn(WAY_IN, [*laps(3, 1), *straight(100)])
    at = track.time_s[::every_s]
    lat, lon = (np.interp(track.time_s, at, values[::every_s]) for values in (track.lat_deg, track.lon_deg))
    (survey,) = survey_flight(replace(track, lat_deg=lat, lon_deg=lon))
    assert is_chorded(survey) == chorded


def test_a_place_between_two_samples_astride_the_date_line() -> None:
    track = Track(
        "", "table", "", np.array([0.0, 10.0]), np.array([10.0, 10.2]), np.array([179.9, -179.9]), {}
    )
    assert place_on_earth(track, 2.5) == pytest.approx((10.05, 179.95))
    assert place_on_earth(track, 7.5) == pytest.approx((10.15, -179.95))


def runs(*pieces: tuple[float, float]) -> list[TurnRun]:
    """Lay turns one after another at rate one, each after so many seconds of straight flight: (seconds, degrees)."""
    found, at = [], 0
    for level_s, degrees in pieces:
        start = at + round(level_s)
        at = start + round(abs(degrees) / 3.0)
        found.append(TurnRun(start, at, degrees))
    return found


@pytest.mark.parametrize(
    ("pieces", "lengths"),
    [
        # Four like turns; a correction of 40° between them, and one of a right angle; the other hand.
        ([(0, 180), (60, 180), (60, 180), (60, 180)], [4]),
        ([(0, 180), (60, 180), (20, -40), (20, 180), (60, 180)], [4]),
        ([(0, 180), (60, 180), (20, -90), (20, 180), (60, 180)], [2, 2]),
        ([(0, 180), (60, 180), (60, -180), (60, -180)], [2, 2]),
        # A circle within a leg to lose time, of the same hand; a journey between.
        ([(0, 180), (30, 360), (30, 180), (60, 180)], [3]),
        ([(0, 180), (60, 180), (900, 180), (60, 180)], [2, 2]),
        # A turn of 80° and one of 300° over the fix may begin a lap: read with them and without.
        ([(0, 80), (60, 180), (60, 180)], [2, 3]),
        ([(0, 300), (60, 180), (60, 180)], [2, 3]),
        ([(0, 30), (60, 180), (60, 180)], [2]),
    ],
)
def test_turns_of_one_hand_that_follow_each_other_make_a_chain(
    pieces: list[tuple[float, float]], lengths: list[int]
) -> None:
    assert sorted(len(chain) for chain in chains(runs(*pieces))) == sorted(lengths)


def reading_of(before: list[float], side: int = 1) -> tuple[Survey, Racetrack]:
    survey = survey_of([*laps(2, side), *turn(60.0), *straight(60)], before)
    (best,), _ = best_readings(survey)
    return survey, best


@pytest.mark.parametrize(
    ("codes", "kept"),
    [
        # Best first: a reading whose laps begin ever farther on leaves the stretch to one from the other end …
        (("no-fix", ""), [1]),
        (("no-fix", "legs-swing"), []),
        # … while what speaks against a better one otherwise, and what is a hold, ends it.
        (("legs-swing", ""), []),
        (("", ""), [0]),
    ],
)
def test_laps_without_a_fix_at_one_end_may_have_it_at_the_other(
    codes: tuple[str, str], kept: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    survey, best = reading_of(WAY_IN)
    against = [Objection(code, "something speaks against it") if code else None for code in codes]
    found = [replace(best, score=2.0 - place, objection=one) for place, one in enumerate(against)]
    monkeypatch.setattr(evidence, "_all_readings", lambda _: found)
    holding, others = best_readings(survey)
    assert [round(2.0 - one.score) for one in holding] == kept
    assert len(others) == sum(map(bool, codes))


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize(("first_deg", "fits"), [(0.0, True), (60.0, True), (-75.0, True), (-120.0, False)])
def test_a_way_in_fits_an_entry_from_the_direct_sector_with_a_margin(
    first_deg: float, fits: bool, side: int
) -> None:
    # The direct sector of a right-hand hold: from 70° left of the course to 110° right of it, as the nose points
    # (US Navy P-821, figure 3-8). Who comes from its left turns right onto the lap: the angles add.
    survey, best = reading_of(WAY_IN, side)
    heading = np.radians(COURSE_DEG + side * first_deg)
    speed = survey.ground_speed_kt / 3600.0 * 1852.0
    coming = slice(0, best.start)
    east, north = survey.east_mps.copy(), survey.north_mps.copy()
    east[coming], north[coming] = speed[coming] * np.sin(heading), speed[coming] * np.cos(heading)
    alone = replace(best, before=None, turned_back=None)
    assert fits_entry(replace(survey, east_mps=east, north_mps=north), alone) == fits


def test_the_turn_back_of_a_parallel_entry_is_the_last_great_one_of_the_other_hand() -> None:
    _, best = reading_of(WAY_IN)
    at = best.start
    back, early = TurnRun(at - 90, at - 30, -200.0), TurnRun(at - 200, at - 150, -180.0)
    small, same = TurnRun(at - 28, at - 20, -40.0), TurnRun(at - 18, at - 5, 180.0)
    assert turned_back(best, [early, back, small, same]) == back
    assert turned_back(best, [small, same]) is None
    assert turned_back(best, [TurnRun(at - 400, at - 350, -200.0)]) is None


@pytest.mark.parametrize(
    ("after", "said"),
    [
        ([*turn(180.0), *straight(60)], True),
        ([*turn(180.0), *straight(200)], False),
        ([*turn(180.0), *straight(30), *turn(180.0), *straight(60)], False),
        ([*turn(90.0), *straight(60)], False),
    ],
)
def test_a_log_that_ends_soon_after_a_first_half_circle_says_so(after: list[float], said: bool) -> None:
    reasons = log_ends_reason(drawn(WAY_IN, after))
    assert [one.code for one in reasons] == (["log-ends"] if said else [])
    if said:
        assert reasons[0].lat_deg == pytest.approx(FIX[0], abs=0.005)
        # Of 320 seconds the last is the 319th, a minute after the turn.
        assert reasons[0].sentence.startswith("the log ends at 5:19, ")
        assert re.search(r"after a turn of 1(7[5-9]|80)°: too soon for a second one$", reasons[0].sentence)


def test_a_lone_lap_among_many_loops_is_doubted_in_words() -> None:
    (hold,) = find_holds(drawn(WAY_IN, [*laps(1, -1), *turn(60.0), *straight(100)]))
    one = doubted(hold, 3)
    assert (one.turns, one.laps, one.coarse) == ("left", 1, False)
    assert one.speaks_for == ("1 lap of two left-hand turns with a leg between, back over one point.",)
    assert one.speaks_against[1].startswith("The flight came round to 3 other places too")


def test_two_laps_of_which_one_turned_the_other_way_are_as_doubtful_as_a_lone_one() -> None:
    (hold,) = find_holds(drawn(WAY_IN, [*laps(2, 1), *turn(60.0), *straight(100)]))
    first, second = hold.circuits
    assert first.outbound_turn is not None
    other_hand = replace(first.outbound_turn, heading_change_deg=-first.outbound_turn.heading_change_deg)
    mixed = replace(hold, circuits=(replace(first, outbound_turn=other_hand), second))
    assert lone_in_doubt((hold,), 6) == ((hold,), [])
    assert lone_in_doubt((mixed,), 2) == ((mixed,), [])
    kept, (doubt,) = lone_in_doubt((mixed,), 6)
    assert not kept and (doubt.turns, doubt.laps) == ("right", 1)
    assert doubt.speaks_against[0] == "Only one of its 2 laps is right-handed throughout."


def test_what_a_coarse_log_cannot_tell_is_not_held_against_the_pilot() -> None:
    track = drawn(
        WAY_IN, [*turn(180.0), *straight(10), *turn(180.0), *straight(10), *turn(60.0), *straight(200)]
    )
    thin = slice(None, None, 20)
    coarse = replace(
        track, time_s=track.time_s[thin], lat_deg=track.lat_deg[thin], lon_deg=track.lon_deg[thin],
        channels={"altitude_ft": track.channels["altitude_ft"][thin]},
    )  # fmt: skip
    found = search(coarse)
    assert found.possible and not found.holds
    for one in found.possible:
        assert one.coarse
        assert "True positions lie 20 s apart: too coarse to tell turns from legs." in one.speaks_against
