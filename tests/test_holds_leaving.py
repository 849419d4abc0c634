"""Leaving on time: hand sums in still air, and the plan flown in wind."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyser.earth.wind import wind_components
from analyser.holds.exact import exact_circuit, with_inbound
from analyser.holds.leaving_plan import plan_leaving as plan_with_least
from analyser.holds.leaving_plan import shortest_circuit
from analyser.holds.leaving_plan import turn_in_table as table_with_least

#: ICAO Doc 8168 Vol II II-4-1-4: at least 30 s inbound after the turn.
LEAST_S = 30.0


def plan_leaving(exact, wanted_s):
    return plan_with_least(exact, wanted_s, least_inbound_s=LEAST_S)


def turn_in_table(exact, step_s):
    return table_with_least(exact, step_s, least_inbound_s=LEAST_S)


def circuit(tas_kt=120, from_deg=0, wind_kt=0, roll_s=0.0, **more):
    east, north = wind_components(from_deg, wind_kt)
    known = {"inbound_course_deg": 70, "side": -1, "turn_rate_dps": 3, "inbound_time_s": 60}
    return exact_circuit(
        **(known | {"tas_kt": tas_kt, "wind_east_kt": east, "wind_north_kt": north, "roll_s": roll_s} | more)
    )


def test_still_air_by_hand():
    # Two turns take 120 s and each leg T, so leaving after 200 s needs T = (200 − 120)/2 = 40 s outbound.
    plan = plan_leaving(circuit(), 200)
    assert plan.feasible
    assert (plan.full_circuits, len(plan.shortened)) == (0, 1)
    assert plan.shortened[0].outbound_timed_s == pytest.approx(40, abs=0.01)
    assert plan.leaves_s == pytest.approx(200, abs=0.01)


def test_full_circuits_come_first():
    # 240 s full; 420 s is one full and one of 180 s: T = 30 s.
    plan = plan_leaving(circuit(), 420)
    assert (plan.full_circuits, len(plan.shortened), plan.circuits) == (1, 1, 2)
    assert plan.shortened[0].outbound_timed_s == pytest.approx(30, abs=0.01)
    assert plan.leaves_s - plan.shortened[-1].total_s == pytest.approx(240, abs=0.01)


def test_two_circuits_share_what_one_cannot_take():
    # 370 s: a full circuit leaves 130 s, less than two turns and 30 s inbound; two of 185 s have T = 32.5 s.
    plan = plan_leaving(circuit(), 370)
    assert (plan.full_circuits, len(plan.shortened)) == (0, 2)
    assert plan.shortened[0].outbound_timed_s == pytest.approx(32.5, abs=0.01)


def test_no_plan_leaves_less_than_half_a_minute_inbound():
    # 300 s: a full circuit leaves 60 s, and two of 150 s would have 15 s inbound.
    plan = plan_leaving(circuit(), 300)
    assert not plan.feasible
    assert plan.leaves_s == pytest.approx(240.0)
    for wanted_s in (190.0, 385.0, 470.0):
        assert all(
            one.inbound_time_s >= LEAST_S - 1e-6 for one in plan_leaving(circuit(), wanted_s).shortened
        )
    assert min(line.total_s for line in turn_in_table(circuit(), 10)) == pytest.approx(180.0)


@pytest.mark.parametrize("count", [0, 1, 3])
def test_whole_circuits_need_no_change(count):
    plan = plan_leaving(circuit(), 240 * count)
    assert plan.feasible
    assert (plan.full_circuits, plan.shortened) == (count, ())


def test_too_soon_is_said_and_the_nearest_given():
    late, early = plan_leaving(circuit(), 100), plan_leaving(circuit(), 20)
    assert not late.feasible
    # Two turns of 60 s and two legs of 30 s.
    assert late.leaves_s == pytest.approx(180, abs=0.1)
    assert early.leaves_s == 0
    assert "shortest circuit takes" in late.why_not


def test_a_gap_between_full_and_shortest_circuits_in_strong_wind():
    found = plan_leaving(circuit(from_deg=115, wind_kt=25), 250)
    assert not found.feasible
    assert "1 full circuit takes" in found.why_not


@settings(max_examples=25, deadline=None)
@given(from_deg=st.floats(0, 360), wind_kt=st.floats(0, 25), wanted_s=st.floats(60, 900))
def test_no_leg_beyond_the_full_one_and_on_time_where_feasible(from_deg, wind_kt, wanted_s):
    full = circuit(from_deg=from_deg, wind_kt=wind_kt, roll_s=3.6)
    plan = plan_leaving(full, wanted_s)
    total_s = plan.full_circuits * full.total_s + sum(one.total_s for one in plan.shortened)
    assert total_s == pytest.approx(plan.leaves_s)
    for one in plan.shortened:
        assert one.inbound_distance_nm <= full.inbound_distance_nm + 1e-9
        assert one.turn_rate_dps == full.turn_rate_dps
        assert one.tas_kt == full.tas_kt
        assert one.path().along_nm[-1] == pytest.approx(0, abs=1e-6)
    if plan.feasible:
        assert plan.leaves_s == pytest.approx(wanted_s, abs=0.06)
    else:
        assert plan.why_not


@settings(max_examples=15, deadline=None)
@given(from_deg=st.floats(0, 360), wind_kt=st.floats(0, 25))
def test_the_table_is_that_of_circuits_which_close(from_deg, wind_kt):
    full = circuit(from_deg=from_deg, wind_kt=wind_kt, roll_s=3.6)
    table = turn_in_table(full, 20)
    assert table[-1].total_s == full.total_s
    assert [line.total_s for line in table] == sorted(line.total_s for line in table)
    for line in table[:-1]:
        assert line.total_s % 20 == pytest.approx(0, abs=0.01) or line.total_s % 20 > 19.99
        assert 0 < line.turn_in_after_s < line.total_s
    assert {line.clock_from for line in table} <= {"abeam", "wings level"}


def test_shortest_in_still_air_is_all_but_a_continuous_turn():
    assert shortest_circuit(circuit(), 1.0).total_s == pytest.approx(122, abs=0.1)
    assert shortest_circuit(circuit(), 30.0).total_s == pytest.approx(180, abs=0.1)
    assert with_inbound(circuit(), 1.0).inbound_distance_nm == 1.0
