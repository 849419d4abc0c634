"""Judging altitude and speed: the largest departure from what was to be held."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.flown import Circuit, FlownHold
from analyser.frozen import dataclass
from analyser.grading.keeping import READ_OVER_S, Keeping, LevelPlan, read
from analyser.grading.lap import Lap
from analyser.grading.score import Gauge, Score
from analyser.motion.motion import GUSTS_MEAN_OUT_S, Motion, running_mean

FloatArray = NDArray[np.float64]

#: With less of the circuit than this flown level there is no altitude to judge.
_LEAST_LEVEL = 0.3


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
        return math.hypot(speed_sd_kt(sd_kt), self.gust_sd_kt)


#: Gusts are forgotten within some ten seconds, so a minute's mean keeps about this share of their scatter.
_GUST_LEFT = 0.6
#: The worst of the hundred gusts of a hold is about so many sigmas.
_WORST_GUST_SD = 3.0
#: A derived speed leans on the instant where time was taken out of the log for so long on either side, seconds, and so
#: many samples.
_SEAM_S, _SEAM_SAMPLES = 6.0, 2.0


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
            if _WORST_GUST_SD * gust_kt <= 0.5 * tolerance_kt:
                return plan
            mean = running_mean(series, motion.points_in(GUSTS_MEAN_OUT_S))
            return replace(plan, flown_kt=mean, gust_sd_kt=_GUST_LEFT * gust_kt, over_a_minute=True)
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
    return np.where(away_s > _SEAM_S + _SEAM_SAMPLES * motion.sample_s, series, np.nan)


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
    if seen.mean() < _LEAST_LEVEL:
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


def over_limit(lap: Lap, plan: SpeedPlan) -> tuple[float, float]:
    """Return for how long a circuit was surely flown beyond the limit, seconds, and the fastest, knots indicated.

    Nothing where the log gives no indicated airspeed, or no altitude to look the limit up for.
    """
    if plan.name != "ias_kt" or not np.isfinite(lap.terms.altitude_ft):
        return 0.0, float("nan")
    motion = lap.flown.motion
    flown = motion.over_ias(motion.span(lap.circuit.start_s, lap.circuit.end_s), lap.terms.limit_kias)
    return flown.over_s, float("nan") if flown.most_kt is None else flown.most_kt


def altitude_sd_ft(altitude_ft: FloatArray) -> float:
    """Return the sigma of an altitude read over a few seconds: how readings scatter about their neighbours."""
    if altitude_ft.size < 2 * READ_OVER_S:
        return 0.0
    bent = np.diff(altitude_ft, 2)
    # Twice differenced, white scatter of sigma s has a sigma of s·√6; the median stands against outliers.
    single = float(1.4826 * np.median(np.abs(bent)) / np.sqrt(6.0))
    return single / math.sqrt(READ_OVER_S)


def speed_sd_kt(sd_kt: FloatArray) -> float:
    """Return the usual sigma of a span of airspeeds."""
    known = sd_kt[np.isfinite(sd_kt)]
    return float(np.median(known)) if known.size else float("inf")


def _with_times(score: Score, circuit: Circuit, kept: Keeping | None) -> Score:
    """Add how long the tolerance was left in this circuit, and the longest time to come back."""
    if kept is None or score.points is None:
        return score
    mine = [one for one in kept.excursions if circuit.number in one.circuits]
    outside_s = sum(min(one.end_s, circuit.end_s) - max(one.start_s, circuit.start_s) for one in mine)
    return replace(score, outside_s=outside_s, back_s=max((one.duration_s for one in mine), default=0.0))
