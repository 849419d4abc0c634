"""A flown hold laid against its holding area: inside, in the buffer or beyond, and how near the edge.

Until the first circuit begins the flight is held against the area with the entries; from then on against the
smaller area of the circuits. A part of the flight that was not recorded counts neither way.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analyser.airspace.allowances import load_airspace_rules
from analyser.airspace.holding_area import HoldingArea
from analyser.circuits.flown import FlownHold
from analyser.circuits.frame import hold_frame
from analyser.frozen import dataclass

FloatArray = NDArray[np.float64]

#: Two sigma hold about 95 per cent.
_SURE = 2.0
#: An outline made of chords is no nearer than this to the true one, nautical miles.
_FINE_NM = 0.01


@dataclass(frozen=True)
class Edge:
    """The flight's nearest approach to the edge, or its furthest way over it."""

    #: Distance to the edge, positive inside.
    margin_nm: float
    #: Seconds from the log's first sample.
    time_s: float
    #: In the hold's frame.
    along_nm: float
    cross_nm: float
    lat_deg: float
    lon_deg: float
    phase: HoldPhase
    #: Step of the buffer, from 1; None inside the whole holding area, 0 beyond the buffer.
    buffer_band: int | None
    #: Distance outside the whole holding area, entries and all; negative inside.
    outside_whole_nm: float


@dataclass(frozen=True)
class Speed:
    """Speed against the one that the area was drawn for."""

    limit_kias: float
    #: Highest that was sustained (:meth:`analyser.motion.motion.Motion.sustained_ias`), and its sigma; None where the
    #: log tells no indicated airspeed.
    most_kias: float | None
    most_sd_kt: float | None
    #: Time that was surely flown above the limit: sustained, and by more than two sigma.
    faster_s: float

    @property
    def kept(self) -> bool | None:
        """Whether the area holds good for the flight; None where the speed is not known well enough to tell."""
        if self.faster_s > 0.0:
            return False
        return True if self.most_kias is not None and self.most_kias <= self.limit_kias else None


@dataclass(frozen=True)
class LevelsFlown:
    """Altitude against the level that the area was drawn for; None where the log has none."""

    drawn_for_ft: float
    lowest_ft: float | None
    highest_ft: float | None


@dataclass(frozen=True)
class AirspaceReport:
    """How a flight kept to its holding area."""

    #: Of the recorded time in the hold; they add up to 1. None where nothing was recorded.
    inside_share: float | None
    buffer_share: float | None
    beyond_share: float | None
    #: Where the flight was furthest out; None where it stayed inside.
    deepest: Edge | None
    #: Nearest to the edge during the entry.
    entry: Edge | None
    #: Nearest to the edge on each circuit that was recorded, in order.
    circuits: tuple[Edge, ...]
    #: Of the flight against the area: how well the fix is known.
    position_sd_nm: float
    speed: Speed
    level: LevelsFlown
    #: How far outside the drawn area a flight must be to be surely outside the true one: the area is drawn the
    #: smaller, and may know nothing of the fix tolerance.
    circuit_doubt_nm: float
    entry_doubt_nm: float
    #: False where nobody said what the fix is known by.
    fix_tolerance_known: bool
    #: False where fix and course were inferred from this very flight.
    fix_given: bool

    @property
    def edges(self) -> tuple[Edge, ...]:
        """Entry and circuits together, as far as they were recorded: what led to an inferred hold may be no entry."""
        return (*((self.entry,) if self.entry is not None and self.fix_given else ()), *self.circuits)

    @property
    def strayed(self) -> bool | None:
        """Whether the flight left the area; None where that is within what area and fix are known to."""
        if self.inside_share is None or not self.edges:
            return None
        if self.sure_excursion is not None:
            return True
        least_nm = max(_SURE * self.position_sd_nm, _FINE_NM)
        return False if all(edge.margin_nm >= least_nm for edge in self.edges) else None

    @property
    def sure_excursion(self) -> Edge | None:
        """Where the flight was furthest beyond all doubt outside the whole area; None where it never was."""
        doubt_nm = max(_SURE * self.position_sd_nm, self.entry_doubt_nm)
        outside = [edge for edge in self.edges if edge.outside_whole_nm > doubt_nm]
        return max(outside, key=lambda edge: edge.outside_whole_nm, default=None)

    @property
    def likely_excursion(self) -> Edge | None:
        """Where the flight was furthest outside what its part of the hold needs, doubt taken off."""
        outside = [edge for edge in self.edges if -edge.margin_nm > self.doubt_nm(edge)]
        return max(outside, key=lambda edge: -edge.margin_nm - self.doubt_nm(edge), default=None)

    def doubt_nm(self, edge: Edge) -> float:
        """Return how far outside a flight must be there to be outside what its part of the hold needs."""
        drawn_nm = self.entry_doubt_nm if edge.phase.circuit is None else self.circuit_doubt_nm
        return max(_SURE * self.position_sd_nm, drawn_nm)


def flight_against_area(flown: FlownHold, area: HoldingArea) -> AirspaceReport:
    """Lay a flown hold against its area, which is in the hold's frame."""
    motion, here = flown.motion, flown.motion.span(flown.start_s, flown.end_s)
    time_s, known = motion.time_s[here], ~motion.in_hole[here]
    frame = hold_frame(motion, flown.hold.inbound_course_true_deg)
    along, cross = frame.along_nm[here], frame.cross_nm[here]
    entering = time_s < (flown.circuits[0].start_s if flown.circuits else flown.end_s)
    margin = np.where(entering, _margin(area.entry_area, along, cross), _margin(area.area, along, cross))
    outside_all = -_margin(area.entry_area, along, cross)

    def nearest(where: NDArray[np.bool_]) -> Edge | None:
        """Pick the least margin among some points."""
        if not where.any():
            return None
        at = int(np.argmin(np.where(where, margin, np.inf)))
        place = float(along[at]), float(cross[at])
        return _edge(flown, area, here.start + at, place, float(margin[at]), float(outside_all[at]))

    def share(where: NDArray[np.bool_]) -> float | None:
        # The grid of the motion is even, so shares of points are shares of time.
        return float(np.mean(where[known])) if known.any() else None

    laps = [nearest(known & (time_s >= one.start_s) & (time_s <= one.end_s)) for one in flown.circuits]
    inside, beyond = margin >= 0.0, outside_all > area.buffer_nm
    worst, fast = nearest(known), motion.over_ias(here, area.figures.ias_kt)
    doubt = load_airspace_rules().doubt
    # An inferred course turns the area about an inferred fix.
    turned_nm = float(np.hypot(along, cross).max(initial=0.0)) * math.radians(flown.course_sd_deg or 0.0)
    unknown_nm = 0.0 if area.fix_tolerance.known else doubt.unknown_fix_nm
    altitude = motion.altitude_ft[here][known]
    altitude = altitude[np.isfinite(altitude)]
    lowest, highest = (float(altitude.min()), float(altitude.max())) if altitude.size else (None, None)
    return AirspaceReport(
        inside_share=share(inside),
        buffer_share=share(~inside & ~beyond),
        beyond_share=share(beyond),
        deepest=worst if worst is not None and worst.margin_nm < -_FINE_NM else None,
        entry=nearest(known & entering),
        circuits=tuple(edge for edge in laps if edge is not None),
        position_sd_nm=math.hypot(flown.fix_sd_nm or 0.0, turned_nm),
        speed=Speed(area.figures.ias_kt, fast.most_kt, fast.most_sd_kt, fast.over_s),
        level=LevelsFlown(area.figures.altitude_ft, lowest, highest),
        circuit_doubt_nm=doubt.circuit_nm + unknown_nm,
        entry_doubt_nm=doubt.entry_nm + unknown_nm,
        fix_tolerance_known=area.fix_tolerance.known,
        fix_given=flown.fix_sd_nm is None,
    )


def _edge(
    flown: FlownHold,
    area: HoldingArea,
    at: int,
    along_cross_nm: tuple[float, float],
    margin_nm: float,
    outside_nm: float,
) -> Edge:
    """Describe the edge beside a point of the motion's grid."""
    motion, time_s = flown.motion, float(flown.motion.time_s[at])
    lat, lon = motion.plane.to_earth(motion.east_nm[[at]], motion.north_nm[[at]])
    place = *along_cross_nm, float(lat[0]), float(lon[0])
    band = next((band.number for band in area.buffers if outside_nm <= band.outer_nm), 0)
    band_outside = band if outside_nm > 0.0 else None
    return Edge(margin_nm, time_s, *place, phase_at(flown, time_s), band_outside, outside_nm)


def _margin(outline: Any, along_nm: FloatArray, cross_nm: FloatArray) -> FloatArray:
    """Distance to the outline, positive inside."""
    from shapely import contains_xy, distance, points

    away = distance(outline.exterior, points(along_nm, cross_nm))
    return np.asarray(np.where(contains_xy(outline, along_nm, cross_nm), away, -away), float)


PHASES = ("outbound turn", "outbound leg", "inbound turn", "inbound leg")


@dataclass(frozen=True)
class HoldPhase:
    """A part of the hold: ``"entry"``, one of :data:`PHASES`, or ``"hold"`` where its circuit was not cut."""

    name: str
    circuit: int | None

    def said(self) -> str:
        """Name the phase in words: ``"the inbound turn of circuit 2"``."""
        return "the entry" if self.circuit is None else f"the {self.name} of circuit {self.circuit}"


def phase_at(flown: FlownHold, time_s: float) -> HoldPhase:
    """Name the part of the hold flown at an instant within it."""
    circuit = next((one for one in reversed(flown.circuits) if one.start_s <= time_s), None)
    if circuit is None:
        return HoldPhase("entry", None)
    parts = (circuit.outbound_turn, circuit.outbound_leg, circuit.inbound_turn, circuit.inbound_leg)
    # Between the fix and wings leaving level the outbound turn is late: it counts as its part.
    named = [(name, part) for name, part in zip(PHASES, parts, strict=True) if part is not None]
    name = next((name for name, part in named if time_s <= part.end_s), named[-1][0] if named else "hold")
    return HoldPhase(name, circuit.number)
