"""The lowest level that a hold's area and its buffer allow over the obstacles of a file.

The area errs to the smaller, which for obstacles is the wrong side: so the level is worked out a second time
with every obstacle brought nearer, and both are given. Obstacles come only from the file; whatever is not in
it, is not counted.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from analyser.airspace.allowances import load_airspace_rules
from analyser.airspace.holding_area import HoldingArea
from analyser.airspace.obstacle_file import Obstacle
from analyser.earth.plane import LocalPlane
from analyser.frozen import dataclass
from analyser.holds.definition import Hold
from analyser.holds.kinematics import to_along_cross
from analyser.rules.load import load_regime


@dataclass(frozen=True)
class ObstacleClearance:
    """The clearance that one obstacle asks for."""

    obstacle: Obstacle
    #: Distance outside the holding area's edge; 0 inside.
    outside_nm: float
    #: Step of the buffer; 0 inside the area.
    band: int
    clearance_ft: float

    @property
    def total_ft(self) -> float:
        """Elevation and clearance together."""
        return self.obstacle.elevation_ft + self.clearance_ft

    @property
    def level_ft(self) -> float:
        """The sum, rounded up."""
        step = load_airspace_rules().level.round_to_ft
        # A sum in metres may miss its step by a rounding error, which is no reason for another step.
        return step * math.ceil(round(self.total_ft / step, 6))

    def said(self) -> str:
        """Show the sum: ``"1,234 ft + 984 ft = 2,218 ft, rounded up to 2,300 ft"``."""
        return (
            f"{self.obstacle.elevation_ft:,.0f} ft + {self.clearance_ft:,.0f} ft = {self.total_ft:,.0f} ft, "
            f"rounded up to {self.level_ft:,.0f} ft"
        )

    def where(self) -> str:
        """Say where the obstacle stands."""
        if self.band == 0:
            return "inside the holding area"
        return f"in step {self.band} of the buffer, {self.outside_nm:.1f} NM outside the holding area"


@dataclass(frozen=True)
class MinimumLevel:
    """The lowest holding level over the obstacles of a file."""

    #: The obstacle that asks for most; None where none counts.
    controlling: ObstacleClearance | None
    #: The same with every obstacle nearer by ``nearer_nm``.
    if_nearer: ObstacleClearance | None
    #: What the drawn area may leave out.
    nearer_nm: float
    high_terrain: bool
    #: Obstacles inside the area and its buffer, and in the file.
    counted: int
    read: int

    @property
    def level_ft(self) -> float | None:
        """The lowest level, rounded up; None where no obstacle counts."""
        return self.controlling.level_ft if self.controlling is not None else None


def minimum_holding_level(
    hold: Hold, area: HoldingArea, obstacles: Sequence[Obstacle], high_terrain: bool = False
) -> MinimumLevel:
    """Work out the lowest level of a hold over obstacles; the area's entries count as inside.

    In ``high_terrain`` a greater clearance is asked; the buffer's steps grow with it, on the safe side.
    """
    doubt = load_airspace_rules().doubt
    nearer_nm = doubt.entry_nm + (0.0 if area.fix_tolerance.known else doubt.unknown_fix_nm)
    outside = _outside_nm(hold, area, obstacles)
    clearances = _clearances(high_terrain)
    asked = _asked(obstacles, outside, area, clearances)
    nearer = _asked(obstacles, np.maximum(outside - nearer_nm, 0.0), area, clearances)
    return MinimumLevel(
        controlling=max(asked, key=lambda one: one.total_ft, default=None),
        if_nearer=max(nearer, key=lambda one: one.total_ft, default=None),
        nearer_nm=nearer_nm,
        high_terrain=high_terrain,
        counted=len(asked),
        read=len(obstacles),
    )


def _clearances(high_terrain: bool) -> tuple[float, ...]:
    """ObstacleClearance inside, then in each step of the buffer outwards."""
    rules = load_regime("icao").clearance
    assert rules is not None
    if not high_terrain:
        return (rules.area_ft, *rules.buffer_ft)
    times = load_airspace_rules().high_terrain.buffer_times
    return (
        rules.area_high_terrain_ft,
        *(min(times * step, rules.area_high_terrain_ft) for step in rules.buffer_ft),
    )


def _outside_nm(hold: Hold, area: HoldingArea, obstacles: Sequence[Obstacle]) -> np.ndarray:
    from shapely import distance, points

    plane = LocalPlane(hold.fix_lat_deg, hold.fix_lon_deg)
    east, north, _ = plane.to_plane(
        np.array([one.lat_deg for one in obstacles]), np.array([one.lon_deg for one in obstacles])
    )
    along, cross = to_along_cross(east, north, hold.inbound_course_true_deg)
    return np.asarray(distance(area.entry_area, points(along, cross)))


def _asked(
    obstacles: Sequence[Obstacle], outside_nm: np.ndarray, area: HoldingArea, clearances: Sequence[float]
) -> list[ObstacleClearance]:
    found = []
    for obstacle, outside in zip(obstacles, outside_nm, strict=True):
        band = next((one.number for one in area.buffers if outside <= one.outer_nm), None)
        if outside <= 0.0:
            band = 0
        if band is not None:
            found.append(ObstacleClearance(obstacle, float(outside), band, clearances[band]))
    return found
