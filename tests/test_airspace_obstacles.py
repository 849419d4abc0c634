"""Minimum holding levels worked by hand, and obstacle files that are wrong in every way we could think of."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from analyser.airspace.describe import level_sentences, written_level
from analyser.airspace.fix_tolerance import given, point
from analyser.airspace.holding_area import HoldingArea, holding_area
from analyser.airspace.obstacle_file import Obstacle, read_obstacles
from analyser.airspace.obstacles import MinimumLevel, ObstacleClearance, minimum_holding_level
from analyser.earth.plane import LocalPlane
from analyser.errors import SettingsError
from analyser.holds.definition import Hold

HOLD = Hold(47.0, 11.0, 0.0, "right")


@pytest.fixture(scope="module")
def area() -> HoldingArea:
    return holding_area(ias_kt=170.0, altitude_ft=6000.0, minutes=1.0, turns="right", fix_tolerance=point())


def _beyond(area: HoldingArea, outside_nm: float, elevation_ft: float, name: str) -> Obstacle:
    """Set an obstacle due north of the area's northernmost point: its distance outside is then known."""
    corners = np.array(area.entry_area.exterior.coords)
    north, east = corners[np.argmax(corners[:, 0])]
    lat, lon = LocalPlane(47.0, 11.0).to_earth(np.array([east]), np.array([north + outside_nm]))
    return Obstacle(name, float(lat[0]), float(lon[0]), elevation_ft)


def test_obstacle_inside_the_area(area: HoldingArea) -> None:
    """On paper: 3,218 ft + 984 ft = 4,202 ft; up to the next hundred: 4,300 ft."""
    level = minimum_holding_level(HOLD, area, [Obstacle("mast", 46.99, 11.0, 3218.0)])
    assert level.level_ft == 4300.0
    assert level.controlling is not None
    assert level.controlling.band == 0
    assert level.controlling.said() == "3,218 ft + 984 ft = 4,202 ft, rounded up to 4,300 ft"


def test_full_hundreds_are_not_rounded_further(area: HoldingArea) -> None:
    """On paper: 3,216 ft + 984 ft = 4,200 ft exactly."""
    level = minimum_holding_level(HOLD, area, [Obstacle("mast", 46.99, 11.0, 3216.0)])
    assert level.level_ft == 4200.0


@pytest.mark.parametrize(
    ("outside_nm", "band", "clearance_ft", "level_ft"),
    [
        # On paper, 5,000 ft high: + 984 = 5,984 → 6,000; + 492 = 5,492 → 5,500; + 394 = 5,394 → 5,400;
        # + 295 = 5,295 → 5,300; + 197 = 5,197 → 5,200. Steps of the buffer from memory (Doc 8168).
        (0.5, 1, 984.0, 6000.0),
        (1.5, 2, 492.0, 5500.0),
        (2.5, 3, 394.0, 5400.0),
        (3.5, 4, 295.0, 5300.0),
        (4.5, 5, 197.0, 5200.0),
    ],
)
def test_steps_of_the_buffer(
    area: HoldingArea, outside_nm: float, band: int, clearance_ft: float, level_ft: float
) -> None:
    level = minimum_holding_level(HOLD, area, [_beyond(area, outside_nm, 5000.0, "ridge")])
    assert level.controlling is not None
    assert level.controlling.outside_nm == pytest.approx(outside_nm, abs=0.01)
    assert (level.controlling.band, level.controlling.clearance_ft) == (band, clearance_ft)
    assert level.level_ft == level_ft


def test_beyond_the_buffer_nothing_counts(area: HoldingArea) -> None:
    level = minimum_holding_level(HOLD, area, [_beyond(area, 7.0, 9000.0, "far\x1b[2Jpeak")])
    assert level.level_ft is None
    assert (level.counted, level.read) == (0, 1)
    assert "gives no minimum level" in level_sentences(level)[0]


def test_the_controlling_obstacle_need_not_be_the_highest_nor_the_nearest(area: HoldingArea) -> None:
    """On paper: inside 3,000 + 984 = 3,984; step 2: 3,600 + 492 = 4,092 (controls); step 5: 3,800 + 197 = 3,997."""
    obstacles = [
        Obstacle("inner hill", 46.98, 11.0, 3000.0),
        _beyond(area, 1.2, 3600.0, "church tower"),
        _beyond(area, 4.8, 3800.0, "outer peak"),
    ]
    level = minimum_holding_level(HOLD, area, obstacles)
    assert level.level_ft == 4100.0
    assert level.controlling is not None
    assert level.controlling.obstacle.name == "church tower"
    assert level.counted == 3
    words = " ".join(level_sentences(level, 4050.0))
    assert "3,600 ft + 492 ft = 4,092 ft, rounded up to 4,100 ft" in words
    assert "church tower" in words
    assert "4,050 ft, 50 ft below it" in words


def test_high_terrain_asks_for_more(area: HoldingArea) -> None:
    """On paper: 3,218 + 1,969 = 5,187 → 5,200. In step 2, twice 492: 3,218 + 984 = 4,202 → 4,300."""
    inside = minimum_holding_level(HOLD, area, [Obstacle("mast", 46.99, 11.0, 3218.0)], high_terrain=True)
    assert inside.level_ft == 5200.0
    outside = minimum_holding_level(HOLD, area, [_beyond(area, 1.5, 3218.0, "mast")], high_terrain=True)
    assert outside.level_ft == 4300.0


def test_an_obstacle_just_outside_a_step_is_named(area: HoldingArea) -> None:
    """On paper, 6.0 NM out: nothing counts; 0.5 and 1.3 NM nearer: 4,000 + 197 = 4,197 → 4,200."""
    level = minimum_holding_level(HOLD, area, [_beyond(area, 6.0, 4000.0, "quarry")])
    assert level.level_ft is None
    assert level.if_nearer is not None
    assert level.if_nearer.level_ft == 4200.0
    assert any("1.8 NM nearer" in said and "quarry" in said for said in level_sentences(level))


def test_a_fix_of_known_kind_leaves_less_in_doubt() -> None:
    """Half a mile for the entries alone; the 1.3 NM are for a fix of which nobody said what it is known by."""
    known = holding_area(
        ias_kt=170.0, altitude_ft=6000.0, minutes=1.0, turns="right", fix_tolerance=given(0.5, 0.5)
    )
    level = minimum_holding_level(HOLD, known, [_beyond(known, 6.0, 4000.0, "quarry")])
    assert level.nearer_nm == pytest.approx(0.5)


def test_course_and_side_turn_the_area_under_the_obstacles(area: HoldingArea) -> None:
    """The far end lies some seven miles outbound: north of the fix for an inbound course of 180."""
    west = area.entry_area.bounds[0]
    lat = 47.0 - (west + 0.5) / 60.0
    assert not math.isclose(lat, 47.0)
    mast = Obstacle("mast", lat, 11.0, 2000.0)
    southbound = Hold(47.0, 11.0, 180.0, "right")
    near = minimum_holding_level(southbound, area, [mast])
    far = minimum_holding_level(HOLD, area, [mast])
    assert near.controlling is not None
    assert near.controlling.band == 0
    assert far.controlling is not None
    assert far.controlling.band > 0


CSV = "name,lat,lon,elevation_ft\nmast,47.1,11.2,3218\nhill,47.0,11.1,2990.5\n"


def _write(tmp_path: Path, text: str | bytes, name: str = "obstacles.csv") -> Path:
    path = tmp_path / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


@pytest.mark.parametrize(
    ("text", "feet"),
    [
        (CSV, 3218.0),
        (CSV.replace(",", ";"), 3218.0),
        (CSV.replace(",", "\t"), 3218.0),
        ("Obstacle,Latitude,Longitude,Elevation (m)\nmast,47.1,11.2,1000\n", 3280.84),
        ("﻿Name;Lat;Lon;Elevation AMSL m\nmast;47,1;11,2;1000,0\n", 3280.84),
        ("# Made up.\nname,lat,lon,elevation_ft\n# The tallest:\nmast,47.1,11.2,3218\n", 3218.0),
        ("\n\nid,lon,lat,elev_feet,remark\nmast,11.2,47.1,3218,lit\n\n", 3218.0),
        ("Obstacle,Lat deg,Long,Top elevation MSL m,Elevation AMSL ft\nmast,47.1,11.2,990,3218\n", 3218.0),
    ],
)
def test_tables_are_read_by_what_their_columns_mean(tmp_path: Path, text: str, feet: float) -> None:
    first = read_obstacles(_write(tmp_path, text))[0]
    assert (first.name, first.lat_deg, first.lon_deg) == ("mast", 47.1, 11.2)
    assert first.elevation_ft == pytest.approx(feet, abs=0.01)


@pytest.mark.parametrize(
    ("unit", "feet"),
    [
        *((unit, 1000.0) for unit in ("ft", "feet", "foot")),
        *((unit, 3280.84) for unit in ("m", "metre", "metres", "meter", "meters")),
    ],
)
def test_a_height_is_in_the_unit_that_its_column_names(tmp_path: Path, unit: str, feet: float) -> None:
    for title in ("elevation", "Top elevation", "Elevation (MSL),"):
        header = f'name,lat,lon,"{title} {unit}"'
        (one,) = read_obstacles(_write(tmp_path, f"{header}\nmast,47.1,11.2,1000\n"))
        assert one.elevation_ft == pytest.approx(feet, abs=0.01)


def test_geojson_points_are_read(tmp_path: Path) -> None:
    feature = {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [11.2, 47.1, 9999.0]},
        "properties": {"name": "mast", "elevation_m": 1000},
    }
    text = json.dumps({"type": "FeatureCollection", "features": [feature]})
    (found,) = read_obstacles(_write(tmp_path, text, "obstacles.geojson"))
    assert (found.name, found.lat_deg, found.lon_deg) == ("mast", 47.1, 11.2)
    assert found.elevation_ft == pytest.approx(3280.84, abs=0.01)


def _points(*features: object) -> str:
    return json.dumps({"type": "FeatureCollection", "features": features})


@pytest.mark.parametrize(
    ("text", "place", "what"),
    [
        ("", "", "holds no obstacle"),
        ("name,lat,lon,elevation_ft\n", "", "holds no obstacle"),
        ("name,lat,lon\nmast,47,11\n", "line 1", "no column gives the elevation"),
        ("name,elevation_ft\nmast,3000\n", "line 1", "latitude or the longitude"),
        ("name,lat,lon,elevation\nmast,47,11,3000\n", "column 'elevation'", "unit is not said"),
        ("lat,lon,elevation_ft,elevation_m\n47,11,3000,900\n", "line 1", "two columns give the elevation"),
        (CSV + "tower,47.0,11.0,high\n", "line 4", "'high' is not a number"),
        (CSV + "tower,47.0,11.0\n", "line 4", "the elevation is missing"),
        (CSV + "tower,97.0,11.0,100\n", "line 4", "latitude 97.0 is impossible"),
        (CSV + "tower,47.0,11.0,nan\n", "line 4", "elevation nan is impossible"),
        (CSV + "tower,47.0,11.0,99999\n", "line 4", "elevation 99999 is impossible"),
        (b"name,lat\xff\xfe", "", "not UTF-8"),
        ("{not json", "line 1", "is not JSON"),
        ("[" * 100_000, "", "is not JSON"),
        ('{"type": "Feature"}', "element features", "no list of features"),
        (
            _points({"geometry": {"type": "Polygon", "coordinates": []}}),
            "element features 0",
            "is not a point",
        ),
        (
            _points({"geometry": {"type": "Point", "coordinates": [11, 47]}}),
            "element features 0",
            "no elevation",
        ),
        (
            _points({"geometry": {"type": "Point", "coordinates": [11]}, "properties": {"elevation_ft": 1}}),
            "element features 0",
            "latitude is missing",
        ),
        (
            _points(
                {"geometry": {"type": "Point", "coordinates": [11, 47]}, "properties": {"elevation_ft": True}}
            ),
            "element features 0",
            "'true' is not a number",
        ),
        (
            _points(
                {
                    "geometry": {"type": "Point", "coordinates": [11, 47]},
                    "properties": {"elevation_ft": 900, "elevation_m": 900},
                }
            ),
            "element features 0",
            "two properties give the elevation",
        ),
    ],
)
def test_wrong_files_say_where_what_and_the_mend(
    tmp_path: Path, text: str | bytes, place: str, what: str
) -> None:
    path = _write(tmp_path, text)
    with pytest.raises(SettingsError) as caught:
        read_obstacles(path)
    error = caught.value
    assert error.file == str(path)
    assert error.place == place
    assert what in error.what
    assert error.mend


def test_a_missing_file_and_a_folder_are_said(tmp_path: Path) -> None:
    for path in (tmp_path / "none.csv", tmp_path):
        with pytest.raises(SettingsError) as caught:
            read_obstacles(path)
        assert caught.value.mend


@pytest.mark.parametrize(
    ("flown_ft", "words", "below"),
    [
        (2299.0, "1 ft below it", True),
        (2299.6, "exactly at it", True),
        (2300.0, "exactly at it", False),
        (3500.4, "1,200 ft above it", False),
    ],
)
def test_the_lowest_altitude_flown_is_held_against_the_level(
    flown_ft: float, words: str, below: bool
) -> None:
    mast = ObstacleClearance(Obstacle("mast", 47.0, 8.0, 1234.0), 0.0, 0, 984.0)
    level = MinimumLevel(mast, None, 0.3, False, 1, 1)
    written = written_level(level, flown_ft).plain()
    assert written["flown_below"] is below and f"{flown_ft:,.0f} ft, {words}" in written["said"][-1]
    assert written["controlling"]["buffer_step"] is None
    (planned,) = [one for one in level_sentences(level, planned_ft=flown_ft) if "planned" in one]
    assert words in planned
    nothing = written_level(MinimumLevel(None, None, 0.3, False, 0, 7), flown_ft).plain()
    assert nothing["flown_below"] is None and "None of the file's 7 obstacles" in nothing["said"][0]
    # What the drawn area may leave out is said where it asks for more.
    taller = replace(mast, obstacle=replace(mast.obstacle, elevation_ft=1301.0))
    more = written_level(replace(level, if_nearer=taller)).plain()["said"]
    assert sum("0.3 NM nearer the level would be 2,300 ft" in one for one in more) == 0
    more = written_level(replace(level, if_nearer=replace(taller, clearance_ft=1000.0))).plain()["said"]
    assert sum("0.3 NM nearer the level would be 2,400 ft" in one for one in more) == 1
