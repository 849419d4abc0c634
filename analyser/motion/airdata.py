"""Air data that a log carries, put to the proof against the track before it is believed."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analyser.frozen import dataclass
from analyser.logs.track import FloatArray, Notice, Track
from analyser.logs.track_errors import robust_sigma
from analyser.motion.motion import running_mean
from analyser.motion.survey import on_grid

#: A channel must fill at least this share of a stretch to be used.
LEAST_FILLED = 0.8
#: Lags of a logged channel behind the track that are looked for, seconds.
LAGS_S = np.arange(-6.0, 6.5, 0.5)
#: A logged bank is held against the track's by its mean over so many seconds, and known between these, degrees.
MEAN_OVER_S, BANK_SD_DEG = 60, (0.15, 1.0)
#: Its bias shows on so many seconds of level flight. It follows the track where it is so like the track's bank and goes
#: by as many degrees for each of it; a lag of so many seconds, or a bias of as many degrees, is worth a word.
LEVEL_S, LEAST_LIKENESS, SLOPES, WORTH_A_WORD = 20, 0.93, (0.8, 1.25), 1.5
#: A channel has so many values, and one within so many seconds of most of a stretch, this much beside it included.
FEWEST_VALUES, REACH_S, BESIDE_S = 5, 6.0, 5.0


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
    inside = (track.time_s >= grid_s[0] - BESIDE_S) & (track.time_s <= grid_s[-1] + BESIDE_S)
    known = np.isfinite(values) & inside
    if known.sum() < FEWEST_VALUES or not _dense(track.time_s[known], grid_s) or np.ptp(values[known]) == 0.0:
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
    return bool(np.mean((gap <= REACH_S) & np.isfinite(nearest)) >= LEAST_FILLED)


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
    bias = float(np.median(values[level])) if level.sum() >= LEVEL_S else 0.0
    likeness = float(np.corrcoef(values, derived_deg)[0, 1]) if np.std(values) > 0.5 else 0.0
    slope = float(np.polyfit(derived_deg, values, 1)[0]) if np.std(derived_deg) > 1.0 else 0.0
    if likeness < LEAST_LIKENESS or not SLOPES[0] <= slope <= SLOPES[1]:
        said = f"the logged bank does not follow the track (likeness {likeness:.2f}, slope {slope:.2f}): not used"
        return None, Notice("bank-not-used", said)
    notice = None
    if max(abs(LAGS_S[best]), abs(bias)) >= WORTH_A_WORD:
        said = (
            f"the logged bank lags the track by {LAGS_S[best]:.1f} s and reads {bias:+.1f}° on straight legs"
        )
        notice = Notice("bank-corrected", said + ": both were taken out")
    values = values - bias
    slow = running_mean(values - derived_deg, MEAN_OVER_S)
    return Proved(values, float(np.clip(robust_sigma(slow), *BANK_SD_DEG))), notice
