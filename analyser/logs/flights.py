"""Which samples belong to one flight: repeats are left out, pauses joined, what lies hours apart parted."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from analyser.logs.movement import offsets
from analyser.logs.raw import FloatArray, RawFlight, Undecided
from analyser.logs.text import counted, shown
from analyser.logs.track import Notice

Name = TypeVar("Name", bound=Hashable)

#: A hole longer than this parts two flights, seconds: longer than any hold's circuit by far.
PARTING_S = 1800.0
#: Recorders that pause go on within this time, seconds …
_PAUSE_S = 600.0
#: … and within what an airliner flies meanwhile, m/s and m.
_FAST, _BEYOND_M = 300.0, 500.0
#: Samples of one time farther apart than this, in metres, and as many as this are another aircraft's.
_ELSEWHERE_M, _ENOUGH = 2_000.0, 20
#: More aircraft at one time than this are noise.
_MOST_AT_ONCE = 20
#: A flight is joined to one of so many begun before it.
_LOOK_BACK = 50
#: Places of one time are the same when most lie no farther apart than this, metres.
_SAME_M, _MOST_APART_M = 30.0, 120.0
#: Two tracks are parts of one flight where one repeats so much of the other's way, metres.
_SHARED_M = 200.0
#: So much of the shorter flight must lie inside the longer one.
_SHARE = 0.8
#: A flight of fewer samples is too short to be told again.
_FEWEST = 10
#: Between samples farther apart than this nothing is compared, seconds.
_GAP_S = 30.0
#: So many samples are compared, and so many flights each with so many before it.
_COMPARED, _MOST_FLIGHTS = 500, 60


def apart_at_one_time(flight: RawFlight) -> list[RawFlight]:
    """Part samples of the same time that lie where one aircraft cannot be at once: several aircraft, taken in turn.

    Times increase or are equal. Fewer such samples than an aircraft would leave change nothing.
    """
    flights: list[RawFlight] = []
    left = flight
    while len(flights) < _MOST_AT_ONCE:
        other = _elsewhere(left)
        if other.size < _ENOUGH:
            break
        rest = np.ones(left.samples, dtype=bool)
        rest[other] = False
        flights.append(left.take(rest))
        left = left.take(other)
    if not flights:
        return [flight]
    message = (
        f"Samples of the same times lie kilometres apart: taken as {len(flights) + 1} aircraft. "
        "If a column names them, say --columns id=…."
    )
    return [part.saying("aircraft-mixed", message) for part in (*flights, left)]


def _elsewhere(flight: RawFlight) -> NDArray[np.intp]:
    """Return the samples far from the first sample of the same time."""
    again = np.flatnonzero(flight.steps_s == 0.0) + 1
    first = np.searchsorted(flight.time_s, flight.time_s[again], side="left")
    away = np.hypot(
        *offsets(flight.lat_deg[first], flight.lon_deg[first], flight.lat_deg[again], flight.lon_deg[again])
    )
    return np.asarray(again[away > _ELSEWHERE_M])


def joined(flights: Sequence[RawFlight]) -> list[RawFlight]:
    """Join flights of one file that are one aircraft's: a recorder's pause, a new segment, an end told again.

    Each has its times in order.
    """
    ordered = sorted(flights, key=lambda flight: float(flight.time_s[0]))
    result: list[RawFlight] = []
    for flight in ordered:
        recent = range(max(0, len(result) - _LOOK_BACK), len(result))
        place = next((i for i in recent if _follows(result[i], flight)), None)
        if place is None:
            result.append(flight)
        else:
            result[place] = concatenated([result[place], _what_follows(result[place], flight)])
    return result


def _follows(earlier: RawFlight, later: RawFlight) -> bool:
    gap = float(later.time_s[0] - earlier.time_s[-1])
    if earlier.dated != later.dated or earlier.aircraft != later.aircraft or gap > _PAUSE_S:
        return False
    if gap < 0.0:
        inside = later.time_s <= earlier.time_s[-1]
        apart = _apart_m(earlier, later.take(inside))
        known = np.isfinite(apart)
        # Only one aircraft is at one place at a time, unless two are parked side by side.
        moved = float(later.moved_m[inside[1:]].sum()) > _SHARED_M
        return bool(moved and known.mean() >= _SHARE and _near(apart[known]))
    east, north = offsets(earlier.lat_deg[-1:], earlier.lon_deg[-1:], later.lat_deg[:1], later.lon_deg[:1])
    return bool(np.hypot(east, north)[0] <= _BEYOND_M + _FAST * gap)


def _what_follows(earlier: RawFlight, later: RawFlight) -> RawFlight:
    """Leave out what a flight repeats of the one that it follows."""
    if later.time_s[0] >= earlier.time_s[-1]:
        return later
    beyond = later.time_s > earlier.time_s[-1]
    label = f"'{shown(later.label, 40)}'" if later.label else "A track"
    message = (
        f"{label} begins while another goes on, at the same places, so the two are one flight; of the time that both "
        f"tell, {counted(int((~beyond).sum()), 'sample', 'samples')} of it were left out."
    )
    return later.take(beyond).saying("flight-repeated", message)


def concatenated(flights: Sequence[RawFlight]) -> RawFlight:
    """Put flights one after another; a channel or a column that one of them lacks is NaN there."""
    undecided = [
        {(one.name, one.kind, one.channel, one.column): one.values for one in flight.undecided}
        for flight in flights
    ]
    return replace(
        flights[0],
        time_s=np.concatenate([flight.time_s for flight in flights]),
        lat_deg=np.concatenate([flight.lat_deg for flight in flights]),
        lon_deg=np.concatenate([flight.lon_deg for flight in flights]),
        channels=_together(flights, [flight.channels for flight in flights]),
        notices=tuple(dict.fromkeys(notice for flight in flights for notice in flight.notices)),
        sources=tuple(dict.fromkeys(source for flight in flights for source in flight.sources)),
        undecided=tuple(Undecided(*key, values) for key, values in _together(flights, undecided).items()),
        seams=tuple(seam for flight in flights for seam in flight.seams),
    )


def _together(
    flights: Sequence[RawFlight], values: Sequence[Mapping[Name, FloatArray]]
) -> dict[Name, FloatArray]:
    names = dict.fromkeys(name for named in values for name in named)
    return {
        name: np.concatenate(
            [
                named.get(name, np.full(flight.samples, np.nan))
                for flight, named in zip(flights, values, strict=True)
            ]
        )
        for name in names
    }


def parted_by_holes(flight: RawFlight) -> list[RawFlight]:
    """Part a flight, its times increasing, where nothing was recorded for half an hour."""
    cuts = np.flatnonzero(flight.steps_s > PARTING_S) + 1
    if cuts.size == 0:
        return [flight]
    edges = [0, *cuts.tolist(), flight.samples]
    return [flight.take(np.arange(a, b)) for a, b in pairwise(edges)]


def without_repeats(flights: Sequence[RawFlight]) -> list[RawFlight]:
    """Keep one of flights that are the same: the one with more samples, then more channels, then the earlier.

    Flights of different aircraft, where the file names them, are never the same.
    """
    if not 1 < len(flights) <= _MOST_FLIGHTS:
        return list(flights)
    # The more telling first; a pressure altitude is what a pilot flies.
    order = sorted(
        range(len(flights)),
        key=lambda n: (-flights[n].samples, not _by_pressure(flights[n]), -len(flights[n].channels), n),
    )
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


def _by_pressure(flight: RawFlight) -> bool:
    return any(word in flight.label.lower() for word in ("press", "baro", "qne", "std"))


def _same(longer: RawFlight, shorter: RawFlight) -> bool:
    if longer.aircraft != shorter.aircraft or longer.dated != shorter.dated:
        return False
    if min(_usable(longer).size, _usable(shorter).size) < _FEWEST:
        return False
    apart = _apart_m(longer, shorter)
    inside = np.isfinite(apart)
    return bool(inside.mean() >= _SHARE and _near(apart[inside]))


def _near(apart_m: FloatArray) -> bool:
    return bool(np.median(apart_m) < _SAME_M and np.percentile(apart_m, 90) < _MOST_APART_M)


def _apart_m(longer: RawFlight, shorter: RawFlight) -> FloatArray:
    """Return how far some samples of one flight lie from the other's place at their times; NaN where it has none."""
    long_use, short_use = _usable(longer), _usable(shorter)
    time_s = longer.time_s[long_use]
    some = short_use[:: max(1, short_use.size // _COMPARED)]
    when = shorter.time_s[some]
    after = np.clip(np.searchsorted(time_s, when), 1, time_s.size - 1)
    inside = (when >= time_s[0]) & (when <= time_s[-1]) & (time_s[after] - time_s[after - 1] <= _GAP_S)
    lat, lon = longer.lat_deg[long_use], np.unwrap(longer.lon_deg[long_use], period=360.0)
    east, north = offsets(
        np.interp(when, time_s, lat),
        np.interp(when, time_s, lon),
        shorter.lat_deg[some],
        shorter.lon_deg[some],
    )
    return np.where(inside, np.hypot(east, north), np.nan)


def _usable(flight: RawFlight) -> NDArray[np.intp]:
    """Return the samples that have a time and a place, in order of time."""
    use = np.flatnonzero(np.isfinite(flight.time_s + flight.lat_deg + flight.lon_deg))
    return use[np.argsort(flight.time_s[use], kind="stable")]
