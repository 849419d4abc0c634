"""What the circuits teach: learning, leaving on time, advice, verdict, and the circuit flown again."""

import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyser.grading.finding_advice import learned
from analyser.grading.finding_items import correction_words
from analyser.grading.grading_thresholds import DRAWN
from analyser.grading.judge import judge_hold
from analyser.grading.learning import Lesson, outcome
from analyser.grading.replay import DECISIONS
from analyser.grading.wording import Number, count, share_of
from analyser.holds.definition import LegLimit
from analyser.rules.load import load_regime, load_standard
from analyser.rules.scoring import load_scoring
from tests.grading_flights import Faults, Plan, advised_shares, fly

ICAO, FAA = load_regime("icao"), load_regime("faa")
ACS, PART_FCL = load_standard("acs-instrument"), load_standard("part-fcl-instrument")
ROLLOUT = sum(DRAWN.points[:4]) - 1


def lessons_of(plan, regime, quantity):
    judged = judge_hold(fly(plan), regime, ACS)
    return [lesson for lesson in judged.learning if lesson.quantity == quantity]


@pytest.mark.parametrize(
    ("before", "taught", "flown", "said"),
    [
        (60.0, 70.0, 70.0, "right"),
        (60.0, 70.0, 66.0, "right"),
        (60.0, 70.0, 64.0, "too little"),
        (60.0, 70.0, 78.0, "too far"),
        (60.0, 70.0, 52.0, "wrong way"),
        (60.0, 70.0, 61.0, "not at all"),
        (60.0, 62.0, 61.0, "kept"),
        (60.0, 62.0, 75.0, "too far"),
        (60.0, 62.0, 53.0, "wrong way"),
    ],
)
def test_a_correction_is_named_for_what_it_was(before, taught, flown, said):
    assert outcome(before, taught, flown, band=5.0) == said


@given(st.floats(-90, 90), st.floats(-90, 90), st.floats(-90, 90))
def test_meeting_what_was_taught_is_never_wrong(before, taught, flown):
    assert outcome(before, taught, taught, band=5.0) in ("kept", "right")
    assert outcome(before, taught, flown, band=5.0, exact=flown) in ("kept", "right")


def test_a_time_is_taught_by_a_circuit_whose_leg_is_timed_and_known_and_to_one_that_is_flown_whole():
    """Neither by a leg that a distance ends or that was inferred from what was flown, nor to one fitted to leaving."""
    short = (Faults(outbound_time_s=-10.0), Faults())
    calm = fly(Plan(wind_kt=0.0, faults=short))

    def taught(flown, **leaving):
        return {one.quantity for one in judge_hold(flown, ICAO, ACS, **leaving).learning}

    assert taught(calm) == {"outbound_time", "outbound_heading"}
    inferred = replace(calm, inferred=calm.hold, fix_sd_nm=0.01, course_sd_deg=0.5, inferred_sd=(0.01, 0.5))
    assert "outbound_time" not in taught(inferred)
    assert taught(calm, leave_at_s=calm.end_s - 5.0) == {"outbound_heading"}
    by_distance = fly(Plan(leg=LegLimit(distance_nm=4.0), tas_kt=150.0, wind_kt=0.0, faults=short))
    assert taught(by_distance) == {"outbound_heading"}
    # What is known no better than to ±10 s (Doc 8168 Vol II) teaches nothing: of the one before or the one after.
    for place, sd_s, known in ((0, 4.8, True), (0, 5.2, False), (1, 4.8, True), (1, 5.2, False)):
        circuits = list(calm.circuits)
        circuits[place] = replace(
            circuits[place], inbound_turn=replace(circuits[place].inbound_turn, start_sd_s=sd_s)
        )
        assert ("outbound_time" in taught(replace(calm, circuits=tuple(circuits)))) == known


def test_the_feedback_rule_is_the_navys():
    """US Navy P-871: the inbound leg took 50 s, so the next outbound of 60 s becomes 70 s."""
    # In calm air an outbound of 50 s brings an inbound of 50 s.
    plan = Plan(wind_kt=0.0, faults=(Faults(outbound_time_s=-10.0), Faults()))
    (lesson,) = lessons_of(plan, FAA, "outbound_time")
    inbound_s = judge_hold(fly(plan), FAA, ACS).circuits[0].measures.inbound_duration_s
    assert inbound_s == pytest.approx(50.0, abs=0.5)
    assert lesson.taught.value - lesson.before.value == pytest.approx(10.0, abs=0.5)
    assert lesson.outcome == "right"


def test_the_drift_that_teaches_is_that_of_the_second_half_of_the_inbound_leg():
    """20 kt straight across 110 kt are asin(20 / 110) = 10.5° of it, from the right; while the course is being met the
    nose points elsewhere. Three times that is laid off outbound, to the other side."""
    flown = fly(Plan(faults=(Faults(), Faults(outbound_heading_deg=4.0))))
    leg = flown.circuits[0].inbound_leg
    since_s = flown.motion.time_s - leg.start_s

    def taught(*turned_s):
        meeting = (since_s >= turned_s[0]) & (since_s < turned_s[1])
        motion = replace(flown.motion, heading_deg=flown.motion.heading_deg + np.where(meeting, 15.0, 0.0))
        learning = judge_hold(replace(flown, motion=motion), ICAO, ACS).learning
        return next(one.taught.value for one in learning if one.quantity == "outbound_heading")

    half_s = 0.5 * leg.duration_s
    right = (30.0 + 180.0) - 3.0 * np.degrees(np.arcsin(20.0 / 110.0))
    assert taught(0.0, 0.0) == pytest.approx(right, abs=0.5) == taught(0.0, half_s - 2.0)
    assert abs(taught(half_s + 2.0, 2.0 * half_s) - right) > 20.0
    # In the last two seconds the next turn may have begun.
    assert taught(2.0 * half_s - 1.0, 2.0 * half_s) == pytest.approx(right, abs=0.5)


def test_triple_the_inbound_correction_is_the_aims():
    """FAA AIM 5-3-8 j.8(c): 8° left inbound becomes 24° right outbound."""
    # 8.0° of drift: sin 8° of 110 kt across, from the left of the course, is 15.3 kt.
    plan = Plan(
        wind_from_deg=300.0,
        wind_kt=15.31,
        still_air=False,
        faults=(Faults(outbound_heading_deg=-12.0), Faults()),
    )
    (lesson,) = lessons_of(plan, FAA, "outbound_heading")
    assert (lesson.taught.value - 210.0) % 360.0 == pytest.approx(24.0, abs=1.0)
    assert lesson.outcome == "right"
    assert "3 × the inbound correction of 8°" in lesson.rule


def test_a_pilot_who_never_corrects_is_told_so():
    plan = Plan(faults=(Faults(outbound_heading_deg=-18.0),) * 3)
    assert [one.outcome for one in lessons_of(plan, ICAO, "outbound_heading")] == ["not at all", "not at all"]
    assert any("was not made" in sentence for sentence in judge_hold(fly(plan), ICAO, ACS).verdict)


def test_leaving_on_the_second_and_twenty_seconds_late():
    flown = fly(Plan(faults=(Faults(), Faults())))
    on_time = judge_hold(flown, ICAO, ACS, leave_at_s=flown.end_s)
    assert on_time.leaving.score.points == 100.0
    assert "You left the fix on the second." in on_time.verdict
    late = judge_hold(flown, ICAO, ACS, leave_at_s=flown.end_s - 20.0)
    assert late.leaving.score.value == pytest.approx(20.0)
    assert late.leaving.score.verdict == "outside"
    assert "You left the fix 20 s late." in late.verdict
    # The circuit that was fitted to the minute is not judged by the usual time.
    assert late.circuits[-1].scores["timing"].verdict == "not judged"
    assert late.circuits[0].scores["timing"].points == 100.0


def test_the_plan_for_leaving_meets_the_second_when_it_is_flown():
    flown = fly(Plan(faults=(Faults(),)))
    leave_at = flown.start_s + 215.0
    judged = judge_hold(flown, ICAO, ACS, leave_at_s=leave_at)
    (departure,) = judged.leaving.plans
    assert departure.plan.feasible
    assert departure.fix_s + departure.plan.leaves_s == pytest.approx(leave_at, abs=0.1)
    # Fly that plan with the point mass: its own trial finds the circuit with the shorter inbound leg.
    inbound_nm = departure.plan.shortened[0].inbound_distance_nm
    shorter = fly(Plan(inbound_s=inbound_nm / 110.0 * 3600.0))
    assert shorter.end_s - shorter.start_s == pytest.approx(215.0, abs=0.5)
    turn_in = shorter.circuits[0].inbound_turn.start_s - shorter.start_s
    assert departure.turn_in_s - departure.fix_s == pytest.approx(turn_in, abs=0.5)


def test_no_plan_lengthens_the_leg_and_the_table_ends_with_the_full_circuit():
    flown = fly(Plan(faults=(Faults(),)))
    full_s = flown.end_s - flown.start_s
    judged = judge_hold(flown, ICAO, ACS, leave_at_s=flown.start_s + full_s + 30.0)
    assert not judged.leaving.plans[0].plan.feasible
    backs = [row.total_s for row in judged.leaving.turn_in]
    assert backs == sorted(backs)
    assert backs[-1] == pytest.approx(full_s, abs=0.5)


def test_what_each_fault_cost_is_said_with_its_numbers_most_costly_first_and_at_most_three():
    faults = Faults(
        outbound_heading_deg=20.0,
        outbound_time_s=15.0,
        inbound_bank_deg=-3.0,
        late_turn_s=12.0,
        fix_cross_nm=0.2,
    )
    judged = judge_hold(fly(Plan(faults=(faults,))), ICAO, ACS)
    advised = advised_shares(judged.circuits[0])
    assert len(advised) == 3
    assert [share.rank for share in advised] == [1, 2, 3]
    sizes = [share.size_nm for share in advised]
    assert sizes == sorted(sizes, reverse=True)
    first = advised[0]
    assert first.cause == "outbound_heading"
    exact = judged.circuits[0].ideal.circuit.outbound_heading_deg
    assert first.advice.fly.value == pytest.approx(exact)
    assert first.advice.flown.value == pytest.approx(exact + 20.0, abs=0.3)
    assert first.advice.said(None) == f"You flew outbound on {exact + 20:03.0f}°T; {exact:03.0f}°T was right."
    # Variation 10° east: magnetic is ten degrees less.
    assert (
        first.advice.said(10.0)
        == f"You flew outbound on {exact + 10:03.0f}°M; {exact - 10:03.0f}°M was right."
    )


def test_what_to_work_on_comes_from_the_latest_circuit_not_from_a_fault_already_mended():
    faults = (Faults(outbound_heading_deg=14.0), Faults(outbound_time_s=14.0))
    judged = judge_hold(fly(Plan(faults=faults)), ICAO, ACS)
    sizes = [max(share.size_nm for share in circuit.budget.costs) for circuit in judged.circuits]
    assert sizes[0] > sizes[1]
    assert [change.name for change in judged.next_time.first] == ["time"]
    assert judged.next_time.all == judged.next_time.first
    mended = judge_hold(fly(Plan(faults=(*faults, Faults()))), ICAO, ACS)
    assert mended.next_time is None


def test_advice_is_not_given_on_what_no_hand_can_fly():
    # Three seconds at 250 kt are 0.2 NM, and still nobody is told to turn in three seconds sooner.
    plan = Plan(tas_kt=240.0, altitude_ft=12000.0, faults=(Faults(outbound_time_s=4.0),))
    circuit = judge_hold(fly(plan), ICAO, ACS).circuits[0]
    assert max(share.size_nm for share in circuit.budget.costs) > 0.15
    assert advised_shares(circuit) == ()


def test_a_turn_stopped_on_the_wrong_heading_is_named():
    flown = fly(Plan())
    circuit = flown.circuits[0]
    motion = flown.motion
    # Thirty degrees too far at roll-out, put right within ten seconds: positions moved by what that heading gave.
    time_s, level = motion.time_s, circuit.outbound_turn.end_s
    extra = np.interp(
        time_s, [level - 12.0, level, level + 14.0, level + 15.0], [0.0, 40.0, 40.0, 0.0], left=0.0
    )
    extra[time_s > level + 15.0] = 0.0
    heading = motion.heading_deg + extra
    moved = [
        np.cumsum(motion.tas_kt * (wave(np.radians(heading)) - wave(np.radians(motion.heading_deg)))) / 3600.0
        for wave in (np.sin, np.cos)
    ]
    turned = replace(
        motion,
        heading_deg=heading % 360.0,
        east_nm=motion.east_nm + moved[0],
        north_nm=motion.north_nm + moved[1],
    )
    (share,) = [
        one
        for one in judge_hold(replace(flown, motion=turned), ICAO, ACS).circuits[0].budget.costs
        if one.cause == "unsteadiness"
    ]
    assert share.size_nm > 0.1
    assert share.advice.said().startswith("You rolled out of the outbound turn on ")


def test_nobody_is_told_off_for_the_bank_of_a_flight_director():
    """FAA AIM 5-3-8 j.8(b): 30° of bank, or 25° with a flight director; at 240 kt both ask for less than rate one."""
    causes = ("outbound_turn_bank", "inbound_turn_bank")
    plan = Plan(tas_kt=240.0, altitude_ft=12000.0)
    advised = {share.cause for share in advised_shares(judge_hold(fly(plan), FAA, ACS).circuits[0])}
    assert not advised & set(causes)
    flat = replace(plan, faults=(Faults(outbound_bank_deg=-5.0, inbound_bank_deg=-5.0),))
    advised = {share.cause for share in advised_shares(judge_hold(fly(flat), FAA, ACS).circuits[0])}
    assert advised & set(causes)


def test_advice_is_not_given_on_what_may_be_the_logs_uncertainty():
    flown = fly(Plan(faults=(Faults(outbound_heading_deg=6.0),)))
    sure = judge_hold(flown, ICAO, ACS).circuits[0]
    assert [share.cause for share in advised_shares(sure)] == ["outbound_heading"]
    vague = replace(flown.circuits[0], wind_sd_kt=6.0)
    assert advised_shares(judge_hold(replace(flown, circuits=(vague,)), ICAO, ACS).circuits[0]) == ()


def test_rolling_out_towards_a_missed_course_is_no_fault():
    # The inbound turn was too steep, so the course lies ahead to the left; the roll-out is 20° short of it...
    towards = Plan(faults=(Faults(inbound_bank_deg=-4.0, rollout_heading_deg=20.0),))
    causes = [share.cause for share in advised_shares(judge_hold(fly(towards), ICAO, ACS).circuits[0])]
    assert "inbound_turn_bank" in causes
    assert "rollout_heading" not in causes


@pytest.mark.parametrize(
    ("off", "words"),
    [
        (20.0, "a third of the drift correction it needed: 20° more to the left was needed."),
        (0.0, None),
        (-29.0, "twice"),
    ],
)
def test_the_verdict_says_what_the_outbound_heading_carried(off, words):
    # The exact correction is 28.9° to the left.
    said = judge_hold(fly(Plan(faults=(Faults(outbound_heading_deg=off),))), ICAO, ACS).verdict
    right = ("One circuit.", "Your entry was right.")
    if words is None:
        within = "Every item judged in the circuits lay within its tolerance."
        assert said == (*right, within, "No fault cost enough to speak of.")
    else:
        assert words in said[0] and set(right) < set(said)


@pytest.mark.parametrize("off", [20.0, 20.3, 20.6, 23.4, 29.4])
@pytest.mark.parametrize("variation_deg", [None, -3.4, 0.3, 2.7])
def test_degrees_said_between_two_headings_are_those_between_them_as_they_are_said(off, variation_deg):
    judged = judge_hold(fly(Plan(faults=(Faults(outbound_heading_deg=off),))), ICAO, ACS)
    judged = replace(judged, variation_deg=variation_deg)
    (circuit,) = judged.circuits
    flown, right = (
        int(Number(heading, "°", "true").said(variation_deg)[:3])
        for heading in (circuit.circuit.outbound_leg.heading_deg, circuit.ideal.circuit.outbound_heading_deg)
    )
    said = re.search(r"(\d+)°", correction_words(judged, circuit))
    assert int(said[1]) == (flown - right) % 360


def test_where_two_clocks_are_named_what_was_flown_says_by_which():
    # Abeam lies in the turn: the two clocks differ.
    plan = judge_hold(fly(Plan(faults=(Faults(outbound_time_s=-20.0),))), ICAO, ACS).next_time
    change = next(one for one in plan.all if one.name == "time")
    said = change.in_few_words(None)
    assert re.fullmatch(
        r"turn inbound \d+ s after abeam \(the same as \d+ s from wings level\), not \d+ s after abeam", said
    )


def test_a_correction_nearly_whole_is_said_in_degrees():
    plan = Plan(faults=(Faults(outbound_heading_deg=6.0),))
    said = judge_hold(fly(plan), ICAO, PART_FCL).verdict
    assert "The outbound heading carried 6° too little drift correction to the left." in said
    plan = Plan(faults=(Faults(outbound_heading_deg=-6.0),))
    said = judge_hold(fly(plan), ICAO, PART_FCL).verdict
    assert "The outbound heading carried 6° too much drift correction to the left." in said


def lesson(quantity, outcome, *, as_taught, as_asked, off=0.0, before=40.0):
    unit, reference = ("°", "true") if quantity == "outbound_heading" else ("s", None)
    flown, exact = Number(60.0, unit, reference), Number(60.0 + off, unit, reference)
    was = Number(before, unit, reference)
    return Lesson(2, quantity, was, flown, flown, exact, outcome, "", as_taught, as_asked)


@pytest.mark.parametrize(
    ("learning", "said"),
    [
        (
            [("outbound_heading", "right", True, True, 0.0), ("outbound_time", "kept", True, True, 0.0)],
            ["From circuit to circuit you set the outbound heading and time as the inbound leg taught."],
        ),
        # One was set as taught, the other now as taught and now as the wind asked.
        (
            [
                ("outbound_heading", "right", True, True, 0.0),
                ("outbound_time", "right", True, False, 0.0),
                ("outbound_time", "right", False, True, 0.0),
            ],
            [
                "From circuit to circuit you set the outbound heading as the inbound leg taught, and the outbound time "
                "as the inbound leg taught or the wind asked."
            ],
        ),
        # The rule of thumb was followed and misses what this wind asks for: both are said.
        (
            [("outbound_heading", "right", True, False, 8.0)],
            [
                "From circuit to circuit you set the outbound heading as the inbound leg taught, "
                "though this wind asked for 068°T, 8° further right."
            ],
        ),
        (
            [("outbound_heading", "right", False, True, 0.0), ("outbound_time", "right", True, False, -12.0)],
            [
                "From circuit to circuit you set the outbound heading as the wind asked, and the outbound "
                "time as the inbound leg taught, though this wind asked for 48 s, 12 s shorter."
            ],
        ),
        (
            [("outbound_time", "too far", False, False, 9.0), ("outbound_time", "right", False, True, 2.0)],
            ["You found the right outbound time in the end."],
        ),
        (
            [("outbound_time", "right", True, True, 0.0), ("outbound_time", "too far", False, False, 9.0)],
            ["The last correction of the outbound time went too far."],
        ),
        # Nobody is told to have found what is still outside its tolerance.
        (
            [
                ("outbound_heading", "too little", False, False, 20.0),
                ("outbound_heading", "right", True, False, 7.0),
            ],
            [
                "In the end you set the outbound heading as the inbound leg taught, though this wind asked "
                "for 067°T, 7° further right."
            ],
        ),
    ],
)
def test_what_was_learned_is_said_as_it_was(learning, said):
    found = [
        lesson(quantity, how, as_taught=taught, as_asked=asked, off=off)
        for quantity, how, taught, asked, off in learning
    ]
    sentences = learned(found, None, load_scoring().learning)
    assert [sentence for sentence, _ in sentences] == said
    assert all(right == ("last correction" not in sentence) for sentence, right in sentences)


@pytest.mark.parametrize(("quantity", "words"), [("outbound_heading", "heading"), ("outbound_time", "time")])
def test_who_changes_what_was_right_is_told_so_and_not_which_way(quantity, words):
    spoilt = lesson(quantity, "wrong way", as_taught=False, as_asked=False, off=30.0, before=61.0)
    ((sentence, right),) = learned([spoilt], None, load_scoring().learning)
    assert (sentence, right) == (
        f"The outbound {words} was right before, and was changed on the last circuit.", False
    )  # fmt: skip


def test_the_points_are_the_weighted_mean_of_the_parts_shown():
    judged = judge_hold(fly(Plan(faults=(Faults(outbound_heading_deg=14.0), Faults()))), ICAO, ACS)
    assert [(part.kind, part.circuit) for part in judged.parts] == [
        ("entry", None),
        ("circuit", 1),
        ("circuit", 2),
    ]
    total = sum(part.weight for part in judged.parts)
    assert judged.weighed_points == pytest.approx(
        sum(part.points * part.weight for part in judged.parts) / total
    )
    assert judged.parts[1].weight == pytest.approx(0.5 * judged.parts[2].weight)


def test_every_sentence_is_a_sentence():
    for plan in (Plan(), Plan(faults=(Faults(outbound_heading_deg=30.0), Faults(outbound_time_s=20.0)))):
        flown = fly(plan)
        for judged in (
            judge_hold(flown, ICAO, ACS),
            judge_hold(flown, FAA, ACS, leave_at_s=flown.end_s + 5.0),
        ):
            for sentence in judged.verdict:
                assert re.fullmatch(r"[A-Z].*[.]", sentence), sentence
                assert "nan" not in sentence and "{" not in sentence


def test_numbers_are_spoken_as_in_the_trade():
    assert Number(0.4, "°", "true").said() == "360°T"
    assert Number(7.2, "°", "true").said(2.0) == "005°M"
    assert Number(17.6, "°").said() == "18°"
    assert Number(0.214, "NM").said() == "0.21 NM"
    assert count(1, "circuit") == "one circuit"
    assert count(14, "circuit") == "14 circuits"
    assert [share_of(x) for x in (0.02, 0.32, 0.5, 2.1)] == [
        "next to none of",
        "a third of",
        "half of",
        "twice",
    ]


def test_a_fault_put_right_moves_the_roll_out_to_the_course():
    judged = judge_hold(fly(Plan(faults=(Faults(outbound_heading_deg=15.0),))), ICAO, ACS)
    circuit = judged.circuits[0]
    assert circuit.budget.faults(0.05) == ("outbound_heading",)
    exact = circuit.ideal.circuit
    flown = circuit.budget.reflown(())
    righted = circuit.budget.reflown(("outbound_heading",))
    course = np.radians(30.0)

    def off_course(path):
        # The last point of the fourth phase is the roll-out.
        east, north = path[0][ROLLOUT], path[1][ROLLOUT]
        return east * np.cos(course) - north * np.sin(course), east * np.sin(course) + north * np.cos(course)

    assert off_course(flown)[0] == pytest.approx(circuit.measures.rollout_cross_track_nm, abs=0.01)
    assert abs(off_course(flown)[0]) > 0.4
    assert abs(off_course(righted)[0]) < 0.02
    assert off_course(righted)[1] == pytest.approx(exact.rollout_along_nm, abs=0.02)
    # It begins where it was measured to, and then tracks the course to the fix: no recorded interception is replayed.
    for k in (0, 1):
        assert righted[k][0] == pytest.approx(flown[k][0], abs=1e-6)
        assert righted[k][-1] == pytest.approx(0.0, abs=0.01)
    aside = righted[0] * np.cos(course) - righted[1] * np.sin(course)
    assert np.abs(aside[ROLLOUT:]).max() < 0.03
    assert np.abs(aside[-5:]).max() < 0.01


def test_all_faults_put_right_leave_the_exact_circuit():
    faults = Faults(
        fix_cross_nm=0.2,
        late_turn_s=8.0,
        outbound_heading_deg=12.0,
        outbound_time_s=-9.0,
        inbound_bank_deg=3.0,
    )
    circuit = judge_hold(fly(Plan(faults=(faults,))), ICAO, ACS).circuits[0]
    east, north = circuit.budget.reflown(DECISIONS)
    path = circuit.ideal.circuit.path(1.0)
    course = np.radians(30.0)
    exact_east = path.along_nm * np.sin(course) + path.cross_nm * np.cos(course)
    exact_north = path.along_nm * np.cos(course) - path.cross_nm * np.sin(course)
    # Up to the roll-out every point lies on the exact circuit.
    flown = zip(east[: ROLLOUT + 1], north[: ROLLOUT + 1], strict=True)
    gaps = [np.hypot(exact_east - e, exact_north - n).min() for e, n in flown]
    assert max(gaps) < 0.03
