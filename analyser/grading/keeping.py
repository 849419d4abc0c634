"""What altitude was to be held, and each time that altitude or speed left its tolerance: how far, and how long."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.flown import Circuit, FlownHold
from analyser.frozen import dataclass
from analyser.logs.track import runs
from analyser.motion.motion import running_mean
from analyser.rules.scoring import Levels

FloatArray = NDArray[np.float64]

#: The rate of climb is read over this many seconds, so that a bump is no climb.
_RATE_OVER_S = 20.0
#: How long after the hold a move that began in it may go on, seconds.
_WAY_OUT_S = 120.0
#: Two moves with less level flight than this between them are one.
_SHORTEST_LEVEL_S = 30.0


@dataclass(frozen=True)
class LevelPlan:
    """The altitude to hold along the motion's time grid."""

    #: (n,) NaN while moving between cleared levels, and everywhere where the log has no altitude.
    reference_ft: FloatArray
    #: Whether the log has altitude at all.
    known: bool
    #: Whether the hold file gave the altitude.
    given: bool
    #: Whether there was a move between levels.
    moved: bool

    def level_ft(self, start_s: float, end_s: float, time_s: FloatArray) -> float | None:
        """Return the altitude to hold within a span: its median; None where there was none."""
        inside = self.reference_ft[(time_s >= start_s) & (time_s <= end_s)]
        inside = inside[np.isfinite(inside)]
        return float(np.median(inside)) if inside.size else None


def level_plan(flown: FlownHold, rule: Levels) -> LevelPlan:
    """Find the altitude to hold, moving from level to level as the rule has it.

    A level given in the hold file is the level, whatever was flown; it changes only where the file says so. Without
    one the levels that were flown are taken, and moves from one to another are left out.
    """
    motion, given = flown.motion, flown.hold.altitude_ft is not None
    reference = np.full(motion.time_s.size, np.nan)
    inside = motion.span(flown.start_s, flown.end_s)
    altitude = motion.altitude_ft[inside]
    if altitude.size < 2 or not np.isfinite(altitude).any():
        return LevelPlan(reference, False, given, False)
    time_s = motion.time_s[inside]
    if given:
        held, moved = _cleared(flown, time_s, altitude, rule)
        reference[inside] = held
        return LevelPlan(reference, True, True, moved)
    # A descent that began before the last passage of the fix ends after it: it is looked for beyond the hold.
    wider = motion.span(flown.start_s, flown.end_s + _WAY_OUT_S)
    moving = _moving(motion.time_s[wider], motion.altitude_ft[wider], rule)[: altitude.size]
    held = np.full(altitude.size, np.nan)
    for first, last in runs(~moving):
        held[first:last] = float(np.nanmedian(altitude[first:last]))
    reference[inside] = held
    return LevelPlan(reference, True, False, bool(moving.any()))


def _cleared(
    flown: FlownHold, time_s: FloatArray, altitude_ft: FloatArray, rule: Levels
) -> tuple[FloatArray, bool]:
    """Lay out the levels that the hold file clears, each with the time that the way to it may take."""
    hold = flown.hold
    assert hold.altitude_ft is not None
    held = np.full(time_s.size, hold.altitude_ft)
    starts = {circuit.number: circuit.start_s for circuit in flown.circuits}
    level_ft, moved = hold.altitude_ft, False
    for change in hold.levels:
        begins_s = change.from_s if change.from_s is not None else starts.get(change.from_circuit or 0)
        if begins_s is None or change.level_ft == level_ft:
            continue
        after = time_s >= begins_s
        held[after] = change.level_ft
        # On the way: until the new level is met, and no longer than the slowest climb that counts as one.
        longest_s = 60.0 * abs(change.level_ft - level_ft) / rule.rate_fpm
        met = np.flatnonzero(after & (np.abs(altitude_ft - change.level_ft) <= rule.met_within_ft))
        until_s = min(float(time_s[met[0]]) if met.size else np.inf, begins_s + longest_s)
        way = after & (time_s < until_s)
        # Between both levels nothing is held; who leaves what lies between them has left the nearer one.
        low_ft, high_ft = sorted((level_ft, change.level_ft))
        between = np.clip(altitude_ft, low_ft, high_ft)
        held[way] = np.where(between == altitude_ft, np.nan, between)[way]
        level_ft, moved = change.level_ft, True
    return held, moved


def _moving(time_s: FloatArray, altitude_ft: FloatArray, rule: Levels) -> NDArray[np.bool_]:
    """Mark moves that begin at one level and end at another."""
    half = 0.5 * _RATE_OVER_S
    later = np.interp(time_s + half, time_s, altitude_ft)
    earlier = np.interp(time_s - half, time_s, altitude_ft)
    fast = np.abs(later - earlier) * 60.0 / _RATE_OVER_S > rule.rate_fpm
    moving = np.zeros(time_s.size, bool)
    for first, last in _joined(runs(fast), time_s):
        change = altitude_ft[min(last, time_s.size - 1)] - altitude_ft[max(first - 1, 0)]
        if abs(change) >= rule.change_ft:
            moving[first:last] = True
    return moving


def _joined(spans: list[tuple[int, int]], time_s: FloatArray) -> list[tuple[int, int]]:
    joined: list[tuple[int, int]] = []
    for first, last in spans:
        if joined and time_s[first] - time_s[joined[-1][1] - 1] < _SHORTEST_LEVEL_S:
            joined[-1] = (joined[-1][0], last)
        else:
            joined.append((first, last))
    return joined


#: A needle is read over a few seconds; a single gust or reading is not the pilot's.
READ_OVER_S = 5


@dataclass(frozen=True)
class Excursion:
    """One time that the tolerance was left."""

    #: Outside the tolerance, seconds from the log's first sample.
    start_s: float
    end_s: float
    #: The largest error, signed, as read over a few seconds.
    worst: float
    worst_s: float
    #: What was to be held there.
    reference: float
    #: Size of the error at each sample, in tolerances.
    errors_in_tolerances: tuple[float, ...]
    #: Between samples.
    step_s: float
    #: Numbers of the circuits it touched; empty for the entry.
    circuits: tuple[int, ...]
    #: False where the hold ended first.
    came_back: bool

    @property
    def duration_s(self) -> float:
        """Seconds outside: the time to come back."""
        return self.end_s - self.start_s

    def far_s(self, tolerances: float) -> float:
        """Return for how long on end the error was beyond so many tolerances, seconds."""
        far = runs(np.array(self.errors_in_tolerances) > tolerances)
        return self.step_s * max((last - first for first, last in far), default=0)


@dataclass(frozen=True)
class Keeping:
    """How a quantity was kept over a hold."""

    #: In order of time.
    excursions: tuple[Excursion, ...]
    tolerance: float
    sd: float
    #: The median error, where the quantity was off by the same amount all along: more than the tolerance, never
    #: farther than the tolerance from that median, and without climbing or sinking.
    steady_off: float | None
    #: Whether what was to be held was given, or taken from the flight.
    given: bool
    #: Of the quantity, as read over a few seconds, over all of the hold that the log shows.
    lowest: float
    highest: float
    #: Share of the hold flown within the tolerance of it.
    held_share: float

    @property
    def nothing_held(self) -> bool:
        """Whether nothing was asked for, and nothing was held for half of the hold."""
        return not self.given and self.steady_off is None and self.held_share < _HELD_SHARE


#: What was kept for less of the hold than this was not held.
_HELD_SHARE = 0.5


def keeping(
    flown: FlownHold, value: FloatArray, reference: FloatArray, *, tolerance: float, sd: float, given: bool
) -> Keeping | None:
    """Follow a quantity over the whole hold; None where nothing is known.

    Value and what was to be held, (n,), stand on the motion's time grid, NaN where not known or where nothing was.
    """
    inside = flown.motion.span(flown.start_s, flown.end_s)
    time_s, held = flown.motion.time_s[inside], reference[inside]
    error = read(value[inside] - held)
    error[flown.motion.in_hole[inside]] = np.nan
    known = np.isfinite(error)
    if known.sum() < 2:
        return None
    off = known & (np.abs(np.nan_to_num(error)) > tolerance)
    found = excursions(flown.circuits, time_s, error, held, tolerance)
    middle = float(np.median(error[known]))
    steady = abs(middle) > tolerance and _is_steady(error[known], tolerance)
    # What was met on the way from one level to another was flown too.
    seen = read(value[inside])
    seen[flown.motion.in_hole[inside]] = np.nan
    return Keeping(
        found,
        tolerance,
        sd,
        middle if steady else None,
        given,
        float(np.nanmin(seen)),
        float(np.nanmax(seen)),
        float(np.mean(known & ~off)),
    )


def excursions(
    circuits: Sequence[Circuit],
    time_s: FloatArray,
    error: FloatArray,
    held: FloatArray,
    tolerance: float | FloatArray,
) -> tuple[Excursion, ...]:
    """Find each time that a quantity left its tolerance, with the circuits touched.

    Of (n,) samples: time, error as read over a few seconds, NaN where not known, what was to be held, and its
    tolerance.
    """
    multiple = np.abs(np.nan_to_num(error)) / tolerance
    return tuple(_excursion(circuits, time_s, error, held, multiple, one) for one in runs(multiple > 1.0))


def _is_steady(error: FloatArray, tolerance: float) -> bool:
    """Return whether errors stay within the tolerance of their median, and neither climb nor sink."""
    third = max(error.size // 3, 1)
    drift = float(np.median(error[-third:]) - np.median(error[:third]))
    return float(np.max(np.abs(error - np.median(error)))) <= tolerance and abs(drift) <= 0.5 * tolerance


def _excursion(
    circuits: Sequence[Circuit],
    time_s: FloatArray,
    error: FloatArray,
    held: FloatArray,
    multiple: FloatArray,
    run: tuple[int, int],
) -> Excursion:
    """Describe one run of samples outside; a run of one sample lasts until the next."""
    first, last = run
    worst = first + int(np.argmax(multiple[first:last]))
    end = min(last, time_s.size - 1)
    start_s, end_s = float(time_s[first]), float(time_s[end])
    step_s = float(np.median(np.diff(time_s)))
    # What ends as a circuit begins was not flown on that one.
    least_s = min(READ_OVER_S, 0.5 * (end_s - start_s))
    touched = tuple(c.number for c in circuits if min(c.end_s, end_s) - max(c.start_s, start_s) >= least_s)
    return Excursion(
        start_s,
        end_s,
        float(error[worst]),
        float(time_s[worst]),
        float(held[worst]),
        tuple(multiple[first:last]),
        step_s,
        touched,
        last < time_s.size - 1,
    )


def read(series: FloatArray) -> FloatArray:
    """Average over a few seconds about each sample, as an eye reads a needle; NaN stays NaN."""
    return running_mean(series, READ_OVER_S)
