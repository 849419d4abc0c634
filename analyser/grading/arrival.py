"""Speed on arrival at the fix: against the limit, and when the slowing down was done."""

from __future__ import annotations

from typing import Literal

import numpy as np

from analyser.grading.entry_judged import Arrival, EntryCase


def arrival(case: EntryCase) -> Arrival:
    """Judge the speed on arrival.

    Parameters
    ----------
    case : EntryCase

    Returns
    -------
    Arrival
    """
    motion, fix_s = case.flown.motion, case.entry.fix_s
    limit = case.regime.speed_limit(case.altitude_ft, case.flown.hold.category)
    limit_kias = case.regime.speed_limit_kias(case.altitude_ft, case.flown.hold.category)
    early_s = fix_s - case.scoring.entry.slow_down_within_s
    span = motion.span(early_s, fix_s)
    speed, time_s = motion.ias_kt[span], motion.time_s[span]
    at_fix = motion.at("ias_kt", fix_s)
    if not np.isfinite(at_fix) or speed.size == 0:
        return Arrival(None, None, limit_kias, None, "not judged", limit.source)
    seen_all = bool(motion.time_s[0] <= early_s + 1.0)
    off = np.flatnonzero(np.abs(speed - case.speed_kt) > case.standard.speed.tolerance_kt)
    slowed = None
    if off.size:
        slowed = float(fix_s - time_s[off[-1]])
        slowed = 0.0 if off[-1] == speed.size - 1 else slowed
    elif seen_all:
        slowed = case.scoring.entry.slow_down_within_s
    sd = motion.at("ias_sd_kt", fix_s)
    before = float(speed[0]) if seen_all and np.isfinite(speed[0]) else None
    verdict: Literal["within", "outside"] = "outside" if at_fix - limit_kias > 2.0 * sd else "within"
    return Arrival(float(at_fix), before, limit_kias, slowed, verdict, limit.source)
