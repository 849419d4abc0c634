"""The flown path, thinned, as the logbook keeps it: for small pictures, and to know a flight again."""

from __future__ import annotations

from typing import Any

import numpy as np

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
    time, east, north = (
        np.asarray(part)[inside] for part in (motion.time_s, motion.east_nm, motion.north_nm)
    )
    if time.size == 0:
        return []
    # The first sample of each step, whatever the log's own interval; and the last one of all.
    step = np.floor((time - time[0]) / STEP_S)
    chosen = np.flatnonzero(np.diff(step, prepend=-1.0) > 0)
    if chosen[-1] != time.size - 1:
        chosen = np.append(chosen, time.size - 1)
    return [
        [round(float(t), 1), round(float(x), 3), round(float(y), 3)]
        for t, x, y in zip(time[chosen], east[chosen], north[chosen], strict=True)
    ]


def _flight_path(track: Any) -> list[list[float]]:
    time = np.asarray(track.time_s)
    step = FLIGHT_STEP_S * max(1.0, np.ceil(np.ptp(time) / FLIGHT_STEP_S / MOST_POINTS))
    begins = track.start_utc.timestamp() if track.start_utc else 0.0
    first = step * np.ceil((begins + time[0]) / step) - begins
    # The ends belong to it: they tell how long the recording is.
    at = np.unique(np.concatenate([[time[0]], np.arange(first, time[-1], step), [time[-1]]]))
    lat = np.interp(at, time, track.lat_deg)
    lon = np.interp(at, time, np.unwrap(track.lon_deg, period=360.0))
    lon = (lon + 180.0) % 360.0 - 180.0
    return [
        [round(float(t), 1), round(float(x), 5), round(float(y), 5)]
        for t, x, y in zip(at, lat, lon, strict=True)
    ]
