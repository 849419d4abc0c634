"""Channels that stand still while the track shows that what they measure has changed."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analyser.earth.angles import wrap180
from analyser.logs.agreement import expected_bank
from analyser.logs.movement import Movement
from analyser.logs.raw import FloatArray, RawFlight
from analyser.logs.track import DIRECTIONS, WORDS, Notice

#: A value unchanged for less than this is no frozen channel, seconds.
_FROZEN_S = 20.0
#: What must have changed meanwhile, by the track, for a constant value to be called frozen.
_TRACK_CHANGE_DEG = 45.0
_BANK_CHANGE_DEG = 14.0
_SPEED_CHANGE_KT = 40.0
#: Speeds are steadier than directions, and jitter of positions in time makes theirs jitter: longer stretches, s.
_SPEED_FROZEN_S = 120.0


def without_frozen(
    name: str, values: FloatArray, flight: RawFlight, moved: Movement
) -> tuple[FloatArray | None, Notice | None]:
    """Blank out stretches where the value stood still and the track shows that it cannot have.

    Gives the channel's values, NaN where frozen, or None where too little is left to use.
    """
    if moved.index.size < 10 or not _can_freeze(name):
        return values, None
    known = np.flatnonzero(np.isfinite(values))
    if known.size < 3:
        return values, None
    told = values if known.size == values.size else values[known]
    # A stretch of equal values begins where one is first repeated and ends where one is not.
    same = np.concatenate([[False], told[1:] == told[:-1], [False]])
    edges = np.flatnonzero(same[1:] != same[:-1])
    starts, ends = edges[::2], edges[1::2]
    start_s, end_s = flight.time_s[known[starts]], flight.time_s[known[ends]]
    long = np.flatnonzero(end_s - start_s >= (_SPEED_FROZEN_S if name.endswith("_kt") else _FROZEN_S))
    if long.size == 0:
        return values, None
    blank = np.zeros(values.size, dtype=bool)
    total = 0.0
    flying, expected = moved.flying, expected_bank(moved)
    firsts = np.searchsorted(moved.time_s, start_s[long])
    lasts = np.searchsorted(moved.time_s, end_s[long] + 1e-9)
    worth = _changed_at_all(name, moved, expected, firsts, lasts)
    for run, first, last in zip(long[worth], firsts[worth], lasts[worth], strict=True):
        span = np.arange(first, last)[flying[first:last]]
        if span.size >= 5 and _must_have_changed(name, moved, expected, span):
            since_s = _departs(name, moved, expected, span)
            blank[int(np.searchsorted(flight.time_s, since_s)) : known[ends[run]] + 1] = True
            total += float(end_s[run]) - since_s
    if not blank.any():
        return values, None
    word = WORDS.get(name, name)
    aloft = float(moved.flying.mean()) * float(flight.time_s[-1] - flight.time_s[0])
    if total > 0.4 * aloft:
        return None, Notice(
            "channel-frozen", f"The logged {word} stands still while the aircraft turns; it was not used."
        )
    message = f"The logged {word} stands still for {total:.0f} s while the aircraft moves on; not used there."
    return np.where(blank, np.nan, values), Notice("channel-frozen", message)


def _can_freeze(name: str) -> bool:
    # An altitude or a temperature may stand still in truth.
    return name in (*DIRECTIONS[:3], "bank_deg", "ground_speed_kt", "ias_kt", "tas_kt")


def _departs(name: str, moved: Movement, expected: FloatArray, span: NDArray[np.intp]) -> float:
    """Find when the track leaves what the channel shows: until then the value may well be true."""
    if name in DIRECTIONS:
        away = np.abs(wrap180(moved.track_deg[span] - moved.track_deg[span[0]])) > 0.25 * _TRACK_CHANGE_DEG
    elif name == "bank_deg":
        away = np.abs(expected[span] - expected[span[0]]) > 0.5 * _BANK_CHANGE_DEG
    else:
        away = np.ones(span.size, dtype=bool)
    return float(moved.time_s[span[int(np.argmax(away))]]) if away.any() else float(moved.time_s[span[0]])


def _changed_at_all(
    name: str, moved: Movement, expected: FloatArray, firsts: NDArray[np.intp], lasts: NDArray[np.intp]
) -> NDArray[np.bool_]:
    """Pass over stretches in which what the channel measures cannot have changed enough: all at once, cheaply."""
    if name.endswith("_kt"):
        return np.ones(firsts.size, dtype=bool)
    series, least = (
        (expected, _BANK_CHANGE_DEG) if name == "bank_deg" else (moved.track_deg, _TRACK_CHANGE_DEG)
    )
    steps = np.diff(series)
    travel = np.concatenate(
        [[0.0], np.cumsum(np.abs(steps if name == "bank_deg" else wrap180(steps))), [0.0]]
    )
    return np.asarray(travel[np.maximum(lasts - 1, firsts)] - travel[firsts] > least)


def _must_have_changed(name: str, moved: Movement, expected: FloatArray, span: NDArray[np.intp]) -> bool:
    if name in DIRECTIONS:
        track = np.unwrap(moved.track_deg[span], period=360.0)
        return float(np.ptp(track)) > _TRACK_CHANGE_DEG
    if name == "bank_deg":
        low, high = np.percentile(expected[span], [15, 85])
        return float(high - low) > _BANK_CHANGE_DEG
    # Averaged over half a minute: positions that jitter in time make the speed by positions jitter too.
    width = max(1, min(span.size // 3, int(30.0 / max(float(np.median(np.diff(moved.time_s))), 0.1))))
    speed = np.convolve(moved.speed_kt[span], np.full(width, 1.0 / width), mode="valid")
    if name == "ground_speed_kt":
        return float(np.ptp(speed)) > _SPEED_CHANGE_KT
    # Wind changes the ground speed with direction: an airspeed is frozen only where the ground speed
    # changes on one and the same track.
    track = moved.track_deg[span][(width - 1) // 2 :][: speed.size]
    sector = (track // 30.0).astype(int)
    return any(float(np.ptp(speed[sector == s])) > _SPEED_CHANGE_KT for s in np.unique(sector))
