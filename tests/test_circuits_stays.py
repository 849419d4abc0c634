"""Whole stays cut by a given hold, every instant of them known by construction: a second is a row."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest

from analyser.circuits.find import search
from analyser.circuits.given_fit import stays_at
from analyser.circuits.given_hold import GivenReading
from analyser.circuits.laps_and_entries import LapPhases
from tests.drawn_flights import COURSE_DEG, drawn, laps, straight, turn
from tests.test_circuits_ends import off_nm
from tests.test_circuits_given import AWAY, GIVEN, WAY_IN, lap
from tests.test_circuits_over_the_fix import parallel_entry

#: A lap's start, its turns (start, end), and its end; then its circles.
Cut = tuple[int, tuple[int, int], tuple[int, int], int]
#: Grid points of the smoothed direction lie so near to what was drawn.
NEAR = 3


@dataclass(frozen=True)
class Stay:
    """What was drawn, and how it is to be cut."""

    after: list[float]
    laps: tuple[Cut, ...]
    before: tuple[float, ...] = tuple(WAY_IN)
    side: int = 1
    hands: tuple[tuple[int, int], ...] = ()
    circles: tuple[tuple[int, int], ...] = ()
    again: tuple[tuple[int, int], ...] = ()
    entry: tuple[str, int, tuple[int, int]] | None = None
    broken: tuple[int, int] | None = None
    leaving: int | None = None
    begins_s: int = 0


def like(first: int, legs: tuple[int, int] = (60, 60), late: int = 0) -> Cut:
    """A lap at rate one whose legs last so long, turned so late after the fix."""
    turned = first + late
    back = turned + 60 + legs[0]
    return first, (turned, turned + 60), (back, back + 60), back + 60 + legs[1]


STAYS = {
    "two laps": Stay([*laps(2, 1), *AWAY], (like(199), like(439))),
    "to the left": Stay([*laps(2, -1), *AWAY], (like(199), like(439)), side=-1, hands=((-1, -1),) * 2),
    "unlike legs": Stay(
        [*lap(40, 40), *lap(90, 90), *AWAY], (like(199, (40, 40)), like(399, (90, 90)))
    ),
    "turned late": Stay(
        [*straight(20), *turn(180.0), *straight(80), *turn(180.0), *straight(60), *lap(), *AWAY],
        (like(199, (80, 60), 20), like(479)),
    ),
    "parallel entry": Stay(
        [*laps(2, 1), *AWAY], (like(329), like(569)), tuple(parallel_entry(1)), entry=("parallel", 119, (190, 263)),
    ),
    "offset entry": Stay(
        [*laps(2, 1), *AWAY], (like(355), like(595)),
        (*straight(150), *turn(25.0), *straight(60), *turn(205.0), *straight(70)),
        entry=("offset", 145, (218, 286)),
    ),
    "circle over the fix first": Stay(
        [*turn(360.0), *laps(2, 1), *AWAY], (like(319), like(559)), again=((199, 319),),
    ),
    "circle over the fix between": Stay(
        [*lap(), *turn(360.0), *straight(4), *lap(), *AWAY], (like(199), (559, (563, 623), (683, 743), 799)),
        again=((439, 559),),
    ),
    "circle in a leg": Stay(
        [*turn(180.0), *straight(40), *turn(-360.0), *straight(40), *turn(180.0), *straight(80), *lap(), *AWAY],
        ((199, (199, 259), (459, 519), 599), like(599)), circles=((299, 419),),
    ),
    "a lap the other way": Stay(
        [*lap(), *lap(side=-1), *lap(), *AWAY], (like(199), like(439), like(679)),
        hands=((1, 1), (-1, -1), (1, 1)),
    ),
    "broken off outbound": Stay(
        [*lap(), *turn(180.0), *straight(40), *turn(-70.0), *straight(200)], (like(199),), broken=(439, 554),
    ),
    "broken off inbound": Stay(
        [*lap(), *turn(180.0), *straight(60), *turn(180.0), *straight(20), *turn(-90.0), *straight(150)],
        (like(199),), broken=(439, 661),
    ),
    "left in the last lap": Stay(
        [*lap(), *lap(), *turn(180.0), *straight(60), *turn(90.0), *straight(15), *turn(90.0), *straight(300)],
        (like(199), like(439)), broken=(679, 1174), leaving=934,
    ),
    "course met late": Stay(
        [*lap(), *turn(180.0), *straight(60), *turn(200.0), *straight(20), *turn(-40.0), *straight(20), *turn(20.0),
         *straight(20), *lap(), *AWAY],
        (like(199), (439, (439, 499), (559, 626), 682), (682, (706, 766), (826, 886), 922)),
    ),
    "log begins outbound": Stay(laps(3, 1) + AWAY, (like(140), like(380)), (0.0,), begins_s=100),
}  # fmt: skip


def read(stay: Stay) -> GivenReading:
    track = drawn(list(stay.before), stay.after)
    (found,) = stays_at(track.take(slice(stay.begins_s, None)), GIVEN)
    return found


def cut(one: LapPhases) -> np.ndarray:
    turns = (one.outbound.start, one.outbound.end, one.inbound.start, one.inbound.end)
    return np.array([one.start, *turns, one.end])


def drawn_cut(one: Cut) -> np.ndarray:
    return np.array([one[0], *one[1], *one[2], one[3]])


@pytest.mark.parametrize("name", STAYS)
def test_a_stay_is_cut_where_it_was_drawn(name: str) -> None:
    stay = STAYS[name]
    found = read(stay)
    assert found.side == stay.side
    assert len(found.laps) == len(stay.laps)
    after_circle = {last for _, last in stay.again}
    for one, asked in zip(found.laps, stay.laps, strict=True):
        off = np.abs(cut(one) - drawn_cut(asked))
        # A circle over the fix runs on into the turn after it.
        off[1] = 0 if asked[0] in after_circle else off[1]
        assert off.max() <= NEAR, (cut(one), asked)
        assert one.whole
    hands = stay.hands or ((1, 1),) * len(stay.laps)
    assert [(one.outbound.side, one.inbound.side) for one in found.laps] == list(hands)
    circles = [circle for one in found.laps for circle in one.orbits]
    assert np.abs(np.array(circles) - np.array(stay.circles)).max(initial=0) <= NEAR
    # One passage more than laps, all over the fix but where the course was met late or the fix turned short of.
    passages = [*(one.start for one in found.laps), found.laps[-1].end]
    assert [passage.left for passage in found.passages] == passages
    assert max(passage.miss_nm for passage in found.passages) < 0.1
    assert [(p.index, p.again) for p in found.passages if p.again] == pytest.approx(
        [pytest.approx(one, abs=NEAR) for one in stay.again]
    )
    assert found.arrived == (stay.begins_s == 0)


@pytest.mark.parametrize("name", STAYS)
def test_a_stay_is_joined_and_left_as_it_was_drawn(name: str) -> None:
    stay = STAYS[name]
    found = read(stay)
    if stay.entry is None:
        assert found.entry is None
    else:
        kind, over, back = stay.entry
        assert found.entry is not None and found.entry.kind == kind
        way = found.entry.phases
        assert way.start == pytest.approx(over, abs=5)
        assert (way.inbound.start, way.inbound.end) == pytest.approx(back, abs=NEAR)
        assert way.end == found.laps[0].start
        assert not found.entry_is_hidden
    if stay.broken is None:
        assert found.broken is None
    else:
        assert found.broken is not None and not found.broken.whole
        begun, until = stay.broken
        assert found.broken.outbound.start == pytest.approx(begun, abs=NEAR)
        assert found.broken.end == found.end == pytest.approx(until, abs=NEAR)
    if stay.leaving is None:
        assert found.leaving is None
    else:
        assert found.leaving is not None and found.leaving[1].index == pytest.approx(stay.leaving, abs=NEAR)
    joined = (
        stay.entry[1] if stay.entry else (stay.again[0][0] if name.endswith("first") else stay.laps[0][0])
    )
    assert found.start == pytest.approx(joined, abs=5)
    assert found.start_s == float(found.start + stay.begins_s)


@pytest.mark.parametrize("name", STAYS)
def test_the_mirror_image_is_the_same_stay_to_the_other_hand(name: str) -> None:
    stay = STAYS[name]
    flown = drawn(list(stay.before), stay.after).take(slice(stay.begins_s, None))
    course = np.radians(GIVEN.inbound_course_true_deg)
    north = (flown.lat_deg - GIVEN.fix_lat_deg) * 60.0
    east = (flown.lon_deg - GIVEN.fix_lon_deg) * 60.0 * np.cos(np.radians(GIVEN.fix_lat_deg))
    along, cross = (
        east * np.sin(course) + north * np.cos(course),
        east * np.cos(course) - north * np.sin(course),
    )
    east, north = (
        along * np.sin(course) - cross * np.cos(course),
        along * np.cos(course) + cross * np.sin(course),
    )
    mirrored = replace(
        flown, lat_deg=GIVEN.fix_lat_deg + north / 60.0,
        lon_deg=GIVEN.fix_lon_deg + east / 60.0 / np.cos(np.radians(GIVEN.fix_lat_deg)),
    )  # fmt: skip
    (one,) = stays_at(flown, GIVEN)
    (other,) = stays_at(mirrored, replace(GIVEN, turns="left"))

    def told(found: GivenReading, side: int) -> tuple[Any, ...]:
        return (
            found.side * side, found.start, found.end, found.arrived, found.entry and found.entry.kind,
            [p.index for p in found.passages], [side * lap.outbound.side for lap in found.laps],
            found.leaving is not None,
        )  # fmt: skip

    assert told(other, -1) == told(one, 1)
    assert np.abs(np.array([cut(a) - cut(b) for a, b in zip(one.laps, other.laps, strict=True)])).max() <= 1


#: Stays that show their hold by themselves: how its first circuits were joined, and which of them are whole.
SHOWN = {
    "two laps": "direct", "to the left": "direct", "unlike legs": "direct", "turned late": "direct",
    "parallel entry": "parallel", "offset entry": "offset", "circle over the fix between": "direct",
    "circle in a leg": "direct", "a lap the other way": "direct", "course met late": "direct",
}  # fmt: skip


@pytest.mark.parametrize("name", SHOWN)
def test_without_a_file_the_same_laps_show_fix_course_hand_and_entry(name: str) -> None:
    stay = STAYS[name]
    result = search(drawn(list(stay.before), stay.after))
    (found,) = result.holds
    assert not result.possible
    assert found.hold.side == stay.side and not found.given
    off_deg = (found.hold.inbound_course_true_deg - COURSE_DEG + 180.0) % 360.0 - 180.0
    assert abs(off_deg) < 1.0
    # Turns begin a second and a half after the fix by usual pilots, these at once: 0.05 NM at 110 kt.
    assert off_nm(found.hold.fix_lat_deg, found.hold.fix_lon_deg) < 0.15
    assert found.fix_sd_nm is not None and found.course_sd_deg is not None
    assert [c.complete for c in found.circuits] == [True] * len(stay.laps)
    for circuit, asked in zip(found.circuits, stay.laps, strict=True):
        assert (circuit.start_s, circuit.end_s) == pytest.approx((asked[0], asked[3]), abs=4.0)
        turns = circuit.outbound_turn, circuit.inbound_turn
        for turned, (first, last) in zip(turns, asked[1:3], strict=True):
            assert turned is not None
            assert (turned.start_s, turned.end_s) == pytest.approx((first, last), abs=4.0)
        # In still air at 110 kt; 17.1° of bank turn at rate one: g tan φ = V ω.
        assert circuit.tas_kt == pytest.approx(110.0, abs=0.5)
        assert np.hypot(circuit.wind_east_kt, circuit.wind_north_kt) < 0.5
    assert found.entry is not None and found.entry.flown == SHOWN[name]


@pytest.mark.parametrize(("every_s", "laps_seen"), [(5, 3), (20, 3), (30, 3)])
def test_sparse_rows_show_the_same_hold_less_well(every_s: int, laps_seen: int) -> None:
    track = drawn(WAY_IN, [*laps(4, 1), *AWAY])
    (fine,) = search(track).holds
    (found,) = search(track.take(slice(None, None, every_s))).holds
    assert sum(c.complete for c in found.circuits) >= laps_seen
    assert off_nm(found.hold.fix_lat_deg, found.hold.fix_lon_deg) < 0.35
    assert fine.fix_sd_nm is not None and found.fix_sd_nm is not None and found.fix_sd_nm > fine.fix_sd_nm
    assert abs((found.hold.inbound_course_true_deg - COURSE_DEG + 180.0) % 360.0 - 180.0) < 4.0


#: Turned inbound to the wrong hand, and back to the course across it: as far along as the leg led out.
WRONG_WAY_IN = [
    *turn(180.0), *straight(140), *turn(-180.0), *straight(20), *turn(-45.0), *straight(92), *turn(45.0), *straight(28),
]  # fmt: skip


@pytest.mark.parametrize(
    ("between", "starts_s", "codes"),
    [
        (WRONG_WAY_IN, [[199, 439, 679, 1109, 1349]], {"turned-other-way"}),
        (
            [*turn(180.0), *straight(60), *turn(180.0), *straight(30), *turn(360.0), *straight(30)],
            [[199, 439, 679, 1039, 1279]],
            {"circle-in-circuit"},
        ),
        # Twelve miles on along the course: another place.
        (straight(400), [[199, 439], [1079, 1319]], set()),
    ],
)
def test_laps_round_one_fix_are_one_hold_however_one_of_them_was_flown(
    between: list[float], starts_s: list[list[int]], codes: set[str]
) -> None:
    result = search(drawn(WAY_IN, [*laps(2, 1), *between, *laps(2, 1), *AWAY]))
    assert len(result.holds) == len(starts_s)
    for hold, starts in zip(result.holds, starts_s, strict=True):
        assert [c.start_s for c in hold.circuits] == pytest.approx(starts, abs=4.0)
        assert all(c.complete for c in hold.circuits)
        assert hold.hold.turns == "right"
    assert {notice.code for hold in result.holds for notice in hold.notices} == codes
    assert off_nm(result.holds[0].hold.fix_lat_deg, result.holds[0].hold.fix_lon_deg) < 0.15


def test_eight_minutes_before_a_stay_and_three_after_it_are_measured_with_it() -> None:
    (found,) = search(drawn(straight(700), [*laps(2, 1), *straight(400)]), [GIVEN]).holds
    assert (found.start_s, found.end_s) == pytest.approx((699.0, 1179.0), abs=1.0)
    begun_s, ended_s = found.motion.time_s[[0, -1]]
    assert (found.start_s - begun_s, ended_s - found.end_s) == pytest.approx((480.0, 180.0), abs=3.0)
