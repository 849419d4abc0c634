"""What is said of laps with whole circles, a turn back the wrong way, or no outbound leg: flights drawn by hand.

Still air, over the fix of :mod:`tests.drawn_flights`; a lap's legs last a minute each.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analyser.debrief import HoldDebrief, debrief_track
from analyser.holds.definition import LegLimit
from tests.drawn_flights import drawn as drawn_track
from tests.drawn_flights import straight, turn
from tests.test_circuits_given import AWAY, GIVEN, WAY_IN, in_wind, lap

HOLD = replace(GIVEN, leg=LegLimit(minutes=1.0), altitude_ft=4000.0)


def debriefed(after: list[float], rules: str = "icao") -> HoldDebrief:
    (hold,) = debrief_track(drawn_track(WAY_IN, after), hold=HOLD, rules=rules).holds
    return hold


def kinds(hold: HoldDebrief) -> set[str]:
    return {one.kind for one in hold.judged.findings}


def sentence(hold: HoldDebrief, kind: str) -> str:
    (said,) = [one.sentence for one in hold.judged.findings if one.kind == kind]
    return said


CIRCLED_OUT = [*turn(180.0), *straight(30), *turn(-360.0), *straight(30), *turn(180.0), *straight(60)]
CIRCLED_IN = [*turn(180.0), *straight(60), *turn(180.0), *straight(20), *turn(360.0), *straight(40)]


def test_a_circle_on_the_outbound_leg_is_none_of_its_time() -> None:
    hold = debriefed([*lap(), *CIRCLED_OUT, *lap(), *AWAY])
    circuit = hold.judged.circuits[1]
    # Half a minute before it and half a minute after.
    assert circuit.measures.timed_s == pytest.approx(60.0, abs=3.0)
    assert circuit.scores["timing"].verdict == "within"
    assert circuit.measures.outbound_correction_deg == pytest.approx(0.0, abs=1.0)
    assert "long outbound leg" not in kinds(hold)
    assert "within the outbound leg on circuit 2" in sentence(hold, "circle")
    assert circuit.budget is None and "full circle" in circuit.no_budget


def test_a_circle_on_the_inbound_leg_is_none_of_its_time_and_track() -> None:
    hold = debriefed([*lap(), *CIRCLED_IN, *lap(), *AWAY], "faa")
    circuit = hold.judged.circuits[1]
    assert circuit.measures.inbound_duration_s == pytest.approx(60.0, abs=3.0)
    assert circuit.measures.off_course_rms_deg == pytest.approx(0.0, abs=1.0)
    assert abs(circuit.measures.cross_track_max_nm or 0.0) < 0.05
    assert "within the inbound leg on circuit 2" in sentence(hold, "circle")


def test_circles_on_two_legs_are_told_together() -> None:
    hold = debriefed([*CIRCLED_OUT, *CIRCLED_IN, *lap(), *AWAY])
    assert "within the outbound and the inbound leg on circuits 1 and 2" in sentence(hold, "circle")


#: Turned back to the left, two turns' widths beside the course, and over the fix on a cut.
BACK_LEFT = [
    *turn(180.0),
    *straight(60),
    *turn(-150.0),
    *straight(20),
    *turn(-60.0),
    *straight(60),
    *turn(30.0),
]


#: … and this leads round to the course, 34 s before the fix.
WRONG_WAY_BACK = [*turn(180.0), *straight(100), *turn(-240.0), *straight(66), *turn(60.0), *straight(34)]


def test_a_turn_back_the_wrong_way_is_said_and_is_no_hold_on_the_wrong_side() -> None:
    hold = debriefed([*lap(), *BACK_LEFT, *straight(40), *lap(), *AWAY])
    assert "wrong side" not in kinds(hold)
    assert (
        sentence(hold, "inbound way")
        == "You turned inbound to the left on circuit 2; the hold is right-hand, so turn right."
    )
    assert hold.judged.turned_away == (2,) and hold.judged.other_hand == ()


def test_a_lap_all_the_other_way_lies_on_the_wrong_side() -> None:
    hold = debriefed([*lap(), *lap(side=-1), *lap(), *AWAY])
    assert hold.judged.other_hand == (2,) and hold.judged.turned_away == ()
    assert "wrong side" in kinds(hold) and "inbound way" not in kinds(hold)


@pytest.mark.parametrize(
    ("odd", "kind", "said"),
    [
        (
            lap(side=-1),
            "both hands",
            "You held left-hand on circuit 3 and right-hand on the rest. A hold has one side",
        ),
        (
            WRONG_WAY_BACK,
            "inbound way",
            "You turned inbound to the left on circuit 3; all other turns",
        ),
    ],
)
def test_nobody_gave_the_hold_and_still_one_lap_was_turned_unlike_the_others(
    odd: list[float], kind: str, said: str
) -> None:
    track = drawn_track(WAY_IN, [*lap(), *lap(), *odd, *lap(), *AWAY])
    (hold,) = debrief_track(track, rules="icao").holds
    assert len(hold.judged.circuits) == 4
    assert sentence(hold, kind).startswith(said)
    assert "within" not in kinds(hold)
    # Which entry was right depends on the hand.
    assert hold.judged.entry is not None
    assert (hold.judged.entry.verdict == "not judged") == (kind == "both hands")


def test_no_heading_is_judged_of_a_leg_that_was_none() -> None:
    # 25 kt of tailwind outbound: the turns alone carry the flight out, and 35 s bring it back.
    way = [*turn(180.0), *turn(180.0), *straight(35)]
    track = in_wind(drawn_track(WAY_IN, [*way, *way, *AWAY]), -25.0, 200.0)
    (hold,) = debrief_track(track, hold=HOLD, rules="icao").holds
    for one in hold.judged.circuits:
        assert one.scores["wind_correction"].verdict == "not judged"
        assert one.scores["wind_correction"].note == "no outbound leg"


def half_rate() -> list[float]:
    """Turn at half the rate, minute legs between: laps that close in still air as well as any."""
    return [1.5] * 120 + straight(60) + [1.5] * 120 + straight(60)


def test_circles_in_place_of_laps_earn_little() -> None:
    """What was not flown is no reason to leave it out of the mean: one right entry is not a hold."""
    hold = debriefed([*turn(360.0), *turn(360.0), *straight(200)])
    assert sentence(hold, "no outbound leg") == (
        "You flew no outbound leg to speak of between the turns on circuits 1 and 2."
    )
    for one in hold.judged.circuits:
        assert one.points is not None and one.points < 50.0
        assert one.measures.outbound_correction_deg is None, "no heading was held between the turns"
    assert hold.judged.points is not None and hold.judged.points < 70.0


def test_an_entry_counts_no_more_than_the_circuits_after_it() -> None:
    parts = debriefed([*lap(), *AWAY]).judged.parts
    weights = {part.kind: part.weight for part in parts}
    assert weights["entry"] == pytest.approx(weights["circuit"])
    assert parts[0].kind == "entry"


def test_banks_that_close_the_circuit_all_the_same_are_worked_on_before_what_lay_within_its_tolerance() -> (
    None
):
    """Half the bank in both turns closes the circuit; a turn begun early is no item outside its tolerance."""
    laps = half_rate()[:-5] + half_rate()[:-5] + half_rate()
    hold = debriefed([*laps, *straight(120)])
    assert hold.judged.findings[0].kind == "bank"
    first = hold.judged.work_on_first
    assert first is not None and first.kind == "bank"


def test_a_descent_that_nobody_gave_a_level_for_is_said() -> None:
    """Nothing was held against it, for it may have been cleared; it is not passed over in silence."""
    track = drawn_track(WAY_IN, [*lap(), *lap(), *AWAY])
    sunk = np.clip(4000.0 - 4.0 * (track.time_s - 200.0), 2500.0, 4000.0)
    channels = {**track.channels, "altitude_ft": sunk}
    (hold,) = debrief_track(replace(track, channels=channels), hold=replace(HOLD, altitude_ft=None)).holds
    assert "between 2,500 ft and 4,000 ft" in sentence(hold, "level change")
    (hold,) = debrief_track(replace(track, channels=channels), hold=HOLD).holds
    assert "level change" not in kinds(hold) and hold.judged.findings[0].kind == "level"
    (hold,) = debrief_track(track, hold=replace(HOLD, altitude_ft=None)).holds
    assert not {"level change", "level left"} & kinds(hold)


def test_a_level_left_and_taken_up_again_is_said_before_what_was_right() -> None:
    """Nobody is cleared up and down again within one hold as a rule; and nobody said which level was asked for."""
    track = drawn_track(WAY_IN, [*lap(), *lap(), *AWAY])
    bust = np.interp(
        track.time_s, [0.0, 260.0, 300.0, 420.0, 460.0], [4000.0, 4000.0, 4600.0, 4600.0, 4000.0]
    )
    channels = {**track.channels, "altitude_ft": bust}
    (hold,) = debrief_track(replace(track, channels=channels), hold=replace(HOLD, altitude_ft=None)).holds
    assert "left 4,000 ft for 4,600 ft and came back" in hold.judged.verdict[0]


def test_long_legs_that_nobody_asked_for_are_said_to_be_unjudged() -> None:
    """Three minutes outbound and inbound without a hold file: no praise without the doubt."""
    long = [*turn(180.0), *straight(180), *turn(180.0), *straight(180)]
    (hold,) = debrief_track(drawn_track(WAY_IN, [*long, *long, *AWAY])).holds
    assert "what was asked for was not given" in sentence(hold, "leg unknown")
    assert hold.judged.findings[0].kind == "leg unknown"


def test_a_leg_that_a_hole_of_the_log_may_hide_is_not_missed() -> None:
    way = [*turn(180.0), *turn(180.0), *straight(35)]
    track = in_wind(drawn_track(WAY_IN, [*way, *way, *AWAY]), -25.0, 200.0)
    (seen,) = debrief_track(track, hold=HOLD).holds
    assert "no outbound leg" in kinds(seen)
    joined_s = [one.circuit.outbound_turn.end_s for one in seen.judged.circuits]
    keep = np.abs(track.time_s[:, None] - joined_s).min(axis=1) > 20.0
    (hidden,) = debrief_track(track.take(keep), hold=HOLD).holds
    assert "no outbound leg" not in kinds(hidden)
    assert "no-outbound-leg" not in {notice.code for notice in hidden.judged.flown.notices}
