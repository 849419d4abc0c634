"""Judging altitude and speed: the largest departure from what was to be held."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.flown import FlownHold
from analyser.grading.lap import Lap
from analyser.grading.levels import LevelPlan
from analyser.grading.score import Score, not_judged, scored

FloatArray = NDArray[np.float64]

#: A needle is read over a few seconds; a single gust is not the pilot's.
_READ_OVER_S = 5
#: With less of the circuit than this flown level there is no altitude to judge.
_LEAST_LEVEL = 0.3


@dataclass(frozen=True)
class SpeedPlan:
    """The speed to hold.

    Attributes
    ----------
    name : "ias_kt" or "tas_kt"
        Which of the motion's series it is read from.
    reference_kt : float
        NaN where there is none.
    given : bool
    """

    name: str
    reference_kt: float
    given: bool


def speed_plan(flown: FlownHold) -> SpeedPlan:
    """Find the speed to hold: the one given, else the median of what was flown in the hold.

    Parameters
    ----------
    flown : FlownHold

    Returns
    -------
    SpeedPlan
        True airspeed stands in where the indicated is neither logged nor derivable.
    """
    span = flown.motion.span(flown.start_s, flown.end_s)
    for name in ("ias_kt", "tas_kt"):
        series = getattr(flown.motion, name)[span]
        if np.isfinite(series).any():
            given = flown.hold.speed_kias if name == "ias_kt" else None
            return SpeedPlan(name, float(np.nanmedian(series)) if given is None else given, given is not None)
    return SpeedPlan("ias_kt", float("nan"), False)


def judge_altitude(lap: Lap, plan: LevelPlan) -> Score:
    """Judge altitude keeping.

    Parameters
    ----------
    lap : Lap
    plan : LevelPlan

    Returns
    -------
    Score
        ``value`` is the largest error, signed, from ``reference``; moves between levels are left out.
    """
    tolerance = lap.standard.altitude
    unjudged = partial(not_judged, unit="ft", tolerance=tolerance.tolerance_ft, rule=tolerance.source)
    if not plan.known:
        return unjudged("the log has no altitude")
    circuit = lap.circuit
    if lap.in_hole(circuit.start_s, circuit.end_s):
        return unjudged("the log has a hole in this circuit")
    span = lap.flown.motion.span(circuit.start_s, circuit.end_s)
    reference, altitude = plan.reference_ft[span], lap.flown.motion.altitude_ft[span]
    seen = np.isfinite(reference) & np.isfinite(altitude) & ~lap.flown.motion.in_hole[span]
    if seen.mean() < _LEAST_LEVEL:
        return unjudged("climbing or descending to another level")
    error = altitude[seen] - reference[seen]
    worst = int(np.argmax(np.abs(error)))
    # A height held throughout is judged as held: what the log calls altitude may be off by a constant.
    source = "given" if plan.given else "the level flown (median)"
    note = f"farthest from {source}" + ("; moves between levels left out" if plan.moved else "")
    offset = float(np.median(error))
    if plan.given and abs(offset) > 0.5 * tolerance.tolerance_ft:
        note += f"; flown {abs(offset):.0f} ft {'above' if offset > 0 else 'below'} it throughout"
        note += ": the log's altitude may not be what the altimeter showed"
    return scored(
        lap.scoring,
        value=float(error[worst]),
        target=0.0,
        tolerance=tolerance.tolerance_ft,
        unit="ft",
        sd=_noise(altitude[seen]),
        reference=float(reference[seen][worst]),
        how="logged",
        rule=tolerance.source,
        note=note,
    )


def judge_speed(lap: Lap, plan: SpeedPlan, altitude_ft: float) -> Score:
    """Judge speed keeping, and the speed against the regime's limit.

    Parameters
    ----------
    lap : Lap
    plan : SpeedPlan
    altitude_ft : float
        For the limit.

    Returns
    -------
    Score
        ``value`` is the largest error, signed, from ``reference``.
    """
    tolerance = lap.standard.speed
    unjudged = partial(not_judged, unit="kt", tolerance=tolerance.tolerance_kt, rule=tolerance.source)
    circuit = lap.circuit
    if not np.isfinite(plan.reference_kt):
        return unjudged("the log has no airspeed and none can be derived")
    if lap.in_hole(circuit.start_s, circuit.end_s):
        return unjudged("the log has a hole in this circuit")
    speed = _read(lap.series(plan.name, circuit.start_s, circuit.end_s))
    if speed.size == 0:
        return unjudged("no airspeed in this circuit")
    sd = float(np.nanmedian(lap.series(plan.name.replace("_kt", "_sd_kt"), circuit.start_s, circuit.end_s)))
    error = speed - plan.reference_kt
    kind = "indicated" if plan.name == "ias_kt" else "true airspeed, for want of the indicated one"
    source = "given" if plan.given else "the hold's median"
    score = scored(
        lap.scoring,
        value=float(error[np.argmax(np.abs(error))]),
        target=0.0,
        tolerance=tolerance.tolerance_kt,
        unit="kt",
        sd=sd,
        reference=plan.reference_kt,
        how=lap.how("ias" if plan.name == "ias_kt" else "tas"),
        rule=tolerance.source,
        note=f"farthest from {source}, {kind}",
    )
    return _limited(lap, score, speed, sd, altitude_ft) if plan.name == "ias_kt" else score


def over_limit_kt(lap: Lap, speed_kias: float, altitude_ft: float) -> float:
    """Return by how much a speed exceeds the regime's limit; negative below it."""
    hold = lap.flown.hold
    return speed_kias - lap.regime.speed_limit_kias(altitude_ft, hold.category, hold.max_kias)


def _limited(lap: Lap, score: Score, speed: FloatArray, sd: float, altitude_ft: float) -> Score:
    """Take the points away where the speed was certainly above the limit, and not for a moment only."""
    over = over_limit_kt(lap, float(np.median(speed)), altitude_ft)
    if not over > 2.0 * sd:
        return score
    hold = lap.flown.hold
    limit = lap.regime.speed_limit(altitude_ft, hold.category, hold.max_kias)
    note = f"{over:.0f} kt above the maximum holding speed ({limit.source}); {score.note}"
    return replace(score, points=0.0, verdict="outside", note=note)


def _noise(altitude_ft: FloatArray) -> float:
    """Return how far single readings of the altitude scatter about their neighbours, feet."""
    if altitude_ft.size < 2 * _READ_OVER_S:
        return 0.0
    bent = np.diff(altitude_ft, 2)
    # Twice differenced, white scatter of sigma s has a sigma of s·√6; the median stands against outliers.
    return float(1.4826 * np.median(np.abs(bent)) / np.sqrt(6.0))


def _read(series: FloatArray) -> FloatArray:
    """Average over a few seconds, as an eye reads a needle."""
    finite = series[np.isfinite(series)]
    if finite.size < _READ_OVER_S:
        return finite
    return np.convolve(finite, np.full(_READ_OVER_S, 1.0 / _READ_OVER_S), mode="valid")
