"""The exact circuit against its closed form, published examples and an integration by small steps."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyser.earth.wind import wind_components
from analyser.holds.definition import Hold, LegLimit
from analyser.holds.exact import exact_circuit
from analyser.holds.ideal_circuit import ideal_circuit
from analyser.holds.kinematics import to_east_north
from analyser.rules.load import load_regime


def circuit(tas_kt, from_deg, wind_kt, *, course=0.0, side=1, rate=3.0, roll_s=0.0, **target):
    east, north = wind_components(from_deg, wind_kt)
    return exact_circuit(
        inbound_course_deg=course,
        side=side,
        tas_kt=tas_kt,
        wind_east_kt=east,
        wind_north_kt=north,
        turn_rate_dps=rate,
        roll_s=roll_s,
        **(target or {"inbound_time_s": 60.0}),
    )


# Derived by hand from GS_out T_out = −(GS_in T_in + W 360/ω): right hand, one minute inbound, wind FROM
# relative to the inbound course.
@pytest.mark.parametrize(
    ("tas_kt", "relative", "wind_kt", "inbound", "outbound", "multiple", "time_s"),
    [
        (90, 90, 10, 6.38, 18.83, 2.95, 63.0),
        (90, 45, 20, 9.04, 43.81, 4.85, 35.2),
        (90, 135, 20, 9.04, 19.08, 2.11, 111.1),
        (120, 90, 20, 9.59, 27.76, 2.89, 66.9),
        (120, 270, 20, -9.59, -27.76, 2.89, 66.9),
        (120, 45, 20, 6.77, 28.94, 4.28, 38.6),
        (150, 315, 20, -5.41, -21.44, 3.96, 41.7),
    ],
)
@pytest.mark.parametrize("course", [0.0, 263.0])
def test_table_of_exact_circuits(tas_kt, relative, wind_kt, inbound, outbound, multiple, time_s, course):
    found = circuit(tas_kt, course + relative, wind_kt, course=course)
    assert found.exists
    assert found.inbound_drift_correction_deg == pytest.approx(inbound, abs=0.006)
    # Into the wind on both legs, which is right of the course inbound and left of the reciprocal outbound.
    assert -found.outbound_correction_deg == pytest.approx(outbound, abs=0.006)
    assert found.drift_multiple == pytest.approx(multiple, abs=0.006)
    assert found.outbound_time_s == pytest.approx(time_s, abs=0.06)
    assert found.inbound_time_s == pytest.approx(60)


@pytest.mark.parametrize("wind_kt", [0, 10, 25, -10, -40])
def test_closed_form_for_wind_along_the_course(wind_kt):
    # One minute inbound, w = inbound headwind: T_out = 60 (V − 3w)/(V + w) from roll-out.
    found = circuit(120, 0 if wind_kt >= 0 else 180, abs(wind_kt))
    assert found.outbound_time_s == pytest.approx(60 * (120 - 3 * wind_kt) / (120 + wind_kt))
    assert found.outbound_correction_deg == pytest.approx(0, abs=1e-9)
    assert found.drift_multiple is None


def test_41_and_a_half_seconds():
    assert circuit(120, 0, 10).outbound_time_s == pytest.approx(41.5, abs=0.06)


@pytest.mark.parametrize("tas_kt", [80, 120, 200])
def test_still_air_gate_is_atan_2_over_pi_at_any_speed(tas_kt):
    found = circuit(tas_kt, 0, 0)
    assert found.gate_bearing_deg == pytest.approx(32.48, abs=0.006)
    assert found.total_s == pytest.approx(240)
    assert found.outbound_timed_s == pytest.approx(60)
    assert found.abeam_after_s == pytest.approx(60, abs=1e-4)


def test_rolling_time_lengthens_the_turns_and_tends_to_the_closed_form():
    plain, soft = circuit(120, 60, 20), circuit(120, 60, 20, roll_s=4)
    assert soft.first_turn_s + soft.second_turn_s == pytest.approx(120 + 8)
    near = circuit(120, 60, 20, roll_s=1e-4)
    assert near.outbound_time_s == pytest.approx(plain.outbound_time_s, abs=0.001)
    assert near.outbound_heading_deg == pytest.approx(plain.outbound_heading_deg, abs=0.001)
    assert near.abeam_after_s == pytest.approx(plain.abeam_after_s, abs=0.001)


def test_still_air_with_rolling_time_keeps_wings_level_abeam():
    found = circuit(120, 0, 0, roll_s=5)
    assert found.first_turn_s == pytest.approx(65)
    assert found.abeam_after_s == pytest.approx(65, abs=1e-4)
    assert found.outbound_timed_s == pytest.approx(60, abs=1e-4)


def test_aim_tripled_drift_example():
    # FAA AIM 5-3-8 j.8(c): 8° left inbound → 24° right outbound. With the crosswind that asks for 8° the
    # exact answer lies within 2° of the AIM's and is on the side it says.
    wind_kt = 120 * math.sin(math.radians(8))
    found = circuit(120, 270, wind_kt)
    assert found.inbound_drift_correction_deg == pytest.approx(-8)
    assert found.outbound_correction_deg == pytest.approx(24, abs=2)


def step_by_step(found, step_s=0.02):
    """Fly the circuit's headings and times with a rate-of-turn profile by small steps, in the tests' own way."""
    heading = math.radians(found.inbound_drift_correction_deg)
    along = cross = 0.0
    points = []

    def move(seconds, rate_at):
        nonlocal heading, along, cross
        n = max(1, round(seconds / step_s))
        for k in range(n):
            dt = seconds / n
            rate = math.radians(rate_at((k + 0.5) * dt, seconds)) * found.side
            middle = heading + 0.5 * rate * dt
            along += (found.tas_kt * math.cos(middle) + found.wind_along_kt) * dt / 3600
            cross += (found.tas_kt * math.sin(middle) + found.wind_cross_kt) * dt / 3600
            heading += rate * dt
        points.append((along, cross))

    def turning(t, total):
        if found.roll_s == 0:
            return found.turn_rate_dps
        return found.turn_rate_dps * min(1.0, t / found.roll_s, (total - t) / found.roll_s)

    move(found.first_turn_s, turning)
    after_first = math.degrees(heading)
    move(found.outbound_time_s, lambda t, total: 0.0)
    move(found.second_turn_s, turning)
    move(found.inbound_time_s, lambda t, total: 0.0)
    return points, after_first


WINDS = {"from_deg": st.floats(0, 360), "wind_kt": st.floats(0, 35)}


@settings(max_examples=40, deadline=None)
@given(
    tas_kt=st.floats(85, 210), side=st.sampled_from([1, -1]), roll_s=st.sampled_from([0.0, 2.5, 6.0]), **WINDS
)
def test_flown_by_small_steps_it_comes_back_to_the_fix(tas_kt, side, roll_s, from_deg, wind_kt):
    found = circuit(tas_kt, from_deg, wind_kt, side=side, roll_s=roll_s)
    points, after_first = step_by_step(found)
    assert points[3] == pytest.approx((0, 0), abs=1e-4)
    assert points[1] == pytest.approx((found.outbound_end_along_nm, found.outbound_end_cross_nm), abs=1e-4)
    assert points[2] == pytest.approx((found.rollout_along_nm, 0), abs=1e-4)
    turned = (after_first - 180 - found.outbound_correction_deg) % 360
    assert min(turned, 360 - turned) == pytest.approx(0, abs=0.01)


@settings(max_examples=40, deadline=None)
@given(tas_kt=st.floats(85, 210), side=st.sampled_from([1, -1]), roll_s=st.sampled_from([0.0, 4.0]), **WINDS)
def test_path_joins_the_figures(tas_kt, side, roll_s, from_deg, wind_kt):
    found = circuit(tas_kt, from_deg, wind_kt, side=side, roll_s=roll_s)
    path = found.path(1.0)
    assert (path.along_nm[-1], path.cross_nm[-1]) == pytest.approx((0, 0), abs=1e-9)
    assert path.time_s[-1] == pytest.approx(found.total_s)
    assert np.all(np.diff(path.phase) >= 0)
    steps = np.hypot(np.diff(path.along_nm), np.diff(path.cross_nm)) / np.diff(path.time_s) * 3600
    assert np.all(steps <= tas_kt + wind_kt + 1e-6)
    inbound = path.phase == 3
    assert path.cross_nm[inbound] == pytest.approx(0, abs=1e-9)
    assert np.sum(inbound) >= 2
    if found.abeam_after_s is not None:
        assert np.interp(found.abeam_after_s, path.time_s, path.along_nm) == pytest.approx(0, abs=2e-3)
    assert np.max(found.side * path.cross_nm) > 0.5


@settings(max_examples=40, deadline=None)
@given(course=st.floats(0, 360), roll_s=st.sampled_from([0.0, 4.0]), **WINDS)
def test_rotating_course_and_wind_together_changes_nothing(course, roll_s, from_deg, wind_kt):
    plain = circuit(120, from_deg, wind_kt, roll_s=roll_s)
    turned = circuit(120, from_deg + course, wind_kt, course=course, roll_s=roll_s)
    assert turned.outbound_time_s == pytest.approx(plain.outbound_time_s, abs=1e-6)
    assert turned.outbound_correction_deg == pytest.approx(plain.outbound_correction_deg, abs=1e-6)
    assert (turned.outbound_heading_deg - course - plain.outbound_heading_deg + 180) % 360 == pytest.approx(
        180
    )


@settings(max_examples=40, deadline=None)
@given(roll_s=st.sampled_from([0.0, 4.0]), **WINDS)
def test_left_is_the_mirror_of_right(roll_s, from_deg, wind_kt):
    right = circuit(120, from_deg, wind_kt, roll_s=roll_s)
    left = circuit(120, -from_deg, wind_kt, side=-1, roll_s=roll_s)
    assert left.outbound_time_s == pytest.approx(right.outbound_time_s, abs=1e-6)
    assert left.outbound_correction_deg == pytest.approx(-right.outbound_correction_deg, abs=1e-6)
    assert left.gate_bearing_deg == pytest.approx(right.gate_bearing_deg, abs=1e-6)
    assert left.path(5).cross_nm == pytest.approx(-right.path(5).cross_nm, abs=1e-8)


def test_distance_target_makes_the_length_good():
    found = circuit(120, 30, 25, inbound_distance_nm=2.0)
    assert found.inbound_distance_nm == 2.0
    assert found.rollout_along_nm == pytest.approx(-2.0)
    assert found.inbound_time_s == pytest.approx(2.0 / found.inbound_ground_speed_kt * 3600)


# A direct headwind of V/3 is the last with a one-minute inbound leg: T_out = 60 (V − 3w)/(V + w) = 0 there.
def test_wind_too_strong_for_the_leg_time_gives_the_shortest_circuit_instead():
    assert circuit(120, 0, 39.9).exists
    found = circuit(120, 0, 60)
    assert not found.exists
    assert found.closes
    # A continuous turn drifts 60 kt for 120 s = 2 NM, which takes 120 s to fly back at 60 kt.
    assert found.inbound_distance_nm == pytest.approx(2.0, abs=0.001)
    assert found.inbound_time_s == pytest.approx(120, abs=0.1)
    assert found.outbound_time_s == pytest.approx(0, abs=0.1)
    assert "one continuous turn" in found.why_not
    assert "120 s" in found.why_not


def test_strong_quartering_wind_gives_the_shortest_outward_circuit():
    found = circuit(120, 20, 60, roll_s=4)
    assert not found.exists
    assert abs(found.outbound_correction_deg) <= 90
    assert abs(found.outbound_correction_deg) > 88
    path = found.path(0.5)
    assert np.interp(found.abeam_after_s, path.time_s, path.along_nm) == pytest.approx(0, abs=1e-3)
    points, _ = step_by_step(found)
    assert points[3] == pytest.approx((0, 0), abs=1e-4)


def test_a_turn_too_small_to_reach_its_rate_still_closes():
    # Nearly as much wind as airspeed, from abeam: the outbound turn is some 10°, less than its rolling covers.
    found = circuit(248.7, 94, 247.9, roll_s=8, rate=2.05)
    assert found.first_turn.angle_deg < 8 * 2.05
    path = found.path()
    assert (path.along_nm[-1], path.cross_nm[-1]) == pytest.approx((0, 0), abs=1e-6)


@pytest.mark.parametrize(("from_deg", "wind_kt"), [(0, 120), (90, 125), (40, 150)])
def test_wind_too_strong_for_the_course_gives_nothing(from_deg, wind_kt):
    found = circuit(120, from_deg, wind_kt)
    assert not found.exists
    assert not found.closes
    assert "too strong" in found.why_not
    assert math.isnan(found.outbound_time_s)


@pytest.mark.parametrize(
    "target", [{"inbound_time_s": 60, "inbound_distance_nm": 2}, {"inbound_time_s": -1}, {"roll_s": -1}]
)
def test_senseless_questions(target):
    with pytest.raises(ValueError, match=r"exactly one|above zero"):
        circuit(120, 0, 0, **target)


HOLD = Hold(48, 11, 90, "right")


def test_regimes_have_different_targets():
    wind = dict(zip(("wind_east_kt", "wind_north_kt"), wind_components(90, 20), strict=True))
    common = {"tas_kt": 120, "altitude_ft": 5000, "roll_s": 0.0} | wind
    faa = ideal_circuit(HOLD, load_regime("faa"), **common)
    icao = ideal_circuit(HOLD, load_regime("icao"), **common)
    assert faa.inbound_time_s == pytest.approx(60)
    assert icao.inbound_distance_nm == pytest.approx(2.0)
    assert icao.inbound_time_s == pytest.approx(72)  # 2 NM at 100 kt
    high = ideal_circuit(HOLD, load_regime("faa"), **(common | {"altitude_ft": 15000}))
    assert high.inbound_time_s == pytest.approx(90)


def test_charted_legs_go_before_the_table():
    common = {"tas_kt": 120, "altitude_ft": 5000, "wind_east_kt": 0, "wind_north_kt": 0}
    timed = Hold(48, 11, 90, "left", leg=LegLimit(minutes=2))
    assert ideal_circuit(timed, load_regime("faa"), **common).inbound_time_s == pytest.approx(120)
    distance = Hold(48, 11, 90, "left", leg=LegLimit(distance_nm=4))
    found = ideal_circuit(distance, load_regime("icao"), **common)
    assert found.outbound_end_along_nm == pytest.approx(-4, abs=1e-6)
    # In still air the inbound leg is as long.
    assert found.inbound_distance_nm == pytest.approx(4, abs=1e-6)
    # 18.24° of bank for 3°/s at 120 kt, at 5° of bank a second.
    assert ideal_circuit(distance, load_regime("icao"), **common).roll_s == pytest.approx(
        18.24 / 5, abs=0.002
    )


def test_aim_dme_examples():
    # FAA AIM figures 5-3-5 and 5-3-6: fix at 10 NM, 5 NM leg, inbound towards → 15 DME; 28 NM, 8 NM, away → 20.
    assert LegLimit(distance_nm=5, fix_dme_nm=10).end_dme_nm == 15
    assert LegLimit(distance_nm=8, fix_dme_nm=28, towards_station=False).end_dme_nm == 20
    assert LegLimit(distance_nm=8).end_dme_nm is None


@pytest.mark.parametrize(
    ("from_deg", "inbound_nm", "outbound_s"), [(90, 5.5, 108.0), (270, 4.5, 220.0), (0, None, None)]
)
@pytest.mark.parametrize("regime", ["icao", "faa"])
def test_a_charted_distance_ends_the_outbound_leg_whatever_the_wind(from_deg, inbound_nm, outbound_s, regime):
    # AIM 5-3-8 j.5, j.7(a)(4); Doc 8168 Vol I 1.5.1. By hand at 120 kt, rate one and no rolling, 30 kt of wind along
    # the course: half a turn takes 60 s and drifts 0.5 NM. On the tail outbound, the first turn ends 0.5 NM out, the
    # 4.5 NM left take 108 s at 150 kt, and the second turn rolls out at 5.5 NM; against it the first turn ends 0.5 NM
    # short of abeam, 5.5 NM at 90 kt take 220 s, and the second turn rolls out at 4.5 NM.
    hold = Hold(48, 11, 90, "right", leg=LegLimit(distance_nm=5))
    wind = dict(zip(("wind_east_kt", "wind_north_kt"), wind_components(from_deg, 30), strict=True))
    found = ideal_circuit(hold, load_regime(regime), tas_kt=120, altitude_ft=5000, roll_s=0.0, **wind)
    assert found.exists
    assert found.outbound_end_along_nm == pytest.approx(-5, abs=1e-5)
    if inbound_nm is not None:
        assert found.inbound_distance_nm == pytest.approx(inbound_nm, abs=1e-3)
        assert found.outbound_time_s == pytest.approx(outbound_s, abs=0.05)


@pytest.mark.parametrize(("fix", "length", "towards", "end"), [(10, 5, True, 15.0), (28, 8, False, 20.0)])
@pytest.mark.parametrize("from_deg", [90, 270, 200])
def test_by_a_station_the_turn_begins_at_the_charted_reading(fix, length, towards, end, from_deg):
    # FAA AIM figures 5-3-5 and 5-3-6; the station lies on the line of the inbound course.
    hold = Hold(48, 11, 90, "left", leg=LegLimit(distance_nm=length, fix_dme_nm=fix, towards_station=towards))
    wind = dict(zip(("wind_east_kt", "wind_north_kt"), wind_components(from_deg, 30), strict=True))
    found = ideal_circuit(hold, load_regime("faa"), tas_kt=150, altitude_ft=5000, **wind)
    station_nm = fix if towards else -fix
    away_nm = math.hypot(found.outbound_end_along_nm - station_nm, found.outbound_end_cross_nm)
    assert away_nm == pytest.approx(end, abs=1e-3)


def test_a_distance_that_the_turns_alone_drift_past_has_no_circuit():
    # 60 kt on the tail outbound: one turn at 120 kt drifts 1 NM, so a mile out is passed before the leg begins.
    hold = Hold(48, 11, 90, "right", leg=LegLimit(distance_nm=0.6))
    wind = dict(zip(("wind_east_kt", "wind_north_kt"), wind_components(90, 60), strict=True))
    found = ideal_circuit(hold, load_regime("faa"), tas_kt=120, altitude_ft=5000, roll_s=0.0, **wind)
    assert found.closes
    assert not found.exists
    assert "beyond that" in found.why_not


def test_to_east_north():
    east, north = to_east_north(np.array([1.0, 0.0]), np.array([0.0, 1.0]), 90)
    assert east == pytest.approx([1, 0], abs=1e-12)
    assert north == pytest.approx([0, -1], abs=1e-12)


def test_a_wind_that_leaves_hardly_an_outbound_leg_lengthens_the_inbound_one():
    """At 70 kt in 35 kt nearly on the nose the minute leaves seconds outbound, on which nobody flies 90° of drift.

    Fifteen seconds are half of what US Navy P-871 asks for on a first correction.
    """
    wind = dict(zip(("wind_east_kt", "wind_north_kt"), wind_components(80, 35), strict=True))
    common = {"tas_kt": 70, "altitude_ft": 2000} | wind
    for rules in ("icao", "faa"):
        found = ideal_circuit(HOLD, load_regime(rules), **common)
        assert found.closes and not found.exists and "at least 15 s outbound" in found.why_not
        assert found.outbound_time_s == pytest.approx(15.0, abs=0.01)
        assert abs(found.outbound_correction_deg) < 50.0
    # FAA, 20 kt on the nose at 120 kt: 60 (V - 3w) / (V + w) = 26 s, which is a leg to fly.
    usual = dict(zip(("wind_east_kt", "wind_north_kt"), wind_components(90, 20), strict=True))
    leg = ideal_circuit(HOLD, load_regime("faa"), tas_kt=120, altitude_ft=5000, roll_s=0.0, **usual)
    assert leg.exists and leg.outbound_time_s == pytest.approx(25.7, abs=0.1)


@pytest.mark.parametrize("side", [1, -1])
def test_every_figure_of_a_circuit_in_still_air_by_hand(side):
    """At 120 kt and three degrees a second a half circle takes a minute and is 2 V / ω = 1.2732 NM wide."""
    found, wide_nm = circuit(120, 0, 0, course=70.0, side=side), 2.0 * 120.0 / 3600.0 / math.radians(3.0)
    assert (found.inbound_heading_deg, found.outbound_heading_deg, found.outbound_track_deg) == (
        70.0,
        250.0,
        250.0,
    )
    assert (found.first_turn_s, found.second_turn_s) == (60.0, 60.0)
    assert found.inbound_distance_nm == pytest.approx(2.0)
    assert found.inbound_ground_speed_kt == found.outbound_ground_speed_kt == 120.0
    assert found.outbound_along_kt == pytest.approx(-120.0)
    assert found.turn_in_after_s == pytest.approx(120.0)
    assert (found.clock_from, found.level_time_s, found.drift_multiple) == ("abeam", None, None)
    assert (found.outbound_end_along_nm, found.outbound_end_cross_nm) == pytest.approx((-2.0, side * wide_nm))
    assert found.rollout_along_nm == pytest.approx(-2.0)
    assert found.bank_deg == pytest.approx(18.24, abs=0.006)
    path = found.path(1.0)
    inside = (path.time_s % 60.0) > 0.5
    assert (path.phase[inside] == path.time_s[inside] // 60.0).all()
    at = {round(t): k for k, t in enumerate(path.time_s)}
    for time_s, along_nm, cross_nm, heading_deg in (
        (0, 0.0, 0.0, 70.0),
        (30, 0.5 * wide_nm, 0.5 * wide_nm, 70.0 + side * 90.0),
        (60, 0.0, wide_nm, 250.0),
        (120, -2.0, wide_nm, 250.0),
        (150, -2.0 - 0.5 * wide_nm, 0.5 * wide_nm, 70.0 - side * 90.0),
        (240, 0.0, 0.0, 70.0),
    ):
        k = at[time_s]
        assert (path.along_nm[k], path.cross_nm[k]) == pytest.approx((along_nm, side * cross_nm), abs=1e-6)
        assert (path.heading_deg[k] - heading_deg + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize(("towards", "station_nm"), [(True, 10.0), (False, -10.0)])
def test_beyond_the_limiting_radial_is_farther_from_the_course_than_it(towards, station_nm):
    """Inbound 090; 30° off the line through station and fix, on the holding side: a place 25° off lies 5° before it."""
    for side, turns in ((1, "right"), (-1, "left")):
        # Seen from a station ahead the holding side of a right-hand hold lies left of the line to the fix.
        radial = (270.0 - 30.0 * side) if towards else (90.0 + 30.0 * side)
        leg = LegLimit(distance_nm=4.0, fix_dme_nm=10.0, towards_station=towards)
        hold = Hold(48, 11, 90, turns, leg=leg, limiting_radial_true_deg=radial)
        for off_deg, beyond_deg in ((25.0, -5.0), (30.0, 0.0), (38.0, 8.0)):
            way = math.radians(off_deg)
            along = station_nm - math.copysign(12.0 * math.cos(way), station_nm)
            found = hold.beyond_radial_deg(along, side * 12.0 * math.sin(way))
            assert found == pytest.approx(beyond_deg, abs=1e-9)
    assert Hold(48, 11, 90, "right", leg=leg).beyond_radial_deg(1.0, 1.0) is None


def test_a_wind_beyond_the_airspeed_makes_no_course_good():
    found = circuit(120, 90, 125.0)
    assert not found.exists and not found.closes and math.isnan(found.inbound_time_s)
    assert "too strong" in found.why_not
