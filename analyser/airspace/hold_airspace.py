"""Everything the debrief has to say about one hold's airspace, in one call."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from analyser.airspace.area import HoldingArea
from analyser.airspace.cause import CauseShift, leading_cause
from analyser.airspace.excursion import AirspaceReport, flight_against_area
from analyser.airspace.for_flight import area_for_flight, area_for_hold
from analyser.airspace.obstacles import MinimumLevel, Obstacle, minimum_holding_level
from analyser.circuits.flown import FlownHold
from analyser.frozen import dataclass
from analyser.rules.regime import Regime


@dataclass(frozen=True)
class HoldAirspace:
    """One hold against its airspace.

    Attributes
    ----------
    area : HoldingArea
        In the hold's frame.
    cause : str or None
        What took the flight furthest out, as a noun phrase.
    level : MinimumLevel or None
        Where obstacles were given.
    """

    area: HoldingArea
    report: AirspaceReport
    cause: str | None
    level: MinimumLevel | None


def hold_airspace(
    flown: FlownHold,
    regime: Regime,
    shifts: Mapping[int, Sequence[CauseShift]],
    *,
    obstacles: Sequence[Obstacle] = (),
    high_terrain: bool = False,
) -> HoldAirspace:
    """Lay a flown hold against its area, and its altitude against the obstacles.

    Parameters
    ----------
    shifts : mapping of circuit number to its error budget
        What each cause shifted the roll-out by.
    obstacles : sequence of Obstacle
        The user's; none, and no minimum level is worked out.
    """
    area = area_for_flight(flown, regime)
    report = flight_against_area(flown, area)
    cause = None
    out = report.sure_excursion or report.likely_excursion or report.deepest
    if out is not None and out.phase.circuit is not None:
        cause = leading_cause(area, out, shifts.get(out.phase.circuit, ()))
    level = None
    if obstacles:
        # For obstacles the larger area is the safe one: the full speed limit unless a category was named.
        whole = area_for_hold(
            flown.hold,
            regime,
            altitude_ft=flown.hold.altitude_ft or report.level.highest_ft or area.figures.altitude_ft,
            category=flown.hold.category,
            leg=flown.hold.leg,
        )
        level = minimum_holding_level(flown.hold, whole, obstacles, high_terrain)
    return HoldAirspace(area, report, cause, level)
