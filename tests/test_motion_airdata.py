"""What an aircraft's own instruments add, and what is not believed of them."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from analyser.circuits.find import find_holds
from analyser.circuits.flown import FlownHold
from analyser.logs.track import Track
from tests.flights.air import Air
from tests.flights.aircraft import Hand
from tests.flights.as_track import seen_track, to_hold
from tests.flights.flight import Flight, make_flight, see
from tests.flights.hold_plan import FlightPlan, HoldPlan
from tests.flights.instruments import with_air_data
from tests.flights.receiver import Receiver

SEEDS = (41, 42, 43, 44)
VARIATION_DEG = -11.0


@cache
def flown(seed: int) -> Flight:
    return make_flight(
        FlightPlan(
            seed=seed, tas_kt=115.0, air=Air(200.0 + 10 * seed, 24.0), hand=Hand(tas_wander_kt=3.0),
            holds=(HoldPlan(course_deg=75.0, circuits=2, arrival_heading_deg=80.0, arrival_nm=3.0),),
        )
    )  # fmt: skip


@cache
def track(seed: int) -> Track:
    flight = flown(seed)
    seen = with_air_data(flight, see(flight, Receiver(), seed), seed, variation_deg=VARIATION_DEG)
    return seen_track(seen, "air data")


def only(seed: int, *names: str) -> Track:
    whole = track(seed)
    return replace(whole, channels={k: v for k, v in whole.channels.items() if k in ("altitude_ft", *names)})


def hold_of(seed: int, seen: Track) -> FlownHold:
    (found,) = find_holds(seen, to_hold(flown(seed).holds[0]))
    return found


def wind_error_kt(seed: int, *names: str) -> float:
    found, truth = hold_of(seed, only(seed, *names)).motion, flown(seed).holds[0]
    return float(
        np.hypot(found.wind_mean_east_kt - truth.wind_kt[0], found.wind_mean_north_kt - truth.wind_kt[1])
    )


def test_airspeed_and_heading_make_the_wind_better() -> None:
    bare = np.median([wind_error_kt(seed) for seed in SEEDS])
    with_tas = np.median([wind_error_kt(seed, "tas_kt") for seed in SEEDS])
    with_both = np.median([wind_error_kt(seed, "tas_kt", "heading_magnetic_deg") for seed in SEEDS])
    assert with_tas < 0.6 * bare
    assert with_both < 0.6 * bare


def test_stated_sigma_falls_with_the_error() -> None:
    bare = hold_of(41, only(41)).motion.wind_mean_sd_kt
    assert hold_of(41, only(41, "tas_kt", "heading_magnetic_deg")).motion.wind_mean_sd_kt < bare


def test_logged_bank_is_used_where_it_follows_the_track() -> None:
    found = hold_of(41, only(41, "bank_deg"))
    assert found.motion.obtained["bank"] == "logged"
    truth = flown(41).holds[0].circuits[0].outbound_turn
    turn = found.circuits[0].outbound_turn
    assert turn is not None
    assert turn.bank_mean_deg == pytest.approx(truth.bank_mean_deg, abs=0.6)
    assert turn.start_s == pytest.approx(truth.start_s, abs=1.5)


def test_lag_and_bias_of_a_logged_bank_are_taken_out_and_told() -> None:
    good = only(41, "bank_deg")
    late = np.interp(good.time_s - 3.0, good.time_s, good.channels["bank_deg"]) + 4.0
    found = hold_of(41, replace(good, channels={**good.channels, "bank_deg": late}))
    assert any(n.code == "bank-corrected" for n in found.notices)
    truth = flown(41).holds[0].circuits[0].outbound_turn
    turn = found.circuits[0].outbound_turn
    assert turn is not None
    assert turn.bank_mean_deg == pytest.approx(truth.bank_mean_deg, abs=0.8)


def test_a_bank_that_does_not_follow_the_track_is_dropped_and_told() -> None:
    good = only(41, "bank_deg")
    noise = np.random.default_rng(5).normal(0.0, 10.0, good.samples)
    found = hold_of(41, replace(good, channels={**good.channels, "bank_deg": noise}))
    assert found.motion.obtained["bank"] == "derived"
    assert any(n.code == "bank-not-used" for n in found.notices)


def test_an_airspeed_that_only_misleads_is_not_preferred() -> None:
    """A reading that wanders by 25 kt on its own leaves the noisier remainder, and "constant" is kept."""
    good = only(42, "tas_kt")
    rng = np.random.default_rng(6)
    beats = np.arange(0.0, good.time_s[-1] + 60.0, 30.0)
    wild = good.channels["tas_kt"] + np.interp(good.time_s, beats, rng.normal(0.0, 25.0, beats.size))
    found = hold_of(42, replace(good, channels={**good.channels, "tas_kt": wild}))
    assert found.motion.obtained["tas"] == "derived"


def test_turns_that_nobody_flies_make_the_clock_doubtful() -> None:
    """Half the time for the same way asks for twice the speed and four times the tangent of the bank: 50° for 17°."""
    seen = only(41)
    doubted = hold_of(41, replace(seen, time_s=seen.time_s / 2.0))
    assert "time-doubtful" in [notice.code for notice in doubted.motion.notices]
    assert "time-doubtful" not in [notice.code for notice in hold_of(41, seen).motion.notices]
