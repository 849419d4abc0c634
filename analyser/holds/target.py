"""The circuit that a regime asks for: which leg is fixed, how long it is, and how steep the turns are."""

from __future__ import annotations

import math

from analyser.holds.definition import Hold
from analyser.holds.exact import ExactCircuit, exact_circuit
from analyser.rules.regime import Regime


def leg_minutes(hold: Hold, regime: Regime, altitude_ft: float) -> float | None:
    """Return the leg time that applies.

    Parameters
    ----------
    hold : Hold
    regime : Regime
    altitude_ft : float

    Returns
    -------
    float or None
        Minutes: as charted, else from the rules by altitude; None where the leg is limited by distance.
    """
    if hold.leg is not None:
        return hold.leg.minutes
    return regime.leg_minutes(altitude_ft)


def ideal_circuit(
    hold: Hold,
    regime: Regime,
    *,
    tas_kt: float,
    altitude_ft: float,
    wind_east_kt: float,
    wind_north_kt: float,
    roll_s: float | None = None,
    flight_director: bool = False,
) -> ExactCircuit:
    """Return the exact circuit for a hold under a regime, in a steady wind.

    Parameters
    ----------
    hold : Hold
    regime : Regime
    tas_kt, altitude_ft : float
    wind_east_kt, wind_north_kt : float
        Wind TOWARDS, true.
    roll_s : float, optional
        Time to roll in, and again to roll out; where left out, at the regime's usual roll rate.
    flight_director : bool
        Where the regime has a bank limit of its own for it.

    Returns
    -------
    ExactCircuit
        A distance leg makes good the charted length inbound. A timed leg under the FAA makes good the time
        inbound; under ICAO the length that the time gives in still air, so that the depicted track is made
        good whatever the wind.
    """
    minutes = leg_minutes(hold, regime, altitude_ft)
    time_s = distance_nm = None
    if minutes is None:
        assert hold.leg is not None
        distance_nm = hold.leg.distance_nm
    elif regime.clock.fixes == "inbound":
        time_s = 60.0 * minutes
    else:
        distance_nm = tas_kt * minutes / 60.0
    if roll_s is None:
        roll_s = regime.roll_s(tas_kt, flight_director=flight_director)
    return exact_circuit(
        inbound_course_deg=hold.inbound_course_true_deg,
        side=hold.side,
        tas_kt=tas_kt,
        wind_east_kt=wind_east_kt,
        wind_north_kt=wind_north_kt,
        turn_rate_dps=regime.turn_rate_dps(tas_kt, flight_director=flight_director),
        roll_s=roll_s,
        inbound_time_s=time_s,
        inbound_distance_nm=distance_nm,
    )


def outbound_end_dme_nm(fix_dme_nm: float, leg_nm: float, *, inbound_towards_station: bool) -> float:
    """Return the DME reading that ends the outbound leg of a distance hold.

    Parameters
    ----------
    fix_dme_nm : float
        The fix's distance from the station, nautical miles.
    leg_nm : float
        Length of the leg.
    inbound_towards_station : bool
        Whether the inbound course leads to the station or away from it.

    Returns
    -------
    float
        Nautical miles.

    References
    ----------
    FAA AIM figures 5-3-5 and 5-3-6.
    """
    return fix_dme_nm + leg_nm if inbound_towards_station else fix_dme_nm - leg_nm


def dme_reading_nm(
    fix_dme_nm: float, along_nm: float, cross_nm: float, *, inbound_towards_station: bool
) -> float:
    """Return what a station on the inbound course's line reads at a point, over the ground.

    Parameters
    ----------
    fix_dme_nm : float
        The fix's distance from the station, nautical miles.
    along_nm, cross_nm : float
        From the fix: positive inbound beyond it, positive right of the course.
    inbound_towards_station : bool
        Whether the inbound course leads to the station or away from it.

    Returns
    -------
    float
        Nautical miles; the slant range is longer by what the height adds.
    """
    ahead_nm = fix_dme_nm - along_nm if inbound_towards_station else fix_dme_nm + along_nm
    return math.hypot(ahead_nm, cross_nm)
