"""Where an aircraft may be with full wind from any side, on any legs and turns: on the circuit, and on three entries.

The aircraft is one of several points in still air, each with a circle round it for the wind so far. Every
step moves points and lets circles grow; what lies between two steps is their convex hull. Circles are
drawn by a polygon inside them and arcs by their chords, so the swept area errs to the smaller.

The frame is the hold's: along positive inbound beyond the fix, cross positive right of the inbound course;
headings count clockwise from the inbound course.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analyser.airspace.allowances import load_airspace_rules
from analyser.airspace.holding_template import TemplateFigures
from analyser.rules.load import load_regime

FloatArray = NDArray[np.float64]

#: Corners of the polygon that stands for a circle.
_CORNERS = 72
#: A turn is followed in chords of at most this.
_CHORD_DEG = 15.0

_ROUND = np.linspace(0.0, 2.0 * np.pi, _CORNERS, endpoint=False)
_CIRCLE = np.column_stack([np.cos(_ROUND), np.sin(_ROUND)])


class Sweep:
    """One way through the hold, from the (n, 2) corners within which the fix is passed, along and cross.

    Headings are clockwise from the inbound course, speeds in nautical miles per second, the rate of turns positive.
    """

    def __init__(
        self, start_nm: FloatArray, heading_deg: float, speed_nm_s: float, wind_nm_s: float, rate_dps: float
    ) -> None:
        self.points, self.radii = np.asarray(start_nm, float), np.zeros(len(start_nm))
        self.heading_deg = heading_deg
        self.speed, self.wind, self.rate = speed_nm_s, wind_nm_s, rate_dps
        self.pieces: list[Any] = []

    def fly(
        self, ends: Sequence[tuple[float, float, float]], within_nm: tuple[float, float] | None = None
    ) -> None:
        """Fly straight to any of several ends: heading off the present one, seconds flown, seconds of wind effect.

        A distance leg ends ``within_nm``, the far and the near along coordinate, whatever the wind.
        """
        directions = np.radians([self.heading_deg + off for off, _, _ in ends])
        length = self.speed * np.array([time for _, time, _ in ends])
        moved = np.column_stack([length * np.cos(directions), length * np.sin(directions)])
        before = self.circles()
        self._move(moved, self.wind * np.array([wind for _, _, wind in ends]))
        self.pieces.append(hull(np.concatenate([before, self.circles()])))
        if within_nm is not None:
            self._stop(*within_nm)

    def turn(self, way: int, angle_deg: float) -> None:
        """Turn through a positive angle, +1 right or -1 left."""
        count = max(1, int(np.ceil(angle_deg / _CHORD_DEG)))
        rings = [self.circles()]
        for _ in range(count):
            self._turned(way, angle_deg / count)
            rings.append(self.circles())
        self.pieces.extend(hull(np.concatenate([rings[:-1], rings[1:]], axis=1)))

    def turn_back(self, way: int, angle_deg: float) -> None:
        """Turn in, more than 90°, after a leg with ends early and late on the left, then so on the right.

        As on the designers' sheet, the late end on the outside is followed through the first 90°, the late
        end on the inside from there on, and the early end on the inside only to where the turn ends.
        """
        left_early, left_late, right_early, right_late = (
            self._only(points, radii)
            for points, radii in zip(np.split(self.points, 4), np.split(self.radii, 4), strict=True)
        )
        outer, inner, early = left_late, right_late, right_early
        if way < 0:
            outer, inner, early = right_late, left_late, left_early
        outer.turn(way, 90.0)
        inner._turned(way, 90.0)
        across = hull(np.concatenate([outer.circles(), inner.circles()]))
        inner.turn(way, angle_deg - 90.0)
        early._turned(way, angle_deg)
        self.pieces += [*outer.pieces, across, *inner.pieces]
        self.points = np.concatenate([inner.points, early.points])
        self.radii = np.concatenate([inner.radii, early.radii])
        self.heading_deg += way * angle_deg

    def back_to(self, corners: FloatArray) -> None:
        """Close the way with straight tangents to where it began."""
        self.pieces.append(hull(np.concatenate([self.circles(), corners])))

    def circles(self) -> FloatArray:
        """Return the corners of the outline round every point's wind circle, (n, 2).

        In each of a ring of directions the circle that reaches furthest gives one corner, so the corners
        lie on the true outline and their hull within it.
        """
        furthest = np.argmax(self.points @ _CIRCLE.T + self.radii[:, None], axis=0)
        return np.asarray(self.points[furthest] + self.radii[furthest, None] * _CIRCLE)

    def _only(self, points: FloatArray, radii: FloatArray) -> Sweep:
        """Go on with some of the points, on a way of their own."""
        other = Sweep(points, self.heading_deg, self.speed, self.wind, self.rate)
        other.radii = radii
        return other

    def _stop(self, far_nm: float, near_nm: float) -> None:
        from shapely import box

        flown = self.pieces[-1]
        self.pieces[-1] = flown.intersection(box(far_nm, -1e3, 1e3, 1e3))
        ends = flown.intersection(box(far_nm, -1e3, near_nm, 1e3))
        # With wind the circles have become one area, and what comes after starts from its corners.
        self.points = np.asarray(ends.exterior.coords, float)[:-1]
        self.radii = np.zeros(len(self.points))

    def _turned(self, way: int, angle_deg: float) -> None:
        """Go to the end of a turn without sweeping what lies between."""
        radius = self.speed / np.radians(self.rate)
        direction = np.radians(self.heading_deg + 0.5 * way * angle_deg)
        chord = 2.0 * radius * np.sin(np.radians(0.5 * angle_deg))
        moved = chord * np.array([[np.cos(direction), np.sin(direction)]])
        self._move(moved, np.array([self.wind * angle_deg / self.rate]))
        self.heading_deg += way * angle_deg

    def _move(self, moved: FloatArray, grown: FloatArray) -> None:
        self.points = (self.points[None, :, :] + moved[:, None, :]).reshape(-1, 2)
        self.radii = (self.radii[None, :] + grown[:, None]).reshape(-1)


def hull(corners: FloatArray) -> Any:
    """Return the hull of (n, 2) points, a polygon, or a line or point without area; of (k, n, 2) an array of k."""
    from shapely import convex_hull, linestrings

    # A line through the points has the same hull and is built without an object for each of them. A line
    # has two ends at least, so the first point is there twice.
    return convex_hull(linestrings(np.concatenate([corners[..., :1, :], corners], axis=-2)))


def filled(pieces: Sequence[Any]) -> Any:
    """Join pieces that overlap and fill what they enclose: who flies round a racetrack is protected within it too."""
    from shapely import Polygon, union_all

    # In still air a way is a line; it gets a hair's breadth so that what it goes round is filled as well.
    joined = union_all([piece if piece.area > 0.0 else piece.buffer(1e-6) for piece in pieces])
    # Pieces of one way follow on one another, so there is one outline.
    outline = max(getattr(joined, "geoms", [joined]), key=lambda part: part.area)
    return Polygon(outline.exterior)


#: Arrival headings within a sector are tried this far apart, degrees.
_APART_DEG = 15.0


def circuit_outline(figures: TemplateFigures, fix_nm: FloatArray) -> Any:
    """Sweep the circuit of a right-hand hold from (n, 2) places of the fix; (0, 0) alone gives the template."""
    start = _begin(figures, fix_nm, 0.0)
    start.fly([(0.0, time, time) for time in (0.0, figures.bank_late_s, figures.turn_late_s)])
    # The leg is timed from the latest turn, so only that one is followed.
    late = _arrive(figures, fix_nm, 0.0)
    late.pieces = start.pieces
    late.turn(+1, 180.0)
    _leg(late, figures, +1, 180.0)
    late.back_to(start.circles())
    return filled(late.pieces)


def entry_outline(figures: TemplateFigures, fix_nm: FloatArray, circuit: Any) -> Any:
    """Sweep the entries of a right-hand hold from (n, 2) places of the fix, and add the area of the circuits."""
    ways = [*_direct(figures, fix_nm), *_offset(figures, fix_nm), *_parallel(figures, fix_nm)]
    return filled([circuit, *(filled(way.pieces) for way in ways)])


def _begin(figures: TemplateFigures, fix_nm: FloatArray, heading_deg: float) -> Sweep:
    return Sweep(fix_nm, heading_deg, figures.tas_nm_s, figures.wind_nm_s, figures.turn_rate_dps)


def _arrive(figures: TemplateFigures, fix_nm: FloatArray, heading_deg: float) -> Sweep:
    """Pass the fix on any heading and begin the turn as late as the template allows."""
    way = _begin(figures, fix_nm, heading_deg)
    way.fly([(0.0, figures.turn_late_s, figures.turn_late_s)])
    return way


def _leg(way: Sweep, figures: TemplateFigures, turn: int, angle_deg: float) -> None:
    """Fly the outbound leg and the turn after it."""
    spread, early, late = figures.spread_deg, figures.early_s, figures.late_s
    late_wind = early + figures.late_wind_s
    ends = [(off, *end) for off in (-spread, spread) for end in ((early, early), (late, late_wind))]
    if figures.distance_nm is None:
        way.fly(ends)
        way.turn_back(turn, angle_deg)
        return
    # From abeam the limit the turn may still be late, at the ground speed of a full tailwind.
    late_nm = figures.late_wind_s * (figures.tas_nm_s + figures.wind_nm_s)
    way.fly(ends, (-figures.distance_nm - late_nm, -figures.distance_nm))
    way.turn(turn, angle_deg)


def _direct(figures: TemplateFigures, fix_nm: FloatArray) -> Iterator[Sweep]:
    entry = load_regime("icao").entry
    first, last = entry.parallel_sector_deg - 180.0, 180.0 - entry.offset_sector_deg
    for heading in _headings(first, last):
        way = _arrive(figures, fix_nm, heading)
        way.turn(+1, 180.0 - heading)
        _leg(way, figures, +1, 180.0)
        way.back_to(fix_nm)
        yield way


def _offset(figures: TemplateFigures, fix_nm: FloatArray) -> Iterator[Sweep]:
    entry, turns = load_regime("icao").entry, load_airspace_rules().entry_turns
    track = 180.0 - entry.offset_angle_deg
    for heading in _headings(180.0 - entry.offset_sector_deg, 180.0):
        way = _arrive(figures, fix_nm, heading)
        way.turn(+1 if track > heading else -1, abs(track - heading))
        _leg(way, figures, +1, turns.offset_deg)
        way.back_to(fix_nm)
        yield way


def _parallel(figures: TemplateFigures, fix_nm: FloatArray) -> Iterator[Sweep]:
    entry, turns = load_regime("icao").entry, load_airspace_rules().entry_turns
    for heading in _headings(180.0, 180.0 + entry.parallel_sector_deg):
        way = _arrive(figures, fix_nm, heading)
        way.turn(-1, heading - 180.0)
        # Outbound, the holding side of a right-hand hold lies to the left.
        _leg(way, figures, -1, turns.parallel_deg)
        way.back_to(fix_nm)
        yield way


def _headings(first_deg: float, last_deg: float) -> Iterator[float]:
    yield from np.linspace(first_deg, last_deg, int(np.ceil((last_deg - first_deg) / _APART_DEG)) + 1)
