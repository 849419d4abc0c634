"""The error budget: shares add up to the measured error, and a planted fault takes the blame.

The flights come from the tests' own point mass (``grading_flights``), whose faultless circuit is found by trial.
"""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyser.circuits.frame import hold_frame
from analyser.grading.budget import CAUSES, Budget, error_budget
from analyser.grading.judge import judge_hold
from analyser.grading.lap import Lap, ideal_for
from analyser.grading.terms import HoldCase, terms_of
from analyser.holds.definition import LegLimit
from analyser.rules.load import load_regime, load_standard
from analyser.rules.scoring import load_scoring
from tests.grading_flights import Faults, Plan, assert_adds_up, cost, fly, right_numbers

ICAO, FAA = load_regime("icao"), load_regime("faa")
STANDARD = load_standard("acs-instrument")

#: Holds flown in different winds: across from either side, and with a head- or tailwind in it.
PLANS = {
    "right hand, wind across": Plan(),
    "left hand, wind across": Plan(side=-1),
    "right hand, quartering headwind": Plan(course_deg=250.0, wind_from_deg=285.0, wind_kt=18.0, tas_kt=95.0),
    "left hand, quartering tailwind": Plan(
        side=-1, course_deg=350.0, wind_from_deg=130.0, wind_kt=15.0, tas_kt=140.0
    ),
    "fast, at the bank limit": Plan(course_deg=90.0, wind_from_deg=200.0, wind_kt=30.0, tas_kt=205.0),
}

#: Planted fault → how large, and the cause that must carry it.
FAULTS = {
    "fix_crossing": Faults(fix_cross_nm=0.35),
    "outbound_turn_start": Faults(late_turn_s=15.0),
    "outbound_turn_bank": Faults(outbound_bank_deg=-4.0),
    "outbound_heading": Faults(outbound_heading_deg=15.0),
    "outbound_time": Faults(outbound_time_s=20.0),
    "inbound_turn_bank": Faults(inbound_bank_deg=-4.0),
    "rollout_heading": Faults(rollout_heading_deg=-25.0),
}


def budget_of(plan: Plan, regime=ICAO, change=lambda one: one) -> Budget:
    flown = fly(plan)
    circuit = change(flown.circuits[0])
    frame = hold_frame(flown.motion, flown.hold.inbound_course_true_deg)
    case = HoldCase(flown, frame, regime, STANDARD, load_scoring())
    ideal = ideal_for(flown.hold, regime, circuit, plan.altitude_ft)
    terms = terms_of(
        case,
        circuit,
        ideal.circuit,
        altitude_ft=plan.altitude_ft,
        first=True,
        cut_short=False,
    )
    lap = Lap(**vars(case), circuit=circuit, ideal=ideal, terms=terms, first=True)
    found = error_budget(lap)
    assert isinstance(found, Budget), found
    return found


@pytest.mark.parametrize("name", PLANS)
def test_a_circuit_flown_by_trial_onto_the_course_has_no_error_and_no_shares(name):
    budget = budget_of(PLANS[name])
    assert_adds_up(budget)
    assert abs(budget.cross_track_nm) < 0.01
    assert abs(budget.along_track_nm) < 0.01
    assert all(one.size_nm < 0.015 for one in budget.costs)


@pytest.mark.slow
@pytest.mark.parametrize("cause", FAULTS)
@pytest.mark.parametrize("name", PLANS)
def test_one_planted_fault_takes_at_least_four_fifths_of_the_error(name, cause):
    budget = budget_of(replace(PLANS[name], faults=(FAULTS[cause],)))
    assert_adds_up(budget)
    share, error = cost(budget, cause), math.hypot(budget.cross_track_nm, budget.along_track_nm)
    along_error = share.cross_track_nm * budget.cross_track_nm + share.along_track_nm * budget.along_track_nm
    assert error > 0.04
    assert along_error / error**2 >= 0.8
    others = sum(one.size_nm for one in budget.costs if one.cause not in (cause, "inbound_leg"))
    assert others <= 0.2 * error + 0.01
    assert max(budget.costs, key=lambda one: one.size_nm).cause == cause


@pytest.mark.parametrize("regime", [ICAO, FAA], ids=["icao", "faa"])
def test_time_lost_by_a_long_outbound_leg_is_charged_to_it(regime):
    plan = Plan(still_air=regime is ICAO, faults=(Faults(outbound_time_s=20.0),))
    budget = budget_of(plan, regime)
    assert_adds_up(budget)
    assert cost(budget, "outbound_time").time_s / budget.time_s >= 0.8


def test_a_late_outbound_turn_costs_nothing_along_the_course_because_the_clock_starts_abeam():
    budget = budget_of(Plan(faults=(Faults(late_turn_s=15.0),)))
    assert abs(cost(budget, "outbound_turn_start").along_track_nm) < 0.01
    assert abs(cost(budget, "outbound_time").along_track_nm) < 0.01


def test_bank_that_wanders_is_charged_to_unsteadiness():
    budget = budget_of(Plan(bank_wander_deg=7.0))
    assert_adds_up(budget)
    largest = max(budget.costs, key=lambda one: one.size_nm)
    assert largest.cause == "unsteadiness"
    error = math.hypot(budget.cross_track_nm, budget.along_track_nm)
    assert largest.size_nm >= 0.8 * error


def test_wind_that_changes_is_charged_to_the_wind_and_airspeed_that_wanders_to_the_airspeed():
    # The arrival drifts in the changing wind too, so the fix is crossed aside: that share is its own.
    changed = budget_of(Plan(wind_change_kt=6.0))
    assert_adds_up(changed)
    assert abs(cost(changed, "wind_change").cross_track_nm) > 0.08
    wandered = budget_of(Plan(tas_change_kt=10.0))
    assert_adds_up(wandered)
    assert cost(wandered, "airspeed").size_nm > 0.05
    assert cost(changed, "airspeed").size_nm < 0.005
    assert cost(wandered, "wind_change").size_nm < 0.005


OFF = (Faults(outbound_heading_deg=8.0, outbound_time_s=12.0, late_turn_s=4.0),)


@pytest.mark.parametrize(
    ("plan", "regime"),
    [
        (Plan(wind_change_kt=6.0, bank_wander_deg=5.0), ICAO),
        (Plan(tas_change_kt=8.0), ICAO),
        (Plan(faults=OFF), ICAO),
        (Plan(faults=OFF, side=-1), FAA),
        (Plan(faults=OFF, wind_from_deg=210.0), ICAO),
        (Plan(faults=OFF, wind_from_deg=30.0, still_air=False), ICAO),
        (Plan(faults=OFF, leg=LegLimit(distance_nm=4.0), tas_kt=150.0), ICAO),
        (Plan(faults=OFF, leg=LegLimit(distance_nm=4.0), tas_kt=150.0, wind_from_deg=30.0, side=-1), ICAO),
    ],
)
def test_positions_and_velocities_that_agree_leave_nothing_to_the_measurement(plan, regime):
    """Whatever clock the leg was flown by, the path that velocities add up to ends where the aircraft was."""
    budget = budget_of(plan, regime)
    assert_adds_up(budget)
    assert cost(budget, "measurement").size_nm < (
        0.01 if plan.bank_wander_deg or plan.tas_change_kt else 0.002
    )


def test_the_outbound_decision_is_read_by_the_clock_that_the_leg_is_timed_by():
    """From abeam or the fix, whichever is later; from wings level where abeam is not met; or how far out it ended."""
    plan = Plan(faults=OFF)
    circuit = fly(plan).circuits[0]
    turn_in_s = circuit.inbound_turn.start_s
    by_abeam = budget_of(plan).flown
    assert by_abeam.clock == "abeam"
    assert by_abeam.decisions.outbound_time == pytest.approx(turn_in_s - circuit.abeam_s)
    by_wings = budget_of(plan, change=lambda one: replace(one, abeam_s=None)).flown
    assert by_wings.clock == "wings level"
    assert by_wings.decisions.outbound_time == pytest.approx(turn_in_s - circuit.outbound_turn.end_s)
    out = Plan(faults=OFF, leg=LegLimit(distance_nm=4.0), tas_kt=150.0)
    flown = fly(out)
    along, _ = hold_frame(flown.motion, out.course_deg).at(flown.circuits[0].inbound_turn.start_s)
    assert budget_of(out).flown.decisions.outbound_time == pytest.approx(along)


def test_a_leg_ended_by_distance_is_budgeted_by_its_length():
    plan = Plan(leg=LegLimit(distance_nm=4.0), tas_kt=150.0, faults=(Faults(outbound_time_s=25.0),))
    budget = budget_of(plan)
    assert_adds_up(budget)
    assert budget.flown.clock == "length"
    error = math.hypot(budget.cross_track_nm, budget.along_track_nm)
    assert cost(budget, "outbound_time").size_nm >= 0.8 * error


@pytest.mark.slow
@settings(max_examples=25, deadline=None)
@given(
    faults=st.builds(
        Faults,
        fix_cross_nm=st.floats(-0.4, 0.4),
        late_turn_s=st.floats(0.0, 15.0),
        outbound_bank_deg=st.floats(-4.0, 4.0),
        outbound_heading_deg=st.floats(-25.0, 25.0),
        outbound_time_s=st.floats(-20.0, 20.0),
        inbound_bank_deg=st.floats(-4.0, 4.0),
        rollout_heading_deg=st.floats(-25.0, 25.0),
    ),
    name=st.sampled_from(sorted(PLANS)),
    wander=st.sampled_from([0.0, 4.0]),
)
def test_shares_add_up_whatever_faults_go_together(faults, name, wander):
    assert_adds_up(budget_of(replace(PLANS[name], faults=(faults,), bank_wander_deg=wander)))


def test_every_cause_appears_once_in_order():
    assert tuple(one.cause for one in budget_of(Plan()).costs) == CAUSES


def test_mirrored_flights_have_mirrored_shares():
    faults = (Faults(outbound_heading_deg=12.0, late_turn_s=8.0),)
    right = budget_of(Plan(faults=faults))
    # The mirror image about the inbound course: the other hand, the wind from the other side of it.
    left = budget_of(
        Plan(
            side=-1,
            wind_from_deg=2 * 30.0 - 120.0,
            faults=(Faults(outbound_heading_deg=12.0, late_turn_s=8.0),),
        )
    )
    for one, other in zip(right.costs, left.costs, strict=True):
        assert one.cross_track_nm == pytest.approx(-other.cross_track_nm, abs=1e-3)
        assert one.along_track_nm == pytest.approx(other.along_track_nm, abs=1e-3)
        assert one.time_s == pytest.approx(other.time_s, abs=0.1)


def test_why_there_is_no_budget_is_said():
    flown = fly(Plan())
    broken = replace(
        flown, circuits=(replace(flown.circuits[0], inbound_turn=None, inbound_leg=None, complete=False),)
    )
    judged = judge_hold(broken, ICAO, STANDARD)
    assert judged.circuits[0].budget is None
    assert "no outbound leg between two turns" in judged.circuits[0].no_budget
    turn = flown.circuits[0].inbound_turn
    coarse = replace(
        flown, circuits=(replace(flown.circuits[0], inbound_turn=replace(turn, bank_mean_sd_deg=20.0)),)
    )
    assert "coarsely recorded" in judge_hold(coarse, ICAO, STANDARD).circuits[0].no_budget


def test_the_trial_found_what_the_exact_circuit_says():
    """Two ways to the same numbers: a root finder over stepped flight, and the exact solution."""
    for plan in PLANS.values():
        flown = fly(plan)
        exact = ideal_for(flown.hold, ICAO, flown.circuits[0], 4000.0).circuit
        heading, timed = right_numbers(replace(plan, faults=()))
        assert plan.side * exact.outbound_correction_deg == pytest.approx(heading - 180.0, abs=0.1)
        assert exact.outbound_timed_s == pytest.approx(timed, abs=0.1)
