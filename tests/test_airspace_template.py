"""The calculation sheet against published and remembered sheets, and the outline against the sheet's points."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np
import pytest
from shapely import MultiPoint, Point, Polygon

from analyser.airspace import swept_paths
from analyser.airspace.fix_tolerance import point
from analyser.airspace.holding_area import holding_area
from analyser.airspace.holding_template import TemplateFigures, template_figures
from analyser.airspace.swept_paths import Sweep


def test_base_turn_sheet_of_doc_8168() -> None:
    """Published: Doc 8168 Vol II, base-turn sheet, Table I-4-3-App C-1: 140 kt, 6,000 ft, ISA+15."""
    figures = template_figures(ias_kt=140.0, altitude_ft=6000.0, minutes=1.0)
    assert figures.tas_kt / 140.0 == pytest.approx(1.1231, abs=5e-5)
    assert figures.tas_kt == pytest.approx(157.23, abs=0.01)
    assert 509.26 / figures.tas_kt == pytest.approx(3.24, abs=0.005)
    assert figures.turn_rate_dps == 3.0
    assert figures.radius_nm == pytest.approx(0.83, abs=0.005)
    assert figures.wind_kt == pytest.approx(59.0)


#: From memory: a holding-template sheet for 220 kt, 10,000 ft, 1 minute, ISA+15, to the hundredth it prints.
REMEMBERED = {
    "b": 0.09, "c": 0.20,
    "d": 0.20 + 0.43, "e": 0.20 + 0.87, "f": 0.20 + 1.30, "g": 0.20 + 1.73,
    "h": 0.09 + 1.73, "o": 0.09 + 2.16, "p": 0.09 + 2.60,
    "i1": 2.96, "i3": 2.96, "i2": 3.22, "i4": 3.22,
    "j": 3.22 + 0.43, "k": 3.22 + 0.87, "l": 3.22 + 0.87, "m": 3.22 + 1.30,
    "n3": 2.96 + 1.73, "n4": 3.22 + 1.73,
}  # fmt: skip


def test_holding_template_sheet_from_memory() -> None:
    figures = template_figures(ias_kt=220.0, altitude_ft=10000.0, minutes=1.0)
    assert figures.tas_kt == pytest.approx(263.07, abs=0.01)
    assert figures.turn_rate_dps == pytest.approx(1.936, abs=0.0005)
    assert figures.radius_nm == pytest.approx(2.16, abs=0.005)
    assert figures.wind_kt == pytest.approx(67.0)
    assert figures.wind_45_nm == pytest.approx(0.43, abs=0.005)
    assert figures.outbound_s == 60.0
    # L: the still-air length of the outbound leg.
    assert figures.tas_nm_s * figures.outbound_s == pytest.approx(4.38, abs=0.005)
    assert figures.along_nm == pytest.approx({"ab": 0.37, "ac": 0.80, "gi1": 4.02, "gi2": 5.92}, abs=0.006)
    assert figures.wind_nm == pytest.approx(REMEMBERED, abs=0.011)


def _points(figures: TemplateFigures) -> dict[str, tuple[float, float]]:
    """Lay the sheet's points out with compass and ruler, for a right-hand hold: along, cross."""
    r, along = figures.radius_nm, figures.along_nm

    def turned(start: tuple[float, float], degrees: float, heading: float = 0.0) -> tuple[float, float]:
        centre = heading + 90.0
        x = (
            start[0]
            + r * math.cos(math.radians(centre))
            + r * math.cos(math.radians(centre - 180.0 + degrees))
        )
        y = (
            start[1]
            + r * math.sin(math.radians(centre))
            + r * math.sin(math.radians(centre - 180.0 + degrees))
        )
        return x, y

    b, c = (along["ab"], 0.0), (along["ac"], 0.0)
    found = {"b": b, "c": c}
    found |= {name: turned(c, 45.0 * count) for count, name in enumerate("defg", 1)}
    for name, length, off in (("i1", "gi1", -5), ("i2", "gi2", -5), ("i3", "gi1", 5), ("i4", "gi2", 5)):
        direction = math.radians(180.0 + off)
        g = found["g"]
        found[name] = (g[0] + along[length] * math.cos(direction), g[1] + along[length] * math.sin(direction))
    for name, start, degrees in (
        ("j", "i2", 45), ("k", "i2", 90), ("l", "i4", 90), ("m", "i4", 135), ("n3", "i3", 180), ("n4", "i4", 180)
    ):  # fmt: skip
        found[name] = turned(found[start], degrees, heading=180.0)
    return found


@pytest.mark.parametrize(("ias_kt", "altitude_ft"), [(90.0, 3000.0), (170.0, 8000.0), (220.0, 10000.0)])
def test_template_reaches_every_circle_of_the_sheet_and_nothing_beyond_them(
    ias_kt: float, altitude_ft: float
) -> None:
    area = holding_area(
        ias_kt=ias_kt, altitude_ft=altitude_ft, minutes=1.0, turns="right", fix_tolerance=point()
    )
    places = _points(area.figures)
    circles = {name: Point(*place).buffer(area.figures.wind_nm[name], 64) for name, place in places.items()}
    for name, circle in circles.items():
        # Outlines by polygons inside the circles come short of them by a thousandth and a bit.
        short = circle.difference(area.template.buffer(0.002 * area.figures.wind_nm[name] + 0.005))
        assert short.is_empty, f"circle {name} stands out by {short.area:.4f} NM²"
    corners = np.concatenate([np.array(circle.exterior.coords) for circle in circles.values()])
    whole = MultiPoint(np.vstack([corners, [[0.0, 0.0]]])).convex_hull
    # The arcs between the sheet's 45-degree points bulge beyond the straight lines between their circles.
    bulge = area.figures.radius_nm * (1.0 - math.cos(math.radians(22.5)))
    assert area.template.difference(whole.buffer(bulge)).is_empty


def test_still_air_template_is_the_racetrack_with_its_allowances() -> None:
    """Without wind: by hand, 120 kt true: v = 1/30 NM/s, r = 0.637 NM, c 0.367 NM beyond the fix."""
    tas = 120.0
    ias = tas / (template_figures(ias_kt=100.0, altitude_ft=0.0, minutes=1.0).tas_kt / 100.0)
    area = holding_area(
        ias_kt=ias, altitude_ft=0.0, minutes=1.0, turns="right", fix_tolerance=point(), wind_kt=0.0
    )
    west, south, east, north = area.template.bounds
    assert east == pytest.approx(11 / 30 + 0.6367, abs=0.006)
    # gi2 = 81 s = 2.7 NM from g, cos 5° of it, and one radius round the turn.
    assert west == pytest.approx(11 / 30 - 2.7 * math.cos(math.radians(5)) - 0.6367, abs=0.006)
    # i2 lies on the heading turned five degrees out: 2 r + 2.7 sin 5°.
    assert north == pytest.approx(2 * 0.6367 + 2.7 * math.sin(math.radians(5)), abs=0.006)
    assert south == pytest.approx(-2.7 * math.sin(math.radians(5)), abs=0.006)
    assert isinstance(area.template, Polygon)


@pytest.mark.parametrize(
    "wrong",
    [
        {},
        {"minutes": 1.0, "distance_nm": 4.0},
        {"minutes": 0.0},
        {"distance_nm": -1.0},
        {"minutes": 1.0, "wind_kt": -1.0},
    ],
)
def test_impossible_sheets_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match=r"give minutes or distance_nm|above zero"):
        template_figures(ias_kt=100.0, altitude_ft=3000.0, **wrong)


def test_a_distance_leg_is_timed_in_still_air() -> None:
    """By hand: 5 NM at 150 kt true are two minutes; the sheet's times count from there."""
    ias = 150.0 / (template_figures(ias_kt=100.0, altitude_ft=0.0, minutes=1.0).tas_kt / 100.0)
    figures = template_figures(ias_kt=ias, altitude_ft=0.0, distance_nm=5.0)
    assert figures.outbound_s == pytest.approx(120.0, abs=0.1)
    assert figures.early_s == pytest.approx(120.0 + figures.turn_late_s, abs=0.1)


@pytest.mark.parametrize(
    ("sector", "first", "outbound_track"),
    # Doc 8168 Vol I, II-6-1: direct from 110 degrees one way to 70 the other, outbound on the reciprocal; offset on a
    # track of 30 degrees from it; parallel on the reciprocal. Inbound course 0, right-hand.
    [
        (swept_paths._direct, -70.0, 180.0),
        (swept_paths._offset, 110.0, 150.0),
        (swept_paths._parallel, 180.0, 180.0),
    ],
)
def test_every_arrival_of_a_sector_goes_out_on_its_track(
    monkeypatch: pytest.MonkeyPatch,
    sector: Callable[[TemplateFigures, np.ndarray], Iterator[Sweep]],
    first: float,
    outbound_track: float,
) -> None:
    out: list[float] = []
    arrived: list[float] = []
    arrive, leg = swept_paths._arrive, swept_paths._leg

    def watched_arrival(figures: TemplateFigures, fix_nm: np.ndarray, heading: float) -> Sweep:
        arrived.append(heading)
        return arrive(figures, fix_nm, heading)

    def watched_leg(way: Sweep, figures: TemplateFigures, side: int, angle_deg: float) -> None:
        out.append(way.heading_deg % 360.0)
        leg(way, figures, side, angle_deg)

    monkeypatch.setattr(swept_paths, "_arrive", watched_arrival)
    monkeypatch.setattr(swept_paths, "_leg", watched_leg)
    assert (
        len(list(sector(template_figures(ias_kt=100.0, altitude_ft=3000.0, minutes=1.0), np.zeros((1, 2)))))
        > 2
    )
    assert arrived[0] == first and out == pytest.approx([outbound_track] * len(arrived))
