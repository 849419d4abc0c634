"""The window of the small pictures of the circuits: one scale for all of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from analyser.pages.phases import Span
from analyser.pages.series import HoldSeries

FloatArray = NDArray[np.float64]


def common_window(
    series: HoldSeries,
    spans: Sequence[Span],
    ideal: Mapping[int, tuple[FloatArray, FloatArray]],
    shape: float = 0.8,
) -> tuple[float, float, float, float]:
    """Return the window that shows any circuit over its exact one.

    Parameters
    ----------
    series : HoldSeries
    spans : sequence of Span
    ideal : mapping of circuit number to (east_nm, north_nm)
    shape : float
        Height of the picture in widths.

    Returns
    -------
    left, right, bottom, top : float
        Nautical miles from the fix.
    """
    parts = [series.within(s.start_s, s.end_s) for s in spans if s.circuit]
    east = np.concatenate(
        [*(series.east_nm[part] for part in parts), *(path[0] for path in ideal.values()), [0.0]]
    )
    north = np.concatenate(
        [*(series.north_nm[part] for part in parts), *(path[1] for path in ideal.values()), [0.0]]
    )
    across = 1.12 * max(float(np.ptp(east)), float(np.ptp(north)) / shape)
    up = across * shape
    middle = (float(east.max() + east.min()) / 2, float(north.max() + north.min()) / 2)
    return middle[0] - across / 2, middle[0] + across / 2, middle[1] - up / 2, middle[1] + up / 2
