"""The area to hold a flight against: for its speed limit, its level and its leg, the smaller in doubt."""

from __future__ import annotations

import numpy as np

from analyser.airspace.fix_tolerance import tolerance_of
from analyser.airspace.holding_area import HoldingArea, holding_area
from analyser.circuits.flown import FlownHold
from analyser.holds.definition import Hold, LegLimit
from analyser.holds.ideal_circuit import rules_altitude_ft
from analyser.rules.regime import Regime

#: A category of the lowest speed limit, for a flight that kept it without naming one.
_SLOWEST = "A"
_LEVEL_STEP_FT = 500.0


def area_for_flight(flown: FlownHold, regime: Regime) -> HoldingArea:
    """Construct the area that a flown hold should have kept to.

    Parameters
    ----------
    regime : Regime
        Gives the speed limit; the construction is ICAO's in any case.

    Returns
    -------
    HoldingArea
        For the cleared level, or else just below the median level flown. Where no category was named and the flight
        kept the limit of category A and B, that limit is taken: the smaller area.
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

    Parameters
    ----------
    hold : Hold
        Gives the side and the kind of fix.
    altitude_ft : float
        Whose limits of speed and time apply.
    category : "A" … "E", optional
        Where the hold is limited to it.
    leg : LegLimit, optional
        By altitude from the rules when left out.
    drawn_at_ft : float, optional
        Level for true airspeed and wind, where it is not the same.
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
