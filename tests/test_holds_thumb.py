"""Rules of thumb: the examples their manuals print, and how they stand against the exact circuit."""

import pytest

from analyser.earth.wind import wind_components
from analyser.holds import rules_of_thumb as thumb
from analyser.holds.exact import exact_circuit
from analyser.holds.rules_of_thumb import compared_with_thumb, feedback_after_one
from analyser.rules.load import load_regime, load_thumb_rules

RULES = load_thumb_rules()


def circuit(tas_kt, relative, wind_kt, **more):
    east, north = wind_components(relative, wind_kt)
    known = {"inbound_course_deg": 0, "side": 1, "turn_rate_dps": 3, "inbound_time_s": 60}
    return exact_circuit(**(known | {"tas_kt": tas_kt, "wind_east_kt": east, "wind_north_kt": north} | more))


def beside(exact):
    found = compared_with_thumb(exact, still_air_s=60, allowances=load_regime("faa").allowances)
    return {one.thumb.rule.name: one for one in found}


def test_navy_feedback_example():
    # US Navy P-871: the inbound leg took 50 s, so the next outbound is 60 + (60 − 50) = 70 s.
    assert thumb.next_outbound_time(60, 50, 60).value == 70


def test_navy_triple_example():
    # US Navy P-871: 5° of crab inbound, outbound 090°: fly 090 − 15 = 075, so the crab was to the right.
    assert 90 + thumb.outbound_correction(5, RULES.triple).value == 75


def test_aim_triple_example():
    # FAA AIM 5-3-8 j.8(c): 8° left inbound, 24° right outbound.
    assert thumb.outbound_correction(-8, RULES.triple).value == 24


# By hand: TAS/10 + 7 against tan(bank) = ω V / g for 3°/s.
@pytest.mark.parametrize(
    ("tas_kt", "says_deg", "exact_deg"),
    [(80, 15, 12.39), (100, 17, 15.36), (120, 19, 18.24), (150, 22, 22.39)],
)
def test_tenth_plus_seven(tas_kt, says_deg, exact_deg):
    found = beside(circuit(tas_kt, 0, 0))["a tenth of the TAS plus 7"]
    assert found.thumb.value == says_deg
    assert found.error == pytest.approx(says_deg - exact_deg, abs=0.006)
    assert found.good == (tas_kt > 80)


@pytest.mark.parametrize(("off", "share"), [(15, 0.25), (30, 0.5), (45, 0.75), (60, 1), (80, 1), (150, 0.5)])
def test_clock_code(off, share):
    # Maximum drift for 20 kt at 120 kt is 60 · 20 / 120 = 10°.
    east, north = wind_components(off, 20)
    assert thumb.clock_code_drift(north, east, 120).value == pytest.approx(10 * share)
    assert thumb.clock_code_drift(north, -east, 120).value == pytest.approx(-10 * share)


def test_small_angle_drift():
    # 20° off, 15 kt, 100 kt: 20 · 15 / 100 = 3°; asin(15 sin 20° / 100) = 2.94°.
    east, north = wind_components(20, 15)
    assert thumb.small_angle_drift(north, east, 100).value == pytest.approx(3.0)


def test_seconds_per_knot_signs():
    assert thumb.outbound_time(60, 10).value == 70
    assert thumb.outbound_time(60, -10).value == 50
    assert thumb.outbound_time(60, -10, half=True).value == 55
    assert thumb.outbound_time(60, -80).value == 0


def test_triple_then_single_is_the_mean_over_the_leg():
    assert thumb.triple_then_single(5, 50).value == -15
    assert thumb.triple_then_single(5, 120).value == -(15 * 60 + 5 * 60) / 120
    assert thumb.triple_then_single(5, 0).value == -15


def test_triple_is_good_in_a_crosswind_and_bad_with_a_quartering_headwind():
    # Exact multiples 2.89 and 4.28 at 120 kt (90/20 and 45/20 from the inbound course).
    crosswind, quartering = beside(circuit(120, 90, 20)), beside(circuit(120, 45, 20))
    assert crosswind["triple drift"].error == pytest.approx(-28.77 + 27.76, abs=0.02)
    assert crosswind["triple drift"].good
    assert not crosswind["double drift"].good
    assert quartering["triple drift"].error == pytest.approx(-20.3 + 28.94, abs=0.05)
    assert not quartering["triple drift"].good


def test_one_second_per_knot_does_not_give_a_minute_inbound():
    # 120 kt, 10 kt of headwind inbound: exact 60 (120 − 30)/(120 + 10) = 41.5 s from roll-out; abeam comes
    # when the drift of the first turn, 10 kt · 60 s, has put the fix behind already: inside the turn.
    found = beside(circuit(120, 0, 10))
    assert found["one second per knot"].thumb.value == 50
    assert found["half a second per knot"].thumb.value == 55
    assert found["one second per knot"].exact == pytest.approx(41.5 + 4.7, abs=0.3)


def test_feedback_worked_by_hand():
    # 120 kt, 10 kt of tailwind inbound, exact time by the clock T. Flying 60 s instead makes the inbound leg
    # longer by (60 − T) · 110 kt, flown at 130 kt; the rule takes that time off.
    exact = circuit(120, 180, 10)
    extra = 60 - exact.outbound_timed_s
    assert feedback_after_one(exact, 60).value == pytest.approx(60 - extra * 110 / 130)


def test_gate_in_still_air_is_two_and_a_half_degrees_early():
    found = beside(circuit(120, 0, 0))["30° gate"]
    assert found.error == pytest.approx(30 - 32.48, abs=0.006)
    assert found.good


def test_each_rule_names_itself():
    found = compared_with_thumb(
        circuit(100, 70, 15), still_air_s=60, allowances=load_regime("icao").allowances
    )
    assert len(found) == 10
    for one in found:
        assert one.thumb.rule.words
        assert one.thumb.rule.source
        assert one.thumb.rule.standing in ("published", "quoted", "common practice")
        assert one.thumb.unit in ("°", "s")
