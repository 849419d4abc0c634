"""The generator itself, held against closed forms and published tables before anything is held against it."""

from __future__ import annotations

import numpy as np
import pytest

from tests.flights.air import MPS, Air, density_ratio, tas_from_eas
from tests.flights.aircraft import Aircraft, Hand
from tests.flights.flight import EARTH, make_flight, on_earth, see
from tests.flights.hold_plan import FlightPlan, Habits, HoldPlan
from tests.flights.pilot import Pilot, rate_one_bank_deg
from tests.flights.receiver import Receiver
from tests.flights.rehearsal import rehearse
from tests.flights.scenarios import arrival_heading, instrument_case, main_case
from tests.flights.truth import true_ground_kt, true_turn
from tests.flights.wander import FloatArray, wander_at, wandering

STILL = Hand(
    roll_rate_dps=6.0, tas_wander_kt=0.0, bank_wander_deg=0.0, heading_wander_deg=0.0, altitude_wander_ft=0.0
)


def craft(tas_kt: float, air: Air | None = None, hand: Hand = STILL, seed: int = 1) -> Aircraft:
    rng = np.random.default_rng(seed)
    return Aircraft(rng, tas_kt=tas_kt, altitude_ft=5000.0, air=air or Air(), hand=hand)


# Level turns [derived: rate = g tan(bank) / V, radius = V / rate]: TAS, bank for 3°/s, radius in NM.
RATE_ONE = [(80, 12.39, 0.424), (100, 15.36, 0.531), (120, 18.24, 0.637), (150, 22.39, 0.796)]


@pytest.mark.parametrize(("tas_kt", "bank_deg", "radius_nm"), RATE_ONE)
def test_a_rate_one_circle_has_its_radius(tas_kt: float, bank_deg: float, radius_nm: float) -> None:
    assert rate_one_bank_deg(tas_kt) == pytest.approx(bank_deg, abs=0.01)
    aircraft = craft(tas_kt)
    for _ in range(20 * 160):
        aircraft.step(bank_deg)
    series = aircraft.series()
    round_ = slice(20 * 20, 20 * 140)
    rate = np.gradient(series["heading_deg"], series["time_s"])[round_]
    assert rate == pytest.approx(np.full(rate.size, 3.0), abs=0.01)
    width_m = np.ptp(series["east_m"][round_])
    assert width_m / 1852.0 / 2.0 == pytest.approx(radius_nm, abs=0.001)


def test_twenty_five_degrees_is_three_a_second_at_170_knots() -> None:
    # Derived: 3°/s takes 25° of bank at 169.8 kt; above that the limit is less.
    assert rate_one_bank_deg(169.8) == pytest.approx(25.0, abs=0.02)
    assert rate_one_bank_deg(230.0) == 25.0


def test_a_circle_in_the_air_drifts_by_the_wind_for_its_time() -> None:
    aircraft = craft(100.0, Air(270.0, 20.0))
    pilot = Pilot(aircraft)
    begun = (aircraft.time_s, aircraft.east_m, aircraft.north_m)
    pilot.turn_for(1, 20.0, 360.0)
    rest = aircraft.heading_deg - 360.0
    seconds = aircraft.time_s - begun[0]
    assert abs(rest) < 1.0
    assert aircraft.east_m - begun[1] == pytest.approx(20.0 * MPS * seconds, abs=25.0)
    assert aircraft.north_m - begun[2] == pytest.approx(100.0 * MPS * _rolling_s(20.0), abs=60.0)


def _rolling_s(bank_deg: float) -> float:
    """Rolling in and out flies on straight for about half the rolling time in all, either end of a circle."""
    return bank_deg / STILL.roll_rate_dps


def test_ground_velocity_is_air_velocity_plus_wind() -> None:
    flight = make_flight(main_case(4).plan)
    series = flight.series
    span = slice(10, series["time_s"].size - 10)
    east, north = true_ground_kt(series, span)
    heading = np.radians(series["heading_deg"][span])
    tas = series["tas_kt"][span]
    assert np.abs(east - tas * np.sin(heading) - series["wind_east_kt"][span]).max() < 1.2
    off = np.hypot(
        east - tas * np.sin(heading) - series["wind_east_kt"][span],
        north - tas * np.cos(heading) - series["wind_north_kt"][span],
    )
    assert float(np.sqrt(np.mean(off**2))) < 0.35


# ICAO standard atmosphere (Doc 7488, ISO 2533): feet, hPa, °C.
ISA = [(5000.0, 843.07, 5.094), (10000.0, 696.82, -4.812), (20000.0, 465.63, -24.624)]


@pytest.mark.parametrize(("feet", "hectopascal", "celsius"), ISA)
def test_density_is_the_standard_atmospheres(feet: float, hectopascal: float, celsius: float) -> None:
    expected = hectopascal / 1013.25 * 288.15 / (celsius + 273.15)
    assert density_ratio(feet) == pytest.approx(expected, rel=2e-4)


def test_true_airspeed_is_the_published_one() -> None:
    # CAS 100 kt at 5,000 ft is 107.67 kt TAS (ISA); at such speeds CAS and EAS are within a twentieth of a knot.
    assert tas_from_eas(100.0, 5000.0) == pytest.approx(107.67, abs=0.1)


def test_density_is_smooth_through_the_tropopause() -> None:
    assert density_ratio(36_089.0) == pytest.approx(density_ratio(36_090.0), rel=1e-4)


@pytest.mark.parametrize(("sigma", "memory_s"), [(2.0, 30.0), (1.0, 8.0)])
def test_wander_has_its_sigma_and_memory(sigma: float, memory_s: float) -> None:
    steps = wandering(np.random.default_rng(3), sigma, memory_s, 0.5)
    values = np.array([next(steps) for _ in range(400_000)])
    lag = round(memory_s / 0.5)
    assert values.std() == pytest.approx(sigma, rel=0.04)
    assert float(np.mean(values[lag:] * values[:-lag])) / sigma**2 == pytest.approx(np.exp(-1.0), abs=0.05)


def test_wander_at_uneven_times_is_the_same_process() -> None:
    rng = np.random.default_rng(4)
    time_s = np.cumsum(rng.uniform(0.2, 3.0, 200_000))
    values = wander_at(rng, time_s, 3.0, 60.0)
    gap = np.interp(time_s + 60.0, time_s, values)[:-100]
    assert values.std() == pytest.approx(3.0, rel=0.06)
    assert float(np.mean(values[:-100] * gap)) / 9.0 == pytest.approx(np.exp(-1.0), abs=0.06)


@pytest.mark.parametrize("place", [(52.0, 11.0), (-17.0, 179.99), (82.5, -60.0), (-86.0, 120.0)])
def test_a_straight_flight_is_what_the_radii_of_curvature_make_of_it(place: tuple[float, float]) -> None:
    """Step along a heading over the ellipsoid with its radii of curvature; the heading turns with the meridians.

    The radii of the meridian and the prime vertical of WGS84 are textbook geodesy (Clairaut's relation keeps
    the path a geodesic). The map the flights are laid out on must come to the same place.
    """
    semi_major, flattening = 6378137.0, 1.0 / 298.257223563
    squared = flattening * (2.0 - flattening)
    lat, lon, heading, step = np.radians(place[0]), np.radians(place[1]), np.radians(63.0), 5.0
    for _ in range(4000):
        root = 1.0 - squared * np.sin(lat) ** 2
        meridian, vertical = semi_major * (1.0 - squared) / root**1.5, semi_major / np.sqrt(root)
        middle = lat + 0.5 * step * np.cos(heading) / meridian
        turn = step * np.sin(heading) / (vertical * np.cos(middle))
        heading += turn * np.sin(middle)
        lon += turn
        lat += step * np.cos(heading - 0.5 * turn * np.sin(middle)) / meridian
    east, north = 20_000.0 * np.sin(np.radians(63.0)), 20_000.0 * np.cos(np.radians(63.0))
    found_lat, found_lon = on_earth(place, np.array([east]), np.array([north]))
    _, _, apart_m = EARTH.inv(float(found_lon[0]), float(found_lat[0]), np.degrees(lon), np.degrees(lat))
    assert apart_m < 2.0


# Derived circuits, right hand, one minute inbound, turns at 3°/s, wind FROM relative to the inbound course:
# TAS, relative wind, knots, outbound offset into wind, seconds outbound from the roll-out.
CIRCUITS = [
    (90, 90, 10, 18.83, 63.0),
    (90, 45, 20, 43.81, 35.2),
    (90, 135, 20, 19.08, 111.1),
    (120, 90, 20, 27.76, 66.9),
    (120, 45, 20, 28.94, 38.6),
    (150, 315, 20, -21.44, 41.7),
]


@pytest.mark.parametrize(("tas_kt", "relative", "wind_kt", "offset", "seconds"), CIRCUITS)
def test_the_good_pilot_finds_the_derived_circuit(
    tas_kt: float, relative: float, wind_kt: float, offset: float, seconds: float
) -> None:
    course = 20.0
    toward = np.radians(course + relative + 180.0)
    heading, outbound_s = rehearse(
        course_deg=course, side=1, tas_kt=tas_kt, bank_deg=rate_one_bank_deg(tas_kt),
        wind_kt=(float(wind_kt * np.sin(toward)), float(wind_kt * np.cos(toward))),
        inbound_m=None, inbound_s=60.0, roll_dps=1000.0,
    )  # fmt: skip
    # Outbound, a wind from the right of the inbound course comes from the left: into it is less heading.
    assert (course + 180.0 - heading + 180.0) % 360.0 - 180.0 == pytest.approx(offset, abs=0.1)
    assert outbound_s == pytest.approx(seconds, abs=0.15)


def test_in_a_wind_that_leaves_no_circuit_a_short_leg_is_flown_all_the_same():
    """A wind of two thirds of the airspeed: nothing closes, and the shortest leg or the longest is what is left."""
    heading, outbound_s = rehearse(
        course_deg=349.2,
        side=1,
        tas_kt=87.7,
        bank_deg=11.5,
        wind_kt=(-15.4, -55.9),
        inbound_m=None,
        inbound_s=60.0,
    )
    assert 0.0 <= heading < 360.0 and 5.0 <= outbound_s <= 240.0


def test_headings_of_arrival_lie_in_their_sector() -> None:
    # Inbound 010, right hand: 120–190 offset, 190–300 parallel, 300–120 direct (an aviation question bank).
    rng = np.random.default_rng(5)
    bands = {"offset": (120.0, 190.0), "parallel": (190.0, 300.0), "direct": (300.0, 480.0)}
    for entry, (low, high) in bands.items():
        for _ in range(50):
            heading = arrival_heading(rng, entry, 10.0, 1)  # type: ignore[arg-type]
            assert low + 5.0 <= heading + (360.0 if heading < low else 0.0) <= high - 5.0


def test_a_left_hold_mirrors_the_sectors() -> None:
    rng, mirror = np.random.default_rng(6), np.random.default_rng(6)
    right, left = arrival_heading(rng, "offset", 0.0, 1), arrival_heading(mirror, "offset", 0.0, -1)
    assert (right + left) % 360.0 == pytest.approx(0.0, abs=1e-9)


def _trapezoid() -> dict[str, FloatArray]:
    time_s = np.arange(0.0, 80.0, 0.05)
    bank = np.interp(time_s, [0, 10, 15, 60, 66, 80], [0, 0, 20, 20, 0, 0])
    heading = np.cumsum(np.tan(np.radians(bank)) * 0.05 * 8.0)
    return {"time_s": time_s, "bank_deg": bank, "heading_deg": heading}


def test_true_instants_of_a_known_roll() -> None:
    turn = true_turn(_trapezoid(), 9.9, 66.5)
    assert turn.start_s == pytest.approx(10.5, abs=0.05)
    assert turn.end_s == pytest.approx(66.0 - 0.6, abs=0.05)
    assert turn.bank_mean_deg == pytest.approx(20.0, abs=0.1)
    assert not turn.merged


def test_the_receiver_is_off_by_what_it_says_and_slowly() -> None:
    flight = make_flight(main_case(0).plan)
    receiver = Receiver(drifting_m=3.0, drift_memory_s=100.0, white_m=0.0, decimals=9)
    errors = []
    for seed in range(12):
        seen = see(flight, receiver, seed)
        east = np.interp(seen.time_s, flight.series["time_s"], flight.series["east_m"])
        north = np.interp(seen.time_s, flight.series["time_s"], flight.series["north_m"])
        lat, lon = on_earth(flight.origin_deg, east, north)
        _, _, apart = EARTH.inv(lon, lat, seen.lon_deg, seen.lat_deg)
        errors.append(apart)
        assert np.abs(np.diff(apart)).max() < 4.0
    assert float(np.sqrt(np.mean(np.concatenate(errors) ** 2))) == pytest.approx(3.0 * np.sqrt(2.0), rel=0.2)


def test_the_same_seed_makes_the_same_flight() -> None:
    plan = instrument_case(3).plan
    one, two = make_flight(plan), make_flight(plan)
    assert np.array_equal(one.series["east_m"], two.series["east_m"])
    assert one.holds == two.holds


@pytest.mark.parametrize("side", [1, -1])
def test_a_perfect_pilot_in_still_air_flies_the_textbook_racetrack(side: int) -> None:
    hold = HoldPlan(
        course_deg=0.0, side=side, circuits=2, arrival_heading_deg=0.0,
        habits=Habits(timing_error_s=0, bank_error_deg=0, late_at_fix_s=0, heading_error_deg=0, wind_error_kt=0),
    )  # fmt: skip
    flight = make_flight(FlightPlan(seed=1, tas_kt=120.0, hand=STILL, holds=(hold,)))
    for circuit in flight.holds[0].circuits:
        assert circuit.inbound_turn is not None and circuit.rollout_cross_nm is not None
        assert circuit.outbound_turn.heading_change_deg == pytest.approx(180.0 * side, abs=1.5)
        assert circuit.inbound_turn.heading_change_deg == pytest.approx(180.0 * side, abs=1.5)
        assert circuit.rollout_cross_nm == pytest.approx(0.0, abs=0.03)
        assert circuit.inbound_s == pytest.approx(60.0, abs=2.5)
        assert circuit.fix_miss_nm < 0.02
