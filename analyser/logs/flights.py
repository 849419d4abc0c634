"""Which samples belong to one flight: repeats are left out, pauses joined, what lies hours apart parted."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import TypeVar

import numpy as np

from analyser.logs.limits import some_of
from analyser.logs.log_thresholds import FLIGHTS, LOOK
from analyser.logs.movement import offsets
from analyser.logs.raw import FloatArray, RawFlight
from analyser.logs.text import counted, shown
from analyser.logs.track import Notice

Name = TypeVar("Name", bound=Hashable)


def apart_at_one_time(flight: RawFlight) -> list[RawFlight]:
    """Part samples of the same time that lie where one aircraft cannot be at once: several aircraft, taken in turn.

    Times increase or are equal. Fewer such samples than an aircraft would leave change nothing.
    """
    flights: list[RawFlight] = []
    left = flight
    while len(flights) < FLIGHTS.most_at_once:
        # Those far from the first sample of the same time.
        again = np.flatnonzero(left.steps_s == 0.0) + 1
        first = np.searchsorted(left.time_s, left.time_s[again], side="left")
        other = again[left.apart_m(first, again) > FLIGHTS.elsewhere_m]
        if other.size < FLIGHTS.elsewhere_samples:
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
    """Make one of flights of one file that are one aircraft's: told twice, a recorder's pause, an end told again.

    Each has its times in order.
    """
    result: list[RawFlight] = []
    for flight in sorted(flights, key=lambda flight: float(flight.time_s[0])):
        for place in range(max(0, len(result) - FLIGHTS.look_back), len(result)):
            if (whole := _as_one(result[place], flight)) is not None:
                result[place] = whole
                break
        else:
            result.append(flight)
    return result


def _as_one(earlier: RawFlight, later: RawFlight) -> RawFlight | None:
    """Join a flight to one that began before it; None where it is another."""
    gap = float(later.time_s[0] - earlier.time_s[-1])
    if earlier.aircraft != later.aircraft or earlier.dated != later.dated or gap > FLIGHTS.pause_s:
        return None
    if gap >= 0.0:
        ends = earlier.lat_deg[-1:], earlier.lon_deg[-1:], later.lat_deg[:1], later.lon_deg[:1]
        near = np.hypot(*offsets(*ends))[0] <= FLIGHTS.beyond_m + FLIGHTS.fastest_mps * gap
        return concatenated([earlier, later]) if near else None
    more, fewer = sorted((earlier, later), key=_less_telling)
    if _at_one_place(more, fewer):
        message = (
            f"The file tells one flight twice: {_named(fewer, 'a track')} "
            f"({counted(fewer.samples, 'sample', 'samples')}) repeats another and was left out."
        )
        said = Notice("flight-repeated", message)
        return more if said in more.notices else more.with_notices((said,))
    inside = later.time_s <= earlier.time_s[-1]
    # Only one aircraft is at one place at a time, unless two are parked side by side.
    moved = float(later.moved_m[inside[1:]].sum()) > FLIGHTS.shared_m
    if not (moved and _at_one_place(earlier, later.take(inside))):
        return None
    message = (
        f"{_named(later, 'A track')} begins while another goes on, at the same places, so the two are one flight; of "
        f"the time that both tell, {counted(int(inside.sum()), 'sample', 'samples')} of it were left out."
    )
    return concatenated([earlier, later.take(~inside).saying("flight-repeated", message)])


def _named(flight: RawFlight, otherwise: str) -> str:
    return f"'{shown(flight.label, LOOK.label_letters)}'" if flight.label else otherwise


def _less_telling(flight: RawFlight) -> tuple[int, bool, int]:
    """Sort flights by how much they tell, the most first; a pressure altitude is what a pilot flies."""
    by_pressure = any(word in flight.label.lower() for word in ("press", "baro", "qne", "std"))
    return -flight.samples, not by_pressure, -len(flight.channels)


def _at_one_place(longer: RawFlight, shorter: RawFlight) -> bool:
    """Tell whether some samples of one flight lie, but for a few, where the other was at their times."""
    some = some_of(shorter.samples, FLIGHTS.compared_samples)
    time_s, when = longer.time_s, shorter.time_s[some]
    after = np.clip(np.searchsorted(time_s, when), 1, time_s.size - 1)
    inside = (
        (when >= time_s[0])
        & (when <= time_s[-1])
        & (time_s[after] - time_s[after - 1] <= FLIGHTS.longest_gap_s)
    )
    if inside.mean() < FLIGHTS.inside_share:
        return False
    there = (
        np.interp(when, time_s, longer.lat_deg),
        np.interp(when, time_s, np.unwrap(longer.lon_deg, period=360.0)),
    )
    apart_m = np.hypot(*offsets(*there, shorter.lat_deg[some], shorter.lon_deg[some]))[inside]
    return bool(np.median(apart_m) < FLIGHTS.same_m and np.percentile(apart_m, 90) < FLIGHTS.most_apart_m)


def concatenated(flights: Sequence[RawFlight]) -> RawFlight:
    """Put flights one after another; a channel or a column that one of them lacks is NaN there."""

    def together(values: Sequence[Mapping[Name, FloatArray]]) -> dict[Name, FloatArray]:
        absent = [np.full(flight.samples, np.nan) for flight in flights]
        return {
            name: np.concatenate([one.get(name, nan) for one, nan in zip(values, absent, strict=True)])
            for name in dict.fromkeys(name for one in values for name in one)
        }

    return replace(
        flights[0],
        time_s=np.concatenate([flight.time_s for flight in flights]),
        lat_deg=np.concatenate([flight.lat_deg for flight in flights]),
        lon_deg=np.concatenate([flight.lon_deg for flight in flights]),
        channels=together([flight.channels for flight in flights]),
        notices=tuple(dict.fromkeys(notice for flight in flights for notice in flight.notices)),
        sources=tuple(dict.fromkeys(source for flight in flights for source in flight.sources)),
        undecided=together([flight.undecided for flight in flights]),
        seams=tuple(seam for flight in flights for seam in flight.seams),
    )


def parted_by_holes(flight: RawFlight) -> list[RawFlight]:
    """Part a flight, its times increasing, where nothing was recorded for half an hour."""
    cuts = (np.flatnonzero(flight.steps_s > FLIGHTS.parting_s) + 1).tolist()
    if not cuts:
        return [flight]
    return [flight.take(np.arange(a, b)) for a, b in pairwise([0, *cuts, flight.samples])]
