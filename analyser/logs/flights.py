"""Which samples belong to one flight: joining what a recorder paused, parting what lies hours apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from analyser.logs.movement import offsets
from analyser.logs.raw import RawFlight
from analyser.logs.track import Notice

#: A hole longer than this parts two flights, seconds: longer than any hold's circuit by far.
PARTING_S = 1800.0
#: Recorders that pause go on within this time, seconds …
_PAUSE_S = 600.0
#: … and within what an airliner flies meanwhile, m/s and m.
_FAST, _NEAR_M = 300.0, 500.0
#: Samples of one time farther apart than this, in metres, and as many as this are another aircraft's.
_ELSEWHERE_M, _ENOUGH = 2_000.0, 20
#: More aircraft at one time than this are noise.
_MOST_AT_ONCE = 20
#: A flight is joined to one of so many begun before it.
_LOOK_BACK = 50


def apart_at_one_time(flight: RawFlight) -> list[RawFlight]:
    """Part samples of the same time that lie where one aircraft cannot be at once: two aircraft, taken in turn.

    Parameters
    ----------
    flight : RawFlight
        Times increasing or equal.

    Returns
    -------
    list of RawFlight
        The flight alone where there are too few such samples to be one.
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
    said = Notice("aircraft-mixed", message)
    return [replace(part, notices=(*part.notices, said)) for part in (*flights, left)]


def _elsewhere(flight: RawFlight) -> NDArray[np.intp]:
    """Return the samples far from the first sample of the same time."""
    again = np.flatnonzero(flight.steps_s == 0.0) + 1
    first = np.searchsorted(flight.time_s, flight.time_s[again], side="left")
    away = np.hypot(
        *offsets(flight.lat_deg[first], flight.lon_deg[first], flight.lat_deg[again], flight.lon_deg[again])
    )
    return np.asarray(again[away > _ELSEWHERE_M])


def joined(flights: Sequence[RawFlight]) -> list[RawFlight]:
    """Join flights of one file that follow one another: a recorder's pause, or a new segment for each run.

    Parameters
    ----------
    flights : sequence of RawFlight
        Each with times in order.

    Returns
    -------
    list of RawFlight
    """
    ordered = sorted(flights, key=lambda flight: float(flight.time_s[0]))
    result: list[RawFlight] = []
    for flight in ordered:
        recent = range(max(0, len(result) - _LOOK_BACK), len(result))
        place = next((i for i in recent if _follows(result[i], flight)), None)
        if place is None:
            result.append(flight)
        else:
            result[place] = _concatenated(result[place], flight)
    return result


def _follows(earlier: RawFlight, later: RawFlight) -> bool:
    gap = float(later.time_s[0] - earlier.time_s[-1])
    if (
        earlier.dated != later.dated
        or earlier.aircraft != later.aircraft
        or later.undecided
        or not 0.0 <= gap <= _PAUSE_S
    ):
        return False
    east, north = offsets(earlier.lat_deg[-1:], earlier.lon_deg[-1:], later.lat_deg[:1], later.lon_deg[:1])
    return bool(np.hypot(east, north)[0] <= _NEAR_M + _FAST * gap)


def _concatenated(one: RawFlight, two: RawFlight) -> RawFlight:
    channels = {
        name: np.concatenate(
            [flight.channels.get(name, np.full(flight.samples, np.nan)) for flight in (one, two)]
        )
        for name in {**one.channels, **two.channels}
    }
    return replace(
        one,
        time_s=np.concatenate([one.time_s, two.time_s]),
        lat_deg=np.concatenate([one.lat_deg, two.lat_deg]),
        lon_deg=np.concatenate([one.lon_deg, two.lon_deg]),
        channels=channels,
        notices=tuple(dict.fromkeys((*one.notices, *two.notices))),
        sources=tuple(dict.fromkeys((*one.sources, *two.sources))),
        undecided=(),
        seams=(*one.seams, *two.seams),
    )


def parted_by_holes(flight: RawFlight) -> list[RawFlight]:
    """Part a flight where nothing was recorded for half an hour.

    Parameters
    ----------
    flight : RawFlight
        Times increasing.

    Returns
    -------
    list of RawFlight
    """
    cuts = np.flatnonzero(flight.steps_s > PARTING_S) + 1
    if cuts.size == 0:
        return [flight]
    edges = [0, *cuts.tolist(), flight.samples]
    return [flight.take(np.arange(a, b)) for a, b in pairwise(edges)]
