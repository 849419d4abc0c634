"""What is made of all findings: caps of points and grade, why little was judged, times in the error budget."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import pytest

from analyser.circuits.flown import FlownHold
from analyser.grading.budget import Cost
from analyser.grading.finding import Finding
from analyser.grading.findings import _capped, _why_unjudged
from analyser.grading.judge import judge_hold
from analyser.grading.judged import JudgedHold
from analyser.grading.next_time import Change
from analyser.grading.wording import Advice, Number
from analyser.rules.load import load_regime, load_standard
from tests.grading_flights import Faults, Plan, fly

ICAO, FAA = load_regime("icao"), load_regime("faa")
FCL = load_standard("part-fcl-instrument")


@cache
def three() -> FlownHold:
    return fly(Plan(faults=(Faults(),) * 3))


@cache
def clean() -> JudgedHold:
    return judge_hold(three(), ICAO, FCL)


def finding(severity: str, kind: str = "level", *, outside: bool = False) -> Finding:
    one = Finding(kind, severity, (2,), "A sentence.", brief="in brief")  # type: ignore[arg-type]
    return replace(one, outside=outside)


#: The caps as the trade has them: something unsafe leaves at most 59 points and grade 1, what is below standard 79 and
#: grade 2, what was outside and put right 89 and grade 4; a hold on the wrong side 49.
@pytest.mark.parametrize(
    ("one", "points", "capped", "grade"),
    [
        (finding("unsafe"), 95.0, 59.0, 1),
        (finding("unsafe", "wrong side"), 95.0, 49.0, 1),
        (finding("below standard"), 95.0, 79.0, 2),
        (finding("improve", outside=True), 95.0, 89.0, 4),
        (finding("improve"), 95.0, None, 5),
        (finding("good", outside=True), 95.0, None, 5),
        # What rounds to the cap was not held down by it.
        (finding("below standard"), 79.4, None, 2),
        (finding("below standard"), 79.6, 79.0, 2),
        (finding("below standard"), 60.0, None, 2),
        (finding("below standard"), 40.0, None, 1),
        (finding("unsafe"), 40.0, None, 1),
    ],
)
def test_points_and_grade_are_held_down_by_the_worst_that_was_found(
    one: Finding, points: float, capped: float | None, grade: int
) -> None:
    found = _capped(replace(clean(), points=points, findings=(one,), capped=None))
    assert found.grade is not None and found.grade.grade == grade
    assert found.points == (points if capped is None else capped)
    assert (found.capped is not None) == (capped is not None)
    if found.capped is not None:
        assert (found.capped.points_without, found.capped.at) == (points, capped)
        assert (found.capped.why, found.capped.kind) == ("in brief", one.kind)


def test_of_several_caps_the_lowest_holds() -> None:
    both = (finding("below standard"), finding("unsafe"), finding("improve", outside=True))
    found = _capped(replace(clean(), points=95.0, findings=both, capped=None))
    assert found.points == 59.0 and found.grade is not None and found.grade.grade == 1


def test_without_points_only_what_was_surely_unsafe_is_graded() -> None:
    unsafe = _capped(replace(clean(), points=None, findings=(finding("unsafe"),), capped=None, grade=None))
    assert unsafe.points is None and unsafe.grade is not None and unsafe.grade.grade == 1
    other = _capped(
        replace(clean(), points=None, findings=(finding("below standard"),), capped=None, grade=None)
    )
    assert other.grade is None


def known_to(
    bank_sd_deg: float, *, numbers: tuple[int, ...] = (1, 2, 3), start_sd_s: float = 0.4
) -> JudgedHold:
    circuits = []
    for one in three().circuits:
        assert one.outbound_turn and one.inbound_turn
        rough = {"bank_mean_sd_deg": bank_sd_deg, "start_sd_s": start_sd_s} if one.number in numbers else {}
        circuits.append(
            replace(
                one,
                outbound_turn=replace(one.outbound_turn, **rough),
                inbound_turn=replace(one.inbound_turn, **rough),
            )
        )
    return judge_hold(replace(three(), circuits=tuple(circuits)), ICAO, FCL)


def test_why_little_could_be_judged_names_what_was_known_too_badly_and_how_badly() -> None:
    """±5° are allowed; two sigma of 4°, of the mean of two turns, are 8° over √2: ±5.7°."""
    coarse = _why_unjudged(known_to(4.0, start_sd_s=4.0))
    assert coarse.startswith("the recording is too coarse for bank")
    assert "known only to ±5.7°, where ±5° is allowed" in coarse
    # Where the log is fine enough for every instant it is not the recording that leaves things open.
    fine = _why_unjudged(known_to(4.0))
    assert fine.startswith("speed or wind changed too much for bank")
    assert "hole" not in fine and "hole" not in coarse


@pytest.mark.parametrize(
    ("notes", "said"),
    [
        (("the wind blew", "a pause", "a pause"), "a pause"),
        (("the wind blew", "the wind blew", "a pause"), "the wind blew"),
        ((), "no circuit was flown to its end"),
    ],
)
def test_where_neither_a_rough_log_nor_a_hole_is_why_the_most_frequent_reason_is_said(
    notes: tuple[str, ...], said: str
) -> None:
    circuits = tuple(
        replace(
            one, scores={item: replace(score, points=None, note=note) for item, score in one.scores.items()}
        )
        for one, note in zip(clean().circuits, notes, strict=False)
    )
    assert _why_unjudged(replace(clean(), circuits=circuits)) == said


def test_a_cleanly_flown_hold_is_said_to_lie_within_and_one_hardly_judged_is_not() -> None:
    assert "within" in {one.kind for one in clean().findings}
    hole = three().motion.in_hole.copy()
    second, third = three().circuits[1], three().circuits[2]
    hole[three().motion.span(second.start_s, third.end_s)] = True
    blind = judge_hold(replace(three(), motion=replace(three().motion, in_hole=hole)), ICAO, FCL)
    kinds = {one.kind: one for one in blind.findings}
    assert "within" not in kinds
    assert (
        "Little could be judged on circuits 2 and 3: the recording has a hole."
        in {one.sentence for one in blind.findings}
        or "not judged" in kinds
    )


@pytest.mark.parametrize(
    ("inferred", "level_ft", "against"),
    [
        (False, 4000.0, ""),
        (True, 4000.0, ", held against a fix and a course inferred from this flight"),
        (True, None, ", held against a fix, a course and levels inferred from this flight"),
    ],
)
def test_what_a_clean_hold_was_held_against_is_said_where_it_was_not_given(
    inferred: bool, level_ft: float | None, against: str
) -> None:
    flown = replace(three(), hold=replace(three().hold, altitude_ft=level_ft))
    if inferred:
        flown = replace(
            flown, inferred=flown.hold, fix_sd_nm=0.01, course_sd_deg=0.5, inferred_sd=(0.01, 0.5)
        )
    said = [one.sentence for one in judge_hold(flown, ICAO, FCL).findings if one.kind == "within"]
    assert said == [f"Every item judged in the circuits lay within its tolerance{against}."]


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize(
    "faults",
    [
        Faults(outbound_time_s=12.0, outbound_heading_deg=8.0),
        Faults(outbound_time_s=-12.0, outbound_heading_deg=-8.0),
        Faults(inbound_bank_deg=-4.0),
    ],
)
def test_a_share_takes_the_time_of_its_way_along_and_of_the_detour_back_to_the_course(
    faults: Faults, side: int
) -> None:
    """Closing c at θ = 30° is longer than the same way along by c tan(θ / 2); a share on the error's side is closed."""
    hold = fly(Plan(side=side, faults=(faults, Faults())))
    judged = judge_hold(hold, ICAO, FCL)
    budget = judged.circuits[0].budget
    assert budget is not None and abs(budget.cross_track_nm) > 0.02
    speed_kt = judged.circuits[0].ideal.circuit.inbound_ground_speed_kt
    for cost in budget.costs[:-1]:
        beside = math.copysign(1.0, budget.cross_track_nm) * cost.cross_track_nm
        way_nm = -cost.along_track_nm + beside * math.tan(math.radians(15.0))
        assert cost.time_s == pytest.approx(way_nm / speed_kt * 3600.0, abs=1e-6)
    assert budget.time_s is not None
    assert sum(cost.time_s or 0.0 for cost in budget.costs) == pytest.approx(budget.time_s)


@pytest.mark.parametrize(
    ("across_nm", "along_nm", "time_s", "weight_nm"),
    [
        (0.3, -0.4, 1.0, 0.5),
        # Ten seconds inbound at 90 kt are a quarter of a mile.
        (0.03, 0.04, 10.0, 0.25),
        (0.03, 0.04, -10.0, 0.25),
        (0.03, 0.04, None, 0.05),
    ],
)
def test_a_cost_weighs_as_much_as_it_moved_or_as_the_way_of_the_time_it_took(
    across_nm: float, along_nm: float, time_s: float | None, weight_nm: float
) -> None:
    cost = Cost("outbound_time", across_nm, along_nm, time_s, None, None, 0.0)
    assert cost.weight_nm(90.0) == pytest.approx(weight_nm)


def test_a_change_among_others_is_said_in_few_words() -> None:
    fly_, flown = Number(105.0, "°", "true"), Number(97.0, "°", "true")
    advice = Advice("Roll out outbound on {fly}, not {flown}.", fly_, flown)
    change = Change("heading", ("outbound_heading",), "wind_correction", advice)
    assert change.in_few_words(None) == "roll out outbound on 105°T (not 097°T)"
    other = replace(change, clause="be on course before the fix")
    assert other.in_few_words(None) == "be on course before the fix"
