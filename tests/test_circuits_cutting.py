"""The parts of cutting by a given hold, each against the geometry of flights drawn by hand, in still air or a wind.

A lap of :func:`tests.drawn_flights.laps` is half a circle at three degrees a second, a minute, half a circle, a minute;
its fix is passed at whole seconds.
"""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from analyser.circuits.fix_passages import arrivals_over, inbound_passages, is_circle
from analyser.circuits.flown import Circuit, EntryFlown, Turn
from analyser.circuits.frame import (
    HoldFrame,
    HoldView,
    crossing,
    distance_from_fix_nm,
    hold_view,
    nearest_passage,
)
from analyser.circuits.given_fit import (
    best_stays,
    distance_per_second_kt,
    ground_ft_of,
    stays_at,
)
from analyser.circuits.laps_and_entries import (
    LapPhases,
    entry_log_odds,
    explain_lap,
    is_asked_for,
    is_hidden,
    lean_deg,
    meeting_outbound,
    unexplained_s,
)
from analyser.circuits.turn_detection import clipped, mean_direction, survey_turn, together
from analyser.earth.plane import LocalPlane
from analyser.holds.definition import Hold
from analyser.logs.track import Track
from analyser.motion.estimate import measure
from analyser.motion.survey import survey_flight
from tests.drawn_flights import FIX, SPEED_NM_S, drawn, laps, straight, turn
from tests.test_circuits_given import AWAY, GIVEN, WAY_IN, in_wind, lap, moved

#: The radius of a turn at rate one at 110 kt, NM: speed over rate.
RADIUS_NM = SPEED_NM_S / np.radians(3.0)


def view_of(track: Track, hold: Hold = GIVEN) -> HoldView:
    (survey,) = survey_flight(track)
    view = hold_view(track, survey, hold, scale_s=3.0)
    assert view is not None
    return view


def lap_of(view: HoldView, start: int, end: int, side: int = 1) -> LapPhases:
    return explain_lap(view, start, end, side=side)


# The axes


def straight_frame(step_s: float = 1.0) -> HoldFrame:
    """Fly along the course at 100 kt, 0.3 NM right of it, over the fix at 40.25 s."""
    time_s = np.arange(0.0, 100.0, step_s)
    return HoldFrame(time_s, (time_s - 40.25) / 36.0, np.full(time_s.size, 0.3))


def test_a_passage_is_found_between_samples() -> None:
    frame = straight_frame()
    assert crossing(frame, 0.0, 99.0, inbound=True) == pytest.approx(40.25)
    assert crossing(frame, 0.0, 99.0, inbound=False) is None
    assert crossing(frame, 42.0, 99.0, inbound=True) is None
    instant_s, away_nm = nearest_passage(frame, 0.0, 99.0)
    assert (instant_s, away_nm) == pytest.approx((40.25, 0.3), abs=1e-3)
    assert frame.at(40.25) == pytest.approx((0.0, 0.3))


@pytest.mark.parametrize("met_s", [0.7, 1.3, 1.7, 7.75, 97.5, 98.2])
def test_a_passage_near_the_first_or_last_sample_is_found_between_them_too(met_s: float) -> None:
    time_s = np.arange(0.0, 100.0)
    frame = HoldFrame(time_s, (time_s - met_s) / 36.0, np.full(100, 0.3))
    assert nearest_passage(frame, 0.0, 99.0) == pytest.approx((met_s, 0.3), abs=1e-6)


def test_nearest_at_the_end_of_a_span_is_its_end() -> None:
    frame = straight_frame()
    assert nearest_passage(frame, 90.0, 200.0)[0] == pytest.approx(90.0, abs=1.0)
    # A log that ends a second after the fix tells the instant between its samples all the same.
    ends = HoldFrame(frame.time_s[:42], frame.along_nm[:42], frame.cross_nm[:42])
    assert nearest_passage(ends, 0.0, 99.0)[0] == pytest.approx(40.25, abs=1e-3)
    assert not np.isfinite(nearest_passage(frame, 500.0, 600.0)[0])


def test_of_several_crossings_the_one_nearest_to_the_fix_counts() -> None:
    time_s = np.arange(0.0, 40.0)
    along = np.sin(time_s / 40.0 * 4.0 * np.pi - 0.5)
    frame = HoldFrame(time_s, along, np.linspace(-2.0, 0.1, 40))
    inbound = crossing(frame, 0.0, 40.0, inbound=True)
    # It crosses inbound at 0.5 and at 2π + 0.5 of the sine's way; the later lies nearer.
    assert inbound == pytest.approx((2.0 * np.pi + 0.5) * 40.0 / (4.0 * np.pi), abs=0.1)


# A turn and its parts


def a_turn(start_s: float = 100.0, end_s: float = 160.0) -> Turn:
    return Turn(start_s, end_s, 0.5, 0.5, 180.0, 18.0, 0.2, 20.0, 0.5, 3.0, start_s + 4.0, end_s - 4.0)


def test_a_part_of_a_turn_turns_through_its_share() -> None:
    part = a_turn().between(120.0, 150.0)
    assert (part.start_s, part.end_s, part.heading_change_deg) == (120.0, 150.0, 90.0)
    assert (part.established_start_s, part.established_end_s) == (120.0, 150.0)
    assert a_turn().between(0.0, 500.0) == a_turn()
    begun = a_turn().between(101.0, 500.0)
    assert (begun.established_start_s, begun.end_s) == (104.0, 160.0)


def test_only_what_goes_far_beyond_a_span_is_cut_off_a_turn() -> None:
    assert clipped(a_turn(), 105.0, 155.0) == a_turn()
    cut = clipped(a_turn(), 115.0, 155.0)
    assert (cut.start_s, cut.end_s) == (115.0, 160.0)
    assert clipped(a_turn(), 105.0, 145.0).end_s == 145.0


def test_two_pieces_of_a_turn_are_weighed_by_their_time() -> None:
    first = a_turn(100.0, 118.0)
    second = replace(a_turn(118.0, 146.0), bank_mean_deg=24.0, bank_max_deg=26.0)
    both = together(first, second)
    # Established for 10 s and 20 s.
    assert both.bank_mean_deg == pytest.approx((10.0 * 18.0 + 20.0 * 24.0) / 30.0)
    assert both.bank_max_deg == 26.0
    assert both.bank_wander_deg == pytest.approx(3.0)
    assert both.heading_change_deg == 360.0
    assert (both.start_s, both.end_s) == (100.0, 146.0)


def test_time_in_circles_is_counted_where_it_overlaps() -> None:
    circuit = Circuit(
        1, 0.0, 500.0, True, None, None, None, None, None, 0.0, 0.0, 0.1, 100.0, 1.0, ((100.0, 220.0), (300.0, 310.0))
    )  # fmt: skip
    assert circuit.circling_s(0.0, 500.0) == 130.0
    assert circuit.circling_s(150.0, 305.0) == 75.0
    assert circuit.circling_s(220.0, 300.0) == 0.0
    assert circuit.circled(np.array([99.0, 100.0, 220.0, 221.0, 305.0])).tolist() == [
        False,
        True,
        True,
        False,
        True,
    ]


@pytest.mark.parametrize(
    ("degrees", "mean"),
    [
        ([350.0, 10.0], 0.0),
        ([90.0, 92.0, 94.0, 270.0], 92.0),
        ([10.0, np.nan, 20.0], 15.0),
        ([0.0, 80.0], 40.0),
        # One that lies farther than 15° from the middle is left out.
        ([0.0, 0.0, 0.0, 14.0], 3.5),
        ([0.0, 0.0, 0.0, 16.5], 0.0),
    ],
)
def test_mean_directions(degrees: list[float], mean: float) -> None:
    off = (mean_direction(np.array(degrees)) - mean + 180.0) % 360.0 - 180.0
    assert off == pytest.approx(0.0, abs=1e-6)


# The flight in the axes of a hold


def test_a_flight_lies_along_and_across_its_course() -> None:
    view = view_of(drawn(WAY_IN, [*laps(2, 1), *AWAY]))
    passed = len(WAY_IN) - 1
    assert view.along_nm[passed - 50] == pytest.approx(-50 * SPEED_NM_S, abs=0.01)
    assert view.cross_nm[passed - 50] == pytest.approx(0.0, abs=0.01)
    assert view.off_deg[passed - 50] == pytest.approx(0.0, abs=0.2)
    # Abeam after the first half circle, a turn's width to the right, on the reciprocal.
    assert view.cross_nm[passed + 60] == pytest.approx(2.0 * RADIUS_NM, abs=0.02)
    assert view.along_nm[passed + 60] == pytest.approx(0.0, abs=0.06)
    assert abs(view.off_deg[passed + 75]) == pytest.approx(180.0, abs=0.2)
    assert view.rate_dps[passed + 30] == pytest.approx(3.0, abs=0.05)
    assert view.usual_rate_dps == pytest.approx(3.0, abs=0.1)
    assert view.turn_diameter_nm == pytest.approx(2.0 * RADIUS_NM, rel=0.04)
    assert view.turned_deg(passed - 8, passed + 68) == pytest.approx(180.0, abs=1.0)
    assert view.seen.all()
    assert abs(view.drift_deg(0.0)) < 0.3


def test_the_drift_is_seen_on_every_track() -> None:
    # 22 kt, a fifth of the airspeed, blowing inbound: none along the course, arcsin 0.2 across it.
    view = view_of(in_wind(drawn(WAY_IN, [*laps(3, 1), *AWAY]), 22.0, 200.0))
    assert view.drift_deg(0.0) == pytest.approx(0.0, abs=0.7)
    assert view.drift_deg(90.0) == pytest.approx(-np.degrees(np.arcsin(0.2)), abs=0.7)
    assert view.drift_deg(-90.0) == pytest.approx(np.degrees(np.arcsin(0.2)), abs=0.7)


def test_drift_and_width_of_a_turn_have_bounds_where_a_circle_tells_nonsense() -> None:
    view = view_of(drawn(WAY_IN, [*laps(2, 1), *AWAY]))
    gale = replace(view, drift_share=(0.0, 1.5))
    assert gale.drift_deg(0.0) == pytest.approx(np.degrees(np.arcsin(0.9)))
    # A turn is as wide as at 0.8° a second at most.
    rate = np.radians(0.8)
    assert replace(view, usual_rate_dps=0.5).turn_diameter_nm == pytest.approx(
        2.0 * SPEED_NM_S / rate, rel=0.01
    )
    assert replace(view, usual_rate_dps=0.9).turn_diameter_nm < 1.9 * SPEED_NM_S / rate


def test_a_course_is_met_as_the_way_led_five_seconds_before_the_passage() -> None:
    view = view_of(drawn(WAY_IN, [*laps(2, 1), *AWAY]))
    passed = len(WAY_IN) - 1
    assert view.met_deg(passed) == pytest.approx(0.0, abs=0.3)
    # Ten seconds into the turn it had turned for five of them, at three degrees a second.
    assert view.met_deg(passed + 10) == pytest.approx(15.0, abs=3.0)
    assert view.met_deg(0) == view.met_deg(5)


def test_two_turns_without_a_leg_meet_where_the_way_leads_outbound() -> None:
    view = view_of(drawn(WAY_IN, [*turn(360.0), *straight(60), *AWAY]))
    passed = len(WAY_IN) - 1
    lap = explain_lap(view, passed, passed + 180, side=1)
    met = meeting_outbound(view, lap)
    assert met.outbound.end == met.inbound.start == pytest.approx(passed + 60, abs=2)
    assert met.outbound.change_deg == pytest.approx(180.0, abs=9.0)
    # A leg between them stands as it is.
    legs = explain_lap(view_of(drawn(WAY_IN, [*laps(2, 1), *AWAY])), passed, passed + 240, side=1)
    assert meeting_outbound(view, legs) is legs


def test_a_hole_is_not_seen() -> None:
    track = drawn(WAY_IN, [*laps(2, 1), *AWAY])
    keep = (track.time_s < 300.0) | (track.time_s > 340.0)
    cut = Track(
        "hole", "table", "", track.time_s[keep], track.lat_deg[keep], track.lon_deg[keep],
        {"altitude_ft": track.channels["altitude_ft"][keep]},
    )  # fmt: skip
    (survey,) = survey_flight(cut, longest_hole_s=240.0)
    view = hold_view(cut, survey, GIVEN, scale_s=3.0)
    assert view is not None
    assert not view.seen[305:335].any()
    assert view.seen[:298].all() and view.seen[343:].all()


def test_distances_from_the_fix_are_right_and_across_the_date_line() -> None:
    track = drawn(WAY_IN, straight(10))
    assert distance_from_fix_nm(track, GIVEN)[len(WAY_IN) - 1 - 100] == pytest.approx(
        100 * SPEED_NM_S, rel=0.005
    )
    here = replace(
        track, lat_deg=np.array([0.0]), lon_deg=np.array([-179.5]), time_s=np.array([0.0]), channels={}
    )
    assert distance_from_fix_nm(here, replace(GIVEN, fix_lat_deg=0.0, fix_lon_deg=179.5))[0] == pytest.approx(
        60.0
    )


def test_speed_from_sample_to_sample() -> None:
    speed = distance_per_second_kt(drawn(WAY_IN, straight(10)))
    assert speed == pytest.approx(np.full(speed.size, 110.0), rel=0.01)


@pytest.mark.parametrize(
    ("stands", "samples", "ground_ft"),
    [("begin", 15, 310.0), ("end", 15, 310.0), ("begin", 7, 310.0), ("end", 4, None), ("", 0, None)],
)
def test_the_ground_is_where_the_log_stands_still(stands: str, samples: int, ground_ft: float | None) -> None:
    track = drawn(WAY_IN, straight(60))
    lat, lon, height = track.lat_deg.copy(), track.lon_deg.copy(), np.full(track.samples, 3000.0)
    if stands:
        part = slice(0, samples) if stands == "begin" else slice(track.samples - samples, None)
        lat[part], lon[part], height[part] = lat[part][0], lon[part][0], 310.0
    assert (
        ground_ft_of(replace(track, lat_deg=lat, lon_deg=lon, channels={"altitude_ft": height})) == ground_ft
    )


# Passages


def test_a_way_inbound_is_passed_where_it_crosses_the_perpendicular_not_after() -> None:
    # A mile beside the course on a way that closes in on it: the crossing counts, though the fix is nearer later on.
    track = drawn([*straight(100), *turn(-30.0), *straight(60), *turn(30.0)], straight(200))
    aside = replace(GIVEN, fix_lat_deg=FIX[0] + 0.5 / 60.0, fix_lon_deg=FIX[1])
    (passage,) = inbound_passages(view_of(track, aside))
    view = view_of(track, aside)
    assert view.along_nm[passage.index - 1] < 0.02 and abs(view.along_nm[passage.index]) < 0.02


def test_every_way_inbound_over_the_fix_is_a_passage() -> None:
    view = view_of(drawn(WAY_IN, [*laps(3, 1), *AWAY]))
    found = inbound_passages(view)
    assert [p.index for p in found] == pytest.approx([199, 439, 679, 919], abs=2)
    assert all(p.miss_nm < 0.05 and p.again is None for p in found)


@pytest.mark.parametrize(("beside_nm", "passages"), [(9.0, 2), (11.0, 0)])
def test_what_passes_far_beside_is_no_passage(beside_nm: float, passages: int) -> None:
    view = view_of(drawn(WAY_IN, [*laps(1, 1), *straight(100)]))
    aside = replace(view, cross_nm=view.cross_nm + beside_nm)
    assert len(inbound_passages(aside)) == passages


@pytest.mark.parametrize(("short_nm", "passages"), [(0.3, 2), (0.9, 2), (1.4, 1)])
def test_who_turns_a_little_early_has_passed_the_fix(short_nm: float, passages: int) -> None:
    # The first passage is flown on over the fix; the second ends short of it, in the turn.
    early = round(short_nm / SPEED_NM_S) + round(RADIUS_NM / SPEED_NM_S)
    view = view_of(drawn(WAY_IN, [*lap(60, 60 - early), *turn(180.0), *straight(120)]))
    assert len(inbound_passages(view)) == passages


def test_a_circle_over_the_fix_is_one_passage_where_laps_are_flown() -> None:
    view = view_of(drawn(WAY_IN, [*turn(360.0), *lap(), *lap(), *AWAY]))
    first, *others = inbound_passages(view)
    assert (first.index, first.again) == pytest.approx((199, 319), abs=2)
    assert first.left == first.again
    assert all(one.again is None and one.left == one.index for one in others)
    assert is_circle(view, 199, 319)
    assert not is_circle(view, 319, 559)


@pytest.mark.parametrize(("level_s", "circle"), [(0, True), (12, False)])
def test_wings_level_between_two_half_circles_make_two_turns_of_them(level_s: int, circle: bool) -> None:
    view = view_of(drawn(WAY_IN, [*turn(180.0), *straight(level_s), *turn(180.0), *straight(200)]))
    assert is_circle(view, 199, 319 + level_s) is circle


def test_arrivals_are_the_nearest_points_from_any_side() -> None:
    # Across the fix from the left, out, round, and in on the course.
    before = [
        *straight(150),
        *turn(90.0),
        *straight(100),
        *turn(90.0),
        *straight(60),
        *turn(180.0),
        *straight(100),
    ]
    track = drawn(before, [*laps(1, 1), *AWAY])
    view = view_of(track)
    for arrival in arrivals_over(view, 0, len(before) - 30):
        around = view.away_nm[max(arrival.index - 15, 0) : arrival.index + 16]
        assert view.away_nm[arrival.index] == around.min() == arrival.miss_nm <= 1.5


# Laps


def test_a_lap_is_cut_into_its_turns_and_legs() -> None:
    view = view_of(drawn(WAY_IN, [*laps(2, 1), *AWAY]))
    found = lap_of(view, 199, 439)
    assert (found.outbound.start, found.outbound.end) == pytest.approx((199, 259), abs=3)
    assert (found.inbound.start, found.inbound.end) == pytest.approx((319, 379), abs=3)
    assert (found.outbound.side, found.inbound.side) == (1, 1)
    assert found.outbound.change_deg == pytest.approx(180.0, abs=8.0)
    assert found.legs == ((found.outbound.end, found.inbound.start), (found.inbound.end, 439))
    assert found.orbits == () and found.whole
    assert unexplained_s(view, found) <= 2


@pytest.mark.parametrize(("out_side", "in_side"), [(1, -1), (-1, 1), (-1, -1)])
def test_turns_the_other_way_are_seen_to_be(out_side: int, in_side: int) -> None:
    way = [*turn(180.0 * out_side), *straight(60), *turn(180.0 * in_side), *straight(60)]
    view = view_of(drawn(WAY_IN, [*way, *straight(100)]))
    found = lap_of(view, 199, 439)
    assert (found.outbound.side, found.inbound.side) == (out_side, in_side)


@pytest.mark.parametrize("turned_deg", [280.0, 320.0, 350.0])
@pytest.mark.parametrize("rate_dps", [3.0, 6.0])
@pytest.mark.parametrize("side", [1, -1])
def test_a_circle_of_the_other_hand_is_two_turns_without_a_leg(
    turned_deg: float, rate_dps: float, side: int
) -> None:
    seconds = round(turned_deg / rate_dps)
    circle = [-side * turned_deg / seconds] * seconds
    begun = [*straight(200), *turn(side * (360.0 - turned_deg))]
    track = drawn(begun, [*straight(10), *circle, *straight(20), *laps(1, side), *AWAY])
    view = view_of(track, replace(GIVEN, turns="right" if side > 0 else "left"))
    found = lap_of(view, len(begun) - 5, len(begun) + 25 + seconds, side)
    assert found.outbound.end == found.inbound.start
    assert found.outbound.side == found.inbound.side == -side
    # The first leads outbound, from wherever it began; the second back inbound, through little more than half a circle.
    assert abs(found.outbound.change_deg) > 90.0 and 90.0 < abs(found.inbound.change_deg) < 215.0


@pytest.mark.parametrize("side", [1, -1])
def test_a_circle_within_a_leg_is_an_orbit_of_the_lap(side: int) -> None:
    way = [*turn(180.0), *straight(40), *turn(360.0 * side), *straight(40), *turn(180.0), *straight(80)]
    view = view_of(drawn(WAY_IN, [*way, *AWAY]))
    found = lap_of(view, 199, 199 + len(way))
    assert len(found.orbits) == 1
    assert found.orbits[0] == pytest.approx((299, 419), abs=4)
    assert unexplained_s(view, found) <= 2
    assert (found.inbound.start, found.inbound.end) == pytest.approx((459, 519), abs=4)


def test_what_no_turn_and_no_leg_explains_is_counted() -> None:
    # Half a minute may be flown on over the fix; a minute more is counted, and so is a way aside.
    late = [*straight(90), *turn(180.0), *straight(150), *turn(180.0), *straight(60)]
    view = view_of(drawn(WAY_IN, [*late, *AWAY]))
    assert unexplained_s(view, lap_of(view, 199, 199 + len(late))) == pytest.approx(60, abs=4)
    aside = [
        *turn(90.0),
        *straight(100),
        *turn(90.0),
        *straight(60),
        *turn(90.0),
        *straight(100),
        *turn(90.0),
    ]
    view = view_of(drawn(WAY_IN, [*aside, *straight(60), *AWAY]))
    assert unexplained_s(view, lap_of(view, 199, 259 + len(aside))) > 100


# Which entry: US Navy P-821, fig. 3-8, by the heading over the fix short of the outbound course


@pytest.mark.parametrize(
    ("short_deg", "sector"),
    [
        (5.0, "offset"),
        (62.0, "offset"),
        (78.0, "direct"),
        (-5.0, "parallel"),
        (-102.0, "parallel"),
        (-120.0, "direct"),
    ],
)
@pytest.mark.parametrize("side", [1, -1])
def test_the_heading_over_the_fix_asks_for_its_sectors_entry(
    short_deg: float, sector: str, side: int
) -> None:
    view = SimpleNamespace(air_off_deg=np.full(20, 180.0 - side * short_deg))
    way = SimpleNamespace(start=10)
    kinds: tuple[EntryFlown, ...] = ("direct", "offset", "parallel")
    asked = [kind for kind in kinds if is_asked_for(view, way, side, kind)]  # type: ignore[arg-type]
    assert asked == [sector]


@pytest.mark.parametrize(("unseen", "hidden"), [(4, False), (5, False), (6, True)])
def test_what_lies_mostly_in_a_hole_is_hidden(unseen: int, hidden: bool) -> None:
    view = SimpleNamespace(seen=np.arange(30) % 10 >= unseen)
    assert is_hidden(view, 10, 20) == hidden  # type: ignore[arg-type]
    assert not is_hidden(view, 10, 10)  # type: ignore[arg-type]


@pytest.mark.parametrize(("short_deg", "sector"), [(35.0, "offset"), (-50.0, "parallel"), (150.0, "direct")])
@pytest.mark.parametrize("side", [1, -1])
def test_where_the_leg_tells_little_the_sector_does(short_deg: float, sector: str, side: int) -> None:
    # Half of the 30° to the holding side: as little an offset leg as one on the reciprocal.
    way = [*turn(side * (short_deg - 15.0)), *straight(60)]
    back = [*turn((-1 if sector == "parallel" else 1) * side * 195.0), *straight(60)]
    track = drawn([*straight(150), *way, *back], [*laps(2, side), *AWAY])
    (stay, *_) = stays_at(track, replace(GIVEN, turns="right" if side > 0 else "left"))
    view = stay.view
    phases = explain_lap(view, 149, 150 + len(way) + len(back), side=side, earliest=135, arrival=True)
    odds = entry_log_odds(view, phases, side, list(stay.laps))
    assert max(odds, key=lambda kind: odds[kind]) == sector


def test_a_leg_leans_to_the_holding_side_positively() -> None:
    for side in (1, -1):
        way = [*turn(150.0 * side), *straight(60), *turn(210.0 * side), *straight(60)]
        view = view_of(drawn(WAY_IN, [*way, *AWAY]), replace(GIVEN, turns="right" if side > 0 else "left"))
        found = lap_of(view, 199, 199 + len(way), side)
        assert lean_deg(view, found, side) == pytest.approx(30.0, abs=1.5)


# Stays


def test_the_nearer_of_two_files_is_taken() -> None:
    track = drawn(WAY_IN, [*laps(2, 1), *AWAY])
    near, far = stays_at(track, GIVEN), stays_at(track, moved(0.6, 0.0))
    assert near[0].evidence > far[0].evidence
    kept, alike = best_stays([*far, *near])
    assert [one.view.hold for one in kept] == [GIVEN] and not alike
    kept, alike = best_stays([*near, *stays_at(track, moved(0.05, 0.0))])
    assert len(kept) == 1 and len(alike[0]) == 1


def test_the_hand_flown_speaks_for_a_file() -> None:
    track = drawn(WAY_IN, [*laps(2, 1), *AWAY])
    (right,), (left,) = stays_at(track, GIVEN), stays_at(track, replace(GIVEN, turns="left"))
    assert right.side == left.side == 1
    assert right.evidence - left.evidence == pytest.approx(1.5, abs=0.1)


def test_a_stay_lasts_from_the_arrival_to_the_last_passage() -> None:
    (stay,) = stays_at(drawn(WAY_IN, [*laps(3, 1), *AWAY]), GIVEN)
    assert (stay.start_s, stay.end_s) == pytest.approx((199.0, 919.0), abs=2.0)
    assert stay.usual_miss_nm < 0.05 and stay.arrived and stay.broken is None
    left = [*turn(180.0), *straight(40), *turn(-80.0), *straight(200)]
    (stay,) = stays_at(drawn(WAY_IN, [*laps(2, 1), *left]), GIVEN)
    assert stay.broken is not None and not stay.broken.whole
    # It is followed for as long as it leads outbound, within 45°: fifteen seconds into the turn away.
    assert stay.end_s == pytest.approx(679.0 + 60.0 + 40.0 + 15.0, abs=4.0)


def test_turns_seen_roughly_say_so() -> None:
    track = drawn(WAY_IN, [*laps(2, 1), *AWAY])
    measured = measure(track, LocalPlane(*FIX), 150.0, 700.0, (195.0, 685.0), quick=True)
    rough = survey_turn(measured, 200.0, 260.0, 180.0)
    assert (rough.start_sd_s, rough.end_sd_s) == (10.0, 10.0)
    # Rate one at 110 kt takes arctan(V ω / g) of bank.
    bank = np.degrees(np.arctan(110.0 * 0.514444 * np.radians(3.0) / 9.80665))
    assert rough.bank_mean_deg == pytest.approx(bank, abs=0.4)
    assert rough.rate_mean_dps == 3.0
