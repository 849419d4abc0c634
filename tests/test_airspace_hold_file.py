"""What a hold file says about the fix reaches the area, and what it gets wrong is named."""

from __future__ import annotations

from pathlib import Path

import pytest

from analyser.airspace.fix_tolerance import (
    FixTolerance,
    dme,
    given,
    gnss,
    intersection,
    overhead_ndb,
    overhead_vor,
    point,
    tolerance_of,
)
from analyser.airspace.hold_airspace import area_for_hold
from analyser.errors import HoldFileError
from analyser.holds.holdfile import read_hold
from analyser.rules.load import load_regime

HOLD = 'fix = { lat = 48.0, lon = 11.0 }\ninbound_course = 90\nreference = "true"\nturns = "right"\n'


def _hold_file(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "hold.toml"
    path.write_text(HOLD + text, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", point()),
        ('fix_by = { kind = "vor", height_ft = 3000 }', overhead_vor(3000)),
        ('fix_by = { kind = "ndb", height_ft = 3000 }', overhead_ndb(3000)),
        ('fix_by = { kind = "gnss" }', gnss()),
        ('fix_by = { kind = "dme", distance_nm = 12 }', dme(12)),
        ('fix_by = { kind = "given", along_nm = 0.2, cross_nm = 0.4 }', given(0.2, 0.4)),
        (
            'fix_by = { kind = "intersection", distance_nm = 15, crossing_distance_nm = 10, crossing_angle = 80 }',
            intersection(15, 10, 80),
        ),
    ],
)
def test_each_kind_of_fix(tmp_path: Path, text: str, expected: FixTolerance) -> None:
    hold = read_hold(_hold_file(tmp_path, text))
    assert tolerance_of(hold.fix_by) == expected
    area = area_for_hold(hold, load_regime("icao"), altitude_ft=4000.0)
    assert area.fix_tolerance == expected


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('fix_by = { kind = "vor" }', "exactly height_ft"),
        ('fix_by = { kind = "gnss", height_ft = 3000 }', "exactly nothing else"),
        ('fix_by = { kind = "tacan" }', "fix_by.kind"),
        ('fix_by = { kind = "dme", distance_nm = -2 }', "fix_by.distance_nm"),
        ('fix_by = { kind = "given", along_nm = 1, cross = 2 }', "fix_by.cross"),
        (
            'fix_by = { kind = "intersection", distance_nm = 15, crossing_distance_nm = 10, crossing_angle = 175 }',
            "at least 20 degrees",
        ),
    ],
)
def test_wrong_kinds_are_named(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(HoldFileError, match="fix_by") as caught:
        read_hold(_hold_file(tmp_path, text))
    assert said in str(caught.value)


def test_speed_limit_follows_level_category_and_rules(tmp_path: Path) -> None:
    """Published: ICAO Table I-6-1-1 230/170/240 kt, FAA AIM 5-3-8 j.2 200/230 kt."""
    hold = read_hold(_hold_file(tmp_path, ""))
    icao, faa = load_regime("icao"), load_regime("faa")
    assert area_for_hold(hold, icao, altitude_ft=4000.0).figures.ias_kt == 230.0
    assert area_for_hold(hold, icao, altitude_ft=4000.0, category="B").figures.ias_kt == 170.0
    assert area_for_hold(hold, icao, altitude_ft=16000.0).figures.ias_kt == 240.0
    assert area_for_hold(hold, icao, altitude_ft=16000.0).figures.outbound_s == 90.0
    assert area_for_hold(hold, faa, altitude_ft=4000.0).figures.ias_kt == 200.0
    assert area_for_hold(hold, faa, altitude_ft=8000.0).figures.ias_kt == 230.0
