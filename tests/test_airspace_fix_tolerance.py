"""Fix tolerance areas against sums done by hand, with the angles of Doc 8168 Vol II (from memory)."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from shapely import MultiPoint

from analyser.airspace.fix_tolerance import (
    FixTolerance,
    dme,
    given,
    gnss,
    intersection,
    overhead_ndb,
    overhead_vor,
    point,
)


def test_cone_over_a_vor() -> None:
    """By hand: 10,000 ft is 1.6458 NM; × tan 50° = 1.9614 NM; aside × sin 5° = 0.1709 NM."""
    along, cross = zip(*overhead_vor(10_000.0).corners_nm, strict=True)
    assert max(along) == pytest.approx(1.9614, abs=1e-3)
    assert min(along) == pytest.approx(-math.sqrt(1.9614**2 - 0.1709**2), abs=1e-3)
    assert all(math.hypot(a, c) == pytest.approx(1.9614, abs=1e-3) for a, c in zip(along, cross, strict=True))
    # Entered 0.1709 aside, then 5° off over the whole cone: to 15° round the far rim, 1.9614 × sin 15°.
    assert max(cross) == pytest.approx(0.5076, abs=1e-3)
    slope = (max(cross) - 0.1709) / (1.9614 * math.cos(math.radians(15.0)) - min(along))
    assert math.degrees(math.atan(slope)) == pytest.approx(5.0, abs=0.01)


def test_cone_over_an_ndb_is_narrower_and_entered_further_aside() -> None:
    """By hand: 1.6458 NM × tan 40° = 1.3810 NM; × sin 15° = 0.3574 NM."""
    corners = overhead_ndb(10_000.0).corners_nm
    assert max(math.hypot(*corner) for corner in corners) == pytest.approx(1.3810, abs=1e-3)
    assert abs(corners[0][1]) == pytest.approx(0.3574, abs=1e-3)


@pytest.mark.parametrize("over", [overhead_vor, overhead_ndb])
def test_a_cone_is_entered_on_either_side_of_the_course_alike(over: Callable[[float], FixTolerance]) -> None:
    corners = {(round(along, 9), round(cross, 9)) for along, cross in over(5_000.0).corners_nm}
    assert {(along, 0.0 - cross) for along, cross in corners} == corners


def test_intersection_of_two_vors_at_right_angles() -> None:
    """By hand: course aid 20 NM ahead, 20 tan 5.2° = 1.820 NM aside; crossing aid 10 NM abeam, 10 tan 4.5° = 0.787."""
    corners = intersection(20.0, 10.0, 90.0).corners_nm
    area = MultiPoint(corners).convex_hull
    assert area.area == pytest.approx(4 * 1.820 * 0.787, rel=0.03)
    assert max(along for along, _ in corners) == pytest.approx(0.787 * 1.18, abs=0.03)
    assert max(abs(cross) for _, cross in corners) == pytest.approx(1.820 * 1.05, abs=0.03)


@pytest.mark.parametrize("angle_deg", [60.0, 90.0, 150.0, -45.0])
def test_every_corner_of_an_intersection_is_seen_from_both_aids_with_their_whole_error(
    angle_deg: float,
) -> None:
    aids = (20.0, 0.0), (10.0 * math.cos(math.radians(angle_deg)), 10.0 * math.sin(math.radians(angle_deg)))
    corners = intersection(20.0, 10.0, angle_deg).corners_nm
    assert len(set(corners)) == 4
    for (ahead, aside), error_deg in zip(aids, (5.2, 4.5), strict=True):
        to_fix = math.atan2(-aside, -ahead)
        for along, cross in corners:
            off = math.degrees(math.atan2(cross - aside, along - ahead) - to_fix)
            assert abs((off + 180.0) % 360.0 - 180.0) == pytest.approx(error_deg, abs=1e-6)


def test_dme_fix() -> None:
    """By hand: 20 NM: 0.25 + 0.0125 × 20 = 0.5 NM along; (20 − 0.5) tan 5.2° = 1.775 NM across."""
    corners = dme(20.0).corners_nm
    assert max(along for along, _ in corners) == pytest.approx(0.5)
    assert max(cross for _, cross in corners) == pytest.approx(1.775, abs=1e-3)


def test_satellite_navigation_and_given_sizes() -> None:
    assert max(gnss().corners_nm) == (0.8, 1.0)
    assert set(given(0.2, 0.4).corners_nm) == {(0.2, 0.4), (0.2, -0.4), (-0.2, 0.4), (-0.2, -0.4)}
    assert point().corners_nm == ((0.0, 0.0),)


def test_impossible_fixes_are_refused() -> None:
    with pytest.raises(ValueError, match="too flatly"):
        intersection(20.0, 10.0, 5.0)
    with pytest.raises(ValueError, match="above zero"):
        intersection(20.0, 0.0, 90.0)
    with pytest.raises(ValueError, match="above the aid"):
        overhead_vor(0.0)
    with pytest.raises(ValueError, match="not below zero"):
        given(-0.1, 0.0)
