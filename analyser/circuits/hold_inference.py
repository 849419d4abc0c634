"""An unknown hold, read from all circuits together.

The course is the line that the inbound legs met (:mod:`analyser.circuits.course_estimation`); the fix lies on that
line where the outbound turns begin; the leg is what the inbound legs have in common.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyser.circuits.course_estimation import course_met
from analyser.circuits.flown import Turn
from analyser.circuits.legs_flown import LegEnd, OutboundFlown
from analyser.circuits.thresholds import INFERENCE, RACETRACK
from analyser.circuits.turn_detection import mean_direction
from analyser.earth.angles import wrap180
from analyser.holds.definition import LegLimit
from analyser.logs.track import FloatArray
from analyser.motion.estimate import CHORDED_S
from analyser.motion.motion import Motion


@dataclass(frozen=True)
class InboundPath:
    """The way from wings level after the inbound turn to the beginning of the next outbound turn."""

    start_s: float
    end_s: float


@dataclass(frozen=True)
class Inferred:
    """What the flight says of the hold.

    Attributes
    ----------
    east_nm, north_nm : float
        The fix on the motion's map.
    fix_sd_nm : float
        Per axis.
    course_deg, course_sd_deg : float
    """

    east_nm: float
    north_nm: float
    fix_sd_nm: float
    course_deg: float
    course_sd_deg: float


def infer_fix(
    motion: Motion,
    inbound: list[InboundPath],
    outbound_turns: list[Turn],
    course_deg: float,
    arrival_until_s: float,
    outbound_legs: list[tuple[float, float]],
) -> Inferred:
    """Infer fix and course.

    Parameters
    ----------
    motion : Motion
    inbound : list of InboundPath
        At least one.
    outbound_turns : list of Turn
        At least one; those that began over the fix.
    course_deg : float
        First idea of the course, to start from.
    arrival_until_s : float
        Until when the aircraft was still arriving: the entry's turn back, or the first circuit.
    outbound_legs : list of (start_s, end_s)
        Wings level to leaving level, of laps with both turns.

    Returns
    -------
    Inferred
    """
    flown = _outbound_flown(motion, outbound_legs)
    met = course_met([_leg_end(motion, path) for path in inbound], course_deg, flown)
    along, weight = _along(motion, outbound_turns, met.course_deg, met.cross_nm, arrival_until_s)
    middle = _weighted_median(along, weight)
    near = np.abs(along - middle) < max(0.5, 2.0 * float(np.median(np.abs(along - middle))))
    # How long this pilot takes is the same in every lap: no number of laps tells it from the fix's place.
    speed_kt = float(np.mean([motion.at("ground_speed_kt", turn.start_s) for turn in outbound_turns]))
    # Nor does it where turns begin that were seen by their chords: somewhere between two samples.
    seen_s = motion.sample_s / np.sqrt(12.0) if motion.sample_s > CHORDED_S else 0.0
    own_nm = float(np.hypot(INFERENCE.reaction_sd_s, seen_s)) * speed_kt / 3600.0
    spread = np.sqrt(_spread(along[near], INFERENCE.alone_nm) ** 2 + own_nm**2 + met.cross_sd_nm**2)
    toward = np.radians(met.course_deg)
    return Inferred(
        east_nm=middle * np.sin(toward) + met.cross_nm * np.cos(toward),
        north_nm=middle * np.cos(toward) - met.cross_nm * np.sin(toward),
        fix_sd_nm=max(INFERENCE.least_fix_sd_nm, float(spread / np.sqrt(2.0))),
        course_deg=met.course_deg,
        course_sd_deg=max(INFERENCE.least_course_sd_deg, met.sd_deg),
    )


def _leg_end(motion: Motion, path: InboundPath) -> LegEnd:
    """Lay out one inbound leg, and find the longest last part of it that is straight.

    Where none is, its very end counts, doubted for its bend.
    """
    whole = motion.span(path.start_s, path.end_s - 1.0)
    east, north, track = motion.east_nm[whole], motion.north_nm[whole], motion.track_deg[whole]
    if track.size == 0:
        east, north, track = (
            np.array([motion.at(name, path.end_s)]) for name in ("east_nm", "north_nm", "track_deg")
        )
    straight, sd = float(track[-1]), INFERENCE.unsettled_sd_deg
    length = path.end_s - path.start_s
    for window, straight_sd in (
        (w, sd) for w, sd in INFERENCE.settled if w <= max(0.8 * length, INFERENCE.settled[-1][0])
    ):
        span = motion.span(path.end_s - window, path.end_s - 1.0)
        points = np.column_stack([motion.east_nm[span], motion.north_nm[span]])
        if len(points) < 2 * INFERENCE.chord_points + 1:
            break
        first, last = (
            _direction(points[: INFERENCE.chord_points]),
            _direction(points[-INFERENCE.chord_points :]),
        )
        bend = abs(float(wrap180(last - first)))
        straight, sd = _direction(points), float(np.hypot(straight_sd, INFERENCE.bend_doubt * bend))
        if bend <= INFERENCE.straight_bend_deg:
            break
    rollout = float(motion.at("heading_deg", min(path.start_s + INFERENCE.roll_s, path.end_s)))
    return LegEnd(east, north, track, straight, sd, rollout)


def _outbound_flown(motion: Motion, legs: list[tuple[float, float]]) -> OutboundFlown | None:
    """Return the headings of the outbound legs that are long enough to have one; None where no leg is."""
    spans = [
        motion.span(start + INFERENCE.roll_s, end - INFERENCE.roll_s)
        for start, end in legs
        if end - start > 3.0 * INFERENCE.roll_s
    ]
    headings = [mean_direction(motion.heading_deg[span]) for span in spans]
    if not headings or not np.isfinite(motion.tas_mean_kt):
        return None
    return OutboundFlown(
        np.array(headings), motion.wind_mean_east_kt, motion.wind_mean_north_kt, motion.tas_mean_kt
    )


def _along(
    motion: Motion, outbound_turns: list[Turn], course_deg: float, cross_nm: float, arrival_until_s: float
) -> tuple[FloatArray, FloatArray]:
    """Return where along the course the fix may lie, by each turn and by the arrival, and how much each counts."""
    starts = np.array(
        [[motion.at("east_nm", t.start_s), motion.at("north_nm", t.start_s)] for t in outbound_turns]
    )
    ground = np.array([motion.at("ground_speed_kt", t.start_s) for t in outbound_turns])
    along = _axes(starts, course_deg)[0] - ground * INFERENCE.reaction_s / 3600.0
    clean = np.array([abs(t.heading_change_deg) <= RACETRACK.merged_turn_deg for t in outbound_turns])
    weight = np.where(clean, 1.0, INFERENCE.merged_weight)
    crossed = _arrival_crossing(motion, arrival_until_s, course_deg, cross_nm)
    if crossed is None or abs(crossed[0] - _weighted_median(along, weight)) > INFERENCE.crossing_nm:
        return along, weight
    return np.append(along, crossed[0]), np.append(weight, INFERENCE.crossing_weight * crossed[1])


def _arrival_crossing(
    motion: Motion, before_s: float, course_deg: float, cross_nm: float
) -> tuple[float, float] | None:
    """Return where the arrival first crosses the course line, and the sine of the angle at which it does."""
    span = motion.span(before_s - INFERENCE.crossing_s, before_s + 5.0)
    along, cross = _axes(np.column_stack([motion.east_nm[span], motion.north_nm[span]]), course_deg)
    off = np.abs(wrap180(motion.track_deg[span] - course_deg))
    off = np.minimum(off, 180.0 - off)
    side = cross - cross_nm
    crossed = np.flatnonzero((np.sign(side[:-1]) != np.sign(side[1:])) & (off[:-1] >= INFERENCE.crossing_deg))
    if crossed.size == 0:
        return None
    i = int(crossed[0])
    share = side[i] / (side[i] - side[i + 1])
    return float(along[i] + share * (along[i + 1] - along[i])), float(np.sin(np.radians(off[i])))


def _weighted_median(values: FloatArray, weight: FloatArray) -> float:
    """Return the middle of weighted values, interpolated between the two that straddle it."""
    order = np.argsort(values)
    heaped = np.cumsum(weight[order]) - 0.5 * weight[order]
    return float(np.interp(0.5 * weight.sum(), heaped, values[order]))


def _axes(points: FloatArray, course_deg: float) -> tuple[FloatArray, FloatArray]:
    toward = np.radians(course_deg)
    return (
        points[:, 0] * np.sin(toward) + points[:, 1] * np.cos(toward),
        points[:, 0] * np.cos(toward) - points[:, 1] * np.sin(toward),
    )


def _direction(points: FloatArray) -> float:
    step = points[-1] - points[0]
    return float(np.degrees(np.arctan2(step[0], step[1])))


def _spread(values: FloatArray, alone: float) -> float:
    """Sigma of the mean of a few values; with one value alone, a usual figure stands in."""
    if values.size < 2:
        return alone
    return float(np.hypot(np.std(values, ddof=1), 0.5 * alone) / np.sqrt(values.size))


def infer_leg(length_nm: FloatArray, tas_kt: float) -> LegLimit | None:
    """Tell what the legs have in common, where it is not the usual time.

    Parameters
    ----------
    length_nm : (n,) float array
        Length of the inbound legs over the ground, wings level to the fix, lap by lap.
    tas_kt : float

    Returns
    -------
    LegLimit or None
        None where the usual time by altitude, from the rules, explains the legs: what a leg of that time
        is long in still air. A longer leg is a distance leg if the laps repeat it closely in whole or half
        miles, else a leg of as many half minutes.
    """
    if length_nm.size == 0:
        return None
    length = float(np.median(length_nm))
    minutes = length / tas_kt * 60.0
    if minutes < INFERENCE.longest_usual_minutes:
        return None
    repeated = length_nm.size >= 2 and np.std(length_nm) < 0.05 * length
    if repeated and length >= INFERENCE.shortest_distance_leg_nm:
        return LegLimit(distance_nm=round(length * 2.0) / 2.0)
    return LegLimit(minutes=round(minutes * 2.0) / 2.0)
