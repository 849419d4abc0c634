"""What the path's smoothing makes of a roll: measured on made-up rolls with the log's own sampling and noise."""

from __future__ import annotations

import numpy as np

from analyser.frozen import dataclass
from analyser.logs.track import FloatArray
from analyser.motion.motion_thresholds import ROLL, SPLINE
from analyser.motion.spline import fit_spline

#: Lengths of the rolls that are tried, seconds from level to the turn's bank.
TRIED_ROLLS_S = np.array([0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.5, 8.0, 10.0, 12.0])


@dataclass(frozen=True)
class RollResponse:
    """How long rolls look."""

    #: (k,) True lengths, from level to the turn's bank.
    roll_s: FloatArray
    #: (k,) What is seen of them: from a quarter to three quarters of the bank.
    spread_s: FloatArray

    @property
    def blur_s(self) -> float:
        """How long a sudden roll looks, from a quarter to three quarters of the bank."""
        return float(self.spread_s[0])

    def roll_of(self, spread_s: float) -> float:
        """Return the length of the roll that looks like this, seconds from level to the turn's bank."""
        return float(np.interp(spread_s, np.maximum.accumulate(self.spread_s), self.roll_s))


#: A bank that was logged is not smoothed by us: half of its roll lies between the quarters.
UNSMOOTHED = RollResponse(TRIED_ROLLS_S, 0.5 * TRIED_ROLLS_S)


def roll_response(interval_s: float, noise: float) -> RollResponse:
    """Fit the path's own spline to made-up rolls, as sampled, with noise of so many metres (one sigma)."""
    interval = max(interval_s, 0.5)
    # Two phases of sampling, for a roll may begin at a sample or between two.
    spreads = [_spreads(np.arange(-60.0, 60.0, interval) + shift, noise) for shift in (0.0, 0.5 * interval)]
    return RollResponse(TRIED_ROLLS_S, np.mean(spreads, axis=0))


def _spreads(time_s: FloatArray, noise: float) -> FloatArray:
    made = np.stack([_rolled(time_s, roll) for roll in TRIED_ROLLS_S], axis=1)
    spline = fit_spline(time_s, made, noise=max(noise, SPLINE.noise_floor_m))
    fine = np.arange(-20.0, 25.0, 0.1)
    seen = spline.at(fine, 2) / ROLL.made_up_mps2
    quarters = [np.argmax(seen > share, axis=0) for share in (0.25, 0.75)]
    return np.asarray(fine[quarters[1]] - fine[quarters[0]], dtype=np.float64)


def _rolled(time_s: FloatArray, roll_s: float) -> FloatArray:
    """Return the sideways path of a steady rolling into a turn that begins at zero: three integrals of a step."""
    t = np.clip(time_s, 0.0, None)
    if roll_s == 0.0:
        return ROLL.made_up_mps2 * t**2 / 2.0
    late = np.clip(time_s - roll_s, 0.0, None)
    return np.asarray(ROLL.made_up_mps2 / roll_s * (t**3 - late**3) / 6.0, dtype=np.float64)
