"""Further instruments of an aircraft, each as imperfect as the real thing."""

from __future__ import annotations

import numpy as np

from tests.flights.air import density_ratio
from tests.flights.flight import Flight, Seen
from tests.flights.wander import FloatArray, wander_at


def lagged(time_s: FloatArray, value: FloatArray, lag_s: float) -> FloatArray:
    """Follow a series as a first-order instrument does."""
    found = np.empty_like(value)
    found[0] = value[0]
    for i in range(1, value.size):
        share = 1.0 - float(np.exp(-(time_s[i] - time_s[i - 1]) / lag_s))
        found[i] = found[i - 1] + share * (value[i] - found[i - 1])
    return found


def with_air_data(
    flight: Flight,
    seen: Seen,
    seed: int,
    *,
    variation_deg: float,
    ias_bias_kt: float = 0.6,
    heading_bias_deg: float = 0.4,
    temperature_off_isa_c: float = 4.0,
) -> Seen:
    """Add airspeed, heading, bank and temperature as a small aircraft's instruments would show them.

    The meridians' convergence between the flight's origin and the aircraft is left out of the heading: over
    ten miles at middle latitudes it is a sixth of a degree.
    """
    rng = np.random.default_rng([seed, 99])
    full, time_s = flight.series, seen.time_s

    def at(name: str) -> FloatArray:
        return np.interp(time_s, full["time_s"], full[name])

    height = at("altitude_ft")
    tas = at("tas_kt") + rng.normal(0.0, 0.3, time_s.size)
    root_density = np.sqrt([density_ratio(float(h)) for h in height])
    ias = lagged(time_s, tas * root_density, 0.8) + ias_bias_kt + rng.normal(0.0, 0.3, time_s.size)
    heading = at("heading_deg") - variation_deg + heading_bias_deg
    heading = heading + wander_at(rng, time_s, 0.4, 15.0)
    bank = at("bank_deg") + wander_at(rng, time_s, 0.3, 30.0) + rng.normal(0.0, 0.15, time_s.size)
    temperature = 15.0 - 0.0019812 * height + temperature_off_isa_c
    return Seen(
        seen.time_s,
        seen.lat_deg,
        seen.lon_deg,
        seen.altitude_ft,
        {
            "ias_kt": ias,
            "tas_kt": (ias - ias_bias_kt * 0.5) / root_density,
            "heading_magnetic_deg": heading % 360.0,
            "bank_deg": bank,
            "outside_air_temperature_c": temperature,
        },
    )
