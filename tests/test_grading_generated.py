"""Judging whole flights from positions alone: invented flights through the finder, then the budget.

The generator (``tests.flights``) has its own aircraft, pilot and receiver. Here the budget sees only what the
analyser measured from positions, so its shares carry the measurement's errors too.
"""

from dataclasses import replace
from functools import lru_cache

import pytest

from analyser.debrief import debrief_track
from tests.flights.air import Air
from tests.flights.aircraft import Hand
from tests.flights.as_track import to_hold, to_track
from tests.flights.flight import make_flight
from tests.flights.hold_plan import FlightPlan, Habits, HoldPlan, Incident
from tests.flights.receiver import Receiver
from tests.grading_flights import advised_shares

#: A pilot and a hand without mistakes of their own, so that what is planted stands alone.
EXACT = Habits(
    timing_error_s=0.0, bank_error_deg=0.0, late_at_fix_s=0.0, heading_error_deg=0.0, wind_error_kt=0.0
)
STEADY = Hand(tas_wander_kt=0.3, bank_wander_deg=0.3, heading_wander_deg=0.3, altitude_wander_ft=5.0)


def plan(*, habits=EXACT, hand=STEADY, incident=None, side=1, gust_kt=0.0, tas_kt=110.0, seed=5, **hold):
    incidents = {2: incident} if incident else {}
    one = HoldPlan(
        course_deg=30.0, side=side, arrival_heading_deg=20.0, habits=habits, incidents=incidents, **hold
    )
    air = Air(from_deg=300.0 if side > 0 else 120.0, speed_kt=20.0, gust_kt=gust_kt)
    return FlightPlan(seed=seed, tas_kt=tas_kt, air=air, hand=hand, holds=(one,))


@lru_cache(maxsize=32)
def judged(key, rules="icao", interval_s=1.0):
    flight = make_flight(PLANS[key])
    track = to_track(flight, Receiver(interval_s=interval_s), seed=3)
    debrief = debrief_track(track, hold=to_hold(flight.holds[0]), rules=rules)
    assert len(debrief.holds) == 1
    return flight.holds[0], debrief.holds[0].judged


HABITS = Habits()
PLANS = {
    "steady": plan(),
    "long": plan(incident=Incident(outbound_s=95.0)),
    "beside": plan(incident=Incident(miss_right_nm=0.4)),
    "no drift": plan(habits=replace(EXACT, drift="none")),
    "ordinary": plan(habits=HABITS, hand=Hand(), gust_kt=2.0, seed=11),
    "ordinary, left, single drift": plan(
        habits=replace(HABITS, drift="single"), hand=Hand(), gust_kt=2.0, side=-1, tas_kt=140.0, seed=12
    ),
    "ordinary, fast, triple drift": plan(
        habits=replace(HABITS, drift="triple"), hand=Hand(), gust_kt=3.0, tas_kt=190.0, seed=13, circuits=2
    ),
}


@pytest.mark.slow
@pytest.mark.parametrize("interval_s", [1.0, 5.0])
@pytest.mark.parametrize("rules", ["icao", "faa"])
@pytest.mark.parametrize(
    "key", ["steady", "no drift", "ordinary", "ordinary, left, single drift", "ordinary, fast, triple drift"]
)
def test_shares_add_up_on_flights_known_by_positions_alone(key, rules, interval_s):
    _, hold = judged(key, rules, interval_s)
    split = [circuit.budget for circuit in hold.circuits if circuit.budget is not None]
    assert len(split) == len(hold.circuits) >= 2
    for budget in split:
        for name in ("cross_track_nm", "along_track_nm", "end_cross_track_nm", "end_along_track_nm"):
            total = sum(getattr(cost, name) for cost in budget.costs)
            assert total == pytest.approx(getattr(budget, name), abs=0.01), name
        assert sum(cost.time_s for cost in budget.costs) == pytest.approx(budget.time_s, abs=1.0)
        # The rest that positions and velocities disagree by is a matter of metres.
        assert next(cost.size_nm for cost in budget.costs if cost.cause == "measurement") < 0.02


def test_the_budgets_error_is_the_true_one():
    truth, hold = judged("no drift")
    for circuit, true in zip(hold.circuits, truth.circuits, strict=True):
        assert circuit.budget.cross_track_nm == pytest.approx(true.rollout_cross_nm, abs=0.03)


def test_drift_not_corrected_takes_four_fifths_of_the_error_across():
    _, hold = judged("no drift")
    for circuit in hold.circuits:
        share = next(cost for cost in circuit.budget.costs if cost.cause == "outbound_heading")
        assert share.cross_track_nm / circuit.budget.cross_track_nm >= 0.8
        assert advised_shares(circuit)[0].cause == "outbound_heading"


def share_of(key, circuit, cause):
    budget = judged(key)[1].circuits[circuit - 1].budget
    return next(cost for cost in budget.costs if cost.cause == cause)


def test_a_fault_planted_in_one_circuit_is_charged_with_what_was_planted():
    """Whatever the pilot does about it later, on rolling out: that is another decision, with its own share."""
    # Tracking 0.4 NM right of the fix moves the next circuit 0.4 NM to the right.
    beside = (
        share_of("beside", 3, "fix_crossing").cross_track_nm
        - share_of("steady", 3, "fix_crossing").cross_track_nm
    )
    assert beside == pytest.approx(0.4, abs=0.05)
    # More seconds outbound are as many more at the ground speed outbound: 110 kt with 20 kt across, about 102 kt.
    circuits = [judged(key)[1].circuits[1] for key in ("long", "steady")]
    seconds = circuits[0].measures.timed_s - circuits[1].measures.timed_s
    assert seconds > 15.0
    moved = (
        share_of("long", 2, "outbound_time").along_track_nm
        - share_of("steady", 2, "outbound_time").along_track_nm
    )
    assert moved == pytest.approx(-seconds * 102.0 / 3600.0, abs=0.06)
