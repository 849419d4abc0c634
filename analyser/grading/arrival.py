"""Speed on arrival at the fix: against the limit, and when the slowing down was done."""

from __future__ import annotations

from typing import Literal

import numpy as np

from analyser.grading.entry_judged import Arrival, EntryCase
from analyser.grading.score import Score, not_judged

#: How long before the fix the slowing down is looked at: what the FAA asks (AIM 5-3-8 j.8(a)), for all.
_LOOKED_AT_S = 180.0


def arrival(case: EntryCase) -> Arrival:
    """Judge the speed on arrival."""
    motion, fix_s = case.flown.motion, case.entry.fix_s
    hold = case.flown.hold
    limit = case.regime.speed_limit(case.altitude_ft, hold.category, hold.max_kias)
    limit_kias = case.regime.speed_limit_kias(case.altitude_ft, hold.category, hold.max_kias)
    early_s = fix_s - _LOOKED_AT_S
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
        slowed = _LOOKED_AT_S
    sd = motion.at("ias_sd_kt", fix_s)
    before = float(speed[0]) if seen_all and np.isfinite(speed[0]) else None
    verdict: Literal["within", "outside"] = "outside" if at_fix - limit_kias > 2.0 * sd else "within"
    slow_down = _slow_down(case, limit_kias)
    after = motion.over_ias(motion.span(fix_s, case.entry.end_s), limit_kias)
    most_kias = at_fix if after.most_kt is None else max(after.most_kt, at_fix)
    return Arrival(
        float(at_fix),
        before,
        limit_kias,
        slowed,
        verdict,
        limit.source,
        slow_down,
        after.over_s,
        float(most_kias),
    )


def _slow_down(case: EntryCase, limit_kias: float) -> Score | None:
    """Judge how long before the fix the speed had come down to the limit to stay; None without such a rule."""
    rule, tolerance = case.regime.slow_down, case.regime.allowances
    if rule is None:
        return None
    motion, fix_s, asked_s = case.flown.motion, case.entry.fix_s, rule.before_fix_s
    span = motion.span(fix_s - asked_s, fix_s)
    time_s = motion.time_s[span]
    source = f"{rule.source}; tolerance: {tolerance.source}"
    over = np.flatnonzero(motion.surely_over_ias(span, limit_kias) & (motion.ias_kt[span] > limit_kias))
    if not over.size and not motion.time_s[0] <= fix_s - asked_s + 1.0:
        seen_s = fix_s - float(motion.time_s[0])
        why = f"the log begins {seen_s:.0f} s before the fix"
        return not_judged(why, unit="s", target=asked_s, tolerance=tolerance.timing_s, rule=source)
    held_s = asked_s if not over.size else float(fix_s - time_s[over[-1]])
    verdict: Literal["within", "outside"] = "within" if held_s >= asked_s - tolerance.timing_s else "outside"
    return Score(
        None,
        held_s,
        asked_s,
        tolerance.timing_s,
        verdict,
        "s",
        sd=_slowing_sd_s(case, limit_kias, held_s) if over.size else 0.0,
        deviation=min(0.0, held_s - asked_s),
        how=case.flown.motion.obtained.get("ias", "derived"),
        rule=source,
        note="before the fix, at or below the maximum holding speed; where notice allows",
    )


def _slowing_sd_s(case: EntryCase, limit_kias: float, held_s: float) -> float:
    """Return the sigma of when the speed came below the limit: half from surely above it to below it as read."""
    motion, fix_s = case.flown.motion, case.entry.fix_s
    span = motion.span(fix_s - held_s, fix_s)
    below = np.flatnonzero(motion.ias_kt[span] <= limit_kias)
    until_s = float(motion.time_s[span][below[0]]) if below.size else fix_s
    return 0.5 * (until_s - (fix_s - held_s))
