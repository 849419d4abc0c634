"""How far the end of the inbound turn moves by one sigma of each decision: a share of an error counts beyond two.

In still air, by plane geometry (derived): a leg of length L and turns of radius r = V / ω.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from analyser.circuits.flown import FlownHold
from analyser.grading.judge import judge_hold
from analyser.grading.judged import JudgedCircuit
from analyser.rules.load import load_regime, load_standard
from tests.grading_flights import Plan, fly

ICAO, FCL = load_regime("icao"), load_standard("part-fcl-instrument")
NM_S = 110.0 / 3600.0
RATE_DPS = 3.0
RADIUS_NM = NM_S / math.radians(RATE_DPS)
#: Bank of rate one at 110 kt: tan φ = ω V / g.
BANK = math.atan(math.radians(RATE_DPS) * 110.0 * 0.5144444 / 9.80665)


@cache
def flown() -> FlownHold:
    return fly(Plan(wind_kt=0.0))


def judged(**changed: float) -> JudgedCircuit:
    """Judge the circuit, where nothing but what is named is known badly."""
    hold = flown()
    one = hold.circuits[0]
    assert one.outbound_turn and one.inbound_turn and one.outbound_leg and one.inbound_leg
    own = {"start_sd_s": 0.0, "end_sd_s": 0.0, "bank_mean_sd_deg": 0.0}

    def turn(which: str) -> dict[str, float]:
        return own | {
            name.removeprefix(which): value for name, value in changed.items() if name.startswith(which)
        }

    leg = replace(one.outbound_leg, heading_sd_deg=changed.get("heading_sd_deg", 0.0))
    circuit = replace(
        one,
        outbound_turn=replace(one.outbound_turn, **turn("first_")),
        inbound_turn=replace(one.inbound_turn, **turn("second_")),
        outbound_leg=leg,
        inbound_leg=replace(one.inbound_leg, heading_sd_deg=changed.get("inbound_sd_deg", 0.0)),
        wind_sd_kt=changed.get("wind_sd_kt", 0.0),
        tas_sd_kt=changed.get("tas_sd_kt", 0.0),
    )
    heading = np.full(hold.motion.time_s.size, changed.get("nose_sd_deg", 0.0))
    more = {name: changed[name] for name in ("fix_sd_nm", "course_sd_deg") if name in changed}
    known = replace(hold, circuits=(circuit,), motion=replace(hold.motion, heading_sd_deg=heading), **more)
    return judge_hold(known, ICAO, FCL).circuits[0]


def sds(**changed: float) -> dict[str, float]:
    """Return what one sigma of each cause moves the roll-out by."""
    budget = judged(**changed).budget
    assert budget is not None
    return {cost.cause: cost.sd_nm for cost in budget.costs}


def leg_nm() -> float:
    leg = flown().circuits[0].outbound_leg
    assert leg is not None
    return leg.duration_s * NM_S


def test_what_is_known_exactly_moves_nothing() -> None:
    assert all(sd_nm < 1e-6 for sd_nm in sds().values())


def test_a_heading_moves_the_end_by_the_leg_across_and_by_the_turn_along() -> None:
    found = sds(heading_sd_deg=2.0)
    # From wings level: the leg, and what the turns need to roll in and out, as long as one roll at half the rate.
    expected = math.radians(2.0) * math.hypot(leg_nm(), RADIUS_NM)
    assert found["outbound_heading"] == pytest.approx(expected, rel=0.12)
    assert found["outbound_time"] == found["fix_crossing"] == found["outbound_turn_bank"] == 0.0


@pytest.mark.parametrize(
    ("name", "cause"), [("first_", "outbound_turn_bank"), ("second_", "inbound_turn_bank")]
)
def test_a_bank_moves_the_end_by_twice_what_it_does_to_the_radius(name: str, cause: str) -> None:
    """ω = g tan φ / V, so dω / ω = dφ · 2 / sin 2φ; half a circle is two radii wide."""
    found = sds(**{f"{name}bank_mean_sd_deg": 0.5})
    share = math.radians(0.5) * 2.0 / math.sin(2.0 * BANK)
    assert found[cause] == pytest.approx(2.0 * RADIUS_NM * share, rel=0.1)
    other = {"outbound_turn_bank": "inbound_turn_bank", "inbound_turn_bank": "outbound_turn_bank"}[cause]
    assert found[other] == 0.0
    # What a mean bank leaves unexplained is as sure as both together.
    assert found["unsteadiness"] == pytest.approx(found[cause])
    both = sds(first_bank_mean_sd_deg=0.5, second_bank_mean_sd_deg=0.5)
    assert both["unsteadiness"] == pytest.approx(
        math.hypot(both["outbound_turn_bank"], both["inbound_turn_bank"])
    )


def test_a_time_moves_the_end_by_the_way_flown_in_it() -> None:
    assert sds(second_start_sd_s=1.5)["outbound_time"] == pytest.approx(1.5 * NM_S, rel=1e-3)


def test_the_fix_moves_the_end_across_by_itself_and_along_by_the_clock() -> None:
    found = sds(fix_sd_nm=0.05, course_sd_deg=0.0)
    assert found["fix_crossing"] == pytest.approx(0.05)
    # Nearly all of an inferred fix's doubt lies along the course: √2 of the sigma of one axis.
    assert found["outbound_time"] == pytest.approx(math.sqrt(2.0) * 0.05, rel=1e-3)


def test_a_roll_out_moves_the_end_by_its_angle_on_the_turns_circle() -> None:
    found = sds(nose_sd_deg=3.0)
    assert found["rollout_heading"] == pytest.approx(math.radians(3.0) * RADIUS_NM, rel=0.02)
    # What a heading is held against leans on the course, too.
    by_course = sds(fix_sd_nm=0.0, course_sd_deg=1.0)
    assert by_course["rollout_heading"] == pytest.approx(found["rollout_heading"] / 3.0, rel=1e-2)
    # And on the wind: three degrees of drift at 110 kt are 5.76 kt.
    by_wind = sds(wind_sd_kt=math.radians(3.0) * 110.0)
    assert by_wind["rollout_heading"] == pytest.approx(found["rollout_heading"], rel=1e-3)


def test_airspeed_and_wind_move_the_end_by_the_time_to_it() -> None:
    turn = flown().circuits[0].inbound_turn
    assert turn is not None
    hours = (turn.end_s - flown().circuits[0].start_s) / 3600.0
    assert sds(tas_sd_kt=1.2)["airspeed"] == pytest.approx(1.2 * hours)
    assert sds(wind_sd_kt=0.8)["wind_change"] == pytest.approx(0.8 * hours)


def test_what_nobody_knows_may_move_it_anywhere() -> None:
    found = sds(nose_sd_deg=math.inf)
    assert found["rollout_heading"] == math.inf and found["outbound_turn_bank"] == 0.0


#: Half of what an arc of 25° of bank stands off its chord within the second between two rows: a t² / 8, in miles.
UNSEEN_NM = 0.5 * 9.80665 * math.tan(math.radians(25.0)) / 8.0 / 1852.0
#: A receiver's places are good to nine metres.
PLACES_NM = math.hypot(0.005, UNSEEN_NM)


def seen_deg(beside_nm: float) -> float:
    """Return how many degrees that is as seen from the fix half-way down the inbound leg."""
    return math.degrees(math.atan2(beside_nm, 0.5 * leg_nm()))


@pytest.mark.parametrize(
    ("badly", "item", "sd"),
    [
        ({}, "bank", 0.0),
        ({}, "wind_correction", 0.0),
        ({}, "timing", 0.0),
        # The mean of two turns.
        ({"first_bank_mean_sd_deg": 4.0, "second_bank_mean_sd_deg": 3.0}, "bank", 2.5),
        # Rate one at another airspeed is another bank.
        ({"tas_sd_kt": 10.0}, "bank", math.degrees(math.atan(math.tan(BANK) * 120.0 / 110.0) - BANK)),
        ({"heading_sd_deg": 1.5}, "wind_correction", 1.5),
        ({"second_start_sd_s": 1.2}, "timing", 1.2),
        # Along the course the fix is known √2 times as badly; abeam is passed so much sooner or later.
        ({"fix_sd_nm": 0.02}, "timing", math.sqrt(2.0) * 0.02 / NM_S),
        ({"second_start_sd_s": 0.6, "fix_sd_nm": 0.02}, "timing", math.hypot(0.6, math.sqrt(2.0) * 0.02 / NM_S)),
        ({"inbound_sd_deg": 1.5}, "inbound_correction", 1.5),
        ({"wind_sd_kt": 4.0}, "inbound_correction", math.degrees(4.0 / 110.0)),
        ({"course_sd_deg": 2.0, "inbound_sd_deg": 1.5}, "inbound_correction", 2.5),
        ({}, "track", None),
        ({"fix_sd_nm": 0.1}, "track", None),
        ({"course_sd_deg": 2.0}, "track", None),
    ],
)  # fmt: skip
def test_a_score_is_as_sure_as_what_it_is_made_of(
    badly: dict[str, float], item: str, sd: float | None
) -> None:
    one = judged(**badly)
    score = one.inbound_correction if item == "inbound_correction" else one.scores[item]
    if item == "track":
        beside = seen_deg(math.hypot(PLACES_NM, badly.get("fix_sd_nm", 0.0)))
        sd = math.hypot(beside, badly.get("course_sd_deg", 0.0))
    assert score.sd == pytest.approx(sd, rel=0.03, abs=1e-6)


def test_each_turns_bank_and_the_roll_out_are_as_sure_as_their_own_parts() -> None:
    one = judged(first_bank_mean_sd_deg=4.0, second_bank_mean_sd_deg=3.0)
    assert [score.sd for score in one.turns.values()] == pytest.approx([4.0, 3.0])
    # At the roll-out a leg before the fix a course turned by 2° lies 2/57.3 of it aside.
    turned = judged(course_sd_deg=2.0, fix_sd_nm=0.03).measures
    assert turned.rollout_cross_track_sd_nm == pytest.approx(
        math.hypot(0.03, leg_nm() * math.radians(2.0)), rel=0.02
    )
    timed = judged(second_end_sd_s=0.9, fix_sd_nm=0.03).measures
    assert timed.inbound_duration_sd_s == pytest.approx(
        math.hypot(0.9, math.sqrt(2.0) * 0.03 / NM_S), rel=0.01
    )
    # A course turned about the fix moves abeam by the way aside of it: a diameter.
    assert judged(course_sd_deg=2.0).measures.timed_sd_s == pytest.approx(
        2.0 * RADIUS_NM * math.radians(2.0) / NM_S, rel=0.05
    )
