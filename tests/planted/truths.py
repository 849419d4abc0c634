"""What was truly flown, in the words of findings: levels, speeds, banks and tracks off the full-rate series."""

from __future__ import annotations

import math

import numpy as np

from tests.flights.air import density_ratio
from tests.flights.pilot import fold
from tests.flights.truth import NM, TrueCircuit, axes, between
from tests.planted.fly import Flown

READ_S = 5.0


def read(flown: Flown, name: str, start_s: float, end_s: float) -> np.ndarray:
    """Return a series as a needle is read: every second, over five of them."""
    series = flown.flight.series
    part = between(series, start_s, end_s)
    step_s = float(np.median(np.diff(series["time_s"][:100])))
    values = indicated_kt(flown)[part] if name == "ias_kt" else series[name][part]
    window = max(round(READ_S / step_s), 1)
    return np.convolve(values, np.full(window, 1.0 / window), mode="valid")[:: max(round(1.0 / step_s), 1)]


def indicated_kt(flown: Flown) -> np.ndarray:
    """Return the equivalent airspeed, which stands for the indicated one."""
    series = flown.flight.series
    heights = np.arange(0.0, 45_000.0, 50.0)
    roots = np.sqrt([density_ratio(float(height)) for height in heights])
    return np.asarray(series["tas_kt"] * np.interp(series["altitude_ft"], heights, roots))


def farthest(values: np.ndarray, reference: float) -> float:
    """Return the error farthest from a reference, signed."""
    errors = values - reference
    return float(errors[np.argmax(np.abs(errors))])


def outside_s(values: np.ndarray, reference: float, tolerance: float) -> float:
    """Return for how long a series read every second lay outside a tolerance."""
    return float((np.abs(values - reference) > tolerance).sum())


def course_off_rms_deg(flown: Flown, circuit: TrueCircuit, leave_out_nm: float) -> float | None:
    """Return the rms angle off the inbound course as seen from the fix, from the roll-out on."""
    if circuit.inbound_turn is None:
        return None
    truth = flown.truth
    along, across = axes(flown.flight.series, truth.fix_m, truth.course_deg)
    part = between(flown.flight.series, circuit.inbound_turn.end_s, circuit.end_s)
    a, c = along[part] / NM, across[part] / NM
    far = a < -leave_out_nm
    if not far.any():
        return None
    return float(np.sqrt(np.mean(np.degrees(np.arctan2(c[far], -a[far])) ** 2)))


def passed_right_nm(flown: Flown, circuit: TrueCircuit) -> float:
    """Return how far right of the inbound course the fix was passed at a circuit's end, left negative."""
    series = flown.flight.series
    _, across = axes(series, flown.truth.fix_m, flown.truth.course_deg)
    return float(np.interp(circuit.end_s, series["time_s"], across)) / NM


def bank_wander_deg(flown: Flown, circuit: TrueCircuit) -> float:
    """Return the rms of the bank about its mean in each turn, rolling in and out left out, both turns together."""
    found = []
    for turn in (circuit.outbound_turn, circuit.inbound_turn):
        if turn is not None:
            bank = np.abs(
                flown.flight.series["bank_deg"][between(flown.flight.series, turn.start_s, turn.end_s)]
            )
            # The least that was held for a while: a steep stretch within the turn does not end the rest of it.
            held = np.flatnonzero(bank >= 0.9 * np.quantile(bank, 0.3))
            found.append(float(np.var(bank[held[0] : held[-1] + 1])))
    return math.sqrt(sum(found) / len(found)) if found else 0.0


def correction_deg(circuit: TrueCircuit, course_deg: float) -> float:
    """Return the outbound heading less the reciprocal of the course, positive right."""
    return fold(circuit.outbound_heading_deg - course_deg - 180.0)


def asked_entries(flown: Flown) -> set[str]:
    """Return the entries that the heading over the fix asks for, the zone of five degrees included.

    The outbound course less the heading, mirrored for a left hold: 0 to 70 offset, −110 to 0 parallel, the rest direct
    (US Navy P-821, figure 3-8).
    """
    truth = flown.truth
    found = set()
    for off in (-5.0, 0.0, 5.0):
        d = truth.side * fold(truth.course_deg + 180.0 - truth.arrival_heading_deg) + off
        d = fold(d)
        found.add("offset" if 0.0 <= d <= 70.0 else "parallel" if -110.0 <= d < 0.0 else "direct")
    return found
