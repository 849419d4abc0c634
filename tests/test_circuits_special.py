"""Holds out of the ordinary, flown by the generator: found whole, cut right, and honest where the log is silent."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from analyser.circuits.find import find_holds, search
from analyser.circuits.flown import FlownHold
from analyser.earth.plane import LocalPlane
from analyser.logs.track import Track
from tests.flights.air import Air
from tests.flights.aircraft import Hand
from tests.flights.as_track import to_hold, to_track
from tests.flights.flight import Flight, make_flight
from tests.flights.hold_plan import FlightPlan, Habits, HoldPlan, Incident
from tests.flights.receiver import Receiver

PLANS = {
    "stack": FlightPlan(
        seed=1, tas_kt=180.0, altitude_ft=9000.0, air=Air(280.0, 20.0, 9000.0, (-1.5, 1.0)),
        holds=(HoldPlan(course_deg=140.0, circuits=4, arrival_heading_deg=150.0, descend_ft=1000.0),),
    ),
    "single circuit": FlightPlan(
        seed=2, air=Air(30.0, 15.0),
        holds=(HoldPlan(course_deg=250.0, side=-1, circuits=1, arrival_heading_deg=240.0),),
    ),
    "left outbound": FlightPlan(
        seed=3, air=Air(90.0, 15.0),
        holds=(HoldPlan(course_deg=10.0, circuits=3, arrival_heading_deg=20.0, ending="outbound"),),
    ),
    "circle within": FlightPlan(
        seed=4, air=Air(330.0, 12.0),
        holds=(HoldPlan(course_deg=100.0, circuits=3, arrival_heading_deg=95.0,
                        incidents={2: Incident(circle_outbound=True)}),),
    ),
    "fix missed": FlightPlan(
        seed=5, air=Air(200.0, 14.0),
        holds=(HoldPlan(course_deg=300.0, circuits=3, arrival_heading_deg=310.0,
                        incidents={2: Incident(miss_right_nm=0.5)}),),
    ),
    "bank swinging": FlightPlan(
        seed=6, air=Air(120.0, 16.0), hand=Hand(bank_swing_deg=8.0),
        holds=(HoldPlan(course_deg=45.0, side=-1, circuits=3, arrival_heading_deg=50.0),),
    ),
    "gale": FlightPlan(
        seed=7, tas_kt=90.0, air=Air(75.0, 60.0), hand=Hand(tas_wander_kt=0.5),
        holds=(HoldPlan(course_deg=70.0, circuits=2, arrival_heading_deg=70.0, arrival_nm=1.5,
                        habits=Habits(wind_error_kt=0.5)),),
    ),
    "jet": FlightPlan(
        seed=8, tas_kt=300.0, altitude_ft=12000.0, air=Air(250.0, 35.0),
        holds=(HoldPlan(course_deg=200.0, circuits=2, arrival_heading_deg=190.0, arrival_nm=12.0),),
    ),
    "southern": FlightPlan(
        seed=9, lat_deg=-41.0, lon_deg=160.0, air=Air(200.0, 20.0),
        holds=(HoldPlan(course_deg=330.0, side=-1, circuits=2, entry="offset", arrival_heading_deg=180.0),),
    ),
    "date line": FlightPlan(
        seed=10, lat_deg=-15.0, lon_deg=179.995, air=Air(100.0, 18.0),
        holds=(HoldPlan(course_deg=90.0, circuits=2, entry="parallel", arrival_heading_deg=320.0),),
    ),
    "far north": FlightPlan(
        seed=11, lat_deg=84.5, lon_deg=20.0, air=Air(10.0, 15.0),
        holds=(HoldPlan(course_deg=60.0, circuits=2, arrival_heading_deg=70.0),),
    ),
}  # fmt: skip


@cache
def flight_of(name: str) -> Flight:
    return make_flight(PLANS[name])


@cache
def track_of(name: str, interval_s: float = 1.0) -> Track:
    return to_track(flight_of(name), Receiver(interval_s=interval_s), seed=3)


@pytest.mark.slow
@pytest.mark.parametrize("interval_s", [1.0, 5.0])
@pytest.mark.parametrize("name", PLANS)
def test_found_with_all_its_circuits(name: str, interval_s: float) -> None:
    truth = flight_of(name).holds[0]
    (found,) = find_holds(track_of(name, interval_s))
    assert found.hold.turns == truth.turns
    whole = [c for c in found.circuits if c.complete]
    assert len(whole) == len([c for c in truth.circuits if c.complete])
    assert found.entry is not None
    assert found.entry.flown == truth.entry
    plane = LocalPlane(truth.fix_lat_deg, truth.fix_lon_deg)
    east, north, _ = plane.to_plane(np.array([found.hold.fix_lat_deg]), np.array([found.hold.fix_lon_deg]))
    assert float(np.hypot(east, north)[0]) < 0.35


@pytest.mark.parametrize("name", PLANS)
def test_wind_and_passages_with_the_hold_given(name: str) -> None:
    truth = flight_of(name).holds[0]
    (found,) = find_holds(track_of(name), to_hold(truth))
    assert found.given
    wind = (found.motion.wind_mean_east_kt, found.motion.wind_mean_north_kt)
    assert wind == pytest.approx(truth.wind_kt, abs=max(2.0, 3.0 * found.motion.wind_mean_sd_kt))
    assert [one.complete for one in found.circuits] == [one.complete for one in truth.circuits]
    for circuit, true in zip(found.circuits, truth.circuits, strict=True):
        assert circuit.start_s == pytest.approx(true.start_s, abs=1.5)
        assert not true.complete or circuit.end_s == pytest.approx(true.end_s, abs=1.5)


def test_each_layer_of_a_stack_has_its_own_wind() -> None:
    truth = flight_of("stack").holds[0]
    (found,) = find_holds(track_of("stack"))
    first, last = found.circuits[0], found.circuits[-1]
    flown_change = np.array(
        [last.wind_east_kt - first.wind_east_kt, last.wind_north_kt - first.wind_north_kt]
    )
    true_change = np.subtract(truth.circuits[-1].wind_kt, truth.circuits[0].wind_kt)
    assert float(np.hypot(*true_change)) > 4.0
    assert float(np.hypot(*(flown_change - true_change))) < 2.5


def test_a_lap_left_outbound_is_no_whole_circuit() -> None:
    (found,) = find_holds(track_of("left outbound"))
    assert not found.circuits[-1].complete
    assert found.circuits[-1].inbound_turn is None
    assert found.circuits[-1].outbound_leg is not None


def test_a_circle_within_a_circuit_is_told() -> None:
    (found,) = find_holds(track_of("circle within"))
    assert any(n.code == "circle-in-circuit" for n in found.notices)


def with_hole(track: Track, start_s: float, length_s: float) -> Track:
    return track.take((track.time_s < start_s) | (track.time_s > start_s + length_s))


def test_two_holes_of_one_circuit_are_not_told_as_one() -> None:
    circuit = flight_of("fix missed").holds[0].circuits[1]
    assert circuit.inbound_turn is not None
    at_s = circuit.outbound_turn.end_s + 5.0, circuit.inbound_turn.end_s + 5.0
    (found,) = find_holds(with_hole(with_hole(track_of("fix missed"), at_s[0], 15.0), at_s[1], 20.0))
    (said,) = [n.message for n in found.notices if n.code == "hole-in-circuit"]
    told = re.fullmatch(r"circuit 2: the log has 2 holes, (\d+) s in all, the longest (\d+) s; .*", said)
    assert told is not None
    assert [float(figure) for figure in told.groups()] == pytest.approx([35.0, 20.0], abs=3.0)


def test_a_hole_of_twenty_seconds_is_bridged_and_told() -> None:
    truth = flight_of("fix missed").holds[0]
    turn = truth.circuits[0].inbound_turn
    assert turn is not None
    (found,) = find_holds(with_hole(track_of("fix missed"), turn.start_s - 5.0, 20.0))
    assert len(found.circuits) == 3
    assert any(n.code == "hole-in-circuit" for n in found.notices)
    lost = found.circuits[0].inbound_turn
    assert lost is not None
    assert lost.start_sd_s > 4.0, "an instant inside a hole is a guess and must say so"


def cut_before(track: Track, start_s: float) -> Track:
    return with_hole(track, -1.0, start_s)


def test_a_log_that_begins_inside_the_hold_has_no_entry() -> None:
    truth = flight_of("fix missed").holds[0]
    (found,) = find_holds(cut_before(track_of("fix missed"), truth.circuits[1].start_s - 4.0))
    assert found.entry is None
    assert any(n.code == "entry-not-recorded" for n in found.notices)


def test_hold_file_of_the_other_hand_is_told() -> None:
    wrong = replace(to_hold(flight_of("stack").holds[0]), turns="left")
    (found,) = find_holds(track_of("stack"), wrong)
    assert any(n.code == "turns-other-hand" for n in found.notices)


def test_hold_file_of_another_place_leaves_the_hold_inferred() -> None:
    elsewhere = replace(to_hold(flight_of("stack").holds[0]), fix_lat_deg=10.0)
    (found,) = find_holds(track_of("stack"), elsewhere)
    assert not found.given


def chorded(track: Track, every_s: float = 30.0) -> Track:
    """Join every thirtieth second's fix by straight chords, as some sources of positions do."""
    knots = np.arange(0.0, track.time_s[-1], every_s)
    grid = np.arange(0.0, knots[-1], 5.0)
    lat, lon = (
        np.interp(grid, knots, np.interp(knots, track.time_s, series))
        for series in (track.lat_deg, track.lon_deg)
    )
    altitude = np.interp(grid, track.time_s, track.channels["altitude_ft"])
    return replace(track, time_s=grid, lat_deg=lat, lon_deg=lon, channels={"altitude_ft": altitude})


def test_chords_between_sparse_fixes_give_a_hold_but_no_bank() -> None:
    found: FlownHold
    (found,) = find_holds(chorded(track_of("jet")))
    assert len(found.circuits) == 2
    assert any(n.code == "positions-chorded" for n in found.notices)
    turn = found.circuits[0].outbound_turn
    assert turn is not None
    assert turn.bank_mean_sd_deg > 10.0


def test_no_hold_says_what_came_nearest() -> None:
    time_s = np.arange(0.0, 1200.0)
    straight = Track("straight", "table", "", time_s, 47.0 + time_s * 0.0005, np.full(time_s.size, -30.0))
    found = search(straight)
    assert not found.holds
    assert found.nearest_miss


def turning_later(track: Track, after_s: float, change_deg: float, then_s: float = 120.0) -> Track:
    """Fly a track on straight from its end, then turn right at rate one and fly on: a way to somewhere else."""
    plane = LocalPlane(float(track.lat_deg[-1]), float(track.lon_deg[-1]))
    east, north, _ = plane.to_plane(track.lat_deg[-12:], track.lon_deg[-12:])
    seconds = float(track.time_s[-1] - track.time_s[-12])
    speed = float(np.hypot(east[-1] - east[0], north[-1] - north[0])) / seconds
    track_deg = float(np.degrees(np.arctan2(east[-1] - east[0], north[-1] - north[0])))
    new_s = np.arange(1.0, after_s + change_deg / 3.0 + then_s)
    heading = np.radians(track_deg + np.clip(3.0 * (new_s - after_s), 0.0, change_deg))
    lat, lon = plane.to_earth(np.cumsum(speed * np.sin(heading)), np.cumsum(speed * np.cos(heading)))
    level = np.full(new_s.size, track.channels["altitude_ft"][-1])
    return replace(
        track,
        time_s=np.append(track.time_s, track.time_s[-1] + new_s),
        lat_deg=np.append(track.lat_deg, lat),
        lon_deg=np.append(track.lon_deg, lon),
        channels={"altitude_ft": np.append(track.channels["altitude_ft"], level)},
    )


def test_a_turn_long_after_the_fix_is_no_circuit_broken_off() -> None:
    plan = PLANS["fix missed"]
    left = replace(plan.holds[0], incidents={}, departure_turn_deg=0.0, departure_s=30.0)
    flight = make_flight(replace(plan, holds=(left,)))
    track = turning_later(to_track(flight, Receiver(), seed=3), 120.0, 180.0)
    for given in ((), (to_hold(flight.holds[0]),)):
        (found,) = find_holds(track, *given)
        assert [c.complete for c in found.circuits] == [True] * 3
