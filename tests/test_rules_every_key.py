"""Every key of the scoring, and of the regimes' clocks and allowances, is read and changes what comes out."""

import json
from dataclasses import fields, is_dataclass, replace
from functools import cache

import numpy as np
import pytest

from analyser.circuits.find import search
from analyser.debrief import Debrief, HoldDebrief
from analyser.document import document
from analyser.grading.judge import judge_hold
from analyser.holds.definition import ClearedLevel, LegLimit
from analyser.holds.ideal_circuit import rules_altitude_ft
from analyser.rules.load import load_regime, load_standard
from analyser.rules.scoring import load_scoring
from tests.grading_flights import Faults, Plan, fly, fly_entry
from tests.planted.draw import drawn
from tests.planted.fault import Fault, Scene
from tests.planted.fly import flown
from tests.planted.table import CROSSWIND
from tests.test_document_debrief import track_of

STANDARD = load_standard("part-fcl-instrument")


def _planted(scene, fault, hold=None):
    one = flown(scene, fault)
    (found,) = search(one.track, (hold(one.hold) if hold else one.hold,)).holds
    return found


def _climb(hold):
    return replace(hold, levels=(ClearedLevel(hold.altitude_ft + 1000.0, from_circuit=3),))


#: Flights between which every key is seen at work; the time is when the fix was to be left, seconds late.
MAKERS = {
    "untidy": lambda: (
        fly(
            Plan(
                faults=(
                    Faults(outbound_heading_deg=-18.0),
                    Faults(outbound_time_s=14.0, inbound_bank_deg=-6.0),
                    Faults(late_turn_s=7.5, outbound_heading_deg=6.0),
                )
            )
        ),
        14.0,
    ),
    "by distance": lambda: (
        fly(Plan(leg=LegLimit(distance_nm=4.0), tas_kt=150.0, faults=(Faults(outbound_time_s=25.0),))),
        None,
    ),
    "parallel": lambda: (
        fly_entry(Plan(wind_kt=10.0), "parallel", arrival_deg=-130.0, track_deg=176.0, seconds=68.0),
        None,
    ),
    "offset": lambda: (
        fly_entry(Plan(wind_kt=10.0), "offset", arrival_deg=140.0, track_deg=144.0, seconds=66.0),
        None,
    ),
    "entry led astray": lambda: (
        fly_entry(Plan(wind_kt=10.0), "parallel", arrival_deg=-130.0, track_deg=195.0, seconds=60.0),
        None,
    ),
    "low": lambda: (_planted(Scene(), Fault(level_off_ft=-1000.0)), None),
    "steadily high": lambda: (_planted(Scene(), Fault(level_off_ft=320.0)), None),
    "bust": lambda: (_planted(Scene(), Fault((2,), bust_ft=250.0, bust_s=60.0)), None),
    "small bust": lambda: (_planted(Scene(), Fault((2,), bust_ft=140.0, bust_s=0.0)), None),
    "cleared": lambda: (_planted(Scene(circuits=4), Fault((3,), bust_ft=950.0, bust_s=2000.0), _climb), None),
    "step, no level given": lambda: (
        _planted(
            Scene(circuits=4),
            Fault((2,), bust_ft=-500.0, bust_s=2000.0),
            lambda hold: replace(hold, altitude_ft=None),
        ),
        None,
    ),
    "long": lambda: (_planted(Scene(), Fault((2,), outbound_factor=2.6)), None),
    "fast": lambda: (_planted(Scene(level_ft=8000.0, tas_kt=150.0), Fault(speed_kt=171.0)), None),
    "wrong hand": lambda: (_planted(Scene(), Fault(wrong_hand=True)), None),
    "unsteady": lambda: (_planted(Scene(), Fault(swing_deg=7.0)), None),
    "wrong entry": lambda: (_planted(Scene(entry="offset", asked="parallel", rules="faa"), Fault()), None),
    "slow and steep": lambda: (_planted(Scene(), Fault(speed_kt=-12.0, bank_deg=25.0)), None),
    "beside the course": lambda: (_planted(Scene(), Fault(beside_nm=0.25)), None),
    "beside the fix": lambda: (_planted(Scene(), Fault(beside_nm=0.8)), None),
    "miles beside the fix": lambda: (_planted(Scene(), Fault(beside_nm=2.5)), None),
    "measured first": lambda: (_planted(Scene(air=CROSSWIND), Fault((1,), drift="none")), None),
    **{
        f"drawn {number}": lambda number=number: (_planted(*drawn(number)), None)
        for number in (5, 34, 36, 60, 61)
    },
    "to a radial": lambda: (
        _planted(
            Scene(leg_nm=4.0, tas_kt=150.0),
            Fault(),
            lambda hold: replace(
                hold, leg=LegLimit(None, 4.0, 12.0, towards_station=False), limiting_radial_true_deg=42.0
            ),
        ),
        None,
    ),
    "no drift": lambda: (_planted(Scene(air=CROSSWIND), Fault(drift="none")), None),
}


@cache
def made(name):
    return MAKERS[name]()


def outcome(name, regime, scoring):
    """Everything that is written of a flight."""
    hold, late_s = made(name)
    leave_at_s = None if late_s is None else hold.end_s - late_s
    judged = judge_hold(hold, regime, STANDARD, scoring=scoring, leave_at_s=leave_at_s)
    debrief = Debrief(track_of(hold.motion), (HoldDebrief(hold, judged),), None, regime, STANDARD)
    return json.dumps(document(debrief)["holds"][0], allow_nan=False)


def _rules(name):
    if name.startswith("drawn"):
        return drawn(int(name.split()[1]))[0].rules
    return "faa" if name == "wrong entry" else "icao"


@cache
def usual(name, rules):
    return outcome(name, load_regime(rules), load_scoring())


def _leaves(part, path=()):
    for field in fields(part):
        value = getattr(part, field.name)
        if is_dataclass(value):
            yield from _leaves(value, (*path, field.name))
        elif isinstance(value, bool | int | float):
            yield (*path, field.name)
        elif field.name == "weights":
            yield from ((*path, field.name, item) for item in value)


def _with(part, path, change):
    if isinstance(part, dict):
        return {**part, path[0]: change(part[path[0]])}
    value = getattr(part, path[0])
    return replace(part, **{path[0]: change(value) if len(path) == 1 else _with(value, path[1:], change)})


#: How a value is changed so that it must be seen; several are tried.
CHANGES = (
    lambda value: (not value) if isinstance(value, bool) else type(value)(value * 3 + 1),
    lambda value: (not value) if isinstance(value, bool) else type(value)(value * 0.3),
    lambda value: (not value) if isinstance(value, bool) else type(value)(value * 1000),
)

SCORING = load_scoring()
KEYS = [".".join(path) for path in _leaves(SCORING)]


#: A key that is asked for only where others leave nothing: those are changed in both.
BESIDES = {"advice.some_left": {"advice.most_left": 1e-4, "advice.good_enough_nm": 1e-4}}


@pytest.mark.slow
@pytest.mark.parametrize("key", KEYS)
def test_every_key_of_the_scoring_changes_a_result(key):
    base = SCORING
    for other, value in BESIDES.get(key, {}).items():
        base = _with(base, other.split("."), lambda _, value=value: value)
    for change in CHANGES:
        scoring = _with(base, key.split("."), change)
        for name in MAKERS:
            regime = load_regime(_rules(name))
            before = usual(name, _rules(name)) if base is SCORING else outcome(name, regime, base)
            if outcome(name, regime, scoring) != before:
                return
    pytest.fail(f"{key} is used by nothing")


@pytest.mark.slow
def test_the_tables_of_points_and_grades_change_a_result():
    steps = replace(SCORING.grade, steps=SCORING.grade.steps[-1:])
    assert outcome("by distance", load_regime("icao"), replace(SCORING, grade=steps)) != usual(
        "by distance", "icao"
    )
    knots = replace(SCORING.points, knots=((0.0, 90.0), (3.0, 0.0)))
    assert outcome("offset", load_regime("icao"), replace(SCORING, points=knots)) != usual("offset", "icao")


@pytest.mark.parametrize(
    ("key", "value", "name"),
    [
        ("clock.starts", "wings level", "untidy"),
        ("allowances.reaction_s", 20.0, "late"),
        ("allowances.bank_establishment_s", 30.0, "late"),
        ("allowances.timing_s", 3.0, "untidy"),
        ("flown_level.below_ft", -12000.0, "step, no level given"),
        ("least_outbound.time_s", 75.0, "untidy"),
    ],
)
def test_clock_and_allowances_of_a_regime_change_a_result(key, value, name, monkeypatch):
    monkeypatch.setitem(MAKERS, "late", lambda: (fly(Plan(faults=(Faults(late_turn_s=15.0),) * 3)), None))
    regime = _with(load_regime("icao"), key.split("."), lambda _: value)
    assert outcome(name, regime, SCORING) != outcome(name, load_regime("icao"), SCORING)


def test_a_level_that_was_flown_counts_as_lower_and_one_that_was_cleared_does_not():
    """At 14,150 ft by wandering the leg is still of one minute, as it is up to 14,000 ft."""
    icao, flown_ft = load_regime("icao"), np.array([14_100.0, np.nan, 14_150.0, 14_200.0])
    assert icao.leg_minutes(rules_altitude_ft(icao, None, flown_ft)) == 1.0
    assert icao.leg_minutes(rules_altitude_ft(icao, 14_150.0, flown_ft)) == 1.5
    assert np.isnan(rules_altitude_ft(icao, None, np.array([np.nan])))


@pytest.mark.parametrize("rules", ["icao", "faa"])
@pytest.mark.parametrize(("flown_ft", "minutes"), [(14_180.0, 1.0), (14_230.0, 1.5)])
def test_a_level_that_was_flown_is_looked_up_two_hundred_feet_lower(rules, flown_ft, minutes):
    regime = load_regime(rules)
    assert regime.leg_minutes(rules_altitude_ft(regime, None, np.full(3, flown_ft))) == minutes


def test_where_abeam_is_not_met_the_clock_starts_as_the_regime_says():
    (hold, _), regime = made("offset"), load_regime("icao")
    unmet = replace(hold, circuits=tuple(replace(one, abeam_s=None) for one in hold.circuits))
    judged = judge_hold(unmet, regime, STANDARD)
    assert judged.circuits[0].terms.clock == regime.clock.otherwise == "wings level"
    never = replace(regime, clock=replace(regime.clock, otherwise="not judged"))
    timing = judge_hold(unmet, never, STANDARD).circuits[0].scores["timing"]
    assert timing.verdict == "not judged" and "abeam" in timing.note
