"""The error budget of circuits flown by a real aircraft model: a planted fault takes the blame, and the sums hold.

JSBSim (an open flight-dynamics library) flies its single-engined aircraft round one circuit for each fault, in
two holds with steady wind and smooth air; the budget knows a receiver's positions only, three metres off. The
faultless circuit comes out within 0.05 NM, so the shares are of the whole error: nothing is subtracted.

Only the change of wind cannot be the whole error: a wind that changes by 16 kt within a circuit has also moved
the aircraft and its drift angle at the fix. There its share is held against what the wind truly did.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
import pytest

from analyser.circuits.find import find_holds
from analyser.grading.judge import judge_hold
from analyser.grading.judged import JudgedCircuit
from analyser.holds.definition import Hold
from analyser.rules.load import load_regime, load_standard
from tests.flights.air import Air
from tests.flights.as_track import seen_track
from tests.flights.flight import Flight, Seen, see
from tests.flights.instruments import with_air_data
from tests.flights.receiver import Receiver
from tests.grading_flights import advised_shares, assert_adds_up, cost
from tests.jsbsim_flights.planted import COURSE_DEG, FAULTY, ORIGIN_DEG, Planted, fly_planted

pytestmark = pytest.mark.slow

#: Hand and wind; the inbound course is 030°.
HOLDS = {
    "right hand, wind across": (1, Air(300.0, 25.0)),
    "left hand, quartering tailwind": (-1, Air(180.0, 22.0)),
}

#: What is planted, and the cause that must carry it.
FAULTS = {
    "the fix passed 0.4 NM to the right": ("fix_crossing", Planted(fix_right_nm=0.4)),
    "outbound turn begun 20 s late": ("outbound_turn_start", Planted(late_turn_s=20.0)),
    "outbound turn with 5° too little bank": ("outbound_turn_bank", Planted(outbound_bank_deg=-5.0)),
    "outbound heading 15° off": ("outbound_heading", Planted(outbound_heading_deg=15.0)),
    "inbound turn begun 20 s late": ("outbound_time", Planted(outbound_time_s=20.0)),
    "inbound turn begun 20 s early": ("outbound_time", Planted(outbound_time_s=-20.0)),
    "inbound turn with 5° too little bank": ("inbound_turn_bank", Planted(inbound_bank_deg=-5.0)),
    "rolled out 30° past the inbound heading": ("rollout_heading", Planted(rollout_heading_deg=30.0)),
}


def to_judge(seen: Seen, side: int) -> JudgedCircuit:
    hold = Hold(*ORIGIN_DEG, COURSE_DEG, "right" if side > 0 else "left")
    found = find_holds(seen_track(seen, "planted"), hold)
    assert len(found) == 1
    judged = judge_hold(found[0], load_regime("icao"), load_standard("acs-instrument"))
    assert all(circuit.budget for circuit in judged.circuits), [one.no_budget for one in judged.circuits]
    return judged.circuits[FAULTY - 1]


@lru_cache(maxsize=32)
def circuit_of(name: str, fault: Planted) -> JudgedCircuit:
    side, air = HOLDS[name]
    return to_judge(see(fly_planted(side, air, fault), Receiver(), 3), side)


@pytest.mark.parametrize("name", HOLDS)
def test_without_a_fault_there_is_hardly_an_error(name: str) -> None:
    budget = circuit_of(name, Planted()).budget
    assert_adds_up(budget)
    assert math.hypot(budget.cross_track_nm, budget.along_track_nm) < 0.05
    assert abs(budget.time_s) < 2.0
    assert all(one.size_nm < 0.05 for one in budget.costs)


@pytest.mark.parametrize("fault", FAULTS)
@pytest.mark.parametrize("name", HOLDS)
def test_one_planted_fault_takes_at_least_four_fifths_of_the_error(name: str, fault: str) -> None:
    cause, planted = FAULTS[fault]
    circuit = circuit_of(name, planted)
    budget = circuit.budget
    assert_adds_up(budget)
    own, error = cost(budget, cause), math.hypot(budget.cross_track_nm, budget.along_track_nm)
    assert error > 0.1
    share = (
        own.cross_track_nm * budget.cross_track_nm + own.along_track_nm * budget.along_track_nm
    ) / error**2
    # Beyond the whole error is as wrong as short of it: the others must then have made up for the fault.
    assert 0.8 <= share <= 1.2
    assert max(budget.costs, key=lambda one: one.size_nm).cause == cause
    assert advised_shares(circuit)[0].cause == cause


@pytest.mark.parametrize("fault", ["inbound turn begun 20 s late", "inbound turn begun 20 s early"])
@pytest.mark.parametrize("name", HOLDS)
def test_inbound_time_lost_or_gained_is_charged_to_the_outbound_time(name: str, fault: str) -> None:
    """The other faults change the inbound time mainly by how their error is flown off: the next leg's decision."""
    cause, planted = FAULTS[fault]
    budget = circuit_of(name, planted).budget
    assert abs(budget.time_s) > 10.0
    assert cost(budget, cause).time_s / budget.time_s >= 0.8


def moved_right_nm(flight: Flight, start_s: float, rollout_s: float, end_s: float) -> float:
    """Integrate the library's wind against its mean over the circuit, from the fix to the roll-out."""
    full, course = flight.series, math.radians(COURSE_DEG)
    right_kt = full["wind_east_kt"] * math.cos(course) - full["wind_north_kt"] * math.sin(course)
    times = np.arange(start_s, end_s, 0.1)
    wind_kt = np.interp(times, full["time_s"], right_kt)
    return float((wind_kt - wind_kt.mean())[times <= rollout_s].sum()) * 0.1 / 3600.0


@pytest.mark.parametrize("change_kt", [16.0, -16.0])
@pytest.mark.parametrize("name", HOLDS)
def test_what_a_changing_wind_did_is_charged_to_it_where_the_log_has_airspeed_and_heading(
    name: str, change_kt: float
) -> None:
    side, air = HOLDS[name]
    flight = fly_planted(side, air, Planted(wind_change_kt=change_kt))
    watched = with_air_data(flight, see(flight, Receiver(), 3), 5, variation_deg=0.0)
    watched.others["heading_true_deg"] = watched.others.pop("heading_magnetic_deg")
    circuit = to_judge(watched, side)
    budget = circuit.budget
    assert_adds_up(budget)
    planted = moved_right_nm(
        flight, circuit.circuit.start_s, budget.instants.rollout_s, circuit.circuit.end_s
    )
    assert abs(planted) > 0.08
    assert 0.8 <= cost(budget, "wind_change").cross_track_nm / planted <= 1.2
