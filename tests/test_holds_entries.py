"""Entries flown in still air and in wind, against the published procedures."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from analyser.earth.wind import wind_components
from analyser.holds.definition import LegLimit
from analyser.holds.entries import entry_path, entry_plan, sectors_allowed
from analyser.holds.exact import exact_circuit
from analyser.holds.kinematics import MOST_STEPS
from analyser.rules.load import load_regime

ICAO, FAA = load_regime("icao"), load_regime("faa")


def plan(entry, *, side=1, from_deg=0, wind_kt=0, altitude_ft=5000, regime=ICAO, arrival=None, leg=None):
    east, north = wind_components(from_deg, wind_kt)
    exact = exact_circuit(
        inbound_course_deg=360,
        side=side,
        tas_kt=120,
        wind_east_kt=east,
        wind_north_kt=north,
        turn_rate_dps=3,
        inbound_time_s=60,
    )
    return entry_plan(entry, exact, regime, altitude_ft=altitude_ft, arrival_heading_deg=arrival, leg=leg)


# ICAO Doc 8168 and FAA AIM 5-3-8 j.3: offset 30° from the reciprocal on the holding side, which lies right of
# the inbound course of a right-hand hold; inbound 360°, so 150° right-hand and 210° left-hand.
def test_offset_tracks():
    assert plan("offset").track_deg == pytest.approx(150)
    assert plan("offset", side=-1).track_deg == pytest.approx(210)
    assert plan("offset").second_turn == "right"
    assert plan("offset", side=-1).second_turn == "left"


# FAA AIM 5-3-8 j.3(a): parallel outbound on the non-holding side, then a turn of more than 180° towards the
# pattern: to the left in a right-hand hold.
def test_parallel():
    assert plan("parallel").track_deg == pytest.approx(180)
    assert plan("parallel").second_turn == "left"
    assert plan("parallel", side=-1).second_turn == "right"


@pytest.mark.parametrize(
    ("regime", "altitude_ft", "time_s"),
    [(ICAO, 5000, 60), (ICAO, 15000, 90), (FAA, 5000, 60), (FAA, 15000, 60)],
)
def test_entry_times_in_still_air(regime, altitude_ft, time_s):
    for entry in ("parallel", "offset"):
        found = plan(entry, regime=regime, altitude_ft=altitude_ft)
        assert found.rule_time_s == time_s
        assert found.time_s == pytest.approx(time_s)


@pytest.mark.parametrize(
    ("entry", "from_deg", "wind_kt", "time_s"),
    # By hand: 4 NM at 120 kt; with 20 kt on the nose; 30° off, 4 NM along the course are 4.62 NM of the way.
    [("parallel", 0, 0, 120.0), ("parallel", 180, 20, 144.0), ("offset", 0, 0, 138.6)],
)
def test_where_a_distance_ends_the_leg_the_entry_lasts_until_it_is_flown(entry, from_deg, wind_kt, time_s):
    found = plan(entry, from_deg=from_deg, wind_kt=wind_kt, leg=LegLimit(distance_nm=4.0))
    assert found.time_s == pytest.approx(time_s, abs=0.1)


def test_wind_is_corrected_in_heading_and_time():
    # Wind 090/20 on a track of 180 at 120 kt: asin(20/120) = 9.59° to the left; ground speed 118.3 kt.
    found = plan("parallel", from_deg=90, wind_kt=20)
    assert found.heading_deg == pytest.approx(180 - 9.59, abs=0.006)
    assert found.time_s == pytest.approx(60 * 120 / 118.32, abs=0.01)


def test_the_faa_entry_is_flown_by_the_watch():
    """FAA AIM 5-3-8 j.3(a), (b): turn to a heading, for one minute by the watch; the wind moves the track."""
    for entry in ("parallel", "offset"):
        found = plan(entry, from_deg=180, wind_kt=20, regime=FAA)
        assert found.time_s == found.rule_time_s == 60
        assert plan(entry, from_deg=180, wind_kt=20).time_s > 65
    # Right hand, inbound 360: headings 180 and 150, whatever the wind; 20 kt from the left carry the parallel leg's
    # track atan(20/120) = 9.46° to the right.
    parallel = plan("parallel", from_deg=90, wind_kt=20, regime=FAA)
    assert parallel.heading_deg == pytest.approx(180.0)
    assert parallel.track_deg == pytest.approx(189.46, abs=0.006)
    assert plan("offset", from_deg=90, wind_kt=20, regime=FAA).heading_deg == pytest.approx(150.0)
    # ICAO gives the track, and the heading holds it.
    assert plan("parallel", from_deg=90, wind_kt=20).track_deg == pytest.approx(180.0)
    assert plan("parallel", from_deg=90, wind_kt=20).heading_deg == pytest.approx(170.41, abs=0.006)


def test_turns_over_the_fix():
    assert (plan("parallel", arrival=250).first_turn, plan("parallel", arrival=250).first_turn_deg) == (
        "left",
        70,
    )
    assert (plan("offset", arrival=120).first_turn, plan("offset", arrival=120).first_turn_deg) == (
        "right",
        30,
    )
    # A direct entry always turns the way of the hold, also where the other way is shorter.
    direct = plan("direct", arrival=80)
    assert (direct.first_turn, round(direct.first_turn_deg)) == ("right", 100)
    left = plan("direct", side=-1, arrival=80)
    assert (left.first_turn, round(left.first_turn_deg)) == ("left", 260)
    assert plan("direct").first_turn_deg is None


@settings(max_examples=60, deadline=None)
@given(
    side=st.sampled_from([1, -1]),
    arrival=st.floats(0, 359),
    from_deg=st.floats(0, 360),
    wind_kt=st.floats(0, 25),
    tas_kt=st.floats(85, 180),
)
# The turn over the fix is six thousandths of a degree.
@example(side=1, arrival=192.28125, from_deg=210.5, wind_kt=16.75, tas_kt=147.0)
def test_the_drawn_entry_flies_its_plan_and_ends_over_the_fix(side, arrival, from_deg, wind_kt, tas_kt):
    east, north = wind_components(from_deg, wind_kt)
    exact = exact_circuit(
        inbound_course_deg=40,
        side=side,
        tas_kt=tas_kt,
        wind_east_kt=east,
        wind_north_kt=north,
        turn_rate_dps=3,
        roll_s=3.6,
        inbound_time_s=60,
    )
    turns = "right" if side > 0 else "left"
    entry = sectors_allowed(arrival, 40, turns)[0]
    planned = entry_plan(entry, exact, ICAO, altitude_ft=5000, arrival_heading_deg=arrival)
    path = entry_path(planned, exact, arrival)
    assert (path.along_nm[0], path.cross_nm[0]) == (0, 0)
    assert np.all(np.diff(path.phase) >= 0)
    leg = path.phase == 1
    if entry != "direct":
        # The leg makes its track good, and the distance that the rule's time gives in still air.
        moved = path.along_nm[leg][-1] - path.along_nm[leg][0], path.cross_nm[leg][-1] - path.cross_nm[leg][0]
        assert np.hypot(*moved) == pytest.approx(tas_kt / 60, rel=1e-6)
        off = np.degrees(np.arctan2(moved[1], moved[0])) + 40 - planned.track_deg
        assert (off + 180) % 360 == pytest.approx(180, abs=1e-6)
    if np.any(path.phase == 4):
        assert (path.along_nm[-1], path.cross_nm[-1]) == pytest.approx((0, 0), abs=0.011)
        inbound = path.phase == 4
        assert np.ptp(path.cross_nm[inbound]) < 1e-6


@pytest.mark.parametrize(
    ("arrival", "entry"), [(0, "direct"), (70, "direct"), (230, "parallel"), (140, "offset")]
)
@pytest.mark.parametrize("side", [1, -1])
def test_in_still_air_every_entry_meets_the_course_before_the_fix(arrival, entry, side):
    exact = exact_circuit(
        inbound_course_deg=0,
        side=side,
        tas_kt=120,
        wind_east_kt=0,
        wind_north_kt=0,
        turn_rate_dps=3,
        inbound_time_s=60,
    )
    arrival = arrival * side % 360
    path = entry_path(
        entry_plan(entry, exact, ICAO, altitude_ft=5000, arrival_heading_deg=arrival), exact, arrival
    )
    assert path.phase[-1] == 4
    assert (path.along_nm[-1], path.cross_nm[-1]) == pytest.approx((0, 0), abs=0.011)
    # An offset entry stays on the holding side until it is inbound.
    if entry == "offset":
        assert np.min(side * path.cross_nm[path.phase <= 1]) > -0.02


@pytest.mark.parametrize("wind_kt", [-20, 0, 20])
@pytest.mark.parametrize(("entry", "dme_nm"), [("direct", None), ("offset", 3.0), ("parallel", 2.5)])
def test_an_entrys_leg_ends_where_the_circuits_does_or_its_distance_is_reached(entry, dme_nm, wind_kt):
    exact = exact_circuit(
        inbound_course_deg=0,
        side=1,
        tas_kt=120,
        wind_east_kt=0,
        wind_north_kt=wind_kt,
        turn_rate_dps=3,
        inbound_time_s=60,
    )
    planned = entry_plan(entry, exact, ICAO, altitude_ft=5000)
    planned = replace(planned, end_nm=dme_nm)
    path = entry_path(planned, exact, 0 if entry == "direct" else 180)
    ends_nm = -dme_nm if dme_nm is not None else exact.outbound_end_along_nm
    assert path.along_nm[path.phase == 1][-1] == pytest.approx(ends_nm, abs=1e-6)


@pytest.mark.parametrize("wind_kt", [119.9, -119.9])
def test_a_leg_of_days_is_drawn_with_no_more_points_than_one_of_an_hour(wind_kt):
    exact = exact_circuit(
        inbound_course_deg=0,
        side=1,
        tas_kt=120,
        wind_east_kt=0,
        wind_north_kt=wind_kt,
        turn_rate_dps=3,
        inbound_time_s=60,
    )
    path = entry_path(entry_plan("parallel", exact, ICAO, altitude_ft=5000), exact, 180)
    longest_s = np.diff(path.time_s).max()
    assert path.time_s.size < 5 * (MOST_STEPS + 1) and path.time_s[-1] > 3600
    assert longest_s > 1.5 and longest_s < 1.01 * np.ptp(path.time_s) / MOST_STEPS
    assert exact.path().time_s.size < MOST_STEPS + 6
