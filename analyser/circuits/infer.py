"""An unknown hold, read from all circuits together.

The course is the line that the inbound legs met (:mod:`analyser.circuits.meeting`); the fix lies on that line where
the outbound turns begin; the leg is what the inbound legs have in common.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyser.circuits.edges import mean_direction
from analyser.circuits.flown import Turn
from analyser.circuits.meeting import LegEnd, OutboundFlown, course_met
from analyser.circuits.racetrack import MERGED_TURN_DEG
from analyser.earth.angles import wrap180
from analyser.holds.definition import LegLimit
from analyser.logs.track import FloatArray
from analyser.motion.motion import Motion

#: Of an inbound leg the last part is flown on the course; before it, the course is still being met. These lengths
#: of it are tried, seconds, and the longest that is straight is taken. With each goes the sigma, degrees, with which
#: it then tells the course: what is straight for a few seconds only may be one stretch of the meeting.
SETTLED = ((60.0, 0.8), (45.0, 1.0), (35.0, 1.8), (25.0, 3.5), (16.0, 6.0))
#: Straight is what bends no more than this from its first seconds to its last, degrees …
STRAIGHT_BEND_DEG, CHORD_POINTS = 4.0, 6
#: … and what bends is doubted by a share of its bend besides.
BEND_DOUBT = 0.8
#: A leg too short for any of that tells the course this badly.
UNSETTLED_SD_DEG = 15.0
#: At either end of a leg a roll may still be felt, seconds.
ROLL_S = 3.0
#: An arrival that crosses the course at a good angle crosses it at the fix: at least this angle, degrees, no
#: longer than this before the first circuit, and within this distance of where the turns say.
CROSSING_DEG, CROSSING_S, CROSSING_NM = 25.0, 420.0, 2.5
#: Weight of a merged turn, and of an arrival's crossing at right angles, against a clean turn.
MERGED_WEIGHT, CROSSING_WEIGHT = 0.3, 0.6
#: A pilot sees the fix pass, then rolls: common practice, and half of it is the correction's uncertainty.
REACTION_S = 1.5
#: Sigma of it from one pilot to the next: procedure designers allow 6 s of reaction (Doc 8168 Vol II, from memory),
#: taken here as what one pilot in a hundred exceeds.
REACTION_SD_S = 2.5
#: Sigma of the fix along the course when one circuit alone tells it (common practice: a second or three).
ALONE_NM = 0.1
#: Below these no flight tells the fix and the course, however alike its laps.
LEAST_FIX_SD_NM, LEAST_COURSE_SD_DEG = 0.03, 0.5
#: A leg longer than this in still air is not one of the usual minute or minute and a half, badly timed.
LONGEST_USUAL_MINUTES = 2.2
#: Distance legs are charted from this length up (common practice).
SHORTEST_DISTANCE_LEG_NM = 3.0


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
    own_nm = REACTION_SD_S * speed_kt / 3600.0
    spread = np.sqrt(_spread(along[near], ALONE_NM) ** 2 + own_nm**2 + met.cross_sd_nm**2)
    toward = np.radians(met.course_deg)
    return Inferred(
        east_nm=middle * np.sin(toward) + met.cross_nm * np.cos(toward),
        north_nm=middle * np.cos(toward) - met.cross_nm * np.sin(toward),
        fix_sd_nm=max(LEAST_FIX_SD_NM, float(spread / np.sqrt(2.0))),
        course_deg=met.course_deg,
        course_sd_deg=max(LEAST_COURSE_SD_DEG, met.sd_deg),
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
    straight, sd = float(track[-1]), UNSETTLED_SD_DEG
    length = path.end_s - path.start_s
    for window, straight_sd in ((w, sd) for w, sd in SETTLED if w <= max(0.8 * length, SETTLED[-1][0])):
        span = motion.span(path.end_s - window, path.end_s - 1.0)
        points = np.column_stack([motion.east_nm[span], motion.north_nm[span]])
        if len(points) < 2 * CHORD_POINTS + 1:
            break
        first, last = (_direction(points[:CHORD_POINTS]), _direction(points[-CHORD_POINTS:]))
        bend = abs(float(wrap180(last - first)))
        straight, sd = _direction(points), float(np.hypot(straight_sd, BEND_DOUBT * bend))
        if bend <= STRAIGHT_BEND_DEG:
            break
    return LegEnd(east, north, track, straight, sd)


def _outbound_flown(motion: Motion, legs: list[tuple[float, float]]) -> OutboundFlown | None:
    """Return the headings of the outbound legs that are long enough to have one; None where no leg is."""
    spans = [motion.span(start + ROLL_S, end - ROLL_S) for start, end in legs if end - start > 3.0 * ROLL_S]
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
    along = _axes(starts, course_deg)[0] - ground * REACTION_S / 3600.0
    clean = np.array([abs(t.heading_change_deg) <= MERGED_TURN_DEG for t in outbound_turns])
    weight = np.where(clean, 1.0, MERGED_WEIGHT)
    crossed = _arrival_crossing(motion, arrival_until_s, course_deg, cross_nm)
    if crossed is None or abs(crossed[0] - _weighted_median(along, weight)) > CROSSING_NM:
        return along, weight
    return np.append(along, crossed[0]), np.append(weight, CROSSING_WEIGHT * crossed[1])


def _arrival_crossing(
    motion: Motion, before_s: float, course_deg: float, cross_nm: float
) -> tuple[float, float] | None:
    """Return where the arrival first crosses the course line, and the sine of the angle at which it does."""
    span = motion.span(before_s - CROSSING_S, before_s + 5.0)
    along, cross = _axes(np.column_stack([motion.east_nm[span], motion.north_nm[span]]), course_deg)
    off = np.abs(wrap180(motion.track_deg[span] - course_deg))
    off = np.minimum(off, 180.0 - off)
    side = cross - cross_nm
    crossed = np.flatnonzero((np.sign(side[:-1]) != np.sign(side[1:])) & (off[:-1] >= CROSSING_DEG))
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
    if minutes < LONGEST_USUAL_MINUTES:
        return None
    repeated = length_nm.size >= 2 and np.std(length_nm) < 0.05 * length
    if repeated and length >= SHORTEST_DISTANCE_LEG_NM:
        return LegLimit(distance_nm=round(length * 2.0) / 2.0)
    return LegLimit(minutes=round(minutes * 2.0) / 2.0)
