"""Turns and straights in a wind, against the geometry of circles (derived, closed form)."""

import math

import numpy as np
import pytest

from analyser.holds.closing_leg import closing_leg
from analyser.holds.kinematics import SteadyFlight, Trajectory, TurnPath

# 120 kt at three degrees a second: a circle of 0.6366 NM.
RADIUS_NM = 120.0 / 3600.0 / math.radians(3.0)


@pytest.mark.parametrize("hand", [1, -1])
def test_half_a_circle_in_a_wind_is_a_diameter_and_a_minutes_drift(hand):
    flight = SteadyFlight(120.0, complex(12.0, -30.0), 0.0)
    path = Trajectory(flight, 3.0, 0.0)
    path.turn(180.0, hand, 0)
    assert path.time_s == pytest.approx(60.0)
    assert path.at_nm == pytest.approx(complex(0.2, -0.5 + hand * 2.0 * RADIUS_NM))
    assert path.heading_deg == pytest.approx(hand * 180.0)


def test_rolling_in_and_out_lengthens_a_turn_by_one_roll():
    """The rate grows evenly to its full value and falls again: each roll turns through half of what it would."""
    turn = TurnPath(180.0, 3.0, 5.0)
    assert turn.duration_s == pytest.approx(65.0)
    assert turn.peak_rate_dps == pytest.approx(3.0)
    at = np.array([0.0, 5.0, 32.5, 60.0, 65.0])
    assert turn.turned_deg(at) == pytest.approx([0.0, 7.5, 90.0, 172.5, 180.0])
    # Too small for two whole rolls: it ends where it should all the same, and no rate is above the full one.
    small = TurnPath(6.0, 3.0, 5.0)
    assert small.turned_deg(np.array([small.duration_s])) == pytest.approx([6.0])
    assert small.peak_rate_dps <= 3.0


def test_a_wind_triangle_by_hand():
    """3-4-5: 50 kt across 130 kt leave 120 kt along the track."""
    flight = SteadyFlight(130.0, complex(0.0, 50.0), 0.0)
    assert flight.correction_deg(0.0) == pytest.approx(-math.degrees(math.asin(5.0 / 13.0)))
    assert flight.ground_speed_kt(0.0) == pytest.approx(120.0)
    assert flight.ground_speed_kt(90.0) == pytest.approx(180.0)
    assert math.isnan(SteadyFlight(40.0, complex(0.0, 50.0), 0.0).correction_deg(0.0))


@pytest.mark.parametrize("heading_deg", [200.0, 160.0])
def test_the_course_is_met_by_the_shorter_way(heading_deg):
    path = Trajectory(
        SteadyFlight(120.0, 0j, 0.0), 3.0, heading_deg, complex(-4.0, 0.3 if heading_deg > 180 else -0.3)
    )
    assert path.meet_course(None, (0, 1, 2))
    assert path.at_nm == pytest.approx(0j, abs=1e-9)
    points = path.points()
    # Half a circle at most before the interception, not the long way round.
    assert points.time_s[points.phase == 0].max() <= 61.0
    assert points.heading_deg[-1] % 360.0 == pytest.approx(0.0, abs=1e-9)
    assert np.abs(points.cross_nm[points.phase == 2]).max() < 1e-9


@pytest.mark.parametrize("wind_kt", [complex(0.0, 45.0), complex(-20.0, -40.0), complex(25.0, 10.0)])
@pytest.mark.parametrize("roll_s", [0.0, 6.0])
def test_turn_leg_turn_and_the_way_home_add_up_to_nothing(wind_kt, roll_s):
    """Flown part by part from the fix, the circuit that closes comes back to it on its course."""
    flight = SteadyFlight(120.0, wind_kt, roll_s)
    leg = closing_leg(flight, 3.0, 2.0)
    path = Trajectory(flight, 3.0, flight.correction_deg(0.0))
    first_deg = 180.0 + leg.heading_deg - flight.correction_deg(0.0)
    path.turn(first_deg, 1, 0)
    path.straight(leg.time_s, 1)
    path.turn(360.0 - first_deg, 1, 2)
    assert path.at_nm == pytest.approx(complex(-2.0, 0.0), abs=1e-6)
    path.straight(2.0 / flight.ground_speed_kt(0.0) * 3600.0, 3)
    assert path.at_nm == pytest.approx(0j, abs=1e-6)
