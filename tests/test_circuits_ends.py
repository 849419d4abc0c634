"""Which end of a racetrack is the fix: told where the flight shows it, and left open where it does not."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from analyser.circuits.find import find_holds
from analyser.circuits.flown import FlownHold
from analyser.circuits.hold_inference import fix_along, in_doubt_of_its_end, infer_leg, with_arrival
from analyser.circuits.thresholds import ENDS
from analyser.debrief import debrief_track
from analyser.document import document
from analyser.earth.angles import wrap180
from analyser.earth.plane import LocalPlane
from analyser.holds.definition import LegLimit
from analyser.logs.track import Track
from tests.drawn_flights import COURSE_DEG, FIX, LEG_S, SPEED_NM_S, drawn, laps, straight, turn

#: From one end of a racetrack to the other: half a circle at rate one across, and a minute along.
APART_NM = float(np.hypot(60.0 / np.pi * 2.0 * SPEED_NM_S, LEG_S * SPEED_NM_S))


def held(before: list[float], after: list[float]) -> FlownHold:
    (found,) = find_holds(drawn(before, after))
    return found


def off_nm(lat_deg: float, lon_deg: float) -> float:
    """Return how far a place is from the fix."""
    east, north, _ = LocalPlane(*FIX).to_plane(np.array([lat_deg]), np.array([lon_deg]))
    return float(np.hypot(east[0], north[0]))


@pytest.mark.parametrize("side", [1, -1])
def test_a_log_that_shows_nothing_but_like_laps_leaves_both_ends_open(side: int) -> None:
    half_a_lap = [*turn(180.0 * side), *straight(LEG_S), *turn(180.0 * side), *straight(10)]
    found = held(straight(15), [*laps(2, side), *half_a_lap])
    other = found.other_end
    assert other is not None
    assert 0.3 < other.chance <= 0.5
    one_deg, other_deg = found.hold.inbound_course_true_deg, other.inbound_course_true_deg
    assert abs(wrap180(other_deg - one_deg)) == pytest.approx(180.0, abs=5.0)
    # Both ends are told, and the fix is one of them.
    ends = {
        round(abs(wrap180(course - COURSE_DEG))) < 90: off_nm(lat, lon)
        for course, lat, lon in (
            (one_deg, found.hold.fix_lat_deg, found.hold.fix_lon_deg),
            (other_deg, other.fix_lat_deg, other.fix_lon_deg),
        )
    }
    assert ends[True] < 0.2
    assert ends[False] == pytest.approx(APART_NM, abs=0.25)
    assert found.course_sd_deg is not None and 2.0 * found.course_sd_deg >= 180.0
    assert found.fix_sd_nm is not None and 2.0 * found.fix_sd_nm >= APART_NM - 0.25
    assert [n.code for n in found.notices].count("other-end") == 1


def test_what_leans_on_the_end_is_not_judged() -> None:
    """Entry, times, wind correction and track lean on it; bank and height do not. The file names both ends."""
    half_a_lap = [*turn(180.0), *straight(LEG_S), *turn(180.0), *straight(10)]
    debrief = debrief_track(drawn(straight(15), [*laps(2, 1), *half_a_lap]))
    (hold,) = document(debrief)["holds"]
    assert hold["other_end"] is not None
    assert {"lat", "lon"} == set(hold["other_end"]["fix"])
    for circuit in hold["circuits"]:
        verdicts = {name: item["verdict"] for name, item in circuit["scores"].items()}
        assert {verdicts[name] for name in ("timing", "wind_correction", "track")} == {"not judged"}
        assert verdicts["bank"] != "not judged"
        assert "which end" in circuit["error_budget_missing"]
    assert hold["grade"] is None
    assert "which end" in " ".join(finding["sentence"] for finding in hold["findings"])


@pytest.mark.parametrize("side", [1, -1])
def test_an_arrival_over_the_fix_and_a_departure_over_it_tell_the_end(side: int) -> None:
    found = held(straight(200), [*laps(3, side), *straight(120)])
    assert found.other_end is None
    assert abs(wrap180(found.hold.inbound_course_true_deg - COURSE_DEG)) < 3.0
    assert "other-end" not in {n.code for n in found.notices}


@pytest.mark.parametrize("side", [1, -1])
def test_a_leg_that_is_corrected_again_and_again_leads_to_the_fix(side: int) -> None:
    """Without arrival and departure, the needle is what the one leg is flown by and the other is not."""
    weave = [*turn(-20.0 * side), *straight(8), *turn(15.0 * side), *straight(8), *turn(-10.0 * side)]
    weave += [*straight(8), *turn(-5.0 * side), *straight(12)]
    lap = [*turn(180.0 * side), *straight(55), *turn(200.0 * side), *weave]
    found = held(straight(15), [*lap * 3, *turn(180.0 * side), *straight(20)])
    assert abs(wrap180(found.hold.inbound_course_true_deg - COURSE_DEG)) < 25.0
    assert found.other_end is None


@pytest.mark.parametrize(("chance", "open_"), [(ENDS.open_chance - 0.001, False), (ENDS.open_chance, True)])
def test_a_doubt_is_spoken_of_beyond_two_sigmas(chance: float, open_: bool) -> None:
    """What lies beyond two sigmas is 4.6 % of a normal distribution (tables of it)."""
    clear = held(straight(200), [*laps(3, 1), *straight(120)])
    doubted = in_doubt_of_its_end(clear, chance)
    assert (doubted.other_end is not None) is open_
    assert (doubted is clear) is not open_


#: A wind along the course, and the inbound leg that then brings a lap with a minute outbound back over the fix: both
#: turns drift with it for a minute each.
WIND_KT = 20.0
INBOUND_S = round((60 * (110.0 + WIND_KT) + 2 * 60 * WIND_KT) / (110.0 - WIND_KT))


def blown(changes: list[float]) -> Track:
    """Draw a way that begins on the inbound course, in a wind against that course."""
    heading, toward = np.radians(COURSE_DEG + np.cumsum(changes)), np.radians(COURSE_DEG)
    drift = WIND_KT / 3600.0
    east = np.cumsum(SPEED_NM_S * np.sin(heading) - drift * np.sin(toward))
    north = np.cumsum(SPEED_NM_S * np.cos(heading) - drift * np.cos(toward))
    lat, lon = LocalPlane(*FIX).to_earth(east, north)
    level = np.full(len(changes), 4000.0)
    return Track("blown", "table", "", np.arange(float(len(changes))), lat, lon, {"altitude_ft": level})


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize("inside", ["begins inbound", "begins outbound"])
def test_the_leg_that_lasts_a_minute_leads_away_from_the_fix(side: int, inside: str) -> None:
    """Nothing else tells these ends apart: the log begins and ends within laps, and no leg is corrected."""
    out, back = [*turn(180.0 * side), *straight(60)], [*turn(180.0 * side), *straight(INBOUND_S)]
    whole = [*out, *back] * 3
    if inside == "begins inbound":
        way = [*straight(25), *whole, *turn(180.0 * side), *straight(25)]
    else:
        way = [*straight(25), *back, *whole, *turn(180.0 * side), *straight(25)]
        # It begins on the reciprocal, and the wind stays where it was.
        way[0] += 180.0
    (found,) = find_holds(blown(way))
    assert abs(wrap180(found.hold.inbound_course_true_deg - COURSE_DEG)) < 6.0
    chance = found.other_end.chance if found.other_end else 0.0
    assert chance < 0.35


@pytest.mark.parametrize("side", [1, -1])
def test_the_end_that_the_arrival_met_first_is_the_fix(side: int) -> None:
    """An offset entry leads to both ends, one after the other, and all legs are alike; the log ends within a lap."""
    entry = [*straight(120), *turn(-30.0 * side), *straight(60), *turn(210.0 * side), *straight(75)]
    half_a_lap = [*turn(180.0 * side), *straight(LEG_S), *turn(180.0 * side), *straight(10)]
    way = [*entry, *laps(2, side), *half_a_lap]
    changes = np.array(way)
    # Over the fix, outbound.
    heading = np.radians(COURSE_DEG + 180.0 + np.cumsum(changes))
    east, north = np.cumsum(SPEED_NM_S * np.sin(heading)), np.cumsum(SPEED_NM_S * np.cos(heading))
    lat, lon = LocalPlane(*FIX).to_earth(east - east[119], north - north[119])
    level = np.full(changes.size, 4000.0)
    track = Track("offset", "table", "", np.arange(float(changes.size)), lat, lon, {"altitude_ft": level})
    (found,) = find_holds(track)
    assert abs(wrap180(found.hold.inbound_course_true_deg - COURSE_DEG)) < 10.0
    assert found.entry is not None and found.entry.flown == "offset"
    assert found.other_end is not None and found.other_end.chance < 0.2


@pytest.mark.parametrize(
    ("length_nm", "leg"),
    [
        pytest.param([], None, id="no leg"),
        pytest.param([1.8, 2.9], None, id="a minute and a half at most"),
        pytest.param([110.0 / 60.0 * 2.1], None, id="a little more than usual"),
        pytest.param([110.0 / 60.0 * 2.3], LegLimit(minutes=2.5), id="longer than usual"),
        pytest.param([5.9, 6.2], LegLimit(distance_nm=6.0), id="a distance, repeated"),
        pytest.param([4.4, 4.6, 4.5], LegLimit(distance_nm=4.5), id="half miles are charted too"),
        pytest.param([4.6, 6.4], LegLimit(minutes=3.0), id="long, but no two alike"),
        pytest.param([5.5], LegLimit(minutes=3.0), id="one leg repeats nothing"),
    ],
)
def test_a_leg_is_told_by_what_the_laps_have_in_common(length_nm: list[float], leg: LegLimit | None) -> None:
    assert infer_leg(np.array(length_nm), 110.0) == leg


def fix_at(begun_s: Sequence[float], sd_s: float = 0.8) -> tuple[float, float]:
    """Tell where the fix lies from turns begun so many seconds along the course."""
    begun = np.array(begun_s)
    return fix_along(begun, np.full(begun.size, sd_s))


def arrived_at(begun_s: Sequence[float], crossed_s: float, crossing_deg: float = 90.0) -> tuple[float, float]:
    """Tell the same of a flight that crossed the course there, at that angle to it, before; all at 120 kt."""
    place, sd = fix_at(begun_s)
    nm_s = 120.0 / 3600.0
    across = np.array([np.sin(np.radians(crossing_deg)), -np.cos(np.radians(crossing_deg))])
    laps = np.diag([(sd * nm_s) ** 2, 0.02**2])
    shift, covariance, _ = with_arrival((crossed_s - place) * nm_s * across[0], across, laps)
    return place + float(shift[0]) / nm_s, float(np.sqrt(covariance[0, 0])) / nm_s


def test_turns_are_begun_after_the_fix_and_never_much_before_it() -> None:
    place, sd = fix_at((0.0, 0.5, 4.0))
    assert -2.5 < place < 0.5
    # As far before as a habit of turning late reaches that three laps do not rule out.
    assert place - 2.0 * sd > -8.0 and place + 2.0 * sd < 5.0


def test_turns_late_alike_by_a_dozen_seconds_leave_the_fix_where_the_arrival_crossed_the_course() -> None:
    """Twelve seconds late on every lap look like none, but for the arrival: two sigmas have to reach both.

    To what a needle shows of the passage, 0.7 s.
    """
    place, sd = arrived_at((12.0, 12.5, 11.8), 0.0, 64.0)
    assert abs(place) - 2.0 * sd <= 0.7 and sd < 8.0


def test_the_more_laps_and_the_more_alike_the_better_the_fix_is_known() -> None:
    alike, few, unlike = (
        fix_at((0.0, 0.3, 0.1, 0.4, 0.2)),
        fix_at((0.0, 0.3)),
        fix_at((0.0, 5.0, 9.0, 2.0, 7.0)),
    )
    assert alike[1] < few[1] < unlike[1]
    assert fix_at((0.0, 0.3, 0.1), 3.0)[1] > 1.3 * fix_at((0.0, 0.3, 0.1))[1]


@pytest.mark.parametrize("forgotten_s", [25.0, 50.0, 90.0])
def test_a_turn_that_was_forgotten_moves_the_fix_hardly(forgotten_s: float) -> None:
    place, sd = fix_at((0.0, 1.0, 0.5))
    with_it, its_sd = fix_at((0.0, 1.0, 0.5, forgotten_s))
    assert with_it == pytest.approx(place, abs=1.0) and its_sd < 2.0 * sd


def test_an_arrival_crosses_the_course_at_the_fix_the_more_squarely_the_better_it_tells() -> None:
    late = (2.0, 2.5, 1.8)
    bare, oblique, square = fix_at(late), arrived_at(late, 0.0, 10.0), arrived_at(late, 0.0)
    assert abs(square[0]) < abs(oblique[0]) < abs(bare[0]) and square[1] < bare[1]
    # Where the turns speak against it, both may be true, and the sigma says so.
    place, sd = arrived_at((9.0, 9.5, 8.8), 0.0)
    assert place - 2.0 * sd < 1.0 and sd > 1.5 * bare[1]
    # Who joined somewhere else says nothing, but that he did.
    assert arrived_at(late, -200.0)[0] == pytest.approx(bare[0], abs=0.3)


def test_laps_and_arrival_that_agree_know_the_fix_and_that_differ_own_to_it() -> None:
    """Two measurements that differ by more than their sigmas allow are wrong by about as much as they differ."""
    square, laps = np.array([1.0, 0.0]), np.diag([0.05**2, 0.02**2])
    sds = [float(np.sqrt(np.trace(with_arrival(nm, square, laps)[1]) / 2.0)) for nm in (0.0, 0.05, 0.1, 0.3)]
    # With an arrival known to 0.02 NM: no more than both together (0.0186 NM along) and the laps' 0.02 NM across.
    assert sds[0] == pytest.approx(np.hypot(0.0186, 0.02) / np.sqrt(2.0), rel=0.25)
    assert sds == sorted(sds) and sds[3] > 0.3 / 2.0 - 0.01
    # The way of an arrival says nothing of where along it the fix lies.
    assert with_arrival(0.0, square, laps)[1][1, 1] == pytest.approx(0.02**2, rel=0.05)


def set_aside(by_deg: float) -> tuple[FlownHold, float, float]:
    """Arrive over the fix, and fly the first lap so that all later ones lie beside it, to the left.

    Return the hold, how far right of the course its fix was taken to lie (truly 0), and the sigma of that.
    """
    first = [*turn(180.0 + by_deg), *straight(60), *turn(180.0 - by_deg), *straight(60)]
    hold = held(straight(200), [*first, *laps(3, 1), *turn(-60.0), *straight(150)])
    east, north, _ = LocalPlane(*FIX).to_plane(
        np.array([hold.hold.fix_lat_deg]), np.array([hold.hold.fix_lon_deg])
    )
    course = np.radians(COURSE_DEG)
    assert hold.fix_sd_nm is not None
    return hold, float(east[0] * np.cos(course) - north[0] * np.sin(course)), hold.fix_sd_nm


def test_laps_that_all_pass_beside_the_fix_that_the_arrival_met_leave_it_open_between() -> None:
    # Drawn: on a heading 2° or 12° further for 60 s at 110 kt, 0.06 or 0.38 NM to the left.
    _, near_nm, near_sd_nm = set_aside(2.0)
    assert -0.064 < near_nm < 0.0 and abs(near_nm) < 2.0 * near_sd_nm
    assert near_sd_nm < 0.04
    far, far_nm, far_sd_nm = set_aside(12.0)
    assert -0.25 < far_nm < 0.0 and far_sd_nm > 0.08 and abs(far_nm) < 2.0 * far_sd_nm
    # In still air nobody is set off the course.
    assert far.hold.inbound_course_true_deg == pytest.approx(COURSE_DEG, abs=0.5)
    assert far.course_sd_deg is not None and far.course_sd_deg < 1.0
