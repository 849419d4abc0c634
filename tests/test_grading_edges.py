"""Just inside and just outside each limit of a finding, with the doubt of what was measured: beyond it by two sigma.

The limits are those of the rules' files and of the sources named there; what was measured is put in by hand.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest

from analyser.grading.finding import Finding
from analyser.grading.finding_items import item_findings, multiple
from analyser.grading.finding_limits import (
    beyond_radial,
    early_turn,
    late_turn,
    long_outbound,
    missed_fix,
    steep_bank,
)
from analyser.grading.finding_ways import entry_findings
from analyser.grading.findings import _limit
from analyser.grading.judge import judge_hold
from analyser.grading.judged import JudgedHold
from analyser.grading.score import Gauge
from analyser.holds.definition import LegLimit
from analyser.rules.load import load_regime, load_standard
from tests.grading_flights import Faults, Plan, fly

ICAO, FCL = load_regime("icao"), load_standard("part-fcl-instrument")


@cache
def clean(wind_kt: float = 0.0, circuits: int = 3) -> JudgedHold:
    """Circuits of a minute at 110 kt, with nothing wrong."""
    return judge_hold(fly(Plan(wind_kt=wind_kt, faults=(Faults(),) * circuits)), ICAO, FCL)


def measured(hold: JudgedHold, number: int, **measures: float) -> JudgedHold:
    """Return the hold with other measures of one circuit, counted from 1."""
    circuits = list(hold.circuits)
    one = circuits[number - 1]
    circuits[number - 1] = replace(one, measures=replace(one.measures, **measures))
    return replace(hold, circuits=tuple(circuits))


def begun(
    delay_s: float, *, established_s: float, sd_s: float, number: int = 2, fix_sd_nm: float = 0.0
) -> JudgedHold:
    """Begin an outbound turn so long after the fix, established in it so long after that."""
    hold = measured(clean(), number, start_delay_s=delay_s)
    one = hold.circuits[number - 1]
    turn = one.circuit.outbound_turn
    assert turn is not None
    turn = replace(turn, start_sd_s=sd_s, established_start_s=one.circuit.start_s + established_s)
    circuits = list(hold.circuits)
    circuits[number - 1] = replace(one, circuit=replace(one.circuit, outbound_turn=turn))
    flown = replace(hold.flown, fix_sd_nm=fix_sd_nm) if fix_sd_nm else hold.flown
    return replace(hold, flown=flown, circuits=tuple(circuits))


@pytest.mark.parametrize("sd_s", [0.0, 1.0])
@pytest.mark.parametrize(
    ("delay_s", "established_s", "late"),
    [(5.8, 30.0, False), (6.2, 30.0, True), (9.0, 10.8, False), (9.0, 11.2, True)],
)
def test_a_turn_is_late_beyond_six_seconds_to_react_and_eleven_to_the_bank(
    sd_s: float, delay_s: float, established_s: float, late: bool
) -> None:
    """ICAO Doc 8168 Vol II, Table I-2-3-1: 6 s of the pilot's reaction, 5 s to establish the bank."""
    two = 2.0 * sd_s
    found = late_turn(begun(delay_s + two, established_s=established_s + two, sd_s=sd_s))
    assert (found is not None) == late
    if found is not None:
        assert (found.circuits, found.value, found.target, found.tolerance) == ((2,), delay_s + two, 0.0, 6.0)
        assert found.sd == pytest.approx(sd_s) and f"{delay_s + two:.0f} s after the fix" in found.sentence
        # Once of three, not beyond twice the eleven, and not after the last: it was put right.
        assert found.severity == "improve" and "put right afterwards" in found.sentence and not found.advice


@pytest.mark.parametrize(
    ("delay_s", "number", "severity"),
    [(21.8, 2, "improve"), (22.2, 2, "below standard"), (9.0, 3, "below standard"), (9.0, 1, "improve")],
)
def test_a_late_turn_is_below_standard_beyond_twice_the_allowance_or_where_it_was_the_last(
    delay_s: float, number: int, severity: str
) -> None:
    found = late_turn(begun(delay_s, established_s=30.0, sd_s=0.0, number=number))
    assert found is not None and found.severity == severity and found.circuits == (number,)
    assert bool(found.advice) == (severity == "below standard")


@pytest.mark.parametrize("sd_s", [0.0, 1.0])
@pytest.mark.parametrize(("early_s", "found"), [(9.8, False), (10.2, True)])
def test_a_turn_is_early_beyond_the_ten_seconds_of_timing(sd_s: float, early_s: float, found: bool) -> None:
    """ICAO Doc 8168 Vol II, Table I-2-3-1: 10 s of outbound timing."""
    early_s += 2.0 * sd_s
    one = early_turn(begun(-early_s, established_s=1.0, sd_s=sd_s))
    assert (one is not None) == found
    if one is not None:
        assert (
            one.value == early_s
            and one.tolerance == 10.0
            and f"{early_s:.0f} s before the fix" in one.sentence
        )


@pytest.mark.parametrize(("fix_sd_nm", "circuits"), [(0.0, (2,)), (0.05, (2,)), (0.2, ())])
def test_a_fix_that_was_inferred_moves_the_instant_by_its_doubt_along_the_course(
    fix_sd_nm: float, circuits: tuple[int, ...]
) -> None:
    """√2 · 0.05 NM at 110 kt are 2.3 s, √2 · 0.2 NM 9.3 s."""
    found = late_turn(begun(14.0, established_s=30.0, sd_s=0.4, fix_sd_nm=fix_sd_nm))
    assert (found.circuits if found else ()) == circuits
    if found is not None:
        assert found.sd == pytest.approx(
            math.hypot(0.4, math.sqrt(2.0) * fix_sd_nm * 3600.0 / 110.0), rel=0.01
        )


@pytest.mark.parametrize("sd_deg", [0.5, 3.0])
@pytest.mark.parametrize(("over_deg", "number", "found"), [(-0.5, 2, False), (0.5, 2, True), (0.5, 0, True)])
def test_bank_is_steep_beyond_fifty_degrees(sd_deg: float, over_deg: float, number: int, found: bool) -> None:
    """An upset begins at 45° (ICAO Doc 10011) and the 5° of the bank's tolerance are left beyond it."""
    hold = clean()
    motion, bank_deg = hold.flown.motion, 50.0 + 2.0 * sd_deg + over_deg
    first_s = hold.circuits[0].circuit.start_s
    middle_s = hold.circuits[1].circuit.start_s + 20.0 if number else first_s + 10.0
    banked = np.where(np.abs(motion.time_s - middle_s) < 8.0, -bank_deg, motion.bank_deg)
    steep = replace(motion, bank_deg=banked, bank_sd_deg=np.full(banked.size, sd_deg))
    # The entry is what was flown before the first circuit.
    circuits = hold.circuits if number else hold.circuits[1:]
    one = steep_bank(replace(hold, flown=replace(hold.flown, motion=steep), circuits=circuits))
    assert (one is not None) == found
    if one is not None:
        assert (one.severity, one.circuits) == ("unsafe", (2,) if number else ())
        assert one.value == pytest.approx(bank_deg) and one.sd == sd_deg
        # Rate one at 110 kt takes 16.8° of bank.
        assert one.target == pytest.approx(16.8, abs=0.1) and ("in the entry" in one.sentence) == (
            number == 0
        )


@pytest.mark.parametrize(
    ("sd_s", "over_s", "found"), [(0.0, -0.5, False), (0.0, 0.5, True), (3.0, -0.5, False), (3.0, 0.5, True)]
)
def test_an_outbound_leg_is_long_from_twice_its_time(sd_s: float, over_s: float, found: bool) -> None:
    hold = clean()
    target_s, target_sd_s = hold.circuits[1].outbound_target_s
    assert target_s == pytest.approx(60.0, abs=1.0)
    flown_s = 2.0 * target_s + 2.0 * math.hypot(sd_s, target_sd_s) + over_s
    one = long_outbound(measured(hold, 2, timed_s=flown_s, timed_sd_s=sd_s))
    assert (one is not None) == found
    if one is not None:
        assert (one.severity, one.circuits, one.value) == ("unsafe", (2,), flown_s)
        assert f"outbound for {flown_s:.0f} s from abeam the fix; {target_s:.0f} s was right" in one.sentence


@pytest.mark.parametrize(("out_nm", "found"), [(7.9, False), (8.1, True)])
def test_a_leg_by_distance_is_long_from_twice_its_miles(out_nm: float, found: bool) -> None:
    plan = Plan(leg=LegLimit(distance_nm=4.0), tas_kt=150.0, wind_kt=0.0, faults=(Faults(),) * 2)
    one = long_outbound(measured(judge_hold(fly(plan), ICAO, FCL), 1, turn_in_nm=out_nm))
    assert (one is not None) == found
    if one is not None:
        assert (one.value, one.target, one.unit) == (out_nm, 4.0, "NM")
        assert f"outbound for {out_nm:.1f} NM from the fix; 4.0 NM was right" in one.sentence


@pytest.mark.parametrize(
    ("miss_nm", "across_share", "side"),
    [(0.6, 0.95, "right of"), (0.6, -0.95, "left of"), (0.6, 0.85, "beside"), (0.6, -0.85, "beside")],
)
def test_a_side_is_said_where_the_fix_was_passed_abeam(
    miss_nm: float, across_share: float, side: str
) -> None:
    """Where nine tenths of the way to it lay across the course."""
    beside = measured(clean(), 1, fix_miss_nm=miss_nm, fix_cross_track_nm=across_share * miss_nm)
    found = missed_fix(beside)
    assert found is not None and f"0.6 NM {side} the fix on circuit 1." in found.sentence


@pytest.mark.parametrize(("apart_nm", "one_place"), [(0.28, True), (0.32, False)])
def test_circuits_that_came_back_to_one_place_may_have_had_another_fix(
    apart_nm: float, one_place: bool
) -> None:
    hold = clean(circuits=2)
    for number, across_nm in ((1, 0.7), (2, 0.7 + apart_nm)):
        hold = measured(hold, number, fix_miss_nm=across_nm, fix_cross_track_nm=across_nm)
    found = missed_fix(hold)
    assert found is not None
    assert ("All of them came back to one place" in found.sentence) == one_place
    assert found.kind == ("fix elsewhere" if one_place and found.severity == "improve" else "fix passage")


def radial(off_deg: float, *, fix_sd_nm: float = 0.0, towards: bool = True) -> Finding | None:
    """Turn in four miles out of a fix eight from its station, so far beyond the limiting radial."""
    leg = LegLimit(distance_nm=4.0, fix_dme_nm=8.0, towards_station=towards)
    hold = measured(clean(), 2, beyond_radial_deg=off_deg, turn_in_nm=4.0)
    flown = replace(hold.flown, hold=replace(hold.flown.hold, leg=leg, limiting_radial_true_deg=40.0))
    flown = replace(flown, fix_sd_nm=fix_sd_nm or None)
    for number in (1, 3):
        hold = measured(hold, number, beyond_radial_deg=-20.0, turn_in_nm=4.0)
    return beyond_radial(replace(hold, flown=flown))


@pytest.mark.parametrize("fix_sd_nm", [0.0, 0.1])
@pytest.mark.parametrize("towards", [True, False])
@pytest.mark.parametrize("over_deg", [-0.05, 0.05])
def test_a_radial_is_passed_beyond_two_degrees_and_what_places_leave_open(
    fix_sd_nm: float, towards: bool, over_deg: float
) -> None:
    """Inbound towards the station it lies twelve miles from where the turn began, away from it four: 0.02 NM of the
    receiver's and the fix's doubt are so many degrees there."""
    sd_deg = math.degrees(math.hypot(0.02, fix_sd_nm) / (12.0 if towards else 4.0))
    off_deg = 2.0 + 2.0 * sd_deg + over_deg
    found = radial(off_deg, fix_sd_nm=fix_sd_nm, towards=towards)
    assert (found is not None) == (over_deg > 0.0)
    if found is not None:
        assert (found.circuits, found.value, found.tolerance) == ((2,), off_deg, 2.0)
        assert found.sd == pytest.approx(sd_deg, rel=1e-3) and "radial of 0" in found.sentence


ITEMS: dict[str, Any] = {"steadiness": ("°", 3.0), "track": ("°", 10.0), "bank": ("°", 5.0)}


def off_by(item: str, tolerances: dict[int, float | None], *, circuits: int = 4) -> Finding | None:
    """Put an item so many tolerances off on some circuits, right on the others; None is not judged."""
    hold, (unit, tolerance) = clean(circuits=circuits), ITEMS[item]
    gauge, changed = Gauge(hold.scoring, unit, tolerance), []
    for one in hold.circuits:
        off = tolerances.get(one.number, 0.0)
        score = gauge.unjudged("hidden") if off is None else gauge.score(tolerance * off, 0.0, 0.0)
        assert off is None or multiple(score) == pytest.approx(off)
        changed.append(replace(one, scores={**one.scores, item: score}))
    found = item_findings(replace(hold, circuits=tuple(changed)))
    return next((one for one in found if one.kind == item), None)


@pytest.mark.parametrize("item", ITEMS)
@pytest.mark.parametrize(
    ("tolerances", "severity", "mended"),
    [
        ({2: 0.98}, None, False),
        ({2: 1.1}, "improve", True),
        # Too far even once is beyond twice the tolerance.
        ({2: 1.98}, "improve", True),
        ({2: 2.02}, "below standard", True),
        # Outside on half of those that were judged is consistent.
        ({2: 1.2, 3: 1.2}, "below standard", True),
        ({2: 1.2, 3: None, 4: 0.0}, "improve", True),
        ({2: 1.2, 1: None, 3: None}, "below standard", True),
        # What was not put right afterwards is below standard however little it was.
        ({4: 1.1}, "below standard", False),
        ({3: 1.1, 4: None}, "below standard", False),
    ],
)
def test_how_bad_an_item_outside_its_tolerance_is(
    item: str, tolerances: dict[int, float | None], severity: str | None, mended: bool
) -> None:
    """FAA-S-ACS-8C, appendix: consistently exceeding tolerances, or no prompt corrective action."""
    found = off_by(item, tolerances)
    assert (found and found.severity) == severity
    if found is not None:
        assert found.circuits == tuple(n for n, off in sorted(tolerances.items()) if off and off > 1.0)
        assert found.sentence.endswith("That was put right afterwards.") == mended
        assert found.value == pytest.approx(ITEMS[item][1] * max(off or 0.0 for off in tolerances.values()))


@pytest.mark.parametrize(("item", "excused"), [("track", True), ("bank", False), ("steadiness", False)])
def test_the_first_circuit_measures_the_wind_and_is_excused_what_the_next_put_right(
    item: str, excused: bool
) -> None:
    """Its track, not its bank; and only where the log has the entry, so that it is the first."""
    found = off_by(item, {1: 3.0})
    assert found is not None and found.severity == ("improve" if excused else "below standard")
    both = off_by(item, {1: 3.0, 4: 1.1})
    assert both is not None and both.severity == "below standard"


def test_a_clean_hold_has_no_finding_on_its_limits() -> None:
    hold = clean()
    for each in (steep_bank, long_outbound, beyond_radial, missed_fix, late_turn, early_turn):
        assert each(hold) is None
    assert item_findings(hold) == [] and {one.severity for one in entry_findings(hold)} == {"good"}


@pytest.mark.parametrize(("over_s", "found"), [(4.9, False), (5.1, True)])
def test_the_maximum_holding_speed_is_passed_from_five_seconds_on(over_s: float, found: bool) -> None:
    """The most that was flown is said, and on which circuits it was; 230 kt up to 14,000 ft (Doc 8168)."""
    hold = clean()
    speeds = {1: (over_s, 236.0), 2: (4.0, 250.0), 3: (over_s, 239.0)}
    circuits = tuple(
        replace(one, over_limit_s=speeds[one.number][0], most_kias=speeds[one.number][1])
        for one in hold.circuits
    )
    one = _limit(replace(hold, circuits=circuits))
    assert (one is not None) == found
    if one is not None:
        assert (one.severity, one.circuits, one.value, one.target) == ("unsafe", (1, 3), 239.0, 230.0)
        assert "up to 239 kt indicated on circuits 1 and 3" in one.sentence and "9 kt above" in one.brief


@pytest.mark.parametrize("sd_s", [0.0, 3.0])
@pytest.mark.parametrize("over_s", [-0.5, 0.5])
def test_where_the_wind_leaves_hardly_any_leg_twice_what_areas_are_designed_for_is_long(
    sd_s: float, over_s: float
) -> None:
    """Doc 8168 Vol II, Table I-2-3-1: a minute, 10 s of timing, 6 s to react and 5 s to bank: 81 s in any wind."""
    faults = (Faults(outbound_time_s=30.0),) * 3
    plan = Plan(wind_from_deg=30.0, wind_kt=35.0, still_air=False, faults=faults)
    hold = judge_hold(fly(plan), load_regime("faa"), FCL)
    target_s, target_sd_s = hold.circuits[1].outbound_target_s
    assert target_s < 40.0
    flown_s = 60.0 + 10.0 + 6.0 + 5.0 + 2.0 * math.hypot(sd_s, target_sd_s) + over_s
    one = long_outbound(measured(hold, 2, timed_s=flown_s, timed_sd_s=sd_s))
    assert (one is not None) == (over_s > 0.0)


@pytest.mark.parametrize(("late_s", "verdict"), [(11.0, "within"), (14.0, "outside")])
def test_a_leg_flown_by_distance_may_be_off_by_half_a_mile(late_s: float, verdict: str) -> None:
    """At 150 kt, headed 17° off the course into the wind across it, 144 kt are made good: 0.44 and 0.56 NM too far."""
    plan = Plan(leg=LegLimit(distance_nm=4.0), tas_kt=150.0, faults=(Faults(outbound_time_s=late_s),))
    score = judge_hold(fly(plan), ICAO, FCL).circuits[0].scores["timing"]
    assert score.verdict == verdict
    assert score.deviation == pytest.approx(144.0 * late_s / 3600.0, abs=0.01)


@pytest.mark.parametrize(
    ("from_nm", "to_nm", "read"), [(0.48, 0.3, False), (0.48, 0.0, False), (0.7, 0.52, True)]
)
def test_degrees_off_the_course_are_not_read_within_half_a_mile_of_the_fix(
    from_nm: float, to_nm: float, read: bool
) -> None:
    """A receiver's error of 0.02 NM is already 2° there; aside by 0.15 NM, here, on a part of the last mile."""
    flown = fly(Plan(faults=(Faults(),) * 2))
    motion, leg = flown.motion, flown.circuits[1].inbound_leg
    assert leg is not None
    course = math.radians(Plan().course_deg)
    along = motion.east_nm * math.sin(course) + motion.north_nm * math.cos(course)
    there = (
        (motion.time_s >= leg.start_s) & (motion.time_s <= leg.end_s) & (along > -from_nm) & (along < -to_nm)
    )
    assert there.any()
    moved = replace(
        motion,
        east_nm=motion.east_nm + 0.15 * there * math.cos(course),
        north_nm=motion.north_nm - 0.15 * there * math.sin(course),
    )
    score = judge_hold(replace(flown, motion=moved), ICAO, FCL).circuits[1].scores["track"]
    assert score.unit == "°" and score.value is not None
    assert (score.value > 1.0) == read


@pytest.mark.parametrize(("swings_deg", "verdict"), [(4.0, "within"), (4.6, "outside")])
def test_a_bank_that_swings_by_more_than_three_degrees_rms_is_unsteady(
    swings_deg: float, verdict: str
) -> None:
    """A sine's rms is its size over the root of two: 2.8° and 3.3°, and the parts of one that a turn has."""
    hold = judge_hold(fly(Plan(bank_wander_deg=swings_deg, faults=(Faults(),) * 2)), ICAO, FCL)
    score = hold.circuits[1].scores["steadiness"]
    assert score.verdict == verdict
    assert score.value == pytest.approx(swings_deg / math.sqrt(2.0), rel=0.05)
