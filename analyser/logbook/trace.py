"""The flown path, thinned, as the logbook keeps it beside a debrief: what thumbnails are drawn from."""

from __future__ import annotations

from typing import Any

import numpy as np

from analyser.logbook.sessions import Trace

#: A turn at three degrees a second is still round with a point every three seconds.
STEP_S = 3.0


def trace_of(debrief: Any) -> Trace:
    """Take the paths of a debrief's holds.

    Parameters
    ----------
    debrief : Debrief

    Returns
    -------
    list
        Per hold a list of [seconds from the log's first sample, NM east, NM north of the fix], from the
        arrival at the fix to the last passage of it.
    """
    return [_path(hold.flown) for hold in debrief.holds]


def _path(flown: Any) -> list[list[float]]:
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
