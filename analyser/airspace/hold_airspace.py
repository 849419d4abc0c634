"""Everything the debrief has to say about one hold's airspace, and which fault took a flight out of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from analyser.airspace.excursion import PHASES, AirspaceReport, Edge, flight_against_area
from analyser.airspace.fix_tolerance import tolerance_of
from analyser.airspace.holding_area import HoldingArea, holding_area
from analyser.airspace.obstacle_file import Obstacle
from analyser.airspace.obstacles import MinimumLevel, minimum_holding_level
from analyser.circuits.flown import FlownHold
from analyser.frozen import dataclass
from analyser.holds.definition import Hold, LegLimit
from analyser.holds.ideal_circuit import rules_altitude_ft
from analyser.rules.regime import Regime

#: A category of the lowest speed limit, for a flight that kept it without naming one.
_SLOWEST = "A"
_LEVEL_STEP_FT = 500.0


def area_for_flight(flown: FlownHold, regime: Regime) -> HoldingArea:
    """Construct the area that a flown hold should have kept to; the construction is ICAO's by any regime.

    It is for the cleared level, or else just below the median level flown. Where no category was named and the
    flight kept the limit of category A and B, that limit is taken: the smaller area.
    """
    here = flown.motion.span(flown.start_s, flown.end_s)
    altitude_ft = rules_altitude_ft(regime, flown.hold.altitude_ft, flown.motion.altitude_ft[here])
    if not np.isfinite(altitude_ft):
        # Without any altitude the lowest level has the smallest area.
        altitude_ft = 0.0
    ias, _ = flown.motion.sustained_ias(here)
    category = flown.hold.category
    if category is None and np.isfinite(ias).any():
        slow = regime.speed_limit_kias(altitude_ft, _SLOWEST, flown.hold.max_kias)
        category = _SLOWEST if float(np.nanmax(ias)) <= slow else None
    # A leg that was inferred is what the pilot flew, not what was charted: the rules' own time is taken.
    leg = flown.hold.leg
    timed_by_flight = not flown.given and leg is not None and leg.minutes is not None
    return area_for_hold(
        flown.hold,
        regime,
        altitude_ft=altitude_ft,
        category=category,
        leg=None if timed_by_flight else leg,
        # Down to a full step: the smaller area, and one that was drawn serves all holds like it.
        drawn_at_ft=_LEVEL_STEP_FT * (altitude_ft // _LEVEL_STEP_FT),
    )


def area_for_hold(
    hold: Hold,
    regime: Regime,
    *,
    altitude_ft: float,
    category: str | None = None,
    leg: LegLimit | None = None,
    drawn_at_ft: float | None = None,
) -> HoldingArea:
    """Construct the area of a hold at a level, for the highest speed the rules allow there.

    The leg is the rules' for the altitude when left out; ``drawn_at_ft`` is the level for true airspeed and wind,
    where it is not the same.
    """
    minutes = regime.leg_minutes(altitude_ft) if leg is None else leg.minutes
    return holding_area(
        ias_kt=round(regime.speed_limit_kias(altitude_ft, category, hold.max_kias), 1),
        altitude_ft=altitude_ft if drawn_at_ft is None else drawn_at_ft,
        minutes=minutes,
        distance_nm=leg.distance_nm if leg is not None else None,
        turns=hold.turns,
        fix_tolerance=tolerance_of(hold.fix_by),
    )


#: Causes of the error budget as noun phrases, each with the part of the circuit from which on it acts.
_CAUSES: dict[str, tuple[str, str]] = {
    "fix_crossing": ("passing the fix off to one side", "outbound turn"),
    "arrival_heading": ("the heading over the fix", "outbound turn"),
    "outbound_turn_start": ("when the outbound turn was begun", "outbound turn"),
    "outbound_turn_bank": ("the bank in the outbound turn", "outbound turn"),
    "outbound_heading": ("the outbound heading", "outbound leg"),
    "outbound_time": ("the outbound time", "outbound leg"),
    "inbound_turn_bank": ("the bank in the inbound turn", "inbound turn"),
    "rollout_heading": ("the heading the inbound turn ended on", "inbound leg"),
    "unsteadiness": ("unsteady flying", "outbound turn"),
    "airspeed": ("the airspeed", "outbound turn"),
    "wind_change": ("a change of the wind", "outbound turn"),
    "inbound_leg": ("the inbound leg", "inbound leg"),
}

#: One share of a circuit's error at the roll-out: cause, along and cross, nautical miles.
CauseShift = tuple[str, float, float]


def leading_cause(area: HoldingArea, edge: Edge, shifts: Sequence[CauseShift]) -> str | None:
    """Name, as a noun phrase, what took the flight furthest in the direction in which it left the area.

    ``shifts`` is the error budget of the circuit it happened on. None where no cause that had acted by then points
    so.
    """
    from shapely import Point, shortest_line

    outline = area.entry_area if edge.phase.circuit is None else area.area
    (from_along, from_cross), (to_along, to_cross) = shortest_line(
        outline, Point(edge.along_nm, edge.cross_nm)
    ).coords
    away = np.array([to_along - from_along, to_cross - from_cross])
    length = float(np.hypot(*away))
    if length == 0.0:
        return None
    reached = PHASES.index(edge.phase.name) if edge.phase.name in PHASES else len(PHASES)
    acted = [
        (float(np.dot((along, cross), away)) / length, _CAUSES[cause][0])
        for cause, along, cross in shifts
        if cause in _CAUSES and PHASES.index(_CAUSES[cause][1]) <= reached
    ]
    most, words = max(acted, default=(0.0, ""))
    return words if most > 0.0 else None


@dataclass(frozen=True)
class HoldAirspace:
    """One hold against its airspace: its area in the hold's frame, and a minimum level where obstacles were given."""

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
    """Lay a flown hold against its area, and its altitude against the user's obstacles, if there are any.

    ``shifts`` is, for each circuit's number, what each cause shifted the roll-out by.
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
