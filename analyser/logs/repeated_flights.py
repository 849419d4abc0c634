"""One flight that a file tells twice: a track and the same points again, or one track for each source of height."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analyser.logs.movement import offsets
from analyser.logs.raw import RawFlight
from analyser.logs.text import counted, shown
from analyser.logs.track import Notice

#: Places of one time are the same when most lie no farther apart than this, metres.
_NEAR_M, _MOST_NEAR_M = 30.0, 120.0
#: So much of the shorter flight must lie inside the longer one.
_SHARE = 0.8
#: A flight of fewer samples is too short to be told again.
_FEWEST = 10
#: Between samples farther apart than this nothing is compared, seconds.
_GAP_S = 30.0
#: So many samples are compared, and so many flights each with so many before it.
_COMPARED, _MOST_FLIGHTS = 500, 60


def without_repeats(flights: Sequence[RawFlight]) -> list[RawFlight]:
    """Keep one of flights that are the same: the one with more samples, then more channels, then the earlier.

    Flights of different aircraft, where the file names them, are never the same.
    """
    if not 1 < len(flights) <= _MOST_FLIGHTS:
        return list(flights)
    order = sorted(range(len(flights)), key=lambda n: (*_worth(flights[n]), n))
    kept: dict[int, RawFlight] = {}
    for number in order:
        twin = next((k for k in kept if _same(flights[k], flights[number])), None)
        if twin is None:
            kept[number] = flights[number]
            continue
        label = f"'{shown(flights[number].label, 40)}' " if flights[number].label else ""
        message = (
            f"The file tells one flight twice: {label}({counted(flights[number].samples, 'sample', 'samples')}) "
            "repeats another and was left out."
        )
        notice = Notice("flight-repeated", message)
        if notice not in kept[twin].notices:
            kept[twin] = kept[twin].with_notices((notice,))
    return [kept[number] for number in sorted(kept)]


def _worth(flight: RawFlight) -> tuple[int, bool, int]:
    """Sort the more telling first; a pressure altitude is what a pilot flies."""
    pressure = any(word in flight.label.lower() for word in ("press", "baro", "qne", "std"))
    return -flight.samples, not pressure, -len(flight.channels)


def _same(longer: RawFlight, shorter: RawFlight) -> bool:
    if longer.aircraft != shorter.aircraft or longer.dated != shorter.dated:
        return False
    long_use, short_use = _usable(longer), _usable(shorter)
    if long_use.size < _FEWEST or short_use.size < _FEWEST:
        return False
    time_s = longer.time_s[long_use]
    some = short_use[:: max(1, short_use.size // _COMPARED)]
    when = shorter.time_s[some]
    after = np.clip(np.searchsorted(time_s, when), 1, time_s.size - 1)
    inside = (when >= time_s[0]) & (when <= time_s[-1]) & (time_s[after] - time_s[after - 1] <= _GAP_S)
    if inside.mean() < _SHARE:
        return False
    lat, lon = longer.lat_deg[long_use], np.unwrap(longer.lon_deg[long_use], period=360.0)
    east, north = offsets(
        np.interp(when, time_s, lat),
        np.interp(when, time_s, lon),
        shorter.lat_deg[some],
        shorter.lon_deg[some],
    )
    apart = np.hypot(east, north)[inside]
    return bool(np.median(apart) < _NEAR_M and np.percentile(apart, 90) < _MOST_NEAR_M)


def _usable(flight: RawFlight) -> np.ndarray[tuple[int], np.dtype[np.intp]]:
    """Return the samples that have a time and a place, in order of time."""
    use = np.flatnonzero(np.isfinite(flight.time_s + flight.lat_deg + flight.lon_deg))
    return use[np.argsort(flight.time_s[use], kind="stable")]
