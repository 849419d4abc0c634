"""The circuit that a regime asks for: which leg is fixed, how long it is, and how steep the turns are."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analyser.holds.definition import Hold, LegLimit
from analyser.holds.exact import ExactCircuit, exact_circuit, with_inbound
from analyser.holds.root_finding import root_between
from analyser.rules.regime import Regime

FloatArray = NDArray[np.float64]

#: Rounds in which the end of a leg by DME settles: each leaves a few hundredths of the error before it.
_SETTLES_IN = 12


def rules_altitude_ft(regime: Regime, cleared_ft: float | None, flown_ft: FloatArray) -> float:
    """Return the level that leg times and speed limits are looked up for: the cleared one, where it was given.

    Else it is read from the altitudes flown, (n,), NaN where not known. NaN where nothing is known: then the lowest
    row of each table holds.
    """
    if cleared_ft is not None:
        return cleared_ft
    known = flown_ft[np.isfinite(flown_ft)]
    return float(np.median(known)) - regime.flown_level.below_ft if known.size else float("nan")


def leg_minutes(hold: Hold, regime: Regime, altitude_ft: float) -> float | None:
    """Return the leg time: as charted, else by altitude from the rules; None where the leg is limited by distance."""
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
) -> ExactCircuit:
    """Return the exact circuit for a hold under a regime, in a steady wind TOWARDS.

    A distance leg ends outbound at the charted length, whatever inbound leg results. A timed leg under the FAA makes
    good the time inbound; under ICAO the length that the time gives in still air, so that the depicted track is made
    good whatever the wind. Rolling in, and again out, takes ``roll_s``, by the regime's usual roll rate if left out.

    References
    ----------
    FAA AIM 5-3-8 j.5, j.7(a)(4), figures 5-3-5 and 5-3-6; ICAO Doc 8168 Vol I 1.5.1 (outbound until the limiting DME).
    """
    minutes = leg_minutes(hold, regime, altitude_ft)
    time_s = distance_nm = None
    if minutes is None:
        pass
    elif regime.clock.fixes == "inbound":
        time_s = 60.0 * minutes
    else:
        distance_nm = tas_kt * minutes / 60.0
    if roll_s is None:
        roll_s = regime.roll_s(tas_kt)
    air: dict[str, Any] = {
        "inbound_course_deg": hold.inbound_course_true_deg,
        "side": hold.side,
        "tas_kt": tas_kt,
        "wind_east_kt": wind_east_kt,
        "wind_north_kt": wind_north_kt,
        "turn_rate_dps": regime.turn_rate_dps(tas_kt),
        "roll_s": roll_s,
    }
    if minutes is None:
        assert hold.leg is not None
        return _before_radial(hold, _by_distance(hold.leg, air), air)
    found = exact_circuit(**air, inbound_time_s=time_s, inbound_distance_nm=distance_nm)
    if not found.closes or found.outbound_time_s >= regime.least_outbound.time_s:
        return found
    asked_s = time_s or 3600.0 * (distance_nm or 0.0) / found.inbound_ground_speed_kt
    return _with_a_leg(found, regime.least_outbound.time_s, asked_s)


def _with_a_leg(found: ExactCircuit, least_s: float, asked_s: float) -> ExactCircuit:
    """Lengthen the inbound leg where it would leave hardly an outbound one.

    On a leg of seconds the drift of a whole circuit would have to be made good by a heading that nobody flies.
    """
    # Flown outbound for longer by what is missing, even against the wind it is made good inbound in as many of these.
    high_nm = found.inbound_distance_nm + 2.0 * (least_s + 60.0) * found.tas_kt / 3600.0
    inbound_nm = root_between(
        lambda nm: with_inbound(found, nm).outbound_time_s - least_s,
        found.inbound_distance_nm,
        high_nm,
        within=1e-6,
    )
    longer = with_inbound(found, inbound_nm)
    why_not = (
        f"no circuit closes with {asked_s:.0f} s inbound and at least {least_s:.0f} s outbound in this wind; the one "
        f"with {least_s:.0f} s outbound takes {longer.inbound_time_s:.0f} s inbound"
    )
    return replace(longer, exists=False, why_not=why_not)


def _before_radial(hold: Hold, found: ExactCircuit, air: dict[str, Any]) -> ExactCircuit:
    """Turn inbound where the limiting radial is met, if that comes before the charted distance."""

    def beyond_deg(one: ExactCircuit) -> float:
        beyond = hold.beyond_radial_deg(one.outbound_end_along_nm, one.outbound_end_cross_nm)
        return -1.0 if beyond is None else beyond

    if not found.closes or beyond_deg(found) <= 0.0:
        return found
    shortest = exact_circuit(**air, outbound_along_nm=_LEAST_OUT_NM)
    if not shortest.closes or beyond_deg(shortest) >= 0.0:
        why_not = "no circuit in this wind turns inbound before the limiting radial"
        return replace(found, exists=False, why_not=why_not)
    along_nm = root_between(
        lambda nm: beyond_deg(exact_circuit(**air, outbound_along_nm=nm)),
        max(_LEAST_OUT_NM, -shortest.outbound_end_along_nm),
        -found.outbound_end_along_nm,
        within=1e-6,
    )
    return exact_circuit(**air, outbound_along_nm=along_nm)


#: The shortest circuit is asked for by an outbound leg that ends this far out, nautical miles.
_LEAST_OUT_NM = 0.05


def _by_distance(leg: LegLimit, air: dict[str, Any]) -> ExactCircuit:
    """Solve the circuit that turns inbound where the pilot reads the charted distance."""
    assert leg.distance_nm is not None
    along_nm = leg.distance_nm
    found = exact_circuit(**air, outbound_along_nm=along_nm)
    if leg.fix_dme_nm is None:
        return found
    # The reading lies along the bearing to the station, which the width of the pattern turns a little.
    for _ in range(_SETTLES_IN):
        over_nm = leg.out_nm(found.outbound_end_along_nm, found.outbound_end_cross_nm) - leg.distance_nm
        if not found.exists or abs(over_nm) < 1e-5 or not along_nm - over_nm > 0.0:
            break
        along_nm -= over_nm
        found = exact_circuit(**air, outbound_along_nm=along_nm)
    return found
