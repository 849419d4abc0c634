"""The holding area: template, area, entry area and the buffer round them.

How it is simplified, and which way that errs, stands in the README beside this.

References
----------
ICAO Doc 8168 Vol II, holding areas (formulas quoted, see :mod:`analyser.airspace.holding_template`).
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np

from analyser.airspace.fix_tolerance import FixTolerance
from analyser.airspace.holding_template import TemplateFigures, template_figures
from analyser.airspace.swept_paths import circuit_outline, entry_outline, hull
from analyser.frozen import dataclass
from analyser.holds.definition import Turns
from analyser.rules.load import load_regime


@dataclass(frozen=True)
class BufferBand:
    """One step of the buffer."""

    #: From 1, outwards.
    number: int
    #: Distance from the area's edge.
    inner_nm: float
    outer_nm: float
    #: Obstacle clearance it asks.
    clearance_ft: float
    #: The ring.
    outline: Any


@dataclass(frozen=True)
class HoldingArea:
    """A holding area in the hold's frame.

    A point is (along_nm, cross_nm): along is 0 at the fix and positive in the inbound direction beyond it, cross is
    positive right of the inbound course as flown inbound.
    """

    figures: TemplateFigures
    turns: Turns
    fix_tolerance: FixTolerance
    #: Obstacle clearance inside.
    clearance_ft: float
    #: Fix tolerance area; still-air template with wind round one fix; the area of the circuits; the same with the
    #: entries, which is the whole holding area.
    fix: Any
    template: Any
    area: Any
    entry_area: Any
    #: Round ``entry_area``.
    buffers: tuple[BufferBand, ...]

    @property
    def buffer_nm(self) -> float:
        """Width of the whole buffer."""
        return self.buffers[-1].outer_nm

    def mirrored(self) -> HoldingArea:
        """Return the area on the other side of the course."""
        from shapely.affinity import scale

        def mirror(outline: Any) -> Any:
            return scale(outline, 1.0, -1.0, origin=(0.0, 0.0))

        return replace(
            self,
            turns="left",
            fix_tolerance=self.fix_tolerance.mirrored(),
            fix=mirror(self.fix),
            template=mirror(self.template),
            area=mirror(self.area),
            entry_area=mirror(self.entry_area),
            buffers=tuple(replace(band, outline=mirror(band.outline)) for band in self.buffers),
        )


def holding_area(
    *,
    ias_kt: float,
    altitude_ft: float,
    minutes: float | None = None,
    distance_nm: float | None = None,
    turns: Turns,
    fix_tolerance: FixTolerance,
    isa_deviation_c: float | None = None,
    wind_kt: float | None = None,
) -> HoldingArea:
    """Construct the holding area of a conventional hold, in the hold's frame.

    It protects up to a speed and a level, and either a still-air time or a limiting distance of the outbound leg,
    in a wind from any side: the designers' temperature and wind, 2 kt per 1,000 ft + 47 kt, when left out.

    Raises ValueError: neither or both of the leg's limits given, or a value that is not above zero.
    """
    figures = template_figures(
        ias_kt=ias_kt,
        altitude_ft=altitude_ft,
        minutes=minutes,
        distance_nm=distance_nm,
        isa_deviation_c=isa_deviation_c,
        wind_kt=wind_kt,
    )
    if turns == "right":
        return right_hand_area(figures, fix_tolerance)
    # A left-hand hold is the mirror image of a right-hand one, fix and all.
    return right_hand_area(figures, fix_tolerance.mirrored()).mirrored()


@lru_cache(maxsize=128)
def right_hand_area(figures: TemplateFigures, fix_tolerance: FixTolerance) -> HoldingArea:
    """Construct the area of a right-hand hold; many holds are drawn for the same figures, so it is kept."""
    fix_nm = np.array(fix_tolerance.corners_nm)
    area = circuit_outline(figures, fix_nm)
    template = area if len(fix_nm) == 1 else circuit_outline(figures, np.zeros((1, 2)))
    entry_area = entry_outline(figures, fix_nm, area)
    clearance = load_regime("icao").clearance
    assert clearance is not None
    step = clearance.buffer_step_nm
    edges = [entry_area, *(entry_area.buffer(step * n) for n in range(1, len(clearance.buffer_ft) + 1))]
    bands = tuple(
        BufferBand(n, step * (n - 1), step * n, asked, edges[n].difference(edges[n - 1]))
        for n, asked in enumerate(clearance.buffer_ft, 1)
    )
    outlines = (hull(fix_nm), template, area, entry_area)
    return HoldingArea(figures, "right", fix_tolerance, clearance.area_ft, *outlines, bands)
