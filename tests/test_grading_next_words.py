"""What the next circuit is to change, said with its number, its side and its clock: each fault planted alone."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest

from analyser.grading.finding_advice import PLANNED, planned_advice
from analyser.grading.judge import judge_hold
from analyser.grading.judged import JudgedHold
from analyser.grading.next_time import NextTime, _course, _start
from analyser.holds.definition import LegLimit
from analyser.rules.load import load_regime, load_standard
from analyser.rules.regime import Regime
from analyser.rules.scoring import load_scoring
from tests.grading_flights import Faults, Plan, fly

ICAO, FAA = load_regime("icao"), load_regime("faa")
ACS, FCL = load_standard("acs-instrument"), load_standard("part-fcl-instrument")


def judged(plan: Plan, regime=ICAO, standard=ACS, **how) -> JudgedHold:  # type: ignore[no-untyped-def]
    return judge_hold(fly(plan), regime, standard, **how)


def change(plan: Plan, name: str, **how: object) -> str | None:
    plans = judged(plan, **how).next_time  # type: ignore[arg-type]
    found = [one for one in plans.all if one.name == name] if plans else []
    return found[0].advice.said() if found else None


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize(
    ("beside_nm", "off_deg", "said"),
    [
        (
            0.25,
            0.0,
            "Be on the inbound course before the fix: you passed it 0.25 NM to the holding side of it.",
        ),
        (
            -0.25,
            9.0,
            "Be on the inbound course before the fix: you passed it 0.25 NM to the other side of it.",
        ),
        (0.05, 4.0, None),
        (0.05, 7.0, "Be steady on the inbound heading over the fix: you passed it 7° off."),
        (-0.05, -7.0, "Be steady on the inbound heading over the fix: you passed it 7° off."),
    ],
)
def test_who_passes_the_fix_beside_or_aslant_is_told_so(
    beside_nm: float, off_deg: float, said: str | None, side: int
) -> None:
    """Decisions are counted to the holding side: the right of the course in a hold turned to the right."""
    taken = SimpleNamespace(fix_crossing=complex(0.0, beside_nm), arrival_heading=off_deg - 3.0)
    told = SimpleNamespace(right=SimpleNamespace(arrival_heading=-3.0), exact=SimpleNamespace(side=side))
    habits: Any = SimpleNamespace(taken=taken)
    found = _course(habits, told, load_scoring().advice)  # type: ignore[arg-type]
    if said is not None:
        holding, other = ("right", "left") if side > 0 else ("left", "right")
        said = said.replace("the holding side", f"the {holding}").replace("the other side", f"the {other}")
    assert (found and found.advice.said()) == said


@pytest.mark.parametrize(
    ("faults", "name", "words"),
    [
        (Faults(inbound_bank_deg=-4.0), "bank", "of bank in the inbound turn, not 1"),
        (Faults(outbound_bank_deg=-4.0), "bank", "of bank in the outbound turn, not 1"),
        (Faults(outbound_heading_deg=12.0), "heading", "Roll out outbound on "),
        (Faults(outbound_time_s=25.0), "time", "Turn inbound "),
    ],
)
def test_each_fault_is_put_right_by_its_own_words(faults: Faults, name: str, words: str) -> None:
    said = change(Plan(wind_kt=0.0, faults=(faults,) * 2), name)
    assert said is not None and words in said
    clean = judged(Plan(wind_kt=0.0, faults=(Faults(),) * 2)).next_time
    assert clean is None


#: What no hand flies closer, by the scoring: 3 s of a time or a start, 2° of bank, 2.5° of a heading.
@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize(
    ("name", "fault", "below", "above"),
    [
        ("time", "outbound_time_s", 2.9, 3.2),
        ("bank", "inbound_bank_deg", 1.8, 2.2),
        ("bank", "outbound_bank_deg", 1.8, 2.2),
        ("heading", "outbound_heading_deg", 2.3, 2.7),
    ],
)
def test_nothing_is_advised_that_no_hand_flies_closer(
    name: str, fault: str, below: float, above: float, sign: float
) -> None:
    other = {"outbound_time_s": 20.0} if name == "heading" else {}
    said = [
        change(Plan(wind_kt=0.0, faults=(Faults(**{fault: sign * off, **other}),) * 2), name)
        for off in (below, above)
    ]
    assert said[0] is None and said[1] is not None
    if name == "time":
        assert f"not {60.0 + sign * above:.0f} s" in said[1]


@pytest.mark.parametrize(
    ("late_s", "off_deg", "said"),
    [
        (2.9, 0.0, None),
        (3.2, 0.0, "you began it 3 s late"),
        (3.2, 30.0, "you began it 3 s late"),
        (-3.2, 4.9, "you began it 3 s early"),
        # Turning onto the course ran on into the outbound turn.
        (-3.2, 5.1, None),
        (-3.2, -5.1, None),
    ],
)
def test_a_start_is_said_late_or_early_where_it_can_be_told(
    late_s: float, off_deg: float, said: str | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    taken = SimpleNamespace(outbound_turn_start=late_s, arrival_heading=off_deg)
    habits: Any = SimpleNamespace(taken=taken, lap=SimpleNamespace(flown=None, circuit=None))
    told: Any = SimpleNamespace(right=SimpleNamespace(arrival_heading=0.0))
    for turning in (False, True):
        monkeypatch.setattr("analyser.grading.next_time.passed_turning", lambda *_, turning=turning: turning)
        found = _start(habits, told, load_scoring().advice)
        # Who passed the fix while still turning inbound is neither late nor early for the next turn.
        assert (found is not None) == (said is not None and not turning)
        if found is not None and said is not None:
            assert said in found.advice.said()


@pytest.mark.parametrize(("factor", "kind"), [(1.5, "timing"), (2.6, "long outbound leg")])
def test_a_leg_by_distance_is_long_by_its_miles(factor: float, kind: str) -> None:
    """Four miles at 150 kt take 96 s: half of that again is 6 NM, and more than twice is out of any area."""
    plan = Plan(
        leg=LegLimit(distance_nm=4.0),
        tas_kt=150.0,
        wind_kt=0.0,
        faults=(Faults(outbound_time_s=(factor - 1.0) * 96.0),) * 2,
    )
    kinds = {one.kind: one for one in judged(plan).findings}
    assert kind in kinds
    assert ("long outbound leg" in kinds) == (factor > 2.0)
    if factor > 2.0:
        one = kinds["long outbound leg"]
        assert one.severity == "unsafe" and (one.unit, one.target) == ("NM", 4.0)
        assert one.value == pytest.approx(4.0 * factor, abs=0.8)


@pytest.mark.parametrize(("late_s", "points"), [(0.0, 100.0), (10.0, 70.0), (20.0, 35.0), (40.0, 0.0)])
def test_leaving_on_time_counts_half_as_much_as_a_circuit(late_s: float, points: float) -> None:
    """Ten seconds are allowed (Doc 8168 Vol II, Table I-2-3-1): 100, 70, 35 and no points at 0 to 3 of them."""
    hold = fly(Plan(wind_kt=0.0, faults=(Faults(),) * 3))
    left = judge_hold(hold, ICAO, ACS, leave_at_s=hold.end_s - late_s)
    assert left.leaving is not None and left.leaving.score.points == pytest.approx(points, abs=1.0)
    parts = {part.kind: part for part in left.parts}
    assert "leaving" in parts and parts["leaving"].points == left.leaving.score.points
    weighed = [(part.points, part.weight) for part in left.parts if part.points is not None]
    mean = sum(worth * weight for worth, weight in weighed) / sum(weight for _, weight in weighed)
    assert left.points is not None and left.points <= mean + 0.01
    assert parts["leaving"].weight == pytest.approx(0.5 * max(part.weight for part in left.parts))
    assert "leaving" not in {part.kind for part in judge_hold(hold, ICAO, ACS).parts}


def test_times_of_a_share_are_worth_a_sentence_from_three_seconds() -> None:
    """A share that moves the end by little and takes long is said for its time."""
    for off_s, told in ((-2.0, False), (15.0, True)):
        one = judged(Plan(wind_kt=0.0, faults=(Faults(outbound_time_s=off_s),) * 2)).circuits[0]
        costs = (
            {cost.cause: cost for cost in one.budget.costs}
            if one.budget and not isinstance(one.budget, str)
            else {}
        )
        assert (costs["outbound_time"].advice is not None) == told
        assert costs["outbound_time"].along_track_nm == pytest.approx(-off_s * 110.0 / 3600.0, abs=0.01)


@pytest.mark.parametrize(("longer_s", "said"), [(0.0, None), (3.0, None), (10.0, "NM"), (-10.0, "NM")])
def test_a_leg_by_distance_is_advised_by_its_miles_from_two_tenths(longer_s: float, said: str | None) -> None:
    """Three seconds at 150 kt are 0.13 NM, ten are 0.42; a bank that is wrong asks for advice all the same."""
    fault = Faults(outbound_time_s=longer_s, inbound_bank_deg=-6.0)
    plan = Plan(leg=LegLimit(distance_nm=4.0), tas_kt=150.0, wind_kt=0.0, faults=(fault,) * 2)
    found = change(plan, "time")
    assert (found is not None) == (said is not None)
    assert change(plan, "bank") is not None
    if found is not None:
        assert "4.0 NM" in found


PLANS = {
    "late and long": Plan(faults=(Faults(late_turn_s=9.0, outbound_time_s=15.0),) * 2),
    "heading": Plan(faults=(Faults(outbound_heading_deg=-15.0),) * 2),
    "bank": Plan(faults=(Faults(inbound_bank_deg=-5.0),) * 2),
    "both banks": Plan(
        wind_kt=0.0,
        faults=(Faults(outbound_bank_deg=5.5, inbound_bank_deg=5.5, outbound_time_s=20.0),) * 2,
    ),
    "time": Plan(wind_kt=0.0, faults=(Faults(outbound_time_s=20.0),) * 2),
    "all": Plan(
        faults=(Faults(outbound_heading_deg=12.0, outbound_bank_deg=4.0, outbound_time_s=-14.0),) * 2
    ),
}


@pytest.mark.parametrize("regime", [ICAO, FAA], ids=["icao", "faa"])
@pytest.mark.parametrize("name", PLANS)
def test_an_item_is_advised_on_where_its_own_change_or_one_that_brings_it_right_is_planned(
    name: str, regime: Regime
) -> None:
    """Of what else is changed nothing is said under it."""
    hold = judged(PLANS[name], regime)
    plan = hold.next_time
    assert plan is not None
    changed = {change.item for change in plan.all}
    # Of both banks wrong by as much the circuit closes all the same: putting them right harms nothing.
    steep = hold.circuits[plan.circuit - 1].scores["bank"].verdict == "outside"
    assert plan.moves_nothing == (("bank",) if steep and "bank" not in changed else ())
    for item in PLANNED:
        told = planned_advice(hold, item)
        brought_right = {
            "timing": "puts the inbound time right",
            "track": "ends the inbound turn on the course",
        }
        if told.advice and item not in changed:
            assert brought_right[item] in told.advice
        if item in changed:
            assert told.advice and not any(words in told.advice for words in brought_right.values())


def heading_alone(regime: Regime) -> tuple[JudgedHold, NextTime]:
    """Return a hold on which the outbound heading alone is to be changed first, and nothing after it."""
    hold = judged(PLANS["heading"], regime)
    plan = hold.next_time
    assert plan is not None and {change.name for change in plan.first} == {"heading"}
    return hold, replace(plan, rest=())


@pytest.mark.parametrize("factor", [0.95, 1.05])
def test_the_inbound_time_comes_right_where_what_is_left_is_flown_within_its_tolerance(factor: float) -> None:
    """By the FAA the inbound leg is timed: a mile at so many knots takes 3,600 s over them."""
    hold, plan = heading_alone(FAA)
    latest = hold.circuits[plan.circuit - 1]
    assert latest.terms.timed == "inbound"
    mile_s = 3600.0 / latest.ideal.circuit.inbound_ground_speed_kt
    left = replace(plan, first_miss_nm=factor * latest.terms.timing_tolerance_s / mile_s)
    told = planned_advice(replace(hold, next_time=left), "timing").advice
    assert ("That puts the inbound time right." in told) == bool(told) == (factor < 1.0)
    # Where the outbound leg is timed the inbound one is nobody's item.
    hold, plan = heading_alone(ICAO)
    assert not planned_advice(replace(hold, next_time=replace(plan, first_miss_nm=0.0)), "timing").advice


@pytest.mark.parametrize(
    ("off_deg", "left_deg", "mends"),
    [
        (12.0, 4.0, True),
        (12.0, 6.5, False),
        (8.0, 3.0, False),
        (30.0, 8.0, True),
        (30.0, 10.0, False),
        (30.0, 16.0, False),
    ],
)
def test_a_turn_is_brought_onto_the_course_that_ended_beside_it_and_ends_within_half_of_that(
    off_deg: float, left_deg: float, mends: bool
) -> None:
    """Three quarters of a needle's 12° are allowed by the ACS, as seen from the fix over the inbound leg."""
    hold, plan = heading_alone(ICAO)
    leg_nm = hold.circuits[plan.circuit - 1].ideal.circuit.inbound_distance_nm
    missed, left = (leg_nm * math.tan(math.radians(off)) for off in (off_deg, left_deg))
    told = planned_advice(replace(hold, next_time=replace(plan, miss_nm=missed, first_miss_nm=left)), "track")
    assert ("That ends the inbound turn on the course." in told.advice) == bool(told.advice) == mends


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize("aside_nm", [0.4, -0.4])
def test_a_fix_passed_beside_is_said_by_its_side_and_nought_was_right(side: int, aside_nm: float) -> None:
    """Positive is to the right in a right-hand hold and to the left in a left-hand one, which mirrors it."""
    budget = judged(Plan(wind_kt=0.0, side=side, faults=(Faults(fix_cross_nm=aside_nm),))).circuits[0].budget
    assert budget is not None
    (cost,) = [one for one in budget.costs if one.cause == "fix_crossing"]
    assert cost.advice is not None and cost.rank == 1
    way = "right" if side * aside_nm > 0.0 else "left"
    assert cost.advice.said() == f"You passed 0.40 NM {way} of the fix before turning."
    assert (cost.advice.fly.value, cost.advice.flown.value) == (0.0, pytest.approx(0.4, abs=1e-3))
