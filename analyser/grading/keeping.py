"""Altitude and speed: what was to be held, each time that it was left, how far and how long, and the points for it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.flown import Circuit, FlownHold
from analyser.earth.constants import SIGMA_PER_MEDIAN
from analyser.frozen import dataclass
from analyser.grading.grading_thresholds import KEEPING
from analyser.grading.lap import Lap
from analyser.grading.score import Gauge, Score
from analyser.logs.track import runs
from analyser.motion.motion import Motion, running_mean
from analyser.motion.motion_thresholds import SPEED
from analyser.rules.scoring import Levels

FloatArray = NDArray[np.float64]


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
    wider = motion.span(flown.start_s, flown.end_s + KEEPING.way_out_s)
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
    half = 0.5 * KEEPING.rate_over_s
    later = np.interp(time_s + half, time_s, altitude_ft)
    earlier = np.interp(time_s - half, time_s, altitude_ft)
    fast = np.abs(later - earlier) * 60.0 / KEEPING.rate_over_s > rule.rate_fpm
    moving = np.zeros(time_s.size, bool)
    for first, last in _joined(runs(fast), time_s):
        change = altitude_ft[min(last, time_s.size - 1)] - altitude_ft[max(first - 1, 0)]
        if abs(change) >= rule.change_ft:
            moving[first:last] = True
    return moving


def _joined(spans: list[tuple[int, int]], time_s: FloatArray) -> list[tuple[int, int]]:
    joined: list[tuple[int, int]] = []
    for first, last in spans:
        if joined and time_s[first] - time_s[joined[-1][1] - 1] < KEEPING.shortest_level_s:
            joined[-1] = (joined[-1][0], last)
        else:
            joined.append((first, last))
    return joined


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
    #: By how much the error grew from the beginning to the end, where it grew all the time; else 0.
    drift: float = 0.0

    @property
    def worst(self) -> Excursion:
        """The excursion that led farthest; there is one."""
        return max(self.excursions, key=lambda one: abs(one.worst))

    @property
    def farthest(self) -> float:
        """How far off that was, signed: by how much all along, where it was off so."""
        return self.worst.worst if self.steady_off is None else self.steady_off

    @property
    def drifted(self) -> bool:
        """Whether nothing was asked for, and what was flown climbed or sank by more than the tolerance."""
        return not self.given and self.steady_off is None and abs(self.drift) > self.tolerance

    @property
    def nothing_held(self) -> bool:
        """Whether nothing was asked for, and nothing was held for half of the hold."""
        return not self.given and self.steady_off is None and self.held_share < KEEPING.held_share


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
        _drift(error[known]),
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
    multiple, found = np.abs(np.nan_to_num(error)) / tolerance, []
    for first, last in runs(multiple > 1.0):
        worst = first + int(np.argmax(multiple[first:last]))
        # A run of one sample lasts until the next.
        start_s, end_s = float(time_s[first]), float(time_s[min(last, time_s.size - 1)])
        # What ends as a circuit begins was not flown on that one.
        least_s = min(KEEPING.read_over_s, 0.5 * (end_s - start_s))
        touched = (c.number for c in circuits if min(c.end_s, end_s) - max(c.start_s, start_s) >= least_s)
        found.append(
            Excursion(
                start_s,
                end_s,
                float(error[worst]),
                float(time_s[worst]),
                float(held[worst]),
                tuple(multiple[first:last]),
                float(np.median(np.diff(time_s))),
                tuple(touched),
                last < time_s.size - 1,
            )
        )
    return tuple(found)


def _is_steady(error: FloatArray, tolerance: float) -> bool:
    """Return whether errors stay within the tolerance of their median, and neither climb nor sink."""
    third = max(error.size // 3, 1)
    drift = float(np.median(error[-third:]) - np.median(error[:third]))
    return float(np.max(np.abs(error - np.median(error)))) <= tolerance and abs(drift) <= 0.5 * tolerance


def _drift(error: FloatArray) -> float:
    """Return by how much the error grew all along, as a line; 0 where it did not grow so."""
    along = np.linspace(-0.5, 0.5, error.size)
    rise = float(np.dot(along, error) / np.dot(along, along))
    off = np.abs(error - np.mean(error) - rise * along).max()
    return rise if off <= KEEPING.straight_share * abs(rise) else 0.0


def read(series: FloatArray) -> FloatArray:
    """Average over a few seconds about each sample, as an eye reads a needle; NaN stays NaN."""
    return running_mean(series, KEEPING.read_over_s)


@dataclass(frozen=True)
class SpeedPlan:
    """The speed to hold."""

    #: Which of the motion's series it is read from.
    name: str
    #: NaN where there is none.
    reference_kt: float
    given: bool
    #: (n,) The speed along the motion; a mean over a minute where it was derived and gusts throw single readings off.
    flown_kt: FloatArray
    #: What gusts leave of that, one sigma.
    gust_sd_kt: float = 0.0
    over_a_minute: bool = False

    def sd_kt(self, sd_kt: FloatArray) -> float:
        """Return the sigma of the speed over a span of the motion's own sigmas."""
        known = sd_kt[np.isfinite(sd_kt)]
        return math.hypot(float(np.median(known)), self.gust_sd_kt) if known.size else math.inf


def speed_plan(flown: FlownHold, tolerance_kt: float) -> SpeedPlan:
    """Find the speed to hold: the one given, else the median of what was flown in the hold.

    True airspeed stands in where the indicated is neither logged nor derivable. Gusts of which the worst throws a
    derived speed off by half the tolerance are averaged out.
    """
    motion = flown.motion
    span = motion.span(flown.start_s, flown.end_s)
    for name in ("ias_kt", "tas_kt"):
        series = _measured(motion, name)
        if np.isfinite(series[span]).any():
            given = flown.hold.speed_kias if name == "ias_kt" else None
            held_kt = float(np.nanmedian(series[span])) if given is None else given
            plan = SpeedPlan(name, held_kt, given is not None, series)
            gust_kt = motion.gust_sd_kt(name, span)
            if KEEPING.worst_gust_sd * gust_kt <= 0.5 * tolerance_kt:
                return plan
            mean = running_mean(series, motion.points_in(SPEED.gusts_mean_out_s))
            return replace(
                plan, flown_kt=mean, gust_sd_kt=KEEPING.gust_left_share * gust_kt, over_a_minute=True
            )
    return SpeedPlan("ias_kt", float("nan"), False, motion.ias_kt)


def _measured(motion: Motion, name: str) -> FloatArray:
    """Return an airspeed, NaN where it was derived in a hole, or where time was taken out of the log."""
    series: FloatArray = getattr(motion, name)
    if motion.obtained.get(name.removesuffix("_kt")) == "logged":
        return series
    # A mean over a minute reaches into a hole, where the path is a guess.
    series = np.where(motion.in_hole, np.nan, series)
    if not motion.seams_s:
        return series
    away_s = np.abs(motion.time_s[:, None] - np.array(motion.seams_s)).min(axis=1)
    return np.where(away_s > KEEPING.seam_s + KEEPING.seam_samples * motion.sample_s, series, np.nan)


def judge_altitude(lap: Lap, plan: LevelPlan, kept: Keeping | None) -> Score:
    """Judge altitude keeping by the largest error, signed, from ``reference``; moves between levels are left out."""
    tolerance = lap.standard.altitude
    gauge = Gauge(lap.scoring, "ft", tolerance.tolerance_ft, tolerance.source, "logged")
    if not plan.known:
        return gauge.unjudged("the log has no altitude")
    circuit = lap.circuit
    if lap.in_hole(circuit.start_s, circuit.end_s):
        return gauge.unjudged("the log has a hole in this circuit")
    span = lap.flown.motion.span(circuit.start_s, circuit.end_s)
    reference, altitude = plan.reference_ft[span], lap.flown.motion.altitude_ft[span]
    seen = np.isfinite(reference) & np.isfinite(altitude) & ~lap.flown.motion.in_hole[span]
    if seen.mean() < KEEPING.least_level_share:
        return gauge.unjudged("climbing or descending to another level")
    error = read(np.where(seen, altitude - reference, np.nan))
    worst = int(np.nanargmax(np.abs(error)))
    source = "the level given" if plan.given else "the level flown (median; none was given)"
    note = f"largest difference from {source}" + ("; moves between levels left out" if plan.moved else "")
    if kept is not None and kept.steady_off is not None:
        off = kept.steady_off
        note += f"; flown {abs(off):.0f} ft {'above' if off > 0 else 'below'} it throughout"
        note += ": the log's altitude may not be what the altimeter showed"
    sd, held_ft = altitude_sd_ft(altitude[seen]), float(reference[worst])
    score = gauge.score(float(error[worst]), 0.0, sd, note, reference=held_ft)
    return _with_times(score, circuit, kept)


def judge_speed(lap: Lap, plan: SpeedPlan, kept: Keeping | None, over_limit_s: float) -> Score:
    """Judge speed keeping by the largest error, signed, from ``reference``, and the speed against the regime's limit.

    Surely flown beyond that limit for too long, it gets no points.
    """
    tolerance = lap.standard.speed
    how = lap.how(plan.name.removesuffix("_kt"))
    gauge = Gauge(lap.scoring, "kt", tolerance.tolerance_kt, tolerance.source, how)
    circuit = lap.circuit
    if not np.isfinite(plan.reference_kt):
        return gauge.unjudged("the log has no airspeed and none can be derived")
    if lap.in_hole(circuit.start_s, circuit.end_s):
        return gauge.unjudged("the log has a hole in this circuit")
    speed = lap.recorded(plan.flown_kt, circuit.start_s, circuit.end_s)
    if not np.isfinite(speed).any():
        return gauge.unjudged("no airspeed in this circuit")
    error = read(speed - plan.reference_kt)
    kind = "indicated" if plan.name == "ias_kt" else "true airspeed, for want of the indicated one"
    source = "the speed given" if plan.given else "the hold's median"
    note = f"largest difference from {source}, {kind}"
    if plan.over_a_minute:
        note += ", as a mean over a minute: in these gusts a derived speed says no more"
    worst_kt = float(error[np.nanargmax(np.abs(error))])
    sd = plan.sd_kt(lap.series(plan.name.replace("_kt", "_sd_kt"), circuit.start_s, circuit.end_s))
    score = gauge.score(worst_kt, 0.0, sd, note, reference=plan.reference_kt, beyond_doubt=True)
    score = _with_times(score, circuit, kept)
    if over_limit_s <= lap.scoring.unsafe.over_limit_for_s:
        return score
    note = f"above the maximum holding speed of {lap.terms.limit_kias:.0f} kt ({lap.terms.limit.source}); {score.note}"
    return replace(score, points=0.0, verdict="outside", note=note)


def over_limit(lap: Lap, plan: SpeedPlan) -> tuple[float, float | None]:
    """Return for how long a circuit was surely flown beyond the limit, seconds, and the fastest, knots indicated.

    Nothing where the log gives no indicated airspeed, or no altitude to look the limit up for.
    """
    if plan.name != "ias_kt" or not np.isfinite(lap.terms.altitude_ft):
        return 0.0, None
    motion = lap.flown.motion
    flown = motion.over_ias(motion.span(lap.circuit.start_s, lap.circuit.end_s), lap.terms.limit_kias)
    return flown.over_s, flown.most_kt


def altitude_sd_ft(altitude_ft: FloatArray) -> float:
    """Return the sigma of an altitude read over a few seconds: how readings scatter about their neighbours."""
    if altitude_ft.size < 2 * KEEPING.read_over_s:
        return 0.0
    bent = np.diff(altitude_ft, 2)
    # Twice differenced, white scatter of sigma s has a sigma of s·√6; the median stands against outliers.
    single = float(SIGMA_PER_MEDIAN * np.median(np.abs(bent)) / np.sqrt(6.0))
    return single / math.sqrt(KEEPING.read_over_s)


def _with_times(score: Score, circuit: Circuit, kept: Keeping | None) -> Score:
    """Add how long the tolerance was left in this circuit, and the longest time to come back."""
    if kept is None or score.points is None:
        return score
    mine = [one for one in kept.excursions if circuit.number in one.circuits]
    outside_s = sum(min(one.end_s, circuit.end_s) - max(one.start_s, circuit.start_s) for one in mine)
    return replace(score, outside_s=outside_s, back_s=max((one.duration_s for one in mine), default=0.0))
