"""What a holding area must do whatever it is drawn for: grow, mirror, and hold those who fly as they should."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely import distance, points
from shapely.affinity import scale

from analyser.airspace.fix_tolerance import FixTolerance, gnss, overhead_vor, point
from analyser.airspace.fix_tolerance import given as given_tolerance
from analyser.airspace.holding_area import HoldingArea, holding_area
from analyser.holds.entries import entry_path, entry_plan, sectors_allowed
from analyser.holds.exact import exact_circuit
from analyser.rules.load import load_regime
from tests.airspace_flights import Flier

ICAO = load_regime("icao")
#: Polygons stand inside their circles by a thousandth of the radius: what "inside" may come short by.
FINE_NM = 0.01

PLAIN: dict[str, Any] = {
    "ias_kt": 170.0, "altitude_ft": 8000.0, "minutes": 1.0, "turns": "right", "fix_tolerance": point()
}  # fmt: skip


@pytest.mark.parametrize(
    ("name", "values"),
    [
        ("ias_kt", (80.0, 110.0, 150.0, 170.0, 200.0, 230.0)),
        ("altitude_ft", (0.0, 3000.0, 6000.0, 10000.0, 14000.0, 20000.0)),
        ("wind_kt", (0.0, 10.0, 30.0, 50.0, 80.0)),
        ("minutes", (0.75, 1.0, 1.5, 2.0)),
        ("isa_deviation_c", (0.0, 15.0, 30.0)),
        ("fix_tolerance", (point(), given_tolerance(0.3, 0.3), given_tolerance(0.8, 1.0))),
    ],
)
@pytest.mark.parametrize("which", ["template", "area", "entry_area"])
def test_area_grows(name: str, values: tuple[Any, ...], which: str) -> None:
    outlines = [getattr(holding_area(**PLAIN | {name: value}), which) for value in values]
    for small, large in pairwise(outlines):
        if which == "template" and name == "fix_tolerance":
            assert small.equals(large)
            continue
        assert large.area > small.area
        # A longer or faster leg ends further from the fix, so its wind circle leaves a little there.
        if name not in ("minutes", "ias_kt", "altitude_ft"):
            assert small.difference(large.buffer(FINE_NM)).is_empty, f"{name}: does not hold the smaller"


@pytest.mark.parametrize("distances", [(3.0, 5.0, 8.0, 12.0)])
def test_area_of_a_distance_hold_grows_with_the_distance(distances: tuple[float, ...]) -> None:
    plain = {key: value for key, value in PLAIN.items() if key != "minutes"}
    areas = [holding_area(**plain, distance_nm=distance_nm).area.area for distance_nm in distances]
    assert all(small < large for small, large in pairwise(areas))


@pytest.mark.slow
@given(ias_kt=st.floats(70.0, 240.0), altitude_ft=st.floats(0.0, 14000.0), aside_nm=st.floats(0.05, 1.5))
@settings(max_examples=15, deadline=None)
def test_left_hand_is_the_mirror_image_of_right_hand(
    ias_kt: float, altitude_ft: float, aside_nm: float
) -> None:
    crooked = FixTolerance("crooked", ((0.3, aside_nm), (0.4, -0.2), (-0.5, 0.1)))
    mirrored = FixTolerance("crooked", tuple((along, -cross) for along, cross in crooked.corners_nm))
    common: dict[str, Any] = {"ias_kt": ias_kt, "altitude_ft": altitude_ft, "minutes": 1.0}
    right = holding_area(**common, turns="right", fix_tolerance=crooked)
    left = holding_area(**common, turns="left", fix_tolerance=mirrored)
    pairs = [(right.template, left.template), (right.area, left.area), (right.entry_area, left.entry_area)]
    pairs += [(a.outline, b.outline) for a, b in zip(right.buffers, left.buffers, strict=True)]
    for one, other in pairs:
        assert scale(one, 1.0, -1.0, origin=(0, 0)).symmetric_difference(other).area < 1e-6 * one.area


def test_parts_lie_within_one_another_and_the_buffer_steps_outwards() -> None:
    area = holding_area(**PLAIN | {"fix_tolerance": overhead_vor(6000.0)})
    for inner, outer in ((area.template, area.area), (area.area, area.entry_area), (area.fix, area.area)):
        assert inner.difference(outer).area < 1e-9
    # Doc 8168, from memory: clearance in 1 NM steps outwards.
    assert [band.clearance_ft for band in area.buffers] == [984.0, 492.0, 394.0, 295.0, 197.0]
    assert area.buffer_nm == 5.0
    for band in area.buffers:
        middle = area.entry_area.buffer(0.5 * (band.inner_nm + band.outer_nm)).exterior
        assert band.outline.buffer(1e-6).contains(middle)
    joined = area.entry_area
    for band in area.buffers:
        assert joined.intersection(band.outline).area == pytest.approx(0.0, abs=1e-9)
        joined = joined.union(band.outline)
    # Steiner: a parallel outline adds perimeter × width + π × width², at most (dents add less).
    perimeter = area.entry_area.exterior.length
    assert joined.area <= area.entry_area.area + 5.0 * perimeter + 25.0 * math.pi
    assert joined.area >= area.entry_area.area + 5.0 * area.entry_area.convex_hull.exterior.length * 0.95


def _outside_nm(outline: Any, along_nm: Any, cross_nm: Any) -> float:
    return float(np.max(distance(outline, points(along_nm, cross_nm))))


@pytest.mark.slow
@given(
    ias_kt=st.sampled_from([80.0, 100.0, 130.0, 170.0, 230.0]),
    altitude_ft=st.sampled_from([2000.0, 8000.0, 13000.0]),
    distance_nm=st.sampled_from([None, 4.0, 9.0]),
    slower=st.floats(0.75, 1.0),
    share_of_wind=st.floats(0.0, 1.0),
    wind_towards_deg=st.floats(0.0, 360.0),
    turns=st.sampled_from(["right", "left"]),
    inbound_by_time=st.booleans(),
    roll_s=st.sampled_from([0.0, 4.0]),
)
@settings(max_examples=250, deadline=None)
def test_the_exact_circuit_lies_inside_for_every_wind_up_to_the_design_wind(
    ias_kt: float,
    altitude_ft: float,
    distance_nm: float | None,
    slower: float,
    share_of_wind: float,
    wind_towards_deg: float,
    turns: Any,
    inbound_by_time: bool,
    roll_s: float,
) -> None:
    minutes = 1.0 if distance_nm is None else None
    area = holding_area(
        ias_kt=ias_kt,
        altitude_ft=altitude_ft,
        minutes=minutes,
        distance_nm=distance_nm,
        turns=turns,
        fix_tolerance=point(),
    )
    tas_kt, wind_kt = area.figures.tas_kt * slower, area.figures.wind_kt * share_of_wind
    by_time = inbound_by_time and minutes is not None
    exact = exact_circuit(
        inbound_course_deg=0.0,
        side=1 if turns == "right" else -1,
        tas_kt=tas_kt,
        wind_east_kt=wind_kt * math.sin(math.radians(wind_towards_deg)),
        wind_north_kt=wind_kt * math.cos(math.radians(wind_towards_deg)),
        turn_rate_dps=ICAO.turn_rate_dps(tas_kt),
        roll_s=roll_s,
        inbound_time_s=60.0 if by_time else None,
        inbound_distance_nm=None if by_time else (distance_nm or tas_kt / 60.0),
    )
    # In so much wind that no circuit closes with the leg asked for, there is nothing to hold inside.
    assume(exact.exists)
    path = exact.path(2.0)
    assert _outside_nm(area.area, path.along_nm, path.cross_nm) == 0.0


@given(
    ias_kt=st.sampled_from([90.0, 140.0, 230.0]),
    altitude_ft=st.sampled_from([2000.0, 10000.0]),
    delay_s=st.floats(0.0, 11.0),
    late_s=st.floats(-5.0, 21.0),
    heading_error_deg=st.floats(-5.0, 5.0),
    share_of_wind=st.floats(0.0, 0.9),
    wind_towards_deg=st.floats(0.0, 360.0),
    turns=st.sampled_from(["right", "left"]),
)
@settings(max_examples=250, deadline=None)
def test_a_lap_without_any_correction_stays_inside_within_the_allowances(
    ias_kt: float,
    altitude_ft: float,
    delay_s: float,
    late_s: float,
    heading_error_deg: float,
    share_of_wind: float,
    wind_towards_deg: float,
    turns: Any,
) -> None:
    """Nine tenths of the design wind: the template's own sum lets 14 s of wind blow for 26 s of lateness."""
    area = _timed(ias_kt, altitude_ft, turns)
    wind_kt = area.figures.wind_kt * share_of_wind
    direction = math.radians(wind_towards_deg)
    flier = Flier(
        area.figures.tas_kt,
        wind_kt * math.cos(direction),
        wind_kt * math.sin(direction),
        area.figures.turn_rate_dps,
        1 if turns == "right" else -1,
    )
    # The sheet counts the leg from the latest turn: who turns early flies it no longer than to the same place.
    outbound_s = 60.0 + late_s + min(delay_s, 11.0) - 11.0
    lap = flier.lap(delay_s=delay_s, outbound_s=outbound_s, heading_error_deg=heading_error_deg)
    assert _outside_nm(area.area, *lap) < FINE_NM


@given(
    ias_kt=st.sampled_from([90.0, 140.0, 230.0]),
    altitude_ft=st.sampled_from([2000.0, 10000.0]),
    arrival_deg=st.floats(0.0, 360.0),
    share_of_wind=st.floats(0.0, 1.0),
    wind_towards_deg=st.floats(0.0, 360.0),
    turns=st.sampled_from(["right", "left"]),
)
@settings(max_examples=250, deadline=None)
def test_entries_by_the_rules_lie_inside_the_entry_area(
    ias_kt: float,
    altitude_ft: float,
    arrival_deg: float,
    share_of_wind: float,
    wind_towards_deg: float,
    turns: Any,
) -> None:
    area = _timed(ias_kt, altitude_ft, turns)
    wind_kt = min(area.figures.wind_kt * share_of_wind, 0.25 * area.figures.tas_kt)
    exact = exact_circuit(
        inbound_course_deg=0.0,
        side=1 if turns == "right" else -1,
        tas_kt=area.figures.tas_kt,
        wind_east_kt=wind_kt * math.sin(math.radians(wind_towards_deg)),
        wind_north_kt=wind_kt * math.cos(math.radians(wind_towards_deg)),
        turn_rate_dps=area.figures.turn_rate_dps,
        inbound_distance_nm=area.figures.tas_nm_s * area.figures.outbound_s,
    )
    assume(exact.exists)
    name = sectors_allowed(arrival_deg, 0.0, turns)[0]
    plan = entry_plan(name, exact, ICAO, altitude_ft=altitude_ft, arrival_heading_deg=arrival_deg)
    path = entry_path(plan, exact, arrival_deg, 2.0)
    assert _outside_nm(area.entry_area, path.along_nm, path.cross_nm) < FINE_NM


def _timed(ias_kt: float, altitude_ft: float, turns: Any) -> HoldingArea:
    return holding_area(
        ias_kt=ias_kt, altitude_ft=altitude_ft, minutes=1.0, turns=turns, fix_tolerance=point()
    )


def test_fix_tolerance_moves_the_template_over_its_whole_area() -> None:
    area = holding_area(**PLAIN | {"fix_tolerance": gnss()})
    from shapely.affinity import translate

    for along, cross in (*gnss().corners_nm, (0.0, 0.0), (0.4, -0.7)):
        moved = translate(area.template, along, cross)
        assert moved.difference(area.area.buffer(2.0 * FINE_NM)).is_empty
