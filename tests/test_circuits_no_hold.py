"""Turning that draws something like a lap and is no hold: what is said of it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analyser.circuits.find import search
from analyser.holds.definition import Hold
from tests.drawn_flights import drawn, straight, turn
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
