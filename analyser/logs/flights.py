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
        # Those far from the first sample of the same time.
        again = np.flatnonzero(left.steps_s == 0.0) + 1
        first = np.searchsorted(left.time_s, left.time_s[again], side="left")
        other = again[left.apart_m(first, again) > _ELSEWHERE_M]
        if other.size < _ENOUGH:
            break
        flights.append(left.take(np.delete(np.arange(left.samples), other)))
        left = left.take(other)
    if not flights:
        return [flight]
    message = (
        f"Samples of the same times lie kilometres apart: taken as {len(flights) + 1} aircraft. "
        "If a column names them, say --columns id=…."
    )
    return [part.saying("aircraft-mixed", message) for part in (*flights, left)]


def joined(flights: Sequence[RawFlight]) -> list[RawFlight]:
    """Join flights of one file that are one aircraft's: a recorder's pause, a new segment, an end told again.

    Each has its times in order.
    """
    result: list[RawFlight] = []
    for flight in sorted(flights, key=lambda flight: float(flight.time_s[0])):
        recent = range(max(0, len(result) - _LOOK_BACK), len(result))
        place = next((i for i in recent if _follows(result[i], flight)), None)
        if place is None:
            result.append(flight)
        else:
            result[place] = concatenated([result[place], _what_follows(result[place], flight)])
    return result


def _follows(earlier: RawFlight, later: RawFlight) -> bool:
    gap = float(later.time_s[0] - earlier.time_s[-1])
    if not _may_be_one(earlier, later) or gap > _PAUSE_S:
        return False
    if gap < 0.0:
        inside = later.time_s <= earlier.time_s[-1]
        # Only one aircraft is at one place at a time, unless two are parked side by side.
        moved = float(later.moved_m[inside[1:]].sum()) > _SHARED_M
        return moved and _at_one_place(earlier, later.take(inside))
    east, north = offsets(earlier.lat_deg[-1:], earlier.lon_deg[-1:], later.lat_deg[:1], later.lon_deg[:1])
    return bool(np.hypot(east, north)[0] <= _BEYOND_M + _FAST * gap)


def _may_be_one(one: RawFlight, other: RawFlight) -> bool:
    return one.aircraft == other.aircraft and one.dated == other.dated


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

    def together(values: Sequence[Mapping[Name, FloatArray]]) -> dict[Name, FloatArray]:
        absent = [np.full(flight.samples, np.nan) for flight in flights]
        return {
            name: np.concatenate([one.get(name, nan) for one, nan in zip(values, absent, strict=True)])
            for name in dict.fromkeys(name for one in values for name in one)
        }

    undecided = together(
        [
            {(one.name, one.kind, one.channel, one.column): one.values for one in flight.undecided}
            for flight in flights
        ]
    )
    return replace(
        flights[0],
        time_s=np.concatenate([flight.time_s for flight in flights]),
        lat_deg=np.concatenate([flight.lat_deg for flight in flights]),
        lon_deg=np.concatenate([flight.lon_deg for flight in flights]),
        channels=together([flight.channels for flight in flights]),
        notices=tuple(dict.fromkeys(notice for flight in flights for notice in flight.notices)),
        sources=tuple(dict.fromkeys(source for flight in flights for source in flight.sources)),
        undecided=tuple(Undecided(*key, values) for key, values in undecided.items()),
        seams=tuple(seam for flight in flights for seam in flight.seams),
    )


def parted_by_holes(flight: RawFlight) -> list[RawFlight]:
    """Part a flight, its times increasing, where nothing was recorded for half an hour."""
    cuts = (np.flatnonzero(flight.steps_s > PARTING_S) + 1).tolist()
    if not cuts:
        return [flight]
    return [flight.take(np.arange(a, b)) for a, b in pairwise([0, *cuts, flight.samples])]


def without_repeats(flights: Sequence[RawFlight]) -> list[RawFlight]:
    """Keep one of flights that are the same: the one with more samples, then more channels, then the earlier.

    Flights of different aircraft, where the file names them, are never the same.
    """
    if not 1 < len(flights) <= _MOST_FLIGHTS:
        return list(flights)
    kept: dict[int, RawFlight] = {}
    for number, flight in sorted(enumerate(flights), key=lambda one: _less_telling(one[1])):
        twin = next((k for k in kept if _same(flights[k], flight)), None)
        if twin is None:
            kept[number] = flight
            continue
        label = f"'{shown(flight.label, 40)}'" if flight.label else "a track"
        message = (
            f"The file tells one flight twice: {label} ({counted(flight.samples, 'sample', 'samples')}) "
            "repeats another and was left out."
        )
        notice = Notice("flight-repeated", message)
        if notice not in kept[twin].notices:
            kept[twin] = kept[twin].with_notices((notice,))
    return [kept[number] for number in sorted(kept)]


def _less_telling(flight: RawFlight) -> tuple[int, bool, int]:
    """Sort flights by how much they tell, the most first; a pressure altitude is what a pilot flies."""
    by_pressure = any(word in flight.label.lower() for word in ("press", "baro", "qne", "std"))
    return -flight.samples, not by_pressure, -len(flight.channels)


def _same(longer: RawFlight, shorter: RawFlight) -> bool:
    few = min(_usable(longer).size, _usable(shorter).size) < _FEWEST
    return _may_be_one(longer, shorter) and not few and _at_one_place(longer, shorter)


def _at_one_place(longer: RawFlight, shorter: RawFlight) -> bool:
    """Tell whether some samples of one flight lie, but for a few, where the other was at their times."""
    long_use, short_use = _usable(longer), _usable(shorter)
    time_s = longer.time_s[long_use]
    some = short_use[:: max(1, short_use.size // _COMPARED)]
    when = shorter.time_s[some]
    after = np.clip(np.searchsorted(time_s, when), 1, time_s.size - 1)
    inside = (when >= time_s[0]) & (when <= time_s[-1]) & (time_s[after] - time_s[after - 1] <= _GAP_S)
    if inside.mean() < _SHARE:
        return False
    lat, lon = longer.lat_deg[long_use], np.unwrap(longer.lon_deg[long_use], period=360.0)
    there = np.interp(when, time_s, lat), np.interp(when, time_s, lon)
    apart_m = np.hypot(*offsets(*there, shorter.lat_deg[some], shorter.lon_deg[some]))[inside]
    return bool(np.median(apart_m) < _SAME_M and np.percentile(apart_m, 90) < _MOST_APART_M)


def _usable(flight: RawFlight) -> NDArray[np.intp]:
    """Return the samples that have a time and a place, in order of time."""
    use = np.flatnonzero(np.isfinite([flight.time_s, flight.lat_deg, flight.lon_deg]).all(axis=0))
    return use[np.argsort(flight.time_s[use], kind="stable")]
