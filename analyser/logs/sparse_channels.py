"""Rows that carry values and no position: recorders that write each sensor as it speaks.

Their values are brought to the positions beside them in time; without that an altitude with rows of its own
would be lost with them.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analyser.earth.angles import wrap180, wrap360
from analyser.logs.raw import FloatArray, RawFlight
from analyser.logs.text import counted
from analyser.logs.track import CHANNELS, DIRECTIONS

_CIRCULAR = (*DIRECTIONS, "heading_unmarked_deg", "track_magnetic_deg")
#: Between two values no farther apart than so many intervals of the positions the time between is filled, …
_BETWEEN = 2.0
#: … and never across more seconds than this.
_MOST_S = 10.0


def carry_values(flight: RawFlight) -> RawFlight:
    """Bring values from rows without a position to the rows that have one.

    The rows, in any order, stay; those without a position are dropped later.
    """
    timed = np.isfinite(flight.time_s)
    placed = timed & np.isfinite(flight.lat_deg) & np.isfinite(flight.lon_deg)
    rest = timed & ~placed
    if not rest.any() or placed.sum() < 2:
        return flight
    steps = np.diff(np.sort(flight.time_s[placed]))
    reach = min(_BETWEEN * float(np.median(steps)), _MOST_S)
    channels, carried, carry = dict(flight.channels), [], np.zeros(flight.samples, dtype=bool)
    for name, values in flight.channels.items():
        if np.isfinite(values[rest]).any():
            carry |= rest & np.isfinite(values)
            carried.append(CHANNELS[name].word if name in CHANNELS else name)
            channels[name] = _carried(values, flight.time_s, placed, reach, circular=name in _CIRCULAR)
    undecided = list(flight.undecided)
    for place, column in enumerate(undecided):
        if np.isfinite(column.values[rest]).any():
            carry |= rest & np.isfinite(column.values)
            carried.append(f"'{column.name}'")
            values = _carried(column.values, flight.time_s, placed, reach, nearest=True)
            undecided[place] = replace(column, values=values)
    if not carried:
        return flight
    message = (
        f"{counted(int(carry.sum()), 'row carries', 'rows carry')} values and no position; {', '.join(carried)} "
        f"{'was' if len(carried) == 1 else 'were'} brought to the positions beside them in time."
    )
    return flight.saying("values-carried", message, channels=channels, undecided=tuple(undecided))


def _carried(
    values: FloatArray,
    time_s: FloatArray,
    placed: NDArray[np.bool_],
    reach: float,
    *,
    circular: bool = False,
    nearest: bool = False,
) -> FloatArray:
    """Fill rows with a position between neighbouring values; a value alone goes to the nearest such row."""
    known = np.flatnonzero(np.isfinite(values) & np.isfinite(time_s))
    known = known[np.argsort(time_s[known], kind="stable")]
    when, what = time_s[known], values[known]
    open_ = np.flatnonzero(placed & ~np.isfinite(values))
    after = np.searchsorted(when, time_s[open_])
    left, right = np.clip(after - 1, 0, known.size - 1), np.clip(after, 0, known.size - 1)
    gap, since = when[right] - when[left], time_s[open_] - when[left]
    share = np.clip(np.divide(since, gap, out=np.zeros_like(gap), where=gap > 0.0), 0.0, 1.0)
    if nearest:
        share = np.round(share)
    rise = what[right] - what[left]
    rise = wrap180(rise) if circular else rise
    filled = what[left] + share * rise
    between = np.where(gap > 0.0, gap <= reach, np.abs(since) <= 0.25 * reach)
    result = values.copy()
    result[open_] = np.where(between, wrap360(filled) if circular else filled, np.nan)
    return _left_over(result, values, time_s, placed, 0.25 * reach)


def _left_over(
    result: FloatArray, values: FloatArray, time_s: FloatArray, placed: NDArray[np.bool_], near_s: float
) -> FloatArray:
    """Give values too far apart to fill between to the row with a position that is nearest in time."""
    rows = np.flatnonzero(placed)
    rows = rows[np.argsort(time_s[rows], kind="stable")]
    loose = np.flatnonzero(~placed & np.isfinite(values) & np.isfinite(time_s))
    after = np.clip(np.searchsorted(time_s[rows], time_s[loose]), 1, rows.size - 1)
    before_is_nearer = time_s[loose] - time_s[rows[after - 1]] <= time_s[rows[after]] - time_s[loose]
    to = np.where(before_is_nearer, rows[after - 1], rows[after])
    give = (np.abs(time_s[to] - time_s[loose]) <= near_s) & ~np.isfinite(result[to])
    result[to[give]] = values[loose[give]]
    return result
