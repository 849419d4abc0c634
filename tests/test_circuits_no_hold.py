"""Turning that draws something like a lap and is no hold: what is said of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analyser.circuits.find import search
from analyser.holds.definition import Hold
from tests.drawn_flights import drawn, laps, straight, turn
from tests.flights.as_track import seen_track
from tests.flights.flight import make_flight, see
from tests.flights.scenarios import main_case

WAY_IN = straight(300)


@pytest.mark.parametrize(
    ("out_s", "first_deg", "between_s", "then_deg"),
    [(40, 140, 30, 80), (40, 140, 30, 100), (40, 220, 15, -150)],
)
def test_a_leg_that_swings_round_is_airwork(
    out_s: int, first_deg: float, between_s: int, then_deg: float
) -> None:
    free = [*turn(180.0), *straight(out_s), *turn(first_deg), *straight(between_s), *turn(then_deg)]
    found = search(drawn(WAY_IN, [*free, *straight(40), *turn(-60.0), *straight(200)]))
    assert not found.holds
    assert found.nearest_miss is not None and "legs swing" in found.nearest_miss
    assert found.nearest_miss.startswith("1 lap ") and " looks like a racetrack" in found.nearest_miss


#: A reversal of course back over its own line; a box by vectors; an aerodrome circuit; a patrol's lap.
REVERSAL = [*straight(90), *turn(-45.0), *straight(25), *turn(225.0)]
BOX = [step for leg_s in (60, 90, 60, 90) for step in (*turn(90.0), *straight(leg_s))]
PATROL = [*turn(180.0), *straight(260), *turn(180.0), *straight(200)]
INVENTED: dict[str, list[float]] = {
    "calibration over one line": [*REVERSAL * 4, *straight(120)],
    "vectors around a box": [*BOX * 2, *straight(120)],
    "lines, turning alternately": [*([*turn(180.0), *straight(150), *turn(-180.0), *straight(150)] * 3)],
    "a patrol's lap": [*PATROL, *straight(120)],
    "a thermal": [*turn(340.0) * 2, *straight(120)],
    "a delaying S": [*turn(60.0), *straight(40), *turn(-120.0), *straight(40), *turn(60.0), *straight(120)],
    "a whole circle on final": [*turn(360.0), *straight(240)],
    "an arc": [*turn(-90.0), *([*turn(11.0), *straight(25)] * 10), *turn(-90.0), *straight(90)],
    "figures of eight": [*([*turn(270.0), *straight(30), *turn(-270.0), *straight(30)] * 4), *straight(60)],
}  # fmt: skip


@pytest.mark.parametrize("flown", INVENTED)
def test_what_is_no_hold_is_not_scored(flown: str) -> None:
    assert not search(drawn(WAY_IN, INVENTED[flown])).holds


def test_a_thermal_is_not_even_perhaps_a_hold() -> None:
    """Ten degrees a second, round in 36 s, again and again: nothing of a hold in it."""
    circling = [10.0] * 36 * 6
    found = search(drawn(WAY_IN, [*circling, *straight(120)]))
    assert not found.holds and not found.possible


def out_and_back(off_deg: float, leg_s: int = 60) -> list[float]:
    """Go off by an angle for so long and come back by one turn of rate one, to where that began."""
    # The turn is 0.64 NM wide, and leads back to the line it came from at the other side of the angle.
    return [*turn(-off_deg), *straight(leg_s), *turn(180.0 + 2.0 * off_deg), *straight(leg_s + 60)]


@pytest.mark.parametrize("given_hand", [1.0, -1.0])
def test_one_turn_back_over_a_place_is_perhaps_an_entry(given_hand: float) -> None:
    flown = [given_hand * step for step in out_and_back(20.0)]
    found = search(drawn(WAY_IN, flown))
    (perhaps,) = found.possible
    assert not found.holds and perhaps.turns == ("right" if given_hand > 0.0 else "left")
    assert perhaps.speaks_for[0].startswith(f"One {perhaps.turns}-hand turn of 2")
    assert "procedure turn" in perhaps.speaks_against[0]


@pytest.mark.parametrize(
    "after",
    [
        [*out_and_back(0.0), *straight(60)],
        [*out_and_back(20.0), *straight(800), *out_and_back(20.0)],
        [*straight(400), *turn(183.0), *straight(500)],
        [*turn(-20.0), *straight(60), *turn(130.0), *straight(300)],
    ],
    ids=["beside the way out", "more than one", "after long", "away to the side"],
)
def test_what_leads_back_otherwise_is_not_even_perhaps_one(after: list[float]) -> None:
    assert not search(drawn(WAY_IN, after)).possible


@pytest.mark.parametrize(("dip_ft", "scored"), [(300.0, True), (900.0, False)])
def test_laps_cut_by_coming_round_are_asked_for_their_height_too(dip_ft: float, scored: bool) -> None:
    """An approach flown again and again by vectors is no hold, however like a racetrack its laps come round."""
    track = drawn(WAY_IN, [*laps(3, 1), *straight(150)])
    lap_s = len(laps(1, 1))
    since = (np.arange(track.samples) - len(WAY_IN)) / lap_s
    # Down along the inbound leg, lowest over the fix, and up again in the turn.
    down = np.where(
        (since > 0.5) & (since < 3.5), np.clip(1.0 - 3.0 * np.abs(since - np.round(since)), 0.0, 1.0), 0.0
    )
    low = replace(track, channels={"altitude_ft": 4000.0 - dip_ft * down})
    assert bool(search(low).holds) is scored


@pytest.mark.parametrize("longer_s", [25, 40])
def test_laps_that_march_along_their_course_go_round_no_fix(longer_s: int) -> None:
    lap = [*turn(180.0), *straight(120), *turn(180.0), *straight(120 + longer_s)]
    found = search(drawn(WAY_IN, [*lap * 5, *straight(100)]))
    assert not found.holds
    assert found.nearest_miss is not None and "no fix" in found.nearest_miss
    assert " laps " in found.nearest_miss and " look like a racetrack" in found.nearest_miss


def test_laps_over_a_fix_met_now_early_and_now_late_are_a_hold() -> None:
    laps = [
        step
        for late_s in (0, 12, -10, 8, -12)
        for step in [*turn(180.0), *straight(120), *turn(180.0), *straight(120 + late_s)]
    ]
    found = search(drawn(WAY_IN, [*laps, *straight(100)]))
    assert len(found.holds) == 1
    assert len(found.holds[0].circuits) == 5


@pytest.mark.parametrize("index", [18, 21, 30])
def test_one_lap_badly_met_is_found_where_the_hold_is_given(index: int) -> None:
    # Direct entries from the side, with so much wind that the lap comes back far beside its beginning.
    case = main_case(index, seed=70)
    (planned,) = case.plan.holds
    flight = make_flight(replace(case.plan, holds=(replace(planned, circuits=1),)))
    (true,) = flight.holds
    hold = Hold(
        fix_lat_deg=true.fix_lat_deg,
        fix_lon_deg=true.fix_lon_deg,
        inbound_course_true_deg=true.course_deg,
        turns="right" if true.side > 0 else "left",
    )
    (found,) = search(seen_track(see(flight, case.receiver, case.plan.seed), "one lap"), [hold]).holds
    assert found.given
    assert len(found.circuits) == 1


def test_a_racetrack_that_cannot_be_cut_is_shown(monkeypatch: pytest.MonkeyPatch) -> None:
    """Laps that no hold of their own can cut are not lost without a word."""
    flown = drawn(WAY_IN, [*laps(2, 1), *straight(200)])
    assert search(flown).holds
    monkeypatch.setattr("analyser.circuits.find.stay_around", lambda *_, **__: None)
    monkeypatch.setattr("analyser.circuits.find.stay_at_loop", lambda *_, **__: None)
    found = search(flown)
    assert not found.holds and found.possible
    assert any("from one passage of its fix to the next" in said for said in found.possible[0].speaks_against)
    assert "no-lap-cut" in [one.code for one in found.reasons]


@pytest.mark.parametrize("held", [1, 2])
def test_an_approach_after_the_hold_is_no_lap_of_it(held: int) -> None:
    """Down to the ground and up again, over the fix once more: the laps before that are the hold."""
    approach = [*straight(120), *turn(180.0), *straight(180), *turn(180.0), *straight(120)]
    begun = len(WAY_IN) + len(laps(held, 1))
    track = drawn(WAY_IN, [*laps(held, 1), *approach, *turn(-40.0), *straight(200)])
    height = np.interp(
        track.time_s, [begun, begun + 140, begun + 250, begun + 490], [1826.0, 900.0, 80.0, 1826.0]
    )
    (level,) = search(track).holds
    assert len(level.circuits) > held
    (found,) = search(replace(track, channels={"altitude_ft": height})).holds
    assert len(found.circuits) == held
    assert found.end_s == pytest.approx(begun, abs=15.0)


def test_a_triangle_and_a_circle_on_either_side_of_a_long_hole_are_told_apart() -> None:
    triangle = [*turn(120.0), *straight(60)] * 3
    track = drawn(straight(200), [*triangle, *straight(400), *turn(-360.0), *straight(200)])
    track = track.take(np.flatnonzero((track.time_s <= 550.0) | (track.time_s >= 840.0)))
    found = search(track)
    assert [one.turns for one in found.possible] == ["right"]
    assert [reason.code for reason in found.reasons] == ["circles"]


@pytest.mark.parametrize(("lowest_after", "seed"), [(0.0, 0), (0.0, 6), (0.1, 4), (0.1, 11), (-0.1, 3)])
def test_laps_to_one_height_again_and_again_are_doubted_whatever_holes_hide_of_them(
    lowest_after: float, seed: int
) -> None:
    # Four laps of four minutes, down by 600 ft and up again; ten seconds in twenty-five are lost on average.
    track = drawn(straight(120), [*laps(4, 1), *turn(-60.0), *straight(120)])
    lap = (track.time_s - 120.0) / 240.0
    wave = 700.0 - 300.0 * np.cos(2.0 * np.pi * (lap - lowest_after))
    height = np.where((lap >= 0.0) & (lap <= 4.0), wave, 1000.0)
    rng = np.random.default_rng(seed)
    seen = np.ones(track.time_s.size, dtype=bool)
    for begun_s in 100.0 + np.cumsum(rng.uniform(40.0, 160.0, 12)):
        seen &= (track.time_s <= begun_s) | (track.time_s >= begun_s + rng.uniform(25.0, 60.0))
    found = search(replace(track, channels={"altitude_ft": height}).take(np.flatnonzero(seen)))
    assert not found.holds
