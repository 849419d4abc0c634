"""The flown path, thinned, as the logbook keeps it: for small pictures, and to know a flight again in another file.

A flight is known by its track, time and position, and not by the file: a recorder may write it as several formats,
pack it, or go on after a pause.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from analyser.earth.angles import wrap180
from analyser.logbook.logbook_thresholds import SAME
from analyser.logbook.sessions import Trace

#: A turn at three degrees a second is still round with a point every three seconds.
STEP_S = 3.0
#: The whole flight's, at instants that every recording of it shares; of a long day no more than so many points.
FLIGHT_STEP_S = 10.0
MOST_POINTS = 720


def trace_of(debrief: Any) -> Trace:
    """Take the paths of a debrief: of each hold, from the arrival at the fix to the last passage of it, and of all."""
    return Trace([_hold_path(hold.flown) for hold in debrief.holds], _flight_path(debrief.track))


def _hold_path(flown: Any) -> list[list[float]]:
    motion = flown.motion
    inside = (motion.time_s >= flown.start_s) & (motion.time_s <= flown.end_s)
    time = motion.time_s[inside]
    # The first sample of each step, whatever the log's own interval; and the last one of all.
    chosen = np.diff(np.floor((time - time[:1]) / STEP_S), prepend=-1.0) > 0
    chosen[-1:] = True
    return _points(time[chosen], motion.east_nm[inside][chosen], motion.north_nm[inside][chosen], 3)


def _flight_path(track: Any) -> list[list[float]]:
    time = np.asarray(track.time_s)
    step = FLIGHT_STEP_S * max(1.0, np.ceil(np.ptp(time) / FLIGHT_STEP_S / MOST_POINTS))
    begins = track.start_utc.timestamp() if track.start_utc else 0.0
    first = step * np.ceil((begins + time[0]) / step) - begins
    # The ends belong to it: they tell how long the recording is.
    at = np.unique(np.concatenate([[time[0]], np.arange(first, time[-1], step), [time[-1]]]))
    lat = np.interp(at, time, track.lat_deg)
    lon = wrap180(np.interp(at, time, np.unwrap(track.lon_deg, period=360.0)))
    return _points(at, lat, lon, 5)


def _points(time_s: Any, first: Any, second: Any, decimals: int) -> list[list[float]]:
    return [
        [round(float(t), 1), round(float(x), decimals), round(float(y), decimals)]
        for t, x, y in zip(time_s, first, second, strict=True)
    ]


Relation = Literal["longer", "same", "shorter"]

_NM_PER_DEG = 60.0


def relation(
    new: Trace, new_start: datetime | None, kept: Trace, kept_start: datetime | None
) -> Relation | None:
    """Tell what a new recording is beside one that is kept.

    None where they are different flights, or one has a date and the other has none.
    """
    if (new_start is None) != (kept_start is None) or len(new.flight) < 3 or len(kept.flight) < 3:
        return None
    shift = (new_start - kept_start).total_seconds() if new_start and kept_start else 0.0
    one, other = np.array(new.flight, float), np.array(kept.flight, float)
    one[:, 0] += shift
    if not _same(one, other):
        return None
    more = np.ptp(one[:, 0]) - np.ptp(other[:, 0])
    return "same" if abs(more) <= SAME.length_s else "longer" if more > 0 else "shorter"


def _same(one: NDArray[np.float64], other: NDArray[np.float64]) -> bool:
    begin, end = max(one[0, 0], other[0, 0]), min(one[-1, 0], other[-1, 0])
    shorter = min(np.ptp(one[:, 0]), np.ptp(other[:, 0]))
    if end - begin < max(SAME.least_common_s, SAME.time_share * shorter):
        return False
    # At the instants of the coarser one, so that no corner of it is cut.
    coarse, fine = (
        (one, other) if np.median(np.diff(one[:, 0])) >= np.median(np.diff(other[:, 0])) else (other, one)
    )
    at = coarse[(coarse[:, 0] >= begin) & (coarse[:, 0] <= end)]
    if len(at) < 3:
        return False
    narrow = float(np.cos(np.radians(at[:, 1].mean())))
    north = _NM_PER_DEG * (at[:, 1] - np.interp(at[:, 0], fine[:, 0], fine[:, 1]))
    turned = np.unwrap(fine[:, 2], period=360.0)
    east = _NM_PER_DEG * narrow * wrap180(at[:, 2] - np.interp(at[:, 0], fine[:, 0], turned))
    extent = _NM_PER_DEG * max(np.ptp(at[:, 1]), narrow * np.ptp(np.unwrap(at[:, 2], period=360.0)))
    agree = float(np.mean(np.hypot(east, north) <= SAME.place_nm))
    return bool(agree >= SAME.places_share and extent >= SAME.least_extent_nm)
