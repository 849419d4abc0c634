"""Where an aircraft may be while it flies a sequence of legs and turns with full wind from any side.

The aircraft is one of several points in still air, each with a circle round it for the wind so far. Every
step moves points and lets circles grow; what lies between two steps is their convex hull. Circles are
drawn by a polygon inside them and arcs by their chords, so the swept area errs to the smaller.

The frame is the hold's: along positive inbound beyond the fix, cross positive right of the inbound course;
headings count clockwise from the inbound course.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

#: Corners of the polygon that stands for a circle.
_CORNERS = 72
#: A turn is followed in chords of at most this.
_CHORD_DEG = 15.0

_ROUND = np.linspace(0.0, 2.0 * np.pi, _CORNERS, endpoint=False)
_CIRCLE = np.column_stack([np.cos(_ROUND), np.sin(_ROUND)])


class Sweep:
    """One way through the hold, from the fix.

    Parameters
    ----------
    start_nm : (n, 2) float array
        Along and cross of the corners within which the fix is passed.
    heading_deg : float
        Over the fix, clockwise from the inbound course.
    speed_nm_s, wind_nm_s : float
        True airspeed and wind, nautical miles per second.
    rate_dps : float
        Of every turn, positive.
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
        """Fly straight to any of several ends.

        Parameters
        ----------
        ends : sequence of (off_deg, time_s, wind_s)
            Heading off the present one, seconds flown, and seconds of wind effect.
        within_nm : (far_along_nm, near_along_nm), optional
            A distance leg ends between these whatever the wind.
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
        """Turn through an angle.

        Parameters
        ----------
        way : int
            +1 right, -1 left.
        angle_deg : float
            Positive.
        """
        count = max(1, int(np.ceil(angle_deg / _CHORD_DEG)))
        rings = [self.circles()]
        for _ in range(count):
            self._turned(way, angle_deg / count)
            rings.append(self.circles())
        self.pieces.extend(hull(np.concatenate([rings[:-1], rings[1:]], axis=1)))

    def turn_back(self, way: int, angle_deg: float) -> None:
        """Turn in after a leg whose ends are early and late on the left, then early and late on the right.

        As on the designers' sheet, the late end on the outside is followed through the first 90°, the late
        end on the inside from there on, and the early end on the inside only to where the turn ends.

        Parameters
        ----------
        way : int
            +1 right, -1 left.
        angle_deg : float
            More than 90.
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
    """Return the convex hull of points as a polygon (or a line or point where they have no area).

    Parameters
    ----------
    corners : (n, 2) or (k, n, 2) float array
        Of one hull, or of k, which come back as an array.
    """
    from shapely import convex_hull, linestrings

    # A line through the points has the same hull and is built without an object for each of them. A line
    # has two ends at least, so the first point is there twice.
    return convex_hull(linestrings(np.concatenate([corners[..., :1, :], corners], axis=-2)))


def filled(pieces: Sequence[Any]) -> Any:
    """Join pieces that overlap and fill what they enclose.

    Returns
    -------
    shapely Polygon
        An aircraft that flies round a racetrack is protected within it too.
    """
    from shapely import Polygon, union_all

    # In still air a way is a line; it gets a hair's breadth so that what it goes round is filled as well.
    joined = union_all([piece if piece.area > 0.0 else piece.buffer(1e-6) for piece in pieces])
    # Pieces of one way follow on one another, so there is one outline.
    outline = max(getattr(joined, "geoms", [joined]), key=lambda part: part.area)
    return Polygon(outline.exterior)
