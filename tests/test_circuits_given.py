"""A hold that is given cuts the flight: what is odd is said, and nothing is refused that was flown round the fix.

Flights are drawn by hand in still air over the fix of :mod:`tests.drawn_flights`, whose course is 025°.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analyser.circuits.find import search
from analyser.circuits.flown import Search
from analyser.holds.definition import Hold
from analyser.logs.track import Track
from tests.accuracy_students import measure_student
from tests.drawn_flights import COURSE_DEG, FIX, drawn, laps, straight, turn
from tests.flights.air import Air
from tests.flights.as_track import to_hold, to_track
from tests.flights.receiver import Receiver
from tests.flights.students import EntryPlan, StudentCase, StudentPlan, make_student, student_case

GIVEN = Hold(*FIX, COURSE_DEG, "right", name="Practice")
WAY_IN = straight(200)
AWAY = [*turn(-60.0), *straight(150)]


def found(after: list[float], before: list[float] = WAY_IN, *given: Hold) -> Search:
    return search(drawn(before, after), given or (GIVEN,))


def codes(result: Search) -> set[str]:
    return {notice.code for hold in result.holds for notice in hold.notices}


def lap(outbound_s: int = 60, inbound_s: int = 60, side: int = 1) -> list[float]:
    return [*turn(180.0 * side), *straight(outbound_s), *turn(180.0 * side), *straight(inbound_s)]


def moved(nm_east: float, nm_north: float) -> Hold:
    """Give the same hold with its fix so far east and north of where it was flown."""
    lat = FIX[0] + nm_north / 60.0
    return replace(GIVEN, fix_lat_deg=lat, fix_lon_deg=FIX[1] + nm_east / 60.0 / np.cos(np.radians(FIX[0])))


@pytest.mark.parametrize("number", [1, 2, 4])
def test_laps_over_the_given_fix_are_its_circuits(number: int) -> None:
    (hold,) = found([*laps(number, 1), *AWAY]).holds
    assert hold.given and hold.hold == GIVEN
    assert [c.complete for c in hold.circuits] == [True] * number
    assert hold.entry is not None and hold.entry.flown == "direct"
    # A lap of two half circles at three degrees a second and two minutes of legs lasts four minutes.
    assert [c.end_s - c.start_s for c in hold.circuits] == pytest.approx([240.0] * number, abs=3.0)


def in_wind(track: Track, north_kt: float, fix_s: float) -> Track:
    """Let a drawn flight drift along its course from passing the fix on, as in a wind that blows inbound."""
    drifted_nm = north_kt / 3600.0 * (track.time_s - fix_s)
    toward = np.radians(COURSE_DEG)
    north, east = drifted_nm * np.cos(toward), drifted_nm * np.sin(toward)
    lon = track.lon_deg + east / 60.0 / np.cos(np.radians(FIX[0]))
    return replace(track, lat_deg=track.lat_deg + north / 60.0, lon_deg=lon)


def test_a_lap_without_an_outbound_leg_is_a_lap() -> None:
    # 25 kt of tailwind outbound: the turns alone carry the flight 0.83 NM out, 35 s at the speed it makes inbound.
    way = [*turn(180.0), *turn(180.0), *straight(35)]
    result = search(in_wind(drawn(WAY_IN, [*way, *way, *AWAY]), -25.0, 200.0), [GIVEN])
    assert [c.complete for c in result.holds[0].circuits] == [True, True]
    assert "no-outbound-leg" in codes(result)


CIRCLE = [*turn(360.0)]


@pytest.mark.parametrize(
    ("way", "circuits", "said"),
    [
        ([*CIRCLE, *lap(), *lap()], 2, "before circuit 1"),
        ([*lap(), *CIRCLE, *straight(4), *lap()], 2, "before circuit 2"),
        ([*lap(), *lap(), *CIRCLE, *straight(20)], 2, "at the end"),
        ([*turn(-360.0), *lap(), *lap()], 2, "before circuit 1"),
    ],
)
def test_a_circle_over_the_fix_is_no_circuit_and_is_said(way: list[float], circuits: int, said: str) -> None:
    result = found([*way, *AWAY])
    (hold,) = result.holds
    assert [c.complete for c in hold.circuits] == [True] * circuits
    assert [c.end_s - c.start_s for c in hold.circuits] == pytest.approx([240.0] * circuits, abs=5.0)
    assert [n.message.startswith(said) for n in hold.notices if n.code == "circle-over-fix"] == [True]
    assert hold.entry is not None and hold.entry.flown == "direct"


def test_one_circle_over_the_fix_is_no_hold() -> None:
    result = found([*CIRCLE, *straight(300)])
    assert not result.holds
    assert "circled over it once without an outbound leg: no hold to judge" in result.fits[0].sentence


@pytest.mark.parametrize(
    ("after", "until", "turned"),
    [
        ([*turn(180.0), *straight(60), *turn(180.0), *straight(20)], 399.0, "inbound"),
        (
            [*turn(180.0), *straight(60), *turn(180.0), *straight(20), *turn(-90.0), *straight(150)],
            419.0,
            "inbound",
        ),
        ([*turn(180.0), *straight(60), *turn(100.0)], 339.0, "outbound"),
        ([*turn(180.0), *straight(20), *turn(90.0), *straight(150)], 299.0, "outbound"),
    ],
)
def test_a_lone_lap_broken_off_is_debriefed_as_far_as_it_was_flown(
    after: list[float], until: float, turned: str
) -> None:
    result = found(after)
    (hold,) = result.holds
    (circuit,) = hold.circuits
    assert not circuit.complete and circuit.end_s == pytest.approx(until, abs=22.0)
    assert (circuit.inbound_turn is not None) == (turned == "inbound")
    assert hold.entry is not None and hold.entry.flown == "direct"
    (notice,) = [n for n in hold.notices if n.code == "part-of-circuit"]
    assert notice.message in result.fits[0].sentence and f"after its turn {turned}" in notice.message


@pytest.mark.parametrize(
    ("first", "entry"),
    [
        ([*turn(-30.0), *straight(60), *turn(210.0), *straight(60)], "offset"),
        ([*straight(60), *turn(-225.0), *straight(30), *turn(45.0), *straight(40)], "parallel"),
    ],
)
def test_an_entry_is_told_whatever_became_of_the_lap_after_it(first: list[float], entry: str) -> None:
    toward = replace(GIVEN, inbound_course_true_deg=(COURSE_DEG + 180.0) % 360.0)
    begun = [*turn(180.0), *straight(40), *turn(-90.0), *straight(100)]
    (hold,) = search(drawn(straight(200), [*first, *begun]), [toward]).holds
    assert hold.entry is not None and hold.entry.flown == entry
    assert [circuit.complete for circuit in hold.circuits] == [False]
    alone = search(drawn(straight(200), [*first, *straight(200)]), [toward])
    assert not alone.holds
    assert "as an entry does, and passed it again inbound at 6:" in alone.fits[0].sentence


@pytest.mark.parametrize(
    "after", [[*turn(180.0), *straight(10)], [*turn(180.0), *straight(200)], [*turn(90.0)]]
)
def test_a_turn_over_the_fix_alone_begins_no_hold(after: list[float]) -> None:
    # Hardly outbound; outbound for longer than a leg; to the side only.
    assert not found([*after, *turn(-90.0), *straight(200)]).holds


def test_a_lap_begun_beside_the_fix_begins_no_hold() -> None:
    after = [*turn(180.0), *straight(40), *turn(-90.0), *straight(100)]
    near, beside = (search(drawn(WAY_IN, after), [moved(nm, 0.0)]).holds for nm in (0.4, 0.7))
    assert len(near) == 1 and not beside


def test_a_lap_begun_before_the_files_fix_is_asked_nothing_that_only_whole_laps_tell() -> None:
    after = [*turn(180.0), *straight(30), *turn(-90.0), *straight(150)]
    (hold,) = search(drawn(WAY_IN, after), [moved(0.0, 0.6)]).holds
    assert [c.complete for c in hold.circuits] == [False]


def test_laps_of_a_hold_miles_away_are_none_of_the_files() -> None:
    # Abeam of the file's fix, so that they cross its perpendicular inbound.
    before = [*laps(2, 1), *turn(-90.0), *straight(200), *turn(90.0), *straight(20)]
    track, there = drawn(WAY_IN, [*before, *laps(3, 1), *AWAY]), len(WAY_IN) + len(before) - 1
    away = replace(GIVEN, fix_lat_deg=float(track.lat_deg[there]), fix_lon_deg=float(track.lon_deg[there]))
    for files in ([GIVEN], [away], [GIVEN, away]):
        holds = search(track, files).holds
        assert [len(hold.circuits) for hold in holds] == [2, 3]
        assert [hold.hold for hold in holds if hold.given] == files


def test_a_lap_begun_at_a_given_fix_stands_behind_whole_laps_elsewhere() -> None:
    # The file's fix lies on the leg to the fix of the laps: over it, round, and outbound past it on every lap.
    track = drawn(WAY_IN, [*turn(180.0), *straight(200), *laps(3, 1), *AWAY])
    holds = search(track, [GIVEN]).holds
    assert max(len(hold.circuits) for hold in holds) >= 3


@pytest.mark.parametrize("begins_s", [30, 60, 100, 150, 170, 230])
def test_a_log_that_begins_inside_the_hold_tells_no_entry(begins_s: int) -> None:
    # On the outbound turn, outbound, on the inbound turn, at its end, on the inbound leg.
    track = drawn([0.0], laps(3, 1) + AWAY)
    (hold,) = search(track.take(slice(begins_s, None)), [GIVEN]).holds
    assert hold.entry is None and len(hold.circuits) == 2
    assert {notice.code for notice in hold.notices} == {"entry-not-recorded"}


def test_circles_within_a_leg_are_kept_with_their_times() -> None:
    circled = [*turn(180.0), *straight(40), *turn(-360.0), *straight(40), *turn(180.0), *straight(80)]
    (hold,) = found([*lap(), *circled, *lap(), *AWAY]).holds
    ((start_s, end_s),) = hold.circuits[1].circles_s
    assert (start_s, end_s) == pytest.approx((540.0, 660.0), abs=4.0)
    assert not hold.circuits[0].circles_s and not hold.circuits[2].circles_s
    # Half of a leg before it and half after, on one heading: 180° from the inbound course.
    assert hold.circuits[1].outbound_leg.heading_deg == pytest.approx(COURSE_DEG + 180.0, abs=2.0)  # type: ignore[union-attr]


#: Round an aerodrome to the right; away to the side, and back; round to the left.
JOURNEYS = [
    [*straight(90), *(turn(90.0) + straight(90) + turn(90.0) + straight(300)) * 2],
    [*turn(90.0), *straight(150), *turn(180.0), *straight(150), *turn(90.0), *straight(10)],
    [*straight(150), *(turn(-90.0) + straight(120) + turn(-90.0) + straight(270)) * 2],
]


@pytest.mark.parametrize("journey", JOURNEYS)
def test_who_goes_around_and_comes_back_held_twice(journey: list[float]) -> None:
    result = found([*lap(), *lap(), *journey, *lap(), *lap(), *AWAY])
    assert [[c.complete for c in hold.circuits] for hold in result.holds] == [[True, True]] * 2


def test_a_lap_the_other_way_is_said_to_be_and_counted() -> None:
    result = found([*lap(), *lap(side=-1), *lap(), *AWAY])
    assert [c.complete for c in result.holds[0].circuits] == [True] * 3
    said = [n.message for n in result.holds[0].notices if n.code == "turned-other-way"]
    assert len(said) == 2 and all("circuit 2" in one and "to the left" in one for one in said)


def test_a_hold_all_the_other_way_is_cut_and_said_to_be() -> None:
    result = found([*laps(3, -1), *AWAY])
    assert len(result.holds[0].circuits) == 3
    assert "turns-other-hand" in codes(result)


def test_a_circle_in_a_leg_makes_no_lap() -> None:
    circle = [*turn(180.0), *straight(40), *turn(360.0), *straight(40), *turn(180.0), *straight(80)]
    result = found([*lap(), *circle, *lap(), *AWAY])
    assert len(result.holds[0].circuits) == 3
    assert "circle-in-circuit" in codes(result)


def test_a_lap_left_outbound_is_one_broken_off() -> None:
    (hold,) = found([*lap(), *turn(180.0), *straight(40), *turn(-70.0), *straight(200)]).holds
    assert [c.complete for c in hold.circuits] == [True, False]


def test_a_hole_of_a_minute_and_a_half_ends_no_hold() -> None:
    track = drawn(WAY_IN, [*laps(3, 1), *AWAY])
    # Within the second circuit's outbound leg and turn.
    keep = (track.time_s < 530.0) | (track.time_s > 621.0)
    cut = Track(
        "hole", "table", "", track.time_s[keep], track.lat_deg[keep], track.lon_deg[keep],
        {"altitude_ft": track.channels["altitude_ft"][keep]},
    )  # fmt: skip
    result = search(cut, [GIVEN])
    assert [c.complete for c in result.holds[0].circuits] == [True] * 3
    assert "hole-in-circuit" in codes(result)


@pytest.mark.parametrize("interval_s", [5, 10, 20])
def test_sparse_positions_give_the_same_laps(interval_s: int) -> None:
    track = drawn(WAY_IN, [*laps(3, 1), *AWAY])
    thin = slice(None, None, interval_s)
    sparse = Track(
        "sparse", "table", "", track.time_s[thin], track.lat_deg[thin], track.lon_deg[thin],
        {"altitude_ft": track.channels["altitude_ft"][thin]},
    )  # fmt: skip
    (hold,) = search(sparse, [GIVEN]).holds
    starts = [c.start_s for c in hold.circuits]
    assert starts == pytest.approx([200.0, 440.0, 680.0], abs=0.5 * interval_s + 1.0)


def test_holding_twice_with_time_between_is_two_holds() -> None:
    # Away for ten minutes and back over the fix on its course.
    out_and_back = [*turn(180.0), *straight(600), *turn(180.0), *straight(600)]
    result = found([*laps(2, 1), *out_and_back, *laps(2, 1), *AWAY])
    assert [len(h.circuits) for h in result.holds] == [2, 2]
    assert result.fits[0].flown == (0, 1)


OUT_AND_ROUND = [*straight(60), *turn(-45.0), *straight(60), *turn(180.0), *straight(60)]
PROCEDURE_TURN = [*OUT_AND_ROUND, *turn(45.0), *straight(400)]


@pytest.mark.parametrize(
    ("after", "code"),
    [
        (straight(300), "passed"),
        ([*turn(90.0), *straight(300)], "passed"),
        # Out and back over the fix once, as in a procedure turn, and on.
        (PROCEDURE_TURN, "passed"),
    ],
)  # fmt: skip
def test_a_file_alone_makes_no_hold(after: list[float], code: str) -> None:
    result = found(after)
    assert not result.holds
    assert result.fits[0].code == code


def test_circuits_of_an_aerodrome_beside_the_fix_are_said_to_be_that() -> None:
    track = drawn([0.0] * 240, [*laps(4, 1), *AWAY])
    down = 60.0 * 4
    height = 400.0 + 500.0 * (1.0 - np.cos(2.0 * np.pi * (track.time_s - 240.0) / down))
    # Stands on the ground before it takes off: the fix is over the runway's end.
    still = np.concatenate([np.full(30, track.lat_deg[0]), track.lat_deg])
    stood = Track(
        "aerodrome", "table", "", np.arange(float(still.size)), still,
        np.concatenate([np.full(30, track.lon_deg[0]), track.lon_deg]),
        {"altitude_ft": np.concatenate([np.full(30, 400.0), np.maximum(height, 400.0)])},
    )  # fmt: skip
    result = search(stood, [GIVEN])
    assert not result.holds
    assert result.fits[0].code == "passed" and "aerodrome" in result.fits[0].sentence


@pytest.mark.parametrize(("nm_beside", "held"), [(1.3, True), (1.7, False)])
def test_some_passage_is_within_a_mile_and_a_half_of_the_fix(nm_beside: float, held: bool) -> None:
    # Moved across the course: every lap passes so far beside it.
    across = np.radians(COURSE_DEG + 90.0)
    hold = moved(nm_beside * float(np.sin(across)), nm_beside * float(np.cos(across)))
    result = found([*laps(2, 1), *AWAY], WAY_IN, hold)
    assert result.holds[0].given == held


@pytest.mark.parametrize(("nm_beside", "said"), [(1.4, False), (1.6, True)])
def test_who_passes_beyond_a_mile_and_a_half_is_told(nm_beside: float, said: bool) -> None:
    # The second lap turns inbound in two halves, so far apart; the third is flown beside the fix like its end.
    across_s = round(nm_beside / 110.0 * 3600.0)
    wide = [*turn(180.0), *straight(60), *turn(90.0), *straight(across_s), *turn(90.0), *straight(60)]
    result = found([*lap(), *wide, *lap(), *turn(-90.0), *straight(100)])
    assert ("fix-lost" in codes(result)) == said


def test_a_fix_that_was_never_met_is_said_to_be_far() -> None:
    result = found([*laps(2, 1), *AWAY], WAY_IN, moved(0.0, 30.0))
    assert [h.given for h in result.holds] == [False]
    assert result.fits[0].code == "not-near"
    assert "never came near" in result.fits[0].sentence


@pytest.mark.parametrize(
    ("lat", "lon", "said"),
    [
        (1.0, -1.0, "the other sign of its longitude (east and west)"),
        (-1.0, 1.0, "the other sign of its latitude (north and south)"),
        (-1.0, -1.0, "the other sign of its latitude and longitude"),
    ],
)
def test_a_lost_sign_is_found(lat: float, lon: float, said: str) -> None:
    given = replace(GIVEN, fix_lat_deg=lat * FIX[0], fix_lon_deg=lon * FIX[1])
    result = found([*laps(2, 1), *AWAY], WAY_IN, given)
    assert result.fits[0].code == "sign"
    assert said in result.fits[0].sentence


def test_a_reversed_course_is_found() -> None:
    result = found([*laps(3, 1), *AWAY], WAY_IN, replace(GIVEN, inbound_course_true_deg=COURSE_DEG + 180.0))
    assert not any(h.given for h in result.holds)
    assert result.fits[0].code == "course-reversed"


def test_of_several_given_holds_the_one_that_fits_is_taken_and_both_are_named_where_two_do() -> None:
    other = replace(moved(5.0, 5.0), name="Elsewhere")
    twin = replace(GIVEN, name="Twin")
    result = found([*laps(2, 1), *AWAY], WAY_IN, other, GIVEN)
    assert result.holds[0].hold == GIVEN
    assert [fit.code for fit in result.fits] == ["not-near", "flown"]
    both = found([*laps(2, 1), *AWAY], WAY_IN, GIVEN, twin)
    assert sorted(fit.code for fit in both.fits) == ["flown", "flown-alike"]
    assert "fits-as-well" in codes(both)


@pytest.mark.slow
@pytest.mark.parametrize("index", range(0, 60, 4))
def test_weak_students_are_debriefed_whole(index: int) -> None:
    errors = measure_student(student_case(index))
    assert all(errors.shares["debriefed, of all"])
    assert all(errors.shares["hold not given: hold or perhaps a hold"])


def test_circles_that_follow_each_other_over_the_fix_are_laps() -> None:
    running = [*straight(20), *turn(180.0), *straight(15), *turn(360.0), *straight(15), *turn(360.0)]
    result = found([*running, *straight(15), *turn(180.0), *straight(90), *AWAY])
    assert len(result.holds[0].circuits) == 3


@pytest.mark.parametrize(("flown", "arrival_deg"), [("direct", 100.0), ("offset", 150.0)])
@pytest.mark.parametrize("wind_from_deg", [70.0, 250.0])
def test_drift_laid_off_as_on_the_laps_makes_no_offset_entry_and_hides_none(
    flown: EntryPlan, arrival_deg: float, wind_from_deg: float
) -> None:
    # Each from its own sector: from the offset sector, 30° of drift laid off and 30° of entry look the same.
    plan = StudentPlan(
        seed=5, air=Air(wind_from_deg, 25.0, 4000.0), arrival_heading_deg=arrival_deg, entry=flown,
        drift_multiple=2.5,
    )  # fmt: skip
    errors = measure_student(StudentCase(plan, Receiver()))
    assert errors.shares["entry recognised, of those debriefed"] == [True], errors.remarks


@pytest.mark.parametrize(("turned_deg", "flown", "circuits"), [(25.0, "offset", 2), (100.0, "direct", 3)])
def test_a_leg_half_way_to_thirty_degrees_is_what_the_heading_over_the_fix_asks_for(
    turned_deg: float, flown: str, circuits: int
) -> None:
    # Two minutes at 17° to the holding side, and back over the fix: as little an offset entry as a narrow lap. The
    # heading over the fix is 42° and 117° short of the outbound course: offset and direct (US Navy P-821, fig. 3-8).
    lean = float(np.degrees(np.arctan2(2.0 * 110.0 / 3600.0 / np.radians(3.0), 120 * 110.0 / 3600.0)))
    entry = [*straight(150), *turn(turned_deg), *straight(120), *turn(180.0 + lean), *straight(120)]
    (hold,) = found([*laps(2, 1), *AWAY], entry).holds
    assert hold.entry is not None and hold.entry.flown == flown
    assert len(hold.circuits) == circuits


#: A lone lap whose reciprocal is passed over the fix by chance, in a turn; a lone lap from the holding side with a
#: long S-turn in its leg; a hole that hides the turn inbound; one that hides an entry's turn back; a turn inbound that
#: runs on into a circle; a lone lap of little more than a minute; one with a circle as long as the lap; one that is a
#: circle of 48 seconds.
ONCE_LOST = [(49, 10), (35, 10), (3, 10), (96, 11), (18, 12), (26, 20), (2, 60), (1, 61), (74, 47)]


@pytest.mark.parametrize(("index", "seed"), ONCE_LOST)
def test_odd_flights_are_debriefed_whole(index: int, seed: int) -> None:
    errors = measure_student(student_case(index, seed))
    assert errors.shares["debriefed whole, of those within 1.5 NM of the fix"] == [True], errors.remarks
    assert errors.shares["entry recognised, of those debriefed"] == [True], errors.remarks


def test_the_fix_lost_at_the_end_of_an_entry_is_said() -> None:
    errors = measure_student(student_case(59, 12))
    assert errors.shares["told of the fix they lost, of those beyond 1.5 NM"] == [True]


@pytest.mark.parametrize("after", [straight(300), [*straight(30), *turn(-70.0), *straight(200)]])
def test_who_flies_straight_over_the_fix_ends_a_whole_lap(after: list[float]) -> None:
    (hold,) = found([*lap(), *lap(), *after]).holds
    assert [c.complete for c in hold.circuits] == [True, True]


def test_who_rolls_out_half_a_mile_beside_and_flies_on_has_left_in_that_lap() -> None:
    # The turn back stops across the course for ten seconds, and goes on to lead past the fix.
    left = [*turn(180.0), *straight(60), *turn(90.0), *straight(15), *turn(90.0), *straight(300)]
    (hold,) = found([*lap(), *lap(), *left]).holds
    assert [c.complete for c in hold.circuits] == [True, True, False]


def test_laps_of_the_other_hand_without_any_leg_are_laps() -> None:
    errors = measure_student(student_case(16, 13))
    assert errors.shares["debriefed whole, of those within 1.5 NM of the fix"] == [True], errors.remarks


def test_a_circle_past_the_fix_that_makes_one_lap_as_long_as_the_others_was_flown_within_it() -> None:
    # Laps of four minutes; in the second one's outbound leg a circle that passes 0.2 NM from the fix.
    circled = [*turn(180.0), *straight(15), *turn(360.0), *straight(45), *turn(180.0), *straight(60)]
    result = found([*lap(), *circled, *lap(), *AWAY])
    assert [c.complete for c in result.holds[0].circuits] == [True] * 3
    assert "circle-in-circuit" in codes(result)


def test_the_turn_begun_over_the_fix_is_no_lap_where_it_meets_the_perpendicular_again() -> None:
    # From the other side over the fix, to the right through 340° to the outbound course: the perpendicular is passed
    # inbound within that turn, 1.2 NM beside the fix.
    way = [*straight(150), *turn(340.0), *straight(90), *turn(200.0), *straight(60)]
    (hold,) = found([*lap(), *AWAY], way).holds
    assert all(c.end_s - c.start_s > 150.0 for c in hold.circuits)


#: A lap nearly without an outbound leg, a wide one, and one met 4 NM late: each passes the fix by the reciprocal, too.
@pytest.mark.parametrize(("index", "seed"), [(8, 77), (79, 45), (72, 41)])
def test_laps_that_are_nearly_circles_speak_against_no_file(index: int, seed: int) -> None:
    errors = measure_student(student_case(index, seed))
    assert errors.shares["debriefed, of all"] == [True], errors.remarks


#: Four laps with orbits and turns of the wrong hand, flown without regard to the wind and seen every ten seconds.
LOST = StudentPlan(
    seed=3, course_deg=10.0, arrival_heading_deg=20.0, entry="parallel", circuits=4, drift_multiple=0.0, leg_s=40.0,
    watch="fix", bank_deg=35.0, bank_spread_deg=6.0, ending="outbound", air=Air(100.0, 30.0, 4000.0),
    mishaps=("orbit outbound", "wrong hand", "orbit inbound", "s-turns"),
)  # fmt: skip


@pytest.mark.parametrize("off", [(0.0, 0.0, 0.0), (0.4, 0.3, 11.0), (-0.3, 0.2, -8.0), (0.2, -0.5, 5.0)])
def test_circuits_follow_each_other_however_badly_flown_and_given(off: tuple[float, float, float]) -> None:
    flown = make_student(LOST)
    track = to_track(flown.flight, Receiver(interval_s=10.0), seed=3)
    true = to_hold(flown.hold)
    given = replace(
        true, fix_lat_deg=true.fix_lat_deg + off[1] / 60.0, fix_lon_deg=true.fix_lon_deg + off[0] / 60.0,
        inbound_course_true_deg=true.inbound_course_true_deg + off[2],
    )  # fmt: skip
    for hold in search(track, [given]).holds:
        instants = [one for circuit in hold.circuits for one in (circuit.start_s, circuit.end_s)]
        assert instants == sorted(instants)
        assert all(circuit.end_s - circuit.start_s > 5.0 for circuit in hold.circuits)


def test_a_lap_that_is_one_circle_in_its_second_turn_has_two_turns_and_no_leg_between() -> None:
    # Straight past the fix and round once: the turn back begins on the inbound course.
    (hold,) = found(
        [*lap(), *straight(20), *turn(360.0), *straight(20), *lap(), *AWAY], WAY_IN, moved(0.5, 0.9)
    ).holds
    assert all(
        c.outbound_turn is None or abs(c.outbound_turn.heading_change_deg) > 60.0 for c in hold.circuits
    )


def test_who_comes_back_far_beside_the_fix_is_told_how_far() -> None:
    # Outbound over the fix, 11 NM across, and back inbound: beyond any gate.
    across_s = round(11.0 / 110.0 * 3600.0)
    result = found(
        [*turn(180.0), *straight(60), *turn(90.0), *straight(across_s), *turn(90.0), *straight(300)]
    )
    (hold,) = result.holds
    assert [n.message.split("; ")[-1] for n in hold.notices if n.code == "part-of-circuit"] == [
        "the flight came back 11.0 NM beside the fix"
    ]


def test_laps_of_both_hands_are_judged_by_the_holds() -> None:
    result = found([*lap(), *lap(), *lap(side=-1), *lap(side=-1), *lap(side=-1), *AWAY])
    (hold,) = result.holds
    assert hold.entry is not None and hold.entry.flown == "direct" and len(hold.circuits) == 5
    told = [n.message for n in hold.notices if n.code == "turned-other-way"]
    assert {one.split(":")[0] for one in told} == {"circuit 3", "circuit 4", "circuit 5"}
    assert "turns-other-hand" not in codes(result)


@pytest.mark.parametrize(("nm", "code"), [(0.6, "flown"), (0.95, "flown-fix")])
def test_a_file_whose_fix_arrival_and_laps_do_not_fit_is_doubted(nm: float, code: str) -> None:
    # Beyond the fix by so much: each lap is turned before it.
    toward = np.radians(COURSE_DEG)
    given = moved(nm * float(np.sin(toward)), nm * float(np.cos(toward)))
    entry = [*straight(150), *turn(90.0), *straight(100)]
    (fit,) = found([*laps(3, 1), *AWAY], entry, given).fits
    assert fit.code == code
    assert ("fit a fix 1.0 NM" in fit.sentence) == ("check the fix" in fit.sentence) == (code == "flown-fix")


def test_laps_that_drifted_off_a_fix_met_on_arrival_speak_against_no_file() -> None:
    away = [*turn(180.0), *straight(60), *turn(90.0), *straight(40), *turn(90.0), *straight(60)]
    result = found([*away, *laps(3, 1), *AWAY])
    assert result.fits[0].code == "flown"


def test_a_hold_flown_two_miles_from_the_files_fix_is_found_and_the_distance_said() -> None:
    result = found([*laps(3, 1), *AWAY], WAY_IN, moved(1.4, 1.4))
    assert [(h.given, len(h.circuits)) for h in result.holds] == [(False, 3)]
    assert "held at another place, 2.0 NM from it" in result.fits[0].sentence


def test_one_lap_on_the_reciprocal_was_held_there_and_not_elsewhere() -> None:
    turned = replace(GIVEN, inbound_course_true_deg=COURSE_DEG + 180.0)
    (fit,) = found([*lap(), *AWAY], WAY_IN, turned).fits
    assert fit.code == "course-reversed"
    assert "held there, but on about 025° true inbound, not on the file's 205°" in fit.sentence


def test_of_two_files_of_one_fix_the_other_hands_is_said_to_be_that() -> None:
    result = found([*laps(3, 1), *AWAY], WAY_IN, GIVEN, replace(GIVEN, turns="left", name="Left"))
    assert [fit.code for fit in result.fits] == ["flown", "elsewhere"]
    assert result.fits[1].sentence.endswith("held there, but right-handed: check the file.")


def test_one_lap_that_passes_the_fix_outbound_as_well_reverses_no_file() -> None:
    errors = measure_student(student_case(7, 60))
    assert errors.shares["debriefed, of all"] == [True], errors.remarks


def slow(by_deg: float) -> list[float]:
    """Turn at half of rate one: 11° of bank at 110 kt (level turn, g·tan(bank) = V·rate)."""
    seconds = round(abs(by_deg) / 1.5)
    return [by_deg / seconds] * seconds


def test_a_circle_at_little_bank_is_one_though_the_wings_came_level_in_it() -> None:
    slow_lap = [*slow(180.0), *straight(60), *slow(180.0), *straight(60)]
    circle = [*straight(40), *slow(-180.0), *straight(6), *slow(-180.0), *straight(40)]
    result = found([*slow_lap, *slow(180.0), *circle, *slow(180.0), *straight(80), *slow_lap, *AWAY])
    (hold,) = result.holds
    assert [c.complete for c in hold.circuits] == [True] * 3
    ((start_s, end_s),) = hold.circuits[1].circles_s
    assert end_s - start_s == pytest.approx(246.0, abs=8.0)


def test_one_lap_beside_the_files_fix_asks_about_no_file() -> None:
    toward = np.radians(COURSE_DEG)
    given = moved(0.95 * float(np.sin(toward)), 0.95 * float(np.cos(toward)))
    (fit,) = found([*lap(), *AWAY], [*straight(150), *turn(90.0), *straight(100)], given).fits
    assert fit.code == "flown"


def test_a_procedure_turn_from_the_fix_back_to_it_is_no_lap() -> None:
    # Over the fix on the reciprocal, two minutes out, 45° off and half a circle back, and on over the fix to land.
    back = [
        *straight(120),
        *turn(-45.0),
        *straight(60),
        *turn(180.0),
        *straight(22),
        *turn(45.0),
        *straight(400),
    ]
    for hand in ("right", "left"):
        hold = replace(GIVEN, inbound_course_true_deg=COURSE_DEG + 180.0, turns=hand)
        result = found(back, WAY_IN, hold)
        assert result.holds == () and result.fits[0].code == "passed"


@pytest.mark.parametrize(("leg_s", "lost"), [(230, True), (290, False)])
@pytest.mark.parametrize("flown", [1, 3])
def test_a_way_round_miles_beside_the_fix_after_a_good_lap_was_flown_elsewhere(
    flown: int, leg_s: int, *, lost: bool
) -> None:
    """Off by 30° from the outbound way and round again: 3.6 NM beside it may be the worst of laps, 4.5 NM is none."""
    result = found([*laps(flown, 1), *turn(150.0), *straight(leg_s), *turn(210.0), *straight(400)])
    (hold,) = result.holds
    assert ("fix-lost" in codes(result)) == lost
    assert sum(c.complete for c in hold.circuits) == flown + lost
