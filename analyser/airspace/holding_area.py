"""The holding area: template, area, entry area and the buffer round them.

How it is simplified, and which way that errs:

- The template allows the full design wind from any side from the fix to the end of the inbound turn, as the
  ICAO construction does. Arcs are drawn by chords and circles by polygons inside them: smaller.
- The inbound leg is closed by straight tangents to where the outbound turn begins; the continued turn from
  the earliest start (points h, o and p) is not added: smaller.
- The template is moved over the fix tolerance area as a whole; where the kind of fix is not known no
  tolerance is allowed for: smaller.
- Entries are swept for arrival headings across each sector, without the five degrees of flexibility at the
  sectors' edges and without a turn the long way round: smaller.
- A distance leg ends at its distance; the error of the distance reading is not added: smaller.

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
    """A holding area, in the hold's frame or on the map.

    In the hold's frame a point is (along_nm, cross_nm): along is 0 at the fix and positive in the inbound
    direction beyond it, cross is positive right of the inbound course as flown inbound.
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

    def to_plane(self, inbound_course_deg: float) -> HoldingArea:
        """Lay the area on a map round the fix, by the inbound course on the map: outlines in (east_nm, north_nm)."""
        course = np.radians(inbound_course_deg)
        # A line of the hold's axes in map axes; cross lies clockwise of along, so the frame is mirrored.
        matrix = [np.sin(course), np.cos(course), np.cos(course), -np.sin(course), 0.0, 0.0]
        return self._moved(matrix)

    def _moved(self, matrix: list[float]) -> HoldingArea:
        from shapely.affinity import affine_transform

        def move(outline: Any) -> Any:
            return affine_transform(outline, matrix)

        return replace(
            self,
            fix=move(self.fix),
            template=move(self.template),
            area=move(self.area),
            entry_area=move(self.entry_area),
            buffers=tuple(replace(band, outline=move(band.outline)) for band in self.buffers),
        )


def holding_area(
    *,
    ias_kt: float,
    altitude_ft: float,
    minutes: float | None = None,
    distance_nm: float | None = None,
    turns: Turns,
    fix_tolerance: FixTolerance,
    isa_deviation_c: float = 15.0,
    wind_kt: float | None = None,
) -> HoldingArea:
    """Construct the holding area of a conventional hold, in the hold's frame.

    It protects up to a speed and a level, and either a still-air time or a limiting distance of the outbound leg,
    in a wind from any side: the designers' 2 kt per 1,000 ft + 47 kt when left out.

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
    mirrored = right_hand_area(figures, fix_tolerance.mirrored())._moved([1.0, 0.0, 0.0, -1.0, 0.0, 0.0])
    return replace(mirrored, turns="left", fix_tolerance=fix_tolerance)


@lru_cache(maxsize=128)
def right_hand_area(figures: TemplateFigures, fix_tolerance: FixTolerance) -> HoldingArea:
    """Construct the area of a right-hand hold; many holds are drawn for the same figures, so it is kept."""
    fix_nm = np.array(fix_tolerance.corners_nm)
    area = circuit_outline(figures, fix_nm)
    template = area if len(fix_nm) == 1 else circuit_outline(figures, np.zeros((1, 2)))
    entry_area = entry_outline(figures, fix_nm, area)
    return _with_buffer(figures, fix_tolerance, fix_nm, template, area, entry_area)


def _with_buffer(
    figures: TemplateFigures,
    tolerance: FixTolerance,
    fix_nm: Any,
    template: Any,
    area: Any,
    entry_area: Any,
) -> HoldingArea:
    clearance = load_regime("icao").clearance
    assert clearance is not None
    step = clearance.buffer_step_nm
    edges = [entry_area, *(entry_area.buffer(step * n) for n in range(1, len(clearance.buffer_ft) + 1))]
    bands = tuple(
        BufferBand(
            number, step * (number - 1), step * number, asked, edges[number].difference(edges[number - 1])
        )
        for number, asked in enumerate(clearance.buffer_ft, 1)
    )
    return HoldingArea(
        figures,
        "right",
        tolerance,
        clearance.area_ft,
        hull(fix_nm),
        template,
        area,
        entry_area,
        bands,
    )
