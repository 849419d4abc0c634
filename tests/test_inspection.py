"""What a log holds, before it is debriefed: where its plan lies in the drawing, and what is said of its samples."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import replace
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest

from analyser.inspection.contents import _sampling, inspection_text
from analyser.inspection.small_plan import PlanPoints, _signs, plan_points, plan_svg, plan_text
from analyser.logs.track import Source, Track

SVG = "{http://www.w3.org/2000/svg}"


def track_of(lat: np.ndarray, lon: np.ndarray, time_s: np.ndarray | None = None) -> Track:
    time_s = np.arange(float(lat.size)) if time_s is None else time_s
    return Track(name="log.csv", format="table", sha256="", time_s=time_s, lat_deg=lat, lon_deg=lon)


def numbers(text: str) -> list[float]:
    return [float(one) for one in re.findall(r"-?[\d.]+", text)]


@pytest.mark.parametrize(("width_nm", "height_nm"), [(3.0, 12.0), (40.0, 6.0), (0.002, 8.0)])
def test_all_of_a_plan_lies_inside_its_drawing_over_a_bar_of_the_length_it_says(
    width_nm: float, height_nm: float
) -> None:
    """A circuit round the edge of a box that does not begin at nought: what is drawn, its ends and its bar."""
    east = 5.0 + np.array([0.0, 1.0, 1.0, 0.0]) * width_nm
    north = -20.0 + np.array([0.0, 0.0, 1.0, 1.0]) * height_nm
    root = ElementTree.fromstring(plan_svg(PlanPoints(east, north, np.zeros(4, bool)), "a log"))
    left, top, wide, high = numbers(root.attrib["viewBox"])
    track, _, bar = (one.attrib["d"] for one in root.iter(f"{SVG}path"))
    places = np.array(numbers(track)).reshape(-1, 2)
    assert (left, top) == (0.0, 0.0)
    assert places.min() == 40.0 and places[:, 0].max() <= wide - 39.5 and places[:, 1].max() <= high - 69.5
    # The longer side fills the 640 pixels but for the margins.
    per_nm = np.ptp(places[:, 1]) / height_nm
    assert max(np.ptp(places[:, 0]), np.ptp(places[:, 1])) == pytest.approx(560.0, abs=0.2)
    assert np.ptp(places[:, 0]) == pytest.approx(width_nm * per_nm, abs=0.2)
    # South is below north, and the ends are marked.
    starts, ends = ([float(one.attrib[c]) for c in ("cx", "cy")] for one in root.iter(f"{SVG}circle"))
    assert starts == [40.0, places[:, 1].max()] and ends == [40.0, 40.0]
    begin_x, begin_y, _, long, _ = numbers(bar)
    label = next(one for one in root.iter(f"{SVG}text") if (one.text or "").endswith(" NM"))
    assert label.text is not None and long == pytest.approx(float(label.text.split()[0]) * per_nm, abs=0.2)
    assert begin_x + long < float(label.attrib["x"]) < wide - 40.0
    assert places[:, 1].max() < begin_y < float(label.attrib["y"]) < high
    # As long as fits a quarter of the room, at most.
    assert 56.0 <= long <= 140.1


def test_a_plan_is_laid_about_the_middle_of_its_track_across_the_date_line() -> None:
    """A minute of latitude is a mile; of longitude at 60° north it is half of one."""
    lon = (np.linspace(179.9, 180.1, 201) + 180.0) % 360.0 - 180.0
    points = plan_points(track_of(np.linspace(60.0, 60.2, 201), lon))
    assert points.width_nm == pytest.approx(6.0, rel=0.01) and points.height_nm == pytest.approx(
        12.0, rel=0.01
    )
    # A log of two hundred samples is not thinned.
    assert points.east_nm.size == 201 and not points.after_hole.any()
    assert points.east_nm[[0, -1]] == pytest.approx([-3.0, 3.0], rel=0.01)
    assert points.north_nm[[0, -1]] == pytest.approx([-6.0, 6.0], rel=0.01)


def test_a_long_log_is_thinned_and_keeps_its_end_and_both_sides_of_a_hole() -> None:
    time_s = np.arange(20_003.0)
    time_s[10_003:] += 900.0
    points = plan_points(track_of(48.0 + 1e-5 * np.arange(20_003.0), np.full(20_003, 11.0), time_s))
    assert 3_900 <= points.north_nm.size <= 4_100
    (after,) = np.flatnonzero(points.after_hole)
    steps = np.diff(points.north_nm) * 60.0 * 1e5 / 3600.0
    # One step of the log lies between the two sides of the hole, five between others.
    assert steps[after - 1] == pytest.approx(1.0, rel=0.01) and np.median(steps) == pytest.approx(
        5.0, rel=0.01
    )
    # Of the last five the log has two, and of the five before the hole it has two, and one after it.
    assert steps[-1] == pytest.approx(2.0, rel=0.01) and steps[after - 2] == pytest.approx(2.0, rel=0.01)
    assert steps[after] == pytest.approx(2.0, rel=0.01)
    assert np.ptp(points.north_nm) == pytest.approx(0.2 * 60.0, rel=0.01)


def test_what_a_log_is_worth_is_said_in_numbers() -> None:
    lat = np.linspace(-33.5, -33.4, 300)
    track = track_of(lat, np.linspace(-70.6, -70.5, 300))
    every, made = np.ones(300, bool), np.arange(300) % 2 == 0
    tidy = replace(
        track.errors, true_sample=every, slips=False, time_jitter_s=0.0, position_noise_m=0.0, time_step_s=0.0
    )
    changes: list[tuple[dict[str, Any], str]] = [
        ({}, "every row is a sample; positions scatter by about 0.1 m from sample to sample"),
        (
            {"true_sample": made, "effective_s": 12.0},
            "true samples every 12 s in the turns, other rows are inter",
        ),
        (
            {"slips": True, "effective_s": 7.0},
            "its clock slips and stays, so that rows within 7 s share its error",
        ),
        (
            {"time_jitter_s": 1.5, "position_noise_m": 8.2},
            "wander by about 1.5 s; positions scatter by about 8.2 m",
        ),
        ({"time_step_s": 1.0, "position_step_m": 0.0}, "from sample to sample"),
        ({"time_step_s": 1.0, "position_step_m": 1.234}, "sample; written to 1 s and 1.2 m"),
        ({"time_step_s": 1.0, "position_step_m": 111.3}, "sample; written to 1 s and 111 m"),
    ]
    for change, said in changes:
        whole = _sampling(replace(tidy, **change))
        assert said in whole and ("written" in whole) == (change.get("position_step_m", 0.0) > 0.0)
    assert "written" not in _sampling(tidy) and "wander" not in _sampling(tidy)
    assert "33.5000°S to 33.4000°S, 70.6000°W to 70.5000°W" in inspection_text(track)


def test_the_first_six_holes_are_listed_and_all_are_counted() -> None:
    time_s = np.arange(1_000.0) + 100.0 * (np.arange(1_000) // 125)
    said = inspection_text(track_of(np.linspace(48.0, 48.1, 1_000), np.full(1_000, 11.0), time_s))
    (holes,) = [line for line in said.splitlines() if "holes" in line]
    assert "7: 124 to 225 s, " in holes and holes.count(" to ") == 6 and holes.endswith(" …")


def test_a_channel_that_never_lacks_is_said_to_be_in_every_sample() -> None:
    track = replace(
        track_of(np.linspace(48.0, 48.1, 300), np.full(300, 11.0)),
        channels={"altitude_ft": np.full(300, 4000.0)},
    )
    (line,) = [one for one in inspection_text(track).splitlines() if "altitude_ft" in one]
    assert line.split()[2:] == ["4000.0", "to", "4000.0", "ft", "every", "sample"]


def test_of_an_ignored_column_no_channel_or_unit_is_claimed() -> None:
    track = replace(
        track_of(np.linspace(48.0, 48.1, 300), np.full(300, 11.0)),
        sources=(
            Source("height", "altitude_ft", "m", "assumed", "no unit"),
            Source("height 2", "altitude_ft", "ft", "ignored", "a second one"),
        ),
    )
    said = inspection_text(track)
    assert "assumed    'height' as altitude_ft in m: no unit" in said
    assert "ignored    'height 2': a second one" in said


def test_each_dot_is_where_the_braille_sign_of_its_name_has_it() -> None:
    """Unicode's own names: dots 1, 2, 3 and 7 down the left, 4, 5, 6 and 8 down the right."""
    for column, named in enumerate(("1237", "4568")):
        for row, dot in enumerate(named):
            dots = np.zeros((4, 2), bool)
            dots[row, column] = True
            assert unicodedata.name(_signs(dots)[0]) == f"BRAILLE PATTERN DOTS-{dot}"


def test_a_track_of_a_few_yards_fills_its_plan_too() -> None:
    """Twenty thousandths of a mile over 21 columns: ten columns are ten thousandths."""
    points = PlanPoints(np.array([0.0, 0.02]), np.zeros(2), np.zeros(2, bool))
    line, scale = plan_text(points, columns=21, rows=4, braille=False).split("\n")
    assert line == "*" * 21 and scale == f"|{'-' * 8}| 0.01 NM, north up"
