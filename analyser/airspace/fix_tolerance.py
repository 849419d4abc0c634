"""Where the aircraft may really be when the instruments say that it is over the fix.

Each kind gives the corners of a convex area round the fix, in the hold's frame: along positive inbound
beyond the fix, cross positive right of the inbound course. Figures from ICAO Doc 8168 Vol II, from memory
(see ``airspace.toml``). Where the kind is not known, :func:`point` errs to the smaller area.
"""

from __future__ import annotations

import math
from dataclasses import replace

from analyser.airspace.allowances import Cone, load_airspace_rules
from analyser.earth.constants import METRES_PER_FOOT, METRES_PER_NM
from analyser.frozen import dataclass
from analyser.holds.definition import FixBy

#: Nautical miles in a thousand feet.
_NM_PER_1000_FT = 1000.0 * METRES_PER_FOOT / METRES_PER_NM
#: The far rim of a cone is drawn by this many corners on either side of the course.
_RIM = 4


@dataclass(frozen=True)
class FixTolerance:
    """The fix tolerance area."""

    #: In words, for the page.
    kind: str
    #: Of its convex outline.
    corners_nm: tuple[tuple[float, float], ...] = ((0.0, 0.0),)
    #: False where nobody said what the fix is known by.
    known: bool = True

    def mirrored(self) -> FixTolerance:
        """Return the area on the other side of the course."""
        return replace(self, corners_nm=tuple((along, -cross) for along, cross in self.corners_nm))


def tolerance_of(fix: FixBy | None) -> FixTolerance:
    """Return the tolerance area of a fix as a hold file describes it; none at all for a fix of unknown kind."""
    if fix is None:
        return point()
    if fix.kind == "intersection":
        assert fix.distance_nm and fix.crossing_distance_nm and fix.crossing_angle_deg is not None
        return intersection(fix.distance_nm, fix.crossing_distance_nm, fix.crossing_angle_deg)
    if fix.kind == "given":
        assert fix.along_nm is not None and fix.cross_nm is not None
        return given(fix.along_nm, fix.cross_nm)
    if fix.kind == "dme":
        assert fix.distance_nm is not None
        return dme(fix.distance_nm)
    if fix.kind == "gnss":
        return gnss()
    assert fix.height_ft is not None
    return overhead_vor(fix.height_ft) if fix.kind == "vor" else overhead_ndb(fix.height_ft)


def point() -> FixTolerance:
    """Return no tolerance at all: the smallest area, for a fix of unknown kind."""
    return FixTolerance("not known, so none was allowed for", known=False)


def given(along_nm: float, cross_nm: float, kind: str = "as given") -> FixTolerance:
    """Return a rectangle of known size, either way along and across, of a kind in words.

    Raises ValueError: a tolerance below zero.
    """
    if min(along_nm, cross_nm) < 0.0:
        raise ValueError("a fix tolerance is not below zero")
    return FixTolerance(
        kind, tuple((a * along_nm, c * cross_nm) for a, c in ((1, 1), (1, -1), (-1, -1), (-1, 1)))
    )


def gnss() -> FixTolerance:
    """Return the rectangle of a satellite navigator in terminal mode."""
    rules = load_airspace_rules().gnss
    return given(rules.along_nm, rules.cross_nm, "satellite navigation, terminal mode")


def overhead_vor(height_ft: float) -> FixTolerance:
    """Return the area of passing over a VOR at a height above it."""
    return _overhead(load_airspace_rules().overhead_vor, height_ft, "overhead a VOR")


def overhead_ndb(height_ft: float) -> FixTolerance:
    """Return the area of passing over an NDB at a height above it."""
    return _overhead(load_airspace_rules().overhead_ndb, height_ft, "overhead an NDB")


def dme(distance_nm: float) -> FixTolerance:
    """Return the area of a fix at a distance from the VOR on whose bearing the inbound course lies."""
    rules = load_airspace_rules()
    along_nm = rules.dme.base_nm + rules.dme.share * distance_nm
    # The sides of the true area fan out; the rectangle takes the width at the near end throughout.
    cross_nm = max(distance_nm - along_nm, 0.0) * math.tan(math.radians(rules.bearing.inbound_deg))
    return given(along_nm, cross_nm, f"DME {distance_nm:g} NM on a VOR bearing")


def intersection(
    inbound_distance_nm: float, crossing_distance_nm: float, crossing_angle_deg: float
) -> FixTolerance:
    """Return the area of a fix where a bearing from another VOR crosses the inbound course.

    The VOR that gives the course lies ahead; the angle is that of the other aid from the fix, clockwise from the
    inbound course.

    Raises ValueError: the bearings cross too flatly to make a fix, or a distance is not above zero.
    """
    accuracy = load_airspace_rules().bearing
    course, crossing = accuracy.inbound_deg, accuracy.crossing_deg
    if min(inbound_distance_nm, crossing_distance_nm) <= 0.0:
        raise ValueError("distances to the aids must be above zero")
    if abs(math.sin(math.radians(crossing_angle_deg))) < math.sin(math.radians(course + crossing)):
        raise ValueError("the bearings cross too flatly to make a fix")
    corners = tuple(
        _meet(inbound_distance_nm, a * course, crossing_distance_nm, crossing_angle_deg, b * crossing)
        for a, b in ((1, 1), (1, -1), (-1, -1), (-1, 1))
    )
    return FixTolerance("intersection of two bearings", corners)


def _meet(
    ahead_nm: float, course_error_deg: float, aside_nm: float, angle_deg: float, error_deg: float
) -> tuple[float, float]:
    """Find where a bearing in error from the one aid meets a bearing in error from the other."""
    first, second = math.radians(180.0 + course_error_deg), math.radians(angle_deg + 180.0 + error_deg)
    place = math.radians(angle_deg)
    from_along, from_cross = aside_nm * math.cos(place) - ahead_nm, aside_nm * math.sin(place)
    across = math.cos(first) * math.sin(second) - math.sin(first) * math.cos(second)
    length = (from_along * math.sin(second) - from_cross * math.cos(second)) / across
    return ahead_nm + length * math.cos(first), length * math.sin(first)


def _overhead(cone: Cone, height_ft: float, kind: str) -> FixTolerance:
    if height_ft <= 0.0:
        raise ValueError("the height above the aid must be above zero")
    radius = height_ft / 1000.0 * _NM_PER_1000_FT * math.tan(math.radians(cone.cone_deg))
    aside = radius * math.sin(math.radians(cone.aside_deg))
    enters = math.sqrt(radius**2 - aside**2)
    # From where it enters, a line that leaves the course by the track's error meets the far rim at twice
    # that error further round than the point opposite.
    out = math.radians(2.0 * cone.track_deg + cone.aside_deg)
    rim = [out * step / _RIM for step in range(-_RIM, _RIM + 1)]
    far = [(radius * math.cos(angle), radius * math.sin(angle)) for angle in rim]
    return FixTolerance(f"{kind}, {height_ft:.0f} ft above it", ((-enters, aside), (-enters, -aside), *far))
