"""Flights laid against an area: who keeps to it, who leaves it, how far, where and in which phase."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely import Point

from analyser.airspace.describe import (
    area_sentence,
    excursion_sentence,
    inside_sentence,
    speed_sentence,
    verdict_sentences,
    written_airspace,
)
from analyser.airspace.excursion import AirspaceReport, Edge, HoldPhase, flight_against_area
from analyser.airspace.fix_tolerance import given as given_tolerance
from analyser.airspace.fix_tolerance import point
from analyser.airspace.hold_airspace import HoldAirspace, area_for_flight, hold_airspace, leading_cause
from analyser.airspace.holding_area import HoldingArea, holding_area
from analyser.holds.exact import exact_circuit
from analyser.rules.load import load_regime
from tests.airspace_flights import Flier, flown_hold

ICAO = load_regime("icao")


def _area(turns: Any = "right", ias_kt: float = 170.0) -> HoldingArea:
    return holding_area(ias_kt=ias_kt, altitude_ft=4000.0, minutes=1.0, turns=turns, fix_tolerance=point())


def _line(*corners: tuple[float, float], count: int = 400) -> tuple[np.ndarray, np.ndarray]:
    along, cross = zip(*corners, strict=True)
    at = np.linspace(0.0, len(corners) - 1.0, count)
    return np.interp(at, range(len(corners)), along), np.interp(at, range(len(corners)), cross)


@given(
    wind_kt=st.floats(0.0, 40.0),
    wind_towards_deg=st.floats(0.0, 360.0),
    course_deg=st.floats(0.0, 360.0),
    turns=st.sampled_from(["right", "left"]),
    laps=st.integers(1, 3),
)
@settings(max_examples=60, deadline=None)
def test_a_corrected_flight_is_never_reported_outside(
    wind_kt: float, wind_towards_deg: float, course_deg: float, turns: Any, laps: int
) -> None:
    exact = exact_circuit(
        inbound_course_deg=0.0,
        side=1 if turns == "right" else -1,
        tas_kt=120.0,
        wind_east_kt=wind_kt * math.sin(math.radians(wind_towards_deg)),
        wind_north_kt=wind_kt * math.cos(math.radians(wind_towards_deg)),
        turn_rate_dps=3.0,
        inbound_distance_nm=2.0,
    )
    assume(exact.exists)
    path = exact.path(1.0)
    along, cross = (np.tile(part, laps) for part in (path.along_nm, path.cross_nm))
    flown = flown_hold(along, cross, laps=laps, course_deg=course_deg, turns=turns)
    report = flight_against_area(flown, area_for_flight(flown, ICAO))
    assert report.strayed is False
    assert (report.inside_share, report.buffer_share, report.beyond_share) == (1.0, 0.0, 0.0)
    assert report.deepest is None
    assert len(report.circuits) == laps
    assert all(edge.margin_nm > 0.0 for edge in report.circuits)
    assert verdict_sentences(report) == ()


@given(wind_towards_deg=st.floats(0.0, 360.0), turns=st.sampled_from(["right", "left"]))
@settings(max_examples=40, deadline=None)
def test_a_flight_without_wind_correction_in_40_kt_is_reported_outside(
    wind_towards_deg: float, turns: Any
) -> None:
    """By hand: 4 minutes a lap at 40 kt drift 2.67 NM; four laps end 10.7 NM downwind of the fix."""
    direction = math.radians(wind_towards_deg)
    side = 1 if turns == "right" else -1
    flier = Flier(115.0, 40.0 * math.cos(direction), 40.0 * math.sin(direction), side=side)
    lap = flier.lap(outbound_s=60.0, inbound_s=60.0, step_s=1.0)
    drift = np.array([part[-1] for part in lap])
    assert np.hypot(*drift) == pytest.approx(2.667, abs=0.01)
    along, cross = (
        np.concatenate([part + number * shift for number in range(4)])
        for part, shift in zip(lap, drift, strict=True)
    )
    flown = flown_hold(along, cross, laps=4, course_deg=40.0, turns=turns)
    report = flight_against_area(flown, area_for_flight(flown, ICAO))
    assert report.strayed is True
    assert report.deepest is not None
    assert report.deepest.phase.circuit == 4
    assert report.inside_share is not None
    assert report.inside_share < 1.0
    (sentence,) = verdict_sentences(report, "the outbound heading")
    assert sentence.startswith("You left the holding area: ")
    assert "the outbound heading" in sentence


def test_excursion_is_measured_from_the_edge_and_placed_on_the_earth() -> None:
    """Straight out abeam the fix on the non-holding side and back: the area's edge is where it is left."""
    area = _area()
    tip = (-1.0, -9.3)
    along, cross = _line((0, 0), (-1.0, 0.0), tip, (-1.0, 0.0), (0, 0), count=401)
    report = flight_against_area(flown_hold(along, cross, laps=1), area)
    edge = report.deepest
    assert edge is not None
    depth = Point(tip).distance(area.area)
    assert -edge.margin_nm == pytest.approx(depth, abs=0.05)
    assert (edge.along_nm, edge.cross_nm) == pytest.approx(tip, abs=0.05)
    # Inbound 000: cross is east and along is north; a minute of latitude is about a nautical mile.
    assert edge.lat_deg == pytest.approx(47.0 - 1.0 / 60.0, abs=0.001)
    assert edge.lon_deg == pytest.approx(11.0 - 9.3 / 60.0 / math.cos(math.radians(47.0)), abs=0.002)
    assert edge.time_s == pytest.approx(200.0, abs=2.0)
    assert edge.phase.circuit == 1
    assert edge.phase.name in ("outbound leg", "inbound turn")
    outside_all = Point(tip).distance(area.entry_area)
    assert edge.buffer_band == math.ceil(outside_all)
    shares = (report.inside_share, report.buffer_share, report.beyond_share)
    assert None not in shares
    assert sum(share for share in shares if share is not None) == pytest.approx(1.0)
    assert report.beyond_share == 0.0


def test_beyond_the_whole_buffer_is_said() -> None:
    along, cross = _line((0, 0), (0.0, -20.0), (0, 0))
    report = flight_against_area(flown_hold(along, cross, laps=1), _area())
    assert report.deepest is not None
    assert report.deepest.buffer_band == 0
    assert report.beyond_share is not None
    assert report.beyond_share > 0.2
    assert "beyond the whole buffer" in verdict_sentences(report)[0]


def test_the_entry_is_held_against_the_entry_area_and_circuits_against_the_smaller() -> None:
    """Out to between the two outlines: allowed while entering, straying on a circuit."""
    known = given_tolerance(0.0, 0.0)
    area = holding_area(ias_kt=170.0, altitude_ft=4000.0, minutes=1.0, turns="right", fix_tolerance=known)
    between = (0.0, -3.9)
    assert area.entry_area.contains(Point(between))
    assert not area.area.contains(Point(between))
    out = _line((0, 0), between, (0, 0), count=100)
    rest = _line((0, 0), (-1.5, 0.5), (0, 0), count=300)
    along, cross = (np.concatenate(parts) for parts in zip(out, rest, strict=True))
    entering = flight_against_area(flown_hold(along, cross, laps=1, entry_points=120), area)
    assert entering.strayed is False
    assert entering.entry is not None
    assert entering.entry.phase.name == "entry"
    circling = flight_against_area(flown_hold(along, cross, laps=1), area)
    assert circling.deepest is not None
    assert circling.deepest.buffer_band is None
    assert circling.deepest.outside_whole_nm < 0.0
    # Between the two nobody is surely outside, but it stands first all the same.
    assert circling.strayed is None
    assert verdict_sentences(circling)[0].startswith("You may have left the holding area: in the ")


def test_an_excursion_within_what_is_known_is_not_judged() -> None:
    """Past the area round a known point 0.7 NM is straying.

    Not with a fix inferred to 0.4 NM, nor of unknown kind, nor on a course inferred to 6°: over 5 NM that is 0.5 NM.
    """
    known = given_tolerance(0.0, 0.0)
    area = holding_area(ias_kt=170.0, altitude_ft=4000.0, minutes=1.0, turns="right", fix_tolerance=known)
    west = next(c for c in np.array(area.entry_area.exterior.coords) if c[1] == area.entry_area.bounds[1])
    along, cross = _line((0, 0), (west[0], west[1] - 0.7), (0, 0), count=801)
    sure = flight_against_area(flown_hold(along, cross, laps=1), area)
    assert sure.strayed is True
    turned = flown_hold(along, cross, laps=1, given=False, fix_sd_nm=0.1)
    assert flight_against_area(turned, area).strayed is True
    for unsure in (
        flight_against_area(flown_hold(along, cross, laps=1, given=False, fix_sd_nm=0.4), area),
        flight_against_area(replace(turned, course_sd_deg=6.0), area),
        flight_against_area(flown_hold(along, cross, laps=1), _area()),
    ):
        assert unsure.strayed is None
        assert unsure.deepest is not None
        (said,) = verdict_sentences(unsure)
        assert said.startswith("You may have left the holding area")
    beside = _line((0, 0), (1.6, -0.9), (0, 0), count=801)
    hardly = flight_against_area(flown_hold(*beside, laps=1), _area())
    assert hardly.deepest is not None
    assert verdict_sentences(hardly) == ()
    assert "cannot be told" in inside_sentence(hardly)


def test_what_was_not_recorded_counts_neither_way() -> None:
    along, cross = _line((0, 0), (-1.0, -9.0), (0, 0))
    inside = np.array([_area().area.contains(Point(a, c)) for a, c in zip(along, cross, strict=True)])
    flown = flown_hold(along, cross, laps=1, in_hole=~inside)
    report = flight_against_area(flown, _area())
    assert report.inside_share == 1.0
    assert report.deepest is None
    nothing = flight_against_area(
        flown_hold(along, cross, laps=1, in_hole=np.ones(len(along), bool)), _area()
    )
    assert nothing.inside_share is None
    assert nothing.strayed is None


def test_faster_than_the_limit_makes_the_area_invalid() -> None:
    along, cross = _line((0, 0), (-2.0, 1.0), (0, 0))
    fast = flight_against_area(flown_hold(along, cross, laps=1, ias_kt=181.0), _area(ias_kt=170.0))
    assert fast.speed.kept is False
    # 400 points a second apart, all of them too fast.
    assert fast.speed.faster_s == pytest.approx(400.0)
    assert "faster than the 170 kt" in verdict_sentences(fast)[0]
    slow = flight_against_area(flown_hold(along, cross, laps=1, ias_kt=169.0), _area(ias_kt=170.0))
    assert slow.speed.kept is True
    unknown = flight_against_area(flown_hold(along, cross, laps=1, ias_kt=math.nan), _area())
    assert unknown.speed.kept is None
    assert "does not tell" in speed_sentence(unknown)


def test_one_spike_is_no_overspeed_and_what_lies_within_its_sigma_is_not_claimed() -> None:
    along, cross = _line((0, 0), (-2.0, 1.0), (0, 0))
    flown = flown_hold(along, cross, laps=1, ias_kt=160.0)
    spiked = flown.motion.ias_kt.copy()
    spiked[100:103] = 240.0
    flight = replace(flown, motion=replace(flown.motion, ias_kt=spiked))
    assert flight_against_area(flight, _area(ias_kt=180.0)).speed.kept is True
    vague = replace(flown.motion, ias_kt=spiked + 25.0, ias_sd_kt=np.full_like(spiked, 10.0))
    speed = flight_against_area(replace(flown, motion=vague), _area(ias_kt=180.0)).speed
    assert speed.kept is None
    assert speed.faster_s == 0.0
    # Derived on standard air, which is off by 1.4 % (one sigma): 185 ± 2 ± 2.6 kt is not surely above 180, 190 is.
    derived = replace(flown.motion, ias_kt=spiked + 25.0, ias_sd_kt=np.full_like(spiked, 2.0))
    close = flight_against_area(replace(flown, motion=derived), _area(ias_kt=180.0))
    assert close.speed.kept is None
    assert "does not tell whether that was kept" in speed_sentence(close)
    logged = replace(derived, obtained={**derived.obtained, "ias": "logged"})
    report = flight_against_area(replace(flown, motion=logged), _area(ias_kt=180.0))
    assert report.speed.kept is False
    assert "known to ±4 kt" in verdict_sentences(report)[0]
    faster = replace(derived, ias_kt=spiked + 30.0)
    assert flight_against_area(replace(flown, motion=faster), _area(ias_kt=180.0)).speed.kept is False
    # Held for nine seconds only, however much too fast: not said.
    brief = flown.motion.ias_kt.copy()
    brief[100:109] = 185.0
    short = flight_against_area(
        replace(flown, motion=replace(flown.motion, ias_kt=brief)), _area(ias_kt=180.0)
    )
    assert short.speed.kept is True


def test_area_for_a_flight_takes_the_smaller_limit_that_was_kept() -> None:
    """Published: 170 kt for category A and B, else 230 kt up to 14,000 ft (ICAO Table I-6-1-1)."""
    along, cross = _line((0, 0), (-2.0, 1.0), (0, 0))
    assert area_for_flight(flown_hold(along, cross, laps=1, ias_kt=120.0), ICAO).figures.ias_kt == 170.0
    assert area_for_flight(flown_hold(along, cross, laps=1, ias_kt=190.0), ICAO).figures.ias_kt == 230.0
    faa = load_regime("faa")
    assert area_for_flight(flown_hold(along, cross, laps=1, ias_kt=120.0), faa).figures.ias_kt == 200.0


@pytest.mark.parametrize("rules", ["icao", "faa"])
def test_document_is_plain_data_with_the_cautions(rules: str) -> None:
    along, cross = _line((0, 0), (-1.0, -9.0), (0, 0))
    flown = flown_hold(along, cross, laps=1, course_deg=90.0)
    area = _area()
    report = flight_against_area(flown, area)
    found = json.loads(
        json.dumps(
            written_airspace(HoldAirspace(area, report, None, None), flown.hold, rules=rules).plain(),
            allow_nan=False,
        )
    )
    for word in ("not obstacle clearance", "not for planning", "navigation", "AIP"):
        assert word in found["caution"]
    assert (found["not_faa"] is None) == (rules == "icao")
    assert found["strayed"] is True
    assert found["first"][0].startswith("You left the holding area")
    outlines = found["area"]["outlines"]
    assert set(outlines) == {"fix", "template", "area", "entry_area"}
    assert [band["clearance_ft"] for band in found["area"]["buffer"]] == [984, 492, 394, 295, 197]
    # Inbound 090: what lies along lies east of the fix.
    for (along_nm, _), (_, lon) in zip(
        outlines["area"]["along_cross_nm"], outlines["area"]["lat_lon"], strict=True
    ):
        east_nm = (lon - 11.0) * 60.0 * math.cos(math.radians(47.0))
        assert east_nm == pytest.approx(along_nm, abs=0.06)
    assert len(outlines["area"]["lat_lon"]) < 150


def test_the_leading_cause_is_the_share_that_points_the_way_out_and_had_acted_by_then() -> None:
    """By hand: out to the left on the outbound leg; the heading took it 1.2 NM left, the time 2 NM outbound."""
    area = _area()
    along, cross = _line((0, 0), (-1.0, -9.0), (0, 0))
    shares = np.linspace(0.0, 1.0, len(along))
    # Late in the lap, so that the inbound turn is being flown.
    late = np.interp(shares, [0.0, 0.6, 1.0], [0.0, 0.5, 1.0])
    along, cross = np.interp(late, shares, along), np.interp(late, shares, cross)
    edge = flight_against_area(flown_hold(along, cross, laps=1), area).deepest
    assert edge is not None
    assert edge.phase.name == "inbound turn"
    shifts = [
        ("outbound_heading", 0.1, -1.2),
        ("outbound_time", -2.0, -0.1),
        ("fix_crossing", 0.0, 0.9),
        ("inbound_leg", 0.0, -5.0),
        ("measurement", 0.0, -5.0),
    ]
    assert leading_cause(area, edge, shifts) == "the outbound heading"
    assert leading_cause(area, edge, [("fix_crossing", 0.0, 0.9)]) is None
    assert leading_cause(area, edge, []) is None


@pytest.mark.parametrize(("along", "words"), [(True, "the outbound time"), (False, "the outbound heading")])
def test_the_way_out_is_the_shortest_from_the_area_to_the_place(along: bool, words: str) -> None:
    """Beyond the outbound end the time took it out, beside the leg the heading did, whatever else each did."""
    area = _area()
    west, south, east, north = area.area.bounds
    place = (west - 3.0, 0.5 * (south + north)) if along else (0.5 * (west + east), north + 3.0)
    edge = Edge(-2.0, 100.0, *place, 48.0, 11.0, HoldPhase("inbound turn", 1), 2, 2.0)
    shifts = [("outbound_time", -2.5, 0.5), ("outbound_heading", 0.5, 2.5)]
    assert leading_cause(area, edge, shifts) == words


@pytest.mark.parametrize("distance_nm", [4.0, 9.0])
def test_the_area_of_a_distance_leg_holds_its_circuits_and_ends_a_turn_and_its_lateness_beyond(
    distance_nm: float,
) -> None:
    """The outbound leg ends at the distance, half a turn's width and what a full tailwind adds in turn and lateness."""
    area = holding_area(
        ias_kt=170.0, altitude_ft=4000.0, distance_nm=distance_nm, turns="right", fix_tolerance=point()
    )
    f = area.figures
    for towards_deg in (0.0, 90.0, 180.0, 270.0):
        way = math.radians(towards_deg)
        exact = exact_circuit(
            inbound_course_deg=0.0, side=1, tas_kt=0.97 * f.tas_kt, wind_east_kt=f.wind_kt * math.sin(way),
            wind_north_kt=f.wind_kt * math.cos(way), turn_rate_dps=f.turn_rate_dps, outbound_along_nm=distance_nm,
        )  # fmt: skip
        path = exact.path(5.0)
        assert shapely.contains_xy(area.area.buffer(0.01), path.along_nm, path.cross_nm).all()
    radius_nm = f.tas_nm_s / math.radians(f.turn_rate_dps)
    late_s = f.late_wind_s + 180.0 / f.turn_rate_dps
    most_nm = distance_nm + radius_nm + f.late_wind_s * f.tas_nm_s + late_s * f.wind_nm_s
    assert distance_nm + radius_nm < -area.area.bounds[0] <= most_nm + 0.05


def _edge(margin_nm: float, outside_nm: float = -5.0, *, circuit: int | None = 1) -> Edge:
    phase = HoldPhase("entry", None) if circuit is None else HoldPhase("outbound leg", circuit)
    return Edge(margin_nm, 50.0, 0.0, 0.0, 47.0, 11.0, phase, None, outside_nm)


@pytest.mark.parametrize(
    ("position_sd_nm", "entry", "circuits", "sure", "likely", "strayed"),
    [
        # What the drawing may lack: 0.3 NM for circuits, 0.6 NM for entries and for the whole area.
        (0.0, _edge(0.5, circuit=None), (_edge(-0.29),), None, None, None),
        (0.0, _edge(0.5, circuit=None), (_edge(-0.31),), None, 1, None),
        (0.0, _edge(-0.59, circuit=None), (_edge(0.5),), None, None, None),
        (0.0, _edge(-0.61, circuit=None), (_edge(0.5),), None, 0, None),
        (0.0, _edge(0.5, circuit=None), (_edge(-1.0, 0.59),), None, 1, None),
        (0.0, _edge(0.5, circuit=None), (_edge(-1.0, 0.61),), 1, 1, True),
        # And two sigmas of fix and course where that is more.
        (0.2, _edge(0.5, circuit=None), (_edge(-0.39),), None, None, None),
        (0.2, _edge(0.5, circuit=None), (_edge(-0.41),), None, 1, None),
        (0.4, _edge(-0.79, circuit=None), (_edge(-0.5, 0.79),), None, None, None),
        (0.4, _edge(-0.81, circuit=None), (_edge(-0.5, 0.81),), 1, 0, True),
        # Inside by as much it stayed, whatever the drawing lacks.
        (0.2, _edge(0.41, circuit=None), (_edge(0.42),), None, None, False),
        (0.2, _edge(0.41, circuit=None), (_edge(0.39),), None, None, None),
        (0.0, _edge(0.02, circuit=None), (_edge(0.02),), None, None, False),
        (0.0, _edge(0.02, circuit=None), (_edge(0.005),), None, None, None),
        # The farthest of several, each less its own doubt.
        (0.0, _edge(-1.0, 0.7, circuit=None), (_edge(-0.8, 0.9), _edge(-0.75, 0.65, circuit=2)), 1, 1, True),
        (0.0, _edge(-1.2, 0.7, circuit=None), (_edge(-0.8, 0.65), _edge(-0.75, 0.9, circuit=2)), 2, 0, True),
    ],
)
def test_a_flight_left_its_area_beyond_what_drawing_fix_and_course_leave_in_doubt(
    position_sd_nm: float, entry: Edge, circuits: tuple[Edge, ...], sure: int | None, likely: int | None,
    strayed: bool | None,
) -> None:  # fmt: skip
    along, cross = _line((0, 0), (-2.0, 1.0), (0, 0))
    made = flight_against_area(flown_hold(along, cross, laps=1), _area())
    report = replace(
        made, position_sd_nm=position_sd_nm, entry=entry, circuits=circuits, circuit_doubt_nm=0.3, entry_doubt_nm=0.6,
        fix_given=True,
    )  # fmt: skip

    def place(edge: Edge | None) -> int | None:
        return None if edge is None else edge.phase.circuit or 0

    assert (place(report.sure_excursion), place(report.likely_excursion), report.strayed) == (
        sure,
        likely,
        strayed,
    )
    # What led to an inferred hold may have been no entry.
    assert replace(report, fix_given=False).edges == circuits


def test_what_took_a_flight_out_is_named_for_its_circuit_and_for_no_entry() -> None:
    along, cross = _line((0, 0), (-1.0, -9.0), (0, 0))
    shifts = {1: [("outbound_heading", 0.0, -1.2)], 2: [("outbound_time", -2.0, 0.0)]}
    late = np.interp(np.linspace(0.0, 1.0, 400), [0.0, 0.6, 1.0], [0.0, 0.5, 1.0])
    out = (np.interp(late, np.linspace(0.0, 1.0, 400), part) for part in (along, cross))
    found = hold_airspace(flown_hold(*out, laps=1), ICAO, shifts)
    assert found.cause == "the outbound heading" and found.level is None
    entering = np.concatenate([along, np.zeros(100)]), np.concatenate([cross, np.zeros(100)])
    assert hold_airspace(flown_hold(*entering, laps=1, entry_points=400), ICAO, shifts).cause is None


def test_a_leg_is_written_in_minutes_or_in_miles() -> None:
    along, cross = _line((0, 0), (-2.0, 1.0), (0, 0))
    flown = flown_hold(along, cross, laps=1)
    for asked, minutes, miles in (({"minutes": 1.5}, 1.5, None), ({"distance_nm": 4.0}, None, 4.0)):
        area = holding_area(ias_kt=170.0, altitude_ft=4000.0, turns="right", fix_tolerance=point(), **asked)
        report = flight_against_area(flown, area)
        written = written_airspace(HoldAirspace(area, report, None, None), flown.hold).plain()["area"]
        assert (written["minutes"], written["distance_nm"]) == (minutes, miles)
        leg = "1.5 min outbound" if miles is None else "4 NM outbound"
        assert leg in area_sentence(area)


def test_what_left_the_area_is_said_with_how_far_where_and_by_what() -> None:
    along, cross = _line((0, 0), (-2.0, 1.0), (0, 0))
    made = flight_against_area(flown_hold(along, cross, laps=1), _area())

    def report(edge: Edge) -> AirspaceReport:
        entry = edge if edge.phase.circuit is None else None
        circuits = (edge,) if entry is None else ()
        return replace(made, position_sd_nm=0.0, entry=entry, circuits=circuits, circuit_doubt_nm=0.3,
                       entry_doubt_nm=0.6, fix_given=True)  # fmt: skip

    sure, perhaps, inside = (report(_edge(*at)) for at in ((-1.26, 0.9), (-1.26, 0.0), (0.52, 0.0)))
    assert "0.9 NM outside it" in excursion_sentence(sure)
    (likely,) = verdict_sentences(perhaps, "the wind")
    assert (
        "1.3 NM outside the part that circuits need" in likely
        and "what took you there most was the wind" in likely
    )
    assert "entries need" in excursion_sentence(report(_edge(-1.26, 0.0, circuit=None)))
    assert verdict_sentences(inside) == ()
    assert "nearest to its edge" in inside_sentence(inside) and "0.5 NM" in inside_sentence(inside)
    doubt = "Whether the flight kept to its area cannot be told"
    for margin_nm, words in ((0.1, "0.10 NM inside the edge"), (-0.1, "0.10 NM outside the edge")):
        said = inside_sentence(replace(report(_edge(margin_nm, 0.0)), position_sd_nm=0.1))
        assert said.startswith(doubt) and words in said
    inferred = replace(report(_edge(0.1, 0.0)), position_sd_nm=0.2)
    assert "which leaves ±0.40 NM" in inside_sentence(inferred)
    assert "Nothing of the hold was recorded" in inside_sentence(replace(inside, inside_share=None))


def test_the_speed_is_held_against_the_limit_with_two_sigmas() -> None:
    along, cross = _line((0, 0), (-2.0, 1.0), (0, 0))
    made = flight_against_area(flown_hold(along, cross, laps=1), _area())

    def said(most_kias: float | None, faster_s: float = 0.0) -> str:
        speed = replace(made.speed, limit_kias=170.0, most_kias=most_kias, most_sd_kt=1.5, faster_s=faster_s)
        return speed_sentence(replace(made, speed=speed))

    assert "up to 176 kt indicated (known to ±3 kt)" in said(176.0, 31.0) and "for 31 s" in said(176.0, 31.0)
    assert "not valid" in said(176.0, 31.0)
    assert "known to ±3 kt" in said(171.0) and "does not tell" in said(171.0)
    assert "which was kept" in said(170.0)
    assert "the log does not tell" in said(None)
