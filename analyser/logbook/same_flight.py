"""Whether two recordings are of one flight: told by time and position, not by the file.

A tablet's log, the same log packed or exported to another format, and a recording that was cut off and written
on are one flight. Two recordings are when nearly all of the shorter one lies in the time of the longer one and
at the same places.
"""

from __future__ import annotations

from datetime import datetime
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analyser.earth.angles import wrap180
from analyser.logbook.sessions import Trace

Relation = Literal["longer", "same", "shorter"]

#: Share of the shorter recording's time that must lie within the other one.
_SHARED_TIME = 0.9
#: With less in common nothing is concluded, seconds.
_LEAST_COMMON_S = 60.0
#: Share of the common places that must agree, and how closely: two receivers in one cockpit, not two aircraft.
_SHARED_PLACES = 0.9
_SAME_PLACE_NM = 0.05
#: Aircraft that stand beside each other agree all the time: something must have been flown.
_LEAST_EXTENT_NM = 0.3
#: Recordings that differ by less are equally long, seconds.
SAME_LENGTH_S = 5.0
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
    return "same" if abs(more) <= SAME_LENGTH_S else "longer" if more > 0 else "shorter"


def _same(one: NDArray[np.float64], other: NDArray[np.float64]) -> bool:
    begin, end = max(one[0, 0], other[0, 0]), min(one[-1, 0], other[-1, 0])
    shorter = min(np.ptp(one[:, 0]), np.ptp(other[:, 0]))
    if end - begin < max(_LEAST_COMMON_S, _SHARED_TIME * shorter):
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
    agree = float(np.mean(np.hypot(east, north) <= _SAME_PLACE_NM))
    return bool(agree >= _SHARED_PLACES and extent >= _LEAST_EXTENT_NM)
