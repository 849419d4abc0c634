"""Air data that a log carries, put to the proof against the track before it is believed."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analyser.frozen import dataclass
from analyser.logs.track import FloatArray, Notice, Track
from analyser.logs.track_errors import robust_sigma
from analyser.motion.motion import running_mean
from analyser.motion.motion_thresholds import AIRDATA
from analyser.motion.survey import on_grid

#: Lags of a logged channel behind the track that are looked for, seconds.
LAGS_S = np.arange(-6.0, 6.5, 0.5)


@dataclass(frozen=True)
class Proved:
    """A logged channel laid on the grid, its lag and bias against the track taken out."""

    #: (n,)
    values: FloatArray
    #: How far a minute's mean is off what the track says, the track's own part included: quicker errors of either
    #: average out over a turn, while an instrument's slow ones and a wrong scale stay.
    sd: float


def logged(track: Track, name: str, grid_s: FloatArray) -> FloatArray | None:
    """Lay a logged channel, one of ``CHANNELS``, on the grid, (n,); None where it is absent, sparse or stuck."""
    values = track.channels.get(name)
    if values is None:
        return None
    inside = (track.time_s >= grid_s[0] - AIRDATA.beside_s) & (track.time_s <= grid_s[-1] + AIRDATA.beside_s)
    known = np.isfinite(values) & inside
    if (
        known.sum() < AIRDATA.fewest_values
        or not _dense(track.time_s[known], grid_s)
        or np.ptp(values[known]) == 0.0
    ):
        return None
    if name.startswith("heading"):
        unwound = np.unwrap(values[known], period=360.0)
        return np.asarray(np.interp(grid_s, track.time_s[known], unwound) % 360.0)
    return on_grid(track.time_s[inside], values[inside], grid_s)


def _dense(time_s: FloatArray, grid_s: FloatArray) -> bool:
    """Tell whether most of the grid has a value near it."""
    nearest = np.interp(grid_s, time_s, time_s, left=np.inf, right=np.inf)
    after = np.clip(np.searchsorted(time_s, grid_s), 0, time_s.size - 1)
    before = np.clip(after - 1, 0, time_s.size - 1)
    gap = np.minimum(np.abs(time_s[after] - grid_s), np.abs(time_s[before] - grid_s))
    return bool(np.mean((gap <= AIRDATA.reach_s) & np.isfinite(nearest)) >= AIRDATA.least_filled_share)


def prove_bank(
    bank_deg: FloatArray, derived_deg: FloatArray, level: NDArray[np.bool_]
) -> tuple[Proved | None, Notice | None]:
    """Hold a logged bank against the bank that the track demands, both positive right on a grid of one second.

    Where the aircraft flew ``level`` the logged bank shows its bias. None where the channel does not follow the track;
    a notice where what was found out matters.
    """
    grid = np.arange(bank_deg.size, dtype=float)
    shifted = [np.interp(grid + lag, grid, bank_deg) for lag in LAGS_S]
    spread = [float(np.std(s - derived_deg)) for s in shifted]
    best = int(np.argmin(spread))
    values = shifted[best]
    bias = float(np.median(values[level])) if level.sum() >= AIRDATA.level_s else 0.0
    likeness = float(np.corrcoef(values, derived_deg)[0, 1]) if np.std(values) > 0.5 else 0.0
    slope = float(np.polyfit(derived_deg, values, 1)[0]) if np.std(derived_deg) > 1.0 else 0.0
    if likeness < AIRDATA.least_correlation or not AIRDATA.bank_slopes[0] <= slope <= AIRDATA.bank_slopes[1]:
        said = f"the logged bank does not follow the track (likeness {likeness:.2f}, slope {slope:.2f}): not used"
        return None, Notice("bank-not-used", said)
    notice = None
    if max(abs(LAGS_S[best]), abs(bias)) >= AIRDATA.worth_a_word_deg:
        said = (
            f"the logged bank lags the track by {LAGS_S[best]:.1f} s and reads {bias:+.1f}° on straight legs"
        )
        notice = Notice("bank-corrected", said + ": both were taken out")
    values = values - bias
    slow = running_mean(values - derived_deg, AIRDATA.mean_over_s)
    return Proved(values, float(np.clip(robust_sigma(slow), *AIRDATA.bank_sd_deg))), notice
