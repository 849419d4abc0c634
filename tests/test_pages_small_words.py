"""Small words and rows of the pages: a lean in words, points that were not judged, the card's speeds, drawn wedges."""

from __future__ import annotations

import math
import re
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from analyser.logbook.leaning import Leaning
from analyser.pages.compare import _lean_words
from analyser.pages.figures.canvas import Canvas
from analyser.pages.figures.sectors import sectors
from analyser.pages.index import _thumbnail
from analyser.pages.subject import PHASES
from analyser.pages.template import environment
from analyser.pages.words import in_both, points_or_not
from analyser.rules.load import load_regime
from analyser.schema.debrief_file import WrittenFlownPath
from tests.test_brief_card import briefing, card_of, rows_of


@pytest.mark.parametrize(
    ("known", "said"),
    [
        ({"lean": 0.44, "low": 0.2, "high": 0.7}, "kinder than the points, by about 0.4 of a grade"),
        ({"lean": -1.26, "low": -1.9, "high": -0.6}, "stricter than the points, by about 1.3 of a grade"),
        ({"lean": 0.3, "low": -0.1, "high": 0.7}, "no lean can be told"),
        ({}, "too few grades to tell, or on a scale that is not at hand"),
    ],
)
def test_a_lean_is_said_in_parts_of_a_grade_only_where_it_is_known(
    known: dict[str, float], said: str
) -> None:
    counted: dict[str, Any] = {"grades": 9, "sessions": 6, "same": 4, "higher": 3, "lower": 2}
    assert _lean_words(Leaning("Ilja Moor", "evidence-1-5", "all", **counted, **known)) == said


@pytest.mark.parametrize(
    ("points", "said"), [(None, "not judged"), (0.0, "0 points"), (57.6, "58 points"), (100.0, "100 points")]
)
def test_points_are_whole_and_none_are_not_nought(points: float | None, said: str) -> None:
    assert points_or_not(points) == said


@pytest.mark.parametrize(
    ("count", "said"), [(0, "0 sessions"), (1, "1 session"), (2, "2 sessions"), (21, "21 sessions")]
)
def test_pages_count_one_session_and_two_sessions(count: int, said: str) -> None:
    page = environment().from_string("{{ n|counted('session') }}")
    assert page.render(n=count) == said


def test_lettering_in_both_references_shows_magnetic_by_one_switch_and_true_by_the_other() -> None:
    assert in_both(("263°M", "267°T"), "note") == [("263°M", "note when-mag"), ("267°T", "note when-tru")]


# ICAO Doc 8168 vol. I, table I-6-2-1 (from memory): up to 14,000 ft 170 kt for categories A and B alone, else 230 kt.
@pytest.mark.parametrize(
    ("category", "said"), [("A", "170 KIAS (category A)"), ("B", "170 KIAS (category B)"), ("C", "230 KIAS")]
)
def test_the_card_names_the_category_that_its_maximum_speed_is_for(category: str, said: str) -> None:
    row = rows_of(card_of(briefing(rules="icao", category=category)))["Maximum speed"]
    assert row.value.startswith(said) and ("category" in row.value) == ("category" in said)


def test_the_card_gives_the_inbound_leg_in_tenths_of_a_mile() -> None:
    """One minute in still air at 120 kt is two miles."""
    row = rows_of(card_of(briefing()))["Inbound leg"]
    assert re.fullmatch(r"1:00, 2\.0 NM", row.value)


@pytest.mark.parametrize("side", [1, -1])
def test_sectors_meet_in_the_fix_and_fill_the_circle_once(side: int) -> None:
    canvas = sectors(263.0, side, None, None, (), load_regime("icao").entry)
    wedges = [stroke.pieces[0] for stroke in canvas.strokes if stroke.layer == "sectors"]
    middle = (canvas.width / 2.0, canvas.height / 2.0)
    areas = []
    for wedge in wedges:
        assert np.hypot(*(wedge - middle).T).min() == pytest.approx(0.0, abs=1e-6)
        x, y = wedge.T
        areas.append(0.5 * abs(float(np.dot(x, np.roll(y, 1)) - np.dot(y, np.roll(x, 1)))))
    radius = np.hypot(*(wedges[0] - middle).T).max()
    assert sum(areas) == pytest.approx(math.pi * radius**2, rel=0.01)
    # ICAO Doc 8168 vol. I, part I, section 6 (from memory): parallel 110°, offset 70°, direct 180°.
    assert sorted(areas) == pytest.approx(
        [math.pi * radius**2 * part / 360.0 for part in (70.0, 110.0, 180.0)], rel=0.01
    )


def test_an_arrivals_heading_points_at_the_fix_from_where_the_aircraft_came() -> None:
    """On heading 090 one comes from the west: the shaft runs from the left edge of the ring to the fix."""
    canvas = sectors(0.0, 1, None, 90.0, (), load_regime("icao").entry, heading_sd_deg=5.0)
    washed, shaft, *barbs = [stroke.pieces[0] for stroke in canvas.strokes if stroke.layer == "arrival"]
    middle = np.array([canvas.width / 2.0, canvas.height / 2.0])
    start, tip = shaft[0] - middle, shaft[-1] - middle
    assert start[0] < tip[0] < 0.0 and start[1] == pytest.approx(0.0, abs=1e-6)
    assert tip[1] == pytest.approx(0.0, abs=1e-6) and -tip[0] < 0.1 * -start[0]
    # The barbs go back from the tip, one to either side, equally far.
    ends = np.array([barb[-1] for barb in barbs]) - (middle + tip)
    assert len(barbs) == 2 and (ends[:, 0] < 0.0).all() and ends[:, 1].sum() == pytest.approx(0.0, abs=1e-6)
    # Two sigma to either side: ten degrees, seen from the fix.
    far = washed[np.hypot(*(washed - middle).T) > 1.0] - middle
    turned = np.degrees(np.arctan2(far[:, 1], -far[:, 0]))
    assert sorted(turned) == pytest.approx([-10.0, 10.0], abs=0.01)


def test_a_box_is_filled_between_its_edges_and_a_unit_is_a_share_of_the_width() -> None:
    canvas = Canvas(200.0, 100.0, (0.0, 50.0, 0.0, 10.0))
    canvas.box(10.0, 20.0, 2.0, 5.0, "band", layer="band")
    (corners,) = canvas.strokes[0].pieces
    assert canvas.strokes[0].closed and canvas.per_unit == 0.25
    # Four units a step across, ten a step up, from the top.
    assert sorted(map(tuple, corners.tolist())) == [(40.0, 50.0), (40.0, 80.0), (80.0, 50.0), (80.0, 80.0)]


def test_turn_and_leg_of_one_half_of_a_circuit_are_one_line_that_is_thick_and_thin() -> None:
    for half in ("outbound", "inbound"):
        turn, leg = PHASES[f"{half}_turn"], PHASES[f"{half}_leg"]
        assert (turn.ink, turn.dash) == (leg.ink, leg.dash) and turn.width > leg.width
    assert PHASES["approach"][2:5] == PHASES["departure"][2:5]


@pytest.mark.parametrize(("bump_units", "points"), [(0.2, 2), (0.3, 3)])
def test_a_thumbnail_keeps_what_stands_out_by_a_quarter_of_a_pixel(bump_units: float, points: int) -> None:
    # Ten miles over the picture's 120 units less a margin of six on each side.
    north_nm = bump_units * 10.0 / 108.0
    path = WrittenFlownPath(
        time_s=(0.0, 60.0, 120.0), east_nm=(0.0, 5.0, 10.0), north_nm=(0.0, north_nm, 0.0)
    )
    drawn = str(_thumbnail([SimpleNamespace(flown_path=path)]))  # type: ignore[list-item]
    line = re.search(r'points="([^"]*)"', drawn)
    assert line is not None and len(line[1].split()) == points
